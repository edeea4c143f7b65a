"""How many eyes it takes to know a mean error, or to tell two formulas apart."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from scipy import stats

from shared_utils.optics.domain import broadcast, require, unwrap_scalar

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from shared_utils.optics.types import FloatOrArray


def eyes_for_mean(
    sd_d: ArrayLike, within_d: ArrayLike, confidence: ArrayLike = 0.95
) -> FloatOrArray:
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


def eyes_for_comparison(
    first_sd_d: ArrayLike,
    second_sd_d: ArrayLike,
    correlation: ArrayLike,
    power: ArrayLike = 0.80,
    alpha: ArrayLike = 0.05,
) -> FloatOrArray:
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
