"""Figures on astigmatism."""

import numpy as np
from matplotlib.figure import Figure
from matplotlib.patches import Circle, Ellipse

from shared_utils.optics.sphero_cylinder import SpheroCylinder, interval_of_sturm
from shared_utils.show import style
from shared_utils.show.shown import Shown
from shared_utils.show.style import signed

LENS = SpheroCylinder(-1.00, -2.00, 30)
STURM_EYE = SpheroCylinder(1.00, -2.00, 180)
STURM_PUPIL_MM = 4.0


def sphere_and_cylinder():
    """Return the figure of a sphere and a cylinder that make one lens, as crosses of power.

    Returns
    -------
    Shown
    """
    sphere = SpheroCylinder(LENS.sphere_d, 0.0, 180)
    cylinder = SpheroCylinder(0.0, LENS.cylinder_d, LENS.axis_deg)
    panels = ((sphere, "sphere"), (cylinder, "cylinder"), (LENS, "the lens"))
    meridians = LENS.axis_deg, LENS.transposed().axis_deg
    with style.applied():
        figure = Figure(figsize=(7.0, 2.0), dpi=style.DPI, layout="constrained")
        row = figure.subplots(1, 3)
        for axes, (lens, name) in zip(row, panels, strict=True):
            _draw_cross(axes, lens, name, meridians)
        for place, sign in ((1 / 3, "+"), (2 / 3, "=")):
            figure.text(place, 0.5, sign, ha="center", va="center", fontsize=20)
    along_d, across_d = (LENS.power_along(m) for m in meridians)
    alt = (
        f"Three crosses of power. A sphere of {signed(LENS.sphere_d)} in both meridians and a "
        f"cylinder with nothing along its axis {LENS.axis_deg:.0f}° and {signed(LENS.cylinder_d)} "
        f"across it make a lens of {signed(along_d)} along {meridians[0]:.0f}° and "
        f"{signed(across_d)} along {meridians[1]:.0f}°."
    )
    return Shown(figure, alt)


def _draw_cross(axes, lens, name, meridians):
    axes.set(xlim=(-1.95, 1.95), ylim=(-1.55, 1.5), aspect="equal", xticks=[], yticks=[])
    for spine in axes.spines.values():
        spine.set_visible(False)
    axes.add_patch(Circle((0, 0), 1.0, facecolor="#e4edf5", edgecolor=style.GREY))
    for meridian_deg, colour, dashes in zip(
        meridians, (style.BLUE, style.VERMILION), ("-", "--"), strict=True
    ):
        x, y = np.cos(np.radians(meridian_deg)), np.sin(np.radians(meridian_deg))
        axes.plot([-x, x], [-y, y], color=colour, linestyle=dashes, linewidth=3)
        axes.text(
            1.12 * x,
            1.12 * y,
            signed(lens.power_along(meridian_deg), ""),
            color=colour,
            ha="left" if x > 0 else "center",
            va="bottom",
            weight="bold",
        )
    axes.text(0, -1.4, name, ha="center", va="center")


def spots_between_the_lines():
    """Return the figure of the light's cross-section from line to line.

    Returns
    -------
    Shown
    """
    sturm = interval_of_sturm(STURM_EYE, STURM_PUPIL_MM)
    first, second = sturm.first_line_mm, sturm.second_line_mm
    places_mm = np.array(
        [first - sturm.interval_mm / 2, first, sturm.circle_mm, second, second + first / 60]
    )
    names = ("", "horizontal line", "circle of least confusion", "vertical line", "")
    # an eye of axis 180: the vertical meridian ends in the first, horizontal line
    wide_um = 1000.0 * STURM_PUPIL_MM * np.abs(1.0 - places_mm / second)
    high_um = 1000.0 * STURM_PUPIL_MM * np.abs(1.0 - places_mm / first)
    from_retina_mm = places_mm - sturm.retina_mm
    with style.applied():
        figure = Figure(figsize=(7.0, 2.5), dpi=style.DPI, layout="constrained")
        axes = figure.add_subplot()
        axes.set(
            xlim=(-0.35, 4.35),
            ylim=(-0.62, 0.62),
            aspect="equal",
            yticks=[],
            xticks=range(5),
            xlabel="mm behind the retina (negative: in front); spots enlarged",
        )
        axes.set_xticklabels([signed(place, "") for place in from_retina_mm])
        axes.spines["left"].set_visible(False)
        for n, (wide, high) in enumerate(zip(wide_um, high_um, strict=True)):
            axes.add_patch(
                Ellipse(
                    (n, 0),
                    max(wide, 5.0) / 330.0,
                    max(high, 5.0) / 330.0,
                    facecolor=style.VERMILION,
                    edgecolor="black",
                )
            )
            axes.text(n, 0.5, names[n].replace(" of ", "\nof "), ha="center", va="center")
    alt = (
        f"Cross-sections of the light of an eye with {STURM_EYE.written()}, {STURM_PUPIL_MM:g}-mm "
        f"pupil: a horizontal line {abs(from_retina_mm[1]):.2f} mm in front of the retina, a "
        f"circle of {sturm.circle_diameter_um:.0f} µm on it, a vertical line "
        f"{from_retina_mm[3]:.2f} mm behind it, ellipses elsewhere."
    )
    return Shown(figure, alt)


def lens_to_read():
    """Return the figure of a lens's power along every meridian, to be read.

    Returns
    -------
    Shown
    """
    lens = SpheroCylinder(0.50, -1.50, 60)
    meridians_deg = np.linspace(0.0, 180.0, 181)
    with style.applied():
        figure = Figure(figsize=(7.0, 3.2), dpi=style.DPI, layout="constrained")
        axes = figure.add_subplot()
        axes.plot(meridians_deg, lens.power_along(meridians_deg), color=style.BLUE)
        axes.set(
            xlim=(0, 180),
            ylim=(-1.75, 1.25),
            xticks=range(0, 181, 15),
            yticks=np.arange(-1.5, 1.1, 0.5),
            xlabel="meridian, degrees",
            ylabel="power along it, D",
        )
        axes.yaxis.set_major_formatter(lambda d, _: signed(d))
        axes.grid(color="#cccccc", linewidth=0.7)
    along_d = ", ".join(
        f"{signed(lens.power_along(meridian))} along {meridian}°" for meridian in (15, 60, 105, 150)
    )
    return Shown(figure, f"A wave: the power of one lens along its meridians. It has {along_d}.")
