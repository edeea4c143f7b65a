"""Axial length as instruments find it: a time of sound or a path of light, and a speed assumed.

No instrument sees a length. Sound gives the time of an echo, light an optical path; each becomes
millimetres by a speed or an index, one for the whole eye or one for every segment. Sound comes
back from the inner limit of the retina, light from the pigment epithelium behind it.

Sources
-------
Speeds of sound: Hoffer, J Cataract Refract Surg 1994;20:554; that in silicone oil is common
practice, no source. Group indices: Hitzenberger, Invest Ophthalmol Vis Sci 1991;32:616. The line
that makes a light path comparable with immersion sound: Haigis et al., Graefes Arch Clin Exp
Ophthalmol 2000;238:765. All from memory; together they reproduce the published regression of
``long_eyes.segmented_length`` to 0.04 mm (a test holds that).
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from shared_utils.optics.domain import broadcast, require, require_one_of, unwrap_scalar
from shared_utils.power.biometry import AXIAL_LENGTH_RANGE_MM

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from shared_utils.optics.types import FloatOrArray

SPEED_M_PER_S = {
    "cornea": 1641.0,
    "aqueous": 1532.0,
    "lens": 1641.0,
    "vitreous": 1532.0,
    "phakic eye": 1555.0,
    "silicone oil": 980.0,
}
GROUP_INDEX = {
    "cornea": 1.3856,
    "aqueous": 1.3459,
    "lens": 1.4070,
    "vitreous": 1.3445,
    "phakic eye": 1.3549,
}
CORNEA_MM = 0.55
CHAMBER_MM = 3.1  # epithelium to lens; the humours are so alike that it hardly matters
RETINA_MM = 0.25  # a fovea's thickness; common practice, no source

LENS_HINT = "In metres? Multiply by 1000."


def echo_time(
    axial_length_mm: ArrayLike, lens_thickness_mm: ArrayLike, vitreous: str = "vitreous"
) -> FloatOrArray:
    """Return how long sound takes to the retina and back.

    Parameters
    ----------
    axial_length_mm : scalar or array
        Cornea to the inner limit of the retina, 15 to 40 mm.
    lens_thickness_mm : scalar or array
        2 to 8 mm.
    vitreous : str
        What fills the space behind the lens: ``"vitreous"`` or ``"silicone oil"``.

    Returns
    -------
    float or array
        µs.

    Raises
    ------
    ValueError
        Naming the value, the unit and the range; for a filling that is not known.

    Examples
    --------
    5.15 mm of cornea and lens at 1641 m/s, 18.35 mm of humours at 1532 m/s, there and back:

    >>> round(echo_time(23.5, 4.6), 2)
    30.23
    """
    require_one_of("vitreous", vitreous, ("vitreous", "silicone oil"))
    behind_mm, lens_mm = _segments(axial_length_mm, lens_thickness_mm)
    way_s = (
        CORNEA_MM / SPEED_M_PER_S["cornea"]
        + (CHAMBER_MM - CORNEA_MM) / SPEED_M_PER_S["aqueous"]
        + lens_mm / SPEED_M_PER_S["lens"]
        + behind_mm / SPEED_M_PER_S[vitreous]
    )
    return unwrap_scalar(2.0 * 1000.0 * way_s)


def length_by_sound(echo_time_us: ArrayLike, speed_m_per_s: ArrayLike = 1555.0) -> FloatOrArray:
    """Return the length that one speed makes of an echo's time.

    Parameters
    ----------
    echo_time_us : scalar or array
        There and back, 1 to 100 µs.
    speed_m_per_s : scalar or array
        900 to 3000 m/s; 1555 for a whole eye with its lens, 1532 without.

    Returns
    -------
    float or array
        mm.

    Examples
    --------
    >>> round(length_by_sound(30.0), 3)
    23.325
    """
    time_us, speed = broadcast(
        echo_time_us=require("echo_time_us", echo_time_us, 1.0, 100.0, hint="In µs, both ways."),
        speed_m_per_s=require("speed_m_per_s", speed_m_per_s, 900.0, 3000.0, hint="In m/s."),
    )
    return unwrap_scalar(time_us * speed / 2000.0)


def optical_path(axial_length_mm: ArrayLike, lens_thickness_mm: ArrayLike) -> FloatOrArray:
    """Return the optical path of an eye: every segment times its group index.

    Parameters
    ----------
    axial_length_mm : scalar or array
        Cornea to the inner limit of the retina, 15 to 40 mm; the path ends ``RETINA_MM`` deeper.
    lens_thickness_mm : scalar or array
        2 to 8 mm.

    Returns
    -------
    float or array
        mm, about 1.36 times the length.

    Raises
    ------
    ValueError
        Naming the value, the unit and the range.

    Examples
    --------
    >>> round(optical_path(23.5, 4.6), 2)
    32.25
    """
    behind_mm, lens_mm = _segments(axial_length_mm, lens_thickness_mm)
    return unwrap_scalar(
        CORNEA_MM * GROUP_INDEX["cornea"]
        + (CHAMBER_MM - CORNEA_MM) * GROUP_INDEX["aqueous"]
        + lens_mm * GROUP_INDEX["lens"]
        + (behind_mm + RETINA_MM) * GROUP_INDEX["vitreous"]
    )


def length_by_light(optical_path_mm: ArrayLike) -> FloatOrArray:
    """Return the length that one index makes of a path of light, on the scale of sound.

    Parameters
    ----------
    optical_path_mm : scalar or array
        18 to 60 mm.

    Returns
    -------
    float or array
        mm: right in an average eye, a little short in short eyes, too long in long ones.

    Sources
    -------
    Haigis et al. 2000: (path / 1.3549 − 1.3033) / 0.9571. From memory.

    Examples
    --------
    >>> round(length_by_light(optical_path(30.0, 4.6)), 2)
    30.24
    """
    path_mm = require("optical_path_mm", optical_path_mm, 18.0, 60.0, hint="Length × index.")
    return unwrap_scalar((path_mm / GROUP_INDEX["phakic eye"] - 1.3033) / 0.9571)


def _segments(axial_length_mm, lens_thickness_mm):
    """What lies behind the lens, and the lens, mm."""
    length_mm, lens_mm = broadcast(
        axial_length_mm=require(
            "axial_length_mm", axial_length_mm, *AXIAL_LENGTH_RANGE_MM, hint=LENS_HINT
        ),
        lens_thickness_mm=require("lens_thickness_mm", lens_thickness_mm, 2.0, 8.0, hint=LENS_HINT),
    )
    return np.asarray(length_mm - CHAMBER_MM - lens_mm), lens_mm
