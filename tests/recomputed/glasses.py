"""Lesson glasses: V / (1 − way · V), size 1 / (1 − h F), prism in Δ as cm times D, reciprocals."""


def moved(power_d, nearer_mm):
    """The power that does the same, so much nearer to the eye, D."""
    return 1000 / (1000 / power_d - nearer_mm)


def size(lens_d, way_mm):
    """Size of the image through a thin lens so far in front of the entrance pupil."""
    return 1000 / (1000 - way_mm * lens_d)


def demand_at_cornea(refraction_d, page_mm, vertex_mm):
    """Difference at the cornea of light from far and from a page, both through the glasses, D."""
    from_page_d = refraction_d - 1000 / page_mm
    return moved(refraction_d, vertex_mm) - moved(from_page_d, vertex_mm)


BY_HAND = {
    "plus-to-contact-lens": lambda n: moved(n["spectacle_d"], n["vertex_mm"]),
    "measured-at-another-vertex": lambda n: moved(
        n["refraction_d"], n["measured_mm"] - n["worn_mm"]
    ),
    "sliding-glasses": lambda n: moved(n["lens_d"], 12 + n["slid_mm"]) - moved(n["lens_d"], 12),
    "size-of-minus-five": lambda n: 100 * (1 - size(n["lens_d"], n["way_mm"])),
    "one-plus-lens": lambda n: 100 * (size(n["lens_d"], n["vertex_mm"] + 3) - 1),
    "read-a-vertex-from-sizes": lambda n: n["vertex_mm"],
    "prism-beside-a-plus-lens": lambda n: n["lens_d"] * n["down_mm"] / 10,
    "imbalance-of-two-minus": lambda n: (n["left_d"] - n["right_d"]) * n["down_mm"] / 10,
    "equal-strong-lenses": lambda n: {},  # the key is “None”: equal prisms differ by nothing
    "read-unequal-centres": lambda n: -n["lens_d"] * (n["right_mm"] - n["left_mm"]) / 10,
    "add-for-forty": lambda n: 100 / n["page_cm"] - n["amplitude_d"] / 2,
    "range-of-an-add": lambda n: {
        "near_cm": 100 / (n["add_d"] + n["unnoticed_d"]),
        "far_cm": 100 / (n["add_d"] - n["unnoticed_d"]),
    },
    "add-for-a-screen": lambda n: 100 / n["screen_cm"],
    "frame-in-numbers": lambda n: moved(n["refraction_d"], n["measured_mm"] - n["worn_mm"]),
    # 1 against 1 / (1 − h F)
    "aniseikonia-in-numbers": lambda n: -(n["vertex_mm"] + 3) * n["lens_d"] / 10,
    "imbalance-in-numbers": lambda n: (n["right_d"] - n["left_d"]) * n["down_mm"] / 10,
    "add-in-numbers": lambda n: 100 / n["page_cm"] - n["amplitude_d"] / 2,
}

# what a page at a third of a metre from the glasses costs in contact lenses, less that in glasses
MORE_D = 1000 / (1000 / 3 + 12) - demand_at_cornea(-6.0, 1000 / 3, 12)

KEYED = {"contact-lenses-near-forty-five": (MORE_D,)}
