"""Sliders on toric lenses: total cornea, plane of the lens, a turned lens, a series of eyes."""

from dataclasses import dataclass

import numpy as np
from matplotlib.figure import Figure
from matplotlib.patches import FancyArrowPatch

from shared_utils.explore.astigmatism import degrees
from shared_utils.explore.engine import Choice, Demo, Slider
from shared_utils.optics.sphero_cylinder import SpheroCylinder
from shared_utils.power import toric
from shared_utils.power.biometry import Eye
from shared_utils.power.lens_steps import nearest_power
from shared_utils.show import style
from shared_utils.show.toric import rings

ESTIMATES = {
    "Abulafia & Koch": "abulafia_koch",
    "Eom": "eom",
    "Goggin": "goggin",
}
RULES = {
    "with": "with the rule",
    "against": "against the rule",
    "oblique": "oblique",
    "none": "too small to have an axis",
}
CYLINDER_STEP_D = 0.75  # of the toric lenses on this page, at the lens; invented


def steep(size_d, meridian_deg):
    """Return corneal astigmatism of a size, steep along a meridian.

    >>> steep(1.5, 90)
    SpheroCylinder(sphere_d=-0.75, cylinder_d=1.5, axis_deg=90.0)
    """
    return SpheroCylinder(-size_d / 2.0, size_d, meridian_deg)


def in_words(astigmatism):
    """Return size and steep meridian as they are read out.

    >>> in_words(steep(1.5, 90)), in_words(steep(0.04, 90))
    ('1.50 D at 90', '0.04 D')
    """
    astigmatism = astigmatism.plus_form()
    size = f"{astigmatism.cylinder_d:.2f} D"
    if not astigmatism.axis_is_meaningful:
        return size
    return f"{size} at {round(astigmatism.axis_deg) or 180}"


def _arrow(axes, colour, dashes="-", width=3):
    return axes.add_patch(
        FancyArrowPatch(
            (0, 0),
            (1, 0),
            arrowstyle=f"-|>,head_length=7,head_width={3 + width / 2}",
            color=colour,
            linestyle=dashes,
            linewidth=width,
            shrinkA=0,
            shrinkB=0,
        )
    )


# --- total cornea ----------------------------------------------------------------------------


@dataclass(frozen=True)
class Total:
    """What a keratometer shows, and what a regression expects of the whole cornea."""

    measured: SpheroCylinder
    total: SpheroCylinder
    estimate: str


def whole_cornea(measured_d, steep_deg, estimate):
    """Return keratometric astigmatism and the total that a regression expects.

    Parameters
    ----------
    measured_d : float
        Keratometric astigmatism, D.
    steep_deg : float
        Steep meridian, 0 to 180°.
    estimate : str
        Name of the regression, as ``toric.total_from_keratometry`` knows it.

    Returns
    -------
    Total

    Examples
    --------
    >>> in_words(whole_cornea(1.5, 180, "abulafia_koch").total)
    '1.90 D at 180'
    """
    measured = steep(measured_d, steep_deg)
    return Total(measured, toric.total_from_keratometry(measured, estimate), estimate)


def _build_total():
    figure = Figure(figsize=(7.0, 3.9), dpi=style.DPI, layout="constrained")
    plane, sizes = figure.subplots(1, 2, width_ratios=(1.35, 1.0))
    rings(plane, 4.9, (1, 2, 3, 4))
    plane.set_title("at twice the steep meridian")
    sizes.set(
        xlim=(0, 5.2), ylim=(-0.6, 1.6), yticks=(1, 0), xlabel="astigmatism, D", xticks=range(6)
    )
    sizes.set_yticklabels(["keratometer", "total"])
    sizes.tick_params(axis="y", length=0)
    artists = {
        "measured": _arrow(plane, style.BLUE, width=7),
        "back": _arrow(plane, style.ORANGE, "--"),
        "total": _arrow(plane, "black", width=2),
    }
    (artists["measured bar"],) = sizes.plot([], [], color=style.BLUE, linewidth=22)
    (artists["total bar"],) = sizes.plot([], [], color="black", linewidth=22)
    for bar in ("measured bar", "total bar"):
        artists[bar].set_solid_capstyle("butt")
    artists["measured text"] = sizes.text(0.1, 1.42, "", color=style.BLUE, va="center")
    artists["total text"] = sizes.text(0.1, 0.42, "", va="center", weight="bold")
    return figure, artists


def _move_total(artists, seen):
    start = np.array(toric.double_angle(seen.measured))
    end = np.array(toric.double_angle(seen.total))
    artists["measured"].set_positions((0, 0), start)
    artists["back"].set_positions(start, end)
    artists["total"].set_positions((0, 0), end)
    artists["measured"].set_visible(bool(np.hypot(*start) > 0.02))
    artists["back"].set_visible(bool(np.hypot(*(end - start)) > 0.02))
    artists["total"].set_visible(bool(np.hypot(*end) > 0.02))
    artists["measured bar"].set_data([0, np.hypot(*start)], [1, 1])
    artists["total bar"].set_data([0, np.hypot(*end)], [0, 0])
    artists["measured text"].set_text(in_words(seen.measured))
    artists["total text"].set_text(in_words(seen.total))


def _say_total(seen):
    name = next(name for name, key in ESTIMATES.items() if key == seen.estimate)
    change_d = seen.total.cylinder_d - seen.measured.cylinder_d
    if abs(change_d) < 0.005:
        change = "no change"
    else:
        change = f"{abs(change_d):.2f} D {'more' if change_d > 0 else 'less'}"
    return (
        f"Keratometer: {in_words(seen.measured)}, {RULES[toric.rule_class(seen.measured)]}. "
        f"The whole cornea by {name}: {in_words(seen.total)}, "
        f"{RULES[toric.rule_class(seen.total)]}: {change}."
    )


def _describe_total(seen):
    return (
        "Arrows at twice the steep meridian: the keratometer's, what the rest of the cornea adds "
        f"towards against the rule, and their sum. {_say_total(seen)}"
    )


def total_cornea():
    """Return the demo: measured astigmatism and its meridian against the total expected."""
    return Demo(
        title="keratometer and total cornea",
        controls=(
            Slider("measured_d", "Keratometer shows, D", 0, 3, 0.25, 1.5, "D"),
            Slider("steep_deg", "Steep along, °", 5, 180, 5, 90, "°"),
            Choice("estimate", "Total estimated by:", ESTIMATES, "abulafia_koch"),
        ),
        build=_build_total,
        compute=whole_cornea,
        move=_move_total,
        sentence=_say_total,
        alt=_describe_total,
    )


# --- from the cornea to the lens -------------------------------------------------------------

ELP_MM = np.linspace(4.0, 7.0, 61)
ONE_RATIO = 1.46


def ratio(cornea_d, elp_mm):
    """Return cylinder at the lens for 1 D at the cornea, a thin cornea of that power.

    >>> round(ratio(43.0, 5.0), 2)
    1.42
    """
    return toric.cylinder_ratio_approximate(Eye(23.5, cornea_d), elp_mm, corneal_index=1.3375)


@dataclass(frozen=True)
class Planes:
    """A cylinder on a lens and what it does at the cornea."""

    lens_cylinder_d: float
    elp_mm: float
    cornea_d: float
    ratio: float
    ratios: np.ndarray

    @property
    def at_cornea_d(self):
        """What the lens does at the cornea, D."""
        return self.lens_cylinder_d / self.ratio


def lens_at_the_cornea(lens_cylinder_d, elp_mm, cornea_d):
    """Return what a toric lens does at the cornea, and the ratio at every place of the lens.

    Parameters
    ----------
    lens_cylinder_d : float
        Cylinder of the lens itself, D.
    elp_mm : float
        Where it lies behind the cornea, mm.
    cornea_d : float
        Power of the cornea, D.

    Returns
    -------
    Planes

    Examples
    --------
    >>> round(lens_at_the_cornea(1.42, 5.0, 43.0).at_cornea_d, 2)
    1.0
    """
    return Planes(
        lens_cylinder_d, elp_mm, cornea_d, ratio(cornea_d, elp_mm), ratio(cornea_d, ELP_MM)
    )


def _build_planes():
    figure = Figure(figsize=(7.0, 3.5), dpi=style.DPI, layout="constrained")
    axes = figure.add_subplot()
    axes.set(
        xlim=(4, 7),
        ylim=(1.2, 1.9),
        xlabel="place of the lens behind the cornea, mm",
        ylabel="cylinder at the lens\nfor 1 D at the cornea",
    )
    axes.axhline(ONE_RATIO, color=style.GREY, linewidth=1.2, linestyle=":")
    axes.text(6.97, 1.445, "one ratio for every eye: 1.46", color=style.GREY, ha="right", va="top")
    artists = {}
    (artists["ratios"],) = axes.plot([], [], color=style.BLUE)
    (artists["here"],) = axes.plot([], [], "o", color=style.VERMILION, markersize=9, clip_on=False)
    artists["here"].set_in_layout(False)  # the edge of the axes does not cut it
    artists["words"] = axes.text(4.1, 1.84, "", va="center", weight="bold")
    artists["more"] = axes.text(4.1, 1.77, "", va="center")
    return figure, artists


def _move_planes(artists, seen):
    artists["ratios"].set_data(ELP_MM, seen.ratios)
    artists["here"].set_data([seen.elp_mm], [seen.ratio])
    artists["words"].set_text(f"ratio {seen.ratio:.2f}")
    artists["more"].set_text(
        f"{seen.lens_cylinder_d:.2f} D at the lens: {seen.at_cornea_d:.2f} D at the cornea"
    )


def _say_planes(seen):
    return (
        f"{seen.elp_mm:.1f} mm behind a cornea of {seen.cornea_d:.2f} D, a lens cylinder of "
        f"{seen.lens_cylinder_d:.2f} D does {seen.at_cornea_d:.2f} D at the cornea: ratio "
        f"{seen.ratio:.2f}. One ratio of 1.46 would promise "
        f"{seen.lens_cylinder_d / ONE_RATIO:.2f} D."
    )


def _describe_planes(seen):
    return (
        "Curve of the ratio of cylinder at the lens to cylinder at the cornea: it rises as the "
        f"lens lies deeper and the cornea is stronger. {_say_planes(seen)}"
    )


def cornea_and_lens():
    """Return the demo: cylinder and place of a lens against what it does at the cornea."""
    return Demo(
        title="a toric lens seen from the cornea",
        controls=(
            Slider("lens_cylinder_d", "Cylinder on the lens, D", 0.75, 6, 0.75, 2.25, "D"),
            Slider("elp_mm", "Lens behind the cornea, mm", 4, 7, 0.1, 5.2, "mm"),
            Slider("cornea_d", "Power of the cornea, D", 39, 48, 0.25, 43, "D"),
        ),
        build=_build_planes,
        compute=lens_at_the_cornea,
        move=_move_planes,
        sentence=_say_planes,
        alt=_describe_planes,
    )


# --- a lens that is turned -------------------------------------------------------------------

TURNS_DEG = np.linspace(0.0, 90.0, 91)
STEEP_DEG = 90.0


@dataclass(frozen=True)
class Turned:
    """A cornea steep at 90, a toric lens turned from there, and what remains."""

    corneal_d: float
    lens_d: float
    turn_deg: float
    remaining: SpheroCylinder
    remaining_d: np.ndarray

    @property
    def size_d(self):
        """Cylinder that remains, D."""
        return self.remaining.cylinder_d


def turned(corneal_d, lens_d, turn_deg):
    """Return what a turned toric lens leaves, at this turn and at every other.

    Parameters
    ----------
    corneal_d : float
        Corneal astigmatism, steep at 90, D.
    lens_d : float
        Cylinder of the lens at the corneal plane, D.
    turn_deg : float
        How far its marks lie off the steep meridian, anticlockwise, 0 to 90°.

    Returns
    -------
    Turned

    Examples
    --------
    >>> round(turned(2.0, 2.0, 30.0).size_d, 6)
    2.0
    """
    marks_deg = (STEEP_DEG + turn_deg) % 180.0
    left = toric.residual(steep(corneal_d, STEEP_DEG), lens_d, marks_deg).plus_form()
    curve = toric.misaligned_cylinder(corneal_d, lens_d, TURNS_DEG)
    return Turned(corneal_d, lens_d, turn_deg, left, curve)


def _build_turned():
    figure = Figure(figsize=(7.0, 3.6), dpi=style.DPI, layout="constrained")
    curve, plane = figure.subplots(1, 2, width_ratios=(1.25, 1.0))
    curve.set(
        xlim=(0, 90),
        ylim=(0, 6.2),
        xticks=range(0, 91, 15),
        xlabel="lens turned by, °",
        ylabel="cylinder that remains, D",
    )
    plane.set(xlim=(-6.5, 3.6), ylim=(-3.9, 4.3), aspect="equal", xticks=[], yticks=[])
    plane.set_title("at twice the angle")
    for spine in plane.spines.values():
        spine.set_visible(False)
    plane.axhline(0, color=style.GREY, linewidth=0.6)
    plane.axvline(0, color=style.GREY, linewidth=0.6)
    plane.text(-6.3, 0.35, "90", color=style.GREY, va="center")
    plane.text(3.4, 0.35, "180", color=style.GREY, ha="right", va="center")
    for y, colour, words in (
        (4.0, style.BLUE, "cornea"),
        (-3.0, "#8a5f00", "taken by the lens"),
        (-3.7, "black", "remains"),
    ):
        plane.text(-6.3, y, words, color=colour, va="center")
    artists = {}
    (artists["none"],) = curve.plot([], [], ":", color=style.BLUE)
    (artists["chord"],) = curve.plot([], [], color=style.GREY, linewidth=1.2, dashes=(4, 3))
    (artists["remaining"],) = curve.plot([], [], color="black")
    (artists["here"],) = curve.plot([], [], "o", color=style.VERMILION, markersize=9, clip_on=False)
    artists["here"].set_in_layout(False)
    artists["none text"] = curve.text(88, 0, "", color=style.BLUE, ha="right", va="top")
    artists["here text"] = curve.text(2, 5.9, "", va="center", weight="bold")
    artists["here text"].set_color(style.VERMILION)
    artists["cornea"] = _arrow(plane, style.BLUE, width=7)
    artists["lens"] = _arrow(plane, style.ORANGE, "--")
    artists["left"] = _arrow(plane, "black", width=2)
    return figure, artists


def _move_turned(artists, seen):
    artists["none"].set_data([0, 90], [seen.corneal_d] * 2)
    artists["none text"].set_position((88, seen.corneal_d - 0.08))
    artists["none text"].set_text("no toric lens")
    artists["chord"].set_data([0, 30], [0, seen.corneal_d])
    artists["remaining"].set_data(TURNS_DEG, seen.remaining_d)
    artists["here"].set_data([seen.turn_deg], [seen.size_d])
    artists["here text"].set_text(f"{degrees(seen.turn_deg)}: {seen.size_d:.2f} D remain")
    tip = np.array([-seen.corneal_d, 0.0])
    end = np.array(toric.double_angle(seen.remaining))
    artists["cornea"].set_positions((0, 0), tip)
    artists["lens"].set_positions(tip, end)
    artists["left"].set_positions((0, 0), end)
    artists["left"].set_visible(bool(np.hypot(*end) > 0.02))


def _say_turned(seen):
    share = 100.0 * seen.size_d / seen.corneal_d
    if share < 99.5:
        verdict = f"{share:.0f} % of what the cornea has"
    elif share < 100.5:
        verdict = "as much as with no toric lens"
    else:
        verdict = f"{share:.0f} %, more than with no toric lens"
    return (
        f"Cornea {seen.corneal_d:.2f} D steep at 90, lens {seen.lens_d:.2f} D turned by "
        f"{degrees(seen.turn_deg)}: {in_words(seen.remaining)} remain, {verdict}. The spherical "
        "equivalent stays as it was."
    )


def _describe_turned(seen):
    return (
        "Curve of the cylinder that remains against the turn of the lens; a dashed chord of 3.3 % "
        f"per degree to 30°; and the arrows at twice the angle. {_say_turned(seen)}"
    )


def turned_lens():
    """Return the demo: corneal cylinder, lens cylinder and turn against what remains."""
    return Demo(
        title="a toric lens that is turned",
        controls=(
            Slider("turn_deg", "Lens turned by, °", 0, 90, 1, 0, "°"),
            Slider("corneal_d", "Corneal astigmatism, D", 0.5, 3, 0.25, 2, "D"),
            Slider("lens_d", "Lens at the corneal plane, D", 0.5, 3, 0.25, 2, "D"),
        ),
        build=_build_turned,
        compute=turned,
        move=_move_turned,
        sentence=_say_turned,
        alt=_describe_turned,
    )


# --- a series of eyes ------------------------------------------------------------------------

EYES = 40


def _even_scatter(eyes, seed):
    """Points with mean zero, no correlation and a standard deviation of one each way."""
    points = np.random.default_rng(seed).normal(size=(eyes, 2))
    points -= points.mean(axis=0)
    return points @ np.linalg.inv(np.linalg.cholesky(np.cov(points.T))).T


SCATTER = _even_scatter(EYES, seed=9)


@dataclass(frozen=True)
class Series:
    """Astigmatism of a series of eyes at the double angle."""

    x_d: np.ndarray
    y_d: np.ndarray
    statistics: toric.DoubleAngleStatistics
    mean_size_d: float
    mean_outline: toric.Ellipse
    data_outline: toric.Ellipse

    @property
    def zero_is_outside(self):
        """Whether no astigmatism lies outside the outline of the mean."""
        size_d = float(np.hypot(*self.statistics.mean_xy_d))
        return bool(size_d > self.mean_outline.half_axes_d[0])


def series(centroid_d, steep_deg, scatter_d):
    """Return a series of invented eyes with a given centroid and scatter.

    Parameters
    ----------
    centroid_d : float
        Size of the centroid, D.
    steep_deg : float
        Its steep meridian, 0 to 180°.
    scatter_d : float
        Standard deviation either way, D.

    Returns
    -------
    Series

    Examples
    --------
    >>> round(series(0.3, 90.0, 0.4).statistics.centroid.cylinder_d, 6)
    0.3
    """
    middle = np.array(toric.double_angle(steep(centroid_d, steep_deg)))
    x_d, y_d = (middle + scatter_d * SCATTER).T
    found = toric.double_angle_statistics(toric.from_double_angle(x_d, y_d))
    return Series(
        x_d,
        y_d,
        found,
        float(np.hypot(x_d, y_d).mean()),
        found.ellipse_of_mean(points=61),
        found.ellipse_of_data(points=61),
    )


def _build_series():
    figure = Figure(figsize=(7.0, 4.0), dpi=style.DPI, layout="constrained")
    plane, sizes = figure.subplots(1, 2, width_ratios=(1.45, 1.0))
    rings(plane, 3.0, (0.5, 1.0, 1.5, 2.0))
    plane.set_title("astigmatism made by surgery")
    sizes.set(xlim=(0, 1.6), ylim=(-0.6, 1.6), yticks=(1, 0), xlabel="D", xticks=(0, 0.5, 1, 1.5))
    sizes.set_yticklabels(["mean of\nthe sizes", "centroid"])
    sizes.tick_params(axis="y", length=0)
    artists = {}
    (artists["eyes"],) = plane.plot([], [], "o", color=style.BLUE, markersize=5, alpha=0.8)
    (artists["data"],) = plane.plot([], [], color=style.GREY, linewidth=1.5, dashes=(4, 2))
    (artists["mean"],) = plane.plot([], [], color=style.VERMILION)
    (artists["centroid"],) = plane.plot([], [], "X", color=style.VERMILION, markersize=10)
    for name, y, colour in (("sizes", 1, style.BLUE), ("middle", 0, style.VERMILION)):
        (artists[f"{name} bar"],) = sizes.plot([], [], color=colour, linewidth=22)
        artists[f"{name} bar"].set_solid_capstyle("butt")
        artists[f"{name} text"] = sizes.text(0.03, y + 0.42, "", color=colour, va="center")
    return figure, artists


def _move_series(artists, seen):
    artists["eyes"].set_data(seen.x_d, seen.y_d)
    artists["data"].set_data(seen.data_outline.x_d, seen.data_outline.y_d)
    artists["mean"].set_data(seen.mean_outline.x_d, seen.mean_outline.y_d)
    artists["centroid"].set_data(*([value] for value in seen.statistics.mean_xy_d))
    centroid = seen.statistics.centroid
    artists["sizes bar"].set_data([0, seen.mean_size_d], [1, 1])
    artists["sizes text"].set_text(f"{seen.mean_size_d:.2f} D")
    artists["middle bar"].set_data([0, centroid.cylinder_d], [0, 0])
    artists["middle text"].set_text(in_words(centroid))


def _say_series(seen):
    where = (
        "lies outside the small outline: a mean effect"
        if seen.zero_is_outside
        else ("lies inside the small outline: no mean effect is shown")
    )
    return (
        f"{EYES} eyes: centroid {in_words(seen.statistics.centroid)}, mean of the sizes "
        f"{seen.mean_size_d:.2f} D. Zero {where}. The next eye falls within the dashed outline, "
        "19 times in 20."
    )


def _describe_series(seen):
    return (
        f"Double-angle plot of {EYES} eyes with their centroid, the outline of its confidence and "
        f"the outline of the eyes. {_say_series(seen)}"
    )


def series_of_eyes():
    """Return the demo: centroid and scatter of a series against what its plot says."""
    return Demo(
        title="a series of eyes at the double angle",
        controls=(
            Slider("centroid_d", "Centroid, D", 0, 1, 0.05, 0.1, "D"),
            Slider("steep_deg", "Steepened along, °", 5, 180, 5, 90, "°"),
            Slider("scatter_d", "Scatter of the eyes, D", 0.05, 0.6, 0.05, 0.4, "D"),
        ),
        build=_build_series,
        compute=series,
        move=_move_series,
        sentence=_say_series,
        alt=_describe_series,
    )


# --- worked examples -------------------------------------------------------------------------


def plan_steps(flat_d, steep_d, steep_deg, elp_mm):
    """Return the steps from keratometry to a toric lens, ready for a worked example.

    Parameters
    ----------
    flat_d, steep_d : float
        Keratometer readings, D.
    steep_deg : float
        Steep meridian, 90 or 180°.
    elp_mm : float
        Lens position, mm behind the cornea.

    Returns
    -------
    list of (str, str, float, str)

    Examples
    --------
    >>> steps = plan_steps(43.0, 44.25, 180, 5.2)
    >>> [round(value, 2) for _, _, value, _ in steps]
    [1.25, 1.25, 1.67, 1.44, 2.4, 2.25, 1.56, 0.11]
    """
    flat_deg = 90.0 if steep_deg == 180 else 180.0
    eye = Eye(23.5, flat_d, steep_d, k1_axis_deg=flat_deg)
    measured = toric.corneal_astigmatism(eye)
    x_d, _ = toric.double_angle(measured)
    total_x_d = 0.508 + 0.926 * x_d
    lens_ratio = toric.cylinder_ratio(eye, elp_mm)
    wanted_d = abs(total_x_d) * lens_ratio
    ordered_d = nearest_power(wanted_d, CYLINDER_STEP_D)
    at_cornea_d = ordered_d / lens_ratio
    return [
        ("the keratometer's astigmatism", "steep less flat", measured.cylinder_d, "D"),
        ("along the plot's x", "C · cos 2θ: minus with the rule", x_d, "D"),
        ("the whole cornea", "0.508 + 0.926 · x (Abulafia & Koch)", total_x_d, "D"),
        ("from cornea to lens", "ratio at this lens position", lens_ratio, ""),
        ("cylinder wanted at the lens", "size of the total · ratio", wanted_d, "D"),
        ("the nearest that is made", f"steps of {CYLINDER_STEP_D:.2f} D", ordered_d, "D"),
        ("what it does at the cornea", "ordered / ratio", at_cornea_d, "D"),
        ("what remains, well placed", "total − lens", abs(total_x_d) - at_cornea_d, "D"),
    ]


def after_turn_d(flat_d, steep_d, steep_deg, elp_mm, turn_deg):
    """Return the cylinder that the planned lens leaves when it lies turned.

    Parameters
    ----------
    flat_d, steep_d, steep_deg, elp_mm : float
        As for ``plan_steps``.
    turn_deg : float
        Turn of the lens, °.

    Returns
    -------
    float
        D.

    Examples
    --------
    >>> round(after_turn_d(43.0, 44.25, 180, 5.2, 10.0), 2)
    0.57
    """
    steps = plan_steps(flat_d, steep_d, steep_deg, elp_mm)
    total_d, at_cornea_d = abs(steps[2][2]), steps[6][2]
    return toric.misaligned_cylinder(total_d, at_cornea_d, turn_deg)
