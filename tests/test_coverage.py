"""Every goal of every lesson is shown, asked and graded."""

import re

import pytest

from shared_utils.authoring import coverage
from shared_utils.bank import items
from shared_utils.course import syllabus
from shared_utils.pages import goals as page_goals

LESSONS = syllabus.stems()


@pytest.mark.parametrize("stem", LESSONS)
def test_no_cell_of_the_table_is_empty(stem):
    goals = [goal for goal in coverage.goals() if goal.stem == stem]
    assert 3 <= len(goals) <= 4
    assert [goal.number for goal in goals] == list(range(1, len(goals) + 1))
    for goal in goals:
        assert goal.shown, f"{stem}, goal {goal.number} is shown by no slider or example"
        assert goal.asked, f"{stem}, goal {goal.number} is asked by no item of the page"
        assert len(goal.in_bank) >= 3, f"{stem}, goal {goal.number}: {goal.in_bank}"
        assert goal.graded, f"{stem}, goal {goal.number} has no problem"


def test_items_name_goals_that_are_there():
    known = {(goal.stem, goal.number) for goal in coverage.goals()}
    for item in items.bank().values():
        if item.lesson in LESSONS:
            assert (item.lesson, item.goal) in known, item.key


def test_a_goal_is_found_in_words_and_a_wrong_number_is_said():
    assert page_goals.goal_text("01_vergence", 4) == "follow light through two lenses step by step"
    with pytest.raises(ValueError, match="no goal 9"):
        page_goals.goal_text("01_vergence", 9)


def test_the_table_has_a_row_for_each_goal():
    rows = re.findall(r"<tr>(.*?)</tr>", coverage.table().data)
    assert len(rows) == 1 + len(coverage.goals())
    assert len(coverage.markdown().splitlines()) == 2 + len(coverage.goals())
