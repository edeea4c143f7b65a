"""Lesson 15: the consultation."""

from shared_utils.optics.retina import geometric_halo_arcmin
from shared_utils.power.biometry import Eye
from shared_utils.power.constants import LensConstants
from shared_utils.power.regression import srk_1

MOON_MRAD = 9.0


def owed(base_people, ratio):
    """People of a hundred who owe it to a lens that they wear no glasses."""
    return {
        "answer": base_people * (ratio - 1),
        "all": base_people * ratio,
        "percent": 100 * (ratio - 1),
        "ratio": ratio,
    }


def ring(pupil_mm, add_d):
    """Width of a ring around a lamp, in moons."""
    mrad = pupil_mm * add_d
    return {
        "answer": mrad / MOON_MRAD,
        "mrad": mrad,
        "radius": mrad / MOON_MRAD / 2,
        "arcmin": float(geometric_halo_arcmin(pupil_mm, add_d)) / MOON_MRAD,
    }


def reach(offset_d, depth_d):
    """How near two eyes see, the left set nearer and both with the same depth."""
    return {
        "answer": 100 / (offset_d + depth_d),
        "right": 100 / depth_d,
        "best": 100 / offset_d,
        "dioptres": offset_d + depth_d,
        "sum_d": offset_d + depth_d,
    }


def predicted(target_d, ordered_d, stronger_d, per_lens_d):
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


def by_hand(new_a, old_a, length_mm, k_d):
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
