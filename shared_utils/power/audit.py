"""The outcome audit of a cohort: each formula with the constant that suits it, then compared.

A formula is judged after its mean error is taken out by its own constant, in the same eyes as the
others; otherwise the audit compares constants, not formulas.

Sources
-------
Hoffer et al., Am J Ophthalmol 2015;160:403; Wang et al., J Cataract Refract Surg 2017;
Holladay, Wilcox, Koch & Wang, J Cataract Refract Surg 2021 (from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from math import comb
from typing import TYPE_CHECKING

import numpy as np

from shared_utils.optics.domain import broadcast, require
from shared_utils.power.biometry import require_eye
from shared_utils.power.constants import optimise
from shared_utils.power.formula_comparison import compare
from shared_utils.power.formulas import predicted_refraction
from shared_utils.power.lens_constants import require_lens_constants
from shared_utils.power.prediction_errors import Summary, prediction_error, summary
from shared_utils.power.registry import FORMULAS

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import ArrayLike

    from shared_utils.power.biometry import Eye
    from shared_utils.power.lens_constants import LensConstants

ASSUMED = (
    "One lens model, one eye of each person, a stable refraction, and acuity good enough to "
    "refract. The constants are found and judged in the same eyes, which flatters them a little."
)
FEWEST_EYES = 30


@dataclass(frozen=True)
class Audited:
    """One formula in the cohort.

    Attributes
    ----------
    formula, constant_name : str
    start, constant : float
        The constant given, and the one that takes the mean error out.
    before, after : prediction_errors.Summary
        Of the prediction errors with each of the two, D.
    """

    formula: str
    constant_name: str
    start: float | np.ndarray
    constant: float | np.ndarray
    before: Summary
    after: Summary


@dataclass(frozen=True)
class Audit:
    """A cohort's outcome by formula.

    Attributes
    ----------
    formulas : tuple of Audited
    pairs : tuple of formula_comparison.Comparison
        Every two formulas by the SD of their errors, with Holm's correction.
    used : array of bool
        Which eyes were counted, the same for every formula.
    set_aside : dict
        Place of an eye in the cohort → formula and sentence why it could not be counted.
    lacking : dict
        Formula without an answer → one sentence why.
    """

    formulas: tuple
    pairs: tuple
    used: np.ndarray
    set_aside: dict
    lacking: dict


def audit(
    eyes: Eye,
    iol_power_d: ArrayLike,
    achieved_d: ArrayLike,
    formulas: Sequence[str],
    start: LensConstants,
    vertex_mm: float = 12.0,
) -> Audit:
    """Return the outcome of a cohort by each formula, with optimised constants, and compared.

    Parameters
    ----------
    eyes : biometry.Eye
        A cohort with one lens model.
    iol_power_d : array
        Power implanted in each eye, D.
    achieved_d : array
        Refraction achieved in each eye at the spectacle plane, D; myopia negative.
    formulas : sequence of str
        Names as in ``formulas.FORMULAS``.
    start : constants.LensConstants
        The constants before.
    vertex_mm : float
        Vertex distance, 0 to 20 mm.

    Returns
    -------
    Audit

    Raises
    ------
    ValueError
        For fewer than 2 eyes, and if no formula has an answer.

    Sources
    -------
    See the module.

    Examples
    --------
    >>> from shared_utils.power.biometry import Eye
    >>> from shared_utils.power.constants import LensConstants
    >>> eyes = Eye(np.array([23.0, 23.5, 24.0]), 43.5)
    >>> lens = LensConstants.from_a_constant(118.4)
    >>> found = audit(eyes, np.array([22.0, 20.5, 19.0]), np.array([0.3, 0.5, 0.4]), ["t2"], lens)
    >>> bool(abs(found.formulas[0].after.mean_d) < 1e-8)
    True
    """
    formulas = FORMULAS.find_all(formulas)
    require_lens_constants(start, "start")
    require_eye("eyes", eyes)
    power_d, achieved_d, _ = broadcast(
        iol_power_d=require("iol_power_d", iol_power_d, hint="The implanted power."),
        achieved_d=require("achieved_d", achieved_d, -30.0, 30.0, hint="Myopia is negative."),
        eyes=np.empty(eyes.shape),
    )
    if power_d.ndim != 1 or power_d.size < 2:
        raise ValueError(f"The cohort has {power_d.size} eyes; an audit needs 2 or more.")
    set_aside: dict[int, tuple[str, str]] = {}
    lacking: dict[str, str] = {}
    for formula in formulas:
        failures = _failures(eyes, formula, start, power_d, vertex_mm)
        if len(failures) == power_d.size:
            lacking[formula] = failures[0]
        else:
            for place, sentence in failures.items():
                set_aside.setdefault(place, (formula, sentence))
    used = np.ones(power_d.size, bool)
    used[list(set_aside)] = False
    if np.count_nonzero(used) < 2:
        raise ValueError(
            f"The formulas can count {np.count_nonzero(used)} of {power_d.size} eyes together; "
            "an audit needs 2 or more, so give fewer formulas or more eyes."
        )
    counted, power_d, achieved_d = eyes.take(used), power_d[used], achieved_d[used]

    def errors_with(formula, lens_constants):
        predicted_d = predicted_refraction(counted, formula, lens_constants, power_d, vertex_mm)
        return prediction_error(achieved_d, predicted_d)

    found, errors_d = [], {}
    for formula in (name for name in formulas if name not in lacking):
        try:
            best = optimise(counted, formula, power_d, achieved_d, start, vertex_mm)
        except ValueError as error:
            lacking[formula] = str(error)
            continue
        errors_d[formula] = errors_with(formula, best)
        found.append(
            Audited(
                formula=formula,
                constant_name=FORMULAS[formula].constant,
                start=start.of(formula),
                constant=best.of(formula),
                before=summary(errors_with(formula, start)),
                after=summary(errors_d[formula]),
            )
        )
    if not found:
        raise ValueError(next(iter(lacking.values()), "Give at least one formula."))
    count = comb(len(errors_d), 2)
    # p is no finer than 2 / resamples, and Holm multiplies the smallest by the number of pairs
    resamples = max(1999, 200 * count - 1)
    pairs = tuple(compare(errors_d, resamples=resamples)) if count else ()
    return Audit(tuple(found), pairs, used, set_aside, lacking)


def _failures(eyes, formula, start, power_d, vertex_mm):
    """Place of each eye for which a formula has no answer → why; quick if there is none."""
    try:
        predicted_refraction(eyes, formula, start, power_d, vertex_mm)
        return {}
    except ValueError:
        failures = {}
    for place, power in enumerate(power_d):
        try:
            predicted_refraction(eyes.take(place), formula, start, power, vertex_mm)
        except ValueError as error:
            failures[place] = str(error)
    return failures
