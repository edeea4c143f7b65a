"""The numbers of the consultation: the lens ordered, the plan for two eyes, a hundred people."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache
from typing import TYPE_CHECKING, cast

import numpy as np
from scipy.stats import norm

from shared_utils.cases.light import MOON_MRAD
from shared_utils.cases.sheet import rings_mrad
from shared_utils.choice import gate, tasks
from shared_utils.choice.candidacy import assess
from shared_utils.choice.tasks import LENS_OF
from shared_utils.clinic import patient_file
from shared_utils.optics.retina import geometric_halo_arcmin, outermost_add_d
from shared_utils.optics.through_focus import acuity_logmar
from shared_utils.power import lens_steps
from shared_utils.power.biometry import Eye
from shared_utils.power.formulas import iol_power, predicted_refraction
from shared_utils.power.lens_constants import LensConstants
from shared_utils.power.lens_steps import nearest_power
from shared_utils.power.registry import FORMULAS as REGISTRY

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy import ndarray
    from numpy.typing import ArrayLike

    from shared_utils.choice.gate import Gate
    from shared_utils.clinic.patient_file import Consultation
    from shared_utils.optics.lenses import Lens
    from shared_utils.optics.types import FloatOrArray
    from shared_utils.power.lens_steps import Choices

FORMULAS = REGISTRY.titles(REGISTRY.where("in_consultations"))
"""Those whose constants follow from one A-constant closely enough to stand side by side."""

RIGHT = patient_file.read(patient_file.find("lock_keeper"))
"""The patient of the page, right eye."""

LEFT_EYE = Eye(23.53, 43.20, 43.75, 8.0, acd_mm=3.15, lens_thickness_mm=4.50)
RIGHT_EYE = cast("Eye", RIGHT.patient.eye)  # the file of this patient has biometry
CONSTANTS = LensConstants.from_a_constant(RIGHT.a_constant)
PUPILS_MM = tasks.pupils_of(RIGHT.patient)

PLANNED = replace(RIGHT, fellow_target_d=-0.5)
"""What the page decides: the left eye set a little nearer."""

NEAR_ENOUGH_D = 0.5

# --- the lens ordered --------------------------------------------------------------------------


def gate_of(consultation: Consultation) -> Gate:
    """Return what the gate says of the power for the patient's eye.

    Parameters
    ----------
    consultation : patient_file.Consultation

    Returns
    -------
    gate.Gate

    Examples
    --------
    >>> gate_of(RIGHT).outcome
    'shown'
    """
    return gate.of_patient(consultation.patient, consultation.a_constant, consultation.target_d)


def powers_by_formula(consultation: Consultation) -> dict[str, Choices]:
    """Return what each available lens would leave, by three formulas.

    Parameters
    ----------
    consultation : patient_file.Consultation

    Returns
    -------
    dict of str to lens_steps.Choices
        Name of the formula → five lenses about the target.

    Raises
    ------
    ValueError
        If the gate withholds the power of this eye, with the reason and what comes first.

    Examples
    --------
    >>> list(powers_by_formula(RIGHT))
    ['SRK/T', 'Holladay 1', 'Hoffer Q']
    """
    gate_of(consultation).require_shown()
    if consultation.patient.eye is None:
        raise ValueError("The patient has no biometry, so there is no power.")
    constants = LensConstants.from_a_constant(consultation.a_constant)
    eye, target_d = consultation.patient.eye, consultation.target_d
    if eye is None:
        raise ValueError("The patient has no biometry, so no power; give the eye's measurements.")
    return {
        name: lens_steps.choices(eye, formula, constants, target_d, count=5)
        for formula, name in FORMULAS.items()
    }


@dataclass(frozen=True)
class Ordered:
    """A lens ordered for the right eye, and what may come of it."""

    iol_power_d: float
    sd_d: float
    formula: str
    predicted_d: float

    @property
    def within(self) -> float:
        """Chance of ending within half a dioptre of the target."""
        return float(
            norm.cdf(NEAR_ENOUGH_D, self.predicted_d, self.sd_d)
            - norm.cdf(-NEAR_ENOUGH_D, self.predicted_d, self.sd_d)
        )

    @property
    def hyperopic(self) -> float:
        """Chance of ending more than half a dioptre hyperopic."""
        return float(norm.sf(NEAR_ENOUGH_D, self.predicted_d, self.sd_d))

    def density(self, refraction_d: ArrayLike) -> FloatOrArray:
        """How densely such eyes lie at a refraction, per D."""
        return norm.pdf(refraction_d, self.predicted_d, self.sd_d)

    def area(self, low_d: float, high_d: float) -> ndarray:
        """Corners of the area under the density between two refractions: D and per D."""
        x = np.linspace(low_d, high_d, 61)
        return np.column_stack([np.r_[x, high_d, low_d], np.r_[self.density(x), 0.0, 0.0]])


def lens_ordered(iol_power_d: float, sd_d: float, formula: str = "srk_t") -> Ordered:
    """Return what a lens ordered for the patient's right eye may leave.

    Parameters
    ----------
    iol_power_d : float
        Power of the lens, D.
    sd_d : float
        Spread of the prediction error of the practice, D; its mean is zero.
    formula : str
        One of ``FORMULAS``.

    Returns
    -------
    Ordered

    Examples
    --------
    >>> round(lens_ordered(20.5, 0.40).predicted_d, 2)
    0.1
    """
    left_d = predicted_refraction(RIGHT_EYE, formula, CONSTANTS, iol_power_d)
    return Ordered(iol_power_d, sd_d, formula, float(left_d))


REFRACTION_D = np.linspace(-2.5, 2.5, 201)


# --- the plan for two eyes ---------------------------------------------------------------------

DEFOCUS_D = np.linspace(2.0, -3.5, 111)
PLAN_D = np.linspace(0.0, -3.4, 69)


@dataclass(frozen=True)
class Plan:
    """The same lens in both eyes, the left set nearer."""

    offset_d: float
    lens_class: str
    night_pupil_mm: float
    right_logmar: np.ndarray
    left_logmar: np.ndarray
    clear: dict
    ring_arcmin: float

    @property
    def not_clear(self) -> list[str]:
        """Names of the tasks that need glasses."""
        return [name for name, clear in self.clear.items() if not clear]


def plan_for_two_eyes(offset_d: float, lens_class: str, night_pupil_mm: float = 5.4) -> Plan:
    """Return what a plan for both eyes gives the patient, by day and at night.

    Parameters
    ----------
    offset_d : float
        How short-sighted the left eye is made, 0 to 1.5 D; the right is set for far.
    lens_class : str
        In both eyes.
    night_pupil_mm : float
        4 to 7 mm; widens the ring, while tasks keep the patient's own pupils.

    Returns
    -------
    Plan

    Examples
    --------
    >>> plan_for_two_eyes(0.0, "monofocal").ring_arcmin
    0.0
    >>> round(plan_for_two_eyes(0.0, "bifocal").ring_arcmin)
    51
    """
    add_d = outermost_add_d(LENS_OF[lens_class])
    curve = curve_by_day(lens_class)
    return Plan(
        offset_d,
        lens_class,
        night_pupil_mm,
        np.interp(-PLAN_D, -DEFOCUS_D, curve),
        np.interp(-PLAN_D - offset_d, -DEFOCUS_D, curve),
        _clear(offset_d, lens_class),
        0.0 if add_d is None else float(geometric_halo_arcmin(night_pupil_mm, add_d)),
    )


@cache
def _clear(offset_d, lens_class):
    """Whether each task is clear without glasses, with all that is known of the patient."""
    found = tasks.glasses_for(RIGHT.patient, LENS_OF[lens_class], RIGHT.target_d, -offset_d)
    return {one.task.name: bool(one.clear) for one in found}


@cache
def curve_by_day(lens_class: str) -> ndarray:
    """Return acuity along ``DEFOCUS_D`` with the patient's pupil by day.

    Parameters
    ----------
    lens_class : str
        As in `choice.tasks.LENS_OF`.

    Returns
    -------
    numpy.ndarray
        logMAR.
    """
    return np.asarray(acuity_logmar(LENS_OF[lens_class], PUPILS_MM["bright"], DEFOCUS_D))


@dataclass(frozen=True)
class TwoEyes:
    """Acuity of two eyes with one lens against the vergence of the object."""

    vergence_d: np.ndarray
    right_logmar: np.ndarray
    left_logmar: np.ndarray


def two_eyes(lens: Lens, offset_d: float, pupil_mm: float) -> TwoEyes:
    """Return the acuity of two eyes with one lens, the left set nearer.

    Parameters
    ----------
    lens : Lens
    offset_d : float
        How much more short-sighted the left eye is, D, 0 or more.
    pupil_mm : float

    Returns
    -------
    TwoEyes

    Examples
    --------
    >>> eyes = two_eyes(LENS_OF["monofocal"], 0.0, 3.0)
    >>> bool(np.array_equal(eyes.right_logmar, eyes.left_logmar))
    True
    """
    vergence_d = np.linspace(0.0, -3.0, 61)
    right, left = (acuity_logmar(lens, pupil_mm, vergence_d + d) for d in (0.0, offset_d))
    return TwoEyes(vergence_d, np.asarray(right), np.asarray(left))


@dataclass(frozen=True)
class PlanRow:
    """What a plan for both eyes gives: verdict, tasks, glasses, ring at night."""

    lens_class: str
    left_d: float
    verdict: str
    clear: int
    tasks: int
    reader_d: float | None  # of the task that asks for the strongest of the weakest
    comfortable_reader_d: float | None
    ring_moons: float | None


def compare_plans(consultation: Consultation, plans: Sequence[tuple[str, float]]) -> list[PlanRow]:
    """Return what some plans for both eyes give a patient.

    Parameters
    ----------
    consultation : patient_file.Consultation
    plans : sequence of (str, float)
        Class of lens in both eyes, and the target of the left one, D.

    Returns
    -------
    list of PlanRow

    Examples
    --------
    >>> (row,) = compare_plans(RIGHT, [("monofocal", 0.0)])
    >>> row.verdict, row.ring_moons
    ('suits', None)
    """
    verdicts = {advice.lens_class: advice.verdict for advice in assess(consultation.patient)}
    pupils_mm = tasks.pupils_of(consultation.patient)
    rows = []
    for lens_class, left_d in plans:
        lens = LENS_OF[lens_class]
        found = tasks.glasses_for(consultation.patient, lens, consultation.target_d, left_d)
        readers_d = [
            (float(one.reader_d), float(one.comfortable_reader_d)) for one in found if not one.clear
        ]
        weakest_d, comfortable_d = max(readers_d, default=(None, None))
        rings = rings_mrad(lens, pupils_mm["night"])
        rows.append(
            PlanRow(
                lens_class,
                left_d,
                verdicts[lens_class],
                sum(bool(one.clear) for one in found),
                len(found),
                weakest_d,
                comfortable_d,
                max(wide for wide, _ in rings) / MOON_MRAD if rings else None,
            )
        )
    return rows


# --- a hundred people --------------------------------------------------------------------------


@dataclass(frozen=True)
class HundredPeople:
    """Of a hundred people: who reaches something anyway, who through the lens, who does not."""

    base_percent: float
    times: float

    @property
    def with_lens(self) -> float:
        """People of a hundred who reach it with the lens."""
        return self.base_percent * self.times

    @property
    def through_lens(self) -> float:
        """People of a hundred who would not have reached it otherwise."""
        return self.with_lens - self.base_percent


# --- steps of the worked example ---------------------------------------------------------------


def order_steps(eye: Eye, target_d: float, sd_d: float = 0.4) -> list[tuple[str, str, float, str]]:
    """Return the steps from a measured eye to the order, ready for a worked example.

    Parameters
    ----------
    eye : biometry.Eye
    target_d, sd_d : float

    Returns
    -------
    list of (str, str, float, str)

    Examples
    --------
    >>> order_steps(RIGHT.patient.eye, 0.0)[1][2]
    20.5
    """
    gate.check(eye, {}, RIGHT.a_constant, target_d).require_shown()
    exact_d = iol_power(eye, "srk_t", CONSTANTS, target_d)
    order_d = nearest_power(exact_d)
    left_d = predicted_refraction(eye, "srk_t", CONSTANTS, order_d)
    beyond = [norm.cdf((edge - left_d) / sd_d) for edge in (target_d - 0.5, target_d + 0.5)]
    return [
        (
            "power for exactly the target",
            f"SRK/T, A-constant {RIGHT.a_constant:g}",
            float(exact_d),
            "D",
        ),
        ("lens that is made", "the nearest step of 0.5 D", float(order_d), "D"),
        ("refraction that it should leave", "the formula, backwards", float(left_d), "D"),
        ("miss of the target", "left − target", float(left_d - target_d), "D"),
        (
            "end within ±0.50 D of the target",
            f"normal distribution, spread {sd_d:.2f} D",
            100.0 * float(beyond[1] - beyond[0]),
            "of 100",
        ),
    ]
