"""The table of goals, and where each is shown, asked and graded; the rule is in test_rules."""

import re

import pytest

from shared_utils.authoring import coverage, generated
from shared_utils.pages import goals as page_goals


def test_a_goal_is_found_in_words_and_a_wrong_number_is_said():
    assert page_goals.goal_text("vergence", 4) == "follow light through two lenses step by step"
    with pytest.raises(ValueError, match="no goal 9"):
        page_goals.goal_text("vergence", 9)


def test_the_table_has_a_row_for_each_goal():
    rows = re.findall(r"<tr>(.*?)</tr>", coverage.table().data)
    assert len(rows) == 1 + len(coverage.goals())
    assert len(coverage.markdown().splitlines()) == 2 + len(coverage.goals())


def test_the_generated_pages_are_what_is_built():
    built = generated.pages()
    assert [one.path.name for one in built] == ["COVERAGE.md", "API.md"]
    for one in built:
        assert one.path.read_text(encoding="utf-8") == one.content, "run lens-course build"
