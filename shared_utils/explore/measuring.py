"""Sliders on measuring the eye: a cornea's back, a ruler's speed, an error's price."""

from matplotlib.figure import Figure

from shared_utils.cases import measuring as cases
from shared_utils.explore.engine import Choice, Demo, Slider
from shared_utils.show import style
from shared_utils.show.style import signed

NEGLIGIBLE_D = 0.125


def _build_reading():
    figure = Figure(figsize=(7.0, 3.5), dpi=style.DPI, layout="constrained")
    axes = figure.add_subplot()
    axes.set(
        xlim=(0.62, 1.13),
        ylim=(-2.0, 4.6),
        xlabel="radius of the back surface / radius of the front surface",
        ylabel="reading − true power, D",
    )
    axes.axvspan(0.78, 0.86, color="#e4edf5", zorder=0)
    axes.text(0.82, -1.7, "most eyes", ha="center", va="center", color=style.GREY)
    axes.axhline(0, color=style.GREY, linewidth=1.0)
    axes.text(0.63, -0.1, "reading is true", ha="left", va="top", color=style.GREY)
    artists = {}
    (artists["curve"],) = axes.plot([], [], color=style.BLUE)
    (artists["gap"],) = axes.plot([], [], color=style.VERMILION, linewidth=2.5)
    (artists["eye"],) = axes.plot([], [], "o", color=style.VERMILION, markersize=8)
    artists["gap text"] = axes.text(0, 0, "", color=style.VERMILION, weight="bold", va="center")
    artists["words"] = axes.text(1.12, 4.2, "", ha="right", va="center", fontsize=13)
    return figure, artists


def _move_reading(artists, data):
    artists["curve"].set_data(cases.RATIOS, data.curve_d)
    artists["gap"].set_data([data.ratio] * 2, [0.0, data.excess_d])
    artists["eye"].set_data([data.ratio], [data.excess_d])
    artists["gap text"].set_text(signed(data.excess_d))
    left = data.ratio > 0.95
    artists["gap text"].set_ha("right" if left else "left")
    above = data.excess_d + 0.45 if data.excess_d >= 0.0 else data.excess_d - 0.45
    artists["gap text"].set_position((data.ratio + (-0.008 if left else 0.008), above))
    artists["words"].set_text(f"reads {data.reading_d:.2f} D, has {data.true_d:.2f} D of power")


def _verdict(data):
    if abs(data.excess_d) < NEGLIGIBLE_D:
        return "the reading is the cornea's power, nearly"
    side = "more" if data.excess_d > 0 else "less"
    return f"the reading is {abs(data.excess_d):.2f} D {side} than the cornea has"


def _say_reading(data):
    return (
        f"Front radius {data.radius_mm:.2f} mm read at index {data.index:.4f}: "
        f"{data.reading_d:.2f} D. With a back radius of {data.back_mm:.2f} mm the "
        f"cornea has {data.true_d:.2f} D: {_verdict(data)}."
    )


def _describe_reading(data):
    return (
        f"Curve of reading minus true power against the ratio of back to front radius, index "
        f"{data.index:.4f}, front {data.radius_mm:.2f} mm. At a ratio of {data.ratio:.2f} "
        f"{_verdict(data)}."
    )


def front_and_back() -> Demo:
    """Return the demo: front radius, ratio of the surfaces and index against the true power."""
    return Demo(
        title="what a keratometer reads and what a cornea has",
        controls=(
            Slider("ratio", "Back radius / front radius", 0.65, 1.10, 0.01, 0.83),
            Slider("radius_mm", "Radius of the front, mm", 6.8, 9.2, 0.05, 7.8, "mm"),
            Choice(
                "index",
                "Index of the keratometer:",
                {"1.3375": 1.3375, "4/3": 4 / 3, "1.3315": 1.3315},
                1.3375,
            ),
        ),
        build=_build_reading,
        compute=cases.compute_keratometer_reading,
        move=_move_reading,
        sentence=_say_reading,
        alt=_describe_reading,
    )


RULERS = {
    "sound, probe on the cornea": "touching sound",
    "sound, through water": "sound",
    "light, one index": "light",
    "each segment by itself": "segments",
}


def _build_length():
    figure = Figure(figsize=(7.0, 3.5), dpi=style.DPI, layout="constrained")
    axes = figure.add_subplot()
    axes.set(
        xlim=(19.6, 33.4),
        ylim=(-0.48, 0.60),
        xlabel="true axial length, mm",
        ylabel="reading − truth, mm",
    )
    axes.axhline(0, color=style.GREY, linewidth=1.0)
    axes.text(33.3, -0.43, "grey: the other rulers", ha="right", va="center", color=style.GREY)
    artists = {}
    for name in RULERS.values():
        (artists[f"other {name}"],) = axes.plot([], [], color="#b5b5b5", linewidth=1.2)
    (artists["curve"],) = axes.plot([], [], color=style.BLUE, linewidth=2.6)
    (artists["gap"],) = axes.plot([], [], color=style.VERMILION, linewidth=2.5)
    (artists["eye"],) = axes.plot([], [], "o", color=style.VERMILION, markersize=8)
    artists["ruler"] = axes.text(19.8, 0.54, "", color=style.BLUE, va="center", fontsize=13)
    artists["cost"] = axes.text(19.8, 0.44, "", color=style.VERMILION, va="center", fontsize=13)
    return figure, artists


def _move_length(artists, data):
    for name, error_mm in data.curves_mm.items():
        artists[f"other {name}"].set_data(cases.LENGTHS_MM, error_mm)
    artists["curve"].set_data(cases.LENGTHS_MM, data.curves_mm[data.ruler])
    artists["gap"].set_data([data.true_mm] * 2, [0.0, data.error_mm])
    artists["eye"].set_data([data.true_mm], [data.error_mm])
    artists["ruler"].set_text(_ruler_in_words(data.ruler))
    artists["cost"].set_text(f"{signed(data.error_mm, 'mm')}, leaves {signed(data.surprise_d)}")


def _ruler_in_words(ruler):
    return next(words for words, value in RULERS.items() if value == ruler)


def _kind(refraction_d):
    if abs(refraction_d) < NEGLIGIBLE_D:
        return "hardly noticed"
    return "a hyperopic surprise" if refraction_d > 0 else "a myopic surprise"


def _say_length(data):
    return (
        f"{_ruler_in_words(data.ruler).capitalize()}: an eye of {data.true_mm:.1f} mm with a lens "
        f"of {data.lens_mm:.1f} mm reads {data.read_mm:.2f} mm, {signed(data.error_mm, 'mm')} off. "
        f"That leaves {signed(data.surprise_d)}, {_kind(data.surprise_d)}."
    )


def _describe_length(data):
    return (
        f"Error of four rulers against true axial length, lens {data.lens_mm:.1f} mm. By "
        f"{_ruler_in_words(data.ruler)} an eye of {data.true_mm:.1f} mm is read "
        f"{signed(data.error_mm, 'mm')} off, {_kind(data.surprise_d)}."
    )


def ruler_and_eye() -> Demo:
    """Return the demo: length, lens and ruler against the error of the reading."""
    return Demo(
        title="rulers for the length of an eye",
        controls=(
            Slider("true_mm", "True length, mm", 20, 33, 0.1, 23.5, "mm"),
            Slider("lens_mm", "Thickness of the lens, mm", 3.4, 5.8, 0.1, 4.6, "mm"),
            Choice("ruler", "Ruler:", RULERS, "touching sound"),
        ),
        build=_build_length,
        compute=cases.compute_length_reading,
        move=_move_length,
        sentence=_say_length,
        alt=_describe_length,
    )


MEASURED = {"length, mm": "length", "keratometry, D": "k", "lens position, mm": "position"}
LINES = {
    "length": (style.ORANGE, "-"),
    "k": (style.SKY, "--"),
    "position": (style.PURPLE, "-."),
}


def _build_price():
    figure = Figure(figsize=(7.0, 3.6), dpi=style.DPI, layout="constrained")
    axes = figure.add_subplot()
    axes.set(
        xlim=(19.6, 32.4),
        ylim=(-2.3, 2.9),
        xlabel="true axial length, mm",
        ylabel="refraction that is left, D",
    )
    axes.axhline(0, color=style.GREY, linewidth=1.0)
    artists = {}
    for words, name in MEASURED.items():
        colour, line = LINES[name]
        (artists[name],) = axes.plot([], [], color=colour, linestyle=line, linewidth=1.6)
        axes.plot([], [], color=colour, linestyle=line, linewidth=2.6, label=words)
    axes.legend(
        loc="upper center", ncols=3, frameon=False, handlelength=2.0, columnspacing=1.0, borderpad=0
    )
    (artists["gap"],) = axes.plot([], [], color=style.VERMILION, linewidth=2.5)
    (artists["eye"],) = axes.plot([], [], "o", color=style.VERMILION, markersize=8)
    artists["cost"] = axes.text(31.8, -2.0, "", ha="right", va="center", fontsize=13)
    return figure, artists


def _move_price(artists, data):
    for name, curve in data.curves_d.items():
        artists[name].set_data(cases.COST_LENGTHS_MM, curve)
        artists[name].set_linewidth(3.2 if name == data.measured else 1.4)
    artists["gap"].set_data([data.length_mm] * 2, [0.0, data.refraction_d])
    artists["eye"].set_data([data.length_mm], [data.refraction_d])
    artists["cost"].set_text(f"{_error_in_words(data)}: leaves {signed(data.refraction_d)}")


def _error_in_words(data):
    what, unit, less, more = {
        "length": ("length", "mm", "too short", "too long"),
        "k": ("keratometry", "D", "too flat", "too steep"),
        "position": ("lens position", "mm", "too far forward", "too deep"),
    }[data.measured]
    if abs(data.error) < 0.005:
        return f"{what} without error"
    return f"{what} {abs(data.error):.2f} {unit} {more if data.error > 0 else less}"


def _say_price(data):
    return (
        f"An eye of {data.length_mm:.1f} mm, {_error_in_words(data)}: the lens chosen leaves "
        f"{signed(data.refraction_d)} at the spectacles, {_kind(data.refraction_d)}."
    )


def _describe_price(data):
    return (
        f"Refraction left by the same error in length, keratometry and lens position against axial "
        f"length; length costs most in short eyes. At {data.length_mm:.1f} mm, "
        f"{_error_in_words(data)}, {signed(data.refraction_d)} are left."
    )


def price() -> Demo:
    """Return the demo: which measurement is wrong, by how much, in which eye."""
    return Demo(
        title="what an error of measurement costs",
        controls=(
            Slider("length_mm", "True length of the eye, mm", 20, 32, 0.1, 23.5, "mm"),
            Slider("error", "Measured minus true, mm or D", -0.5, 0.5, 0.05, 0.3, "", True),
            Choice("measured", "Wrong is the:", MEASURED, "length"),
        ),
        build=_build_price,
        compute=cases.compute_error_cost,
        move=_move_price,
        sentence=_say_price,
        alt=_describe_price,
    )
