"""Values of the items of lesson tasks."""

from __future__ import annotations

from math import ceil, log10
from typing import TYPE_CHECKING

from shared_utils.cases.tasks import BLUR_TO_D, TALL_LETTER, blur_at_end_mrad
from shared_utils.choice.everyday_tasks import (
    LIGHT_LOSS_LOGMAR,
    PAGE_RESERVE_LOGMAR,
    WORD_RESERVE_LOGMAR,
    Task,
)
from shared_utils.optics.acuity import blur_circle_arcmin, logmar_of_m_units
from shared_utils.optics.vergence import focus_distance, vergence

if TYPE_CHECKING:
    from typing import Any

ARCMIN_OF_MRAD = 3.44


def label(limit: float) -> dict[str, Any]:
    """The acuity that a word needs in dim light, from the limit at which it is resolved."""
    reserve, light = WORD_RESERVE_LOGMAR, LIGHT_LOSS_LOGMAR["dim"]
    return {
        "answer": limit - reserve - light,
        "added": limit + reserve + light,
        "one_left_out": limit - reserve,
    }


def need(distance_cm: float, letter_mm: float) -> dict[str, Any]:
    """The acuity that a page needs in bright light."""
    answer = Task("page", distance_cm / 100, letter_mm, page=True).needed_logmar
    limit = answer + PAGE_RESERVE_LOGMAR
    return {
        "answer": answer,
        "limit": limit,
        "added": limit + PAGE_RESERVE_LOGMAR,
        "whole": answer + log10(5),
        "detail_mm": letter_mm / 5,
        "detail_arcmin": 10**limit,
    }


def reader(page_cm: float, depth_d: float) -> dict[str, Any]:
    """The weakest reader, in quarters rounded up, over a lens with some depth."""

    def quarters(power_d):
        return 0.25 * ceil(power_d / 0.25 - 1e-9)

    demand_d = 100 / page_cm
    return {
        "answer": quarters(demand_d - depth_d),
        "whole": quarters(demand_d),
        "added": quarters(demand_d + depth_d),
        "depth": depth_d,
        "demand_d": demand_d,
        "lacking_d": demand_d - depth_d,
    }


def blur(pupil_mm: float, defocus_d: float) -> dict[str, Any]:
    """The width of a blur disc."""
    answer = blur_circle_arcmin(defocus_d, pupil_mm)
    return {
        "answer": answer,
        "milliradians": pupil_mm * defocus_d,
        "radius": answer / 2,
        "degrees": answer / 60,
        "product": pupil_mm * defocus_d,
    }


def gap(add_d: float, far_depth_d: float, half_d: float) -> dict[str, Any]:
    """Where the near focus of a bifocal begins to serve, coming from far."""
    return {
        "answer": 100 / (add_d - half_d),
        "focus": 100 / add_d,
        "nearest": 100 / (add_d + half_d),
        "far": 100 / far_depth_d,
        "begins_d": add_d - half_d,
    }


def wider_pupil(day_mm: float, borne_d: float, evening_mm: float) -> dict[str, Any]:
    """The defocus that makes the same blur disc with another pupil."""
    share = day_mm / evening_mm
    return {
        "answer": borne_d * share,
        "inverse": borne_d / share,
        "squared": borne_d * share**2,
        "unchanged": borne_d,
        "mrad": day_mm * borne_d,
    }


def need_of_print(letter_mm: float, distance_cm: float) -> dict[str, Any]:
    """The acuity that a page needs, its letters read off a scale."""
    tall_mm = TALL_LETTER * letter_mm
    return {
        **need(distance_cm, letter_mm),
        "tall": Task("page", distance_cm / 100, tall_mm, page=True).needed_logmar,
        "tall_mm": tall_mm,
    }


def ends_at_arm(depth_d: float, page_cm: float) -> dict[str, Any]:
    """Where a range that begins at far ends."""
    end_m = focus_distance(depth_d)
    return {
        "answer": 100 * end_m,
        "tens": 10 * depth_d,
        "tens_d": vergence(depth_d / 10),
        "metres_cm": 100 * depth_d,
        "inwards": 100 * end_m,
        "end_m": end_m,
        "page_d": vergence(page_cm / 100),
    }


def reader_costs(reader_d: float, page_cm: float) -> dict[str, Any]:
    """Where an eye set for far sees best behind a reader."""
    best_m = focus_distance(reader_d)
    return {"answer": 100 * best_m, "best_m": best_m, "page_d": vergence(page_cm / 100)}


def offset_eye(offset_d: float, page_cm: float) -> dict[str, Any]:
    """Where an eye that is made short-sighted sees best."""
    best_m = focus_distance(offset_d)
    return {
        "answer": 100 * best_m,
        "metres_cm": 100 * offset_d,
        "best_m": best_m,
        "page_d": vergence(page_cm / 100),
    }


def two_pupils(defocus_d: float, small_mm: float, wide_mm: float) -> dict[str, Any]:
    """How many times as wide the blur disc is with a wide pupil."""
    answer = blur_circle_arcmin(defocus_d, wide_mm) / blur_circle_arcmin(defocus_d, small_mm)
    return {
        "answer": answer,
        "area": answer**2,
        "small_mrad": small_mm * defocus_d,
        "wide_mrad": wide_mm * defocus_d,
    }


def m_units(print_m: float, distance_cm: float) -> dict[str, Any]:
    """The acuity at which print of some M units is just resolved."""
    answer = logmar_of_m_units(print_m, distance_cm / 100)
    return {
        "answer": answer,
        "inverse": -answer,
        "with_reserve": answer - PAGE_RESERVE_LOGMAR,
        "times": 100 * print_m / distance_cm,
    }


def pupil_from_blur(narrow_mm: float, wide_mm: float) -> dict[str, Any]:
    """The wider of two pupils, read off how the blur disc grows with defocus."""
    end_mrad = blur_at_end_mrad(wide_mm)
    return {
        "answer": end_mrad / BLUR_TO_D,
        "end_mrad": end_mrad,
        "as_arcmin": end_mrad / BLUR_TO_D / ARCMIN_OF_MRAD,
        "day_mrad": blur_at_end_mrad(narrow_mm),
    }
