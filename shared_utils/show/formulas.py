"""Figures on lens power: light through the eye, the gap at the lens, the lenses that exist."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from matplotlib.figure import Figure
from matplotlib.patches import Ellipse
from matplotlib.ticker import FixedLocator

from shared_utils.cases import formulas as cases
from shared_utils.optics.domain import require
from shared_utils.show import style
from shared_utils.show.figure_with_alt import FigureWithAlt
from shared_utils.show.style import signed

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

HEIGHT_MM = 3.2


def vergences_along_the_eye() -> FigureWithAlt:
    """Return the figure of light from the cornea over the lens to the retina, with its vergences.

    Returns
    -------
    FigureWithAlt
    """
    data = cases.compute_vergence_gap(cases.LENGTH_MM, cases.CORNEA_D, cases.ELP_MM)
    with style.applied():
        figure = Figure(figsize=(7.0, 3.4), dpi=style.DPI, layout="constrained")
        axes = figure.add_subplot()
        axes.set(xlim=(-4.5, 25.0), ylim=(-7.2, 7.4), xticks=[], yticks=[])
        axes.spines[:].set_visible(False)
        _draw_light(axes, data)
        for x, y, words, ha in (
            (0.2, 6.8, f"leaves the cornea: {signed(data.cornea_d)}", "left"),
            (5.5, 5.7, f"arrives at the lens: {signed(data.arrives_d)}", "left"),
            (5.5, 4.6, f"the retina needs: {signed(data.needed_d)}", "left"),
        ):
            axes.text(x, y, words, ha=ha, va="center")
        axes.text(
            14.2, 6.8, f"the lens adds {signed(data.lens_d)}", ha="left", va="center", weight="bold"
        )
        _measure(axes, 0.0, data.elp_mm, -4.6, f"position {data.elp_mm:.1f} mm", "left")
        _measure(axes, 0.0, data.length_mm, -6.6, f"length {data.length_mm:.1f} mm", "center")
    return FigureWithAlt(
        figure,
        f"Light through an eye. It leaves the cornea with {signed(data.cornea_d)}, arrives at the "
        f"lens {data.elp_mm:.1f} mm farther with {signed(data.arrives_d)}; the retina needs "
        f"{signed(data.needed_d)} there, so the lens adds {signed(data.lens_d)}.",
    )


def _draw_light(axes, data):
    at_lens = HEIGHT_MM * data.ray_height_at_lens
    for share in (-1.0, -0.5, 0.0, 0.5, 1.0):
        height = share * HEIGHT_MM
        axes.plot(
            [-4.3, 0.0, data.elp_mm, data.length_mm],
            [height, height, share * at_lens, 0.0],
            color=style.ORANGE,
            linewidth=1.4,
        )
    bend = np.linspace(-4.0, 4.0, 60)
    axes.plot(bend**2 / 16.0, bend, color=style.BLUE, linewidth=2.6)
    axes.plot(data.length_mm - bend**2 / 24.0, bend, color=style.GREY, linewidth=2.6)
    axes.add_patch(
        Ellipse((data.elp_mm, 0.0), 1.0, 6.0, facecolor="#b9cfe4", edgecolor="black", zorder=3)
    )


def _measure(axes, start, end, height, label, where):
    for place in (start, end):
        axes.plot([place] * 2, [-0.2, height - 0.4], color=style.GREY, linewidth=0.7)
    axes.annotate(
        "",
        xy=(end, height),
        xytext=(start, height),
        arrowprops={"arrowstyle": "<->", "shrinkA": 0, "shrinkB": 0, "linewidth": 1.3},
    )
    at = end + 0.4 if where == "left" else (start + end) / 2
    raised = height if where == "left" else height + 0.85
    axes.text(at, raised, label, ha=where, va="center")


def gap_to_read(length_mm: float = 23.5, k_d: float = 43.5) -> FigureWithAlt:
    """Return the curves of what arrives and what is needed behind a cornea, to be read.

    Parameters
    ----------
    length_mm : float
        Axial length, 22 to 26 mm.
    k_d : float
        Power of the cornea, 41 to 46 D.

    Returns
    -------
    FigureWithAlt
        The alt text gives both curves at the cornea and where a lens may lie.
    """
    places_mm = np.linspace(0.0, 7.0, 141)
    arrives_d, needed_d = cases.compute_vergence_curves(length_mm, k_d, places_mm)
    with style.applied():
        figure = Figure(figsize=(7.0, 4.6), dpi=style.DPI, layout="constrained")
        axes = figure.add_subplot()
        axes.set(
            xlim=(0, 7),
            ylim=(40, 90),
            xlabel="distance behind the cornea, mm",
            ylabel="vergence, D",
        )
        style.ruled(axes.xaxis, 0.5)
        style.ruled(axes.yaxis, 10, 2, digits=0)
        for curve_d, name, colour, over_d in (
            (needed_d, "needed for the retina", style.BLUE, 8.5),
            (arrives_d, "arrives from the cornea", style.VERMILION, 6.5),
        ):
            axes.plot(places_mm, curve_d, color=colour)
            axes.text(
                0.12,
                curve_d[0] + over_d,
                name,
                color=colour,
                ha="left",
                va="center",
                bbox=style.PLAIN,
            )
    named_mm = (0.0, 4.0, 4.5, 5.0, 5.5, 6.0, 6.5)
    arrives, needed = (
        ", ".join(
            f"{value_d:.0f} at {mm:g}" for value_d, mm in zip(values_d, named_mm, strict=True)
        )
        for values_d in cases.compute_vergence_curves(length_mm, k_d, named_mm)
    )
    return FigureWithAlt(
        figure,
        "Two rising curves of vergence, in D, against the distance behind the cornea, in mm. "
        f"Arrives from the cornea: {arrives}. Needed for the retina: {needed}.",
    )


def ladder(iol_power_d: ArrayLike, predicted_d: ArrayLike, target_d: float) -> FigureWithAlt:
    """Return the picture of the lenses that exist and the refraction each is predicted to leave.

    Parameters
    ----------
    iol_power_d : array
        Powers of the lenses, D, weakest first; at least 2.
    predicted_d : array
        Refraction that each is predicted to leave, −10 to 10 D.
    target_d : float
        Refraction that is wanted, D.

    Returns
    -------
    FigureWithAlt
    """
    power_d = require("iol_power_d", iol_power_d, -30.0, 60.0)
    left_d = require("predicted_d", predicted_d, -10.0, 10.0, hint="Myopia is negative.")
    if power_d.ndim != 1 or power_d.size < 2 or left_d.shape != power_d.shape:
        raise ValueError(
            f"iol_power_d has shape {power_d.shape} and predicted_d {left_d.shape}; give two or "
            "more lenses and one predicted refraction for each."
        )
    low, high = np.floor(left_d.min() * 4.0) / 4.0, np.ceil(left_d.max() * 4.0) / 4.0
    with style.applied():
        figure = Figure(figsize=(7.0, 3.8), dpi=style.DPI, layout="constrained")
        axes = figure.add_subplot()
        step = power_d[1] - power_d[0]
        axes.set(
            xlim=(power_d[0] - 0.6 * step, power_d[-1] + 0.6 * step),
            ylim=(low - 0.1, high + 0.1),
            xlabel="power of the lens, D",
            ylabel="predicted refraction, D",
        )
        axes.xaxis.set_major_locator(FixedLocator(power_d.tolist()))
        axes.xaxis.set_major_formatter(lambda power, _: f"{power:.1f}")
        style.ruled(axes.yaxis, 0.25, 0.05, digits=2)
        axes.axhline(target_d, color=style.VERMILION, linewidth=1.6)
        axes.text(
            power_d[-1] + 0.5 * step,
            target_d + 0.02,
            f"target {signed(target_d)}",
            color=style.VERMILION,
            ha="right",
            va="bottom",
            bbox={"facecolor": "white", "edgecolor": "none", "pad": 1.0, "alpha": 0.9},
        )
        axes.plot(power_d, left_d, "o-", color=style.BLUE, linewidth=1.0, markersize=8)
    each = "; ".join(
        f"{signed(p, digits=1)} leaves {signed(r)}" for p, r in zip(power_d, left_d, strict=True)
    )
    return FigureWithAlt(
        figure,
        f"Lenses and the refraction predicted, target {signed(target_d)}: {each}.",
        advises=True,
    )
