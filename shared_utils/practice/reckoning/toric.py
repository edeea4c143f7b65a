"""Lesson 09: toric lenses."""

import math

from shared_utils.power import toric
from shared_utils.power.biometry import Eye


def total(size_d):
    """The total astigmatism of a cornea that is steep at 90, by regression, to 0.01 D."""
    return {
        "answer": abs(0.508 - 0.926 * size_d),
        "unchanged": size_d,
        "against": 0.508 + 0.926 * size_d,
        "left_out": 0.926 * size_d,
    }


def at_cornea(lens_d, elp_mm, cornea_d):
    """What the cylinder of a lens does at the cornea."""
    ratio = toric.cylinder_ratio_approximate(Eye(23.5, cornea_d), elp_mm, corneal_index=1.3375)
    return {
        "answer": lens_d / ratio,
        "multiplied": lens_d * ratio,
        "root": lens_d / math.sqrt(ratio),
        "unchanged": lens_d,
        "left": 1 / math.sqrt(ratio),
    }


def turn(cylinder_d, turn_deg):
    """What a lens that fits leaves when it is turned."""
    return {
        "answer": toric.misaligned_cylinder(cylinder_d, cylinder_d, turn_deg),
        "parts": cylinder_d * turn_deg / 90,
        "single": cylinder_d * math.sin(math.radians(turn_deg)),
        "cosine": cylinder_d * math.cos(math.radians(turn_deg)),
    }


def centroid(size_d, meridian_deg):
    """The size of the centroid of two eyes on either side of 180."""
    size = size_d * math.cos(math.radians(2 * meridian_deg))
    return {
        "answer": size,
        "numbers": size_d,
        "undoubled": size_d * math.cos(math.radians(meridian_deg)),
        "sum": 2 * size,
        "other_deg": 180 - meridian_deg,
        "twice_deg": 2 * meridian_deg,
    }


def turn_of_weaker(cornea_d, less_d, turn_deg):
    """What a lens leaves that is weaker than the cornea and turned."""
    lens_d = cornea_d - less_d
    squares, product = cornea_d**2 + lens_d**2, 2 * cornea_d * lens_d
    return {
        "answer": toric.misaligned_cylinder(cornea_d, lens_d, turn_deg),
        "numbers": less_d,
        "undoubled": math.sqrt(squares - product * math.cos(math.radians(turn_deg))),
        "added": math.sqrt(squares + product * math.cos(math.radians(2 * turn_deg))),
        "lens_d": lens_d,
        "twice_deg": 2 * turn_deg,
    }
