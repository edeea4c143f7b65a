"""Items of lessons 01, 07 and 13 to 15: every numeric key reckoned again, by hand."""

import math
import statistics

import pytest

from shared_utils.practice import items
from shared_utils.practice.posed import pose

BY_HAND = {
    "error-in-numbers": lambda n: n["sphere_d"] + 0.5 * n["cylinder_d"] - n["predicted_d"],
    "constant-in-numbers": lambda n: (n["label"] * n["slope_d"] + n["mean_d"]) / n["slope_d"],
    "mae-in-numbers": lambda n: statistics.mean(abs(n[f"{eye}_d"]) for eye in "abcde"),
    "sd-error-in-numbers": lambda n: math.sqrt(n["sd_d"] ** 2 / 2 / n["eyes"]),
}
"""From the numbers of the question to the answer, by formulas written here."""

KEYS = {
    "fifteen-eyes": (1.96 * 0.55 / 15**0.5, "0.20 ± {:.2f} D"),
}
"""The number of a keyed option, reckoned here, and how it is written there."""


@pytest.mark.parametrize("key", BY_HAND)
@pytest.mark.parametrize("seed", range(12))
def test_a_numeric_key_is_what_the_formula_gives_by_hand(key, seed):
    item = items.bank()[key]
    posed = pose(item, seed)
    assert posed.right == pytest.approx(BY_HAND[key](posed.numbers), abs=0.3 * item.within)


@pytest.mark.parametrize("key", KEYS)
def test_a_keyed_option_says_the_number_that_is_reckoned(key):
    value, written = KEYS[key]
    keyed = [option.text for option in items.bank()[key].options if option.key]
    assert written.format(value) in keyed[0]
