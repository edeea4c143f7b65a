"""A second lens, or another one: powers from the refraction alone, without the axial length.

When the lens in the eye stays, the retina stays where it is for both refractions, so the axial
length drops out: a lens added at the plane of its position makes up the difference between the
vergences that arrive there with the present and with the wanted refraction. It serves phakic
lenses, piggyback lenses and aphakic eyes alike; an exchange adds what the old lens gave.

Sources
-------
Holladay, Am J Ophthalmol 1993;116:63. From memory; check values recomputed by an independent
route, the difference of two full-eye powers.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from shared_utils.optics.domain import broadcast, require, unwrap_scalar
from shared_utils.optics.vergence import at_vertex, propagate
from shared_utils.power.biometry import K_RANGE_D
from shared_utils.power.core import (
    AQUEOUS_INDEX,
    IOL_POWER_RANGE_D,
    REFRACTION_RANGE_D,
    TARGET_RANGE_D,
    VERTEX_HINT,
    VERTEX_RANGE_MM,
)

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from shared_utils.optics.types import FloatOrArray

POSITION = (1.0, 10.0, "About 3 to 3.5 mm for a phakic lens, 4.5 to 5.5 mm in the bag.")
REFRACTION = (*TARGET_RANGE_D, "Myopia is negative.")
POWER = (*IOL_POWER_RANGE_D, "Usually −30 to 40 D.")
RANGES = {
    "k_d": (*K_RANGE_D, "A radius in mm? Use 337.5 / radius."),
    "refraction_d": REFRACTION,
    "target_d": REFRACTION,
    "position_mm": POSITION,
    "old_position_mm": POSITION,
    "new_position_mm": POSITION,
    "power_d": POWER,
    "old_power_d": POWER,
    "vertex_mm": (*VERTEX_RANGE_MM, VERTEX_HINT),
}


def added_power(
    k_d: ArrayLike,
    refraction_d: ArrayLike,
    position_mm: ArrayLike,
    target_d: ArrayLike = 0.0,
    vertex_mm: ArrayLike = 12.0,
) -> FloatOrArray:
    """Return the power of a lens to add to an eye that keeps what it has.

    Parameters
    ----------
    k_d : scalar or array
        Keratometry, 30 to 65 D.
    refraction_d : scalar or array
        Present refraction at the spectacle plane, −30 to 30 D; myopia negative.
    position_mm : scalar or array
        Where the added lens will stand, 1 to 10 mm behind the cornea.
    target_d : scalar or array
        Refraction wanted, −30 to 30 D.
    vertex_mm : scalar or array
        Vertex distance of both refractions, 0 to 20 mm.

    Returns
    -------
    float or array
        D; negative for a myope.

    Sources
    -------
    Holladay 1993: P = 1336/(1336/(K + Rc) − d) − 1336/(1336/(K + Tc) − d). From memory.

    Examples
    --------
    A hyperopic surprise of +2 D with a lens in the bag: half as much again, not 2 D.

    >>> round(added_power(43.5, 2.0, 5.0), 2)
    2.95
    """
    k_d, refraction_d, position_mm, target_d, vertex_mm = _checked(
        k_d=k_d,
        refraction_d=refraction_d,
        position_mm=position_mm,
        target_d=target_d,
        vertex_mm=vertex_mm,
    )
    present_d = _at_lens(k_d, refraction_d, vertex_mm, position_mm)
    return unwrap_scalar(present_d - _at_lens(k_d, target_d, vertex_mm, position_mm))


def refraction_with_added(
    k_d: ArrayLike,
    refraction_d: ArrayLike,
    position_mm: ArrayLike,
    power_d: ArrayLike,
    vertex_mm: ArrayLike = 12.0,
) -> FloatOrArray:
    """Return the refraction after a lens has been added to an eye.

    Parameters
    ----------
    k_d : scalar or array
        Keratometry, 30 to 65 D.
    refraction_d : scalar or array
        Refraction before, at the spectacle plane, −30 to 30 D; myopia negative.
    position_mm : scalar or array
        Where the added lens stands, 1 to 10 mm behind the cornea.
    power_d : scalar or array
        Its power, −200 to 200 D.
    vertex_mm : scalar or array
        Vertex distance of both refractions, 0 to 20 mm.

    Returns
    -------
    float or array
        D at the spectacle plane.

    Raises
    ------
    ValueError
        If the lens leaves no refraction between −40 and 40 D.

    Sources
    -------
    Holladay 1993, solved for the refraction. From memory.

    Examples
    --------
    >>> round(refraction_with_added(43.5, 2.0, 5.0, 3.0), 2)
    -0.03
    """
    k_d, refraction_d, position_mm, power_d, vertex_mm = _checked(
        k_d=k_d,
        refraction_d=refraction_d,
        position_mm=position_mm,
        power_d=power_d,
        vertex_mm=vertex_mm,
    )
    at_lens_d = _at_lens(k_d, refraction_d, vertex_mm, position_mm) - power_d
    return _refraction_from(at_lens_d, k_d, position_mm, vertex_mm, power_d)


def exchange_power(
    k_d: ArrayLike,
    refraction_d: ArrayLike,
    old_power_d: ArrayLike,
    old_position_mm: ArrayLike,
    target_d: ArrayLike = 0.0,
    new_position_mm: ArrayLike | None = None,
    vertex_mm: ArrayLike = 12.0,
) -> FloatOrArray:
    """Return the power of a lens that takes the place of another.

    Parameters
    ----------
    k_d : scalar or array
        Keratometry, 30 to 65 D.
    refraction_d : scalar or array
        Refraction with the old lens, at the spectacle plane, −30 to 30 D; myopia negative.
    old_power_d : scalar or array
        Power of the old lens, −200 to 200 D; 0 D for an eye without a lens.
    old_position_mm : scalar or array
        Where it stands, 1 to 10 mm behind the cornea.
    target_d : scalar or array
        Refraction wanted, −30 to 30 D.
    new_position_mm : scalar or array, optional
        Where the new one will stand, mm; where the old one stood if not given.
    vertex_mm : scalar or array
        Vertex distance of both refractions, 0 to 20 mm.

    Returns
    -------
    float or array
        D.

    Sources
    -------
    Holladay 1993: the old lens's exit vergence carried to the new plane. From memory.

    Examples
    --------
    The same place: the old power plus what would have been added.

    >>> round(exchange_power(43.5, 2.0, 20.0, 5.0), 2)
    22.95
    """
    if new_position_mm is None:
        new_position_mm = old_position_mm
    k_d, refraction_d, old_power_d, old_position_mm, target_d, new_position_mm, vertex_mm = (
        _checked(
            k_d=k_d,
            refraction_d=refraction_d,
            old_power_d=old_power_d,
            old_position_mm=old_position_mm,
            target_d=target_d,
            new_position_mm=new_position_mm,
            vertex_mm=vertex_mm,
        )
    )
    behind_old_d = _at_lens(k_d, refraction_d, vertex_mm, old_position_mm) + old_power_d
    shift_m = (new_position_mm - old_position_mm) / 1000.0
    left = 1.0 - shift_m / AQUEOUS_INDEX * behind_old_d
    if np.any(left <= 0.0):
        raise ValueError(
            "new_position_mm lies behind the retina that refraction_d and old_power_d describe; "
            "check the old lens's power in D and its position in mm."
        )
    behind_new_d = behind_old_d / left
    return unwrap_scalar(behind_new_d - _at_lens(k_d, target_d, vertex_mm, new_position_mm))


def _at_lens(k_d, refraction_d, vertex_mm, position_mm):
    """Vergence that arrives at the lens's plane when the refraction is corrected, D."""
    behind_cornea_d = k_d + np.asarray(at_vertex(refraction_d, vertex_mm, 0.0))
    left = 1.0 - position_mm / 1000.0 / AQUEOUS_INDEX * behind_cornea_d
    if np.any(left <= 0.05):
        raise ValueError(
            "The light would come to its focus in front of position_mm; check k_d and the "
            "refraction in D, and the position in mm behind the cornea."
        )
    return np.asarray(propagate(behind_cornea_d, position_mm / 1000.0, AQUEOUS_INDEX))


def _refraction_from(at_lens_d, k_d, position_mm, vertex_mm, power_d):
    left = 1.0 + position_mm / 1000.0 / AQUEOUS_INDEX * at_lens_d
    with np.errstate(divide="ignore", invalid="ignore"):
        at_cornea_d = at_lens_d / left - k_d
        vertex_left = 1.0 + vertex_mm / 1000.0 * at_cornea_d
        refraction_d = at_cornea_d / vertex_left
    low, high = REFRACTION_RANGE_D
    good = (left > 0.0) & (vertex_left > 0.0) & (refraction_d >= low) & (refraction_d <= high)
    if not np.all(good):
        raise ValueError(
            f"power_d of {power_d[~good].flat[0]:.6g} D leaves this eye with a refraction outside "
            f"{low:g} to {high:g} D; check power_d and its sign."
        )
    return unwrap_scalar(refraction_d)


def _checked(**given: ArrayLike) -> tuple[np.ndarray, ...]:
    """Everything given, within its range and broadcast together."""
    return broadcast(
        **{
            name: require(name, value, *RANGES[name][:2], hint=RANGES[name][2])
            for name, value in given.items()
        }
    )
