"""Values of the items of lesson eye."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from shared_utils.cases.eye import MM_PER_D, VERTEX_MM, compute_eye_with_cornea
from shared_utils.optics import accommodation, acuity, model_eyes
from shared_utils.optics.vergence import at_vertex, far_point, vergence

if TYPE_CHECKING:
    from typing import Any


def image(angle_deg: float, power_d: float) -> dict[str, Any]:
    """The size of a retinal image."""
    tangent = math.tan(math.radians(angle_deg))
    return {
        "answer": acuity.retinal_size_um(60 * angle_deg, power_d) / 1000,
        "cornea": 24 * tangent,
        "index": 1336 * tangent / power_d,
        "product": tangent * power_d,
        "tangent": tangent,
        "way_mm": 1000 / power_d,
        "focal_mm": 1336 / power_d,
    }


def weak_and_strong(weak_d: float, strong_d: float) -> dict[str, Any]:
    """By how much the weaker of two eyes in focus has the larger retinal image, in per cent."""
    of_weak, of_strong = (acuity.retinal_size_um(5.0, d) for d in (weak_d, strong_d))
    ratio = of_weak / of_strong
    return {"answer": 100 * (ratio - 1), "squared": 100 * (ratio**2 - 1), "ratio": ratio}


def too_long(too_long_mm: float) -> dict[str, Any]:
    """The refraction of an eye of average power that is too long, by the rule."""
    size_d = too_long_mm / MM_PER_D
    return {
        "answer": -size_d,
        "product": -MM_PER_D * too_long_mm,
        "sign": size_d,
        "millimetre": -too_long_mm,
        "size_d": size_d,
    }


def misread(error_mm: float) -> dict[str, Any]:
    """The error of refraction that an error of length makes, by the rule."""
    return {
        "answer": error_mm / MM_PER_D,
        "product": error_mm * MM_PER_D,
        "millimetre": error_mm,
        "whole": 1 / MM_PER_D,
    }


def repeated_length(radius_mm: float, first_mm: float, more_mm: float) -> dict[str, Any]:
    """By how much the refraction of a model eye changes when a repeat finds it longer."""
    eye = compute_eye_with_cornea(radius_mm)
    repeat_mm = first_mm + more_mm
    at_first_d, at_repeat_d = (
        model_eyes.refraction(eye, mm, vertex_mm=0.0) for mm in (first_mm, repeat_mm)
    )
    return {
        "answer": at_repeat_d - at_first_d,
        "sign": at_first_d - at_repeat_d,
        "product": -MM_PER_D * more_mm,
        "repeat_mm": repeat_mm,
        "at_first_d": at_first_d,
        "at_repeat_d": at_repeat_d,
    }


def longer(refraction_d: float) -> dict[str, Any]:
    """By how much an axial myope's eye is too long, by the rule."""
    return {
        "answer": -MM_PER_D * refraction_d,
        "inverse": -refraction_d / MM_PER_D,
        "millimetre": -refraction_d,
        "sign": MM_PER_D * refraction_d,
        "tenth": -MM_PER_D * refraction_d / 10,
        "size_d": -refraction_d,
    }


def gap(left_d: float, more_d: float) -> dict[str, Any]:
    """How much longer the right eye would be if length made it more short-sighted."""
    right_d = left_d - more_d
    right_cornea_d, left_cornea_d = (at_vertex(d, VERTEX_MM, 0.0) for d in (right_d, left_d))
    apart_d = left_cornea_d - right_cornea_d
    return {
        "answer": MM_PER_D * apart_d,
        "spectacles": MM_PER_D * more_d,
        "inverse": apart_d / MM_PER_D,
        "sign": -MM_PER_D * apart_d,
        "right_d": right_d,
        "right_cornea_d": right_cornea_d,
        "left_cornea_d": left_cornea_d,
        "apart_d": apart_d,
    }


def near_point(age_years: float) -> dict[str, Any]:
    """The near point of an average eye without refraction."""
    amplitude_d = accommodation.amplitude_at_age(age_years)
    return {
        "answer": 100 / amplitude_d,
        "lowest": 100 / accommodation.amplitude_at_age(age_years, "minimum"),
        "amplitude": amplitude_d,
        "half": 200 / amplitude_d,
        "amplitude_d": amplitude_d,
    }


def old_myope(refraction_d: float, age_years: float) -> dict[str, Any]:
    """What a short-sighted eye without accommodation sees clearly; its age is told only."""
    answer = -100 * far_point(refraction_d, vertex_mm=0.0)
    return {
        "answer": answer,
        "beyond_cm": answer,
        "nearer_cm": answer,
        "metres_cm": -100 * refraction_d,
        "size_d": -refraction_d,
    }


def amplitude_of_a_range(far_cm: float, near_cm: float) -> dict[str, Any]:
    """The amplitude of accommodation, read off the range of clear vision."""
    far_d, near_d = (-vergence(-cm / 100) for cm in (far_cm, near_cm))
    length_cm = far_cm - near_cm
    return {
        "answer": near_d - far_d,
        "near_d": near_d,
        "far_d": far_d,
        "sum": near_d + far_d,
        "length": vergence(length_cm / 100),
        "length_cm": length_cm,
    }
