"""Vergence: light followed from object to image, one step at a time.

Light travels in the positive direction. A real object lies at a negative distance; converging
light has positive vergence.

Sources
-------
Textbook optics: Bennett & Rabbetts, *Clinical Visual Optics*; Keating, *Geometric, Physical and
Visual Optics*; Atchison & Smith, *Optics of the Human Eye* (2000).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from shared_utils.optics.domain import broadcast, require, unwrap_scalar

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from shared_utils.optics.types import FloatOrArray

INDEX_RANGE = (1.0, 4.0)
INDEX_HINT = "A refractive index: air 1, aqueous 1.336, glass about 1.5."
POWER_RANGE_D = (-2000.0, 2000.0)
VERTEX_RANGE_MM = (-30.0, 60.0)


def vergence(distance_m: ArrayLike, index: ArrayLike = 1.0) -> FloatOrArray:
    """Return the vergence of light whose object or image point lies at a distance.

    Parameters
    ----------
    distance_m : scalar or array
        Distance to the point, m; negative for a real object, ±inf for a distant one.
    index : scalar or array
        Refractive index of the medium, 1 to 4.

    Returns
    -------
    float or array
        Vergence, D; positive when converging.

    Raises
    ------
    ValueError
        At a distance of zero, where vergence has no value.

    Sources
    -------
    Keating, *Geometric, Physical and Visual Optics*: V = n/v.

    Examples
    --------
    An object 40 cm in front sends light of −2.50 D.

    >>> vergence(-0.40)
    -2.5
    """
    distance_m = require("distance_m", distance_m, infinite=True)
    index = require("index", index, *INDEX_RANGE, hint=INDEX_HINT)
    distance_m, index = broadcast(distance_m=distance_m, index=index)
    if np.any(distance_m == 0):
        raise ValueError(
            "distance_m is 0 m; at the point itself vergence has no value: give a distance "
            "other than 0 m, negative for a real object."
        )
    return unwrap_scalar(index / distance_m)


def focus_distance(vergence_d: ArrayLike, index: ArrayLike = 1.0) -> FloatOrArray:
    """Return the distance at which light of a vergence comes (or came) to a point.

    Parameters
    ----------
    vergence_d : scalar or array
        Vergence, D.
    index : scalar or array
        Refractive index of the medium, 1 to 4.

    Returns
    -------
    float or array
        Distance, m; positive behind (a real image), inf for parallel light.

    Sources
    -------
    Keating: v = n/V.

    Examples
    --------
    >>> focus_distance(2.5)
    0.4
    """
    vergence_d = require("vergence_d", vergence_d)
    index = require("index", index, *INDEX_RANGE, hint=INDEX_HINT)
    vergence_d, index = broadcast(vergence_d=vergence_d, index=index)
    with np.errstate(divide="ignore"):
        return unwrap_scalar(np.where(vergence_d == 0, np.inf, index / vergence_d))


def refract(vergence_d: ArrayLike, power_d: ArrayLike) -> FloatOrArray:
    """Return the vergence just behind a thin lens or a surface.

    Parameters
    ----------
    vergence_d : scalar or array
        Vergence that arrives, D.
    power_d : scalar or array
        Power of the lens or surface, −2000 to 2000 D.

    Returns
    -------
    float or array
        Vergence that leaves, D.

    Sources
    -------
    Keating: V = U + F.

    Examples
    --------
    >>> refract(-2.5, 5.0)
    2.5
    """
    vergence_d = require("vergence_d", vergence_d)
    power_d = require("power_d", power_d, *POWER_RANGE_D)
    vergence_d, power_d = broadcast(vergence_d=vergence_d, power_d=power_d)
    return unwrap_scalar(vergence_d + power_d)


def propagate(vergence_d: ArrayLike, distance_m: ArrayLike, index: ArrayLike = 1.0) -> FloatOrArray:
    """Return the vergence after light has travelled on by a distance.

    Parameters
    ----------
    vergence_d : scalar or array
        Vergence at the start, D.
    distance_m : scalar or array
        Way travelled, m; positive downstream, negative to look back upstream.
    index : scalar or array
        Refractive index of the medium, 1 to 4.

    Returns
    -------
    float or array
        Vergence at the end, D.

    Raises
    ------
    ValueError
        Where the light comes to its focus just there: vergence is infinite.

    Sources
    -------
    Keating, effectivity: V' = V / (1 − (d/n) V).

    Examples
    --------
    A +10 D lens moved 20 mm nearer to the eye acts as 10 / (1 − 0.2) = 12.5 D.

    >>> propagate(10.0, 0.020)
    12.5
    """
    vergence_d = require("vergence_d", vergence_d)
    distance_m = require("distance_m", distance_m)
    index = require("index", index, *INDEX_RANGE, hint=INDEX_HINT)
    vergence_d, distance_m, index = broadcast(
        vergence_d=vergence_d, distance_m=distance_m, index=index
    )
    remaining = 1.0 - distance_m / index * vergence_d
    at_focus = np.abs(remaining) < 1e-12
    if np.any(at_focus):
        raise ValueError(
            f"distance_m of {distance_m[at_focus].flat[0]:.6g} m ends at the focus of light of "
            f"{vergence_d[at_focus].flat[0]:.6g} D, where vergence is infinite: "
            "choose a distance in m short of the focus or beyond it."
        )
    return unwrap_scalar(vergence_d / remaining)


def surface_power(
    radius_mm: ArrayLike, index_before: ArrayLike, index_after: ArrayLike
) -> FloatOrArray:
    """Return the power of a spherical surface between two media.

    Parameters
    ----------
    radius_mm : scalar or array
        Radius of curvature, mm; positive when the centre lies behind the surface, inf if flat.
    index_before, index_after : scalar or array
        Refractive indices before and behind the surface, 1 to 4.

    Returns
    -------
    float or array
        Power, D.

    Raises
    ------
    ValueError
        For a radius nearer to zero than 0.1 mm, which is no surface of an eye or a lens.

    Sources
    -------
    Keating: F = (n' − n) / r.

    Examples
    --------
    >>> surface_power(8.0, 1.0, 1.5)
    62.5
    """
    radius_mm = require("radius_mm", radius_mm, infinite=True)
    index_before = require("index_before", index_before, *INDEX_RANGE, hint=INDEX_HINT)
    index_after = require("index_after", index_after, *INDEX_RANGE, hint=INDEX_HINT)
    radius_mm, index_before, index_after = broadcast(
        radius_mm=radius_mm, index_before=index_before, index_after=index_after
    )
    if np.any(np.abs(radius_mm) < 0.1):
        raise ValueError(
            f"radius_mm is {radius_mm[np.abs(radius_mm) < 0.1].flat[0]:.6g} mm; give at least "
            "0.1 mm (or −0.1 mm and below). In metres? Multiply by 1000."
        )
    return unwrap_scalar(1000.0 * (index_after - index_before) / radius_mm)


def at_vertex(refraction_d: ArrayLike, from_mm: ArrayLike, to_mm: ArrayLike) -> FloatOrArray:
    """Return the refraction that does the same work at another distance from the cornea.

    Parameters
    ----------
    refraction_d : scalar or array
        Refraction where it was measured, −40 to 40 D; myopia negative.
    from_mm, to_mm : scalar or array
        Vertex distance it was measured at and vertex distance wanted, mm in front of the cornea,
        −30 to 60; 0 is the cornea itself.

    Returns
    -------
    float or array
        Refraction at the new plane, D.

    Sources
    -------
    Bennett & Rabbetts, effectivity of spectacle lenses: F' = F / (1 − (from − to) F).

    Examples
    --------
    A −10.00 D spectacle lens at 12 mm does the work of −10 / 1.12 = −8.93 D at the cornea.

    >>> round(at_vertex(-10.0, 12.0, 0.0), 2)
    -8.93
    """
    refraction_d = require(
        "refraction_d", refraction_d, -40.0, 40.0, hint="Myopia is negative, in dioptres."
    )
    vertex_hint = "The usual vertex distance is 12 mm, the cornea is 0 mm."
    from_mm = require("from_mm", from_mm, *VERTEX_RANGE_MM, hint=vertex_hint)
    to_mm = require("to_mm", to_mm, *VERTEX_RANGE_MM, hint=vertex_hint)
    refraction_d, from_mm, to_mm = broadcast(
        refraction_d=refraction_d, from_mm=from_mm, to_mm=to_mm
    )
    return propagate(refraction_d, (from_mm - to_mm) / 1000.0)


def magnification(object_vergence_d: ArrayLike, image_vergence_d: ArrayLike) -> FloatOrArray:
    """Return the lateral magnification from the vergences at the two ends of a system.

    Parameters
    ----------
    object_vergence_d : scalar or array
        Vergence that arrives at the first lens, D; not 0.
    image_vergence_d : scalar or array
        Vergence that leaves, D; not 0.

    Returns
    -------
    float or array
        Image height divided by object height, no unit; negative when upside down. For one lens
        or surface. For several, multiply their magnifications.

    Sources
    -------
    Keating: m = U / V.

    Examples
    --------
    >>> magnification(-2.5, 2.5)
    -1.0
    """
    object_vergence_d = require("object_vergence_d", object_vergence_d)
    image_vergence_d = require("image_vergence_d", image_vergence_d)
    object_vergence_d, image_vergence_d = broadcast(
        object_vergence_d=object_vergence_d, image_vergence_d=image_vergence_d
    )
    if np.any(image_vergence_d == 0):
        raise ValueError(
            "image_vergence_d is 0 D: the image lies at infinity and has no size; give a "
            "vergence in D other than 0."
        )
    return unwrap_scalar(object_vergence_d / image_vergence_d)


@dataclass(frozen=True)
class LensPair:
    """Light through two thin lenses, step by step; vergences in D, distances in m."""

    at_first_d: float | np.ndarray
    after_first_d: float | np.ndarray
    at_second_d: float | np.ndarray
    after_second_d: float | np.ndarray
    image_distance_m: float | np.ndarray
    magnification: float | np.ndarray


def two_lenses(
    first_power_d: ArrayLike,
    second_power_d: ArrayLike,
    separation_m: ArrayLike,
    object_vergence_d: ArrayLike = 0.0,
    index: ArrayLike = 1.0,
) -> LensPair:
    """Return the vergence at every step through two thin lenses in one medium.

    Parameters
    ----------
    first_power_d, second_power_d : scalar or array
        Powers of the lenses, −2000 to 2000 D.
    separation_m : scalar or array
        Way from the first lens to the second, 0 to 100 m.
    object_vergence_d : scalar or array
        Vergence that arrives at the first lens, D; 0 for a distant object.
    index : scalar or array
        Refractive index between and around the lenses, 1 to 4.

    Returns
    -------
    LensPair
        Vergences (D), image distance from the second lens (m, positive behind it, inf for
        parallel light), magnification (no unit; 0 for a distant object and inf for an image at
        infinity, which have no lateral magnification).

    Raises
    ------
    ValueError
        If the first image falls exactly on the second lens.

    Sources
    -------
    Keating: carry the vergence by effectivity, then add the second power.

    Examples
    --------
    +5 D and +8 D, 10 cm apart, distant object: 5 becomes 10, and 10 + 8 = 18 D.

    >>> pair = two_lenses(5.0, 8.0, 0.10)
    >>> pair.at_second_d, pair.after_second_d
    (10.0, 18.0)
    """
    separation_m = require(
        "separation_m", separation_m, 0.0, 100.0, hint="In millimetres? Divide by 1000."
    )
    first_power_d, second_power_d, separation_m, object_vergence_d, index = broadcast(
        first_power_d=require("first_power_d", first_power_d, *POWER_RANGE_D),
        second_power_d=require("second_power_d", second_power_d, *POWER_RANGE_D),
        separation_m=separation_m,
        object_vergence_d=require("object_vergence_d", object_vergence_d),
        index=require("index", index, *INDEX_RANGE, hint=INDEX_HINT),
    )
    after_first_d = refract(object_vergence_d, first_power_d)
    at_second_d = propagate(after_first_d, separation_m, index)
    after_second_d = refract(at_second_d, second_power_d)
    # m = (U1/V1)(U2/V2), and U2/V1 is what effectivity makes of 1, finite for parallel light too
    between = 1.0 / (1.0 - separation_m / index * np.asarray(after_first_d))
    with np.errstate(divide="ignore", invalid="ignore"):
        times = object_vergence_d * between / np.asarray(after_second_d)
    times = np.where(object_vergence_d == 0, 0.0, times)
    return LensPair(
        at_first_d=unwrap_scalar(object_vergence_d),
        after_first_d=after_first_d,
        at_second_d=at_second_d,
        after_second_d=after_second_d,
        image_distance_m=focus_distance(after_second_d, index),
        magnification=unwrap_scalar(times),
    )


@dataclass(frozen=True)
class ThickLens:
    """What a thick lens does in air; powers in D, places in mm."""

    equivalent_power_d: float | np.ndarray
    front_vertex_power_d: float | np.ndarray
    back_vertex_power_d: float | np.ndarray
    front_principal_mm: float | np.ndarray
    back_principal_mm: float | np.ndarray


def thick_lens(
    front_power_d: ArrayLike, back_power_d: ArrayLike, thickness_mm: ArrayLike, index: ArrayLike
) -> ThickLens:
    """Return the powers and principal planes of a thick lens in air.

    Parameters
    ----------
    front_power_d, back_power_d : scalar or array
        Powers of the two surfaces, −2000 to 2000 D.
    thickness_mm : scalar or array
        Centre thickness, 0 to 100 mm.
    index : scalar or array
        Refractive index of the lens, 1 to 4.

    Returns
    -------
    ThickLens
        Equivalent, front vertex and back vertex power (D); first principal plane from the front
        vertex and second from the back vertex (mm, positive behind the vertex, inf for a lens
        without power).

    Raises
    ------
    ValueError
        If light focused by one surface meets the other exactly at the focus.

    Sources
    -------
    Bennett & Rabbetts; Keating: F = F1 + F2 − (t/n) F1 F2, F_bv = F / (1 − (t/n) F1),
    F_fv = F / (1 − (t/n) F2), A1P = (t/n) F2 / F, A2P' = −(t/n) F1 / F.

    Examples
    --------
    +10 D and +10 D, 15 mm of index 1.5: t/n is 10 mm, so F = 20 − 0.010 · 100 = 19 D.

    >>> lens = thick_lens(10.0, 10.0, 15.0, 1.5)
    >>> lens.equivalent_power_d, round(lens.back_vertex_power_d, 2)
    (19.0, 21.11)
    """
    front_power_d = require("front_power_d", front_power_d, *POWER_RANGE_D)
    back_power_d = require("back_power_d", back_power_d, *POWER_RANGE_D)
    thickness_mm = require(
        "thickness_mm", thickness_mm, 0.0, 100.0, hint="In metres? Multiply by 1000."
    )
    index = require("index", index, *INDEX_RANGE, hint=INDEX_HINT)
    front_power_d, back_power_d, thickness_mm, index = broadcast(
        front_power_d=front_power_d,
        back_power_d=back_power_d,
        thickness_mm=thickness_mm,
        index=index,
    )
    reduced_m = thickness_mm / 1000.0 / index
    power = front_power_d + back_power_d - reduced_m * front_power_d * back_power_d
    front_left = 1.0 - reduced_m * back_power_d
    back_left = 1.0 - reduced_m * front_power_d
    for surface, left in (("back", front_left), ("front", back_left)):
        if np.any(np.abs(left) < 1e-12):
            raise ValueError(
                f"{surface}_power_d focuses light exactly on the other surface, where a vertex "
                "power in D is infinite: change the power or the thickness_mm a little."
            )
    with np.errstate(divide="ignore", invalid="ignore"):
        front_principal = np.where(power == 0, np.inf, 1000.0 * reduced_m * back_power_d / power)
        back_principal = np.where(power == 0, np.inf, -1000.0 * reduced_m * front_power_d / power)
    return ThickLens(
        equivalent_power_d=unwrap_scalar(power),
        front_vertex_power_d=unwrap_scalar(power / front_left),
        back_vertex_power_d=unwrap_scalar(power / back_left),
        front_principal_mm=unwrap_scalar(front_principal),
        back_principal_mm=unwrap_scalar(back_principal),
    )


def far_point(refraction_d: ArrayLike, vertex_mm: ArrayLike = 12.0) -> FloatOrArray:
    """Return where the relaxed eye's far point lies.

    Parameters
    ----------
    refraction_d : scalar or array
        Refraction at the spectacle plane, −40 to 40 D; myopia negative.
    vertex_mm : scalar or array
        Vertex distance, mm; 0 if the refraction is at the cornea.

    Returns
    -------
    float or array
        Distance from the cornea, m; negative in front (myopia), positive behind (hyperopia),
        inf for none.

    Sources
    -------
    Bennett & Rabbetts: k = 1 / K, K the ocular refraction.

    Examples
    --------
    −4.00 D at the cornea: the far point is 25 cm in front.

    >>> far_point(-4.0, vertex_mm=0.0)
    -0.25
    """
    return focus_distance(at_vertex(refraction_d, vertex_mm, 0.0))


def near_point(
    refraction_d: ArrayLike, amplitude_d: ArrayLike, vertex_mm: ArrayLike = 12.0
) -> FloatOrArray:
    """Return where the eye's near point lies under full accommodation.

    Parameters
    ----------
    refraction_d : scalar or array
        Refraction at the spectacle plane, −40 to 40 D; myopia negative.
    amplitude_d : scalar or array
        Amplitude of accommodation, 0 to 25 D, at the cornea.
    vertex_mm : scalar or array
        Vertex distance, mm; 0 if the refraction is at the cornea.

    Returns
    -------
    float or array
        Distance from the cornea, m; negative in front, positive behind (out of reach).

    Sources
    -------
    Bennett & Rabbetts: b = 1 / (K − A).

    Examples
    --------
    >>> near_point(0.0, 2.0)
    -0.5
    """
    amplitude_d = require(
        "amplitude_d", amplitude_d, 0.0, 25.0, hint="Accommodation is given as a positive number."
    )
    ocular_d, amplitude_d = broadcast(
        ocular_d=at_vertex(refraction_d, vertex_mm, 0.0), amplitude_d=amplitude_d
    )
    return focus_distance(ocular_d - amplitude_d)


def accommodation_demand(
    refraction_d: ArrayLike, object_distance_m: ArrayLike, vertex_mm: ArrayLike = 12.0
) -> FloatOrArray:
    """Return how much an eye behind its full correction must accommodate for a near object.

    Parameters
    ----------
    refraction_d : scalar or array
        Refraction, which the correction neutralises, −40 to 40 D.
    object_distance_m : scalar or array
        Distance from the correcting lens to the object, m; negative, as for every real object.
    vertex_mm : scalar or array
        Vertex distance of the correction, mm; 0 for a contact lens.

    Returns
    -------
    float or array
        Demand at the cornea, D; positive.

    Sources
    -------
    Bennett & Rabbetts: difference of the vergences at the cornea of light from a distant and
    from the near object, each carried over the vertex distance.

    Examples
    --------
    A contact lens leaves the demand of the bare distance: an object at 25 cm asks 4 D.

    >>> accommodation_demand(-6.0, -0.25, vertex_mm=0.0)
    4.0
    """
    object_distance_m = require(
        "object_distance_m",
        object_distance_m,
        -np.inf,
        -0.05,
        hint="A real object lies at a negative distance, in metres.",
        infinite=True,
    )
    refraction_d, object_distance_m, vertex_mm = broadcast(
        refraction_d=require("refraction_d", refraction_d, -40.0, 40.0),
        object_distance_m=object_distance_m,
        vertex_mm=require("vertex_mm", vertex_mm, *VERTEX_RANGE_MM),
    )
    relaxed_d = at_vertex(refraction_d, vertex_mm, 0.0)
    near_d = propagate(refraction_d + vergence(object_distance_m), vertex_mm / 1000.0)
    return unwrap_scalar(np.asarray(relaxed_d) - near_d)
