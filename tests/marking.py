"""A class with given submissions, and its marks cell by cell."""

import csv
import os
from contextlib import contextmanager
from pathlib import Path

import nbformat
import pytest
from nbgrader.api import Gradebook

from shared_utils.coursework import classroom as classes
from shared_utils.coursework.grading import settings

REPO = Path(__file__).parent.parent
SET = "01_vergence"


@contextmanager
def empty_class(folder, learners, seconds=6, in_all=180):
    """Give a class with nothing released yet."""
    roster = folder / "list.csv"
    with open(roster, "w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows([classes.COLUMNS, *([name, "", "", ""] for name in learners)])
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(settings, "SECONDS_PER_CELL", seconds)
        patch.setattr(settings, "SECONDS_PER_NOTEBOOK", in_all)
        patch.setenv("PYTHONPATH", str(REPO) + os.pathsep + os.environ.get("PYTHONPATH", ""))
        yield classes.new_class(folder / "room", roster)


@contextmanager
def class_of(folder, submissions, seconds=6, in_all=180):
    """Give a class in which notebooks were handed in: learner → notebook."""
    with empty_class(folder, submissions, seconds, in_all) as room:
        room.release(SET)
        for learner, notebook in submissions.items():
            place = room.folder / "submitted" / learner / SET
            place.mkdir(parents=True)
            nbformat.write(notebook, place / "problems.ipynb")
        yield room


def marks_by_cell(room, learner):
    """Return the automatic marks of a learner: grade id → points."""
    marks, _, _ = everything(room.folder)[SET, learner]
    return {name: mark[0] for name, mark in marks.items() if mark[0] is not None}


def everything(folder):
    """Return all that a class's gradebook says of what was handed in, whatever the order.

    (set, learner) → marks by cell (automatic, by hand, whether a person must look), comments by
    cell, seconds late and what they cost.
    """
    with Gradebook(settings.gradebook_url(folder), settings.COURSE_ID) as gradebook:
        told = {}
        for assignment in gradebook.assignments:
            for submission in gradebook.assignment_submissions(assignment.name):
                (book,) = submission.notebooks
                marks = {
                    each.name: (each.auto_score, each.manual_score, each.needs_manual_grade)
                    for each in book.grades
                }
                comments = {each.name: each.auto_comment for each in book.comments}
                who = assignment.name, submission.student.id
                late = submission.total_seconds_late, book.late_submission_penalty
                told[who] = marks, comments, late
        return told


def totals(told, name):
    """Return the automatic marks of each learner in a set."""
    return {
        learner: sum(mark[0] or 0 for mark in marks.values())
        for (of, learner), (marks, _, _) in told.items()
        if of == name
    }
