"""Sliders on one focus: the contrast that an eye passes, and letters through its pupil."""

import numpy as np
from matplotlib.figure import Figure

from shared_utils.cases import one_focus as cases
from shared_utils.cases.light import ASPHERIC_BODY_UM
from shared_utils.explore.engine import Choice, Demo, Slider
from shared_utils.show import style
from shared_utils.show.figure_parts import line_of
from shared_utils.show.style import signed

BODIES = {
    "spherical, +0.10 µm": 0.10,
    "neutral, 0 µm": 0.0,
    "aspheric, −0.20 µm": ASPHERIC_BODY_UM,
}
LIGHTS = {"green, 555 nm": "green", "white": "white"}


# --- contrast against fineness -----------------------------------------------------------------


def _build_contrast():
    figure = Figure(figsize=(7.0, 3.5), dpi=style.DPI, layout="constrained")
    grid = figure.add_gridspec(2, 2, width_ratios=(2.3, 1.0))
    axes = figure.add_subplot(grid[:, 0])
    axes.set(
        xlim=(0, 60),
        ylim=(0, 1.04),
        xlabel="fineness of the lines, cycles/degree",
        ylabel="contrast passed",
    )
    for cpd, letter in ((cases.COARSE_CPD, "20/40"), (cases.FINE_CPD, "20/20")):
        axes.axvline(cpd, color=style.GREY, linewidth=0.8, zorder=0)
        axes.text(cpd + 0.8, 1.03, letter, color=style.GREY, va="top")
    artists = {}
    (artists["perfect"],) = axes.plot([], [], color=style.SKY, linewidth=5.0, alpha=0.6)
    (artists["curve"],) = axes.plot([], [], **line_of(cases.MONOFOCAL))
    (artists["dots"],) = axes.plot([], [], "o", color=style.PURPLE, markersize=9, zorder=4)
    axes.text(43, 1.03, "sky blue, broad:\nperfect, in focus", color="#2b7aa8", va="top")
    for row, (name, cpd, letter) in enumerate(
        (("coarse", cases.COARSE_CPD, "20/40"), ("fine", cases.FINE_CPD, "20/20"))
    ):
        strip = figure.add_subplot(grid[row, 1])
        strip.set(xticks=[], yticks=[16, 48], title=f"strokes of {letter}")
        strip.set_yticklabels(["object", "image"])
        strip.tick_params(length=0)
        strip.spines[:].set_visible(False)
        artists[name] = strip.imshow(
            cases.grating_and_image(cpd, 1.0), cmap="gray", vmin=0.0, vmax=1.0, aspect="auto"
        )
    return figure, artists


def _move_contrast(artists, data):
    artists["perfect"].set_data(cases.FINENESS_CPD, data.perfect)
    artists["curve"].set_data(cases.FINENESS_CPD, data.curve)
    artists["dots"].set_data([cases.COARSE_CPD, cases.FINE_CPD], np.abs([data.coarse, data.fine]))
    artists["coarse"].set_data(cases.grating_and_image(cases.COARSE_CPD, data.coarse))
    artists["fine"].set_data(cases.grating_and_image(cases.FINE_CPD, data.fine))


def _percent(passed):
    size = 100.0 * abs(passed)
    if size < 1.0:
        return "less than 1 %" if size > 0.0 else "nothing"
    return f"{size:.0f} %" + (", black and white exchanged" if passed < 0 else "")


def _say_contrast(data):
    return (
        f"Pupil {data.pupil_mm:.1f} mm, blur {data.defocus_d:.2f} D, {data.light} light. Contrast "
        f"left of strokes of 20/40: {_percent(data.coarse)}; of 20/20: {_percent(data.fine)}. "
        f"Cut-off {data.cut_off_cpd:.0f} cycles/degree."
    )


def _describe_contrast(data):
    against = "as good as perfect" if data.lost_at_coarse < 0.02 else "below the perfect curve"
    return (
        f"Contrast passed against fineness of lines, pupil {data.pupil_mm:.1f} mm, blur "
        f"{data.defocus_d:.2f} D, {data.light} light: at strokes of 20/40 {_percent(data.coarse)}, "
        f"{against}; at 20/20 {_percent(data.fine)}."
    )


def contrast_and_fineness() -> Demo:
    """Return the demo: pupil, blur and light against the contrast of fine lines."""
    return Demo(
        title="contrast of fine lines on the retina",
        controls=(
            Slider("pupil_mm", "Pupil, mm", 1.0, 7.0, 0.5, 3.0, "mm"),
            Slider("defocus_d", "Blur left over, D", 0.0, 2.0, 0.25, 0.0, "D"),
            Choice("light", "Light:", LIGHTS, "green"),
        ),
        build=_build_contrast,
        compute=cases.compute_contrast_passed,
        move=_move_contrast,
        sentence=_say_contrast,
        alt=_describe_contrast,
    )


# --- letters and the pupil ---------------------------------------------------------------------


def _build_letters():
    figure = Figure(figsize=(7.0, 3.6), dpi=style.DPI, layout="constrained")
    chart, axes = figure.subplots(1, 2, width_ratios=(1.0, 1.35))
    chart.set(xticks=[], title="chart on the retina")
    chart.spines[:].set_visible(False)
    rows = cases.compute_chart_rows()
    chart.set_yticks(rows.centres_px, [f"20/{acuity:.0f}" for acuity in rows.snellen_20])
    chart.tick_params(length=0)
    artists = {}
    artists["image"] = chart.imshow(np.ones(cases.PAPER_PX), cmap="gray", vmin=0.0, vmax=1.0)
    axes.set(
        xlim=(0.8, 7.2),
        ylim=(1.35, -0.25),
        title=" ",
        xticks=range(1, 8),
        xlabel="pupil, mm",
        ylabel="acuity (logMAR), better upwards",
    )
    axes.yaxis.set_major_formatter(lambda v, _: signed(v, "", 1).lstrip("+"))
    axes.axhline(0.0, color=style.GREY, linewidth=0.8, zorder=0)
    axes.text(7.15, 0.01, "20/20", color=style.GREY, ha="right", va="top")
    (artists["curve"],) = axes.plot([], [], **line_of(cases.MONOFOCAL))
    (artists["here"],) = axes.plot([], [], "o", color=style.PURPLE, markersize=10, zorder=4)
    artists["words"] = axes.text(
        0.5, 1.01, "", ha="center", va="bottom", fontsize=13, transform=axes.transAxes
    )
    return figure, artists


def _move_letters(artists, data):
    artists["image"].set_data(cases.on_screen(data.image))
    artists["curve"].set_data(cases.PUPILS_MM, data.acuity_logmar)
    artists["here"].set_data([data.pupil_mm], [data.here_logmar])
    artists["words"].set_text(f"this pupil: {_logmar(data.here_logmar)}")


def _logmar(value):
    words = signed(value, "logMAR").lstrip("+")
    return f"{words} or worse" if value > 1.29 else words


def _say_letters(data):
    return (
        f"Pupil {data.pupil_mm:.1f} mm, {signed(data.refraction_d)} left over: a blur disc of "
        f"{data.blur_arcmin:.0f} arcmin. Cornea and lens together {signed(data.total_sa_um, 'µm')} "
        f"at 6 mm. Predicted {_logmar(data.here_logmar)}; sharpest at "
        f"{data.best_pupil_mm:.1f} mm."
    )


def _describe_letters(data):
    worse = data.lost_when_wide_logmar
    wide = "a wide pupil sees as well" if worse < 0.1 else f"a 7-mm pupil loses {worse:.1f} logMAR"
    return (
        f"Letters on the retina and acuity against the pupil. With {signed(data.refraction_d)} "
        f"left over and {signed(data.total_sa_um, 'µm')} of spherical aberration a pupil of "
        f"{data.pupil_mm:.1f} mm sees {_logmar(data.here_logmar)}; best at "
        f"{data.best_pupil_mm:.1f} mm; {wide}."
    )


def letters_and_pupil() -> Demo:
    """Return the demo: pupil, refraction and lens against letters on the retina."""
    return Demo(
        title="a distant chart through the pupil",
        controls=(
            Slider("pupil_mm", "Pupil, mm", 1.0, 7.0, 0.5, 3.0, "mm"),
            Slider("refraction_d", "Refraction left over, D", -2.0, 2.0, 0.25, 0.0, "D", True),
            Choice("lens_sa_um", "Lens:", BODIES, ASPHERIC_BODY_UM),
        ),
        build=_build_letters,
        compute=cases.compute_letters,
        move=_move_letters,
        sentence=_say_letters,
        alt=_describe_letters,
    )
