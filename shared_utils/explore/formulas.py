"""Sliders on power formulas: the gap at the lens, the guess of its place, the step to order."""

from matplotlib.figure import Figure

from shared_utils.cases import formulas as cases
from shared_utils.explore.engine import Demo, Slider
from shared_utils.show import style
from shared_utils.show.style import signed


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


def _move_gap(artists, data):
    artists["needing"].set_data(cases.POSITIONS_MM, data.needing_d)
    artists["arriving"].set_data(cases.POSITIONS_MM, data.arriving_d)
    artists["gap"].set_data([data.elp_mm] * 2, [data.arrives_d, data.needed_d])
    artists["lens"].set_text(f"lens {signed(data.lens_d)}")


def _say_gap(data):
    return (
        f"Cornea {signed(data.cornea_d)}, length {data.length_mm:.1f} mm, lens at "
        f"{data.elp_mm:.1f} mm: {signed(data.arrives_d)} arrive, the retina needs "
        f"{signed(data.needed_d)}. The lens makes up the rest: {signed(data.lens_d)}."
    )


def _describe_gap(data):
    return (
        f"Two curves of vergence against the lens's place: what the retina needs and what arrives. "
        f"At {data.elp_mm:.1f} mm they lie {signed(data.lens_d)} apart, the power of the lens; the "
        f"gap widens with depth."
    )


def gap() -> Demo:
    """Return the demo: length, cornea and lens position against the power of the lens."""
    return Demo(
        title="the gap that the lens has to fill",
        controls=(
            Slider("elp_mm", "Position of the lens, mm", 3.5, 7.0, 0.1, 5.2, "mm"),
            Slider("length_mm", "Axial length, mm", 20, 32, 0.1, 23.5, "mm"),
            Slider("cornea_d", "Power of the cornea, D", 38, 50, 0.25, 43.5, "D"),
        ),
        build=_build_gap,
        compute=cases.compute_vergence_gap,
        move=_move_gap,
        sentence=_say_gap,
        alt=_describe_gap,
    )


def _build_places():
    figure = Figure(figsize=(7.0, 3.5), dpi=style.DPI, layout="constrained")
    axes = figure.add_subplot()
    axes.set(
        xlim=(-1.8, 3.1),
        ylim=(-0.6, len(cases.GUESSES) + 0.1),
        xlabel="expected lens position, against an average eye, mm",
    )
    axes.set_yticks(range(len(cases.GUESSES)), reversed(cases.GUESSES.values()))
    axes.tick_params(axis="y", length=0)
    axes.axvline(0, color=style.GREY, linewidth=1.0)
    top = len(cases.GUESSES) - 0.25
    axes.text(-1.75, top, "nearer the cornea", va="center", color=style.GREY)
    axes.text(0.1, top, "deeper", va="center", color=style.GREY)
    axes.text(3.08, top, "asks for", ha="right", va="center", color=style.GREY)
    artists = {}
    for row, formula in enumerate(reversed(cases.GUESSES)):
        (artists[f"way {formula}"],) = axes.plot([], [], color=style.BLUE, linewidth=2.5)
        (artists[f"place {formula}"],) = axes.plot(
            [], [], "o", color=style.BLUE, markersize=9, clip_on=False
        )
        artists[f"power {formula}"] = axes.text(3.08, row, "", ha="right", va="center")
    return figure, artists


def _move_places(artists, data):
    for row, formula in enumerate(reversed(cases.GUESSES)):
        shift_mm = data.shifts_mm[formula]
        artists[f"way {formula}"].set_data([0.0, shift_mm], [row, row])
        artists[f"place {formula}"].set_data([shift_mm], [row])
        artists[f"power {formula}"].set_text(signed(data.powers_d[formula], digits=1))


def _range_in_words(data):
    if data.range_d < 0.05:
        return "the formulas agree"
    name = {formula: words.split(":")[0] for formula, words in cases.GUESSES.items()}
    return (
        f"from {signed(data.powers_d[data.weakest], digits=1)} ({name[data.weakest]}) to "
        f"{signed(data.powers_d[data.strongest], digits=1)} ({name[data.strongest]})"
    )


def _say_places(data):
    eye = data.eye
    return (
        f"Length {eye.axial_length_mm:.1f} mm, K {eye.k1_d:.2f} D, chamber {eye.acd_mm:.2f} mm. "
        f"One equation, six guesses of the lens's place: {_range_in_words(data)}."
    )


def _describe_places(data):
    moved = [
        f"{words.split(':')[0]} {signed(data.shifts_mm[formula], 'mm')}"
        for formula, words in cases.GUESSES.items()
    ]
    return (
        f"Rows of formulas with the shift of the lens position each expects: {', '.join(moved)}; "
        f"lens powers {_range_in_words(data)}."
    )


def places() -> Demo:
    """Return the demo: length, K and chamber depth against the guessed place of the lens."""
    return Demo(
        title="where each formula expects the lens",
        controls=(
            Slider("k_d", "Keratometry, D", 40, 46.5, 0.25, 43.5, "D"),
            Slider("length_mm", "Axial length, mm", 20.5, 27, 0.1, 23.5, "mm"),
            Slider("chamber_mm", "Chamber depth, mm", 2.2, 4.2, 0.05, 3.15, "mm"),
        ),
        build=_build_places,
        compute=cases.compute_expected_positions,
        move=_move_places,
        sentence=_say_places,
        alt=_describe_places,
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


def _move_step(artists, data):
    artists["target"].set_data([11, 31.5], [data.target_d] * 2)
    below = data.predicted_d < 2.4  # above it stand the words
    artists["lenses"].set_data(cases.AVAILABLE_POWERS_D[below], data.predicted_d[below])
    artists["nearest"].set_data([data.power_d], [data.left_d])
    artists["order"].set_text(f"order {signed(data.power_d)}: leaves {signed(data.left_d)}")
    artists["target text"].set_y(data.target_d + 0.06)
    artists["target text"].set_text(f"target {signed(data.target_d)}")


def _say_step(data):
    return (
        f"Length {data.length_mm:.2f} mm, A {data.a_constant:.1f}, target "
        f"{signed(data.target_d)}: {signed(data.computed_d)} computed. Order "
        f"{signed(data.power_d)}: {signed(data.left_d)}; one step stronger leaves "
        f"{signed(data.stronger_left_d)}."
    )


def _describe_step(data):
    return (
        f"Predicted refraction of each lens against its power, falling by about 0.35 D a step. "
        f"Nearest to the target of {signed(data.target_d)} is {signed(data.power_d)}, which "
        f"leaves {signed(data.left_d)}."
    )


def step() -> Demo:
    """Return the demo: length, constant and target against the lens to order."""
    return Demo(
        title="which step to order",
        advises=True,
        controls=(
            Slider("target_d", "Target refraction, D", -2, 0.5, 0.25, 0, "D", True),
            Slider("a_constant", "A-constant of the lens", 117, 120, 0.1, 118.6),
            Slider("length_mm", "Axial length, mm", 22, 25, 0.05, 23.5, "mm"),
        ),
        build=_build_step,
        compute=cases.compute_lens_to_order,
        move=_move_step,
        sentence=_say_step,
        alt=_describe_step,
    )
