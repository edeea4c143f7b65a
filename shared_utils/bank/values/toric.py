"""Values of the items of lesson toric."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from shared_utils.cases import toric as cases
from shared_utils.power import toric
from shared_utils.power.lens_steps import nearest_power

if TYPE_CHECKING:
    from typing import Any

AVAILABLE_STEP_D = 0.5  # of the toric lenses of an item, at the lens; invented


def total(size_d: float) -> dict[str, Any]:
    """The total astigmatism of a cornea that is steep at 90, by regression, to 0.01 D."""
    return {
        "answer": abs(cases.total_along_x(-size_d)),
        "unchanged": size_d,
        "against": cases.total_along_x(size_d),
        "left_out": 0.926 * size_d,
    }


def made_by_surgery(before_d: float, less_d: float, before_deg: float) -> dict[str, Any]:
    """What surgery made that took a part of the astigmatism away and left its meridian."""
    after_d = before_d - less_d
    before, after = (
        cases.astigmatism_steep_at(before_d, before_deg),
        cases.astigmatism_steep_at(after_d, before_deg),
    )
    made = toric.induced(before, after)
    return {
        "answer": made.cylinder_d,
        "along_deg": made.axis_deg,
        "backwards_d": toric.induced(after, before).cylinder_d,
        "sum_d": before_d + after_d,
        "between_deg": before_deg + 45,
        "after_d": after_d,
    }


def back_left_out(size_d: float, more_d: float) -> dict[str, Any]:
    """What a lens leaves that is chosen by keratometry alone, a little too strong even for it."""
    lens_d, total_d = size_d + more_d, total(size_d)["answer"]
    return {
        "answer": lens_d - total_d,
        "total_d": total_d,
        "sum_d": lens_d + total_d,
        "lens_d": lens_d,
    }


def at_cornea(lens_d: float, elp_mm: float, cornea_d: float) -> dict[str, Any]:
    """What the cylinder of a lens does at the cornea."""
    ratio = cases.cylinder_ratio(cornea_d, elp_mm)
    return {
        "answer": lens_d / ratio,
        "multiplied": lens_d * ratio,
        "root": lens_d / math.sqrt(ratio),
        "unchanged": lens_d,
        "left": 1 / math.sqrt(ratio),
        "ratio": ratio,
    }


def label_to_cornea(lens_d: float) -> dict[str, Any]:
    """What the cylinder on a label does at the cornea of an average eye."""
    return at_cornea(lens_d, elp_mm=5.2, cornea_d=43.0)


def nearest_available(step_d: float, off_d: float, ratio: float) -> dict[str, Any]:
    """The lens nearest to a cornea, drawn so that no two of them come equally near."""
    cornea_d = round((step_d + off_d) / ratio, 2)
    at_lens_d, divided_d, twice_d = cornea_d * ratio, cornea_d / ratio, cornea_d * ratio**2
    return {
        "answer": nearest_power(at_lens_d, AVAILABLE_STEP_D),
        "unchanged": nearest_power(cornea_d, AVAILABLE_STEP_D),
        "divided": nearest_power(divided_d, AVAILABLE_STEP_D),
        "twice": nearest_power(twice_d, AVAILABLE_STEP_D),
        "cornea_d": cornea_d,
        "at_lens_d": at_lens_d,
        "divided_d": divided_d,
        "twice_d": twice_d,
    }


def turn(cylinder_d: float, turn_deg: float) -> dict[str, Any]:
    """What a lens that fits leaves when it is turned."""
    return {
        "answer": toric.misaligned_cylinder(cylinder_d, cylinder_d, turn_deg),
        "parts": cylinder_d * turn_deg / 90,
        "single": cylinder_d * math.sin(math.radians(turn_deg)),
        "cosine": cylinder_d * math.cos(math.radians(turn_deg)),
        "percent": 100 * toric.misaligned_cylinder(1.0, 1.0, turn_deg),
    }


def where_left(steep_deg: float, turn_deg: float, side: float) -> dict[str, Any]:
    """Where the astigmatism is steep that a turned lens leaves; side is 1 or −1."""
    marks_deg = steep_deg + side * turn_deg
    cornea = cases.astigmatism_steep_at(1.0, steep_deg)
    return {
        "answer": toric.residual(cornea, 1.0, marks_deg).plus_form().axis_deg,
        "marks_deg": marks_deg,
        "between_deg": steep_deg + side * turn_deg // 2,
        "away_deg": -45 * side,
    }


def read_the_marks(
    cylinder_d: float, planned_deg: float, turn_deg: float, side: float
) -> dict[str, Any]:
    """What a lens leaves whose turn is read off the dial; side is 1 or −1."""
    return turn(cylinder_d, turn_deg) | {
        "twice_doubled": toric.misaligned_cylinder(cylinder_d, cylinder_d, 2 * turn_deg),
        "marks_deg": planned_deg + side * turn_deg,
    }


def plan(size_d: float, centroid_d: float) -> dict[str, Any]:
    """Halfway between the mean size of what incisions make and their centroid."""
    return {"halfway_d": (size_d + centroid_d) / 2}


def read_a_double_angle(size_d: float, meridian_deg: float) -> dict[str, Any]:
    """The steep meridian of a point on a double-angle plot."""
    return {
        "answer": toric.from_double_angle(*cases.double_angle_point(size_d, meridian_deg)).axis_deg,
        "plot_deg": 2 * meridian_deg,
        "halved_twice_deg": meridian_deg / 2,
        "half_size_d": size_d / 2,
    }


def read_what_surgery_made(before_d: float, after_d: float, before_deg: float) -> dict[str, Any]:
    """What surgery made that turned the astigmatism round."""
    after_deg = before_deg - 90
    made = toric.induced(
        cases.astigmatism_steep_at(before_d, before_deg),
        cases.astigmatism_steep_at(after_d, after_deg),
    )
    return {
        "answer": made.cylinder_d,
        "along_deg": made.axis_deg,
        "plot_deg": 2 * after_deg,
        "difference_d": before_d - after_d,
        "after_deg": after_deg,
    }


def centroid(size_d: float, meridian_deg: float) -> dict[str, Any]:
    """The size of the centroid of two eyes on either side of 180."""
    size = size_d * math.cos(math.radians(2 * meridian_deg))
    return {
        "answer": size,
        "numbers": size_d,
        "undoubled": size_d * math.cos(math.radians(meridian_deg)),
        "sum": 2 * size,
        "other_deg": 180 - meridian_deg,
        "twice_deg": 2 * meridian_deg,
    }


def turn_of_weaker(cornea_d: float, less_d: float, turn_deg: float) -> dict[str, Any]:
    """What a lens leaves that is weaker than the cornea and turned."""
    lens_d = cornea_d - less_d
    squares, product = cornea_d**2 + lens_d**2, 2 * cornea_d * lens_d
    return {
        "answer": toric.misaligned_cylinder(cornea_d, lens_d, turn_deg),
        "numbers": less_d,
        "undoubled": math.sqrt(squares - product * math.cos(math.radians(turn_deg))),
        "added": math.sqrt(squares + product * math.cos(math.radians(2 * turn_deg))),
        "lens_d": lens_d,
        "twice_deg": 2 * turn_deg,
    }
