"""An invented cohort: eyes nobody has, as alike as may be to those that surgeons see.

Every eye has a hidden truth (where its lens came to lie) that no formula knows. Marginals are
published; so are some of the correlations; the rest is assumed, and says so below. Which formula
does best in such a cohort follows from the invented truth and is no evidence about formulas.

Assumed, no source
------------------
* the correlations in ``SPEARMAN_ASSUMED``, and a Gaussian copula for all of them together;
* that marginals measured in different populations go together in one;
* astigmatism independent of everything else, log-normal through two published points, its axis
  spread evenly within each class (within 30° of vertical, of horizontal, or between);
* the truth: a thin lens at ACD + 0.39 × lens thickness, give or take 0.20 mm, behind a cornea of
  index 1.3315 (near Gullstrand's thick cornea), no retinal thickness; a refraction give or take
  0.25 D; measurements without error; the lens chosen by SRK/T for emmetropia in steps of 0.50 D.

Sources
-------
Hoffmann & Hütz, J Cataract Refract Surg 2010 (23 239 German eyes); a series of 28 709 Chinese
eyes from nine cities, BMC Ophthalmol 2021; 6 933 eyes from West China, BMC Ophthalmol 2018; that
axial length is better two Gaussians than one: Rozema et al. 2014. Lens position: the C-constant
of Olsen & Hoffmann, J Cataract Refract Surg 2014;40:764 (value from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy import stats

from shared_utils.optics.domain import require_one
from shared_utils.power.biometry import KERATOMETER_SCALE, Eye
from shared_utils.power.formulas import iol_power
from shared_utils.power.lens_constants import DEMO_A_CONSTANT, LensConstants
from shared_utils.power.lens_steps import nearest_power
from shared_utils.power.pseudophakia import pseudophakic_refraction

if TYPE_CHECKING:
    from numpy import ndarray

MEASURES = (
    "axial_length_mm",
    "k_d",
    "acd_mm",
    "lens_thickness_mm",
    "white_to_white_mm",
    "age_years",
)

SPEARMAN_PUBLISHED = {
    ("axial_length_mm", "acd_mm"): 0.544,
    ("axial_length_mm", "k_d"): -0.411,
    ("k_d", "acd_mm"): -0.078,
    ("acd_mm", "lens_thickness_mm"): -0.660,
    ("acd_mm", "white_to_white_mm"): 0.300,
    ("acd_mm", "age_years"): -0.285,
}
"""Rank correlations: nine cities 2021; those with ``k_d`` West China 2018."""

SPEARMAN_ASSUMED = {
    ("axial_length_mm", "white_to_white_mm"): 0.25,
    ("axial_length_mm", "lens_thickness_mm"): -0.25,
    ("axial_length_mm", "age_years"): -0.15,
    ("k_d", "white_to_white_mm"): -0.35,
    ("k_d", "lens_thickness_mm"): -0.05,
    ("k_d", "age_years"): 0.08,
    ("lens_thickness_mm", "white_to_white_mm"): -0.10,
    ("lens_thickness_mm", "age_years"): 0.40,
    ("white_to_white_mm", "age_years"): -0.15,
}
"""Rank correlations with no source."""

LENGTH_MIXTURE = ((0.82, 23.15, 0.90), (0.18, 24.70, 2.60))
"""Axial length: share, mean and SD (mm) of usual and of stretched eyes; chosen so that together
they have the German mean and SD."""

LENGTH_LIMITS_MM = (18.0, 36.0)
NORMALS = {
    "radius_mm": (7.69, 0.28, 6.6, 8.9),  # Germany 2010
    "acd_mm": (3.11, 0.43, 1.6, 4.7),  # Germany 2010
    "lens_thickness_mm": (4.52, 0.45, 2.9, 6.1),  # nine cities 2021
    "white_to_white_mm": (11.82, 0.40, 10.3, 13.3),  # Germany 2010
    "age_years": (68.6, 11.0, 30.0, 105.0),  # nine cities 2021
}
"""Mean and SD as published; the limits, assumed, cut off what no clinic sees."""

CYLINDER_TAIL = {2.0: 0.08, 3.0: 0.026}
"""Share of eyes with more corneal astigmatism than so many D: Germany 2010."""

RULE_SHARES = {"with": 0.468, "against": 0.344, "oblique": 0.188}
"""Share of eyes by the steep meridian: Germany 2010."""

CYLINDER_LIMIT_D = 8.0
LENS_RANGE_D = (-10.0, 40.0)
TRUE_CORNEAL_INDEX = 1.3315
TRUE_LENS_SHARE = 0.39


@dataclass(frozen=True)
class Cohort:
    """Eyes with what was implanted and what came of it, one value for each eye.

    Attributes
    ----------
    eye : biometry.Eye
        All eyes as one eye of arrays.
    label : tuple of str
        A name for each eye.
    age_years, iol_power_d, achieved_d : array, optional
        Age; power of the implanted lens; spherical equivalent achieved at the spectacle plane, D.
    lens_position_mm : array, optional
        Hidden truth of invented eyes: where the lens came to lie, mm behind the cornea. No file
        has it.
    """

    eye: Eye
    label: tuple
    age_years: np.ndarray | None = None
    iol_power_d: np.ndarray | None = None
    achieved_d: np.ndarray | None = None
    lens_position_mm: np.ndarray | None = None

    @property
    def n(self) -> int:
        """Eyes in the cohort."""
        return len(self.label)


def correlation_matrix() -> ndarray:
    """Return the correlations of the Gaussians behind the measures, in the order of ``MEASURES``.

    Returns
    -------
    array (6, 6)

    Sources
    -------
    Pearson 1907: a Gaussian pair of correlation r has Spearman's ρ = (6/π) arcsin(r/2), so
    r = 2 sin(πρ/6).

    Examples
    --------
    >>> bool(np.linalg.eigvalsh(correlation_matrix()).min() > 0)
    True
    """
    matrix = np.eye(len(MEASURES))
    for (first, second), rho in (SPEARMAN_PUBLISHED | SPEARMAN_ASSUMED).items():
        i, j = MEASURES.index(first), MEASURES.index(second)
        matrix[i, j] = matrix[j, i] = 2.0 * np.sin(np.pi * rho / 6.0)
    return matrix


def invent(
    n: int,
    seed: int,
    a_constant: float = DEMO_A_CONSTANT,
    target_d: float = 0.0,
    position_sd_mm: float = 0.20,
    refraction_sd_d: float = 0.25,
) -> Cohort:
    """Return a cohort of invented eyes, the same for the same seed.

    A larger cohort of the same seed begins with the smaller one.

    Parameters
    ----------
    n : int
        Eyes, 1 to 1 000 000.
    seed : int
        0 or more.
    a_constant : float
        Of the implanted lens, for SRK/T; usually 118 to 120.
    target_d : float
        Refraction aimed at, −5 to 5 D.
    position_sd_mm : float
        How far the lens strays from where anatomy puts it, 0 to 1 mm.
    refraction_sd_d : float
        How far a refraction strays from the truth, 0 to 1 D.

    Returns
    -------
    Cohort
        Values rounded as instruments print them: 0.01 mm, 0.01 D, 1°, whole years. ``k1_d`` is
        the flatter meridian.

    Raises
    ------
    ValueError
        Naming the value, the unit and the range.

    Sources
    -------
    See the module.

    Examples
    --------
    >>> cohort = invent(200, seed=1)
    >>> cohort.n, bool(20 < cohort.eye.axial_length_mm.mean() < 26)
    (200, True)
    """
    n = int(require_one("n", n, 1, 1_000_000, hint="The number of eyes."))
    seed = int(require_one("seed", seed, 0, 2**63, hint="A whole number."))
    target_d = require_one("target_d", target_d, -5.0, 5.0, hint="Myopia is negative.")
    position_sd_mm = require_one("position_sd_mm", position_sd_mm, 0.0, 1.0)
    refraction_sd_d = require_one("refraction_sd_d", refraction_sd_d, 0.0, 1.0)

    draws = np.random.default_rng(seed).standard_normal((n, len(MEASURES) + 4))
    together = draws[:, : len(MEASURES)] @ np.linalg.cholesky(correlation_matrix()).T
    ranks = dict(zip(MEASURES, stats.norm.cdf(together).T, strict=True))
    ranks["radius_mm"] = 1.0 - ranks["k_d"]  # the steeper, the smaller the radius
    of_cylinder, of_axis = stats.norm.cdf(draws[:, -4:-2]).T

    values = {name: _normal_at(ranks[name], *NORMALS[name]) for name in NORMALS}
    cylinder_d = _cylinder_at(of_cylinder)
    mean_k_d = KERATOMETER_SCALE / values["radius_mm"]
    flat_deg = np.round(_steep_meridian_at(of_axis) + 90.0) % 180.0
    acd_mm = np.round(values["acd_mm"], 2)
    lens_thickness_mm = np.round(values["lens_thickness_mm"], 2)
    eye = Eye(
        axial_length_mm=np.round(_length_at(ranks["axial_length_mm"]), 2),
        k1_d=np.round(mean_k_d - cylinder_d / 2.0, 2),
        k2_d=np.round(mean_k_d + cylinder_d / 2.0, 2),
        k1_axis_deg=np.where(flat_deg == 0.0, 180.0, flat_deg),
        acd_mm=acd_mm,
        lens_thickness_mm=lens_thickness_mm,
        white_to_white_mm=np.round(values["white_to_white_mm"], 2),
    )
    wanted_d = iol_power(eye, "srk_t", LensConstants.from_a_constant(a_constant), target_d)
    iol_power_d = np.clip(nearest_power(wanted_d), *LENS_RANGE_D)
    lens_position_mm = np.clip(
        acd_mm + TRUE_LENS_SHARE * lens_thickness_mm + position_sd_mm * draws[:, -2],
        2.0,
        9.0,
    )
    refraction_d = pseudophakic_refraction(
        eye.axial_length_mm,
        1000.0 * (TRUE_CORNEAL_INDEX - 1.0) / eye.corneal_radius_mm,
        lens_position_mm,
        iol_power_d,
        retinal_thickness_mm=0.0,
    )
    width = max(4, len(str(n)))
    return Cohort(
        eye=eye,
        label=tuple(f"E{number:0{width}d}" for number in range(1, n + 1)),
        age_years=np.round(values["age_years"]),
        iol_power_d=iol_power_d,
        achieved_d=np.round(refraction_d + refraction_sd_d * draws[:, -1], 2) + 0.0,
        lens_position_mm=lens_position_mm,
    )


def _normal_at(rank, mean, sd, low, high):
    """Quantile of a normal distribution cut off at both ends."""
    return stats.truncnorm.ppf(rank, (low - mean) / sd, (high - mean) / sd, mean, sd)


def _length_cdf(length_mm):
    return sum(share * stats.norm.cdf(length_mm, mean, sd) for share, mean, sd in LENGTH_MIXTURE)


def _length_at(rank):
    """Quantile of the two Gaussians, cut off at both ends; they have none in closed form."""
    grid_mm = np.linspace(*LENGTH_LIMITS_MM, 9001)
    below = _length_cdf(grid_mm)
    return np.interp(below[0] + rank * (below[-1] - below[0]), below, grid_mm)


def _cylinder_law():
    """The log-normal distribution through the two published tail points."""
    (first_d, first), (second_d, second) = CYLINDER_TAIL.items()
    z_first, z_second = stats.norm.isf(first), stats.norm.isf(second)
    sd = np.log(second_d / first_d) / (z_second - z_first)
    return stats.lognorm(s=sd, scale=first_d / np.exp(sd * z_first))


def _cylinder_at(rank):
    law = _cylinder_law()
    return law.ppf(rank * law.cdf(CYLINDER_LIMIT_D))


def _steep_meridian_at(rank):
    """Steep meridian, degrees: classes side by side on the ranks, each spread evenly."""
    with_rule, against, oblique = RULE_SHARES.values()
    in_with = 60.0 + 60.0 * rank / with_rule
    in_against = 150.0 + 60.0 * (rank - with_rule) / against
    in_oblique = 30.0 + 60.0 * (rank - with_rule - against) / oblique
    in_oblique = np.where(in_oblique < 60.0, in_oblique, in_oblique + 60.0)
    places = [rank < with_rule, rank < with_rule + against]
    return np.select(places, [in_with, in_against], in_oblique) % 180.0
