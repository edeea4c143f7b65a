"""Values of the items of lesson consultation."""

from __future__ import annotations

from statistics import NormalDist
from typing import TYPE_CHECKING

from shared_utils.bank.values import PER_LENS_D
from shared_utils.cases.consultation import NEAR_ENOUGH_D
from shared_utils.cases.light import MOON_MRAD
from shared_utils.optics.retina import geometric_halo_arcmin
from shared_utils.optics.vergence import focus_distance
from shared_utils.power.biometry import Eye
from shared_utils.power.lens_constants import LensConstants
from shared_utils.power.prediction_errors import if_gaussian
from shared_utils.power.regression import srk_1

if TYPE_CHECKING:
    from typing import Any


def owed(base_people: float, ratio: float) -> dict[str, Any]:
    """People of a hundred who owe it to a lens that they wear no glasses."""
    return {
        "answer": base_people * (ratio - 1),
        "all": base_people * ratio,
        "percent": 100 * (ratio - 1),
        "ratio": ratio,
    }


def ring(pupil_mm: float, add_d: float) -> dict[str, Any]:
    """Width of a ring around a lamp, in moons."""
    mrad = pupil_mm * add_d
    return {
        "answer": mrad / MOON_MRAD,
        "mrad": mrad,
        "radius": mrad / MOON_MRAD / 2,
        "arcmin": float(geometric_halo_arcmin(pupil_mm, add_d)) / MOON_MRAD,
    }


def reach(offset_d: float, depth_d: float) -> dict[str, Any]:
    """How near two eyes see, the left set nearer and both with the same depth."""
    return {
        "answer": 100 / (offset_d + depth_d),
        "right": 100 / depth_d,
        "best": 100 / offset_d,
        "dioptres": offset_d + depth_d,
        "sum_d": offset_d + depth_d,
    }


def predicted(
    target_d: float, ordered_d: float, stronger_d: float, per_lens_d: float
) -> dict[str, Any]:
    """The refraction that a lens a little stronger than the formula's should leave."""
    change_d = stronger_d * per_lens_d
    return {
        "answer": target_d - change_d,
        "hyperopic": target_d + change_d,
        "at_lens": target_d - stronger_d,
        "target": target_d,
        "exact_d": ordered_d - stronger_d,
        "change_d": change_d,
    }


def by_hand(new_a: float, old_a: float, length_mm: float, k_d: float) -> dict[str, Any]:
    """The power that SRK I gives with the constant of the lens agreed on."""
    eye = Eye(length_mm, k_d)
    new, old = (
        srk_1(eye, LensConstants.from_a_constant(a)).emmetropic_power_d for a in (new_a, old_a)
    )
    return {
        "answer": new,
        "old": old,
        "swapped": new_a - 0.9 * length_mm - 2.5 * k_d,
        "unweighted": new_a - 2.5 * length_mm - k_d,
    }


def predict_for_the_order(ordered_d: float, weaker_d: float) -> dict[str, Any]:
    """The refraction that a lens a little weaker than the formula's should leave, target zero."""
    answer = PER_LENS_D * weaker_d
    return {"answer": answer, "sign": -answer, "exact_d": ordered_d + weaker_d}


def within_half(sd_d: float, eyes: float) -> dict[str, Any]:
    """How many of some eyes end within half a dioptre of the target."""
    usual = NormalDist()
    within = if_gaussian(sd_d).within[NEAR_ENOUGH_D]
    return {
        "answer": eyes * within,
        "percent": 100 * within,
        "as_share": eyes * sd_d,
        "one_sd": eyes * (1 - 2 * usual.cdf(-1)),
        "two_sd": eyes * (1 - 2 * usual.cdf(-2)),
        "sds": NEAR_ENOUGH_D / sd_d,
        "double_d": 2 * sd_d,
    }


def too_far(left_d: float, sd_d: float) -> dict[str, Any]:
    """Eyes of a hundred that end more than half a dioptre hyperopic."""
    answer = 100 * (1 - NormalDist(left_d, sd_d).cdf(NEAR_ENOUGH_D))
    return {
        "answer": answer,
        "below": 100 - answer,
        "from_zero": 100 * (1 - NormalDist(0, sd_d).cdf(NEAR_ENOUGH_D)),
        "both_tails": 2 * answer,
        "away_d": NEAR_ENOUGH_D - left_d,
        "sds": (NEAR_ENOUGH_D - left_d) / sd_d,
        "zero_sds": NEAR_ENOUGH_D / sd_d,
    }


def people(base_people: float, ratio: float) -> dict[str, Any]:
    """A ratio, said as people of a hundred."""
    everybody = base_people * ratio
    return {
        "all": everybody,
        "rest": 100 - everybody,
        "percent": 100 * ratio,
        "more_percent": 100 * (ratio - 1),
    }


def how_many_for_one(base_people: float, owed_people: float) -> dict[str, Any]:
    """How many must receive a lens for one of them to owe it something."""
    everybody = base_people + owed_people
    return {
        "answer": 100 / owed_people,
        "times": everybody / base_people,
        "all_needed": 100 / everybody,
        "all": everybody,
    }


def people_times(base_people: float, owed_people: float) -> dict[str, Any]:
    """How many times as many do without glasses, read off a hundred people."""
    everybody = base_people + owed_people
    wearing_before, rest = 100 - base_people, 100 - everybody
    return {
        "answer": everybody / base_people,
        "added": owed_people / base_people,
        "one_in": 100 / everybody,
        "wearers": wearing_before / rest,
        "all": everybody,
        "wearing_before": wearing_before,
        "rest": rest,
    }


def two_ranges(right_end_d: float, left_begin_d: float, left_end_d: float) -> dict[str, Any]:
    """Where the ranges of two eyes begin and end."""
    return {
        "far_cm": 100 * focus_distance(left_begin_d),
        "near_cm": 100 * focus_distance(right_end_d),
        "nearest_cm": 100 * focus_distance(left_end_d),
    }
