"""Lesson 04: astigmatism."""

import math

from shared_utils.optics.sphero_cylinder import SpheroCylinder


def along(sphere_d, cylinder_d, axis_deg, gap_deg):
    """The power of a lens along a meridian some degrees from its axis."""
    lens = SpheroCylinder(sphere_d, cylinder_d, axis_deg)
    gap = math.radians(gap_deg)
    return {
        "answer": lens.power_along(axis_deg + gap_deg),
        "sine": sphere_d + cylinder_d * math.sin(gap),
        "other_meridian": sphere_d + cylinder_d * math.cos(gap) ** 2,
        "share_of_angle": sphere_d + cylinder_d * gap_deg / 90,
        "meridian_deg": axis_deg + gap_deg,
        "share": math.sin(gap) ** 2,
    }


def sphere_alone(sphere_d, cylinder_d, axis_deg):
    """The sphere that brings the circle of least confusion onto the retina."""
    return {
        "answer": SpheroCylinder(sphere_d, cylinder_d, axis_deg).spherical_equivalent_d,
        "sphere": sphere_d,
        "whole": sphere_d + cylinder_d,
        "minus_half": sphere_d - cylinder_d / 2,
        "half_d": cylinder_d / 2,
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


def crossed(first_d, second_d, axis_deg, gap_deg):
    """The cylinder of the sum of two minus cylinders of different axes."""
    first = SpheroCylinder(0.0, first_d, axis_deg)
    second = SpheroCylinder(0.0, second_d, axis_deg + gap_deg)
    square = first_d**2 + second_d**2
    product = 2 * first_d * second_d
    return {
        "answer": (first + second).cylinder_d,
        "as_numbers": first_d + second_d,
        "single": -math.sqrt(square + product * math.cos(math.radians(gap_deg))),
        "difference": (first - second).cylinder_d,
        "other_deg": axis_deg + gap_deg,
        "twice_deg": 2 * gap_deg,
    }
