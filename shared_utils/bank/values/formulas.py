"""Values of the items of lesson formulas."""

from __future__ import annotations

from typing import TYPE_CHECKING

from shared_utils.bank.values import PER_LENS_D
from shared_utils.cases.formulas import CORNEA_D, ELP_MM, LENGTH_MM, compute_vergence_gap
from shared_utils.optics.vergence import propagate
from shared_utils.power import core, formulas
from shared_utils.power.biometry import Eye
from shared_utils.power.lens_constants import LensConstants

if TYPE_CHECKING:
    from typing import Any

PER_PLACE_D = 1.3  # D at the spectacles for a millimetre of lens position, average eye


def deeper(deeper_mm: float) -> dict[str, Any]:
    """How much more lens an average eye needs where the lens lies deeper."""
    answer = _average_lens_d(ELP_MM + deeper_mm) - _average_lens_d(ELP_MM)
    return {
        "answer": answer,
        "weaker": answer,  # the same size the other way
        "at_spectacles": PER_PLACE_D * deeper_mm,
    }


def _average_lens_d(elp_mm):
    return compute_vergence_gap(LENGTH_MM, CORNEA_D, elp_mm).lens_d


def raised(before: float, rise: float) -> dict[str, Any]:
    """What SRK/T makes of a larger A-constant in an average eye."""
    eye = Eye(LENGTH_MM, CORNEA_D)
    old, new = (LensConstants.from_a_constant(a) for a in (before, before + rise))
    # a regression alone has no lens position, and SRK/T is none
    old_mm, new_mm = (
        formulas.steps(eye, "srk_t", lens).elp_mm  # type: ignore[union-attr]
        for lens in (old, new)
    )
    old_d, new_d = (formulas.iol_power(eye, "srk_t", lens) for lens in (old, new))
    return {
        "answer": new_d - old_d,
        "deeper_mm": new_mm - old_mm,
        "nearer_mm": new_mm - old_mm,  # the same sizes the other way
        "less_d": new_d - old_d,
        "whole_mm": rise,  # a millimetre for 1 of A
        "whole_d": rise * (new_d - old_d) / (new_mm - old_mm),
        "after": before + rise,
        "at_spectacles": formulas.predicted_refraction(eye, "srk_t", new, old_d),
    }


def arrives(cornea_d: float, position_mm: float) -> dict[str, Any]:
    """The vergence that arrives at the lens from the cornea."""
    way_m = position_mm / 1000.0
    return {
        "answer": propagate(cornea_d, way_m, core.AQUEOUS_INDEX),
        "unchanged": cornea_d,
        "backwards": propagate(cornea_d, -way_m, core.AQUEOUS_INDEX),
        "air": propagate(cornea_d, way_m),
        "way_m": way_m,
        "focus_mm": core.REDUCED / cornea_d,
        "left_mm": core.REDUCED / cornea_d - position_mm,
    }


def difference(length_mm: float, position_mm: float, arriving_d: float) -> dict[str, Any]:
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


def place(chamber_mm: float, length_mm: float) -> dict[str, Any]:
    """Haigis's lens position with a0 of 0.98 mm, a1 of 0.4 and a2 of 0.1."""
    return {
        "answer": 0.98 + 0.4 * chamber_mm + 0.1 * length_mm,
        "exchanged": 0.98 + 0.1 * chamber_mm + 0.4 * length_mm,
        "no_a0": 0.4 * chamber_mm + 0.1 * length_mm,
        "whole": 0.98 + chamber_mm + 0.1 * length_mm,
    }


def srk(a_constant: float, length_mm: float, k_d: float) -> dict[str, Any]:
    """SRK I."""
    return {
        "answer": a_constant - 2.5 * length_mm - 0.9 * k_d,
        "exchanged": a_constant - 0.9 * length_mm - 2.5 * k_d,
        "whole_k": a_constant - 2.5 * length_mm - k_d,
        "no_k": a_constant - 2.5 * length_mm,
    }


def left_by(computed_d: float, off_d: float) -> dict[str, Any]:
    """The refraction that a lens leaves which differs from the one computed for zero."""
    return {
        "answer": -PER_LENS_D * off_d,
        "sign": PER_LENS_D * off_d,
        "whole": -off_d,
        "inverse": -off_d / PER_LENS_D,
        "implanted_d": computed_d + off_d,
    }


def gap(length_mm: float, k_d: float, position_mm: float) -> dict[str, Any]:
    """The lens as the gap between two curves, each read to a dioptre at its place."""
    arrives_d = round(arrives(k_d, position_mm)["answer"])
    needed_d = round(difference(length_mm, position_mm, arrives_d)["needed"])
    return {
        "answer": needed_d - arrives_d,
        "needed": needed_d,
        "arrives": arrives_d,
        "at_cornea": difference(length_mm, 0.0, k_d)["answer"],
    }


def stronger(planned_d: float, step_d: float) -> dict[str, Any]:
    """By how much a stronger lens moves the refraction."""
    return {
        "answer": PER_LENS_D * step_d,
        "whole": step_d,
        "inverse": step_d / PER_LENS_D,
        "hyperopic": PER_LENS_D * step_d,  # the same size the other way
        "implanted_d": planned_d + step_d,
    }


def for_implanted(implanted_d: float, over_d: float) -> dict[str, Any]:
    """The prediction for a lens that is a little stronger than the one computed for zero."""
    computed_d = implanted_d - over_d
    return {**left_by(computed_d, over_d), "computed_d": computed_d}


def shelf(middle_d: float, off_d: float, target_d: float) -> dict[str, Any]:
    """The lens to order from seven, of which one is predicted to miss the target by ``off_d``."""
    powers_d = tuple(middle_d + 0.5 * n for n in range(-4, 3))
    left_d = {p: target_d + off_d + left_by(middle_d, p - middle_d)["answer"] for p in powers_d}
    weaker_d, stronger_d = middle_d - 0.5, middle_d + 0.5
    return {
        "answer": min(powers_d, key=lambda p: abs(left_d[p] - target_d)),
        "zero_lens": min(powers_d, key=lambda p: abs(left_d[p])),
        "weaker_lens": weaker_d,
        "stronger_lens": stronger_d,
        "left": left_d[middle_d],
        "miss": abs(off_d),
        "weaker_left": left_d[weaker_d],
        "weaker_miss": abs(left_d[weaker_d] - target_d),
        "stronger_left": left_d[stronger_d],
        "stronger_miss": abs(left_d[stronger_d] - target_d),
        "iol_power_d": powers_d,
        "predicted_d": tuple(left_d.values()),
    }
