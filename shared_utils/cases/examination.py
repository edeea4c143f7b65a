"""The numbers of the examination: a contrast budget, a lens off centre, findings and advice."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING

import numpy as np

from shared_utils.cases.light import ASPHERIC_BODY_UM
from shared_utils.choice.candidacy import assess
from shared_utils.choice.findings import UNKNOWN, otherwise_healthy
from shared_utils.choice.rules import AGAINST, STRENGTHS
from shared_utils.choice.tasks import LENS_OF
from shared_utils.optics import centration, through_focus

if TYPE_CHECKING:
    from typing import Any

    from numpy import ndarray

    from shared_utils.choice.candidacy import Advice
    from shared_utils.choice.findings import Patient
    from shared_utils.choice.rules import Reason

CHART_STEP_LOG = 0.15
"""From one triplet of a letter contrast chart to the next: Pelli, Robson & Wilkins 1988."""

COARSE_CPD = 6.0
PUPILS_MM = np.arange(2.0, 6.01, 0.5)

# --- contrast lost on the way to the brain ------------------------------------------------------


@dataclass(frozen=True)
class ContrastBudget:
    """Contrast lost between the world and the brain, in log units, with each class of lens."""

    scattered: float
    passed: float
    pupil_mm: float
    cornea_log: float
    lens_log: dict
    retina_log: float

    def total_log(self, lens_class: str) -> float:
        """Log units lost in all."""
        return self.cornea_log + self.lens_log[lens_class] + self.retina_log

    def left(self, lens_class: str) -> float:
        """Share of the contrast that is left."""
        return 10.0 ** -self.total_log(lens_class)


def contrast_budget(
    scattered_percent: float, passed_percent: float, pupil_mm: float = 3.0
) -> ContrastBudget:
    """Return what cornea, lens and retina take from contrast, at 6 cycles/degree.

    Parameters
    ----------
    scattered_percent : float
        Light that tears and cornea spread over the whole field, 0 to 99 %.
    passed_percent : float
        Contrast that retina and nerve still pass, of what a healthy one does, 1 to 100 %.
    pupil_mm : float
        2 to 6 mm.

    Returns
    -------
    ContrastBudget

    Sources
    -------
    An even veil of the share s leaves 1 − s of the contrast: definition of contrast. The lens:
    its transfer beside the monofocal's. Factors multiply, so their logarithms add.

    Examples
    --------
    A tenth scattered, a half passed: 0.9 · 0.5 = 0.45 with a lens that takes nothing.

    >>> round(contrast_budget(10, 50).left("monofocal"), 2)
    0.45
    """
    lens_log = {
        name: float(np.interp(pupil_mm, PUPILS_MM, lost)) for name, lost in lens_loss_log().items()
    }
    return ContrastBudget(
        scattered_percent / 100.0,
        passed_percent / 100.0,
        pupil_mm,
        float(-np.log10(1.0 - scattered_percent / 100.0)),
        lens_log,
        float(-np.log10(passed_percent / 100.0)),
    )


@cache
def lens_loss_log() -> dict[str, ndarray]:
    """Return what each class of lens costs beside the monofocal at 6 cycles/degree.

    Returns
    -------
    dict of str to numpy.ndarray
        Log units at each of ``PUPILS_MM``.
    """
    plain = LENS_OF["monofocal"]
    return {
        name: np.array(
            [
                through_focus.contrast_loss_log(lens, pupil_mm, COARSE_CPD, reference=plain)
                for pupil_mm in PUPILS_MM
            ]
        )
        for name, lens in LENS_OF.items()
    }


def budget_steps(
    lens_class: str, scattered_percent: Any, passed_percent: Any, pupil_mm: float
) -> list[tuple[str, str, float, str]]:
    """Return the steps of a contrast budget, ready for a worked example.

    Parameters
    ----------
    lens_class : str
    scattered_percent, passed_percent, pupil_mm
        As for `contrast_budget`.

    Returns
    -------
    list of (str, str, float, str)

    Examples
    --------
    >>> budget_steps("monofocal", 10, 80, 3.0)[0][1:]
    ('−log₁₀(1 − 0.10)', 0.045757490560675115, 'log')
    """
    data = contrast_budget(scattered_percent, passed_percent, pupil_mm)
    total = data.total_log(lens_class)
    return [
        ("tears and cornea scatter", f"−log₁₀(1 − {data.scattered:.2f})", data.cornea_log, "log"),
        (
            f"the lens, {lens_class}, {pupil_mm:g}-mm pupil",
            "its contrast beside the monofocal's, 6 cycles/degree",
            data.lens_log[lens_class],
            "log",
        ),
        (
            "retina and nerve pass a share",
            f"−log₁₀({data.passed:.2f})",
            data.retina_log,
            "log",
        ),
        ("lost in all", "the sum", total, "log"),
        ("steps of the contrast chart", "sum / 0.15", total / CHART_STEP_LOG, "steps"),
        ("contrast that is left", "100 · 10^(−sum)", 100.0 * data.left(lens_class), "%"),
    ]


# --- a lens off centre -------------------------------------------------------------------------

BODIES_UM = {"spherical": 0.1, "neutral": 0.0, "negative": ASPHERIC_BODY_UM}
"""Spherical aberration of three bodies of lens over 6 mm, µm."""

OFF_MM = np.linspace(0.0, 1.0, 101)


@dataclass(frozen=True)
class OffCentre:
    """How strongly three bodies blur, along the decentration and at one."""

    decentration_mm: float
    corneal_sa_um: float
    pupil_mm: float
    along_d: dict
    here_d: dict

    @property
    def best(self) -> str:
        """The body that blurs least here."""
        return min(self.here_d, key=self.here_d.__getitem__)

    @property
    def crossing_mm(self) -> float | None:
        """Where the negative body is no longer better than the neutral one; None if nowhere."""
        worse = np.flatnonzero(self.along_d["negative"] > self.along_d["neutral"])
        return float(OFF_MM[worse[0]]) if worse.size and worse[0] else None


def lens_off_centre(
    decentration_mm: float, corneal_sa_um: float = 0.27, pupil_mm: float = 6.0
) -> OffCentre:
    """Return how three bodies of lens blur when they sit off the pupil's centre.

    Parameters
    ----------
    decentration_mm : float
        0 to 1 mm.
    corneal_sa_um : float
        Spherical aberration of the cornea over 6 mm, µm.
    pupil_mm : float
        3 to 6 mm.

    Returns
    -------
    OffCentre
        As equivalent defocus, D.

    Examples
    --------
    Centred, the negative body leaves 0.07 µm of the average cornea's; 4√3 · 0.07 / 9 = 0.054 D.

    >>> round(lens_off_centre(0.0).here_d["negative"], 3)
    0.054
    """

    def blur_d(body_um, off_mm):
        left_um = centration.left_over_um(corneal_sa_um, body_um, off_mm, pupil_mm)
        return centration.equivalent_defocus_d(left_um, pupil_mm)

    return OffCentre(
        decentration_mm,
        corneal_sa_um,
        pupil_mm,
        {name: blur_d(body_um, OFF_MM) for name, body_um in BODIES_UM.items()},
        {name: blur_d(body_um, decentration_mm) for name, body_um in BODIES_UM.items()},
    )


@dataclass(frozen=True)
class TwoBodies:
    """What a negative and a neutral body leave of the cornea's aberration over 6 mm."""

    decentration_mm: np.ndarray
    negative_left_um: np.ndarray
    neutral_left_um: np.ndarray


def two_bodies(corneal_sa_um: float, lens_sa_um: float) -> TwoBodies:
    """Return what a negative and a neutral lens body leave, against decentration.

    Parameters
    ----------
    corneal_sa_um, lens_sa_um : float
        Spherical aberration of the cornea and of the negative body over 6 mm, µm.

    Returns
    -------
    TwoBodies

    Examples
    --------
    Centred, a body of −0.20 µm takes away most of what the average cornea has.

    >>> bodies = two_bodies(0.27, -0.20)
    >>> round(float(bodies.negative_left_um[0]), 2), round(float(bodies.neutral_left_um[0]), 2)
    (0.07, 0.27)
    """
    off_mm = np.linspace(0.0, 0.9, 91)
    negative, neutral = (
        centration.left_over_um(corneal_sa_um, body_um, off_mm) for body_um in (lens_sa_um, 0.0)
    )
    return TwoBodies(off_mm, np.asarray(negative), np.asarray(neutral))


# --- findings and what they speak against ------------------------------------------------------

ONE_FINDING = (
    ("moderate dry eye, untreated", {"dry_eye": "moderate", "surface_treatment": "untreated"}),
    (
        "the same, treated and stable",
        {"dry_eye": "moderate", "surface_treatment": "treated and stable"},
    ),
    ("mild irregular astigmatism", {"irregular_astigmatism": "mild"}),
    ("aberration 0.55 µm, 6 mm", {"corneal_hoa_6mm_um": 0.55}),
    ("keratoconus", {"ectasia": "manifest"}),
    ("pupil by day 2.5 mm", {"photopic_pupil_mm": 2.5}),
    ("chord mu 0.60 mm", {"chord_mu_mm": 0.60}),
    ("early macular degeneration", {"macular_degeneration": "early"}),
    ("mild glaucoma, stable", {"glaucoma": "mild"}),
    ("moderate glaucoma, stable", {"glaucoma": "moderate"}),
    ("zonules severely weak", {"zonules": "severe weakness"}),
    ("posterior capsule open", {"capsule": "posterior opening"}),
)


def weightiest(advice: Advice) -> Reason | None:
    """Return the reason against a class that weighs most, or None.

    Parameters
    ----------
    advice : candidacy.Advice

    Returns
    -------
    rules.Reason or None
        The worst effect first, then the best founded.
    """
    return next(iter(reasons_against(advice)), None)


def founded(advised: tuple[Advice, ...]) -> str:
    """Return how well the best-founded reason against any class is founded, or "none".

    Parameters
    ----------
    advised : tuple of Advice

    Returns
    -------
    str
    """
    strengths = [
        reason.strength for a in advised for reason in a.reasons if reason.effect in AGAINST
    ]
    return min(strengths, key=STRENGTHS.index, default="none")


def reasons_against(advice: Advice) -> list[Reason]:
    """Return the reasons against a class, the weightiest first.

    Parameters
    ----------
    advice : candidacy.Advice

    Returns
    -------
    list of rules.Reason

    Examples
    --------
    >>> [reasons_against(advice) for advice in assess(otherwise_healthy())][0]
    []
    """
    return [reason for reason in advice.reasons if reason.effect in AGAINST]


def advice_with_reasons(patient: Patient) -> list[tuple[Advice, list[Reason]]]:
    """Return what the rules say of each class for a patient, with the reasons against it.

    Parameters
    ----------
    patient : findings.Patient

    Returns
    -------
    list of (candidacy.Advice, list of rules.Reason)

    Examples
    --------
    >>> advice, against = advice_with_reasons(otherwise_healthy({"glaucoma": "severe"}))[-1]
    >>> advice.verdict, len(against) > 0
    ('not advised', True)
    """
    return [(advice, reasons_against(advice)) for advice in assess(patient)]


@dataclass(frozen=True)
class FindingsAlone:
    """Some findings, each alone in a healthy eye, and the advice on each class."""

    rows: list  # of (name, tuple of Advice)

    @property
    def squares_suited_of_one_focus(self) -> int:
        """In how many squares a lens with one focus suits."""
        return sum(a.verdict == "suits" for _, advised in self.rows for a in advised[:2])

    @property
    def squares_suited_of_split_light(self) -> int:
        """In how many squares a lens that splits light suits."""
        return sum(a.verdict == "suits" for _, advised in self.rows for a in advised[3:])


def findings_alone() -> FindingsAlone:
    """Return the advice on each of ``ONE_FINDING``.

    Returns
    -------
    FindingsAlone

    Examples
    --------
    >>> findings_alone().squares_suited_of_split_light
    0
    """
    return FindingsAlone([(name, assess(otherwise_healthy(found))) for name, found in ONE_FINDING])


GRADES_OF_FINDING: dict[str, tuple[tuple[str, dict[str, Any]], ...]] = {
    "macular degeneration": (
        ("none", {}),
        ("not looked for", {"macular_degeneration": UNKNOWN}),
        ("early", {"macular_degeneration": "early"}),
        ("intermediate", {"macular_degeneration": "intermediate"}),
        ("late", {"macular_degeneration": "late"}),
    ),
    "glaucoma": (
        ("none", {}),
        ("suspect", {"glaucoma": "suspect"}),
        ("mild, stable", {"glaucoma": "mild"}),
        ("moderate, stable", {"glaucoma": "moderate"}),
        ("severe", {"glaucoma": "severe"}),
    ),
    "dry eye": (
        ("none", {}),
        ("mild, treated", {"dry_eye": "mild"}),
        ("mild, untreated", {"dry_eye": "mild", "surface_treatment": "untreated"}),
        ("moderate, untreated", {"dry_eye": "moderate", "surface_treatment": "untreated"}),
        ("severe, untreated", {"dry_eye": "severe", "surface_treatment": "untreated"}),
    ),
    "shape of the cornea": (
        ("regular", {}),
        ("no map", {"irregular_astigmatism": UNKNOWN, "ectasia": UNKNOWN}),
        ("mildly irregular", {"irregular_astigmatism": "mild"}),
        ("markedly irregular", {"irregular_astigmatism": "marked"}),
        ("keratoconus", {"irregular_astigmatism": "marked", "ectasia": "manifest"}),
    ),
    "aberration of the cornea, 6 mm": tuple(
        (f"{um:.2f} µm", {"corneal_hoa_6mm_um": um}) for um in (0.30, 0.45, 0.49, 0.50, 0.80)
    ),
    "pupil by day": tuple(
        (f"{mm:.1f} mm", {"photopic_pupil_mm": mm}) for mm in (3.5, 3.1, 2.9, 2.8, 2.3)
    ),
    "chord mu": tuple((f"{mm:.2f} mm", {"chord_mu_mm": mm}) for mm in (0.2, 0.4, 0.5, 0.55, 0.7)),
    "zonules and capsule": (
        ("firm, whole", {}),
        ("mild weakness", {"zonules": "mild weakness"}),
        ("anterior tear", {"capsule": "anterior tear"}),
        ("severe weakness", {"zonules": "severe weakness"}),
        ("back of the capsule open", {"capsule": "posterior opening"}),
    ),
}
"""Five steps of each finding, from better to worse; nothing else is wrong with the eye."""


@dataclass(frozen=True)
class FindingAdvice:
    """One finding at one step, and what is said of each class."""

    finding: str
    step: int
    wish: str
    grade: str
    advised: tuple

    def classes(self, verdict: str) -> list[str]:
        """The classes with this verdict."""
        return [a.lens_class for a in self.advised if a.verdict == verdict]


def advice_on_finding(step: float, finding: str, wish: str) -> FindingAdvice:
    """Return the advice for an eye with one finding at one of its five steps.

    Parameters
    ----------
    step : float
        1 to 5; taken as a whole number.
    finding : str
        One of ``GRADES_OF_FINDING``.
    wish : str
        Tolerance of glasses, as in ``findings.WISHES``.

    Returns
    -------
    FindingAdvice

    Examples
    --------
    >>> advice_on_finding(5, "glaucoma", "wants none").classes("not advised")
    ['extended depth of focus', 'bifocal', 'trifocal']
    """
    grade, found = GRADES_OF_FINDING[finding][round(step) - 1]
    patient = otherwise_healthy(found, {"glasses": wish})
    return FindingAdvice(finding, round(step), wish, grade, assess(patient))


# --- readings beside a gate --------------------------------------------------------------------

GATE_UM = 0.50
"""Romano et al., Am J Ophthalmol 2023: less than this over 6 mm."""

SCATTER = np.array([-1.3, -0.2, 0.4, 1.1]) / np.std([-1.3, -0.2, 0.4, 1.1], ddof=1)
"""Four readings about their mean, in standard deviations."""


def four_maps_um(
    turn: int, near_um: float, open_um: float, open_sd_um: float
) -> dict[int, ndarray]:
    """Return four invented readings each of four eyes.

    One repeats well near the gate, one scatters far from it, one scatters across it, and one lies
    clearly on one side.

    Parameters
    ----------
    turn : int
        0 to 3: which eye is which.
    near_um : float
        Mean of the eye that repeats well near the gate, µm.
    open_um, open_sd_um : float
        Mean and spread of the eye that scatters across it, µm.

    Returns
    -------
    dict of int to array
        Eye, from 1 to 4, and its readings of higher-order aberration over 6 mm, µm.

    Examples
    --------
    >>> four_maps_um(0, 0.52, 0.53, 0.05)[3].round(2)
    array([0.47, 0.52, 0.55, 0.58])
    """
    spread_about = [(near_um, 0.008), (0.375, 0.07), (open_um, open_sd_um), (0.60, 0.015)]
    return {
        1 + (place + turn) % 4: middle_um + sd_um * SCATTER
        for place, (middle_um, sd_um) in enumerate(spread_about)
    }


# --- the patient of the page -------------------------------------------------------------------

_ALWAYS = {"glaucoma": "mild", "photopic_pupil_mm": 3.0, "scotopic_pupil_mm": 5.4}
_WISHES = {"glasses": "wants none", "near_work": "daily", "night_driving": "sometimes"}

ON_THE_FIRST_DAY = otherwise_healthy(
    {
        **_ALWAYS,
        "dry_eye": "moderate",
        "surface_treatment": "untreated",
        "corneal_hoa_6mm_um": 0.53,
        "macular_degeneration": UNKNOWN,
    },
    _WISHES,
    label="Ingeborg Solano, first day",
)

SIX_WEEKS_LATER = otherwise_healthy(
    {
        **_ALWAYS,
        "dry_eye": "moderate",
        "surface_treatment": "treated and stable",
        "corneal_hoa_6mm_um": 0.41,
        "chord_mu_mm": 0.31,
    },
    _WISHES,
    label="Ingeborg Solano, six weeks later",
)
