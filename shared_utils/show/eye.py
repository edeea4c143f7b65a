"""Figures on the eye: where model eyes have their points, and what a millimetre costs."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from matplotlib.figure import Figure

from shared_utils.cases import eye as cases
from shared_utils.show import style
from shared_utils.show.figure_with_alt import FigureWithAlt

if TYPE_CHECKING:
    from collections.abc import Sequence

ROWS = (
    ("gullstrand_exact", "Gullstrand, 6 surfaces"),
    ("liou_brennan", "Liou–Brennan, lens with a gradient"),
    ("le_grand", "Le Grand, 4 surfaces"),
    ("gullstrand_emsley", "Gullstrand–Emsley, 3 surfaces"),
    ("emsley_reduced", "reduced eye, 1 surface"),
)
MARKERS = (("F", style.GREY), ("P", style.BLUE), ("N", style.ORANGE), ("F′", style.VERMILION))


def points_side_by_side() -> FigureWithAlt:
    """Return the figure of the cardinal points of five model eyes on one scale.

    Returns
    -------
    FigureWithAlt
    """
    found = cases.compute_cardinal_points([name for name, _ in ROWS])
    with style.applied():
        figure = Figure(figsize=(7.0, 3.8), dpi=style.DPI, layout="constrained")
        axes = figure.add_subplot()
        axes.set(
            xlim=(-18.5, 27.0),
            ylim=(len(ROWS) - 0.4, -1.3),
            yticks=[],
            xlabel="distance from the cornea, mm",
        )
        axes.spines["left"].set_visible(False)
        axes.axvline(0.0, color=style.GREY, linewidth=0.8, dashes=(4, 3))
        for row, ((_, label), points) in enumerate(zip(ROWS, found, strict=True)):
            axes.plot([-18.5, 27.0], [row, row], color="#dddddd", linewidth=0.8, zorder=0)
            places = (
                [points.front_focal_mm],
                points.principal_mm,
                points.nodal_mm,
                [points.back_focal_mm],
            )
            for (_, colour), place in zip(MARKERS, places, strict=True):
                axes.plot(place, [row] * len(place), "|", color=colour, markersize=15, mew=2.4)
            axes.text(-7.3, row - 0.4, label, ha="center", va="center", bbox=style.PLAIN)
            axes.text(16.0, row - 0.4, f"{points.power_d:.1f} D", ha="center", va="center")
        heads = (-15.6, 1.6, 7.1, 24.0)
        for (name, colour), x in zip(MARKERS, heads, strict=True):
            text = name if name in ("F", "F′") else f"{name} {name}′"
            axes.text(x, -1.0, text, color=colour, ha="center", va="center", weight="bold")
    return FigureWithAlt(figure, _points_in_words(found))


def _points_in_words(found):
    of_several = found[:-1]
    nodal = [points.nodal_mm[1] for points in of_several]
    focal = [points.back_focal_mm for points in of_several]
    powers = [points.power_d for points in found]
    return (
        "The cardinal points of five model eyes on one scale. Four with a lens agree: their second "
        f"nodal point lies {min(nodal):.1f} to {max(nodal):.1f} mm, their back focus "
        f"{min(focal):.1f} to {max(focal):.1f} mm behind the cornea. The reduced eye has both "
        f"principal points on its one surface, nodal points at {found[-1].nodal_mm[0]:.1f} mm and "
        f"its focus at {found[-1].back_focal_mm:.1f} mm. Powers run from {min(powers):.1f} to "
        f"{max(powers):.1f} D."
    )


def length_and_refraction() -> FigureWithAlt:
    """Return the figure of refraction against length, with the rule of 0.37 mm a dioptre.

    Returns
    -------
    FigureWithAlt
    """
    curves = cases.compute_length_curves()
    lengths_mm, normal_mm = cases.LENGTHS_MM, curves.normal_mm
    with style.applied():
        figure = Figure(figsize=(7.0, 3.6), dpi=style.DPI, layout="constrained")
        axes = figure.add_subplot()
        axes.set(
            xlim=(20.0, 32.0),
            ylim=(-23.0, 13.0),
            xlabel="length of the eye, mm",
            ylabel="refraction, D",
        )
        style.signed_ticks(axes.yaxis, 0)
        axes.axhline(0.0, color=style.GREY, linewidth=0.8)
        axes.plot(lengths_mm, curves.rule_d, color=style.GREY, linewidth=1.4, dashes=(2, 2))
        axes.plot(lengths_mm, curves.spectacle_d, color=style.BLUE)
        axes.plot(lengths_mm, curves.at_cornea_d, color=style.ORANGE)
        axes.plot([normal_mm], [0.0], "o", color="black", markersize=6)
        axes.text(24.1, 1.0, f"in focus at {normal_mm:.1f} mm", va="bottom")
        axes.text(29.4, -11.3, "at the cornea", va="bottom", ha="left")
        axes.text(25.2, -17.5, "in spectacles", color=style.BLUE, va="center", ha="left")
        axes.plot([28.0, 29.25], [-16.6, -13.9], color=style.BLUE, linewidth=0.9)
        axes.text(25.2, -21.2, "0.37 mm a dioptre", color=style.GREY, va="center", ha="left")
        axes.plot([29.1, 31.3], [-21.0, -20.4], color=style.GREY, linewidth=0.9)
    per_mm = curves.per_mm_d
    long_d = [style.signed(refraction_d) for refraction_d in curves.long_d]
    rule_at_30_d = style.signed(curves.long_by_rule_d)
    return FigureWithAlt(
        figure,
        "Refraction falls with the length of the eye, steeply in short eyes and gently in long "
        f"ones: at the cornea a millimetre is {per_mm[0]:.1f} D at 22 mm, {per_mm[1]:.1f} D at "
        f"{normal_mm:.1f} mm and {per_mm[2]:.1f} D at 30 mm. The straight rule of 0.37 mm a "
        f"dioptre leaves that curve in long eyes, yet stays near the refraction in spectacles: at "
        f"30 mm the eye has {long_d[0]} at the cornea and {long_d[1]} in spectacles; the rule says "
        f"{rule_at_30_d}.",
    )


def refraction_curve(
    lengths_mm: Sequence[float] | np.ndarray, refractions_d: Sequence[float] | np.ndarray
) -> FigureWithAlt:
    """Return the figure of one eye's refraction against its length, to be read off.

    Parameters
    ----------
    lengths_mm, refractions_d : sequence of float
        Lengths, mm, rising, and the refraction at the cornea at each, D.

    Returns
    -------
    FigureWithAlt
    """
    low, high = float(np.floor(min(lengths_mm))), float(np.ceil(max(lengths_mm)))
    with style.applied():
        figure = Figure(figsize=(7.0, 4.2), dpi=style.DPI, layout="constrained")
        axes = figure.add_subplot()
        axes.set(
            xlim=(low, high), xlabel="length of the eye, mm", ylabel="refraction at the cornea, D"
        )
        axes.plot(lengths_mm, refractions_d, color=style.BLUE)
        style.ruled(axes.xaxis, 0.5)
        style.ruled(axes.yaxis, 1.0, digits=0)
        axes.axhline(0.0, color=style.GREY, linewidth=1.0)
    read = ", ".join(
        f"{style.signed(np.interp(mm, lengths_mm, refractions_d), 'D', 1)} at {mm:.1f} mm"
        for mm in np.arange(low, high + 0.5, 0.5)
    )
    return FigureWithAlt(
        figure, f"A falling curve of the refraction against the length. It reads {read}."
    )


def one_eye_to_read(radius_mm: float = 7.8) -> FigureWithAlt:
    """Return the figure of a model eye's refraction against its length, to be read.

    Parameters
    ----------
    radius_mm : float
        Radius of its cornea, mm; 7.2 to 8.4.

    Returns
    -------
    FigureWithAlt
    """
    return refraction_curve(*cases.compute_refraction_curve(radius_mm))


def clear_range_to_read(far_cm: float = 60, near_cm: float = 20) -> FigureWithAlt:
    """Return the figure of the range that an eye sees clearly, as a bar to be read.

    Parameters
    ----------
    far_cm, near_cm : float
        Far and near point, cm in front of the cornea; far at most 110.

    Returns
    -------
    FigureWithAlt
    """
    with style.applied():
        figure = Figure(figsize=(7.0, 2.2), dpi=style.DPI, layout="constrained")
        axes = figure.add_subplot()
        axes.set(
            xlim=(-1, 111),
            ylim=(-1.0, 1.6),
            yticks=[],
            xlabel="distance in front of the cornea, cm",
        )
        style.ruled(axes.xaxis, 10, 2)
        axes.spines["left"].set_visible(False)
        axes.barh([0.0], [far_cm - near_cm], left=near_cm, height=0.9, color=style.BLUE)
        axes.text(
            (far_cm + near_cm) / 2, 1.05, "seen clearly", ha="center", va="center", bbox=style.PLAIN
        )
    return FigureWithAlt(
        figure,
        "A scale of distances in front of the cornea. A bar, what is seen clearly without glasses, "
        f"goes from {near_cm:.0f} cm to {far_cm:.0f} cm.",
    )
