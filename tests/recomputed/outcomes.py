"""Achieved minus predicted in spherical equivalents; means, middles and their errors.

What one of A is worth, 0.83 D, is held against SRK/T in tests/test_lesson_outcomes.py; what a
millimetre of length is worth in an average eye, 2.7 D, is the lesson's.
"""

import math
import statistics


def few_eyes(n):
    standard_error_d = math.sqrt(n["sd_d"] ** 2 / n["eyes"])
    return {"mean_d": n["mean_d"], "half_width": 1.96 * standard_error_d}


def within_half(n):
    inside = sum(n[name] for name in ("minus_50", "minus_25", "zero", "plus_25", "plus_50"))
    return 100 * inside / (inside + 1 + 3 + 2 + 2)


def sizes(n):
    return [abs(n[f"{eye}_d"]) for eye in "abcde"]


BY_HAND = {
    "error-and-sign": lambda n: n["achieved_d"] - n["predicted_d"],
    "implanted-lens": lambda n: n["achieved_d"] - round(0.7 * (n["asked_d"] - n["implanted_d"]), 2),
    "cylinder-counts-half": lambda n: n["sphere_d"] + 0.5 * n["cylinder_d"] - n["predicted_d"],
    "how-far-to-move": lambda n: n["mean_d"] / 0.83,
    "read-the-constant": lambda n: n["label"] + n["mean_d"] / 0.83,
    "middle-size": lambda n: sorted(sizes(n))[2],
    "half-the-difference": lambda n: n["eyes"] * (n["known_d"] / n["finer_d"]) ** 2,
    "fifteen-eyes": few_eyes,
    "another-lens-than-planned": lambda n: n["achieved_d"] - (n["planned_left_d"] - 0.7 * 0.5),
    "new-biometer": lambda n: 2.7 * n["longer_mm"],
    "read-a-series": within_half,
    "error-in-numbers": lambda n: n["sphere_d"] + 0.5 * n["cylinder_d"] - n["predicted_d"],
    "constant-in-numbers": lambda n: (n["label"] * n["slope_d"] + n["mean_d"]) / n["slope_d"],
    "mae-in-numbers": lambda n: statistics.mean(sizes(n)),
    "sd-error-in-numbers": lambda n: math.sqrt(n["sd_d"] ** 2 / 2 / n["eyes"]),
}

KEYED = {"sd-and-within": (100 * math.erf(1 / math.sqrt(2)),)}
