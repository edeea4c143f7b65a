"""Figures on outcomes: what leans, what scatters; a series, a constant and formulas to read."""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np
from matplotlib.figure import Figure
from matplotlib.ticker import MaxNLocator

from shared_utils.cases import outcomes as cases
from shared_utils.show import style
from shared_utils.show.figure_with_alt import FigureWithAlt
from shared_utils.show.style import signed

if TYPE_CHECKING:
    from numpy.typing import ArrayLike


def lean_and_scatter() -> FigureWithAlt:
    """Return the figure of three series: one good, one with a lean, one with wide scatter.

    Returns
    -------
    FigureWithAlt
    """
    words = []
    with style.applied():
        figure = Figure(figsize=(7.0, 2.9), dpi=style.DPI, layout="constrained")
        figure.supxlabel("achieved − predicted, D", fontsize=12)
        for axes, (kind, mean_d, sd_d) in zip(figure.subplots(1, 3), cases.KINDS, strict=True):
            data = cases.compute_error_density(mean_d, sd_d)
            inside = data.inside
            axes.plot(data.error_d, data.density, color=style.BLUE)
            axes.fill_between(
                data.error_d[inside], data.density[inside], color=style.SKY, alpha=0.6
            )
            axes.axvline(0.0, ymax=0.78, color=style.GREY, linewidth=0.8)
            axes.set(xlim=(-1.9, 1.9), ylim=(0.0, 1.55), yticks=[], xticks=[-1, 0, 1])
            style.signed_ticks(axes.xaxis, 0)
            axes.spines["left"].set_visible(False)
            axes.set_title(kind, weight="bold")
            numbers = f"mean {signed(mean_d)}, SD {sd_d:.2f} D"
            axes.text(0.0, 1.52, numbers, ha="center", va="top", fontsize=12)
            axes.text(
                0.0, 1.36, f"{data.share:.0%} within", ha="center", va="top", color=style.BLUE
            )
            words.append(f"{kind}: {numbers}, {data.share:.0%} within {cases.LIMIT_D:.2f} D")
    return FigureWithAlt(
        figure,
        f"Three bell curves of prediction errors. {'; '.join(words)}. A new constant mends the "
        "second, not the third.",
    )


def error_bars(errors_d: ArrayLike, title: str = "prediction errors of a series") -> FigureWithAlt:
    """Return the figure of a series as bars, one for each quarter dioptre.

    Parameters
    ----------
    errors_d : array
        Prediction errors, D, between −2 and 2, each a multiple of 0.25 D.
    title : str

    Returns
    -------
    FigureWithAlt
        The alt text gives the height of every bar, so that it can be read without seeing.
    """
    return _bars(tuple(np.asarray(errors_d, dtype=float).tolist()), title)


@lru_cache(maxsize=64)  # a problem is drawn again and again while its set is tested
def _bars(errors_d, title):
    data = cases.count_errors(errors_d)
    with style.applied():
        figure = Figure(figsize=(7.0, 3.2), dpi=style.DPI, layout="constrained")
        axes = figure.add_subplot()
        heights = _draw_errors(axes, data)
        axes.set(
            xlim=(-2.2, 2.2),
            xticks=np.arange(-2, 2.01, 0.5),
            ylim=(0, data.eyes.max() + 1.6),
            xlabel="achieved − predicted, D (band: within 0.50 D)",
            ylabel="eyes",
            title=f"{title}, {data.n} eyes",
        )
        axes.yaxis.set_major_locator(MaxNLocator(integer=True))
    mean_d = round(data.mean_d, 2)
    lean = "leans hyperopic" if mean_d > 0 else "leans myopic" if mean_d < 0 else "does not lean"
    return FigureWithAlt(figure, f"Bars of prediction errors, eyes in each: {heights}. It {lean}.")


def _draw_errors(axes, data):
    """Draw how many eyes have each error, over the band of the limit; return it in words."""
    axes.axvspan(-cases.LIMIT_D - 0.125, cases.LIMIT_D + 0.125, color="#e4edf5", zorder=0)
    axes.bar(data.error_d, data.eyes, width=0.2, color=style.BLUE)
    style.signed_ticks(axes.xaxis, 1)
    found = [(at, count) for at, count in zip(data.error_d, data.eyes, strict=True) if count]
    for at, count in found:
        axes.text(at, count + 0.15, str(count), ha="center", va="bottom")
    return ", ".join(f"{count} at {signed(at)}" for at, count in found)


def series_to_read(
    minus_50: int = 3, minus_25: int = 8, zero: int = 10, plus_25: int = 7, plus_50: int = 4
) -> FigureWithAlt:
    """Return the figure of an invented series of eyes, to be read.

    Parameters
    ----------
    minus_50, minus_25, zero, plus_25, plus_50 : int
        Eyes with an error of −0.50, −0.25, 0, +0.25 and +0.50 D; eight more lie beyond.

    Returns
    -------
    FigureWithAlt
    """
    return error_bars(cases.errors_of_series(minus_50, minus_25, zero, plus_25, plus_50))


def constant_to_read(label: float = 118.9, mean_d: float = -0.415) -> FigureWithAlt:
    """Return the line of mean errors against the A-constant, to be read.

    Parameters
    ----------
    label : float
        The constant used so far.
    mean_d : float
        Mean prediction error with it, −0.6 to 0.6 D.

    Returns
    -------
    FigureWithAlt
        The alt text gives the dot and the slope, not where the line crosses zero.
    """
    ends = np.array([label - 0.85, label + 0.85])
    with style.applied():
        figure = Figure(figsize=(7.0, 4.0), dpi=style.DPI, layout="constrained")
        axes = figure.add_subplot()
        axes.set(
            xlim=ends, ylim=(-1.35, 0.85), xlabel="A-constant", ylabel="mean prediction error, D"
        )
        style.ruled(axes.xaxis, 0.2, 0.1, digits=1, plus=False)
        style.ruled(axes.yaxis, 0.25, digits=2)
        axes.axhline(0.0, color="black", linewidth=1.2)
        axes.plot(ends, cases.mean_error_with(ends, label, mean_d), color=style.BLUE)
        axes.plot([label], [mean_d], "o", color=style.VERMILION, markersize=10)
        axes.text(
            label + 0.04,
            mean_d + 0.1,
            f"so far: {label:.1f}",
            color=style.VERMILION,
            ha="left",
            va="center",
            bbox=style.PLAIN,
        )
    return FigureWithAlt(
        figure,
        "A falling straight line: mean prediction error against the A-constant. A dot marks the "
        f"constant of so far, {label:.1f}, with a mean error of {signed(mean_d)}. The line falls "
        f"by {cases.PER_A_D:.2f} D for each 1 of A.",
    )


def two_formulas_to_read() -> FigureWithAlt:
    """Return the bars of two formulas' errors in the same forty invented eyes, to be read.

    Returns
    -------
    FigureWithAlt
    """
    with style.applied():
        figure = Figure(figsize=(7.0, 4.6), dpi=style.DPI, layout="constrained")
        words = []
        for axes, (name, data) in zip(
            figure.subplots(2, 1, sharex=True), cases.errors_of_formulas().items(), strict=True
        ):
            heights = _draw_errors(axes, data)
            axes.set(xlim=(-1.6, 1.6), ylim=(0, 14.5), yticks=[0, 5, 10], ylabel="eyes")
            axes.set_xticks(np.arange(-1.5, 1.51, 0.5))
            axes.set_title(f"formula {name}", weight="bold")
            words.append(f"Formula {name}: {heights}; mean {signed(data.mean_d)}")
        axes.set_xlabel("achieved − predicted, D (band: within 0.50 D)")
    return FigureWithAlt(
        figure, f"Bars of prediction errors of forty eyes by two formulas. {'. '.join(words)}."
    )
