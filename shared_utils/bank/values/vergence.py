"""Values of the items of lesson vergence."""

from __future__ import annotations

from typing import TYPE_CHECKING

from shared_utils.cases.vergence import compute_point_image
from shared_utils.optics import vergence

if TYPE_CHECKING:
    from typing import Any


def reciprocal(focal_cm: float) -> dict[str, Any]:
    """The power of a lens from its focal length."""
    return {
        "answer": vergence.vergence(focal_cm / 100),
        "metres": focal_cm / 100,
        "centimetres": focal_cm,
        "tenfold": 1000 / focal_cm,
    }


def lens_from_its_image(object_cm: float, image_cm: float) -> dict[str, Any]:
    """The power of a thin lens, read off where it images a point."""
    arriving_d = vergence.vergence(-object_cm / 100)
    leaving_d = vergence.vergence(image_cm / 100)
    return {
        "answer": leaving_d - arriving_d,
        "sign": leaving_d + arriving_d,
        "leaving_d": leaving_d,
        "whole_way": 100 / (object_cm + image_cm),
        "way_cm": object_cm + image_cm,
        "arriving_d": arriving_d,
        "size_d": -arriving_d,
        "image_m": image_cm / 100,
    }


def page(distance_cm: float) -> dict[str, Any]:
    """The vergence of a page's light."""
    return {
        "answer": vergence.vergence(-distance_cm / 100),
        "sign": 100 / distance_cm,
        "centimetres": -1 / distance_cm,
        "distance": -distance_cm / 100,
        "distance_m": distance_cm / 100,
    }


def image(distance_cm: float, lens_d: float) -> dict[str, Any]:
    """The place of the image that a thin lens makes."""
    found = compute_point_image(distance_cm, lens_d, 1.0)
    return {
        "answer": found.image_distance_cm,
        "sign": 100 / (lens_d - found.object_vergence_d),
        "far": 100 / lens_d,
        "vergence": found.image_vergence_d,
        "arriving_d": found.object_vergence_d,
        "leaving_d": found.image_vergence_d,
    }


def contact_lens(spectacle_d: float, vertex_mm: float) -> dict[str, Any]:
    """The contact lens that does the work of spectacles."""
    return {
        "answer": vergence.at_vertex(spectacle_d, vertex_mm, 0.0),
        "outward": vergence.at_vertex(spectacle_d, 0.0, vertex_mm),
        "unchanged": spectacle_d,
        "rule": spectacle_d + vertex_mm / 1000 * spectacle_d**2,
        "once": spectacle_d - vertex_mm / 1000 * spectacle_d,
        "vertex_m": vertex_mm / 1000,
        "size_d": abs(spectacle_d),
        "cost_d": abs(vergence.at_vertex(spectacle_d, vertex_mm, 0.0) - spectacle_d),
    }


def two_lenses(first_d: float, way_cm: float, second_d: float) -> dict[str, Any]:
    """What leaves the second of two lenses, for light from far away."""
    pair = vergence.two_lenses(first_d, second_d, way_cm / 100)
    shrunk_d = vergence.propagate(first_d, -way_cm / 100)
    return {
        "answer": pair.after_second_d,
        "touching": first_d + second_d,
        "backwards": vergence.refract(shrunk_d, second_d),
        "equivalent": first_d + second_d - way_cm / 100 * first_d * second_d,
        "way_m": way_cm / 100,
        "at_second_d": pair.at_second_d,
        "shrunk_d": shrunk_d,
    }


def opposite_lenses(first_d: float, way_cm: float) -> dict[str, Any]:
    """What leaves a plus lens and, farther on, a minus lens of the same size."""
    return {**two_lenses(first_d, way_cm, -first_d), "second_d": -first_d}


def two_touching(first_d: float, second_d: float) -> dict[str, Any]:
    """Where light from far away meets behind two lenses in contact."""
    sum_d = vergence.refract(first_d, second_d)
    first_cm, second_cm = (100 * vergence.focus_distance(d) for d in (first_d, second_d))
    return {
        "answer": 100 * vergence.focus_distance(sum_d),
        "lengths": first_cm + second_cm,
        "average": 100 * vergence.focus_distance(sum_d / 2),
        "difference": 100 * vergence.focus_distance(second_d - first_d),
        "first_cm": first_cm,
        "second_cm": second_cm,
        "sum_d": sum_d,
        "average_d": sum_d / 2,
        "difference_d": second_d - first_d,
    }


def second_lens(way_cm: float, beyond_cm: float, image_cm: float) -> dict[str, Any]:
    """The power of the second of two lenses, read off where it brings the light of the first."""
    arriving_d = vergence.vergence(beyond_cm / 100)
    leaving_d = vergence.vergence(image_cm / 100)
    focus_cm = way_cm + beyond_cm
    return {
        "answer": leaving_d - arriving_d,
        "not_carried": leaving_d - vergence.vergence(focus_cm / 100),
        "sum": leaving_d + arriving_d,
        "leaving_d": leaving_d,
        "arriving_d": arriving_d,
        "focus_cm": focus_cm,
    }


def page_through_a_lens(arriving_d: float, leaving_d: float) -> dict[str, Any]:
    """Where a lens images a page, told by what arrives and, for the draw, what leaves."""
    lens_d = leaving_d - arriving_d
    image_m = vergence.focus_distance(vergence.refract(arriving_d, lens_d))
    return {
        "answer": 100 * image_m,
        "far": 100 * vergence.focus_distance(lens_d),
        "sign": 100 * vergence.focus_distance(vergence.refract(-arriving_d, lens_d)),
        "metres": 100 * leaving_d,
        "lens_d": lens_d,
        "size_d": -arriving_d,
        "image_m": image_m,
    }


def virtual_image(coin_cm: float, lens_d: float) -> dict[str, Any]:
    """Where a weak plus lens images a coin that lies nearer than its focal point."""
    found = compute_point_image(coin_cm, lens_d, 1.0)
    answer, arriving_d = -found.image_distance_cm, found.object_vergence_d
    return {
        "answer": answer,
        "side": answer,
        "far": 100 * vergence.focus_distance(lens_d),
        "sign": 100 * vergence.focus_distance(vergence.refract(-arriving_d, lens_d)),
        "arriving_d": arriving_d,
        "leaving_d": found.image_vergence_d,
        "size_d": -arriving_d,
    }


def parallel_behind(lens_d: float) -> dict[str, Any]:
    """Where an object must stand for its light to leave a lens parallel."""
    answer = 100 * vergence.focus_distance(lens_d)
    return {
        "answer": answer,
        "dioptres": lens_d,
        "side": answer,
        "twice": 2 * answer,
        "arriving_d": -lens_d,
    }


def front_of_cornea(radius_mm: float) -> dict[str, Any]:
    """The power of the front of a cornea, air before it and index 1.376 behind."""
    answer = vergence.surface_power(radius_mm, 1.0, 1.376)
    return {
        "answer": answer,
        "keratometer": vergence.surface_power(radius_mm, 1.0, 1.3375),
        "no_air": vergence.vergence(radius_mm / 1000, 1.376),
        "millimetres": answer / 1000,
        "radius_m": radius_mm / 1000,
    }


def slide(power_d: float, from_mm: float, slip_mm: float) -> dict[str, Any]:
    """What spectacles that slip away from the eye do at the cornea."""
    to_mm = from_mm + slip_mm
    before_d, after_d = (vergence.at_vertex(power_d, mm, 0.0) for mm in (from_mm, to_mm))
    return {
        "answer": after_d - before_d,
        "less": after_d - before_d,
        "whole": after_d - power_d,
        "step_d": before_d - power_d,
        "before_d": before_d,
        "after_d": after_d,
        "to_mm": to_mm,
        "from_m": from_mm / 1000,
        "to_m": to_mm / 1000,
    }


def past_the_focus(vergence_d: float, way_cm: float) -> dict[str, Any]:
    """What converging light has become on a way beyond its focus."""
    answer = vergence.propagate(vergence_d, way_cm / 100)
    focus_cm = 100 * vergence.focus_distance(vergence_d)
    return {
        "answer": answer,
        "sign": -answer,
        "backwards": vergence.propagate(vergence_d, -way_cm / 100),
        "way": vergence.vergence(way_cm / 100),
        "way_m": way_cm / 100,
        "focus_cm": focus_cm,
        "past_cm": way_cm - focus_cm,
    }


def where_it_meets(start_d: float, end_cm: float) -> dict[str, Any]:
    """Where light meets whose vergence is shown from a lens to some way behind it."""
    end_d = vergence.propagate(start_d, end_cm / 100)
    answer = 100 * vergence.focus_distance(start_d)
    return {
        "answer": answer,
        "from_end": 100 * vergence.focus_distance(end_d),
        "end_added": answer + end_cm,
        "rise": 100 * vergence.focus_distance(end_d - start_d),
        "rise_d": end_d - start_d,
    }


def inside(distance_mm: float) -> dict[str, Any]:
    """The vergence of light that meets inside the eye."""
    distance_m = distance_mm / 1000
    answer = vergence.vergence(distance_m, 1.336)
    return {
        "answer": answer,
        "air": vergence.vergence(distance_m),
        "sign": -answer,
        "divided": 1 / (1.336 * distance_m),
        "distance_m": distance_m,
    }


def near_point(refraction_d: float, accommodation_d: float) -> dict[str, Any]:
    """The near point of a myope who accommodates."""
    far_d = -refraction_d
    return {
        "answer": -100 * vergence.focus_distance(refraction_d - accommodation_d),
        "far": 100 / far_d,
        "sign": 100 / (far_d - accommodation_d),
        "dioptres": far_d + accommodation_d,
        "near_d": refraction_d - accommodation_d,
    }


def in_aqueous(distance_cm: float, surface_d: float) -> dict[str, Any]:
    """The place of the image that a corneal surface makes in aqueous."""
    arriving_d = vergence.vergence(-distance_cm / 100)
    leaving_d = vergence.refract(arriving_d, surface_d)
    return {
        "answer": 1000 * vergence.focus_distance(leaving_d, 1.336),
        "air": 1000 * vergence.focus_distance(leaving_d),
        "far": 1336 / surface_d,
        "sign": 1336 / (surface_d - arriving_d),
        "arriving_d": arriving_d,
        "leaving_d": leaving_d,
    }


def back_vertex(front_d: float, back_d: float, thickness_mm: float) -> dict[str, Any]:
    """The back vertex power of a thick lens of index 1.5."""
    lens = vergence.thick_lens(front_d, back_d, thickness_mm, 1.5)
    return {
        "answer": lens.back_vertex_power_d,
        "thin": front_d + back_d,
        "equivalent": lens.equivalent_power_d,
        "unreduced": vergence.propagate(front_d, thickness_mm / 1000) + back_d,
        "reduced_m": thickness_mm / 1500,
        "at_back_d": lens.back_vertex_power_d - back_d,
    }
