"""Outcomes: how far refractions fell from their predictions, which formula does better, and why.

A prediction error is the achieved minus the predicted spherical equivalent, the prediction being
for the lens that was implanted: positive is a hyperopic surprise. Count one eye of a patient, or
two eyes pass for two pieces of evidence. Take out the mean error of each formula before formulas
are compared, by new constants (``constants.optimise``) or, nearly the same, by subtraction.

Sources
-------
Hoffer et al., Am J Ophthalmol 2015 (protocol); Wang et al., J Cataract Refract Surg 2017
(zeroing, what to report); Holladay, Wilcox, Koch & Wang, J Cataract Refract Surg 2021 (the SD
above all, from memory); Norrby, J Cataract Refract Surg 2008;34:368 (error budget).
"""

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from scipy import stats

from shared_utils.optics.domain import broadcast, require, require_one, unwrap_scalar
from shared_utils.power.biometry import KERATOMETER_SCALE
from shared_utils.power.core import (
    ELP_HINT,
    ELP_RANGE_MM,
    REDUCED,
    THIN_CORNEA_INDEX,
    VERTEX_HINT,
    VERTEX_RANGE_MM,
    Steps,
)

WITHIN_D = (0.25, 0.50, 0.75, 1.00)
ERROR_HINT = "Achieved minus predicted refraction; in dioptres."
_EDGE_D = 1e-9  # so that an error of 0.50 D by subtraction counts as within 0.50 D

RETINAL_THICKNESS_MM = 0.2
PER_K = 1000.0 * (THIN_CORNEA_INDEX - 1.0) / KERATOMETER_SCALE  # corneal power for 1 D of K

NORRBY_2008 = {
    "lens position": 0.35,
    "refraction": 0.27,
    "axial length": 0.17,
    "pupil": 0.08,
    "lens power": 0.01,
}
"""Shares of the error's variance in an average eye, of ultrasound days: Norrby, J Cataract
Refract Surg 2008;34:368 (abstract). The mean absolute error was 0.6 D, 0.4 D within reach."""


def prediction_error(achieved_d, predicted_d):
    """Return achieved minus predicted refraction.

    Parameters
    ----------
    achieved_d, predicted_d : scalar or array
        Spherical equivalents, −40 to 40 D; the prediction for the implanted lens.

    Returns
    -------
    float or array
        D; positive is a hyperopic surprise.

    Examples
    --------
    >>> prediction_error(achieved_d=0.25, predicted_d=-0.25)
    0.5
    """
    achieved_d, predicted_d = broadcast(
        achieved_d=require("achieved_d", achieved_d, -40.0, 40.0, hint="Myopia is negative."),
        predicted_d=require("predicted_d", predicted_d, -40.0, 40.0, hint="Myopia is negative."),
    )
    return unwrap_scalar(achieved_d - predicted_d)


def zeroed(prediction_error_d):
    """Return the errors less their mean.

    For formulas whose constant is an additive shift of the lens this is nearly what new constants
    do; for SRK/T and in eyes far from the average it is not the same.

    Parameters
    ----------
    prediction_error_d : array
        One value for each of 2 or more eyes, D.

    Returns
    -------
    array

    Sources
    -------
    Wang et al., J Cataract Refract Surg 2017.

    Examples
    --------
    >>> zeroed([0.0, 0.5, 1.0]).tolist()
    [-0.5, 0.0, 0.5]
    """
    errors = _errors("prediction_error_d", prediction_error_d)
    return errors - errors.mean()


@dataclass(frozen=True)
class Summary:
    """What a series of prediction errors amounts to.

    Attributes
    ----------
    n : int or float
        Eyes; inf for a whole population.
    mean_d, sd_d : float
        Mean and standard deviation (n − 1), D.
    mae_d, medae_d : float
        Mean and median of the absolute errors, D.
    within : dict
        Limit in D (0.25, 0.50, 0.75, 1.00) → fraction of eyes within it, 0 to 1.
    """

    n: float
    mean_d: float
    sd_d: float
    mae_d: float
    medae_d: float
    within: dict


def summary(prediction_error_d):
    """Return mean, SD, mean and median absolute error, and the fractions within limits.

    Parameters
    ----------
    prediction_error_d : array
        One value for each of 2 or more eyes, −100 to 100 D.

    Returns
    -------
    Summary

    Raises
    ------
    ValueError
        For fewer than 2 eyes, and for values that are no errors.

    Examples
    --------
    >>> found = summary([-0.5, 0.0, 0.25, 0.25])
    >>> found.mean_d, found.mae_d, found.medae_d
    (0.0, 0.25, 0.25)
    >>> found.within[0.25], found.within[0.50]
    (0.75, 1.0)
    """
    errors = _errors("prediction_error_d", prediction_error_d)
    size = np.abs(errors)
    return Summary(
        n=int(errors.size),
        mean_d=float(errors.mean()),
        sd_d=float(errors.std(ddof=1)),
        mae_d=float(size.mean()),
        medae_d=float(np.median(size)),
        within={limit: float(np.mean(size <= limit + _EDGE_D)) for limit in WITHIN_D},
    )


def if_gaussian(sd_d):
    """Return the summary that goes with an SD if errors are Gaussian with mean zero.

    Then all the other figures follow from the SD; real errors have longer tails.

    Parameters
    ----------
    sd_d : float
        Standard deviation, 0.01 to 5 D.

    Returns
    -------
    Summary
        Of the whole population.

    Sources
    -------
    Half-normal distribution: mean √(2/π) σ = 0.798 σ, median 0.674 σ.

    Examples
    --------
    >>> wanted = if_gaussian(0.50)
    >>> round(wanted.mae_d, 3), f"{wanted.within[0.50]:.0%}"
    (0.399, '68%')
    """
    sd_d = require_one("sd_d", sd_d, 0.01, 5.0, hint="Standard deviation in dioptres.")
    size = stats.halfnorm(scale=sd_d)
    return Summary(
        n=np.inf,
        mean_d=0.0,
        sd_d=sd_d,
        mae_d=float(size.mean()),
        medae_d=float(size.median()),
        within={limit: float(size.cdf(limit)) for limit in WITHIN_D},
    )


# --- which formula does better ---------------------------------------------------------------

STATISTICS = {
    "sd": lambda errors, axis: np.std(errors, ddof=1, axis=axis),
    "mae": lambda errors, axis: np.mean(np.abs(errors), axis=axis),
    "medae": lambda errors, axis: np.median(np.abs(errors), axis=axis),
}


@dataclass(frozen=True)
class Comparison:
    """Two formulas in the same eyes, by one statistic.

    Attributes
    ----------
    first, second : str
        Names of the formulas.
    difference_d : float
        Statistic of the first minus that of the second, D; negative if the first does better.
    low_d, high_d : float
        Confidence interval of the difference, D.
    p : float
        Of no difference, two-sided, this pair alone.
    p_holm : float
        The same, for all pairs compared here together.
    """

    first: str
    second: str
    difference_d: float
    low_d: float
    high_d: float
    p: float
    p_holm: float


def compare(errors_d, statistic="sd", confidence=0.95, resamples=1999, seed=0):
    """Return every pair of formulas compared by a bootstrap over eyes.

    Eyes are drawn with replacement and take the errors of both formulas with them, so nothing is
    assumed of the errors' distribution nor of how the formulas go together. Zero each formula's
    mean first. Fewer than about 30 eyes give intervals that are too narrow.

    Parameters
    ----------
    errors_d : mapping of str to array
        Name of a formula → its prediction errors, D, the same eyes in the same order.
    statistic : str
        ``"sd"``, ``"mae"`` or ``"medae"``.
    confidence : float
        0.5 to 0.999.
    resamples : int
        99 to 100 000.
    seed : int
        Same seed, same answer.

    Returns
    -------
    list of Comparison
        In the order of the pairs.

    Raises
    ------
    ValueError
        If the formulas have not the same number of eyes, or there are fewer than two.

    Sources
    -------
    Efron & Tibshirani, *An Introduction to the Bootstrap* (percentile interval); that SDs of the
    same eyes want a test that allows for dependence and outliers: Holladay et al. 2021 (from
    memory); Holm, Scand J Stat 1979;6:65.

    Examples
    --------
    >>> rng = np.random.default_rng(4)
    >>> eyes = rng.normal(0, 0.4, 200)
    >>> (pair,) = compare({"old": 1.5 * eyes, "new": eyes})
    >>> pair.difference_d > 0, pair.low_d > 0, pair.p_holm < 0.01
    (True, True, True)
    """
    errors = _paired(errors_d)
    if statistic not in STATISTICS:
        raise ValueError(f"statistic is {statistic!r}; give one of: {', '.join(STATISTICS)}.")
    confidence = require_one("confidence", confidence, 0.5, 0.999, hint="0.95, not 95.")
    resamples = int(require_one("resamples", resamples, 99, 100_000))
    measure = STATISTICS[statistic]

    def difference(first, second, axis=-1):
        return measure(first, axis) - measure(second, axis)

    found = []
    for first, second in combinations(errors, 2):
        pair = errors[first], errors[second]
        drawn = stats.bootstrap(
            pair,
            difference,
            paired=True,
            vectorized=True,
            n_resamples=resamples,
            batch=max(1, 2_000_000 // pair[0].size),
            confidence_level=confidence,
            method="percentile",
            rng=np.random.default_rng(seed),
        )
        drawn_d = drawn.bootstrap_distribution
        rarer = min(np.sum(drawn_d <= 0.0), np.sum(drawn_d >= 0.0))
        found.append(
            (
                first,
                second,
                float(difference(*pair)),
                float(drawn.confidence_interval.low),
                float(drawn.confidence_interval.high),
                min(1.0, 2.0 * (float(rarer) + 1.0) / (resamples + 1.0)),
            )
        )
    adjusted = holm([pair[-1] for pair in found])
    return [Comparison(*pair, p) for pair, p in zip(found, adjusted.tolist(), strict=True)]


@dataclass(frozen=True)
class WithinComparison:
    """Two formulas in the same eyes, by how many fell within a limit.

    Attributes
    ----------
    first, second : str
        Names of the formulas.
    first_only, second_only : int
        Eyes within the limit by the one formula alone; only these tell the two apart.
    p, p_holm : float
        Of no difference, two-sided, this pair alone and all pairs together.
    """

    first: str
    second: str
    first_only: int
    second_only: int
    p: float
    p_holm: float


def compare_within(errors_d, limit_d=0.50):
    """Return every pair of formulas compared by the eyes within a limit: McNemar's exact test.

    Parameters
    ----------
    errors_d : mapping of str to array
        Name of a formula → its prediction errors, D, the same eyes in the same order.
    limit_d : float
        0.05 to 5 D.

    Returns
    -------
    list of WithinComparison

    Sources
    -------
    McNemar, Psychometrika 1947;12:153, in its exact form: of the eyes within by one formula
    alone, half are expected on either side; Holm 1979.

    Examples
    --------
    Six eyes are within by the new formula alone, none by the old alone: p = 2 / 2⁶.

    >>> compare_within({"new": [0.1] * 6, "old": [0.9] * 6})[0].p
    0.03125
    """
    limit_d = require_one("limit_d", limit_d, 0.05, 5.0, hint="0.50, for one.")
    errors = _paired(errors_d)
    inside = {name: np.abs(values) <= limit_d + _EDGE_D for name, values in errors.items()}
    found = []
    for first, second in combinations(inside, 2):
        one = int(np.sum(inside[first] & ~inside[second]))
        other = int(np.sum(inside[second] & ~inside[first]))
        p = float(stats.binomtest(one, one + other).pvalue) if one + other else 1.0
        found.append((first, second, one, other, p))
    adjusted = holm([pair[-1] for pair in found])
    return [WithinComparison(*pair, p) for pair, p in zip(found, adjusted.tolist(), strict=True)]


def holm(p):
    """Return p-values adjusted for several tests, by Holm's steps.

    Parameters
    ----------
    p : array
        p-values of all the tests, 0 to 1.

    Returns
    -------
    array
        Adjusted, in the same order; each at most 1.

    Sources
    -------
    Holm, Scand J Stat 1979;6:65: the smallest times m, the next times m − 1, and so on, never
    below the one before.

    Examples
    --------
    >>> holm([0.04, 0.01, 0.03]).tolist()
    [0.06, 0.03, 0.06]
    """
    p = np.atleast_1d(require("p", p, 0.0, 1.0, hint="A probability, not a percentage."))
    order = np.argsort(p)
    stepped = np.maximum.accumulate(p[order] * np.arange(p.size, 0, -1))
    adjusted = np.empty_like(p)
    adjusted[order] = np.minimum(stepped, 1.0)
    return adjusted


# --- how many eyes ----------------------------------------------------------------------------


def eyes_for_mean(sd_d, within_d, confidence=0.95):
    """Return how many eyes it takes to know a mean error, and so a constant, closely enough.

    Parameters
    ----------
    sd_d : scalar or array
        Standard deviation of the prediction errors, 0.01 to 5 D.
    within_d : scalar or array
        Half the width of the confidence interval that is wanted, 0.001 to 5 D.
    confidence : scalar or array
        0.5 to 0.999.

    Returns
    -------
    float or array
        Eyes, a whole number, at least 2.

    Sources
    -------
    The mean of n values has the SD σ / √n: any textbook of statistics.

    Examples
    --------
    (1.96 × 0.50 / 0.10)² = 96.04, so 97 eyes.

    >>> eyes_for_mean(0.50, 0.10)
    97.0
    """
    sd_d, within_d, confidence = broadcast(
        sd_d=require("sd_d", sd_d, 0.01, 5.0, hint="Standard deviation in dioptres."),
        within_d=require("within_d", within_d, 0.001, 5.0, hint="0.10, for one."),
        confidence=require("confidence", confidence, 0.5, 0.999, hint="0.95, not 95."),
    )
    wide = stats.norm.isf((1.0 - confidence) / 2.0)
    return unwrap_scalar(np.maximum(np.ceil((wide * sd_d / within_d) ** 2), 2.0))


def eyes_for_comparison(first_sd_d, second_sd_d, correlation, power=0.80, alpha=0.05):
    """Return how many eyes it takes to tell the scatter of two formulas apart.

    Parameters
    ----------
    first_sd_d, second_sd_d : scalar or array
        Standard deviations of the two formulas' errors, 0.01 to 5 D, at least 0.001 D apart.
    correlation : scalar or array
        Of the two formulas' errors in the same eyes, −0.999 to 0.999; 0 where each formula has
        eyes of its own, and then as many for each.
    power : scalar or array
        Chance to find the difference, 0.5 to 0.999.
    alpha : scalar or array
        Two-sided level, 0.001 to 0.5.

    Returns
    -------
    float or array
        Eyes, a whole number, at least 2.

    Raises
    ------
    ValueError
        Naming the value, the unit and the range; also if the SDs do not differ.

    Sources
    -------
    Gaussian errors in large samples: an SD has the variance σ²/2n, two SDs of the same eyes the
    covariance ρ²σ₁σ₂/2n (Kendall & Stuart, *The Advanced Theory of Statistics*, from memory).

    Examples
    --------
    The same eyes for both formulas need a fifth of the eyes, if their errors go together by 0.9.

    >>> eyes_for_comparison(0.40, 0.45, 0.9), eyes_for_comparison(0.40, 0.45, 0.0)
    (112.0, 570.0)
    """
    hint = "Standard deviation in dioptres."
    first_d, second_d, correlation, power, alpha = broadcast(
        first_sd_d=require("first_sd_d", first_sd_d, 0.01, 5.0, hint=hint),
        second_sd_d=require("second_sd_d", second_sd_d, 0.01, 5.0, hint=hint),
        correlation=require("correlation", correlation, -0.999, 0.999),
        power=require("power", power, 0.5, 0.999, hint="0.80, not 80."),
        alpha=require("alpha", alpha, 0.001, 0.5, hint="0.05, not 5."),
    )
    apart_d = np.abs(first_d - second_d)
    if np.any(apart_d < 0.001):
        raise ValueError(
            "first_sd_d and second_sd_d do not differ by 0.001 D; no number of eyes tells them "
            "apart, so give the difference in D that would matter."
        )
    spread = stats.norm.isf(alpha / 2.0) + stats.norm.isf(1.0 - power)
    variance = (first_d**2 + second_d**2) / 2.0 - correlation**2 * first_d * second_d
    return unwrap_scalar(np.maximum(np.ceil(spread**2 * variance / apart_d**2), 2.0))


# --- where errors come from ------------------------------------------------------------------


def pseudophakic_refraction(
    axial_length_mm,
    cornea_d,
    elp_mm,
    iol_power_d,
    vertex_mm=12.0,
    retinal_thickness_mm=RETINAL_THICKNESS_MM,
):
    """Return the refraction of an eye whose lens lies where it is said to lie.

    Parameters
    ----------
    axial_length_mm : scalar or array
        15 to 40 mm.
    cornea_d : scalar or array
        Power of the thin cornea, 25 to 65 D; of a keratometer reading K, K × 333.3 / 337.5.
    elp_mm : scalar or array
        Lens position, 2 to 9 mm behind the cornea.
    iol_power_d : scalar or array
        −30 to 80 D.
    vertex_mm : scalar or array
        Vertex distance of the refraction, 0 to 20 mm.
    retinal_thickness_mm : scalar or array
        Added to the axial length, 0 to 0.5 mm.

    Returns
    -------
    float or array
        Refraction at the spectacle plane, D; myopia negative.

    Raises
    ------
    ValueError
        Naming the value, the unit and the range; also where no spectacle lens would do.

    Sources
    -------
    Thin-lens vergence, index 1.336; the retinal thickness is that of Holladay et al., J Cataract
    Refract Surg 1988;14:17.

    Examples
    --------
    >>> round(pseudophakic_refraction(23.5, 42.963, 5.19, 20.606), 2)
    0.0
    """
    length_mm, cornea_d, elp_mm, iol_d, vertex_mm = broadcast(
        axial_length_mm=require(
            "axial_length_mm", axial_length_mm, 15.0, 40.0, hint="In metres? Multiply by 1000."
        )
        + require("retinal_thickness_mm", retinal_thickness_mm, 0.0, 0.5),
        cornea_d=require("cornea_d", cornea_d, 25.0, 65.0, hint="In dioptres, not a radius."),
        elp_mm=require("elp_mm", elp_mm, *ELP_RANGE_MM, hint=ELP_HINT),
        iol_power_d=require("iol_power_d", iol_power_d, -30.0, 80.0),
        vertex_mm=require("vertex_mm", vertex_mm, *VERTEX_RANGE_MM, hint=VERTEX_HINT),
    )
    way = Steps(cornea_d, length_mm, elp_mm).to_refraction(iol_d, vertex_mm)
    return unwrap_scalar(way["refraction_d"])


def emmetropic_power(eye, elp_mm):
    """Return the lens power that leaves no refraction, for a lens at a given position.

    Parameters
    ----------
    eye : biometry.Eye
    elp_mm : scalar or array
        Lens position, 2 to 9 mm behind the cornea.

    Returns
    -------
    float or array
        D.

    Examples
    --------
    >>> from shared_utils.power.biometry import Eye
    >>> round(emmetropic_power(Eye(23.5, 43.5), 5.19), 2)
    20.61
    """
    length_mm, cornea_d, elp_mm = _optics_of(eye, elp_mm)
    way = Steps(cornea_d, length_mm, elp_mm).to_power(np.zeros(length_mm.shape), 0.0)
    return unwrap_scalar(way["iol_power_d"])


@dataclass(frozen=True)
class Sensitivities:
    """Dioptres gained by 1 more of each measurement, all else held.

    Attributes
    ----------
    axial_length_mm, k_d, radius_mm, elp_mm, iol_power_d : float or array
        D per mm of axial length, per D of keratometry, per mm of corneal radius, per mm of lens
        position, per D of lens power.
    """

    axial_length_mm: float | np.ndarray
    k_d: float | np.ndarray
    radius_mm: float | np.ndarray
    elp_mm: float | np.ndarray
    iol_power_d: float | np.ndarray

    def in_lens_power(self):
        """Return what the lens power must make good for 1 more of each, D.

        A millimetre of axial length is worth more at the lens than at the spectacles.

        Returns
        -------
        Sensitivities
            Its ``iol_power_d`` is −1.
        """
        per = -np.asarray(self.iol_power_d)
        return Sensitivities(
            *(
                unwrap_scalar(np.asarray(value) / per)
                for value in (
                    self.axial_length_mm,
                    self.k_d,
                    self.radius_mm,
                    self.elp_mm,
                    self.iol_power_d,
                )
            )
        )


def sensitivities(eye, elp_mm, iol_power_d=None, vertex_mm=12.0):
    """Return how much the refraction moves for 1 more of each measurement.

    At a fixed lens in a fixed position. Formulas also move the lens they expect with the eye, so
    a formula's own answer to a longer eye is different, mostly smaller.

    Parameters
    ----------
    eye : biometry.Eye
    elp_mm : scalar or array
        Lens position, 2 to 9 mm behind the cornea.
    iol_power_d : scalar or array, optional
        The lens, −30 to 80 D; the emmetropic one if not given.
    vertex_mm : scalar or array
        Vertex distance, 0 to 20 mm.

    Returns
    -------
    Sensitivities
        Of the refraction at the spectacle plane.

    Sources
    -------
    Derivatives of thin-lens vergence with the conventions of Holladay et al., J Cataract Refract
    Surg 1988;14:17 (cornea 4/3, retinal thickness 0.2 mm).

    Examples
    --------
    A millimetre of axial length in an average eye:

    >>> from shared_utils.power.biometry import Eye
    >>> average = sensitivities(Eye(23.5, 43.5), elp_mm=5.19)
    >>> round(average.axial_length_mm, 1), round(average.in_lens_power().axial_length_mm, 1)
    (-2.7, -3.9)
    """
    if iol_power_d is None:
        iol_power_d = emmetropic_power(eye, elp_mm)
    length_mm, cornea_d, elp_mm = _optics_of(eye, elp_mm)
    refraction_d = pseudophakic_refraction(
        eye.axial_length_mm, cornea_d, elp_mm, iol_power_d, vertex_mm
    )
    length_mm, elp_mm, iol_d, k_d, refraction_d, vertex_mm = broadcast(
        axial_length_mm=length_mm,
        elp_mm=elp_mm,
        iol_power_d=iol_power_d,
        k_d=eye.mean_k_d,
        refraction_d=refraction_d,
        vertex_mm=vertex_mm,
    )
    n = REDUCED
    behind_mm = length_mm - elp_mm
    needed_d = n / behind_mm - iol_d  # before the lens
    narrowing = 1.0 / (1.0 + elp_mm * needed_d / n)  # from lens to cornea
    behind_cornea_d = needed_d * narrowing
    per_needed = narrowing**2
    # Rx = Rc / (1 + vRc) has the slope 1 / (1 + vRc)², which is (1 − vRx)²
    to_spectacles = (1.0 - vertex_mm / 1000.0 * refraction_d) ** 2
    by_cornea = -to_spectacles
    by_k = by_cornea * PER_K
    by_elp = per_needed * n / behind_mm**2 - behind_cornea_d**2 / n
    return Sensitivities(
        axial_length_mm=unwrap_scalar(-to_spectacles * per_needed * n / behind_mm**2),
        k_d=unwrap_scalar(by_k),
        radius_mm=unwrap_scalar(-by_k * k_d**2 / KERATOMETER_SCALE),  # K = 337.5 / R
        elp_mm=unwrap_scalar(to_spectacles * by_elp),
        iol_power_d=unwrap_scalar(-to_spectacles * per_needed),
    )


@dataclass(frozen=True)
class Spread:
    """How uncertain each measurement is, as standard deviations.

    The values given are assumed for teaching, no source: optical biometry, a refraction by eye.

    Parameters
    ----------
    elp_mm : float
        Lens position against prediction, 0 to 2 mm.
    axial_length_mm : float
        0 to 2 mm.
    k_d : float
        Mean keratometry, 0 to 5 D.
    refraction_d : float
        Refraction after surgery, 0 to 2 D.
    iol_power_d : float
        Lens against its label, 0 to 2 D.
    """

    elp_mm: float = 0.25
    axial_length_mm: float = 0.036
    k_d: float = 0.20
    refraction_d: float = 0.32
    iol_power_d: float = 0.0

    def __post_init__(self):
        hint = "A standard deviation, 0 or more."
        for field, high in (
            ("elp_mm", 2.0),
            ("axial_length_mm", 2.0),
            ("k_d", 5.0),
            ("refraction_d", 2.0),
            ("iol_power_d", 2.0),
        ):
            value = require(field, getattr(self, field), 0.0, high, hint=hint)
            if value.ndim:
                raise ValueError(f"{field} is an array; give one standard deviation.")
            object.__setattr__(self, field, float(value))


@dataclass(frozen=True)
class Budget:
    """Where the prediction error of an eye comes from.

    Attributes
    ----------
    sd_by_source_d : dict
        Name of a source → its SD in refraction, D.
    shares : dict
        Name of a source → its share of the variance, 0 to 1.
    sd_d, mae_d : float
        Of all together, D; the mean absolute error if Gaussian.
    """

    sd_by_source_d: dict
    shares: dict
    sd_d: float
    mae_d: float


def error_budget(eye, elp_mm, spread=None):
    """Return the share of each measurement in the prediction error of one eye.

    Each uncertainty times the refraction's sensitivity to it, squared and summed: right for
    small, independent errors.

    Parameters
    ----------
    eye : biometry.Eye
        One eye.
    elp_mm : float
        Predicted lens position, 2 to 9 mm.
    spread : Spread, optional
        The uncertainties; ``Spread()`` if not given.

    Returns
    -------
    Budget

    Raises
    ------
    ValueError
        For more than one eye, and if nothing is uncertain.

    Sources
    -------
    Norrby, J Cataract Refract Surg 2008;34:368.

    Examples
    --------
    >>> from shared_utils.power.biometry import Eye
    >>> budget = error_budget(Eye(23.5, 43.5), 5.19)
    >>> max(budget.shares, key=budget.shares.get)
    'lens position'
    """
    spread = spread or Spread()
    slope = sensitivities(eye, elp_mm)
    if np.ndim(slope.axial_length_mm):
        raise ValueError("eye holds arrays; give one eye, or ask for sensitivities().")
    sd_by_source_d = {
        "lens position": abs(slope.elp_mm) * spread.elp_mm,
        "refraction": spread.refraction_d,
        "axial length": abs(slope.axial_length_mm) * spread.axial_length_mm,
        "keratometry": abs(slope.k_d) * spread.k_d,
        "lens power": abs(slope.iol_power_d) * spread.iol_power_d,
    }
    variance = sum(sd**2 for sd in sd_by_source_d.values())
    if variance == 0.0:
        raise ValueError("spread is 0 throughout; give at least one standard deviation above 0.")
    return Budget(
        sd_by_source_d=sd_by_source_d,
        shares={name: sd**2 / variance for name, sd in sd_by_source_d.items()},
        sd_d=variance**0.5,
        mae_d=float(stats.halfnorm.mean(scale=variance**0.5)),
    )


def simulated_errors(eye, elp_mm, spread=None, n=10_000, seed=0):
    """Return the prediction errors of many surgeries on one eye, by chance alone.

    The lens is the emmetropic one for the eye as measured; the true eye differs from it by
    Gaussian errors, drawn anew each time. No derivative is used.

    Parameters
    ----------
    eye : biometry.Eye
        One eye, as measured.
    elp_mm : float
        Predicted lens position, 2 to 9 mm.
    spread : Spread, optional
        The uncertainties; ``Spread()`` if not given.
    n : int
        Surgeries, 1 to 10 million.
    seed : int
        Same seed, same errors.

    Returns
    -------
    array of n
        Prediction errors, D.

    Raises
    ------
    ValueError
        If the uncertainties lead to eyes that cannot be.

    Examples
    --------
    >>> from shared_utils.power.biometry import Eye
    >>> round(float(simulated_errors(Eye(23.5, 43.5), 5.19).std()), 1)
    0.5
    """
    spread = spread or Spread()
    n = int(require_one("n", n, 1, 10_000_000))
    length_mm = require("axial_length_mm", eye.axial_length_mm)
    if length_mm.ndim or np.ndim(eye.mean_k_d) or np.ndim(elp_mm):
        raise ValueError("eye or elp_mm holds arrays; give one eye and one position in mm.")
    _, cornea_d, elp_mm = _optics_of(eye, elp_mm)
    iol_power_d = emmetropic_power(eye, elp_mm)
    draws = np.random.default_rng(seed).standard_normal((5, n))
    return (
        pseudophakic_refraction(
            length_mm + spread.axial_length_mm * draws[0],
            cornea_d + spread.k_d * PER_K * draws[1],
            elp_mm + spread.elp_mm * draws[2],
            iol_power_d + spread.iol_power_d * draws[3],
        )
        + spread.refraction_d * draws[4]
    )


def _optics_of(eye, elp_mm):
    """Optical length (mm), corneal power (D) and lens position (mm), by Holladay's conventions."""
    elp_mm = require("elp_mm", elp_mm, *ELP_RANGE_MM, hint=ELP_HINT)
    return broadcast(
        axial_length_mm=eye.axial_length_mm + RETINAL_THICKNESS_MM,
        cornea_d=eye.mean_k_d * PER_K,
        elp_mm=elp_mm,
    )


def _errors(name, values):
    errors = require(name, values, -100.0, 100.0, hint=ERROR_HINT)
    if errors.ndim != 1 or errors.size < 2:
        raise ValueError(
            f"{name} has shape {errors.shape}; give one value in D for each of 2 or more eyes, "
            "in one row."
        )
    return errors


def _paired(errors_d):
    if not isinstance(errors_d, Mapping) or len(errors_d) < 2:
        raise ValueError(
            "errors_d is not two or more formulas by name; give a dict of name → errors in D."
        )
    errors = {name: _errors(f"{name}: errors_d", values) for name, values in errors_d.items()}
    sizes = {name: values.size for name, values in errors.items()}
    if len(set(sizes.values())) > 1:
        raise ValueError(
            f"errors_d have different numbers of eyes ({sizes}); give each formula's errors for "
            "the same eyes in the same order."
        )
    return errors
