"""Rules of the pages, and of those among them that are lessons."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from shared_utils.authoring import coverage, demos
from shared_utils.authoring.rules import lesson, problem_set, rule
from shared_utils.bank import items
from shared_utils.course import manifest, place
from shared_utils.pages import cells

if TYPE_CHECKING:
    from collections.abc import Iterator

    from shared_utils.course.manifest import Page

ANATOMY = (
    "title",
    "goals",
    "case",
    "recall",
    "idea",
    "predict",
    "observe",
    "explain",
    "example",
    "self-check",
    "outside",
    "caution",
    "problems",
    "summary",
)
REPEATED = ("idea", "predict", "observe", "explain")
WORDS_A_MINUTE = 180
MINUTES_FOR_A_SLIDER = 2
MAX_MINUTES = 20
WORDS_OF_AN_IDEA = 150
SLIDERS = 2
ITEMS_OF_A_GOAL = 3
GOALS = (3, 4)


@rule(
    "lesson",
    f"A lesson has these parts in this order: {', '.join(ANATOMY)}; a page with two ideas repeats "
    "the four from idea to explain.",
    'Mark the cell with which the part begins: # %% [markdown] part="NAME".',
)
def anatomy(page: Page) -> Iterator[tuple[str, str]]:
    text = lesson(page)
    parts = [cells.part(cell) for cell in text.cells if cells.part(cell)]
    for part in ANATOMY:
        if text.cells and part not in parts:
            yield f"{text.name}:1", f"The part {part} is missing."
    for cell in text.cells:
        if cells.part(cell) and cells.part(cell) not in ANATOMY:
            yield text.where(cell), f"The part {cells.part(cell)} is not known."
    once = list(dict.fromkeys(parts))
    in_order = [part for part in ANATOMY if part in once]
    if set(once) <= set(ANATOMY) and once != in_order:
        wrong = next(one for one, other in zip(once, in_order, strict=True) if one != other)
        yield text.where(text.of_part(wrong)[0]), f"The part {wrong} comes too early."
    for part in ANATOMY:
        if part not in REPEATED and parts.count(part) > 1:
            yield text.where(text.of_part(part)[1]), f"The part {part} stands twice."
    repeated = [part for part in parts if part in REPEATED]
    whole = list(REPEATED) * parts.count("idea")
    if set(REPEATED) <= set(parts) and repeated != whole:
        yield text.where(text.of_part("idea")[0]), f"They follow as {', '.join(repeated)}."


@rule(
    "lesson",
    f"An idea has at most {WORDS_OF_AN_IDEA} words.",
    "Shorten it, or make two ideas of it.",
)
def words_of_an_idea(page: Page) -> Iterator[tuple[str, str]]:
    text = lesson(page)
    for cell in text.of_part("idea"):
        words = len(cell.source.split())
        if words > WORDS_OF_AN_IDEA:
            yield text.where(cell), f"This one has {words}."


@rule(
    "lesson",
    f"A lesson is read in the minutes that {manifest.FILE.name} says, at most {MAX_MINUTES}: "
    f"{WORDS_A_MINUTE} words a minute and {MINUTES_FOR_A_SLIDER} minutes for each slider.",
    "Shorten the page, or state the minutes that it takes.",
)
def minutes(page: Page) -> Iterator[tuple[str, str]]:
    text = lesson(page)
    needed = len(text.prose().split()) / WORDS_A_MINUTE
    needed += MINUTES_FOR_A_SLIDER * len(text.of_part("observe"))
    if needed > page.minutes:
        yield f"{text.name}:1", f"It takes {needed:.1f} minutes and says {page.minutes}."
    if page.minutes > MAX_MINUTES:
        yield f"{text.name}:1", f"It says {page.minutes} minutes."


@rule(
    "lesson",
    "A lesson begins with its number and title.",
    "Write # # {{number SLUG}} · {{title SLUG}} in the first cell.",
)
def title(page: Page) -> Iterator[tuple[str, str]]:
    text = lesson(page)
    wanted = f"# {page.number} · {page.title}"
    if text.cells and text.cells[0].source.splitlines()[0] != wanted:
        yield f"{text.name}:1", f"It does not begin with {wanted}."


@rule(
    "lesson",
    "A lesson says that it is not for patient care.",
    "Copy the part caution of another lesson.",
)
def caution(page: Page) -> Iterator[tuple[str, str]]:
    text = lesson(page)
    if text.cells and "not for patient care" not in text.prose():
        yield f"{text.name}:1", "It does not."


@rule(
    "lesson",
    f"A lesson has {GOALS[0]} or {GOALS[1]} goals, numbered from 1, each in bold.",
    "Write them in the part goals as 1. **do something**.",
)
def goals(page: Page) -> Iterator[tuple[str, str]]:
    text = lesson(page)
    found = [goal.number for goal in coverage.of_lesson(page.slug)]
    if text.cells and not (
        GOALS[0] <= len(found) <= GOALS[1] and found == list(range(1, len(found) + 1))
    ):
        numbers = ", ".join(map(str, found)) or "none"
        yield text.where((text.of_part("goals") or text.cells)[0]), f"Here are: {numbers}."


@rule(
    "lesson",
    "Each goal is shown by a slider or a worked example, asked on the page, graded by a problem, "
    f"and has {ITEMS_OF_A_GOAL} items in the bank.",
    'Write goals="N" beside part="observe" or part="example", and beside a question; give items '
    "goal = N and name one in items.ask.",
)
def coverage_of_goals(page: Page) -> Iterator[tuple[str, str]]:
    text = lesson(page)
    for goal in coverage.of_lesson(page.slug):
        lacks = []
        if not goal.shown:
            lacks.append("shown by no slider or example")
        if not goal.asked:
            lacks.append("asked by no item of the page")
        if len(goal.in_bank) < ITEMS_OF_A_GOAL:
            lacks.append(f"asked by {len(goal.in_bank)} items of the bank")
        if not goal.graded:
            lacks.append("graded by no problem")
        if lacks:
            where = text.where(text.of_part("goals")[0], f"{goal.number}. **")
            yield where, f"Goal {goal.number} is {', '.join(lacks)}."


@rule(
    "lesson",
    f"A lesson has at least {SLIDERS} sliders; it shows every one that explore/SLUG.py defines, "
    "and those alone, so that the tests drive each of them.",
    "Define it as a public function without parameters that returns Demo(…), and show it with "
    "engine.explore(demos.NAME()); a helper's name begins with _.",
)
def sliders(page: Page) -> Iterator[tuple[str, str]]:
    text = lesson(page)
    shown, defined = demos.shown(page.slug), demos.defined(page.slug)
    module = f"shared_utils/explore/{page.slug}.py"
    if text.cells and len(shown) < SLIDERS:
        yield f"{text.name}:1", f"It shows {len(shown)}."
    for name in shown:
        if name not in defined:
            cell = next(cell for cell in text.cells if f"demos.{name}(" in cell.source)
            yield text.where(cell, name), f"{name} is not defined in {module}."
    for name, line in defined.items():
        if name not in shown:
            yield f"{module}:{line}", f"No page shows {name}."
    for name, line in demos.with_parameters(page.slug).items():
        yield f"{module}:{line}", f"{name} takes parameters, so no page and no test can show it."


@rule(
    "lesson",
    "What a page asks is in the bank, and is a choice.",
    "Write the item into bank/items/SLUG.toml, or correct the key.",
)
def items_of_the_page(page: Page) -> Iterator[tuple[str, str]]:
    text = lesson(page)
    for cell in text.cells:
        for key in coverage.asked_on_page(cell.source) if cell.cell_type == "code" else ():
            item = items.bank().get(key)
            if item is None or item.kind != "choice":
                message = "is no item" if item is None else f"is of the kind {item.kind}"
                yield text.where(cell, key), f"{key} {message}."


@rule(
    "lesson",
    "A lesson says of its problem set what the set says of itself.",
    "Write the same numbers of problems, points and minutes in both.",
)
def what_it_says_of_its_set(page: Page) -> Iterator[tuple[str, str]]:
    text, own = lesson(page), problem_set(page)
    for cell in text.of_part("problems") if own.cells else ():
        here, there = (
            {what: int(n) for n, what in re.findall(r"(\d+) (points|minutes)", one.source)}
            for one in (cell, own.cells[0])
        )
        if here != there:
            stated = [
                " and ".join(
                    f"{numbers[what]} {what}" for what in ("points", "minutes") if what in numbers
                )
                for numbers in (here, there)
            ]
            yield (
                text.where(cell),
                f"It says {stated[0] or 'none'}; the set says {stated[1] or 'none'}.",
            )


@rule(
    "page",
    "A heading is at most one level below the one before it.",
    "Take away a #, or write the heading that is missing.",
)
def heading_levels(page: Page) -> Iterator[tuple[str, str]]:
    text, level = lesson(page), 0
    for cell in text.cells:
        for marks in (
            re.findall(r"^(#+) ", cell.source, re.M) if cell.cell_type == "markdown" else ()
        ):
            if len(marks) > level + 1:
                yield text.where(cell), f"A heading of level {len(marks)} follows level {level}."
            level = len(marks)


@rule(
    "page",
    "Every link leads to a file of the course, or begins with http.",
    "Write the page's name, as in [lesson {{number SLUG}}]({{stem SLUG}}.ipynb), and run "
    "`lens-course build`.",
)
def links(page: Page) -> Iterator[tuple[str, str]]:
    folders = [(lesson(page), "lessons")]
    if page.problem_set:
        folders.append((problem_set(page), f"exercises/{page.stem}"))
    for text, folder in folders:
        for cell in text.cells:
            if cell.cell_type == "markdown":
                for link in re.findall(r"\]\(([^)#]+)\)", cell.source):
                    there = (place.course_root() / folder / link).resolve()
                    if not link.startswith("http") and not there.exists():
                        yield text.where(cell), f"{link} is not there."


@rule(
    "page",
    "The code of a page is folded away, and defines nothing: that goes to explore/ or show/.",
    "Write hide=true on the cell's line # %%, and move functions and classes to their module.",
)
def folded_code(page: Page) -> Iterator[tuple[str, str]]:
    text = lesson(page)
    for cell in text.cells:
        if cell.cell_type == "code" and not cells.is_collapsed(cell):
            yield text.where(cell), "This cell is not."
        if cell.cell_type == "code" and re.search(r"^\s*(def|class) ", cell.source, re.M):
            yield text.where(cell), "This cell defines something."
