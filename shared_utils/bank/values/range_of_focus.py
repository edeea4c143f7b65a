"""Values of the items of lesson range_of_focus."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from shared_utils.cases.range_of_focus import (
    CURVE_D,
    LIMIT_LOGMAR,
    PAIR_D,
    bifocal_curve,
    curve_of,
    plan_steps,
    two_eyes_with,
)
from shared_utils.optics.through_focus import usable_stretches_d
from shared_utils.optics.vergence import focus_distance, vergence

if TYPE_CHECKING:
    from typing import Any

APART_D = 0.5  # between two lenses of a measured curve


def chart_lens(distance_cm: float) -> dict[str, Any]:
    """The lens that makes a far chart stand for a near object."""
    answer = vergence(-distance_cm / 100)
    return {
        "answer": answer,
        "sign": -answer,
        "metres": -distance_cm / 100,
        "centimetres": answer / 100,
        "distance_m": distance_cm / 100,
    }


def first_stretch(ends_d: float, gap_d: float, hill_d: float) -> dict[str, Any]:
    """The range of a curve with a gap, and what else its numbers offer."""
    again_d = ends_d + gap_d
    return {
        "answer": ends_d,
        "again_d": again_d,
        "last_d": again_d + hill_d,
        "both_d": ends_d + hill_d,
    }


def range_of_a_curve(pupil_mm: float, add_d: float) -> dict[str, Any]:
    """What is read off a curve with a gap."""
    curve = bifocal_curve(add_d, pupil_mm)
    (_, ends), (again, last) = usable_stretches_d(CURVE_D, curve, LIMIT_LOGMAR)
    return {"answer": -ends, "again_d": -again, "last_d": -last, "gap_d": ends - again}


def between_points(start_d: float, good: float, bad: float) -> dict[str, Any]:
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


def gain(stretched_cm: float, plain_cm: float) -> dict[str, Any]:
    """By how much a range is longer than a monofocal's."""
    stretched_d, plain_d = -vergence(-stretched_cm / 100), -vergence(-plain_cm / 100)
    return {
        "answer": stretched_d - plain_d,
        "centimetres": 100 / (plain_cm - stretched_cm),
        "metres": (plain_cm - stretched_cm) / 100,
        "stretched_d": stretched_d,
        "plain_d": plain_d,
    }


def gain_of_two_curves(pupil_mm: float, limit_logmar: float) -> dict[str, Any]:
    """By how much an extended-depth lens stretches the range, read off two curves to 0.01 D."""
    stretched_d, plain_d = (
        round(curve_of(lens_class, pupil_mm, limit_logmar).range_d, 2)
        for lens_class in ("extended depth of focus", "monofocal")
    )
    return {
        "answer": stretched_d - plain_d,
        "stretched_d": stretched_d,
        "plain_d": plain_d,
        "metres": focus_distance(-stretched_d) - focus_distance(-plain_d),
    }


def by_pupil(range_d: float, small_mm: float, wide_mm: float) -> dict[str, Any]:
    """The range through a wider pupil, where blur is pupil times defocus."""
    return {
        "answer": range_d * small_mm / wide_mm,
        "inverse": range_d * wide_mm / small_mm,
        "square": range_d * (small_mm / wide_mm) ** 2,
        "unchanged": range_d,
    }


def reach(range_d: float, target_d: float) -> dict[str, Any]:
    """How near two eyes with two targets reach."""
    sum_d = range_d + target_d
    return {
        "answer": -100 * focus_distance(-sum_d),
        "target_alone": 100 / target_d,
        "far_eye": 100 / range_d,
        "averaged": 200 / sum_d,
        "taken_off": 100 / (range_d - target_d),
        "difference_d": range_d - target_d,
        "sum_d": sum_d,
    }


def reach_of_two_curves(pupil_mm: float, myopia_d: float) -> dict[str, Any]:
    """How far two eyes with two targets reach, read off their curves."""
    pair = two_eyes_with(-myopia_d, pupil_mm, "monofocal")
    ahead = pair.near_eye - pair.far_eye  # positive where the far eye is the better one
    between = (PAIR_D < 0) & (PAIR_D + myopia_d > 0)
    return {
        "answer": pair.range_d,
        "far_eye_d": curve_of("monofocal", pupil_mm).range_d,
        "crossing_d": -float(np.interp(0.0, -ahead[between], PAIR_D[between])),
        "target_d": -myopia_d,
    }


def gap(range_d: float, beyond_d: float, target_d: float) -> dict[str, Any]:
    """The gap between two eyes whose targets lie too far apart."""
    *_, begins, between = plan_steps(range_d, beyond_d, -target_d)
    return {
        "overlap": between[2],
        "from_cm": 100 / range_d,
        "to_cm": 100 / begins[2],
        "target_cm": 100 / target_d,
        "meets_d": range_d + beyond_d,
        "answer": between[2],
        "no_beyond": target_d - range_d,
        "beyond_added": target_d + beyond_d - range_d,
        "begins_d": begins[2],
    }
