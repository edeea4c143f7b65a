"""Everyday tasks, and which glasses each of them still needs with a lens in the eye.

A task is clear where the acuity that the model predicts is as good as the task's letters ask for:
their size, less a reserve (nobody reads a page at the limit of sight), less what poor light costs.
Refraction and readers count at the cornea, where they simply add: within 0.1 D of the spectacle
plane for the refractions aimed at after cataract surgery. With two eyes the better eye at each
distance counts; what two eyes gain together is left out.

Sources
-------
Distances of dashboard, screen and telephone: common practice, no source, but that of a telephone
as it is held, Boccardo 2021 (presbyopes 39 ± 6 cm). Letter sizes (height of a small x) are usual
ones: common practice, no source. Reserve of two to one for a page, Whittaker & Lovie-Kitchin,
Optom Vis Sci 1993 (from memory); of 1.25 to one for a word or number, and what poor light costs,
assumed.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from shared_utils.choice.findings import Patient
from shared_utils.optics import lenses
from shared_utils.optics.domain import broadcast, require, require_instance, require_one_of
from shared_utils.optics.lenses import Lens
from shared_utils.optics.through_focus import ACUITY_UNCERTAINTY_LOGMAR, acuity_of
from shared_utils.optics.viewing import Viewing

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import ArrayLike

BODY_SA_UM = -0.2
"""Spherical aberration of every lens body here. With a neutral body the average cornea (+0.27 µm)
would make a wide pupil see best about half a dioptre nearer than the target."""

BIFOCAL_ADD_D = 2.75
"""About 4 D in the lens. With 2.5 D and a 3-mm pupil the model calls price labels and a telephone
at arm's length just clear; with 1.5 D the bifocal is one for arm's length and leaves near."""

LENS_OF = {
    "monofocal": lenses.monofocal(BODY_SA_UM),
    "enhanced monofocal": lenses.enhanced_monofocal(lens_sa_um=BODY_SA_UM),
    "extended depth of focus": lenses.extended_depth(lens_sa_um=BODY_SA_UM),
    "bifocal": lenses.diffractive_bifocal(BIFOCAL_ADD_D, lens_sa_um=BODY_SA_UM),
    "trifocal": lenses.diffractive_trifocal(lens_sa_um=BODY_SA_UM),
}
"""One generic lens for each class."""

LIGHT_LOSS_LOGMAR = {"bright": 0.0, "dim": 0.1, "night": 0.2}
"""What light costs in acuity beside what a wider pupil costs: assumed."""

USUAL_PUPIL_MM = {"bright": 3.0, "dim": 4.0, "night": 5.0}
"""Pupils assumed where none was measured: assumed."""

PAGE_RESERVE_LOGMAR, WORD_RESERVE_LOGMAR = 0.3, 0.1

READER_STEP_D, STRONGEST_READER_D = 0.25, 4.0
TARGET_RANGE_D = (-4.0, 2.0)
PUPIL_RANGE_MM = (1.5, 8.5)

_READERS_D = np.arange(READER_STEP_D, STRONGEST_READER_D + READER_STEP_D / 2.0, READER_STEP_D)
_PUPIL_STEP_MM = 0.5
_DEFOCUS_D = np.linspace(-5.0, 4.0, 73)


@dataclass(frozen=True)
class Task:
    """Something that people do with their eyes.

    Parameters
    ----------
    name : str
        What it is called.
    distance_m : float
        From the eye, 0.25 m or more.
    letter_mm : float
        Height of a small x, 0.1 mm or more.
    light : str
        "bright", "dim" or "night".
    page : bool
        Whether lines are read for long, rather than a word or number picked out.
    """

    name: str
    distance_m: float
    letter_mm: float
    light: str = "bright"
    page: bool = False

    def __post_init__(self):
        hint = "In centimetres? Divide by 100."
        require("distance_m", self.distance_m, 0.25, 1e4, hint=hint)
        require("letter_mm", self.letter_mm, 0.1, 1e4, hint="The height of a small x.")
        require_one_of("light", self.light, LIGHT_LOSS_LOGMAR)
        require_instance("name", self.name, str, "what the task is called, in words")
        require_instance("page", self.page, bool, "True or False")

    @property
    def vergence_d(self) -> float:
        """Of the object at the eye, D: negative."""
        return -1.0 / self.distance_m

    @property
    def needed_logmar(self) -> float:
        """Acuity that makes the task clear.

        >>> round(Task("a page", 0.40, 1.45, page=True).needed_logmar, 2)
        0.1
        """
        limb_arcmin = np.degrees(self.letter_mm / 1000.0 / self.distance_m) * 60.0 / 5.0
        reserve = PAGE_RESERVE_LOGMAR if self.page else WORD_RESERVE_LOGMAR
        return float(np.log10(limb_arcmin)) - reserve - LIGHT_LOSS_LOGMAR[self.light]


TASKS = (
    Task("road sign by day", 20.0, 80.0),
    Task("road sign at night", 20.0, 80.0, light="night"),
    Task("television", 3.0, 12.0),
    Task("dashboard", 0.75, 2.5),
    Task("computer", 0.65, 2.5, page=True),
    Task("shelf", 0.60, 2.0),
    Task("phone at arm's length", 0.55, 1.5),
    Task("newspaper", 0.40, 1.5, page=True),
    Task("novel held close", 0.33, 1.6, page=True),
    Task("fine print in dim light", 0.40, 1.2, light="dim"),
)
"""From far to near."""


@dataclass(frozen=True)
class Glasses:
    """What one task needs; arrays where more than one pupil or target was asked for.

    Attributes
    ----------
    task : Task
    acuity_logmar : float or array
        Predicted without glasses.
    clear : bool or array
        Whether that is enough.
    reader_d : float or array
        0 where none is needed; else the weakest reader that makes it clear, and where no reader
        does, the weakest minus glasses; where nothing does, those that come closest.
    clear_with : bool or array
        Whether it is clear with these glasses on.
    borderline : bool or array
        Whether the acuity without glasses is so near to what is needed that the model cannot tell.
    """

    task: Task
    acuity_logmar: float | np.ndarray
    clear: bool | np.ndarray
    reader_d: float | np.ndarray
    clear_with: bool | np.ndarray
    borderline: bool | np.ndarray

    def __str__(self):
        if np.ndim(self.clear):
            return f"{self.task.name}: {np.size(self.clear)} eyes"
        kind = "reader" if self.reader_d > 0 else "glasses"
        power = f"{kind} {self.reader_d:+.2f} D".replace("-", "−")
        if self.clear:
            words = "clear without glasses"
        elif self.clear_with:
            words = power
        else:
            words = f"not clear, {f'closest with {power}' if self.reader_d else 'glasses or not'}"
        return f"{self.task.name}: {words}{', borderline' if self.borderline else ''}"


def glasses_needed(
    lens: Lens,
    pupil_mm: ArrayLike | Mapping[str, ArrayLike],
    target_d: ArrayLike,
    tasks: Sequence[Task] = TASKS,
    *,
    fellow_target_d: ArrayLike | None = None,
    fellow_lens: Lens | None = None,
) -> tuple[Glasses, ...]:
    """Return which tasks are clear without glasses, and which reader makes the others clear.

    Parameters
    ----------
    lens : Lens
        From ``LENS_OF`` or ``optics.lenses``.
    pupil_mm : scalar or array, or dict of str to these
        Pupil diameter, 1.5 to 8.5 mm; one for all light, or one each for "bright", "dim", "night".
    target_d : scalar or array
        Refraction that the eye has after surgery, −4 to 2 D; myopia negative.
    tasks : sequence of Task
    fellow_target_d : scalar or array, optional
        Refraction of the other eye; not counted unless given. The same for both eyes, or another
        for monovision: the better eye at each distance counts.
    fellow_lens : Lens, optional
        Lens of the other eye; the same unless given.

    Returns
    -------
    tuple of Glasses
        One for each task. The same glasses stand before both eyes.

    Raises
    ------
    ValueError
        Naming the value, the unit, the range and the likely slip.

    Examples
    --------
    A monofocal for far, and reading at 40 cm:

    >>> page = Task("a page", 0.40, 1.5, page=True)
    >>> print(*glasses_needed(LENS_OF["monofocal"], 3.0, 0.0, [page]))
    a page: reader +1.50 D
    """
    example = "a lens, such as LENS_OF['monofocal']"
    require_instance("lens", lens, Lens, example)
    if fellow_lens is not None:
        require_instance("fellow_lens", fellow_lens, Lens, example)
    if fellow_lens is not None and fellow_target_d is None:
        raise ValueError("fellow_lens has no refraction; give fellow_target_d as well.")
    tasks = (tasks,) if isinstance(tasks, Task) else tasks
    require_instance("tasks", tasks, (list, tuple), "a list of Task, such as TASKS")
    for task in tasks:
        require_instance("one of tasks", task, Task, "a Task, such as those of TASKS")
    pupil_of = _pupils(pupil_mm)
    hint = "Myopia is negative."
    eyes = [(lens, require("target_d", target_d, *TARGET_RANGE_D, hint=hint))]
    if fellow_target_d is not None:
        target = require("fellow_target_d", fellow_target_d, *TARGET_RANGE_D, hint=hint)
        eyes.append((lens if fellow_lens is None else fellow_lens, target))
    return tuple(_glasses(task, eyes, pupil_of[task.light]) for task in tasks)


def pupils_of(patient: Patient) -> dict[str, float]:
    """Return the pupil in each light of a patient, the usual one where none was measured.

    Parameters
    ----------
    patient : findings.Patient

    Returns
    -------
    dict of str to float
        mm; dim light lies half-way between the photopic and the scotopic pupil.

    Sources
    -------
    Half-way: assumed.

    Examples
    --------
    >>> from shared_utils.choice.findings import Patient
    >>> pupils_of(Patient({"photopic_pupil_mm": 3.0, "scotopic_pupil_mm": 6.0}))
    {'bright': 3.0, 'dim': 4.5, 'night': 6.0}
    """
    require_instance("patient", patient, Patient, "a Patient; findings.from_dict makes one")
    day, night = (patient.values[f"{name}_pupil_mm"] for name in ("photopic", "scotopic"))
    if isinstance(day, str):
        day = USUAL_PUPIL_MM["bright"] if isinstance(night, str) else min(night, 3.0)
    if isinstance(night, str):
        night = max(USUAL_PUPIL_MM["night"], day)
    pupils = {"bright": day, "dim": (day + night) / 2.0, "night": night}
    return {light: float(np.clip(mm, *PUPIL_RANGE_MM)) for light, mm in pupils.items()}


def _pupils(pupil_mm):
    """A pupil, checked, for each light."""
    hint = "The pupil's diameter as seen from in front, in millimetres."
    if not isinstance(pupil_mm, Mapping):
        pupil_mm = dict.fromkeys(LIGHT_LOSS_LOGMAR, pupil_mm)
    if set(pupil_mm) != set(LIGHT_LOSS_LOGMAR):
        lights = ", ".join(LIGHT_LOSS_LOGMAR)
        raise ValueError(f"pupil_mm names {', '.join(map(str, pupil_mm))}; give each of: {lights}.")
    return {
        light: require("pupil_mm", mm, *PUPIL_RANGE_MM, hint=hint) for light, mm in pupil_mm.items()
    }


def _glasses(task, eyes, pupil_mm):
    names = ("target_d", "fellow_target_d")
    pupil_mm, *targets = broadcast(
        pupil_mm=pupil_mm, **{name: eye[1] for name, eye in zip(names, eyes, strict=False)}
    )
    shape = pupil_mm.shape
    pupil = pupil_mm.ravel()
    eyes = [(lens, target.ravel()) for (lens, _), target in zip(eyes, targets, strict=True)]
    if len(eyes) == 2 and eyes[0][0] == eyes[1][0] and np.array_equal(eyes[0][1], eyes[1][1]):
        eyes = eyes[:1]  # two eyes alike

    def acuity(glasses_d, where):
        """Of the better eye, behind each of the glasses."""
        behind = [
            _acuity(lens, pupil[where], task.vergence_d + glasses_d[:, None] - target[where])
            for lens, target in eyes
        ]
        return np.min(behind, axis=0)

    everyone = slice(None)
    without = acuity(np.zeros(1), everyone)[0]
    clear = without <= task.needed_logmar
    reader, clear_with = np.zeros(pupil.size), clear.copy()
    blurred = np.flatnonzero(~clear)
    if blurred.size:
        best = without[blurred]
        for sign in (1.0, -1.0):  # readers first, each kind from the weakest
            glasses = sign * _READERS_D
            behind = acuity(glasses, blurred)
            enough = behind <= task.needed_logmar
            helped, closest = enough.any(axis=0), behind.min(axis=0)
            chosen = np.where(helped, np.argmax(enough, axis=0), np.argmin(behind, axis=0))
            better = helped | (closest < best)
            reader[blurred[better]] = glasses[chosen[better]]
            clear_with[blurred] = helped
            left = ~helped
            blurred, best = blurred[left], np.minimum(best, closest)[left]
            if not blurred.size:
                break
    borderline = np.abs(without - task.needed_logmar) < ACUITY_UNCERTAINTY_LOGMAR / 2.0
    parts = (without, clear, reader, clear_with, borderline)
    return Glasses(task, *(part.reshape(shape) if shape else part[0].item() for part in parts))


def _acuity(lens, pupil_mm, defocus_d):
    """Acuity between the curves of neighbouring pupils; pupils along the last axis of defocus."""
    defocus_d = np.clip(defocus_d, _DEFOCUS_D[0], _DEFOCUS_D[-1])
    step = np.floor(pupil_mm / _PUPIL_STEP_MM).astype(int)
    part = pupil_mm / _PUPIL_STEP_MM - step
    found = np.empty(defocus_d.shape)
    for this in np.unique(step):
        here = step == this
        wanted, share = defocus_d[..., here], part[here]
        found[..., here] = (1.0 - share) * np.interp(wanted, _DEFOCUS_D, _curve(lens, this))
        if share.any():
            found[..., here] += share * np.interp(wanted, _DEFOCUS_D, _curve(lens, this + 1))
    return found


@lru_cache(maxsize=256)
def _curve(lens, step):
    return acuity_of(Viewing(lens, step * _PUPIL_STEP_MM, _DEFOCUS_D))
