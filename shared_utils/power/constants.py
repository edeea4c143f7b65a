"""How to find the lens constants that a cohort of outcomes asks for.

Sources
-------
Hoffer et al., Am J Ophthalmol 2015;160:403; Haigis et al., Graefes Arch Clin Exp Ophthalmol
2000;238:765.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
from scipy.optimize import brentq

from shared_utils.optics.domain import broadcast, require, require_instance
from shared_utils.power.biometry import require_eye
from shared_utils.power.core import ELP_UNDETERMINED_BELOW_D, back_solved_elp
from shared_utils.power.formulas import predicted_refraction, steps
from shared_utils.power.lens_constants import LensConstants, require_lens_constants
from shared_utils.power.registry import FORMULAS

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from shared_utils.power.biometry import Eye

FEWEST_EYES_FOR_THREE = 10


def optimise(
    eyes: Eye,
    formula: str,
    iol_power_d: ArrayLike,
    achieved_d: ArrayLike,
    start: LensConstants | None = None,
    vertex_mm: ArrayLike = 12.0,
    three_constants: bool = False,
) -> LensConstants:
    """Return the lens constants with which a formula errs by zero on average.

    Parameters
    ----------
    eyes : biometry.Eye
        A cohort with one lens model; a single eye works too and gives that eye's own constant.
    formula : str
        Name of a published formula.
    iol_power_d : scalar or array
        Power implanted in each eye, D.
    achieved_d : scalar or array
        Refraction achieved in each eye at the spectacle plane, D; myopia negative.
    start : LensConstants, optional
        Where the other constants come from; converted from A = 118.5 if not given.
    vertex_mm : scalar or array
        Vertex distance, 0 to 20 mm.
    three_constants : bool
        For Haigis: also fit a1 and a2, by regression of the lens positions that the outcomes
        imply, on chamber depth and length. Eyes with lenses weaker than 5 D take no part in the
        regression. Needs many eyes: hundreds are common practice, ten are demanded here.

    Returns
    -------
    LensConstants
        Only the constant of this formula is new. The mean prediction error is zero to 1e-9 D.
        SRK I and SRK II step with power, so theirs may miss zero by less than one eye's step.

    Raises
    ------
    ValueError
        If no usual constant brings the mean error to zero.

    Sources
    -------
    Hoffer et al., Am J Ophthalmol 2015;160:403 (zero the mean error of each formula by its own
    constant); Haigis 2000 for the regression. The mean of the constants that single eyes ask for
    is not the same: it is biased, and fails where the lens is weak.

    Examples
    --------
    One eye of +0.50 D more than planned asks for a larger constant.

    >>> from shared_utils.power.biometry import Eye
    >>> eye = Eye(23.5, 43.5)
    >>> lens = LensConstants.from_a_constant(118.4)
    >>> round(optimise(eye, "srk_t", 20.5, 0.045, start=lens).a_constant, 2)
    118.4
    >>> round(optimise(eye, "srk_t", 20.5, 0.545, start=lens).a_constant, 2)
    119.01
    """
    require_eye("eyes", eyes)
    name = FORMULAS.find(formula).constant
    start = LensConstants.from_a_constant(118.5) if start is None else start
    require_lens_constants(start, "start")
    require_instance("three_constants", three_constants, bool, "True or False")
    iol_power_d = require("iol_power_d", iol_power_d, hint="The implanted power.")
    achieved_d = require("achieved_d", achieved_d, -30.0, 30.0, hint="Myopia is negative.")
    shaped = broadcast(eyes=np.empty(eyes.shape), iol_power_d=iol_power_d, achieved_d=achieved_d)
    if shaped[0].size == 0:
        raise ValueError("There are no eyes to optimise for; give at least one.")
    if three_constants:
        start = _regressed(eyes, formula, iol_power_d, achieved_d, start, vertex_mm)

    def mean_error_d(value):
        predicted_d = predicted_refraction(
            eyes, formula, start.with_constant(formula, value), iol_power_d, vertex_mm
        )
        return float(np.mean(achieved_d - predicted_d))

    if np.ndim(start.of(formula)) > 0:
        raise ValueError(f"start has several values of {name}; give one lens model at a time.")
    low, high = _bracket(mean_error_d, start.of(formula), name)
    best = low if low == high else brentq(mean_error_d, low, high, xtol=1e-13, rtol=1e-14)
    return start.with_constant(formula, best)


def _bracket(mean_error_d, start, name):
    """Two constants between which the mean error changes sign, found by widening steps."""
    error_d = mean_error_d(start)
    if error_d == 0.0:
        return start, start
    # usually a larger constant lowers the error; with lenses of negative power it raises it
    falls = mean_error_d(start + 0.01) < error_d
    step = 0.5 if falls == (error_d > 0.0) else -0.5
    edge, edge_error_d = start, error_d
    for _ in range(20):
        try:
            reached_d = mean_error_d(edge + step)
        except ValueError:  # beyond the range of the constant, or a lens outside the eye
            step /= 2.0
            continue
        if reached_d * error_d <= 0.0:
            return min(edge, edge + step), max(edge, edge + step)
        if abs(reached_d) > abs(edge_error_d):
            break
        edge, edge_error_d = edge + step, reached_d
        step *= 1.5
    raise ValueError(
        f"No usual {name} brings the mean prediction error to 0 D (it is {error_d:.3g} D at "
        f"{start:.5g}); check that iol_power_d and achieved_d belong to these eyes, and the signs."
    )


def _regressed(eyes, formula, iol_power_d, achieved_d, start, vertex_mm):
    """Haigis constants by regression of back-solved lens positions on chamber depth and length."""
    if formula != "haigis":
        raise ValueError(f"three_constants is for haigis; {formula} has one constant.")
    steps(eyes, formula, start)  # says so if the chamber's depth is missing
    power_d, achieved_d, length_mm, depth_mm, vertex_mm, _ = broadcast(
        iol_power_d=iol_power_d,
        achieved_d=achieved_d,
        axial_length_mm=eyes.axial_length_mm,
        acd_mm=eyes.acd_mm,
        vertex_mm=require("vertex_mm", vertex_mm, 0.0, 20.0),
        eyes=np.empty(eyes.shape),
    )
    strong = np.abs(power_d) >= ELP_UNDETERMINED_BELOW_D
    if np.count_nonzero(strong) < FEWEST_EYES_FOR_THREE:
        raise ValueError(
            f"{np.count_nonzero(strong)} eyes with lenses of 5 D or more are too few for three "
            f"constants; give at least {FEWEST_EYES_FOR_THREE}, or optimise a0 alone."
        )
    chosen = eyes.take(strong)
    elp_mm = back_solved_elp(
        steps(chosen, formula, start), power_d[strong], achieved_d[strong], vertex_mm[strong]
    )
    table = np.column_stack([np.ones(len(chosen)), depth_mm[strong], length_mm[strong]])
    (a0, a1, a2), _, rank, _ = np.linalg.lstsq(table, elp_mm, rcond=1e-10)
    if rank < 3:
        raise ValueError(
            "acd_mm and axial_length_mm vary too little between these eyes to tell three "
            "constants apart; give eyes of other sizes, or optimise a0 alone."
        )
    return replace(start, a0=a0, a1=a1, a2=a2)
