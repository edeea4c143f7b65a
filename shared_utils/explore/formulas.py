"""Sliders on power formulas: the gap at the lens, the guess of its place, the step to order."""

from dataclasses import dataclass
from functools import cache

import numpy as np
from matplotlib.figure import Figure

from shared_utils.explore.engine import Demo, Slider
from shared_utils.power import formulas, lens_steps
from shared_utils.power.biometry import Eye
from shared_utils.power.constants import LensConstants, optimise
from shared_utils.power.core import REDUCED, Steps
from shared_utils.power.cornea import KERATOMETRIC_INDEX
from shared_utils.show import style
from shared_utils.show.style import signed

NO_TARGET_D, VERTEX_MM = np.float64(0.0), np.float64(12.0)
PLACES_MM = np.linspace(0.0, 8.5, 86)


@dataclass(frozen=True)
class Gap:
    """What arrives from the cornea and what the retina needs, at the lens and all along."""

    length_mm: float
    cornea_d: float
    elp_mm: float
    arrives_d: float
    needed_d: float
    lens_d: float
    arriving_d: np.ndarray
    needing_d: np.ndarray


def gap_at_the_lens(length_mm, cornea_d, elp_mm):
    """Return the vergences on both sides of a lens that makes the eye emmetropic.

    Parameters
    ----------
    length_mm : float
        Axial length, mm.
    cornea_d : float
        Power of the cornea, D.
    elp_mm : float
        Position of the lens behind the cornea, mm.

    Returns
    -------
    Gap

    Examples
    --------
    >>> round(gap_at_the_lens(23.5, 43.5, 5.2).lens_d, 2)
    20.64
    """
    way = Steps(cornea_d, length_mm, elp_mm).to_power(NO_TARGET_D, VERTEX_MM)
    return Gap(
        length_mm,
        cornea_d,
        elp_mm,
        float(way["at_lens_d"]),
        float(way["behind_lens_d"]),
        float(way["iol_power_d"]),
        REDUCED / (REDUCED / cornea_d - PLACES_MM),
        REDUCED / (length_mm - PLACES_MM),
    )


def _build_gap():
    figure = Figure(figsize=(7.0, 3.6), dpi=style.DPI, layout="constrained")
    axes = figure.add_subplot()
    axes.set(
        xlim=(0, 8.5),
        ylim=(32, 132),
        xlabel="position of the lens behind the cornea, mm",
        ylabel="vergence, D",
    )
    artists = {}
    for name, colour, line, label in (
        ("needing", style.ORANGE, "-", "what the retina needs"),
        ("arriving", style.BLUE, "--", "what arrives from the cornea"),
    ):
        (artists[name],) = axes.plot([], [], color=colour, linestyle=line)
        axes.plot([], [], color=colour, linestyle=line, label=label)
    axes.legend(loc="upper left", frameon=False, handlelength=2.2)
    (artists["gap"],) = axes.plot([], [], color=style.VERMILION, linewidth=3.0)
    artists["lens"] = axes.text(
        8.4, 37.0, "", ha="right", va="center", color=style.VERMILION, fontsize=13, weight="bold"
    )
    return figure, artists


def _move_gap(artists, seen):
    artists["needing"].set_data(PLACES_MM, seen.needing_d)
    artists["arriving"].set_data(PLACES_MM, seen.arriving_d)
    artists["gap"].set_data([seen.elp_mm] * 2, [seen.arrives_d, seen.needed_d])
    artists["lens"].set_text(f"lens {signed(seen.lens_d)}")


def _say_gap(seen):
    return (
        f"Cornea {signed(seen.cornea_d)}, length {seen.length_mm:.1f} mm, lens at "
        f"{seen.elp_mm:.1f} mm: {signed(seen.arrives_d)} arrive, the retina needs "
        f"{signed(seen.needed_d)}. The lens makes up the rest: {signed(seen.lens_d)}."
    )


def _describe_gap(seen):
    return (
        f"Two curves of vergence against the lens's place: what the retina needs and what arrives. "
        f"At {seen.elp_mm:.1f} mm they lie {signed(seen.lens_d)} apart, the power of the lens; the "
        f"gap widens with depth."
    )


def gap():
    """Return the demo: length, cornea and lens position against the power of the lens."""
    return Demo(
        title="the gap that the lens has to fill",
        controls=(
            Slider("elp_mm", "Position of the lens, mm", 3.5, 7.0, 0.1, 5.2, "mm"),
            Slider("length_mm", "Axial length, mm", 20, 32, 0.1, 23.5, "mm"),
            Slider("cornea_d", "Power of the cornea, D", 38, 50, 0.25, 43.5, "D"),
        ),
        build=_build_gap,
        compute=gap_at_the_lens,
        move=_move_gap,
        sentence=_say_gap,
        alt=_describe_gap,
    )


# formula → its row: name and what it looks at to guess the place of the lens
GUESSES = {
    "fyodorov": "a fixed place",
    "binkhorst_2": "Binkhorst II: length",
    "srk_t": "SRK/T: length, K",
    "holladay_1": "Holladay 1: length, K",
    "hoffer_q": "Hoffer Q: length, K",
    "haigis": "Haigis: chamber, length",
}
AVERAGE = Eye(23.5, 43.5, acd_mm=3.15)
AVERAGE_POWER_D = 20.6


@cache
def levelled(formula):
    """Return lens constants with which a formula asks for 20.6 D in an average eye.

    So what is left between the formulas is how each lets the lens move with the eye.

    Parameters
    ----------
    formula : str
        One of the keys of ``GUESSES``.

    Returns
    -------
    LensConstants

    Examples
    --------
    >>> round(formulas.iol_power(AVERAGE, "haigis", levelled("haigis")), 6)
    20.6
    """
    start = LensConstants.from_a_constant(118.4)
    return optimise(AVERAGE, formula, AVERAGE_POWER_D, 0.0, start=start)


@dataclass(frozen=True)
class Places:
    """Where every formula expects the lens of an eye, and the power it asks for."""

    eye: Eye
    shifts_mm: dict
    powers_d: dict


def expected_places(length_mm, k_d, chamber_mm):
    """Return how far each formula moves the lens it expects, against an average eye.

    Parameters
    ----------
    length_mm : float
        Axial length, mm.
    k_d : float
        Keratometry, D.
    chamber_mm : float
        Chamber depth from the epithelium, mm.

    Returns
    -------
    Places

    Examples
    --------
    >>> seen = expected_places(23.5, 43.5, 2.65)
    >>> round(seen.shifts_mm["haigis"], 2), round(seen.shifts_mm["hoffer_q"], 2)
    (-0.2, 0.0)
    """
    eye = Eye(length_mm, k_d, acd_mm=chamber_mm)
    shifts_mm, powers_d = {}, {}
    for formula in GUESSES:
        lens = levelled(formula)
        found = formulas.steps(eye, formula, lens)
        shifts_mm[formula] = found.elp_mm - formulas.steps(AVERAGE, formula, lens).elp_mm
        powers_d[formula] = float(found.to_power(NO_TARGET_D, VERTEX_MM)["iol_power_d"])
    return Places(eye, shifts_mm, powers_d)


def _build_places():
    figure = Figure(figsize=(7.0, 3.5), dpi=style.DPI, layout="constrained")
    axes = figure.add_subplot()
    axes.set(
        xlim=(-1.8, 3.1),
        ylim=(-0.6, len(GUESSES) + 0.1),
        xlabel="expected lens position, against an average eye, mm",
    )
    axes.set_yticks(range(len(GUESSES)), reversed(GUESSES.values()))
    axes.tick_params(axis="y", length=0)
    axes.axvline(0, color=style.GREY, linewidth=1.0)
    axes.text(-1.75, len(GUESSES) - 0.25, "nearer the cornea", va="center", color=style.GREY)
    axes.text(0.1, len(GUESSES) - 0.25, "deeper", va="center", color=style.GREY)
    axes.text(3.08, len(GUESSES) - 0.25, "asks for", ha="right", va="center", color=style.GREY)
    artists = {}
    for row, formula in enumerate(reversed(GUESSES)):
        (artists[f"way {formula}"],) = axes.plot([], [], color=style.BLUE, linewidth=2.5)
        (artists[f"place {formula}"],) = axes.plot(
            [], [], "o", color=style.BLUE, markersize=9, clip_on=False
        )
        artists[f"power {formula}"] = axes.text(3.08, row, "", ha="right", va="center")
    return figure, artists


def _move_places(artists, seen):
    for row, formula in enumerate(reversed(GUESSES)):
        shift_mm = seen.shifts_mm[formula]
        artists[f"way {formula}"].set_data([0.0, shift_mm], [row, row])
        artists[f"place {formula}"].set_data([shift_mm], [row])
        artists[f"power {formula}"].set_text(signed(seen.powers_d[formula], digits=1))


def _range_in_words(seen):
    least, most = (f(seen.powers_d, key=seen.powers_d.get) for f in (min, max))
    apart_d = seen.powers_d[most] - seen.powers_d[least]
    if apart_d < 0.05:
        return "the formulas agree"
    name = {formula: words.split(":")[0] for formula, words in GUESSES.items()}
    return (
        f"from {signed(seen.powers_d[least], digits=1)} ({name[least]}) to "
        f"{signed(seen.powers_d[most], digits=1)} ({name[most]})"
    )


def _say_places(seen):
    eye = seen.eye
    return (
        f"Length {eye.axial_length_mm:.1f} mm, K {eye.k1_d:.2f} D, chamber {eye.acd_mm:.2f} mm. "
        f"One equation, six guesses of the lens's place: {_range_in_words(seen)}."
    )


def _describe_places(seen):
    moved = [
        f"{words.split(':')[0]} {signed(seen.shifts_mm[formula], 'mm')}"
        for formula, words in GUESSES.items()
    ]
    return (
        f"Rows of formulas with the shift of the lens position each expects: {', '.join(moved)}; "
        f"lens powers {_range_in_words(seen)}."
    )


def places():
    """Return the demo: length, K and chamber depth against the guessed place of the lens."""
    return Demo(
        title="where each formula expects the lens",
        controls=(
            Slider("k_d", "Keratometry, D", 40, 46.5, 0.25, 43.5, "D"),
            Slider("length_mm", "Axial length, mm", 20.5, 27, 0.1, 23.5, "mm"),
            Slider("chamber_mm", "Chamber depth, mm", 2.2, 4.2, 0.05, 3.15, "mm"),
        ),
        build=_build_places,
        compute=expected_places,
        move=_move_places,
        sentence=_say_places,
        alt=_describe_places,
    )


LADDER_D = np.arange(9.0, 32.51, 0.5)
LADDER_K_D = 43.5


@dataclass(frozen=True)
class Step:
    """The lenses that exist, what each would leave, and the nearest to the target."""

    length_mm: float
    a_constant: float
    target_d: float
    computed_d: float
    predicted_d: np.ndarray
    nearest: int


def step_to_order(length_mm, a_constant, target_d):
    """Return the refraction that SRK/T predicts for every lens, and the lens to order.

    Parameters
    ----------
    length_mm : float
        Axial length, mm; keratometry 43.50 D.
    a_constant : float
        A-constant of the lens.
    target_d : float
        Refraction wanted, D.

    Returns
    -------
    Step

    Examples
    --------
    >>> seen = step_to_order(23.5, 118.4, 0.0)
    >>> float(LADDER_D[seen.nearest]), round(float(seen.predicted_d[seen.nearest]), 2)
    (20.5, 0.04)
    """
    eye, lens = Eye(length_mm, LADDER_K_D), LensConstants.from_a_constant(a_constant)
    predicted_d = formulas.predicted_refraction(eye, "srk_t", lens, LADDER_D)
    return Step(
        length_mm,
        a_constant,
        target_d,
        formulas.iol_power(eye, "srk_t", lens, target_d),
        predicted_d,
        int(np.argmin(np.round(np.abs(predicted_d - target_d), 9))),
    )


def _build_step():
    figure = Figure(figsize=(7.0, 3.6), dpi=style.DPI, layout="constrained")
    axes = figure.add_subplot()
    axes.set(
        xlim=(11, 31.5),
        ylim=(-3.4, 3.2),
        xlabel="power of the lens, in steps of 0.50 D",
        ylabel="predicted refraction, D",
    )
    axes.axhline(0, color=style.GREY, linewidth=0.8)
    artists = {}
    (artists["target"],) = axes.plot([], [], color="black", linewidth=1.6, linestyle="--")
    (artists["lenses"],) = axes.plot([], [], "o", color=style.BLUE, markersize=5)
    (artists["nearest"],) = axes.plot([], [], "o", color=style.VERMILION, markersize=10)
    artists["order"] = axes.text(
        31.3, 2.85, "", ha="right", va="center", color=style.VERMILION, fontsize=13
    )
    artists["target text"] = axes.text(11.2, 0, "", va="bottom")
    return figure, artists


def _move_step(artists, seen):
    artists["target"].set_data([11, 31.5], [seen.target_d] * 2)
    below = seen.predicted_d < 2.4  # above it stand the words
    artists["lenses"].set_data(LADDER_D[below], seen.predicted_d[below])
    left_d = seen.predicted_d[seen.nearest]
    artists["nearest"].set_data([LADDER_D[seen.nearest]], [left_d])
    artists["order"].set_text(f"order {signed(LADDER_D[seen.nearest])}: leaves {signed(left_d)}")
    artists["target text"].set_y(seen.target_d + 0.06)
    artists["target text"].set_text(f"target {signed(seen.target_d)}")


def _say_step(seen):
    chosen = seen.nearest
    return (
        f"Length {seen.length_mm:.2f} mm, A {seen.a_constant:.1f}, target "
        f"{signed(seen.target_d)}: {signed(seen.computed_d)} computed. Order "
        f"{signed(LADDER_D[chosen])}: {signed(seen.predicted_d[chosen])}; one step stronger leaves "
        f"{signed(seen.predicted_d[chosen + 1])}."
    )


def _describe_step(seen):
    chosen = seen.nearest
    return (
        f"Predicted refraction of each lens against its power, falling by about 0.35 D a step. "
        f"Nearest to the target of {signed(seen.target_d)} is {signed(LADDER_D[chosen])}, which "
        f"leaves {signed(seen.predicted_d[chosen])}."
    )


def step():
    """Return the demo: length, constant and target against the lens to order."""
    return Demo(
        title="which step to order",
        controls=(
            Slider("target_d", "Target refraction, D", -2, 0.5, 0.25, 0, "D", True),
            Slider("a_constant", "A-constant of the lens", 117, 120, 0.1, 118.4),
            Slider("length_mm", "Axial length, mm", 22, 25, 0.05, 23.5, "mm"),
        ),
        build=_build_step,
        compute=step_to_order,
        move=_move_step,
        sentence=_say_step,
        alt=_describe_step,
    )


def holladay_steps(length_mm, k_d, surgeon_factor_mm):
    """Return the steps of Holladay 1 from an eye to the lens for a refraction of zero.

    Parameters
    ----------
    length_mm : float
        Axial length, mm.
    k_d : float
        Keratometry, D.
    surgeon_factor_mm : float
        Surgeon factor of the lens, mm.

    Returns
    -------
    list of (str, str, float, str)

    Examples
    --------
    >>> what, how, value, unit = holladay_steps(23.5, 43.5, 1.45)[-1]
    >>> what, round(value, 1), unit
    ('lens power, the difference', 20.6, 'D')
    """
    lens = LensConstants.from_surgeon_factor(surgeon_factor_mm)
    named = formulas.trace_power(Eye(length_mm, k_d), "holladay_1", lens).named
    radius_mm, width_mm = float(named["elp_radius_mm"]), float(named["chamber_width_mm"])
    return [
        ("corneal radius, at least 7 mm", f"337.5 / {k_d:.2f}", radius_mm, "mm"),
        (
            "width of the chamber, at most 13.5 mm",
            f"12.5 · {length_mm:.2f} / 23.45",
            width_mm,
            "mm",
        ),
        (
            "depth of the chamber",
            f"0.56 + {radius_mm:.2f} − √({radius_mm:.2f}² − {width_mm:.2f}² / 4)",
            named["anatomic_chamber_depth_mm"],
            "mm",
        ),
        ("lens position", f"+ {surgeon_factor_mm:.2f}", named["elp_mm"], "mm"),
        ("power of the cornea", f"333.3 / {radius_mm:.3f}", named["cornea_d"], "D"),
        ("length to the receptors", "L + 0.20", named["optical_length_mm"], "mm"),
        ("arrives at the lens", "1336 / (1336 / K − d)", named["at_lens_d"], "D"),
        ("the retina needs", "1336 / (L − d)", named["behind_lens_d"], "D"),
        ("lens power, the difference", "needs − arrives", named["iol_power_d"], "D"),
    ]


def haigis_steps(length_mm, k_d, chamber_mm, a0):
    """Return the steps of Haigis from an eye to the lens for a refraction of zero.

    Parameters
    ----------
    length_mm : float
        Axial length, mm.
    k_d : float
        Keratometry, D.
    chamber_mm : float
        Chamber depth from the epithelium, mm.
    a0 : float
        First constant of the lens, mm; a1 is 0.4 and a2 0.1.

    Returns
    -------
    list of (str, str, float, str)

    Examples
    --------
    >>> [round(value, 2) for _, _, value, _ in haigis_steps(23.5, 43.5, 3.15, 0.98)][0]
    4.59
    """
    lens = LensConstants.from_a_constant(118.4).with_constant("haigis", a0)
    eye = Eye(length_mm, k_d, acd_mm=chamber_mm)
    named = formulas.trace_power(eye, "haigis", lens).named
    per_radius = 1000.0 * (KERATOMETRIC_INDEX["haigis"] - 1.0)
    return [
        (
            "lens position",
            f"{a0:.2f} + 0.4 · {chamber_mm:.2f} + 0.1 · {length_mm:.2f}",
            named["elp_mm"],
            "mm",
        ),
        (
            "power of the cornea",
            f"{per_radius:.1f} · {k_d:.2f} / 337.5",
            named["cornea_d"],
            "D",
        ),
        ("arrives at the lens", "1336 / (1336 / K − d)", named["at_lens_d"], "D"),
        ("the retina needs", "1336 / (L − d)", named["behind_lens_d"], "D"),
        ("lens power, the difference", "needs − arrives", named["iol_power_d"], "D"),
    ]


def backward_steps(length_mm, k_d, surgeon_factor_mm, iol_power_d):
    """Return the steps from a lens that exists back to the refraction that it leaves.

    Parameters
    ----------
    length_mm : float
        Axial length, mm.
    k_d : float
        Keratometry, D.
    surgeon_factor_mm : float
        Surgeon factor of the lens, mm.
    iol_power_d : float
        Power of the lens, D.

    Returns
    -------
    list of (str, str, float, str)

    Examples
    --------
    >>> what, how, value, unit = backward_steps(23.5, 43.5, 1.45, 21.0)[-1]
    >>> round(value, 2), unit
    (-0.27, 'D')
    """
    lens = LensConstants.from_surgeon_factor(surgeon_factor_mm)
    named = formulas.trace_refraction(Eye(length_mm, k_d), "holladay_1", lens, iol_power_d).named
    return [
        ("the retina needs", "1336 / (L − d)", named["behind_lens_d"], "D"),
        ("so there must arrive", f"− {iol_power_d:.2f}", named["at_lens_d"], "D"),
        ("so there must leave the cornea", "V / (1 + d / 1336 · V)", named["behind_cornea_d"], "D"),
        ("more than the cornea gives", "− K", named["refraction_at_cornea_d"], "D"),
        ("at the spectacles, 12 mm", "R / (1 + 0.012 · R)", named["refraction_d"], "D"),
    ]


def three_opinions(length_mm, k_d, a_constant, order_d):
    """Return what three formulas ask for, and what each predicts for one lens.

    Parameters
    ----------
    length_mm : float
        Axial length, mm.
    k_d : float
        Keratometry, D.
    a_constant : float
        A-constant of the lens; the other constants are converted from it.
    order_d : float
        The lens considered, D.

    Returns
    -------
    list of (str, str, float, str)

    Examples
    --------
    >>> [round(value, 2) for _, _, value, _ in three_opinions(23.5, 43.5, 118.4, 20.5)][:3]
    [20.56, 20.61, 20.56]
    """
    eye, lens = Eye(length_mm, k_d), LensConstants.from_a_constant(a_constant)
    three = {"SRK/T": "srk_t", "Holladay 1": "holladay_1", "Hoffer Q": "hoffer_q"}
    asked = [
        (
            f"{name} asks for",
            f"nearest step {signed(lens_steps.nearest_power(power_d))}",
            power_d,
            "D",
        )
        for name, power_d in (
            (name, formulas.iol_power(eye, formula, lens)) for name, formula in three.items()
        )
    ]
    predicted = [
        (
            f"{name} predicts",
            f"for {signed(order_d)}",
            formulas.predicted_refraction(eye, formula, lens, order_d),
            "D",
        )
        for name, formula in three.items()
    ]
    return asked + predicted
