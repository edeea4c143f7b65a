"""Lens constants: the numbers by which each formula knows where one lens model will stand.

Sources
-------
Retzlaff, Sanders & Kraff, J Cataract Refract Surg 1990;16:333; Holladay et al., J Cataract
Refract Surg 1988;14:17; Haigis et al., Graefes Arch Clin Exp Ophthalmol 2000;238:765.
Coefficients from memory, mutually consistent (a test holds that).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from shared_utils.optics.domain import require, require_instance, unwrap_scalar
from shared_utils.power.formula_record import LENS_CONSTANTS
from shared_utils.power.registry import FORMULAS
from shared_utils.power.thin_lens import acd_constant

if TYPE_CHECKING:
    from numpy import ndarray
    from numpy.typing import ArrayLike

    from shared_utils.optics.types import FloatOrArray

DEMO_A_CONSTANT = 118.6
"""Of the lens in examples, demonstrations and invented patients: an invented value, of no lens."""


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
        for name in LENS_CONSTANTS:
            value = _require_constant(name, getattr(self, name))
            object.__setattr__(self, name, unwrap_scalar(value))

    @classmethod
    def from_a_constant(cls, a_constant: ArrayLike) -> LensConstants:
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
        a = _require_constant("a_constant", a_constant)
        return cls(
            a_constant=a,
            pacd_mm=0.58357 * a - 63.896,
            surgeon_factor_mm=0.5663 * a - 65.60,
            a0=acd_constant(a) - 0.4 * 3.37 - 0.1 * 23.39,
        )

    @classmethod
    def from_surgeon_factor(cls, surgeon_factor_mm: ArrayLike) -> LensConstants:
        """Return all constants converted from Holladay's surgeon factor, mm.

        >>> round(LensConstants.from_surgeon_factor(1.44992).a_constant, 4)
        118.4
        """
        factor_mm = _require_constant("surgeon_factor_mm", surgeon_factor_mm)
        return cls.from_a_constant((factor_mm + 65.60) / 0.5663)

    @classmethod
    def from_pacd(cls, pacd_mm: ArrayLike) -> LensConstants:
        """Return all constants converted from a personalised chamber depth, mm.

        The depth itself is kept as given, so that it comes back exactly.

        >>> round(LensConstants.from_pacd(5.198688).a_constant, 4)
        118.4
        """
        pacd_mm = _require_constant("pacd_mm", pacd_mm)
        return replace(cls.from_a_constant((pacd_mm + 63.896) / 0.58357), pacd_mm=pacd_mm)

    def of(self, formula: str) -> FloatOrArray:
        """Return the one constant that a formula looks at first (a0 for Haigis).

        >>> LensConstants.from_a_constant(118.4).of("t2")
        118.4
        """
        return getattr(self, FORMULAS.find(formula).constant)

    def with_constant(self, formula: str, value: ArrayLike) -> LensConstants:
        """Return these constants with the one of a formula replaced.

        >>> LensConstants.from_a_constant(118.4).with_constant("haigis", 0.975).a0
        0.975
        """
        name = FORMULAS.find(formula).constant
        return replace(self, **{name: _require_constant(name, value)})


def require_lens_constants(lens_constants: object, name: str = "lens_constants") -> LensConstants:
    """Return the lens constants, or say in one sentence what was given in their place.

    >>> require_lens_constants(118.8)
    Traceback (most recent call last):
    ValueError: lens_constants is 118.8, a number; give LensConstants.from_a_constant(118.8).
    """
    known, example = LENS_CONSTANTS["a_constant"], 118.4
    if isinstance(lens_constants, (int, float)) and known.low <= lens_constants <= known.high:
        example = lens_constants
    return require_instance(
        name,
        lens_constants,
        LensConstants,
        f"LensConstants.from_a_constant({example:g})",
    )


def _require_constant(name: str, value: ArrayLike) -> ndarray:
    known = LENS_CONSTANTS[name]
    return require(name, value, known.low, known.high, hint=known.hint)
