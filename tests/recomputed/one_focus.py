"""Λ/p and angles by hand; contrast of a blurred eye summed over pupil and colours."""

import math
from functools import cache

import numpy as np

DEGREE = math.pi / 180.0  # in radians
MRAD = 0.06 / DEGREE  # in arcminutes

# V(λ) every 20 nm from 440 nm: CIE 1924, from memory
COLOURS_NM = np.arange(440.0, 701.0, 20.0)
BRIGHT = (
    *(0.023, 0.060, 0.139, 0.323, 0.710, 0.954, 0.995),
    *(0.870, 0.631, 0.381, 0.175, 0.061, 0.017, 0.004),
)


def modulation(bright, dark):
    return (bright - dark) / (bright + dark)


def ideal_contrast(part_of_cut_off):
    """Contrast that diffraction alone leaves (Goodman, in closed form)."""
    s = part_of_cut_off
    return 2.0 / math.pi * (math.acos(s) - s * math.sqrt(1.0 - s * s))


def eye_focus_d(wavelength_nm):
    """Refraction of the reduced eye in a colour, D (Thibos et al., Appl Opt 1992)."""
    return 1.68524 - 633.46 / (wavelength_nm - 214.102)


@cache
def contrast_in_white(pupil_mm, object_d, cpd):
    """Contrast behind an eye that has no aberration but its own colour error.

    Summed directly: the autocorrelation of a round pupil with a parabolic path, in which the path
    difference of two points s apart is blur · x · s, for colour after colour. An eye is in focus
    for an object whose vergence is its refraction.
    """
    colours_nm = np.arange(440.0, 701.0, 2.0)
    weights = np.exp(np.interp(colours_nm, COLOURS_NM, np.log(BRIGHT)))
    per_radian, radius_m = cpd / DEGREE, pupil_mm / 2000.0
    total = 0.0
    for colour_nm, weight in zip(colours_nm, weights, strict=True):
        blur_d = object_d - (eye_focus_d(colour_nm) - eye_focus_d(555.0))
        half_shear_m = colour_nm * 1e-9 * per_radian / 2.0
        edge_m = radius_m - half_shear_m
        if edge_m <= 0:
            continue
        x = (np.arange(600) + 0.5) / 600 * edge_m
        height = 2.0 * np.sqrt(radius_m**2 - (x + half_shear_m) ** 2)
        phase = 2.0 * math.pi * blur_d * x * per_radian
        total += weight * 2.0 * np.sum(height * np.cos(phase)) * edge_m / 600
    return float(total / weights.sum() / (math.pi * radius_m**2))


BY_HAND = {
    "cut-off-of-pupil": lambda n: n["pupil_mm"] / n["wavelength_nm"] * 1e6 * DEGREE,
    "modulation": lambda n: n["passed"] * modulation(n["bright"], n["dark"]),
    "blur-disc": lambda n: n["pupil_mm"] * n["defocus_d"] * MRAD,
    "sa-and-pupil": lambda n: n["wide_d"] * (n["small_mm"] / n["wide_mm"]) ** 2,
    "pupil-for-twenty-twenty": lambda n: n["lines_cpd"] / DEGREE * n["wavelength_nm"] / 1e6,
    "contrast-to-read": lambda n: (
        n["printed"] * contrast_in_white(n["pupil_mm"], n["defocus_d"], 15.0)
    ),
    "read-where-contrast-ends": lambda n: n["ends_cpd"] / DEGREE * n["wavelength_nm"] / 1e6,
    "read-a-blur-disc": lambda n: {"defocus_d": n["width_arcmin"] / MRAD / n["pupil_mm"]},
    "airy-in-numbers": lambda n: 1.22 * n["wavelength_nm"] / 1000 / n["pupil_mm"] * MRAD,
    "cut-off-in-numbers": lambda n: n["pupil_mm"] / n["wavelength_nm"] * 1e6 * DEGREE,
    "contrast-in-numbers": lambda n: n["passed"] * modulation(n["bright"], n["dark"]),
    "blur-disc-in-numbers": lambda n: n["pupil_mm"] * n["defocus_d"] * MRAD,
    "acuity-with-blur-in-numbers": lambda n: n["best_logmar"] + math.log10(1 + n["blur_d"] ** 2),
    "margin-in-numbers": lambda n: (
        8 * math.sqrt(5) / 27 * (n["cornea_um"] + n["lens_um"]) * (n["pupil_mm"] / 2) ** 2
    ),
}

KEYED = {
    "perfect-is-not-one": (100 * ideal_contrast(1 / 3),),
}
