"""Lenses that exist: powers in steps, and the refraction of the one that is implanted."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from shared_utils.optics.domain import require, require_one, require_whole, unwrap_scalar
from shared_utils.power.core import IOL_POWER_RANGE_D
from shared_utils.power.formulas import iol_power, predicted_refraction

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from shared_utils.optics.types import FloatOrArray
    from shared_utils.power.biometry import Eye
    from shared_utils.power.lens_constants import LensConstants

STEP_RANGE_D = (0.1, 5.0)


def nearest_power(power_d: ArrayLike, step_d: ArrayLike = 0.5) -> FloatOrArray:
    """Return the power among available lenses that lies nearest.

    Parameters
    ----------
    power_d : scalar or array
        Power as computed, D.
    step_d : scalar or array
        Step between lenses, 0.1 to 5 D; 0.5 D is usual.

    Returns
    -------
    float or array
        D. A tie goes to the stronger lens, which leaves the eye the more myopic of the two.

    Sources
    -------
    Common practice, no source.

    Examples
    --------
    >>> nearest_power(20.56), nearest_power(20.25), nearest_power(-6.75)
    (20.5, 20.5, -6.5)
    """
    power_d = require("power_d", power_d, *IOL_POWER_RANGE_D)
    step_d = require("step_d", step_d, *STEP_RANGE_D, hint="Usually 0.5 D.")
    # a tie by arithmetic may miss by the rounding of the last digit
    return unwrap_scalar(np.floor(power_d / step_d + 0.5 + 1e-9) * step_d)


@dataclass(frozen=True)
class Choices:
    """Available lenses around the one computed, weakest first along the last axis.

    Attributes
    ----------
    computed_d : float or array
        Power for exactly the target, D.
    iol_power_d : array
        Powers that exist, D.
    predicted_d : array
        Refraction that each leaves, D.
    nearest : int or array of int
        Which of them comes nearest to the target; a tie goes to the more myopic.
    """

    computed_d: float | np.ndarray
    iol_power_d: np.ndarray
    predicted_d: np.ndarray
    nearest: int | np.ndarray


def choices(
    eye: Eye,
    formula: str,
    lens_constants: LensConstants,
    target_d: ArrayLike = 0.0,
    vertex_mm: ArrayLike = 12.0,
    elp_k_d: ArrayLike | None = None,
    step_d: float = 0.5,
    count: int = 3,
) -> Choices:
    """Return the available lenses around the computed power and what each would leave.

    Parameters
    ----------
    eye, formula, lens_constants, target_d, vertex_mm, elp_k_d
        As for ``formulas.iol_power``.
    step_d : float
        Step between lenses, 0.1 to 5 D.
    count : int
        How many lenses, 1 to 21, odd so that the nearest stands in the middle.

    Returns
    -------
    Choices

    Sources
    -------
    Common practice, no source: predict for the lens that is implanted, not for the one computed.

    Examples
    --------
    >>> from shared_utils.power.biometry import Eye
    >>> from shared_utils.power.constants import LensConstants
    >>> found = choices(Eye(23.5, 43.5), "srk_t", LensConstants.from_a_constant(118.4))
    >>> found.iol_power_d, found.predicted_d.round(2), found.nearest
    (array([20. , 20.5, 21. ]), array([ 0.39,  0.04, -0.31]), 1)
    """
    step_d = require_one("step_d", step_d, *STEP_RANGE_D, hint="Usually 0.5 D.")
    if require_whole("count", count, 1, 21) % 2 == 0:
        raise ValueError(f"count is {count}; give an odd whole number from 1 to 21.")
    computed_d = iol_power(eye, formula, lens_constants, target_d, vertex_mm, elp_k_d)
    middle_d = np.asarray(nearest_power(computed_d, step_d))
    offsets = np.arange(count) - count // 2
    each_power_d = [middle_d + offset * step_d for offset in offsets]
    each_predicted_d = [
        predicted_refraction(eye, formula, lens_constants, power_d, vertex_mm, elp_k_d)
        for power_d in each_power_d
    ]
    powers_d, predicted_d = np.stack(each_power_d, axis=-1), np.stack(each_predicted_d, axis=-1)
    miss_d = np.abs(predicted_d - np.asarray(target_d)[..., np.newaxis])
    # from the strong end, so that of two equal misses the myopic one comes first
    nearest = count - 1 - np.argmin(np.round(miss_d[..., ::-1], 9), axis=-1)
    return Choices(
        computed_d=computed_d,
        iol_power_d=powers_d,
        predicted_d=predicted_d,
        nearest=int(nearest) if np.ndim(nearest) == 0 else nearest,
    )
