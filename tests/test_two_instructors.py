"""Two instructors grade different sets of one class at the same moment."""

import csv
import multiprocessing
import sys

import nbformat
import pytest

from shared_utils import cli
from shared_utils.classroom import classroom as classes
from tests.filling import filled
from tests.marking import class_of, course_of, marks_by_cell, short_set

pytestmark = [
    pytest.mark.grading,
    pytest.mark.skipif(sys.platform == "win32", reason="This test starts its graders by fork."),
]

SETS = {"01_vergence": ("page", "aqueous"), "02_more": ("surface", "vertex")}
WRONG = {
    "page": "def page_vergence_d(distance_cm):\n    return 100 / distance_cm",
    "surface": "def corneal_front_power_d(radius_mm, index_behind):\n    return 0.0",
}
LEARNERS = {"ada": {}, "bo": WRONG, "cleo": {}}
# page 2, aqueous 2; surface 2, vertex 3; those who are wrong lose the first of each set
MARKS = {"01_vergence": {"right": 4, "wrong": 2}, "02_more": {"right": 5, "wrong": 3}}


def grade(room, name, start, queue):
    start.wait()
    try:
        for result in room.grade(name):
            queue.put((name, result.learner, result.marks, result.notes))
    except Exception as error:
        queue.put((name, "stopped", None, [repr(error)]))


@pytest.mark.slow
def test_both_complete_and_no_mark_is_lost(tmp_path):
    two_grade_at_once(tmp_path)


@pytest.mark.long
@pytest.mark.service
def test_the_same_with_the_gradebook_in_postgresql(tmp_path, database):
    two_grade_at_once(tmp_path, database)
    assert not (tmp_path / "room" / "gradebook.db").exists()
    with pytest.raises(ValueError, match="The database is not empty"):
        classes.new_class(tmp_path / "another", db=database)
    assert not (tmp_path / "another").exists()


def test_a_database_that_is_not_there_is_told_and_nothing_is_made(tmp_path, capsys):
    url = f"sqlite:///{tmp_path}/nowhere/gradebook.db"
    assert cli.main(["class", "new", str(tmp_path / "room"), "--db", url]) == 2
    message = capsys.readouterr().err
    assert "cannot be used" in message
    assert message.count("\n") == 1
    assert not (tmp_path / "room").exists()


def two_grade_at_once(tmp_path, db=None):
    texts = {name: short_set(*problems) for name, problems in SETS.items()}
    with course_of(tmp_path / "course", texts):
        first, second = SETS
        handed_in = {who: filled(first, answers) for who, answers in LEARNERS.items()}
        with class_of(tmp_path, handed_in, name=first, db=db) as room:
            room.release(second)
            for who, answers in LEARNERS.items():
                place = room.folder / "submitted" / who / second
                place.mkdir()
                nbformat.write(filled(second, answers), place / "problems.ipynb")
            context = multiprocessing.get_context("fork")
            start, queue = context.Barrier(2), context.Queue()
            graders = [context.Process(target=grade, args=(room, n, start, queue)) for n in SETS]
            for grader in graders:
                grader.start()
            graded = [queue.get(timeout=200) for _ in range(2 * len(LEARNERS))]
            for grader in graders:
                grader.join(timeout=60)
            for name, learner, marks, notes in graded:
                kind = "wrong" if LEARNERS[learner] else "right"
                assert (marks, notes) == (MARKS[name][kind], []), (name, learner)
            for name in SETS:
                assert sum(marks_by_cell(room, "bo", name).values()) == MARKS[name]["wrong"]
            assert len(list(room.feedback(first))) == len(LEARNERS)
            with open(room.export(), encoding="utf-8", newline="") as file:
                rows = {
                    (row["set"], row["id"]): float(row["marks"]) for row in csv.DictReader(file)
                }
            for (name, learner), marks in rows.items():
                assert marks == MARKS[name]["wrong" if LEARNERS[learner] else "right"]
