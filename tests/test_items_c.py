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
    "budget-in-numbers": lambda n: (
        2
        - math.log10(100 - n["scattered_percent"])
        + 4
        - math.log10(n["lens_percent"] * n["retina_percent"])
    ),
    "coma-in-numbers": lambda n: math.sqrt(40) / 3 * abs(n["lens_sa_um"]) * n["off_mm"],
    "errors-in-numbers": lambda n: 2 * (n["mean_mm"] - 0.50) / n["sd_mm"],
    "chart-in-numbers": lambda n: (2 - math.log10(n["passed_percent"])) / 0.15,
    "aberration-as-defocus": lambda n: math.sqrt(48) * n["rms_um"] * 4 / n["zone_mm"] ** 2,
}
"""From the numbers of the question to the answer, by formulas written here."""

KEYS = {
    "fifteen-eyes": (1.96 * 0.55 / 15**0.5, "0.20 ± {:.2f} D"),
    "how-far-to-move": (0.25 / 0.83, "{:.2f}"),
    "sd-and-within": (100 * math.erf(1 / math.sqrt(2)), "{:.0f} %"),
    "log-budget": (-math.log10(0.9 * 0.4 * 0.7), "{:.2f}"),
    "two-steps-fewer": (100 * 10**-0.30, "about {:.0f} %"),
    "gate-at-six-tenths": (50 * math.erfc((0.60 - 0.479) / 0.124 / math.sqrt(2)), "about {:.0f}"),
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
