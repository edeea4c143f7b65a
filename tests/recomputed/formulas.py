"""1336 over a way is a vergence; what is needed at the lens less what arrives there.

The slope of the refraction with the lens, 0.7 D for a dioptre in an average eye, is the lesson's.
"""

import math

LENGTH_MM, K_D, PLACE_MM = 23.5, 43.5, 5.2


def arrives(cornea_d, place_mm):
    return 1336.0 / (1336.0 / cornea_d - place_mm)


def lens(length_mm, cornea_d, place_mm):
    return 1336.0 / (length_mm - place_mm) - arrives(cornea_d, place_mm)


def srk_t(a_constant):
    """Place and power for emmetropia in the average eye, as printed in 1990 (from memory)."""
    radius_mm = 337.5 / K_D
    width_mm = -5.41 + 0.58412 * LENGTH_MM + 0.098 * K_D
    dome_mm = radius_mm - math.sqrt(radius_mm**2 - width_mm**2 / 4.0)
    place_mm = dome_mm + 0.62467 * a_constant - 68.747 - 3.336
    behind_mm = LENGTH_MM + 0.65696 - 0.02029 * LENGTH_MM - place_mm
    return place_mm, 1336.0 / behind_mm - arrives(333.0 / radius_mm, place_mm)


def raised(n):
    (old_mm, old_d), (new_mm, new_d) = srk_t(n["before"]), srk_t(n["after"])
    return {"deeper_mm": new_mm - old_mm, "answer": new_d - old_d}


def read_gap(n):
    """Both curves read to a dioptre, and only then subtracted."""
    needed_d = 1336.0 / (n["length_mm"] - n["position_mm"])
    return round(needed_d) - round(arrives(n["k_d"], n["position_mm"]))


def implanted(n):
    return {
        "answer": 0.7 * (n["computed_d"] - n["implanted_d"]),
        "implanted_d": math.ceil(2.0 * n["computed_d"]) / 2.0,
    }


def nearest(n):
    misses = [abs(left_d - n["target_d"]) for left_d in n["predicted_d"]]
    return n["iol_power_d"][misses.index(min(misses))]


BY_HAND = {
    "deeper-lens": lambda n: (
        lens(LENGTH_MM, K_D, PLACE_MM + n["deeper_mm"]) - lens(LENGTH_MM, K_D, PLACE_MM)
    ),
    "what-arrives": lambda n: arrives(n["cornea_d"], n["position_mm"]),
    "read-the-gap": read_gap,
    "a-constant-up": raised,
    "step-at-spectacles": lambda n: 0.7 * (n["implanted_d"] - n["planned_d"]),
    "predict-for-implanted": implanted,
    "read-the-ladder": nearest,
    "arrives-in-numbers": lambda n: arrives(n["cornea_d"], n["position_mm"]),
    "difference-in-numbers": lambda n: (
        1336.0 / (n["length_mm"] - n["position_mm"]) - n["arriving_d"]
    ),
    "place-in-numbers": lambda n: 0.98 + 0.4 * n["chamber_mm"] + n["length_mm"] / 10.0,
    "srk-in-numbers": lambda n: n["a_constant"] - 2.5 * n["length_mm"] - 0.9 * n["k_d"],
    "left-in-numbers": lambda n: 0.7 * (n["computed_d"] - n["implanted_d"]),
}

KEYED = {}
