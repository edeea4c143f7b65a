"""Sphero-cylinders: a sphere, a cylinder and its axis, added and moved as vectors.

A cylinder turns back into itself after half a turn, so cylinders add as vectors at twice their
axis, never as numbers, and axes are never averaged. A cylinder near zero has no axis.

Sources
-------
Thibos, Wheeler & Horner, Optom Vis Sci 1997;74:367 (power vectors); Bennett & Rabbetts, *Clinical
Visual Optics*; Keating, *Geometric, Physical and Visual Optics*.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from shared_utils.optics import vergence
from shared_utils.optics.domain import broadcast, require, require_instance, unwrap_scalar

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from shared_utils.optics.types import FloatOrArray

SPHERE_RANGE_D = (-100.0, 100.0)
CYLINDER_RANGE_D = (-40.0, 40.0)
AXIS_HINT = "Degrees, not radians; take 180° off or add 180° to an axis beyond."
AXIS_FLOOR_D = 0.10  # below this a measured axis is noise; common practice, no source
_NO_CYLINDER_D = 1e-9  # what rounding leaves of a cylinder that cancelled


class PowerVector(NamedTuple):
    """Spherical equivalent and the crossed cylinders at 0° and 45°, all in D."""

    m_d: float | np.ndarray
    j0_d: float | np.ndarray
    j45_d: float | np.ndarray


@dataclass(frozen=True)
class SpheroCylinder:
    """A sphero-cylindrical lens or refraction, or arrays of them that broadcast.

    Parameters
    ----------
    sphere_d : scalar or array
        Power along the axis, −100 to 100 D.
    cylinder_d : scalar or array
        What the meridian across the axis has more, −40 to 40 D; either sign.
    axis_deg : scalar or array
        Axis of the cylinder, 0 to 180°; 0 is written 180, and so is the axis of no cylinder.

    Raises
    ------
    ValueError
        Naming the value, the unit, the range and the likely slip.

    Examples
    --------
    >>> rx = SpheroCylinder(1.00, -2.00, 180)
    >>> rx.spherical_equivalent_d
    0.0
    >>> rx.transposed()
    SpheroCylinder(sphere_d=-1.0, cylinder_d=2.0, axis_deg=90.0)

    Two cylinders across each other make a sphere:

    >>> (SpheroCylinder(0, -1, 180) + SpheroCylinder(0, -1, 90)).written()
    '−1.00 +0.00'
    """

    sphere_d: float | np.ndarray
    cylinder_d: float | np.ndarray
    axis_deg: float | np.ndarray

    def __post_init__(self):
        sphere_d, cylinder_d, axis_deg = broadcast(
            sphere_d=require("sphere_d", self.sphere_d, *SPHERE_RANGE_D, hint="In dioptres."),
            cylinder_d=require("cylinder_d", self.cylinder_d, *CYLINDER_RANGE_D),
            axis_deg=require("axis_deg", self.axis_deg, 0.0, 180.0, hint=AXIS_HINT),
        )
        none = np.abs(cylinder_d) < _NO_CYLINDER_D
        sphere_d = np.where(none, sphere_d + cylinder_d / 2.0, sphere_d) + 0.0  # +0: no −0
        cylinder_d = np.where(none, 0.0, cylinder_d)
        axis_deg = np.where(none, 180.0, _fold(axis_deg))
        object.__setattr__(self, "sphere_d", unwrap_scalar(sphere_d))
        object.__setattr__(self, "cylinder_d", unwrap_scalar(cylinder_d))
        object.__setattr__(self, "axis_deg", unwrap_scalar(axis_deg))

    @classmethod
    def from_power_vector(cls, m_d: ArrayLike, j0_d: ArrayLike, j45_d: ArrayLike) -> SpheroCylinder:
        """Return the sphero-cylinder, in minus-cylinder form, that a power vector stands for.

        Parameters
        ----------
        m_d, j0_d, j45_d : scalar or array
            Spherical equivalent and the crossed cylinders at 0° and 45°, D.

        Returns
        -------
        SpheroCylinder

        Sources
        -------
        Thibos, Wheeler & Horner 1997: C = −2√(J0² + J45²), S = M − C/2, tan 2α = J45 / J0.

        Examples
        --------
        >>> SpheroCylinder.from_power_vector(-2.0, 0.0, 0.5)
        SpheroCylinder(sphere_d=-1.5, cylinder_d=-1.0, axis_deg=45.0)
        """
        m_d, j0_d, j45_d = broadcast(
            m_d=require("m_d", m_d), j0_d=require("j0_d", j0_d), j45_d=require("j45_d", j45_d)
        )
        cylinder_d = -2.0 * np.hypot(j0_d, j45_d)
        axis_deg = _fold(np.degrees(np.arctan2(j45_d, j0_d)) / 2.0)
        return cls(m_d - cylinder_d / 2.0, cylinder_d, axis_deg)

    def power_vector(self) -> PowerVector:
        """Return spherical equivalent and crossed cylinders, which add and average as numbers.

        Returns
        -------
        PowerVector
            ``.m_d``, ``.j0_d`` (positive for a minus cylinder with axis 180), ``.j45_d``; D.

        Sources
        -------
        Thibos, Wheeler & Horner 1997: M = S + C/2, J0 = −(C/2) cos 2α, J45 = −(C/2) sin 2α.

        Examples
        --------
        >>> SpheroCylinder(-1.5, -1.0, 45).power_vector().j45_d
        0.5
        """
        twice = np.radians(2.0 * np.asarray(self.axis_deg))
        half = -np.asarray(self.cylinder_d) / 2.0
        return PowerVector(
            self.spherical_equivalent_d,
            unwrap_scalar(half * np.cos(twice)),
            unwrap_scalar(half * np.sin(twice)),
        )

    @property
    def spherical_equivalent_d(self) -> FloatOrArray:
        """Mean of the two meridians, S + C/2, D."""
        return unwrap_scalar(self.sphere_d + np.asarray(self.cylinder_d) / 2.0)

    @property
    def blur_strength_d(self) -> FloatOrArray:
        """Length of the power vector, √(M² + J0² + J45²), D: how much it blurs, with no sign."""
        return unwrap_scalar(
            np.hypot(self.spherical_equivalent_d, np.asarray(self.cylinder_d) / 2.0)
        )

    @property
    def axis_is_meaningful(self) -> bool | np.ndarray:
        """Whether the cylinder is 0.10 D or more; the axis of a smaller one is noise."""
        meaningful = np.abs(self.cylinder_d) >= AXIS_FLOOR_D - _NO_CYLINDER_D
        return bool(meaningful) if np.ndim(meaningful) == 0 else meaningful

    def power_along(self, meridian_deg: ArrayLike) -> FloatOrArray:
        """Return the power along a meridian: the sphere and a share of the cylinder.

        Parameters
        ----------
        meridian_deg : scalar or array
            0 to 180°.

        Returns
        -------
        float or array
            D.

        Sources
        -------
        Keating; Bennett & Rabbetts: S + C sin²(θ − α), α the axis; nothing of the cylinder along
        its axis, all of it across.

        Examples
        --------
        >>> lens = SpheroCylinder(-1.0, -2.0, 30)
        >>> [round(lens.power_along(meridian), 2) for meridian in (30, 75, 120)]
        [-1.0, -2.0, -3.0]
        """
        meridian_deg = require(
            "meridian_deg", meridian_deg, 0.0, 180.0, hint="A meridian in degrees, not radians."
        )
        sphere_d, cylinder_d, axis_deg, meridian_deg = broadcast(
            sphere_d=self.sphere_d,
            cylinder_d=self.cylinder_d,
            axis_deg=self.axis_deg,
            meridian_deg=meridian_deg,
        )
        return unwrap_scalar(
            sphere_d + cylinder_d * np.sin(np.radians(meridian_deg - axis_deg)) ** 2
        )

    def transposed(self) -> SpheroCylinder:
        """Return the same lens written with the cylinder of the other sign.

        Returns
        -------
        SpheroCylinder
            (S + C, −C, α ± 90°).
        """
        return SpheroCylinder(
            self.sphere_d + np.asarray(self.cylinder_d),
            -np.asarray(self.cylinder_d),
            _fold(np.asarray(self.axis_deg) + 90.0),
        )

    def plus_form(self) -> SpheroCylinder:
        """Return the same lens written with a plus cylinder.

        >>> SpheroCylinder(1.0, -2.0, 30).plus_form()
        SpheroCylinder(sphere_d=-1.0, cylinder_d=2.0, axis_deg=120.0)
        """
        return self._in_form(np.asarray(self.cylinder_d) > 0)

    def minus_form(self) -> SpheroCylinder:
        """Return the same lens written with a minus cylinder."""
        return self._in_form(np.asarray(self.cylinder_d) < 0)

    def _in_form(self, already):
        other = self.transposed()
        return SpheroCylinder(
            np.where(already, self.sphere_d, other.sphere_d),
            np.where(already, self.cylinder_d, other.cylinder_d),
            np.where(already, self.axis_deg, other.axis_deg),
        )

    def __add__(self, other):
        """Return the one lens, in minus-cylinder form, that does what both do in contact."""
        return self._combined(other, 1.0)

    def __sub__(self, other):
        """Return the lens, in minus-cylinder form, that must join the other to make this one."""
        return self._combined(other, -1.0)

    def _combined(self, other, sign):
        if not isinstance(other, SpheroCylinder):
            return NotImplemented
        broadcast(first_d=self.sphere_d, second_d=other.sphere_d)
        pairs = zip(self.power_vector(), other.power_vector(), strict=True)
        return SpheroCylinder.from_power_vector(*(a + sign * np.asarray(b) for a, b in pairs))

    def at_vertex(self, from_mm: ArrayLike, to_mm: ArrayLike) -> SpheroCylinder:
        """Return the refraction that does the same work at another distance from the cornea.

        Each meridian is moved by itself: a cylinder has no effectivity of its own.

        Parameters
        ----------
        from_mm, to_mm : scalar or array
            Vertex distance it was measured at and vertex distance wanted, mm in front of the
            cornea, −30 to 60; 0 is the cornea itself.

        Returns
        -------
        SpheroCylinder
            In the form (sign of the cylinder) it came in.

        Raises
        ------
        ValueError
            If a meridian is outside −40 to 40 D, or ends at a focus.

        Sources
        -------
        Bennett & Rabbetts, effectivity of sphero-cylindrical lenses.

        Examples
        --------
        −10.00 −2.50 × 180 at 12 mm: −10/1.12 = −8.93 and −12.5/1.15 = −10.87 at the cornea.

        >>> at_cornea = SpheroCylinder(-10.0, -2.5, 180).at_vertex(12.0, 0.0)
        >>> round(at_cornea.sphere_d, 2), round(at_cornea.cylinder_d, 2)
        (-8.93, -1.94)
        """
        along_d = np.asarray(vergence.at_vertex(self.sphere_d, from_mm, to_mm))
        other_d = self.sphere_d + np.asarray(self.cylinder_d)
        across_d = np.asarray(vergence.at_vertex(other_d, from_mm, to_mm))
        return SpheroCylinder(along_d, across_d - along_d, self.axis_deg)

    def written(self) -> str | list[str]:
        """Return the refraction as it is written in a chart, to 0.01 D and 1°.

        The axis is left out where the cylinder is too small to have one (below 0.10 D).

        Returns
        -------
        str, or list of str for arrays

        Examples
        --------
        >>> SpheroCylinder(-1.0, -2.0, 30).written()
        '−1.00 −2.00 × 30'
        >>> SpheroCylinder(0.5, -0.04, 6).written()
        '+0.50 −0.04'
        """
        if np.ndim(self.sphere_d):
            fields = (self.sphere_d, self.cylinder_d, self.axis_deg)
            flat = zip(*(np.ravel(f).tolist() for f in fields), strict=True)
            return [SpheroCylinder(*one)._line() for one in flat]
        return self._line()

    def _line(self) -> str:
        text = f"{self.sphere_d:+.2f} {self.cylinder_d:+.2f}".replace("-", "−")
        if not self.axis_is_meaningful:
            return text
        return f"{text} × {round(float(self.axis_deg)) or 180}"


def crossed_cylinder(power_d: ArrayLike, minus_axis_deg: ArrayLike) -> SpheroCylinder:
    """Return a crossed cylinder: equal and opposite power in two meridians, no sphere.

    Parameters
    ----------
    power_d : scalar or array
        Power of either meridian, 0 to 20 D; the hand-held ones have 0.25 or 0.50 D.
    minus_axis_deg : scalar or array
        Axis of its minus cylinder (the red marks of the hand-held one), 0 to 180°.

    Returns
    -------
    SpheroCylinder
        In minus-cylinder form; its spherical equivalent is 0.

    Sources
    -------
    Bennett & Rabbetts, *Clinical Visual Optics*.

    Examples
    --------
    >>> crossed_cylinder(0.25, 45)
    SpheroCylinder(sphere_d=0.25, cylinder_d=-0.5, axis_deg=45.0)
    """
    power_d = require("power_d", power_d, 0.0, 20.0, hint="The power of one meridian, positive.")
    axis_deg = require("axis_deg", minus_axis_deg, 0.0, 180.0, hint=AXIS_HINT)
    return SpheroCylinder(power_d, -2.0 * power_d, axis_deg)


@dataclass(frozen=True)
class Sturm:
    """Where an astigmatic eye gathers light; mm behind the cornea of a one-surface eye.

    Attributes
    ----------
    first_line_mm, second_line_mm : float or array
        The two focal lines, nearer and farther.
    circle_mm : float or array
        The circle of least confusion.
    circle_diameter_um : float or array
        Its diameter, µm.
    retina_mm : float or array
        The retina.
    """

    first_line_mm: float | np.ndarray
    second_line_mm: float | np.ndarray
    circle_mm: float | np.ndarray
    circle_diameter_um: float | np.ndarray
    retina_mm: float | np.ndarray

    @property
    def interval_mm(self) -> FloatOrArray:
        """Length of the interval of Sturm, mm."""
        return unwrap_scalar(self.second_line_mm - np.asarray(self.first_line_mm))


def require_sphero_cylinder(name: str, value: object) -> SpheroCylinder:
    """Return the lens or refraction, or say in one sentence what was given in its place.

    >>> require_sphero_cylinder("before", 1.5)
    Traceback (most recent call last):
    ValueError: before is 1.5, a number; give a SpheroCylinder, such as SpheroCylinder(-0.5, 1, 80).
    """
    example = "a SpheroCylinder, such as SpheroCylinder(-0.5, 1, 80)"
    return require_instance(name, value, SpheroCylinder, example)


def interval_of_sturm(
    refraction: SpheroCylinder,
    pupil_mm: ArrayLike,
    emmetropic_power_d: ArrayLike = 60.0,
    index: ArrayLike = 4 / 3,
) -> Sturm:
    """Return the two focal lines and the circle of least confusion of an eye.

    Parameters
    ----------
    refraction : SpheroCylinder
        Refraction at the cornea; myopia negative. Each meridian of the eye has so much less
        power than the eye without error.
    pupil_mm : scalar or array
        Pupil diameter, 0.5 to 10 mm.
    emmetropic_power_d : scalar or array
        Power of a one-surface eye of this length without error, 40 to 80 D.
    index : scalar or array
        Refractive index of that eye, 1 to 4.

    Returns
    -------
    Sturm

    Raises
    ------
    ValueError
        If a meridian would have 20 D of power or less, so that its line lies far behind any eye.

    Sources
    -------
    Keating; Bennett & Rabbetts: lines at n / (F − R), circle at the dioptric mean, its diameter
    pupil × |C| / 2 divided by the mean vergence.

    Examples
    --------
    +1.00 −2.00 × 180: meridians of 59 and 61 D, the circle at 1333.3 / 60 mm on the retina.

    >>> sturm = interval_of_sturm(SpheroCylinder(1.0, -2.0, 180), pupil_mm=3.0)
    >>> round(sturm.circle_mm, 3), round(sturm.retina_mm, 3), round(sturm.circle_diameter_um, 1)
    (22.222, 22.222, 50.0)
    """
    require_sphero_cylinder("refraction", refraction)
    pupil_mm = require("pupil_mm", pupil_mm, 0.5, 10.0, hint="In metres? Multiply by 1000.")
    power_d = require("emmetropic_power_d", emmetropic_power_d, 40.0, 80.0)
    index = require("index", index, *vergence.INDEX_RANGE, hint=vergence.INDEX_HINT)
    sphere_d, cylinder_d, pupil_mm, power_d, index = broadcast(
        sphere_d=refraction.sphere_d,
        cylinder_d=refraction.cylinder_d,
        pupil_mm=pupil_mm,
        emmetropic_power_d=power_d,
        index=index,
    )
    along_d = power_d - sphere_d
    across_d = power_d - sphere_d - cylinder_d
    require(
        "meridian_power_d",
        np.minimum(along_d, across_d),
        20.0,
        hint="The refraction of an eye at its cornea, or the power of a cornea by mistake?",
    )
    mean_d = (along_d + across_d) / 2.0
    return Sturm(
        first_line_mm=unwrap_scalar(1000.0 * index / np.maximum(along_d, across_d)),
        second_line_mm=unwrap_scalar(1000.0 * index / np.minimum(along_d, across_d)),
        circle_mm=unwrap_scalar(1000.0 * index / mean_d),
        circle_diameter_um=unwrap_scalar(1000.0 * pupil_mm * np.abs(cylinder_d) / 2.0 / mean_d),
        retina_mm=unwrap_scalar(1000.0 * index / power_d),
    )


def _fold(axis_deg):
    """An axis brought above 0 and up to 180°."""
    folded = np.mod(axis_deg, 180.0)
    return np.where(folded < 1e-9, 180.0, folded)
