"""Lens constants: how one lens model's position is told to each formula, and how to find it.

Sources
-------
Retzlaff, Sanders & Kraff, J Cataract Refract Surg 1990;16:333; Holladay et al., J Cataract
Refract Surg 1988;14:17; Haigis et al., Graefes Arch Clin Exp Ophthalmol 2000;238:765.
Coefficients from memory, mutually consistent (a test holds that).
"""

from dataclasses import dataclass, replace

import numpy as np
from scipy.optimize import brentq

from shared_utils.optics.domain import broadcast, require, unwrap_scalar
from shared_utils.power.core import ELP_UNDETERMINED_BELOW_D, back_solved_elp
from shared_utils.power.formulas import FORMULAS, predicted_refraction, steps
from shared_utils.power.thin_lens import A_CONSTANT_HINT, A_CONSTANT_RANGE, acd_constant

CONSTANT_OF = {
    "srk_1": "a_constant",
    "srk_2": "a_constant",
    "fyodorov": "pacd_mm",
    "colenbrander": "pacd_mm",
    "binkhorst_1": "pacd_mm",
    "binkhorst_2": "pacd_mm",
    "srk_t": "a_constant",
    "t2": "a_constant",
    "holladay_1": "surgeon_factor_mm",
    "hoffer_q": "pacd_mm",
    "haigis": "a0",
}
RANGES = {
    "a_constant": (*A_CONSTANT_RANGE, A_CONSTANT_HINT),
    "pacd_mm": (0.0, 10.0, "Usual lenses: 5 to 6 mm."),
    "surgeon_factor_mm": (-4.0, 6.0, "Usual lenses: 1 to 2.5 mm."),
    "a0": (-15.0, 15.0, "Usual lenses: −1 to 2.5 mm."),
    "a1": (-2.0, 2.0, "The standard value is 0.4."),
    "a2": (-1.0, 1.0, "The standard value is 0.1."),
}
FEWEST_EYES_FOR_THREE = 10


@dataclass(frozen=True)
class LensConstants:
    """Constants of one lens for the published formulas; made up from one constant, or given.

    The conversions reproduce tables of their authors, not equal powers: a converted Haigis a0
    gives about 1 D more power than the other formulas in an average eye. Optimise before you
    compare formulas.

    Attributes
    ----------
    a_constant : float or array
        For SRK I, SRK II, SRK/T and T2; no unit, 110 to 125.
    pacd_mm : float or array
        Personalised chamber depth for Hoffer Q and the older formulas, 0 to 10 mm.
    surgeon_factor_mm : float or array
        For Holladay 1, −4 to 6 mm.
    a0, a1, a2 : float or array
        For Haigis; mm, no unit, no unit.

    Raises
    ------
    ValueError
        Naming the constant, its range and its usual values.
    """

    a_constant: float | np.ndarray
    pacd_mm: float | np.ndarray
    surgeon_factor_mm: float | np.ndarray
    a0: float | np.ndarray
    a1: float | np.ndarray = 0.4
    a2: float | np.ndarray = 0.1

    def __post_init__(self):
        for name, (low, high, hint) in RANGES.items():
            value = require(name, getattr(self, name), low, high, hint=hint)
            object.__setattr__(self, name, unwrap_scalar(value))

    @classmethod
    def from_a_constant(cls, a_constant):
        """Return all constants converted from an A-constant.

        Parameters
        ----------
        a_constant : scalar or array
            110 to 125, no unit.

        Returns
        -------
        LensConstants

        Sources
        -------
        Holladay et al. 1988 for SF = 0.5663 A − 65.60 and SF = 0.9704 pACD − 3.595, which together
        make pACD = 0.58357 A − 63.896; Haigis et al. 2000 for a0 = ACD-constant − 0.4 × 3.37 −
        0.1 × 23.39. From memory.

        Examples
        --------
        >>> lens = LensConstants.from_a_constant(118.4)
        >>> round(lens.surgeon_factor_mm, 3), round(lens.pacd_mm, 3), round(lens.a0, 3)
        (1.45, 5.199, 1.527)
        """
        a = require("a_constant", a_constant, *A_CONSTANT_RANGE, hint=A_CONSTANT_HINT)
        return cls(
            a_constant=a,
            pacd_mm=0.58357 * a - 63.896,
            surgeon_factor_mm=0.5663 * a - 65.60,
            a0=acd_constant(a) - 0.4 * 3.37 - 0.1 * 23.39,
        )

    @classmethod
    def from_surgeon_factor(cls, surgeon_factor_mm):
        """Return all constants converted from Holladay's surgeon factor, mm.

        >>> round(LensConstants.from_surgeon_factor(1.44992).a_constant, 4)
        118.4
        """
        low, high, hint = RANGES["surgeon_factor_mm"]
        factor_mm = require("surgeon_factor_mm", surgeon_factor_mm, low, high, hint=hint)
        return cls.from_a_constant((factor_mm + 65.60) / 0.5663)

    @classmethod
    def from_pacd(cls, pacd_mm):
        """Return all constants converted from a personalised chamber depth, mm.

        The depth itself is kept as given, so that it comes back exactly.

        >>> round(LensConstants.from_pacd(5.198688).a_constant, 4)
        118.4
        """
        low, high, hint = RANGES["pacd_mm"]
        pacd_mm = require("pacd_mm", pacd_mm, low, high, hint=hint)
        return replace(cls.from_a_constant((pacd_mm + 63.896) / 0.58357), pacd_mm=pacd_mm)

    def of(self, formula):
        """Return the one constant that a formula looks at first (a0 for Haigis).

        >>> LensConstants.from_a_constant(118.4).of("t2")
        118.4
        """
        return getattr(self, _constant_name(formula))

    def with_constant(self, formula, value):
        """Return these constants with the one of a formula replaced.

        >>> LensConstants.from_a_constant(118.4).with_constant("haigis", 0.975).a0
        0.975
        """
        return replace(self, **{_constant_name(formula): value})


def optimise(
    eyes, formula, iol_power_d, achieved_d, start=None, vertex_mm=12.0, three_constants=False
):
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
    name = _constant_name(formula)
    start = LensConstants.from_a_constant(118.5) if start is None else start
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


def _constant_name(formula):
    if not isinstance(formula, str) or formula not in CONSTANT_OF:
        raise ValueError(f"formula is {formula!r}; give one of: {', '.join(FORMULAS)}.")
    return CONSTANT_OF[formula]
