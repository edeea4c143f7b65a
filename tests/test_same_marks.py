"""The same marks as nbgrader's own autograding gives to those who do nothing odd."""

import shutil

import pytest

from tests.honest import HOW, honest_class
from tests.marking import everything, totals
from tests.stock import autograde

pytestmark = pytest.mark.grading


@pytest.mark.parametrize(
    ("count", "sets"),
    [
        (5, 1),
        pytest.param(20, 3, marks=[pytest.mark.long, pytest.mark.timeout(1500)]),
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
