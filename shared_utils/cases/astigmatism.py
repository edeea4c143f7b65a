"""Lesson 04: power along meridians, focal lines, cylinders added."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from shared_utils.optics import acuity
from shared_utils.optics.notation import signed
from shared_utils.optics.sphero_cylinder import SpheroCylinder, Sturm, interval_of_sturm

if TYPE_CHECKING:
    from typing import Any

    from shared_utils.optics.sphero_cylinder import PowerVector

MERIDIANS_DEG = np.linspace(0.0, 180.0, 181)


def compute_axis_difference(first_deg: float, second_deg: float) -> float:
    """Return the angle between two axes, 0 to 90°.

    Parameters
    ----------
    first_deg, second_deg : float
        Axes, °.

    Returns
    -------
    float

    Examples
    --------
    >>> compute_axis_difference(170.0, 10.0)
    20.0
    """
    return abs((first_deg - second_deg + 90.0) % 180.0 - 90.0)


def compute_line_ends(
    angle_deg: float, half_length: float = 1.0
) -> tuple[list[float], list[float]]:
    """Return x and y of the ends of a line through the origin, along a meridian.

    Parameters
    ----------
    angle_deg : float
        Its direction, °, counted from x towards y.
    half_length : float
        From the origin to each end.

    Returns
    -------
    x, y : list of float

    Examples
    --------
    >>> [float(x) for x in compute_line_ends(0.0)[0]]
    [-1.0, 1.0]
    """
    x = half_length * np.cos(np.radians(angle_deg))
    y = half_length * np.sin(np.radians(angle_deg))
    return [-x, x], [-y, y]


# --- power around a lens ---------------------------------------------------------------------

SPHERE_D = -1.00


@dataclass(frozen=True)
class MeridionalPower:
    """A lens, and its power along a meridian and along all."""

    lens: SpheroCylinder
    meridian_deg: float
    power_d: float
    powers_d: np.ndarray
    from_axis_deg: float
    share: float

    @property
    def across_deg(self) -> float:
        """The meridian across the axis."""
        return float(self.lens.transposed().axis_deg)

    @property
    def across_d(self) -> float:
        """The power along that meridian."""
        return float(SPHERE_D + self.lens.cylinder_d)


def compute_meridional_power(
    cylinder_d: float, axis_deg: float, meridian_deg: float
) -> MeridionalPower:
    """Return the power of a lens of sphere −1.00 D along a meridian.

    Parameters
    ----------
    cylinder_d : float
        Cylinder, D, either sign.
    axis_deg, meridian_deg : float
        Its axis, and the meridian asked about, 0 to 180°.

    Returns
    -------
    MeridionalPower

    Examples
    --------
    >>> compute_meridional_power(-2.0, 30.0, 60.0).power_d
    -1.5
    """
    lens = SpheroCylinder(SPHERE_D, cylinder_d, axis_deg)
    gap_deg = compute_axis_difference(meridian_deg, axis_deg)
    return MeridionalPower(
        lens,
        meridian_deg,
        round(float(lens.power_along(meridian_deg)), 9),
        np.asarray(lens.power_along(MERIDIANS_DEG)),
        gap_deg,
        float(np.sin(np.radians(gap_deg)) ** 2),
    )


@dataclass(frozen=True)
class PowerCross:
    """The powers of a lens along two meridians at right angles."""

    lens: SpheroCylinder
    meridians_deg: tuple
    powers_d: tuple


def compute_power_crosses() -> list[PowerCross]:
    """Return the crosses of a sphere, a cylinder and the lens −1.00 −2.00 × 30 that they make.

    Returns
    -------
    list of PowerCross

    Examples
    --------
    >>> [cross.powers_d[0] for cross in compute_power_crosses()]
    [-1.0, 0.0, -1.0]
    """
    lens = SpheroCylinder(SPHERE_D, -2.00, 30)
    sphere = SpheroCylinder(lens.sphere_d, 0.0, 180)
    cylinder = SpheroCylinder(0.0, lens.cylinder_d, lens.axis_deg)
    meridians_deg = lens.axis_deg, lens.transposed().axis_deg
    return [
        PowerCross(part, meridians_deg, tuple(part.power_along(m) for m in meridians_deg))
        for part in (sphere, cylinder, lens)
    ]


@dataclass(frozen=True)
class PowersAround:
    """Power along ``MERIDIANS_DEG``, and along each fifteenth degree."""

    powers_d: np.ndarray
    named_deg: range
    named_d: list


def compute_powers_around(sphere_d: float, cylinder_d: float, axis_deg: float) -> PowersAround:
    """Return the power of a lens along every meridian.

    Parameters
    ----------
    sphere_d, cylinder_d : float
        D.
    axis_deg : float
        °.

    Returns
    -------
    PowersAround

    Examples
    --------
    >>> round(compute_powers_around(0.5, -1.5, 60).named_d[3], 2)
    0.5
    """
    lens = SpheroCylinder(sphere_d, cylinder_d, axis_deg)
    named_deg = range(15, 181, 15)
    return PowersAround(
        np.asarray(lens.power_along(MERIDIANS_DEG)),
        named_deg,
        [lens.power_along(m) for m in named_deg],
    )


# --- two lines and a circle ------------------------------------------------------------------

REACH_MM = (-2.1, 1.45)
PLACES_MM = np.array(REACH_MM)
LETTER_UM = acuity.retinal_size_um(15.0)  # 20/60
STURM_EYE = SpheroCylinder(1.00, -2.00, 180)
STURM_PUPIL_MM = 4.0


@dataclass(frozen=True)
class RetinalSpot:
    """What an astigmatic eye behind a sphere makes of a distant point."""

    eye: SpheroCylinder
    lens_d: float
    pupil_mm: float
    remaining: SpheroCylinder
    sturm: Sturm
    vertical_line_mm: float
    horizontal_line_mm: float
    circle_mm: float
    width_um: float
    height_um: float

    @property
    def half_beams_mm(self) -> dict[str, np.ndarray]:
        """Half of the beam's width at ``REACH_MM``, by the meridian that the light lies in."""
        places_mm = PLACES_MM + self.sturm.retina_mm
        return {
            meridian: self.pupil_mm / 2.0 * (1.0 - places_mm / (focus_mm + self.sturm.retina_mm))
            for meridian, focus_mm in (
                ("vertical", self.horizontal_line_mm),
                ("horizontal", self.vertical_line_mm),
            )
        }

    @property
    def circle_radius_mm(self) -> float:
        """Radius of the circle of least confusion."""
        return float(self.sturm.circle_diameter_um / 2000.0)


def compute_retinal_spot(cylinder_d: float, lens_d: float, pupil_mm: float) -> RetinalSpot:
    """Return lines, circle and the spot on the retina of an eye 0.00 C × 180 behind a sphere.

    Parameters
    ----------
    cylinder_d : float
        Cylinder of the eye's refraction, axis 180, D; 0 or less.
    lens_d : float
        Sphere held before the eye, at its cornea, D.
    pupil_mm : float
        Pupil diameter, mm.

    Returns
    -------
    RetinalSpot
        Places in mm behind the retina, negative in front of it; no accommodation.

    Examples
    --------
    Half the cylinder as sphere puts the circle of least confusion on the retina.

    >>> round(compute_retinal_spot(-2.0, -1.0, 4.0).circle_mm, 6)
    0.0
    """
    eye = SpheroCylinder(0.0, cylinder_d, 180)
    remaining = SpheroCylinder(-lens_d, cylinder_d, 180)
    sturm = interval_of_sturm(remaining, pupil_mm)
    # light in the horizontal meridian, which has the axis, ends in the vertical line
    vertical_mm, horizontal_mm = sturm.second_line_mm, sturm.first_line_mm
    width_um, height_um = _cross_section(pupil_mm, sturm.retina_mm, vertical_mm, horizontal_mm)
    return RetinalSpot(
        eye,
        lens_d,
        pupil_mm,
        remaining,
        sturm,
        float(vertical_mm - sturm.retina_mm),
        float(horizontal_mm - sturm.retina_mm),
        float(sturm.circle_mm - sturm.retina_mm),
        width_um,
        height_um,
    )


def _cross_section(pupil_mm, place_mm, vertical_line_mm, horizontal_line_mm):
    """Width and height of the light at a place, µm: its horizontal meridian ends vertically."""
    return tuple(
        1000.0 * pupil_mm * np.abs(1.0 - place_mm / line_mm)
        for line_mm in (vertical_line_mm, horizontal_line_mm)
    )


@dataclass(frozen=True)
class CrossSections:
    """Cross-sections of an astigmatic eye's light near its focal lines."""

    eye: SpheroCylinder
    pupil_mm: float
    from_retina_mm: np.ndarray
    width_um: np.ndarray
    height_um: np.ndarray
    circle_um: float


def compute_cross_sections() -> CrossSections:
    """Return the light of the eye ``STURM_EYE`` before, in, between and behind its lines.

    Returns
    -------
    CrossSections

    Examples
    --------
    >>> round(compute_cross_sections().circle_um)
    67
    """
    sturm = interval_of_sturm(STURM_EYE, STURM_PUPIL_MM)
    first, second = sturm.first_line_mm, sturm.second_line_mm
    places_mm = np.array(
        [first - sturm.interval_mm / 2, first, sturm.circle_mm, second, second + first / 60]
    )
    # an eye of axis 180: the vertical meridian ends in the first, horizontal line
    width_um, height_um = _cross_section(STURM_PUPIL_MM, places_mm, second, first)
    return CrossSections(
        STURM_EYE,
        STURM_PUPIL_MM,
        places_mm - sturm.retina_mm,
        width_um,
        height_um,
        float(sturm.circle_diameter_um),
    )


def compute_line_order(axis_deg: float) -> tuple[str, ...]:
    """Return the directions of an eye's focal lines in the order in which light meets them.

    Parameters
    ----------
    axis_deg : float
        Axis of its minus cylinder, 180 or 90.

    Returns
    -------
    tuple of str

    Examples
    --------
    >>> compute_line_order(180)
    ('horizontal', 'vertical')
    """
    lines = ("horizontal", "vertical")
    return lines if axis_deg == 180 else lines[::-1]


def compute_circle_sphere(front_d: float, behind_d: float) -> float:
    """Return the sphere that brings the circle of least confusion onto the retina.

    Parameters
    ----------
    front_d, behind_d : float
        The spheres that bring the lines onto it, D.

    Returns
    -------
    float
        D.

    Examples
    --------
    >>> compute_circle_sphere(-1.0, 0.5)
    -0.25
    """
    return (front_d + behind_d) / 2


def compute_arrow(size_d: float, axis_deg: float) -> PowerVector:
    """Return the power vector of a minus cylinder.

    Parameters
    ----------
    size_d : float
        Length of the vector in the plane of J0 and J45, D: half the cylinder.
    axis_deg : float
        Axis of the minus cylinder, °.

    Returns
    -------
    PowerVector

    Examples
    --------
    >>> compute_arrow(1.0, 180).j0_d
    1.0
    """
    return SpheroCylinder(0.0, -2.0 * size_d, axis_deg).power_vector()


# --- cylinders added -------------------------------------------------------------------------

FIRST = SpheroCylinder(0.0, -1.00, 180)


@dataclass(frozen=True)
class CylinderSum:
    """Two cylinders and their sum."""

    second: SpheroCylinder
    total: SpheroCylinder
    apart_deg: float

    @property
    def first(self) -> SpheroCylinder:
        """The cylinder that stays."""
        return FIRST

    @property
    def sum_of_numbers_d(self) -> float:
        """What the cylinders would make if they added as numbers do."""
        return float(FIRST.cylinder_d + self.second.cylinder_d)

    @property
    def apart_in_plane_deg(self) -> float:
        """The angle between the arrows in the plane of J0 and J45."""
        return 2 * self.apart_deg

    @property
    def arrows(self) -> dict[str, Any]:
        """J0 and J45 of tail and tip of each arrow, D, the second set on the tip of the first."""
        tip, end = (np.array(lens.power_vector()[1:]) for lens in (FIRST, self.total))
        return {"first": ((0, 0), tip), "second": (tip, end), "total": ((0, 0), end)}


def compute_cylinder_sum(second_d: float, second_axis_deg: float) -> CylinderSum:
    """Return what −1.00 × 180 and a second minus cylinder make together.

    Parameters
    ----------
    second_d : float
        Second cylinder, D, 0 or less.
    second_axis_deg : float
        Its axis, 0 to 180°.

    Returns
    -------
    CylinderSum

    Examples
    --------
    Two equal cylinders 60° apart make one of the same size.

    >>> compute_cylinder_sum(-1.0, 60.0).total.written()
    '−0.50 −1.00 × 30'
    """
    second = SpheroCylinder(0.0, second_d, second_axis_deg)
    return CylinderSum(
        second, FIRST + second, compute_axis_difference(second_axis_deg, float(FIRST.axis_deg))
    )


# --- worked examples -------------------------------------------------------------------------


def sum_steps(first: SpheroCylinder, second: SpheroCylinder) -> list[tuple[str, str, float, str]]:
    """Return the steps of adding two sphero-cylinders, ready for a worked example.

    Parameters
    ----------
    first, second : SpheroCylinder

    Returns
    -------
    list of (str, str, float, str)

    Examples
    --------
    >>> steps = sum_steps(SpheroCylinder(-1, -1.5, 20), SpheroCylinder(-0.5, -1, 65))
    >>> [round(value, 2) for _, _, value, _ in steps[-3:]]
    [-1.8, 36.85, -1.85]
    """
    one, two = first.power_vector(), second.power_vector()
    total = first + second
    m_d, j0_d, j45_d = total.power_vector()

    def halves(lens, function):
        half = signed(-lens.cylinder_d / 2, "")
        return f"{half} · {function} {2 * lens.axis_deg:.0f}°"

    def sums(name):
        return f"{signed(getattr(one, name), '')} {signed(getattr(two, name), '')}"

    return [
        ("J0 of the first lens", halves(first, "cos"), one.j0_d, "D"),
        ("J45 of the first lens", halves(first, "sin"), one.j45_d, "D"),
        ("J0 of the second lens", halves(second, "cos"), two.j0_d, "D"),
        ("J45 of the second lens", halves(second, "sin"), two.j45_d, "D"),
        ("add the spherical equivalents M", sums("m_d"), m_d, "D"),
        ("add J0", sums("j0_d"), j0_d, "D"),
        ("add J45", sums("j45_d"), j45_d, "D"),
        ("back: the cylinder", "−2 · √(J0² + J45²)", total.cylinder_d, "D"),
        ("back: the axis", "half the angle of the point (J0, J45)", total.axis_deg, "°"),
        ("back: the sphere", "M − C / 2", total.sphere_d, "D"),
    ]


def compute_cylinder_by_matrix(first: SpheroCylinder, second: SpheroCylinder) -> float:
    """Return the minus cylinder of two lenses in contact by matrices of power, not by vectors.

    Parameters
    ----------
    first, second : SpheroCylinder

    Returns
    -------
    float
        D.

    Sources
    -------
    Long, Am J Optom Physiol Opt 1976;53:27 (from memory): the eigenvalues of the summed matrix
    are the powers of the principal meridians.

    Examples
    --------
    >>> round(compute_cylinder_by_matrix(SpheroCylinder(0, -1, 180), SpheroCylinder(0, -1, 60)), 6)
    -1.0
    """
    weakest_d, strongest_d = np.linalg.eigvalsh(_matrix(first) + _matrix(second))
    return float(weakest_d - strongest_d)


def _matrix(lens):
    sine, cosine = np.sin(np.radians(lens.axis_deg)), np.cos(np.radians(lens.axis_deg))
    across = np.array([[sine * sine, -sine * cosine], [-sine * cosine, cosine * cosine]])
    return lens.sphere_d * np.eye(2) + lens.cylinder_d * across
