"""nbgrader's gradebook, with all that a submission writes into it in one transaction.

nbgrader saves after each cell, so that a run that is stopped leaves half a submission behind.
"""

from __future__ import annotations

from contextlib import suppress
from datetime import UTC, timedelta
from typing import TYPE_CHECKING

from nbgrader.api import Gradebook, MissingEntry
from nbgrader.preprocessors import AssignLatePenalties
from sqlalchemy.orm import Session, scoped_session, sessionmaker

from shared_utils.grading.supervisor import class_rules, hand_marks
from shared_utils.grading.supervisor.records import Records

if TYPE_CHECKING:
    from collections.abc import Mapping
    from datetime import datetime

    from traitlets.config import Config

    from shared_utils.grading.supervisor.grade_submission import GradedSubmission


class _DeferredSession(Session):
    """A session of the database that saves nothing before ``commit_all``."""

    def commit(self):
        self.flush()

    def commit_all(self):
        super().commit()


class TransactionalGradebook:
    """The gradebook, open for one run.

    Parameters
    ----------
    config : traitlets.config.Config
        nbgrader's settings.
    """

    def __init__(self, config: Config) -> None:
        self.config = config
        self.folder = config.CourseDirectory.root
        self.records = Records(self.folder)
        course = config.CourseDirectory
        self.gradebook = Gradebook(course.db_url, course.course_id)
        self.gradebook.db.remove()
        factory = sessionmaker(autoflush=True, bind=self.gradebook.engine, class_=_DeferredSession)
        self.gradebook.db = scoped_session(factory)

    def close(self) -> None:
        self.gradebook.close()

    def write_roster(self, people: Mapping[str, Mapping[str, str | None]]) -> None:
        """Write who is in the class."""
        for learner, fields in people.items():
            self.gradebook.update_or_create_student(learner, **fields)
        self._commit()

    def write_marks(
        self,
        name: str,
        graded: GradedSubmission,
        submitted_at: datetime | None = None,
        digests: Mapping[str, str] | None = None,
    ) -> None:
        """Write the marks of a submission, all or none.

        Parameters
        ----------
        name : str
            The set.
        graded : GradedSubmission
            The submission.
        submitted_at : datetime, optional
            When, in universal time, as the learner's side says: the form grader takes a submission
            for a new one where the gradebook has another time than its ``timestamp.txt``.
        digests : dict of str to str, optional
            Of the answers, as ``hand_marks.answer_digests`` gives them: a mark by hand stays where
            the answer is the one that was marked last.
        """
        try:
            digests = digests or {}
            known = self.records.answers(name, graded.learner)
            time = {"timestamp": submitted_at} if submitted_at else {}
            submission = self.gradebook.update_or_create_submission(name, graded.learner, **time)
            (notebook,) = submission.notebooks
            # the cells at once, else each is asked for by itself
            cells = [*notebook.notebook.grade_cells, *notebook.notebook.solution_cells]
            names = {cell.id: cell.name for cell in cells}
            for grade in notebook.grades:
                cell = names[grade.cell_id]
                grade.auto_score = graded.scores.get(cell)
                unchanged = cell in digests and known.get(cell) == digests[cell]
                grade.needs_manual_grade = hand_marks.needs_person(grade, unchanged)
            for comment in notebook.comments:
                unanswered = names[comment.cell_id] in graded.unanswered
                comment.auto_comment = "No response." if unanswered else None
            self.gradebook.db.flush()
            notebook.late_submission_penalty = self._penalty(submission, notebook)
            self._settle(name, graded.learner)
            self._commit()
            self.records.keep_answers(name, graded.learner, digests)
        finally:
            self.gradebook.db.remove()

    def settle(self, name: str) -> None:
        """Bring a set in line with the rules of the class; see ``class_rules.settle``."""
        try:
            self._settle(name)
            self._commit()
        finally:
            self.gradebook.db.remove()

    def withdraw(self, name: str, learner: str) -> None:
        """Take away what is written of a submission that turned out not to be one."""
        try:
            with suppress(MissingEntry):
                self.gradebook.remove_submission(name, learner)
            self._commit()
        finally:
            self.gradebook.db.remove()

    def add_comment(self, name: str, learner: str, problem: str, text: str) -> bool:
        """Put a comment below those to a learner's answer; return whether it is new there."""
        try:
            submission = self.gradebook.find_submission(name, learner)
            for notebook in submission.notebooks:
                for comment in notebook.comments:
                    if comment.name not in (f"{problem}-answer", f"{problem}-written"):
                        continue
                    before = comment.manual_comment or ""
                    if text in before:
                        return False
                    comment.manual_comment = f"{before}\n\n{text}".strip()
                    self._commit()
                    return True
            return False
        except MissingEntry:
            return False
        finally:
            self.gradebook.db.remove()

    def comments(self, name: str) -> dict[tuple[str, str], str]:
        """Return the comments that persons wrote in a set: (learner, problem) → text."""
        try:
            return {
                (submission.student.id, comment.name.rpartition("-")[0]): comment.manual_comment
                for submission in self.gradebook.assignment_submissions(name)
                for notebook in submission.notebooks
                for comment in notebook.comments
                if comment.manual_comment and comment.name.endswith(("-answer", "-written"))
            }
        except MissingEntry:
            return {}
        finally:
            self.gradebook.db.remove()

    def notebook_ids(self, name: str) -> dict[str, str]:
        """Return under which id the form grader shows each learner's notebook of a set."""
        try:
            return {
                submission.student.id: notebook.id
                for submission in self.gradebook.assignment_submissions(name)
                for notebook in submission.notebooks
            }
        except MissingEntry:
            return {}
        finally:
            self.gradebook.db.remove()

    def due(self, name: str) -> datetime | None:
        """Return when a set is due, in UTC; None if it never is."""
        try:
            due = self.gradebook.find_assignment(name).duedate
            return due.replace(tzinfo=UTC) if due else None
        finally:
            self.gradebook.db.remove()

    def set_due(self, name: str, due: datetime | None) -> None:
        """Write when a set is due."""
        try:
            naive = due.astimezone(UTC).replace(tzinfo=None) if due else None
            self.gradebook.find_assignment(name).duedate = naive
            self._settle(name)
            self._commit()
        finally:
            self.gradebook.db.remove()

    def marks(self, name: str, learner: str) -> tuple[float, float | None, float]:
        """Return the marks of a learner.

        Returns
        -------
        of : float
            What can be had.
        marks : float or None
            What the learner has, less what lateness cost; None if nothing was graded.
        waiting : float
            What a person still has to mark.
        """
        try:
            of = self.gradebook.find_assignment(name).max_score
            try:
                submission = self.gradebook.find_submission(name, learner)
            except MissingEntry:
                return of, None, 0.0
            grades = [grade for notebook in submission.notebooks for grade in notebook.grades]
            waiting = [grade.max_score for grade in grades if grade.needs_manual_grade]
            score = max(submission.score - submission.late_submission_penalty, 0.0)
            return of, score, sum(waiting, 0.0)
        finally:
            self.gradebook.db.remove()

    def lateness(self, name: str, learner: str) -> dict[str, str | float]:
        """Return when a set was due and a submission received, in UTC, and what that cost.

        Empty texts where there is no date or nothing was received.
        """
        row: dict[str, str | float] = dict.fromkeys(("received_utc", "seconds_late"), "")
        try:
            due = self.gradebook.find_assignment(name).duedate
            extra = timedelta(seconds=self.records.extra_seconds(name).get(learner, 0.0))
            own = (due + extra).replace(tzinfo=UTC) if due else None
            row["due_utc"] = own.isoformat(timespec="seconds") if own else ""
            submission = self.gradebook.find_submission(name, learner)
            row["late_penalty"] = submission.late_submission_penalty or 0.0
        except MissingEntry:
            row["late_penalty"] = ""
        finally:
            self.gradebook.db.remove()
        if learner in (received := self.records.received(name)):
            at, _ = received[learner]
            row["received_utc"] = at.isoformat(timespec="seconds")
            row["seconds_late"] = max((at - own).total_seconds(), 0.0) if own else 0.0
        return row

    def _settle(self, name, learner=None):
        class_rules.settle(self.gradebook, self.records, self.folder, name, learner)

    def _penalty(self, submission, notebook):
        if not submission.total_seconds_late > 0:
            return None
        step = AssignLatePenalties(config=self.config)
        step.init_plugin()
        self.gradebook.db.refresh(notebook)
        seconds = submission.total_seconds_late
        penalty = step.plugin_inst.late_submission_penalty(
            submission.student.id, notebook.score, seconds
        )
        return None if penalty is None else step._check_late_penalty(notebook, penalty)

    def _commit(self):
        self.gradebook.db().commit_all()
