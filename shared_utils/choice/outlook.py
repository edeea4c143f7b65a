"""Of 100 such people, how many will do a task without glasses: the answer before the operation.

Nobody ends exactly where the formula aims. So each eye is taken a hundred times, its refraction
spread about the target as in a registry, its cylinder about what was planned, the errors of two
eyes alike in part, and each time the task is clear or not, as in `tasks`. The model of acuity is
itself uncertain: the lowest and highest number belong to eyes that see a line less or more than it
predicts. No random numbers: the hundred refractions are equally probable.

Sources
-------
Spread: shares within 0.5 and 1 D of the European registry, Lundström et al., J Cataract Refract
Surg 2018, in ``evidence.toml``; tails heavier than normal, so Student's t, whose two numbers follow
from the two shares. Errors of the two eyes: that of the fellow is about half that of the first,
and the difference of the two spreads as widely as one, Gorodezky et al., Clin Ophthalmol
2014;8:2177 (abstract), 335 patients: either says a correlation of 0.5. Spread of the cylinder:
assumed.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np
from scipy import ndimage, optimize, special, stats

from shared_utils.choice import evidence, gate
from shared_utils.choice.everyday_tasks import TASKS
from shared_utils.choice.findings import Patient
from shared_utils.choice.sight import EyeWithLens, in_light
from shared_utils.choice.tasks import eyes_of, gain_between, hold_tasks
from shared_utils.optics.domain import require, require_instance, require_one, unwrap_scalar
from shared_utils.optics.through_focus import ACUITY_UNCERTAINTY_LOGMAR

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import ArrayLike

    from shared_utils.choice.everyday_tasks import Task
    from shared_utils.optics.lenses import Lens
    from shared_utils.optics.types import FloatOrArray

CORRELATION = 0.5
"""Of the refraction errors of the two eyes."""

CYLINDER_SD_D = 0.2
"""Of each component of the power vector of the cylinder that remains, of which its half is the
length: about 0.5 D of cylinder in an eye planned to have none. Assumed."""

SD_RANGE_D = (0.0, 5.0)

_NODES = 100
_EYES_AT_ONCE = 2000  # memory stays bounded
_LONGEST_MEAN, _MEAN_STEP = 25.0, 0.125  # of the table of lengths, in standard deviations
_BEYOND, _BEYOND_STEP = 5.0, 0.0625


@dataclass(frozen=True)
class Outlook:
    """Of 100 such people, how many do one task without glasses; arrays for many people.

    Attributes
    ----------
    task : Task
    of_100 : int or array
        How many, by the model as it is.
    low, high : int or array
        If such eyes see a line less, or a line more, than the model predicts.
    known : bool or array
        False where no eye is counted on, since the potential of each is unknown. Where it is so of
        one eye, ``of_100`` and ``low`` count on the other alone, and ``high`` on both.
    """

    task: Task
    of_100: int | np.ndarray
    low: int | np.ndarray
    high: int | np.ndarray
    known: bool | np.ndarray = True

    @property
    def in_short(self) -> str:
        """The number and its interval, or "unknown"."""
        if np.ndim(self.of_100):
            return f"{np.size(self.of_100)} people"
        return f"{self.of_100} ({self.low}–{self.high})" if self.known else "unknown"

    def __str__(self):
        if np.ndim(self.of_100):
            return f"{self.task.name}: {self.in_short}"
        if not self.known:
            return f"{self.task.name}: cannot be told, potential acuity not known"
        return (
            f"{self.task.name}: of 100 such people {self.of_100} without glasses "
            f"(between {self.low} and {self.high})"
        )


@lru_cache(maxsize=1)
def student_of_registry() -> tuple[float, float]:
    """Return scale and degrees of freedom of Student's t that has the registry's two shares.

    Returns
    -------
    scale_d, degrees : float

    Sources
    -------
    Lundström et al. 2018; the form is assumed.

    Examples
    --------
    >>> scale_d, degrees = student_of_registry()
    >>> round(float(2 * stats.t.cdf(0.5 / scale_d, degrees) - 1), 3)
    0.727
    """
    of_1000 = [
        evidence.effect(f"registry, within {limit}").value
        for limit in ("half a dioptre", "one dioptre")
    ]
    shares = np.array(of_1000, float) / 1000.0

    def misses(logs):
        scale_d, degrees = np.exp(logs)
        within = 2.0 * stats.t.cdf(np.array([0.5, 1.0]) / scale_d, degrees) - 1.0
        return within - shares

    scale_d, degrees = np.exp(optimize.fsolve(misses, np.log([0.4, 3.0]), xtol=1e-12))
    return float(scale_d), float(degrees)


def registry_sd_d() -> float:
    """Return the standard deviation of the refraction error in the registry's Student's t, D.

    >>> round(registry_sd_d(), 1)
    0.6
    """
    scale_d, degrees = student_of_registry()
    return scale_d * (degrees / (degrees - 2.0)) ** 0.5


def share_within(limit_d: ArrayLike, extra_sd_d: ArrayLike = 0.0) -> FloatOrArray:
    """Return which share of eyes ends within so much of the target.

    Parameters
    ----------
    limit_d : scalar or array
        0 to 10 D.
    extra_sd_d : scalar or array
        What widens the spread beyond the registry's, 0 to 5 D; squares add up.

    Returns
    -------
    float or array
        0 to 1.

    Examples
    --------
    >>> round(share_within(1.0), 2), round(share_within(1.0, 0.5), 2)
    (0.93, 0.87)
    """
    limit_d = require("limit_d", limit_d, 0.0, 10.0, hint="In dioptres, without a sign.")
    extra_sd_d = require("extra_sd_d", extra_sd_d, *SD_RANGE_D, hint="A standard deviation.")
    scale_d, degrees = student_of_registry()
    wider = np.sqrt(1.0 + (extra_sd_d / registry_sd_d()) ** 2)
    return unwrap_scalar(2.0 * stats.t.cdf(limit_d / (scale_d * wider), degrees) - 1.0)


def outlook_for(
    patient: Patient,
    lens: Lens,
    target_d: float = 0.0,
    fellow_target_d: float | None = None,
    tasks: Sequence[Task] = TASKS,
    *,
    sd_d: float | None = None,
    extra_sd_d: float | None = None,
    cylinder_sd_d: float = CYLINDER_SD_D,
    correlation: float = CORRELATION,
) -> tuple[Outlook, ...]:
    """Return of 100 such people how many do each task without glasses, from all that is known.

    Parameters
    ----------
    patient, lens, target_d, fellow_target_d, tasks
        As for ``tasks.glasses_for``.
    extra_sd_d : float, optional
        As for `outlook`; what the gate's warnings add for this patient unless given.
    sd_d, cylinder_sd_d, correlation
        As for `outlook`.

    Returns
    -------
    tuple of Outlook
        One for each task.

    Raises
    ------
    ValueError
        Naming the value, the unit, the range and the likely slip.

    Examples
    --------
    >>> from shared_utils.choice.findings import otherwise_healthy
    >>> from shared_utils.choice.tasks import LENS_OF
    >>> page = [task for task in TASKS if task.name == "newspaper"]
    >>> (plain,) = outlook_for(otherwise_healthy(), LENS_OF["monofocal"], tasks=page)
    >>> (three,) = outlook_for(otherwise_healthy(), LENS_OF["trifocal"], tasks=page)
    >>> plain.of_100 < 10 < three.of_100 < 90
    True
    """
    require_instance("patient", patient, Patient, "a Patient; findings.from_dict makes one")
    eyes = eyes_of(patient, lens, target_d, fellow_target_d)
    if extra_sd_d is None:
        extra_sd_d = gate.of_patient(patient).adds_sd_d
    return outlook(
        eyes[0],
        eyes[1] if len(eyes) > 1 else None,
        tasks,
        gain_logmar=gain_between(patient, eyes),
        sd_d=sd_d,
        extra_sd_d=extra_sd_d,
        cylinder_sd_d=cylinder_sd_d,
        correlation=correlation,
    )


def outlook(
    eye: EyeWithLens,
    fellow: EyeWithLens | None = None,
    tasks: Sequence[Task] = TASKS,
    *,
    gain_logmar: float = 0.0,
    sd_d: float | None = None,
    extra_sd_d: float = 0.0,
    cylinder_sd_d: float = CYLINDER_SD_D,
    correlation: float = CORRELATION,
) -> tuple[Outlook, ...]:
    """Return the same for one eye, or two, given as numbers; arrays for many people.

    Parameters
    ----------
    eye, fellow : sight.EyeWithLens
        An eye whose refraction was measured has no spread.
    tasks : sequence of Task
    gain_logmar : float
        What two equal eyes gain together, 0 to 0.15 logMAR.
    sd_d : float, optional
        Of the refraction error, 0 to 5 D, in tails as the registry's; the registry's unless given.
    extra_sd_d : float
        What widens it, 0 to 5 D; squares add up.
    cylinder_sd_d : float
        Of each component of the power vector of the cylinder, 0 to 5 D.
    correlation : float
        Of the errors of the two eyes, 0 to 0.95.

    Returns
    -------
    tuple of Outlook
        One for each task.

    Raises
    ------
    ValueError
        Naming the value, the unit, the range and the likely slip.

    Examples
    --------
    Without any spread, as ``tasks.glasses_needed``:

    >>> from shared_utils.choice.tasks import LENS_OF
    >>> sign = [task for task in TASKS if task.name == "road sign by day"]
    >>> sharp = {"sd_d": 0.0, "cylinder_sd_d": 0.0}
    >>> print(*outlook(EyeWithLens(LENS_OF["monofocal"]), tasks=sign, **sharp))
    road sign by day: of 100 such people 100 without glasses (between 100 and 100)
    """
    example = "an EyeWithLens, such as EyeWithLens(LENS_OF['monofocal'])"
    eyes = (eye,) if fellow is None else (eye, fellow)
    for name, one in zip(("eye", "fellow"), eyes, strict=False):
        require_instance(name, one, EyeWithLens, example)
    hint = "A standard deviation."
    gain = require_one("gain_logmar", gain_logmar, 0.0, 0.15)
    sd = registry_sd_d() if sd_d is None else require_one("sd_d", sd_d, *SD_RANGE_D, hint=hint)
    sd = float(np.hypot(sd, require_one("extra_sd_d", extra_sd_d, *SD_RANGE_D, hint=hint)))
    cylinder_sd = require_one("cylinder_sd_d", cylinder_sd_d, *SD_RANGE_D, hint=hint)
    rho = require_one("correlation", correlation, 0.0, 0.95, hint="Of the two eyes' errors.")
    spread = (sd, cylinder_sd, gain, rho)
    tasks, found = hold_tasks(tasks), {}
    for light in dict.fromkeys(task.light for task in tasks):  # of one light all at once
        lit, shape = in_light(eyes, light)
        places = [n for n, task in enumerate(tasks) if task.light == light]
        parts = _of_light([tasks[n] for n in places], lit, *spread)
        for row, place in enumerate(places):
            own = [part[row] for part in parts]
            own = [part.reshape(shape) if shape else part[0].item() for part in own]
            found[place] = Outlook(tasks[place], *own)
    return tuple(found[place] for place in range(len(tasks)))


def _of_light(tasks, eyes, sd_d, cylinder_sd_d, gain, rho):
    """Numbers of 100, lowest, highest and whether known: each by task and person."""
    count = eyes[0].target_d.size
    everyone = np.all([eye.potential_known for eye in eyes])
    known = np.any([eye.potential_known for eye in eyes], axis=0)
    alike = len(eyes) == 2 and eyes[0].alike(eyes[1])
    sure, hoped = (np.empty((3, len(tasks), count)) for _ in range(2))
    for start in range(0, count, _EYES_AT_ONCE):
        here = slice(start, start + _EYES_AT_ONCE)
        distinct = eyes[:1] if alike else eyes
        each = [
            _shares_by_error(eye, here, tasks, gain, sd_d, cylinder_sd_d) for eye in distinct
        ] * (1 + alike)
        hoped[..., here] = _of_both(each, rho)
        if not everyone:
            each = [part * eye.potential_known[here] for part, eye in zip(each, eyes, strict=True)]
            sure[..., here] = _of_both(each, rho)
    if everyone:
        sure = hoped
    numbers = [np.floor(100.0 * part + 0.5).astype(int) for part in (sure[1], sure[0], hoped[2])]
    return (*numbers, np.broadcast_to(known, sure[1].shape))


def _shares_by_error(eye, here, tasks, gain, sd_d, cylinder_sd_d):
    """How probably each eye is good enough at each of the refraction errors.

    Axes: what is needed by an eye that sees a line less, as predicted, or more, and then the same
    with what both eyes gain; task; error; eye.
    """
    target_d, cylinder_d = eye.target_d[here], eye.residual_cylinder_d[here]
    errors_d = (0.0 if eye.measured else sd_d) * _standard_errors()
    vergence_d = np.array([task.vergence_d for task in tasks])
    defocus_d = vergence_d[:, None, None] - (target_d + errors_d[:, None])
    spherical = 10.0 ** (2.0 * eye.spherical_logmar(defocus_d, here))
    lines = np.array([-1.0, 0.0, 1.0]) * ACUITY_UNCERTAINTY_LOGMAR
    lines = np.concatenate([lines, lines + gain]) if gain else lines
    enough = np.array([task.needed_logmar for task in tasks]) + lines[:, None]
    # squares of angles add up: what sharp sight leaves of them is room for the cylinder
    room = 10.0 ** (2.0 * enough)[:, :, None, None] - spherical
    longest_d = np.sqrt(np.maximum(room, 0.0)) / eye.arcmin_per_d(here)
    shares = _shorter_than(longest_d, cylinder_d / 2.0, cylinder_sd_d)
    # an eye of unknown potential is here taken for a sound one
    able = ~eye.potential_known[here] | (eye.best_logmar[here] <= enough[..., None])
    return np.where((room >= 0.0) & able[:, :, None, :], shares, 0.0)


def _of_both(shares, rho):
    """Of all people, from the shares at each error of one eye, or of two."""
    if len(shares) == 1:
        return shares[0][:3].mean(axis=2)
    one, other = shares
    weights = _joint_weights(rho)
    found = 1.0 - _expected(1.0 - one[:3], weights, 1.0 - other[:3])  # not neither
    if len(one) > 3:  # neither eye alone, but each so nearly that both together do
        found = found + _expected(one[3:] - one[:3], weights, other[3:] - other[:3])
    return np.clip(found, 0.0, 1.0)


def _expected(one, weights, other):
    return np.einsum("...in,...in->...n", np.matmul(weights, one), other)


@lru_cache(maxsize=1)
def _standard_errors():
    """Refraction errors of a standard deviation of 1 that are equally probable."""
    scale_d, degrees = student_of_registry()
    middles = (np.arange(_NODES) + 0.5) / _NODES
    return scale_d / registry_sd_d() * stats.t.ppf(middles, degrees)


@lru_cache(maxsize=8)
def _joint_weights(rho):
    """How probable each pair of errors is, of two eyes whose errors are Student's t together."""
    _, degrees = student_of_registry()
    x = stats.t.ppf((np.arange(_NODES) + 0.5) / _NODES, degrees)
    square = (x[:, None] ** 2 - 2.0 * rho * np.outer(x, x) + x**2) / (1.0 - rho**2)
    alone = stats.t.pdf(x, degrees)
    weights = (1.0 + square / degrees) ** (-degrees / 2.0 - 1.0) / np.outer(alone, alone)
    for _ in range(200):  # each error of either eye is as probable as every other
        weights = weights / (weights.sum(axis=0) * _NODES)
        weights = weights / (weights.sum(axis=1, keepdims=True) * _NODES)
    return weights


def _shorter_than(longest_d, mean_d, sd_d):
    """How probably a power vector spread about a mean one is not longer than this.

    Its two components are normal, so its length has Rice's distribution.
    """
    if sd_d == 0.0:
        return (mean_d <= longest_d).astype(float)
    rows, columns = np.broadcast_arrays(mean_d / sd_d / _MEAN_STEP, (longest_d - mean_d) / sd_d)
    columns = (columns + _BEYOND) / _BEYOND_STEP
    return ndimage.map_coordinates(_rice_table(), [rows, columns], order=1, mode="nearest")


@lru_cache(maxsize=1)
def _rice_table():
    """Shares by mean length and by how far a length lies beyond it, in standard deviations."""
    means = np.arange(0.0, _LONGEST_MEAN, _MEAN_STEP)[:, None]
    lengths = means + np.arange(-_BEYOND, _BEYOND, _BEYOND_STEP)
    return special.chndtr(np.maximum(lengths, 0.0) ** 2, 2.0, means**2)
