"""Lesson 05: measuring the eye."""

from shared_utils.power import cornea
from shared_utils.power.axial_length import SPEED_M_PER_S, length_by_sound

PER_MM = 2.7  # D at the spectacles for a millimetre of length, average eye
PER_K = 1.0


def front_power(k_d):
    """The power of the front surface behind a reading at 1.3375."""
    radius_mm = cornea.radius(k_d)
    return {
        "answer": cornea.keratometry(radius_mm, cornea.STROMA_INDEX),
        "reading": k_d,
        "whole_index": k_d * 1.376 / 1.3375,
        "radius": radius_mm,
        "radius_mm": radius_mm,
    }


def echo(time_us):
    """The length of a phakic eye from the time of its echo."""
    return {
        "answer": length_by_sound(time_us, SPEED_M_PER_S["phakic eye"]),
        "both_ways": 2.0 * length_by_sound(time_us, SPEED_M_PER_S["phakic eye"]),
        "humours": length_by_sound(time_us, SPEED_M_PER_S["vitreous"]),
        "lens": length_by_sound(time_us, SPEED_M_PER_S["lens"]),
        "half_us": time_us / 2.0,
    }


def lens_by_echo(front_us, lens_us):
    """The thickness of a lens from the echoes of its two sides."""
    speed = SPEED_M_PER_S["lens"]
    return {
        "answer": length_by_sound(lens_us, speed),
        "both_ways": 2.0 * length_by_sound(lens_us, speed),
        "humours": length_by_sound(lens_us, SPEED_M_PER_S["aqueous"]),
        "from_cornea": length_by_sound(front_us + lens_us, speed),
        "back_us": front_us + lens_us,
    }


def two_errors(length_mm, k_d):
    """What is left by a length read too long and a cornea read too flat, average eye."""
    return {
        "answer": PER_MM * length_mm - PER_K * k_d,
        "sign": PER_K * k_d - PER_MM * length_mm,
        "added": PER_MM * length_mm + PER_K * k_d,
        "length_alone": PER_MM * length_mm,
        "from_length_d": PER_MM * length_mm,
    }
