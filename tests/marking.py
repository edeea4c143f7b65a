"""A class with given submissions, and its marks cell by cell."""

import csv
import os
import re
from contextlib import contextmanager
from pathlib import Path

import nbformat
import pytest
from nbgrader.api import Gradebook

from shared_utils.classroom import classroom as classes
from shared_utils.classroom import folder as class_folder
from shared_utils.classroom import overlay, release
from shared_utils.classroom.roster import COLUMNS
from shared_utils.course import manifest, place
from shared_utils.grading.supervisor import feedback, settings
from shared_utils.pages import build, source
from shared_utils.problems import selfcheck

REPO = Path(__file__).parent.parent
SET = "01_vergence"


def write_course(folder, texts):
    """Write the sources of a course with these problem sets: name, as 01_vergence, → text."""
    for part in place.PARTS:
        (folder / part).mkdir(parents=True, exist_ok=True)
    slugs = [manifest.slug_in(name) for name in texts]
    records = [("before", "start_here"), *(("part.lesson", slug) for slug in slugs)]
    listed = [
        f'[[{table}]]\nslug = "{slug}"\ntitle = "{slug}"\nminutes = 5\n' for table, slug in records
    ]
    listed.insert(1, '[[part]]\ntitle = "All"\nexam_questions = 1\n')
    (folder / manifest.BELOW_ROOT).parent.mkdir(parents=True, exist_ok=True)
    (folder / manifest.BELOW_ROOT).write_text("\n".join(listed), encoding="utf-8")
    for _, slug in records:
        path = place.lesson_source(slug, folder)
        path.parent.mkdir(exist_ok=True)
        path.write_text('# %% [markdown] part="title"\n# # A page\n', encoding="utf-8")
    for slug, text in zip(slugs, texts.values(), strict=True):
        place.set_source(slug, folder).write_text(text, encoding="utf-8")


@contextmanager
def course_of(folder, texts):
    """Put a course with these sets in place of the real one: name → percent text."""
    write_course(folder, texts)
    for built in build.build_all(folder):
        built.path.parent.mkdir(parents=True, exist_ok=True)
        built.path.write_text(built.content, encoding="utf-8")
    with pytest.MonkeyPatch.context() as patch:
        for module in (place, class_folder, release, selfcheck, build, overlay, feedback):
            patch.setattr(module, "course_root", lambda: folder)
        yield folder


@contextmanager
def empty_class(folder, learners, seconds=60, in_all=180, db=None):
    """Give a class with nothing released yet."""
    roster = folder / "list.csv"
    with open(roster, "w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows([COLUMNS, *([name, "", "", ""] for name in learners)])
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(settings, "CELL_TIMEOUT_S", seconds)
        patch.setattr(settings, "NOTEBOOK_TIMEOUT_S", in_all)
        patch.setenv("PYTHONPATH", str(REPO) + os.pathsep + os.environ.get("PYTHONPATH", ""))
        yield classes.new_class(folder / "room", roster, db)


@contextmanager
def class_of(folder, submissions, seconds=60, in_all=180, name=SET, db=None):
    """Give a class in which notebooks were handed in: learner → notebook."""
    with empty_class(folder, submissions, seconds, in_all, db) as room:
        room.release(name)
        for learner, notebook in submissions.items():
            target = room.folder / "submitted" / learner / name
            target.mkdir(parents=True)
            nbformat.write(notebook, target / "problems.ipynb")
        yield room


def marks_by_cell(room, learner, name=SET):
    """Return the automatic marks of a learner: grade id → points."""
    marks, _, _ = everything(room.folder)[name, learner]
    return {name: mark[0] for name, mark in marks.items() if mark[0] is not None}


def short_set(*problems):
    """Return the text of set 01 with these of its problems alone."""
    text = source.set_text(SET)
    first, *cells = text.split("\n# %%")
    wanted = "|".join(("setup", *problems))
    kept = [cell for cell in cells if re.match(rf'[^\n]*\w+="({wanted})"', cell)]
    return "\n# %%".join([first, *kept])


def everything(folder):
    """Return all that a class's gradebook says of what was handed in, whatever the order.

    (set, learner) → marks by cell (automatic, by hand, whether a person must look), comments by
    cell, seconds late and what they cost.
    """
    with Gradebook(settings.gradebook_url(folder), settings.COURSE_ID) as gradebook:
        records = {}
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
                records[who] = marks, comments, late
        return records


def totals(records, name):
    """Return the automatic marks of each learner in a set."""
    return {
        learner: sum(mark[0] or 0 for mark in marks.values())
        for (of, learner), (marks, _, _) in records.items()
        if of == name
    }
