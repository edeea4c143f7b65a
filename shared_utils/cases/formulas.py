"""Lesson 06: the gap at the lens, the expected lens position, the lens to order."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING, cast

import numpy as np

from shared_utils.optics.notation import signed
from shared_utils.optics.vergence import propagate
from shared_utils.power import formulas, lens_steps
from shared_utils.power.biometry import Eye
from shared_utils.power.constants import optimise
from shared_utils.power.core import AQUEOUS_INDEX, REDUCED, Steps
from shared_utils.power.lens_constants import DEMO_A_CONSTANT, LensConstants
from shared_utils.power.registry import FORMULAS

if TYPE_CHECKING:
    from numpy.typing import ArrayLike


# an average eye
CORNEA_D, LENGTH_MM, ELP_MM = 43.5, 23.5, 5.2
AVERAGE_EYE = Eye(LENGTH_MM, CORNEA_D, acd_mm=3.15)
AVERAGE_POWER_D = 20.6
NO_TARGET_D, VERTEX_MM = np.float64(0.0), np.float64(12.0)
POSITIONS_MM = np.linspace(0.0, 8.5, 86)


def compute_vergence_curves(
    length_mm: float, cornea_d: float, positions_mm: ArrayLike
) -> tuple[np.ndarray, np.ndarray]:
    """Return the vergence that arrives from the cornea, and that the retina needs, at positions.

    Parameters
    ----------
    length_mm : float
        Axial length, mm.
    cornea_d : float
        Power of the cornea, D.
    positions_mm : array
        Distances behind the cornea, mm.

    Returns
    -------
    tuple of two arrays
        What arrives, D, and what is needed, D.

    Examples
    --------
    >>> [float(round(curve_d[0], 1)) for curve_d in compute_vergence_curves(23.5, 43.5, [5.2])]
    [52.4, 73.0]
    """
    positions_mm = np.asarray(positions_mm)
    arriving_d = propagate(cornea_d, positions_mm / 1000.0, AQUEOUS_INDEX)
    return np.asarray(arriving_d), REDUCED / (length_mm - positions_mm)


@dataclass(frozen=True)
class VergenceGap:
    """What arrives from the cornea and what the retina needs, at the lens and all along."""

    length_mm: float
    cornea_d: float
    elp_mm: float
    arrives_d: float
    needed_d: float
    lens_d: float
    arriving_d: np.ndarray
    needing_d: np.ndarray

    @property
    def ray_height_at_lens(self) -> float:
        """Height of a ray from far at the lens, for a height of 1 at the cornea."""
        return 1.0 - self.elp_mm * self.cornea_d / REDUCED


def compute_vergence_gap(length_mm: float, cornea_d: float, elp_mm: float) -> VergenceGap:
    """Return the vergences on both sides of a lens that makes the eye emmetropic.

    Parameters
    ----------
    length_mm : float
        Axial length, mm.
    cornea_d : float
        Power of the cornea, D.
    elp_mm : float
        Position of the lens behind the cornea, mm.

    Returns
    -------
    VergenceGap

    Examples
    --------
    >>> round(compute_vergence_gap(23.5, 43.5, 5.2).lens_d, 2)
    20.64
    """
    steps = Steps(cornea_d, length_mm, elp_mm).to_power(NO_TARGET_D, VERTEX_MM)
    return VergenceGap(
        length_mm,
        cornea_d,
        elp_mm,
        float(steps["at_lens_d"]),
        float(steps["behind_lens_d"]),
        float(steps["iol_power_d"]),
        *compute_vergence_curves(length_mm, cornea_d, POSITIONS_MM),
    )


# formula → its row: name and what it looks at to guess the place of the lens
GUESSES = {
    "fyodorov": "a fixed place",
    "binkhorst_2": "Binkhorst II: length",
    "srk_t": "SRK/T: length, K",
    "holladay_1": "Holladay 1: length, K",
    "hoffer_q": "Hoffer Q: length, K",
    "haigis": "Haigis: chamber, length",
}


@cache
def constants_with_same_average_power(formula: str) -> LensConstants:
    """Return lens constants with which a formula asks for 20.6 D in an average eye.

    So what is left between the formulas is how each lets the lens move with the eye.

    Parameters
    ----------
    formula : str
        One of the keys of ``GUESSES``.

    Returns
    -------
    LensConstants

    Examples
    --------
    >>> lens = constants_with_same_average_power("haigis")
    >>> round(formulas.iol_power(AVERAGE_EYE, "haigis", lens), 6)
    20.6
    """
    start = LensConstants.from_a_constant(DEMO_A_CONSTANT)
    return optimise(AVERAGE_EYE, formula, AVERAGE_POWER_D, 0.0, start=start)


@dataclass(frozen=True)
class ExpectedPositions:
    """Where every formula expects the lens of an eye, and the power it asks for."""

    eye: Eye
    shifts_mm: dict
    powers_d: dict

    @property
    def weakest(self) -> str:
        """Formula that asks for the weakest lens."""
        return min(self.powers_d, key=self.powers_d.__getitem__)

    @property
    def strongest(self) -> str:
        """Formula that asks for the strongest lens."""
        return max(self.powers_d, key=self.powers_d.__getitem__)

    @property
    def range_d(self) -> float:
        """How far the weakest and the strongest lens lie apart, D."""
        return self.powers_d[self.strongest] - self.powers_d[self.weakest]


def compute_expected_positions(
    length_mm: float, k_d: float, chamber_mm: float
) -> ExpectedPositions:
    """Return how far each formula moves the lens it expects, against an average eye.

    Parameters
    ----------
    length_mm : float
        Axial length, mm.
    k_d : float
        Keratometry, D.
    chamber_mm : float
        Chamber depth from the epithelium, mm.

    Returns
    -------
    ExpectedPositions

    Examples
    --------
    >>> data = compute_expected_positions(23.5, 43.5, 2.65)
    >>> round(data.shifts_mm["haigis"], 2), round(data.shifts_mm["hoffer_q"], 2)
    (-0.2, 0.0)
    """
    eye = Eye(length_mm, k_d, acd_mm=chamber_mm)
    shifts_mm, powers_d = {}, {}
    for formula in GUESSES:
        lens = constants_with_same_average_power(formula)
        # these formulas all place a thin lens
        found = cast("Steps", formulas.steps(eye, formula, lens))
        average = cast("Steps", formulas.steps(AVERAGE_EYE, formula, lens))
        shifts_mm[formula] = found.elp_mm - average.elp_mm
        powers_d[formula] = float(found.to_power(NO_TARGET_D, VERTEX_MM)["iol_power_d"])
    return ExpectedPositions(eye, shifts_mm, powers_d)


AVAILABLE_POWERS_D = np.arange(9.0, 32.51, 0.5)


@dataclass(frozen=True)
class LensToOrder:
    """The lenses that exist, what each would leave, and the nearest to the target."""

    length_mm: float
    a_constant: float
    target_d: float
    computed_d: float
    predicted_d: np.ndarray
    nearest: int

    @property
    def power_d(self) -> float:
        """Power of the lens to order, D."""
        return float(AVAILABLE_POWERS_D[self.nearest])

    @property
    def left_d(self) -> float:
        """Refraction that it is predicted to leave, D."""
        return float(self.predicted_d[self.nearest])

    @property
    def stronger_left_d(self) -> float:
        """Refraction that the next stronger lens is predicted to leave, D."""
        return float(self.predicted_d[self.nearest + 1])


def compute_lens_to_order(length_mm: float, a_constant: float, target_d: float) -> LensToOrder:
    """Return the refraction that SRK/T predicts for every lens, and the lens to order.

    Parameters
    ----------
    length_mm : float
        Axial length, mm; keratometry 43.50 D.
    a_constant : float
        A-constant of the lens.
    target_d : float
        Refraction wanted, D.

    Returns
    -------
    LensToOrder

    Examples
    --------
    >>> data = compute_lens_to_order(23.5, 118.6, 0.0)
    >>> data.power_d, round(data.left_d, 2)
    (21.0, -0.14)
    """
    eye, lens = Eye(length_mm, CORNEA_D), LensConstants.from_a_constant(a_constant)
    predicted_d = formulas.predicted_refraction(eye, "srk_t", lens, AVAILABLE_POWERS_D)
    return LensToOrder(
        length_mm,
        a_constant,
        target_d,
        float(formulas.iol_power(eye, "srk_t", lens, target_d)),
        np.asarray(predicted_d),
        int(np.argmin(np.round(np.abs(predicted_d - target_d), 9))),
    )


def holladay_steps(
    length_mm: float, k_d: float, surgeon_factor_mm: float
) -> list[tuple[str, str, float, str]]:
    """Return the steps of Holladay 1 from an eye to the lens for a refraction of zero.

    Parameters
    ----------
    length_mm : float
        Axial length, mm.
    k_d : float
        Keratometry, D.
    surgeon_factor_mm : float
        Surgeon factor of the lens, mm.

    Returns
    -------
    list of (str, str, float, str)

    Examples
    --------
    >>> what, how, value, unit = holladay_steps(23.5, 43.5, 1.45)[-1]
    >>> what, round(value, 1), unit
    ('lens power, the difference', 20.6, 'D')
    """
    lens = LensConstants.from_surgeon_factor(surgeon_factor_mm)
    named = formulas.trace_power(Eye(length_mm, k_d), "holladay_1", lens).named
    radius_mm, width_mm = float(named["elp_radius_mm"]), float(named["chamber_width_mm"])
    return [
        ("corneal radius, at least 7 mm", f"337.5 / {k_d:.2f}", radius_mm, "mm"),
        (
            "width of the chamber, at most 13.5 mm",
            f"12.5 · {length_mm:.2f} / 23.45",
            width_mm,
            "mm",
        ),
        (
            "depth of the chamber",
            f"0.56 + {radius_mm:.2f} − √({radius_mm:.2f}² − {width_mm:.2f}² / 4)",
            named["anatomic_chamber_depth_mm"],
            "mm",
        ),
        ("lens position", f"+ {surgeon_factor_mm:.2f}", named["elp_mm"], "mm"),
        ("power of the cornea", f"333.3 / {radius_mm:.3f}", named["cornea_d"], "D"),
        ("length to the receptors", "L + 0.20", named["optical_length_mm"], "mm"),
        ("arrives at the lens", "1336 / (1336 / K − d)", named["at_lens_d"], "D"),
        ("the retina needs", "1336 / (L − d)", named["behind_lens_d"], "D"),
        ("lens power, the difference", "needs − arrives", named["iol_power_d"], "D"),
    ]


def haigis_steps(
    length_mm: float, k_d: float, chamber_mm: float, a0: float
) -> list[tuple[str, str, float, str]]:
    """Return the steps of Haigis from an eye to the lens for a refraction of zero.

    Parameters
    ----------
    length_mm : float
        Axial length, mm.
    k_d : float
        Keratometry, D.
    chamber_mm : float
        Chamber depth from the epithelium, mm.
    a0 : float
        First constant of the lens, mm; a1 is 0.4 and a2 0.1.

    Returns
    -------
    list of (str, str, float, str)

    Examples
    --------
    >>> [round(value, 2) for _, _, value, _ in haigis_steps(23.5, 43.5, 3.15, 0.98)][0]
    4.59
    """
    lens = LensConstants.from_a_constant(DEMO_A_CONSTANT).with_constant("haigis", a0)
    eye = Eye(length_mm, k_d, acd_mm=chamber_mm)
    named = formulas.trace_power(eye, "haigis", lens).named
    per_radius = 1000.0 * (FORMULAS["haigis"].keratometric_index - 1.0)
    return [
        (
            "lens position",
            f"{a0:.2f} + 0.4 · {chamber_mm:.2f} + 0.1 · {length_mm:.2f}",
            named["elp_mm"],
            "mm",
        ),
        (
            "power of the cornea",
            f"{per_radius:.1f} · {k_d:.2f} / 337.5",
            named["cornea_d"],
            "D",
        ),
        ("arrives at the lens", "1336 / (1336 / K − d)", named["at_lens_d"], "D"),
        ("the retina needs", "1336 / (L − d)", named["behind_lens_d"], "D"),
        ("lens power, the difference", "needs − arrives", named["iol_power_d"], "D"),
    ]


def backward_steps(
    length_mm: float, k_d: float, surgeon_factor_mm: float, iol_power_d: float
) -> list[tuple[str, str, float, str]]:
    """Return the steps from a lens that exists back to the refraction that it leaves.

    Parameters
    ----------
    length_mm : float
        Axial length, mm.
    k_d : float
        Keratometry, D.
    surgeon_factor_mm : float
        Surgeon factor of the lens, mm.
    iol_power_d : float
        Power of the lens, D.

    Returns
    -------
    list of (str, str, float, str)

    Examples
    --------
    >>> what, how, value, unit = backward_steps(23.5, 43.5, 1.45, 21.0)[-1]
    >>> round(value, 2), unit
    (-0.27, 'D')
    """
    lens = LensConstants.from_surgeon_factor(surgeon_factor_mm)
    named = formulas.trace_refraction(Eye(length_mm, k_d), "holladay_1", lens, iol_power_d).named
    return [
        ("the retina needs", "1336 / (L − d)", named["behind_lens_d"], "D"),
        ("so there must arrive", f"− {iol_power_d:.2f}", named["at_lens_d"], "D"),
        ("so there must leave the cornea", "V / (1 + d / 1336 · V)", named["behind_cornea_d"], "D"),
        ("more than the cornea gives", "− K", named["refraction_at_cornea_d"], "D"),
        ("at the spectacles, 12 mm", "R / (1 + 0.012 · R)", named["refraction_d"], "D"),
    ]


def three_formula_steps(
    length_mm: float, k_d: float, a_constant: float, order_d: float
) -> list[tuple[str, str, float, str]]:
    """Return what three formulas ask for, and what each predicts for one lens.

    Parameters
    ----------
    length_mm : float
        Axial length, mm.
    k_d : float
        Keratometry, D.
    a_constant : float
        A-constant of the lens; the other constants are converted from it.
    order_d : float
        The lens considered, D.

    Returns
    -------
    list of (str, str, float, str)

    Examples
    --------
    >>> [round(value, 2) for _, _, value, _ in three_formula_steps(23.5, 43.5, 118.6, 20.5)][:3]
    [20.8, 20.82, 20.78]
    """
    eye, lens = Eye(length_mm, k_d), LensConstants.from_a_constant(a_constant)
    three = FORMULAS.titles(("srk_t", "holladay_1", "hoffer_q"))
    asked = [
        (
            f"{name} asks for",
            f"nearest step {signed(lens_steps.nearest_power(power_d))}",
            power_d,
            "D",
        )
        for name, power_d in (
            (name, float(formulas.iol_power(eye, formula, lens))) for formula, name in three.items()
        )
    ]
    predicted = [
        (
            f"{name} predicts",
            f"for {signed(order_d)}",
            float(formulas.predicted_refraction(eye, formula, lens, order_d)),
            "D",
        )
        for formula, name in three.items()
    ]
    return asked + predicted
