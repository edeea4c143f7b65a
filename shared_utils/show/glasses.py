"""Figures on glasses: what they do to size, and where the prism beside the centre points."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from matplotlib.figure import Figure
from matplotlib.patches import FancyBboxPatch, Polygon

from shared_utils.cases import glasses as cases
from shared_utils.show import figure_parts, style
from shared_utils.show.figure_with_alt import FigureWithAlt

if TYPE_CHECKING:
    from collections.abc import Sequence


def size_change() -> FigureWithAlt:
    """Return the figure of image size against refraction, in glasses and in a contact lens.

    Returns
    -------
    FigureWithAlt
    """
    curves = cases.compute_size_curves()
    glasses, contact = curves.glasses_percent, curves.contact_lens_percent
    at_10_d = curves.at_10_d_percent
    with style.applied():
        figure = Figure(figsize=(7.0, 3.5), dpi=style.DPI, layout="constrained")
        axes = figure.add_subplot()
        axes.set(
            xlim=(-12, 12),
            ylim=(-18, 24),
            xlabel="refraction at 12 mm, D",
            ylabel="change of image size, %",
        )
        for axis in (axes.xaxis, axes.yaxis):
            style.signed_ticks(axis, 0)
        axes.axhspan(-cases.FUSED_PERCENT, cases.FUSED_PERCENT, color="#e9e9e9")
        axes.axhline(0.0, color=style.GREY, linewidth=0.8)
        axes.axvline(0.0, color=style.GREY, linewidth=0.8)
        axes.plot(cases.POWERS_D, glasses, color=style.BLUE)
        axes.plot(cases.POWERS_D, contact, color=style.ORANGE, dashes=(6, 2))
        axes.text(4.6, 11.0, "glasses", color=style.BLUE, ha="right", va="center")
        axes.text(9.0, -2.2, "contact lens", ha="center", va="center")
        axes.text(-6.2, 2.6, "one eye only: most fuse this", ha="center", va="center")
        figure_parts.number_at_arrow(axes, _percent(at_10_d), (10.0, at_10_d), (6.2, 21.0))
    return FigureWithAlt(
        figure,
        "Glasses make the image smaller in myopia and larger in hyperopia, about 1.5 % a dioptre: "
        f"{_percent(glasses[0])} at −12 D, {_percent(at_10_d)} at +10 D and "
        f"{_percent(glasses[-1])} at +12 D. A contact lens stays within {_percent(contact[0])} to "
        f"{_percent(contact[-1])}, inside the grey band that most people fuse when only one eye "
        "wears it.",
    )


def _percent(value):
    return style.signed(value, "%", 1)


def base_of_the_prism() -> FigureWithAlt:
    """Return the figure of a plus and a minus lens in section, looked through below the centre.

    Returns
    -------
    FigureWithAlt
    """
    gaze_mm, power_d = 8.0, 5.0
    data = cases.compute_gaze_below_centres(power_d, -power_d, gaze_mm)
    found = [data.right_prism, data.left_prism]
    with style.applied():
        figure = Figure(figsize=(7.0, 3.3), dpi=style.DPI, layout="constrained")
        for axes, sign, prism in zip(figure.subplots(1, 2), (1, -1), found, strict=True):
            _draw_section(axes, sign * power_d, prism)
    return FigureWithAlt(
        figure,
        f"Two lenses in section, looked through {gaze_mm:.0f} mm below the centre. The plus lens "
        f"of {style.signed(power_d)} is thickest in the middle: a prism of {found[0]:.1f} Δ with "
        "its base up, and the image moves down. The minus lens is thickest at the edge: "
        f"{-found[1]:.1f} Δ base down, and the image moves up.",
    )


def _draw_section(axes, power_d, prism):
    plus = power_d > 0
    axes.set(xlim=(-11.5, 11.5), ylim=(-19.0, 19.0), xticks=[], yticks=[])
    axes.spines[:].set_visible(False)
    heights = np.linspace(-14.0, 14.0, 41)
    bulge = heights**2 / 196.0
    half = (1.9 - 1.6 * bulge) if plus else (0.3 + 1.6 * bulge)
    outline = np.column_stack([np.append(half, -half[::-1]), np.append(heights, heights[::-1])])
    axes.add_patch(Polygon(outline, fc="#b9cfe4", ec="black"))
    axes.plot([-11.5, 11.5], [0, 0], color=style.GREY, linewidth=0.8, dashes=(4, 3))
    # light from the page on the left to the eye on the right, bent towards the base
    bend = 0.35 if plus else -0.35
    axes.plot([-10.5, 0.0, 8.0], [-8.0, -8.0, -8.0 + 8.0 * bend], color=style.ORANGE)
    axes.plot([-10.5, 0.0], [-8.0 - 10.5 * bend, -8.0], color=style.ORANGE, dashes=(3, 3))
    axes.plot([-10.5], [-8.0], "o", color="black", markersize=7)
    axes.plot([-10.5], [-8.0 - 10.5 * bend], "o", mfc="white", mec=style.VERMILION, markersize=8)
    axes.text(-9.6, -6.9 if plus else -9.4, "page", va="bottom" if plus else "top")
    axes.text(
        -9.6,
        -8.0 - 10.5 * bend - (1.2 if plus else -1.2),
        "seen here",
        color=style.VERMILION,
        va="top" if plus else "bottom",
    )
    axes.text(8.3, -8.0 + 8.0 * bend, "eye", ha="left", va="center")
    where = "up" if prism > 0 else "down"
    axes.text(
        0,
        17.5,
        f"{style.signed(power_d)}: base {where}, {abs(prism):.1f} Δ",
        ha="center",
        va="center",
        weight="bold",
    )
    axes.text(3.0, 1.0, "optical centre", va="bottom")


def defocus_against_distance(
    distances_cm: Sequence[float], defocus_d: Sequence[float]
) -> FigureWithAlt:
    """Return the figure of the defocus that is left at each distance, to be read off.

    Parameters
    ----------
    distances_cm, defocus_d : sequence of float
        Distances from the glasses, cm, rising by whole steps; defocus left at each, D, not
        negative.

    Returns
    -------
    FigureWithAlt
    """
    low, high = float(min(distances_cm)), float(max(distances_cm))
    with style.applied():
        figure = Figure(figsize=(7.0, 4.2), dpi=style.DPI, layout="constrained")
        axes = figure.add_subplot()
        axes.set(
            xlim=(low, high),
            ylim=(0.0, 1.5),
            xlabel="distance from the glasses, cm",
            ylabel="defocus left, D",
        )
        axes.plot(distances_cm, defocus_d, color=style.BLUE)
        style.ruled(axes.xaxis, 10, 2)
        style.ruled(axes.yaxis, 0.25)
    read = ", ".join(
        f"{np.interp(cm, distances_cm, defocus_d):.2f} D at {cm:.0f} cm"
        for cm in np.arange(low, high + 1.0, 4.0)
    )
    return FigureWithAlt(figure, f"A curve of defocus with one lowest place. It reads {read}.")


def sizes_to_read(vertex_mm: float = 12.0) -> FigureWithAlt:
    """Return the figure of image size behind minus lenses at one distance, to be read.

    Parameters
    ----------
    vertex_mm : float
        How far the lenses stand in front of the cornea, mm; at most 20.

    Returns
    -------
    FigureWithAlt
    """
    sizes = cases.compute_minus_lens_sizes(vertex_mm)
    with style.applied():
        figure = Figure(figsize=(7.0, 4.2), dpi=style.DPI, layout="constrained")
        axes = figure.add_subplot()
        axes.set(
            xlim=(-12.2, 0.2),
            ylim=(-22.0, 1.0),
            xlabel="power of the lens, D",
            ylabel="change of image size, %",
        )
        for axis in (axes.xaxis, axes.yaxis):
            style.ruled(axis, 2, 1, digits=0)
        axes.plot(sizes.powers_d, sizes.percent, color=style.BLUE)
    read = ", ".join(
        f"{_percent(percent)} at −{-d} D"
        for d, percent in zip(sizes.even_d, sizes.even_percent, strict=True)
    )
    return FigureWithAlt(
        figure,
        "A curve of the change of image size against the power of minus lenses, all at one "
        f"distance. It reads {read} and nothing at 0 D.",
    )


LOOKED_AT_MM = -6.0  # where the eyes look through, from the middle of the frame


def centres_to_read(right_mm: float = 8, left_mm: float = 3) -> FigureWithAlt:
    """Return the figure of a pair of glasses from the front with its centres, to be read.

    Parameters
    ----------
    right_mm, left_mm : float
        How far the optical centre of each lens lies higher than the place looked through, mm;
        at most 14.

    Returns
    -------
    FigureWithAlt
    """
    # from the front the wearer's right lens stands on the left, and both eyes turn to the nose
    lenses = (("right lens", -24.0, 3.0, right_mm), ("left lens", 24.0, -3.0, left_mm))
    with style.applied():
        figure = Figure(figsize=(7.0, 3.2), dpi=style.DPI, layout="constrained")
        axes = figure.add_subplot()
        axes.set(
            xlim=(-46, 46),
            ylim=(-17.5, 22.5),
            aspect="equal",
            xticks=[],
            yticks=range(-12, 13, 4),
            ylabel="mm from the middle",
        )
        style.ruled(axes.yaxis, minor=1, digits=0)
        axes.spines["bottom"].set_visible(False)
        for name, middle, to_nose, higher_mm in lenses:
            frame = FancyBboxPatch(
                (middle - 14, -10),
                28,
                20,
                boxstyle="round,pad=6",
                zorder=3,
                facecolor="none",
                edgecolor="black",
                linewidth=1.5,
            )
            axes.add_patch(frame)
            centre_mm = LOOKED_AT_MM + higher_mm
            axes.plot([middle - to_nose], [centre_mm], "+", color="black", ms=16, mew=2.2)
            axes.plot([middle + to_nose], [LOOKED_AT_MM], "o", color=style.VERMILION, ms=9)
            axes.text(middle, 20.0, name, ha="center", va="center")
        axes.plot([-4, 4], [6, 6], color="black", linewidth=1.5)
    heights = ". ".join(
        f"{name.capitalize()}: optical centre at {style.signed(LOOKED_AT_MM + higher_mm, 'mm', 0)}"
        f", the eye looks through {style.signed(LOOKED_AT_MM, 'mm', 0)}"
        for name, _, _, higher_mm in lenses
    )
    return FigureWithAlt(
        figure,
        f"Glasses from the front, with a scale of heights from the middle of the frame. {heights}.",
    )
