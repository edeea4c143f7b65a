"""Everyday tasks, and which glasses each of them still needs with a lens in the eye.

A task is clear where the acuity that the model predicts is as good as the task's letters ask for:
their size, less a reserve (nobody reads a page at the limit of sight), less what poor light costs.
Refraction and readers count at the cornea, where they simply add: within 0.1 D of the spectacle
plane for the refractions aimed at after cataract surgery. With two eyes the better eye at each
distance counts; of a patient whose eyes are straight, also what two eyes alike gain together.

What the findings of an eye do to its sight is in `limits`, how it adds up in `sight`. Glasses made
to measure correct a regular cylinder and no other aberration. Where the potential of an eye is not
known though something in it can limit sight, the task cannot be told. How sure an answer is, before
the operation, is in `outlook`.

Glasses have two powers: the weakest that do, which is the limit that the model allows, and the
comfortable ones, which meet the object's vergence in full, so that the depth of focus is reserve.

Sources
-------
Of the tasks: in `everyday_tasks`; of findings, blur and two eyes: in `limits`, `sight` and
`two_eyes`. A potential that caps every task is the least that it can cost.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from shared_utils.choice.everyday_tasks import TASKS, Task
from shared_utils.choice.findings import UNKNOWN, Patient
from shared_utils.choice.limits import (
    POTENTIAL_RANGE_LOGMAR,
    Limits,
    fellow_limits_of,
    limits_of,
)
from shared_utils.choice.limits import USUAL_PUPIL_MM as USUAL_PUPIL_MM
from shared_utils.choice.limits import pupils_of as pupils_of
from shared_utils.choice.sight import TARGET_RANGE_D, EyeWithLens, in_light
from shared_utils.choice.two_eyes import BLIND_LOGMAR as BLIND_LOGMAR
from shared_utils.choice.two_eyes import gain_of, only_eye, together
from shared_utils.optics import lenses
from shared_utils.optics.domain import require_instance
from shared_utils.optics.lenses import Lens
from shared_utils.optics.through_focus import ACUITY_UNCERTAINTY_LOGMAR

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

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
    "extended depth of focus": lenses.extended_depth_smooth(lens_sa_um=BODY_SA_UM),
    "bifocal": lenses.diffractive_bifocal(BIFOCAL_ADD_D, lens_sa_um=BODY_SA_UM),
    "trifocal": lenses.diffractive_trifocal(lens_sa_um=BODY_SA_UM),
}
"""One generic lens for each class; adds, steps, bulges and bodies are invented."""

READER_STEP_D, STRONGEST_READER_D = 0.25, 4.0

LOSS_LOGMAR = 0.01
"""Half a letter of an acuity chart: stronger glasses are tried until acuity falls by so much from
the best so far, and the best is the comfortable power. Assumed; for a monofocal set for far it
comes to the vergence of the object, as textbooks have it: 2.50 D at 40 cm."""


_READERS_D = np.arange(READER_STEP_D, STRONGEST_READER_D + READER_STEP_D / 2.0, READER_STEP_D)


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
    cylinder_d : float or array
        Cylinder that the glasses correct beside ``reader_d``, size without a sign; 0 where none is
        needed or none helps.
    known : bool or array
        False where an eye of unknown potential might decide: whether glasses are needed cannot be
        told, and ``clear`` is not true; ``clear_with`` counts on the other eye alone.
    comfortable_reader_d : float or array
        Of the same sign as ``reader_d`` and never weaker: from there on the first best acuity, at
        which a focus of the eye meets the object. Where a cylinder alone is enough, it may be
        more than ``reader_d``, which is 0; 0 where nothing is needed.
    """

    task: Task
    acuity_logmar: float | np.ndarray
    clear: bool | np.ndarray
    reader_d: float | np.ndarray
    clear_with: bool | np.ndarray
    borderline: bool | np.ndarray
    cylinder_d: float | np.ndarray = 0.0
    known: bool | np.ndarray = True
    comfortable_reader_d: float | np.ndarray = 0.0

    def __str__(self):
        if np.ndim(self.clear):
            return f"{self.task.name}: {np.size(self.clear)} eyes"
        if not self.known:
            return f"{self.task.name}: cannot be told, potential acuity not known"
        kind = "reader" if self.reader_d > 0 else "glasses"
        power = f"{kind} {self.reader_d:+.2f} D".replace("-", "−")
        if self.cylinder_d:
            power += f" with {self.cylinder_d:.2f} D of cylinder"
        if self.clear:
            words = "clear without glasses"
        elif self.clear_with:
            words = f"weakest {power}" if self.reader_d else power
            if self.comfortable_reader_d != self.reader_d:
                words += f", comfortable {self.comfortable_reader_d:+.2f} D".replace("-", "−")
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
    best_logmar: ArrayLike | None = None,
    fellow_best_logmar: ArrayLike | None = None,
    potential_known: ArrayLike = True,
    fellow_potential_known: ArrayLike | None = None,
    residual_cylinder_d: ArrayLike = 0.0,
    fellow_residual_cylinder_d: ArrayLike | None = None,
    glasses_correct_cylinder: ArrayLike = True,
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
    best_logmar, fellow_best_logmar : scalar or array, optional
        Best acuity that the eye can reach, −0.3 to 3 logMAR; that of a healthy eye unless given.
    potential_known, fellow_potential_known : bool or array
        False where nothing is to be promised of that eye; True unless given.
    residual_cylinder_d : scalar or array
        Astigmatism that remains, 0 to 10 D.
    fellow_residual_cylinder_d : scalar or array, optional
        That of the other eye; the same unless given.
    glasses_correct_cylinder : bool or array
        Whether glasses take the cylinder away: not where the astigmatism is irregular.

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
    a page: weakest reader +1.50 D, comfortable +2.50 D
    """
    example = "a lens, such as LENS_OF['monofocal']"
    require_instance("lens", lens, Lens, example)
    if fellow_lens is not None:
        require_instance("fellow_lens", fellow_lens, Lens, example)
    if fellow_lens is not None and fellow_target_d is None:
        raise ValueError("fellow_lens has no refraction; give fellow_target_d as well.")
    of_fellow = {
        "fellow_best_logmar": fellow_best_logmar,
        "fellow_potential_known": fellow_potential_known,
        "fellow_residual_cylinder_d": fellow_residual_cylinder_d,
    }
    for name, value in of_fellow.items():
        if value is not None and fellow_target_d is None:
            raise ValueError(f"{name} is of an eye without a refraction; give fellow_target_d too.")
    tasks = hold_tasks(tasks)
    eyes = [
        _eye(
            "",
            lens,
            target_d,
            pupil_mm=pupil_mm,
            best_logmar=best_logmar,
            potential_known=potential_known,
            residual_cylinder_d=residual_cylinder_d,
            glasses_correct_cylinder=glasses_correct_cylinder,
        )
    ]
    if fellow_target_d is not None:
        known, cylinder_d = fellow_potential_known, fellow_residual_cylinder_d
        eyes.append(
            _eye(
                "fellow_",
                lens if fellow_lens is None else fellow_lens,
                fellow_target_d,
                pupil_mm=pupil_mm,
                best_logmar=fellow_best_logmar,
                potential_known=True if known is None else known,
                residual_cylinder_d=residual_cylinder_d if cylinder_d is None else cylinder_d,
                glasses_correct_cylinder=glasses_correct_cylinder,
            )
        )
    return _glasses_of_all(tasks, tuple(eyes))


def _eye(whose, lens, target_d, **limits):
    """An eye, checked; what is wrong with the other eye is said of the other eye."""
    try:
        return EyeWithLens(lens, target_d, Limits(**limits))
    except ValueError as error:
        raise ValueError(f"{whose}{error}") from None


def glasses_for(
    patient: Patient,
    lens: Lens,
    target_d: float = 0.0,
    fellow_target_d: float | None = None,
    tasks: Sequence[Task] = TASKS,
) -> tuple[Glasses, ...]:
    """Return which glasses a patient's tasks need, from all that is known of both eyes.

    Each eye is taken with its own findings, see `limits`. The other eye is counted with the same
    lens, or with the one that it keeps; one that is blind, or as good as blind, is not counted, and
    one whose potential is not known is promised nothing.

    Parameters
    ----------
    patient : findings.Patient
    lens : Lens
    target_d : float
        Refraction aimed at, −4 to 2 D; myopia negative.
    fellow_target_d : float, optional
        That of the other eye; as the first unless given. An eye that keeps its lens, and whose
        refraction is known, has that one.
    tasks : sequence of Task

    Returns
    -------
    tuple of Glasses

    Raises
    ------
    ValueError
        If it is not given a patient and a lens, or a refraction is out of range.

    Examples
    --------
    >>> from shared_utils.choice.findings import otherwise_healthy
    >>> sign = [task for task in TASKS if task.name == "road sign by day"]
    >>> for amblyopia in ("none", "deep"):
    ...     found = {"amblyopia": amblyopia, "potential_acuity_logmar": "unknown"}
    ...     only = otherwise_healthy(found | {"fellow_eye": "none or blind"})
    ...     print(*glasses_for(only, LENS_OF["monofocal"], tasks=sign))
    road sign by day: clear without glasses
    road sign by day: cannot be told, potential acuity not known
    """
    tasks = hold_tasks(tasks)
    eyes = eyes_of(patient, lens, target_d, fellow_target_d)
    gain_logmar = gain_between(patient, eyes)
    return _glasses_of_all(tasks, eyes, gain_logmar)


def eyes_of(
    patient: Patient, lens: Lens, target_d: float = 0.0, fellow_target_d: float | None = None
) -> tuple[EyeWithLens, ...]:
    """Return the eyes of a patient that count, each with its findings, its lens and refraction.

    Parameters
    ----------
    patient, lens, target_d, fellow_target_d
        As for `glasses_for`.

    Returns
    -------
    tuple of sight.EyeWithLens
        The first eye, and the other one unless it is of no help.

    Examples
    --------
    >>> len(eyes_of(Patient({"fellow_eye": "none or blind"}), LENS_OF["monofocal"]))
    1
    """
    limits = limits_of(patient)
    eyes = [EyeWithLens(lens, target_d, limits)]
    if not only_eye(patient):
        there = _lens_there(patient.values["fellow_eye"])
        other_d, measured = target_d if fellow_target_d is None else fellow_target_d, False
        found_d = patient.values["fellow_refraction_d"]
        if there is not None and found_d != UNKNOWN:
            low, high = TARGET_RANGE_D
            other_d, measured = min(max(found_d, low), high), True
        eyes.append(
            EyeWithLens(
                lens if there is None else there, other_d, fellow_limits_of(patient), measured
            )
        )
    return tuple(eyes)


def gain_between(patient: Patient, eyes: Sequence[EyeWithLens]) -> float:
    """Return what these eyes of a patient gain together, logMAR, as ``two_eyes.gain_of``."""
    if len(eyes) < 2:
        return 0.0
    one, other = (np.asarray(eye.target_d, float) for eye in eyes)
    return gain_of(patient, float(np.abs(one - other)))


def hold_tasks(tasks: Sequence[Task] | Task) -> Sequence[Task]:
    """Return the tasks, or say what to give."""
    tasks = (tasks,) if isinstance(tasks, Task) else tasks
    require_instance("tasks", tasks, (list, tuple), "a list of Task, such as TASKS")
    for task in tasks:
        require_instance("one of tasks", task, Task, "a Task, such as those of TASKS")
    return tasks


def _lens_there(fellow_eye):
    """Lens that the other eye keeps; None for the one that is planned for both.

    Its own lens has one focus too: at the age of cataract little accommodation is left.
    """
    return {
        "phakic": LENS_OF["monofocal"],
        "pseudophakic monofocal": LENS_OF["monofocal"],
        "pseudophakic light-splitting": LENS_OF["bifocal"],
    }.get(fellow_eye)


def _glasses_of_all(tasks, eyes, gain_logmar=0.0):
    lit = {light: in_light(eyes, light) for light in {task.light for task in tasks}}
    for light, (both, shape) in lit.items():
        if len(both) == 2 and both[0].alike(both[1]):
            lit[light] = both[:1], shape  # one stands for both
    return tuple(_glasses(task, *lit[task.light], gain_logmar) for task in tasks)


def _glasses(task, eyes, shape, gain_logmar):
    count = eyes[0].target_d.size
    sure = [eye.potential_known for eye in eyes]
    some_cylinder = any(eye.residual_cylinder_d.any() for eye in eyes)

    def acuity(glasses_d, where, corrected, hoping=False, optics=False):
        """Of both eyes, behind each of the glasses; hoping, of eyes of unknown potential.

        With optics, focus counts by half where the eye's potential hides what it brings.
        """
        behind = []
        for eye, known in zip(eyes, sure, strict=True):
            each = glasses_d if np.ndim(glasses_d) == 2 else glasses_d[:, None]
            found = eye.logmar(task.vergence_d + each - eye.target_d[where], where, corrected)
            capped = np.maximum(found, eye.best_logmar[where])
            if optics:
                capped = (capped + found) / 2.0
            behind.append(np.where(known[where], capped, found if hoping else np.inf))
        # hope counts on no gain, so that losing it never makes more of a task known
        return together(behind[0], behind[-1], 0.0 if hoping else gain_logmar)

    everyone = slice(None)
    without = acuity(np.zeros(1), everyone, corrected=False)[0]
    clear = without <= task.needed_logmar
    reader, clear_with, cylinder = np.zeros(count), clear.copy(), np.zeros(count)
    comfortable = np.zeros(count)
    blurred = np.flatnonzero(~clear)
    if blurred.size:
        best = without[blurred]
        for sign in (1.0, -1.0):  # readers first, each kind from the weakest
            glasses = sign * _READERS_D
            if some_cylinder and sign > 0:
                glasses = np.concatenate([[0.0], glasses])  # for the cylinder alone
            behind = acuity(glasses, blurred, corrected=True)
            enough = behind <= task.needed_logmar
            helped, closest = enough.any(axis=0), behind.min(axis=0)
            chosen = np.where(helped, np.argmax(enough, axis=0), np.argmin(behind, axis=0))
            better = helped | (closest < best)
            reader[blurred[better]] = glasses[chosen[better]]
            focus = acuity(glasses, blurred, corrected=True, optics=True)
            focus = np.where(behind > behind[chosen, range(blurred.size)], np.inf, focus)
            comfortable[blurred[better]] = glasses[_comfortable(focus, chosen)[better]]
            clear_with[blurred] = helped
            left = ~helped
            blurred, best = blurred[left], np.minimum(best, closest)[left]
            if not blurred.size:
                break
    if some_cylinder:  # in the glasses where the sphere alone is not enough
        plain = acuity(reader[None, :], everyone, corrected=False)[0] <= task.needed_logmar
        most = np.max(
            [np.where(e.glasses_correct_cylinder, e.residual_cylinder_d, 0.0) for e in eyes], axis=0
        )
        cylinder = np.where(clear_with & ~plain, most, 0.0)
    borderline = np.abs(without - task.needed_logmar) < ACUITY_UNCERTAINTY_LOGMAR / 2.0
    known = clear | np.all(sure, axis=0)
    if not known.all():  # an eye of unknown potential that could not do it even if it were sound
        hoped = acuity(np.zeros(1), everyone, corrected=False, hoping=True)[0]
        known = known | (clear_with & (hoped > task.needed_logmar))
    reader, cylinder = np.where(known, reader, 0.0), np.where(known, cylinder, 0.0)
    comfortable = np.where(known, comfortable, 0.0)
    borderline = borderline & known
    without = np.where(np.isinf(without), POTENTIAL_RANGE_LOGMAR[1], without)
    parts = (without, clear, reader, clear_with, borderline, cylinder, known, comfortable)
    return Glasses(task, *(part.reshape(shape) if shape else part[0].item() for part in parts))


def _comfortable(acuity_logmar, weakest):
    """Place of the comfortable glasses: from the weakest on, the first best before a loss."""
    onward = np.arange(len(acuity_logmar))[:, None] >= weakest
    behind = np.where(onward, acuity_logmar, np.inf)
    lost = onward & (behind > np.minimum.accumulate(behind, axis=0) + LOSS_LOGMAR)
    return np.argmin(np.where(np.logical_or.accumulate(lost, axis=0), np.inf, behind), axis=0)
