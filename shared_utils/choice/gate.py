"""The gate before every lens power: shown, shown with named warnings, or withheld.

Withheld comes with the reason and with what to do first. What the gate says is data, in
``gate.toml``, whose head says what an entry is made of; the limits for measuring again are those of
``power.biometry.screening``. Unknown is never taken for normal, and a finding that gets worse never
makes the outcome lighter.

Sources
-------
Beside each entry, in ``gate.toml``.
"""

from __future__ import annotations

import math
import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from shared_utils.choice.findings import Patient
from shared_utils.choice.rules import COMPARISONS, STRENGTHS
from shared_utils.choice.vocabulary import FINDINGS, UNKNOWN, Graded
from shared_utils.optics.domain import require_instance, require_one, shown, unit_of
from shared_utils.power import biometry
from shared_utils.power.formulas import iol_power
from shared_utils.power.lens_constants import LensConstants

if TYPE_CHECKING:
    from shared_utils.power.biometry import Eye

FILE = Path(__file__).parent / "gate.toml"

WARNED, WITHHELD = "warned", "withheld"

OUTCOMES = ("shown", "shown with warnings", "withheld")
"""What may become of a power, from best to worst."""

AFFECTS = ("keratometry", "axial length", "lens position", "refraction")

MEASUREMENTS = (
    "axial_length_mm",
    "mean_k_d",
    "k_difference_d",
    "acd_mm",
    "lens_thickness_mm",
    "white_to_white_mm",
    "srk_t_power_d",
    "a_constant",
    "target_d",
    "length_between_eyes_mm",
    "k_between_eyes_d",
)
"""Numbers that an entry may ask for, besides the findings; the last two are differences from the
other eye, 0 where the refractions of both explain them."""

PER_MM_D, EXPLAINED_D = 2.5, 0.5
"""What a millimetre of length changes the refraction by, and how near the refractions must come to
explain a difference of the eyes: common practice, no source."""

OPTIONAL_FINDINGS = ("corneal_graft", "contact_lens_wear", "vitrectomy", "retinal_history")
"""Findings that an entry may name before the vocabulary holds them."""

SCREENED = {
    "short_or_long": ("axial length", "unusual length"),
    "flat_or_steep": ("keratometry", "unusual keratometry"),
}
SCREENING_SOURCE = (
    "Holladay et al., J Cataract Refract Surg 1988;14:17 (abstract read; the limits not in it)"
)


@dataclass(frozen=True)
class Entry:
    """One thing the gate says.

    Attributes
    ----------
    key, topic, title : str
        Its own name, what it is about, and the warning's name.
    outcome : str
        "warned" or "withheld".
    affects : str
        What becomes uncertain, one of ``AFFECTS``.
    reason, do : str
        Why, and what comes first: one sentence each.
    source, strength : str
    when : dict
        Name to a tuple of grades or a dictionary of comparisons; all must hold.
    adds_sd_d : float
        What it adds to the spread of the prediction, D, in quadrature; 0 if nothing.
    adds_source : str
        Where that comes from.
    """

    key: str
    topic: str
    title: str
    outcome: str
    affects: str
    reason: str
    do: str
    source: str
    strength: str
    when: dict
    adds_sd_d: float = 0.0
    adds_source: str = "assumed"

    @property
    def of_the_unknown(self) -> bool:
        """Whether it only says that something is not known."""
        conditions = list(self.when.values())
        unknown = bool(conditions) and all(asked == (UNKNOWN,) for asked in conditions)
        return self.outcome == WARNED and unknown

    def holds(self, values: Mapping) -> bool:
        """Return whether it holds for these findings and measurements."""
        return all(_holds(name, values.get(name), asked) for name, asked in self.when.items())

    def __str__(self):
        return f"{self.title}: {self.reason} First: {self.do}"


@dataclass(frozen=True)
class Gate:
    """What the gate says of the power for one eye.

    Attributes
    ----------
    entries : tuple of Entry
        What holds, the heaviest of each topic, withheld before warned.
    """

    entries: tuple

    @property
    def outcome(self) -> str:
        """One of ``OUTCOMES``."""
        if self.withheld:
            return "withheld"
        return "shown with warnings" if self.entries else "shown"

    @property
    def withheld(self) -> tuple[Entry, ...]:
        """Return the entries because of which no power is shown."""
        return tuple(entry for entry in self.entries if entry.outcome == WITHHELD)

    @property
    def warnings(self) -> tuple[Entry, ...]:
        """Return the entries that are named beside a power."""
        return tuple(entry for entry in self.entries if entry.outcome == WARNED)

    @property
    def named_warnings(self) -> tuple[Entry, ...]:
        """Return the warnings of what was found or measured."""
        return tuple(entry for entry in self.warnings if not entry.of_the_unknown)

    @property
    def not_known(self) -> tuple[Entry, ...]:
        """Return the warnings that only say that something is not known."""
        return tuple(entry for entry in self.warnings if entry.of_the_unknown)

    @property
    def keratometry_holds(self) -> bool:
        """Whether nothing because of which a power is withheld lies in the keratometry."""
        return not any(entry.affects == "keratometry" for entry in self.withheld)

    @property
    def unsure(self) -> tuple[Entry, ...]:
        """Return the entries that widen the spread of the prediction, the most first."""
        found = [entry for entry in self.entries if entry.adds_sd_d]
        return tuple(sorted(found, key=lambda entry: -entry.adds_sd_d))

    @property
    def adds_sd_d(self) -> float:
        """Return what all entries add to the spread, D, in quadrature as if independent."""
        return math.hypot(*(entry.adds_sd_d for entry in self.entries))

    def widened(self, sd_d: float) -> float:
        """Return the spread of a prediction with what the entries add to it.

        Parameters
        ----------
        sd_d : float
            Spread of an eye without any of them, D, 0 or more.

        Returns
        -------
        float
            D: the root of the sum of squares.

        Raises
        ------
        ValueError
            If it is negative or no number.

        Examples
        --------
        >>> found = check(findings={"vitrectomy": "oil"})
        >>> round(found.adds_sd_d, 2), round(found.widened(0.6), 2)
        (0.8, 1.0)
        """
        return math.hypot(float(require_one("sd_d", sd_d, 0.0, 20.0)), self.adds_sd_d)

    def require_shown(self) -> None:
        """Raise if no power may be shown.

        Raises
        ------
        ValueError
            With the first reason and what comes first.
        """
        for entry in self.withheld:
            raise ValueError(f"No power is shown, {entry}")

    def __str__(self):
        return "\n".join([f"Gate: {self.outcome}.", *(f"{e.outcome}, {e}" for e in self.entries)])


def check(
    eye: Eye | None = None,
    findings: Mapping | None = None,
    a_constant: float | None = None,
    target_d: float | None = None,
    fellow_eye: Eye | None = None,
) -> Gate:
    """Return what the gate says of the lens power for one eye.

    Parameters
    ----------
    eye : biometry.Eye, optional
        One measured eye; without it, the findings alone count.
    findings : mapping, optional
        Name to grade or number, as in ``vocabulary.FINDINGS``; what is left out is unknown.
    a_constant : float, optional
        Of the lens, 110 to 125.
    target_d : float, optional
        Refraction wanted, D; myopia negative.
    fellow_eye : biometry.Eye, optional
        The other eye of the person, to compare with.

    Returns
    -------
    Gate

    Raises
    ------
    ValueError
        If the eye is not one eye, or a finding has no such grade.

    Sources
    -------
    Beside each entry, in ``gate.toml``.

    Examples
    --------
    >>> from shared_utils.power.biometry import Eye
    >>> found = check(Eye(24.0, 50.5, 52.0), {"ectasia": "manifest", "corneal_surgery": "none"})
    >>> found.outcome, found.withheld[0].title
    ('withheld', 'keratoconus or another ectasia')
    """
    findings = {} if findings is None else findings
    require_instance("findings", findings, Mapping, "a dictionary of names and grades")
    values = dict.fromkeys(FINDINGS, UNKNOWN) | {
        name: FINDINGS[name].check(value) for name, value in findings.items() if _is_finding(name)
    }
    if eye is not None:
        biometry.require_eye("eye", eye)
        if eye.shape:
            raise ValueError("eye holds more than one eye; the gate looks at one at a time.")
        values |= _measured(eye)
    if fellow_eye is not None:
        biometry.require_eye("fellow_eye", fellow_eye)
        if fellow_eye.shape:
            raise ValueError("fellow_eye holds more than one eye; the gate compares two.")
    if eye is not None and fellow_eye is not None:
        values |= _between(eye, fellow_eye, values)
    if target_d is not None:
        values["target_d"] = float(require_one("target_d", target_d))
    if a_constant is not None:
        values["a_constant"] = float(require_one("a_constant", a_constant))
    if eye is not None and a_constant is not None:
        values["srk_t_power_d"] = _srk_t(eye, values["a_constant"], values.get("target_d", 0.0))
    found = _screened(eye) if eye is not None else []
    found += [entry for entry in entries() if entry.holds(values)]
    heaviest: dict[str, Entry] = {}
    for entry in found:
        before = heaviest.get(entry.topic)
        if before is None or before.outcome == WARNED or entry.outcome == WITHHELD:
            heaviest[entry.topic] = entry
    widest = {
        topic: max((e for e in found if e.topic == topic), key=lambda e: e.adds_sd_d)
        for topic in heaviest
    }
    widened = [
        replace(entry, adds_sd_d=widest[topic].adds_sd_d, adds_source=widest[topic].adds_source)
        for topic, entry in heaviest.items()
    ]
    ordered = sorted(widened, key=lambda entry: (entry.outcome == WARNED, entry.of_the_unknown))
    return Gate(tuple(_filled(entry, values) for entry in ordered))


def of_patient(
    patient: Patient, a_constant: float | None = None, target_d: float | None = None
) -> Gate:
    """Return what the gate says of the lens power for a patient's eye.

    Parameters
    ----------
    patient : findings.Patient
    a_constant : float, optional
        Of the lens, 110 to 125.
    target_d : float, optional
        Refraction wanted, D; myopia negative.

    Returns
    -------
    Gate

    Raises
    ------
    ValueError
        If it is not given a patient.

    Examples
    --------
    >>> from shared_utils.choice.findings import otherwise_healthy
    >>> of_patient(otherwise_healthy()).outcome
    'shown'
    >>> of_patient(otherwise_healthy({"macular_oedema": "at the centre"})).outcome
    'withheld'
    """
    require_instance("patient", patient, Patient, "a Patient, such as Patient({})")
    found = {name: value for name, value in patient.values.items() if name in FINDINGS}
    return check(patient.eye, found, a_constant, target_d, patient.fellow_biometry)


@cache
def entries() -> tuple[Entry, ...]:
    """Return what the gate can say, read once, in the order of the file.

    Returns
    -------
    tuple of Entry

    Examples
    --------
    >>> all(entry.source and entry.do for entry in entries())
    True
    """
    return read(FILE.read_text(encoding="utf-8"))


def read(text: str) -> tuple[Entry, ...]:
    """Return the entries that a text in TOML holds.

    Parameters
    ----------
    text : str
        As ``gate.toml``, whose head says what an entry is made of.

    Returns
    -------
    tuple of Entry

    Raises
    ------
    ValueError
        One sentence that names the entry and what is wrong with it.

    Examples
    --------
    >>> read('[[entry]]\\nkey = "long eye"')
    Traceback (most recent call last):
    ValueError: Gate entry 'long eye' lacks topic, title, outcome, affects, reason, do, source,
    strength, when.
    """
    require_instance("text", text, str, "the entries as TOML")
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise ValueError(f"The gate is no TOML: {error}.") from error
    found = tuple(_entry(given) for given in data.get("entry", ()))
    keys = [entry.key for entry in found]
    for key in keys:
        _hold(keys.count(key) == 1, key, "stands twice; rename one")
    return found


def _entry(given):
    key = given.get("key", "?")
    fields = Entry.__dataclass_fields__
    optional = ("adds_sd_d", "adds_source")
    lacking = [part for part in fields if part not in optional and not given.get(part)]
    _hold(not lacking, key, f"lacks {', '.join(lacking)}")
    strange = [part for part in given if part not in fields]
    _hold(not strange, key, f"has {', '.join(strange)}, which no entry has")
    for part, allowed in (
        ("outcome", (WARNED, WITHHELD)),
        ("affects", AFFECTS),
        ("strength", STRENGTHS),
    ):
        _hold(given[part] in allowed, key, f"has {part} {given[part]!r}; give one of {allowed}")
    adds = given.get("adds_sd_d", 0.0)
    number = isinstance(adds, (int, float)) and not isinstance(adds, bool) and 0.0 <= adds <= 5.0
    _hold(number, key, f"has adds_sd_d = {adds!r}; give 0 to 5 D")
    _hold("adds_source" not in given or adds > 0.0, key, "has adds_source and adds nothing")
    when = {name: _condition(key, name, asked) for name, asked in given["when"].items()}
    for name in re.findall(r"{(\w+)}", given["reason"]):
        _hold(name in when, key, f"shows {name}, for which it sets no condition")
    return Entry(**given | {"when": when})


def _condition(key, name, asked):
    known = name in FINDINGS or name in MEASUREMENTS or name in OPTIONAL_FINDINGS
    _hold(known, key, f"asks for {name!r}, which is neither a finding nor a measurement")
    if isinstance(asked, dict):
        words = bool(asked) and set(asked) <= set(COMPARISONS)
        _hold(words, key, f"compares {name} by {asked}; give {', '.join(COMPARISONS)}")
        return asked
    grades = tuple(asked) if isinstance(asked, list) else (asked,)
    kind = FINDINGS.get(name)
    if kind is None and name in OPTIONAL_FINDINGS:
        return grades
    allowed = (*kind.grades, UNKNOWN) if isinstance(kind, Graded) else (UNKNOWN,)
    for grade in grades:
        _hold(grade in allowed, key, f"{name} has no grade {grade!r}")
    return grades


def _hold(so, key, otherwise):
    if not so:
        raise ValueError(f"Gate entry {key!r} {otherwise}.")


def _holds(name, value, asked):
    if isinstance(asked, tuple):
        return value in asked
    if value is None or value == UNKNOWN:
        return False
    return all(COMPARISONS[word](value, at) for word, at in asked.items())


def _is_finding(name):
    if name not in FINDINGS:
        raise ValueError(f"findings has no {shown(name)}; give names as in the vocabulary.")
    return True


def _measured(eye):
    numbers = {
        name: getattr(eye, name)
        for name in ("axial_length_mm", "acd_mm", "lens_thickness_mm", "white_to_white_mm")
    }
    numbers["mean_k_d"] = eye.mean_k_d
    # a hair less, for 43.6 − 41.1 is a hair more than 2.5
    numbers["k_difference_d"] = 0.0 if eye.k2_d is None else abs(eye.k2_d - eye.k1_d) - 1e-9
    return {name: float(value) for name, value in numbers.items() if value is not None}


def _between(eye, fellow, values):
    """How far the two eyes are apart, 0 as far as their refractions explain it."""
    length_mm = float(eye.axial_length_mm - fellow.axial_length_mm)
    k_d = float(eye.mean_k_d - fellow.mean_k_d)
    one_d, other_d = values["refraction_d"], values["fellow_refraction_d"]
    if UNKNOWN not in (one_d, other_d):
        expected_d = -PER_MM_D * length_mm - k_d
        if abs(one_d - other_d - expected_d) <= EXPLAINED_D:
            length_mm = k_d = 0.0
    # a hair less, for 23.8 − 23.5 is a hair more than 0.3
    return {
        "length_between_eyes_mm": abs(length_mm) - 1e-9,
        "k_between_eyes_d": abs(k_d) - 1e-9,
    }


def _srk_t(eye, a_constant, target_d):
    try:
        return float(iol_power(eye, "srk_t", LensConstants.from_a_constant(a_constant), target_d))
    except ValueError:
        return None  # whoever asks for the power is told why there is none


def _screened(eye):
    """The limits for measuring again, as entries of the gate."""
    return [
        Entry(
            finding.name,
            *SCREENED[finding.name],
            WARNED,
            AFFECTS[1] if finding.name == "short_or_long" else AFFECTS[0],
            f"{finding.advice.partition(':')[0]}.",
            f"{finding.advice.partition(': ')[2].capitalize()}",
            SCREENING_SOURCE,
            "study",
            {},
        )
        for finding in biometry.screening(eye)
        if np.any(finding.holds)
    ]


def _lightness(entry):
    return entry.outcome == WARNED, entry.of_the_unknown


def _filled(entry, values):
    names = re.findall(r"{(\w+)}", entry.reason)
    if not names:
        return entry
    texts = {name: f"{values[name]:.2f} {unit_of(name)}".rstrip() for name in names}
    texts = {name: text.replace("-", "−") for name, text in texts.items()}
    return replace(entry, reason=entry.reason.format(**texts))
