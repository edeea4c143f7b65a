"""Lesson 03: glasses and planes."""

from shared_utils.optics import spectacles
from shared_utils.optics.vergence import at_vertex, vergence


def worn(refraction_d, measured_mm, worn_mm):
    """The lens for a frame that sits nearer than the trial frame did."""
    return {
        "answer": at_vertex(refraction_d, measured_mm, worn_mm),
        "outward": at_vertex(refraction_d, worn_mm, measured_mm),
        "unchanged": refraction_d,
        "cornea": at_vertex(refraction_d, measured_mm, 0.0),
        "way_mm": measured_mm - worn_mm,
        "way_m": (measured_mm - worn_mm) / 1000,
    }


def fellow(lens_d, vertex_mm):
    """How much larger an operated eye sees than its fellow behind glasses."""
    size = spectacles.magnification(lens_d, vertex_mm=vertex_mm).total
    return {
        "answer": spectacles.aniseikonia_percent(1.0, size),
        "thumb": -2 * lens_d,
        "cornea": -vertex_mm / 10 * lens_d,
        "reversed": spectacles.aniseikonia_percent(size, 1.0),
        "way_mm": vertex_mm + 3,
        "way_m": (vertex_mm + 3) / 1000,
        "size": size,
    }


def imbalance(right_d, left_d, down_mm):
    """The vertical imbalance of a pair of lenses."""
    right, left = (spectacles.prism(down_mm, power_d) for power_d in (right_d, left_d))
    return {
        "answer": spectacles.vertical_imbalance(right_d, left_d, down_mm),
        "sum": right + left,
        "millimetres": 10 * (right - left),
        "turned": left - right,
        "down_cm": down_mm / 10,
        "right": right,
        "left": left,
    }


def add(page_cm, amplitude_d):
    """The reading add with half of the amplitude in reserve."""
    demand_d = -vergence(-page_cm / 100)
    return {
        "answer": spectacles.reading_add(-page_cm / 100, amplitude_d),
        "whole": demand_d - amplitude_d,
        "none": demand_d,
        "added": demand_d + amplitude_d / 2,
        "demand_d": demand_d,
        "half_d": amplitude_d / 2,
    }
