"""Lesson vergence: V = n / distance, F added at a lens, V / (1 − way · V) along a way."""

import math


def carried(vergence_d, way_m):
    """What becomes of vergence on a way in air."""
    return vergence_d / (1.0 - way_m * vergence_d)


def past(power_d, way_cm):
    """What converging light from a thin lens has after a way, by the distance to its focus, D."""
    return 100.0 / (100.0 / power_d - way_cm)


BY_HAND = {
    "reciprocal": lambda n: 100 / n["focal_cm"],
    "sign-of-near-light": lambda n: -100 / n["distance_cm"],
    "lens-adds": lambda n: 100 / (n["arriving_d"] + n["lens_d"]),
    "which-way-weaker": lambda n: carried(n["spectacle_d"], n["vertex_mm"] / 1000),
    # 1/coin − 1/image = lens, both distances counted in front
    "virtual-image": lambda n: n["coin_cm"] / (1 - n["coin_cm"] * n["lens_d"] / 100),
    "front-of-cornea": lambda n: 376 / n["radius_mm"],
    "plus-to-cornea": lambda n: carried(n["spectacle_d"], n["vertex_mm"] / 1000),
    "two-touching": lambda n: 100 / (n["first_d"] + n["second_d"]),
    "two-apart": lambda n: past(n["first_d"], n["way_cm"]) + n["second_d"],
    "parallel-behind-the-lens": lambda n: 100 / n["lens_d"],
    "glasses-slide-down": lambda n: (
        carried(n["power_d"], (n["from_mm"] + n["slip_mm"]) / 1000)
        - carried(n["power_d"], n["from_mm"] / 1000)
    ),
    "past-the-focus": lambda n: past(n["vergence_d"], n["way_cm"]),
    "converging-in-aqueous": lambda n: 1336 / n["distance_mm"],
    "plus-and-minus-apart": lambda n: past(n["first_d"], n["way_cm"]) - n["first_d"],
    "read-a-lens": lambda n: 100 / n["image_cm"] + 100 / n["object_cm"],
    "read-where-it-meets": lambda n: 100 / n["start_d"],
    "read-the-second-lens": lambda n: 100 / n["image_cm"] - 100 / n["beyond_cm"],
    "page-in-numbers": lambda n: -100 / n["distance_cm"],
    "image-in-numbers": lambda n: 100 / (n["lens_d"] - 100 / n["distance_cm"]),
    "contact-lens-in-numbers": lambda n: carried(n["spectacle_d"], n["vertex_mm"] / 1000),
    "two-lenses-in-numbers": lambda n: past(n["first_d"], n["way_cm"]) + n["second_d"],
    "light-inside-the-eye": lambda n: 1336 / n["distance_mm"],
    "near-point-of-a-myope": lambda n: 100 / (n["accommodation_d"] - n["refraction_d"]),
    "image-in-aqueous-in-numbers": lambda n: 1336 / (n["surface_d"] - 100 / n["distance_cm"]),
    "back-vertex-in-numbers": lambda n: (
        carried(n["front_d"], n["thickness_mm"] / 1500) + n["back_d"]
    ),
}

KEYED = {
    "slower-light": (1.336,),  # aqueous, Gullstrand
    "when-it-matters": (round(2 * math.sqrt(0.25 / 0.012)) / 2,),
}
