"""Six patients of a learner's own for the clinic day: what their charts say, what is right.

Two have healthy eyes, one lies beside a prompt, three hold a trap; no trap comes twice.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, cast

from shared_utils.choice import gate
from shared_utils.choice.candidacy import assess
from shared_utils.choice.findings import FINDINGS, UNKNOWN, VOCABULARY, otherwise_healthy
from shared_utils.choice.rules import book
from shared_utils.clinic import day
from shared_utils.power import formulas, lens_steps
from shared_utils.power.lens_constants import DEMO_A_CONSTANT, LensConstants

if TYPE_CHECKING:
    from shared_utils.choice.findings import Patient
    from shared_utils.power.biometry import Eye

KINDS = ("easy", "trap", "borderline", "trap", "easy", "trap")
"""Of the six, in order."""

A_CONSTANT = DEMO_A_CONSTANT
NEAR_D = 2.50  # a newspaper at 40 cm
NOTHING = "nothing"
ALWAYS_NAMED = (
    "photopic_pupil_mm",
    "scotopic_pupil_mm",
    "macular_degeneration",
    "dry_eye",
    "surface_treatment",
    "corneal_surgery",
    "glasses",
    "night_driving",
)
"""On every chart, remarkable or not."""


@dataclass(frozen=True)
class Chart:
    """What the learner gets to see of one patient."""

    place: int
    age_years: int
    patient: Patient
    target_d: float
    asked_class: str

    def markdown(self) -> str:
        """Return the chart as Markdown."""
        eye = cast("Eye", self.patient.eye)  # every patient of the rounds is measured
        rows = [
            f"| {VOCABULARY[name].title} | `{name}` | {_shown(name, self.patient.values[name])} |"
            for name in self.named()
        ]
        return (
            f"**Patient {self.place}, {self.age_years} years.** Axial length "
            f"**{eye.axial_length_mm:.2f} mm**, keratometry **{eye.k1_d:.2f} D** and "
            f"**{eye.k2_d:.2f} D**, chamber depth {eye.acd_mm:.2f} mm. Target "
            f"**{_signed(self.target_d)} D**, lens constant **A = {A_CONSTANT}**. Asked about: a "
            f"**{self.asked_class}** lens.\n\n"
            "| found or wished | word for your answer | here |\n| --- | --- | --- |\n"
            + "\n".join(rows)
            + "\n\nWhatever else is usually examined is without finding."
        )

    def named(self) -> tuple[str, ...]:
        """Return the names of the findings and wishes on the chart."""
        healthy = otherwise_healthy().values
        values = self.patient.values
        differs = [
            name
            for name in VOCABULARY
            if values[name] != healthy[name] and name not in ("mean_k_d", "corneal_astigmatism_d")
        ]
        return tuple(n for n in VOCABULARY if n in ALWAYS_NAMED or n in differs) + (
            ("corneal_astigmatism_d",) if values["corneal_astigmatism_d"] > 0.75 else ()
        )


def chart(place: int, seed: int) -> Chart:
    """Return the chart of one of the six patients.

    Parameters
    ----------
    place : int
        1 to 6.
    seed : int
        0 or more; another seed, another patient.

    Returns
    -------
    Chart

    Raises
    ------
    ValueError
        If there is no such place.

    Examples
    --------
    >>> chart(1, seed=4).place
    1
    """
    if place not in range(1, 1 + len(KINDS)):
        raise ValueError(f"There is no patient {place!r}; give 1 to {len(KINDS)}.")
    kind = KINDS[place - 1]
    if kind == "trap":
        # every third trap, so that the three who hold one hold different ones
        turn = KINDS[: place - 1].count("trap")
        names = [trap["name"] for trap in day.traps()][turn :: KINDS.count("trap")]
        visit = next(v for v in day.invent(len(day.traps()), seed, "trap") if v.point in names)
    else:
        visit = day.invent(1, seed, kind)[0]
    target_d = (-0.25, 0.0, -0.50)[seed % 3]
    return Chart(place, visit.age_years, visit.patient, target_d, visit.tempting or "trifocal")


def keratometry_holds(chart: Chart) -> bool:
    """Return whether the power can be computed from this chart's keratometry.

    Parameters
    ----------
    chart : Chart

    Returns
    -------
    bool
        False where the gate withholds the power because of the cornea or its surface.
    """
    return gate.of_patient(chart.patient, A_CONSTANT, chart.target_d).keratometry_holds


def lens_and_rest(chart: Chart) -> tuple[float, float]:
    """Return the lens to order and the refraction that it leaves, by SRK/T.

    Parameters
    ----------
    chart : Chart

    Returns
    -------
    (float, float)
        D in steps of 0.5; D at the spectacles.

    Raises
    ------
    ValueError
        If the gate withholds the power because of the keratometry.
    """
    _hold_keratometry(chart)
    lens = LensConstants.from_a_constant(A_CONSTANT)
    eye = cast("Eye", chart.patient.eye)
    exact_d = formulas.iol_power(eye, "srk_t", lens, chart.target_d)
    power_d = float(lens_steps.nearest_power(exact_d))
    return power_d, left_by(chart, power_d)


def left_by(chart: Chart, lens_d: float) -> float:
    """Return the refraction that a lens leaves, D at the spectacles, by SRK/T.

    Parameters
    ----------
    chart : Chart
    lens_d : float

    Returns
    -------
    float

    Raises
    ------
    ValueError
        If the gate withholds the power because of the keratometry.
    """
    _hold_keratometry(chart)
    lens = LensConstants.from_a_constant(A_CONSTANT)
    eye = cast("Eye", chart.patient.eye)
    return float(formulas.predicted_refraction(eye, "srk_t", lens, lens_d))


def verdict(chart: Chart) -> tuple[str, tuple[str, ...]]:
    """Return what the rules say of the class asked about, and the names that decide it.

    Parameters
    ----------
    chart : Chart

    Returns
    -------
    (str, tuple of str)
        "suits", "with care" or "not advised"; findings and wishes, or "nothing" where it suits.
    """
    advice = next(a for a in assess(chart.patient) if a.lens_class == chart.asked_class)
    if advice.verdict == "suits":
        return advice.verdict, (NOTHING,)
    worst = {reason.rule for reason in advice.reasons if reason.effect == advice.verdict}
    names = [
        name for rule in book().rules if rule.key in worst for name in (*rule.when, *rule.findings)
    ]
    return advice.verdict, tuple(dict.fromkeys(names))


def _hold_keratometry(chart):
    """The charts ask about keratometry alone: what else withholds a power is not their subject."""
    found = gate.of_patient(chart.patient, A_CONSTANT, chart.target_d)
    for entry in found.withheld:
        if entry.affects == "keratometry":
            raise ValueError(f"No power is shown, {entry}")


def _shown(name, value):
    if value == UNKNOWN:
        return "not examined" if name in FINDINGS else "not asked"
    return VOCABULARY[name].shown(value)


def _signed(value):
    return f"{value:+.2f}".replace("-", "−") if value else "0.00"
