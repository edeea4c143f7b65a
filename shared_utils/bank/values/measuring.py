"""Values of the items of lesson measuring."""

from __future__ import annotations

from typing import TYPE_CHECKING

from shared_utils.bank.values import PER_LENS_D
from shared_utils.cases.measuring import (
    LENS_MM,
    compute_cost_per_mm,
    compute_length_readings,
    compute_refractive_surprise,
)
from shared_utils.power import cornea
from shared_utils.power.axial_length import SPEED_M_PER_S, length_by_sound

if TYPE_CHECKING:
    from typing import Any

PER_MM = 2.7  # D at the spectacles for a millimetre of length, average eye
PER_K = 1.0


def other_index(shown_d: float) -> dict[str, Any]:
    """A reading at 1.332 as a formula expects it, at 1.3375."""
    shown, wanted = (
        cornea.KERATOMETRIC_INDEX[name] for name in ("other_keratometer", "keratometer")
    )
    answer = cornea.convert_keratometry(shown_d, shown, wanted)
    return {
        "answer": answer,
        "turned": cornea.convert_keratometry(shown_d, wanted, shown),
        "unchanged": shown_d,
        "whole_index": shown_d * wanted / shown,
        "loss_d": answer - shown_d,
        "radius_mm": cornea.radius(shown_d, shown),
    }


def front_power(k_d: float) -> dict[str, Any]:
    """The power of the front surface behind a reading at 1.3375."""
    radius_mm = cornea.radius(k_d)
    return {
        "answer": cornea.keratometry(radius_mm, cornea.STROMA_INDEX),
        "reading": k_d,
        "whole_index": k_d * 1.376 / 1.3375,
        "radius": radius_mm,
        "radius_mm": radius_mm,
    }


def echo(time_us: float) -> dict[str, Any]:
    """The length of a phakic eye from the time of its echo."""
    return {
        "answer": length_by_sound(time_us, SPEED_M_PER_S["phakic eye"]),
        "both_ways": 2.0 * length_by_sound(time_us, SPEED_M_PER_S["phakic eye"]),
        "humours": length_by_sound(time_us, SPEED_M_PER_S["vitreous"]),
        "lens": length_by_sound(time_us, SPEED_M_PER_S["lens"]),
        "half_us": time_us / 2.0,
    }


def lens_by_echo(front_us: float, lens_us: float) -> dict[str, Any]:
    """The thickness of a lens from the echoes of its two sides."""
    speed = SPEED_M_PER_S["lens"]
    return {
        "answer": length_by_sound(lens_us, speed),
        "both_ways": 2.0 * length_by_sound(lens_us, speed),
        "humours": length_by_sound(lens_us, SPEED_M_PER_S["aqueous"]),
        "from_cornea": length_by_sound(front_us + lens_us, speed),
        "back_us": front_us + lens_us,
    }


def two_errors(length_mm: float, k_d: float) -> dict[str, Any]:
    """What is left by a length read too long and a cornea read too flat, average eye."""
    return {
        "answer": PER_MM * length_mm - PER_K * k_d,
        "sign": PER_K * k_d - PER_MM * length_mm,
        "added": PER_MM * length_mm + PER_K * k_d,
        "length_alone": PER_MM * length_mm,
        "from_length_d": PER_MM * length_mm,
    }


def vitreous_by_echo(front_us: float, lens_us: float, vitreous_us: float) -> dict[str, Any]:
    """The length of the vitreous from the echoes of the lens and the retina."""
    speed = SPEED_M_PER_S["vitreous"]
    back_us = front_us + lens_us
    return {
        "answer": length_by_sound(vitreous_us, speed),
        "from_front": length_by_sound(lens_us + vitreous_us, speed),
        "both_ways": 2.0 * length_by_sound(vitreous_us, speed),
        "lens": length_by_sound(vitreous_us, SPEED_M_PER_S["lens"]),
        "back_us": back_us,
        "retina_us": back_us + vitreous_us,
    }


def long_by_light(length_mm: float) -> dict[str, Any]:
    """What one index for the whole eye adds to a long eye."""
    too_long = compute_length_readings(length_mm, LENS_MM)["light"] - length_mm
    return {
        "answer": too_long,
        "too_short": too_long,  # the same size the other way
        "tenfold": 10.0 * too_long,
        "surprise_d": compute_refractive_surprise(length_mm, "length", too_long),
        "tenfold_d": compute_refractive_surprise(length_mm, "length", 10.0 * too_long),
    }


def short_eye(error_mm: float) -> dict[str, Any]:
    """The refraction that a length read too short leaves in an eye of 20 mm."""
    per_mm = round(float(compute_cost_per_mm(20.0)), 1)
    return {
        "answer": -per_mm * error_mm,
        "sign": per_mm * error_mm,
        "average": -PER_MM * error_mm,
        "millimetres": -error_mm,
        "per_mm": per_mm,
        "size_d": per_mm * error_mm,
    }


def too_steep(true_d: float, steep_d: float) -> dict[str, Any]:
    """The refraction that a cornea read too steep leaves."""
    return {
        "answer": PER_K * steep_d,
        "sign": -PER_K * steep_d,
        "at_lens": PER_K * steep_d / PER_LENS_D,
        "as_length": PER_MM * steep_d,
        "read_d": true_d + steep_d,
    }


def read_price(length_mm: float, error_mm: float) -> dict[str, Any]:
    """The refraction that a length read too long leaves, by a price read off a curve."""
    per_mm = round(float(compute_cost_per_mm(length_mm)), 1)
    return {
        "answer": per_mm * error_mm,
        "sign": -per_mm * error_mm,
        "average": PER_MM * error_mm,
        "whole": per_mm,
        "per_mm": per_mm,
    }
