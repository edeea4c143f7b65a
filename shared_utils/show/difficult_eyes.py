"""Figures on difficult eyes: adjusted lengths, and what methods and errors do after laser."""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np
from matplotlib.figure import Figure
from matplotlib.ticker import MultipleLocator

from shared_utils.cases import difficult_eyes as cases
from shared_utils.show import figure_parts, style
from shared_utils.show.figure_with_alt import FigureWithAlt
from shared_utils.show.style import signed

if TYPE_CHECKING:
    from collections.abc import Mapping

LINES = (
    ("SRK/T", "srk_t", style.BLUE),
    ("Holladay 1", "holladay_1", style.VERMILION),
)
MENDED = ("K as measured", "ring mended", "ring and index mended", "position mended too")

METHODS = {
    "uncorrected": "uncorrected",
    "double_k": "double-K",
    "clinical_history": "history",
    "savini": "Savini",
    "masket": "Masket",
    "shammas": "Shammas K",
    "shammas_pl": "Shammas-PL",
    "haigis_l": "Haigis-L",
    "shammas_hyperopic": "Shammas hyperopic K",
    "central_topography": "central topography",
}


def length_adjusted() -> FigureWithAlt:
    """Return the figure of how much stronger a lens an adjusted length asks for.

    Returns
    -------
    FigureWithAlt
    """
    gained = cases.compute_gained_powers()
    jump_d = float(cases.gained_power(26.5, "holladay_1", 2018))
    with style.applied():
        figure = Figure(figsize=(7.0, 3.4), dpi=style.DPI, layout="constrained")
        axes = figure.add_subplot()
        axes.set(
            xlim=(24, 32),
            ylim=(-0.6, 2.9),
            xlabel="axial length as measured, mm",
            ylabel="lens power gained, D",
        )
        style.signed_ticks(axes.yaxis, 1)
        axes.axhline(0.0, color=style.GREY, linewidth=0.8)
        colours = {formula: colour for _, formula, colour in LINES}
        for data in gained:
            dashes = "-" if data.year == 2011 else "--"
            axes.plot(data.length_mm, data.power_d, dashes, color=colours[data.formula])
        figure_parts.number_at_arrow(
            axes, f"jump {signed(jump_d)}", at=(26.5, jump_d / 2), text_at=(25.2, 1.6)
        )
        for (name, _, colour), place in zip(LINES, ((29.6, 0.85), (28.0, 1.95)), strict=True):
            axes.text(*place, name, color=colour, ha="left", va="center")
        axes.text(31.9, -0.3, "solid: 2011, dashed: 2018", ha="right", va="center")
    names = {formula: name for name, formula, _ in LINES}
    marked = "; ".join(
        f"{names[data.formula]} of {data.year} {signed(data.at_mark_d)}" for data in gained
    )
    longer_mm = cases.added_length(25.01, "srk_t", 2011)
    return FigureWithAlt(
        figure,
        "Lens power gained by an adjusted length, against the measured one. At "
        f"{cases.MARK_MM:.0f} mm: {marked}. Each line begins with a jump; Holladay 1 of 2018 jumps "
        f"by {signed(jump_d)} at 26.5 mm, and SRK/T of 2011 at first lengthens the eye, by "
        f"{longer_mm:.2f} mm.",
    )


def method_dots(powers_d: Mapping[str, float], title: str = "lens by each method") -> FigureWithAlt:
    """Return the figure of what methods say for an eye after laser surgery, as dots.

    Parameters
    ----------
    powers_d : mapping of str to float
        Method, as ``power.after_laser.compare`` names it → lens power, D. ``"uncorrected"`` is
        drawn apart.
    title : str

    Returns
    -------
    FigureWithAlt
    """
    return _dots(tuple((name, float(power_d)) for name, power_d in powers_d.items()), title)


def lengths_to_read(length_mm: float = 28.0) -> FigureWithAlt:
    """Return the lines of what two formulas want added to a long length, to be read.

    Parameters
    ----------
    length_mm : float
        Which length a dotted line marks, 26 to 32 mm.

    Returns
    -------
    FigureWithAlt
        The alt text gives both straight lines at every millimetre.
    """
    ends = np.array([26.0, 32.0])
    whole_mm = np.arange(26.0, 32.5)
    each_line = []
    with style.applied():
        figure = Figure(figsize=(7.0, 4.4), dpi=style.DPI, layout="constrained")
        axes = figure.add_subplot()
        axes.set(
            xlim=ends,
            ylim=(-1.3, 0.1),
            xlabel="axial length as measured, mm",
            ylabel="to add to the length, mm",
        )
        style.ruled(axes.xaxis, 1.0)
        axes.xaxis.set_minor_locator(MultipleLocator(0.1))
        style.ruled(axes.yaxis, 0.2, 0.05, digits=1)
        axes.axhline(0.0, color="black", linewidth=1.0)
        for name, formula, colour in LINES:
            axes.plot(ends, cases.added_length(ends, formula), color=colour)
            above = formula == "srk_t"
            axes.text(
                30.4 if above else 27.6,
                -0.55 if above else -0.68,
                name,
                color=colour,
                ha="center",
                va="center",
                bbox=style.PLAIN,
            )
            added_mm = np.asarray(cases.added_length(whole_mm, formula))
            each = ", ".join(
                f"{signed(add, '')} at {mm:.0f}" for add, mm in zip(added_mm, whole_mm, strict=True)
            )
            each_line.append(f"{name}: {each}")
        axes.axvline(length_mm, color=style.GREY, linewidth=1.6, linestyle=":")
    return FigureWithAlt(
        figure,
        "Two straight falling lines: mm to add to the measured length, against that length in mm. "
        f"{'. '.join(each_line)}. A dotted line marks {length_mm:.1f} mm.",
    )


def errors_to_read(
    ring_d: float = 0.2, index_d: float = 0.4, position_d: float = 1.4
) -> FigureWithAlt:
    """Return the bars of what is left after laser surgery as error after error is mended.

    Parameters
    ----------
    ring_d, index_d, position_d : float
        What each error makes of the surprise, D; together at most 2.5 D.

    Returns
    -------
    FigureWithAlt
        To be read: the alt text gives what is left in each row.
    """
    left_d = cases.refraction_left(ring_d, index_d, position_d)
    rows = np.arange(len(MENDED))
    with style.applied():
        figure = Figure(figsize=(7.0, 2.9), dpi=style.DPI, layout="constrained")
        axes = figure.add_subplot()
        axes.set(xlim=(0.0, 2.6), ylim=(3.6, -0.6), xlabel="refraction left, D")
        axes.barh(rows, left_d, height=0.5, color=style.BLUE)
        style.ruled(axes.xaxis, 0.5, 0.1, digits=1)
        axes.set_yticks(rows, MENDED)
        axes.tick_params(axis="y", length=0)
    each = "; ".join(
        f"{row} {signed(left, digits=1)}" for row, left in zip(MENDED, left_d, strict=True)
    )
    return FigureWithAlt(
        figure, f"Bars of the refraction left after laser surgery for myopia. {each}."
    )


def laser_powers_to_read(
    uncorrected_d: float = 18.5,
    double_k_d: float = 21.0,
    history_d: float = 21.5,
    masket_d: float = 20.5,
    shammas_pl_d: float = 21.5,
    haigis_l_d: float = 22.5,
) -> FigureWithAlt:
    """Return the figure of methods after laser surgery for an invented eye, to be read.

    Parameters
    ----------
    uncorrected_d, double_k_d, history_d, masket_d, shammas_pl_d, haigis_l_d : float
        Lens power by each method, D.

    Returns
    -------
    FigureWithAlt
    """
    powers_d = {
        "uncorrected": uncorrected_d,
        "double_k": double_k_d,
        "clinical_history": history_d,
        "masket": masket_d,
        "shammas_pl": shammas_pl_d,
        "haigis_l": haigis_l_d,
    }
    return method_dots(powers_d, "lens for a target of zero")


@lru_cache(maxsize=64)  # a problem is drawn again and again while its set is tested
def _dots(powers_d, title):
    rows = np.arange(len(powers_d))
    low_d = np.floor(min(power for _, power in powers_d)) - 1
    high_d = np.ceil(max(power for _, power in powers_d)) + 1
    with style.applied():
        figure = Figure(figsize=(7.0, 1.2 + 0.32 * len(rows)), dpi=style.DPI, layout="constrained")
        axes = figure.add_subplot()
        axes.set(
            xlim=(low_d, high_d), ylim=(len(rows) - 0.4, -0.6), xlabel="lens power, D", title=title
        )
        style.ruled(axes.xaxis, 1.0, 0.5)
        axes.set_yticks(rows, [METHODS[name] for name, _ in powers_d])
        axes.tick_params(axis="y", length=0)
        axes.spines["left"].set_visible(False)
        for n, (name, power_d) in enumerate(powers_d):
            plain = name == "uncorrected"
            axes.plot(
                [power_d],
                [n],
                "D" if plain else "o",
                markersize=9,
                markerfacecolor="white" if plain else style.BLUE,
                markeredgecolor=style.VERMILION if plain else style.BLUE,
                markeredgewidth=2,
            )
    each = ", ".join(f"{METHODS[name]} {signed(power_d)}" for name, power_d in powers_d)
    return FigureWithAlt(
        figure,
        f"Lens powers by method, as dots. {each}. "
        f"The corrected methods lie {cases.spread_of_corrected(dict(powers_d)):.1f} D apart.",
        advises=True,
    )
