"""Sliders on tasks and glasses: a task among the curves, a reader, light and pupil."""

from __future__ import annotations

import numpy as np
from matplotlib.figure import Figure

from shared_utils.cases import tasks as cases
from shared_utils.cases.tasks import BY_LIGHT, CANNOT_TELL_LOGMAR, PUPILS_MM, VERGENCE_D
from shared_utils.choice.everyday_tasks import TASKS
from shared_utils.choice.tasks import LENS_OF, USUAL_PUPIL_MM
from shared_utils.explore.engine import Choice, Demo, Slider
from shared_utils.show import style
from shared_utils.show.figure_parts import distance_axis, line_of
from shared_utils.show.style import signed

LIGHTS = {
    "bright (pupil 3 mm)": "bright",
    "dim (pupil 4 mm)": "dim",
    "night (pupil 5 mm)": "night",
}
WORST_LOGMAR, BEST_LOGMAR = 0.9, -0.25


def number(logmar: float) -> str:
    """Return an acuity as it is read out, with a real minus sign.

    >>> number(-0.1), number(0.25)
    ('−0.10', '0.25')
    """
    return f"{logmar + 0.0:.2f}".replace("-", "−")


def _listed(names):
    return ", ".join(names) or "none"


# --- one task among the curves -----------------------------------------------------------------


def _build_page():
    cases.curves_by_light()  # now, and not at the first move
    figure = Figure(figsize=(7.0, 4.4), dpi=style.DPI, layout="constrained")
    axes = figure.add_subplot()
    axes.set(
        xlim=(0.0, -3.45),
        ylim=(WORST_LOGMAR, BEST_LOGMAR),
        xlabel="vergence of the object, D",
        ylabel="logMAR, better upwards",
    )
    axes.xaxis.set_major_formatter(lambda d, _: style.signed(d, "", 1))
    axes.yaxis.set_major_formatter(lambda v, _: f"{v + 0.0:.1f}".replace("-", "−"))
    distance_axis(axes)
    artists = {}
    for name, lens in LENS_OF.items():
        axes.plot([], [], label=name, **line_of(lens))
        (artists[name],) = axes.plot([], [], **line_of(lens))
    (artists["needed"],) = axes.plot([], [], color=style.PURPLE, linewidth=1.5)
    (artists["task"],) = axes.plot(
        [], [], "*", color=style.PURPLE, markersize=17, markeredgecolor="black", zorder=5
    )
    for name in LENS_OF:
        (artists[f"dot {name}"],) = axes.plot(
            [], [], "o", markersize=8, markeredgecolor=style.LENS_LINES[name].colour, zorder=4
        )
    artists["words"] = axes.text(-0.06, WORST_LOGMAR - 0.04, "", va="bottom")
    figure.legend(loc="outside upper center", ncol=3, frameon=False)
    return figure, artists


def _move_page(artists, data):
    x, needed = data.task.vergence_d, data.task.needed_logmar
    for name in LENS_OF:
        artists[name].set_data(VERGENCE_D, data.curves_logmar[name])
        dot = artists[f"dot {name}"]
        at = data.here_logmar[name]
        dot.set_data([x], [at])
        dot.set_visible(BEST_LOGMAR < at < WORST_LOGMAR)
        clear = name in data.clear
        dot.set_markerfacecolor(style.LENS_LINES[name].colour if clear else "white")
    shown = float(np.clip(needed, BEST_LOGMAR + 0.02, WORST_LOGMAR - 0.02))
    artists["needed"].set_data([0.0, x], [shown, shown])
    artists["task"].set_data([x], [shown])
    artists["words"].set_text(f"the page needs {number(needed)}")


def _say_page(data):
    task = data.task
    return (
        f"{100 * task.distance_m:.0f} cm ({signed(task.vergence_d)}), x-height "
        f"{task.letter_mm:.1f} mm, {task.light}: needs {number(task.needed_logmar)} logMAR. "
        f"Clear: {_listed(data.clear)}. Cannot be told: {_listed(data.open)}."
    )


def _describe_page(data):
    return (
        f"Acuity of five classes against distance, and a star where a page at "
        f"{100 * data.task.distance_m:.0f} cm needs {number(data.task.needed_logmar)} logMAR. "
        f"Curves that pass above the star make it clear: {_listed(data.clear)}."
    )


def task_among_curves() -> Demo:
    """Return the demo: distance, letters and light of a page against the five curves."""
    return Demo(
        title="a page to read among the curves of five classes",
        controls=(
            Slider("distance_cm", "Distance of the page, cm", 30, 120, 1, 40, "cm"),
            Slider("letter_mm", "Height of a small x, mm", 0.8, 4.0, 0.1, 1.5, "mm"),
            Choice("light", "Light:", LIGHTS, "bright"),
        ),
        build=_build_page,
        compute=cases.page_among_curves,
        move=_move_page,
        sentence=_say_page,
        alt=_describe_page,
    )


# --- a reader over a lens ----------------------------------------------------------------------


def _build_worn():
    figure = Figure(figsize=(7.0, 4.2), dpi=style.DPI, layout="constrained")
    axes = figure.add_subplot()
    axes.set(
        xlim=(-0.8, 0.8),
        ylim=(len(TASKS) - 0.5, -0.6),
        xlabel="acuity beyond what the task needs, logMAR",
    )
    axes.set_yticks(range(len(TASKS)), [task.name for task in TASKS])
    axes.tick_params(axis="y", length=0)
    axes.xaxis.set_major_formatter(lambda v, _: signed(v, "", 1))
    axes.axvspan(-CANNOT_TELL_LOGMAR, CANNOT_TELL_LOGMAR, color="#dddddd", zorder=0)
    axes.axvline(0.0, color="black", linewidth=1.0)
    axes.text(0.4, 1.01, "clear", ha="center", va="bottom", transform=_over(axes))
    axes.text(-0.4, 1.01, "not clear", ha="center", va="bottom", transform=_over(axes))
    axes.text(0.0, 1.01, "?", ha="center", va="bottom", transform=_over(axes))
    artists = {}
    for row in range(len(TASKS)):
        (artists[f"line {row}"],) = axes.plot([], [], color=style.PURPLE, linewidth=3)
        (artists[f"dot {row}"],) = axes.plot(
            [], [], "o", color=style.PURPLE, markersize=10, markeredgecolor="black"
        )
    return figure, artists


def _over(axes):
    """Places along the axis in data, upwards in parts of the frame."""
    return axes.get_xaxis_transform()


def _move_worn(artists, data):
    for row, margin in enumerate(data.margin_logmar):
        artists[f"line {row}"].set_data([0.0, margin], [row, row])
        artists[f"dot {row}"].set_data([margin], [row])
        artists[f"dot {row}"].set_markerfacecolor(style.PURPLE if margin >= 0 else "white")


def _say_worn(data):
    clear = data.tasks(clear=True)
    power = "no glasses" if data.reader_d == 0 else f"reader {signed(data.reader_d)}"
    lost = [name for name in data.tasks(clear=False) if name in _FAR_AND_ARM]
    which = _listed(lost) if len(lost) <= 3 else f"{len(lost)} of {len(_FAR_AND_ARM)}"
    return (
        f"{data.lens_class.capitalize()}, eyes at {signed(data.target_d)}, {power}: {len(clear)} "
        f"of {len(TASKS)} tasks clear. Not clear from far to arm's length: {which}. "
        f"{_newspaper(data)}"
    )


def _newspaper(data):
    """The two powers for one task, as `choice.tasks` names them."""
    found = str(data.newspaper)
    return f"{found[0].upper()}{found[1:]}."


_FAR_AND_ARM = [task.name for task in TASKS if task.distance_m > 0.5]


def _describe_worn(data):
    return (
        f"Ten tasks from far to near with a {data.lens_class} lens. Clear behind "
        f"{signed(data.reader_d)}: {_listed(data.tasks(clear=True))}. {_newspaper(data)}"
    )


def reader_over_a_lens() -> Demo:
    """Return the demo: reader, class of lens and target against ten tasks."""
    return Demo(
        title="one pair of glasses and ten tasks",
        advises=True,
        controls=(
            Slider("reader_d", "Reader, D", 0, 2.5, 0.25, 0, "D", signed=True),
            Choice("lens_class", "Lens in both eyes:", {n: n for n in LENS_OF}, "monofocal"),
            Slider("target_d", "Refraction of both eyes, D", -1.5, 0.5, 0.25, 0, "D", signed=True),
        ),
        build=_build_worn,
        compute=cases.tasks_behind,
        move=_move_worn,
        sentence=_say_worn,
        alt=_describe_worn,
    )


# --- light and pupil ---------------------------------------------------------------------------


def _build_lit():
    cases.acuity_along_pupil()  # now, and not at the first move
    figure = Figure(figsize=(7.0, 4.2), dpi=style.DPI, layout="constrained")
    axes = figure.add_subplot()
    axes.set(
        xlim=(1.95, 6.05),
        ylim=(WORST_LOGMAR, BEST_LOGMAR),
        xlabel="pupil, mm",
        ylabel="logMAR, better upwards",
    )
    axes.yaxis.set_major_formatter(lambda v, _: f"{v + 0.0:.1f}".replace("-", "−"))
    artists = {}
    (artists["needed"],) = axes.plot([], [], color=style.PURPLE, linewidth=1.5)
    (artists["here"],) = axes.plot([], [], color=style.GREY, linewidth=1.0)
    for name, lens in LENS_OF.items():
        axes.plot([], [], label=name, **line_of(lens))
        (artists[name],) = axes.plot([], [], **line_of(lens))
        (artists[f"dot {name}"],) = axes.plot(
            [], [], "o", markersize=8, markeredgecolor=style.LENS_LINES[name].colour, zorder=4
        )
    artists["words"] = axes.text(2.0, WORST_LOGMAR - 0.03, "", va="bottom")
    figure.legend(loc="outside upper center", ncol=3, frameon=False)
    return figure, artists


def _move_lit(artists, data):
    needed = data.task.needed_logmar
    artists["needed"].set_data([1.95, 6.05], [needed, needed])
    artists["here"].set_data([data.pupil_mm] * 2, [WORST_LOGMAR, BEST_LOGMAR])
    for name in LENS_OF:
        artists[name].set_data(PUPILS_MM, data.along_logmar[name])
        dot = artists[f"dot {name}"]
        dot.set_data([data.pupil_mm], [data.here_logmar[name]])
        clear = name in data.clear
        dot.set_markerfacecolor(style.LENS_LINES[name].colour if clear else "white")
    artists["words"].set_text(f"{data.task.name} needs {number(needed)}")


def _say_lit(data):
    return (
        f"{data.task.name.capitalize()}, {data.light} light, pupil {data.pupil_mm:.2f} mm: needs "
        f"{number(data.task.needed_logmar)} logMAR. Clear with: {_listed(data.clear)}."
    )


def _describe_lit(data):
    each = ", ".join(f"{name} {number(at)}" for name, at in data.here_logmar.items())
    return (
        f"Acuity for {data.task.name} against the pupil. At {data.pupil_mm:.2f} mm: {each}; "
        f"{number(data.task.needed_logmar)} is needed in {data.light} light."
    )


def light_and_pupil() -> Demo:
    """Return the demo: pupil, light and task against the acuity of each class."""
    return Demo(
        title="one task by light and pupil",
        controls=(
            Slider("pupil_mm", "Pupil, mm", 2, 6, 0.25, 3, "mm"),
            Choice("light", "Light:", {light: light for light in USUAL_PUPIL_MM}, "bright"),
            Choice("name", "Task:", {task.name: task.name for task in BY_LIGHT}, "newspaper"),
        ),
        build=_build_lit,
        compute=cases.task_in_light,
        move=_move_lit,
        sentence=_say_lit,
        alt=_describe_lit,
    )
