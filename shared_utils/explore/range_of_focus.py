"""Sliders on the range of focus: one defocus curve, and two eyes together."""

from matplotlib.figure import Figure

from shared_utils.cases import range_of_focus as cases
from shared_utils.cases.range_of_focus import (
    CURVE_D,
    LIMIT_LOGMAR,
    PAIR_D,
    PHONE_D,
    SCREEN_D,
    acuity_curve,
)
from shared_utils.choice.tasks import LENS_OF
from shared_utils.explore.engine import Choice, Demo, Slider
from shared_utils.show import style
from shared_utils.show.figure_parts import line_of_class
from shared_utils.show.range_of_focus import reach_in_words, set_curve_axes
from shared_utils.show.style import signed

CLASSES = {name: name for name in LENS_OF}
# below the curves, which end at 1.3, is room for words
_FOOT_OF_CURVE, _FOOT_OF_EYES = 1.6, 1.78
# where the acuity is read, and on which side of the line the words stand
_MARKS = (("66 cm", SCREEN_D, "right"), ("40 cm", PHONE_D, "left"))


def _foot_words(axes, place_d, side, foot, **kwargs):
    away_d = 0.07 if side == "right" else -0.07
    return axes.text(place_d + away_d, foot - 0.03, "", ha=side, va="bottom", **kwargs)


def _logmar(value):
    return signed(value, "", 2).lstrip("+")


# --- one curve ---------------------------------------------------------------------------------


def _build_curve():
    cases.compute_all()  # now, and not at the first move
    figure = Figure(figsize=(7.0, 4.1), dpi=style.DPI, layout="constrained")
    axes = figure.add_subplot()
    set_curve_axes(axes, _FOOT_OF_CURVE)
    artists = {}
    for n in range(3):
        artists[f"part {n}"] = axes.axvspan(0, 0, color=style.SKY, alpha=0.25, linewidth=0)
    (artists["limit"],) = axes.plot([], [], color=style.GREY, linewidth=1.0)
    (artists["beside"],) = axes.plot([], [], color=style.BLACK, linewidth=1.0, alpha=0.45)
    (artists["curve"],) = axes.plot([], [])
    for name, place, side in _MARKS:
        (artists[f"{name} line"],) = axes.plot([], [], ":", color=style.PURPLE)
        (artists[f"{name} dot"],) = axes.plot([], [], "o", color=style.PURPLE, markersize=9)
        artists[f"{name} words"] = _foot_words(axes, place, side, _FOOT_OF_CURVE, color="#8a4672")
    artists["range"] = axes.text(0.93, 1.57, "", va="bottom")
    return figure, artists


def _move_curve(artists, data):
    for n in range(3):
        there = n < len(data.parts)
        band = artists[f"part {n}"]
        band.set_visible(there)
        if there:
            begun, end = data.parts[n]
            band.set_x(end)
            band.set_width(begun - end)
    artists["limit"].set_data([1.0, -4.0], [data.limit_logmar] * 2)
    artists["beside"].set_data(CURVE_D, acuity_curve("monofocal", round(data.pupil_mm, 2)))
    line = line_of_class(data.lens_class)
    artists["curve"].set_data(CURVE_D, data.logmar)
    artists["curve"].set_color(line["color"])
    artists["curve"].set_linestyle(line["linestyle"])
    for name, place, _ in _MARKS:
        value = data.at(place)
        artists[f"{name} line"].set_data([place, place], [_FOOT_OF_CURVE, value])
        artists[f"{name} dot"].set_data([place], [value])
        artists[f"{name} words"].set_text(f"{name}: {_logmar(value)}")
    artists["range"].set_text(f"usable {data.range_d:.1f} D")


def _say_curve(data):
    far, screen, phone = (_logmar(data.at(place)) for place in (0.0, SCREEN_D, PHONE_D))
    return (
        f"{data.lens_class.capitalize()}, pupil {data.pupil_mm:.1f} mm: far {far}, 66 cm {screen}, "
        f"40 cm {phone} logMAR. At {data.limit_logmar:.2f} or better "
        f"{reach_in_words(data.parts)}: {data.range_d:.1f} D without a gap."
    )


def _describe_curve(data):
    gap = "in one stretch" if len(data.parts) == 1 else "with a gap between"
    if not data.parts:
        gap = "for it stays below the limit"
    return f"Acuity against the vergence of the object, usable {gap}. {_say_curve(data)}"


def curve_and_range() -> Demo:
    """Return the demo: lens, pupil and limit against the defocus curve and its range."""
    return Demo(
        title="a defocus curve and its usable range",
        controls=(
            Slider("pupil_mm", "Pupil, mm", 2.0, 5.0, 0.5, 3.0, "mm"),
            Slider("limit_logmar", "Limit, logMAR", 0.1, 0.4, 0.05, 0.2, "logMAR"),
            Choice("lens_class", "Lens:", CLASSES, "extended depth of focus"),
        ),
        build=_build_curve,
        compute=cases.curve_of,
        move=_move_curve,
        sentence=_say_curve,
        alt=_describe_curve,
    )


# --- two eyes ----------------------------------------------------------------------------------


def _build_eyes():
    cases.compute_all()  # now, and not at the first move
    figure = Figure(figsize=(7.0, 4.3), dpi=style.DPI, layout="constrained")
    axes = figure.add_subplot()
    set_curve_axes(axes, _FOOT_OF_EYES)
    axes.axhline(LIMIT_LOGMAR, color=style.GREY, linewidth=1.0)
    artists = {}
    (artists["both"],) = axes.plot([], [], color=style.SKY, linewidth=9.0, alpha=0.55)
    (artists["far eye"],) = axes.plot([], [], color=style.PURPLE, linewidth=2.0)
    (artists["near eye"],) = axes.plot([], [], color=style.ORANGE, linewidth=2.0, dashes=(4, 2))
    for n, (words, colour, kind) in enumerate(
        (
            ("far eye", style.PURPLE, {"linewidth": 2.0}),
            ("near eye", style.ORANGE, {"linewidth": 2.0, "dashes": (4, 2)}),
            ("both", style.SKY, {"linewidth": 9.0, "alpha": 0.55}),
        )
    ):
        left = 0.9 - 1.25 * n
        axes.plot([left, left - 0.3], [1.47, 1.47], color=colour, **kind)
        axes.text(left - 0.38, 1.47, words, va="center")
    for name, place, side in _MARKS:
        (artists[f"{name} dot"],) = axes.plot([], [], "o", color=style.BLACK, markersize=7)
        artists[f"{name} words"] = _foot_words(axes, place, side, _FOOT_OF_EYES)
        axes.axvline(place, ymax=0.07, color=style.BLACK, linewidth=1.0, linestyle=":")
    return figure, artists


def _move_eyes(artists, data):
    artists["far eye"].set_data(PAIR_D, data.far_eye)
    artists["near eye"].set_data(PAIR_D, data.near_eye)
    artists["both"].set_data(PAIR_D, data.both)
    for name, place, _ in _MARKS:
        value = data.at(place)
        artists[f"{name} dot"].set_data([place], [value])
        artists[f"{name} words"].set_text(f"{name}: {_logmar(value)}")


def _say_eyes(data):
    return (
        f"{data.lens_class.capitalize()}, pupil {data.pupil_mm:.1f} mm, near eye "
        f"{signed(data.target_d)}: 20/32 or better {reach_in_words(data.parts)}; in "
        f"{data.shared_d:.1f} D of it both eyes are. 40 cm: {_logmar(data.at(PHONE_D))} logMAR."
    )


def _describe_eyes(data):
    gap = "no gap" if len(data.parts) == 1 else "a gap"
    return (
        f"Acuity of a far eye, a near eye and the better of both against the vergence of the "
        f"object, {gap}. {_say_eyes(data)}"
    )


def two_eyes() -> Demo:
    """Return the demo: target of the near eye, pupil and lens against what two eyes see."""
    return Demo(
        title="two eyes with two targets",
        controls=(
            Slider("target_d", "Target of the near eye, D", -2.5, 0.0, 0.25, -1.25, "D", True),
            Slider("pupil_mm", "Pupil, mm", 2.0, 5.0, 0.5, 3.0, "mm"),
            Choice("lens_class", "Lens in both eyes:", CLASSES, "monofocal"),
        ),
        build=_build_eyes,
        compute=cases.two_eyes_with,
        move=_move_eyes,
        sentence=_say_eyes,
        alt=_describe_eyes,
    )
