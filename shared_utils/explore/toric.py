"""Sliders on toric lenses: total cornea, plane of the lens, a turned lens, a series of eyes."""

from __future__ import annotations

from typing import TYPE_CHECKING

from matplotlib.figure import Figure
from matplotlib.patches import FancyArrowPatch

from shared_utils.cases import toric as cases
from shared_utils.explore.astigmatism import degrees
from shared_utils.explore.engine import Choice, Demo, Slider
from shared_utils.show import style
from shared_utils.show.toric import rings

if TYPE_CHECKING:
    from typing import Any

ESTIMATES = {
    "Abulafia & Koch": "abulafia_koch",
    "Eom": "eom",
    "Goggin": "goggin",
}
RULES = {
    "with": "with the rule",
    "against": "against the rule",
    "oblique": "oblique",
    "none": "too small to have an axis",
}


def in_words(astigmatism: Any) -> str:
    """Return size and steep meridian as they are read out.

    >>> [in_words(cases.astigmatism_steep_at(size_d, 90)) for size_d in (1.5, 0.04)]
    ['1.50 D at 90', '0.04 D']
    """
    astigmatism = astigmatism.plus_form()
    size = f"{astigmatism.cylinder_d:.2f} D"
    if not astigmatism.axis_is_meaningful:
        return size
    return f"{size} at {round(astigmatism.axis_deg) or 180}"


def _arrow(axes, colour, dashes="-", width=3):
    return axes.add_patch(
        FancyArrowPatch(
            (0, 0),
            (1, 0),
            arrowstyle=f"-|>,head_length=7,head_width={3 + width / 2}",
            color=colour,
            linestyle=dashes,
            linewidth=width,
            shrinkA=0,
            shrinkB=0,
        )
    )


# --- total cornea ----------------------------------------------------------------------------


def _build_total():
    figure = Figure(figsize=(7.0, 3.9), dpi=style.DPI, layout="constrained")
    plane, sizes = figure.subplots(1, 2, width_ratios=(1.35, 1.0))
    rings(plane, 4.9, (1, 2, 3, 4))
    plane.set_title("at twice the steep meridian")
    sizes.set(
        xlim=(0, 5.2), ylim=(-0.6, 1.6), yticks=(1, 0), xlabel="astigmatism, D", xticks=range(6)
    )
    sizes.set_yticklabels(["keratometer", "total"])
    sizes.tick_params(axis="y", length=0)
    artists = {
        "measured": _arrow(plane, style.BLUE, width=7),
        "back": _arrow(plane, style.ORANGE, "--"),
        "total": _arrow(plane, "black", width=2),
    }
    (artists["measured bar"],) = sizes.plot([], [], color=style.BLUE, linewidth=22)
    (artists["total bar"],) = sizes.plot([], [], color="black", linewidth=22)
    for bar in ("measured bar", "total bar"):
        artists[bar].set_solid_capstyle("butt")
    artists["measured text"] = sizes.text(0.1, 1.42, "", color=style.BLUE, va="center")
    artists["total text"] = sizes.text(0.1, 0.42, "", va="center", weight="bold")
    return figure, artists


def _move_total(artists, data):
    start, end = data.measured_xy_d, data.total_xy_d
    artists["measured"].set_positions((0, 0), start)
    artists["back"].set_positions(start, end)
    artists["total"].set_positions((0, 0), end)
    for name, size_d in zip(("measured", "back", "total"), data.sizes_d, strict=True):
        artists[name].set_visible(size_d > 0.02)
    measured_d, _, total_d = data.sizes_d
    artists["measured bar"].set_data([0, measured_d], [1, 1])
    artists["total bar"].set_data([0, total_d], [0, 0])
    artists["measured text"].set_text(in_words(data.measured))
    artists["total text"].set_text(in_words(data.total))


def _say_total(data):
    name = next(name for name, key in ESTIMATES.items() if key == data.estimate)
    measured_rule, total_rule = data.rules
    if abs(data.change_d) < 0.005:
        change = "no change"
    else:
        change = f"{abs(data.change_d):.2f} D {'more' if data.change_d > 0 else 'less'}"
    return (
        f"Keratometer: {in_words(data.measured)}, {RULES[measured_rule]}. "
        f"The whole cornea by {name}: {in_words(data.total)}, "
        f"{RULES[total_rule]}: {change}."
    )


def _describe_total(data):
    return (
        "Arrows at twice the steep meridian: the keratometer's, what the rest of the cornea adds "
        f"towards against the rule, and their sum. {_say_total(data)}"
    )


def total_cornea() -> Demo:
    """Return the demo: measured astigmatism and its meridian against the total expected."""
    return Demo(
        title="keratometer and total cornea",
        controls=(
            Slider("measured_d", "Keratometer shows, D", 0, 3, 0.25, 1.5, "D"),
            Slider("steep_deg", "Steep along, °", 5, 180, 5, 90, "°"),
            Choice("estimate", "Total estimated by:", ESTIMATES, "abulafia_koch"),
        ),
        build=_build_total,
        compute=cases.compute_total_cornea,
        move=_move_total,
        sentence=_say_total,
        alt=_describe_total,
    )


# --- from the cornea to the lens -------------------------------------------------------------


def _build_planes():
    figure = Figure(figsize=(7.0, 3.5), dpi=style.DPI, layout="constrained")
    axes = figure.add_subplot()
    axes.set(
        xlim=(4, 7),
        ylim=(1.2, 1.9),
        xlabel="place of the lens behind the cornea, mm",
        ylabel="cylinder at the lens\nfor 1 D at the cornea",
    )
    axes.axhline(cases.ONE_RATIO, color=style.GREY, linewidth=1.2, linestyle=":")
    axes.text(6.97, 1.445, "one ratio for every eye: 1.46", color=style.GREY, ha="right", va="top")
    artists = {}
    (artists["ratios"],) = axes.plot([], [], color=style.BLUE)
    (artists["here"],) = axes.plot([], [], "o", color=style.VERMILION, markersize=9, clip_on=False)
    artists["here"].set_in_layout(False)  # the edge of the axes does not cut it
    artists["words"] = axes.text(4.1, 1.84, "", va="center", weight="bold")
    artists["more"] = axes.text(4.1, 1.77, "", va="center")
    return figure, artists


def _move_planes(artists, data):
    artists["ratios"].set_data(cases.POSITIONS_MM, data.ratios)
    artists["here"].set_data([data.elp_mm], [data.ratio])
    artists["words"].set_text(f"ratio {data.ratio:.2f}")
    artists["more"].set_text(
        f"{data.lens_cylinder_d:.2f} D at the lens: {data.at_cornea_d:.2f} D at the cornea"
    )


def _say_planes(data):
    return (
        f"{data.elp_mm:.1f} mm behind a cornea of {data.cornea_d:.2f} D, a lens cylinder of "
        f"{data.lens_cylinder_d:.2f} D does {data.at_cornea_d:.2f} D at the cornea: ratio "
        f"{data.ratio:.2f}. One ratio of 1.46 would promise {data.promised_d:.2f} D."
    )


def _describe_planes(data):
    return (
        "Curve of the ratio of cylinder at the lens to cylinder at the cornea: it rises as the "
        f"lens lies deeper and the cornea is stronger. {_say_planes(data)}"
    )


def cornea_and_lens() -> Demo:
    """Return the demo: cylinder and place of a lens against what it does at the cornea."""
    return Demo(
        title="a toric lens seen from the cornea",
        controls=(
            Slider("lens_cylinder_d", "Cylinder on the lens, D", 0.75, 6, 0.75, 2.25, "D"),
            Slider("elp_mm", "Lens behind the cornea, mm", 4, 7, 0.1, 5.2, "mm"),
            Slider("cornea_d", "Power of the cornea, D", 39, 48, 0.25, 43, "D"),
        ),
        build=_build_planes,
        compute=cases.compute_cylinder_at_cornea,
        move=_move_planes,
        sentence=_say_planes,
        alt=_describe_planes,
    )


# --- a lens that is turned -------------------------------------------------------------------


def _build_turned():
    figure = Figure(figsize=(7.0, 3.6), dpi=style.DPI, layout="constrained")
    curve, plane = figure.subplots(1, 2, width_ratios=(1.25, 1.0))
    curve.set(
        xlim=(0, 90),
        ylim=(0, 6.2),
        xticks=range(0, 91, 15),
        xlabel="lens turned by, °",
        ylabel="cylinder that remains, D",
    )
    plane.set(xlim=(-6.5, 3.6), ylim=(-3.9, 4.3), aspect="equal", xticks=[], yticks=[])
    plane.set_title("at twice the angle")
    for spine in plane.spines.values():
        spine.set_visible(False)
    plane.axhline(0, color=style.GREY, linewidth=0.6)
    plane.axvline(0, color=style.GREY, linewidth=0.6)
    plane.text(-6.3, 0.35, "90", color=style.GREY, va="center")
    plane.text(3.4, 0.35, "180", color=style.GREY, ha="right", va="center")
    for y, colour, words in (
        (4.0, style.BLUE, "cornea"),
        (-3.0, "#8a5f00", "taken by the lens"),
        (-3.7, "black", "remains"),
    ):
        plane.text(-6.3, y, words, color=colour, va="center")
    artists = {}
    (artists["none"],) = curve.plot([], [], ":", color=style.BLUE)
    (artists["chord"],) = curve.plot([], [], color=style.GREY, linewidth=1.2, dashes=(4, 3))
    (artists["remaining"],) = curve.plot([], [], color="black")
    (artists["here"],) = curve.plot([], [], "o", color=style.VERMILION, markersize=9, clip_on=False)
    artists["here"].set_in_layout(False)
    artists["none text"] = curve.text(88, 0, "", color=style.BLUE, ha="right", va="top")
    artists["here text"] = curve.text(2, 5.9, "", va="center", weight="bold")
    artists["here text"].set_color(style.VERMILION)
    artists["cornea"] = _arrow(plane, style.BLUE, width=7)
    artists["lens"] = _arrow(plane, style.ORANGE, "--")
    artists["left"] = _arrow(plane, "black", width=2)
    return figure, artists


def _move_turned(artists, data):
    artists["none"].set_data([0, 90], [data.corneal_d] * 2)
    artists["none text"].set_position((88, data.corneal_d - 0.08))
    artists["none text"].set_text("no toric lens")
    artists["chord"].set_data([0, 30], [0, data.corneal_d])
    artists["remaining"].set_data(cases.TURNS_DEG, data.remaining_d)
    artists["here"].set_data([data.turn_deg], [data.size_d])
    artists["here text"].set_text(f"{degrees(data.turn_deg)}: {data.size_d:.2f} D remain")
    tip, end = data.corneal_xy_d, data.remaining_xy_d
    artists["cornea"].set_positions((0, 0), tip)
    artists["lens"].set_positions(tip, end)
    artists["left"].set_positions((0, 0), end)
    artists["left"].set_visible(bool(data.size_d > 0.02))


def _say_turned(data):
    share = data.percent_of_cornea
    if share < 99.5:
        verdict = f"{share:.0f} % of what the cornea has"
    elif share < 100.5:
        verdict = "as much as with no toric lens"
    else:
        verdict = f"{share:.0f} %, more than with no toric lens"
    return (
        f"Cornea {data.corneal_d:.2f} D steep at 90, lens {data.lens_d:.2f} D turned by "
        f"{degrees(data.turn_deg)}: {in_words(data.remaining)} remain, {verdict}. The spherical "
        "equivalent stays as it was."
    )


def _describe_turned(data):
    return (
        "Curve of the cylinder that remains against the turn of the lens; a dashed chord of 3.3 % "
        f"per degree to 30°; and the arrows at twice the angle. {_say_turned(data)}"
    )


def turned_lens() -> Demo:
    """Return the demo: corneal cylinder, lens cylinder and turn against what remains."""
    return Demo(
        title="a toric lens that is turned",
        controls=(
            Slider("turn_deg", "Lens turned by, °", 0, 90, 1, 0, "°"),
            Slider("corneal_d", "Corneal astigmatism, D", 0.5, 3, 0.25, 2, "D"),
            Slider("lens_d", "Lens at the corneal plane, D", 0.5, 3, 0.25, 2, "D"),
        ),
        build=_build_turned,
        compute=cases.compute_turned_lens,
        move=_move_turned,
        sentence=_say_turned,
        alt=_describe_turned,
    )


# --- a series of eyes ------------------------------------------------------------------------


def _build_series():
    figure = Figure(figsize=(7.0, 4.0), dpi=style.DPI, layout="constrained")
    plane, sizes = figure.subplots(1, 2, width_ratios=(1.45, 1.0))
    rings(plane, 3.0, (0.5, 1.0, 1.5, 2.0))
    plane.set_title("astigmatism made by surgery")
    sizes.set(xlim=(0, 1.6), ylim=(-0.6, 1.6), yticks=(1, 0), xlabel="D", xticks=(0, 0.5, 1, 1.5))
    sizes.set_yticklabels(["mean of\nthe sizes", "centroid"])
    sizes.tick_params(axis="y", length=0)
    artists = {}
    (artists["eyes"],) = plane.plot([], [], "o", color=style.BLUE, markersize=5, alpha=0.8)
    (artists["data"],) = plane.plot([], [], color=style.GREY, linewidth=1.5, dashes=(4, 2))
    (artists["mean"],) = plane.plot([], [], color=style.VERMILION)
    (artists["centroid"],) = plane.plot([], [], "X", color=style.VERMILION, markersize=10)
    for name, y, colour in (("sizes", 1, style.BLUE), ("middle", 0, style.VERMILION)):
        (artists[f"{name} bar"],) = sizes.plot([], [], color=colour, linewidth=22)
        artists[f"{name} bar"].set_solid_capstyle("butt")
        artists[f"{name} text"] = sizes.text(0.03, y + 0.42, "", color=colour, va="center")
    return figure, artists


def _move_series(artists, data):
    artists["eyes"].set_data(data.x_d, data.y_d)
    artists["data"].set_data(data.data_outline.x_d, data.data_outline.y_d)
    artists["mean"].set_data(data.mean_outline.x_d, data.mean_outline.y_d)
    artists["centroid"].set_data(*([value] for value in data.statistics.mean_xy_d))
    centroid = data.statistics.centroid
    artists["sizes bar"].set_data([0, data.mean_size_d], [1, 1])
    artists["sizes text"].set_text(f"{data.mean_size_d:.2f} D")
    artists["middle bar"].set_data([0, centroid.cylinder_d], [0, 0])
    artists["middle text"].set_text(in_words(centroid))


def _say_series(data):
    where = (
        "lies outside the small outline: a mean effect"
        if data.zero_is_outside
        else ("lies inside the small outline: no mean effect is shown")
    )
    return (
        f"{cases.EYES} eyes: centroid {in_words(data.statistics.centroid)}, mean of the sizes "
        f"{data.mean_size_d:.2f} D. Zero {where}. The next eye falls within the dashed outline, "
        "19 times in 20."
    )


def _describe_series(data):
    return (
        f"Double-angle plot of {cases.EYES} eyes with their centroid, the outline of its "
        f"confidence and the outline of the eyes. {_say_series(data)}"
    )


def series_of_eyes() -> Demo:
    """Return the demo: centroid and scatter of a series against what its plot says."""
    return Demo(
        title="a series of eyes at the double angle",
        controls=(
            Slider("centroid_d", "Centroid, D", 0, 1, 0.05, 0.1, "D"),
            Slider("steep_deg", "Steepened along, °", 5, 180, 5, 90, "°"),
            Slider("scatter_d", "Scatter of the eyes, D", 0.05, 0.6, 0.05, 0.4, "D"),
        ),
        build=_build_series,
        compute=cases.compute_series,
        move=_move_series,
        sentence=_say_series,
        alt=_describe_series,
    )
