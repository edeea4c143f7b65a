"""Where the prediction error of one eye comes from: by slopes, and by chance drawn many times.

Sources
-------
Norrby, J Cataract Refract Surg 2008;34:368.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy import stats

from shared_utils.optics.domain import require, require_instance, require_one, require_whole
from shared_utils.power.biometry import require_eye
from shared_utils.power.core import ELP_HINT, ELP_RANGE_MM
from shared_utils.power.pseudophakia import (
    PER_K,
    emmetropic_power,
    optics_of,
    pseudophakic_refraction,
    sensitivities,
)

if TYPE_CHECKING:
    from numpy import ndarray

    from shared_utils.power.biometry import Eye

NORRBY_2008 = {
    "lens position": 0.35,
    "refraction": 0.27,
    "axial length": 0.17,
    "pupil": 0.08,
    "lens power": 0.01,
}
"""Shares of the error's variance in an average eye, of ultrasound days: Norrby, J Cataract
Refract Surg 2008;34:368 (abstract). The mean absolute error was 0.6 D, 0.4 D within reach."""


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


def error_budget(eye: Eye, elp_mm: float, spread: Spread | None = None) -> Budget:
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
    spread = _spread(spread)
    slope = sensitivities(eye, elp_mm)
    if np.ndim(slope.axial_length_mm):
        raise ValueError("eye holds arrays; give one eye, or ask for sensitivities().")
    sd_by_source_d = {
        "lens position": abs(float(slope.elp_mm)) * spread.elp_mm,
        "refraction": spread.refraction_d,
        "axial length": abs(float(slope.axial_length_mm)) * spread.axial_length_mm,
        "keratometry": abs(float(slope.k_d)) * spread.k_d,
        "lens power": abs(float(slope.iol_power_d)) * spread.iol_power_d,
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


def simulated_errors(
    eye: Eye, elp_mm: float, spread: Spread | None = None, n: int = 10_000, seed: int = 0
) -> ndarray:
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
    require_eye("eye", eye)
    spread = _spread(spread)
    n = int(require_one("n", n, 1, 10_000_000))
    seed = require_whole("seed", seed, 0, 2**63)
    length_mm = require("axial_length_mm", eye.axial_length_mm)
    position_mm = require("elp_mm", elp_mm, *ELP_RANGE_MM, hint=ELP_HINT)
    if length_mm.ndim or np.ndim(eye.mean_k_d) or position_mm.ndim:
        raise ValueError("eye or elp_mm holds arrays; give one eye and one position in mm.")
    _, cornea_d, position_mm = optics_of(eye, position_mm)
    iol_power_d = emmetropic_power(eye, position_mm)
    draws = np.random.default_rng(seed).standard_normal((5, n))
    return (
        pseudophakic_refraction(
            length_mm + spread.axial_length_mm * draws[0],
            cornea_d + spread.k_d * PER_K * draws[1],
            position_mm + spread.elp_mm * draws[2],
            iol_power_d + spread.iol_power_d * draws[3],
        )
        + spread.refraction_d * draws[4]
    )


def _spread(spread):
    spread = Spread() if spread is None else spread
    return require_instance("spread", spread, Spread, "a Spread, such as Spread(elp_mm=0.25)")
