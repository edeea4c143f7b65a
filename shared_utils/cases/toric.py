"""Lesson 09: total cornea, plane of the lens, a turned lens, a series of eyes."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from shared_utils.optics.sphero_cylinder import SpheroCylinder
from shared_utils.optics.vergence import surface_power
from shared_utils.power import toric
from shared_utils.power.biometry import Eye
from shared_utils.power.cornea import AQUEOUS_INDEX, STROMA_INDEX
from shared_utils.power.lens_steps import nearest_power

if TYPE_CHECKING:
    from numpy import ndarray
    from numpy.typing import ArrayLike

    from shared_utils.optics.types import FloatOrArray

CYLINDER_STEP_D = 0.75  # of the toric lenses on this page, at the lens; invented


def astigmatism_steep_at(size_d: float, meridian_deg: float) -> SpheroCylinder:
    """Return corneal astigmatism of a size, steep along a meridian.

    >>> astigmatism_steep_at(1.5, 90)
    SpheroCylinder(sphere_d=-0.75, cylinder_d=1.5, axis_deg=90.0)
    """
    return SpheroCylinder(-size_d / 2.0, size_d, meridian_deg)


# --- total cornea ---------------------------------------------------------------------------------

# an invented cornea: both surfaces steeper vertically; radii in mm along 180 and along 90
FRONT_MM = (7.85, 7.60)
BACK_MM = (6.65, 6.30)


@dataclass(frozen=True)
class CornealSurfaces:
    """Powers of the two surfaces of a cornea, along 180 and along 90, D."""

    front_d: np.ndarray
    back_d: np.ndarray

    @property
    def both_d(self) -> np.ndarray:
        """Their sum, D."""
        return self.front_d + self.back_d


def compute_surfaces() -> CornealSurfaces:
    """Return the powers of the front and the back of the page's cornea.

    Returns
    -------
    CornealSurfaces

    Examples
    --------
    >>> data = compute_surfaces()
    >>> float(round(np.diff(data.front_d)[0], 2)), float(round(np.diff(data.both_d)[0], 2))
    (1.58, 1.24)
    """
    return CornealSurfaces(
        np.array([surface_power(radius, 1.0, STROMA_INDEX) for radius in FRONT_MM]),
        np.array([surface_power(radius, STROMA_INDEX, AQUEOUS_INDEX) for radius in BACK_MM]),
    )


def total_along_x(keratometric_d: FloatOrArray) -> FloatOrArray:
    """Return the total corneal astigmatism along x by the regression of Abulafia and Koch.

    Parameters
    ----------
    keratometric_d : scalar or array
        C cos 2θ of the keratometer, D; minus with the rule.

    Returns
    -------
    float or array
        C cos 2θ of the whole cornea, D.

    Sources
    -------
    Abulafia and Koch, as in ``power.toric``.

    Examples
    --------
    >>> round(total_along_x(-1.5), 2)
    -0.88
    """
    return 0.508 + 0.926 * keratometric_d


@dataclass(frozen=True)
class TotalCornea:
    """What a keratometer shows, and what a regression expects of the whole cornea."""

    measured: SpheroCylinder
    total: SpheroCylinder
    estimate: str

    @property
    def measured_xy_d(self) -> np.ndarray:
        """The measured astigmatism on a double-angle plot, D."""
        return np.array(toric.double_angle(self.measured))

    @property
    def total_xy_d(self) -> np.ndarray:
        """The total astigmatism on a double-angle plot, D."""
        return np.array(toric.double_angle(self.total))

    @property
    def sizes_d(self) -> tuple[float, ...]:
        """Sizes of what was measured, of what is added to it, and of the total, D."""
        start, end = self.measured_xy_d, self.total_xy_d
        return tuple(float(np.hypot(*xy_d)) for xy_d in (start, end - start, end))

    @property
    def change_d(self) -> float:
        """How much more the total is than what was measured, D."""
        return float(self.total.cylinder_d - self.measured.cylinder_d)

    @property
    def rules(self) -> tuple[str, ...]:
        """Rule class of the measured astigmatism and of the total."""
        return str(toric.rule_class(self.measured)), str(toric.rule_class(self.total))


def compute_total_cornea(measured_d: float, steep_deg: float, estimate: str) -> TotalCornea:
    """Return keratometric astigmatism and the total that a regression expects.

    Parameters
    ----------
    measured_d : float
        Keratometric astigmatism, D.
    steep_deg : float
        Steep meridian, 0 to 180°.
    estimate : str
        Name of the regression, as ``toric.total_from_keratometry`` knows it.

    Returns
    -------
    TotalCornea

    Examples
    --------
    >>> round(compute_total_cornea(1.5, 180, "abulafia_koch").total.cylinder_d, 2)
    1.9
    """
    measured = astigmatism_steep_at(measured_d, steep_deg)
    return TotalCornea(measured, toric.total_from_keratometry(measured, estimate), estimate)


# --- from the cornea to the lens ------------------------------------------------------------------

POSITIONS_MM = np.linspace(4.0, 7.0, 61)
ONE_RATIO = 1.46


def cylinder_ratio(cornea_d: float, elp_mm: ArrayLike) -> FloatOrArray:
    """Return cylinder at the lens for 1 D at the cornea, a thin cornea of that power.

    >>> round(cylinder_ratio(43.0, 5.0), 2)
    1.42
    """
    return toric.cylinder_ratio_approximate(Eye(23.5, cornea_d), elp_mm, corneal_index=1.3375)


@dataclass(frozen=True)
class CylinderAtCornea:
    """A cylinder on a lens and what it does at the cornea."""

    lens_cylinder_d: float
    elp_mm: float
    cornea_d: float
    ratio: float
    ratios: np.ndarray

    @property
    def at_cornea_d(self) -> float:
        """What the lens does at the cornea, D."""
        return self.lens_cylinder_d / self.ratio

    @property
    def promised_d(self) -> float:
        """What one ratio for every eye would promise at the cornea, D."""
        return self.lens_cylinder_d / ONE_RATIO


def compute_cylinder_at_cornea(
    lens_cylinder_d: float, elp_mm: float, cornea_d: float
) -> CylinderAtCornea:
    """Return what a toric lens does at the cornea, and the ratio at every place of the lens.

    Parameters
    ----------
    lens_cylinder_d : float
        Cylinder of the lens itself, D.
    elp_mm : float
        Where it lies behind the cornea, mm.
    cornea_d : float
        Power of the cornea, D.

    Returns
    -------
    CylinderAtCornea

    Examples
    --------
    >>> round(compute_cylinder_at_cornea(1.42, 5.0, 43.0).at_cornea_d, 2)
    1.0
    """
    return CylinderAtCornea(
        lens_cylinder_d,
        elp_mm,
        cornea_d,
        float(cylinder_ratio(cornea_d, elp_mm)),
        np.asarray(cylinder_ratio(cornea_d, POSITIONS_MM)),
    )


# --- a lens that is turned ------------------------------------------------------------------------

TURNS_DEG = np.linspace(0.0, 90.0, 91)
STEEP_DEG = 90.0


@dataclass(frozen=True)
class TurnedLens:
    """A cornea steep at 90, a toric lens turned from there, and what remains."""

    corneal_d: float
    lens_d: float
    turn_deg: float
    remaining: SpheroCylinder
    remaining_d: np.ndarray

    @property
    def size_d(self) -> float:
        """Cylinder that remains, D."""
        return float(self.remaining.cylinder_d)

    @property
    def percent_of_cornea(self) -> float:
        """Cylinder that remains, in per cent of the cornea's."""
        return 100.0 * self.size_d / self.corneal_d

    @property
    def corneal_xy_d(self) -> np.ndarray:
        """The corneal astigmatism on a double-angle plot, D."""
        return np.array([-self.corneal_d, 0.0])

    @property
    def remaining_xy_d(self) -> np.ndarray:
        """What remains, on a double-angle plot, D."""
        return np.array(toric.double_angle(self.remaining))


def compute_turned_lens(corneal_d: float, lens_d: float, turn_deg: float) -> TurnedLens:
    """Return what a turned toric lens leaves, at this turn and at every other.

    Parameters
    ----------
    corneal_d : float
        Corneal astigmatism, steep at 90, D.
    lens_d : float
        Cylinder of the lens at the corneal plane, D.
    turn_deg : float
        How far its marks lie off the steep meridian, anticlockwise, 0 to 90°.

    Returns
    -------
    TurnedLens

    Examples
    --------
    >>> round(compute_turned_lens(2.0, 2.0, 30.0).size_d, 6)
    2.0
    """
    marks_deg = (STEEP_DEG + turn_deg) % 180.0
    left = toric.residual(astigmatism_steep_at(corneal_d, STEEP_DEG), lens_d, marks_deg).plus_form()
    curve = toric.misaligned_cylinder(corneal_d, lens_d, TURNS_DEG)
    return TurnedLens(corneal_d, lens_d, turn_deg, left, np.asarray(curve))


# --- a series of eyes, a double-angle plot --------------------------------------------------------

NEIGHBOURS = SpheroCylinder(-0.5, 1.0, np.array([15.0, 160.0, 180.0]))


def double_angle_point(size_d: float, meridian_deg: float) -> tuple[float, float]:
    """Return where corneal astigmatism lies on a double-angle plot.

    Parameters
    ----------
    size_d : float
        D.
    meridian_deg : float
        Where it is steep, °.

    Returns
    -------
    tuple of float
        x and y, D.

    Examples
    --------
    >>> [round(value, 9) + 0.0 for value in double_angle_point(1.0, 90)]
    [-1.0, 0.0]
    """
    x_d, y_d = toric.double_angle(astigmatism_steep_at(size_d, meridian_deg))
    return float(x_d), float(y_d)


def direction(angle_deg: float) -> ndarray:
    """Return the unit vector at an angle, counter-clockwise from the right.

    Parameters
    ----------
    angle_deg : float

    Returns
    -------
    array of 2

    Examples
    --------
    >>> direction(0).tolist()
    [1.0, 0.0]
    """
    angle = np.radians(angle_deg)
    return np.array([np.cos(angle), np.sin(angle)])


@dataclass(frozen=True)
class Neighbours:
    """Three eyes that lie close together on a double-angle plot, and their centroid."""

    axis_deg: np.ndarray
    x_d: np.ndarray
    y_d: np.ndarray
    mean_xy_d: np.ndarray
    centroid: SpheroCylinder

    @property
    def mean_axis_deg(self) -> float:
        """Mean of the numbers of their axes, which is no axis of theirs, °."""
        return float(np.mean(self.axis_deg))


def compute_neighbours() -> Neighbours:
    """Return the three eyes of the page's first plot.

    Returns
    -------
    Neighbours

    Examples
    --------
    >>> data = compute_neighbours()
    >>> round(data.centroid.cylinder_d, 2), round(data.centroid.axis_deg), data.mean_axis_deg
    (0.88, 178, 118.33333333333333)
    """
    x_d, y_d = toric.double_angle(NEIGHBOURS)
    statistics = toric.double_angle_statistics(NEIGHBOURS)
    return Neighbours(
        np.asarray(NEIGHBOURS.axis_deg),
        np.asarray(x_d),
        np.asarray(y_d),
        statistics.mean_xy_d,
        statistics.centroid,
    )


EYES = 40


def _even_scatter(eyes, seed):
    """Points with mean zero, no correlation and a standard deviation of one each way."""
    points = np.random.default_rng(seed).normal(size=(eyes, 2))
    points -= points.mean(axis=0)
    return points @ np.linalg.inv(np.linalg.cholesky(np.cov(points.T))).T


SCATTER = _even_scatter(EYES, seed=9)


@dataclass(frozen=True)
class Series:
    """Astigmatism of a series of eyes at the double angle."""

    x_d: np.ndarray
    y_d: np.ndarray
    statistics: toric.DoubleAngleStatistics
    mean_size_d: float
    mean_outline: toric.Ellipse
    data_outline: toric.Ellipse

    @property
    def zero_is_outside(self) -> bool:
        """Whether no astigmatism lies outside the outline of the mean."""
        size_d = float(np.hypot(*self.statistics.mean_xy_d))
        return bool(size_d > self.mean_outline.half_axes_d[0])


def compute_series(centroid_d: float, steep_deg: float, scatter_d: float) -> Series:
    """Return a series of invented eyes with a given centroid and scatter.

    Parameters
    ----------
    centroid_d : float
        Size of the centroid, D.
    steep_deg : float
        Its steep meridian, 0 to 180°.
    scatter_d : float
        Standard deviation either way, D.

    Returns
    -------
    Series

    Examples
    --------
    >>> round(compute_series(0.3, 90.0, 0.4).statistics.centroid.cylinder_d, 6)
    0.3
    """
    middle = np.array(double_angle_point(centroid_d, steep_deg))
    x_d, y_d = (middle + scatter_d * SCATTER).T
    found = toric.double_angle_statistics(toric.from_double_angle(x_d, y_d))
    return Series(
        x_d,
        y_d,
        found,
        float(np.hypot(x_d, y_d).mean()),
        found.ellipse_of_mean(points=61),
        found.ellipse_of_data(points=61),
    )


# --- worked examples ------------------------------------------------------------------------------


def plan_steps(
    flat_d: float, steep_d: float, steep_deg: float, elp_mm: float
) -> list[tuple[str, str, float, str]]:
    """Return the steps from keratometry to a toric lens, ready for a worked example.

    Parameters
    ----------
    flat_d, steep_d : float
        Keratometer readings, D.
    steep_deg : float
        Steep meridian, 90 or 180°.
    elp_mm : float
        Lens position, mm behind the cornea.

    Returns
    -------
    list of (str, str, float, str)

    Examples
    --------
    >>> steps = plan_steps(43.0, 44.25, 180, 5.2)
    >>> [round(value, 2) for _, _, value, _ in steps]
    [1.25, 1.25, 1.67, 1.44, 2.4, 2.25, 1.56, 0.11]
    """
    flat_deg = 90.0 if steep_deg == 180 else 180.0
    eye = Eye(23.5, flat_d, steep_d, k1_axis_deg=flat_deg)
    measured = toric.corneal_astigmatism(eye)
    x_d = float(toric.double_angle(measured)[0])
    total_x_d = float(total_along_x(x_d))
    lens_ratio = float(toric.cylinder_ratio(eye, elp_mm))
    wanted_d = abs(total_x_d) * lens_ratio
    ordered_d = nearest_power(wanted_d, CYLINDER_STEP_D)
    at_cornea_d = ordered_d / lens_ratio
    return [
        ("the keratometer's astigmatism", "steep less flat", float(measured.cylinder_d), "D"),
        ("along the plot's x", "C · cos 2θ: minus with the rule", x_d, "D"),
        ("the whole cornea", "0.508 + 0.926 · x (Abulafia & Koch)", total_x_d, "D"),
        ("from cornea to lens", "ratio at this lens position", lens_ratio, ""),
        ("cylinder wanted at the lens", "size of the total · ratio", wanted_d, "D"),
        ("the nearest that is made", f"steps of {CYLINDER_STEP_D:.2f} D", float(ordered_d), "D"),
        ("what it does at the cornea", "ordered / ratio", float(at_cornea_d), "D"),
        ("what remains, well placed", "total − lens", float(abs(total_x_d) - at_cornea_d), "D"),
    ]


def cylinder_after_turn(
    flat_d: float, steep_d: float, steep_deg: float, elp_mm: float, turn_deg: float
) -> float:
    """Return the cylinder that the planned lens leaves when it lies turned.

    Parameters
    ----------
    flat_d, steep_d, steep_deg, elp_mm : float
        As for ``plan_steps``.
    turn_deg : float
        Turn of the lens, °.

    Returns
    -------
    float
        D.

    Examples
    --------
    >>> round(cylinder_after_turn(43.0, 44.25, 180, 5.2, 10.0), 2)
    0.57
    """
    steps = plan_steps(flat_d, steep_d, steep_deg, elp_mm)
    total_d, at_cornea_d = abs(steps[2][2]), steps[6][2]
    return float(toric.misaligned_cylinder(total_d, at_cornea_d, turn_deg))
