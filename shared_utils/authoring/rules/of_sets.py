"""Rules of the problem sets."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from shared_utils.authoring.rules import problem_set, rule
from shared_utils.pages import cells
from shared_utils.problems import blocked_functions

if TYPE_CHECKING:
    from collections.abc import Iterator

    from nbformat import NotebookNode

    from shared_utils.authoring.rules import Text
    from shared_utils.course.manifest import Page

PROBLEMS = (8, 10)
PROBLEMS_ELSEWHERE = (6, 10)  # of a page that is no lesson
TESTS = r"checks\.(?:number|axis|lens_power|choice|Marks)|assert "


def graded(text: Text) -> dict[str | None, list[NotebookNode]]:
    """Return the problems that the machine marks, in order: name → cells of its tests."""
    found: dict[str | None, list[NotebookNode]] = {}
    for cell in text.of_kind("check", "hidden"):
        found.setdefault(cells.problem(cell), []).append(cell)
    return found


@rule(
    "set",
    "The points that a set states, for each problem and in all, are those that its cells give.",
    "Correct the heading, as in ## 1 · Title (2 points), the first cell, or points=N at a test.",
)
def points(page: Page) -> Iterator[tuple[str, str]]:
    text = problem_set(page)
    given: dict[str | None, float] = {}
    for cell in text.cells:
        name = cells.problem(cell)
        given[name] = given.get(name, 0) + (cells.points(cell) or 0)
    for cell in text.of_kind("question"):
        stated = re.search(r"^## .*\((\d+) points?\)", cell.source, re.M)
        name = cells.problem(cell)
        if given[name] and not stated:
            yield text.where(cell), f"The heading of {name} states none; it gives {given[name]}."
        elif stated and int(stated[1]) != given[name]:
            yield text.where(cell), f"{name} states {stated[1]} and gives {given[name]}."
    if text.cells:
        total = re.search(r"(\d+) points", text.cells[0].source)
        if not total or int(total[1]) != sum(given.values()):
            message = total[1] if total else "none"
            yield (
                f"{text.name}:1",
                f"The set states {message} in all and gives {sum(given.values())}.",
            )


@rule(
    "set",
    f"A lesson's set has {PROBLEMS[0]} to {PROBLEMS[1]} problems that the machine marks, another "
    f"set {PROBLEMS_ELSEWHERE[0]} or more, and one written answer.",
    "Add problems, or join some.",
)
def number_of_problems(page: Page) -> Iterator[tuple[str, str]]:
    text = problem_set(page)
    few, many = PROBLEMS if page.part else PROBLEMS_ELSEWHERE
    count, written = len(graded(text)), len(text.of_kind("written"))
    if text.cells and not few <= count <= many:
        yield f"{text.name}:1", f"This one has {count} that the machine marks."
    if text.cells and written != 1:
        yield f"{text.name}:1", f"This one has {written} written answers."


@rule(
    "set",
    "A problem has a question, an answer, a check that the learner sees and a hidden test.",
    'Add the cell that is missing, marked as in # %% hidden="NAME" points=1 hide=true.',
)
def cells_of_a_problem(page: Page) -> Iterator[tuple[str, str]]:
    text = problem_set(page)
    for name, tests in graded(text).items():
        kinds = {cells.kind(cell) for cell in text.cells if cells.problem(cell) == name}
        for kind in ("question", "answer", "check", "hidden"):
            if kind not in kinds:
                yield text.where(tests[0]), f"{name} has no {kind}."


@rule(
    "set",
    "A hidden region of each problem begins with its worked solution, so that feedback shows it "
    "even where the first test fails.",
    "Write checks.working(…) as the first statement below ### BEGIN HIDDEN TESTS.",
)
def worked_solution(page: Page) -> Iterator[tuple[str, str]]:
    text = problem_set(page)
    for name, tests in graded(text).items():
        hidden = [cell for cell in tests if cells.kind(cell) == "hidden"]
        if hidden:
            region = hidden[0].source.partition("### BEGIN HIDDEN TESTS")[2]
            if "checks.working(" not in re.split(TESTS, region)[0]:
                yield text.where(hidden[0]), f"{name} has none there."


@rule(
    "set",
    "A written answer carries what its marks are given for.",
    "Write it between ### BEGIN MARK SCHEME and ### END MARK SCHEME.",
)
def mark_scheme(page: Page) -> Iterator[tuple[str, str]]:
    text = problem_set(page)
    for cell in text.of_kind("written"):
        region = re.search(r"### BEGIN MARK SCHEME\n(.*?)### END MARK SCHEME", cell.source, re.S)
        if not region or not region[1].strip():
            yield text.where(cell), f"{cells.problem(cell)} has none."


@rule(
    "set",
    "A problem of a lesson's set says which of the lesson's goals it serves.",
    'Write goals="N" on the line of its question.',
)
def goals_of_problems(page: Page) -> Iterator[tuple[str, str]]:
    text = problem_set(page)
    names = graded(text)
    for cell in text.of_kind("question") if page.part else ():
        if cells.problem(cell) in names and not cells.goals(cell):
            yield text.where(cell), f"{cells.problem(cell)} serves none."


@rule(
    "set",
    "The numbers of a problem are drawn under its set's name, and the button checks its own set.",
    'Write Draw("SLUG/problem") and check_button.show("SLUG").',
)
def own_name(page: Page) -> Iterator[tuple[str, str]]:
    text = problem_set(page)
    for cell in text.cells:
        found = re.findall(r'(Draw\("([^"/]*)/|check_button\.show\("([^"]*)"\))', cell.source)
        for call, *names in found:
            if page.slug not in names:
                yield text.where(cell, call), f"{call} is another's."


@rule(
    "set",
    "What is out of reach of an answer is a plain function of the course.",
    'Correct the name in own="…", or take it away.',
)
def out_of_reach(page: Page) -> Iterator[tuple[str, str]]:
    text = problem_set(page)
    for cell in text.cells:
        for name in cells.own(cell):
            try:
                blocked_functions.find(name)
            except ValueError as error:
                yield text.where(cell), str(error)
