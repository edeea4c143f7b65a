"""S + C sin² of the angle, each meridian by itself, arrows at twice the axis."""

import math

DEGREE = math.pi / 180  # in radians


def across(axis_deg):
    return axis_deg + 90 if axis_deg <= 90 else axis_deg - 90


def apart(first_d, second_d, angle_deg):
    """The third side of a triangle, by the law of cosines."""
    product = 2 * first_d * second_d * math.cos(angle_deg * DEGREE)
    return math.sqrt(first_d**2 + second_d**2 - product)


def carried(power_d, way_mm):
    """A power moved so much nearer to the eye, by the place of its focus, D."""
    return 1000 / (1000 / power_d - way_mm)


def share(angle_deg):
    """sin², by the cosine of twice the angle."""
    return (1 - math.cos(2 * angle_deg * DEGREE)) / 2


def at_cornea(n):
    along_d, across_d = (
        carried(power_d, n["vertex_mm"])
        for power_d in (n["sphere_d"], n["sphere_d"] + n["cylinder_d"])
    )
    return {"along_d": along_d, "moved_d": across_d - along_d, "axis_deg": n["axis_deg"]}


def mean_axis(n):
    """The eigenvector of the summed 2 × 2 matrices of power that has the greatest power."""
    xx = yy = xy = 0.0
    for name in ("first_deg", "second_deg", "third_deg"):
        s, c = math.sin(n[name] * DEGREE), math.cos(n[name] * DEGREE)
        xx, yy, xy = xx - s * s, yy - c * c, xy + s * c  # −1 D across the axis
    axis_deg = math.atan2(2 * xy, xx - yy) / DEGREE / 2
    return axis_deg if round(axis_deg) > 0 else axis_deg + 180


BY_HAND = {
    "transpose-to-plus": lambda n: {
        "new_d": n["sphere_d"] + n["cylinder_d"],
        "plus_d": -n["cylinder_d"],
        "across_deg": across(n["axis_deg"]),
    },
    "axis-has-no-power": lambda n: {
        "cylinder_d": n["cylinder_d"] * share(90),
        "across_deg": across(n["axis_deg"]),
        "axis_deg": n["axis_deg"],
    },
    "thirty-from-axis": lambda n: n["cylinder_d"] * share(n["meridian_deg"] - n["axis_deg"]),
    "strong-lens-to-cornea": at_cornea,
    "read-a-toric-lens": lambda n: {
        "sphere_d": n["sphere_d"],
        "cylinder_d": n["least_d"] - n["sphere_d"],
        "axis_deg": n["axis_deg"],
    },
    "sphere-for-the-circle": lambda n: (n["sphere_d"] + n["sphere_d"] + n["cylinder_d"]) / 2,
    "read-two-focal-lines": lambda n: {
        "behind_d": n["behind_d"],
        "cylinder_d": n["front_d"] - n["behind_d"],
        # a horizontal line in front: the vertical meridian is the stronger one, minus axis at 180
        "axis_deg": 180 if n["front_line"] == "horizontal" else 90,
    },
    "chart-to-vector": lambda n: {
        "m_d": n["sphere_d"] + n["cylinder_d"] / 2,
        "j0_d": -n["cylinder_d"] / 2 * math.cos(2 * n["axis_deg"] * DEGREE),
    },
    "vector-to-chart": lambda n: {
        "sphere_d": n["m_d"] + abs(n["j45_d"]),
        "cylinder_d": -2 * abs(n["j45_d"]),
        "axis_deg": 45 if n["j45_d"] > 0 else 135,
    },
    "read-an-arrow": lambda n: {
        "sphere_d": n["m_d"] + n["size_d"],
        "cylinder_d": -2 * n["size_d"],
        "axis_deg": n["twice_deg"] / 2,
    },
    "axis-from-180-to-90": lambda n: n["j0_d"] * math.cos(2 * 90 * DEGREE),
    "forty-five-apart": lambda n: n["cylinder_d"] * math.sqrt(2),
    "mean-of-axes": mean_axis,
    "square-cross": lambda n: n["cylinder_d"] * (share(90) + share(0)),
    "crossed-cylinder-held-up": lambda n: n["cylinder_d"] / 2,
    "along-in-numbers": lambda n: n["sphere_d"] + n["cylinder_d"] * share(n["gap_deg"]),
    "circle-in-numbers": lambda n: n["sphere_d"] + n["cylinder_d"] / 2,
    "circle-width-in-numbers": lambda n: (
        1000 * n["pupil_mm"] * n["more_d"] / (n["weak_d"] + n["strong_d"])
    ),
    "arrow-in-numbers": lambda n: -2 * math.sqrt(n["j0_d"] ** 2 + n["j45_d"] ** 2),
    "j0-in-numbers": lambda n: -n["cylinder_d"] / 2 * math.cos(2 * n["axis_deg"] * DEGREE),
    "axis-from-vector-in-numbers": lambda n: 90 - math.atan(n["j45_d"] / -n["j0_d"]) / DEGREE / 2,
    "crossed-in-numbers": lambda n: -apart(n["first_d"], n["second_d"], 180 - 2 * n["gap_deg"]),
}

KEYED = {}
