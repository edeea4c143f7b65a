"""Sliders on glasses: the size of what they show, the prism beside the centre, the add."""

import numpy as np
from matplotlib.figure import Figure
from matplotlib.patches import Circle, Ellipse, FancyBboxPatch, Polygon, Rectangle

from shared_utils.cases import glasses as cases
from shared_utils.explore.engine import Choice, Demo, Slider
from shared_utils.show import style
from shared_utils.show.style import signed

# a letter E of height 1 about its middle: five strokes high and wide
_E = 0.2 * np.array(
    [(0, 0), (5, 0), (5, 1), (1, 1), (1, 2), (5, 2), (5, 3), (1, 3), (1, 4), (5, 4), (5, 5), (0, 5)]
)
_E -= 0.5


def _build_size():
    figure = Figure(figsize=(7.0, 3.5), dpi=style.DPI, layout="constrained")
    axes, letters = figure.subplots(1, 2, width_ratios=(3.8, 3.2))
    axes.set(
        xlim=(-26.0, 15.0),
        ylim=(-13.5, 15.5),
        aspect="equal",
        yticks=[],
        xlabel="distance from the cornea, mm",
    )
    axes.spines["left"].set_visible(False)
    axes.axhline(0, color=style.GREY, linewidth=0.8)
    axes.add_patch(Circle((12.0, 0.0), 12.0, fc="#e4edf5", ec=style.GREY))
    for side in (1, -1):  # the iris leaves the pupil free
        axes.plot([3.0, 3.0], [side * 2.0, side * 6.5], color="black", linewidth=2.5)
    axes.text(9.6, -4.6, "entrance\npupil", ha="center", va="center")
    axes.plot([3.4, 5.6], [-4.6, -4.6], color=style.GREY, linewidth=0.9)
    letters.set(xlim=(0.0, 3.2), ylim=(-1.05, 1.15), xticks=[], yticks=[])
    for spine in letters.spines.values():
        spine.set_visible(False)
    letters.axhline(0.5, color=style.GREY, linewidth=0.8, dashes=(4, 3))
    letters.axhline(-0.5, color=style.GREY, linewidth=0.8, dashes=(4, 3))
    letters.add_patch(Polygon(_E + np.array([0.8, 0.0]), fc="black"))
    letters.text(0.8, 1.05, "fellow eye,\nno lens", ha="center", va="top")
    letters.text(2.35, 1.05, "this eye,\nwith its lens", ha="center", va="top")
    artists = {
        "letter": letters.add_patch(Polygon(_E, fc=style.BLUE)),
        "lens": axes.add_patch(Ellipse((0, 0), 1.6, 17.0, fc="#b9cfe4", ec="black")),
    }
    artists["lens text"] = axes.text(0, 13.0, "", ha="center", va="center", weight="bold")
    (artists["way"],) = axes.plot([], [], color=style.VERMILION, linewidth=2.2)
    artists["way text"] = axes.text(
        0, -10.6, "", color=style.VERMILION, ha="center", va="center", weight="bold"
    )
    artists["size text"] = letters.text(
        1.6, -0.9, "", color=style.BLUE, ha="center", va="center", weight="bold"
    )
    return figure, artists


def _move_size(artists, data):
    place = -data.vertex_mm
    artists["lens"].set_center((place, 0.0))
    artists["lens text"].set_position((max(place, -20.0), 13.0))
    artists["lens text"].set_text(signed(data.lens_d))
    artists["way"].set_data([place, place, 3.0, 3.0], [-8.0, -9.2, -9.2, -8.0])
    artists["way text"].set_position((min((place + 3.0) / 2.0, -3.4) - 4.0, -11.4))
    artists["way text"].set_text(f"{data.to_pupil_mm:.0f} mm")
    artists["letter"].set_xy(data.size * _E + np.array([2.35, 0.0]))
    artists["size text"].set_text(_percent(data))


def _percent(data):
    return _compared(data.change_percent)


def _compared(change_percent):
    if abs(change_percent) < 0.05:
        return "neither larger nor smaller"
    return f"{abs(change_percent):.1f} % {'larger' if change_percent > 0 else 'smaller'}"


def _fusing(data):
    return "Most people can fuse that" if data.fused else "More than most people fuse"


def _say_size(data):
    place = " on the cornea" if data.vertex_mm == 0 else f", {data.vertex_mm:.0f} mm in front"
    return (
        f"An eye of {signed(data.refraction_d)} at 12 mm needs {signed(data.lens_d)}{place}. The "
        f"image becomes {_percent(data)}; beside it that of an operated fellow eye is "
        f"{_compared(data.fellow_percent)}. {_fusing(data)}."
    )


def _describe_size(data):
    return (
        f"Left, an eye with a lens of {signed(data.lens_d)} {data.vertex_mm:.0f} mm in front of "
        f"its cornea, {data.to_pupil_mm:.0f} mm from the entrance pupil. Right, a letter as the "
        f"fellow eye sees it and as this eye sees it: {_percent(data)}. {_fusing(data)}."
    )


def glasses_and_size() -> Demo:
    """Return the demo: refraction and place of the lens against its power and the image's size."""
    return Demo(
        title="place of a lens, its power and the size of the image",
        controls=(
            Slider("refraction_d", "Refraction at 12 mm, D", -16, 12, 0.25, -8, "D", signed=True),
            Slider("vertex_mm", "Lens in front of the cornea, mm", 0, 20, 1, 12, "mm"),
        ),
        build=_build_size,
        compute=cases.compute_corrected_eye,
        move=_move_size,
        sentence=_say_size,
        alt=_describe_size,
    )


LENS_PLACES = {"right": -30.0, "left": 30.0}


def _build_prism():
    figure = Figure(figsize=(7.0, 3.4), dpi=style.DPI, layout="constrained")
    axes, page = figure.subplots(1, 2, width_ratios=(4.2, 2.8))
    axes.set(xlim=(-62, 62), ylim=(-42, 36), aspect="equal", xticks=[], yticks=[])
    for spine in axes.spines.values():
        spine.set_visible(False)
    artists = {}
    for name, x in LENS_PLACES.items():
        axes.add_patch(
            FancyBboxPatch(
                (x - 23, -17),
                46,
                34,
                boxstyle="round,pad=0,rounding_size=9",
                fc="#e4edf5",
                ec="black",
            )
        )
        axes.plot([x], [0], "+", color="black", markersize=11, mew=2)
        artists[f"{name} power"] = axes.text(x, 27, "", ha="center", va="center")
        (artists[f"{name} gaze"],) = axes.plot([], [], "o", color=style.VERMILION, markersize=7)
        artists[f"{name} prism"] = axes.text(
            x, -26, "", color=style.VERMILION, ha="center", va="center"
        )
    axes.text(0, -38, "cross: optical centre; dot: where he looks", ha="center", va="center")
    page.set(xlim=(0.0, 10.0), ylim=(-9.5, 9.5), xticks=[], ylabel="on a page at 40 cm, cm")
    page.set_yticks([-8, -4, 0, 4, 8])
    page.yaxis.set_major_formatter(lambda cm, _: signed(cm, "", 0))
    page.spines["bottom"].set_visible(False)
    for name, x, colour in (("right", 2.6, "black"), ("left", 7.4, style.BLUE)):
        (artists[f"{name} line"],) = page.plot([], [], color=colour, linewidth=6.0)
        page.text(x, -8.9, f"{name} eye", ha="center", va="center", color=colour)
    (artists["apart"],) = page.plot([], [], color=style.VERMILION, linewidth=1.8)
    artists["apart text"] = page.text(
        5.0, 8.7, "", color=style.VERMILION, ha="center", va="center", weight="bold"
    )
    return figure, artists


def _move_prism(artists, data):
    for name, power, prism in (
        ("right", data.right_d, data.right_prism),
        ("left", data.left_d, data.left_prism),
    ):
        artists[f"{name} power"].set_text(f"{name} {signed(power)}")
        artists[f"{name} gaze"].set_data([LENS_PLACES[name]], [-data.gaze_down_mm])
        artists[f"{name} prism"].set_text(_based(prism))
    # the image moves towards the edge of the prism, away from its base
    right, left = data.right_line_cm, data.left_line_cm
    artists["right line"].set_data([1.0, 4.2], [right, right])
    artists["left line"].set_data([5.8, 9.0], [left, left])
    artists["apart"].set_data([5.0, 5.0], [right, left])
    artists["apart text"].set_text(f"{abs(data.apart_cm):.1f} cm apart")


def _based(prism):
    if abs(prism) < 0.005:
        return "no prism"
    return f"{abs(prism):.1f} Δ base {'up' if prism > 0 else 'down'}"


def _imbalance_words(data):
    if abs(data.imbalance) < 0.005:
        return "no imbalance"
    if data.fused:
        return f"{abs(data.imbalance):.1f} Δ apart, which most people fuse"
    return f"{abs(data.imbalance):.1f} Δ apart, more than most people fuse"


def _say_prism(data):
    return (
        f"{data.gaze_down_mm:.0f} mm below the centres: right eye {_based(data.right_prism)}, left "
        f"eye {_based(data.left_prism)}: {_imbalance_words(data)}. On a page at 40 cm a line "
        f"stands {abs(data.apart_cm):.1f} cm apart for the two eyes."
    )


def _describe_prism(data):
    return (
        f"Left, two spectacle lenses of {signed(data.right_d)} and {signed(data.left_d)} and the "
        f"place of gaze {data.gaze_down_mm:.0f} mm below their centres. Right, one line of print "
        f"as each eye sees it, {abs(data.apart_cm):.1f} cm apart: {_imbalance_words(data)}."
    )


def down_through_two_lenses() -> Demo:
    """Return the demo: two lenses and the gaze against the vertical imbalance."""
    return Demo(
        title="looking down through two lenses",
        controls=(
            Slider("right_d", "Right lens, D", -10, 6, 0.25, 0, "D", signed=True),
            Slider("left_d", "Left lens, D", -10, 6, 0.25, -8, "D", signed=True),
            Slider("gaze_down_mm", "Gaze below the centres, mm", 0, 15, 1, 8, "mm"),
        ),
        build=_build_prism,
        compute=cases.compute_gaze_below_centres,
        move=_move_prism,
        sentence=_say_prism,
        alt=_describe_prism,
    )


AXIS_CM = (20.0, 140.0)


def _build_add():
    figure = Figure(figsize=(7.0, 3.1), dpi=style.DPI, layout="constrained")
    axes = figure.add_subplot()
    axes.set(
        xlim=AXIS_CM,
        ylim=(0.0, 1.0),
        yticks=[],
        xlabel="distance from the glasses, cm",
    )
    axes.spines["left"].set_visible(False)
    for name, place in cases.TASKS:
        axes.axvline(place, 0.34, 0.84, color=style.GREY, linewidth=1.2, dashes=(4, 3))
        axes.text(place, 0.92, f"{name} {place:.0f} cm", color=style.GREY, ha="center", va="center")
    bar = Rectangle((0, 0.42), 0, 0.24, fc=style.SKY, ec=style.BLUE, linewidth=1.5)
    artists = {"bar": axes.add_patch(bar)}
    (artists["best"],) = axes.plot([], [], "|", color="black", markersize=32, mew=2.4)
    artists["text"] = axes.text(80.0, 0.18, "", ha="center", va="center", weight="bold")
    return figure, artists


def _move_add(artists, data):
    start, end = data.nearest_cm, min(data.farthest_cm, AXIS_CM[1])
    visible = start < AXIS_CM[1]
    artists["bar"].set_visible(visible)
    artists["bar"].set_x(max(start, AXIS_CM[0]))
    artists["bar"].set_width(max(end - max(start, AXIS_CM[0]), 0.0))
    inside = data.best_cm <= AXIS_CM[1]
    artists["best"].set_data(([data.best_cm], [0.54]) if inside else ([], []))
    artists["text"].set_text(f"clear: {_range_words(data)}")


def _range_words(data):
    nearest = f"{data.nearest_cm:.0f} cm"
    if data.nearest_cm > 150.0:
        nearest = f"{data.nearest_cm / 100:.0f} m"
    if np.isinf(data.farthest_cm):
        return f"{nearest} to far"
    if data.farthest_cm > 150.0:
        return f"{nearest} to {data.farthest_cm / 100:.1f} m"
    return f"{data.nearest_cm:.0f} to {data.farthest_cm:.0f} cm"


def _tasks_in_words(data):
    if not data.clear_tasks:
        return "None of the three tasks lies in it"
    return f"In it: {', '.join(data.clear_tasks)}"


def _say_add(data):
    length = "" if data.length_cm > 1000.0 else f", {data.length_cm:.0f} cm long"
    return (
        f"Through {signed(data.add_d)} with {data.amplitude_d:.2f} D of accommodation, "
        f"{_range_words(data)} is clear to within {data.blur_d:.2f} D{length}. "
        f"{_tasks_in_words(data)}."
    )


def _describe_add(data):
    return (
        f"A bar of what is clear through {signed(data.add_d)}: {_range_words(data)}. "
        f"{_tasks_in_words(data)}, of a page at 40, a screen at 65 and a shelf at 100 cm."
    )


def add_and_range() -> Demo:
    """Return the demo: add, accommodation and blur that goes unnoticed against the clear range."""
    return Demo(
        title="a reading add and its range",
        controls=(
            Slider("add_d", "Add, D", 0, 4, 0.25, 2.5, "D", signed=True),
            Slider("amplitude_d", "Accommodation left, D", 0, 4, 0.25, 0, "D"),
            Choice("blur_d", "Blur not noticed:", {"±0.25 D": 0.25, "±0.50 D": 0.5}, 0.25),
        ),
        build=_build_add,
        compute=cases.compute_add_range,
        move=_move_add,
        sentence=_say_add,
        alt=_describe_add,
    )
