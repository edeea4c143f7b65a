"""Published formulas from a measured eye to a lens power, and back to a refraction.

Every thin-lens formula is one vergence sum with three numbers of its own: the corneal power, the
optical length and the effective lens position (ELP). So each formula is a small function that
returns these three with the intermediate steps, and one core does the optics both ways.

Sources
-------
SRK/T: Retzlaff, Sanders & Kraff, J Cataract Refract Surg 1990;16:333, with the erratum
1990;16:528 (cited from memory).
"""

from dataclasses import dataclass, field

import numpy as np

from shared_utils.optics.domain import broadcast, plain, require
from shared_utils.optics.vergence import at_vertex, propagate, vergence
from shared_utils.power.biometry import K_RANGE_D, radius_from_k
from shared_utils.power.constants import acd_constant

AQUEOUS_INDEX = 1.336
IOL_POWER_RANGE_D = (-30.0, 80.0)
TARGET_RANGE_D = (-30.0, 30.0)


@dataclass(frozen=True)
class Steps:
    """What a formula makes of an eye before the optics begins.

    Attributes
    ----------
    cornea_d : array
        Corneal power inside the formula, D.
    optical_length_mm : array
        Axial length inside the formula, mm.
    elp_mm : array
        Effective lens position, mm behind the cornea.
    named : dict
        The intermediate quantities by name, unit in the name.
    flags : dict
        Name of a warning → boolean array: for which eyes it holds.
    """

    cornea_d: np.ndarray
    optical_length_mm: np.ndarray
    elp_mm: np.ndarray
    named: dict = field(default_factory=dict)
    flags: dict = field(default_factory=dict)


def srk_t(eye, lens_constants, elp_k_d=None):
    """Return the steps of SRK/T.

    Parameters
    ----------
    eye : biometry.Eye
    lens_constants : constants.LensConstants
    elp_k_d : scalar or array, optional
        Keratometry for the lens position alone (double-K), D.

    Returns
    -------
    Steps
        With the flag ``root_clamped`` where the corneal height has no real value and the radius
        stands in for it (steep corneas in long eyes).

    Sources
    -------
    Retzlaff, Sanders & Kraff 1990.

    Examples
    --------
    >>> from shared_utils.power.biometry import Eye
    >>> from shared_utils.power.constants import LensConstants
    >>> steps = srk_t(Eye(23.5, 43.5), LensConstants.from_a_constant(118.4))
    >>> round(float(steps.elp_mm), 2)
    5.09
    """
    length = np.asarray(eye.axial_length_mm)
    elp_k_d = _elp_k(eye, elp_k_d)
    radius_mm = np.asarray(eye.corneal_radius_mm)
    elp_radius_mm = np.asarray(radius_from_k(elp_k_d))
    corrected_mm = np.where(length <= 24.2, length, -3.446 + 1.716 * length - 0.0237 * length**2)
    width_mm = -5.41 + 0.58412 * corrected_mm + 0.098 * elp_k_d
    square = elp_radius_mm**2 - width_mm**2 / 4.0
    height_mm = elp_radius_mm - np.sqrt(np.maximum(square, 0.0))
    offset_mm = np.asarray(acd_constant(lens_constants.a_constant)) - 3.336
    return Steps(
        cornea_d=333.0 / radius_mm,
        optical_length_mm=length + 0.65696 - 0.02029 * length,
        elp_mm=height_mm + offset_mm,
        named={
            "corneal_radius_mm": elp_radius_mm,
            "corrected_length_mm": corrected_mm,
            "corneal_width_mm": width_mm,
            "corneal_height_mm": height_mm,
            "offset_mm": offset_mm,
            "retinal_thickness_mm": 0.65696 - 0.02029 * length,
        },
        flags={"root_clamped": square < 0.0},
    )


FORMULAS = {"srk_t": srk_t}


def steps(eye, formula, lens_constants, elp_k_d=None):
    """Return the intermediate steps of a formula, for worked examples and for marking.

    Parameters
    ----------
    eye : biometry.Eye
    formula : str
        Name of a published formula, as in ``FORMULAS``.
    lens_constants : constants.LensConstants
    elp_k_d : scalar or array, optional
        Keratometry for the lens position alone (double-K), 30 to 65 D.

    Returns
    -------
    Steps

    Raises
    ------
    ValueError
        If the name is not that of a formula here.
    """
    if formula not in FORMULAS:
        raise ValueError(f"formula is {formula!r}; give one of: {', '.join(FORMULAS)}.")
    return FORMULAS[formula](eye, lens_constants, elp_k_d)


def iol_power(eye, formula, lens_constants, target_d=0.0, vertex_mm=12.0, elp_k_d=None):
    """Return the lens power that a formula asks for a target refraction.

    Parameters
    ----------
    eye : biometry.Eye
        One eye or a cohort of arrays.
    formula : str
        ``"srk_t"``.
    lens_constants : constants.LensConstants
    target_d : scalar or array
        Refraction wanted at the spectacle plane, −30 to 30 D; myopia negative.
    vertex_mm : scalar or array
        Vertex distance, mm.
    elp_k_d : scalar or array, optional
        Keratometry for the lens position alone (double-K), 30 to 65 D.

    Returns
    -------
    float or array
        Power of the lens, D, as computed; lenses come in steps of 0.5 D.

    Raises
    ------
    ValueError
        Naming the value, the unit, the range and the likely slip.

    Sources
    -------
    Retzlaff, Sanders & Kraff 1990 for SRK/T.

    Examples
    --------
    >>> from shared_utils.power.biometry import Eye
    >>> from shared_utils.power.constants import LensConstants
    >>> round(iol_power(Eye(23.5, 43.5), "srk_t", LensConstants.from_a_constant(118.4)), 1)
    20.6
    """
    target_d = require("target_d", target_d, *TARGET_RANGE_D, hint="Myopia is negative.")
    found = steps(eye, formula, lens_constants, elp_k_d)
    at_cornea_d = found.cornea_d + at_vertex(target_d, vertex_mm, 0.0)
    return plain(_needed_d(found) - propagate(at_cornea_d, found.elp_mm / 1000.0, AQUEOUS_INDEX))


def predicted_refraction(eye, formula, lens_constants, iol_power_d, vertex_mm=12.0, elp_k_d=None):
    """Return the refraction that a formula predicts for a lens of a given power.

    Parameters
    ----------
    eye : biometry.Eye
        One eye or a cohort of arrays.
    formula : str
        ``"srk_t"``.
    lens_constants : constants.LensConstants
    iol_power_d : scalar or array
        Power of the lens, −30 to 80 D.
    vertex_mm : scalar or array
        Vertex distance, mm.
    elp_k_d : scalar or array, optional
        Keratometry for the lens position alone (double-K), 30 to 65 D.

    Returns
    -------
    float or array
        Refraction at the spectacle plane, D; myopia negative.

    Raises
    ------
    ValueError
        Naming the value, the unit, the range and the likely slip.

    Sources
    -------
    Retzlaff, Sanders & Kraff 1990 for SRK/T.

    Examples
    --------
    >>> from shared_utils.power.biometry import Eye
    >>> from shared_utils.power.constants import LensConstants
    >>> lens = LensConstants.from_a_constant(118.4)
    >>> round(predicted_refraction(Eye(23.5, 43.5), "srk_t", lens, 20.5), 3)
    0.045
    """
    iol_power_d = require("iol_power_d", iol_power_d, *IOL_POWER_RANGE_D)
    found = steps(eye, formula, lens_constants, elp_k_d)
    before_lens_d = _needed_d(found) - iol_power_d
    at_cornea_d = propagate(before_lens_d, -found.elp_mm / 1000.0, AQUEOUS_INDEX)
    return at_vertex(at_cornea_d - found.cornea_d, 0.0, vertex_mm)


def _needed_d(found):
    """Vergence that must leave the lens to meet at the retina, D."""
    return vergence((found.optical_length_mm - found.elp_mm) / 1000.0, AQUEOUS_INDEX)


def _elp_k(eye, elp_k_d):
    """Keratometry for the lens position: the eye's own, or the one of before corneal surgery."""
    if elp_k_d is None:
        return np.asarray(eye.mean_k_d)
    elp_k_d = require("elp_k_d", elp_k_d, *K_RANGE_D, hint="A radius in mm? Use 337.5 / radius.")
    return broadcast(elp_k_d=elp_k_d, mean_k_d=eye.mean_k_d)[0]
