"""Lesson 14: tasks and glasses."""

from math import ceil, log10

from shared_utils.choice.tasks import PAGE_RESERVE_LOGMAR, Task
from shared_utils.optics.acuity import blur_circle_arcmin


def need(distance_cm, letter_mm):
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


def reader(page_cm, depth_d):
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


def blur(pupil_mm, defocus_d):
    """The width of a blur disc."""
    answer = blur_circle_arcmin(defocus_d, pupil_mm)
    return {
        "answer": answer,
        "milliradians": pupil_mm * defocus_d,
        "radius": answer / 2,
        "degrees": answer / 60,
        "product": pupil_mm * defocus_d,
    }


def gap(add_d, far_depth_d, half_d):
    """Where the near focus of a bifocal begins to serve, coming from far."""
    return {
        "answer": 100 / (add_d - half_d),
        "focus": 100 / add_d,
        "nearest": 100 / (add_d + half_d),
        "far": 100 / far_depth_d,
        "begins_d": add_d - half_d,
    }


def wider_pupil(day_mm, borne_d, evening_mm):
    """The defocus that makes the same blur disc with another pupil."""
    share = day_mm / evening_mm
    return {
        "answer": borne_d * share,
        "inverse": borne_d / share,
        "squared": borne_d * share**2,
        "unchanged": borne_d,
        "mrad": day_mm * borne_d,
    }
