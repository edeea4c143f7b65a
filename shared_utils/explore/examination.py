"""Sliders on the examination: contrast spent on the way, a lens off centre, one finding."""

import textwrap
from dataclasses import dataclass
from functools import cache

import numpy as np
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle

from shared_utils.choice.candidacy import VERDICTS, assess
from shared_utils.choice.findings import UNKNOWN, otherwise_healthy
from shared_utils.choice.tasks import LENS_OF
from shared_utils.explore.engine import Choice, Demo, Slider
from shared_utils.optics import centration, through_focus
from shared_utils.optics.lenses import LENS_CLASSES
from shared_utils.show import style
from shared_utils.show.examination import FILL, SIGN, SIZE, founded, weightiest
from shared_utils.show.style import signed

CHART_STEP_LOG = 0.15
"""From one triplet of a letter contrast chart to the next: Pelli, Robson & Wilkins 1988."""

COARSE_CPD = 6.0
PUPILS_MM = np.arange(2.0, 6.01, 0.5)

# --- contrast spent on the way -----------------------------------------------------------------


@dataclass(frozen=True)
class Spent:
    """Contrast lost between the world and the brain, in log units, with each class of lens."""

    scattered: float
    passed: float
    pupil_mm: float
    cornea_log: float
    lens_log: dict
    retina_log: float

    def total_log(self, lens_class):
        """Log units lost in all."""
        return self.cornea_log + self.lens_log[lens_class] + self.retina_log

    def left(self, lens_class):
        """Share of the contrast that is left."""
        return 10.0 ** -self.total_log(lens_class)


def contrast_spent(scattered_percent, passed_percent, pupil_mm=3.0):
    """Return what cornea, lens and retina take from contrast, at 6 cycles/degree.

    Parameters
    ----------
    scattered_percent : float
        Light that tears and cornea spread over the whole field, 0 to 99 %.
    passed_percent : float
        Contrast that retina and nerve still pass, of what a healthy one does, 1 to 100 %.
    pupil_mm : float
        2 to 6 mm.

    Returns
    -------
    Spent

    Sources
    -------
    An even veil of the share s leaves 1 − s of the contrast: definition of contrast. The lens:
    its transfer beside the monofocal's. Factors multiply, so their logarithms add.

    Examples
    --------
    A tenth scattered, a half passed: 0.9 · 0.5 = 0.45 with a lens that takes nothing.

    >>> round(contrast_spent(10, 50).left("monofocal"), 2)
    0.45
    """
    lens_log = {
        name: float(np.interp(pupil_mm, PUPILS_MM, lost)) for name, lost in _lens_loss().items()
    }
    return Spent(
        scattered_percent / 100.0,
        passed_percent / 100.0,
        pupil_mm,
        float(-np.log10(1.0 - scattered_percent / 100.0)),
        lens_log,
        float(-np.log10(passed_percent / 100.0)),
    )


@cache
def _lens_loss():
    """Log units beside the monofocal, at each of PUPILS_MM."""
    plain = LENS_OF["monofocal"]
    return {
        name: np.array(
            [
                through_focus.contrast_loss_log(lens, pupil_mm, COARSE_CPD, reference=plain)
                for pupil_mm in PUPILS_MM
            ]
        )
        for name, lens in LENS_OF.items()
    }


PARTS = {"cornea": ("#e8e8e8", "///"), "lens": ("white", ""), "retina": ("#bdbdbd", "...")}
MOST_LOG = 1.2


def _build_spent():
    _lens_loss()
    figure = Figure(figsize=(7.0, 3.7), dpi=style.DPI, layout="constrained")
    axes = figure.add_subplot()
    axes.set(
        xlim=(0, MOST_LOG),
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


def _move_spent(artists, seen):
    for name in LENS_CLASSES:
        start = 0.0
        for part, lost in (
            ("cornea", seen.cornea_log),
            ("lens", seen.lens_log[name]),
            ("retina", seen.retina_log),
        ):
            bar = artists[f"{part} {name}"]
            bar.set_x(start)
            bar.set_width(lost)
            bar.set_visible(lost > 1e-6)
            start += lost
        words = artists[f"left {name}"]
        words.set_x(start + 0.012)
        words.set_text(f"{100 * seen.left(name):.0f} % left")


def _say_spent(seen):
    def lost(name):
        return f"{seen.total_log(name):.2f} log ({seen.total_log(name) / CHART_STEP_LOG:.1f} steps)"

    return (
        f"{100 * seen.scattered:.0f} % scattered, {100 * seen.passed:.0f} % passed, pupil "
        f"{seen.pupil_mm:.1f} mm. Lost at 6 cycles/degree: monofocal {lost('monofocal')}, "
        f"extended depth {lost('extended depth of focus')}, trifocal {lost('trifocal')}."
    )


def _describe_spent(seen):
    each = ", ".join(f"{name} {100 * seen.left(name):.0f} %" for name in LENS_CLASSES)
    return (
        f"Bars of contrast lost by tears and cornea, lens, and retina, for five classes of lens. "
        f"Left over: {each}. The losses add in log units."
    )


def contrast_budget():
    """Return the demo: scatter, retina and pupil against the contrast that is left."""
    return Demo(
        title="contrast spent on the way to the brain",
        controls=(
            Slider("scattered_percent", "Scattered by tears and cornea, %", 0, 40, 2, 10, "%"),
            Slider("passed_percent", "Passed by retina and nerve, %", 40, 100, 2, 80, "%"),
            Slider("pupil_mm", "Pupil, mm", 2, 6, 0.5, 3, "mm"),
        ),
        build=_build_spent,
        compute=contrast_spent,
        move=_move_spent,
        sentence=_say_spent,
        alt=_describe_spent,
    )


def budget_steps(lens_class, scattered_percent, passed_percent, pupil_mm):
    """Return the steps of a contrast budget, ready for a worked example.

    Parameters
    ----------
    lens_class : str
    scattered_percent, passed_percent, pupil_mm
        As for `contrast_spent`.

    Returns
    -------
    list of (str, str, float, str)

    Examples
    --------
    >>> budget_steps("monofocal", 10, 80, 3.0)[0][1:]
    ('−log₁₀(1 − 0.10)', 0.045757490560675115, 'log')
    """
    seen = contrast_spent(scattered_percent, passed_percent, pupil_mm)
    total = seen.total_log(lens_class)
    return [
        ("tears and cornea scatter", f"−log₁₀(1 − {seen.scattered:.2f})", seen.cornea_log, "log"),
        (
            f"the lens, {lens_class}, {pupil_mm:g}-mm pupil",
            "its contrast beside the monofocal's, 6 cycles/degree",
            seen.lens_log[lens_class],
            "log",
        ),
        (
            "retina and nerve pass a share",
            f"−log₁₀({seen.passed:.2f})",
            seen.retina_log,
            "log",
        ),
        ("lost in all", "the sum", total, "log"),
        ("steps of the contrast chart", "sum / 0.15", total / CHART_STEP_LOG, "steps"),
        ("contrast that is left", "100 · 10^(−sum)", 100.0 * seen.left(lens_class), "%"),
    ]


# --- a lens off centre -------------------------------------------------------------------------

BODIES_UM = {"spherical": 0.1, "neutral": 0.0, "negative": -0.27}
"""Spherical aberration of three bodies of lens over 6 mm, µm."""

BODY_LINES = {
    "spherical": (style.PURPLE, ":"),
    "neutral": (style.SKY, "--"),
    "negative": (style.ORANGE, "-"),
}
OFF_MM = np.linspace(0.0, 1.0, 101)
MOST_BLUR_D = 0.6


@dataclass(frozen=True)
class OffCentre:
    """How strongly three bodies blur, along the decentration and at one."""

    decentration_mm: float
    corneal_sa_um: float
    pupil_mm: float
    along_d: dict
    here_d: dict

    @property
    def best(self):
        """The body that blurs least here."""
        return min(self.here_d, key=self.here_d.get)

    @property
    def crossing_mm(self):
        """Where the negative body is no longer better than the neutral one; None if nowhere."""
        worse = np.flatnonzero(self.along_d["negative"] > self.along_d["neutral"])
        return float(OFF_MM[worse[0]]) if worse.size and worse[0] else None


def lens_off_centre(decentration_mm, corneal_sa_um=0.27, pupil_mm=6.0):
    """Return how three bodies of lens blur when they sit off the pupil's centre.

    Parameters
    ----------
    decentration_mm : float
        0 to 1 mm.
    corneal_sa_um : float
        Spherical aberration of the cornea over 6 mm, µm.
    pupil_mm : float
        3 to 6 mm.

    Returns
    -------
    OffCentre
        As equivalent defocus, D.

    Examples
    --------
    Centred, the negative body leaves nothing of the average cornea's aberration.

    >>> round(lens_off_centre(0.0).here_d["negative"], 6)
    0.0
    """

    def blur_d(body_um, off_mm):
        left_um = centration.left_over_um(corneal_sa_um, body_um, off_mm, pupil_mm)
        return centration.equivalent_defocus_d(left_um, pupil_mm)

    return OffCentre(
        decentration_mm,
        corneal_sa_um,
        pupil_mm,
        {name: blur_d(body_um, OFF_MM) for name, body_um in BODIES_UM.items()},
        {name: blur_d(body_um, decentration_mm) for name, body_um in BODIES_UM.items()},
    )


def _build_off():
    figure = Figure(figsize=(7.0, 3.6), dpi=style.DPI, layout="constrained")
    axes = figure.add_subplot()
    axes.set(
        xlim=(0, 1.02),
        ylim=(0, MOST_BLUR_D),
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
    artists["crossing"] = axes.text(0.02, 0.95 * MOST_BLUR_D, "", va="top")
    return figure, artists


def _move_off(artists, seen):
    artists["here"].set_data([seen.decentration_mm] * 2, [0, 0.86 * MOST_BLUR_D])
    for name in BODIES_UM:
        artists[name].set_data(OFF_MM, seen.along_d[name])
        artists[f"dot {name}"].set_data([seen.decentration_mm], [seen.here_d[name]])
    artists["crossing"].set_text(_crossing(seen))


def _crossing(seen):
    if seen.crossing_mm is None:
        better = seen.along_d["negative"][-1] < seen.along_d["neutral"][-1]
        kind = "better" if better else "worse"
        return f"the negative body is {kind} than the neutral one at every place"
    return f"negative better than neutral up to {seen.crossing_mm:.2f} mm"


def _say_off(seen):
    each = ", ".join(f"{name} {blur:.2f} D" for name, blur in seen.here_d.items())
    return (
        f"Cornea {signed(seen.corneal_sa_um, 'µm')}, pupil {seen.pupil_mm:.1f} mm, "
        f"{seen.decentration_mm:.2f} mm off centre: {each}. Least blur: {seen.best}."
    )


def _describe_off(seen):
    return (
        f"Three curves of blur against decentration. With the cornea at "
        f"{signed(seen.corneal_sa_um, 'µm')} and {seen.decentration_mm:.2f} mm off centre the "
        f"{seen.best} body blurs least; {_crossing(seen)}."
    )


def lens_beside_centre():
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
        compute=lens_off_centre,
        move=_move_off,
        sentence=_say_off,
        alt=_describe_off,
    )


# --- one finding, five classes -----------------------------------------------------------------

LADDERS = {
    "macular degeneration": (
        ("none", {}),
        ("not looked for", {"macular_degeneration": UNKNOWN}),
        ("early", {"macular_degeneration": "early"}),
        ("intermediate", {"macular_degeneration": "intermediate"}),
        ("late", {"macular_degeneration": "late"}),
    ),
    "glaucoma": (
        ("none", {}),
        ("suspect", {"glaucoma": "suspect"}),
        ("mild, stable", {"glaucoma": "mild"}),
        ("moderate, stable", {"glaucoma": "moderate"}),
        ("severe", {"glaucoma": "severe"}),
    ),
    "dry eye": (
        ("none", {}),
        ("mild, treated", {"dry_eye": "mild"}),
        ("mild, untreated", {"dry_eye": "mild", "surface_treatment": "untreated"}),
        ("moderate, untreated", {"dry_eye": "moderate", "surface_treatment": "untreated"}),
        ("severe, untreated", {"dry_eye": "severe", "surface_treatment": "untreated"}),
    ),
    "shape of the cornea": (
        ("regular", {}),
        ("no map", {"irregular_astigmatism": UNKNOWN, "ectasia": UNKNOWN}),
        ("mildly irregular", {"irregular_astigmatism": "mild"}),
        ("markedly irregular", {"irregular_astigmatism": "marked"}),
        ("keratoconus", {"irregular_astigmatism": "marked", "ectasia": "manifest"}),
    ),
    "aberration of the cornea, 6 mm": tuple(
        (f"{um:.2f} µm", {"corneal_hoa_6mm_um": um}) for um in (0.30, 0.45, 0.49, 0.50, 0.80)
    ),
    "pupil by day": tuple(
        (f"{mm:.1f} mm", {"photopic_pupil_mm": mm}) for mm in (3.5, 3.1, 2.9, 2.8, 2.3)
    ),
    "chord mu": tuple((f"{mm:.2f} mm", {"chord_mu_mm": mm}) for mm in (0.2, 0.4, 0.5, 0.55, 0.7)),
    "zonules and capsule": (
        ("firm, whole", {}),
        ("mild weakness", {"zonules": "mild weakness"}),
        ("anterior tear", {"capsule": "anterior tear"}),
        ("severe weakness", {"zonules": "severe weakness"}),
        ("back of the capsule open", {"capsule": "posterior opening"}),
    ),
}
"""Five steps of each finding, from better to worse; nothing else is wrong with the eye."""

WANTS = {
    "accepts some glasses": "accepts some",
    "wants no glasses": "wants none",
    "content with glasses": "content with glasses",
}


_WANTS = {grade: words.capitalize() for words, grade in WANTS.items()}


@dataclass(frozen=True)
class Ladder:
    """One finding at one step, and what is said of each class."""

    finding: str
    step: int
    wish: str
    grade: str
    advised: tuple

    def classes(self, verdict):
        """The classes with this verdict."""
        return [a.lens_class for a in self.advised if a.verdict == verdict]


def finding_on_ladder(step, finding, wish):
    """Return the advice for an eye with one finding at one of its five steps.

    Parameters
    ----------
    step : float
        1 to 5; taken as a whole number.
    finding : str
        One of ``LADDERS``.
    wish : str
        Tolerance of glasses, as in ``findings.WISHES``.

    Returns
    -------
    Ladder

    Examples
    --------
    >>> finding_on_ladder(5, "glaucoma", "wants none").classes("not advised")
    ['extended depth of focus', 'bifocal', 'trifocal']
    """
    grade, found = LADDERS[finding][round(step) - 1]
    patient = otherwise_healthy(found, {"glasses": wish})
    return Ladder(finding, round(step), wish, grade, assess(patient))


REASON_CHARACTERS, REASON_LINES = 78, 4


def _build_ladder():
    figure = Figure(figsize=(7.0, 4.0), dpi=style.DPI, layout="constrained")
    axes = figure.add_subplot()
    axes.set(xlim=(-0.5, 2.5), ylim=(7.6, -0.6))
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


def _move_ladder(artists, seen):
    for advice in seen.advised:
        for verdict in VERDICTS:
            artists[f"{verdict} {advice.lens_class}"].set_visible(verdict == advice.verdict)
    artists["reason"].set_text("\n".join(_reason(seen)))


def _reason(seen):
    reason = weightiest(seen.advised[-1])
    if reason is None:
        return ["Nothing speaks against the trifocal."]
    said = f"Against the trifocal: {reason.text}"
    lines = textwrap.wrap(said, REASON_CHARACTERS)
    source = f"[{reason.source}]"
    if not reason.source.startswith(reason.strength):
        source = f"[{reason.strength}: {reason.source}]"
    return [*lines, *textwrap.wrap(source, REASON_CHARACTERS)][:REASON_LINES]


def _say_ladder(seen):
    said = [
        f"{verdict}: {', '.join(seen.classes(verdict))}"
        for verdict in VERDICTS
        if seen.classes(verdict)
    ]
    return (
        f"{seen.finding.capitalize()}, step {seen.step}: {seen.grade}. {_WANTS[seen.wish]}. "
        f"{'; '.join(said).capitalize()}."
    )


def _describe_ladder(seen):
    return (
        f"Verdicts on five classes of lens for {seen.finding}: {seen.grade}. "
        f"Suited: {', '.join(seen.classes('suits')) or 'none'}. Best-founded reason against: "
        f"{founded(seen.advised)}."
    )


def one_finding():
    """Return the demo: one finding, its step and the wish against the verdict on each class."""
    return Demo(
        title="one finding and five classes of lens",
        controls=(
            Slider("step", "How marked, step 1 to 5", 1, 5, 1, 1),
            Choice("finding", "Finding:", {name: name for name in LADDERS}, "glaucoma"),
            Choice("wish", "The patient:", WANTS, "accepts some"),
        ),
        build=_build_ladder,
        compute=finding_on_ladder,
        move=_move_ladder,
        sentence=_say_ladder,
        alt=_describe_ladder,
    )


# --- the patient of the page -------------------------------------------------------------------

_ALWAYS = {"glaucoma": "mild", "photopic_pupil_mm": 3.0, "scotopic_pupil_mm": 5.4}
_WISHES = {"glasses": "wants none", "near_work": "daily", "night_driving": "sometimes"}

ON_THE_FIRST_DAY = otherwise_healthy(
    {
        **_ALWAYS,
        "dry_eye": "moderate",
        "surface_treatment": "untreated",
        "corneal_hoa_6mm_um": 0.53,
        "macular_degeneration": UNKNOWN,
    },
    _WISHES,
    label="Ingeborg Solano, first day",
)
SIX_WEEKS_LATER = otherwise_healthy(
    {
        **_ALWAYS,
        "dry_eye": "moderate",
        "surface_treatment": "treated and stable",
        "corneal_hoa_6mm_um": 0.41,
        "chord_mu_mm": 0.31,
    },
    _WISHES,
    label="Ingeborg Solano, six weeks later",
)
