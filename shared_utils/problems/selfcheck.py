"""A learner's own check: runs a filled problem set and says for each problem whether it holds.

The visible checks are taken from the release, so that an edited or deleted check does not fool
anybody. Hidden tests and written answers are the instructor's.
"""

from __future__ import annotations

import os
import subprocess
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import nbformat

from shared_utils.course.place import course_root
from shared_utils.pages import build, cells, source
from shared_utils.problems import check_records, class_seed
from shared_utils.problems.check_button import UNATTENDED

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from shared_utils.problems.check_records import CheckRecord

CELL_SECONDS = 10
STARTUP_SECONDS = 60


@dataclass
class Problem:
    """How one problem stands; ``records`` is what its checks said, step by step."""

    name: str
    title: str
    points: float = 0.0
    earned: float = 0.0
    records: list[CheckRecord] = field(default_factory=list)
    by_hand: bool = False

    @property
    def holds(self) -> bool:
        """Whether every visible check of the problem holds."""
        return self.earned >= self.points

    def slips(self) -> list[CheckRecord]:
        """Return the records of the steps that do not hold."""
        return [record for record in self.records if not record.holds]


@dataclass
class Report:
    """What the check of a problem set found."""

    problems: list[Problem]
    notes: list[str]

    def all_hold(self) -> bool:
        """Return whether every problem with a check holds."""
        return all(p.holds for p in self.problems if not p.by_hand)

    def lines(self) -> Iterator[str]:
        """Yield the report, line by line."""
        for problem in self.problems:
            if problem.by_hand:
                yield f"·  {problem.title}: read by your instructor"
                continue
            mark = "✓" if problem.holds else "✗"
            yield f"{mark}  {problem.title}: {problem.earned:g} of {problem.points:g} seen points"
            if not problem.holds:
                for slip in problem.slips():
                    mark = "" if slip.slip == "not-reached" else "✗ "
                    yield f"     {mark}{slip.sentence}"
        yield from (f"Note: {note}" for note in self.notes)
        checked = [p for p in self.problems if not p.by_hand]
        held = sum(p.holds for p in checked)
        yield f"{held} of {len(checked)} problems hold. The class has further, hidden tests."


def notebook_of(name: str) -> Path:
    """Return where the learner works on a set: its exercise in the course's folder."""
    return course_root() / "exercises" / name / "problems.ipynb"


def check(path: Path, name: str) -> Report:
    """Return what the visible checks say about a filled notebook.

    Parameters
    ----------
    path : pathlib.Path
        The filled notebook.
    name : str
        The set, such as ``"01_vergence"``.

    Returns
    -------
    Report

    Raises
    ------
    ValueError
        If the file is not a notebook, or its kernel cannot be started.
    """
    from nbclient import NotebookClient
    from nbclient.exceptions import CellTimeoutError, DeadKernelError

    theirs = _read(path)
    text = source.set_text(name, course_root())
    release = build.released(
        class_seed.with_seed(build.text_to_notebook(text), class_seed.seed_of(theirs))
    )
    notebook, notes = _with_release_checks(theirs, release)
    blocked = cells.own_by_problem(notebook) | cells.own_by_problem(release)
    notebook.cells = list(_with_blocked(notebook, blocked))
    client = NotebookClient(
        notebook,
        timeout=CELL_SECONDS,
        interrupt_on_timeout=True,
        startup_timeout=STARTUP_SECONDS,
        allow_errors=True,
        kernel_name="python3",
        resources={"metadata": {"path": str(path.parent)}},
    )
    try:
        # the kernel's own notices are not the learner's
        client.execute(stderr=subprocess.DEVNULL, env={**os.environ, UNATTENDED: "1"})
    except CellTimeoutError:
        notes.append("A cell could not be stopped; what stands below it was not checked.")
    except DeadKernelError:
        notes.append("A cell ended the kernel; what stands below it was not checked.")
    return Report(_problems(notebook, release), notes)


def _read(path):
    try:
        notebook = nbformat.read(path, as_version=4)
        nbformat.validate(notebook)
    except FileNotFoundError:
        raise ValueError(f"There is no notebook {path}; give its place with --notebook.") from None
    except Exception as error:
        raise ValueError(f"{path} cannot be read as a notebook: {error}") from error
    return notebook


def _with_release_checks(theirs, release):
    """Put the release's own checks in place of the learner's copies, and say what was changed."""
    wanted = {cells.grade_id(c): c for c in release.cells if cells.grade_id(c)}
    kept, notes, seen = [], [], set()
    for cell in theirs.cells:
        grade_id = cells.grade_id(cell)
        if grade_id in seen:
            notes.append(f"A copy of the cell {grade_id} was left out; delete it.")
            continue
        original = wanted.get(grade_id)
        if original is not None:
            seen.add(grade_id)
            if cells.is_locked(original):
                hidden = cells.kind(original) == "hidden"  # empty in every release
                if cell.source != original.source and not hidden:
                    notes.append(f"The locked cell {grade_id} was edited; its first text was used.")
                cell = original
        kept.append(cell)
    for grade_id in [g for g in wanted if g not in seen]:
        kept.append(wanted[grade_id])
        notes.append(f"The cell {grade_id} was missing and was put back at the end.")
    theirs.cells = kept
    return theirs, notes


def _with_blocked(notebook, blocked):
    """Yield the cells, and those that block what a problem asks for while its answers run."""
    block = "__import__('shared_utils.problems.blocked_functions', fromlist=['block']).block"
    for cell in notebook.cells:
        problem, kind = cells.grade_id_parts(cell)
        names = blocked.get(problem) if kind in ("answer", "check") else None
        if names:
            yield nbformat.v4.new_code_cell(f"{block}({names}, checking={kind == 'check'})")
        yield cell
        if names:
            yield nbformat.v4.new_code_cell(f"{block}([])")


def _problems(notebook, release):
    titles = {}
    # those of the instructor's own stand in the learner's notebook alone
    for cell in [*release.cells, *notebook.cells]:
        problem, kind = cells.grade_id_parts(cell)
        if kind == "question" and problem not in titles:
            titles[problem] = cell.source.splitlines()[0].lstrip("# ")
    problems = {}
    for cell in notebook.cells:
        name, kind = cells.grade_id_parts(cell)
        if kind not in ("check", "written"):
            continue
        problem = problems.setdefault(name, Problem(name, titles.get(name, name)))
        if kind == "written":
            problem.by_hand = True
            continue
        points = cells.points(cell) or 0.0
        problem.points += points
        problem.earned += _earned(cell, points)
        reached = cell.execution_count is not None
        collect = check_records.of_cell if reached else check_records.not_reached
        problem.records += collect(cell, name)
    order = list(titles)
    return sorted(problems.values(), key=lambda p: order.index(p.name) if p.name in order else 99)


def _earned(cell, points):
    """Points of a check cell as nbgrader counts them: an error 0, a number itself, else all."""
    if cell.execution_count is None or any(o.output_type == "error" for o in cell.outputs):
        return 0.0
    for output in cell.outputs:
        if output.output_type == "execute_result":
            try:
                return min(float(output.data.get("text/plain", "")), points)
            except ValueError:
                continue
    return float(points)
