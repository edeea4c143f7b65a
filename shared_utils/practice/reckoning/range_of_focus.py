"""Lesson 12: range of focus."""

from shared_utils.explore.range_of_focus import plan_steps
from shared_utils.optics.vergence import focus_distance, vergence
from shared_utils.show.range_of_focus import LIMIT_LOGMAR

APART_D = 0.5  # between two lenses of a measured curve


def chart_lens(distance_cm):
    """The lens that makes a far chart stand for a near object."""
    answer = vergence(-distance_cm / 100)
    return {
        "answer": answer,
        "sign": -answer,
        "metres": -distance_cm / 100,
        "centimetres": answer / 100,
        "distance_m": distance_cm / 100,
    }


def between_points(start_d, good, bad):
    """Where a straight piece of a defocus curve crosses the limit."""
    share = (LIMIT_LOGMAR - good) / (bad - good)
    answer = start_d + share * APART_D
    return {
        "answer": answer,
        "last_good": start_d,
        "first_bad": start_d + APART_D,
        "metres": 1 / answer,
        "share": share,
        "further_d": share * APART_D,
    }


def gain(stretched_cm, plain_cm):
    """By how much a range is longer than a monofocal's."""
    stretched_d, plain_d = -vergence(-stretched_cm / 100), -vergence(-plain_cm / 100)
    return {
        "answer": stretched_d - plain_d,
        "centimetres": 100 / (plain_cm - stretched_cm),
        "metres": (plain_cm - stretched_cm) / 100,
        "stretched_d": stretched_d,
        "plain_d": plain_d,
    }


def by_pupil(range_d, small_mm, wide_mm):
    """The range through a wider pupil, where blur is pupil times defocus."""
    return {
        "answer": range_d * small_mm / wide_mm,
        "inverse": range_d * wide_mm / small_mm,
        "square": range_d * (small_mm / wide_mm) ** 2,
        "unchanged": range_d,
    }


def reach(range_d, target_d):
    """How near two eyes with two targets reach."""
    sum_d = range_d + target_d
    return {
        "answer": -100 * focus_distance(-sum_d),
        "target_alone": 100 / target_d,
        "far_eye": 100 / range_d,
        "averaged": 200 / sum_d,
        "sum_d": sum_d,
    }


def gap(range_d, beyond_d, target_d):
    """The gap between two eyes whose targets lie too far apart."""
    *_, begins, between = plan_steps(range_d, beyond_d, -target_d)
    return {
        "answer": between[2],
        "no_beyond": target_d - range_d,
        "beyond_added": target_d + beyond_d - range_d,
        "begins_d": begins[2],
    }
