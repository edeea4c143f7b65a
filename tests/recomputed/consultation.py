"""Tails of the bell by the error function, people of a hundred, 1 / V, SRK I."""

import math


def beyond(z):
    """The share of a normal distribution more than z standard deviations above its mean."""
    return 0.5 * math.erfc(z / math.sqrt(2))


BY_HAND = {
    "predict-for-the-order": lambda n: 0.7 * (n["exact_d"] - n["ordered_d"]),
    "spread-and-target": lambda n: n["eyes"] * math.erf(0.5 / n["sd_d"] / math.sqrt(2)),
    "people-not-ratios": lambda n: {
        "all": n["ratio"] * n["base_people"],
        "base_people": n["base_people"],
        "rest": 100 - n["ratio"] * n["base_people"],
    },
    "too-far-hyperopic": lambda n: 100 * beyond((0.5 - n["left_d"]) / n["sd_d"]),
    "how-many-for-one": lambda n: 100 / (n["all"] - n["base_people"]),
    "two-ranges-to-read": lambda n: {
        "far_cm": 100 / n["left_begin_d"],
        "near_cm": 100 / n["right_end_d"],
    },
    "people-to-read": lambda n: 1 + n["owed_people"] / n["base_people"],
    "owed-in-numbers": lambda n: n["ratio"] * n["base_people"] - n["base_people"],
    "ring-in-numbers": lambda n: n["pupil_mm"] * n["add_d"] / 9,
    "reach-in-numbers": lambda n: 1 / (n["offset_d"] / 100 + n["depth_d"] / 100),
    "predicted-in-numbers": lambda n: (
        n["target_d"] + n["per_lens_d"] * (n["exact_d"] - n["ordered_d"])
    ),
    "check-by-hand": lambda n: n["new_a"] - 2.5 * n["length_mm"] - 0.9 * n["k_d"],
}

KEYED = {}
