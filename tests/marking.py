"""A class with given submissions, and its marks cell by cell."""

import csv
import os
import re
from contextlib import contextmanager
from pathlib import Path

import nbformat
import pytest

from shared_utils.coursework import build, overlay, place, selfcheck
from shared_utils.coursework import classroom as classes
from shared_utils.coursework.grading import settings

REPO = Path(__file__).parent.parent
SET = "01_vergence"


@contextmanager
def course_of(folder, texts):
    """Put a course with these sets in place of the real one: name → percent text."""
    for part in place.PARTS:
        (folder / part).mkdir(parents=True)
    for name, text in texts.items():
        (folder / "solutions" / f"{name}.py").write_text(text, encoding="utf-8")
    for built in build.build_all(folder):
        built.path.parent.mkdir(parents=True, exist_ok=True)
        built.path.write_text(built.content, encoding="utf-8")
    with pytest.MonkeyPatch.context() as patch:
        for module in (place, classes, selfcheck, build, overlay):
            patch.setattr(module, "course_root", lambda: folder)
        yield folder


@contextmanager
def class_of(folder, submissions, seconds=6, in_all=180, name=SET, db=None):
    """Give a class in which notebooks were handed in: learner → notebook."""
    roster = folder / "list.csv"
    with open(roster, "w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows([classes.COLUMNS, *([who, "", "", ""] for who in submissions)])
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(settings, "SECONDS_PER_CELL", seconds)
        patch.setattr(settings, "SECONDS_PER_NOTEBOOK", in_all)
        patch.setenv("PYTHONPATH", str(REPO) + os.pathsep + os.environ.get("PYTHONPATH", ""))
        room = classes.new_class(folder / "room", roster, db)
        room.release(name)
        for learner, notebook in submissions.items():
            target = room.folder / "submitted" / learner / name
            target.mkdir(parents=True)
            nbformat.write(notebook, target / "problems.ipynb")
        yield room


def marks_by_cell(room, learner, name=SET):
    """Return the automatic marks of a learner: grade id → points."""
    with room._nbgrader() as api, api.gradebook as gradebook:
        submission = gradebook.find_submission(name, learner)
        grades = [grade for book in submission.notebooks for grade in book.grades]
        return {grade.name: grade.auto_score for grade in grades if grade.auto_score is not None}


def short_set(*problems):
    """Return the text of set 01 with these of its problems alone."""
    text = (REPO / "solutions" / f"{SET}.py").read_text(encoding="utf-8")
    first, *cells = text.split("\n# %%")
    wanted = "|".join(("setup", *problems))
    kept = [cell for cell in cells if re.match(rf'[^\n]*\w+="({wanted})"', cell)]
    return "\n# %%".join([first, *kept])
