"""What spectacles do besides focusing: they magnify, shift by a prism, and add for near.

Sources
-------
Bennett & Rabbetts, *Clinical Visual Optics*; Keating, *Geometric, Physical and Visual Optics*.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from shared_utils.optics.domain import broadcast, require, unwrap_scalar
from shared_utils.optics.vergence import INDEX_HINT, INDEX_RANGE, VERTEX_RANGE_MM, vergence

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from shared_utils.optics.types import FloatOrArray

LENS_POWER_RANGE_D = (-40.0, 40.0)
PUPIL_DEPTH_MM = 3.0  # cornea to entrance pupil


@dataclass(frozen=True)
class Magnification:
    """Retinal image size behind a lens over that without it, and its two factors; no unit."""

    shape: float | np.ndarray
    power: float | np.ndarray
    total: float | np.ndarray

    @property
    def percent(self) -> FloatOrArray:
        """The change of size, %; negative for a smaller image."""
        return unwrap_scalar(100.0 * (np.asarray(self.total) - 1.0))


def magnification(
    back_vertex_power_d: ArrayLike,
    front_surface_d: ArrayLike = 0.0,
    thickness_mm: ArrayLike = 0.0,
    index: ArrayLike = 1.5,
    vertex_mm: ArrayLike = 12.0,
    pupil_depth_mm: ArrayLike = PUPIL_DEPTH_MM,
) -> Magnification:
    """Return the spectacle magnification of a distant scene.

    Parameters
    ----------
    back_vertex_power_d : scalar or array
        Power of the lens as prescribed, −40 to 40 D.
    front_surface_d : scalar or array
        Power of its front surface, −40 to 40 D.
    thickness_mm : scalar or array
        Centre thickness, 0 to 20 mm; 0 for a thin lens, which has no shape factor.
    index : scalar or array
        Refractive index of the lens, 1 to 4.
    vertex_mm : scalar or array
        Back vertex to cornea, −30 to 60 mm; 0 for a contact lens.
    pupil_depth_mm : scalar or array
        Cornea to entrance pupil, 0 to 10 mm.

    Returns
    -------
    Magnification
        ``shape`` 1/(1 − (t/n) F1), ``power`` 1/(1 − h F_bv), h from the lens to the entrance
        pupil, their product ``total``, and ``percent``.

    Raises
    ------
    ValueError
        Where the lens focuses a distant object at the entrance pupil or in front of it: nothing
        upright is left to compare.

    Sources
    -------
    Bennett & Rabbetts; Keating.

    Examples
    --------
    Thin −5 D, 15 mm from the entrance pupil: 1/1.075, the image is 7 % smaller.

    >>> lens = magnification(-5.0)
    >>> round(lens.total, 4), round(lens.percent, 1)
    (0.9302, -7.0)
    """
    given = broadcast(
        back_vertex_power_d=require(
            "back_vertex_power_d", back_vertex_power_d, *LENS_POWER_RANGE_D
        ),
        front_surface_d=require("front_surface_d", front_surface_d, *LENS_POWER_RANGE_D),
        thickness_mm=require(
            "thickness_mm", thickness_mm, 0.0, 20.0, hint="In metres? Multiply by 1000."
        ),
        index=require("index", index, *INDEX_RANGE, hint=INDEX_HINT),
        vertex_mm=require("vertex_mm", vertex_mm, *VERTEX_RANGE_MM),
        pupil_depth_mm=require("pupil_depth_mm", pupil_depth_mm, 0.0, 10.0),
    )
    power_d, front_d, thickness_mm, index, vertex_mm, pupil_depth_mm = given
    shape = _factor("front_surface_d", front_d, thickness_mm / 1000.0 / index)
    power = _factor("back_vertex_power_d", power_d, (vertex_mm + pupil_depth_mm) / 1000.0)
    return Magnification(unwrap_scalar(shape), unwrap_scalar(power), unwrap_scalar(shape * power))


def _factor(name, power_d, distance_m):
    left = 1.0 - distance_m * power_d
    if np.any(left <= 0.0):
        raise ValueError(
            f"{name} of {power_d[left <= 0.0].flat[0]:.6g} D comes to its focus within "
            f"{1000.0 * distance_m[left <= 0.0].flat[0]:.6g} mm, so no upright image is left to "
            "compare; give a weaker power in D or a shorter way."
        )
    return 1.0 / left


def aniseikonia_percent(
    right_magnification: ArrayLike, left_magnification: ArrayLike
) -> FloatOrArray:
    """Return how much larger the right eye's image is than the left's.

    Parameters
    ----------
    right_magnification, left_magnification : scalar or array
        Magnifications, 0.1 to 10, no unit; any kind, as long as both are of the same kind.

    Returns
    -------
    float or array
        %; positive when the right image is larger. Above about 5 % few people fuse, and many
        complain from 2 or 3 % (common practice, no source).

    Sources
    -------
    Bennett & Rabbetts.

    Examples
    --------
    Right eye operated for emmetropia, left eye still behind −8 D glasses: 1 against 1/1.12.

    >>> round(aniseikonia_percent(1.0, magnification(-8.0).total), 1)
    12.0
    """
    right, left = broadcast(
        right_magnification=require("right_magnification", right_magnification, 0.1, 10.0),
        left_magnification=require("left_magnification", left_magnification, 0.1, 10.0),
    )
    return unwrap_scalar(100.0 * (right / left - 1.0))


def relative_magnification(
    spectacle_d: ArrayLike,
    eye_power_d: ArrayLike,
    lens_to_principal_mm: ArrayLike = 14.0,
    standard_d: ArrayLike = 60.0,
) -> FloatOrArray:
    """Return the retinal image of a corrected eye over that of a standard emmetropic eye.

    This is the magnification to compare two eyes by when they differ in length or in power. For
    an eye of standard power (axial ametropia) it is 1 whatever the refraction when the lens
    stands at the eye's front focus: Knapp's rule.

    Parameters
    ----------
    spectacle_d : scalar or array
        Power of the thin correcting lens, −40 to 40 D.
    eye_power_d : scalar or array
        Equivalent power of the eye, 30 to 90 D.
    lens_to_principal_mm : scalar or array
        Lens to the eye's first principal point, 0 to 60 mm; about 14 for glasses at 12 mm.
    standard_d : scalar or array
        Power of the standard eye, 30 to 90 D.

    Returns
    -------
    float or array
        Ratio, no unit.

    Sources
    -------
    Bennett & Rabbetts, relative spectacle magnification: standard power over the power
    F_s + F_e − d F_s F_e of lens and eye together.

    Examples
    --------
    A 60 D eye's front focus lies 1000/60 = 16.67 mm in front: Knapp's rule.

    >>> round(relative_magnification(-10.0, 60.0, lens_to_principal_mm=1000 / 60), 6)
    1.0
    """
    spectacle_d, eye_power_d, way_mm, standard_d = broadcast(
        spectacle_d=require("spectacle_d", spectacle_d, *LENS_POWER_RANGE_D),
        eye_power_d=require("eye_power_d", eye_power_d, 30.0, 90.0),
        lens_to_principal_mm=require("lens_to_principal_mm", lens_to_principal_mm, 0.0, 60.0),
        standard_d=require("standard_d", standard_d, 30.0, 90.0),
    )
    together_d = spectacle_d + eye_power_d - way_mm / 1000.0 * spectacle_d * eye_power_d
    if np.any(together_d <= 0.0):
        raise ValueError(
            f"spectacle_d of {spectacle_d[together_d <= 0.0].flat[0]:.6g} D leaves lens and eye "
            "together without converging power; give a weaker lens in D or a shorter way."
        )
    return unwrap_scalar(standard_d / together_d)


def prism(decentration_mm: ArrayLike, power_d: ArrayLike) -> FloatOrArray:
    """Return the prism met by looking through a point beside a lens's optical centre.

    Parameters
    ----------
    decentration_mm : scalar or array
        Distance from the optical centre to the point of looking, −50 to 50 mm; the sign tells
        the direction.
    power_d : scalar or array
        Power of the lens along that direction, −40 to 40 D.

    Returns
    -------
    float or array
        Prism dioptres (Δ), 1 cm at 1 m; positive when the base points back to the optical
        centre from there (plus lens), negative when it points away (minus lens), for a positive
        decentration.

    Sources
    -------
    Prentice's rule, Bennett & Rabbetts: P = c F with c in cm.

    Examples
    --------
    5 mm beside the centre of +4 D: 0.5 cm times 4 D.

    >>> prism(5.0, 4.0)
    2.0
    """
    decentration_mm, power_d = broadcast(
        decentration_mm=require(
            "decentration_mm",
            decentration_mm,
            -50.0,
            50.0,
            hint="In millimetres here; the rule's centimetres are made inside.",
        ),
        power_d=require("power_d", power_d, *LENS_POWER_RANGE_D),
    )
    return unwrap_scalar(decentration_mm / 10.0 * power_d)


def vertical_imbalance(
    right_d: ArrayLike, left_d: ArrayLike, gaze_down_mm: ArrayLike
) -> FloatOrArray:
    """Return the vertical prism between the two eyes when both look down through their lenses.

    Parameters
    ----------
    right_d, left_d : scalar or array
        Power of each lens in the vertical meridian, −40 to 40 D.
    gaze_down_mm : scalar or array
        How far below the optical centres they look, −50 to 50 mm; 8 to 10 for reading.

    Returns
    -------
    float or array
        Δ, right minus left by `prism`; positive when the right eye has the more base-up prism.

    Sources
    -------
    Bennett & Rabbetts, Prentice's rule for each eye.

    Examples
    --------
    −6 D and −3 D, 8 mm down: 0.8 cm times −3 D.

    >>> round(vertical_imbalance(-6.0, -3.0, 8.0), 2)
    -2.4
    """
    right_d, left_d, gaze_down_mm = broadcast(
        right_d=require("right_d", right_d, *LENS_POWER_RANGE_D),
        left_d=require("left_d", left_d, *LENS_POWER_RANGE_D),
        gaze_down_mm=require("gaze_down_mm", gaze_down_mm, -50.0, 50.0),
    )
    return unwrap_scalar(np.asarray(prism(gaze_down_mm, right_d)) - prism(gaze_down_mm, left_d))


def reading_add(
    object_distance_m: ArrayLike, amplitude_d: ArrayLike = 0.0, used_share: ArrayLike = 0.5
) -> FloatOrArray:
    """Return the reading addition that lets an eye keep part of its accommodation in reserve.

    Parameters
    ----------
    object_distance_m : scalar or array
        Distance to the page, m; negative, as for every real object; −10 to −0.1.
    amplitude_d : scalar or array
        Amplitude of accommodation, 0 to 25 D; 0 behind an artificial lens.
    used_share : scalar or array
        The part of the amplitude that may be used for long, 0 to 1.

    Returns
    -------
    float or array
        D, 0 where accommodation is enough.

    Sources
    -------
    Bennett & Rabbetts: half the amplitude in reserve, as common practice has it.

    Examples
    --------
    40 cm asks 2.50 D; half of an amplitude of 1 D gives 0.50: +2.00.

    >>> reading_add(-0.40, 1.0)
    2.0
    """
    object_distance_m, amplitude_d, used_share = broadcast(
        object_distance_m=require(
            "object_distance_m",
            object_distance_m,
            -10.0,
            -0.1,
            hint="A real object lies at a negative distance, in metres.",
        ),
        amplitude_d=require(
            "amplitude_d",
            amplitude_d,
            0.0,
            25.0,
            hint="Accommodation is given as a positive number.",
        ),
        used_share=require("used_share", used_share, 0.0, 1.0, hint="A share, not a percentage."),
    )
    demand_d = -np.asarray(vergence(object_distance_m))
    return unwrap_scalar(np.maximum(demand_d - used_share * amplitude_d, 0.0))
