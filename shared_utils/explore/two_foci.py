"""Sliders on two foci: how steps share the light, what contrast is left, and the halo at night."""

import numpy as np
from matplotlib.colors import LogNorm
from matplotlib.figure import Figure
from matplotlib.patches import Circle

from shared_utils.cases import two_foci as cases
from shared_utils.cases.light import MOON_ARCMIN
from shared_utils.cases.two_foci import (
    ADD_D,
    AWAY_ARCMIN,
    DESIGNS,
    HALF_WIDTH_ARCMIN,
    NIGHT_LENSES,
    ORDERS,
    PIXELS,
    THROUGH_D,
    name_of_order,
)
from shared_utils.explore.engine import Choice, Demo, Slider
from shared_utils.show import style
from shared_utils.show.figure_parts import distance_axis, line_of, line_of_class
from shared_utils.show.style import signed
from shared_utils.show.two_foci import few_distances, focus_words

# --- steps and orders --------------------------------------------------------------------------

_NEAREST_D, _FARTHEST_D = -6.2, 3.4
_BAR_POINTS = 13


def _build_steps():
    figure = Figure(figsize=(7.0, 3.6), dpi=style.DPI, layout="constrained")
    axes = figure.add_subplot()
    axes.set(
        xlim=(_FARTHEST_D, _NEAREST_D),
        ylim=(0, 1.25),
        yticks=np.arange(0, 1.01, 0.2),
        xlabel="vergence of the object that is in focus, D",
        ylabel="share of the light",
    )
    style.signed_ticks(axes.xaxis, 0)
    few_distances(axes)
    axes.axvline(0.0, color=style.GREY, linewidth=0.8, zorder=0)
    artists = {}
    for m in ORDERS:
        (artists[f"order {m}"],) = axes.plot([], [], solid_capstyle="butt")
    for n in range(3):
        artists[f"words {n}"] = axes.text(
            0,
            0,
            "",
            ha="center",
            va="bottom",
            linespacing=1.0,
            bbox={"facecolor": "white", "edgecolor": "none", "pad": 0.5},
        )
    artists["lost"] = axes.text(
        0.99, 0.98, "", ha="right", va="top", color=style.GREY, transform=axes.transAxes
    )
    return figure, artists


def _move_steps(artists, data):
    colour = line_of(data.lens)["color"]
    for m in ORDERS:
        place, used = data.place_d[m], name_of_order(data.lens, m)
        bar = artists[f"order {m}"]
        bar.set_visible(_NEAREST_D < place < _FARTHEST_D)
        bar.set_data([place, place], [0.0, data.energy[m]])
        bar.set_color(colour if used else style.GREY)
        bar.set_linewidth(_BAR_POINTS if used else _BAR_POINTS / 2)
    foci = list(data.lens.foci.items())
    for n in range(3):
        words = artists[f"words {n}"]
        words.set_visible(n < len(foci))
        if n < len(foci):
            name, m = foci[n]
            words.set_position((data.place_d[m], data.energy[m] + 0.02))
            words.set_text(f"{focus_words(name)}\n{100 * data.energy[m]:.0f} %")
    artists["lost"].set_text(f"in no focus {100 * data.of_foci['lost']:.0f} %")


def _cm(place_d):
    """A place of focus in words."""
    if place_d > -0.125:
        return "in the distance" if place_d < 0.125 else "beyond far"
    return f"{-100.0 / place_d:.0f} cm"


def _each(data):
    return ", ".join(
        f"{name} {100 * data.energy[m]:.0f} % ({_cm(data.place_d[m])})"
        for name, m in data.lens.foci.items()
    )


def _say_steps(data):
    return (
        f"{data.lens.name.capitalize()}, steps of {data.step:.2f} wavelengths of green, light of "
        f"{data.wavelength_nm:.0f} nm: {_each(data)}; in no focus "
        f"{100 * data.of_foci['lost']:.0f} %."
    )


def _describe_steps(data):
    best = max(data.lens.foci, key=lambda name: data.energy[data.lens.foci[name]])
    return (
        f"Bars at the vergence that each order brings into focus, as high as its share of the "
        f"light. {best.capitalize()} gets most. {_say_steps(data)}"
    )


def steps_and_orders() -> Demo:
    """Return the demo: height of the steps, colour and design against the share of each focus."""
    return Demo(
        title="where the steps of a lens send the light",
        controls=(
            Slider("step", "Height of the steps, wavelengths", 0.0, 2.0, 0.05, 0.5),
            Slider("wavelength_nm", "Light, nm", 450, 650, 5, 555, "nm"),
            Choice("design", "Lens:", {name: name for name in DESIGNS}, "bifocal"),
        ),
        build=_build_steps,
        compute=cases.shares,
        move=_move_steps,
        sentence=_say_steps,
        alt=_describe_steps,
    )


# --- contrast through focus --------------------------------------------------------------------


def _build_halves():
    figure = Figure(figsize=(7.0, 3.6), dpi=style.DPI, layout="constrained")
    axes = figure.add_subplot()
    axes.set(
        xlim=(0.625, -3.375),
        ylim=(0, 1.2),
        xticks=(0, -1, -2, -3),
        yticks=np.arange(0, 1.01, 0.2),
        xlabel="vergence of the object, D",
        ylabel="contrast, strokes of 20/40",
    )
    style.signed_ticks(axes.xaxis, 0)
    distance_axis(axes)
    artists = {}
    (artists["whole"],) = axes.plot([], [], **line_of_class("monofocal"))
    (artists["halves"],) = axes.plot([], [], **line_of_class("bifocal"))
    for name, place in (("far", 0.0), ("near", -ADD_D)):
        axes.axvline(place, color=style.GREY, linewidth=0.8, zorder=0)
        artists[name] = axes.text(
            place - 0.06,
            1.18,
            "",
            ha="left",
            va="top",
            linespacing=1.25,
            color=style.VERMILION,
        )
    axes.text(-1.25, 0.72, "monofocal", ha="center", va="center")
    axes.text(-1.25, 0.61, "bifocal", ha="center", va="center", color=style.VERMILION)
    for height, lens_class in ((0.72, "monofocal"), (0.61, "bifocal")):
        axes.plot([-0.62, -0.86], [height, height], **line_of_class(lens_class))
    return figure, artists


def _move_halves(artists, data):
    artists["whole"].set_data(THROUGH_D, data.monofocal)
    artists["halves"].set_data(THROUGH_D, data.bifocal)
    for n, name in enumerate(("far", "near")):
        artists[name].set_text(
            f"light {100 * data.share[n]:.0f} %\ncontrast {100 * data.left[n]:.0f} %"
        )


def _say_halves(data):
    return (
        f"Steps {data.step:.2f}, pupil {data.pupil_mm:.1f} mm, {data.light} light. Far gets "
        f"{100 * data.share[0]:.0f} % of the light and {100 * data.left[0]:.0f} % of the "
        f"monofocal's far contrast; near {100 * data.share[1]:.0f} % and "
        f"{100 * data.left[1]:.0f} %."
    )


def _describe_halves(data):
    peaks = "one peak" if min(data.share) < 0.05 else "two peaks, far and 40 cm"
    return (
        f"Contrast of strokes of 20/40 against the vergence of the object; the bifocal lens has "
        f"{peaks}, each about as high as its share of the light. {_say_halves(data)}"
    )


def contrast_and_share() -> Demo:
    """Return the demo: steps, pupil and light against the contrast of a bifocal lens."""
    return Demo(
        title="contrast of a bifocal lens through focus",
        controls=(
            Slider("step", "Height of the steps, wavelengths", 0.0, 1.0, 0.05, 0.5),
            Slider("pupil_mm", "Pupil, mm", 2.5, 4.5, 0.5, 3.0, "mm"),
            Choice("light", "Light:", {"green, 555 nm": "green", "white": "white"}, "green"),
        ),
        build=_build_halves,
        compute=cases.bifocal_contrast,
        move=_move_halves,
        sentence=_say_halves,
        alt=_describe_halves,
    )


# --- a lamp at night ---------------------------------------------------------------------------

_DIMMEST, _BRIGHTEST = 1e-6, 0.3


def _build_lamp():
    cases.lamp_profiles()  # now, and not at the first move
    figure = Figure(figsize=(7.0, 3.3), dpi=style.DPI, layout="constrained")
    picture, axes = figure.subplots(1, 2, width_ratios=(1.0, 1.25))
    artists = {}
    half = HALF_WIDTH_ARCMIN
    artists["picture"] = picture.imshow(
        np.full((PIXELS, PIXELS), _DIMMEST),
        cmap="cividis",
        norm=LogNorm(_DIMMEST, _BRIGHTEST),
        extent=(-half, half, -half, half),
    )
    picture.set(xticks=[], yticks=[], xlabel="width 90 arcmin")
    moon = Circle((0, 0), MOON_ARCMIN / 2, fill=False, edgecolor="white", linestyle=(0, (2, 2)))
    artists["moon"] = picture.add_patch(moon)
    artists["moon name"] = picture.text(
        0, -43, "dashed: the full Moon", color="white", ha="center", va="bottom"
    )
    axes.set(
        yscale="log",
        xlim=(0, half),
        ylim=(_DIMMEST, 1.0),
        xlabel="angle from the lamp, arcmin",
        ylabel="light per arcmin²",
    )
    (artists["profile"],) = axes.plot([], [])
    (artists["scattered"],) = axes.plot([], [], color=style.GREY, linestyle=":")
    artists["scattered name"] = axes.text(
        *(0.98, 0.88, "dotted: scattered in the eye"),
        ha="right",
        va="top",
        color=style.GREY,
        transform=axes.transAxes,
    )
    (artists["edge"],) = axes.plot([], [], color=style.PURPLE, linewidth=1.6)
    artists["words"] = axes.text(
        0.98, 0.98, "", ha="right", va="top", color="#8a4672", transform=axes.transAxes
    )
    return figure, artists


def _move_lamp(artists, data):
    artists["picture"].set_data(data.picture)
    line = line_of_class(data.lens_class)
    artists["profile"].set_data(AWAY_ARCMIN, np.maximum(data.profile, _DIMMEST / 10))
    artists["profile"].set_color(line["color"])
    artists["profile"].set_linestyle(line["linestyle"])
    for name in ("scattered", "scattered name"):
        artists[name].set_visible(data.straylight_log is not None)
    artists["scattered"].set_data(AWAY_ARCMIN, data.scattered)
    edge = data.halo_arcmin / 2
    artists["edge"].set_visible(data.splits)
    artists["edge"].set_data([edge, edge], [_DIMMEST, 0.02])
    artists["words"].set_text(
        f"½ · {data.pupil_mm:g} mm · {data.add_d:g} D = {edge:.0f} arcmin"
        if data.splits
        else "one focus: no edge"
    )


def _say_lamp(data):
    around = f"{100 * data.around:.0f} % of the light falls more than 5 arcmin from the lamp"
    if not data.splits:
        return f"Pupil {data.pupil_mm:.1f} mm, monofocal: no second focus, no halo; {around}."
    wide = "the halo is" if data.design == "bifocal" else "the halo, dimmer outwards, is at most"
    return (
        f"Pupil {data.pupil_mm:.1f} mm, add {signed(data.add_d)}: {wide} {data.halo_arcmin:.0f} "
        f"arcmin wide, {data.halo_arcmin / MOON_ARCMIN:.1f} full Moons; {around}."
    )


def _describe_lamp(data):
    return (
        "A distant green lamp on the retina and its light against the angle, both logarithmic, "
        f"{data.design}. {_say_lamp(data)}"
    )


def lamp_at_night() -> Demo:
    """Return the demo: pupil, add and lens against the halo around a lamp."""
    return Demo(
        title="a green lamp at night",
        controls=(
            Slider("pupil_mm", "Pupil, mm", 3.0, 6.0, 0.5, 5.0, "mm"),
            Slider("add_d", "Add at the cornea, D", 1.5, 3.5, 0.5, 2.5, "D"),
            Choice("design", "Lens:", {name: name for name in NIGHT_LENSES}, "bifocal"),
        ),
        build=_build_lamp,
        compute=cases.lamp,
        move=_move_lamp,
        sentence=_say_lamp,
        alt=_describe_lamp,
    )


def _say_scattered(data):
    eye = f"Straylight {data.straylight_log:.1f} log, pupil {data.pupil_mm:.1f} mm, {data.design}"
    if not data.splits:
        return f"{eye}: a haze without an edge around the lamp, and no halo."
    times = data.halo_over_scattered
    if times < 1.0:
        return (
            f"{eye}: half way to its edge the halo is dimmer than the haze, which hides the edge."
        )
    return f"{eye}: half way to its edge the halo is {times:.2g} times as bright as the haze."


def _describe_scattered(data):
    return (
        "The same lamp with the light that the eye itself scatters, a dotted line that falls "
        f"evenly with the angle. {_say_scattered(data)}"
    )


def lamp_in_a_scattering_eye() -> Demo:
    """Return the demo: straylight, pupil and lens against haze and halo around a lamp."""
    return Demo(
        title="a green lamp at night, with the eye's own straylight",
        controls=(
            Slider("straylight_log", "Straylight, log s", 0.9, 2.1, 0.3, 0.9),
            Slider("pupil_mm", "Pupil, mm", 3.0, 6.0, 0.5, 5.0, "mm"),
            Choice("design", "Lens, add 2.50 D:", {name: name for name in NIGHT_LENSES}, "bifocal"),
        ),
        build=_build_lamp,
        compute=cases.lamp_in_eye,
        move=_move_lamp,
        sentence=_say_scattered,
        alt=_describe_scattered,
    )
