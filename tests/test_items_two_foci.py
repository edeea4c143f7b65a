"""Figures to read: they show what was drawn, and the answer is left to the reader."""

import re

import numpy as np
import pytest

from shared_utils.bank import items
from shared_utils.bank.posed import pose

BANK = items.bank()
READ = [i.key for i in BANK.values() if i.lesson == "two_foci" and i.figure]


def sinc2(x):
    return np.sinc(x) ** 2


@pytest.mark.parametrize("key", ["step-from-shares", "read-the-lost-light"])
def test_the_bars_are_the_shares_of_the_drawn_step(key):
    for seed in range(4):
        posed = pose(BANK[key], seed)
        read = [int(share) for share in re.findall(r"(\d+) %", posed.shown_figure().alt)]
        assert read == [round(100 * sinc2(posed.numbers["step"] - m)) for m in (-1, 0, 1, 2)]


def test_the_peaks_of_the_figure_lie_where_the_item_reads_them():
    """The curve itself, not its words: highest near each of the two places."""
    for seed in range(4):
        posed = pose(BANK["read-two-peaks"], seed)
        (curve,) = posed.shown_figure().figure.axes[0].lines
        object_d, contrast = curve.get_data()
        for place in (posed.numbers["refraction_d"], -posed.numbers["near_place"]):
            around = np.abs(object_d - place) < 0.5
            highest = object_d[around][np.argmax(contrast[around])]
            assert highest == pytest.approx(place, abs=0.06)
            assert contrast[around].max() > 0.9 * contrast.max()
