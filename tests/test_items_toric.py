"""Figures to read: they show what was drawn, and the answer is left to the reader."""

import re

import pytest

from shared_utils.bank import items
from shared_utils.bank.posed import pose

BANK = items.bank()
READ = [i.key for i in BANK.values() if i.lesson == "toric" and i.figure]


@pytest.mark.parametrize("key", READ)
@pytest.mark.parametrize("seed", range(6))
def test_the_words_of_a_figure_do_not_give_the_answer_away(key, seed):
    posed = pose(BANK[key], seed)
    alt = posed.shown_figure().alt
    keyed = next(option.text for option in posed.options if option.key)
    assert keyed not in alt
    for option in posed.options:
        assert option.text not in alt


def test_a_dial_is_read_in_degrees_and_a_plot_at_twice_the_meridian():
    for seed in range(6):
        posed = pose(BANK["read-the-marks"], seed)
        assert f" {posed.numbers['marks_deg']} and across" in posed.shown_figure().alt
        posed = pose(BANK["read-a-double-angle"], seed)
        (angle,) = re.findall(r"lies (\d+)° counter-clockwise", posed.shown_figure().alt)
        assert int(angle) == 2 * posed.numbers["meridian_deg"]
