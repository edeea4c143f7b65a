"""Paraxial systems as 2 × 2 ray-transfer matrices, and their cardinal points.

A ray is (height in m, index × angle in rad); so powers are in D, reduced lengths in m, and every
matrix has determinant 1. The matrix of a system multiplies from the right: what light meets first
stands rightmost.

Sources
-------
Keating, *Geometric, Physical and Visual Optics*; Atchison & Smith, *Optics of the Human Eye*
(2000), appendix on paraxial optics.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from shared_utils.optics.domain import require, require_instance
from shared_utils.optics.vergence import INDEX_HINT, INDEX_RANGE, POWER_RANGE_D, surface_power

if TYPE_CHECKING:
    from numpy import ndarray
    from numpy.typing import ArrayLike


def refraction(power_d: ArrayLike) -> ndarray:
    """Return the matrix of a thin lens or surface.

    Parameters
    ----------
    power_d : scalar or array
        Power, −2000 to 2000 D.

    Returns
    -------
    numpy.ndarray, shape (..., 2, 2)

    Examples
    --------
    >>> refraction(5.0)
    array([[ 1.,  0.],
           [-5.,  1.]])
    """
    power_d = require("power_d", power_d, *POWER_RANGE_D)
    matrix = np.zeros((*power_d.shape, 2, 2))
    matrix[..., 0, 0] = matrix[..., 1, 1] = 1.0
    matrix[..., 1, 0] = -power_d
    return matrix


def translation(distance_mm: ArrayLike, index: ArrayLike = 1.0) -> ndarray:
    """Return the matrix of a way through a medium.

    Parameters
    ----------
    distance_mm : scalar or array
        Way travelled, mm; positive downstream.
    index : scalar or array
        Refractive index, 1 to 4.

    Returns
    -------
    numpy.ndarray, shape (..., 2, 2)

    Examples
    --------
    >>> translation(1500.0, 1.5)
    array([[1., 1.],
           [0., 1.]])
    """
    distance_mm = require("distance_mm", distance_mm)
    index = require("index", index, *INDEX_RANGE, hint=INDEX_HINT)
    reduced_m = distance_mm / 1000.0 / index
    matrix = np.zeros((*reduced_m.shape, 2, 2))
    matrix[..., 0, 0] = matrix[..., 1, 1] = 1.0
    matrix[..., 0, 1] = reduced_m
    return matrix


@dataclass(frozen=True)
class System:
    """Centred spherical surfaces, light coming from the left.

    Parameters
    ----------
    radius_mm : sequence of k numbers
        Radii of curvature, mm; positive when the centre lies behind the surface, inf if flat.
    thickness_mm : sequence of k − 1 numbers
        Ways from each surface to the next, mm, 0 or more.
    index : sequence of k + 1 numbers
        Refractive indices, from the medium in front to the medium behind, 1 to 4.
    name : str
        What the system is.

    Raises
    ------
    ValueError
        If the three lists do not fit together.

    Examples
    --------
    >>> System([50 / 9], [], [1.0, 4 / 3], "a one-surface eye").surface_powers_d().round(6)
    array([60.])
    """

    radius_mm: tuple
    thickness_mm: tuple
    index: tuple
    name: str = ""

    def __post_init__(self):
        require_instance("name", self.name, str, "what the system is called, in words")
        for field, low, high in (
            ("radius_mm", -np.inf, np.inf),
            ("thickness_mm", 0.0, np.inf),
            ("index", *INDEX_RANGE),
        ):
            values = require(field, getattr(self, field), low, high, infinite=field == "radius_mm")
            object.__setattr__(self, field, tuple(values.ravel().tolist()))
        surfaces, gaps, media = len(self.radius_mm), len(self.thickness_mm), len(self.index)
        if surfaces == 0 or gaps != surfaces - 1 or media != surfaces + 1:
            raise ValueError(
                f"{surfaces} radius_mm, {gaps} thickness_mm and {media} index do not fit together; "
                "for k surfaces give k radii in mm, k − 1 thicknesses in mm and k + 1 indices."
            )

    def surface_powers_d(self) -> ndarray:
        """Return the power of each surface, D."""
        index = np.asarray(self.index)
        return np.atleast_1d(surface_power(self.radius_mm, index[:-1], index[1:]))

    def matrix(self) -> ndarray:
        """Return the matrix from the first surface to the last."""
        powers = self.surface_powers_d()
        total = refraction(powers[0])
        for thickness, index, power in zip(
            self.thickness_mm, self.index[1:-1], powers[1:], strict=True
        ):
            total = refraction(power) @ translation(thickness, index) @ total
        return total

    def length_mm(self) -> float:
        """Return the way from the first surface to the last, mm."""
        return float(sum(self.thickness_mm))


@dataclass(frozen=True)
class CardinalPoints:
    """The six cardinal points, mm from the first surface, and the equivalent power."""

    power_d: float
    front_focal_mm: float
    back_focal_mm: float
    principal_mm: tuple
    nodal_mm: tuple


def cardinal_points(system: System) -> CardinalPoints:
    """Return equivalent power, focal, principal and nodal points of a system.

    Parameters
    ----------
    system : System
        Or anything with ``matrix()``, ``length_mm()`` and ``index``.

    Returns
    -------
    CardinalPoints
        ``power_d`` in D; ``front_focal_mm``, ``back_focal_mm``, ``principal_mm`` (object side,
        image side) and ``nodal_mm`` in mm from the first surface, positive behind it.

    Raises
    ------
    ValueError
        If the system has no power: its cardinal points lie at infinity.

    Sources
    -------
    Keating; for the matrix (A, B; C, D): F = −C, P = n(D − 1)/C, P' = T + n'(1 − A)/C,
    N = P + f + f' with f = −n/F and f' = n'/F.

    Examples
    --------
    One surface of 50/9 mm between air and 4/3: power 60 D, both nodal points at its centre.

    >>> points = cardinal_points(System([50 / 9], [], [1.0, 4 / 3]))
    >>> round(points.power_d, 6), round(points.back_focal_mm, 4)
    (60.0, 22.2222)
    >>> [round(z, 4) for z in points.nodal_mm]
    [5.5556, 5.5556]
    """
    require_instance("system", system, System, "a System, such as model_eyes.get('navarro')")
    (a, _), (c, d) = system.matrix()
    if abs(c) < 1e-12:
        raise ValueError(
            "power_d of the system is 0 D, so its cardinal points lie at infinity; give a "
            "system with power."
        )
    before, behind = system.index[0], system.index[-1]
    first = 1000.0 * before * (d - 1.0) / c
    second = system.length_mm() + 1000.0 * behind * (1.0 - a) / c
    front_focal = 1000.0 * before / c  # f, measured from the first principal point
    back_focal = -1000.0 * behind / c
    shift = front_focal + back_focal
    return CardinalPoints(
        power_d=float(-c),
        front_focal_mm=float(first + front_focal),
        back_focal_mm=float(second + back_focal),
        principal_mm=(float(first), float(second)),
        nodal_mm=(float(first + shift), float(second + shift)),
    )
