"""Lesson toric: astigmatism as complex numbers at the double angle, C·e^(2iθ); share 1 − dF/n."""

import cmath
import math

DEGREE = math.pi / 180.0  # in radians


def arrow(size_d, meridian_deg):
    return cmath.rect(size_d, 2.0 * meridian_deg * DEGREE)


def meridian_of(vector):
    return cmath.phase(vector) / DEGREE / 2.0 % 180.0


def left_by_a_turn(n):
    return abs(arrow(n["cylinder_d"], 0.0) - arrow(n["cylinder_d"], n["turn_deg"]))


def made(n, after_deg):
    vector = arrow(n["after_d"], after_deg) - arrow(n["before_d"], n["before_deg"])
    return {"answer": abs(vector), "along_deg": meridian_of(vector)}


def whole_cornea(size_d):
    """x of the whole cornea, of a keratometer's size steep at 90."""
    return 0.508 + 0.926 * arrow(size_d, 90.0).real


def share(position_mm, cornea_d):
    return 1.0 - position_mm * cornea_d / 1336.0


BY_HAND = {
    "made-by-surgery": lambda n: made(n, n["before_deg"]),
    "label-to-cornea": lambda n: n["lens_d"] * share(5.2, 43.0) ** 2,
    "ten-degrees-off": left_by_a_turn,
    "where-it-is-left": lambda n: meridian_of(arrow(1, n["steep_deg"]) - arrow(1, n["marks_deg"])),
    "plan-with-which": lambda n: {"centroid_d": n["centroid_d"]},
    "back-left-out": lambda n: abs(whole_cornea(n["size_d"]) + n["lens_d"]),
    "step-on-a-ladder": lambda n: min(
        (step / 2 for step in range(2, 13)), key=lambda d: abs(d - n["cornea_d"] * n["ratio"])
    ),
    "read-a-double-angle": lambda n: {"size_d": n["size_d"], "answer": n["plot_deg"] / 2},
    "read-the-marks": lambda n: (
        2 * n["cylinder_d"] * abs(math.sin((n["marks_deg"] - n["planned_deg"]) * DEGREE))
    ),
    "read-what-surgery-made": lambda n: made(n, n["after_deg"]),
    "total-in-numbers": lambda n: abs(whole_cornea(n["size_d"])),
    "at-the-cornea-in-numbers": lambda n: n["lens_d"] * share(n["elp_mm"], n["cornea_d"]) ** 2,
    "turn-in-numbers": left_by_a_turn,
    "centroid-in-numbers": lambda n: abs(
        arrow(n["size_d"], n["meridian_deg"]) / 2 + arrow(n["size_d"], n["other_deg"]) / 2
    ),
    "turn-of-weaker-in-numbers": lambda n: abs(
        arrow(n["cornea_d"], 0) - arrow(n["lens_d"], n["turn_deg"])
    ),
}

KEYED = {
    "measured-total": (0.90,),
    "nothing-gained": (math.asin(0.5) / DEGREE,),
}
