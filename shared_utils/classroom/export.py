"""What leaves a class: a page for each learner, and tables of the marks."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from shared_utils.classroom import deadlines
from shared_utils.classroom.grading_run import GradingResult
from shared_utils.classroom.nbgrader_calls import (
    keep_roster,
    open_gradebook,
    open_nbgrader,
    require_success,
)
from shared_utils.classroom.roster import COLUMNS, full_name, write_rows
from shared_utils.classroom.slips import slips_of_file

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator
    from os import PathLike
    from typing import Any

    from shared_utils.classroom.folder import ClassFolder

MARKS = ("marks", "of", "to_mark_by_hand")
TIMES = ("due_utc", "received_utc", "seconds_late", "late_penalty")
CLAIM = ("handed_in", "time_from")
# nobody but the learner's own machine has seen the clock: the file comes with the submission
CLAIMED = "timestamp.txt, sent by the learner"


def write_feedback(folder: ClassFolder, name: str) -> Iterator[tuple[Any, ...]]:
    """Write one page for each learner whose submission was marked.

    Parameters
    ----------
    folder : ClassFolder
    name : str
        A released set.

    Yields
    ------
    tuple of str and pathlib.Path
        The learner's id and the page.
    """
    deadlines.settle(folder)
    with open_nbgrader(folder.path) as nbgrader:
        for learner in folder.graded(name):
            slips_of_file(folder.marked(name, learner))  # else it is no marked notebook
            page = folder.feedback(name, learner)
            sentence = f"The feedback of {learner} could not be written to {page}"
            require_success(nbgrader.generate_feedback(name, learner), sentence)
            yield learner, page


def write_grades(folder: ClassFolder, target: str | PathLike[str] | None = None) -> Path:
    """Write the marks of every learner in every released set.

    Parameters
    ----------
    folder : ClassFolder
    target : path-like, optional
        A CSV file; ``grades.csv`` in the class's folder if not given.

    Returns
    -------
    pathlib.Path
    """
    target = Path(target) if target else folder.path / "grades.csv"
    rows, roster = [], folder.roster()
    deadlines.settle(folder)
    with open_gradebook(folder.path) as gradebook:
        keep_roster(gradebook, roster)
        for name in folder.released_sets():
            for learner, person in roster.items():
                result = GradingResult(learner, full_name(person))
                result.add_marks(gradebook, name)
                times = gradebook.lateness(name, learner)
                rows.append({"set": name, **person, **result.marks_row(), **times})
    write_rows(target, ["set", *COLUMNS, *MARKS, *TIMES], rows)
    return target


def write_grading_report(folder: ClassFolder, name: str, results: Iterable[GradingResult]) -> Path:
    """Write what became of a set's submissions, and return the file.

    Parameters
    ----------
    folder : ClassFolder
    name : str
        A released set.
    results : iterable of GradingResult
    """
    target = folder.path / f"report_{name}.csv"
    rows = [
        {
            "id": result.learner,
            "name": result.name,
            **result.marks_row(),
            "seconds": "" if result.seconds is None else round(result.seconds, 1),
            "handed_in": result.handed_in,
            "time_from": CLAIMED if result.handed_in else "",
            "notes": " ".join(result.notes),
            "slips": " ".join(slip.slip_id for slip in result.slips),
        }
        for result in results
    ]
    write_rows(target, ["id", "name", *MARKS, "seconds", "notes", "slips", *CLAIM], rows)
    return target
