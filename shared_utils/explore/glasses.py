"""Sliders on glasses: the size of what they show, the prism beside the centre, the add."""

from dataclasses import dataclass

import numpy as np
from matplotlib.figure import Figure
from matplotlib.patches import Circle, Ellipse, FancyBboxPatch, Polygon, Rectangle

from shared_utils.explore.engine import Choice, Demo, Slider
from shared_utils.optics import spectacles
from shared_utils.optics.vergence import at_vertex, focus_distance, vergence
from shared_utils.show import style
from shared_utils.show.style import signed

MEASURED_AT_MM = 12.0
TROUBLES_PERCENT = 5.0  # few people fuse a larger difference: common practice, no source
TROUBLES_PRISM = 2.0  # of vertical prism, likewise
PAGE_M = 0.40


@dataclass(frozen=True)
class Corrected:
    """An eye and the lens that corrects it, at some distance from the cornea."""

    refraction_d: float
    vertex_mm: float
    lens_d: float
    size: float

    @property
    def fellow_percent(self):
        """How much larger an operated fellow eye, without a lens, sees."""
        return spectacles.aniseikonia_percent(1.0, self.size)


def lens_at(refraction_d, vertex_mm):
    """Return the lens that corrects an eye from a place, and the size of the image behind it.

    Parameters
    ----------
    refraction_d : float
        Refraction in spectacles 12 mm in front of the cornea, D.
    vertex_mm : float
        Where the lens stands, mm in front of the cornea; 0 for a contact lens.

    Returns
    -------
    Corrected

    Examples
    --------
    −8.00 D in glasses: 1 / 1.12 of the size.

    >>> round(lens_at(-8.0, 12).size, 3)
    0.893
    """
    lens_d = at_vertex(refraction_d, MEASURED_AT_MM, vertex_mm)
    size = spectacles.magnification(lens_d, vertex_mm=vertex_mm).total
    return Corrected(refraction_d, vertex_mm, lens_d, size)


# a letter E of height 1 about its middle: five strokes high and wide
_E = 0.2 * np.array(
    [(0, 0), (5, 0), (5, 1), (1, 1), (1, 2), (5, 2), (5, 3), (1, 3), (1, 4), (5, 4), (5, 5), (0, 5)]
)
_E -= 0.5


def _build_size():
    figure = Figure(figsize=(7.0, 3.5), dpi=style.DPI, layout="constrained")
    axes, letters = figure.subplots(1, 2, width_ratios=(3.8, 3.2))
    axes.set(
        xlim=(-26.0, 15.0),
        ylim=(-13.5, 15.5),
        aspect="equal",
        yticks=[],
        xlabel="distance from the cornea, mm",
    )
    axes.spines["left"].set_visible(False)
    axes.axhline(0, color=style.GREY, linewidth=0.8)
    axes.add_patch(Circle((12.0, 0.0), 12.0, fc="#e4edf5", ec=style.GREY))
    for side in (1, -1):  # the iris leaves the pupil free
        axes.plot([3.0, 3.0], [side * 2.0, side * 6.5], color="black", linewidth=2.5)
    axes.text(9.6, -4.6, "entrance\npupil", ha="center", va="center")
    axes.plot([3.4, 5.6], [-4.6, -4.6], color=style.GREY, linewidth=0.9)
    letters.set(xlim=(0.0, 3.2), ylim=(-1.05, 1.15), xticks=[], yticks=[])
    for spine in letters.spines.values():
        spine.set_visible(False)
    letters.axhline(0.5, color=style.GREY, linewidth=0.8, dashes=(4, 3))
    letters.axhline(-0.5, color=style.GREY, linewidth=0.8, dashes=(4, 3))
    letters.add_patch(Polygon(_E + np.array([0.8, 0.0]), fc="black"))
    letters.text(0.8, 1.05, "fellow eye,\nno lens", ha="center", va="top")
    letters.text(2.35, 1.05, "this eye,\nwith its lens", ha="center", va="top")
    artists = {
        "letter": letters.add_patch(Polygon(_E, fc=style.BLUE)),
        "lens": axes.add_patch(Ellipse((0, 0), 1.6, 17.0, fc="#b9cfe4", ec="black")),
    }
    artists["lens text"] = axes.text(0, 13.0, "", ha="center", va="center", weight="bold")
    (artists["way"],) = axes.plot([], [], color=style.VERMILION, linewidth=2.2)
    artists["way text"] = axes.text(
        0, -10.6, "", color=style.VERMILION, ha="center", va="center", weight="bold"
    )
    artists["size text"] = letters.text(
        1.6, -0.9, "", color=style.BLUE, ha="center", va="center", weight="bold"
    )
    return figure, artists


def _move_size(artists, seen):
    place = -seen.vertex_mm
    artists["lens"].set_center((place, 0.0))
    artists["lens text"].set_position((max(place, -20.0), 13.0))
    artists["lens text"].set_text(signed(seen.lens_d))
    artists["way"].set_data([place, place, 3.0, 3.0], [-8.0, -9.2, -9.2, -8.0])
    artists["way text"].set_position((min((place + 3.0) / 2.0, -3.4) - 4.0, -11.4))
    artists["way text"].set_text(f"{seen.vertex_mm + 3.0:.0f} mm")
    artists["letter"].set_xy(seen.size * _E + np.array([2.35, 0.0]))
    artists["size text"].set_text(_percent(seen))


def _percent(seen):
    return _compared(100.0 * (seen.size - 1.0))


def _compared(change_percent):
    if abs(change_percent) < 0.05:
        return "neither larger nor smaller"
    return f"{abs(change_percent):.1f} % {'larger' if change_percent > 0 else 'smaller'}"


def _fusing(seen):
    if abs(seen.fellow_percent) > TROUBLES_PERCENT:
        return "More than most people fuse"
    return "Most people can fuse that"


def _say_size(seen):
    place = " on the cornea" if seen.vertex_mm == 0 else f", {seen.vertex_mm:.0f} mm in front"
    return (
        f"An eye of {signed(seen.refraction_d)} at 12 mm needs {signed(seen.lens_d)}{place}. The "
        f"image becomes {_percent(seen)}; beside it that of an operated fellow eye is "
        f"{_compared(seen.fellow_percent)}. {_fusing(seen)}."
    )


def _describe_size(seen):
    return (
        f"Left, an eye with a lens of {signed(seen.lens_d)} {seen.vertex_mm:.0f} mm in front of "
        f"its cornea, {seen.vertex_mm + 3:.0f} mm from the entrance pupil. Right, a letter as the "
        f"fellow eye sees it and as this eye sees it: {_percent(seen)}. {_fusing(seen)}."
    )


def glasses_and_size():
    """Return the demo: refraction and place of the lens against its power and the image's size."""
    return Demo(
        title="place of a lens, its power and the size of the image",
        controls=(
            Slider("refraction_d", "Refraction at 12 mm, D", -16, 12, 0.25, -8, "D", signed=True),
            Slider("vertex_mm", "Lens in front of the cornea, mm", 0, 20, 1, 12, "mm"),
        ),
        build=_build_size,
        compute=lens_at,
        move=_move_size,
        sentence=_say_size,
        alt=_describe_size,
    )


@dataclass(frozen=True)
class LookingDown:
    """Two lenses and a gaze below their centres; prism in Δ, positive for base up."""

    right_d: float
    left_d: float
    gaze_down_mm: float
    right_prism: float
    left_prism: float
    imbalance: float

    @property
    def apart_cm(self):
        """How far apart the two eyes see a line of a page at 40 cm; positive: left one higher."""
        return PAGE_M * self.imbalance


def looking_down(right_d, left_d, gaze_down_mm):
    """Return the prism that each eye meets when it looks down through its lens.

    Parameters
    ----------
    right_d, left_d : float
        Vertical powers of the lenses, D.
    gaze_down_mm : float
        How far below the optical centres, mm.

    Returns
    -------
    LookingDown

    Examples
    --------
    No lens and −8 D, 8 mm down: 6.4 Δ, 2.6 cm on a page at 40 cm.

    >>> round(looking_down(0, -8.0, 8).apart_cm, 2)
    2.56
    """
    return LookingDown(
        right_d,
        left_d,
        gaze_down_mm,
        spectacles.prism(gaze_down_mm, right_d),
        spectacles.prism(gaze_down_mm, left_d),
        spectacles.vertical_imbalance(right_d, left_d, gaze_down_mm),
    )


LENS_PLACES = {"right": -30.0, "left": 30.0}
PRISM_TO_PAGE = PAGE_M  # cm on the page for each Δ


def _build_prism():
    figure = Figure(figsize=(7.0, 3.4), dpi=style.DPI, layout="constrained")
    axes, page = figure.subplots(1, 2, width_ratios=(4.2, 2.8))
    axes.set(xlim=(-62, 62), ylim=(-42, 36), aspect="equal", xticks=[], yticks=[])
    for spine in axes.spines.values():
        spine.set_visible(False)
    artists = {}
    for name, x in LENS_PLACES.items():
        axes.add_patch(
            FancyBboxPatch(
                (x - 23, -17),
                46,
                34,
                boxstyle="round,pad=0,rounding_size=9",
                fc="#e4edf5",
                ec="black",
            )
        )
        axes.plot([x], [0], "+", color="black", markersize=11, mew=2)
        artists[f"{name} power"] = axes.text(x, 27, "", ha="center", va="center")
        (artists[f"{name} gaze"],) = axes.plot([], [], "o", color=style.VERMILION, markersize=7)
        artists[f"{name} prism"] = axes.text(
            x, -26, "", color=style.VERMILION, ha="center", va="center"
        )
    axes.text(0, -38, "cross: optical centre; dot: where he looks", ha="center", va="center")
    page.set(xlim=(0.0, 10.0), ylim=(-9.5, 9.5), xticks=[], ylabel="on a page at 40 cm, cm")
    page.set_yticks([-8, -4, 0, 4, 8])
    page.yaxis.set_major_formatter(lambda cm, _: signed(cm, "", 0))
    page.spines["bottom"].set_visible(False)
    for name, x, colour in (("right", 2.6, "black"), ("left", 7.4, style.BLUE)):
        (artists[f"{name} line"],) = page.plot([], [], color=colour, linewidth=6.0)
        page.text(x, -8.9, f"{name} eye", ha="center", va="center", color=colour)
    (artists["apart"],) = page.plot([], [], color=style.VERMILION, linewidth=1.8)
    artists["apart text"] = page.text(
        5.0, 8.7, "", color=style.VERMILION, ha="center", va="center", weight="bold"
    )
    return figure, artists


def _move_prism(artists, seen):
    for name, power, prism in (
        ("right", seen.right_d, seen.right_prism),
        ("left", seen.left_d, seen.left_prism),
    ):
        artists[f"{name} power"].set_text(f"{name} {signed(power)}")
        artists[f"{name} gaze"].set_data([LENS_PLACES[name]], [-seen.gaze_down_mm])
        artists[f"{name} prism"].set_text(_based(prism))
    # the image moves towards the edge of the prism, away from its base
    right, left = -PRISM_TO_PAGE * seen.right_prism, -PRISM_TO_PAGE * seen.left_prism
    artists["right line"].set_data([1.0, 4.2], [right, right])
    artists["left line"].set_data([5.8, 9.0], [left, left])
    artists["apart"].set_data([5.0, 5.0], [right, left])
    artists["apart text"].set_text(f"{abs(seen.apart_cm):.1f} cm apart")


def _based(prism):
    if abs(prism) < 0.005:
        return "no prism"
    return f"{abs(prism):.1f} Δ base {'up' if prism > 0 else 'down'}"


def _imbalance_words(seen):
    if abs(seen.imbalance) < 0.005:
        return "no imbalance"
    if abs(seen.imbalance) <= TROUBLES_PRISM:
        return f"{abs(seen.imbalance):.1f} Δ apart, which most people fuse"
    return f"{abs(seen.imbalance):.1f} Δ apart, more than most people fuse"


def _say_prism(seen):
    return (
        f"{seen.gaze_down_mm:.0f} mm below the centres: right eye {_based(seen.right_prism)}, left "
        f"eye {_based(seen.left_prism)}: {_imbalance_words(seen)}. On a page at 40 cm a line "
        f"stands {abs(seen.apart_cm):.1f} cm apart for the two eyes."
    )


def _describe_prism(seen):
    return (
        f"Left, two spectacle lenses of {signed(seen.right_d)} and {signed(seen.left_d)} and the "
        f"place of gaze {seen.gaze_down_mm:.0f} mm below their centres. Right, one line of print "
        f"as each eye sees it, {abs(seen.apart_cm):.1f} cm apart: {_imbalance_words(seen)}."
    )


def down_through_two_lenses():
    """Return the demo: two lenses and the gaze against the vertical imbalance."""
    return Demo(
        title="looking down through two lenses",
        controls=(
            Slider("right_d", "Right lens, D", -10, 6, 0.25, 0, "D", signed=True),
            Slider("left_d", "Left lens, D", -10, 6, 0.25, -8, "D", signed=True),
            Slider("gaze_down_mm", "Gaze below the centres, mm", 0, 15, 1, 8, "mm"),
        ),
        build=_build_prism,
        compute=looking_down,
        move=_move_prism,
        sentence=_say_prism,
        alt=_describe_prism,
    )


TASKS = (("page", 40.0), ("screen", 65.0), ("shelf", 100.0))
AXIS_CM = (20.0, 140.0)


@dataclass(frozen=True)
class AddRange:
    """What an eye corrected for far sees clearly through an add; distances from the glasses."""

    add_d: float
    amplitude_d: float
    blur_d: float
    nearest_cm: float
    farthest_cm: float

    @property
    def length_cm(self):
        """How long the clear range is, inf if it reaches far."""
        return self.farthest_cm - self.nearest_cm


def clear_through(add_d, amplitude_d, blur_d):
    """Return the range that is clear through an add.

    Parameters
    ----------
    add_d : float
        Power of the add, D.
    amplitude_d : float
        Amplitude of accommodation, D; all of it may be spent.
    blur_d : float
        Defocus that goes unnoticed, D to either side; above 0.

    Returns
    -------
    AddRange

    Examples
    --------
    +2.50 D and nothing else, a quarter dioptre unnoticed: 1 / 2.75 to 1 / 2.25 m.

    >>> seen = clear_through(2.5, 0.0, 0.25)
    >>> round(seen.nearest_cm, 1), round(seen.farthest_cm, 1)
    (36.4, 44.4)
    """
    nearest_cm = 100.0 * focus_distance(add_d + amplitude_d + blur_d)
    left_d = add_d - blur_d
    farthest_cm = 100.0 * focus_distance(left_d) if left_d > 0.0 else np.inf
    return AddRange(add_d, amplitude_d, blur_d, nearest_cm, farthest_cm)


def _build_add():
    figure = Figure(figsize=(7.0, 3.1), dpi=style.DPI, layout="constrained")
    axes = figure.add_subplot()
    axes.set(
        xlim=AXIS_CM,
        ylim=(0.0, 1.0),
        yticks=[],
        xlabel="distance from the glasses, cm",
    )
    axes.spines["left"].set_visible(False)
    for name, place in TASKS:
        axes.axvline(place, 0.34, 0.84, color=style.GREY, linewidth=1.2, dashes=(4, 3))
        axes.text(place, 0.92, f"{name} {place:.0f} cm", color=style.GREY, ha="center", va="center")
    bar = Rectangle((0, 0.42), 0, 0.24, fc=style.SKY, ec=style.BLUE, linewidth=1.5)
    artists = {"bar": axes.add_patch(bar)}
    (artists["best"],) = axes.plot([], [], "|", color="black", markersize=32, mew=2.4)
    artists["text"] = axes.text(80.0, 0.18, "", ha="center", va="center", weight="bold")
    return figure, artists


def _move_add(artists, seen):
    start, end = seen.nearest_cm, min(seen.farthest_cm, AXIS_CM[1])
    visible = start < AXIS_CM[1]
    artists["bar"].set_visible(visible)
    artists["bar"].set_x(max(start, AXIS_CM[0]))
    artists["bar"].set_width(max(end - max(start, AXIS_CM[0]), 0.0))
    best_cm = 100.0 / seen.add_d if seen.add_d > 0 else np.inf
    inside = best_cm <= AXIS_CM[1]
    artists["best"].set_data(([best_cm], [0.54]) if inside else ([], []))
    artists["text"].set_text(f"clear: {_range_words(seen)}")


def _range_words(seen):
    nearest = f"{seen.nearest_cm:.0f} cm"
    if seen.nearest_cm > 150.0:
        nearest = f"{seen.nearest_cm / 100:.0f} m"
    if np.isinf(seen.farthest_cm):
        return f"{nearest} to far"
    if seen.farthest_cm > 150.0:
        return f"{nearest} to {seen.farthest_cm / 100:.1f} m"
    return f"{seen.nearest_cm:.0f} to {seen.farthest_cm:.0f} cm"


def _seen_tasks(seen):
    clear = [name for name, cm in TASKS if seen.nearest_cm <= cm <= seen.farthest_cm]
    return f"In it: {', '.join(clear)}" if clear else "None of the three tasks lies in it"


def _say_add(seen):
    length = "" if seen.length_cm > 1000.0 else f", {seen.length_cm:.0f} cm long"
    return (
        f"Through {signed(seen.add_d)} with {seen.amplitude_d:.2f} D of accommodation, "
        f"{_range_words(seen)} is clear to within {seen.blur_d:.2f} D{length}. {_seen_tasks(seen)}."
    )


def _describe_add(seen):
    return (
        f"A bar of what is clear through {signed(seen.add_d)}: {_range_words(seen)}. "
        f"{_seen_tasks(seen)}, of a page at 40, a screen at 65 and a shelf at 100 cm."
    )


def add_and_range():
    """Return the demo: add, accommodation and blur that goes unnoticed against the clear range."""
    return Demo(
        title="a reading add and its range",
        controls=(
            Slider("add_d", "Add, D", 0, 4, 0.25, 2.5, "D", signed=True),
            Slider("amplitude_d", "Accommodation left, D", 0, 4, 0.25, 0, "D"),
            Choice("blur_d", "Blur not noticed:", {"±0.25 D": 0.25, "±0.50 D": 0.5}, 0.25),
        ),
        build=_build_add,
        compute=clear_through,
        move=_move_add,
        sentence=_say_add,
        alt=_describe_add,
    )


def two_glasses_steps(right_d, left_d, gaze_down_mm):
    """Return the steps to size difference and prism of two thin glasses, for a worked example.

    Parameters
    ----------
    right_d, left_d : float
        Lenses 12 mm in front of the cornea, D.
    gaze_down_mm : float
        Gaze below the optical centres, mm.

    Returns
    -------
    list of (str, str, float, str)

    Examples
    --------
    >>> [round(step[2], 2) for step in two_glasses_steps(0.0, -8.0, 8.0)]
    [1.0, 0.89, 12.0, 0.0, -6.4, 6.4]
    """
    sizes = [spectacles.magnification(power_d).total for power_d in (right_d, left_d)]
    seen = looking_down(right_d, left_d, gaze_down_mm)
    to_pupil = "1 / (1 − 0.015 F)"
    centimetres = f"{gaze_down_mm / 10:.1f} cm · F"
    return [
        ("right image, against no lens", to_pupil, sizes[0], "times"),
        ("left image, against no lens", to_pupil, sizes[1], "times"),
        (
            "right image larger than the left by",
            "right / left − 1",
            spectacles.aniseikonia_percent(*sizes),
            "%",
        ),
        ("prism of the right lens, base up positive", centimetres, seen.right_prism, "Δ"),
        ("prism of the left lens", centimetres, seen.left_prism, "Δ"),
        ("imbalance", "right − left", seen.imbalance, "Δ"),
    ]


def contact_lens_steps(spectacle_d):
    """Return the steps from a spectacle lens to a contact lens and the size that it leaves.

    Parameters
    ----------
    spectacle_d : float
        Lens 12 mm in front of the cornea, D; the fellow eye needs none.

    Returns
    -------
    list of (str, str, float, str)

    Examples
    --------
    >>> [round(step[2], 2) for step in contact_lens_steps(-8.0)]
    [-7.3, -7.25, 0.98, 2.19]
    """
    seen = lens_at(spectacle_d, 0.0)
    return [
        ("from the spectacles to the cornea", "F / (1 − 0.012 F)", seen.lens_d, "D"),
        ("rounded to a lens that is made", "nearest 0.25 D", round(4 * seen.lens_d) / 4, "D"),
        ("its image, against no lens", "1 / (1 − 0.003 F)", seen.size, "times"),
        ("fellow eye's image larger by", "1 / that − 1", seen.fellow_percent, "%"),
    ]


def add_steps(page_cm, amplitude_d):
    """Return the steps to a reading add and its range, for a worked example.

    Parameters
    ----------
    page_cm : float
        Distance of the page, cm, positive.
    amplitude_d : float
        Amplitude of accommodation, D.

    Returns
    -------
    list of (str, str, float, str)

    Examples
    --------
    >>> [round(step[2], 2) for step in add_steps(40, 1.0)]
    [2.5, 2.0, 33.33, 50.0]
    """
    add_d = spectacles.reading_add(-page_cm / 100.0, amplitude_d)
    return [
        ("the page asks", f"100 / {page_cm:.0f}", -vergence(-page_cm / 100.0), "D"),
        ("the add gives what half the amplitude does not", "that − amplitude / 2", add_d, "D"),
        (
            "nearest clear, all accommodation spent",
            "100 / (add + amplitude)",
            100.0 * focus_distance(add_d + amplitude_d),
            "cm",
        ),
        (
            "farthest clear, all accommodation relaxed",
            "100 / add",
            100.0 * focus_distance(add_d),
            "cm",
        ),
    ]
