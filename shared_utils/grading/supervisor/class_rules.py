"""What an instructor rules about a set, brought into nbgrader's gradebook.

When work was received, extra time, what lateness costs, and problems that were taken out of a set
or made extra. The rules stay in the class's records; this can be done again at any moment.
"""

from __future__ import annotations

import json
import math
from dataclasses import dataclass
from datetime import UTC, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

from nbgrader.api import (
    Assignment,
    BaseCell,
    Grade,
    GradeCell,
    Notebook,
    SubmittedAssignment,
    SubmittedNotebook,
)

from shared_utils.pages import cells

if TYPE_CHECKING:
    from os import PathLike

    from nbgrader.api import Gradebook

    from shared_utils.grading.supervisor.records import Records

DAY_S = 86_400
DROPPED, EXTRA, COUNTS = "dropped", "extra", "counts"
LATE_RULE = "late_rule"


@dataclass(frozen=True)
class LateRule:
    """What lateness costs: a share of the marks for each day that was begun, up to a cap.

    Attributes
    ----------
    percent_per_day : float
        Per cent of the marks that were earned, 0 to 100.
    cap_percent : float
        The greatest deduction in all, per cent, 0 to 100.

    Examples
    --------
    >>> rule = LateRule(10, 50)
    >>> [rule.penalty(20, days * 86_400) for days in (0, 0.5, 1, 1.5, 30)]
    [0.0, 2.0, 2.0, 4.0, 10.0]
    """

    percent_per_day: float
    cap_percent: float = 100.0

    def __post_init__(self) -> None:
        for what, value in (("a day", self.percent_per_day), ("at most", self.cap_percent)):
            if not 0 <= value <= 100:
                raise ValueError(
                    f"A late rule takes 0 to 100 per cent of the marks {what}, not {value:g}."
                )

    def penalty(self, score: float, seconds_late: float) -> float:
        """Return the marks that lateness costs.

        Parameters
        ----------
        score : float
            The marks that were earned.
        seconds_late : float
            After the due date and any extra time, s.
        """
        days = math.ceil(max(seconds_late, 0.0) / DAY_S)
        share = min(days * self.percent_per_day, self.cap_percent) / 100
        return max(score, 0.0) * share


def late_rule(records: Records) -> LateRule | None:
    """Return the class's late rule; None where there never was one."""
    text = records.setting(LATE_RULE)
    return LateRule(**json.loads(text)) if text else None


def adjustments(records: Records, set_name: str) -> dict[str, tuple[str, str]]:
    """Return what was ruled about the problems of a set: problem → what holds now, and why."""
    query = "SELECT problem, what, why FROM adjustment WHERE set_name = ? ORDER BY number"
    return {row["problem"]: (row["what"], row["why"]) for row in records.rows(query, (set_name,))}


def settle(
    gradebook: Gradebook,
    records: Records,
    folder: str | PathLike[str],
    set_name: str,
    learner: str | None = None,
) -> None:
    """Bring what the gradebook says of a set in line with the rules; it is not committed.

    Parameters
    ----------
    gradebook : nbgrader.api.Gradebook
    records : Records
    folder : path-like
        The class's folder.
    set_name : str
    learner : str, optional
        This one alone; everybody if not given.
    """
    assignment = gradebook.db.query(Assignment).filter_by(name=set_name).one_or_none()
    if assignment is None:
        return
    _settle_problems(gradebook.db, records, folder, assignment, learner)
    gradebook.db.flush()
    _settle_lateness(gradebook.db, records, assignment, learner)
    gradebook.db.flush()


def _settle_lateness(db, records, assignment, learner):
    received = records.received(assignment.name, learner)
    extra = records.extra_seconds(assignment.name)
    rule = late_rule(records)
    query = db.query(SubmittedAssignment).filter_by(assignment_id=assignment.id)
    for submission in query.filter_by(student_id=learner) if learner else query:
        who = submission.student_id
        if assignment.duedate is None:
            submission.extension = None  # nbgrader adds it to a due date
        elif who in extra:
            submission.extension = timedelta(seconds=extra[who])
        if rule is not None:
            # nbgrader's own time is the one that the learner's side has noted
            late = 0.0
            if who in received and submission.duedate:
                at = received[who][0].astimezone(UTC).replace(tzinfo=None)
                late = max((at - submission.duedate).total_seconds(), 0.0)
            for notebook in submission.notebooks:
                score = sum(_score(grade) for grade in notebook.grades) if late else 0.0
                notebook.late_submission_penalty = rule.penalty(score, late) or None


def _score(grade):
    given = grade.auto_score if grade.manual_score is None else grade.manual_score
    return 0.0 if given is None else given + (grade.extra_credit or 0.0)


def _settle_problems(db, records, folder, assignment, learner):
    ruled = adjustments(records, assignment.name)
    if not ruled:
        return
    points = _points(Path(folder) / "source" / assignment.name / "problems.ipynb")
    query = db.query(GradeCell).join(Notebook, GradeCell.notebook_id == Notebook.id)
    for cell in query.filter(Notebook.assignment_id == assignment.id):
        what = ruled.get(cell.name.rpartition("-")[0], (COUNTS, ""))[0]
        cell.max_score = points.get(cell.name, cell.max_score) if what == COUNTS else 0.0
    kept = {
        (row["learner"], row["cell"]): (row["extra_credit"], row["needs_manual"])
        for row in records.rows("SELECT * FROM kept_grade WHERE set_name = ?", (assignment.name,))
    }
    keep, forget = [], []
    grades = (
        db.query(Grade, SubmittedAssignment.student_id, BaseCell.name)
        .join(SubmittedNotebook, Grade.notebook_id == SubmittedNotebook.id)
        .join(SubmittedAssignment, SubmittedNotebook.assignment_id == SubmittedAssignment.id)
        .join(BaseCell, Grade.cell_id == BaseCell.id)
        .filter(SubmittedAssignment.assignment_id == assignment.id)
    )
    if learner:
        grades = grades.filter(SubmittedAssignment.student_id == learner)
    for grade, who, name in grades:
        what = ruled.get(name.rpartition("-")[0], (COUNTS, ""))[0]
        before = kept.get((who, name))
        if what == DROPPED:
            credit, waits = before or (grade.extra_credit, False)
            waits = bool(waits or grade.needs_manual_grade)
            if before is None or waits != bool(before[1]):
                keep.append((assignment.name, who, name, credit, waits))
            given = grade.auto_score if grade.manual_score is None else grade.manual_score
            # nbgrader adds extra credit to whatever was given: so nothing is left, and all is kept
            grade.extra_credit = None if given is None else -given
            grade.needs_manual_grade = False
        elif before is not None:
            grade.extra_credit = before[0]
            ungiven = grade.auto_score is None and grade.manual_score is None
            grade.needs_manual_grade = bool(before[1] or ungiven)
            forget.append((assignment.name, who, name))
    with records.opened() as database:
        database.executemany("INSERT OR REPLACE INTO kept_grade VALUES (?, ?, ?, ?, ?)", keep)
        query = "DELETE FROM kept_grade WHERE set_name = ? AND learner = ? AND cell = ?"
        database.executemany(query, forget)


def _points(path):
    """Return the points of each cell of a set as it was released."""
    try:
        notebook = json.loads(path.read_bytes())
        return {cells.grade_id(cell): cells.points(cell) or 0.0 for cell in notebook["cells"]}
    except (OSError, ValueError, LookupError):
        raise ValueError(
            f"source/{'/'.join(path.parts[-2:])} cannot be read: release the set again."
        ) from None
