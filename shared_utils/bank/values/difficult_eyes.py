"""Values of the items of lesson difficult_eyes."""

from __future__ import annotations

from dataclasses import asdict
from statistics import median
from typing import TYPE_CHECKING

from shared_utils.bank.values import PER_LENS_D
from shared_utils.cases import difficult_eyes as cases
from shared_utils.optics.vergence import at_vertex, refract
from shared_utils.power import after_laser, long_eyes, secondary

if TYPE_CHECKING:
    from typing import Any

VERTEX_MM = 12.0
EXCHANGE_MM = 5.0
PIGGYBACK_MM = 5.0


def misplaced(per_mm: float, shift_mm: float) -> dict[str, Any]:
    """The refraction that a lens farther back than predicted leaves."""
    return {
        "answer": per_mm * shift_mm,
        "sign": -per_mm * shift_mm,
        "whole": per_mm,
        "divided": per_mm / shift_mm,
    }


def adjusted(length_mm: float) -> dict[str, Any]:
    """A long length, adjusted for Holladay 1."""
    once_mm = long_eyes.adjusted_length(length_mm, "holladay_1")
    offset_mm = long_eyes.line("holladay_1").offset_mm
    return {
        "answer": once_mm,
        "twice": long_eyes.adjusted_length(once_mm, "holladay_1"),
        "no_offset": once_mm - offset_mm,
        "unchanged": length_mm,
    }


def unadjusted(length_mm: float, per_mm: float) -> dict[str, Any]:
    """The refraction left where a long length is entered as it was measured."""
    adjusted_mm = long_eyes.adjusted_length(length_mm, "srk_t")
    offset_mm = long_eyes.line("srk_t").offset_mm
    too_long = length_mm - adjusted_mm
    return {
        "answer": per_mm * too_long,
        "sign": -per_mm * too_long,
        "too_long": too_long,
        "whole_length": per_mm * (too_long + offset_mm),
        "adjusted_mm": adjusted_mm,
    }


def below_threshold(length_mm: float) -> dict[str, Any]:
    """What SRK/T's line makes of an eye too short for it; the package would leave it alone."""
    slope, offset_mm, *_ = long_eyes.line("srk_t")
    answer = slope * length_mm + offset_mm
    return {
        "answer": answer,
        "shorter": 2.0 * length_mm - answer,
        "no_offset": slope * length_mm,
    }


def read_adjusted(length_mm: float) -> dict[str, Any]:
    """A long length for SRK/T, read off two lines."""
    answer = long_eyes.adjusted_length(length_mm, "srk_t")
    return {
        "answer": answer,
        "longer": 2.0 * length_mm - answer,
        "other": long_eyes.adjusted_length(length_mm, "holladay_1"),
        "twice": long_eyes.adjusted_length(answer, "srk_t"),
        "change_mm": cases.added_length(length_mm, "srk_t"),
        "size_mm": length_mm - answer,
    }


def double_k(k_before_d: float, flatter_d: float) -> dict[str, Any]:
    """The two K of an eye after laser surgery for myopia, and their mean."""
    k_now_d = k_before_d - flatter_d
    return {
        "k_now_d": k_now_d,
        "before_for_optics_d": k_before_d,  # the two exchanged
        "now_for_position_d": k_now_d,
        "mean_d": (k_before_d + k_now_d) / 2.0,
    }


def history_at_cornea(k_before_d: float, treated_d: float) -> dict[str, Any]:
    """K by clinical history where the treatment is known at the cornea."""
    return {
        "answer": after_laser.clinical_history_k(k_before_d, treated_d, 0.0, vertex_mm=0.0),
        "sign": k_before_d - treated_d,
        "halved": k_before_d + treated_d / 2.0,
        "vertexed": k_before_d + at_vertex(treated_d, 0.0, VERTEX_MM),
        "size_d": -treated_d,
    }


def three_errors(ring_d: float, index_d: float, position_d: float) -> dict[str, Any]:
    """What is left after laser surgery as one error after the other is mended."""
    measured_d, ring_mended_d, *_ = cases.refraction_left(ring_d, index_d, position_d)
    return {"answer": index_d, "ring_mended": ring_mended_d, "measured": measured_d}


def methods_after_laser(
    uncorrected_d: float,
    weak_d: float,
    double_k_below_d: float,
    masket_below_d: float,
    shammas_over_d: float,
    haigis_over_d: float,
) -> dict[str, Any]:
    """Where the uncorrected lens leaves an eye, if the middle of five methods is right."""
    history_d = uncorrected_d + weak_d
    methods_d = {
        "double_k_d": history_d - double_k_below_d,
        "history_d": history_d,
        "masket_d": history_d - masket_below_d,
        "shammas_pl_d": history_d + shammas_over_d,
        "haigis_l_d": history_d + haigis_over_d,
    }
    middle_d = median(methods_d.values())
    answer = PER_LENS_D * (middle_d - uncorrected_d)
    return {
        **methods_d,
        "answer": answer,
        "sign": -answer,
        "divided": (middle_d - uncorrected_d) / PER_LENS_D,
        "middle_d": middle_d,
    }


def at_its_place(arriving_d: float, lens_d: float) -> dict[str, Any]:
    """The power of a lens from what arrives and what leaves."""
    leaving_d = refract(arriving_d, lens_d)
    return {
        "answer": leaving_d - arriving_d,
        "added": leaving_d + arriving_d,
        "mean": (leaving_d + arriving_d) / 2.0,
        "sign": arriving_d - leaving_d,
        "leaving_d": round(float(leaving_d)),
    }


def piggyback(k_d: float, refraction_d: float) -> dict[str, Any]:
    """The lens to add 5 mm behind the cornea."""
    return {**added(k_d, refraction_d, PIGGYBACK_MM), "doubled": 2.0 * refraction_d}


def history(k_before_d: float, before_d: float, after_d: float) -> dict[str, Any]:
    """K by clinical history."""
    treated_d = after_laser.treated_refraction(before_d, after_d, VERTEX_MM)
    before_c = at_vertex(before_d, VERTEX_MM, 0.0)
    return {
        "answer": after_laser.clinical_history_k(k_before_d, before_d, after_d, VERTEX_MM),
        "sign": k_before_d - treated_d,
        "no_vertex": k_before_d + before_d - after_d,
        "no_residual": k_before_d + before_c,
        "before_c": before_c,
        "after_c": at_vertex(after_d, VERTEX_MM, 0.0),
        "treated_d": treated_d,
    }


def added(k_d: float, refraction_d: float, position_mm: float) -> dict[str, Any]:
    """The lens to add to one that stays."""
    answer = secondary.added_power(k_d, refraction_d, position_mm, vertex_mm=VERTEX_MM)
    factor = answer / refraction_d
    return {
        "answer": answer,
        "refraction": refraction_d,
        "divided": refraction_d / factor,
        "sign": -answer,
        "factor": factor,
        **asdict(cases.compute_vergences_at_lens(k_d, refraction_d, position_mm, VERTEX_MM)),
    }


def exchange(k_d: float, refraction_d: float, old_d: float) -> dict[str, Any]:
    """The lens that takes the place of another."""
    answer = secondary.exchange_power(k_d, refraction_d, old_d, EXCHANGE_MM, vertex_mm=VERTEX_MM)
    return {
        "answer": answer,
        "sign": 2 * old_d - answer,
        "once": old_d + refraction_d,
        "change_d": answer - old_d,
        **asdict(cases.compute_vergences_at_lens(k_d, refraction_d, EXCHANGE_MM, VERTEX_MM)),
    }
