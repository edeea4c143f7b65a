"""Lesson tasks: a fifth of the x over the distance; 1 / V; blur is pupil times defocus."""

import math


def need(n, height_mm):
    """logMAR of a fifth of a letter at the distance, less the reserve of a page."""
    detail_rad = height_mm / 5 / (10 * n["distance_cm"])
    return math.log10(detail_rad * 60 * 180 / math.pi) - 0.30


BY_HAND = {
    "needs-of-a-label": lambda n: n["limit"] - 0.20,
    "what-ends-at-arm": lambda n: 100 / n["depth_d"],
    "weakest-reader": lambda n: math.ceil(400 / n["page_cm"] - 4 * n["depth_d"]) / 4,
    "what-a-reader-costs": lambda n: 100 / n["reader_d"],
    "offset-eye": lambda n: 100 / n["offset_d"],
    "blur-and-pupil": lambda n: n["wide_mm"] / n["small_mm"],
    "one-m-at-forty": lambda n: 2 + math.log10(n["print_m"] / n["distance_cm"]),
    "print-to-read": lambda n: need(n, n["letter_mm"]),
    "pupil-to-read": lambda n: n["end_mrad"] / 1.5,
    "need-in-numbers": lambda n: need(n, n["letter_mm"]),
    "reader-in-numbers": lambda n: math.ceil(400 / n["page_cm"] - 4 * n["depth_d"]) / 4,
    "blur-in-numbers": lambda n: math.degrees(n["pupil_mm"] * n["defocus_d"] / 1000) * 60,
    "gap-in-numbers": lambda n: 1 / (n["add_d"] / 100 - n["half_d"] / 100),
    "wider-pupil-in-numbers": lambda n: n["day_mm"] * n["borne_d"] / n["evening_mm"],
}

KEYED = {"half-logmar": (math.log10(2),)}
