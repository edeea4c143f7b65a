"""Prediction errors: how far refractions fell from their predictions, in sum.

A prediction error is the achieved minus the predicted spherical equivalent, the prediction being
for the lens that was implanted: positive is a hyperopic surprise. Count one eye of a patient, or
two eyes pass for two pieces of evidence. Take out the mean error of each formula before formulas
are compared, by new constants (``constants.optimise``) or, nearly the same, by subtraction.

Sources
-------
Hoffer et al., Am J Ophthalmol 2015 (protocol); Wang et al., J Cataract Refract Surg 2017
(zeroing, what to report).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy import stats

from shared_utils.optics.domain import broadcast, require, require_one, unwrap_scalar

if TYPE_CHECKING:
    from numpy import ndarray
    from numpy.typing import ArrayLike

    from shared_utils.optics.types import FloatOrArray

WITHIN_D = (0.25, 0.50, 0.75, 1.00)
ERROR_HINT = "Achieved minus predicted refraction; in dioptres."
EDGE_D = 1e-9  # so that an error of 0.50 D by subtraction counts as within 0.50 D


def prediction_error(achieved_d: ArrayLike, predicted_d: ArrayLike) -> FloatOrArray:
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


def zeroed(prediction_error_d: ArrayLike) -> ndarray:
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
    errors = require_errors("prediction_error_d", prediction_error_d)
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


def summary(prediction_error_d: ArrayLike) -> Summary:
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
    errors = require_errors("prediction_error_d", prediction_error_d)
    size = np.abs(errors)
    return Summary(
        n=int(errors.size),
        mean_d=float(errors.mean()),
        sd_d=float(errors.std(ddof=1)),
        mae_d=float(size.mean()),
        medae_d=float(np.median(size)),
        within={limit: float(np.mean(size <= limit + EDGE_D)) for limit in WITHIN_D},
    )


def if_gaussian(sd_d: float) -> Summary:
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


def require_errors(name: str, values: ArrayLike) -> ndarray:
    """Return the errors of 2 or more eyes as one row, D, or say what is wrong with them."""
    errors = require(name, values, -100.0, 100.0, hint=ERROR_HINT)
    if errors.ndim != 1 or errors.size < 2:
        raise ValueError(
            f"{name} has shape {errors.shape}; give one value in D for each of 2 or more eyes, "
            "in one row."
        )
    return errors
