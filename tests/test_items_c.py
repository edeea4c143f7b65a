"""Items of lessons 01, 07 and 13 to 15: every numeric key reckoned again, by hand."""

import math
import statistics

import pytest

from shared_utils.practice import items
from shared_utils.practice.posed import pose

BY_HAND = {
    "page-in-numbers": lambda n: -100 / n["distance_cm"],
    "image-in-numbers": lambda n: 100 * n["distance_cm"] / (n["lens_d"] * n["distance_cm"] - 100),
    "contact-lens-in-numbers": lambda n: 1000 / (1000 / n["spectacle_d"] - n["vertex_mm"]),
    "two-lenses-in-numbers": lambda n: 100 / (100 / n["first_d"] - n["way_cm"]) + n["second_d"],
    "light-inside-the-eye": lambda n: 1336 / n["distance_mm"],
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
    "need-in-numbers": lambda n: (
        math.log10(n["letter_mm"] / 5 / (10 * n["distance_cm"]) * 60 * 180 / math.pi) - 0.30
    ),
    "reader-in-numbers": lambda n: math.ceil(400 / n["page_cm"] - 4 * n["depth_d"]) / 4,
    "blur-in-numbers": lambda n: math.degrees(n["pupil_mm"] * n["defocus_d"] / 1000) * 60,
    "gap-in-numbers": lambda n: 1 / (n["add_d"] / 100 - n["half_d"] / 100),
    "wider-pupil-in-numbers": lambda n: n["day_mm"] * n["borne_d"] / n["evening_mm"],
    "owed-in-numbers": lambda n: n["ratio"] * n["base_people"] - n["base_people"],
    "ring-in-numbers": lambda n: n["pupil_mm"] * n["add_d"] / 9,
    "reach-in-numbers": lambda n: 1 / (n["offset_d"] / 100 + n["depth_d"] / 100),
    "predicted-in-numbers": lambda n: (
        n["target_d"] + n["per_lens_d"] * (n["exact_d"] - n["ordered_d"])
    ),
    "check-by-hand": lambda n: n["new_a"] - 2.5 * n["length_mm"] - 0.9 * n["k_d"],
}
"""From the numbers of the question to the answer, by formulas written here."""

KEYS = {
    "parallel-behind-the-lens": (100 / 8, "{:.1f} cm in front"),
    "glasses-slide-down": (10 / (1 - 0.16) - 10 / (1 - 0.12), "+{:.2f} D arrives more"),
    "fifteen-eyes": (1.96 * 0.55 / 15**0.5, "0.20 ± {:.2f} D"),
    "how-far-to-move": (0.25 / 0.83, "{:.2f}"),
    "sd-and-within": (100 * math.erf(1 / math.sqrt(2)), "{:.0f} %"),
    "log-budget": (-math.log10(0.9 * 0.4 * 0.7), "{:.2f}"),
    "half-logmar": (math.log10(2), "{:.2f} logMAR"),
    "needs-of-a-label": (0.36 - 0.10 - 0.10, "{:.2f} logMAR"),
    "what-ends-at-arm": (100 / 2.1, "to {:.0f} cm"),
    "weakest-reader": (100 / 40 - 1.75, "+{:.2f} D"),
    "what-a-reader-costs": (100 / 1.75, "at {:.0f} cm"),
    "offset-eye": (100 / 1.25, "at {:.0f} cm"),
    "blur-and-pupil": (5 / 2, "{:.1f} times"),
    "one-m-at-forty": (math.log10(1 / 0.40), "{:.2f} logMAR"),
    "spread-and-target": (100 * math.erf(0.5 / 0.4 / math.sqrt(2)), "about {:.0f}"),
    "people-not-ratios": (5 * 2.8, "100 people {:.0f} do"),
    "too-far-hyperopic": (50 * math.erfc(0.5 / math.sqrt(2)), "about {:.0f}"),
    "how-many-for-one": (100 / (28 - 10), "about {:.0f}"),
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
