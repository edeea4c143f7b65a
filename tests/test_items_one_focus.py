"""Figures to read: they show what was drawn, and the answer is left to the reader."""

import re

import pytest

from shared_utils.bank import items
from shared_utils.bank.posed import pose

BANK = items.bank()
READ = [i.key for i in BANK.values() if i.lesson == "one_focus" and i.figure]


def test_a_curve_and_a_disc_say_what_their_items_read_off_them():
    for seed in range(4):
        posed = pose(BANK["contrast-to-read"], seed)
        read = re.findall(r"\d\.\d\d", posed.shown_figure().alt.partition("stands at")[2])
        assert read[1] == f"{posed.numbers['sharp']:.2f}"
        assert f"{posed.numbers['blurred']:.2f}" in read[4:]
        posed = pose(BANK["read-a-blur-disc"], seed)
        ends = re.findall(r"[+−]\d+\.\d", posed.shown_figure().alt)
        width = sum(float(end[1:]) for end in ends)
        assert width == pytest.approx(posed.numbers["width_arcmin"], abs=0.11)
