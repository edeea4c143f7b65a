"""Lesson 08: unusual sizes, long eyes, after corneal laser surgery, a second lens."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING

import numpy as np

from shared_utils.cases.formulas import AVERAGE_EYE, CORNEA_D
from shared_utils.optics.vergence import at_vertex, propagate
from shared_utils.power import after_laser, constants, secondary
from shared_utils.power.biometry import KERATOMETER_SCALE, Eye
from shared_utils.power.core import AQUEOUS_INDEX
from shared_utils.power.cornea import STROMA_INDEX, thick_cornea
from shared_utils.power.formulas import iol_power, predicted_refraction, steps
from shared_utils.power.lens_constants import DEMO_A_CONSTANT, LensConstants
from shared_utils.power.lens_steps import nearest_power
from shared_utils.power.long_eyes import adjusted_eye, adjusted_length, threshold_mm
from shared_utils.power.registry import FORMULAS as REGISTRY

if TYPE_CHECKING:
    from collections.abc import Mapping

    from shared_utils.optics.types import FloatOrArray
    from shared_utils.power.after_laser import Comparison

IN_WORDS = REGISTRY.titles(REGISTRY.where("in_cohorts"))
FORMULAS = tuple(IN_WORDS)
A_CONSTANT = DEMO_A_CONSTANT


@cache
def constants_agreeing_in_average_eye() -> LensConstants:
    """Return constants with which all five formulas ask for the same lens in an average eye.

    So what is left between them is the eye's doing, not the constants'.

    Returns
    -------
    power.constants.LensConstants
    """
    lens = LensConstants.from_a_constant(A_CONSTANT)
    power_d = iol_power(AVERAGE_EYE, "srk_t", lens)
    for formula in FORMULAS[2:]:  # T2 has its constant from SRK/T, and so agrees
        lens = constants.optimise(AVERAGE_EYE, formula, power_d, 0.0, start=lens)
    return lens


# --- an unusual eye -------------------------------------------------------------------------------


@dataclass(frozen=True)
class FormulaSpread:
    """What five formulas ask for in one eye."""

    axial_length_mm: float
    k_d: float
    acd_mm: float
    powers_d: np.ndarray
    spread_d: float
    spread_at_spectacles_d: float
    no_height: bool

    @property
    def from_middle_d(self) -> np.ndarray:
        """How far each power lies from the middle one, D."""
        return self.powers_d - np.median(self.powers_d)


def compute_five_formulas(axial_length_mm: float, k_d: float, acd_mm: float) -> FormulaSpread:
    """Return the lens that each of five formulas asks for, and how far they lie apart.

    Parameters
    ----------
    axial_length_mm, k_d, acd_mm : float
        mm, D and mm.

    Returns
    -------
    FormulaSpread
        ``spread_at_spectacles_d``: how far apart their predictions for one lens are, D.

    Examples
    --------
    >>> average = compute_five_formulas(23.5, 43.5, 3.15)
    >>> round(average.spread_d, 1), average.no_height
    (0.0, False)
    """
    eye, lens = Eye(axial_length_mm, k_d, acd_mm=acd_mm), constants_agreeing_in_average_eye()
    powers_d = np.array([iol_power(eye, formula, lens) for formula in FORMULAS])
    middle_d = float(np.median(powers_d))
    left_d = [float(predicted_refraction(eye, formula, lens, middle_d)) for formula in FORMULAS]
    return FormulaSpread(
        axial_length_mm,
        k_d,
        acd_mm,
        powers_d,
        float(np.ptp(powers_d)),
        float(np.ptp(left_d)),
        bool(steps(eye, "srk_t", lens).flags["root_clamped"]),
    )


# --- long eyes ------------------------------------------------------------------------------------

LENGTHS_MM = np.arange(24.0, 32.005, 0.01)
MARK_MM = 30.0


def gained_power(
    axial_length_mm: FloatOrArray, formula: str, year: int, k_d: float = CORNEA_D
) -> FloatOrArray:
    """Return by how much a lens grows when a long axial length is adjusted for its formula.

    Parameters
    ----------
    axial_length_mm : scalar or array
        Measured, mm.
    formula : str
        ``"srk_t"`` or ``"holladay_1"``.
    year : int
        2011 or 2018.
    k_d : float
        Keratometry, D.

    Returns
    -------
    float or array
        D, for emmetropia with A = 118.6.

    Examples
    --------
    >>> gained_power(24.0, "srk_t", 2011)
    0.0
    """
    eye, lens = Eye(axial_length_mm, k_d), LensConstants.from_a_constant(A_CONSTANT)
    return iol_power(adjusted_eye(eye, formula, year), formula, lens) - iol_power(
        eye, formula, lens
    )


@dataclass(frozen=True)
class GainedPower:
    """How much stronger a lens an adjusted length asks for, along all long eyes."""

    formula: str
    year: int
    length_mm: np.ndarray
    power_d: np.ndarray
    at_mark_d: float


def compute_gained_powers() -> tuple[GainedPower, ...]:
    """Return what an adjusted length adds to the lens, for two formulas and two years.

    Returns
    -------
    tuple of GainedPower
        Each from the length on from which it adjusts, up to 32 mm.

    Examples
    --------
    >>> [(data.formula, data.year) for data in compute_gained_powers()]
    [('srk_t', 2011), ('srk_t', 2018), ('holladay_1', 2011), ('holladay_1', 2018)]
    """
    found = []
    for formula in ("srk_t", "holladay_1"):
        for year in (2011, 2018):
            gained_d = gained_power(LENGTHS_MM, formula, year)
            long = threshold_mm(formula, year) - 0.011 < LENGTHS_MM
            at_mark_d = gained_power(MARK_MM, formula, year)
            found.append(
                GainedPower(
                    formula, year, LENGTHS_MM[long], np.asarray(gained_d)[long], float(at_mark_d)
                )
            )
    return tuple(found)


def added_length(axial_length_mm: FloatOrArray, formula: str, year: int = 2011) -> FloatOrArray:
    """Return what an adjustment adds to an axial length; shorter is negative.

    Parameters
    ----------
    axial_length_mm : scalar or array
        Measured, mm.
    formula : str
        ``"srk_t"`` or ``"holladay_1"``.
    year : int
        2011 or 2018.

    Returns
    -------
    float or array
        mm.

    Examples
    --------
    >>> round(added_length(28.0, "holladay_1"), 2)
    -0.52
    """
    return adjusted_length(axial_length_mm, formula, year) - axial_length_mm


# --- after corneal laser surgery ------------------------------------------------------------------

LASER_FORMULAS = REGISTRY.where("position_uses_k")
LASER_LENGTH_MM = 26.0
K_BEFORE_D = 43.5
POSTERIOR_RATIO = 6.5 / 7.8  # of the untouched cornea: Le Grand's eye
THICKNESS_MM = 0.55


@dataclass(frozen=True)
class AfterLaser:
    """An eye after laser surgery, and the refraction left as its errors are corrected in turn."""

    treated_d: float
    missed: float
    formula: str
    measured_k_d: float
    centre_k_d: float
    true_k_d: float
    left_d: np.ndarray

    @property
    def parts_d(self) -> np.ndarray:
        """What ring, index and position each did to the refraction, D."""
        return self.left_d[:-1] - self.left_d[1:]


def compute_after_laser(treated_d: float, missed_percent: float, formula: str) -> AfterLaser:
    """Return what a lens chosen after laser surgery leaves, before and after each correction.

    The laser shapes the front of a thick cornea and leaves its back. The formula would be right
    if it had the K that belongs to the whole cornea's power and, for the lens position, the K of
    before.

    Parameters
    ----------
    treated_d : float
        Treated spherical equivalent at the cornea, D; negative for a myopic treatment.
    missed_percent : float
        Share of the change of K that the keratometer's ring does not see, 0 to 30 %; assumed.
    formula : str
        ``"srk_t"``, ``"t2"``, ``"holladay_1"`` or ``"hoffer_q"``.

    Returns
    -------
    AfterLaser

    Examples
    --------
    >>> data = compute_after_laser(-6.0, 0.0, "srk_t")
    >>> data.true_k_d, bool(data.centre_k_d > data.true_k_d), round(float(data.left_d[-1]), 9) + 0.0
    (37.5, True, 0.0)
    """
    front_mm = KERATOMETER_SCALE / K_BEFORE_D
    back_mm = POSTERIOR_RATIO * front_mm
    before = thick_cornea(front_mm, back_mm, THICKNESS_MM)
    # power = front + back − (t/n) front × back, solved for the front
    passed = 1.0 - THICKNESS_MM / 1000.0 / STROMA_INDEX * before.posterior_d
    front_d = (before.power_d + treated_d - before.posterior_d) / passed
    centre_d = KERATOMETER_SCALE * front_d / (1000.0 * (STROMA_INDEX - 1.0))
    measured_d = centre_d + missed_percent / 100.0 * (K_BEFORE_D - centre_d)
    true_d = K_BEFORE_D + treated_d
    lens = constants_agreeing_in_average_eye()
    k_d = np.array([measured_d, centre_d, true_d, true_d])
    position_k_d = np.array([measured_d, centre_d, true_d, K_BEFORE_D])
    chosen_d = iol_power(Eye(LASER_LENGTH_MM, k_d), formula, lens, elp_k_d=position_k_d)
    left_d = predicted_refraction(
        Eye(LASER_LENGTH_MM, true_d), formula, lens, chosen_d, elp_k_d=K_BEFORE_D
    )
    return AfterLaser(
        treated_d,
        missed_percent,
        formula,
        float(measured_d),
        float(centre_d),
        true_d,
        np.asarray(left_d),
    )


def refraction_left(
    ring_d: float, index_d: float, position_d: float
) -> tuple[float, float, float, float]:
    """Return what is left after laser surgery as error after error is corrected.

    Parameters
    ----------
    ring_d, index_d, position_d : float
        What each error makes of the surprise, D.

    Returns
    -------
    tuple of 4 floats
        D: with all errors, without the ring's, without the index's too, without any.

    Examples
    --------
    >>> refraction_left(0.25, 0.5, 1.5)
    (2.25, 2.0, 1.5, 0.0)
    """
    return (ring_d + index_d + position_d, index_d + position_d, position_d, 0.0)


def spread_of_corrected(powers_d: Mapping[str, float]) -> float:
    """Return how far the lens powers of the methods that correct for the laser lie apart.

    Parameters
    ----------
    powers_d : mapping of str to float
        Method, as ``power.after_laser.compare`` names it → lens power, D.

    Returns
    -------
    float
        D; ``"uncorrected"`` takes no part.

    Examples
    --------
    >>> spread_of_corrected({"uncorrected": 19.0, "double_k": 21.0, "shammas": 22.5})
    1.5
    """
    return float(np.ptp([power_d for name, power_d in powers_d.items() if name != "uncorrected"]))


# --- a second lens --------------------------------------------------------------------------------

REFRACTIONS_D = np.linspace(-8.0, 8.0, 65)
PLUS_RULE = 1.5


@dataclass(frozen=True)
class AddedLens:
    """A lens added to an eye, for one refraction and along all of them."""

    refraction_d: float
    position_mm: float
    k_d: float
    power_d: float
    along_d: np.ndarray

    @property
    def factor(self) -> float | None:
        """The lens as a multiple of the refraction; None where there is none to correct."""
        return None if abs(self.refraction_d) < 0.005 else self.power_d / self.refraction_d


def compute_lens_to_add(refraction_d: float, position_mm: float, k_d: float) -> AddedLens:
    """Return the lens to add to an eye so that no refraction remains.

    Parameters
    ----------
    refraction_d : float
        At the spectacle plane, D; myopia negative.
    position_mm : float
        Where the added lens stands, mm behind the cornea.
    k_d : float
        Keratometry, D.

    Returns
    -------
    AddedLens

    Examples
    --------
    >>> round(compute_lens_to_add(2.0, 5.0, 43.5).power_d, 2)
    2.95
    """
    powers_d = secondary.added_power(k_d, np.append(REFRACTIONS_D, refraction_d), position_mm)
    return AddedLens(
        refraction_d, position_mm, k_d, float(np.asarray(powers_d)[-1]), np.asarray(powers_d)[:-1]
    )


@dataclass(frozen=True)
class VergencesAtLens:
    """Light that is sharp on the retina now, and light from far, on the way to the lens."""

    at_cornea_d: float
    present_d: float
    wanted_d: float


def compute_vergences_at_lens(
    k_d: float, refraction_d: float, position_mm: float, vertex_mm: float = 12.0
) -> VergencesAtLens:
    """Return the two vergences at a lens whose difference is the lens to add.

    Parameters
    ----------
    k_d : float
        Keratometry, D.
    refraction_d : float
        With the present lens, at the spectacle plane, D.
    position_mm : float
        Of the lens, mm behind the cornea.
    vertex_mm : float
        Of the spectacle plane, mm before the cornea.

    Returns
    -------
    VergencesAtLens
        The refraction at the cornea; at the lens, light that is sharp with the present lens, and
        light from far; all in D.

    Examples
    --------
    >>> data = compute_vergences_at_lens(43.5, 2.0, 5.0)
    >>> round(data.present_d - data.wanted_d, 2)
    2.95
    """
    at_cornea_d = at_vertex(refraction_d, vertex_mm, 0.0)
    way_m = position_mm / 1000.0
    return VergencesAtLens(
        float(at_cornea_d),
        float(propagate(k_d + at_cornea_d, way_m, AQUEOUS_INDEX)),
        float(propagate(k_d, way_m, AQUEOUS_INDEX)),
    )


# --- worked examples ------------------------------------------------------------------------------

PATIENT = Eye(26.0, 38.75, acd_mm=3.45)
PATIENT_K_BEFORE_D = 43.5
PATIENT_BEFORE_D, PATIENT_AFTER_D = -6.25, -0.25


@cache
def patient_methods() -> Comparison:
    """Return what every method says for the page's patient.

    Returns
    -------
    power.after_laser.Comparison
    """
    return after_laser.compare(
        PATIENT,
        constants_agreeing_in_average_eye(),
        "myopic",
        k_before_d=PATIENT_K_BEFORE_D,
        refraction_before_d=PATIENT_BEFORE_D,
        refraction_after_d=PATIENT_AFTER_D,
    )


def patient_steps() -> list[tuple[str, str, float, str]]:
    """Return the way to the patient's lens, for ``page.worked``.

    Returns
    -------
    list of (str, str, float, str)
    """
    methods = patient_methods()
    powers_d = {estimate.method: estimate for estimate in methods.estimates}
    treated_d = after_laser.treated_refraction(PATIENT_BEFORE_D, PATIENT_AFTER_D)
    history = powers_d["clinical_history"]
    return [
        ("what the laser treated, at the cornea", "−6.25 and −0.25 D over 12 mm", treated_d, "D"),
        ("K by history", "43.50 D + treated", history.k_d, "D"),
        (
            "lens as if nothing had been done",
            "SRK/T, K 38.75 D for everything",
            powers_d["uncorrected"].iol_power_d,
            "D",
        ),
        (
            "position mended alone (double-K)",
            "SRK/T, K 38.75 D, for the position 43.50 D",
            powers_d["double_k"].iol_power_d,
            "D",
        ),
        (
            "K mended too",
            "SRK/T, K by history, for the position 43.50 D",
            history.iol_power_d,
            "D",
        ),
        ("the middle of all methods", "median of the seven dots", methods.median_d, "D"),
        ("lens to order", "nearest half step", nearest_power(methods.median_d), "D"),
    ]


def exchange_steps(
    k_d: float, refraction_d: float, old_power_d: float, position_mm: float
) -> list[tuple[str, str, float, str]]:
    """Return the steps to a lens that takes the place of another, for ``page.worked``.

    Parameters
    ----------
    k_d : float
        Keratometry, D.
    refraction_d : float
        With the old lens, at the spectacle plane, D.
    old_power_d : float
        D.
    position_mm : float
        Of the old lens and of the new one, mm behind the cornea.

    Returns
    -------
    list of (str, str, float, str)

    Examples
    --------
    >>> steps = exchange_steps(43.5, 2.0, 20.0, 5.0)
    >>> round(steps[-1][2], 2)
    22.95
    """
    data = compute_vergences_at_lens(k_d, refraction_d, position_mm)
    added_d = secondary.added_power(k_d, refraction_d, position_mm)
    carry = f"V / (1 − {position_mm:.1f} V / 1336)"
    return [
        ("the refraction at the cornea", "over 12 mm", data.at_cornea_d, "D"),
        ("light that now is sharp: behind the cornea", "K + that", k_d + data.at_cornea_d, "D"),
        ("the same, at the lens", carry, data.present_d, "D"),
        ("light from far: at the lens", f"K, then {carry}", data.wanted_d, "D"),
        ("lens to add there (piggyback)", "the difference", float(added_d), "D"),
        (
            "or lens to put in its place",
            f"{old_power_d:.1f} D + that",
            float(old_power_d + added_d),
            "D",
        ),
    ]
