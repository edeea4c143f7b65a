"""Lesson 04: astigmatism."""

import math

from shared_utils.optics.sphero_cylinder import SpheroCylinder


def along(sphere_d, cylinder_d, axis_deg, gap_deg):
    """The power of a lens along a meridian."""
    meridian_deg = axis_deg + gap_deg
    turn = math.radians(gap_deg)
    return {
        "answer": SpheroCylinder(sphere_d, cylinder_d, axis_deg).power_along(meridian_deg),
        "cosine": sphere_d + cylinder_d * math.cos(turn) ** 2,
        "unsquared": sphere_d + cylinder_d * math.sin(turn),
        "parts": sphere_d + cylinder_d * gap_deg / 90,
        "meridian_deg": meridian_deg,
        "share": math.sin(turn) ** 2,
    }


def circle_sphere(sphere_d, cylinder_d):
    """The sphere that brings the circle of least confusion onto the retina."""
    return {
        "answer": SpheroCylinder(sphere_d, cylinder_d, 90).spherical_equivalent_d,
        "sphere": sphere_d,
        "whole": sphere_d + cylinder_d,
        "sign": sphere_d - cylinder_d / 2,
        "half_d": cylinder_d / 2,
    }


def arrow(j0_d, j45_d):
    """The minus cylinder that an arrow stands for."""
    length_d = math.hypot(j0_d, j45_d)
    return {
        "answer": SpheroCylinder.from_power_vector(0.0, j0_d, j45_d).cylinder_d,
        "length": -length_d,
        "numbers": -2 * (j0_d + j45_d),
        "sign": 2 * length_d,
        "length_d": length_d,
    }


def crossed(first_d, second_d, axis_deg, gap_deg):
    """The cylinder of two that cross obliquely."""
    first = SpheroCylinder(0.0, first_d, axis_deg)
    second = SpheroCylinder(0.0, second_d, axis_deg + gap_deg)
    single = SpheroCylinder(0.0, second_d, axis_deg + gap_deg / 2)
    return {
        "answer": (first + second).cylinder_d,
        "numbers": first_d + second_d,
        "single": (first + single).cylinder_d,
        "difference": (first - second).cylinder_d,
        "second_axis_deg": axis_deg + gap_deg,
        "twice_deg": 2 * gap_deg,
    }


def circle(weak_d, more_d, pupil_mm):
    """The diameter of the circle of least confusion behind two meridians."""
    strong_d = weak_d + more_d
    mean_d = weak_d + more_d / 2
    return {
        "answer": 1000 * pupil_mm * more_d / 2 / mean_d,
        "whole": 1000 * pupil_mm * more_d / mean_d,
        "radius": 500 * pupil_mm * more_d / 2 / mean_d,
        "undivided": pupil_mm * more_d / 2,
        "strong_d": strong_d,
        "mean_d": mean_d,
        "half_d": more_d / 2,
    }


def j0(sphere_d, cylinder_d, axis_deg):
    """J0 of a refraction."""
    turn = math.radians(axis_deg)
    return {
        "answer": SpheroCylinder(sphere_d, cylinder_d, axis_deg).power_vector().j0_d,
        "single": -cylinder_d / 2 * math.cos(turn),
        "whole": -cylinder_d * math.cos(2 * turn),
        "sign": cylinder_d / 2 * math.cos(2 * turn),
        "half_d": -cylinder_d / 2,
        "twice_deg": 2 * axis_deg,
    }


def axis(j0_d, j45_d):
    """The axis of the minus cylinder of a power vector."""
    found = SpheroCylinder.from_power_vector(0.0, j0_d, j45_d).axis_deg
    return {
        "answer": found,
        "undivided": 2 * found,
        "quadrant": found + 90,
        "radians": math.radians(found),
        "twice_deg": 2 * found,
    }
