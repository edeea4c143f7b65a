"""Figures on toric lenses: the two corneal surfaces, double-angle plots, a lens on a dial."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from matplotlib.figure import Figure
from matplotlib.patches import Circle

from shared_utils.cases import toric as cases
from shared_utils.show import style
from shared_utils.show.figure_parts import noted_figure
from shared_utils.show.figure_with_alt import FigureWithAlt
from shared_utils.show.style import signed

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matplotlib.axes import Axes

_PLOT_IN_WORDS = (
    "Double-angle plot of steep meridians: 180 lies on the right, 45 on top, 90 on the left, 135 "
    "at the bottom; rings every 0.50 D."
)


def rings(
    axes: Axes,
    reach_d: float,
    steps_d: Sequence[float],
    named_at: tuple[float, float] = (0.72, -0.72),
) -> None:
    """Draw the still parts of a double-angle plot: rings, and where the steep meridians lie.

    Parameters
    ----------
    axes : matplotlib.axes.Axes
    reach_d : float
        How far the plot reaches to each side, D.
    steps_d : sequence of float
        Rings to draw, D.
    named_at : (float, float)
        Where the size of a ring of whole dioptres stands, in parts of its radius.
    """
    axes.set(
        xlim=(-reach_d, reach_d), ylim=(-reach_d, reach_d), aspect="equal", xticks=[], yticks=[]
    )
    axes.spines[:].set_visible(False)
    edge = 0.9 * reach_d
    axes.plot([-edge, edge], [0, 0], color=style.GREY, linewidth=0.6)
    axes.plot([0, 0], [-edge, edge], color=style.GREY, linewidth=0.6)
    for step_d in steps_d:
        axes.add_patch(Circle((0, 0), step_d, fill=False, edgecolor="#bbbbbb", linewidth=1.0))
        if step_d == round(step_d):
            x, y = step_d * np.array(named_at)
            axes.text(x, y, f"{step_d:g} D", color=style.GREY, ha="left", va="top")
    ends = ((-0.95, 0.07, "90"), (0.95, 0.07, "180"), (0.07, 0.96, "45"), (0.09, -0.96, "135"))
    for x, y, name in ends:
        axes.text(x * reach_d, y * reach_d, name, ha="center", va="center", weight="bold")


def front_and_back() -> FigureWithAlt:
    """Return the figure of the two corneal surfaces, as crosses of power, and their sum.

    Returns
    -------
    FigureWithAlt
    """
    data = cases.compute_surfaces()
    panels = ((data.front_d, "front"), (data.back_d, "back"), (data.both_d, "both"))
    with style.applied():
        figure = Figure(figsize=(7.0, 2.1), dpi=style.DPI, layout="constrained")
        row = figure.subplots(1, 3)
        for axes, ((horizontal_d, vertical_d), name) in zip(row, panels, strict=True):
            _draw_cross(axes, horizontal_d, vertical_d, name)
        for place, sign in ((1 / 3, "+"), (2 / 3, "=")):
            figure.text(place, 0.55, sign, ha="center", va="center", fontsize=20)
    astigmatism = [vertical - horizontal for (horizontal, vertical), _ in panels]
    alt = (
        "Crosses of power of the two surfaces of a cornea, both steep vertically. The front has "
        f"{astigmatism[0]:.2f} D more along 90 than along 180. The back is a minus surface and "
        f"takes {-astigmatism[1]:.2f} D more away along 90. Together {astigmatism[2]:.2f} D with "
        "the rule are left, less than the front alone shows."
    )
    return FigureWithAlt(figure, alt)


def _draw_cross(axes, horizontal_d, vertical_d, name):
    axes.set(xlim=(-1.5, 2.9), ylim=(-1.95, 1.6), aspect="equal", xticks=[], yticks=[])
    axes.spines[:].set_visible(False)
    axes.add_patch(Circle((0, 0), 1.0, facecolor="#e4edf5", edgecolor=style.GREY))
    axes.plot([0, 0], [-1, 1], color=style.BLUE, linewidth=3)
    axes.plot([-1, 1], [0, 0], color=style.VERMILION, linewidth=3, linestyle="--")
    axes.text(0, 1.12, signed(vertical_d, ""), color=style.BLUE, ha="center", va="bottom")
    axes.text(1.05, 0, signed(horizontal_d, ""), color=style.VERMILION, ha="left", va="center")
    axes.text(0, -1.35, name, ha="center", va="center")
    more_d = vertical_d - horizontal_d
    words = f"90 has {signed(more_d)}"
    axes.text(0, -1.75, words, ha="center", va="center", weight="bold")


def how_to_read() -> FigureWithAlt:
    """Return the figure of three neighbours on a double-angle plot, and of their centroid.

    Returns
    -------
    FigureWithAlt
    """
    data = cases.compute_neighbours()
    centroid = data.centroid
    with style.applied():
        figure = Figure(figsize=(7.0, 3.7), dpi=style.DPI, layout="constrained")
        axes = figure.add_subplot()
        rings(axes, 1.8, (0.5, 1.0))
        axes.set_xlim(-3.1, 3.1)
        axes.text(-1.95, 0, "with\nthe rule", ha="right", va="center", color=style.GREY)
        axes.text(1.95, 0, "against\nthe rule", ha="left", va="center", color=style.GREY)
        axes.plot(data.x_d, data.y_d, "o", color=style.BLUE, markersize=8)
        for x, y, axis in zip(data.x_d, data.y_d, data.axis_deg, strict=True):
            axes.text(x + 0.06, y + 0.1, f"{axis:.0f}", color=style.BLUE, ha="left", va="center")
        axes.plot(*data.mean_xy_d, "X", color=style.VERMILION, markersize=11, zorder=5)
        axes.annotate(
            f"centroid {centroid.cylinder_d:.2f} D at {centroid.axis_deg:.0f}",
            xy=tuple(data.mean_xy_d),
            xytext=(-1.0, 0.75),
            color=style.VERMILION,
            ha="center",
            va="center",
            weight="bold",
            bbox=style.PLAIN,
            arrowprops={"arrowstyle": "->", "color": style.VERMILION, "shrinkB": 6},
        )
    named = ", ".join(f"{axis:.0f}" for axis in data.axis_deg)
    alt = (
        "Double-angle plot: 180 lies on the right, 90 on the left, 45 on top. Three eyes of 1.00 "
        f"D at {named} lie close together on the right; their centroid is "
        f"{centroid.cylinder_d:.2f} D at {centroid.axis_deg:.0f}, not at the mean of the numbers, "
        f"{data.mean_axis_deg:.0f}."
    )
    return FigureWithAlt(figure, alt)


def _plot_to_read():
    """Return a figure and its axes: a double-angle plot with rings and spokes to read by."""
    figure = noted_figure(400, "Rings every 0.50 D, spokes every 20° of the plot.")
    axes = figure.add_subplot()
    rings(axes, 2.4, (0.5, 1.0, 1.5, 2.0), named_at=(1.02, -0.02))
    for place_deg in range(20, 180, 20):
        reach = 2.16 * cases.direction(place_deg)
        axes.plot(*np.outer(reach, [-1, 1]), color="#bbbbbb", linewidth=0.6)
    return figure, axes


def _place_in_words(size_d, meridian_deg):
    """Where a point lies on the plot, not which astigmatism it is."""
    return (
        f"{2 * meridian_deg:.0f}° counter-clockwise from the right, {size_d:.2f} D from the middle"
    )


def eye_to_read(size_d: float = 1.0, meridian_deg: float = 60) -> FigureWithAlt:
    """Return the figure of one eye on a double-angle plot, to be read.

    Parameters
    ----------
    size_d : float
        Corneal astigmatism, at most 2 D.
    meridian_deg : float
        Where it is steep, 0 to 180°.

    Returns
    -------
    FigureWithAlt
    """
    with style.applied():
        figure, axes = _plot_to_read()
        axes.plot(
            *cases.double_angle_point(size_d, meridian_deg), "o", color=style.BLUE, markersize=10
        )
    alt = f"{_PLOT_IN_WORDS} One eye lies {_place_in_words(size_d, meridian_deg)}."
    return FigureWithAlt(figure, alt)


def before_and_after_to_read(
    before_d: float = 1.25, before_deg: float = 150, after_d: float = 0.5, after_deg: float = 60
) -> FigureWithAlt:
    """Return the figure of a cornea before and after surgery on a double-angle plot, to be read.

    Parameters
    ----------
    before_d, after_d : float
        Corneal astigmatism, at most 2 D.
    before_deg, after_deg : float
        Where it is steep, 0 to 180°.

    Returns
    -------
    FigureWithAlt
    """
    points = (("before", before_d, before_deg, "s"), ("after", after_d, after_deg, "o"))
    with style.applied():
        figure, axes = _plot_to_read()
        for (name, size_d, meridian_deg, marker), colour in zip(
            points, (style.VERMILION, style.BLUE), strict=True
        ):
            x_d, y_d = cases.double_angle_point(size_d, meridian_deg)
            axes.plot([x_d], [y_d], marker, color=colour, markersize=10, zorder=5)
            axes.annotate(
                name,
                xy=(x_d, y_d),
                xytext=(12 if x_d >= 0 else -12, 12 if y_d >= 0 else -12),
                textcoords="offset points",
                color=colour,
                ha="left" if x_d >= 0 else "right",
                va="center",
                weight="bold",
                bbox=style.PLAIN,
            )
    places = "; ".join(
        f"{name} it lies {_place_in_words(size_d, meridian_deg)}"
        for name, size_d, meridian_deg, _ in points
    )
    return FigureWithAlt(figure, f"{_PLOT_IN_WORDS} One cornea: {places}.")


def marks_to_read(marks_deg: float = 95) -> FigureWithAlt:
    """Return the figure of a toric lens behind the pupil with a dial of degrees, to be read.

    Parameters
    ----------
    marks_deg : float
        Where the marks of the lens lie, 0 to 180°.

    Returns
    -------
    FigureWithAlt
    """
    with style.applied():
        figure = noted_figure(430, "Dial: a line every 5°, a long one every 10°.")
        axes = figure.add_subplot()
        axes.set(xlim=(-1.7, 1.7), ylim=(-1.2, 1.32), aspect="equal", xticks=[], yticks=[])
        axes.spines[:].set_visible(False)
        axes.add_patch(Circle((0, 0), 0.96, facecolor="#e4edf5", edgecolor=style.GREY))
        axes.add_patch(Circle((0, 0), 0.78, facecolor="#3a3a3a", edgecolor="none"))
        axes.add_patch(Circle((0, 0), 0.74, facecolor="none", edgecolor="#8a8a8a", linewidth=1.2))
        for degree in range(0, 360, 5):
            along = cases.direction(degree)
            ends = np.outer([0.96, 1.06 if degree % 10 == 0 else 1.01], along)
            axes.plot(*ends.T, color=style.BLACK, linewidth=1.2 if degree % 10 == 0 else 0.8)
            if degree <= 180 and degree % 10 == 0:
                x, y = 1.17 * along
                axes.text(x, y, str(degree), ha="center", va="center", fontsize=11)
        along = cases.direction(marks_deg)
        axes.plot(*np.outer([-0.94, 0.94], along).T, ":", color=style.ORANGE, linewidth=1.3)
        for place in (0.55, 0.62, 0.69):
            axes.plot(*np.outer([-place, place], along).T, "o", color=style.SKY, markersize=6)
    alt = (
        "An eye as the examiner sees it, with a dial of degrees, counter-clockwise from the right: "
        "90 on top, 180 on the left. The line through the marks of the lens meets the dial at "
        f"{marks_deg:.0f} and across from it."
    )
    return FigureWithAlt(figure, alt)
