"""Corneal power: what a keratometer measures, and what a cornea of two surfaces has.

A keratometer measures a radius. The dioptres it shows depend on the index that its maker chose,
so pass radii between instruments and formulas, and convert once. True power needs the posterior
surface as well.

Sources
-------
Atchison & Smith, *Optics of the Human Eye* (2000); Olsen, Br J Ophthalmol 1986;70:424. From
memory; check values recomputed from the equations by an independent route.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from shared_utils.optics.domain import broadcast, require, shown, unwrap_scalar
from shared_utils.optics.vergence import surface_power
from shared_utils.power.core import AQUEOUS_INDEX, THIN_CORNEA_INDEX
from shared_utils.power.formula_record import INDEX_RANGE

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from shared_utils.optics.types import FloatOrArray

STROMA_INDEX = 1.376

KERATOMETRIC_INDEX = {
    "keratometer": 1.3375,  # Javal's scale, which SRK and Hoffer expect
    "aqueous": AQUEOUS_INDEX,
    "thin_cornea": THIN_CORNEA_INDEX,
    "other_keratometer": 1.332,
    "anterior_surface": STROMA_INDEX,
}
"""Whose scale → its index, from memory; the index of a formula stands in its record."""

RADIUS_RANGE_MM = (4.0, 15.0)
RADIUS_HINT = "A radius of the cornea; dioptres are 337.5 / radius."
INDEX_HINT = "Keratometric indices lie near 1.33; the keratometer's own is 1.3375."
K_RANGE_D = (20.0, 85.0)
THICKNESS_RANGE_MM = (0.2, 1.5)
RATIO_RANGE = (0.5, 1.5)


def keratometry(radius_mm: ArrayLike, index: ArrayLike = 1.3375) -> FloatOrArray:
    """Return the dioptres that a keratometric index makes of a corneal radius.

    Parameters
    ----------
    radius_mm : scalar or array
        Anterior radius, 4 to 15 mm.
    index : scalar or array
        Keratometric index, 1.30 to 1.40; ``KERATOMETRIC_INDEX`` says who uses which.

    Returns
    -------
    float or array
        D.

    Sources
    -------
    Common practice, no source: K = 1000 (index − 1) / R.

    Examples
    --------
    >>> round(keratometry(7.5), 2), round(keratometry(7.5, 1.332), 2)
    (45.0, 44.27)
    """
    radius_mm = require("radius_mm", radius_mm, *RADIUS_RANGE_MM, hint=RADIUS_HINT)
    index = require("index", index, *INDEX_RANGE, hint=INDEX_HINT)
    radius_mm, index = broadcast(radius_mm=radius_mm, index=index)
    return unwrap_scalar(1000.0 * (index - 1.0) / radius_mm)


def radius(k_d: ArrayLike, index: ArrayLike = 1.3375) -> FloatOrArray:
    """Return the corneal radius behind a reading.

    Parameters
    ----------
    k_d : scalar or array
        Reading, 20 to 85 D.
    index : scalar or array
        Keratometric index of that reading, 1.30 to 1.40.

    Returns
    -------
    float or array
        mm.

    Sources
    -------
    Common practice, no source: R = 1000 (index − 1) / K.

    Examples
    --------
    >>> round(radius(45.0), 3)
    7.5
    """
    k_d = require("k_d", k_d, *K_RANGE_D, hint="A radius in mm? Dioptres are 337.5 / radius.")
    index = require("index", index, *INDEX_RANGE, hint=INDEX_HINT)
    k_d, index = broadcast(k_d=k_d, index=index)
    return unwrap_scalar(1000.0 * (index - 1.0) / k_d)


def convert_keratometry(
    k_d: ArrayLike, from_index: ArrayLike, to_index: ArrayLike = 1.3375
) -> FloatOrArray:
    """Return a reading as another keratometric index would show it, by way of the radius.

    Parameters
    ----------
    k_d : scalar or array
        Reading, 20 to 85 D.
    from_index, to_index : scalar or array
        Keratometric indices, 1.30 to 1.40.

    Returns
    -------
    float or array
        D.

    Sources
    -------
    Common practice, no source.

    Examples
    --------
    A reading at 1.332 put in where 1.3375 is expected loses 0.73 D at 7.5 mm.

    >>> shown = keratometry(7.5, 1.332)
    >>> round(convert_keratometry(shown, 1.332) - shown, 2)
    0.73
    """
    to_index = require("to_index", to_index, *INDEX_RANGE, hint=INDEX_HINT)
    radius_mm, to_index = broadcast(radius_mm=radius(k_d, from_index), to_index=to_index)
    return unwrap_scalar(1000.0 * (to_index - 1.0) / radius_mm)


@dataclass(frozen=True)
class ThickCornea:
    """The power of a cornea with two surfaces.

    Attributes
    ----------
    anterior_d, posterior_d : float or array
        Powers of the surfaces, D; the posterior one is negative.
    power_d : float or array
        Gaussian power, D.
    back_principal_mm : float or array
        Second principal plane from the anterior vertex, mm; negative in front of the cornea.
    equivalent_index : float or array
        Keratometric index that would make the true power of the anterior radius, no unit.
    keratometry_excess_d : float or array
        Reading at 1.3375 minus true power, D.
    """

    anterior_d: float | np.ndarray
    posterior_d: float | np.ndarray
    power_d: float | np.ndarray
    back_principal_mm: float | np.ndarray
    equivalent_index: float | np.ndarray
    keratometry_excess_d: float | np.ndarray


def thick_cornea(
    anterior_mm: ArrayLike, posterior_mm: ArrayLike, thickness_mm: ArrayLike = 0.55
) -> ThickCornea:
    """Return the Gaussian power of a cornea from both its surfaces.

    Parameters
    ----------
    anterior_mm, posterior_mm : scalar or array
        Radii, 4 to 15 mm.
    thickness_mm : scalar or array
        Central thickness, 0.2 to 1.5 mm.

    Returns
    -------
    ThickCornea
        With 1.376 for the stroma and 1.336 for the aqueous.

    Sources
    -------
    Atchison & Smith, *Optics of the Human Eye* (2000): F = F1 + F2 − (t/n) F1 F2.

    Examples
    --------
    >>> cornea = thick_cornea(7.7, 6.8, 0.5)
    >>> round(cornea.power_d, 2), round(cornea.equivalent_index, 4)
    (43.05, 1.3315)
    """
    anterior_mm, posterior_mm, thickness_mm = _surfaces(anterior_mm, posterior_mm, thickness_mm)
    front_d = np.asarray(surface_power(anterior_mm, 1.0, STROMA_INDEX))
    back_d = np.asarray(surface_power(posterior_mm, STROMA_INDEX, AQUEOUS_INDEX))
    reduced_m = thickness_mm / 1000.0 / STROMA_INDEX
    power_d = front_d + back_d - reduced_m * front_d * back_d
    return ThickCornea(
        anterior_d=unwrap_scalar(front_d),
        posterior_d=unwrap_scalar(back_d),
        power_d=unwrap_scalar(power_d),
        back_principal_mm=unwrap_scalar(
            thickness_mm - 1000.0 * AQUEOUS_INDEX * reduced_m * front_d / power_d
        ),
        equivalent_index=unwrap_scalar(1.0 + power_d * anterior_mm / 1000.0),
        keratometry_excess_d=unwrap_scalar(337.5 / anterior_mm - power_d),
    )


def index_from_ratio(ratio: ArrayLike) -> FloatOrArray:
    """Return the keratometric index that a ratio of posterior to anterior radius asks for.

    Parameters
    ----------
    ratio : scalar or array
        Posterior radius / anterior radius, 0.5 to 1.5; normal corneas lie near 0.82.

    Returns
    -------
    float or array
        Index, no unit, for a thin cornea; the thickness adds about 0.001.

    Sources
    -------
    Thin-lens sum of both surfaces: (0.376 − 0.040 / ratio) + 1; Olsen, Br J Ophthalmol
    1986;70:424. From memory.

    Examples
    --------
    >>> round(index_from_ratio(0.82), 4)
    1.3272
    """
    ratio = require("ratio", ratio, *RATIO_RANGE, hint="Posterior radius / anterior radius.")
    return unwrap_scalar(STROMA_INDEX - (STROMA_INDEX - AQUEOUS_INDEX) / ratio)


def ratio_from_index(index: ArrayLike) -> FloatOrArray:
    """Return the ratio of posterior to anterior radius that a keratometric index takes for given.

    Parameters
    ----------
    index : scalar or array
        1.30 to 1.34.

    Returns
    -------
    float or array
        Posterior radius / anterior radius, no unit, for a thin cornea.

    Sources
    -------
    The inverse of ``index_from_ratio``.

    Examples
    --------
    The keratometer's 1.3375 would need a posterior surface flatter than the anterior, which no
    normal cornea has.

    >>> round(ratio_from_index(1.3375), 3)
    1.039
    """
    index = require("index", index, 1.30, 1.34, hint=INDEX_HINT)
    return unwrap_scalar((STROMA_INDEX - AQUEOUS_INDEX) / (STROMA_INDEX - index))


def total_keratometry(
    anterior_mm: ArrayLike,
    posterior_mm: ArrayLike,
    thickness_mm: ArrayLike = 0.55,
    normal_mm: tuple[float, float, float] = (7.8, 6.5, 0.55),
) -> FloatOrArray:
    """Return true corneal power on the scale of ordinary keratometry.

    True power lies about 1 D below what lens constants made for 1.3375 expect, and used with them
    leaves about that much hyperopia. So the excess of a normal cornea is added: a normal eye keeps
    its K, and a cornea with an unusual back surface shows its difference.

    Parameters
    ----------
    anterior_mm, posterior_mm : scalar or array
        Radii, 4 to 15 mm.
    thickness_mm : scalar or array
        Central thickness, 0.2 to 1.5 mm.
    normal_mm : tuple of 3
        Anterior radius, posterior radius and thickness of the cornea taken as normal, mm.

    Returns
    -------
    float or array
        D.

    Sources
    -------
    The idea is common practice; the normal cornea is that of textbook eyes (7.8, 6.5, 0.55 mm),
    from memory, not the mean of a published series.

    Examples
    --------
    After a myopic ablation the keratometer reads 38.01 D and the cornea has less.

    >>> round(total_keratometry(8.88, 6.4, 0.45), 2)
    37.28
    """
    if require("normal_mm", normal_mm).shape != (3,):
        raise ValueError(
            f"normal_mm is {shown(normal_mm)}; give anterior radius, posterior radius and "
            "thickness, each in mm."
        )
    excess_d = thick_cornea(*normal_mm).keratometry_excess_d
    return unwrap_scalar(thick_cornea(anterior_mm, posterior_mm, thickness_mm).power_d + excess_d)


def _surfaces(
    anterior_mm: ArrayLike, posterior_mm: ArrayLike, thickness_mm: ArrayLike
) -> tuple[np.ndarray, ...]:
    return broadcast(
        anterior_mm=require("anterior_mm", anterior_mm, *RADIUS_RANGE_MM, hint=RADIUS_HINT),
        posterior_mm=require("posterior_mm", posterior_mm, *RADIUS_RANGE_MM, hint=RADIUS_HINT),
        thickness_mm=require(
            "thickness_mm", thickness_mm, *THICKNESS_RANGE_MM, hint="In µm? Divide by 1000."
        ),
    )
