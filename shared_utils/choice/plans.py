"""What may be planned besides a class of lens: one eye for near, a toric lens, the refraction.

As ``candidacy``: the worst effect of the rules that fire is the verdict. Their rules are the blocks
``plan_rule`` of ``rules.toml``; beside findings and wishes they read what the plan has
(``vocabulary.PLANS``). An eye that keeps its lens is counted with the refraction that it has. One
eye for near asks the same of both eyes: what is given of the other one is read by the same rules.

Sources
-------
Beside each rule. That a difference of less than 0.75 D between the eyes is no monovision: common
practice, no source.
"""

from __future__ import annotations

from dataclasses import replace

from shared_utils.choice.candidacy import VERDICTS, Advice, advise
from shared_utils.choice.findings import Patient
from shared_utils.choice.rules import EFFECTS, STRENGTHS, book
from shared_utils.choice.tasks import TARGET_RANGE_D, only_eye
from shared_utils.choice.vocabulary import EYE_FINDINGS, MIRRORS, PLANS, UNKNOWN
from shared_utils.optics.domain import require, require_instance

MONOVISION_FROM_D = 0.75
"""Difference between the eyes from which a plan counts as monovision."""

OTHER_EYE = "Of the other eye: "
"""Before a reason that comes from the other eye's own findings."""

KEEPS_ITS_LENS = ("phakic", "pseudophakic monofocal", "pseudophakic light-splitting")
"""States of the other eye in which it is not operated on, so that its refraction stays."""


def assess_monovision(patient: Patient, target_d: float, fellow_target_d: float) -> Advice | None:
    """Return what the rules say of setting one eye for near and the other for far.

    Parameters
    ----------
    patient : findings.Patient
    target_d : float
        Refraction aimed at in the patient's eye, −4 to 2 D; myopia negative.
    fellow_target_d : float
        That of the other eye. One that is not operated on, and whose refraction is known, is
        counted with that one.

    Returns
    -------
    candidacy.Advice or None
        Its ``lens_class`` is "monovision"; None where the planned refractions differ by less than
        0.75 D.

    Raises
    ------
    ValueError
        If it is not given a patient, or a refraction is out of range.

    Sources
    -------
    Beside each reason.

    Examples
    --------
    >>> from shared_utils.choice.findings import otherwise_healthy
    >>> assess_monovision(otherwise_healthy(), 0.0, -1.25).verdict
    'suits'
    >>> assess_monovision(otherwise_healthy({"fellow_amblyopia": "deep"}), 0.0, -1.25).verdict
    'not advised'
    >>> stays = otherwise_healthy({"fellow_eye": "phakic", "fellow_refraction_d": 0.0})
    >>> assess_monovision(stays, 0.0, -1.25).verdict
    'not advised'
    >>> other = Patient(fellow_findings={"macular_degeneration": "late"})
    >>> assess_monovision(other, 0.0, -1.25).reasons[0].text
    'Of the other eye: Monovision needs two good eyes, and the macula of this one is diseased.'
    """
    _hold_patient(patient)
    one, other = (
        _one_target(name, value)
        for name, value in (("target_d", target_d), ("fellow_target_d", fellow_target_d))
    )
    if abs(one - other) < MONOVISION_FROM_D - 1e-9:
        return None
    kept_d, change_d = patient.values["fellow_refraction_d"], UNKNOWN
    if patient.values["fellow_eye"] in KEEPS_ITS_LENS and kept_d != UNKNOWN:
        other, change_d = kept_d, abs(other - kept_d)
    of_plan = {
        "far_target_d": max(one, other),
        "near_target_d": min(one, other),
        "interocular_difference_d": abs(one - other),
        "fellow_change_d": change_d,
        "near_eye": _near_eye(patient.values["dominance"], near_is_this=one < other),
    }
    advice = _advice("monovision", patient.values, **of_plan)
    if not patient.fellow_given:
        return advice
    return _with_other_eye(advice, _advice("monovision", patient.fellow_values, **of_plan))


def assess_toric(patient: Patient) -> Advice:
    """Return what the rules say of a toric lens in a patient's eye.

    Parameters
    ----------
    patient : findings.Patient
        Its length is that of its biometry, and unknown without one.

    Returns
    -------
    candidacy.Advice
        Its ``lens_class`` is "toric".

    Raises
    ------
    ValueError
        If it is not given a patient.

    Sources
    -------
    Beside each reason.

    Examples
    --------
    >>> from shared_utils.choice.findings import otherwise_healthy
    >>> for zonules in ("firm", "severe weakness"):
    ...     found = {"corneal_astigmatism_d": 2.0, "zonules": zonules}
    ...     print(assess_toric(otherwise_healthy(found)).verdict)
    suits
    not advised
    """
    _hold_patient(patient)
    length_mm = UNKNOWN if patient.eye is None else float(patient.eye.axial_length_mm)
    return _advice("toric", patient.values, axial_length_mm=length_mm)


def assess_target(
    patient: Patient, target_d: float, fellow_target_d: float | None = None
) -> Advice:
    """Return what the rules say of the refraction aimed at in a patient's eye.

    Parameters
    ----------
    patient : findings.Patient
    target_d : float
        Refraction aimed at, −4 to 2 D; myopia negative.
    fellow_target_d : float, optional
        That of the other eye; one eye for near keeps what is read without glasses.

    Returns
    -------
    candidacy.Advice
        Its ``lens_class`` is "target".

    Raises
    ------
    ValueError
        If it is not given a patient, or a refraction is out of range.

    Sources
    -------
    Beside each reason.

    Examples
    --------
    >>> from shared_utils.choice.findings import otherwise_healthy
    >>> for has_d in (-1.0, -4.0):
    ...     found = {"fellow_eye": "phakic", "fellow_refraction_d": has_d}
    ...     print(assess_target(otherwise_healthy(found), 0.0).verdict)
    suits
    not advised
    """
    _hold_patient(patient)
    target = _one_target("target_d", target_d)
    nearest = target
    if fellow_target_d is not None and not only_eye(patient):
        nearest = min(target, _one_target("fellow_target_d", fellow_target_d))
    has = patient.values["fellow_refraction_d"]
    apart = UNKNOWN if has == UNKNOWN or only_eye(patient) else abs(target - has)
    return _advice("target", patient.values, target_d=nearest, anisometropia_d=apart)


def _with_other_eye(advice, of_other):
    """The same advice with what the rules say against the other eye by its own findings."""
    rules = {rule.key: rule for rule in book().plans.rules}
    own = EYE_FINDINGS.keys() - MIRRORS.keys()
    added = [
        reason
        for reason in of_other.reasons
        if reason.effect in EFFECTS[:2]
        and not own.isdisjoint((*rules[reason.rule].when, *rules[reason.rule].findings))
    ]
    if not added:
        return advice
    reasons = [*advice.reasons, *(replace(r, text=f"{OTHER_EYE}{r.text}") for r in added)]
    worst = max((r.effect for r in added), key=VERDICTS.index)
    reasons.sort(key=lambda r: (EFFECTS.index(r.effect), STRENGTHS.index(r.strength)))
    steps = [rules[r.rule] for r in added]
    return replace(
        advice,
        verdict=max(advice.verdict, worst, key=VERDICTS.index),
        eye_verdict=max(advice.eye_verdict, worst, key=VERDICTS.index),
        reasons=tuple(reasons),
        would_change=_each_once(advice.would_change, (rule.change for rule in steps)),
        examine_first=_each_once(advice.examine_first, (rule.do for rule in steps)),
    )


def _each_once(before, sentences):
    """Those before, then each new one as of the other eye."""
    added = (f"{OTHER_EYE}{sentence}" for sentence in sentences if sentence)
    return tuple(dict.fromkeys([*before, *added]))


def _advice(plan, values, **of_plan):
    values = dict.fromkeys(PLANS, UNKNOWN) | values | of_plan
    return advise(book().plans, values, (plan,))[0]


def _near_eye(dominance, near_is_this):
    if dominance == UNKNOWN or dominance == "neither clearly":
        return dominance
    return "dominant" if (dominance == "this eye") == near_is_this else "not dominant"


def _hold_patient(patient):
    require_instance("patient", patient, Patient, "a Patient; findings.from_dict makes one")


def _one_target(name, value):
    target = require(name, value, *TARGET_RANGE_D, hint="Myopia is negative.")
    if target.ndim:
        raise ValueError(f"{name} holds {target.size} numbers; a plan has one.")
    return float(target)
