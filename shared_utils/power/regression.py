"""The two published regressions, in which no optics is left: SRK I and SRK II.

Coefficients from memory of the papers named.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from shared_utils.optics.domain import unwrap_scalar
from shared_utils.power.core import REFRACTION_RANGE_D
from shared_utils.power.formula_record import Formula

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from shared_utils.optics.types import FloatOrArray
    from shared_utils.power.biometry import Eye
    from shared_utils.power.lens_constants import LensConstants

LENGTH_STEPS_MM = (20.0, 21.0, 22.0, 24.5)
LENGTH_CORRECTIONS = (3.0, 2.0, 1.0, 0.0, -0.5)
FACTOR_STEP_D = 14.0
NEAR_LENGTH_STEP_MM = 0.1  # about what two measurements of an eye may differ; our choice
NEAR_FACTOR_STEP_D = 0.5  # one step of lens power; our choice


@dataclass(frozen=True)
class RegressionSteps:
    """What a regression makes of an eye before the target is asked for.

    Attributes
    ----------
    emmetropic_power_d : float or array
        Power for a refraction of zero, D.
    refraction_factor : float or array
        Dioptres of lens for one dioptre of refraction, no unit.
    named : dict
        The intermediate quantities by name, in order, unit in the name.
    flags : dict
        Name of a warning → for which eyes it holds, bool or boolean array.
    """

    emmetropic_power_d: float | np.ndarray
    refraction_factor: float | np.ndarray
    named: dict = field(default_factory=dict)
    flags: dict = field(default_factory=dict)

    def before_optics(self) -> dict[str, FloatOrArray]:
        """Return the two numbers that a target works with, as an ordered dict."""
        return {
            "emmetropic_power_d": self.emmetropic_power_d,
            "refraction_factor": self.refraction_factor,
        }

    def to_power(self, target_d: ArrayLike, vertex_mm: ArrayLike) -> dict[str, FloatOrArray]:
        """Return the last step to the lens; the vertex distance has no place in a regression."""
        by_target_d = np.asarray(target_d) * np.asarray(self.refraction_factor)
        power_d = self.emmetropic_power_d - by_target_d
        return {"iol_power_d": power_d + 0.0 * np.asarray(vertex_mm)}

    def to_refraction(
        self, iol_power_d: ArrayLike, vertex_mm: ArrayLike
    ) -> dict[str, FloatOrArray]:
        """Return the last step to the refraction: what is missing in power over the factor."""
        missing_d = self.emmetropic_power_d - np.asarray(iol_power_d)
        refraction_d = missing_d / np.asarray(self.refraction_factor) + 0.0 * np.asarray(vertex_mm)
        low, high = REFRACTION_RANGE_D
        bad = (refraction_d < low) | (refraction_d > high)
        if np.any(bad):
            first = np.broadcast_to(iol_power_d, bad.shape)[bad].flat[0]
            raise ValueError(
                f"iol_power_d of {first:.6g} D leaves this eye with a refraction outside {low:g} "
                f"to {high:g} D; check iol_power_d and the axial length in mm."
            )
        return {"missing_power_d": missing_d, "refraction_d": refraction_d}


def srk_1(
    eye: Eye, lens_constants: LensConstants, elp_k_d: ArrayLike | None = None
) -> RegressionSteps:
    """Return the steps of SRK I: P = A − 2.5 L − 0.9 K.

    Parameters
    ----------
    eye : biometry.Eye
    lens_constants : constants.LensConstants
        ``a_constant`` is used.
    elp_k_d : scalar or array, optional
        Without effect: a regression has no lens position.

    Returns
    -------
    RegressionSteps
        For a target, and back, the factor of SRK II is used; SRK I itself is for emmetropia.
        The flag ``near_factor_step`` warns within 0.5 D of the step at 14 D.

    Sources
    -------
    Sanders, Retzlaff & Kraff, from memory; the equation as printed in Montes de Oca et al., Int
    Ophthalmol Clin 2016.

    Examples
    --------
    118.4 − 2.5 × 23.5 − 0.9 × 43.5 = 118.4 − 58.75 − 39.15 = 20.5 D.

    >>> from shared_utils.power.biometry import Eye
    >>> from shared_utils.power.constants import LensConstants
    >>> found = srk_1(Eye(23.5, 43.5), LensConstants.from_a_constant(118.4))
    >>> round(found.emmetropic_power_d, 6)
    20.5
    """
    return _regression(eye, np.asarray(lens_constants.a_constant), {}, {}, elp_k_d)


def srk_2(
    eye: Eye, lens_constants: LensConstants, elp_k_d: ArrayLike | None = None
) -> RegressionSteps:
    """Return the steps of SRK II: SRK I with an A-constant that steps with the length.

    Parameters
    ----------
    eye : biometry.Eye
    lens_constants : constants.LensConstants
        ``a_constant`` is used.
    elp_k_d : scalar or array, optional
        Without effect: a regression has no lens position.

    Returns
    -------
    RegressionSteps
        The flag ``near_length_step`` warns within 0.1 mm of 20, 21, 22 or 24.5 mm, where the
        power jumps by 0.5 or 1 D, and ``near_factor_step`` within 0.5 D of 14 D, where the
        factor for a target jumps from 1 to 1.25.

    Sources
    -------
    Sanders, Retzlaff & Kraff, J Cataract Refract Surg 1988;14:136. From memory.

    Examples
    --------
    A short eye of 21.5 mm: A becomes 119.4.

    >>> from shared_utils.power.biometry import Eye
    >>> from shared_utils.power.constants import LensConstants
    >>> found = srk_2(Eye(21.5, 44.5), LensConstants.from_a_constant(118.4))
    >>> round(found.emmetropic_power_d, 6)
    25.6
    """
    length_mm = np.asarray(eye.axial_length_mm)
    steps_mm = np.asarray(LENGTH_STEPS_MM)
    correction = np.asarray(LENGTH_CORRECTIONS)[np.searchsorted(steps_mm, length_mm, "right")]
    near = np.zeros(length_mm.shape, bool)
    for step_mm in LENGTH_STEPS_MM:
        near = near | (np.abs(length_mm - step_mm) < NEAR_LENGTH_STEP_MM)
    adjusted = np.asarray(lens_constants.a_constant) + correction
    return _regression(
        eye, adjusted, {"adjusted_a_constant": adjusted}, {"near_length_step": near}, elp_k_d
    )


def _regression(eye, a_constant, named, flags, elp_k_d):
    length_term_d = 2.5 * np.asarray(eye.axial_length_mm)
    k_term_d = 0.9 * np.asarray(eye.mean_k_d)
    emmetropic_d = a_constant - k_term_d - length_term_d
    flags = {**flags, "near_factor_step": np.abs(emmetropic_d - FACTOR_STEP_D) < NEAR_FACTOR_STEP_D}
    if elp_k_d is not None:
        flags["elp_k_unused"] = np.asarray(True)
    return RegressionSteps(
        emmetropic_power_d=unwrap_scalar(emmetropic_d),
        refraction_factor=unwrap_scalar(np.where(emmetropic_d > FACTOR_STEP_D, 1.25, 1.0)),
        named={**named, "length_term_d": length_term_d, "k_term_d": k_term_d},
        flags=flags,
    )


NEAR_FACTOR_STEP = "within 0.5 D of 14 D, where its factor for a target jumps."

FORMULAS = (
    Formula(
        srk_1,
        title="SRK I",
        year=1980,
        constant="a_constant",
        keratometric_index=1.3375,
        position_uses_k=False,
        advised=False,
        warnings={"near_factor_step": NEAR_FACTOR_STEP},
    ),
    Formula(
        srk_2,
        title="SRK II",
        year=1988,
        constant="a_constant",
        keratometric_index=1.3375,
        position_uses_k=False,
        advised=False,
        warnings={
            "near_length_step": "within 0.1 mm of a length where this regression jumps by 0.5 or "
            "1 D.",
            "near_factor_step": NEAR_FACTOR_STEP,
        },
    ),
)
"""The record of each formula of this file, in the order in which tables show them."""
