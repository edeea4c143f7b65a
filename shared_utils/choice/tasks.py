"""Everyday tasks, and which glasses each of them still needs with a lens in the eye.

A task is clear where the acuity that the model predicts is as good as the task's letters ask for:
their size, less a reserve (nobody reads a page at the limit of sight), less what poor light costs.
Refraction and readers count at the cornea, where they simply add: within 0.1 D of the spectacle
plane for the refractions aimed at after cataract surgery. With two eyes the better eye at each
distance counts; what two eyes gain together is left out.

An eye reads no better than its potential acuity, whatever the lens. Astigmatism that remains blurs
as its power vector does: a cylinder C like C/2 of defocus, whose angle resolved grows with blur and
pupil; squares of angles add up. No credit is given where a cylinder would stretch
the focus. Glasses made to measure correct a regular cylinder. Where the potential of an eye is not
known though something in it can limit sight, the task cannot be told.

Glasses have two powers: the weakest that do, which is the limit that the model allows, and the
comfortable ones, which meet the object's vergence in full, so that the depth of focus is reserve.

Sources
-------
Of the tasks: in `everyday_tasks`. Cylinder as defocus of half its power: Thibos, Wheeler & Horner,
Optom Vis Sci 1997;74:367. Angle resolved in proportion to blur and pupil: Smith, Optom Vis Sci
1991;68:591 (abstract; the 0.65 arcmin per dioptre and millimetre from memory).
A potential that caps every task is the least that it can cost: disease also takes contrast.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from shared_utils.choice.everyday_tasks import LIGHT_LOSS_LOGMAR, TASKS, Task
from shared_utils.choice.findings import UNKNOWN, Patient
from shared_utils.optics import lenses
from shared_utils.optics.acuity import SMITH_ARCMIN_PER_MM_D
from shared_utils.optics.domain import broadcast, require, require_instance
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
    "extended depth of focus": lenses.extended_depth_smooth(lens_sa_um=BODY_SA_UM),
    "bifocal": lenses.diffractive_bifocal(BIFOCAL_ADD_D, lens_sa_um=BODY_SA_UM),
    "trifocal": lenses.diffractive_trifocal(lens_sa_um=BODY_SA_UM),
}
"""One generic lens for each class; adds, steps, bulges and bodies are invented."""

USUAL_PUPIL_MM = {"bright": 3.0, "dim": 4.0, "night": 5.0}
"""Pupils assumed where none was measured: assumed."""

POTENTIAL_RANGE_LOGMAR = (-0.3, 3.0)
CYLINDER_RANGE_D = (0.0, 10.0)

LIMITS_SIGHT = {
    "macular_degeneration": ("late",),
    "epiretinal_membrane": ("stage 3", "stage 4"),
    "macular_oedema": ("at the centre",),
    "retinal_dystrophy": ("present",),
    "diabetic_retinopathy": ("proliferative",),
    "glaucoma": ("severe",),
    "optic_nerve": ("marked loss",),
    "endothelial_dystrophy": ("oedema",),
    "corneal_opacity": ("on the visual axis",),
    "irregular_astigmatism": ("marked",),
    "ectasia": ("manifest",),
    "amblyopia": ("deep",),
    "uveitis": ("active",),
    "other_disease": ("limits sight",),
    "vitrectomy": ("oil",),
}
"""Findings that can limit acuity by themselves, so that without a measured potential nothing is
said of a task: common practice, no source."""

GLASSES_CANNOT = {
    "irregular_astigmatism": ("mild", "marked"),
    "ectasia": ("manifest",),
    "corneal_surgery": ("laser, decentred", "radial keratotomy"),
}
"""Findings whose astigmatism is not regular enough for glasses to be counted on."""

READER_STEP_D, STRONGEST_READER_D = 0.25, 4.0

LOSS_LOGMAR = 0.01
"""Half a letter of an acuity chart: stronger glasses are tried until acuity falls by so much from
the best so far, and the best is the comfortable power. Assumed; for a monofocal set for far it
comes to the vergence of the object, as textbooks have it: 2.50 D at 40 cm."""

TARGET_RANGE_D = (-4.0, 2.0)
PUPIL_RANGE_MM = (1.5, 8.5)

_READERS_D = np.arange(READER_STEP_D, STRONGEST_READER_D + READER_STEP_D / 2.0, READER_STEP_D)
_PUPIL_STEP_MM = 0.5
_DEFOCUS_D = np.linspace(-5.0, 4.0, 73)


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
        False where an eye of unknown potential might decide: the task cannot be told, and neither
        ``clear`` nor ``clear_with`` is true.
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
    tasks = (tasks,) if isinstance(tasks, Task) else tasks
    require_instance("tasks", tasks, (list, tuple), "a list of Task, such as TASKS")
    for task in tasks:
        require_instance("one of tasks", task, Task, "a Task, such as those of TASKS")
    pupil_of = _pupils(pupil_mm)
    eyes = [
        _eye(lens, "", target_d, best_logmar, potential_known, residual_cylinder_d),
    ]
    if fellow_target_d is not None:
        if fellow_residual_cylinder_d is None:
            fellow_residual_cylinder_d = residual_cylinder_d
        eyes.append(
            _eye(
                lens if fellow_lens is None else fellow_lens,
                "fellow_",
                fellow_target_d,
                fellow_best_logmar,
                True if fellow_potential_known is None else fellow_potential_known,
                fellow_residual_cylinder_d,
            )
        )
    correct = _flags("glasses_correct_cylinder", glasses_correct_cylinder)
    return tuple(_glasses(task, eyes, pupil_of[task.light], correct) for task in tasks)


def glasses_for(
    patient: Patient,
    lens: Lens,
    target_d: float = 0.0,
    fellow_target_d: float | None = None,
    tasks: Sequence[Task] = TASKS,
) -> tuple[Glasses, ...]:
    """Return which glasses a patient's tasks need, from all that is known of both eyes.

    Pupils, potential acuity and the astigmatism expected to remain are the patient's. The other
    eye is counted with the same lens, or with the one that it has; one that is blind, or as good
    as blind, is not counted, and one whose potential is not known is promised nothing.

    Parameters
    ----------
    patient : findings.Patient
    lens : Lens
    target_d : float
        Refraction aimed at, −4 to 2 D; myopia negative.
    fellow_target_d : float, optional
        That of the other eye; as the first unless given.
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
    return glasses_needed(
        lens,
        pupils_of(patient),
        target_d,
        tasks,
        **_limits_of(patient, target_d, fellow_target_d),
    )


def _limits_of(patient, target_d, fellow_target_d):
    """What a patient's two eyes allow, as keywords of `glasses_needed`.

    Where the astigmatism that will remain was not worked out, all that the cornea has is taken to
    remain, as it does behind a lens without a cylinder of its own.
    """
    values = patient.values
    best = values["potential_acuity_logmar"]
    remains = values["residual_astigmatism_d"]
    if remains == UNKNOWN:
        remains = values["corneal_astigmatism_d"]
    limits = {
        "best_logmar": None if best == UNKNOWN else best,
        "potential_known": best != UNKNOWN or not _has_any(values, LIMITS_SIGHT),
        "residual_cylinder_d": 0.0 if remains == UNKNOWN else min(remains, CYLINDER_RANGE_D[1]),
        "glasses_correct_cylinder": not _has_any(values, GLASSES_CANNOT),
    }
    if not only_eye(patient):
        fellow = values["fellow_potential_acuity_logmar"]
        limits |= {
            "fellow_target_d": target_d if fellow_target_d is None else fellow_target_d,
            "fellow_lens": _lens_there(values["fellow_eye"]),
            "fellow_best_logmar": None if fellow == UNKNOWN else fellow,
            "fellow_potential_known": fellow != UNKNOWN,
        }
    return limits


BLIND_LOGMAR = 1.0
"""From here on an eye does not help the other in any task listed here: 6/60, severe impairment
of sight in the international classification of diseases (from memory)."""


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


def _has_any(values, grades):
    return any(values[name] in those for name, those in grades.items())


def _lens_there(fellow_eye):
    """Lens that the other eye has already; None for the one that is planned for both."""
    return {
        "pseudophakic monofocal": LENS_OF["monofocal"],
        "pseudophakic light-splitting": LENS_OF["bifocal"],
    }.get(fellow_eye)


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


@dataclass(frozen=True)
class _OneEye:
    """One eye with its lens, each number an array."""

    lens: Lens
    target_d: np.ndarray
    best_logmar: np.ndarray
    known: np.ndarray
    cylinder_d: np.ndarray

    def parts(self):
        return (self.target_d, self.best_logmar, self.known, self.cylinder_d)


def _eye(lens, whose, target_d, best_logmar, known, cylinder_d):
    """An eye, checked; an eye without a known limit has one that no lens here reaches."""
    best = -np.inf
    if best_logmar is not None:
        best = require(
            f"{whose}best_logmar",
            best_logmar,
            *POTENTIAL_RANGE_LOGMAR,
            hint="A decimal acuity? logMAR is minus its logarithm.",
        )
    return _OneEye(
        lens,
        require(f"{whose}target_d", target_d, *TARGET_RANGE_D, hint="Myopia is negative."),
        np.asarray(best, float),
        _flags(f"{whose}potential_known", known),
        require(
            f"{whose}residual_cylinder_d",
            cylinder_d,
            *CYLINDER_RANGE_D,
            hint="Its size, without a sign.",
        ),
    )


def _flags(name, value):
    flags = np.asarray(value)
    if flags.dtype != bool:
        raise ValueError(
            f"{name} is neither True nor False; give one of them, or an array of them."
        )
    return flags


def _glasses(task, eyes, pupil_mm, correct):
    named = {"pupil_mm": pupil_mm, "glasses_correct_cylinder": correct}
    for whose, eye in zip(("", "fellow_"), eyes, strict=False):
        for part, value in zip(_PARTS, eye.parts(), strict=True):
            named[f"{whose}{part}"] = value
    pupil, correct, *parts = broadcast(**named)
    shape = pupil.shape
    pupil, correct = pupil.ravel(), correct.ravel().astype(bool)
    eyes = [
        _OneEye(eye.lens, *(part.ravel() for part in parts[4 * n : 4 * n + 4]))
        for n, eye in enumerate(eyes)
    ]
    if len(eyes) == 2 and _alike(*eyes):
        eyes = eyes[:1]  # two eyes alike
    sure = [eye.known.astype(bool) for eye in eyes]
    cylinders = [eye.cylinder_d.any() for eye in eyes]
    some_cylinder = any(cylinders)

    def acuity(glasses_d, where, corrected, hoping=False, optics=False):
        """Of the better eye, behind each of the glasses; hoping, of eyes of unknown potential.

        With optics, focus counts by half where the eye's potential hides what it brings.
        """
        behind = []
        for eye, known, cylinder in zip(eyes, sure, cylinders, strict=True):
            each = glasses_d if np.ndim(glasses_d) == 2 else glasses_d[:, None]
            defocus_d = task.vergence_d + each - eye.target_d[where]
            found = _acuity(eye.lens, pupil[where], defocus_d)
            if cylinder:
                left_d = eye.cylinder_d[where]
                if corrected:
                    left_d = np.where(correct[where], 0.0, left_d)
                found = _blurred(found, pupil[where], left_d)
            capped = np.maximum(found, eye.best_logmar[where])
            if optics:
                capped = (capped + found) / 2.0
            behind.append(np.where(known[where], capped, found if hoping else np.inf))
        return np.min(behind, axis=0)

    everyone = slice(None)
    without = acuity(np.zeros(1), everyone, corrected=False)[0]
    clear = without <= task.needed_logmar
    reader, clear_with, cylinder = np.zeros(pupil.size), clear.copy(), np.zeros(pupil.size)
    comfortable = np.zeros(pupil.size)
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
        most = np.max([eye.cylinder_d for eye in eyes], axis=0)
        cylinder = np.where(correct & clear_with & ~plain, most, 0.0)
    borderline = np.abs(without - task.needed_logmar) < ACUITY_UNCERTAINTY_LOGMAR / 2.0
    known = clear | np.all(sure, axis=0)
    if not known.all():  # an eye of unknown potential that could not do it even if it were sound
        hoped = acuity(np.zeros(1), everyone, corrected=False, hoping=True)[0]
        known = known | (clear_with & (hoped > task.needed_logmar))
    reader, cylinder = np.where(known, reader, 0.0), np.where(known, cylinder, 0.0)
    comfortable = np.where(known, comfortable, 0.0)
    clear_with, borderline = clear_with & known, borderline & known
    without = np.where(np.isinf(without), POTENTIAL_RANGE_LOGMAR[1], without)
    parts = (without, clear, reader, clear_with, borderline, cylinder, known, comfortable)
    return Glasses(task, *(part.reshape(shape) if shape else part[0].item() for part in parts))


def _comfortable(acuity_logmar, weakest):
    """Place of the comfortable glasses: from the weakest on, the first best before a loss."""
    onward = np.arange(len(acuity_logmar))[:, None] >= weakest
    behind = np.where(onward, acuity_logmar, np.inf)
    lost = onward & (behind > np.minimum.accumulate(behind, axis=0) + LOSS_LOGMAR)
    return np.argmin(np.where(np.logical_or.accumulate(lost, axis=0), np.inf, behind), axis=0)


_PARTS = ("target_d", "best_logmar", "potential_known", "residual_cylinder_d")


def _alike(one, other):
    pairs = zip(one.parts(), other.parts(), strict=True)
    return one.lens == other.lens and all(np.array_equal(*pair) for pair in pairs)


def _blurred(logmar, pupil_mm, cylinder_d):
    """Acuity with a cylinder added: squares of the angles resolved add up."""
    added_arcmin = SMITH_ARCMIN_PER_MM_D * pupil_mm * cylinder_d / 2.0
    return 0.5 * np.log10(10.0 ** (2.0 * logmar) + added_arcmin**2)


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
