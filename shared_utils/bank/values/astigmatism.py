"""Values of the items of lesson astigmatism."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from shared_utils.cases.astigmatism import compute_line_order
from shared_utils.optics.sphero_cylinder import SpheroCylinder, crossed_cylinder
from shared_utils.optics.vergence import at_vertex

if TYPE_CHECKING:
    from typing import Any


def transposed(sphere_d: float, cylinder_d: float, axis_deg: float) -> dict[str, Any]:
    """A minus cylinder written with a plus cylinder."""
    plus = SpheroCylinder(sphere_d, cylinder_d, axis_deg).plus_form()
    return {
        "new_d": plus.sphere_d,
        "plus_d": plus.cylinder_d,
        "across_deg": plus.axis_deg,
        "taken_d": sphere_d - cylinder_d,
    }


def where_the_power_is(cylinder_d: float, axis_deg: float) -> dict[str, Any]:
    """The two meridians of a cylinder alone."""
    across_deg = SpheroCylinder(0.0, cylinder_d, axis_deg).transposed().axis_deg
    return {
        "across_deg": across_deg,
        "swapped_deg": axis_deg,
        "empty_deg": across_deg,
        "half_d": cylinder_d / 2,
        "everywhere_d": cylinder_d,
    }


def to_cornea(
    sphere_d: float, cylinder_d: float, axis_deg: float, vertex_mm: float
) -> dict[str, Any]:
    """A strong sphero-cylinder moved from the glasses to the cornea."""
    lens = SpheroCylinder(sphere_d, cylinder_d, axis_deg)
    moved, outward = lens.at_vertex(vertex_mm, 0.0), lens.at_vertex(0.0, vertex_mm)
    other_d = sphere_d + cylinder_d
    return {
        "along_d": moved.sphere_d,
        "moved_d": moved.cylinder_d,
        "alone_d": at_vertex(cylinder_d, vertex_mm, 0.0),
        "out_sphere_d": outward.sphere_d,
        "out_cylinder_d": outward.cylinder_d,
        "other_d": other_d,
        "across_d": moved.sphere_d + moved.cylinder_d,
        "along_by": 1 - vertex_mm / 1000 * sphere_d,
        "across_by": 1 - vertex_mm / 1000 * other_d,
    }


def read_off(sphere_d: float, cylinder_d: float, axis_deg: float) -> dict[str, Any]:
    """A lens told from its greatest and its least power."""
    plus = SpheroCylinder(sphere_d, cylinder_d, axis_deg).plus_form()
    return {"across_deg": plus.axis_deg, "least_d": plus.sphere_d, "plus_d": plus.cylinder_d}


def along(sphere_d: float, cylinder_d: float, axis_deg: float, gap_deg: float) -> dict[str, Any]:
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


def pure_cylinder_along(cylinder_d: float, axis_deg: float, gap_deg: float) -> dict[str, Any]:
    """The power of a cylinder alone along a meridian."""
    return along(0.0, cylinder_d, axis_deg, gap_deg)


def circle_sphere(sphere_d: float, cylinder_d: float, axis_deg: int = 90) -> dict[str, Any]:
    """The sphere that brings the circle of least confusion onto the retina."""
    return {
        "answer": SpheroCylinder(sphere_d, cylinder_d, axis_deg).spherical_equivalent_d,
        "sphere": sphere_d,
        "whole": sphere_d + cylinder_d,
        "sign": sphere_d - cylinder_d / 2,
        "half_d": cylinder_d / 2,
    }


def from_its_lines(front_d: float, behind_d: float, axis_deg: float) -> dict[str, Any]:
    """A refraction told from the places of its two focal lines, as the spheres they need.

    Which of them lies in front follows from the axis: at 180 the horizontal line.
    """
    turned_d = -front_d
    front_line, back_line = compute_line_order(axis_deg)
    return {
        "cylinder_d": front_d - behind_d,
        "turned_d": turned_d,
        "other_deg": SpheroCylinder(0.0, -1.0, axis_deg).transposed().axis_deg,
        "front_line": front_line,
        "back_line": back_line,
    }


def chart_to_vector(sphere_d: float, cylinder_d: float, axis_deg: float) -> dict[str, Any]:
    """The power vector of a refraction with its axis at 180 or 90."""
    vector = SpheroCylinder(sphere_d, cylinder_d, axis_deg).power_vector()
    return {
        "m_d": vector.m_d,
        "j0_d": vector.j0_d,
        "sign_d": -vector.j0_d,
        "whole_m_d": sphere_d + cylinder_d,
        "whole_j0_d": 2 * vector.j0_d,
        "swapped_d": vector.j0_d,
        "half_d": -cylinder_d / 2,
        "twice_deg": 2 * axis_deg,
    }


def vector_to_chart(m_d: float, size_d: float, axis_deg: float) -> dict[str, Any]:
    """The refraction of a power vector with no J0; its axis is 45 or 135."""
    j45_d = size_d if axis_deg == 45 else -size_d
    found = SpheroCylinder.from_power_vector(m_d, 0.0, j45_d)
    return {
        "j45_d": j45_d,
        "sphere_d": found.sphere_d,
        "cylinder_d": found.cylinder_d,
        "axis_deg": found.axis_deg,
        "less_d": m_d + size_d / 2,
        "arrow_d": -size_d,
        "added_d": m_d - size_d,
        "point_deg": 2 * axis_deg,
    }


def from_its_arrow(m_d: float, size_d: float, axis_deg: float) -> dict[str, Any]:
    """The refraction of a power vector whose arrow has a length and points to twice an axis."""
    turn = math.radians(2 * axis_deg)
    found = SpheroCylinder.from_power_vector(m_d, size_d * math.cos(turn), size_d * math.sin(turn))
    return {
        "sphere_d": found.sphere_d,
        "cylinder_d": found.cylinder_d,
        "double_deg": SpheroCylinder(0.0, -1.0, 2 * axis_deg % 180).axis_deg,
        "twice_deg": 2 * axis_deg,
        "less_d": m_d + size_d / 2,
        "arrow_d": -size_d,
        "added_d": m_d - size_d,
    }


def quarter_turn(j0_d: float) -> dict[str, Any]:
    """J0 of a minus cylinder whose axis was turned from 180 to 90."""
    return {
        "answer": SpheroCylinder(0.0, -2 * j0_d, 90).power_vector().j0_d,
        "same": j0_d,
        "doubled": 2 * j0_d,
    }


def arrow(j0_d: float, j45_d: float) -> dict[str, Any]:
    """The minus cylinder that an arrow stands for."""
    length_d = math.hypot(j0_d, j45_d)
    return {
        "answer": SpheroCylinder.from_power_vector(0.0, j0_d, j45_d).cylinder_d,
        "length": -length_d,
        "numbers": -2 * (j0_d + j45_d),
        "sign": 2 * length_d,
        "length_d": length_d,
    }


def crossed(first_d: float, second_d: float, axis_deg: float, gap_deg: float) -> dict[str, Any]:
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


def forty_five_apart(cylinder_d: float, axis_deg: float) -> dict[str, Any]:
    """The cylinder of two equal ones that cross at 45°."""
    return {**crossed(cylinder_d, cylinder_d, axis_deg, 45), "size_d": -cylinder_d}


def square_cross(cylinder_d: float, axis_deg: float) -> dict[str, Any]:
    """What two equal cylinders across each other make."""
    first = SpheroCylinder(0.0, cylinder_d, axis_deg)
    second = SpheroCylinder(0.0, cylinder_d, axis_deg + 90)
    return {
        "answer": (first + second).sphere_d,
        "twice_d": 2 * cylinder_d,
        "half_d": cylinder_d / 2,
        "across_deg": axis_deg + 90,
        "averaged_deg": axis_deg + 45,
    }


def held_up(power_d: float, axis_deg: float) -> dict[str, Any]:
    """What a cylinder and a crossed cylinder of its size, across it, make."""
    lens = SpheroCylinder(0.0, -2 * power_d, axis_deg)
    return {
        "answer": (lens + crossed_cylinder(power_d, axis_deg + 90)).sphere_d,
        "cylinder_d": -2 * power_d,
        "twice_d": -4 * power_d,
        "across_deg": axis_deg + 90,
        "averaged_deg": axis_deg + 45,
    }


def mean_axis(middle_deg: float, gap_deg: float) -> dict[str, Any]:
    """The mean axis of three equal cylinders on both sides of 180."""
    axes_deg = [(middle_deg + off) % 180 or 180 for off in (gap_deg, -gap_deg, 0)]
    first_deg, second_deg, third_deg = axes_deg
    vectors = [SpheroCylinder(0.0, -0.75, axis_deg).power_vector() for axis_deg in axes_deg]
    m_d, j0_d, j45_d = (sum(parts) / 3 for parts in zip(*vectors, strict=True))
    return {
        "answer": SpheroCylinder.from_power_vector(m_d, j0_d, j45_d).axis_deg,
        "numbers": sum(axes_deg) / 3,
        "ends": (first_deg + second_deg) / 2,
        "halved": sum(axes_deg) / 6,
        "first_deg": first_deg,
        "second_deg": second_deg,
        "third_deg": third_deg,
        "apart_deg": 2 * gap_deg,
        "twice_first_deg": 2 * first_deg,
        "twice_second_deg": 2 * second_deg,
        "twice_third_deg": 2 * third_deg,
    }


def circle(weak_d: float, more_d: float, pupil_mm: float) -> dict[str, Any]:
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


def j0(sphere_d: float, cylinder_d: float, axis_deg: float) -> dict[str, Any]:
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


def axis(j0_d: float, j45_d: float) -> dict[str, Any]:
    """The axis of the minus cylinder of a power vector."""
    found = SpheroCylinder.from_power_vector(0.0, j0_d, j45_d).axis_deg
    return {
        "answer": found,
        "undivided": 2 * found,
        "quadrant": found + 90,
        "radians": math.radians(found),
        "twice_deg": 2 * found,
    }
