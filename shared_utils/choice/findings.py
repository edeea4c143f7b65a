"""An invented patient: two eyes and a person. What was found, wished and measured.

The words for it are those of ``vocabulary``. Unknown is a value of its own, never taken for normal.
"""

from __future__ import annotations

import difflib
import itertools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from shared_utils.choice.everyday_tasks import TASK_NAMES, TASKS, Task
from shared_utils.choice.vocabulary import (
    EYE_FINDINGS,
    FINDINGS,
    MIRRORS,
    UNKNOWN,
    VOCABULARY,
    WISHES,
)
from shared_utils.optics.domain import require_one_of
from shared_utils.power.biometry import Eye

__all__ = [
    "FINDINGS",
    "UNKNOWN",
    "VOCABULARY",
    "WISHES",
    "Patient",
    "from_dict",
    "otherwise_healthy",
]

MAX_K_CONTRADICTION_D = 0.5
"""Mean keratometry of findings and biometry, of one eye, at most so far apart: common practice, no
source."""

CYLINDER_CONTRADICTION_D = 1.0
"""Astigmatism of findings and biometry, of one eye, less than so far apart: common practice, no
source."""

PUPILS = ("photopic_pupil_mm", "mesopic_pupil_mm", "scotopic_pupil_mm")
"""From the brightest light to the darkest, and so from narrow to wide."""

USUAL_WISHES = {
    "glasses": "accepts some",
    "spectacle_wear": "can wear them",
    "glasses_before": "for near only",
}
"""Of a patient with easy wishes, where the first grade is not the usual one."""

USUAL_FINDINGS = {"fellow_eye": "cataract"}
"""The same of findings: most have a cataract in both eyes, and each eye gets its lens in turn."""

HANGS_ON = {
    "ectasia_stage": "ectasia",
    "ectasia_course": "ectasia",
    "refractive_laser": "corneal_surgery",
}
"""Findings that say more of another one."""


@dataclass(frozen=True)
class Patient:
    """An invented patient: the eye to be operated on, the other eye, and the person.

    Parameters
    ----------
    findings, wishes : dict
        Name to grade or number, as in ``FINDINGS`` and ``WISHES``; what is left out is unknown.
    eye : biometry.Eye, optional
        The eye. Keratometry and astigmatism left out of the findings are taken from it.
    label : str
        What to call the patient.
    fellow_findings : dict
        Those of the other eye, as in ``EYE_FINDINGS``.
    fellow_biometry : biometry.Eye, optional
        The other eye as measured.
    tasks : sequence of str
        Names of the ``everyday_tasks`` that matter to the person; all of them unless given.

    Attributes
    ----------
    values : dict
        Every finding and wish by name, ``UNKNOWN`` where nothing is known.
    fellow_values : dict
        The same of the other eye: its own findings, and what is of the person.

    Raises
    ------
    ValueError
        One sentence for each field that cannot be used, all in one message.

    Examples
    --------
    >>> patient = Patient({"macular_degeneration": "early"}, {"night_driving": "often"})
    >>> patient.values["macular_degeneration"], patient.values["glaucoma"]
    ('early', 'unknown')
    >>> Patient({"chord_mu_mm": 6.0})
    Traceback (most recent call last):
    ValueError: chord_mu_mm is 6 mm; give 0 to 2 mm. The distance at the cornea in mm, not the
    angle in degrees. Leave it out if it was not measured.
    """

    findings: dict = field(default_factory=dict)
    wishes: dict = field(default_factory=dict)
    eye: Eye | None = None
    label: str = "invented patient"
    fellow_findings: dict = field(default_factory=dict)
    fellow_biometry: Eye | None = None
    tasks: tuple[str, ...] = TASK_NAMES
    values: dict = field(init=False, repr=False, compare=False)
    fellow_values: dict = field(init=False, repr=False, compare=False)

    def __post_init__(self):
        wrong: list[str] = []
        parts = (
            ("findings", FINDINGS),
            ("wishes", WISHES),
            ("fellow_findings", EYE_FINDINGS),
        )
        given = {}
        for part, kinds in parts:
            given[part], sentences = _checked(part, getattr(self, part), kinds)
            wrong += sentences
            object.__setattr__(self, part, given[part])
        values = dict.fromkeys(VOCABULARY, UNKNOWN) | given["findings"] | given["wishes"]
        of_person = {name: value for name, value in values.items() if name not in EYE_FINDINGS}
        fellow = dict.fromkeys(EYE_FINDINGS, UNKNOWN) | given["fellow_findings"]
        if not isinstance(self.label, str) or not self.label.strip():
            wrong.append("label is no text; give a name for the invented patient.")
        for name, eye, into in (
            ("eye", self.eye, values),
            ("fellow_biometry", self.fellow_biometry, fellow),
        ):
            sentence = "" if eye is None else _why_not_one_eye(name, eye)
            if sentence:
                wrong.append(sentence)
            elif eye is not None:
                wrong += _other_k(into["mean_k_d"], name, eye)
                wrong += _other_cylinder(into["corneal_astigmatism_d"], name, eye)
                _fill_from_eye(into, eye)
        wrong += _why_not_pupils(values, "") + _why_not_pupils(fellow, " of the other eye")
        wrong += _why_not_tasks(self.tasks)
        wrong += _mirror(values, fellow)
        if wrong:
            raise ValueError(" ".join(wrong))
        object.__setattr__(self, "tasks", tuple(dict.fromkeys(self.tasks)))
        object.__setattr__(self, "values", values)
        in_order = fellow | of_person
        in_order |= {name: values[own] for own, name in MIRRORS.items()}
        object.__setattr__(self, "fellow_values", {name: in_order[name] for name in VOCABULARY})

    @property
    def everyday_tasks(self) -> tuple[Task, ...]:
        """Return the everyday tasks that matter to the person, from far to near.

        Returns
        -------
        tuple of everyday_tasks.Task
        """
        return tuple(task for task in TASKS if task.name in self.tasks)

    @property
    def fellow_given(self) -> bool:
        """Return whether anything was examined or measured in the other eye itself.

        Returns
        -------
        bool
        """
        return bool(self.fellow_findings) or self.fellow_biometry is not None

    def exchanged(self) -> Patient:
        """Return the same person with the other eye as the one to be operated on.

        Returns
        -------
        Patient
            The first eye is then taken for one with a cataract, as it is here.

        Examples
        --------
        >>> found = {"dominance": "this eye", "amblyopia": "deep"}
        >>> other = Patient(found, fellow_findings={"amblyopia": "none"}).exchanged()
        >>> other.values["dominance"], other.values["amblyopia"]
        ('the other eye', 'none')
        >>> other.values["fellow_amblyopia"]
        'deep'
        """
        of_person = {n: v for n, v in self.findings.items() if n not in EYE_FINDINGS}
        for name in MIRRORS.values():
            of_person.pop(name, None)
        mirrored = {
            own: self.values[name] for own, name in MIRRORS.items() if self.values[name] != UNKNOWN
        }
        of_person |= {"fellow_eye": "cataract"}
        if "dominance" in of_person:
            sides = {"this eye": "the other eye", "the other eye": "this eye"}
            of_person["dominance"] = sides.get(of_person["dominance"], of_person["dominance"])
        return Patient(
            mirrored | self.fellow_findings | of_person,
            self.wishes,
            self.fellow_biometry,
            self.label,
            {name: value for name, value in self.findings.items() if name in EYE_FINDINGS},
            self.eye,
            self.tasks,
        )


PARTS = (
    *("label", "findings", "wishes", "biometry"),
    *("fellow_findings", "fellow_biometry", "tasks"),
)
"""Keys of a patient in a dictionary or a file."""


def from_dict(data: dict[str, Any]) -> Patient:
    """Return the patient that a dictionary describes, as read from TOML or JSON.

    Parameters
    ----------
    data : dict
        Any of the keys ``label``, ``findings``, ``wishes``, ``biometry``, ``fellow_findings``,
        ``fellow_biometry`` and ``tasks``; the biometries hold the fields of ``biometry.Eye``.

    Returns
    -------
    Patient

    Raises
    ------
    ValueError
        One sentence for each field that cannot be used, all in one message.

    Examples
    --------
    >>> patient = from_dict({"findings": {"dry_eye": "mild"}, "biometry": {
    ...     "axial_length_mm": 23.5, "k1_d": 43.0, "k2_d": 44.0}})
    >>> patient.values["mean_k_d"], patient.values["corneal_astigmatism_d"]
    (43.5, 1.0)
    >>> from_dict({"findings": {"dry_eyes": "mild"}})
    Traceback (most recent call last):
    ValueError: findings has no 'dry_eyes'; did you mean 'dry_eye'?
    """
    if not isinstance(data, Mapping):
        raise ValueError(f"A patient is a dictionary with any of the keys {', '.join(PARTS)}.")
    wrong = [_no_such("A patient", key, PARTS) for key in data if key not in PARTS]
    parts = {key: data[key] for key in PARTS if key in data}
    for key, name in (("biometry", "eye"), ("fellow_biometry", "fellow_biometry")):
        if key in parts:
            try:
                parts[name] = _eye_from(key, parts.pop(key))
            except ValueError as error:
                wrong.append(str(error))
    try:
        patient = Patient(**parts)
    except ValueError as error:
        wrong.append(str(error))
    if wrong:
        raise ValueError(" ".join(wrong))
    return patient


def otherwise_healthy(
    findings: dict[str, Any] | None = None,
    wishes: dict[str, Any] | None = None,
    label: str = "invented patient",
) -> Patient:
    """Return a patient in whom all that is not given is known and stands in no lens's way.

    Parameters
    ----------
    findings, wishes : dict, optional
        What differs from a healthy eye and an easy wish.
    label : str
        What to call the patient.

    Returns
    -------
    Patient
        Where some pupils only are given, the others are chosen so that all go together. What hangs
        on a finding that is not healthy, such as its stage, is unknown unless given.

    Raises
    ------
    ValueError
        As ``Patient``.

    Examples
    --------
    >>> otherwise_healthy({"glaucoma": "mild"}).values["dry_eye"]
    'none'
    """
    healthy = {name: kind.best for name, kind in FINDINGS.items()} | USUAL_FINDINGS
    easy = {name: kind.best for name, kind in WISHES.items()} | USUAL_WISHES
    findings, wishes = ({} if part is None else part for part in (findings, wishes))
    if not (isinstance(findings, Mapping) and isinstance(wishes, Mapping)):
        raise ValueError("findings and wishes are dictionaries: names, a grade or number each.")
    given = [findings.get(name) for name in PUPILS]
    numbers = [mm for mm in given if isinstance(mm, (int, float))]
    if numbers:
        for place, (name, mm) in enumerate(zip(PUPILS, given, strict=True)):
            wider = [m for m in given[place + 1 :] if isinstance(m, (int, float))]
            narrower = [m for m in given[:place] if isinstance(m, (int, float))]
            if mm is None:
                healthy[name] = min([healthy[name], *wider])
                healthy[name] = max([healthy[name], *narrower])
    for name, parent in HANGS_ON.items():
        if findings.get(parent, healthy[parent]) != healthy[parent]:
            healthy[name] = UNKNOWN
    return Patient(healthy | dict(findings), easy | dict(wishes), label=label)


def _checked(part, given, kinds):
    """The values that can be used, and a sentence for each of the others."""
    if not isinstance(given, Mapping):
        return {}, [f"{part} is not a dictionary; give names with a grade or a number each."]
    checked, wrong = {}, []
    for name, value in given.items():
        if name not in kinds:
            wrong.append(_no_such(part, name, kinds))
            continue
        try:
            checked[name] = kinds[name].check(value)
        except ValueError as error:
            wrong.append(str(error))
    return checked, wrong


def _no_such(part, name, known):
    for other, kinds in (("findings", FINDINGS), ("wishes", WISHES)):
        if part == "fellow_findings" and name in FINDINGS:
            return f"{part} has no {name!r}, which is of both eyes; it belongs to findings."
        if other != part and isinstance(name, str) and name in kinds:
            return f"{part} has no {name!r}; it belongs to {other}."
    shown = " ".join(repr(name).split())[:40]
    close = difflib.get_close_matches(str(name)[:60], known, n=1)
    if close:
        return f"{part} has no {shown}; did you mean {close[0]!r}?"
    return (
        f"{part} has no {shown}; leave it out, or look its name up in shared_utils.choice.findings."
    )


def _eye_from(key, biometry):
    fields = tuple(Eye.__dataclass_fields__)
    if not isinstance(biometry, Mapping):
        raise ValueError(f"{key} is not a dictionary; give axial_length_mm and k1_d at least.")
    strange = [name for name in biometry if name not in fields]
    if strange:
        raise ValueError(" ".join(_no_such(key, name, fields) for name in strange))
    lacking = [name for name in ("axial_length_mm", "k1_d") if name not in biometry]
    if lacking:
        raise ValueError(f"{key} lacks {' and '.join(lacking)}; give it, or leave {key} out.")
    return Eye(**biometry)


def _why_not_one_eye(name, eye):
    if not isinstance(eye, Eye):
        return f"{name} is no measured eye; give a shared_utils.power.biometry.Eye or leave it out."
    numbers = [getattr(eye, each) for each in Eye.__dataclass_fields__]
    if any(np.ndim(number) for number in numbers if number is not None):
        part = "biometry" if name == "eye" else name
        return f"{part} holds more than one eye; give one number for each measurement."
    return ""


def _why_not_pupils(values, whose):
    known = [(name, values[name]) for name in PUPILS if values[name] != UNKNOWN]
    return [
        f"{brighter} is {mm:g} mm{whose}, wider than {darker}, {wide:g} mm; "
        "the pupil is wider in the dark: exchange them?"
        for (brighter, mm), (darker, wide) in itertools.pairwise(known)
        if mm > wide
    ]


def _why_not_tasks(tasks):
    if isinstance(tasks, str) or not isinstance(tasks, Sequence) or not tasks:
        return ["tasks is no list of names; give some of the everyday tasks, or leave it out."]
    wrong = []
    for name in tasks:
        try:
            require_one_of("one of tasks", name, TASK_NAMES)
        except ValueError as error:
            wrong.append(str(error))
    return wrong


def _mirror(values, fellow):
    """Give both eyes' records the findings that stand in both; a sentence where they differ."""
    wrong = []
    for own, name in MIRRORS.items():
        if UNKNOWN not in (fellow[own], values[name]) and fellow[own] != values[name]:
            wrong.append(
                f"{name} is {values[name]} and {own} of fellow_findings is {fellow[own]}; "
                "the two are the same finding: give one."
            )
        known = fellow[own] if values[name] == UNKNOWN else values[name]
        fellow[own] = values[name] = known
    return wrong


def _other_k(mean_k_d, name, eye):
    """A sentence, in a list, where the findings have another keratometry than the eye."""
    if mean_k_d == UNKNOWN or abs(mean_k_d - eye.mean_k_d) <= MAX_K_CONTRADICTION_D:
        return []
    part = "the biometry" if name == "eye" else name
    return [
        f"mean_k_d is {mean_k_d:g} D and {part} has {eye.mean_k_d:g} D, more than "
        f"{MAX_K_CONTRADICTION_D:g} D apart; leave mean_k_d out, or correct the wrong one."
    ]


def _other_cylinder(corneal_astigmatism_d, name, eye):
    """The same where they have another astigmatism; of an eye with both meridians."""
    if corneal_astigmatism_d == UNKNOWN or eye.k2_d is None:
        return []
    measured_d = _cylinder_d(eye)
    if abs(corneal_astigmatism_d - measured_d) < CYLINDER_CONTRADICTION_D - 1e-9:
        return []
    part = "the biometry" if name == "eye" else name
    return [
        f"corneal_astigmatism_d is {corneal_astigmatism_d:g} D and {part} has {measured_d:g} D, "
        f"{CYLINDER_CONTRADICTION_D:g} D or more apart; leave corneal_astigmatism_d out, or "
        "correct the wrong one."
    ]


def _cylinder_d(eye):
    return min(abs(eye.k2_d - eye.k1_d), FINDINGS["corneal_astigmatism_d"].high)


def _fill_from_eye(values, eye):
    if values["mean_k_d"] == UNKNOWN:
        values["mean_k_d"] = eye.mean_k_d
    if values["corneal_astigmatism_d"] == UNKNOWN and eye.k2_d is not None:
        values["corneal_astigmatism_d"] = _cylinder_d(eye)
