"""Values of the items of lesson glasses."""

from __future__ import annotations

from typing import TYPE_CHECKING

from shared_utils.cases.glasses import compute_add_range, compute_gaze_below_centres
from shared_utils.optics import spectacles
from shared_utils.optics.vergence import at_vertex, propagate, vergence

if TYPE_CHECKING:
    from typing import Any


def plus_to_contact_lens(spectacle_d: float, vertex_mm: float) -> dict[str, Any]:
    """The contact lens that does the work of plus spectacles."""
    return {
        "answer": at_vertex(spectacle_d, vertex_mm, 0.0),
        "outward": at_vertex(spectacle_d, 0.0, vertex_mm),
        "unchanged": spectacle_d,
        "centimetres": propagate(spectacle_d, vertex_mm / 100),
        "step_d": vertex_mm / 1000 * spectacle_d**2,
        "vertex_m": vertex_mm / 1000,
        "vertex_dm": vertex_mm / 100,
    }


def worn(refraction_d: float, measured_mm: float, worn_mm: float) -> dict[str, Any]:
    """The lens for a frame that sits nearer than the trial frame did."""
    return {
        "answer": at_vertex(refraction_d, measured_mm, worn_mm),
        "outward": at_vertex(refraction_d, worn_mm, measured_mm),
        "unchanged": refraction_d,
        "cornea": at_vertex(refraction_d, measured_mm, 0.0),
        "way_mm": measured_mm - worn_mm,
        "way_m": (measured_mm - worn_mm) / 1000,
        "size_d": -refraction_d,
        "change_d": abs(at_vertex(refraction_d, measured_mm, worn_mm) - refraction_d),
    }


def slid(lens_d: float, slid_mm: float) -> dict[str, Any]:
    """What glasses do at the cornea that slide away from 12 mm."""
    before_d, after_d = (at_vertex(lens_d, mm, 0.0) for mm in (12.0, 12.0 + slid_mm))
    return {
        "answer": after_d - before_d,
        "lost": after_d - before_d,
        "each_mm": slid_mm,
        "before_d": before_d,
        "after_d": after_d,
        "to_m": (12.0 + slid_mm) / 1000,
        "slid_m": slid_mm / 1000,
    }


def size_of_minus(lens_d: float, way_mm: float) -> dict[str, Any]:
    """By how much a minus lens makes the image smaller, in per cent."""
    found = spectacles.magnification(lens_d, vertex_mm=way_mm - spectacles.PUPIL_DEPTH_MM)
    return {
        "answer": -found.percent,
        "larger": -found.percent,
        "thumb": -2 * lens_d,
        "size": found.total,
        "size_d": -lens_d,
        "way_m": way_mm / 1000,
    }


def one_plus_lens(lens_d: float, vertex_mm: float) -> dict[str, Any]:
    """By how much the eye behind a plus lens sees larger than its fellow without, in per cent."""
    glasses = spectacles.magnification(lens_d, vertex_mm=vertex_mm)
    contact = spectacles.magnification(at_vertex(lens_d, vertex_mm, 0.0), vertex_mm=0.0)
    return {
        "answer": spectacles.aniseikonia_percent(glasses.total, 1.0),
        "right": glasses.percent,
        "contact": contact.percent,
        "size": glasses.total,
        "way_m": (vertex_mm + spectacles.PUPIL_DEPTH_MM) / 1000,
    }


def vertex_from_sizes(vertex_mm: float) -> dict[str, Any]:
    """The vertex distance, read off what minus lenses do to size; all in mm."""
    found = spectacles.magnification(-10.0, vertex_mm=vertex_mm)
    depth_mm = spectacles.PUPIL_DEPTH_MM
    way_mm = 100 * (1 / found.total - 1)
    return {
        "answer": way_mm - depth_mm,
        "percent": -found.percent - depth_mm,
        "added": way_mm + depth_mm,
        "way_mm": way_mm,
        "loss": -found.percent,
        "size": found.total,
        "reciprocal": 1 / found.total,
    }


def fellow(lens_d: float, vertex_mm: float) -> dict[str, Any]:
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


def imbalance(right_d: float, left_d: float, down_mm: float) -> dict[str, Any]:
    """The vertical imbalance of a pair of lenses."""
    data = compute_gaze_below_centres(right_d, left_d, down_mm)
    right, left = data.right_prism, data.left_prism
    return {
        "answer": data.imbalance,
        "sum": right + left,
        "millimetres": 10 * (right - left),
        "turned": left - right,
        "down_cm": down_mm / 10,
        "right": right,
        "left": left,
    }


def add(page_cm: float, amplitude_d: float) -> dict[str, Any]:
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


def prism_beside(lens_d: float, down_mm: float) -> dict[str, Any]:
    """The prism met by looking down through a plus lens."""
    answer = spectacles.prism(down_mm, lens_d)
    return {
        "answer": answer,
        "down": answer,
        "millimetres": 10 * answer,
        "divided": lens_d / down_mm,
        "down_cm": down_mm / 10,
    }


def two_minus(right_d: float, left_d: float, down_mm: float) -> dict[str, Any]:
    """The size of the vertical imbalance of two minus lenses, the right one stronger."""
    signed = imbalance(right_d, left_d, down_mm)
    return {
        "answer": abs(signed["answer"]),
        "sum": abs(signed["sum"]),
        "alone": abs(signed["right"]),
        "millimetres": abs(signed["millimetres"]),
        "down_cm": down_mm / 10,
        "right_size_d": -right_d,
        "left_size_d": -left_d,
    }


def equal_lenses(lens_d: float, down_mm: float) -> dict[str, Any]:
    """The prisms of two equal lenses, which leave no imbalance."""
    one = abs(float(spectacles.prism(down_mm, lens_d)))
    return {
        "answer": abs(spectacles.vertical_imbalance(lens_d, lens_d, down_mm)),
        "sum": 2 * one,
        "one": one,
        "tenth": abs(spectacles.prism(1.0, lens_d)),
    }


def unequal_centres(lens_d: float, right_mm: float, left_mm: float) -> dict[str, Any]:
    """The imbalance of two equal lenses whose centres stand at unequal heights."""
    right, left = (abs(float(spectacles.prism(mm, lens_d))) for mm in (right_mm, left_mm))
    return {
        "answer": right - left,
        "sum": right + left,
        "alone": right,
        "left": left,
        "right_cm": right_mm / 10,
        "left_cm": left_mm / 10,
        "size_d": -lens_d,
    }


def range_of_an_add(add_d: float, unnoticed_d: float) -> dict[str, Any]:
    """What an eye without accommodation sees clearly through an add, in cm."""
    once, twice = (
        compute_add_range(add_d, 0.0, blur_d) for blur_d in (unnoticed_d, 2 * unnoticed_d)
    )
    return {
        "near_cm": once.nearest_cm,
        "far_cm": once.farthest_cm,
        "page_cm": once.best_cm,
        "nearer_cm": once.best_cm,
        "twice_near_cm": twice.nearest_cm,
        "twice_far_cm": twice.farthest_cm,
        "most_d": add_d + unnoticed_d,
        "least_d": add_d - unnoticed_d,
        "twice_d": 2 * unnoticed_d,
    }


def screen(screen_cm: float) -> dict[str, Any]:
    """The reader for a screen, for an eye without accommodation."""
    answer = spectacles.reading_add(-screen_cm / 100)
    return {"answer": answer, "half": answer / 2, "metres": screen_cm / 100}
