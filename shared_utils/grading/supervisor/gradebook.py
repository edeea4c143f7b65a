"""nbgrader's gradebook, with all that a submission writes into it in one transaction.

nbgrader saves after each cell, so that a run that is stopped leaves half a submission behind.
"""

from nbgrader.api import Gradebook, MissingEntry
from nbgrader.preprocessors import AssignLatePenalties
from sqlalchemy.orm import Session, scoped_session, sessionmaker


class _Held(Session):
    """A session of the database that saves nothing until it is told ``keep``."""

    def commit(self):
        self.flush()

    def keep(self):
        super().commit()


class Book:
    """The gradebook, open for one run.

    Parameters
    ----------
    config : traitlets.config.Config
        nbgrader's settings.
    """

    def __init__(self, config):
        self.config = config
        about = config.CourseDirectory
        self.gradebook = Gradebook(about.db_url, about.course_id)
        self.gradebook.db.remove()
        made = sessionmaker(autoflush=True, bind=self.gradebook.engine, class_=_Held)
        self.gradebook.db = scoped_session(made)

    def close(self):
        self.gradebook.close()

    def keep_roster(self, people):
        """Write who is in the class."""
        for learner, about in people.items():
            self.gradebook.update_or_create_student(learner, **about)
        self._keep()

    def keep(self, name, marked, handed_in=None):
        """Write the marks of a submission, all or none.

        Parameters
        ----------
        name : str
            The set.
        marked : Marked
            The submission.
        handed_in : datetime, optional
            When, in universal time.
        """
        try:
            when = {"timestamp": handed_in} if handed_in else {}
            submission = self.gradebook.update_or_create_submission(name, marked.learner, **when)
            (book,) = submission.notebooks
            # the cells at once, else each is asked for by itself
            cells = [*book.notebook.grade_cells, *book.notebook.solution_cells]
            names = {cell.id: cell.name for cell in cells}
            for grade in book.grades:
                grade.auto_score = marked.scores.get(names[grade.cell_id])
                # what a person has marked wants another look when the submission has changed
                by_hand = grade.manual_score is not None or grade.auto_score is None
                grade.needs_manual_grade = by_hand
            for comment in book.comments:
                silent = names[comment.cell_id] in marked.unanswered
                comment.auto_comment = "No response." if silent else None
            self.gradebook.db.flush()
            book.late_submission_penalty = self._penalty(submission, book)
            self._keep()
        finally:
            self.gradebook.db.remove()

    def marks(self, name, learner):
        """Return the marks of a learner.

        Returns
        -------
        of : float
            What can be had.
        marks : float or None
            What the learner has; None if nothing was marked.
        waiting : float
            What a person still has to mark.
        """
        try:
            of = self.gradebook.find_assignment(name).max_score
            try:
                submission = self.gradebook.find_submission(name, learner)
            except MissingEntry:
                return of, None, 0.0
            grades = [grade for book in submission.notebooks for grade in book.grades]
            waiting = [grade.max_score for grade in grades if grade.needs_manual_grade]
            return of, submission.score, sum(waiting, 0.0)
        finally:
            self.gradebook.db.remove()

    def _penalty(self, submission, book):
        if not submission.total_seconds_late > 0:
            return None
        step = AssignLatePenalties(config=self.config)
        step.init_plugin()
        self.gradebook.db.refresh(book)
        seconds = submission.total_seconds_late
        penalty = step.plugin_inst.late_submission_penalty(
            submission.student.id, book.score, seconds
        )
        return None if penalty is None else step._check_late_penalty(book, penalty)

    def _keep(self):
        self.gradebook.db().keep()
