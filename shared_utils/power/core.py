"""The vergence sum that every thin-lens formula shares, both ways, and its trace.

Light leaves the cornea, travels the effective lens position (ELP), passes the lens and meets at
the retina. A formula says three numbers: the corneal power, the optical length and the ELP. From
there on all formulas are the same, so the optics stands here once.

Sources
-------
Thin-lens vergence: Fyodorov, Galin & Linksz, Invest Ophthalmol 1975;14:625; Holladay, Am J
Ophthalmol 1993;116:63. Both from memory.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from shared_utils.optics.domain import broadcast, require, require_instance, unwrap_scalar
from shared_utils.optics.vergence import at_vertex

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from shared_utils.optics.types import FloatOrArray

AQUEOUS_INDEX = 1.336
THIN_CORNEA_INDEX = 4 / 3  # for which the anterior radius gives the power of the whole cornea
REDUCED = 1000.0 * AQUEOUS_INDEX  # D × mm: 1336 / distance in mm is a vergence in D

IOL_POWER_RANGE_D = (-200.0, 200.0)
TARGET_RANGE_D = (-30.0, 30.0)
REFRACTION_RANGE_D = (-40.0, 40.0)
VERTEX_RANGE_MM = (0.0, 20.0)
VERTEX_HINT = "Usually 12 mm; 0 mm if the refraction is at the cornea."
ELP_RANGE_MM = (2.0, 9.0)
ELP_HINT = "Effective lens position, mm behind the cornea; usually 4 to 6."

ELP_UNDETERMINED_BELOW_D = 5.0  # so weak a lens hardly minds where it stands

WARNINGS = {
    "elp_k_unused": "takes no K for its lens position, so the second K changes nothing.",
    "elp_undetermined": "weaker than 5 D: such a lens hardly minds where it stands.",
    "negative_power": "the power is negative, as happens in very long eyes.",
}
"""Flag that any formula may have → what it says to a reader; a formula's own: its record."""


@dataclass(frozen=True)
class Steps:
    """What a thin-lens formula makes of an eye before the optics begins.

    Attributes
    ----------
    cornea_d : float or array
        Corneal power inside the formula, D.
    optical_length_mm : float or array
        Axial length inside the formula, mm.
    elp_mm : float or array
        Effective lens position, mm behind the cornea. It absorbs the formula's own corneal power
        and length, so the positions of two formulas cannot be exchanged or compared.
    named : dict
        The intermediate quantities by name, in order, unit in the name.
    flags : dict
        Name of a warning → for which eyes it holds, bool or boolean array.
    """

    cornea_d: float | np.ndarray
    optical_length_mm: float | np.ndarray
    elp_mm: float | np.ndarray
    named: dict = field(default_factory=dict)
    flags: dict = field(default_factory=dict)

    def to_power(self, target_d: ArrayLike, vertex_mm: ArrayLike) -> dict[str, FloatOrArray]:
        """Return the way from a target refraction to the lens, as an ordered dict of D.

        The last entry is ``iol_power_d``.
        """
        self._require_elp_inside()
        target_at_cornea_d = np.asarray(at_vertex(target_d, vertex_mm, 0.0))
        behind_cornea_d = self.cornea_d + target_at_cornea_d
        left = 1.0 - self.elp_mm / REDUCED * behind_cornea_d
        with np.errstate(divide="ignore"):
            at_lens_d = behind_cornea_d / left
        behind_lens_d = REDUCED / (np.asarray(self.optical_length_mm) - self.elp_mm)
        iol_power_d = behind_lens_d - at_lens_d
        low, high = IOL_POWER_RANGE_D
        bad = (left <= 0.0) | (iol_power_d < low) | (iol_power_d > high)
        if np.any(bad):
            first = np.broadcast_to(target_d, bad.shape)[bad].flat[0]
            raise ValueError(
                f"target_d of {first:.6g} D asks this eye for a lens outside {low:g} to {high:g} "
                "D; check the sign of target_d and the axial length in mm."
            )
        return {
            "target_at_cornea_d": target_at_cornea_d,
            "behind_cornea_d": behind_cornea_d,
            "at_lens_d": at_lens_d,
            "behind_lens_d": behind_lens_d,
            "iol_power_d": iol_power_d,
        }

    def to_refraction(
        self, iol_power_d: ArrayLike, vertex_mm: ArrayLike
    ) -> dict[str, FloatOrArray]:
        """Return the way from a lens back to the refraction, as an ordered dict of D.

        The last entry is ``refraction_d``.
        """
        self._require_elp_inside()
        behind_lens_d = REDUCED / (np.asarray(self.optical_length_mm) - self.elp_mm)
        at_lens_d = behind_lens_d - np.asarray(iol_power_d)
        left = 1.0 + self.elp_mm / REDUCED * at_lens_d
        with np.errstate(divide="ignore", invalid="ignore"):
            behind_cornea_d = at_lens_d / left
            refraction_at_cornea_d = behind_cornea_d - self.cornea_d
            vertex_left = 1.0 + np.asarray(vertex_mm) / 1000.0 * refraction_at_cornea_d
            refraction_d = refraction_at_cornea_d / vertex_left
        low, high = REFRACTION_RANGE_D
        good = (left > 0.0) & (vertex_left > 0.0) & (refraction_d >= low) & (refraction_d <= high)
        if not np.all(good):
            first = np.broadcast_to(iol_power_d, good.shape)[~good].flat[0]
            raise ValueError(
                f"iol_power_d of {first:.6g} D leaves this eye with a refraction outside {low:g} "
                f"to {high:g} D; check iol_power_d and the axial length in mm."
            )
        return {
            "behind_lens_d": behind_lens_d,
            "at_lens_d": at_lens_d,
            "behind_cornea_d": behind_cornea_d,
            "refraction_at_cornea_d": refraction_at_cornea_d,
            "refraction_d": refraction_d,
        }

    def before_optics(self) -> dict[str, FloatOrArray]:
        """Return the three numbers that the optics works with, as an ordered dict."""
        return {
            "cornea_d": self.cornea_d,
            "optical_length_mm": self.optical_length_mm,
            "elp_mm": self.elp_mm,
        }

    def _require_elp_inside(self):
        elp_mm, length_mm = np.asarray(self.elp_mm), np.asarray(self.optical_length_mm)
        outside = (elp_mm <= 0.0) | (elp_mm >= length_mm - 1.0)
        if np.any(outside):
            first = np.broadcast_to(elp_mm, outside.shape)[outside].flat[0]
            raise ValueError(
                f"elp_mm comes out at {first:.4g} mm, which lies outside the eye; give a lens "
                "constant in the unit and for the formula it belongs to."
            )


@dataclass(frozen=True)
class Trace:
    """A calculation step by step: for worked examples, and to mark a learner's steps.

    Attributes
    ----------
    named : dict
        Every quantity by name, in the order of the calculation, unit in the name; the last one is
        the answer.
    flags : dict
        Name of a warning → for which eyes it holds, bool or boolean array.
    """

    named: dict
    flags: dict

    @property
    def answer_d(self) -> FloatOrArray:
        """The last quantity: lens power or refraction, D."""
        return next(reversed(self.named.values()))


def back_solved_elp(
    found: Steps, iol_power_d: ArrayLike, achieved_d: ArrayLike, vertex_mm: ArrayLike = 12.0
) -> FloatOrArray:
    """Return where a lens must have stood to leave the refraction that was achieved.

    Parameters
    ----------
    found : Steps
        The steps of a thin-lens formula; only its corneal power and optical length are used.
    iol_power_d : scalar or array
        Power of the implanted lens, D; 5 D or more in size, because a weaker lens hardly minds
        where it stands.
    achieved_d : scalar or array
        Refraction after surgery at the spectacle plane, −30 to 30 D; myopia negative.
    vertex_mm : scalar or array
        Vertex distance, 0 to 20 mm.

    Returns
    -------
    float or array
        Effective lens position of this formula, mm.

    Raises
    ------
    ValueError
        For a lens too weak to tell, or where no position inside the eye explains the refraction.

    Sources
    -------
    The thin-lens sum solved for the position, a quadratic of which the smaller root lies in the
    eye; recomputed from the published equations by an independent route.

    Examples
    --------
    >>> found = Steps(cornea_d=43.0, optical_length_mm=23.7, elp_mm=5.0)
    >>> power_d = found.to_power(np.float64(-0.5), np.float64(12.0))["iol_power_d"]
    >>> round(back_solved_elp(found, power_d, -0.5), 9)
    5.0
    """
    require_instance("found", found, Steps, "the Steps of a thin-lens formula")
    power_d = require("iol_power_d", iol_power_d, *IOL_POWER_RANGE_D)
    weak = np.abs(power_d) < ELP_UNDETERMINED_BELOW_D
    if np.any(weak):
        raise ValueError(
            f"iol_power_d of {power_d[weak].flat[0]:.6g} D is too weak to tell where the lens "
            "stands; leave out lenses weaker than 5 D."
        )
    achieved_d = require("achieved_d", achieved_d, *TARGET_RANGE_D, hint="Myopia is negative.")
    vertex_mm = require("vertex_mm", vertex_mm, *VERTEX_RANGE_MM, hint=VERTEX_HINT)
    power_d, achieved_d, vertex_mm, cornea_d, length_mm = broadcast(
        iol_power_d=power_d,
        achieved_d=achieved_d,
        vertex_mm=vertex_mm,
        cornea_d=found.cornea_d,
        optical_length_mm=found.optical_length_mm,
    )
    behind_cornea_d = cornea_d + np.asarray(at_vertex(achieved_d, vertex_mm, 0.0))
    # with s = 1336/z:  z d² − (z L + 1336) d + 1336 L − 1336 (1336 − z L)/P = 0, no pole at z = 0
    a = behind_cornea_d
    b = behind_cornea_d * length_mm + REDUCED
    c = REDUCED * (length_mm - (REDUCED - behind_cornea_d * length_mm) / power_d)
    square = b**2 - 4.0 * a * c
    elp_mm = 2.0 * c / (b + np.sqrt(np.maximum(square, 0.0)))
    bad = (square < 0.0) | (elp_mm <= 0.0) | (elp_mm >= length_mm)
    if np.any(bad):
        raise ValueError(
            f"No lens position inside the eye lets {power_d[bad].flat[0]:.6g} D leave a "
            f"refraction of {achieved_d[bad].flat[0]:.6g} D; check that power, refraction and "
            "axial length in mm belong to the same eye."
        )
    return unwrap_scalar(elp_mm)
