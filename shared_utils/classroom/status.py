"""Where a class stands: for each set who handed in, what is marked, what is late, what is not."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from shared_utils.classroom import deadlines, problem_rules, submissions
from shared_utils.classroom.roster import not_in_roster

if TYPE_CHECKING:
    from datetime import datetime

    from shared_utils.classroom.deadlines import Receipt
    from shared_utils.classroom.folder import ClassFolder
    from shared_utils.classroom.problem_rules import ProblemRule


@dataclass(frozen=True)
class SetStatus:
    """Where a set stands.

    Attributes
    ----------
    name : str
    due : datetime or None
        UTC.
    of : int
        Learners in the roster.
    handed_in, marked, to_grade : int
        How many have a folder of their own for it, are marked, and wait for ``class grade``.
    late : tuple of Receipt
    not_marked : dict of str to str
        Learner → why the submission was not marked.
    rules : tuple of ProblemRule
        Problems that were dropped or made extra.
    """

    name: str
    due: datetime | None
    of: int
    handed_in: int
    marked: int
    to_grade: int
    late: tuple[Receipt, ...]
    not_marked: dict[str, str]
    rules: tuple[ProblemRule, ...]


def status(folder: ClassFolder, name: str) -> SetStatus:
    """Return where a set stands.

    Parameters
    ----------
    folder : ClassFolder
    name : str
        A released set.

    Returns
    -------
    SetStatus
    """
    from shared_utils.grading.supervisor import set_identity
    from shared_utils.grading.supervisor.records import Records

    deadlines.note_files(folder, name)
    known = set_identity.known_sets(folder.path)
    not_marked = Records(folder.path).not_marked(name)
    marked = set(folder.graded(name))
    handed_in = to_grade = 0
    for learner in folder.roster():
        if not folder.submitted(name, learner).parent.is_dir():
            not_marked.pop(learner, None)
            continue
        handed_in += 1
        fault, submission = submissions.read_submission(folder, name, learner)
        for content in submissions.contents(folder, name, learner, submission):
            fault = set_identity.fault_of_file(content, name, known) or fault
        if fault:
            not_marked[learner] = fault
        elif submission and not submissions.is_marked(folder, name, submission):
            to_grade += learner not in not_marked
    roster = folder.roster()
    for stranger in set(folder.learners(name)) - set(roster):
        not_marked[stranger] = not_in_roster(stranger, roster)
    due = deadlines.due_dates(folder)[name]
    return SetStatus(
        name,
        due,
        len(folder.roster()),
        handed_in,
        len(marked),
        to_grade,
        tuple(
            each
            for each in deadlines.receipts(folder, name, due)
            if each.seconds_late and each.learner in roster
        ),
        not_marked,
        tuple(problem_rules.rules(folder, name)),
    )
