"""The numbers of the range of focus: defocus curves, where they stay usable, two eyes together."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING

import numpy as np

from shared_utils.choice.tasks import BODY_SA_UM, LENS_OF
from shared_utils.optics import lenses, through_focus
from shared_utils.optics.through_focus import range_from_far_d, usable_stretches_d

if TYPE_CHECKING:
    from numpy import ndarray
    from numpy.typing import ArrayLike

    from shared_utils.optics.types import FloatOrArray

CURVE_D = np.linspace(3.5, -4.0, 121)  # an eye with a target of −2.5 D sees far at +2.5 D
SCREEN_D, PHONE_D = -1.0 / 0.66, -2.5
FAR_D = -1.0 / 6.0  # 6 m, where charts hang
LIMIT_LOGMAR = 0.2

# --- one curve ---------------------------------------------------------------------------------


@cache
def acuity_curve(lens_class: str, pupil_mm: float) -> ndarray:
    """Return predicted acuity at each of ``CURVE_D`` through the generic lens of a class.

    Parameters
    ----------
    lens_class : str
        As in `choice.tasks.LENS_OF`.
    pupil_mm : float
        Pupil diameter, 0.5 to 9 mm.

    Returns
    -------
    numpy.ndarray
        logMAR.
    """
    return np.asarray(through_focus.acuity_logmar(LENS_OF[lens_class], pupil_mm, CURVE_D))


@cache
def bifocal_curve(add_d: float, pupil_mm: float) -> ndarray:
    """Return predicted acuity at each of ``CURVE_D`` through a bifocal lens with another add.

    Parameters
    ----------
    add_d : float
        At the corneal plane, 0.25 to 6 D.
    pupil_mm : float
        Pupil diameter, 0.5 to 9 mm.

    Returns
    -------
    numpy.ndarray
        logMAR.
    """
    lens = lenses.diffractive_bifocal(add_d, lens_sa_um=BODY_SA_UM)
    return np.asarray(through_focus.acuity_logmar(lens, pupil_mm, CURVE_D))


def read_at(curve_logmar: ArrayLike, vergence_d: ArrayLike) -> FloatOrArray:
    """Return the acuity that a curve over ``CURVE_D`` has at a vergence.

    Parameters
    ----------
    curve_logmar : array
        A value for each of ``CURVE_D``.
    vergence_d : scalar or array
        Vergence of the object, D.

    Returns
    -------
    float or array
    """
    return np.interp(-np.asarray(vergence_d), -CURVE_D, np.asarray(curve_logmar))


def curve_of_target(
    curve_logmar: ArrayLike, target_d: float, vergence_d: ArrayLike = CURVE_D
) -> ndarray:
    """Return the defocus curve of an eye that is aimed nearer than far.

    Parameters
    ----------
    curve_logmar : array
        Of the eye aimed at far, a value for each of ``CURVE_D``.
    target_d : float
        Refraction that the eye is aimed at, −2.5 to 0 D.
    vergence_d : array
        Where the curve is wanted, D.

    Returns
    -------
    numpy.ndarray
        logMAR.

    Examples
    --------
    An eye of −1 D sees at 1 m as an eye of 0 D sees far.

    >>> curve_of_target(CURVE_D, -1.0, np.array([-1.0]))
    array([0.])
    """
    # an eye of refraction R sees vergence V as one without error sees V − R
    return np.asarray(
        read_at(curve_logmar, np.minimum(np.asarray(vergence_d) - target_d, CURVE_D[0]))
    )


PUPILS_MM = np.arange(2.0, 5.01, 0.5)


@dataclass(frozen=True)
class Curve:
    """A defocus curve and what is read off it."""

    lens_class: str
    pupil_mm: float
    limit_logmar: float
    logmar: np.ndarray
    parts: list

    @property
    def range_d(self) -> float:
        """Usable range from far without a gap, D."""
        return range_from_far_d(self.parts)

    def at(self, vergence_d: float) -> float:
        """Acuity at a vergence, logMAR."""
        return float(read_at(self.logmar, vergence_d))


def curve_of(lens_class: str, pupil_mm: float, limit_logmar: float = LIMIT_LOGMAR) -> Curve:
    """Return the defocus curve of a class of lens, and where it is good enough.

    Parameters
    ----------
    lens_class : str
        As in `choice.tasks.LENS_OF`.
    pupil_mm : float
        Pupil diameter, mm.
    limit_logmar : float
        Worst acuity that still counts.

    Returns
    -------
    Curve

    Examples
    --------
    >>> curve_of("monofocal", 2.0).range_d > curve_of("monofocal", 4.0).range_d
    True
    """
    logmar = acuity_curve(lens_class, round(float(pupil_mm), 2))
    return Curve(
        lens_class,
        pupil_mm,
        limit_logmar,
        logmar,
        usable_stretches_d(CURVE_D, logmar, limit_logmar),
    )


def compute_all() -> None:
    """Compute the curve of every lens and pupil once; they are kept."""
    for lens_class in LENS_OF:
        for pupil_mm in PUPILS_MM.tolist():
            acuity_curve(lens_class, pupil_mm)


# --- two eyes ----------------------------------------------------------------------------------

PAIR_D = np.linspace(1.0, -4.0, 81)


@dataclass(frozen=True)
class Pair:
    """Two eyes with the same lens: one aimed at far, one nearer."""

    lens_class: str
    pupil_mm: float
    target_d: float
    far_eye: np.ndarray
    near_eye: np.ndarray
    parts: list
    shared: list

    @property
    def both(self) -> np.ndarray:
        """The better eye at each place, logMAR."""
        return np.minimum(self.far_eye, self.near_eye)

    def at(self, vergence_d: float) -> float:
        """Acuity of the two eyes at a vergence, logMAR."""
        return float(np.interp(-vergence_d, -PAIR_D, self.both))

    @property
    def range_d(self) -> float:
        """Range from far without a gap, D."""
        return range_from_far_d(self.parts)

    @property
    def shared_d(self) -> float:
        """In how many dioptres of the range both eyes are good enough."""
        return sum(begun - end for begun, end in self.shared)


def two_eyes_with(target_d: float, pupil_mm: float, lens_class: str) -> Pair:
    """Return what two eyes see, one aimed at far and the other nearer.

    Parameters
    ----------
    target_d : float
        Refraction that the near eye is aimed at, D, 0 or negative.
    pupil_mm : float
        Pupil diameter, mm.
    lens_class : str
        As in `choice.tasks.LENS_OF`; the same in both eyes.

    Returns
    -------
    Pair

    Examples
    --------
    The near eye's curve is the far eye's, shifted by the target.

    >>> data = two_eyes_with(-1.25, 3.0, "monofocal")
    >>> bool(abs(data.near_eye[36] - data.far_eye[16]) < 1e-6), PAIR_D[36], PAIR_D[16]
    (True, np.float64(-1.25), np.float64(0.0))
    """
    curve = acuity_curve(lens_class, round(float(pupil_mm), 2))
    far_eye = read_at(curve, PAIR_D)
    near_eye = curve_of_target(curve, target_d, PAIR_D)
    return Pair(
        lens_class,
        pupil_mm,
        target_d,
        np.asarray(far_eye),
        near_eye,
        usable_stretches_d(PAIR_D, np.minimum(far_eye, near_eye), LIMIT_LOGMAR),
        usable_stretches_d(PAIR_D, np.maximum(far_eye, near_eye), LIMIT_LOGMAR),
    )


# --- steps of the worked example ---------------------------------------------------------------


def range_beyond_d(lens_class: str, pupil_mm: float, limit_logmar: float = LIMIT_LOGMAR) -> float:
    """Return how far the usable range of an eye reaches beyond far, into hyperopic blur.

    Parameters
    ----------
    lens_class : str
        As in `choice.tasks.LENS_OF`.
    pupil_mm : float
        Pupil diameter, mm.
    limit_logmar : float
        Worst acuity that still counts.

    Returns
    -------
    float
        D, up to 3.5.
    """
    curve = acuity_curve(lens_class, pupil_mm)[::-1]
    beyond = -CURVE_D[::-1]
    return range_from_far_d(usable_stretches_d(beyond, curve, limit_logmar))


def plan_steps(
    range_near_d: float, range_far_d: float, target_d: float
) -> list[tuple[str, str, float, str]]:
    """Return the steps from the range of one eye to that of two with different targets.

    Parameters
    ----------
    range_near_d, range_far_d : float
        How far one eye's usable range reaches from its focus, towards near and beyond, D.
    target_d : float
        Refraction that the near eye is aimed at, D, negative.

    Returns
    -------
    list of (str, str, float, str)

    Examples
    --------
    >>> [round(step[2], 2) for step in plan_steps(1.4, 1.2, -1.25)][:4]
    [1.4, 2.65, 37.74, 0.05]
    """
    nearest_d = range_near_d - target_d
    begins_d = max(-target_d - range_far_d, 0.0)
    return [
        ("the far eye reaches", "its range", range_near_d, "D"),
        ("the near eye reaches", f"range + {-target_d:.2f} D", nearest_d, "D"),
        ("that is", "100 / D", 100.0 / nearest_d, "cm"),
        (
            "the near eye begins at",
            f"{-target_d:.2f} D − {range_far_d:.2f} D, not below 0",
            begins_d,
            "D",
        ),
        (
            "gap between the two",
            "near eye's beginning less far eye's reach, not below 0",
            max(begins_d - range_near_d, 0.0),
            "D",
        ),
    ]


def what_a_plan_gives(
    target_d: float, pupil_mm: float, lens_class: str
) -> list[tuple[str, float, str]]:
    """Return acuity at 40 cm and the range that both eyes share, for a worked example.

    Parameters
    ----------
    target_d, pupil_mm, lens_class
        As for ``two_eyes_with``.

    Returns
    -------
    list of (str, float, str)
    """
    data = two_eyes_with(target_d, pupil_mm, lens_class)
    return [
        ("at 40 cm", data.at(PHONE_D), "logMAR"),
        ("shared by both eyes", data.shared_d, "D"),
    ]
