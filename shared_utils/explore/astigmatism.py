"""Sliders on astigmatism: power around a lens, the lines of an astigmatic eye, cylinders added."""

import numpy as np
from matplotlib.figure import Figure
from matplotlib.patches import Circle, Ellipse, FancyArrowPatch, Rectangle

from shared_utils.cases import astigmatism as cases
from shared_utils.explore.engine import Demo, Slider
from shared_utils.show import style
from shared_utils.show.style import signed


def degrees(angle_deg: float) -> str:
    """Return an angle as it is written: whole degrees.

    >>> degrees(29.6)
    '30°'
    """
    return f"{angle_deg:.0f}°"


# --- power around a lens ---------------------------------------------------------------------


def _build_around():
    figure = Figure(figsize=(7.0, 3.4), dpi=style.DPI, layout="constrained")
    glass, curve = figure.subplots(1, 2, width_ratios=(1.0, 1.55))
    glass.set(xlim=(-1.5, 1.5), ylim=(-1.75, 1.55), aspect="equal", xticks=[], yticks=[])
    for spine in glass.spines.values():
        spine.set_visible(False)
    glass.add_patch(Circle((0, 0), 1.0, facecolor="#e4edf5", edgecolor=style.GREY))
    curve.set(
        xlim=(0, 180),
        ylim=(-4.6, 2.9),
        xticks=range(0, 181, 30),
        xlabel="meridian, °",
        ylabel="power along it, D",
    )
    curve.axhline(cases.SPHERE_D, color=style.GREY, linewidth=0.8)
    curve.text(184, cases.SPHERE_D, "sphere", color=style.GREY, ha="left", va="center")
    artists = {}
    (artists["axis"],) = glass.plot([], [], color=style.BLUE, linewidth=3)
    (artists["across"],) = glass.plot([], [], color=style.VERMILION, linewidth=3, dashes=(4, 2))
    (artists["asked"],) = glass.plot([], [], color="black", linewidth=1.5)
    artists["asked text"] = glass.text(0, 1.32, "", ha="center", va="center")
    artists["axis text"] = glass.text(0, -1.28, "", ha="center", va="center", color=style.BLUE)
    artists["across text"] = glass.text(
        0, -1.58, "", ha="center", va="center", color=style.VERMILION
    )
    (artists["powers"],) = curve.plot([], [], color=style.GREY)
    for name, marker, colour in (
        ("at axis", "s", style.BLUE),
        ("at across", "D", style.VERMILION),
        ("here", "o", "black"),
    ):
        (artists[name],) = curve.plot([], [], marker, color=colour, markersize=8, clip_on=False)
        artists[name].set_in_layout(False)  # the edge of the axes does not cut it
    artists["here text"] = curve.text(90, 2.55, "", ha="center", va="center", weight="bold")
    return figure, artists


def _move_around(artists, data):
    axis_deg, across_deg = data.lens.axis_deg, data.across_deg
    artists["axis"].set_data(*cases.compute_line_ends(axis_deg))
    artists["across"].set_data(*cases.compute_line_ends(across_deg))
    artists["asked"].set_data(*cases.compute_line_ends(data.meridian_deg, 1.15))
    artists["asked text"].set_text(f"asked: along {degrees(data.meridian_deg)}")
    artists["axis text"].set_text(f"axis {degrees(axis_deg)}: no cylinder")
    artists["across text"].set_text(f"{degrees(across_deg)}: all of it")
    artists["powers"].set_data(cases.MERIDIANS_DEG, data.powers_d)
    artists["at axis"].set_data([axis_deg], [cases.SPHERE_D])
    artists["at across"].set_data([across_deg], [data.across_d])
    artists["here"].set_data([data.meridian_deg], [data.power_d])
    artists["here text"].set_text(f"{degrees(data.meridian_deg)}: {signed(data.power_d)}")


def _say_around(data):
    if not data.lens.axis_is_meaningful:
        return (
            "With no cylinder the lens is a sphere: −1.00 D along every meridian, and no axis to "
            f"speak of. So it is along {degrees(data.meridian_deg)}."
        )
    return (
        f"{data.lens.written()} and {data.lens.transposed().written()} are one lens. Along "
        f"{degrees(data.meridian_deg)}, {degrees(data.from_axis_deg)} from the first axis, it has "
        f"{signed(data.power_d)}: the sphere and {100 * data.share:.0f} % of the cylinder."
    )


def _describe_around(data):
    return (
        f"A lens with its meridians, and the curve of its power along them. {_say_around(data)} "
        "Between axis and right angle the power runs as a sine squared."
    )


def power_around() -> Demo:
    """Return the demo: cylinder, axis and a meridian against the power along it."""
    return Demo(
        title="power of a lens along its meridians",
        controls=(
            Slider("cylinder_d", "Cylinder, D (sphere −1.00 D)", -3, 3, 0.25, -2, "D", signed=True),
            Slider("axis_deg", "Its axis, °", 5, 180, 5, 30, "°"),
            Slider("meridian_deg", "Meridian asked about, °", 5, 180, 5, 30, "°"),
        ),
        build=_build_around,
        compute=cases.compute_meridional_power,
        move=_move_around,
        sentence=_say_around,
        alt=_describe_around,
    )


# --- two lines and a circle ------------------------------------------------------------------


def _build_spot():
    figure = Figure(figsize=(7.0, 3.5), dpi=style.DPI, layout="constrained")
    way, retina = figure.subplots(1, 2, width_ratios=(1.75, 1.0))
    way.set(
        xlim=cases.REACH_MM,
        ylim=(-0.76, 0.76),
        yticks=[],
        xlabel="mm behind the retina (negative: in front)",
    )
    way.spines["left"].set_visible(False)
    way.plot([0, 0], [-0.56, 0.56], color=style.GREY, linewidth=3)
    way.axhline(0, color=style.GREY, linewidth=0.6)
    way.text(0.06, -0.53, "retina", color=style.GREY, va="center")
    way.text(-2.05, -0.53, "black bar: the circle", va="center")
    beam = Rectangle((cases.REACH_MM[0], -0.46), np.ptp(cases.REACH_MM), 0.92, visible=False)
    way.add_patch(beam)
    retina.set(
        xlim=(-270, 270),
        ylim=(-270, 270),
        aspect="equal",
        xticks=(-200, 0, 200),
        yticks=(-200, 0, 200),
        xlabel="spot on the retina, µm",
    )
    _draw_letter(retina)
    artists = {}
    for meridian, colour, dashes in (
        ("vertical", style.BLUE, (None, None)),
        ("horizontal", style.ORANGE, (5, 2)),
    ):
        for side in (-1, 1):
            (artists[f"{meridian} {side}"],) = way.plot([], [], color=colour, dashes=dashes)
            artists[f"{meridian} {side}"].set_clip_path(beam)
    (artists["circle"],) = way.plot([], [], color="black", linewidth=4, solid_capstyle="butt")
    (artists["horizontal line"],) = way.plot([], [], "s", color=style.BLUE, markersize=8)
    (artists["vertical line"],) = way.plot([], [], "D", color=style.ORANGE, markersize=8)
    artists["horizontal text"] = way.text(
        np.mean(cases.REACH_MM), 0.68, "", color=style.BLUE, ha="center", va="center"
    )
    artists["vertical text"] = way.text(
        np.mean(cases.REACH_MM), -0.68, "", color="#8a5f00", ha="center", va="center"
    )
    artists["spot"] = retina.add_patch(
        Ellipse((0, 0), 1, 1, facecolor=style.VERMILION, edgecolor="black", alpha=0.75)
    )
    return figure, artists


def _draw_letter(axes):
    """Draw an E as large as a 20/60 letter on the retina into the corner."""
    bar, left, low = cases.LETTER_UM / 5.0, 150.0, -250.0
    axes.add_patch(Rectangle((left, low), bar, cases.LETTER_UM, color="black"))
    for row in (0, 2, 4):
        axes.add_patch(Rectangle((left, low + row * bar), cases.LETTER_UM, bar, color="black"))
    axes.set_title("E: a 20/60 letter")


def _move_spot(artists, data):
    for meridian, half in data.half_beams_mm.items():
        for side in (-1, 1):
            artists[f"{meridian} {side}"].set_data(cases.REACH_MM, side * half)
    half_circle = data.circle_radius_mm
    artists["circle"].set_data([data.circle_mm] * 2, [-half_circle, half_circle])
    artists["horizontal line"].set_data([data.horizontal_line_mm], [0.0])
    artists["vertical line"].set_data([data.vertical_line_mm], [0.0])
    for name, place_mm in (
        ("horizontal", data.horizontal_line_mm),
        ("vertical", data.vertical_line_mm),
    ):
        artists[f"{name} text"].set_text(f"{name} line {_place(place_mm)}")
    artists["spot"].set_width(max(data.width_um, 4.0))
    artists["spot"].set_height(max(data.height_um, 4.0))


def _place(place_mm):
    if abs(place_mm) < 0.005:
        return "on the retina"
    return f"{abs(place_mm):.2f} mm {'behind' if place_mm > 0 else 'in front'}"


def _say_spot(data):
    return (
        f"Eye {data.eye.written()} behind {signed(data.lens_d)}: horizontal line "
        f"{_place(data.horizontal_line_mm)}, vertical line {_place(data.vertical_line_mm)}, "
        f"circle {_place(data.circle_mm)}; spot {data.width_um:.0f} µm wide, "
        f"{data.height_um:.0f} µm high."
    )


def _describe_spot(data):
    if max(data.width_um, data.height_um) < 1.0:
        shape = "a point"
    elif abs(data.width_um - data.height_um) < 1.0:
        shape = "a circle"
    elif data.width_um > data.height_um:
        shape = "lying, wider than high"
    else:
        shape = "standing, higher than wide"
    return (
        f"Light near the retina in two meridians, and its spot on the retina, which is {shape}. "
        f"{_say_spot(data)}"
    )


def lines_and_circle() -> Demo:
    """Return the demo: cylinder, sphere before the eye and pupil against the spot on the retina."""
    return Demo(
        title="two focal lines and the spot on the retina",
        controls=(
            Slider("lens_d", "Sphere before the eye, D", -2.5, 2.5, 0.25, 0, "D", signed=True),
            Slider("cylinder_d", "The eye's cylinder × 180, D", -2.5, 0, 0.25, -2, "D", True),
            Slider("pupil_mm", "Pupil, mm", 2, 6, 0.5, 4, "mm"),
        ),
        build=_build_spot,
        compute=cases.compute_retinal_spot,
        move=_move_spot,
        sentence=_say_spot,
        alt=_describe_spot,
    )


# --- cylinders added -------------------------------------------------------------------------


def _build_added():
    figure = Figure(figsize=(7.0, 3.7), dpi=style.DPI, layout="constrained")
    frame, plane = figure.subplots(1, 2, width_ratios=(1.0, 1.15))
    frame.set(xlim=(-1.4, 1.4), ylim=(-1.4, 1.4), aspect="equal", xticks=[], yticks=[])
    frame.set_title("in the trial frame")
    for spine in frame.spines.values():
        spine.set_visible(False)
    frame.add_patch(Circle((0, 0), 1.0, facecolor="#f4f4f4", edgecolor=style.GREY))
    for axis_deg in (45, 90, 135, 180):
        x, y = 1.22 * np.cos(np.radians(axis_deg)), 1.22 * np.sin(np.radians(axis_deg))
        frame.text(x, y, str(axis_deg), color=style.GREY, ha="center", va="center")
    plane.set(xlim=(-2.4, 2.4), ylim=(-2.4, 2.4), aspect="equal", xlabel="J0, D", ylabel="J45, D")
    plane.set_title("at twice the angle")
    plane.set(xticks=(-2, -1, 0, 1, 2), yticks=(-2, -1, 0, 1, 2))
    plane.axhline(0, color=style.GREY, linewidth=0.6)
    plane.axvline(0, color=style.GREY, linewidth=0.6)
    for x, y, axis in ((2.1, -0.25, "180"), (0.3, 2.15, "45"), (-2.1, -0.25, "90")):
        plane.text(x, y, axis, color=style.GREY, ha="center", va="center")
    plane.text(0.4, -2.15, "135", color=style.GREY, ha="center", va="center")
    artists = {}
    for name, colour, dashes, width in (
        ("first", style.BLUE, "-", 3),
        ("second", style.ORANGE, "--", 3),
        ("total", "black", "-", 2),
    ):
        (artists[f"{name} axis"],) = frame.plot([], [], color=colour, linestyle=dashes)
        artists[f"{name} axis"].set_linewidth(width)
        artists[name] = plane.add_patch(
            FancyArrowPatch(
                (0, 0),
                (1, 0),
                arrowstyle="-|>,head_length=7,head_width=4",
                color=colour,
                linestyle=dashes if name == "second" else "-",
                linewidth=width,
                shrinkA=0,
                shrinkB=0,
            )
        )
    artists["words"] = plane.text(-2.3, -1.75, "", ha="left", va="center", weight="bold")
    return figure, artists


def _move_added(artists, data):
    for name, (tail, tip) in data.arrows.items():
        lens = getattr(data, name)
        drawn = lens.axis_is_meaningful
        line = cases.compute_line_ends(lens.axis_deg) if drawn else ([], [])
        artists[f"{name} axis"].set_data(*line)
        artists[name].set_visible(bool(drawn))
        artists[name].set_positions(tail, tip)
    artists["words"].set_text(f"cylinder {signed(data.total.cylinder_d)}")


def _sum_in_words(data):
    total = data.total
    if not total.axis_is_meaningful:
        return f"a sphere of {signed(total.spherical_equivalent_d)}"
    return total.written()


def _say_added(data):
    if data.second.cylinder_d == 0.0:
        return "Nothing is added: −1.00 × 180 stays as it is, for a cylinder of 0.00 has no axis."
    return (
        f"−1.00 × 180 and {signed(data.second.cylinder_d, '')} × {data.second.axis_deg:.0f} make "
        f"{_sum_in_words(data)}. The axes lie {degrees(data.apart_deg)} apart, the arrows "
        f"{degrees(data.apart_in_plane_deg)}. As numbers they would add to "
        f"{signed(data.sum_of_numbers_d)}."
    )


def _describe_added(data):
    return (
        "Two cylinders at their axes, and as arrows at twice the angle, the second set on the tip "
        f"of the first, the black arrow their sum. {_say_added(data)}"
    )


def adding_cylinders() -> Demo:
    """Return the demo: a second cylinder and its axis against the sum with −1.00 × 180."""
    return Demo(
        title="two cylinders added at twice their angle",
        controls=(
            Slider("second_d", "Second cylinder, D", -3, 0, 0.25, -1, "D", signed=True),
            Slider("second_axis_deg", "Its axis, °", 5, 180, 5, 180, "°"),
        ),
        build=_build_added,
        compute=cases.compute_cylinder_sum,
        move=_move_added,
        sentence=_say_added,
        alt=_describe_added,
    )
