"""How well one eye with its lens resolves, in one light: curves of the model, then its limits.

Squares of angles resolved add up: of sharp sight, of what a cylinder, the aberration of the cornea
and a lens off centre blur. Spherical aberration that laser left is part of what was measured over
the cornea, so the worse of both counts. No credit is given where a cylinder or an aberration would
stretch the focus.

Sources
-------
Angle resolved in proportion to blur and pupil: Smith, Optom Vis Sci 1991;68:591 (abstract; the 0.65
arcmin per dioptre and millimetre from memory). Effects of findings: `limits`.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import lru_cache
from typing import TYPE_CHECKING, Any

import numpy as np

from shared_utils.choice.limits import Limits
from shared_utils.optics.acuity import SMITH_ARCMIN_PER_MM_D
from shared_utils.optics.centration import coma_um, equivalent_defocus_d
from shared_utils.optics.domain import broadcast, require, require_instance
from shared_utils.optics.lenses import Lens
from shared_utils.optics.through_focus import acuity_of, divided
from shared_utils.optics.viewing import AVERAGE_CORNEA_SA_UM, Viewing

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

TARGET_RANGE_D = (-4.0, 2.0)

_PUPIL_STEP_MM = 0.5
_DEFOCUS_D = np.linspace(-5.0, 4.0, 73)
_PARTS = tuple(Limits.__dataclass_fields__)


@dataclass(frozen=True, eq=False)
class EyeWithLens:
    """One eye, the lens in it and the refraction that it has or is to have.

    Parameters
    ----------
    lens : Lens
        From ``tasks.LENS_OF`` or ``optics.lenses``.
    target_d : scalar or array
        Refraction, −4 to 2 D; myopia negative.
    limits : limits.Limits
        Those of a healthy eye unless given.
    measured : bool
        True where the eye has its lens already and the refraction was measured, not aimed at.
    """

    lens: Lens
    target_d: ArrayLike = 0.0
    limits: Limits = field(default_factory=Limits)
    measured: bool = False

    def __post_init__(self):
        require_instance("lens", self.lens, Lens, "a lens, such as LENS_OF['monofocal']")
        require_instance("limits", self.limits, Limits, "Limits, such as Limits(pupil_mm=3.0)")
        require_instance("measured", self.measured, bool, "True or False")
        target_d = require("target_d", self.target_d, *TARGET_RANGE_D, hint="Myopia is negative.")
        object.__setattr__(self, "target_d", target_d)


@dataclass(frozen=True, eq=False)
class LitEye:
    """One eye with its lens in one light, each number an array of one length."""

    lens: Lens
    target_d: np.ndarray
    pupil_mm: np.ndarray
    best_logmar: np.ndarray
    potential_known: np.ndarray
    residual_cylinder_d: np.ndarray
    glasses_correct_cylinder: np.ndarray
    aberration_d: np.ndarray
    decentration_mm: np.ndarray
    contrast_divisor: np.ndarray
    corneal_sa_um: np.ndarray
    measured: bool

    def alike(self, other: LitEye) -> bool:
        """Return whether two eyes see the same."""
        return (self.lens, self.measured) == (other.lens, other.measured) and all(
            np.array_equal(getattr(self, name), getattr(other, name))
            for name in ("target_d", *_PARTS)
        )

    def arcmin_per_d(self, where: Any = slice(None)) -> np.ndarray:
        """Return the angle that a dioptre of defocus adds to what is resolved, arcmin."""
        return SMITH_ARCMIN_PER_MM_D * self.pupil_mm[where]

    def spherical_logmar(self, defocus_d: np.ndarray, where: Any = slice(None)) -> np.ndarray:
        """Return the acuity without cylinder and without the limit of the potential.

        Parameters
        ----------
        defocus_d : array
            Vergence of the object less the refraction, D; eyes along its last axis.
        where : index
            Which eyes.

        Returns
        -------
        array
            logMAR.
        """
        pupil_mm, sa_um = self.pupil_mm[where], self.corneal_sa_um[where]
        divisor = self.contrast_divisor[where]

        def curve(sa_um):
            found = _between_curves(self.lens, pupil_mm, defocus_d, sa_um)
            return divided(found, divisor) if np.any(divisor > 1.0) else found

        found = curve(np.full_like(sa_um, AVERAGE_CORNEA_SA_UM))
        if np.any(self.aberration_d[where]):
            found = _added(found, self.arcmin_per_d(where) * self.aberration_d[where])
        if np.any(sa_um != AVERAGE_CORNEA_SA_UM):
            found = np.maximum(found, curve(sa_um))
        if np.any(self.decentration_mm[where]):
            coma = coma_um(self.lens.lens_sa_um, self.decentration_mm[where], pupil_mm)
            blur_d = equivalent_defocus_d(coma, pupil_mm)
            found = _added(found, self.arcmin_per_d(where) * blur_d)
        return found

    def logmar(
        self, defocus_d: np.ndarray, where: Any = slice(None), corrected: bool = False
    ) -> np.ndarray:
        """Return the acuity with the cylinder that is left, without the limit of the potential.

        Parameters
        ----------
        defocus_d, where
            As for `spherical_logmar`.
        corrected : bool
            Whether glasses are worn, which correct a regular cylinder.

        Returns
        -------
        array
            logMAR.
        """
        found = self.spherical_logmar(defocus_d, where)
        left_d = self.residual_cylinder_d[where]
        if corrected:
            left_d = np.where(self.glasses_correct_cylinder[where], 0.0, left_d)
        if np.any(left_d):
            found = _added(found, self.arcmin_per_d(where) * left_d / 2.0)
        return found


def in_light(eyes: tuple[EyeWithLens, ...], light: str) -> tuple[tuple[LitEye, ...], tuple]:
    """Return one eye, or both of each person, in one light, and the shape that the arrays had.

    Parameters
    ----------
    eyes : tuple of EyeWithLens
        The first eye, and the other one if it is counted.
    light : str
        "bright", "dim" or "night".

    Returns
    -------
    tuple of LitEye, tuple of int
    """
    named = {}
    for whose, eye in zip(("", "fellow_"), eyes, strict=False):
        named[f"{whose}target_d"] = eye.target_d
        named |= {f"{whose}{name}": part for name, part in eye.limits.in_light(light).items()}
    rows = {name: part for name, part in named.items() if np.ndim(part)}
    shape = broadcast(**rows)[0].shape if rows else ()
    if shape:
        flat = {name: np.broadcast_to(part, shape).ravel() for name, part in named.items()}
    else:
        flat = {name: np.reshape(part, 1) for name, part in named.items()}
    lit = []
    for whose, eye in zip(("", "fellow_"), eyes, strict=False):
        own = {name: flat[f"{whose}{name}"] for name in ("target_d", *_PARTS)}
        lit.append(LitEye(eye.lens, measured=eye.measured, **own))
    return tuple(lit), shape


def _added(logmar, arcmin):
    """Acuity with a blur added: squares of the angles resolved add up."""
    return 0.5 * np.log10(10.0 ** (2.0 * logmar) + arcmin**2)


def _between_curves(lens, pupil_mm, defocus_d, sa_um):
    """Acuity between the curves of neighbouring pupils; pupils along the last axis of defocus."""
    defocus_d = np.clip(defocus_d, _DEFOCUS_D[0], _DEFOCUS_D[-1])
    step = np.floor(pupil_mm / _PUPIL_STEP_MM).astype(int)
    part = pupil_mm / _PUPIL_STEP_MM - step
    if pupil_mm.size == 1:
        kinds = [(sa_um.item(), step.item(), slice(None))]
    else:
        pairs = set(zip(sa_um.tolist(), step.tolist(), strict=True))
        kinds = [(sa, this, (step == this) & (sa_um == sa)) for sa, this in sorted(pairs)]
    found = np.empty(defocus_d.shape)
    for sa, this, here in kinds:
        wanted, share = defocus_d[..., here], part[here]
        near = np.interp(wanted, _DEFOCUS_D, _curve(lens, this, sa))
        found[..., here] = (1.0 - share) * near
        if share.any():
            wide = np.interp(wanted, _DEFOCUS_D, _curve(lens, this + 1, sa))
            found[..., here] += share * wide
    return found


@lru_cache(maxsize=512)
def _curve(lens, step, sa_um=AVERAGE_CORNEA_SA_UM):
    return acuity_of(Viewing(lens, step * _PUPIL_STEP_MM, _DEFOCUS_D, sa_um))
