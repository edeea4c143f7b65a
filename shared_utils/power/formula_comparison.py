"""Which formula does better: the errors of several formulas in the same eyes, compared.

Sources
-------
Holladay, Wilcox, Koch & Wang, J Cataract Refract Surg 2021 (the SD above all, from memory).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import combinations
from typing import TYPE_CHECKING

import numpy as np
from scipy import stats

from shared_utils.optics.domain import require, require_one, require_one_of, require_whole
from shared_utils.power.prediction_errors import EDGE_D, require_errors

if TYPE_CHECKING:
    from numpy import ndarray
    from numpy.typing import ArrayLike

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


def compare(
    errors_d: Mapping[str, ArrayLike],
    statistic: str = "sd",
    confidence: float = 0.95,
    resamples: int = 1999,
    seed: int = 0,
) -> list[Comparison]:
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
    require_one_of("statistic", statistic, STATISTICS)
    seed = require_whole("seed", seed, 0, 2**63)
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


def compare_within(
    errors_d: Mapping[str, ArrayLike], limit_d: float = 0.50
) -> list[WithinComparison]:
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
    inside = {name: np.abs(values) <= limit_d + EDGE_D for name, values in errors.items()}
    found = []
    for first, second in combinations(inside, 2):
        one = int(np.sum(inside[first] & ~inside[second]))
        other = int(np.sum(inside[second] & ~inside[first]))
        p = float(stats.binomtest(one, one + other).pvalue) if one + other else 1.0
        found.append((first, second, one, other, p))
    adjusted = holm([pair[-1] for pair in found])
    return [WithinComparison(*pair, p) for pair, p in zip(found, adjusted.tolist(), strict=True)]


def holm(p: ArrayLike) -> ndarray:
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


def _paired(errors_d):
    if not isinstance(errors_d, Mapping) or len(errors_d) < 2:
        raise ValueError(
            "errors_d is not two or more formulas by name; give a dict of name → errors in D."
        )
    errors = {
        name: require_errors(f"{name}: errors_d", values) for name, values in errors_d.items()
    }
    sizes = {name: values.size for name, values in errors.items()}
    if len(set(sizes.values())) > 1:
        raise ValueError(
            f"errors_d have different numbers of eyes ({sizes}); give each formula's errors for "
            "the same eyes in the same order."
        )
    return errors
