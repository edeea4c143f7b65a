"""Acuity: one angle in six notations, the letter that shows it, and what blur makes of it.

The angle is the minimum angle of resolution (MAR), the width of a letter's stroke; the letter is
five strokes high.

Sources
-------
Bennett & Rabbetts, *Clinical Visual Optics*; Keating, *Geometric, Physical and Visual Optics*;
Blendowske, Optom Vis Sci 2015 (abstract); Smith, Optom Vis Sci 1991 (abstract).
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from shared_utils.optics.domain import (
    broadcast,
    require,
    require_instance,
    require_one_of,
    unwrap_scalar,
)

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import ArrayLike

    from shared_utils.optics.types import FloatOrArray

ARCMIN_PER_RADIAN = 60.0 * 180.0 / np.pi
STROKES_PER_LETTER = 5.0
LOGMAR_RANGE = (-1.0, 3.0)
MAR_RANGE_ARCMIN = (0.1, 1000.0)
SMITH_ARCMIN_PER_MM_D = 0.65  # Smith 1991, from memory
SMITH_FROM_D = 1.0

# each notation: its range, from MAR in arcmin, to MAR in arcmin
SCALES: dict[str, tuple[tuple[float, float], Callable, Callable]] = {
    "logmar": (LOGMAR_RANGE, np.log10, lambda v: 10.0**v),
    "mar_arcmin": (MAR_RANGE_ARCMIN, lambda mar: mar, lambda v: v),
    "decimal": ((0.001, 10.0), lambda mar: 1.0 / mar, lambda v: 1.0 / v),
    "snellen_20": ((2.0, 20000.0), lambda mar: 20.0 * mar, lambda v: v / 20.0),
    "snellen_6": ((0.6, 6000.0), lambda mar: 6.0 * mar, lambda v: v / 6.0),
    "letters": (
        (-65.0, 135.0),
        lambda mar: 85.0 - 50.0 * np.log10(mar),
        lambda v: 10.0 ** ((85.0 - v) / 50.0),
    ),
}


def convert(value: ArrayLike, given: str, wanted: str) -> FloatOrArray:
    """Return an acuity in another notation.

    Parameters
    ----------
    value : scalar or array
        The acuity; from 1000 to 0.1 arcmin, written in the given notation.
    given, wanted : str
        ``logmar``; ``mar_arcmin``; ``decimal`` (1 / MAR); ``snellen_20`` and ``snellen_6``, the
        lower number of 20/x (feet) and 6/x (metres); ``letters`` read on a chart of five to a
        line that ends 85 at 20/20.

    Returns
    -------
    float or array

    Sources
    -------
    Bennett & Rabbetts; letters = 85 − 50 logMAR is common practice for charts of 0.02 logMAR a
    letter.

    Examples
    --------
    20/40 is a decimal acuity of 0.5 and a logMAR of 0.30.

    >>> convert(40.0, "snellen_20", "decimal")
    0.5
    >>> round(convert(0.5, "decimal", "logmar"), 2)
    0.3
    """
    (low, high), _, to_mar = SCALES[require_one_of("given", given, SCALES)]
    _, from_mar, _ = SCALES[require_one_of("wanted", wanted, SCALES)]
    value = require(given, value, low, high, hint="Is this another notation? Name that one.")
    return unwrap_scalar(from_mar(to_mar(value)))


def letter_height_mm(logmar: ArrayLike, viewing_distance_m: ArrayLike) -> FloatOrArray:
    """Return how high a letter of an acuity stands on a chart.

    Parameters
    ----------
    logmar : scalar or array
        Acuity, −1 to 3 logMAR.
    viewing_distance_m : scalar or array
        Eye to chart, 0.1 to 20 m.

    Returns
    -------
    float or array
        mm; five strokes of one MAR.

    Sources
    -------
    Bennett & Rabbetts: height = distance times tan 5' at 6/6.

    Examples
    --------
    >>> round(letter_height_mm(0.0, 6.0), 2)
    8.73
    """
    logmar, distance_m = _seen(logmar, viewing_distance_m)
    angle = STROKES_PER_LETTER * 10.0**logmar / ARCMIN_PER_RADIAN
    return unwrap_scalar(1000.0 * distance_m * np.tan(angle))


def logmar_of_letter(height_mm: ArrayLike, viewing_distance_m: ArrayLike) -> FloatOrArray:
    """Return the acuity that a letter of a height asks for at a distance.

    Parameters
    ----------
    height_mm : scalar or array
        Height of the letter (of an x in running text), 0.01 to 1000 mm.
    viewing_distance_m : scalar or array
        Eye to letter, 0.1 to 20 m.

    Returns
    -------
    float or array
        logMAR.

    Sources
    -------
    Bennett & Rabbetts.

    Examples
    --------
    >>> round(logmar_of_letter(0.5818, 0.40), 3)
    0.0
    """
    height_mm, distance_m = broadcast(
        height_mm=require("height_mm", height_mm, 0.01, 1000.0),
        viewing_distance_m=_distance(viewing_distance_m),
    )
    angle_arcmin = np.arctan(height_mm / 1000.0 / distance_m) * ARCMIN_PER_RADIAN
    return unwrap_scalar(np.log10(angle_arcmin / STROKES_PER_LETTER))


def m_units(logmar: ArrayLike, viewing_distance_m: ArrayLike) -> FloatOrArray:
    """Return the print size, in M units, that an acuity reads at a distance.

    Parameters
    ----------
    logmar : scalar or array
        Acuity, −1 to 3 logMAR.
    viewing_distance_m : scalar or array
        Eye to page, 0.1 to 20 m.

    Returns
    -------
    float or array
        M units: 1 M is the letter of 5' at 1 m, 1.454 mm high, about the print of a newspaper.

    Sources
    -------
    Bennett & Rabbetts: decimal acuity is the distance in m over the print in M units.

    Examples
    --------
    At 40 cm, 0.4 logMAR (2.5 times 20/20) reads 1 M.

    >>> round(m_units(0.4, 0.40), 2)
    1.0
    """
    logmar, distance_m = _seen(logmar, viewing_distance_m)
    return unwrap_scalar(distance_m * 10.0**logmar)


def logmar_of_m_units(print_m_units: ArrayLike, viewing_distance_m: ArrayLike) -> FloatOrArray:
    """Return the acuity that a print size asks for at a distance.

    Parameters
    ----------
    print_m_units : scalar or array
        Print size, 0.01 to 1000 M units.
    viewing_distance_m : scalar or array
        Eye to page, 0.1 to 20 m.

    Returns
    -------
    float or array
        logMAR.

    Sources
    -------
    Bennett & Rabbetts.

    Examples
    --------
    >>> round(logmar_of_m_units(1.0, 0.40), 2)
    0.4
    """
    print_m_units, distance_m = broadcast(
        print_m_units=require("print_m_units", print_m_units, 0.01, 1000.0),
        viewing_distance_m=_distance(viewing_distance_m),
    )
    return unwrap_scalar(np.log10(print_m_units / distance_m))


def retinal_size_um(angle_arcmin: ArrayLike, eye_power_d: ArrayLike = 60.0) -> FloatOrArray:
    """Return how large an angle is on the retina of an emmetropic eye.

    Parameters
    ----------
    angle_arcmin : scalar or array
        Angle that the object subtends, −3000 to 3000 arcmin.
    eye_power_d : scalar or array
        Equivalent power of the eye, 30 to 90 D.

    Returns
    -------
    float or array
        µm.

    Sources
    -------
    Keating: y' = f tan θ, f = 1 / F the distance from the nodal point.

    Examples
    --------
    A 20/20 letter on the retina of the 60 D eye: 24 µm, about ten cones.

    >>> round(retinal_size_um(5.0), 1)
    24.2
    """
    angle_arcmin, eye_power_d = broadcast(
        angle_arcmin=require(
            "angle_arcmin", angle_arcmin, -3000.0, 3000.0, hint="60 arcmin are one degree."
        ),
        eye_power_d=_eye_power(eye_power_d),
    )
    return unwrap_scalar(1e6 * np.tan(angle_arcmin / ARCMIN_PER_RADIAN) / eye_power_d)


def blur_circle_arcmin(defocus_d: ArrayLike, pupil_mm: ArrayLike) -> FloatOrArray:
    """Return the angular diameter of the geometric blur circle.

    Parameters
    ----------
    defocus_d : scalar or array
        Spherical defocus, −40 to 40 D; only its size counts.
    pupil_mm : scalar or array
        Diameter of the entrance pupil, 0.5 to 10 mm.

    Returns
    -------
    float or array
        arcmin.

    Sources
    -------
    Bennett & Rabbetts: pupil (m) times defocus (D) is the angle in radians.

    Examples
    --------
    1 D through 4 mm is 4 mrad.

    >>> round(blur_circle_arcmin(1.0, 4.0), 2)
    13.75
    """
    return unwrap_scalar(_blur_mrad(defocus_d, pupil_mm) / 1000.0 * ARCMIN_PER_RADIAN)


def blur_circle_um(
    defocus_d: ArrayLike, pupil_mm: ArrayLike, eye_power_d: ArrayLike = 60.0
) -> FloatOrArray:
    """Return the diameter of the geometric blur circle on the retina.

    Parameters
    ----------
    defocus_d : scalar or array
        Spherical defocus, −40 to 40 D; only its size counts.
    pupil_mm : scalar or array
        Diameter of the entrance pupil, 0.5 to 10 mm.
    eye_power_d : scalar or array
        Equivalent power of the eye, 30 to 90 D.

    Returns
    -------
    float or array
        µm.

    Sources
    -------
    Bennett & Rabbetts.

    Examples
    --------
    1 D through 4 mm on a retina 1/60 m behind the nodal point.

    >>> round(blur_circle_um(1.0, 4.0), 2)
    66.67
    """
    blur_mrad, eye_power_d = broadcast(
        defocus_d=_blur_mrad(defocus_d, pupil_mm), eye_power_d=_eye_power(eye_power_d)
    )
    return unwrap_scalar(1000.0 * blur_mrad / eye_power_d)


def blendowske_logmar(
    sphere_d: ArrayLike, cylinder_d: ArrayLike = 0.0, best_logmar: ArrayLike = 0.0
) -> FloatOrArray:
    """Return unaided acuity from a refraction alone: MAR grows with 1 + b².

    Parameters
    ----------
    sphere_d, cylinder_d : scalar or array
        Refractive error left uncorrected, −20 to 20 D; the law ignores the axis.
    best_logmar : scalar or array
        Acuity with the best correction, −1 to 3 logMAR.

    Returns
    -------
    float or array
        logMAR.

    Notes
    -----
    b is the distance of the refraction from none, the length √((S + C/2)² + (C/2)²) of its power
    vector. The law ignores the pupil and holds on average only; hyperopia counts only as far as
    the eye cannot accommodate. It disagrees with `smith_logmar`, which knows the pupil: teach
    both.

    Sources
    -------
    Blendowske, Optom Vis Sci 2015: fitted to published data of unaided acuity.

    Examples
    --------
    1 D doubles the smallest angle: 20/20 becomes 20/40.

    >>> round(blendowske_logmar(-1.0), 2)
    0.3
    """
    sphere_d, cylinder_d, best_logmar = broadcast(
        sphere_d=require("sphere_d", sphere_d, -20.0, 20.0),
        cylinder_d=require("cylinder_d", cylinder_d, -20.0, 20.0),
        best_logmar=require("best_logmar", best_logmar, *LOGMAR_RANGE),
    )
    square = (sphere_d + cylinder_d / 2.0) ** 2 + (cylinder_d / 2.0) ** 2
    return unwrap_scalar(best_logmar + np.log10(1.0 + square))


def smith_logmar(
    defocus_d: ArrayLike, pupil_mm: ArrayLike, best_logmar: ArrayLike = 0.0, blended: bool = True
) -> FloatOrArray:
    """Return unaided acuity from defocus and pupil: MAR is proportional to both.

    Parameters
    ----------
    defocus_d : scalar or array
        Spherical defocus, −20 to 20 D; only its size counts.
    pupil_mm : scalar or array
        Diameter of the pupil, 0.5 to 10 mm.
    best_logmar : scalar or array
        Acuity with the best correction, −1 to 3 logMAR; used in the blend.
    blended : bool
        Whether to join the law smoothly to the best acuity by a root of squares, so that it may
        be used at any defocus. The blend is a smoothing for teaching, not Smith's. Without it
        the law stands alone and asks for a defocus of 1 D or more, where it holds.

    Returns
    -------
    float or array
        logMAR.

    Sources
    -------
    Smith, Optom Vis Sci 1991: over a wide range MAR is linear in refractive error times pupil
    diameter; 0.65 arcmin per mm · D from memory. That is a fifth of the blur circle's diameter.

    Examples
    --------
    2 D through 4 mm: 0.65 · 8 = 5.2 arcmin, 20/104.

    >>> round(10 ** smith_logmar(2.0, 4.0, blended=False), 2)
    5.2
    """
    require_instance("blended", blended, bool, "True or False")
    defocus_d, pupil_mm, best_logmar = broadcast(
        defocus_d=require("defocus_d", defocus_d, -20.0, 20.0),
        pupil_mm=_pupil(pupil_mm),
        best_logmar=require("best_logmar", best_logmar, *LOGMAR_RANGE),
    )
    mar_arcmin = SMITH_ARCMIN_PER_MM_D * pupil_mm * np.abs(defocus_d)
    if blended:
        return unwrap_scalar(np.log10(np.hypot(10.0**best_logmar, mar_arcmin)))
    small = np.abs(defocus_d) < SMITH_FROM_D
    if np.any(small):
        raise ValueError(
            f"defocus_d is {defocus_d[small].flat[0]:.6g} D; the linear law holds from 1 D (or "
            "−1 D and below): give more, or ask for the blend."
        )
    return unwrap_scalar(np.log10(mar_arcmin))


def _seen(logmar: ArrayLike, viewing_distance_m: ArrayLike) -> tuple[np.ndarray, ...]:
    return broadcast(
        logmar=require(
            "logmar", logmar, *LOGMAR_RANGE, hint="20/20 is 0 and 20/200 is 1 in logMAR."
        ),
        viewing_distance_m=_distance(viewing_distance_m),
    )


def _distance(viewing_distance_m):
    return require(
        "viewing_distance_m",
        viewing_distance_m,
        0.1,
        20.0,
        hint="From the eye, in metres, as a positive number.",
    )


def _eye_power(eye_power_d):
    return require("eye_power_d", eye_power_d, 30.0, 90.0, hint="The whole eye has about 60 D.")


def _pupil(pupil_mm):
    return require("pupil_mm", pupil_mm, 0.5, 10.0, hint="The diameter, in millimetres.")


def _blur_mrad(defocus_d, pupil_mm):
    defocus_d, pupil_mm = broadcast(
        defocus_d=require("defocus_d", defocus_d, -40.0, 40.0), pupil_mm=_pupil(pupil_mm)
    )
    return pupil_mm * np.abs(defocus_d)
