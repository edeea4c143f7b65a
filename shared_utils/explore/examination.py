"""Sliders on the examination: contrast spent on the way, a lens off centre, one finding."""

import textwrap

import numpy as np
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle

from shared_utils.cases import examination as cases
from shared_utils.cases.examination import (
    BODIES_UM,
    CHART_STEP_LOG,
    GRADES_OF_FINDING,
    OFF_MM,
)
from shared_utils.choice.candidacy import VERDICTS
from shared_utils.explore.engine import Choice, Demo, Slider
from shared_utils.optics.lenses import LENS_CLASSES
from shared_utils.show import style
from shared_utils.show.examination import FILL, SIGN, SIZE
from shared_utils.show.style import signed

# --- contrast lost on the way -----------------------------------------------------------------


PARTS = {"cornea": ("#e8e8e8", "///"), "lens": ("white", ""), "retina": ("#bdbdbd", "...")}
MAX_LOG = 1.2


def _build_spent():
    cases.lens_loss_log()  # now, and not at the first move
    figure = Figure(figsize=(7.0, 3.7), dpi=style.DPI, layout="constrained")
    axes = figure.add_subplot()
    axes.set(
        xlim=(0, MAX_LOG),
        ylim=(4.6, -1.45),
        xlabel="contrast lost, log units: losses add",
    )
    axes.set_yticks(range(5), [name.replace(" of focus", "") for name in LENS_CLASSES])
    axes.tick_params(axis="y", length=0)
    for label, name in zip(axes.get_yticklabels(), LENS_CLASSES, strict=True):
        label.set_color(style.LENS_LINES[name].colour)
    top = axes.secondary_xaxis("top")
    top.set_xticks(CHART_STEP_LOG * np.arange(9), [f"{n}" for n in range(9)])
    top.set_xlabel("steps of the contrast chart")
    for step in CHART_STEP_LOG * np.arange(1, 9):
        axes.axvline(step, color="#dddddd", linewidth=0.8, zorder=0)
    for place, (part, words) in enumerate(
        (("cornea", "tears, cornea"), ("lens", "lens"), ("retina", "retina, nerve"))
    ):
        colour, hatch = PARTS[part]
        x = (0.05, 0.47, 0.72)[place]
        axes.add_patch(
            Rectangle((x, -1.15), 0.07, 0.5, facecolor=colour, hatch=hatch, edgecolor="black")
        )
        axes.text(x + 0.085, -0.9, words, va="center")
    artists = {}
    for row, name in enumerate(LENS_CLASSES):
        for part, (colour, hatch) in PARTS.items():
            own = style.LENS_LINES[name].colour
            bar = Rectangle(
                (0, row - 0.3),
                0,
                0.6,
                facecolor=colour,
                hatch=hatch,
                edgecolor=own if part == "lens" else "black",
                linewidth=2.0 if part == "lens" else 1.0,
                zorder=3 if part == "lens" else 2,
            )
            artists[f"{part} {name}"] = axes.add_patch(bar)
        artists[f"left {name}"] = axes.text(0, row, "", va="center")
    return figure, artists


def _move_spent(artists, data):
    for name in LENS_CLASSES:
        start = 0.0
        for part, lost in (
            ("cornea", data.cornea_log),
            ("lens", data.lens_log[name]),
            ("retina", data.retina_log),
        ):
            bar = artists[f"{part} {name}"]
            bar.set_x(start)
            bar.set_width(lost)
            bar.set_visible(lost > 1e-6)
            start += lost
        words = artists[f"left {name}"]
        words.set_x(start + 0.012)
        words.set_text(f"{100 * data.left(name):.0f} % left")


def _say_spent(data):
    def lost(name):
        return f"{data.total_log(name):.2f} log ({data.total_log(name) / CHART_STEP_LOG:.1f} steps)"

    return (
        f"{100 * data.scattered:.0f} % scattered, {100 * data.passed:.0f} % passed, pupil "
        f"{data.pupil_mm:.1f} mm. Lost at 6 cycles/degree: monofocal {lost('monofocal')}, "
        f"extended depth {lost('extended depth of focus')}, trifocal {lost('trifocal')}."
    )


def _describe_spent(data):
    each = ", ".join(f"{name} {100 * data.left(name):.0f} %" for name in LENS_CLASSES)
    return (
        f"Bars of contrast lost by tears and cornea, lens, and retina, for five classes of lens. "
        f"Left over: {each}. The losses add in log units."
    )


def contrast_budget() -> Demo:
    """Return the demo: scatter, retina and pupil against the contrast that is left."""
    return Demo(
        title="contrast spent on the way to the brain",
        controls=(
            Slider("scattered_percent", "Scattered by tears and cornea, %", 0, 40, 2, 10, "%"),
            Slider("passed_percent", "Passed by retina and nerve, %", 40, 100, 2, 80, "%"),
            Slider("pupil_mm", "Pupil, mm", 2, 6, 0.5, 3, "mm"),
        ),
        build=_build_spent,
        compute=cases.contrast_budget,
        move=_move_spent,
        sentence=_say_spent,
        alt=_describe_spent,
    )


# --- a lens off centre -------------------------------------------------------------------------


BODY_LINES = {
    "spherical": (style.PURPLE, ":"),
    "neutral": (style.SKY, "--"),
    "negative": (style.ORANGE, "-"),
}
MAX_BLUR_D = 0.6


def _build_off():
    figure = Figure(figsize=(7.0, 3.6), dpi=style.DPI, layout="constrained")
    axes = figure.add_subplot()
    axes.set(
        xlim=(0, 1.02),
        ylim=(0, MAX_BLUR_D),
        xlabel="lens off the pupil's centre, mm",
        ylabel="blurs like a defocus of, D",
    )
    artists = {}
    (artists["here"],) = axes.plot([], [], color=style.GREY, linewidth=1.0)
    for name, (colour, dashes) in BODY_LINES.items():
        body = signed(BODIES_UM[name], "µm")
        axes.plot([], [], color=colour, linestyle=dashes, label=f"{name} {body}")
        (artists[name],) = axes.plot([], [], color=colour, linestyle=dashes)
        (artists[f"dot {name}"],) = axes.plot(
            [], [], "o", color=colour, markersize=8, markeredgecolor="black"
        )
    axes.legend(loc="lower center", bbox_to_anchor=(0.5, 1.0), ncol=3, frameon=False)
    artists["crossing"] = axes.text(0.02, 0.95 * MAX_BLUR_D, "", va="top")
    return figure, artists


def _move_off(artists, data):
    artists["here"].set_data([data.decentration_mm] * 2, [0, 0.86 * MAX_BLUR_D])
    for name in BODIES_UM:
        artists[name].set_data(OFF_MM, data.along_d[name])
        artists[f"dot {name}"].set_data([data.decentration_mm], [data.here_d[name]])
    artists["crossing"].set_text(_crossing(data))


def _crossing(data):
    if data.crossing_mm is None:
        better = data.along_d["negative"][-1] < data.along_d["neutral"][-1]
        kind = "better" if better else "worse"
        return f"the negative body is {kind} than the neutral one at every place"
    return f"negative better than neutral up to {data.crossing_mm:.2f} mm"


def _say_off(data):
    each = ", ".join(f"{name} {blur:.2f} D" for name, blur in data.here_d.items())
    return (
        f"Cornea {signed(data.corneal_sa_um, 'µm')}, pupil {data.pupil_mm:.1f} mm, "
        f"{data.decentration_mm:.2f} mm off centre: {each}. Least blur: {data.best}."
    )


def _describe_off(data):
    return (
        f"Three curves of blur against decentration. With the cornea at "
        f"{signed(data.corneal_sa_um, 'µm')} and {data.decentration_mm:.2f} mm off centre the "
        f"{data.best} body blurs least; {_crossing(data)}."
    )


def lens_beside_centre() -> Demo:
    """Return the demo: decentration, cornea and pupil against the blur of three lens bodies."""
    return Demo(
        title="a lens beside the pupil's centre",
        controls=(
            Slider("decentration_mm", "Off the pupil's centre, mm", 0, 1, 0.05, 0, "mm"),
            Slider(
                "corneal_sa_um",
                "Spherical aberration of the cornea over 6 mm, µm",
                -0.1,
                0.5,
                0.03,
                0.26,
                "µm",
                signed=True,
            ),
            Slider("pupil_mm", "Pupil, mm", 3, 6, 0.5, 6, "mm"),
        ),
        build=_build_off,
        compute=cases.lens_off_centre,
        move=_move_off,
        sentence=_say_off,
        alt=_describe_off,
    )


# --- one finding, five classes -----------------------------------------------------------------


WANTS = {
    "accepts some glasses": "accepts some",
    "wants no glasses": "wants none",
    "content with glasses": "content with glasses",
}


_WANTS = {grade: words.capitalize() for words, grade in WANTS.items()}


REASON_CHARACTERS, REASON_LINES = 78, 5


def _build_finding():
    figure = Figure(figsize=(7.0, 4.2), dpi=style.DPI, layout="constrained")
    axes = figure.add_subplot()
    axes.set(xlim=(-0.5, 2.5), ylim=(7.9, -0.6))
    axes.set_yticks(range(5), LENS_CLASSES)
    axes.set_xticks(range(3), VERDICTS)
    axes.tick_params(length=0, labeltop=True, labelbottom=False)
    for label, name in zip(axes.get_yticklabels(), LENS_CLASSES, strict=True):
        label.set_color(style.LENS_LINES[name].colour)
    for spine in axes.spines.values():
        spine.set_visible(False)
    for row in range(5):
        axes.plot([0, 2], [row, row], color="#cccccc", linewidth=6, solid_capstyle="round")
    artists = {}
    for row, name in enumerate(LENS_CLASSES):
        for place, verdict in enumerate(VERDICTS):
            (artists[f"{verdict} {name}"],) = axes.plot(
                [place],
                [row],
                SIGN[verdict],
                markersize=SIZE[verdict] + 3,
                markerfacecolor=FILL[verdict],
                markeredgecolor="black",
                markeredgewidth=1.5,
                zorder=3,
            )
    artists["reason"] = axes.text(
        0.012, 0.03, "", va="bottom", linespacing=1.25, transform=figure.transFigure
    )
    artists["reason"].set_in_layout(False)
    return figure, artists


def _move_finding(artists, data):
    for advice in data.advised:
        for verdict in VERDICTS:
            artists[f"{verdict} {advice.lens_class}"].set_visible(verdict == advice.verdict)
    artists["reason"].set_text("\n".join(_reason(data)))


def _reason(data):
    reason = cases.weightiest(data.advised[-1])
    if reason is None:
        return ["Nothing speaks against the trifocal."]
    message = f"Against the trifocal: {reason.text}"
    lines = textwrap.wrap(message, REASON_CHARACTERS)
    source = f"[{reason.source}]"
    if not reason.source.startswith(reason.strength):
        source = f"[{reason.strength}: {reason.source}]"
    return [*lines, *textwrap.wrap(source, REASON_CHARACTERS)][:REASON_LINES]


def _say_finding(data):
    message = [
        f"{verdict}: {', '.join(data.classes(verdict))}"
        for verdict in VERDICTS
        if data.classes(verdict)
    ]
    return (
        f"{data.finding.capitalize()}, step {data.step}: {data.grade}. {_WANTS[data.wish]}. "
        f"{'; '.join(message).capitalize()}."
    )


def _describe_finding(data):
    return (
        f"Verdicts on five classes of lens for {data.finding}: {data.grade}. "
        f"Suited: {', '.join(data.classes('suits')) or 'none'}. Best-founded reason against: "
        f"{cases.founded(data.advised)}."
    )


def one_finding() -> Demo:
    """Return the demo: one finding, its step and the wish against the verdict on each class."""
    return Demo(
        title="one finding and five classes of lens",
        advises=True,
        controls=(
            Slider("step", "How marked, step 1 to 5", 1, 5, 1, 1),
            Choice("finding", "Finding:", {name: name for name in GRADES_OF_FINDING}, "glaucoma"),
            Choice("wish", "The patient:", WANTS, "accepts some"),
        ),
        build=_build_finding,
        compute=cases.advice_on_finding,
        move=_move_finding,
        sentence=_say_finding,
        alt=_describe_finding,
    )
