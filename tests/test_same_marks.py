"""The same marks as nbgrader's own autograding gives to those who do nothing odd."""

import shutil

import pytest

from shared_utils.classroom import classroom as classes
from shared_utils.classroom import deadlines, nbgrader_calls
from tests.honest import HOW, honest_class
from tests.marking import everything, totals
from tests.sampling import size
from tests.stock import autograde

pytestmark = pytest.mark.grading


@pytest.mark.parametrize(
    ("count", "sets"),
    [
        pytest.param(5, 1, marks=pytest.mark.slow),
        pytest.param(size(20, 5), 3, marks=[pytest.mark.long, pytest.mark.timeout(1500)]),
    ],
)
def test_honest_submissions_get_the_marks_of_stock_autograding(tmp_path, count, sets):
    with honest_class(tmp_path, count, sets) as (room, names):
        stock = shutil.copytree(room.folder, tmp_path / "stock")
        for name in names:
            for result in room.grade(name, workers=2):
                assert result.notes == [], result
            autograde(stock, name, room.learners(name))
        ours, theirs = everything(room.folder), everything(stock)
        assert len(ours) == count * len(names)
        assert ours.keys() == theirs.keys()
        for who in ours:
            assert ours[who] == theirs[who], who
        for name in names:
            marks = totals(ours, name)
            by_kind = dict(zip(HOW, [marks[learner] for learner in room.roster()], strict=False))
            assert by_kind["right"] > by_kind["half right"] > by_kind["wrong"] == 0
            assert by_kind["blank"] == by_kind["crashing"] == 0


@pytest.mark.long
@pytest.mark.timeout(3000)
def test_honest_submissions_to_every_set_get_the_marks_of_stock_autograding(tmp_path):
    # six learners in each of the 16 sets: 96 submissions
    with honest_class(tmp_path, size(6, 1), max_sets=None) as (room, names):
        stock = shutil.copytree(room.folder, tmp_path / "stock")
        assert len(names) == 16
        for name in names:
            for result in room.grade(name, workers=2):
                assert result.notes == [], result
            autograde(stock, name, room.learners(name))
            ours, theirs = everything(room.folder), everything(stock)
            assert ours.keys() == theirs.keys()
            for who in ours:
                assert ours[who] == theirs[who], who
            marks = totals(ours, name)
            assert marks["learner000"] > 0  # all right
            if "learner003" in marks:  # blank
                assert marks["learner000"] > marks["learner003"]
        assert len(ours) == size(6, 1) * len(names)


@pytest.mark.slow
def test_the_form_graders_button_writes_the_same(tmp_path):
    with honest_class(tmp_path, 5, 1) as (room, (name,)):
        # what the learners' side says of the time counts for neither
        stamp = room.folder / "submitted" / "learner001" / name / "timestamp.txt"
        stamp.write_text("2027-03-01 12:00:00 UTC", encoding="utf-8")
        times = tmp_path / "times.csv"
        times.write_text(
            "id,received\nlearner000,2027-03-01T12:00Z\nlearner001,2027-03-01T14:30Z\n"
        )
        deadlines.list_received(room.layout, name, times)
        deadlines.set_late_rule(room.layout, 10)
        with nbgrader_calls.open_nbgrader(room.folder) as api, api.gradebook as gradebook:
            gradebook.update_or_create_assignment(name, duedate="2027-03-01 13:00:00 UTC")
        other = classes.Classroom(shutil.copytree(room.folder, tmp_path / "other"))
        assert all(result.notes == [] for result in room.grade(name))
        with nbgrader_calls.open_nbgrader(other.folder) as api:
            for learner in other.learners(name):
                assert api.autograde(name, learner, create=False)["success"]
        ours, theirs = everything(room.folder), everything(other.folder)
        assert ours == theirs
        marks = totals(ours, name)
        assert marks["learner001"] > 0
        assert ours[name, "learner001"][2] == (0, pytest.approx(0.1 * marks["learner001"]))
        assert ours[name, "learner000"][2] == (0, None)
