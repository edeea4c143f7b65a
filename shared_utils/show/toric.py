"""Figures on toric lenses: the two surfaces of the cornea, and how a double-angle plot is read."""

import numpy as np
from matplotlib.figure import Figure
from matplotlib.patches import Circle

from shared_utils.optics.sphero_cylinder import SpheroCylinder
from shared_utils.optics.vergence import surface_power
from shared_utils.power.cornea import AQUEOUS_INDEX, STROMA_INDEX
from shared_utils.power.toric import double_angle, double_angle_statistics
from shared_utils.show import style
from shared_utils.show.shown import Shown
from shared_utils.show.style import signed

# an invented cornea: both surfaces steeper vertically; radii in mm along 180 and along 90
FRONT_MM = (7.85, 7.60)
BACK_MM = (6.65, 6.30)
NEIGHBOURS = SpheroCylinder(-0.5, 1.0, [15.0, 160.0, 180.0])


def rings(axes, reach_d, steps_d):
    """Draw the still parts of a double-angle plot: rings, and where the steep meridians lie.

    Parameters
    ----------
    axes : matplotlib.axes.Axes
    reach_d : float
        How far the plot reaches to each side, D.
    steps_d : sequence of float
        Rings to draw, D.
    """
    axes.set(
        xlim=(-reach_d, reach_d), ylim=(-reach_d, reach_d), aspect="equal", xticks=[], yticks=[]
    )
    for spine in axes.spines.values():
        spine.set_visible(False)
    edge = 0.9 * reach_d
    axes.plot([-edge, edge], [0, 0], color=style.GREY, linewidth=0.6)
    axes.plot([0, 0], [-edge, edge], color=style.GREY, linewidth=0.6)
    for step_d in steps_d:
        axes.add_patch(Circle((0, 0), step_d, fill=False, edgecolor="#bbbbbb", linewidth=1.0))
        if step_d == round(step_d):
            corner = 0.72 * step_d
            axes.text(corner, -corner, f"{step_d:g} D", color=style.GREY, ha="left", va="top")
    ends = ((-0.95, 0.07, "90"), (0.95, 0.07, "180"), (0.07, 0.96, "45"), (0.09, -0.96, "135"))
    for x, y, name in ends:
        axes.text(x * reach_d, y * reach_d, name, ha="center", va="center", weight="bold")


def front_and_back():
    """Return the figure of the two corneal surfaces, as crosses of power, and their sum.

    Returns
    -------
    Shown
    """
    front = np.array([surface_power(radius, 1.0, STROMA_INDEX) for radius in FRONT_MM])
    back = np.array([surface_power(radius, STROMA_INDEX, AQUEOUS_INDEX) for radius in BACK_MM])
    both = front + back
    panels = ((front, "front"), (back, "back"), (both, "both"))
    with style.applied():
        figure = Figure(figsize=(7.0, 2.1), dpi=style.DPI, layout="constrained")
        row = figure.subplots(1, 3)
        for axes, (powers, name) in zip(row, panels, strict=True):
            _draw_cross(axes, *powers, name)
        for place, sign in ((1 / 3, "+"), (2 / 3, "=")):
            figure.text(place, 0.55, sign, ha="center", va="center", fontsize=20)
    astigmatism = [vertical - horizontal for horizontal, vertical in (front, back, both)]
    alt = (
        "Crosses of power of the two surfaces of a cornea, both steep vertically. The front has "
        f"{astigmatism[0]:.2f} D more along 90 than along 180. The back is a minus surface and "
        f"takes {-astigmatism[1]:.2f} D more away along 90. Together {astigmatism[2]:.2f} D with "
        "the rule are left, less than the front alone shows."
    )
    return Shown(figure, alt)


def _draw_cross(axes, horizontal_d, vertical_d, name):
    axes.set(xlim=(-1.5, 2.9), ylim=(-1.95, 1.6), aspect="equal", xticks=[], yticks=[])
    for spine in axes.spines.values():
        spine.set_visible(False)
    axes.add_patch(Circle((0, 0), 1.0, facecolor="#e4edf5", edgecolor=style.GREY))
    axes.plot([0, 0], [-1, 1], color=style.BLUE, linewidth=3)
    axes.plot([-1, 1], [0, 0], color=style.VERMILION, linewidth=3, linestyle="--")
    axes.text(0, 1.12, signed(vertical_d, ""), color=style.BLUE, ha="center", va="bottom")
    axes.text(1.05, 0, signed(horizontal_d, ""), color=style.VERMILION, ha="left", va="center")
    axes.text(0, -1.35, name, ha="center", va="center")
    more_d = vertical_d - horizontal_d
    words = f"90 has {signed(more_d)}"
    axes.text(0, -1.75, words, ha="center", va="center", weight="bold")


def how_to_read():
    """Return the figure of three neighbours on a double-angle plot, and of their centroid.

    Returns
    -------
    Shown
    """
    statistics = double_angle_statistics(NEIGHBOURS)
    x_d, y_d = double_angle(NEIGHBOURS)
    centroid = statistics.centroid
    with style.applied():
        figure = Figure(figsize=(7.0, 3.7), dpi=style.DPI, layout="constrained")
        axes = figure.add_subplot()
        rings(axes, 1.8, (0.5, 1.0))
        axes.set_xlim(-3.1, 3.1)
        axes.text(-1.95, 0, "with\nthe rule", ha="right", va="center", color=style.GREY)
        axes.text(1.95, 0, "against\nthe rule", ha="left", va="center", color=style.GREY)
        axes.plot(x_d, y_d, "o", color=style.BLUE, markersize=8)
        for x, y, axis in zip(x_d, y_d, NEIGHBOURS.axis_deg, strict=True):
            axes.text(x + 0.06, y + 0.1, f"{axis:.0f}", color=style.BLUE, ha="left", va="center")
        axes.plot(*statistics.mean_xy_d, "X", color=style.VERMILION, markersize=11, zorder=5)
        axes.annotate(
            f"centroid {centroid.cylinder_d:.2f} D at {centroid.axis_deg:.0f}",
            xy=statistics.mean_xy_d,
            xytext=(-1.0, 0.75),
            color=style.VERMILION,
            ha="center",
            va="center",
            weight="bold",
            bbox={"facecolor": "white", "edgecolor": "none", "pad": 1.5},
            arrowprops={"arrowstyle": "->", "color": style.VERMILION, "shrinkB": 6},
        )
    named = ", ".join(f"{axis:.0f}" for axis in NEIGHBOURS.axis_deg)
    alt = (
        "Double-angle plot: 180 lies on the right, 90 on the left, 45 on top. Three eyes of 1.00 "
        f"D at {named} lie close together on the right; their centroid is "
        f"{centroid.cylinder_d:.2f} D at {centroid.axis_deg:.0f}, not at the mean of the numbers, "
        f"{np.mean(NEIGHBOURS.axis_deg):.0f}."
    )
    return Shown(figure, alt)


def eye_to_read():
    """Return the figure of one eye on a double-angle plot, to be read.

    Returns
    -------
    Shown
    """
    x_d, y_d = double_angle(SpheroCylinder(-0.5, 1.0, 60.0))
    with style.applied():
        figure = Figure(figsize=(7.0, 4.0), dpi=style.DPI, layout="constrained")
        axes = figure.add_subplot()
        rings(axes, 2.4, (0.5, 1.0, 1.5, 2.0))
        for place_deg in (30, 60, 120, 150):
            place = np.radians(place_deg)
            reach = 2.16 * np.array([np.cos(place), np.sin(place)])
            axes.plot(*np.outer(reach, [-1, 1]), color="#bbbbbb", linewidth=0.6)
        axes.plot([x_d], [y_d], "o", color=style.BLUE, markersize=10)
    alt = (
        "Double-angle plot of steep meridians: 180 lies on the right, 45 on top, 90 on the left, "
        "135 below; rings every 0.50 D. One eye lies on the second ring, a third of the way round "
        "from the top to the left."
    )
    return Shown(figure, alt)
