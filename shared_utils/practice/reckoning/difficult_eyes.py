"""Lesson 08: difficult eyes."""

from shared_utils.optics.vergence import at_vertex, propagate
from shared_utils.power import after_laser, core, long_eyes, secondary

VERTEX_MM = 12.0
EXCHANGE_MM = 5.0


def misplaced(per_mm, shift_mm):
    """The refraction that a lens farther back than predicted leaves."""
    return {
        "answer": per_mm * shift_mm,
        "sign": -per_mm * shift_mm,
        "whole": per_mm,
        "divided": per_mm / shift_mm,
    }


def adjusted(length_mm):
    """A long length, adjusted for Holladay 1."""
    once_mm = long_eyes.adjusted_length(length_mm, "holladay_1")
    offset_mm = long_eyes.ADJUSTMENTS[2011]["holladay_1"][1]
    return {
        "answer": once_mm,
        "twice": long_eyes.adjusted_length(once_mm, "holladay_1"),
        "no_offset": once_mm - offset_mm,
        "unchanged": length_mm,
    }


def unadjusted(length_mm, per_mm):
    """The refraction left where a long length is entered as it was measured."""
    adjusted_mm = long_eyes.adjusted_length(length_mm, "srk_t")
    offset_mm = long_eyes.ADJUSTMENTS[2011]["srk_t"][1]
    too_long = length_mm - adjusted_mm
    return {
        "answer": per_mm * too_long,
        "sign": -per_mm * too_long,
        "too_long": too_long,
        "whole_length": per_mm * (too_long + offset_mm),
        "adjusted_mm": adjusted_mm,
    }


def history(k_before_d, before_d, after_d):
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


def added(k_d, refraction_d, position_mm):
    """The lens to add to one that stays."""
    answer = secondary.added_power(k_d, refraction_d, position_mm, vertex_mm=VERTEX_MM)
    factor = answer / refraction_d
    return {
        "answer": answer,
        "refraction": refraction_d,
        "divided": refraction_d / factor,
        "sign": -answer,
        "factor": factor,
        **_at_lens(k_d, refraction_d, position_mm),
    }


def exchange(k_d, refraction_d, old_d):
    """The lens that takes the place of another."""
    answer = secondary.exchange_power(k_d, refraction_d, old_d, EXCHANGE_MM, vertex_mm=VERTEX_MM)
    return {
        "answer": answer,
        "sign": 2 * old_d - answer,
        "once": old_d + refraction_d,
        "change_d": answer - old_d,
        **_at_lens(k_d, refraction_d, EXCHANGE_MM),
    }


def _at_lens(k_d, refraction_d, position_mm):
    """The steps to the two vergences at the lens."""
    at_cornea_d = at_vertex(refraction_d, VERTEX_MM, 0.0)
    way_m = position_mm / 1000.0
    return {
        "at_cornea_d": at_cornea_d,
        "present_d": propagate(k_d + at_cornea_d, way_m, core.AQUEOUS_INDEX),
        "wanted_d": propagate(k_d, way_m, core.AQUEOUS_INDEX),
    }
