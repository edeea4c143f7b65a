"""Lens constants: how one lens model's position is told to each formula.

Sources
-------
Retzlaff, Sanders & Kraff, J Cataract Refract Surg 1990;16:333; Holladay et al., J Cataract
Refract Surg 1988;14:17; Haigis et al., Graefes Arch 2000;238:765. Coefficients from memory,
mutually consistent (a test holds that).
"""

from dataclasses import dataclass

import numpy as np

from shared_utils.optics.domain import plain, require

A_CONSTANT_RANGE = (100.0, 130.0)


@dataclass(frozen=True)
class LensConstants:
    """Constants of one lens for the published formulas; made up from one A-constant, or given.

    The conversions reproduce tables of their authors, not equal powers: a converted Haigis a0
    gives about 1 D more power than the other formulas in an average eye. Optimise before you
    compare formulas.

    Attributes
    ----------
    a_constant : float or array
        For SRK I, SRK II, SRK/T and T2; no unit.
    pacd_mm : float or array
        Personalised chamber depth for Hoffer Q and the older formulas, mm.
    surgeon_factor_mm : float or array
        For Holladay 1, mm.
    a0, a1, a2 : float or array
        For Haigis; mm, no unit, no unit.
    """

    a_constant: float | np.ndarray
    pacd_mm: float | np.ndarray
    surgeon_factor_mm: float | np.ndarray
    a0: float | np.ndarray
    a1: float | np.ndarray = 0.4
    a2: float | np.ndarray = 0.1

    @classmethod
    def from_a_constant(cls, a_constant):
        """Return all constants converted from an A-constant.

        Parameters
        ----------
        a_constant : scalar or array
            100 to 130, no unit.

        Returns
        -------
        LensConstants

        Examples
        --------
        >>> lens = LensConstants.from_a_constant(118.4)
        >>> round(lens.surgeon_factor_mm, 3), round(lens.pacd_mm, 3)
        (1.45, 5.199)
        """
        a = require("a_constant", a_constant, *A_CONSTANT_RANGE, hint="Usual lenses: 118 to 120.")
        surgeon_factor_mm = 0.5663 * a - 65.60
        return cls(
            a_constant=plain(a),
            pacd_mm=plain((surgeon_factor_mm + 3.595) / 0.9704),
            surgeon_factor_mm=plain(surgeon_factor_mm),
            a0=plain(acd_constant(a) - 0.4 * 3.37 - 0.1 * 23.39),
        )


def acd_constant(a_constant):
    """Return the chamber-depth constant that SRK/T derives from the A-constant.

    Parameters
    ----------
    a_constant : scalar or array
        100 to 130, no unit.

    Returns
    -------
    float or array
        mm.

    Sources
    -------
    Retzlaff, Sanders & Kraff 1990.

    Examples
    --------
    >>> round(acd_constant(118.4), 4)
    5.2139
    """
    a = require("a_constant", a_constant, *A_CONSTANT_RANGE, hint="Usual lenses: 118 to 120.")
    return plain(0.62467 * a - 68.747)
