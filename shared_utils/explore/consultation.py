"""Sliders on the consultation: the lens ordered, the plan for two eyes, a hundred people."""

import numpy as np
from matplotlib.figure import Figure
from matplotlib.patches import Circle, Polygon

from shared_utils.cases import consultation as cases
from shared_utils.cases.consultation import (
    FORMULAS,
    NEAR_ENOUGH_D,
    PLAN_D,
    REFRACTION_D,
)
from shared_utils.cases.light import MOON_ARCMIN
from shared_utils.choice.everyday_tasks import TASKS
from shared_utils.choice.tasks import LENS_OF
from shared_utils.explore.engine import Choice, Demo, Slider
from shared_utils.show import style
from shared_utils.show.figure_parts import distance_axis, line_of_class
from shared_utils.show.style import signed

# --- the lens ordered --------------------------------------------------------------------------


HIGHEST = 1.8


def _build_ordered():
    figure = Figure(figsize=(7.0, 3.5), dpi=style.DPI, layout="constrained")
    axes = figure.add_subplot()
    axes.set(
        xlim=(2.5, -2.5),
        ylim=(0, HIGHEST),
        yticks=[],
        xlabel="refraction after the operation, D (hyperopia left, myopia right)",
    )
    axes.spines["left"].set_visible(False)
    axes.xaxis.set_major_formatter(lambda d, _: signed(d, "", 1))
    axes.axvline(0.0, color=style.GREY, linewidth=1.0)
    for edge in (-NEAR_ENOUGH_D, NEAR_ENOUGH_D):
        axes.axvline(edge, color=style.GREY, linewidth=1.0, linestyle=(0, (4, 3)))
    artists = {}
    for name, colour, hatch in (("within", style.SKY, ""), ("hyperopic", style.VERMILION, "//")):
        area = Polygon([[0, 0]], closed=True, facecolor=colour, alpha=0.45, hatch=hatch)
        artists[name] = axes.add_patch(area)
    (artists["bell"],) = axes.plot([], [], color="black")
    (artists["predicted"],) = axes.plot([], [], color="black", linewidth=1.0, dashes=(2, 2))
    artists["within text"] = axes.text(-0.62, HIGHEST - 0.08, "", va="top")
    artists["hyperopic text"] = axes.text(0.62, HIGHEST - 0.08, "", va="top", ha="right")
    return figure, artists


def _move_ordered(artists, data):
    artists["bell"].set_data(REFRACTION_D, data.density(REFRACTION_D))
    artists["predicted"].set_data([data.predicted_d] * 2, [0, HIGHEST - 0.3])
    artists["within"].set_xy(data.area(-NEAR_ENOUGH_D, NEAR_ENOUGH_D))
    artists["hyperopic"].set_xy(data.area(NEAR_ENOUGH_D, 2.5))
    artists["within text"].set_text(f"within ±0.50 D:\n{100 * data.within:.0f} of 100")
    artists["hyperopic text"].set_text(f"more than +0.50 D:\n{100 * data.hyperopic:.0f} of 100")


def _say_ordered(data):
    return (
        f"{FORMULAS[data.formula]}: a lens of {data.iol_power_d:.1f} D should leave "
        f"{signed(data.predicted_d)}. With a spread of {data.sd_d:.2f} D, "
        f"{100 * data.within:.0f} of 100 such eyes end within ±0.50 D, "
        f"{100 * data.hyperopic:.0f} beyond +0.50 D."
    )


def _describe_ordered(data):
    return (
        f"A bell of what {data.iol_power_d:.1f} D may leave, its middle at "
        f"{signed(data.predicted_d)}. {100 * data.within:.0f} of 100 end within half a dioptre of "
        f"the target, {100 * data.hyperopic:.0f} end hyperopic by more."
    )


def order_and_outcome() -> Demo:
    """Return the demo: lens, spread and formula against where a hundred such eyes end."""
    return Demo(
        title="the lens ordered and where such eyes end",
        advises=True,
        controls=(
            Slider("iol_power_d", "Lens ordered, D", 18.5, 22.5, 0.5, 20.5, "D", signed=True),
            Slider("sd_d", "Spread of the practice, D", 0.3, 0.7, 0.05, 0.4, "D"),
            Choice("formula", "Formula:", {name: key for key, name in FORMULAS.items()}, "srk_t"),
        ),
        build=_build_ordered,
        compute=cases.lens_ordered,
        move=_move_ordered,
        sentence=_say_ordered,
        alt=_describe_ordered,
    )


# --- the plan for two eyes ---------------------------------------------------------------------

BY_DAY = [task for task in TASKS if task.light == "bright"]
WORST_LOGMAR, BEST_LOGMAR = 0.9, -0.25
WIDEST_ARCMIN = 74.0


def _build_plan():
    for lens_class in LENS_OF:
        cases.curve_by_day(lens_class)  # now, and not at the first move
    figure = Figure(figsize=(7.0, 3.9), dpi=style.DPI, layout="constrained")
    axes, night = figure.subplots(1, 2, width_ratios=(2.1, 1.0))
    axes.set(
        xlim=(0.0, -3.45),
        ylim=(WORST_LOGMAR, BEST_LOGMAR),
        xlabel="vergence of the object, D",
        ylabel="logMAR, better upwards",
    )
    axes.xaxis.set_major_formatter(lambda d, _: signed(d, "", 1))
    axes.yaxis.set_major_formatter(lambda v, _: f"{v + 0.0:.1f}".replace("-", "−"))
    distance_axis(axes)
    half = WIDEST_ARCMIN / 2.0
    night.set(xlim=(-half, half), ylim=(-1.55 * half, 1.55 * half), xticks=[], yticks=[])
    night.set_aspect("equal")
    night.set_facecolor("black")
    night.set_title("a lamp at night")
    night.add_patch(
        Circle((0, -1.08 * half), MOON_ARCMIN / 2.0, facecolor="none", edgecolor="white")
    )
    night.text(0, -1.08 * half, "moon", color="white", ha="center", va="center")
    artists = {}
    for name, width in (("right", 2.4), ("left", 1.1)):
        (artists[name],) = axes.plot([], [], linewidth=width)
        artists[f"{name} name"] = axes.text(
            -0.06, WORST_LOGMAR - (0.12 if name == "right" else 0.03), "", va="bottom"
        )
    for task in BY_DAY:
        (artists[task.name],) = axes.plot(
            [task.vergence_d],
            [task.needed_logmar],
            "*",
            markersize=13,
            markeredgecolor="black",
            zorder=5,
        )
    artists["ring"] = night.add_patch(
        Circle((0, 0.27 * half), 1.0, facecolor="#ffe9b0", alpha=0.45, edgecolor="none")
    )
    (artists["lamp"],) = night.plot([0], [0.27 * half], "o", color="white", markersize=6)
    artists["ring name"] = night.text(
        0, 1.51 * half, "", color="white", ha="center", va="top", zorder=6
    )
    return figure, artists


def _move_plan(artists, data):
    for name, logmar in (("right", data.right_logmar), ("left", data.left_logmar)):
        artists[name].set_data(PLAN_D, logmar)
        line = line_of_class(data.lens_class)
        artists[name].set_color(line["color"])
        artists[name].set_linestyle(line["linestyle"])
    artists["right name"].set_text("thick: right eye, 0.00 D")
    artists["left name"].set_text(f"thin: left eye, {signed(-data.offset_d)}")
    for task in BY_DAY:
        artists[task.name].set_markerfacecolor(style.PURPLE if data.clear[task.name] else "white")
    artists["ring"].set_radius(max(data.ring_arcmin / 2.0, 0.01))
    ring = f"ring {data.ring_arcmin:.0f} arcmin" if data.ring_arcmin else "no ring"
    artists["ring name"].set_text(ring)


def _rings(data):
    if not data.ring_arcmin:
        return "no ring around a lamp"
    return (
        f"ring of {data.ring_arcmin:.0f} arcmin, {data.ring_arcmin / MOON_ARCMIN:.1f} moons, at "
        f"{data.night_pupil_mm:.1f} mm"
    )


def _say_plan(data):
    lost = data.not_clear
    which = ", ".join(lost) if 0 < len(lost) <= 3 else f"{len(lost)} tasks" if lost else "nothing"
    return (
        f"{data.lens_class.capitalize()}, right 0.00 D, left {signed(-data.offset_d)}: "
        f"{len(data.clear) - len(lost)} of {len(data.clear)} tasks clear; glasses for {which}; "
        f"{_rings(data)}."
    )


def _describe_plan(data):
    return (
        f"Acuity of both eyes against distance with stars for eight tasks by day, and a lamp at "
        f"night beside the moon. {len(data.clear) - len(data.not_clear)} of {len(data.clear)} "
        f"tasks are clear without glasses; {_rings(data)}."
    )


def two_eye_plan() -> Demo:
    """Return the demo: offset, class of lens and night pupil against tasks and ring."""
    return Demo(
        title="a plan for two eyes, by day and at night",
        advises=True,
        controls=(
            Slider("offset_d", "Left eye made short-sighted by, D", 0, 1.5, 0.25, 0, "D"),
            Choice(
                "lens_class",
                "Lens in both eyes:",
                {name: name for name in LENS_OF},
                "extended depth of focus",
            ),
            Slider("night_pupil_mm", "Pupil at night, mm", 4, 7, 0.2, 5.4, "mm"),
        ),
        build=_build_plan,
        compute=cases.plan_for_two_eyes,
        move=_move_plan,
        sentence=_say_plan,
        alt=_describe_plan,
    )


# --- a hundred people --------------------------------------------------------------------------


PEOPLE = ("anyway", "through the lens", "not")
PERSON = {
    "anyway": (style.GREY, "s"),
    "through the lens": (style.ORANGE, "o"),
    "not": ("white", "o"),
}


def _build_hundred():
    figure = Figure(figsize=(7.0, 3.7), dpi=style.DPI, layout="constrained")
    axes = figure.add_subplot()
    axes.set(xlim=(-0.8, 22.5), ylim=(5.8, -1.1), xticks=[], yticks=[])
    for spine in axes.spines.values():
        spine.set_visible(False)
    artists = {}
    for kind, (colour, marker) in PERSON.items():
        (artists[kind],) = axes.plot(
            [], [], marker, color=colour, markersize=15, markeredgecolor="black", linestyle="none"
        )
    for kind, row in zip(PEOPLE, (0.6, 2.2, 3.8), strict=True):
        colour, marker = PERSON[kind]
        axes.plot([21.0], [row], marker, color=colour, markersize=15, markeredgecolor="black")
        artists[f"count {kind}"] = axes.text(21.0, row + 0.75, "", ha="center", va="center")
    axes.text(0.0, -0.9, "a hundred people with the lens: who does without glasses?", va="center")
    axes.text(20.0, 5.4, "grey: would anyway", ha="right", va="center")
    return figure, artists


def _move_hundred(artists, data):
    anyway, altogether = round(data.base_percent), round(data.with_lens)
    bounds = {
        "anyway": (0, anyway),
        "through the lens": (anyway, altogether),
        "not": (altogether, 100),
    }
    for kind, (first, last) in bounds.items():
        people = np.arange(first, last)
        artists[kind].set_data(people % 20, people // 20)
        artists[f"count {kind}"].set_text(f"{last - first}")


def _say_hundred(data):
    return (
        f"{data.base_percent:.0f} of 100 do without glasses with one focus; {data.times:.1f} times "
        f"as many are {data.with_lens:.0f}. So {data.through_lens:.0f} of 100 owe it to the lens, "
        f"{100 - data.with_lens:.0f} wear glasses all the same."
    )


def _describe_hundred(data):
    return (
        f"A hundred people as signs: {data.base_percent:.0f} would do without glasses anyway, "
        f"{data.through_lens:.0f} do through the lens, {100 - data.with_lens:.0f} do not."
    )


def hundred_people() -> Demo:
    """Return the demo: a base rate and a ratio against a hundred people."""
    return Demo(
        title="what so many times means among a hundred people",
        controls=(
            Slider("base_percent", "Of 100 with one focus, without glasses", 2, 34, 1, 10),
            Slider("times", "With the other lens, times as many", 1, 2.9, 0.1, 2.8),
        ),
        build=_build_hundred,
        compute=cases.HundredPeople,
        move=_move_hundred,
        sentence=_say_hundred,
        alt=_describe_hundred,
    )
