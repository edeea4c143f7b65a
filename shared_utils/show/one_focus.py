"""Figures on one focus: what it means that a part of the contrast passes."""

from functools import cache

import numpy as np
from matplotlib.patches import Circle

from shared_utils.cases import one_focus as cases
from shared_utils.cases.one_focus import contrast_in_white
from shared_utils.show import style
from shared_utils.show.figure_parts import noted_figure
from shared_utils.show.figure_with_alt import FigureWithAlt

_STROKES = ("20/120", "20/40", "20/20")


def contrast_left(pupil_mm: float = 3.0) -> FigureWithAlt:
    """Return the figure of lines of three finenesses: the object, and its image with some blur.

    Parameters
    ----------
    pupil_mm : float
        Pupil diameter, 0.5 to 9 mm.

    Returns
    -------
    FigureWithAlt
    """
    data = cases.compute_contrast_left(pupil_mm)
    blurs = [f"{d:g} D" for d in data.blur_d]
    rows = [("object", np.ones(3)), *zip(blurs, data.passed, strict=True)]
    with style.applied():
        figure = noted_figure(
            420,
            f"White light, {pupil_mm:g}-mm pupil, no aberration, no scatter. "
            " Below each strip: the part of the contrast that is left.",
        )
        panels = figure.subplots(len(rows), len(_STROKES))
        for row, (name, contrasts) in enumerate(rows):
            for column, (cpd, letter) in enumerate(zip(data.finenesses_cpd, _STROKES, strict=True)):
                axes = panels[row, column]
                strip = np.tile(cases.grating(cpd, contrasts[column]), (40, 1))
                axes.imshow(cases.on_screen(strip), cmap="gray", vmin=0.0, vmax=1.0, aspect="auto")
                axes.set(xticks=[], yticks=[])
                axes.spines[:].set_visible(False)
                axes.set_xlabel(f"{100 * contrasts[column]:.0f} %", labelpad=2, weight="bold")
                if row == 0:
                    axes.set_title(f"{cpd:g} cycles/degree\nstrokes of {letter}", fontsize=12)
            panels[row, 0].set_ylabel(name if row == 0 else f"image\n{name}")
    left = "; ".join(
        f"blur {blur} leaves "
        + ", ".join(
            f"{100 * c:.0f} % at {f:g}" for c, f in zip(row, data.finenesses_cpd, strict=True)
        )
        for blur, row in zip(blurs, data.passed, strict=True)
    )
    return FigureWithAlt(
        figure,
        f"Lines of 5, 15 and 30 cycles/degree through a pupil of {pupil_mm:g} mm. The finer the "
        f"lines, the less contrast is left, and blur takes the fine ones first: {left}.",
    )


@cache
def two_curves(pupil_mm: float = 3.0, defocus_d: float = 0.25) -> FigureWithAlt:
    """Return the figure of an eye's contrast in focus and with some blur, to be read.

    Parameters
    ----------
    pupil_mm : float
        Pupil diameter, 0.5 to 9 mm.
    defocus_d : float
        Blur of the second curve, D.

    Returns
    -------
    FigureWithAlt
    """
    cpd, sharp, blurred = contrast_in_white(pupil_mm, defocus_d)
    with style.applied():
        figure = noted_figure(
            330, f"White light, {pupil_mm:g}-mm pupil, no aberration, no scatter. Grid: 0.1 and 5."
        )
        axes = figure.subplots()
        axes.plot(cpd, sharp, color=style.BLACK, label="in focus")
        axes.plot(
            cpd, blurred, color=style.PURPLE, linestyle=(0, (3, 2)), label=f"blur {defocus_d:g} D"
        )
        axes.set(
            xlim=(0, 60),
            ylim=(0, 1),
            xlabel="fineness of the lines, cycles/degree",
            ylabel="contrast passed",
        )
        style.ruled(axes.xaxis, 5)
        style.ruled(axes.yaxis, 0.1)
        axes.legend(framealpha=1.0)
    at = cases.read_in_white(pupil_mm, defocus_d, [5, 15, 30, 45])
    read = [", ".join(f"{value:.2f}" for value in values) for values in at]
    return FigureWithAlt(
        figure,
        f"Contrast passed against fineness, pupil {pupil_mm:g} mm. At 5, 15, 30 and 45 cycles per "
        f"degree the curve in focus stands at {read[0]}, that with {defocus_d:g} D of blur at "
        f"{read[1]}.",
    )


def perfect_to_read(ends_cpd: float = 94.0) -> FigureWithAlt:
    """Return the figure of a perfect eye's contrast against fineness, to be read.

    Parameters
    ----------
    ends_cpd : float
        Where nothing is left, at most 150 cycles/degree.

    Returns
    -------
    FigureWithAlt
    """
    data = cases.compute_perfect_contrast(ends_cpd)
    with style.applied():
        figure = noted_figure(330, "One colour, in focus. Grid: 0.1 and 5 cycles/degree.")
        axes = figure.subplots()
        axes.plot(data.cpd, data.passed, color=style.BLACK)
        axes.plot([ends_cpd], [0.0], "o", color=style.BLACK, markersize=7, clip_on=False, zorder=5)
        axes.set(
            xlim=(0, 150),
            ylim=(0, 1),
            xlabel="fineness of the lines, cycles/degree",
            ylabel="contrast passed",
        )
        style.ruled(axes.xaxis, 20, 5)
        style.ruled(axes.yaxis, 0.2, 0.1)
    return FigureWithAlt(
        figure,
        "Contrast passed against fineness, from 1 at 0 steadily down: half is left at "
        f"{data.half_cpd:.0f} cycles/degree, nothing from {ends_cpd:.0f} on.",
    )


def disc_to_read(width_arcmin: float = 14.0) -> FigureWithAlt:
    """Return the figure of the blur disc of a point on a scale, to be read.

    Parameters
    ----------
    width_arcmin : float
        Diameter of the disc, at most 44 arcmin.

    Returns
    -------
    FigureWithAlt
    """
    with style.applied():
        figure = noted_figure(400, "Grid: 1 arcmin.")
        axes = figure.subplots()
        axes.set(
            xlim=(-40, 40),
            ylim=(-24, 24),
            aspect="equal",
            xticks=range(-40, 41, 10),
            yticks=range(-20, 21, 10),
            xlabel="arcmin from the middle",
        )
        axes.set_xticks(range(-40, 41), minor=True)
        axes.set_yticks(range(-24, 25), minor=True)
        for ends in (axes.xaxis, axes.yaxis):
            style.signed_ticks(ends, 0, plus=False)
        axes.set_facecolor("#1a1a1a")
        radius = width_arcmin / 2.0
        axes.add_patch(Circle((0, 0), radius, facecolor=style.ORANGE, linewidth=0, zorder=0))
        axes.grid(which="minor", color="#555555", linewidth=0.4)
        axes.grid(which="major", color="#bbbbbb", linewidth=0.8)
    return FigureWithAlt(
        figure,
        "An even disc of light on a dark ground, with a scale of arcminutes. It reaches from "
        f"{style.signed(-radius, '', 1)} to {style.signed(radius, '', 1)} arcmin.",
    )
