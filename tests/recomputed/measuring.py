"""K = 1000 (n − 1) / R, length = time × speed / 2, path of light = Σ length × index.

What a millimetre costs is computed along the eye: Holladay 1's lens position, the lens that suits
the length as read, and what this lens leaves in the true eye. The slopes for a dioptre of K and
for a millimetre in an average eye are the lesson's, 1 D and 2.7 D.
"""

import math

K_D = 43.5
RADIUS_MM = 337.5 / K_D
SURGEON_FACTOR_MM = 0.5663 * 118.6 - 65.60
LIGHT_LENS_MM = 4.6


def by_sound(time_us, speed_m_per_s):
    return time_us / 2.0 * speed_m_per_s / 1000.0


def by_light(length_mm):
    """What one group index and Haigis's line make of an eye, whose path ends 0.25 mm deeper."""
    behind_mm = length_mm - 3.1 - LIGHT_LENS_MM + 0.25
    path_mm = 0.55 * 1.3856 + 2.55 * 1.3459 + LIGHT_LENS_MM * 1.4070 + behind_mm * 1.3445
    return (path_mm / 1.3549 - 1.3033) / 0.9571


def left(true_mm, read_mm):
    """Refraction at the spectacles where the lens was chosen for a length as read."""
    dome_mm = min(12.5 * true_mm / 23.45, 13.5) / 2.0
    place_mm = 0.56 + RADIUS_MM - math.sqrt(RADIUS_MM**2 - dome_mm**2) + SURGEON_FACTOR_MM
    cornea_d = 1000.0 / 3.0 / RADIUS_MM
    arrives_d = 1336.0 / (1336.0 / cornea_d - place_mm)
    lens_d = 1336.0 / (read_mm + 0.2 - place_mm) - arrives_d
    before_d = 1336.0 / (true_mm + 0.2 - place_mm) - lens_d
    at_cornea_d = 1336.0 / (1336.0 / before_d + place_mm) - cornea_d
    return at_cornea_d / (1.0 + 0.012 * at_cornea_d)


def price(length_mm):
    """D for a millimetre, from a tenth read too long, to a decimal as the lesson says it."""
    return round(10.0 * left(length_mm, length_mm + 0.1), 1)


BY_HAND = {
    "index-between-instruments": lambda n: n["shown_d"] * 337.5 / 332.0,
    "echo-to-length": lambda n: by_sound(n["time_us"], 1555.0),
    "read-an-echogram": lambda n: by_sound(n["retina_us"] - n["back_us"], 1532.0),
    "long-eye-one-index": lambda n: by_light(n["length_mm"]) - n["length_mm"],
    "price-in-short-eye": lambda n: -price(20.0) * n["error_mm"],
    "steep-reading": lambda n: n["read_d"] - n["true_d"],
    "read-the-price": lambda n: price(n["length_mm"]) * n["error_mm"],
    "front-surface-in-numbers": lambda n: n["k_d"] * 376.0 / 337.5,
    "echo-in-numbers": lambda n: by_sound(n["time_us"], 1555.0),
    "lens-by-echo-in-numbers": lambda n: by_sound(n["back_us"] - n["front_us"], 1641.0),
    "two-errors-in-numbers": lambda n: 2.7 * n["length_mm"] - n["k_d"],
}

KEYED = {
    "plane-of-the-price": (2.7 / 0.7,),
    "screening-limits": (),  # an eye described; tests/test_items_measuring.py holds it to the list
}
