"""Items of lessons 01 to 04: enough of each kind, keys of every rank, figures that hide the key."""

import collections
import math
import re

import pytest

from shared_utils.practice import items
from shared_utils.practice.posed import pose

BANK = items.bank()
LESSONS = ("01_vergence", "02_eye", "03_glasses", "04_astigmatism")
READ = [item for item in BANK.values() if item.lesson in LESSONS and item.figure]


def of_lesson(stem):
    return [item for item in BANK.values() if item.lesson == stem]


@pytest.mark.parametrize("stem", LESSONS)
def test_a_lesson_has_items_of_each_kind_for_each_goal(stem):
    own = of_lesson(stem)
    kinds = collections.Counter(item.kind for item in own)
    assert len(own) >= 20
    assert kinds["number"] >= 4
    assert kinds["order"] >= 1
    assert sum(bool(item.figure) for item in own) >= 2
    assert min(collections.Counter(item.goal for item in own).values()) >= 4
    assert {item.difficulty for item in own} == {1, 2, 3}


@pytest.mark.parametrize("stem", LESSONS)
def test_the_rank_of_the_key_among_drawn_numbers_does_not_give_it_away(stem):
    ranks = collections.Counter()
    for item in of_lesson(stem):
        if item.kind == "choice" and item.reckon:
            options = pose(item, 1).options
            sizes = [first_number(option.text) for option in options]
            if None not in sizes and len(set(sizes)) == 4:
                key = next(o.text for o in options if o.key)
                ranks[sorted(sizes).index(first_number(key))] += 1
    assert len(ranks) >= 3, ranks
    assert max(ranks.values()) <= 0.6 * ranks.total(), ranks


def first_number(text):
    found = re.search(r"[+−]?\d+(?:\.\d+)?", text)
    return float(found[0].replace("−", "-")) if found else None


@pytest.mark.parametrize("item", READ, ids=lambda item: item.key)
@pytest.mark.parametrize("seed", range(5))
def test_the_words_of_a_figure_do_not_state_the_key(item, seed):
    posed = pose(item, seed)
    key = next(option.text for option in posed.options if option.key)
    assert key not in posed.shown_figure().alt


@pytest.mark.parametrize("item", READ, ids=lambda item: item.key)
def test_a_figure_to_read_is_another_with_other_numbers(item):
    assert len({pose(item, seed).shown_figure().alt for seed in range(20)}) >= 8


def test_a_page_that_asks_about_a_figure_shows_it():
    assert "<img" in items.ask("read-a-lens").data
    assert "<img" not in items.ask("reciprocal").data


@pytest.mark.parametrize("seed", range(10))
def test_a_line_in_the_figure_belongs_to_the_meridian_across_it(seed):
    """The keyed refraction has along each meridian what the line across it needs."""
    posed = pose(BANK["read-two-focal-lines"], seed)
    key = next(option.text for option in posed.options if option.key)
    sphere_d, cylinder_d, axis_deg = (
        float(part.replace("−", "-")) for part in key.replace("×", " ").split()
    )
    told = re.findall(r"(horizontal|vertical) line.*?at ([+−]\d\.\d\d) D", posed.shown_figure().alt)
    assert {name for name, _ in told} == {"horizontal", "vertical"}
    for name, needs in told:
        meridian_deg = 90 if name == "horizontal" else 180
        along_d = sphere_d + cylinder_d * math.sin(math.radians(meridian_deg - axis_deg)) ** 2
        assert along_d == pytest.approx(float(needs.replace("−", "-")))
