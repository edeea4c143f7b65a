"""Lesson 15: the consultation."""

from shared_utils.optics.retina import geometric_halo_arcmin

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
