"""What a lens that sits beside the pupil's centre does: coma, and a halo beside its lamp.

Spherical aberration is a path that grows with the fourth power of the radius. Moved aside, it
makes coma, and a little astigmatism and defocus, which glasses can mend. A power, of a ring too,
is a path that grows with the square: moved aside, it makes a prism.

Sources
-------
ISO 24157 (Zernike functions); Thibos, Hong, Bradley & Applegate, J Vis 2004;4(4):9 (equivalent
defocus, from memory); Keating, *Geometric, Physical and Visual Optics* (Prentice's rule).
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from shared_utils.optics.domain import require, unwrap_scalar

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from shared_utils.optics.types import FloatOrArray

ZONE_RANGE_MM = (1.0, 9.0)
ZONE_HINT = "The diameter over which the aberration counts, in mm."
TABLE_ZONE_MM = 6.0
"""The zone to which the aberration of corneas and lenses refers."""


def over_zone_um(sa_um: ArrayLike, zone_mm: ArrayLike) -> FloatOrArray:
    """Return the spherical aberration over a zone from that over 6 mm.

    Parameters
    ----------
    sa_um : scalar or array
        Z(4,0) over 6 mm, −2 to 2 µm; the average cornea has +0.27.
    zone_mm : scalar or array
        Diameter of the zone, 1 to 9 mm.

    Returns
    -------
    float or array
        µm.

    Examples
    --------
    Half the zone, one sixteenth of the aberration.

    >>> over_zone_um(0.32, 3.0)
    0.02
    """
    sa_um = _aberration("sa_um", sa_um)
    zone_mm = require("zone_mm", zone_mm, *ZONE_RANGE_MM, hint=ZONE_HINT)
    return unwrap_scalar(sa_um * (zone_mm / TABLE_ZONE_MM) ** 4)


def coma_um(
    lens_sa_um: ArrayLike, decentration_mm: ArrayLike, zone_mm: ArrayLike = TABLE_ZONE_MM
) -> FloatOrArray:
    """Return the coma that a lens with spherical aberration makes when it sits off centre.

    Parameters
    ----------
    lens_sa_um : scalar or array
        Z(4,0) of the lens over 6 mm, −2 to 2 µm; −0.2 takes away most of the average
        cornea's.
    decentration_mm : scalar or array
        From the pupil's centre to the lens's, 0 to 2 mm, in the plane of the pupil as seen.
    zone_mm : scalar or array
        Diameter of the pupil, 1 to 9 mm.

    Returns
    -------
    float or array
        Size of Z(3,±1) over the pupil, µm.

    Sources
    -------
    Worked from ISO 24157: (r − d)⁴ holds −4 d r³ cos, and Z(3,1) is √8 (3ρ³ − 2ρ) cos.

    Examples
    --------
    Over 6 mm: 2√10 / 3 · 0.20 · 0.5 = 0.21 µm.

    >>> round(coma_um(-0.20, 0.5), 2)
    0.21
    """
    sa_um = _aberration("lens_sa_um", lens_sa_um)
    decentration_mm = require(
        "decentration_mm", decentration_mm, 0.0, 2.0, hint="In millimetres, without a sign."
    )
    zone_mm = require("zone_mm", zone_mm, *ZONE_RANGE_MM, hint=ZONE_HINT)
    over_six = 2.0 * np.sqrt(10.0) / 3.0 * np.abs(sa_um) * decentration_mm
    return unwrap_scalar(over_six * (zone_mm / TABLE_ZONE_MM) ** 3)


def left_over_um(
    corneal_sa_um: ArrayLike,
    lens_sa_um: ArrayLike,
    decentration_mm: ArrayLike,
    zone_mm: ArrayLike = TABLE_ZONE_MM,
) -> FloatOrArray:
    """Return the higher-order aberration that cornea and lens leave together.

    Parameters
    ----------
    corneal_sa_um : scalar or array
        Z(4,0) of the cornea over 6 mm, −2 to 2 µm.
    lens_sa_um, decentration_mm, zone_mm
        As for `coma_um`.

    Returns
    -------
    float or array
        Root mean square over the pupil, µm: spherical aberration and coma. Of the cornea nothing
        but its spherical aberration is counted.

    Examples
    --------
    >>> round(left_over_um(0.27, -0.20, 0.0), 2), round(left_over_um(0.27, 0.0, 0.5), 2)
    (0.07, 0.27)
    """
    corneal_sa_um = _aberration("corneal_sa_um", corneal_sa_um)
    lens_sa_um = _aberration("lens_sa_um", lens_sa_um)
    spherical = over_zone_um(1.0, zone_mm) * (corneal_sa_um + lens_sa_um)
    return unwrap_scalar(np.hypot(spherical, coma_um(lens_sa_um, decentration_mm, zone_mm)))


def equivalent_defocus_d(rms_um: ArrayLike, zone_mm: ArrayLike = TABLE_ZONE_MM) -> FloatOrArray:
    """Return the defocus whose root mean square is as large: how strongly an aberration blurs.

    Parameters
    ----------
    rms_um : scalar or array
        Root mean square, 0 to 20 µm.
    zone_mm : scalar or array
        Diameter over which it was measured, 1 to 9 mm.

    Returns
    -------
    float or array
        D, without a sign.

    Sources
    -------
    Thibos, Hong, Bradley & Applegate, J Vis 2004;4(4):9: 4√3 RMS / r² (from memory).

    Examples
    --------
    4 · 1.732 · 0.5 / 3² = 0.385 D.

    >>> round(equivalent_defocus_d(0.5, 6.0), 3)
    0.385
    """
    rms_um = require("rms_um", rms_um, 0.0, 20.0, hint="In micrometres, not nm or waves.")
    zone_mm = require("zone_mm", zone_mm, *ZONE_RANGE_MM, hint=ZONE_HINT)
    return unwrap_scalar(4.0 * np.sqrt(3.0) * rms_um / (zone_mm / 2.0) ** 2)


def halo_shift_arcmin(add_d: ArrayLike, decentration_mm: ArrayLike) -> FloatOrArray:
    """Return how far the halo of a near focus stands beside its lamp.

    Parameters
    ----------
    add_d : scalar or array
        Add at the corneal plane, 0 to 6 D.
    decentration_mm : scalar or array
        From the pupil's centre to the centre of the rings, 0 to 2 mm.

    Returns
    -------
    float or array
        arcmin. The halo keeps its size.

    Sources
    -------
    Prentice's rule: millimetres times dioptres are milliradians, one is 3.438 arcmin.

    Examples
    --------
    0.5 mm · 2.5 D = 1.25 mrad.

    >>> round(halo_shift_arcmin(2.5, 0.5), 1)
    4.3
    """
    add_d = require("add_d", add_d, 0.0, 6.0, hint="At the corneal plane.")
    decentration_mm = require("decentration_mm", decentration_mm, 0.0, 2.0, hint="In mm.")
    return unwrap_scalar(np.degrees(add_d * decentration_mm / 1000.0) * 60.0)


def _aberration(name: str, value: ArrayLike) -> np.ndarray:
    return require(name, value, -2.0, 2.0, hint="In micrometres over a 6-mm zone.")
