"""What two eyes do together: gain a little where both see alike, and see depth.

Sources
-------
Both eyes together: contrast sensitivity √2 times that of one, Campbell & Green, Nature
1965;208:191; acuity about a tenth better, 0.04 logMAR or a little more, Cagenello, Arditi &
Halpern, J Opt Soc Am A 1993;10:1841. No gain of a suppressed eye; from about 1.5 D of difference
on, the blurred eye is suppressed and depth is coarse; classes of stereoacuity: all from memory.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from shared_utils.choice.findings import Patient
from shared_utils.choice.vocabulary import UNKNOWN
from shared_utils.optics.domain import (
    broadcast,
    require,
    require_instance,
    require_one,
    unwrap_scalar,
)

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from shared_utils.optics.types import FloatOrArray

GAIN_LOGMAR = 0.05
"""What two equal eyes gain; it fades as they differ, and is gone where they differ by as much."""

SUPPRESSED_FROM_D = 1.5
REDUCED_FROM_D = 0.75

BLIND_LOGMAR = 1.0
"""From here on an eye does not help the other in any task listed here: 6/60, severe impairment
of sight in the international classification of diseases (from memory)."""

STEREO_ARCSEC = {"full": (0.0, 60.0), "reduced": (60.0, 200.0), "coarse": (200.0, 3000.0)}
"""Smallest depth that is told by two eyes, arc seconds: from memory."""

STEREO_LOGMAR = {"reduced": 0.2, "coarse": 0.4}
"""Acuity of the worse eye from which depth is no better than this: assumed."""


def together_logmar(
    one_logmar: ArrayLike, other_logmar: ArrayLike, gain_logmar: ArrayLike = GAIN_LOGMAR
) -> FloatOrArray:
    """Return the acuity of two eyes together: the better one, or a little more.

    Parameters
    ----------
    one_logmar, other_logmar : scalar or array
        Acuity of each eye, −0.3 to 3 logMAR.
    gain_logmar : scalar or array
        What two equal eyes gain, 0 to 0.15 logMAR.

    Returns
    -------
    float or array
        logMAR; a better eye never makes it worse.

    Sources
    -------
    The gain: Cagenello et al. 1993 (from memory). That it fades evenly as the eyes differ: assumed.

    Examples
    --------
    >>> round(together_logmar(0.10, 0.10), 2), together_logmar(0.10, 0.40)
    (0.05, 0.1)
    """
    one, other, gain = broadcast(
        one_logmar=require("one_logmar", one_logmar, -0.3, 3.0, hint="logMAR, not decimal."),
        other_logmar=require("other_logmar", other_logmar, -0.3, 3.0, hint="logMAR, not decimal."),
        gain_logmar=require("gain_logmar", gain_logmar, 0.0, 0.15),
    )
    return unwrap_scalar(np.asarray(together(one, other, gain)))


def together(one: np.ndarray, other: np.ndarray, gain: ArrayLike) -> np.ndarray:
    """Return the same as `together_logmar` without checks; infinite for an eye not counted."""
    return np.minimum(np.minimum(one, other), np.maximum(one, other) - gain)


def only_eye(patient: Patient) -> bool:
    """Return whether the other eye of a patient is of no help.

    Parameters
    ----------
    patient : findings.Patient

    Returns
    -------
    bool

    Examples
    --------
    >>> only_eye(Patient({"fellow_eye": "none or blind"})), only_eye(Patient())
    (True, False)
    """
    require_instance("patient", patient, Patient, "a Patient; findings.from_dict makes one")
    fellow = patient.values["fellow_potential_acuity_logmar"]
    blind = fellow != UNKNOWN and fellow >= BLIND_LOGMAR
    return patient.values["fellow_eye"] == "none or blind" or blind


def gain_of(patient: Patient, difference_d: float = 0.0) -> float:
    """Return what the two eyes of a patient gain together where both see alike.

    Parameters
    ----------
    patient : findings.Patient
    difference_d : float
        Between the refractions of the two eyes, 0 to 6 D.

    Returns
    -------
    float
        logMAR; 0 unless the eyes are known to be straight, and where one is deeply amblyopic, of
        no help, or suppressed.

    Examples
    --------
    >>> gain_of(Patient({"strabismus": "none"})), gain_of(Patient({"strabismus": "manifest"}))
    (0.05, 0.0)
    """
    difference_d = _difference(difference_d)
    if only_eye(patient) or difference_d >= SUPPRESSED_FROM_D:
        return 0.0
    straight = patient.values["strabismus"] in ("none", "phoria")
    return GAIN_LOGMAR if straight and "deep" not in _amblyopia(patient) else 0.0


@dataclass(frozen=True)
class Stereo:
    """Depth that a patient is expected to see with two eyes.

    Attributes
    ----------
    level : str
        "full", "reduced", "coarse", "none" or "not known".
    why : str
        What decides, in a few words.
    """

    level: str
    why: str

    def __str__(self):
        if self.level not in STEREO_ARCSEC:
            return f"Depth with two eyes: {self.level} ({self.why})."
        low, high = STEREO_ARCSEC[self.level]
        size = f"{low:.0f} to {high:.0f}" if self.level == "reduced" else f"up to {high:.0f}"
        size = f"worse than {low:.0f}" if self.level == "coarse" else size
        return f"Depth with two eyes: {self.level}, {size} arc seconds expected ({self.why})."


def stereo_of(patient: Patient, difference_d: float = 0.0) -> Stereo:
    """Return which class of depth a patient is expected to see with two eyes.

    Parameters
    ----------
    patient : findings.Patient
    difference_d : float
        Between the refractions of the two eyes, 0 to 6 D.

    Returns
    -------
    Stereo
        Never promised where an eye is of no help, deeply amblyopic or turned, nor where that is
        not known.

    Sources
    -------
    Above; from memory.

    Examples
    --------
    >>> print(stereo_of(Patient({"strabismus": "none", "amblyopia": "none"}), 1.25))
    Depth with two eyes: reduced, 60 to 200 arc seconds expected (1.25 D between the eyes).
    """
    difference_d = _difference(difference_d)
    if only_eye(patient):
        return Stereo("none", "one seeing eye")
    values, amblyopia = patient.values, _amblyopia(patient)
    if values["strabismus"] == "manifest":
        return Stereo("none", "strabismus")
    if "deep" in amblyopia:
        return Stereo("none", "deep amblyopia")
    if values["strabismus"] == UNKNOWN:
        return Stereo("not known", "strabismus not looked for")
    if set(amblyopia) == {UNKNOWN}:
        return Stereo("not known", "amblyopia not looked for")
    best = [values[f"{whose}potential_acuity_logmar"] for whose in ("", "fellow_")]
    worse = max((logmar for logmar in best if logmar != UNKNOWN), default=0.0)
    between = f"{difference_d:.2f} D between the eyes"
    found = [("full", "straight eyes, no amblyopia")]
    if "mild" in amblyopia:
        found.append(("reduced", "mild amblyopia"))
    if difference_d >= REDUCED_FROM_D:
        found.append(("coarse" if difference_d >= SUPPRESSED_FROM_D else "reduced", between))
    found += [
        (level, f"potential acuity of the worse eye {worse:.2f} logMAR")
        for level, limit in STEREO_LOGMAR.items()
        if worse >= limit
    ]
    return Stereo(*max(found, key=lambda each: list(STEREO_ARCSEC).index(each[0])))


def _amblyopia(patient):
    return [patient.values[f"{whose}amblyopia"] for whose in ("", "fellow_")]


def _difference(difference_d):
    return require_one("difference_d", difference_d, 0.0, 6.0, hint="Its size, without a sign.")
