"""An invented patient: what was found, what is wished, what was measured.

The words for it are those of ``vocabulary``. Unknown is a value of its own, never taken for normal.
"""

import difflib
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from shared_utils.choice.vocabulary import FINDINGS, UNKNOWN, VOCABULARY, WISHES
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


@dataclass(frozen=True)
class Patient:
    """An invented patient: what was found, what is wished, what was measured.

    Parameters
    ----------
    findings, wishes : dict
        Name to grade or number, as in ``FINDINGS`` and ``WISHES``; what is left out is unknown.
    eye : biometry.Eye, optional
        One eye. Keratometry and astigmatism left out of the findings are taken from it.
    label : str
        What to call the patient.

    Attributes
    ----------
    values : dict
        Every finding and wish by name, ``UNKNOWN`` where nothing is known.

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
    values: dict = field(init=False, repr=False, compare=False)

    def __post_init__(self):
        values = dict.fromkeys(VOCABULARY, UNKNOWN)
        wrong = []
        for part, kinds in (("findings", FINDINGS), ("wishes", WISHES)):
            checked, sentences = _checked(part, getattr(self, part), kinds)
            wrong += sentences
            object.__setattr__(self, part, checked)
            values |= checked
        if not isinstance(self.label, str) or not self.label.strip():
            wrong.append("label is no text; give a name for the invented patient.")
        if self.eye is not None:
            sentence = _why_not_one_eye(self.eye)
            if sentence:
                wrong.append(sentence)
            else:
                wrong += _other_k(values["mean_k_d"], self.eye)
                _fill_from_eye(values, self.eye)
        day, night = values["photopic_pupil_mm"], values["scotopic_pupil_mm"]
        if UNKNOWN not in (day, night) and day > night:
            wrong.append(
                f"photopic_pupil_mm is {day:g} mm, wider than scotopic_pupil_mm, {night:g} mm; "
                "the pupil is wider in the dark: exchange them?"
            )
        if wrong:
            raise ValueError(" ".join(wrong))
        object.__setattr__(self, "values", values)


def from_dict(data: dict[str, Any]) -> Patient:
    """Return the patient that a dictionary describes, as read from TOML or JSON.

    Parameters
    ----------
    data : dict
        Any of the keys ``label``, ``findings``, ``wishes`` and ``biometry``; the last holds the
        fields of ``biometry.Eye``.

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
        raise ValueError(
            "A patient is a dictionary with any of the keys label, findings, wishes, biometry."
        )
    wrong = [
        _no_such("A patient", key, ("label", "findings", "wishes", "biometry"))
        for key in data
        if key not in ("label", "findings", "wishes", "biometry")
    ]
    eye = None
    if "biometry" in data:
        try:
            eye = _eye_from(data["biometry"])
        except ValueError as error:
            wrong.append(str(error))
    parts = {key: data[key] for key in ("label", "findings", "wishes") if key in data}
    try:
        patient = Patient(eye=eye, **parts)
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
        Where one pupil only is given, the other is chosen so that the two go together.

    Raises
    ------
    ValueError
        As ``Patient``.

    Examples
    --------
    >>> otherwise_healthy({"glaucoma": "mild"}).values["dry_eye"]
    'none'
    """
    healthy = {name: kind.best for name, kind in FINDINGS.items()}
    easy = {name: kind.best for name, kind in WISHES.items()} | {"glasses": "accepts some"}
    findings, wishes = ({} if part is None else part for part in (findings, wishes))
    if not (isinstance(findings, Mapping) and isinstance(wishes, Mapping)):
        raise ValueError("findings and wishes are dictionaries: names, a grade or number each.")
    day, night = (findings.get(name) for name in ("photopic_pupil_mm", "scotopic_pupil_mm"))
    if day is None and isinstance(night, (int, float)):
        healthy["photopic_pupil_mm"] = min(healthy["photopic_pupil_mm"], night)
    if night is None and isinstance(day, (int, float)):
        healthy["scotopic_pupil_mm"] = max(healthy["scotopic_pupil_mm"], day)
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
        if other != part and isinstance(name, str) and name in kinds:
            return f"{part} has no {name!r}; it belongs to {other}."
    shown = " ".join(repr(name).split())[:40]
    close = difflib.get_close_matches(str(name)[:60], known, n=1)
    if close:
        return f"{part} has no {shown}; did you mean {close[0]!r}?"
    return (
        f"{part} has no {shown}; leave it out, or look its name up in shared_utils.choice.findings."
    )


def _eye_from(biometry):
    fields = tuple(Eye.__dataclass_fields__)
    if not isinstance(biometry, Mapping):
        raise ValueError("biometry is not a dictionary; give axial_length_mm and k1_d at least.")
    strange = [name for name in biometry if name not in fields]
    if strange:
        raise ValueError(" ".join(_no_such("biometry", name, fields) for name in strange))
    lacking = [name for name in ("axial_length_mm", "k1_d") if name not in biometry]
    if lacking:
        raise ValueError(f"biometry lacks {' and '.join(lacking)}; give it, or leave biometry out.")
    return Eye(**biometry)


def _why_not_one_eye(eye):
    if not isinstance(eye, Eye):
        return "eye is no measured eye; give a shared_utils.power.biometry.Eye or leave it out."
    numbers = [getattr(eye, name) for name in Eye.__dataclass_fields__]
    if any(np.ndim(number) for number in numbers if number is not None):
        return "biometry holds more than one eye; give one number for each measurement."
    return ""


def _other_k(mean_k_d, eye):
    """A sentence, in a list, where the findings have another keratometry than the eye."""
    if mean_k_d == UNKNOWN or abs(mean_k_d - eye.mean_k_d) <= MAX_K_CONTRADICTION_D:
        return []
    return [
        f"mean_k_d is {mean_k_d:g} D and the biometry has {eye.mean_k_d:g} D, more than "
        f"{MAX_K_CONTRADICTION_D:g} D apart; leave mean_k_d out, or correct the wrong one."
    ]


def _fill_from_eye(values, eye):
    if values["mean_k_d"] == UNKNOWN:
        values["mean_k_d"] = eye.mean_k_d
    if values["corneal_astigmatism_d"] == UNKNOWN and eye.k2_d is not None:
        values["corneal_astigmatism_d"] = min(abs(eye.k2_d - eye.k1_d), 15.0)
