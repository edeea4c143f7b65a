"""Exact rays through conic surfaces that may be decentred and tilted.

Rays are followed by Snell's law in three dimensions, all at once as arrays of points (mm) and
unit vectors. z is the axis, light travels towards +z, the first vertex of a system as built lies
at z = 0; y is up. From the rays come the spot on a plane and the wavefront over the pupil, its
aberrations as Zernike coefficients in µm.

Sign of a wavefront error: positive where the light is ahead of the sphere around the focus. So
spherical aberration is positive when the margin of the pupil focuses in front, as in most eyes,
and defocus is positive in myopia.

Sources
-------
Welford, *Aberrations of Optical Systems* (ray tracing, wavefront, Seidel sums); ISO 24157:2008
and Thibos et al., J Refract Surg 2002;18:S652 (Zernike functions, their order and sign);
Atchison & Smith, *Optics of the Human Eye* (2000).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import factorial
from typing import TYPE_CHECKING

import numpy as np

from shared_utils.optics.domain import require, unwrap_scalar
from shared_utils.optics.paraxial import System
from shared_utils.optics.vergence import INDEX_HINT, INDEX_RANGE

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy import ndarray
    from numpy.typing import ArrayLike

    from shared_utils.optics.types import FloatOrArray

PUPIL_RANGE_MM = (0.05, 12.0)
FIELD_RANGE_DEG = (-60.0, 60.0)
PLACE_RANGE_MM = (-1e6, 1e6)  # 1 km: far enough, and squares stay finite
RADIUS_HINT = "Positive when the centre lies behind the surface; in metres? Multiply by 1000."
RINGS = 10  # Gaussian rings over the pupil: exact for wavefronts up to the 18th power of the radius
SPOKES = 24
START_MM = 20.0  # in front of the first vertex, where light from a distant point sets out


@dataclass(frozen=True)
class Surface:
    """A conic of revolution between two media.

    Parameters
    ----------
    radius_mm : float
        Vertex radius of curvature, mm; positive when the centre lies behind it, inf if flat.
    index_behind : float
        Refractive index behind the surface, 1 to 4.
    asphericity : float
        Q of the conic r² + (1 + Q) z² = 2 R z, −1000 to 1000: 0 sphere, −1 paraboloid.
    vertex_mm : sequence of 3 numbers
        Where the vertex lies: x, y, z, mm.
    axis : sequence of 3 numbers
        Direction of the axis of revolution, a unit vector; (0, 0, 1) if not tilted.

    Examples
    --------
    >>> Surface(7.8, 1.376, asphericity=-0.26).vertex_mm
    (0.0, 0.0, 0.0)
    """

    radius_mm: float
    index_behind: float
    asphericity: float = 0.0
    vertex_mm: tuple = (0.0, 0.0, 0.0)
    axis: tuple = (0.0, 0.0, 1.0)

    def __post_init__(self):
        radius_mm = _one("radius_mm", self.radius_mm, hint=RADIUS_HINT, infinite=True)
        if abs(radius_mm) < 0.1:
            raise ValueError(
                f"radius_mm is {radius_mm:.6g} mm; give at least 0.1 mm (or −0.1 mm and below). "
                f"{RADIUS_HINT}"
            )
        object.__setattr__(self, "radius_mm", radius_mm)
        index_behind = _one("index_behind", self.index_behind, *INDEX_RANGE, hint=INDEX_HINT)
        object.__setattr__(self, "index_behind", index_behind)
        asphericity = _one("asphericity", self.asphericity, -1000.0, 1000.0)
        object.__setattr__(self, "asphericity", asphericity)
        object.__setattr__(
            self,
            "vertex_mm",
            tuple(_vector("vertex_mm", self.vertex_mm, 3, *PLACE_RANGE_MM).tolist()),
        )
        axis = _vector("axis", self.axis, 3, -2.0, 2.0)
        if not np.isclose(axis @ axis, 1.0, rtol=0.0, atol=1e-9):
            raise ValueError(f"axis is {axis.tolist()}; give a unit vector such as (0, 0, 1).")
        object.__setattr__(self, "axis", tuple(axis.tolist()))


@dataclass(frozen=True)
class Rays:
    """Rays that have passed a system.

    Attributes
    ----------
    hits_mm : array, shape (surfaces, ..., 3)
        Where each ray meets each surface, mm.
    directions : array, shape (..., 3)
        Direction cosines behind the last surface.
    path_mm : array, shape (...)
        Optical path (index times way) from the start to the last surface, mm.
    """

    hits_mm: np.ndarray
    directions: np.ndarray
    path_mm: np.ndarray

    def at_plane(self, z_mm: ArrayLike) -> ndarray:
        """Return where the rays, carried on straight, meet the plane at z, mm.

        Returns
        -------
        array, shape (..., 3)
        """
        z_mm = _one("z_mm", z_mm, *PLACE_RANGE_MM)
        way = (z_mm - self.hits_mm[-1][..., 2]) / self.directions[..., 2]
        return self.hits_mm[-1] + way[..., None] * self.directions


@dataclass(frozen=True)
class ConicSystem:
    """Conic surfaces in the order in which light meets them.

    Parameters
    ----------
    surfaces : sequence of Surface
    index_before : float
        Refractive index in front, 1 to 4.
    stop : int
        Number, counted from 0, of the surface whose vertex plane holds the aperture stop; the
        iris of an eye lies on the front of its lens.

    Examples
    --------
    >>> from shared_utils.optics import model_eyes
    >>> eye = ConicSystem.of(model_eyes.get("navarro"))
    >>> len(eye.surfaces), eye.stop, round(eye.back_focal_mm(), 2)
    (4, 2, 24.0)
    """

    surfaces: tuple
    index_before: float = 1.0
    stop: int = 0

    def __post_init__(self):
        surfaces = tuple(self.surfaces) if isinstance(self.surfaces, (list, tuple)) else ()
        if not surfaces or not all(isinstance(s, Surface) for s in surfaces):
            raise ValueError("surfaces is not a list of Surface; give one or more, in order.")
        object.__setattr__(self, "surfaces", surfaces)
        index_before = _one("index_before", self.index_before, *INDEX_RANGE, hint=INDEX_HINT)
        object.__setattr__(self, "index_before", index_before)
        _whole("stop", self.stop, 0, len(surfaces) - 1)

    @classmethod
    def of(
        cls, system: System, asphericity: Sequence[float] | None = None, stop: int | None = None
    ) -> ConicSystem:
        """Return the surfaces of a paraxial system or a model eye as conics on one axis.

        Parameters
        ----------
        system : paraxial.System
            Or a model eye, which brings its asphericities.
        asphericity : sequence of numbers, optional
            Q of each surface; if not given, the eye's own, or spheres.
        stop : int, optional
            The surface that holds the stop, counted from 0; if not given, the front of an eye's
            lens, or else the first surface.

        Returns
        -------
        ConicSystem

        Raises
        ------
        ValueError
            For an eye whose lens has an index gradient: rays are bent inside it.

        Examples
        --------
        >>> from shared_utils.optics.paraxial import System
        >>> ConicSystem.of(System([7.8], [], [1.0, 1.376]), [-0.26]).surfaces[0].asphericity
        -0.26
        """
        if not isinstance(system, System):
            raise ValueError(
                f"system is of type {type(system).__name__}; give a paraxial System or a model "
                "eye, such as model_eyes.get('navarro')."
            )
        if any(getattr(system, "gradients", ())):
            raise ValueError(
                f"system {system.name!r} has a lens with an index gradient, through which rays are "
                "not straight; give an eye of constant indices, such as navarro."
            )
        count = len(system.radius_mm)
        if asphericity is None:
            asphericity = getattr(system, "asphericity", (0.0,) * count)
        q = np.atleast_1d(require("asphericity", asphericity, -1000.0, 1000.0))
        if q.shape != (count,):
            raise ValueError(
                f"asphericity has shape {q.shape} for {count} surfaces; give one Q for each."
            )
        depth = np.concatenate([[0.0], np.cumsum(system.thickness_mm)])
        surfaces = [
            Surface(radius, index, own_q, (0.0, 0.0, z))
            for radius, index, own_q, z in zip(
                system.radius_mm, system.index[1:], q.tolist(), depth.tolist(), strict=True
            )
        ]
        if stop is None:
            cornea_surfaces = getattr(system, "cornea_surfaces", 0)
            stop = cornea_surfaces if cornea_surfaces < count else 0
        return cls(tuple(surfaces), system.index[0], stop)

    def moved(
        self,
        first: int,
        last: int,
        decentration_mm: Sequence[float] = (0.0, 0.0),
        tilt_deg: Sequence[float] = (0.0, 0.0),
    ) -> ConicSystem:
        """Return the system with neighbouring surfaces, such as a lens, moved as one piece.

        Parameters
        ----------
        first, last : int
            Number of the first and of the last surface moved, counted from 0.
        decentration_mm : sequence of 2 numbers
            Shift along x and y, −5 to 5 mm.
        tilt_deg : sequence of 2 numbers
            Turn about the x axis, then about the y axis, −30 to 30°, by the right-hand rule,
            around the middle between the first and last vertex.

        Returns
        -------
        ConicSystem

        Examples
        --------
        >>> from shared_utils.optics.paraxial import System
        >>> thin = ConicSystem.of(System([20.0, -20.0], [1.0], [1.336, 1.49, 1.336]))
        >>> thin.moved(0, 1, decentration_mm=(0.0, 0.5)).surfaces[1].vertex_mm
        (0.0, 0.5, 1.0)
        """
        _whole("first", first, 0, len(self.surfaces) - 1)
        _whole("last", last, 0, len(self.surfaces) - 1)
        if last < first:
            raise ValueError(f"last is {last}, before first ({first}); give them in order.")
        shift = np.append(_vector("decentration_mm", decentration_mm, 2, -5.0, 5.0), 0.0)
        turn = _turn(*np.radians(_vector("tilt_deg", tilt_deg, 2, -30.0, 30.0)))
        moving = self.surfaces[first : last + 1]
        pivot = (np.array(moving[0].vertex_mm) + moving[-1].vertex_mm) / 2.0
        pieces = list(self.surfaces)
        for number, surface in enumerate(moving, start=first):
            vertex = pivot + turn @ (surface.vertex_mm - pivot) + shift
            axis = turn @ surface.axis
            pieces[number] = replace(surface, vertex_mm=tuple(vertex), axis=tuple(axis))
        return replace(self, surfaces=tuple(pieces))

    def back_focal_mm(self) -> float:
        """Return the z of the focus of a distant object by paraxial rays, mm.

        Tilts and decentrations are left aside.

        Raises
        ------
        ValueError
            If the system has no power.
        """
        z_mm = self._crossing_mm(0, 1.0, 0.0)
        if z_mm is None:
            raise ValueError(
                "the system has no power, so its focus_mm lies at infinity; give a system with "
                "power."
            )
        return z_mm

    def pupils_mm(self) -> tuple[float, float]:
        """Return the z of the entrance pupil and of the exit pupil by paraxial rays, mm.

        They are the images of the stop by the surfaces in front of it and behind it.

        Raises
        ------
        ValueError
            If one of them lies at infinity.

        Examples
        --------
        >>> from shared_utils.optics import model_eyes
        >>> [round(z, 2) for z in ConicSystem.of(model_eyes.get("navarro")).pupils_mm()]
        [3.04, 3.68]
        """
        height, slope = 0.0, 1.0  # slope: index times angle, followed back from the stop
        for number in range(self.stop - 1, -1, -1):
            index = self.surfaces[number].index_behind
            height -= slope / index * self._gap_mm(number + 1)
            slope += height * self._power_per_mm(number)
        exit_mm = self._crossing_mm(self.stop, 0.0, 1.0)
        if abs(slope) < 1e-12 or exit_mm is None:
            raise ValueError(
                f"stop is {self.stop}, and from there a pupil lies at infinity; give another stop."
            )
        entrance_mm = self.surfaces[0].vertex_mm[2] - height * self.index_before / slope
        return float(entrance_mm), exit_mm

    def _crossing_mm(self, first, height, slope):
        """Where a paraxial ray that meets a surface so (slope in front of it) ends on the axis."""
        for number in range(first, len(self.surfaces)):
            if number > first:
                height += slope / self._index_before(number) * self._gap_mm(number)
            slope -= height * self._power_per_mm(number)
        if abs(slope) < 1e-12:
            return None
        last = self.surfaces[-1]
        return float(last.vertex_mm[2] - height * last.index_behind / slope)

    def _index_before(self, number):
        return self.surfaces[number - 1].index_behind if number else self.index_before

    def _gap_mm(self, number):
        return self.surfaces[number].vertex_mm[2] - self.surfaces[number - 1].vertex_mm[2]

    def _power_per_mm(self, number):
        surface = self.surfaces[number]
        return (surface.index_behind - self._index_before(number)) / surface.radius_mm


def trace(system: ConicSystem, points_mm: ArrayLike, directions: ArrayLike) -> Rays:
    """Return rays followed through all surfaces.

    Parameters
    ----------
    system : ConicSystem
    points_mm : array, shape (..., 3)
        A point on each ray where the optical path begins to count, in front of the first
        surface, mm.
    directions : array, shape (..., 3)
        Where each ray goes, of any length; forwards, so with a positive z.

    Returns
    -------
    Rays

    Raises
    ------
    ValueError
        If a ray misses a surface or is totally reflected, naming the surface.

    Sources
    -------
    Welford, vector form of Snell's law.

    Examples
    --------
    A ray 1 mm above the axis of a 5 D surface bends towards its focus 300 mm behind.

    >>> surface = ConicSystem((Surface(100.0, 1.5),))
    >>> rays = trace(surface, [0.0, 1.0, -10.0], [0.0, 0.0, 1.0])
    >>> rays.hits_mm[0].round(4)
    array([0.   , 1.   , 0.005])
    >>> bool(abs(rays.at_plane(300.0)[1]) < 1e-4)
    True
    """
    _require_conics(system)
    point = require("points_mm", points_mm, *PLACE_RANGE_MM)
    direction = require("directions", directions, *PLACE_RANGE_MM)
    if point.ndim == 0 or direction.ndim == 0 or point.shape[-1] != 3 or direction.shape[-1] != 3:
        raise ValueError(
            f"points_mm has shape {point.shape} and directions {direction.shape}; give x, y, z "
            "along the last dimension of both."
        )
    try:
        point, direction = np.broadcast_arrays(point, direction)
    except ValueError:
        raise ValueError(
            f"points_mm of shape {point.shape} and directions of shape {direction.shape} do not "
            "go together; give one of each ray."
        ) from None
    if not np.all(direction[..., 2] > 1e-6):
        raise ValueError("directions do not all go forwards; give each a z of 1e-6 or more.")
    # components first: sums over x, y, z then run along whole arrays
    point = np.moveaxis(point, -1, 0)
    direction = np.moveaxis(direction, -1, 0)
    direction = direction / np.sqrt(_dot(direction, direction))
    index = system.index_before
    path = np.zeros(point.shape[1:])
    hits = []
    for number, surface in enumerate(system.surfaces):
        axis, vertex = (
            np.reshape(v, (3,) + (1,) * path.ndim) for v in (surface.axis, surface.vertex_mm)
        )
        curvature, q = 1.0 / surface.radius_mm, surface.asphericity
        ahead = _dot(direction, axis)
        if np.any(ahead < 1e-6):
            raise ValueError(_lost(number, "miss"))
        # first to the plane of the vertex, then the short rest to the conic: keeps all digits
        away = point - vertex
        to_plane = -_dot(away, axis) / ahead
        away = away + to_plane * direction
        half = ahead - curvature * _dot(away, direction)
        rest = curvature * _dot(away, away)
        square = half**2 - curvature * (1.0 + q * ahead**2) * rest
        if np.any(square <= 0.0):
            raise ValueError(_lost(number, "miss"))
        denominator = half + np.sqrt(square)
        if np.any(denominator <= 0.0):
            raise ValueError(_lost(number, "miss"))
        to_conic = rest / denominator
        away = away + to_conic * direction
        path = path + index * (to_plane + to_conic)
        normal = axis - curvature * (away + q * _dot(away, axis) * axis)
        normal = normal / np.sqrt(_dot(normal, normal))
        cosine = _dot(direction, normal)
        if np.any(cosine <= 0.0):
            raise ValueError(_lost(number, "miss"))
        ratio = index / surface.index_behind
        square = 1.0 - ratio**2 * (1.0 - cosine**2)
        if np.any(square <= 0.0):
            raise ValueError(_lost(number, "are totally reflected at"))
        direction = ratio * direction + (np.sqrt(square) - ratio * cosine) * normal
        point = away + vertex
        index = surface.index_behind
        hits.append(np.moveaxis(point, 0, -1))
    return Rays(np.array(hits), np.moveaxis(direction, 0, -1), path)


def pupil_points(rings: int = RINGS, spokes: int = SPOKES) -> tuple[ndarray, ndarray, ndarray]:
    """Return points spread over the unit pupil and their weights, for means over its area.

    Parameters
    ----------
    rings, spokes : int
        How many rings (1 to 200), and points on each (1 to 1000).

    Returns
    -------
    x, y, weight : arrays of rings × spokes
        In pupil radii; the weights add up to 1.

    Sources
    -------
    Gauss–Legendre quadrature in the square of the radius; Forbes, J Opt Soc Am A 1988;5:1943.

    Examples
    --------
    The mean of x² over the unit disc is a quarter.

    >>> x, y, weight = pupil_points()
    >>> round(float(np.sum(weight * x**2)), 12)
    0.25
    """
    _whole("rings", rings, 1, 200)
    _whole("spokes", spokes, 1, 1000)
    nodes, weights = np.polynomial.legendre.leggauss(int(rings))
    radius = np.sqrt((nodes + 1.0) / 2.0)
    turn = 2.0 * np.pi * np.arange(spokes) / spokes
    weight = np.repeat(weights / 2.0 / spokes, spokes)
    x = np.outer(radius, np.cos(turn)).ravel()
    y = np.outer(radius, np.sin(turn)).ravel()
    return x, y, weight


@dataclass(frozen=True)
class Spot:
    """Where the rays of a pupil meet a plane.

    Attributes
    ----------
    x_um, y_um : array
        From the centroid, µm.
    centroid_mm : tuple
        x and y of the centroid, mm.
    weight : array
        The share of the pupil each ray stands for.
    rms_um : float
        Root mean square distance from the centroid, µm.
    """

    x_um: np.ndarray
    y_um: np.ndarray
    centroid_mm: tuple
    weight: np.ndarray
    rms_um: float


def spot(
    system: ConicSystem,
    pupil_mm: float,
    plane_mm: float | None = None,
    field_deg: float = 0.0,
    rings: int = RINGS,
    spokes: int = SPOKES,
) -> Spot:
    """Return the spot that a distant point makes on a plane.

    Parameters
    ----------
    system : ConicSystem
    pupil_mm : float
        Diameter of the entrance pupil, 0.05 to 12 mm.
    plane_mm : float, optional
        z of the plane, mm; where the spot is smallest if not given.
    field_deg : float
        Direction the point is seen in, −60 to 60°; positive: its light travels upwards.
    rings, spokes : int
        Density of the rays, as in `pupil_points`.

    Returns
    -------
    Spot

    Examples
    --------
    Even where it is smallest, the spot of a spherical cornea is some cones wide.

    >>> sphere = ConicSystem((Surface(7.8, 1.376),))
    >>> round(spot(sphere, 4.0).rms_um)
    6
    """
    rays, _, weight = _beam(system, pupil_mm, field_deg, rings, spokes)
    plane_mm = (
        _smallest(rays, weight) if plane_mm is None else _one("plane_mm", plane_mm, *PLACE_RANGE_MM)
    )
    return _spot(rays, weight, plane_mm)


def best_focus_mm(system: ConicSystem, pupil_mm: ArrayLike, field_deg: float = 0.0) -> float:
    """Return the z of the plane on which a distant point's spot has the smallest rms, mm.

    Parameters
    ----------
    system : ConicSystem
    pupil_mm, field_deg
        As for `spot`.

    Returns
    -------
    float

    Sources
    -------
    Least squares: the rays' mean square distance is quadratic in z.

    Examples
    --------
    Positive spherical aberration puts it in front of the paraxial focus.

    >>> sphere = ConicSystem((Surface(7.8, 1.376),))
    >>> best_focus_mm(sphere, 4.0) < sphere.back_focal_mm()
    True
    """
    rays, _, weight = _beam(system, pupil_mm, field_deg, RINGS, SPOKES)
    return _smallest(rays, weight)


@dataclass(frozen=True)
class Wavefront:
    """The wavefront error over the entrance pupil.

    Attributes
    ----------
    x, y : array
        In pupil radii.
    error_um : array
        µm; positive where the light is ahead of the sphere around the focus.
    weight : array
        The share of the pupil each ray stands for.
    pupil_mm : float
        Diameter of the entrance pupil, mm.
    """

    x: np.ndarray
    y: np.ndarray
    error_um: np.ndarray
    weight: np.ndarray
    pupil_mm: float

    def coefficient_um(self, n: int, m: int) -> float:
        """Return the Zernike coefficient of order n and frequency m, µm.

        Parameters
        ----------
        n : int
            Radial order, 0 to 16.
        m : int
            Angular frequency, −n to n in steps of 2; negative for the sines.

        Returns
        -------
        float

        Sources
        -------
        ISO 24157:2008, normalised functions; the mean of error times function over the pupil is
        the least-squares fit.
        """
        function = zernike(n, m, np.hypot(self.x, self.y), np.arctan2(self.y, self.x))
        return float(np.sum(self.weight * self.error_um * function))

    @property
    def spherical_aberration_um(self) -> float:
        """Z(4, 0), µm: positive when the pupil's margin focuses in front."""
        return self.coefficient_um(4, 0)

    @property
    def defocus_um(self) -> float:
        """Z(2, 0), µm: positive in myopia."""
        return self.coefficient_um(2, 0)

    @property
    def coma_um(self) -> float:
        """The length of Z(3, −1) and Z(3, 1), µm."""
        return float(np.hypot(self.coefficient_um(3, -1), self.coefficient_um(3, 1)))

    @property
    def refraction_d(self) -> float:
        """The refraction that Z(2, 0) amounts to, −4√3 Z(2, 0) / radius², D: myopia negative."""
        return float(-4.0 * np.sqrt(3.0) * self.defocus_um / (self.pupil_mm / 2.0) ** 2)

    @property
    def rms_um(self) -> float:
        """Root mean square error about its mean, µm."""
        mean = np.sum(self.weight * self.error_um)
        return float(np.sqrt(np.sum(self.weight * (self.error_um - mean) ** 2)))


def wavefront(
    system: ConicSystem,
    pupil_mm: float,
    focus_mm: float | None = None,
    field_deg: float = 0.0,
    rings: int = RINGS,
    spokes: int = SPOKES,
) -> Wavefront:
    """Return the wavefront of a distant point, compared with a sphere around the focus.

    Parameters
    ----------
    system : ConicSystem
    pupil_mm : float
        Diameter of the entrance pupil, 0.05 to 12 mm.
    focus_mm : float, optional
        z of the plane the image is wanted on (the retina), mm; the paraxial focus if not given.
        The sphere's centre is where the ray through the middle of the pupil meets this plane;
        the sphere passes through the exit pupil.
    field_deg : float
        Direction the point is seen in, −60 to 60°.
    rings, spokes : int
        Density of the rays, as in `pupil_points`.

    Returns
    -------
    Wavefront
        In coordinates of the entrance pupil.

    Sources
    -------
    Welford; ISO 24157:2008 for the sign and the functions.

    Examples
    --------
    A cornea that flattens towards its margin (Q −0.26) has half the spherical aberration of a
    spherical one.

    >>> cornea = ConicSystem((Surface(7.8, 1.376, asphericity=-0.26),))
    >>> round(wavefront(cornea, 6.0).spherical_aberration_um, 2)
    0.18
    >>> sphere = ConicSystem((Surface(7.8, 1.376),))
    >>> round(wavefront(sphere, 6.0).spherical_aberration_um, 2)
    0.36
    """
    rays, (x, y), weight = _beam(system, pupil_mm, field_deg, rings, spokes)
    middle = _launch(system, np.zeros(()), np.zeros(()), field_deg)
    focus_mm = (
        system.back_focal_mm() if focus_mm is None else _one("focus_mm", focus_mm, *PLACE_RANGE_MM)
    )
    exit_mm = system.pupils_mm()[1]
    index = system.surfaces[-1].index_behind
    centre = middle.at_plane(focus_mm)
    radius = np.linalg.norm(centre - middle.at_plane(exit_mm))
    if radius < pupil_mm:
        raise ValueError(
            f"focus_mm of {focus_mm:.6g} mm lies only {radius:.3g} mm from the exit pupil; give a "
            "focus further away than the pupil is wide."
        )
    side = np.sign(focus_mm - exit_mm)
    to_sphere = _way_to_sphere(rays, centre, radius, side)
    middle_path = middle.path_mm + index * _way_to_sphere(middle, centre, radius, side)
    error_mm = middle_path - (rays.path_mm + index * to_sphere)
    return Wavefront(x, y, 1000.0 * error_mm, weight, float(pupil_mm))


def zernike(n: int, m: int, radius: ArrayLike, angle_rad: ArrayLike) -> FloatOrArray:
    """Return a normalised Zernike function (mean square 1 over the unit pupil).

    Parameters
    ----------
    n : int
        Radial order, 0 to 16.
    m : int
        Angular frequency, −n to n in steps of 2; negative for the sines.
    radius : scalar or array
        In pupil radii, 0 to 1.
    angle_rad : scalar or array
        From the x axis, rad.

    Returns
    -------
    float or array

    Sources
    -------
    ISO 24157:2008; Thibos et al., J Refract Surg 2002;18:S652.

    Examples
    --------
    At the margin of the pupil Z(4, 0) is √5.

    >>> round(zernike(4, 0, 1.0, 0.0), 4)
    2.2361
    """
    _whole("n", n, 0, 16)
    _whole("m", m, -16, 16)
    if abs(m) > n or (n - abs(m)) % 2:
        raise ValueError(f"n {n} and m {m} name no Zernike function; give −n ≤ m ≤ n in twos.")
    radius = require("radius", radius, 0.0, 1.0 + 1e-12, hint="In radii of the pupil.")
    angle_rad = require("angle_rad", angle_rad)
    k = abs(m)
    radial = sum(
        (-1) ** s
        * factorial(n - s)
        / (factorial(s) * factorial((n + k) // 2 - s) * factorial((n - k) // 2 - s))
        * radius ** (n - 2 * s)
        for s in range((n - k) // 2 + 1)
    )
    norm = np.sqrt((n + 1.0) * (2.0 if m else 1.0))
    wave = np.sin(k * angle_rad) if m < 0 else np.cos(k * angle_rad)
    return unwrap_scalar(norm * radial * wave)


def _beam(system, pupil_mm, field_deg, rings, spokes):
    """Parallel light through the entrance pupil: rays, (x, y) in pupil radii, weights."""
    _require_conics(system)
    pupil_mm = _one(
        "pupil_mm", pupil_mm, *PUPIL_RANGE_MM, hint="The diameter; in metres? Multiply by 1000."
    )
    x, y, weight = pupil_points(rings, spokes)
    return _launch(system, x * pupil_mm / 2, y * pupil_mm / 2, field_deg), (x, y), weight


def _launch(system, x_mm, y_mm, field_deg):
    """Rays that start together on one plane wavefront and aim at points of the entrance pupil."""
    field = np.radians(_one("field_deg", field_deg, *FIELD_RANGE_DEG))
    entrance_mm = system.pupils_mm()[0]
    direction = np.array([0.0, np.sin(field), np.cos(field)])
    aim = np.stack([x_mm, y_mm, np.full(x_mm.shape, entrance_mm)], axis=-1)
    back = -START_MM - aim @ direction  # to the wavefront that far in front of the first vertex
    return trace(system, aim + back[..., None] * direction, direction)


def _way_to_sphere(rays, centre, radius, side):
    """Way along each ray from the last surface to the reference sphere around the focus."""
    away = rays.hits_mm[-1] - centre
    half = np.sum(away * rays.directions, axis=-1)
    square = half**2 - (np.sum(away * away, axis=-1) - radius**2)
    if np.any(square <= 0.0):
        raise ValueError(
            "some rays miss the reference sphere around the focus; give a smaller pupil_mm or a "
            "focus_mm nearer to where the rays meet."
        )
    return -half - side * np.sqrt(square)


def _smallest(rays, weight):
    slope = rays.directions[..., :2] / rays.directions[..., 2:]
    start = rays.hits_mm[-1][..., :2] - rays.hits_mm[-1][..., 2:] * slope  # carried back to z = 0
    slope = slope - weight @ slope  # only the spread about the centroid counts
    spread = np.sum(weight[:, None] * slope**2)
    if spread < 1e-18:
        raise ValueError("the rays leave parallel, so no plane is best; give a plane_mm.")
    return float(-np.sum(weight[:, None] * slope * start) / spread)


def _spot(rays, weight, plane_mm):
    at_plane = rays.at_plane(plane_mm)[..., :2]
    centroid = weight @ at_plane
    away_um = 1000.0 * (at_plane - centroid)
    return Spot(
        x_um=away_um[:, 0],
        y_um=away_um[:, 1],
        centroid_mm=tuple(centroid.tolist()),
        weight=weight,
        rms_um=float(np.sqrt(np.sum(weight[:, None] * away_um**2))),
    )


def _dot(a, b):
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2]


def _turn(about_x, about_y):
    cx, sx, cy, sy = np.cos(about_x), np.sin(about_x), np.cos(about_y), np.sin(about_y)
    first = np.array([[1.0, 0.0, 0.0], [0.0, cx, -sx], [0.0, sx, cx]])
    second = np.array([[cy, 0.0, sy], [0.0, 1.0, 0.0], [-sy, 0.0, cy]])
    return second @ first


def _lost(number, what):
    return (
        f"some rays {what} surface {number} (counted from 0); give a smaller pupil_mm, or check "
        "the radius_mm, the asphericity and the place of that surface."
    )


def _one(name, value, low=-np.inf, high=np.inf, *, hint="", infinite=False):
    array = require(name, value, low, high, hint=hint, infinite=infinite)
    if array.ndim:
        raise ValueError(f"{name} has shape {array.shape}; give one number.")
    return float(array)


def _require_conics(system):
    if not isinstance(system, ConicSystem):
        raise ValueError(
            f"system is of type {type(system).__name__}; give a ConicSystem, such as "
            "ConicSystem.of(eye)."
        )


def _whole(name, value, low, high):
    if isinstance(value, bool) or not isinstance(value, (int, np.integer)):
        raise ValueError(f"{name} is not a whole number; give one, {low} to {high}.")
    require(name, value, low, high)


def _vector(name, value, count=3, low=-np.inf, high=np.inf):
    array = require(name, value, low, high)
    if array.shape != (count,):
        raise ValueError(f"{name} has shape {array.shape}; give {count} numbers.")
    return array
