"""Lessons have items enough of each kind, keys of every rank, and figures that hide their key."""

import collections
import math
import re

import pytest

from shared_utils.bank import items
from shared_utils.bank.posed import pose
from tests.sampling import sample

BANK = items.bank()
LESSONS = list(dict.fromkeys(item.lesson for item in BANK.values()))
READ = [item for item in BANK.values() if item.figure]


def test_the_size_of_the_key_among_drawn_numbers_does_not_give_it_away():
    ranks = {stem: collections.Counter() for stem in LESSONS}
    for item in BANK.values():
        if item.kind == "choice" and item.compute:
            for seed in range(6):
                options = pose(item, seed).options
                sizes = [first_number(option.text) for option in options]
                if None not in sizes and len(set(sizes)) == 4:
                    key = next(o.text for o in options if o.key)
                    ranks[item.lesson][sorted(sizes).index(first_number(key))] += 1
    assert all(len(counted) >= 2 for counted in ranks.values()), ranks
    whole = sum(ranks.values(), collections.Counter())
    assert len(whole) == 4
    assert all(0.1 <= count / whole.total() <= 0.4 for count in whole.values()), whole


def first_number(text):
    found = re.search(r"[+−]?\d+(?:\.\d+)?", text)
    return float(found[0].replace("−", "-")) if found else None


@pytest.mark.parametrize("item", READ, ids=lambda item: item.key)
@pytest.mark.parametrize("seed", sample(range(5), 5))
def test_the_words_of_a_figure_do_not_state_the_key(item, seed):
    posed = pose(item, seed)
    alt = posed.shown_figure().alt
    reply = [re.sub("^(at )?about ", "", option.text) in alt for option in posed.options]
    assert all(reply) or not reply[[option.key for option in posed.options].index(True)]


@pytest.mark.parametrize(
    "item", sample([i for i in READ if i.figure_with], 4), ids=lambda item: item.key
)
def test_a_figure_to_read_is_another_with_other_numbers(item):
    texts = set()
    for seed in range(20):
        texts.add(pose(item, seed).shown_figure().alt)
        if len(texts) == 4:
            break
    assert len(texts) == 4


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
    reply = re.findall(
        r"(horizontal|vertical) line.*?at ([+−]\d\.\d\d) D", posed.shown_figure().alt
    )
    assert {name for name, _ in reply} == {"horizontal", "vertical"}
    for name, needs in reply:
        meridian_deg = 90 if name == "horizontal" else 180
        along_d = sphere_d + cylinder_d * math.sin(math.radians(meridian_deg - axis_deg)) ** 2
        assert along_d == pytest.approx(float(needs.replace("−", "-")))
