"""The refraction of an eye with a lens at a known position, and what moves it.

Sources
-------
Thin-lens vergence with the conventions of Holladay et al., J Cataract Refract Surg 1988;14:17
(cornea 4/3, retinal thickness 0.2 mm).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from shared_utils.optics.domain import broadcast, require, unwrap_scalar
from shared_utils.power.biometry import KERATOMETER_SCALE, require_eye
from shared_utils.power.core import (
    ELP_HINT,
    ELP_RANGE_MM,
    REDUCED,
    THIN_CORNEA_INDEX,
    VERTEX_HINT,
    VERTEX_RANGE_MM,
    Steps,
)

if TYPE_CHECKING:
    from numpy import ndarray
    from numpy.typing import ArrayLike

    from shared_utils.optics.types import FloatOrArray
    from shared_utils.power.biometry import Eye

RETINAL_THICKNESS_MM = 0.2
PER_K = 1000.0 * (THIN_CORNEA_INDEX - 1.0) / KERATOMETER_SCALE  # corneal power for 1 D of K


def pseudophakic_refraction(
    axial_length_mm: ArrayLike,
    cornea_d: ArrayLike,
    elp_mm: ArrayLike,
    iol_power_d: ArrayLike,
    vertex_mm: ArrayLike = 12.0,
    retinal_thickness_mm: ArrayLike = RETINAL_THICKNESS_MM,
) -> FloatOrArray:
    """Return the refraction of an eye whose lens lies where it is said to lie.

    Parameters
    ----------
    axial_length_mm : scalar or array
        15 to 40 mm.
    cornea_d : scalar or array
        Power of the thin cornea, 25 to 65 D; of a keratometer reading K, K × 333.3 / 337.5.
    elp_mm : scalar or array
        Lens position, 2 to 9 mm behind the cornea.
    iol_power_d : scalar or array
        −30 to 80 D.
    vertex_mm : scalar or array
        Vertex distance of the refraction, 0 to 20 mm.
    retinal_thickness_mm : scalar or array
        Added to the axial length, 0 to 0.5 mm.

    Returns
    -------
    float or array
        Refraction at the spectacle plane, D; myopia negative.

    Raises
    ------
    ValueError
        Naming the value, the unit and the range; also where no spectacle lens would do.

    Sources
    -------
    Thin-lens vergence, index 1.336; the retinal thickness is that of Holladay et al., J Cataract
    Refract Surg 1988;14:17.

    Examples
    --------
    >>> round(pseudophakic_refraction(23.5, 42.963, 5.19, 20.606), 2)
    0.0
    """
    length_mm, cornea_d, elp_mm, iol_d, vertex_mm = broadcast(
        axial_length_mm=require(
            "axial_length_mm", axial_length_mm, 15.0, 40.0, hint="In metres? Multiply by 1000."
        )
        + require("retinal_thickness_mm", retinal_thickness_mm, 0.0, 0.5),
        cornea_d=require("cornea_d", cornea_d, 25.0, 65.0, hint="In dioptres, not a radius."),
        elp_mm=require("elp_mm", elp_mm, *ELP_RANGE_MM, hint=ELP_HINT),
        iol_power_d=require("iol_power_d", iol_power_d, -30.0, 80.0),
        vertex_mm=require("vertex_mm", vertex_mm, *VERTEX_RANGE_MM, hint=VERTEX_HINT),
    )
    way = Steps(cornea_d, length_mm, elp_mm).to_refraction(iol_d, vertex_mm)
    return unwrap_scalar(way["refraction_d"])


def emmetropic_power(eye: Eye, elp_mm: ArrayLike) -> FloatOrArray:
    """Return the lens power that leaves no refraction, for a lens at a given position.

    Parameters
    ----------
    eye : biometry.Eye
    elp_mm : scalar or array
        Lens position, 2 to 9 mm behind the cornea.

    Returns
    -------
    float or array
        D.

    Examples
    --------
    >>> from shared_utils.power.biometry import Eye
    >>> round(emmetropic_power(Eye(23.5, 43.5), 5.19), 2)
    20.61
    """
    length_mm, cornea_d, elp_mm = optics_of(eye, elp_mm)
    way = Steps(cornea_d, length_mm, elp_mm).to_power(np.zeros(length_mm.shape), 0.0)
    return unwrap_scalar(way["iol_power_d"])


@dataclass(frozen=True)
class Sensitivities:
    """Dioptres gained by 1 more of each measurement, all else held.

    Attributes
    ----------
    axial_length_mm, k_d, radius_mm, elp_mm, iol_power_d : float or array
        D per mm of axial length, per D of keratometry, per mm of corneal radius, per mm of lens
        position, per D of lens power.
    """

    axial_length_mm: float | np.ndarray
    k_d: float | np.ndarray
    radius_mm: float | np.ndarray
    elp_mm: float | np.ndarray
    iol_power_d: float | np.ndarray

    def in_lens_power(self) -> Sensitivities:
        """Return what the lens power must make good for 1 more of each, D.

        A millimetre of axial length is worth more at the lens than at the spectacles.

        Returns
        -------
        Sensitivities
            Its ``iol_power_d`` is −1.
        """
        per = -np.asarray(self.iol_power_d)
        return Sensitivities(
            *(
                unwrap_scalar(np.asarray(value) / per)
                for value in (
                    self.axial_length_mm,
                    self.k_d,
                    self.radius_mm,
                    self.elp_mm,
                    self.iol_power_d,
                )
            )
        )


def sensitivities(
    eye: Eye, elp_mm: ArrayLike, iol_power_d: ArrayLike | None = None, vertex_mm: ArrayLike = 12.0
) -> Sensitivities:
    """Return how much the refraction moves for 1 more of each measurement.

    At a fixed lens in a fixed position. Formulas also move the lens they expect with the eye, so
    a formula's own answer to a longer eye is different, mostly smaller.

    Parameters
    ----------
    eye : biometry.Eye
    elp_mm : scalar or array
        Lens position, 2 to 9 mm behind the cornea.
    iol_power_d : scalar or array, optional
        The lens, −30 to 80 D; the emmetropic one if not given.
    vertex_mm : scalar or array
        Vertex distance, 0 to 20 mm.

    Returns
    -------
    Sensitivities
        Of the refraction at the spectacle plane.

    Sources
    -------
    Derivatives of thin-lens vergence with the conventions of Holladay et al., J Cataract Refract
    Surg 1988;14:17 (cornea 4/3, retinal thickness 0.2 mm).

    Examples
    --------
    A millimetre of axial length in an average eye:

    >>> from shared_utils.power.biometry import Eye
    >>> average = sensitivities(Eye(23.5, 43.5), elp_mm=5.19)
    >>> round(average.axial_length_mm, 1), round(average.in_lens_power().axial_length_mm, 1)
    (-2.7, -3.9)
    """
    if iol_power_d is None:
        iol_power_d = emmetropic_power(eye, elp_mm)
    length_mm, cornea_d, elp_mm = optics_of(eye, elp_mm)
    refraction_d = pseudophakic_refraction(
        eye.axial_length_mm, cornea_d, elp_mm, iol_power_d, vertex_mm
    )
    length_mm, elp_mm, iol_d, k_d, refraction_d, vertex_mm = broadcast(
        axial_length_mm=length_mm,
        elp_mm=elp_mm,
        iol_power_d=iol_power_d,
        k_d=eye.mean_k_d,
        refraction_d=refraction_d,
        vertex_mm=vertex_mm,
    )
    n = REDUCED
    behind_mm = length_mm - elp_mm
    needed_d = n / behind_mm - iol_d  # before the lens
    narrowing = 1.0 / (1.0 + elp_mm * needed_d / n)  # from lens to cornea
    behind_cornea_d = needed_d * narrowing
    per_needed = narrowing**2
    # Rx = Rc / (1 + vRc) has the slope 1 / (1 + vRc)², which is (1 − vRx)²
    to_spectacles = (1.0 - vertex_mm / 1000.0 * refraction_d) ** 2
    by_cornea = -to_spectacles
    by_k = by_cornea * PER_K
    by_elp = per_needed * n / behind_mm**2 - behind_cornea_d**2 / n
    return Sensitivities(
        axial_length_mm=unwrap_scalar(-to_spectacles * per_needed * n / behind_mm**2),
        k_d=unwrap_scalar(by_k),
        radius_mm=unwrap_scalar(-by_k * k_d**2 / KERATOMETER_SCALE),  # K = 337.5 / R
        elp_mm=unwrap_scalar(to_spectacles * by_elp),
        iol_power_d=unwrap_scalar(-to_spectacles * per_needed),
    )


def optics_of(eye: Eye, elp_mm: ArrayLike) -> tuple[ndarray, ...]:
    """Optical length (mm), corneal power (D) and lens position (mm), by Holladay's conventions."""
    require_eye("eye", eye)
    elp_mm = require("elp_mm", elp_mm, *ELP_RANGE_MM, hint=ELP_HINT)
    return broadcast(
        axial_length_mm=eye.axial_length_mm + RETINAL_THICKNESS_MM,
        cornea_d=eye.mean_k_d * PER_K,
        elp_mm=elp_mm,
    )
