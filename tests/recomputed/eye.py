"""Lesson eye: retinal images from the nodal point, lengths by n′ / way, far and near points."""

import math


def tangent(angle_deg):
    return math.tan(angle_deg * math.pi / 180)


def at_cornea(spectacle_d, vertex_mm=12.0):
    """A refraction at the spectacles, carried to the cornea by the place of its far point, D."""
    return 1000 / (1000 / spectacle_d - vertex_mm)


def gullstrand_emsley_d(radius_mm, length_mm):
    """Refraction at the cornea: light followed backwards from the retina to the cornea.

    Cornea and lens 3.6 mm apart, lens 3.6 mm thick, radii 10 and −6 mm, indices 4/3 and 1.416
    (Emsley, Visual Optics).
    """
    aqueous, lens = 4 / 3, 1.416
    here_d = 1000 * aqueous / (length_mm - 7.2) - 1000 * (aqueous - lens) / -6.0
    here_d = 1 / (1 / here_d + 0.0036 / lens) - 1000 * (lens - aqueous) / 10.0
    here_d = 1 / (1 / here_d + 0.0036 / aqueous)
    return here_d - 1000 * (aqueous - 1) / radius_mm


BY_HAND = {
    "image-of-a-degree": lambda n: 1000 * tangent(n["angle_deg"]) / n["power_d"],
    "weak-eye-large-image": lambda n: {
        "weak_d": min(n["weak_d"], n["strong_d"]),
        "answer": 100 * (n["strong_d"] - n["weak_d"]) / n["weak_d"],
    },
    "a-millimetre-too-long": lambda n: -n["too_long_mm"] / 0.37,
    "myopia-in-millimetres": lambda n: 0.37 * abs(n["refraction_d"]),
    "tenth-of-a-millimetre": lambda n: n["error_mm"] / 0.37,
    "read-a-repeated-length": lambda n: (
        gullstrand_emsley_d(n["radius_mm"], n["first_mm"] + n["more_mm"])
        - gullstrand_emsley_d(n["radius_mm"], n["first_mm"])
    ),
    "range-of-an-old-myope": lambda n: 100 / abs(n["refraction_d"]),
    "read-a-clear-range": lambda n: 100 / n["near_cm"] - 100 / n["far_cm"],
    "retinal-image-in-numbers": lambda n: 1000 * tangent(n["angle_deg"]) / n["power_d"],
    "axial-myopia-in-numbers": lambda n: 0.37 * abs(n["refraction_d"]),
    "two-eyes-in-numbers": lambda n: (
        0.37 * (at_cornea(n["left_d"]) - at_cornea(n["left_d"] - n["more_d"]))
    ),
    "near-point-in-numbers": lambda n: 100 / (18.5 - 0.30 * n["age_years"]),
}

KEYED = {"amplitude-at-45": (18.5 - 0.30 * 45,)}
