"""Sliders on tasks and glasses: a task among the curves, a reader, light and pupil."""

from dataclasses import dataclass
from functools import cache

import numpy as np
from matplotlib.figure import Figure

from shared_utils.choice import tasks
from shared_utils.choice.tasks import LENS_OF, TASKS, USUAL_PUPIL_MM, Task
from shared_utils.explore.engine import Choice, Demo, Slider
from shared_utils.optics.through_focus import ACUITY_UNCERTAINTY_LOGMAR, acuity_logmar
from shared_utils.show import style
from shared_utils.show.figure_parts import distance_axis, line_of
from shared_utils.show.style import signed

LIGHTS = {
    "bright (pupil 3 mm)": "bright",
    "dim (pupil 4 mm)": "dim",
    "night (pupil 5 mm)": "night",
}
CANNOT_TELL_LOGMAR = ACUITY_UNCERTAINTY_LOGMAR / 2.0
VERGENCE_D = np.linspace(-0.05, -3.4, 68)
WORST_LOGMAR, BEST_LOGMAR = 0.9, -0.25


def number(logmar):
    """Return an acuity as it is read out, with a real minus sign.

    >>> number(-0.1), number(0.25)
    ('−0.10', '0.25')
    """
    return f"{logmar + 0.0:.2f}".replace("-", "−")


def _listed(names):
    return ", ".join(names) or "none"


# --- one task among the curves -----------------------------------------------------------------


@dataclass(frozen=True)
class Seen:
    """One page to read, what it needs, and what each class gives there."""

    task: Task
    curves_logmar: dict
    here_logmar: dict

    @property
    def clear(self):
        """Classes that make it clear."""
        return [c for c, at in self.here_logmar.items() if at <= self.task.needed_logmar]

    @property
    def open(self):
        """Classes of which the model cannot tell."""
        return [
            c
            for c, at in self.here_logmar.items()
            if abs(at - self.task.needed_logmar) < CANNOT_TELL_LOGMAR
        ]


def page_among_curves(distance_cm, letter_mm, light):
    """Return what a page of print needs, and the acuity of each class at its distance.

    Parameters
    ----------
    distance_cm : float
        From the eye, 30 to 120 cm.
    letter_mm : float
        Height of a small x, mm.
    light : str
        "bright", "dim" or "night"; the pupil is the usual one of that light.

    Returns
    -------
    Seen

    Examples
    --------
    >>> seen = page_among_curves(40.0, 1.5, "bright")
    >>> round(seen.task.needed_logmar, 2), seen.clear
    (0.11, ['bifocal', 'trifocal'])
    """
    page = Task("a page", distance_cm / 100.0, letter_mm, light=light, page=True)
    curves = _curves()[light]
    here = {name: float(np.interp(-page.vergence_d, -VERGENCE_D, c)) for name, c in curves.items()}
    return Seen(page, curves, here)


@cache
def _curves():
    """Acuity along VERGENCE_D with the usual pupil of each light, far target."""
    places = [Task("place", -1.0 / float(d), 2.0, light="bright") for d in VERGENCE_D]
    return {
        light: {
            name: np.array(
                [found.acuity_logmar for found in tasks.glasses_needed(lens, pupil_mm, 0.0, places)]
            )
            for name, lens in LENS_OF.items()
        }
        for light, pupil_mm in USUAL_PUPIL_MM.items()
    }


def _build_page():
    _curves()
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


def _move_page(artists, seen):
    x, needed = seen.task.vergence_d, seen.task.needed_logmar
    for name in LENS_OF:
        artists[name].set_data(VERGENCE_D, seen.curves_logmar[name])
        dot = artists[f"dot {name}"]
        at = seen.here_logmar[name]
        dot.set_data([x], [at])
        dot.set_visible(BEST_LOGMAR < at < WORST_LOGMAR)
        clear = name in seen.clear
        dot.set_markerfacecolor(style.LENS_LINES[name].colour if clear else "white")
    shown = float(np.clip(needed, BEST_LOGMAR + 0.02, WORST_LOGMAR - 0.02))
    artists["needed"].set_data([0.0, x], [shown, shown])
    artists["task"].set_data([x], [shown])
    artists["words"].set_text(f"the page needs {number(needed)}")


def _say_page(seen):
    task = seen.task
    return (
        f"{100 * task.distance_m:.0f} cm ({signed(task.vergence_d)}), x-height "
        f"{task.letter_mm:.1f} mm, {task.light}: needs {number(task.needed_logmar)} logMAR. "
        f"Clear: {_listed(seen.clear)}. Cannot be told: {_listed(seen.open)}."
    )


def _describe_page(seen):
    return (
        f"Acuity of five classes against distance, and a star where a page at "
        f"{100 * seen.task.distance_m:.0f} cm needs {number(seen.task.needed_logmar)} logMAR. "
        f"Curves that pass above the star make it clear: {_listed(seen.clear)}."
    )


def task_among_curves():
    """Return the demo: distance, letters and light of a page against the five curves."""
    return Demo(
        title="a page to read among the curves of five classes",
        controls=(
            Slider("distance_cm", "Distance of the page, cm", 30, 120, 1, 40, "cm"),
            Slider("letter_mm", "Height of a small x, mm", 0.8, 4.0, 0.1, 1.5, "mm"),
            Choice("light", "Light:", LIGHTS, "bright"),
        ),
        build=_build_page,
        compute=page_among_curves,
        move=_move_page,
        sentence=_say_page,
        alt=_describe_page,
    )


# --- a reader over a lens ----------------------------------------------------------------------

MARGIN_LOGMAR = 0.75


@dataclass(frozen=True)
class Worn:
    """Ten tasks behind one pair of glasses."""

    reader_d: float
    lens_class: str
    target_d: float
    margin_logmar: np.ndarray

    def tasks(self, clear):
        """Names of those that are clear, or not."""
        return [
            t.name
            for t, margin in zip(TASKS, self.margin_logmar, strict=True)
            if (margin >= 0) == clear
        ]


def tasks_behind(reader_d, lens_class, target_d):
    """Return by how much each task is clear behind a pair of glasses.

    Parameters
    ----------
    reader_d : float
        Power of the glasses, 0 to 2.5 D.
    lens_class : str
        Of the lens in both eyes.
    target_d : float
        Refraction of both eyes, −1.5 to 0.5 D.

    Returns
    -------
    Worn
        Margin in logMAR, positive where the task is clear; held to ±0.75.

    Examples
    --------
    >>> tasks_behind(0.0, "monofocal", 0.0).tasks(clear=True)[-1]
    'dashboard'
    """
    # glasses before an eye that sees far act as if the eye were as much more myopic
    found = tasks.glasses_needed(LENS_OF[lens_class], USUAL_PUPIL_MM, target_d - reader_d)
    margin = np.array([f.task.needed_logmar - f.acuity_logmar for f in found])
    return Worn(reader_d, lens_class, target_d, np.clip(margin, -MARGIN_LOGMAR, MARGIN_LOGMAR))


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


def _move_worn(artists, seen):
    for row, margin in enumerate(seen.margin_logmar):
        artists[f"line {row}"].set_data([0.0, margin], [row, row])
        artists[f"dot {row}"].set_data([margin], [row])
        artists[f"dot {row}"].set_markerfacecolor(style.PURPLE if margin >= 0 else "white")


def _say_worn(seen):
    clear = seen.tasks(clear=True)
    power = "no glasses" if seen.reader_d == 0 else f"reader {signed(seen.reader_d)}"
    lost = [name for name in seen.tasks(clear=False) if name in _FAR_AND_ARM]
    which = _listed(lost) if len(lost) <= 3 else f"{len(lost)} of {len(_FAR_AND_ARM)}"
    return (
        f"{seen.lens_class.capitalize()}, eyes at {signed(seen.target_d)}, {power}: {len(clear)} "
        f"of {len(TASKS)} tasks clear. Not clear from far to arm's length: {which}."
    )


_FAR_AND_ARM = [task.name for task in TASKS if task.distance_m > 0.5]


def _describe_worn(seen):
    return (
        f"Ten tasks from far to near with a {seen.lens_class} lens. Clear behind "
        f"{signed(seen.reader_d)}: {_listed(seen.tasks(clear=True))}."
    )


def reader_over_a_lens():
    """Return the demo: reader, class of lens and target against ten tasks."""
    return Demo(
        title="one pair of glasses and ten tasks",
        controls=(
            Slider("reader_d", "Reader, D", 0, 2.5, 0.25, 0, "D", signed=True),
            Choice("lens_class", "Lens in both eyes:", {n: n for n in LENS_OF}, "monofocal"),
            Slider("target_d", "Refraction of both eyes, D", -1.5, 0.5, 0.25, 0, "D", signed=True),
        ),
        build=_build_worn,
        compute=tasks_behind,
        move=_move_worn,
        sentence=_say_worn,
        alt=_describe_worn,
    )


# --- light and pupil ---------------------------------------------------------------------------

PUPILS_MM = np.arange(2.0, 6.01, 0.5)
BY_LIGHT = tuple(
    next(task for task in TASKS if task.name == name)
    for name in ("newspaper", "phone at arm's length", "computer", "road sign by day")
)


@dataclass(frozen=True)
class Lit:
    """One task in one light: what it needs, and what each class gives along the pupil."""

    pupil_mm: float
    light: str
    task: Task
    along_logmar: dict
    here_logmar: dict

    @property
    def clear(self):
        """Classes that make it clear."""
        return [c for c, at in self.here_logmar.items() if at <= self.task.needed_logmar]


def task_in_light(pupil_mm, light, name):
    """Return what a task needs in some light, and the acuity of each class along the pupil.

    Parameters
    ----------
    pupil_mm : float
        2 to 6 mm.
    light : str
        "bright", "dim" or "night".
    name : str
        Of one of ``BY_LIGHT``.

    Returns
    -------
    Lit

    Examples
    --------
    Dim light asks a tenth of a logMAR more.

    >>> by_day, dim = (task_in_light(3.0, light, "newspaper") for light in ("bright", "dim"))
    >>> round(by_day.task.needed_logmar - dim.task.needed_logmar, 2)
    0.1
    """
    usual = next(task for task in BY_LIGHT if task.name == name)
    task = Task(usual.name, usual.distance_m, usual.letter_mm, light=light, page=usual.page)
    along = _along_pupil()[name]
    here = {c: float(np.interp(pupil_mm, PUPILS_MM, acuity)) for c, acuity in along.items()}
    return Lit(pupil_mm, light, task, along, here)


@cache
def _along_pupil():
    """Acuity along PUPILS_MM of each class at the distance of each task."""
    vergence_d = np.array([task.vergence_d for task in BY_LIGHT])
    found = {
        name: np.array([acuity_logmar(lens, pupil, vergence_d) for pupil in PUPILS_MM])
        for name, lens in LENS_OF.items()
    }
    return {
        task.name: {name: acuity[:, column] for name, acuity in found.items()}
        for column, task in enumerate(BY_LIGHT)
    }


def _build_lit():
    _along_pupil()
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


def _move_lit(artists, seen):
    needed = seen.task.needed_logmar
    artists["needed"].set_data([1.95, 6.05], [needed, needed])
    artists["here"].set_data([seen.pupil_mm] * 2, [WORST_LOGMAR, BEST_LOGMAR])
    for name in LENS_OF:
        artists[name].set_data(PUPILS_MM, seen.along_logmar[name])
        dot = artists[f"dot {name}"]
        dot.set_data([seen.pupil_mm], [seen.here_logmar[name]])
        clear = name in seen.clear
        dot.set_markerfacecolor(style.LENS_LINES[name].colour if clear else "white")
    artists["words"].set_text(f"{seen.task.name} needs {number(needed)}")


def _say_lit(seen):
    return (
        f"{seen.task.name.capitalize()}, {seen.light} light, pupil {seen.pupil_mm:.2f} mm: needs "
        f"{number(seen.task.needed_logmar)} logMAR. Clear with: {_listed(seen.clear)}."
    )


def _describe_lit(seen):
    each = ", ".join(f"{name} {number(at)}" for name, at in seen.here_logmar.items())
    return (
        f"Acuity for {seen.task.name} against the pupil. At {seen.pupil_mm:.2f} mm: {each}; "
        f"{number(seen.task.needed_logmar)} is needed in {seen.light} light."
    )


def light_and_pupil():
    """Return the demo: pupil, light and task against the acuity of each class."""
    return Demo(
        title="one task by light and pupil",
        controls=(
            Slider("pupil_mm", "Pupil, mm", 2, 6, 0.25, 3, "mm"),
            Choice("light", "Light:", {light: light for light in USUAL_PUPIL_MM}, "bright"),
            Choice("name", "Task:", {task.name: task.name for task in BY_LIGHT}, "newspaper"),
        ),
        build=_build_lit,
        compute=task_in_light,
        move=_move_lit,
        sentence=_say_lit,
        alt=_describe_lit,
    )


# --- the patient of the page -------------------------------------------------------------------

PUPIL_OF_PATIENT_MM = {"bright": 2.8, "dim": 3.6, "night": 4.6}
MUSIC_ON_STAGE = Task("sheet music on stage", 0.85, 2.4, light="dim")
MUSIC_WITH_LAMP = Task("sheet music, lamp on", 0.85, 2.4)
TABLET = Task("tablet on the lap", 0.50, 2.0, page=True)
NEWSPAPER = Task("newspaper", 0.40, 1.5, page=True)
ASKED = (MUSIC_ON_STAGE, MUSIC_WITH_LAMP, TABLET, NEWSPAPER)


def task_steps(task, lens_class, pupil_mm=PUPIL_OF_PATIENT_MM):
    """Return the steps from a task to its glasses, ready for a worked example.

    Parameters
    ----------
    task : tasks.Task
    lens_class : str
    pupil_mm : dict of str to float

    Returns
    -------
    list of (str, str, float, str)

    Examples
    --------
    >>> task_steps(NEWSPAPER, "monofocal")[0]
    ('vergence of the task', '−1 / 0.40 m', -2.5, 'D')
    """
    (found,) = tasks.glasses_needed(LENS_OF[lens_class], pupil_mm, 0.0, [task])
    limb_arcmin = float(np.degrees(task.letter_mm / 1000.0 / task.distance_m)) * 60.0 / 5.0
    margin = task.needed_logmar - found.acuity_logmar
    reserve = tasks.PAGE_RESERVE_LOGMAR if task.page else tasks.WORD_RESERVE_LOGMAR
    light = tasks.LIGHT_LOSS_LOGMAR[task.light]
    return [
        ("vergence of the task", f"−1 / {task.distance_m:.2f} m", task.vergence_d, "D"),
        (
            "a fifth of the small x, as an angle",
            f"3438 · ({task.letter_mm:g} / 5) / {1000 * task.distance_m:g} mm",
            limb_arcmin,
            "arcmin",
        ),
        ("acuity that just sees it", "log₁₀ of that", float(np.log10(limb_arcmin)), "logMAR"),
        (
            "acuity that the task needs",
            f"less {reserve:g} in reserve, less {light:g} for the light",
            task.needed_logmar,
            "logMAR",
        ),
        (
            f"acuity there, {lens_class}",
            f"the curve at that vergence, pupil {pupil_mm[task.light]:g} mm",
            found.acuity_logmar,
            "logMAR",
        ),
        (
            "beyond what is needed",
            "need − acuity",
            margin,
            "logMAR",
        ),
        ("weakest reader that makes it clear", "try in steps of 0.25 D", found.reader_d, "D"),
    ]
