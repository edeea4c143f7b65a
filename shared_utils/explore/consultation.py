"""Sliders on the consultation: the lens ordered, the plan for two eyes, a hundred people."""

from dataclasses import dataclass, replace
from functools import cache

import numpy as np
from matplotlib.figure import Figure
from matplotlib.patches import Circle, Polygon
from scipy.stats import norm

from shared_utils.choice import tasks
from shared_utils.choice.tasks import LENS_OF, TASKS
from shared_utils.clinic import patient_file
from shared_utils.explore.engine import Choice, Demo, Slider
from shared_utils.optics.retina import geometric_halo_arcmin, outermost_add_d
from shared_utils.optics.through_focus import acuity_logmar
from shared_utils.power.biometry import Eye
from shared_utils.power.constants import LensConstants
from shared_utils.power.formulas import iol_power, predicted_refraction
from shared_utils.power.lens_steps import nearest_power
from shared_utils.show import style
from shared_utils.show.consultation import FORMULAS
from shared_utils.show.figure_parts import distance_axis, line_of
from shared_utils.show.style import signed

RIGHT = patient_file.read(patient_file.find("lock_keeper"))
"""The patient of the page, right eye."""

LEFT_EYE = Eye(23.61, 43.20, 43.75, 8.0, acd_mm=3.15, lens_thickness_mm=4.50)
CONSTANTS = LensConstants.from_a_constant(RIGHT.a_constant)
PUPILS_MM = tasks.pupils_of(RIGHT.patient)

PLANNED = replace(RIGHT, fellow_target_d=-0.5)
"""What the page decides: the left eye set a little nearer."""

NEAR_ENOUGH_D = 0.5
MOON_ARCMIN = 31.0

# --- the lens ordered --------------------------------------------------------------------------


@dataclass(frozen=True)
class Ordered:
    """A lens ordered for the right eye, and what may come of it."""

    iol_power_d: float
    sd_d: float
    formula: str
    predicted_d: float

    @property
    def within(self):
        """Chance of ending within half a dioptre of the target."""
        return float(
            norm.cdf(NEAR_ENOUGH_D, self.predicted_d, self.sd_d)
            - norm.cdf(-NEAR_ENOUGH_D, self.predicted_d, self.sd_d)
        )

    @property
    def hyperopic(self):
        """Chance of ending more than half a dioptre hyperopic."""
        return float(norm.sf(NEAR_ENOUGH_D, self.predicted_d, self.sd_d))


def lens_ordered(iol_power_d, sd_d, formula="srk_t"):
    """Return what a lens ordered for the patient's right eye may leave.

    Parameters
    ----------
    iol_power_d : float
        Power of the lens, D.
    sd_d : float
        Spread of the prediction error of the practice, D; its mean is zero.
    formula : str
        One of ``FORMULAS``.

    Returns
    -------
    Ordered

    Examples
    --------
    >>> round(lens_ordered(20.5, 0.40).predicted_d, 2)
    0.09
    """
    left_d = predicted_refraction(RIGHT.patient.eye, formula, CONSTANTS, iol_power_d)
    return Ordered(iol_power_d, sd_d, formula, float(left_d))


REFRACTION_D = np.linspace(-2.5, 2.5, 201)
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


def _area(seen, low, high):
    x = np.linspace(low, high, 61)
    y = norm.pdf(x, seen.predicted_d, seen.sd_d)
    return np.column_stack([np.r_[x, high, low], np.r_[y, 0.0, 0.0]])


def _move_ordered(artists, seen):
    artists["bell"].set_data(REFRACTION_D, norm.pdf(REFRACTION_D, seen.predicted_d, seen.sd_d))
    artists["predicted"].set_data([seen.predicted_d] * 2, [0, HIGHEST - 0.3])
    artists["within"].set_xy(_area(seen, -NEAR_ENOUGH_D, NEAR_ENOUGH_D))
    artists["hyperopic"].set_xy(_area(seen, NEAR_ENOUGH_D, 2.5))
    artists["within text"].set_text(f"within ±0.50 D:\n{100 * seen.within:.0f} of 100")
    artists["hyperopic text"].set_text(f"more than +0.50 D:\n{100 * seen.hyperopic:.0f} of 100")


def _say_ordered(seen):
    return (
        f"{FORMULAS[seen.formula]}: a lens of {seen.iol_power_d:.1f} D should leave "
        f"{signed(seen.predicted_d)}. With a spread of {seen.sd_d:.2f} D, "
        f"{100 * seen.within:.0f} of 100 such eyes end within ±0.50 D, "
        f"{100 * seen.hyperopic:.0f} beyond +0.50 D."
    )


def _describe_ordered(seen):
    return (
        f"A bell of what {seen.iol_power_d:.1f} D may leave, its middle at "
        f"{signed(seen.predicted_d)}. {100 * seen.within:.0f} of 100 end within half a dioptre of "
        f"the target, {100 * seen.hyperopic:.0f} end hyperopic by more."
    )


def order_and_outcome():
    """Return the demo: lens, spread and formula against where a hundred such eyes end."""
    return Demo(
        title="the lens ordered and where such eyes end",
        controls=(
            Slider("iol_power_d", "Lens ordered, D", 18.5, 22.5, 0.5, 20.5, "D", signed=True),
            Slider("sd_d", "Spread of the practice, D", 0.3, 0.7, 0.05, 0.4, "D"),
            Choice("formula", "Formula:", {name: key for key, name in FORMULAS.items()}, "srk_t"),
        ),
        build=_build_ordered,
        compute=lens_ordered,
        move=_move_ordered,
        sentence=_say_ordered,
        alt=_describe_ordered,
    )


# --- the plan for two eyes ---------------------------------------------------------------------

DEFOCUS_D = np.linspace(2.0, -3.5, 111)
SEEN_D = np.linspace(0.0, -3.4, 69)
BY_DAY = [task for task in TASKS if task.light == "bright"]
WORST_LOGMAR, BEST_LOGMAR = 0.9, -0.25
WIDEST_ARCMIN = 74.0


@dataclass(frozen=True)
class Plan:
    """The same lens in both eyes, the left set nearer."""

    offset_d: float
    lens_class: str
    night_pupil_mm: float
    right_logmar: np.ndarray
    left_logmar: np.ndarray
    clear: dict
    ring_arcmin: float

    @property
    def not_clear(self):
        """Names of the tasks that need glasses."""
        return [name for name, clear in self.clear.items() if not clear]


def plan_for_two_eyes(offset_d, lens_class, night_pupil_mm=5.4):
    """Return what a plan for both eyes gives the patient, by day and at night.

    Parameters
    ----------
    offset_d : float
        How short-sighted the left eye is made, 0 to 1.5 D; the right is set for far.
    lens_class : str
        In both eyes.
    night_pupil_mm : float
        4 to 7 mm; widens the ring, while tasks keep the patient's own pupils.

    Returns
    -------
    Plan

    Examples
    --------
    >>> plan_for_two_eyes(0.0, "monofocal").ring_arcmin
    0.0
    >>> round(plan_for_two_eyes(0.0, "bifocal").ring_arcmin)
    51
    """
    add_d = outermost_add_d(LENS_OF[lens_class])
    curve = _curve(lens_class)
    return Plan(
        offset_d,
        lens_class,
        night_pupil_mm,
        np.interp(-SEEN_D, -DEFOCUS_D, curve),
        np.interp(-SEEN_D - offset_d, -DEFOCUS_D, curve),
        _clear(offset_d, lens_class),
        0.0 if add_d is None else float(geometric_halo_arcmin(night_pupil_mm, add_d)),
    )


@cache
def _clear(offset_d, lens_class):
    """Whether each task is clear without glasses, with the patient's own pupils."""
    found = tasks.glasses_needed(
        LENS_OF[lens_class], PUPILS_MM, RIGHT.target_d, fellow_target_d=-offset_d
    )
    return {one.task.name: bool(one.clear) for one in found}


@cache
def _curve(lens_class):
    return acuity_logmar(LENS_OF[lens_class], PUPILS_MM["bright"], DEFOCUS_D)


def _build_plan():
    for lens_class in LENS_OF:
        _curve(lens_class)
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


def _move_plan(artists, seen):
    for name, logmar in (("right", seen.right_logmar), ("left", seen.left_logmar)):
        artists[name].set_data(SEEN_D, logmar)
        line = line_of(LENS_OF[seen.lens_class])
        artists[name].set_color(line["color"])
        artists[name].set_linestyle(line["linestyle"])
    artists["right name"].set_text("thick: right eye, 0.00 D")
    artists["left name"].set_text(f"thin: left eye, {signed(-seen.offset_d)}")
    for task in BY_DAY:
        artists[task.name].set_markerfacecolor(style.PURPLE if seen.clear[task.name] else "white")
    artists["ring"].set_radius(max(seen.ring_arcmin / 2.0, 0.01))
    ring = f"ring {seen.ring_arcmin:.0f} arcmin" if seen.ring_arcmin else "no ring"
    artists["ring name"].set_text(ring)


def _rings(seen):
    if not seen.ring_arcmin:
        return "no ring around a lamp"
    return (
        f"ring of {seen.ring_arcmin:.0f} arcmin, {seen.ring_arcmin / MOON_ARCMIN:.1f} moons, at "
        f"{seen.night_pupil_mm:.1f} mm"
    )


def _say_plan(seen):
    lost = seen.not_clear
    which = ", ".join(lost) if 0 < len(lost) <= 3 else f"{len(lost)} tasks" if lost else "nothing"
    return (
        f"{seen.lens_class.capitalize()}, right 0.00 D, left {signed(-seen.offset_d)}: "
        f"{len(seen.clear) - len(lost)} of {len(seen.clear)} tasks clear; glasses for {which}; "
        f"{_rings(seen)}."
    )


def _describe_plan(seen):
    return (
        f"Acuity of both eyes against distance with stars for eight tasks by day, and a lamp at "
        f"night beside the moon. {len(seen.clear) - len(seen.not_clear)} of {len(seen.clear)} "
        f"tasks are clear without glasses; {_rings(seen)}."
    )


def two_eye_plan():
    """Return the demo: offset, class of lens and night pupil against tasks and ring."""
    return Demo(
        title="a plan for two eyes, by day and at night",
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
        compute=plan_for_two_eyes,
        move=_move_plan,
        sentence=_say_plan,
        alt=_describe_plan,
    )


# --- a hundred people --------------------------------------------------------------------------


@dataclass(frozen=True)
class Hundred:
    """Of a hundred people: who reaches something anyway, who through the lens, who does not."""

    base_percent: float
    times: float

    @property
    def with_lens(self):
        """People of a hundred who reach it with the lens."""
        return self.base_percent * self.times

    @property
    def through_lens(self):
        """People of a hundred who would not have reached it otherwise."""
        return self.with_lens - self.base_percent


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


def _move_hundred(artists, seen):
    anyway, altogether = round(seen.base_percent), round(seen.with_lens)
    bounds = {
        "anyway": (0, anyway),
        "through the lens": (anyway, altogether),
        "not": (altogether, 100),
    }
    for kind, (first, last) in bounds.items():
        people = np.arange(first, last)
        artists[kind].set_data(people % 20, people // 20)
        artists[f"count {kind}"].set_text(f"{last - first}")


def _say_hundred(seen):
    return (
        f"{seen.base_percent:.0f} of 100 do without glasses with one focus; {seen.times:.1f} times "
        f"as many are {seen.with_lens:.0f}. So {seen.through_lens:.0f} of 100 owe it to the lens, "
        f"{100 - seen.with_lens:.0f} wear glasses all the same."
    )


def _describe_hundred(seen):
    return (
        f"A hundred people as signs: {seen.base_percent:.0f} would do without glasses anyway, "
        f"{seen.through_lens:.0f} do through the lens, {100 - seen.with_lens:.0f} do not."
    )


def hundred_people():
    """Return the demo: a base rate and a ratio against a hundred people."""
    return Demo(
        title="what so many times means among a hundred people",
        controls=(
            Slider("base_percent", "Of 100 with one focus, without glasses", 2, 34, 1, 10),
            Slider("times", "With the other lens, times as many", 1, 2.9, 0.1, 2.8),
        ),
        build=_build_hundred,
        compute=Hundred,
        move=_move_hundred,
        sentence=_say_hundred,
        alt=_describe_hundred,
    )


# --- worked examples ---------------------------------------------------------------------------


def order_steps(eye, target_d, sd_d=0.4):
    """Return the steps from a measured eye to the order, ready for a worked example.

    Parameters
    ----------
    eye : biometry.Eye
    target_d, sd_d : float

    Returns
    -------
    list of (str, str, float, str)

    Examples
    --------
    >>> order_steps(RIGHT.patient.eye, 0.0)[1][2]
    20.5
    """
    exact_d = iol_power(eye, "srk_t", CONSTANTS, target_d)
    order_d = nearest_power(exact_d)
    left_d = predicted_refraction(eye, "srk_t", CONSTANTS, order_d)
    beyond = [norm.cdf((edge - left_d) / sd_d) for edge in (target_d - 0.5, target_d + 0.5)]
    return [
        ("power for exactly the target", f"SRK/T, A-constant {RIGHT.a_constant:g}", exact_d, "D"),
        ("lens that is made", "the nearest step of 0.5 D", order_d, "D"),
        ("refraction that it should leave", "the formula, backwards", left_d, "D"),
        ("miss of the target", "left − target", left_d - target_d, "D"),
        (
            "end within ±0.50 D of the target",
            f"normal distribution, spread {sd_d:.2f} D",
            100.0 * float(beyond[1] - beyond[0]),
            "of 100",
        ),
    ]
