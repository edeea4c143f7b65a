"""What may be planned besides a class of lens: one eye for near, a toric lens. As ``candidacy``.

The worst effect of the rules that fire is the verdict. Their rules are the blocks ``plan_rule`` of
``rules.toml``; beside findings and wishes they read what the plan has (``vocabulary.PLANS``).

Sources
-------
Beside each rule. That a difference of less than 0.75 D between the eyes is no monovision: common
practice, no source.
"""

from __future__ import annotations

from shared_utils.choice.candidacy import Advice, advise
from shared_utils.choice.findings import Patient
from shared_utils.choice.rules import book
from shared_utils.choice.tasks import TARGET_RANGE_D
from shared_utils.choice.vocabulary import PLANS, UNKNOWN
from shared_utils.optics.domain import require, require_instance

MONOVISION_FROM_D = 0.75
"""Difference between the eyes from which a plan counts as monovision."""


def assess_monovision(patient: Patient, target_d: float, fellow_target_d: float) -> Advice | None:
    """Return what the rules say of setting one eye for near and the other for far.

    Parameters
    ----------
    patient : findings.Patient
    target_d : float
        Refraction aimed at in the patient's eye, −4 to 2 D; myopia negative.
    fellow_target_d : float
        That of the other eye.

    Returns
    -------
    candidacy.Advice or None
        Its ``lens_class`` is "monovision"; None where the eyes differ by less than 0.75 D.

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
    """
    _hold_patient(patient)
    one, other = (
        _one_target(name, value)
        for name, value in (("target_d", target_d), ("fellow_target_d", fellow_target_d))
    )
    difference_d = abs(one - other)
    if difference_d < MONOVISION_FROM_D - 1e-9:
        return None
    return _advice(
        "monovision",
        patient.values,
        far_target_d=max(one, other),
        near_target_d=min(one, other),
        interocular_difference_d=difference_d,
        near_eye=_near_eye(patient.values["dominance"], near_is_this=one < other),
    )


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
