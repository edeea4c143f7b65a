"""Sliders on difficult eyes: unusual sizes, after corneal laser surgery, a second lens."""

import numpy as np
from matplotlib.figure import Figure

from shared_utils.cases import difficult_eyes as cases
from shared_utils.explore.engine import Choice, Demo, Slider
from shared_utils.show import style
from shared_utils.show.style import signed

# --- an unusual eye ---------------------------------------------------------------------------


def _build_five():
    figure = Figure(figsize=(7.0, 3.3), dpi=style.DPI, layout="constrained")
    axes = figure.add_subplot()
    rows = np.arange(len(cases.FORMULAS))
    axes.set(
        xlim=(-5.0, 7.2),
        ylim=(len(cases.FORMULAS) - 0.4, -0.6),
        xticks=range(-4, 5, 2),
        xlabel="lens power − middle one of the five, D",
    )
    axes.set_yticks(rows, cases.IN_WORDS.values())
    axes.tick_params(axis="y", length=0)
    axes.spines["left"].set_visible(False)
    axes.xaxis.set_major_formatter(lambda d, _: signed(d, "", 0))
    axes.axvline(0.0, color=style.GREY, linewidth=0.8)
    artists = {}
    for n in rows:
        (artists[f"stem {n}"],) = axes.plot([], [], color=style.BLUE, linewidth=3)
        (artists[f"end {n}"],) = axes.plot([], [], "o", color=style.BLUE, markersize=9)
        artists[f"text {n}"] = axes.text(7.1, n, "", ha="right", va="center")
    artists["no height"] = axes.text(
        -4.9, 0.5, "", ha="left", va="center", color=style.VERMILION, fontsize=12
    )
    return figure, artists


def _move_five(artists, data):
    for n, (power_d, away_d) in enumerate(zip(data.powers_d, data.from_middle_d, strict=True)):
        artists[f"stem {n}"].set_data([0.0, away_d], [n, n])
        artists[f"end {n}"].set_data([away_d], [n])
        artists[f"text {n}"].set_text(signed(power_d, "D", 1))
    artists["no height"].set_text("no real corneal height" if data.no_height else "")


def _say_five(data):
    low_d, high_d = data.powers_d.min(), data.powers_d.max()
    root = " SRK/T finds no real corneal height." if data.no_height else ""
    return (
        f"Length {data.axial_length_mm:.1f} mm, K {data.k_d:.2f} D, chamber {data.acd_mm:.2f} mm: "
        f"from {signed(low_d, 'D', 1)} to {signed(high_d, 'D', 1)}, {data.spread_d:.1f} D apart, "
        f"worth {data.spread_at_spectacles_d:.1f} D at the spectacles.{root}"
    )


def _describe_five(data):
    each = ", ".join(
        f"{name} {signed(power_d, 'D', 1)}"
        for name, power_d in zip(cases.IN_WORDS.values(), data.powers_d, strict=True)
    )
    return f"Five formulas as rows, their lens powers as dots. {each}. {_say_five(data)}"


def unusual_eye() -> Demo:
    """Return the demo: length, K and chamber depth against the lens of five formulas."""
    return Demo(
        title="five formulas in one eye",
        advises=True,
        controls=(
            Slider("axial_length_mm", "Axial length, mm", 20, 32, 0.1, 23.5, "mm"),
            Slider("k_d", "Keratometry, D", 38, 50, 0.25, 43.5, "D"),
            Slider("acd_mm", "Depth of the chamber, mm", 2.2, 4.0, 0.05, 3.15, "mm"),
        ),
        build=_build_five,
        compute=cases.compute_five_formulas,
        move=_move_five,
        sentence=_say_five,
        alt=_describe_five,
    )


# --- after corneal laser surgery --------------------------------------------------------------

MENDED = (
    "K as measured",
    "K of the very centre",
    "with the right index",
    "and K of before for the position",
)


def _build_laser():
    figure = Figure(figsize=(7.0, 3.3), dpi=style.DPI, layout="constrained")
    axes = figure.add_subplot()
    rows = np.arange(len(MENDED))
    axes.set(
        xlim=(-3.6, 6.4),
        ylim=(len(MENDED) - 0.4, -0.6),
        xlabel="refraction that is left, D (myopic left, hyperopic right)",
    )
    axes.set_yticks(rows, ["K as measured", "K of the centre", "right index too", "double-K too"])
    axes.tick_params(axis="y", length=0)
    axes.spines["left"].set_visible(False)
    axes.xaxis.set_major_formatter(lambda d, _: signed(d, "", 0))
    axes.axvspan(-0.5, 0.5, color="#e4edf5", zorder=0)
    axes.axvline(0.0, color=style.GREY, linewidth=0.8)
    artists = {}
    for n in rows:
        (artists[f"bar {n}"],) = axes.plot(
            [], [], color=style.VERMILION if n < 3 else style.BLUE, linewidth=12
        )
        artists[f"bar {n}"].set_solid_capstyle("butt")
        artists[f"text {n}"] = axes.text(0, n, "", va="center")
        artists[f"cause {n}"] = axes.text(6.3, n + 0.5, "", va="center", ha="right")
        artists[f"cause {n}"].set_color(style.GREY)
    return figure, artists


def _move_laser(artists, data):
    for n, left_d in enumerate(data.left_d):
        artists[f"bar {n}"].set_data([0.0, left_d], [n, n])
        side = 1.0 if left_d > -0.005 else -1.0
        artists[f"text {n}"].set_position((left_d + 0.12 * side, n))
        artists[f"text {n}"].set_ha("left" if side > 0 else "right")
        artists[f"text {n}"].set_text(signed(left_d))
    for n, (cause, part_d) in enumerate(
        zip(("ring", "index", "position"), data.parts_d, strict=True)
    ):
        artists[f"cause {n}"].set_text(f"{cause} {signed(part_d)}")


def _say_laser(data):
    ring_d, index_d, position_d = data.parts_d
    kind = "myopic" if data.treated_d < 0 else "hyperopic" if data.treated_d > 0 else "no"
    return (
        f"After {kind} laser of {signed(data.treated_d, 'D', 1)} {cases.IN_WORDS[data.formula]} "
        f"with the measured K ({data.measured_k_d:.1f} D) leaves {signed(data.left_d[0])}: ring "
        f"{signed(ring_d)}, index {signed(index_d)}, position {signed(position_d)}."
    )


def _describe_laser(data):
    each = "; ".join(
        f"{name}: {signed(left_d)}" for name, left_d in zip(MENDED, data.left_d, strict=True)
    )
    return (
        f"Four bars of the refraction left as errors are mended in turn. {each}. {_say_laser(data)}"
    )


def laser_errors() -> Demo:
    """Return the demo: treatment, ring and formula against the refraction that is left."""
    return Demo(
        title="errors after corneal laser surgery",
        controls=(
            Slider("treated_d", "Laser treatment, D", -10, 5, 0.5, -6, "D", signed=True),
            Slider("missed_percent", "The ring misses, %", 0, 20, 1, 5, "%"),
            Choice(
                "formula",
                "Formula:",
                {cases.IN_WORDS[name]: name for name in cases.LASER_FORMULAS},
                "srk_t",
            ),
        ),
        build=_build_laser,
        compute=cases.compute_after_laser,
        move=_move_laser,
        sentence=_say_laser,
        alt=_describe_laser,
    )


# --- a second lens ----------------------------------------------------------------------------


def _build_added():
    figure = Figure(figsize=(7.0, 3.5), dpi=style.DPI, layout="constrained")
    axes = figure.add_subplot()
    axes.set(
        xlim=(-8.4, 8.4),
        ylim=(-13, 16),
        xlabel="refraction with the present lens, D",
        ylabel="lens to add, D",
    )
    for axis in (axes.xaxis, axes.yaxis):
        axis.set_major_formatter(lambda d, _: signed(d, "", 0))
    axes.axhline(0.0, color=style.GREY, linewidth=0.8)
    axes.axvline(0.0, color=style.GREY, linewidth=0.8)
    rules_d = cases.REFRACTIONS_D, cases.PLUS_RULE * cases.REFRACTIONS_D
    axes.plot(cases.REFRACTIONS_D, rules_d[0], ":", color=style.GREY)
    axes.plot(cases.REFRACTIONS_D, rules_d[1], "--", color=style.GREY, linewidth=1.4)
    axes.text(8.3, 3.6, "dotted: 1 ×", ha="right", va="center", color=style.GREY)
    axes.text(8.3, 1.5, "dashed: 1.5 ×", ha="right", va="center", color=style.GREY)
    artists = {}
    (artists["along"],) = axes.plot([], [], color=style.BLUE)
    (artists["here"],) = axes.plot([], [], "o", color=style.VERMILION, markersize=9)
    artists["here text"] = axes.text(-8.1, 14.0, "", va="center", color=style.VERMILION)
    return figure, artists


def _times(data):
    return "nothing to add" if data.factor is None else f"{data.factor:.2f} times the refraction"


def _move_added(artists, data):
    artists["along"].set_data(cases.REFRACTIONS_D, data.along_d)
    artists["here"].set_data([data.refraction_d], [data.power_d])
    artists["here text"].set_text(f"add {signed(data.power_d)}")


def _say_added(data):
    return (
        f"With {signed(data.refraction_d)} left, K {data.k_d:.1f} D and the added lens "
        f"{data.position_mm:.1f} mm behind the cornea: add {signed(data.power_d)}, {_times(data)}. "
        "The axial length is not asked."
    )


def _describe_added(data):
    ends = " and ".join(
        f"{signed(data.along_d[n])} at {signed(cases.REFRACTIONS_D[n])}" for n in (0, -1)
    )
    return (
        f"Curve of the lens to add against the refraction, beside lines of once and one and a half "
        f"times; it bends upwards, {ends}. {_say_added(data)}"
    )


def second_lens() -> Demo:
    """Return the demo: refraction, position and K against the lens to add."""
    return Demo(
        title="a lens added to an eye",
        advises=True,
        controls=(
            Slider("refraction_d", "Refraction now, D", -8, 8, 0.25, 2, "D", signed=True),
            Slider("position_mm", "Place of the added lens, mm", 2.8, 5.5, 0.1, 5.0, "mm"),
            Slider("k_d", "Keratometry, D", 36, 48, 0.25, 43.5, "D"),
        ),
        build=_build_added,
        compute=cases.compute_lens_to_add,
        move=_move_added,
        sentence=_say_added,
        alt=_describe_added,
    )
