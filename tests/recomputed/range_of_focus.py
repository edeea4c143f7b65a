"""Lesson range_of_focus: 1 / D by hand; defocus curves by a direct sum over the pupil.

No formula by hand gives the curve of an eye, so the optics is summed another way than the course
does: the pupil as a square grid of points, each frequency as the overlap of two such grids, colour
after colour. What acuity such contrast stands for is the course's own law, which its text states:
−0.30 + 6.0 / area under the contrast up to 50 lines/mm.
"""

import math
from functools import cache

import numpy as np

DEGREE = math.pi / 180.0  # in radians
EYE_MM = 50.0 / 3.0  # from the nodal point to the retina in an eye of 60 D
GRID_MM = 0.02
SPHERICAL_UM = 0.27 - 0.20  # of the average cornea and of the lens body, Z(4,0) over 6 mm

# V(λ) every 20 nm: CIE 1924, from memory
COLOURS_NM = np.arange(460.0, 681.0, 20.0)
BRIGHT = (0.060, 0.139, 0.323, 0.710, 0.954, 0.995, 0.870, 0.631, 0.381, 0.175, 0.061, 0.017)


def eye_focus_d(wavelength_nm):
    """Refraction of the reduced eye in a colour, D (Thibos et al., Appl Opt 1992)."""
    return 1.68524 - 633.46 / (wavelength_nm - 214.102)


def no_steps(u_mm2):
    return np.zeros_like(u_mm2)


def steps(add_d, waves, base_d=0.0):
    """Path of rings of equal area, each a ramp of so many wavelengths of 555 nm, in µm."""
    ring_mm2 = 2.0 * 0.555 / add_d
    return lambda u_mm2: 0.555 * waves * (u_mm2 / ring_mm2 % 1.0) + 0.5 * base_d * u_mm2


def logmar(lens_um, pupil_mm, object_d):
    """Acuity in white light of an object of this vergence."""
    radius = pupil_mm / 2.0
    y = (np.arange(round(radius / GRID_MM)) + 0.5) * GRID_MM
    per_mm, weights = np.polynomial.legendre.leggauss(11)
    per_mm, weights = 25.0 * (1.0 + per_mm), 25.0 * weights
    area = 0.0
    for lines, weight in zip(per_mm, weights, strict=True):
        passed = 0.0
        for colour_nm, bright in zip(COLOURS_NM, BRIGHT, strict=True):
            half_mm = lines * EYE_MM * colour_nm * 1e-6 / 2.0
            x = (np.arange(round((radius - half_mm) / GRID_MM)) + 0.5) * GRID_MM
            u = [(x[:, None] + side * half_mm) ** 2 + y**2 for side in (1, -1)]
            blur_d = object_d - (eye_focus_d(colour_nm) - eye_focus_d(555.0))
            paths = [
                lens_um(v) + 6 * math.sqrt(5) * SPHERICAL_UM * v**2 / 81 + 0.5 * blur_d * v
                for v in u
            ]
            within = u[0] <= radius**2
            overlap = np.cos(2000.0 * math.pi / colour_nm * (paths[0] - paths[1]))[within].sum()
            passed += bright * overlap * 4 * GRID_MM**2 / (math.pi * radius**2)
        area += weight * abs(passed) / sum(BRIGHT)
    return -0.30 + 6.0 / area


def bulge(centre_d, width_mm):
    """Path of a power that falls from the centre as exp(−r²/w²), added up over r · dr, in µm."""
    return lambda u: 0.5 * centre_d * width_mm**2 * (1.0 - np.exp(-u / width_mm**2))


EXTENDED = bulge(2.5, 0.75)  # as its text states them: power of the centre, radius


@cache
def reach(lens, pupil_mm, limit_logmar=0.2):
    """Where a curve first falls short of the limit, from far towards near, D."""
    lens_um = no_steps if lens is None else lens if callable(lens) else steps(*lens)
    known = {0.4: logmar(lens_um, pupil_mm, -0.4)}
    far_d = near_d = 0.4
    while known[near_d] <= limit_logmar:
        far_d, near_d = near_d, near_d + 0.3
        known[near_d] = logmar(lens_um, pupil_mm, -near_d)
    while near_d - far_d > 0.02:  # halve the piece in which the curve falls short
        middle_d = (far_d + near_d) / 2
        known[middle_d] = logmar(lens_um, pupil_mm, -middle_d)
        far_d, near_d = (middle_d, near_d) if known[middle_d] <= limit_logmar else (far_d, middle_d)
    share = (limit_logmar - known[far_d]) / (known[near_d] - known[far_d])
    return far_d + share * (near_d - far_d)


BY_HAND = {
    "read-66": lambda n: -100 / n["distance_cm"],
    "range-ends": lambda n: n["again_d"] - n["gap_d"],
    "monovision-reach": lambda n: 100 / (n["range_d"] + n["target_d"]),
    "gap-of-monovision": lambda n: {
        "answer": n["target_d"] - n["beyond_d"] - n["range_d"],
        "from_cm": 100 / n["range_d"],
        "to_cm": 100 / (n["target_d"] - n["beyond_d"]),
    },
    "curve-to-read": lambda n: reach((n["add_d"], 0.5), n["pupil_mm"]),
    "read-what-is-gained": lambda n: (
        reach(EXTENDED, n["pupil_mm"], n["limit_logmar"])
        - reach(None, n["pupil_mm"], n["limit_logmar"])
    ),
    "read-two-eyes": lambda n: reach(None, n["pupil_mm"]) + n["myopia_d"],
    "chart-lens-in-numbers": lambda n: -100 / n["distance_cm"],
    "range-between-points-in-numbers": lambda n: (
        n["start_d"] + 0.5 * (0.2 - n["good"]) / (n["bad"] - n["good"])
    ),
    "gain-over-monofocal-in-numbers": lambda n: 100 / n["stretched_cm"] - 100 / n["plain_cm"],
    "range-by-pupil-in-numbers": lambda n: n["range_d"] * n["small_mm"] / n["wide_mm"],
    "monovision-reach-in-numbers": lambda n: 100 / (n["range_d"] + n["target_d"]),
    "monovision-gap-in-numbers": lambda n: n["target_d"] - n["beyond_d"] - n["range_d"],
}

KEYED = {
    "how-measured": (-1.5, 100 / 1.5),
    "half-dioptre-more": (1.6 - 1.3,),
}
