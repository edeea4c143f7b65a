"""The published thin-lens formulas: each says corneal power, optical length and lens position.

All coefficients are from memory of the papers named; the course's check values are recomputed
from these equations by independent routes, which proves the algebra and not the print.

Older formulas were printed for emmetropia; a target other than zero goes through the shared
vergence sum, as is common practice.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from shared_utils.optics.domain import broadcast, require, unwrap_scalar
from shared_utils.power.biometry import K_RANGE_D, radius_from_k
from shared_utils.power.core import THIN_CORNEA_INDEX, Steps
from shared_utils.power.formula_record import LENS_CONSTANTS, Formula, LongEyeLine

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from shared_utils.optics.types import FloatOrArray
    from shared_utils.power.biometry import Eye
    from shared_utils.power.lens_constants import LensConstants

A_CONSTANT_RANGE = (LENS_CONSTANTS["a_constant"].low, LENS_CONSTANTS["a_constant"].high)
A_CONSTANT_HINT = LENS_CONSTANTS["a_constant"].hint
KERATOMETER_INDEX = 1.3375  # of the reading itself: the formula takes K as it is
ELP_K_HINT = "A radius in mm? Use 337.5 / radius."


def acd_constant(a_constant: ArrayLike) -> FloatOrArray:
    """Return the chamber-depth constant that SRK/T derives from the A-constant.

    Parameters
    ----------
    a_constant : scalar or array
        110 to 125, no unit.

    Returns
    -------
    float or array
        mm.

    Sources
    -------
    Retzlaff, Sanders & Kraff, J Cataract Refract Surg 1990;16:333. Coefficients from memory.

    Examples
    --------
    >>> round(acd_constant(118.4), 4)
    5.2139
    """
    a = require("a_constant", a_constant, *A_CONSTANT_RANGE, hint=A_CONSTANT_HINT)
    return unwrap_scalar(0.62467 * a - 68.747)


def fyodorov(eye: Eye, lens_constants: LensConstants, elp_k_d: ArrayLike | None = None) -> Steps:
    """Return the steps of Fyodorov's formula: the lens stands where its constant says.

    Parameters
    ----------
    eye : biometry.Eye
    lens_constants : constants.LensConstants
        ``pacd_mm`` is used.
    elp_k_d : scalar or array, optional
        Without effect: the position does not depend on K.

    Returns
    -------
    Steps

    Sources
    -------
    Fyodorov, Galin & Linksz, Invest Ophthalmol 1975;14:625. From memory.

    Examples
    --------
    >>> from shared_utils.power.biometry import Eye
    >>> from shared_utils.power.constants import LensConstants
    >>> fyodorov(Eye(23.5, 43.5), LensConstants.from_pacd(5.0)).elp_mm
    5.0
    """
    return _fixed_position(eye, np.asarray(lens_constants.pacd_mm), elp_k_d)


def colenbrander(
    eye: Eye, lens_constants: LensConstants, elp_k_d: ArrayLike | None = None
) -> Steps:
    """Return the steps of Colenbrander's formula: the constant plus 0.05 mm.

    Parameters
    ----------
    eye : biometry.Eye
    lens_constants : constants.LensConstants
        ``pacd_mm`` is used.
    elp_k_d : scalar or array, optional
        Without effect: the position does not depend on K.

    Returns
    -------
    Steps

    Sources
    -------
    Colenbrander, Br J Ophthalmol 1973;57:735. From memory.

    Examples
    --------
    >>> from shared_utils.power.biometry import Eye
    >>> from shared_utils.power.constants import LensConstants
    >>> colenbrander(Eye(23.5, 43.5), LensConstants.from_pacd(5.0)).elp_mm
    5.05
    """
    return _fixed_position(eye, np.asarray(lens_constants.pacd_mm) + 0.05, elp_k_d)


def binkhorst_1(eye: Eye, lens_constants: LensConstants, elp_k_d: ArrayLike | None = None) -> Steps:
    """Return the steps of Binkhorst's first formula: a fixed position and a cornea of 4/3.

    Parameters
    ----------
    eye : biometry.Eye
    lens_constants : constants.LensConstants
        ``pacd_mm`` is used.
    elp_k_d : scalar or array, optional
        Without effect: the position does not depend on K.

    Returns
    -------
    Steps
        The cornea focuses at 4 R, so it counts as 1336 / (4 R) = 334 / R in the shared sum.

    Sources
    -------
    Binkhorst, Ophthalmic Surg 1975;6(3):17: P = 1336 (4R − L) / ((L − C)(4R − C)). From memory.

    Examples
    --------
    >>> from shared_utils.power.biometry import Eye
    >>> from shared_utils.power.constants import LensConstants
    >>> binkhorst_1(Eye(23.5, 45.0), LensConstants.from_pacd(5.0)).elp_mm
    5.0
    """
    return _binkhorst(eye, np.asarray(lens_constants.pacd_mm), {}, elp_k_d)


def binkhorst_2(eye: Eye, lens_constants: LensConstants, elp_k_d: ArrayLike | None = None) -> Steps:
    """Return the steps of Binkhorst's second formula: the position grows with the eye.

    Parameters
    ----------
    eye : biometry.Eye
    lens_constants : constants.LensConstants
        ``pacd_mm`` is used.
    elp_k_d : scalar or array, optional
        Without effect: the position does not depend on K.

    Returns
    -------
    Steps
        With the flag ``length_capped`` where the eye is longer than 26 mm.

    Sources
    -------
    Binkhorst, Int Ophthalmol Clin 1979;19(4):237: C = constant × min(L, 26) / 23.45. From memory.

    Examples
    --------
    >>> from shared_utils.power.biometry import Eye
    >>> from shared_utils.power.constants import LensConstants
    >>> binkhorst_2(Eye(23.45, 45.0), LensConstants.from_pacd(5.0)).elp_mm
    5.0
    """
    length_mm = np.asarray(eye.axial_length_mm)
    scaled_length_mm = np.minimum(length_mm, 26.0)
    elp_mm = np.asarray(lens_constants.pacd_mm) * scaled_length_mm / 23.45
    found = _binkhorst(eye, elp_mm, {"scaled_length_mm": scaled_length_mm}, elp_k_d)
    found.flags["length_capped"] = length_mm > 26.0
    return found


def srk_t(eye: Eye, lens_constants: LensConstants, elp_k_d: ArrayLike | None = None) -> Steps:
    """Return the steps of SRK/T.

    Parameters
    ----------
    eye : biometry.Eye
    lens_constants : constants.LensConstants
        ``a_constant`` is used.
    elp_k_d : scalar or array, optional
        Keratometry for the lens position alone (double-K), 30 to 65 D.

    Returns
    -------
    Steps
        With the flag ``root_clamped`` where the corneal height has no real value and the radius
        stands in for it (steep corneas in long eyes). Near that edge the height changes fast
        with K; T2 was made to avoid it. (A constant of −5.40948 for −5.41 is also in circulation
        and changes the power by less than 0.001 D.)

    Sources
    -------
    Retzlaff, Sanders & Kraff, J Cataract Refract Surg 1990;16:333, with the erratum 1990;16:528.
    Coefficients from memory.

    Examples
    --------
    >>> from shared_utils.power.biometry import Eye
    >>> from shared_utils.power.constants import LensConstants
    >>> round(srk_t(Eye(23.5, 43.5), LensConstants.from_a_constant(118.4)).elp_mm, 2)
    5.09
    """
    length_mm = np.asarray(eye.axial_length_mm)
    elp_k_d = _elp_k(eye, elp_k_d)
    radius_mm = np.asarray(radius_from_k(elp_k_d))
    corrected_mm = np.where(
        length_mm <= 24.2, length_mm, -3.446 + 1.716 * length_mm - 0.0237 * length_mm**2
    )
    width_mm = -5.41 + 0.58412 * corrected_mm + 0.098 * elp_k_d
    square = radius_mm**2 - width_mm**2 / 4.0
    height_mm = radius_mm - np.sqrt(np.maximum(square, 0.0))
    return _retzlaff(
        eye,
        lens_constants,
        height_mm,
        {
            "elp_radius_mm": radius_mm,
            "corrected_length_mm": corrected_mm,
            "corneal_width_mm": width_mm,
            "corneal_height_mm": height_mm,
        },
        {"root_clamped": square < 0.0},
    )


def t2(eye: Eye, lens_constants: LensConstants, elp_k_d: ArrayLike | None = None) -> Steps:
    """Return the steps of T2: SRK/T with a corneal height that is linear in length and K.

    Parameters
    ----------
    eye : biometry.Eye
    lens_constants : constants.LensConstants
        ``a_constant`` is used.
    elp_k_d : scalar or array, optional
        Keratometry for the lens position alone (double-K), 30 to 65 D.

    Returns
    -------
    Steps

    Sources
    -------
    Sheard, Smith & Cooke, J Cataract Refract Surg 2010;36:1829. Coefficients from memory.

    Examples
    --------
    >>> from shared_utils.power.biometry import Eye
    >>> from shared_utils.power.constants import LensConstants
    >>> round(t2(Eye(23.5, 43.5), LensConstants.from_a_constant(118.4)).elp_mm, 2)
    5.11
    """
    elp_k_d = _elp_k(eye, elp_k_d)
    height_mm = -10.326 + 0.32630 * np.asarray(eye.axial_length_mm) + 0.13533 * elp_k_d
    return _retzlaff(eye, lens_constants, height_mm, {"corneal_height_mm": height_mm}, {})


def holladay_1(eye: Eye, lens_constants: LensConstants, elp_k_d: ArrayLike | None = None) -> Steps:
    """Return the steps of Holladay 1.

    Parameters
    ----------
    eye : biometry.Eye
    lens_constants : constants.LensConstants
        ``surgeon_factor_mm`` is used.
    elp_k_d : scalar or array, optional
        Keratometry for the lens position alone (double-K), 30 to 65 D.

    Returns
    -------
    Steps
        With the flags ``radius_capped`` (corneal radius below 7 mm) and ``width_capped``
        (chamber wider than 13.5 mm). Values stay continuous at the caps, slopes do not.

    Sources
    -------
    Holladay et al., J Cataract Refract Surg 1988;14:17. Coefficients from memory.

    Examples
    --------
    >>> from shared_utils.power.biometry import Eye
    >>> from shared_utils.power.constants import LensConstants
    >>> round(holladay_1(Eye(23.5, 43.5), LensConstants.from_a_constant(118.4)).elp_mm, 2)
    5.19
    """
    length_mm = np.asarray(eye.axial_length_mm)
    true_radius_mm = np.asarray(radius_from_k(_elp_k(eye, elp_k_d)))
    radius_mm = np.maximum(true_radius_mm, 7.0)
    wanted_width_mm = 12.5 * length_mm / 23.45
    width_mm = np.minimum(wanted_width_mm, 13.5)
    depth_mm = 0.56 + radius_mm - np.sqrt(radius_mm**2 - width_mm**2 / 4.0)
    return Steps(
        cornea_d=unwrap_scalar((1000.0 / 3.0) / np.asarray(eye.corneal_radius_mm)),
        optical_length_mm=unwrap_scalar(length_mm + 0.200),
        elp_mm=unwrap_scalar(depth_mm + np.asarray(lens_constants.surgeon_factor_mm)),
        named={
            "elp_radius_mm": radius_mm,
            "chamber_width_mm": width_mm,
            "anatomic_chamber_depth_mm": depth_mm,
        },
        flags={"radius_capped": true_radius_mm < 7.0, "width_capped": wanted_width_mm > 13.5},
    )


def hoffer_q(eye: Eye, lens_constants: LensConstants, elp_k_d: ArrayLike | None = None) -> Steps:
    """Return the steps of Hoffer Q.

    Parameters
    ----------
    eye : biometry.Eye
    lens_constants : constants.LensConstants
        ``pacd_mm`` is used.
    elp_k_d : scalar or array, optional
        Keratometry for the lens position alone (double-K), 30 to 65 D.

    Returns
    -------
    Steps
        With the flag ``length_clamped`` where the length for the position is held at 18.5 or
        31 mm; the optics uses the true length. The position includes the 0.05 mm that the paper
        adds in the vergence sum. K inside the tangent is in degrees.

    Sources
    -------
    Hoffer, J Cataract Refract Surg 1993;19:700, errata 1994;20:677 and 2007;33:2. Coefficients
    from memory.

    Examples
    --------
    >>> from shared_utils.power.biometry import Eye
    >>> from shared_utils.power.constants import LensConstants
    >>> round(hoffer_q(Eye(23.5, 43.5), LensConstants.from_a_constant(118.4)).elp_mm, 2)
    5.16
    """
    true_length_mm = np.asarray(eye.axial_length_mm)
    length_mm = np.clip(true_length_mm, 18.5, 31.0)
    short = length_mm <= 23.0
    sign, middle_mm = np.where(short, 1.0, -1.0), np.where(short, 28.0, 23.5)
    length_term_mm = 0.3 * (length_mm - 23.5)
    k_term_mm = np.tan(np.radians(_elp_k(eye, elp_k_d))) ** 2
    tangent = np.tan(np.radians(0.1 * (middle_mm - length_mm) ** 2))
    far_term_mm = 0.1 * sign * (23.5 - length_mm) ** 2 * tangent
    pacd_mm = np.asarray(lens_constants.pacd_mm)
    depth_mm = pacd_mm + length_term_mm + k_term_mm + far_term_mm - 0.99166
    return Steps(
        cornea_d=eye.mean_k_d,
        optical_length_mm=eye.axial_length_mm,
        elp_mm=unwrap_scalar(depth_mm + 0.05),
        named={
            "clamped_length_mm": length_mm,
            "length_term_mm": length_term_mm,
            "k_term_mm": k_term_mm,
            "far_term_mm": far_term_mm,
            "chamber_depth_mm": depth_mm,
        },
        flags={"length_clamped": length_mm != true_length_mm},
    )


def haigis(eye: Eye, lens_constants: LensConstants, elp_k_d: ArrayLike | None = None) -> Steps:
    """Return the steps of Haigis, which looks at the chamber's depth instead of at K.

    Parameters
    ----------
    eye : biometry.Eye
        With ``acd_mm`` from the corneal epithelium.
    lens_constants : constants.LensConstants
        ``a0``, ``a1`` and ``a2`` are used.
    elp_k_d : scalar or array, optional
        Without effect: the position does not depend on K.

    Returns
    -------
    Steps

    Raises
    ------
    ValueError
        If the eye has no ``acd_mm``.

    Sources
    -------
    Haigis, Lege, Miller & Schneider, Graefes Arch Clin Exp Ophthalmol 2000;238:765. Coefficients
    from memory.

    Examples
    --------
    >>> from shared_utils.power.biometry import Eye
    >>> from shared_utils.power.constants import LensConstants
    >>> lens = LensConstants.from_a_constant(118.4)
    >>> round(haigis(Eye(23.5, 43.5, acd_mm=3.15), lens).elp_mm, 2)
    5.14
    """
    if eye.acd_mm is None:
        raise ValueError(
            "haigis needs acd_mm, the depth in mm from the corneal epithelium to the lens, and "
            "this eye has none; measure it, or use a formula without it such as holladay_1."
        )
    chamber_term_mm = np.asarray(lens_constants.a1) * np.asarray(eye.acd_mm)
    length_term_mm = np.asarray(lens_constants.a2) * np.asarray(eye.axial_length_mm)
    return Steps(
        cornea_d=unwrap_scalar(331.5 / np.asarray(eye.corneal_radius_mm)),
        optical_length_mm=eye.axial_length_mm,
        elp_mm=unwrap_scalar(np.asarray(lens_constants.a0) + chamber_term_mm + length_term_mm),
        named={"chamber_term_mm": chamber_term_mm, "length_term_mm": length_term_mm},
        flags=_unused(elp_k_d),
    )


def _fixed_position(eye, elp_mm, elp_k_d):
    return Steps(
        cornea_d=eye.mean_k_d,
        optical_length_mm=eye.axial_length_mm,
        elp_mm=unwrap_scalar(elp_mm),
        flags=_unused(elp_k_d),
    )


def _binkhorst(eye, elp_mm, named, elp_k_d):
    radius_mm = np.asarray(eye.corneal_radius_mm)
    return Steps(
        cornea_d=unwrap_scalar(334.0 / radius_mm),
        optical_length_mm=eye.axial_length_mm,
        elp_mm=unwrap_scalar(elp_mm),
        named={"corneal_radius_mm": radius_mm, **named},
        flags=_unused(elp_k_d),
    )


def _retzlaff(eye, lens_constants, height_mm, named, flags):
    """What SRK/T and T2 share once the corneal height is known."""
    length_mm = np.asarray(eye.axial_length_mm)
    offset_mm = np.asarray(acd_constant(lens_constants.a_constant)) - 3.336
    retinal_thickness_mm = 0.65696 - 0.02029 * length_mm
    return Steps(
        cornea_d=unwrap_scalar(333.0 / np.asarray(eye.corneal_radius_mm)),
        optical_length_mm=unwrap_scalar(length_mm + retinal_thickness_mm),
        elp_mm=unwrap_scalar(height_mm + offset_mm),
        named={**named, "offset_mm": offset_mm, "retinal_thickness_mm": retinal_thickness_mm},
        flags=flags,
    )


def _elp_k(eye: Eye, elp_k_d: ArrayLike | None) -> np.ndarray:
    """Keratometry for the lens position: the eye's own, or the one of before corneal surgery."""
    if elp_k_d is None:
        return np.asarray(eye.mean_k_d)
    elp_k_d = require("elp_k_d", elp_k_d, *K_RANGE_D, hint=ELP_K_HINT)
    return broadcast(elp_k_d=elp_k_d, mean_k_d=eye.mean_k_d)[0]


def _unused(elp_k_d):
    """Flag of a formula whose lens position takes no K, if a K for it was given."""
    return {} if elp_k_d is None else {"elp_k_unused": np.asarray(True)}


FORMULAS = (
    Formula(
        fyodorov,
        title="Fyodorov",
        year=1975,
        constant="pacd_mm",
        keratometric_index=KERATOMETER_INDEX,
        position_uses_k=False,
        advised=False,
    ),
    Formula(
        colenbrander,
        title="Colenbrander",
        year=1973,
        constant="pacd_mm",
        keratometric_index=KERATOMETER_INDEX,
        position_uses_k=False,
        advised=False,
    ),
    Formula(
        binkhorst_1,
        title="Binkhorst I",
        year=1975,
        constant="pacd_mm",
        keratometric_index=THIN_CORNEA_INDEX,
        position_uses_k=False,
        advised=False,
    ),
    Formula(
        binkhorst_2,
        title="Binkhorst II",
        year=1979,
        constant="pacd_mm",
        keratometric_index=THIN_CORNEA_INDEX,
        position_uses_k=False,
        advised=False,
        warnings={
            "length_capped": "longer than 26 mm: the position no longer grows with the eye.",
        },
    ),
    Formula(
        srk_t,
        title="SRK/T",
        year=1990,
        constant="a_constant",
        keratometric_index=1.333,
        position_uses_k=True,
        in_cohorts=True,
        in_consultations=True,
        long_eye_lines={
            2011: LongEyeLine(0.8544, 3.7222, 25.0, False),
            2018: LongEyeLine(0.8453, 4.0773, 27.0, True),
        },
        warnings={
            "root_clamped": "the corneal height has no real value; the radius stands in for it.",
        },
    ),
    Formula(
        t2,
        title="T2",
        year=2010,
        constant="a_constant",
        keratometric_index=1.333,
        position_uses_k=True,
        in_cohorts=True,
    ),
    Formula(
        holladay_1,
        title="Holladay 1",
        year=1988,
        constant="surgeon_factor_mm",
        keratometric_index=THIN_CORNEA_INDEX,
        position_uses_k=True,
        in_cohorts=True,
        in_consultations=True,
        long_eye_lines={
            2011: LongEyeLine(0.8289, 4.2663, 25.0, False),
            2018: LongEyeLine(0.8170, 4.7013, 26.5, True),
        },
        warnings={
            "radius_capped": "corneal radius below 7 mm: the position takes 7 mm.",
            "width_capped": "chamber wider than 13.5 mm: the position takes 13.5 mm.",
        },
    ),
    Formula(
        hoffer_q,
        title="Hoffer Q",
        year=1993,
        constant="pacd_mm",
        keratometric_index=KERATOMETER_INDEX,
        position_uses_k=True,
        in_cohorts=True,
        in_consultations=True,
        long_eye_lines={2011: LongEyeLine(0.8530, 3.5794, 25.0, False)},
        warnings={
            "length_clamped": "length outside 18.5 to 31 mm: the position takes the nearer limit.",
        },
    ),
    Formula(
        haigis,
        title="Haigis",
        year=2000,
        constant="a0",
        keratometric_index=1.3315,
        position_uses_k=False,
        measurements=("axial_length_mm", "k1_d", "acd_mm"),
        in_cohorts=True,
        long_eye_lines={2011: LongEyeLine(0.9286, 1.5620, 25.0, False)},
        remark="about +1 D: see below",
        note="its a0 is converted from the A-constant, which gives about 1 D more power than the "
        "other formulas in an average eye: a fault of the conversion, not an opinion about the "
        "eye.",
    ),
)
"""The record of each formula of this file, in the order in which tables show them."""
