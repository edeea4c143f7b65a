"""A clinic day: invented patients with biometry, findings and wishes, easy to treacherous.

Easy cases are healthy eyes with wishes that a lens can meet. Borderline cases lie just on one side
of a prompt of the rules. Traps come from ``traps.toml``; each is named for the instructor.
"""

import tomllib
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np

from shared_utils.choice.findings import FINDINGS, UNKNOWN, WISHES, Patient, otherwise_healthy
from shared_utils.choice.rules import book
from shared_utils.clinic import cohort
from shared_utils.optics.domain import require, require_one_of
from shared_utils.power.biometry import Eye

FILE = Path(__file__).parent / "traps.toml"

KINDS = {"easy": 0.4, "borderline": 0.3, "trap": 0.3}
"""Kinds of case and their share of a day: assumed."""

MAX_PATIENTS = 200

_EASY_WISHES = {
    "glasses": ("accepts some", "content with glasses", "wants none"),
    "near_work": ("little", "daily"),
    "screen_work": ("little", "daily", "hours a day"),
    "night_driving": ("never", "sometimes"),
}
_FROM_EYE = ("mean_k_d", "corneal_astigmatism_d")  # a patient takes them from the biometry
_FLAT_K_D = 38.2  # after laser for myopia


@dataclass(frozen=True)
class Visit:
    """One patient of the day.

    Attributes
    ----------
    patient : findings.Patient
    age_years : int
    kind : str
        "easy", "borderline" or "trap".
    point : str
        For the instructor: what the case is about, the trap's name or the prompt's.
    says : str
        For the instructor: what to say about it.
    tempting : str
        The class that a hurried reader of a trap would choose; empty for other cases.
    """

    patient: Patient
    age_years: int
    kind: str
    point: str
    says: str
    tempting: str = ""


def invent(n: int, seed: int, kind: str | None = None) -> tuple[Visit, ...]:
    """Return the patients of an invented clinic day, the same for the same seed.

    A longer day of the same seed begins with the shorter one.

    Parameters
    ----------
    n : int
        Patients, 1 to 200.
    seed : int
        0 or more.
    kind : str, optional
        "easy", "borderline" or "trap" only; a mixture unless given.

    Returns
    -------
    tuple of Visit

    Raises
    ------
    ValueError
        Naming the value and the range.

    Examples
    --------
    >>> day = invent(12, seed=1)
    >>> day[0].patient.label, sorted({visit.kind for visit in day})
    ('D001', ['borderline', 'easy', 'trap'])
    """
    n = _whole("n", n, 1, MAX_PATIENTS, hint="The number of patients.")
    seed = _whole("seed", seed, 0, 2**63, hint="Any whole number; the same gives the same day.")
    if kind is not None:
        require_one_of("kind", kind, KINDS)
    eyes = _quiet_eyes(seed)
    order = _shuffled(len(traps()), seed)  # no trap comes twice before all have come
    met, visits = 0, []
    for number in range(n):
        draw = np.random.default_rng([seed, number])
        mixed = str(draw.choice(list(KINDS), p=list(KINDS.values())))
        this = mixed if kind is None else kind
        eye, age_years = eyes[number]
        label = f"D{number + 1:03d}"
        if this == "trap":
            trap = traps()[order[met % len(order)]]
            met += 1
            visits.append(_trapped(trap, eye, age_years, label))
        elif this == "borderline":
            visits.append(_borderline(draw, eye, age_years, label))
        else:
            visits.append(_easy(draw, eye, age_years, label))
    return tuple(visits)


@cache
def traps() -> tuple[dict, ...]:
    """Return the traps of ``traps.toml``, each a dictionary as there.

    Returns
    -------
    tuple of dict

    Examples
    --------
    >>> "dry eye before the measurements" in [trap["name"] for trap in traps()]
    True
    """
    return tuple(tomllib.loads(FILE.read_text(encoding="utf-8"))["trap"])


def _whole(name, value, low, high, hint):
    number = require(name, value, low, high, hint=hint)
    if number.ndim or number % 1:
        raise ValueError(f"{name} is not one whole number; give {low} to {high}. {hint}")
    return int(number)


def _easy(draw, eye, age_years, label):
    wishes = {name: str(draw.choice(grades)) for name, grades in _EASY_WISHES.items()}
    patient = _patient({}, wishes, eye, label)
    says = "Nothing in the eye speaks against any class: let the wishes decide."
    return Visit(patient, age_years, "easy", "a healthy eye", says)


def _borderline(draw, eye, age_years, label):
    """A healthy eye but for one measurement beside a threshold."""
    near = [t for t in book().thresholds if t.name in FINDINGS and t.name not in _FROM_EYE]
    threshold = near[int(draw.integers(len(near)))]
    kind = FINDINGS[threshold.name]
    step = 10.0**-kind.digits
    steps = round(kind.near / step)
    value = threshold.at + step * int(draw.integers(-steps, steps + 1))
    value = round(min(max(value, kind.low), kind.high), kind.digits)
    patient = _patient({threshold.name: value}, {}, eye, label)
    says = f"{threshold.sentence(value)} Ask what the learner would measure again, and why."
    return Visit(patient, age_years, "borderline", kind.title, says)


def _trapped(trap, eye, age_years, label):
    if trap.get("flat_cornea"):
        eye = Eye(
            **vars(eye) | {"k1_d": _FLAT_K_D, "k2_d": _FLAT_K_D + 0.4, "axial_length_mm": 26.4}
        )
    findings = trap["findings"] | dict.fromkeys(trap.get("unknown", ()), UNKNOWN)
    if "corneal_astigmatism_d" in findings:
        eye = Eye(**vars(eye) | {"k2_d": round(eye.k1_d + findings["corneal_astigmatism_d"], 2)})
    patient = _patient(findings, trap["wishes"], eye, label)
    return Visit(patient, age_years, "trap", trap["name"], trap["says"], trap["tempting"])


def _patient(findings, wishes, eye, label):
    """A healthy patient but for what is given, keratometry and astigmatism as the eye has them."""
    healthy = otherwise_healthy(findings, wishes)
    found = {name: healthy.values[name] for name in FINDINGS if name not in _FROM_EYE}
    wished = {name: healthy.values[name] for name in WISHES}
    return Patient(found, wished, eye, label)


@cache
def _quiet_eyes(seed):
    """Eyes of the cohort whose biometry raises no question, with ages."""
    whole = cohort.invent(60 * MAX_PATIENTS, seed)
    eye = whole.eye
    quiet = (
        (np.abs(eye.axial_length_mm - 23.5) < 1.5)
        & (eye.k1_d > 41.0)
        & (eye.k2_d < 44.5)
        & (eye.k2_d - eye.k1_d < 0.34)
    )
    places = np.flatnonzero(quiet)[:MAX_PATIENTS]
    eyes = [Eye(**{n: float(v[place]) for n, v in vars(eye).items()}) for place in places]
    return tuple(zip(eyes, whole.age_years[places].astype(int).tolist(), strict=True))


def _shuffled(count, seed):
    return np.random.default_rng([seed, MAX_PATIENTS]).permutation(count).tolist()
