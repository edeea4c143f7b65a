"""Lesson 01: vergence."""

from shared_utils.optics import vergence


def reciprocal(focal_cm):
    """The power of a lens from its focal length."""
    return {
        "answer": vergence.vergence(focal_cm / 100),
        "metres": focal_cm / 100,
        "centimetres": focal_cm,
        "tenfold": 1000 / focal_cm,
    }


def lens_from_its_image(object_cm, image_cm):
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


def page(distance_cm):
    """The vergence of a page's light."""
    return {
        "answer": vergence.vergence(-distance_cm / 100),
        "sign": 100 / distance_cm,
        "centimetres": -1 / distance_cm,
        "distance": -distance_cm / 100,
        "distance_m": distance_cm / 100,
    }


def image(distance_cm, lens_d):
    """The place of the image that a thin lens makes."""
    arriving_d = vergence.vergence(-distance_cm / 100)
    leaving_d = vergence.refract(arriving_d, lens_d)
    return {
        "answer": 100 * vergence.focus_distance(leaving_d),
        "sign": 100 / (lens_d - arriving_d),
        "far": 100 / lens_d,
        "vergence": leaving_d,
        "arriving_d": arriving_d,
        "leaving_d": leaving_d,
    }


def contact_lens(spectacle_d, vertex_mm):
    """The contact lens that does the work of spectacles."""
    return {
        "answer": vergence.at_vertex(spectacle_d, vertex_mm, 0.0),
        "outward": vergence.at_vertex(spectacle_d, 0.0, vertex_mm),
        "unchanged": spectacle_d,
        "rule": spectacle_d + vertex_mm / 1000 * spectacle_d**2,
        "vertex_m": vertex_mm / 1000,
    }


def two_lenses(first_d, way_cm, second_d):
    """What leaves the second of two lenses, for light from far away."""
    pair = vergence.two_lenses(first_d, second_d, way_cm / 100)
    return {
        "answer": pair.after_second_d,
        "touching": first_d + second_d,
        "backwards": first_d / (1 + way_cm / 100 * first_d) + second_d,
        "equivalent": first_d + second_d - way_cm / 100 * first_d * second_d,
        "way_m": way_cm / 100,
        "at_second_d": pair.at_second_d,
    }


def inside(distance_mm):
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


def near_point(refraction_d, accommodation_d):
    """The near point of a myope who accommodates."""
    far_d = -refraction_d
    return {
        "answer": -100 * vergence.focus_distance(refraction_d - accommodation_d),
        "far": 100 / far_d,
        "sign": 100 / (far_d - accommodation_d),
        "dioptres": far_d + accommodation_d,
        "near_d": refraction_d - accommodation_d,
    }


def in_aqueous(distance_cm, surface_d):
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


def back_vertex(front_d, back_d, thickness_mm):
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
