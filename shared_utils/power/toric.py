"""Toric lenses: from corneal astigmatism to the cylinder that remains.

Corneal astigmatism is handed about as the refraction that corrects it: a ``SpheroCylinder`` whose
plus cylinder has its axis on the steep meridian, with no spherical equivalent. A toric lens's
axis is that of its marks, the meridian of its least power; it belongs on the steep meridian.
Sums, differences and means are made at the double angle, never of axes.

Sources
-------
Holladay, Cravy & Koch, J Cataract Refract Surg 1992;18:429 (double angle, from memory); others
beside each function.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.stats import f as f_distribution

from shared_utils.optics.domain import (
    broadcast,
    require,
    require_one,
    require_one_of,
    unwrap_scalar,
)
from shared_utils.optics.sphero_cylinder import SpheroCylinder, require_sphero_cylinder
from shared_utils.optics.vergence import at_vertex
from shared_utils.power.biometry import KERATOMETER_SCALE, require_eye
from shared_utils.power.core import (
    AQUEOUS_INDEX,
    ELP_HINT,
    ELP_RANGE_MM,
    THIN_CORNEA_INDEX,
    VERTEX_HINT,
    VERTEX_RANGE_MM,
)

if TYPE_CHECKING:
    from numpy import ndarray
    from numpy.typing import ArrayLike

    from shared_utils.optics.types import FloatOrArray
    from shared_utils.power.biometry import Eye

TORIC_RANGE_D = (0.0, 15.0)


def corneal_astigmatism(eye: Eye) -> SpheroCylinder:
    """Return a measured eye's keratometric astigmatism.

    Parameters
    ----------
    eye : biometry.Eye
        With ``k1_d``, ``k2_d`` and the meridian of ``k1_d``, ``k1_axis_deg``; which of the two
        is the steep one does not matter.

    Returns
    -------
    SpheroCylinder
        Plus cylinder with its axis on the steep meridian; spherical equivalent 0.

    Raises
    ------
    ValueError
        If the eye has no second reading or no meridian.

    Examples
    --------
    43.00 D along 180 and 44.50 D along 90: 1.50 D, steep at 90.

    >>> from shared_utils.power.biometry import Eye
    >>> corneal_astigmatism(Eye(23.5, 43.0, 44.5, k1_axis_deg=180))
    SpheroCylinder(sphere_d=-0.75, cylinder_d=1.5, axis_deg=90.0)
    """
    require_eye("eye", eye)
    for field, unit in (("k2_d", "D"), ("k1_axis_deg", "degrees")):
        if getattr(eye, field) is None:
            raise ValueError(
                f"{field} of the eye is missing; astigmatism needs k1_d, k2_d in D and "
                f"k1_axis_deg, so give {field} in {unit}."
            )
    k1_d, k2_d = np.asarray(eye.k1_d), np.asarray(eye.k2_d)
    # (k1 − k2) more at the meridian of k1: as a correction, that cylinder with its axis there
    return SpheroCylinder((k2_d - k1_d) / 2.0, k1_d - k2_d, np.asarray(eye.k1_axis_deg)).plus_form()


def double_angle(astigmatism: SpheroCylinder) -> tuple[FloatOrArray, FloatOrArray]:
    """Return the double-angle coordinates of the plus cylinder, ready to plot or to average.

    Parameters
    ----------
    astigmatism : SpheroCylinder
        In either form.

    Returns
    -------
    x_d, y_d : float or array
        C cos 2θ and C sin 2θ, D, θ the axis of the plus cylinder (the steep meridian of a
        cornea): x is positive against the rule and negative with the rule.

    Examples
    --------
    >>> x_d, y_d = double_angle(SpheroCylinder(0.0, 1.5, 90))
    >>> round(x_d, 6), abs(round(y_d, 6))
    (-1.5, 0.0)
    """
    require_sphero_cylinder("astigmatism", astigmatism)
    vector = astigmatism.power_vector()
    return unwrap_scalar(-2.0 * np.asarray(vector.j0_d)), unwrap_scalar(
        -2.0 * np.asarray(vector.j45_d)
    )


def from_double_angle(x_d: ArrayLike, y_d: ArrayLike) -> SpheroCylinder:
    """Return the astigmatism that stands at a point of the double-angle plot.

    Parameters
    ----------
    x_d, y_d : scalar or array
        C cos 2θ and C sin 2θ, −40 to 40 D.

    Returns
    -------
    SpheroCylinder
        Plus cylinder; spherical equivalent 0.

    Examples
    --------
    >>> from_double_angle(0.0, 1.0)
    SpheroCylinder(sphere_d=-0.5, cylinder_d=1.0, axis_deg=45.0)
    """
    x_d, y_d = broadcast(x_d=require("x_d", x_d, -40.0, 40.0), y_d=require("y_d", y_d, -40.0, 40.0))
    return SpheroCylinder.from_power_vector(np.zeros(x_d.shape), -x_d / 2, -y_d / 2).plus_form()


def induced(before: SpheroCylinder, after: SpheroCylinder) -> SpheroCylinder:
    """Return the astigmatism that surgery made: after minus before, as vectors.

    Parameters
    ----------
    before, after : SpheroCylinder
        Corneal astigmatism, as from ``corneal_astigmatism``.

    Returns
    -------
    SpheroCylinder
        Plus cylinder: its axis is the meridian that was steepened.

    Sources
    -------
    Holladay, Cravy & Koch 1992 (from memory).

    Examples
    --------
    1.00 D at 90 becomes 0.50 D at 90: surgery steepened 180 by 0.50 D.

    >>> made = induced(from_double_angle(-1.0, 0.0), from_double_angle(-0.5, 0.0))
    >>> made.cylinder_d, made.axis_deg
    (0.5, 180.0)
    """
    require_sphero_cylinder("before", before)
    require_sphero_cylinder("after", after)
    return (after - before).plus_form()


def _abulafia_koch(x_d, y_d):
    return 0.508 + 0.926 * x_d, 0.009 + 0.932 * y_d


def _eom(x_d, y_d):
    size_d = np.hypot(x_d, y_d)
    rule = _rule(x_d, y_d)
    posterior_d = np.select(
        [rule == "with", rule == "oblique"], [0.15 * size_d + 0.22, 0.05 * size_d + 0.27], 0.27
    )
    return x_d + posterior_d, y_d  # −posterior at 90° is +posterior at 180°, along x


def _goggin(x_d, y_d):
    rule = _rule(x_d, y_d)
    factor = np.select([rule == "with", rule == "against"], [0.75, 1.41], 1.0)
    return factor * x_d, factor * y_d


REGRESSIONS = {"abulafia_koch": _abulafia_koch, "eom": _eom, "goggin": _goggin}


def total_from_keratometry(measured: SpheroCylinder, regression: str) -> SpheroCylinder:
    """Return total corneal astigmatism as a published regression estimates it.

    The mean posterior cornea is steep vertically and, being a minus surface, adds astigmatism
    against the rule. Hazards: only for astigmatism measured at the anterior surface (a total
    corneal measurement has the posterior one in it already); not on top of a mean induced
    astigmatism without a check, which made predictions worse in eyes against the rule; and a
    regression knows the average posterior cornea, not this one. ``"eom"`` and ``"goggin"`` jump
    where the class changes; ``"goggin"`` was made for lens cylinders up to 2 D and leaves oblique
    astigmatism as it is.

    Parameters
    ----------
    measured : SpheroCylinder
        Keratometric astigmatism, as from ``corneal_astigmatism``.
    regression : str
        ``"abulafia_koch"``, ``"eom"`` or ``"goggin"``.

    Returns
    -------
    SpheroCylinder
        Plus cylinder with its axis on the steep meridian.

    Raises
    ------
    ValueError
        If the name is none of these.

    Sources
    -------
    Abulafia, Koch et al., J Cataract Refract Surg 2016;42:663 (coefficients from memory); Eom et
    al., Am J Ophthalmol (928 eyes); Goggin et al., J Refract Surg 2015. The classes (steep within
    30° of vertical: with the rule; of horizontal: against) are common practice, no source.

    Examples
    --------
    1.50 D with the rule: 0.508 − 0.926 · 1.5 = −0.88, so 0.88 D at 90.

    >>> total = total_from_keratometry(from_double_angle(-1.5, 0.0), "abulafia_koch")
    >>> round(total.cylinder_d, 2), round(total.axis_deg)
    (0.88, 90)
    """
    require_sphero_cylinder("measured", measured)
    require_one_of("regression", regression, REGRESSIONS)
    x_d, y_d = (np.asarray(part) for part in double_angle(measured))
    return from_double_angle(*REGRESSIONS[regression](x_d, y_d))


def rule_class(astigmatism: SpheroCylinder) -> str | ndarray:
    """Return whether astigmatism is with the rule, against it, or oblique.

    Parameters
    ----------
    astigmatism : SpheroCylinder
        Plus axis on the steep meridian, as from ``corneal_astigmatism``.

    Returns
    -------
    str or array of str
        ``"with"`` (steep within 30° of vertical), ``"against"`` (of horizontal), ``"oblique"``,
        or ``"none"`` below 0.10 D, where the axis is noise.

    Sources
    -------
    Common practice, no source.

    Examples
    --------
    >>> rule_class(from_double_angle(-1.5, 0.0))
    'with'
    """
    require_sphero_cylinder("astigmatism", astigmatism)
    shown = np.where(
        astigmatism.axis_is_meaningful,
        _rule(*(np.asarray(part) for part in double_angle(astigmatism))),
        "none",
    )
    return str(shown) if shown.ndim == 0 else shown


def cylinder_ratio(
    eye: Eye,
    elp_mm: ArrayLike,
    target_d: ArrayLike = 0.0,
    vertex_mm: ArrayLike = 12.0,
    corneal_index: ArrayLike = THIN_CORNEA_INDEX,
) -> FloatOrArray:
    """Return how much cylinder at the lens does the work of 1 D at the cornea.

    Exact for thin lenses: the difference of the lens powers that the two meridians of the cornea
    ask for, divided by the difference of the corneal powers. A constant ratio overcorrects short
    eyes and undercorrects long ones.

    Parameters
    ----------
    eye : biometry.Eye
    elp_mm : scalar or array
        Effective lens position, 2 to 9 mm behind the cornea.
    target_d : scalar or array
        Refraction wanted, −20 to 20 D.
    vertex_mm : scalar or array
        Vertex distance of the target, 0 to 20 mm.
    corneal_index : scalar or array
        Index that turns corneal radius into power, 1.3 to 1.4.

    Returns
    -------
    float or array
        IOL plane / corneal plane, no unit; about 1.3 to 1.7.

    Sources
    -------
    Thin-lens vergence; with z the vergence behind the cornea, P = … − z/(1 − dz/n), so the ratio
    is 1/((1 − dz₁/n)(1 − dz₂/n)).

    Examples
    --------
    z = 43 D in both meridians, d = 5 mm: 1 / (1 − 0.005 · 43/1.336)² = 1.42.

    >>> from shared_utils.power.biometry import Eye
    >>> round(cylinder_ratio(Eye(23.5, 43.0), 5.0, corneal_index=1.3375), 2)
    1.42
    """
    require_eye("eye", eye)
    second_d = eye.k1_d if eye.k2_d is None else eye.k2_d
    first, second = (
        _left_behind_cornea(k_d, elp_mm, target_d, vertex_mm, corneal_index)
        for k_d in (eye.k1_d, second_d)
    )
    return unwrap_scalar(1.0 / (first * second))


def cylinder_ratio_approximate(
    eye: Eye,
    elp_mm: ArrayLike,
    target_d: ArrayLike = 0.0,
    vertex_mm: ArrayLike = 12.0,
    corneal_index: ArrayLike = THIN_CORNEA_INDEX,
) -> FloatOrArray:
    """Return the same ratio from the mean corneal power alone, (1 − d z/n)⁻².

    Parameters, range and units as for ``cylinder_ratio``, which it meets where the cornea has no
    astigmatism.

    Returns
    -------
    float or array
        IOL plane / corneal plane, no unit.

    Examples
    --------
    >>> from shared_utils.power.biometry import Eye
    >>> toric = Eye(23.5, 41.0, 45.0)
    >>> round(cylinder_ratio(toric, 5.0) - cylinder_ratio_approximate(toric, 5.0), 3)
    0.0
    """
    require_eye("eye", eye)
    left = _left_behind_cornea(eye.mean_k_d, elp_mm, target_d, vertex_mm, corneal_index)
    return unwrap_scalar(left**-2.0)


def _left_behind_cornea(k_d, elp_mm, target_d, vertex_mm, corneal_index):
    """1 − d z/n: how much of the corneal beam's width is left at the lens."""
    k_d, elp_mm, target_d, corneal_index, vertex_mm = broadcast(
        k_d=k_d,
        elp_mm=require("elp_mm", elp_mm, *ELP_RANGE_MM, hint=ELP_HINT),
        target_d=require("target_d", target_d, -20.0, 20.0, hint="Myopia is negative."),
        corneal_index=require(
            "corneal_index", corneal_index, 1.3, 1.4, hint="1.3375 is the keratometer's."
        ),
        vertex_mm=require("vertex_mm", vertex_mm, *VERTEX_RANGE_MM, hint=VERTEX_HINT),
    )
    behind_d = k_d * 1000.0 * (corneal_index - 1.0) / KERATOMETER_SCALE
    behind_d = behind_d + at_vertex(target_d, vertex_mm, 0.0)
    return 1.0 - elp_mm / 1000.0 * behind_d / AQUEOUS_INDEX


def residual(
    corneal: SpheroCylinder, toric_at_cornea_d: ArrayLike, axis_deg: ArrayLike
) -> SpheroCylinder:
    """Return the refraction that a toric lens leaves at the corneal plane.

    Parameters
    ----------
    corneal : SpheroCylinder
        Corneal astigmatism, as from ``corneal_astigmatism`` or ``total_from_keratometry``. A
        spherical equivalent, if it has one, is kept: a turned lens changes the cylinder alone.
    toric_at_cornea_d : scalar or array
        Cylinder of the lens at the corneal plane (at the lens: divide by ``cylinder_ratio``),
        0 to 15 D.
    axis_deg : scalar or array
        Where the marks of the lens lie, 0 to 180°; on the steep meridian if all is well.

    Returns
    -------
    SpheroCylinder
        Residual refraction in minus-cylinder form.

    Sources
    -------
    Næser, J Cataract Refract Surg, and Stevens, J Cataract Refract Surg (from memory): vector
    difference.

    Examples
    --------
    2.00 D steep at 90, a lens of 2.00 D turned by 30°: all of the 2.00 D is left.

    >>> left = residual(from_double_angle(-2.0, 0.0), 2.0, 120)
    >>> round(left.cylinder_d, 6), round(left.plus_form().axis_deg, 6)
    (-2.0, 60.0)
    """
    require_sphero_cylinder("corneal", corneal)
    toric_d = require(
        "toric_at_cornea_d",
        toric_at_cornea_d,
        *TORIC_RANGE_D,
        hint="The cylinder of a toric lens is given as a plus cylinder.",
    )
    toric_d, axis_deg = broadcast(
        toric_at_cornea_d=toric_d,
        axis_deg=require("axis_deg", axis_deg, 0.0, 180.0, hint="The meridian of the marks."),
    )
    return corneal - SpheroCylinder(-toric_d / 2.0, toric_d, axis_deg)


def misaligned_cylinder(
    corneal_cylinder_d: ArrayLike, toric_at_cornea_d: ArrayLike, misalignment_deg: ArrayLike
) -> FloatOrArray:
    """Return the size of the cylinder that a turned toric lens leaves.

    Parameters
    ----------
    corneal_cylinder_d : scalar or array
        Corneal astigmatism, 0 to 15 D.
    toric_at_cornea_d : scalar or array
        Cylinder of the lens at the corneal plane, 0 to 15 D.
    misalignment_deg : scalar or array
        Angle between the marks and the steep meridian, −90 to 90°.

    Returns
    -------
    float or array
        Size of the residual cylinder, D, 0 or more.

    Sources
    -------
    Law of cosines at the double angle; for equal cylinders 2 C sin θ (Felipe et al., J Cataract
    Refract Surg 2011).

    Examples
    --------
    "3.3 % per degree" is the chord to 30°, where nothing is gained any more.

    >>> round(misaligned_cylinder(2.0, 2.0, 10.0), 2), round(misaligned_cylinder(2.0, 2.0, 30.0), 2)
    (0.69, 2.0)
    """
    corneal_d, toric_d, turn_deg = broadcast(
        corneal_cylinder_d=require("corneal_cylinder_d", corneal_cylinder_d, *TORIC_RANGE_D),
        toric_at_cornea_d=require("toric_at_cornea_d", toric_at_cornea_d, *TORIC_RANGE_D),
        misalignment_deg=require("misalignment_deg", misalignment_deg, -90.0, 90.0),
    )
    # (a − b)² + 4ab sin²θ: the law of cosines without its loss of digits near zero
    turn = np.sin(np.radians(turn_deg))
    return unwrap_scalar(np.hypot(corneal_d - toric_d, 2.0 * np.sqrt(corneal_d * toric_d) * turn))


@dataclass(frozen=True)
class DoubleAngleStatistics:
    """Mean and spread of astigmatism at the double angle.

    Attributes
    ----------
    n : int
        Eyes.
    mean_xy_d : array of 2
        Mean of C cos 2θ and C sin 2θ, D.
    covariance_d2 : array (2, 2)
        Covariance of the two, D².
    """

    n: int
    mean_xy_d: np.ndarray
    covariance_d2: np.ndarray

    @property
    def centroid(self) -> SpheroCylinder:
        """Mean astigmatism, as a plus cylinder."""
        return from_double_angle(*self.mean_xy_d)

    @property
    def sd_xy_d(self) -> ndarray:
        """Standard deviations of the two coordinates, D."""
        return np.sqrt(np.diag(self.covariance_d2))

    def ellipse_of_mean(self, confidence: float = 0.95, points: int = 181) -> Ellipse:
        """Return the outline within which the population's mean lies, with this confidence.

        For eyes that are Gaussian at the double angle; where they are not, a convex polygon
        around the middle 95 % of them says more.

        Parameters
        ----------
        confidence : float
            0.5 to 0.999.
        points : int
            Points of the closed outline, 8 or more.

        Returns
        -------
        Ellipse

        Sources
        -------
        Hotelling's T²; Johnson & Wichern, *Applied Multivariate Statistical Analysis*.
        """
        return self._ellipse(1.0 / self.n, confidence, points)

    def ellipse_of_data(self, confidence: float = 0.95, points: int = 181) -> Ellipse:
        """Return the outline within which the next eye lies, with this confidence.

        Parameters and returns as for ``ellipse_of_mean``.

        Sources
        -------
        Johnson & Wichern, prediction ellipse for a future observation.
        """
        return self._ellipse(1.0 + 1.0 / self.n, confidence, points)

    def _ellipse(self, variance_factor, confidence, points):
        confidence = require_one("confidence", confidence, 0.5, 0.999, hint="0.95, not 95.")
        points = int(require_one("points", points, 8, 100_000))
        free = self.n - 2
        quantile = 2.0 * (self.n - 1) / free * f_distribution.ppf(confidence, 2, free)
        variances, directions = np.linalg.eigh(self.covariance_d2)
        half_axes = np.sqrt(np.maximum(variances[::-1], 0.0) * quantile * variance_factor)
        directions = directions[:, ::-1]
        turn = np.linspace(0.0, 2.0 * np.pi, points)
        circle = np.stack([np.cos(turn), np.sin(turn)]) * half_axes[:, None]
        x_d, y_d = self.mean_xy_d[:, None] + directions @ circle
        return Ellipse(x_d=x_d, y_d=y_d, half_axes_d=half_axes)


@dataclass(frozen=True)
class Ellipse:
    """A closed outline at the double angle, D, ready to draw; and its half axes, long first."""

    x_d: np.ndarray
    y_d: np.ndarray
    half_axes_d: np.ndarray


def double_angle_statistics(astigmatism: SpheroCylinder) -> DoubleAngleStatistics:
    """Return centroid, covariance and confidence ellipses of the astigmatism of several eyes.

    Parameters
    ----------
    astigmatism : SpheroCylinder
        Of one-dimensional arrays, one value for each of at least 3 eyes.

    Returns
    -------
    DoubleAngleStatistics

    Raises
    ------
    ValueError
        For fewer than 3 eyes.

    Sources
    -------
    Holladay et al., J Cataract Refract Surg 2022 (double-angle analysis of groups): mean of the
    coordinates, never of the axes.

    Examples
    --------
    1 D at 10° and 1 D at 170° have their mean at 180°, not at 90°.

    >>> eyes = SpheroCylinder(0.0, 1.0, [10.0, 170.0, 180.0])
    >>> double_angle_statistics(eyes).centroid.axis_deg
    180.0
    """
    require_sphero_cylinder("astigmatism", astigmatism)
    x_d, y_d = double_angle(astigmatism)
    if np.ndim(x_d) != 1 or np.size(x_d) < 3:
        raise ValueError(
            f"astigmatism holds an array of shape {np.shape(x_d)}; give one value in D for each "
            "of 3 or more eyes, in one row."
        )
    pairs = np.stack([x_d, y_d])
    return DoubleAngleStatistics(
        n=pairs.shape[1], mean_xy_d=pairs.mean(axis=1), covariance_d2=np.cov(pairs)
    )


def _rule(x_d, y_d):
    """Class of steep meridian by its angle; 30° either side of vertical or of horizontal."""
    twice_deg = np.abs(np.degrees(np.arctan2(y_d, x_d)))
    near = 1e-9  # so that 60 and 30 themselves count as with and against the rule
    return np.select(
        [twice_deg >= 120.0 - near, twice_deg <= 60.0 + near], ["with", "against"], "oblique"
    )
