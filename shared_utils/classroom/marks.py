"""The marks of a class, read from nbgrader's gradebook in one query for each set.

The gradebook may lie in SQLite or in PostgreSQL; whatever SQLAlchemy opens is read.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

import numpy as np
import sqlalchemy

from shared_utils.classroom.gradebook_database import engine_of, require_gradebook, unusable


@dataclass(frozen=True)
class SetMarks:
    """Marks of one set.

    Attributes
    ----------
    name : str
    learners : tuple of str
        The whole roster, in order.
    problems : tuple of str
        Problems of the set, in the order of the gradebook's cells; a problem's cells together.
    most : array (problem,)
        Marks that each problem can give.
    marks : array (learner, problem)
        Marks given so far; nan for who handed nothing in.
    by_hand : array (learner,) of bool
        Whether something waits to be marked by hand.
    times : tuple of datetime or None
        When each learner's work was received, universal time; None where it was not noted.
    due : datetime or None
        When the set is due, universal time; None if it has no date.
    late_seconds : array (learner,)
        How late each is, after due date and extra time, s; a scalar for all alike.
    penalties : array (learner,)
        Marks that lateness costs; a scalar for all alike.
    unmarked : array (learner, problem)
        Marks that nobody has given or refused yet, so that they count in no share; a scalar for
        all alike. An answer that was marked and has changed since keeps its earlier mark.
    """

    name: str
    learners: tuple[str, ...]
    problems: tuple[str, ...]
    most: np.ndarray
    marks: np.ndarray
    by_hand: np.ndarray
    times: tuple[datetime | None, ...]
    due: datetime | None = None
    late_seconds: np.ndarray | float = 0.0
    penalties: np.ndarray | float = 0.0
    unmarked: np.ndarray | float = 0.0

    def possible(self) -> np.ndarray:
        """Return the marks that were given or refused: array (learner, problem)."""
        return np.broadcast_to(self.most - self.unmarked, self.marks.shape)

    def handed_in(self) -> np.ndarray:
        """Return who handed in: array (learner,) of bool."""
        return ~np.isnan(self.marks).all(axis=1)

    def totals(self) -> np.ndarray:
        """Return each learner's marks, less what lateness cost; nan for who handed nothing in."""
        totals = np.maximum(np.nansum(self.marks, axis=1) - self.penalties, 0.0)
        return np.where(self.handed_in(), totals, np.nan)


@dataclass(frozen=True)
class ClassMarks:
    """Marks of a class: who is in it, and its sets in order."""

    people: dict[str, str]
    sets: tuple[SetMarks, ...]


def read(db_url: str) -> ClassMarks:
    """Return the marks in a gradebook.

    Parameters
    ----------
    db_url : str
        As SQLAlchemy takes it, ``sqlite:////folder/gradebook.db`` for one.

    Returns
    -------
    ClassMarks

    Raises
    ------
    ValueError
        If there is no gradebook there, or it cannot be read.
    """
    require_gradebook(db_url)
    engine = engine_of(db_url)
    try:
        with engine.connect() as connection:
            people = {
                row.id: " ".join(filter(None, (row.first_name, row.last_name))) or row.id
                for row in connection.execute(_text("SELECT * FROM student ORDER BY id"))
            }
            names = [
                row.name
                for row in connection.execute(_text("SELECT name FROM assignment ORDER BY name"))
            ]
            sets = tuple(_read_set(connection, name, tuple(people)) for name in names)
    except sqlalchemy.exc.DatabaseError as error:
        raise ValueError(unusable(db_url, error)) from error
    finally:
        engine.dispose()
    return ClassMarks(people, sets)


_CELLS = """
SELECT base_cell.id, base_cell.name, grade_cells.max_score
FROM assignment
JOIN notebook ON notebook.assignment_id = assignment.id
JOIN base_cell ON base_cell.notebook_id = notebook.id
JOIN grade_cells ON grade_cells.id = base_cell.id
WHERE assignment.name = :name
"""
_PENALTIES = """
SELECT submitted_assignment.student_id AS learner,
       submitted_notebook.late_submission_penalty AS penalty
FROM assignment
JOIN submitted_assignment ON submitted_assignment.assignment_id = assignment.id
JOIN submitted_notebook ON submitted_notebook.assignment_id = submitted_assignment.id
WHERE assignment.name = :name
"""
_GRADES = """
SELECT submitted_assignment.student_id AS learner, submitted_assignment.timestamp,
       grade.cell_id AS cell,
       grade.auto_score, grade.manual_score, grade.extra_credit, grade.needs_manual_grade
FROM assignment
JOIN submitted_assignment ON submitted_assignment.assignment_id = assignment.id
JOIN submitted_notebook ON submitted_notebook.assignment_id = submitted_assignment.id
JOIN grade ON grade.notebook_id = submitted_notebook.id
WHERE assignment.name = :name
"""


def _read_set(connection, name, learners):
    cells = list(connection.execute(_text(_CELLS), {"name": name}))
    problem_of = {cell.id: cell.name.rpartition("-")[0] or cell.name for cell in cells}
    problems = tuple(dict.fromkeys(problem_of.values()))
    column = {problem: n for n, problem in enumerate(problems)}
    row = {learner: n for n, learner in enumerate(learners)}
    max_scores = {cell.id: cell.max_score for cell in cells}
    most = np.zeros(len(problems))
    for cell in cells:
        most[column[problem_of[cell.id]]] += cell.max_score or 0.0
    marks = np.full((len(learners), len(problems)), np.nan)
    unmarked = np.zeros(marks.shape)
    by_hand, times = np.zeros(len(learners), bool), [None] * len(learners)
    for grade in connection.execute(_text(_GRADES), {"name": name}):
        at = row[grade.learner], column[problem_of[grade.cell]]
        score = grade.auto_score if grade.manual_score is None else grade.manual_score
        if score is None and grade.needs_manual_grade:
            unmarked[at] += max_scores[grade.cell] or 0.0
        marks[at] = np.nan_to_num(marks[at]) + (score or 0.0) + (grade.extra_credit or 0.0)
        by_hand[at[0]] |= bool(grade.needs_manual_grade)
        if times[at[0]] is None and grade.timestamp:
            times[at[0]] = datetime.fromisoformat(str(grade.timestamp))  # SQLite keeps a text
    penalties = np.zeros(len(learners))
    for found in connection.execute(_text(_PENALTIES), {"name": name}):
        penalties[row[found.learner]] += found.penalty or 0.0
    query = _text("SELECT duedate FROM assignment WHERE name = :name")
    query = query.columns(duedate=sqlalchemy.DateTime)
    due = connection.execute(query, {"name": name}).scalar()
    return SetMarks(
        *(name, learners, problems, most, marks, by_hand, tuple(times)),
        due=due,
        penalties=penalties,
        unmarked=unmarked,
    )


def _text(query):
    return sqlalchemy.text(query)
