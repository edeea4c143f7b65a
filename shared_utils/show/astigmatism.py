"""Figures on astigmatism."""

import numpy as np
from matplotlib.figure import Figure
from matplotlib.patches import Circle, Ellipse

from shared_utils.cases import astigmatism as cases
from shared_utils.show import style
from shared_utils.show.figure_with_alt import FigureWithAlt
from shared_utils.show.style import signed


def sphere_and_cylinder() -> FigureWithAlt:
    """Return the figure of a sphere and a cylinder that make one lens, as crosses of power.

    Returns
    -------
    FigureWithAlt
    """
    crosses = cases.compute_power_crosses()
    lens, meridians = crosses[-1].lens, crosses[-1].meridians_deg
    with style.applied():
        figure = Figure(figsize=(7.0, 2.0), dpi=style.DPI, layout="constrained")
        row = figure.subplots(1, 3)
        names = ("sphere", "cylinder", "the lens")
        for axes, cross, name in zip(row, crosses, names, strict=True):
            _draw_cross(axes, cross, name)
        for place, sign in ((1 / 3, "+"), (2 / 3, "=")):
            figure.text(place, 0.5, sign, ha="center", va="center", fontsize=20)
    along_d, across_d = crosses[-1].powers_d
    alt = (
        f"Three crosses of power. A sphere of {signed(lens.sphere_d)} in both meridians and a "
        f"cylinder with nothing along its axis {lens.axis_deg:.0f}° and {signed(lens.cylinder_d)} "
        f"across it make a lens of {signed(along_d)} along {meridians[0]:.0f}° and "
        f"{signed(across_d)} along {meridians[1]:.0f}°."
    )
    return FigureWithAlt(figure, alt)


def _draw_cross(axes, cross, name):
    axes.set(xlim=(-1.95, 1.95), ylim=(-1.55, 1.5), aspect="equal", xticks=[], yticks=[])
    axes.spines[:].set_visible(False)
    axes.add_patch(Circle((0, 0), 1.0, facecolor="#e4edf5", edgecolor=style.GREY))
    for meridian_deg, power_d, colour, dashes in zip(
        cross.meridians_deg,
        cross.powers_d,
        (style.BLUE, style.VERMILION),
        ("-", "--"),
        strict=True,
    ):
        line = cases.compute_line_ends(meridian_deg)
        (_, x), (_, y) = line
        axes.plot(*line, color=colour, linestyle=dashes, linewidth=3)
        axes.text(
            1.12 * x,
            1.12 * y,
            signed(power_d, ""),
            color=colour,
            ha="left" if x > 0 else "center",
            va="bottom",
            weight="bold",
        )
    axes.text(0, -1.4, name, ha="center", va="center")


def spots_between_the_lines() -> FigureWithAlt:
    """Return the figure of the light's cross-section from line to line.

    Returns
    -------
    FigureWithAlt
    """
    data = cases.compute_cross_sections()
    names = ("", "horizontal line", "circle of least confusion", "vertical line", "")
    from_retina_mm = data.from_retina_mm
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
        for n, (wide, high) in enumerate(zip(data.width_um, data.height_um, strict=True)):
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
        f"Cross-sections of the light of an eye with {data.eye.written()}, {data.pupil_mm:g}-mm "
        f"pupil: a horizontal line {abs(from_retina_mm[1]):.2f} mm in front of the retina, a "
        f"circle of {data.circle_um:.0f} µm on it, a vertical line "
        f"{from_retina_mm[3]:.2f} mm behind it, ellipses elsewhere."
    )
    return FigureWithAlt(figure, alt)


def lens_to_read(
    sphere_d: float = 0.50, cylinder_d: float = -1.50, axis_deg: float = 60
) -> FigureWithAlt:
    """Return the figure of a lens's power along every meridian, to be read.

    Parameters
    ----------
    sphere_d, cylinder_d : float
        Its greatest power, D, at most 1.5, and its minus cylinder, which leaves −2.5 or more.
    axis_deg : float
        Axis of that cylinder.

    Returns
    -------
    FigureWithAlt
    """
    powers = cases.compute_powers_around(sphere_d, cylinder_d, axis_deg)
    with style.applied():
        figure = Figure(figsize=(7.0, 3.6), dpi=style.DPI, layout="constrained")
        axes = figure.add_subplot()
        axes.plot(cases.MERIDIANS_DEG, powers.powers_d, color=style.BLUE)
        axes.set(
            xlim=(0, 180),
            ylim=(-2.75, 1.75),
            xlabel="meridian, degrees",
            ylabel="power along it, D",
        )
        style.ruled(axes.xaxis, 15)
        style.ruled(axes.yaxis, 0.5, digits=2)
    along_d = ", ".join(
        f"{signed(power_d)} along {meridian_deg}°"
        for meridian_deg, power_d in zip(powers.named_deg, powers.named_d, strict=True)
    )
    return FigureWithAlt(
        figure, f"A wave: the power of one lens along its meridians. It has {along_d}."
    )


def lines_to_read(
    front_d: float = -1.00, behind_d: float = 0.50, axis_deg: float = 180
) -> FigureWithAlt:
    """Return the figure of an eye's focal lines on a scale of refraction, to be read.

    Parameters
    ----------
    front_d, behind_d : float
        The sphere that brings each line onto the retina, D: that of the line in front of it, −2
        or more, and that of the line behind it, at most 1.
    axis_deg : float
        Axis of the eye's minus cylinder: 180, with the horizontal line in front, or 90.

    Returns
    -------
    FigureWithAlt
    """
    names = cases.compute_line_order(axis_deg)
    mean_d = cases.compute_circle_sphere(front_d, behind_d)
    long_d, high, thin_d, low = 0.46, 0.62, 0.045, 0.06  # of a line, as wide as high on paper
    sizes = {"horizontal": (long_d, low), "vertical": (thin_d, high), "": (long_d / 2, high / 2)}
    with style.applied():
        figure = Figure(figsize=(7.0, 2.8), dpi=style.DPI, layout="constrained")
        axes = figure.add_subplot()
        axes.set(
            xlim=(-2.6, 1.4),
            ylim=(-0.75, 1.05),
            yticks=[],
            xlabel="sphere that brings it onto the retina, D; light travels to the right",
        )
        style.ruled(axes.xaxis, 0.5, 0.25, digits=2)
        axes.spines["left"].set_visible(False)
        axes.axvline(0.0, ymax=0.8, color=style.GREY, linewidth=2.0)
        axes.text(0.0, 0.88, "retina", color=style.GREY, ha="center", va="center")
        for place_d, name in zip(
            (front_d, mean_d, behind_d), [names[0], "", names[1]], strict=True
        ):
            wide_d, tall = sizes[name]
            axes.plot([place_d, place_d], [-0.75, 0.0], color="black", lw=1.0, dashes=(3, 2))
            axes.add_patch(
                Ellipse((place_d, 0.0), wide_d, tall, fc=style.VERMILION, ec="black", zorder=3)
            )
            if name:
                axes.text(place_d, 0.52, f"{name} line", ha="center", va="center", bbox=style.PLAIN)
    return FigureWithAlt(
        figure,
        "The light of a distant star in an astigmatic eye, on a scale of the sphere that would "
        f"bring it onto the retina. A {names[0]} line lies in front of the retina, at "
        f"{signed(front_d)}; a {names[1]} line behind it, at {signed(behind_d)}; a circle halfway.",
    )


def arrow_to_read(size_d: float = 1.0, axis_deg: float = 75) -> FigureWithAlt:
    """Return the figure of a power vector's arrow in the plane of J0 and J45, to be read.

    Parameters
    ----------
    size_d : float
        Length of the arrow, D, at most 1.5.
    axis_deg : float
        Axis of the minus cylinder; the arrow points to twice that angle.

    Returns
    -------
    FigureWithAlt
    """
    vector = cases.compute_arrow(size_d, axis_deg)
    with style.applied():
        figure = Figure(figsize=(5.0, 4.8), dpi=style.DPI, layout="constrained")
        axes = figure.add_subplot()
        axes.set(
            xlim=(-2.05, 2.05),
            ylim=(-2.0, 2.0),
            aspect="equal",
            xticks=np.arange(-1.5, 1.6, 0.5),
            yticks=np.arange(-1.5, 1.6, 0.5),
            xlabel="J0, D",
            ylabel="J45, D",
        )
        for axis in (axes.xaxis, axes.yaxis):
            style.signed_ticks(axis, 1)
        for radius_d in (0.5, 1.0, 1.5):
            axes.add_patch(Circle((0, 0), radius_d, fill=False, ec="#bbbbbb", lw=0.8))
        for angle_deg in range(0, 360, 30):
            x, y = np.cos(np.radians(angle_deg)), np.sin(np.radians(angle_deg))
            axes.plot([0, 1.5 * x], [0, 1.5 * y], color="#bbbbbb", linewidth=0.8)
            axes.text(1.76 * x, 1.76 * y, f"{angle_deg}°", ha="center", va="center")
        axes.annotate(
            "",
            xy=(vector.j0_d, vector.j45_d),
            xytext=(0, 0),
            arrowprops={
                "arrowstyle": "-|>,head_width=0.35,head_length=0.6",
                "color": style.BLUE,
                "linewidth": 2.5,
                "shrinkA": 0,
                "shrinkB": 0,
            },
        )
    return FigureWithAlt(
        figure,
        f"The plane of J0 and J45 with an arrow from its middle, {size_d:.2f} D long. Counted "
        f"from J0 towards J45 it points to {2 * axis_deg % 360:.0f}°.",
    )
