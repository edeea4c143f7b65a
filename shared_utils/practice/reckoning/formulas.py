"""Lesson 06: power formulas."""

from shared_utils.optics.vergence import propagate
from shared_utils.power import core

PER_LENS_D = 0.7  # D at the spectacles for a dioptre of lens, average eye


def arrives(cornea_d, position_mm):
    """The vergence that arrives at the lens from the cornea."""
    way_m = position_mm / 1000.0
    return {
        "answer": propagate(cornea_d, way_m, core.AQUEOUS_INDEX),
        "unchanged": cornea_d,
        "backwards": propagate(cornea_d, -way_m, core.AQUEOUS_INDEX),
        "air": propagate(cornea_d, way_m),
        "focus_mm": core.REDUCED / cornea_d,
        "left_mm": core.REDUCED / cornea_d - position_mm,
    }


def difference(length_mm, position_mm, arriving_d):
    """The lens power from what arrives and what the retina needs."""
    needed_d = core.REDUCED / (length_mm - position_mm)
    return {
        "answer": needed_d - arriving_d,
        "needed": needed_d,
        "from_cornea": core.REDUCED / length_mm - arriving_d,
        "sign": arriving_d - needed_d,
        "behind_mm": length_mm - position_mm,
        "needed_d": needed_d,
    }


def place(chamber_mm, length_mm):
    """Haigis's lens position with a0 of 0.98 mm, a1 of 0.4 and a2 of 0.1."""
    return {
        "answer": 0.98 + 0.4 * chamber_mm + 0.1 * length_mm,
        "exchanged": 0.98 + 0.1 * chamber_mm + 0.4 * length_mm,
        "no_a0": 0.4 * chamber_mm + 0.1 * length_mm,
        "whole": 0.98 + chamber_mm + 0.1 * length_mm,
    }


def srk(a_constant, length_mm, k_d):
    """SRK I."""
    return {
        "answer": a_constant - 2.5 * length_mm - 0.9 * k_d,
        "exchanged": a_constant - 0.9 * length_mm - 2.5 * k_d,
        "whole_k": a_constant - 2.5 * length_mm - k_d,
        "no_k": a_constant - 2.5 * length_mm,
    }


def left_by(computed_d, off_d):
    """The refraction that a lens leaves which differs from the one computed for zero."""
    return {
        "answer": -PER_LENS_D * off_d,
        "sign": PER_LENS_D * off_d,
        "whole": -off_d,
        "inverse": -off_d / PER_LENS_D,
        "implanted_d": computed_d + off_d,
    }
