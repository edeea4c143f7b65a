"""A class with given submissions, and its marks cell by cell."""

import csv
import os
from contextlib import contextmanager
from pathlib import Path

import nbformat
import pytest

from shared_utils.coursework import classroom as classes
from shared_utils.coursework.grading import settings

REPO = Path(__file__).parent.parent
SET = "01_vergence"


@contextmanager
def class_of(folder, submissions, seconds=6, in_all=180):
    """Give a class in which notebooks were handed in: learner → notebook."""
    roster = folder / "list.csv"
    with open(roster, "w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows([classes.COLUMNS, *([name, "", "", ""] for name in submissions)])
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(settings, "SECONDS_PER_CELL", seconds)
        patch.setattr(settings, "SECONDS_PER_NOTEBOOK", in_all)
        patch.setenv("PYTHONPATH", str(REPO) + os.pathsep + os.environ.get("PYTHONPATH", ""))
        room = classes.new_class(folder / "room", roster)
        room.release(SET)
        for learner, notebook in submissions.items():
            place = room.folder / "submitted" / learner / SET
            place.mkdir(parents=True)
            nbformat.write(notebook, place / "problems.ipynb")
        yield room


def marks_by_cell(room, learner):
    """Return the automatic marks of a learner: grade id → points."""
    with room._nbgrader() as api, api.gradebook as gradebook:
        submission = gradebook.find_submission(SET, learner)
        grades = [grade for book in submission.notebooks for grade in book.grades]
        return {grade.name: grade.auto_score for grade in grades if grade.auto_score is not None}
