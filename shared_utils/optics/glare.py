"""Disability glare: the veil that light scattered in the eye lays over what is looked at.

Sources
-------
Holladay 1926 and Stiles 1929 (from memory): the veil of a lamp is proportional to the light that it
sends into the eye, and to 1 / θ². Vos, *On the cause of disability glare and its dependence on
glare angle, age and ocular pigmentation*, Clin Exp Optom 2003;86:363, and CIE 146:2002 (from
memory). The straylight parameter s = θ² L / E and its logarithm: van den Berg et al., Am J
Ophthalmol 2007 (from memory).
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from shared_utils.optics.domain import broadcast, require, unwrap_scalar

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from shared_utils.optics.types import FloatOrArray

STRAYLIGHT_RANGE_LOG = (0.3, 3.0)
NEAREST_ARCMIN = 6.0  # nearer to the lamp than 0.1° the laws of scattered light do not hold
_ARCMIN2_SR = np.radians(1.0 / 60.0) ** 2


def veil_cd_m2(
    straylight_log: ArrayLike, illuminance_lux: ArrayLike, angle_deg: ArrayLike
) -> FloatOrArray:
    """Return the luminance of the veil that one lamp lays over what is looked at.

    Parameters
    ----------
    straylight_log : scalar or array
        Logarithm of the straylight parameter, 0.3 to 3; 0.9 in youth.
    illuminance_lux : scalar or array
        Of the lamp, at the eye, 0 to 100 000 lux.
    angle_deg : scalar or array
        Between the lamp and what is looked at, 1 to 30 degrees, where the law holds.

    Returns
    -------
    float or array
        cd/m².

    Sources
    -------
    Stiles and Holladay's law; Vos 2003: L = s E / θ².

    Examples
    --------
    10 · 1 lux / 2² = 2.5 cd/m².

    >>> round(veil_cd_m2(1.0, 1.0, 2.0), 3)
    2.5
    """
    straylight, lux, angle = broadcast(
        straylight_log=require(
            "straylight_log",
            straylight_log,
            *STRAYLIGHT_RANGE_LOG,
            hint="The logarithm of the straylight parameter: 0.9 in youth.",
        ),
        illuminance_lux=require("illuminance_lux", illuminance_lux, 0.0, 1e5, hint="At the eye."),
        angle_deg=require("angle_deg", angle_deg, 1.0, 30.0, hint="In degrees, from the lamp."),
    )
    return unwrap_scalar(10.0**straylight * lux / angle**2)


def scattered_light(straylight_log: ArrayLike, angle_arcmin: ArrayLike) -> FloatOrArray:
    """Return the light of a lamp that the eye scatters to an angle.

    Parameters
    ----------
    straylight_log : scalar or array
        Logarithm of the straylight parameter, 0.3 to 3; 0.9 in youth.
    angle_arcmin : scalar or array
        From the lamp, 0 to 1800 arcmin; nearer than 6 the value at 6 is given, for the law holds
        no nearer.

    Returns
    -------
    float or array
        Fraction of the lamp's light per arcmin².

    Sources
    -------
    The straylight parameter's definition: s / θ² per steradian (van den Berg et al., from memory).
    It is measured at 3 to 10 degrees; nearer to the lamp it is carried on by the same law.

    Examples
    --------
    10 / 1² per steradian; an arcmin² is 8.46 · 10⁻⁸ sr.

    >>> f"{scattered_light(1.0, 60.0):.2e}"
    '8.46e-07'
    """
    straylight, angle = broadcast(
        straylight_log=require(
            "straylight_log",
            straylight_log,
            *STRAYLIGHT_RANGE_LOG,
            hint="The logarithm of the straylight parameter: 0.9 in youth.",
        ),
        angle_arcmin=require(
            "angle_arcmin", angle_arcmin, 0.0, 1800.0, hint="One degree is 60 arcmin."
        ),
    )
    degrees = np.maximum(angle, NEAREST_ARCMIN) / 60.0
    return unwrap_scalar(10.0**straylight / degrees**2 * _ARCMIN2_SR)


def contrast_divisor(veil_cd_m2: ArrayLike, background_cd_m2: ArrayLike) -> FloatOrArray:
    """Return by how much a veil divides the contrast of what is seen through it.

    Parameters
    ----------
    veil_cd_m2 : scalar or array
        Luminance of the veil, 0 to 100 000 cd/m².
    background_cd_m2 : scalar or array
        Luminance behind it, 0.001 to 100 000 cd/m²; a lit road at night has about 1.

    Returns
    -------
    float or array
        1 or more, no unit.

    Sources
    -------
    Weber's contrast: the veil adds to the background and not to the difference. CIE 146:2002.

    Examples
    --------
    A veil as bright as the road halves the contrast.

    >>> contrast_divisor(1.0, 1.0)
    2.0
    """
    veil, background = broadcast(
        veil_cd_m2=require("veil_cd_m2", veil_cd_m2, 0.0, 1e5, hint="In cd/m²."),
        background_cd_m2=require(
            "background_cd_m2", background_cd_m2, 1e-3, 1e5, hint="In cd/m²; total dark has none."
        ),
    )
    return unwrap_scalar(np.asarray(1.0 + veil / background))
