"""The numbers of tasks and glasses: a page among the curves, readers, light and pupil."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING

import numpy as np

from shared_utils.choice import tasks
from shared_utils.choice.everyday_tasks import (
    LIGHT_LOSS_LOGMAR,
    PAGE_RESERVE_LOGMAR,
    TASKS,
    WORD_RESERVE_LOGMAR,
    Task,
)
from shared_utils.choice.tasks import LENS_OF, USUAL_PUPIL_MM
from shared_utils.optics.through_focus import ACUITY_UNCERTAINTY_LOGMAR, acuity_logmar

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy import ndarray

    from shared_utils.choice.tasks import Glasses
    from shared_utils.optics.lenses import Lens

CANNOT_TELL_LOGMAR = ACUITY_UNCERTAINTY_LOGMAR / 2.0
VERGENCE_D = np.linspace(-0.05, -3.4, 68)
TALL_LETTER = 1.39
"""Height of an l over that of an x in the font of the figures."""

BLUR_TO_D = 1.5

# --- one task among the curves -----------------------------------------------------------------


@dataclass(frozen=True)
class PageAcuity:
    """One page to read, what it needs, and what each class gives there."""

    task: Task
    curves_logmar: dict
    here_logmar: dict

    @property
    def clear(self) -> list[str]:
        """Classes that make it clear."""
        return [c for c, at in self.here_logmar.items() if at <= self.task.needed_logmar]

    @property
    def open(self) -> list[str]:
        """Classes of which the model cannot tell."""
        return [
            c
            for c, at in self.here_logmar.items()
            if abs(at - self.task.needed_logmar) < CANNOT_TELL_LOGMAR
        ]


def page_among_curves(distance_cm: float, letter_mm: float, light: str) -> PageAcuity:
    """Return what a page of print needs, and the acuity of each class at its distance.

    Parameters
    ----------
    distance_cm : float
        From the eye, 30 to 120 cm.
    letter_mm : float
        Height of a small x, mm.
    light : str
        "bright", "dim" or "night"; the pupil is the usual one of that light.

    Returns
    -------
    PageAcuity

    Examples
    --------
    >>> data = page_among_curves(40.0, 1.5, "bright")
    >>> round(data.task.needed_logmar, 2), data.clear
    (0.11, ['bifocal', 'trifocal'])
    """
    page = Task("a page", distance_cm / 100.0, letter_mm, light=light, page=True)
    curves = curves_by_light()[light]
    here = {name: float(np.interp(-page.vergence_d, -VERGENCE_D, c)) for name, c in curves.items()}
    return PageAcuity(page, curves, here)


@cache
def curves_by_light() -> dict[str, dict[str, ndarray]]:
    """Return acuity along ``VERGENCE_D`` with the usual pupil of each light, far target.

    Returns
    -------
    dict of str to dict of str to numpy.ndarray
        Light → class of lens → logMAR.
    """
    places = [Task("place", -1.0 / float(d), 2.0, light="bright") for d in VERGENCE_D]
    return {
        light: {
            name: np.array(
                [found.acuity_logmar for found in tasks.glasses_needed(lens, pupil_mm, 0.0, places)]
            )
            for name, lens in LENS_OF.items()
        }
        for light, pupil_mm in USUAL_PUPIL_MM.items()
    }


@dataclass(frozen=True)
class LensCurve:
    """Acuity through one lens against the vergence of the object."""

    vergence_d: np.ndarray
    logmar: np.ndarray


def lens_curve(lens: Lens, pupil_mm: float) -> LensCurve:
    """Return the acuity of a lens from far to 29 cm.

    Parameters
    ----------
    lens : Lens
    pupil_mm : float
        0.5 to 9 mm.

    Returns
    -------
    LensCurve

    Examples
    --------
    >>> curve = lens_curve(LENS_OF["monofocal"], 3.0)
    >>> bool(curve.logmar[0] < curve.logmar[-1])
    True
    """
    vergence_d = np.linspace(0.0, -3.5, 71)
    return LensCurve(vergence_d, np.asarray(acuity_logmar(lens, pupil_mm, vergence_d)))


# --- glasses -----------------------------------------------------------------------------------


def glasses_by_class(
    pupils_mm: float | Mapping[str, float] | None = None,
    target_d: float = 0.0,
    wanted: Sequence[Task] = TASKS,
    lens_classes: Sequence[str] = tuple(LENS_OF),
) -> dict[str, tuple[Glasses, ...]]:
    """Return which glasses some tasks need with each class of lens.

    Parameters
    ----------
    pupils_mm : float or dict of str to float, optional
        Pupil in "bright", "dim" and "night" light; the usual ones unless given.
    target_d : float
        Refraction of both eyes, −4 to 2 D.
    wanted : sequence of tasks.Task
    lens_classes : sequence of str

    Returns
    -------
    dict of str to tuple of tasks.Glasses
        Class of lens → one for each task.

    Examples
    --------
    >>> found = glasses_by_class()
    >>> len(found), len(found["monofocal"])
    (5, 10)
    """
    pupils_mm = USUAL_PUPIL_MM if pupils_mm is None else pupils_mm
    return {
        name: tasks.glasses_needed(LENS_OF[name], pupils_mm, target_d, wanted)
        for name in lens_classes
    }


MARGIN_LOGMAR = 0.75


@dataclass(frozen=True)
class TasksBehindGlasses:
    """Ten tasks behind one pair of glasses."""

    reader_d: float
    lens_class: str
    target_d: float
    margin_logmar: np.ndarray
    newspaper: Glasses  # what it needs over the lens, whatever is worn

    def tasks(self, clear: bool) -> list[str]:
        """Names of those that are clear, or not."""
        return [
            t.name
            for t, margin in zip(TASKS, self.margin_logmar, strict=True)
            if (margin >= 0) == clear
        ]


def tasks_behind(reader_d: float, lens_class: str, target_d: float) -> TasksBehindGlasses:
    """Return by how much each task is clear behind a pair of glasses.

    Parameters
    ----------
    reader_d : float
        Power of the glasses, 0 to 2.5 D.
    lens_class : str
        Of the lens in both eyes.
    target_d : float
        Refraction of both eyes, −1.5 to 0.5 D.

    Returns
    -------
    TasksBehindGlasses
        Margin in logMAR, positive where the task is clear; held to ±0.75.

    Examples
    --------
    >>> tasks_behind(0.0, "monofocal", 0.0).tasks(clear=True)[-1]
    'dashboard'
    """
    # glasses before an eye that sees far act as if the eye were as much more myopic
    found = tasks.glasses_needed(LENS_OF[lens_class], USUAL_PUPIL_MM, target_d - reader_d)
    margin = np.array([f.task.needed_logmar - f.acuity_logmar for f in found])
    (newspaper,) = tasks.glasses_needed(LENS_OF[lens_class], USUAL_PUPIL_MM, target_d, [NEWSPAPER])
    margin = np.clip(margin, -MARGIN_LOGMAR, MARGIN_LOGMAR)
    return TasksBehindGlasses(reader_d, lens_class, target_d, margin, newspaper)


# --- light and pupil ---------------------------------------------------------------------------

PUPILS_MM = np.arange(2.0, 6.01, 0.5)

BY_LIGHT = tuple(
    next(task for task in TASKS if task.name == name)
    for name in ("newspaper", "phone at arm's length", "computer", "road sign by day")
)


@dataclass(frozen=True)
class TaskInLight:
    """One task in one light: what it needs, and what each class gives along the pupil."""

    pupil_mm: float
    light: str
    task: Task
    along_logmar: dict
    here_logmar: dict

    @property
    def clear(self) -> list[str]:
        """Classes that make it clear."""
        return [c for c, at in self.here_logmar.items() if at <= self.task.needed_logmar]


def task_in_light(pupil_mm: float, light: str, name: str) -> TaskInLight:
    """Return what a task needs in some light, and the acuity of each class along the pupil.

    Parameters
    ----------
    pupil_mm : float
        2 to 6 mm.
    light : str
        "bright", "dim" or "night".
    name : str
        Of one of ``BY_LIGHT``.

    Returns
    -------
    TaskInLight

    Examples
    --------
    Dim light asks a tenth of a logMAR more.

    >>> by_day, dim = (task_in_light(3.0, light, "newspaper") for light in ("bright", "dim"))
    >>> round(by_day.task.needed_logmar - dim.task.needed_logmar, 2)
    0.1
    """
    usual = next(task for task in BY_LIGHT if task.name == name)
    task = Task(usual.name, usual.distance_m, usual.letter_mm, light=light, page=usual.page)
    along = acuity_along_pupil()[name]
    here = {c: float(np.interp(pupil_mm, PUPILS_MM, acuity)) for c, acuity in along.items()}
    return TaskInLight(pupil_mm, light, task, along, here)


@cache
def acuity_along_pupil() -> dict[str, dict[str, ndarray]]:
    """Return acuity along ``PUPILS_MM`` of each class at the distance of each task.

    Returns
    -------
    dict of str to dict of str to numpy.ndarray
        Name of a task of ``BY_LIGHT`` → class of lens → logMAR.
    """
    vergence_d = np.array([task.vergence_d for task in BY_LIGHT])
    found = {
        name: np.array([acuity_logmar(lens, pupil, vergence_d) for pupil in PUPILS_MM])
        for name, lens in LENS_OF.items()
    }
    return {
        task.name: {name: acuity[:, column] for name, acuity in found.items()}
        for column, task in enumerate(BY_LIGHT)
    }


def blur_at_end_mrad(pupil_mm: float) -> float:
    """Return the width of the blur disc at ``BLUR_TO_D``.

    Parameters
    ----------
    pupil_mm : float

    Returns
    -------
    float
        mrad.

    Examples
    --------
    >>> blur_at_end_mrad(4.0)
    6.0
    """
    return pupil_mm * BLUR_TO_D


# --- the patient of the page -------------------------------------------------------------------

PUPIL_OF_PATIENT_MM = {"bright": 2.8, "dim": 3.6, "night": 4.6}
MUSIC_ON_STAGE = Task("sheet music on stage", 0.85, 2.4, light="dim")
MUSIC_WITH_LAMP = Task("sheet music, lamp on", 0.85, 2.4)
TABLET = Task("tablet on the lap", 0.50, 2.0, page=True)
NEWSPAPER = Task("newspaper", 0.40, 1.5, page=True)
ASKED = (MUSIC_ON_STAGE, MUSIC_WITH_LAMP, TABLET, NEWSPAPER)


def task_steps(
    task: Task, lens_class: str, pupil_mm: Mapping[str, float] = PUPIL_OF_PATIENT_MM
) -> list[tuple[str, str, float, str]]:
    """Return the steps from a task to its glasses, ready for a worked example.

    Parameters
    ----------
    task : tasks.Task
    lens_class : str
    pupil_mm : dict of str to float

    Returns
    -------
    list of (str, str, float, str)

    Examples
    --------
    >>> task_steps(NEWSPAPER, "monofocal")[0]
    ('vergence of the task', '−1 / 0.40 m', -2.5, 'D')
    """
    (found,) = tasks.glasses_needed(LENS_OF[lens_class], pupil_mm, 0.0, [task])
    limb_arcmin = float(np.degrees(task.letter_mm / 1000.0 / task.distance_m)) * 60.0 / 5.0
    margin = task.needed_logmar - found.acuity_logmar
    reserve = PAGE_RESERVE_LOGMAR if task.page else WORD_RESERVE_LOGMAR
    light = LIGHT_LOSS_LOGMAR[task.light]
    return [
        ("vergence of the task", f"−1 / {task.distance_m:.2f} m", task.vergence_d, "D"),
        (
            "a fifth of the small x, as an angle",
            f"3438 · ({task.letter_mm:g} / 5) / {1000 * task.distance_m:g} mm",
            limb_arcmin,
            "arcmin",
        ),
        ("acuity that just sees it", "log₁₀ of that", float(np.log10(limb_arcmin)), "logMAR"),
        (
            "acuity that the task needs",
            f"less {reserve:g} in reserve, less {light:g} for the light",
            task.needed_logmar,
            "logMAR",
        ),
        (
            f"acuity there, {lens_class}",
            f"the curve at that vergence, pupil {pupil_mm[task.light]:g} mm",
            float(found.acuity_logmar),
            "logMAR",
        ),
        (
            "beyond what is needed",
            "need − acuity",
            float(margin),
            "logMAR",
        ),
        (
            "weakest reader that makes it clear",
            "try in steps of 0.25 D",
            float(found.reader_d),
            "D",
        ),
        (
            "comfortable reader",
            "stronger, to the best acuity; 0 if none is needed",
            float(found.comfortable_reader_d),
            "D",
        ),
    ]
