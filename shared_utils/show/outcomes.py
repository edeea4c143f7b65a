"""Figures on outcomes: what leans, what scatters; a series, a constant and formulas to read."""

from functools import lru_cache

import numpy as np
from matplotlib.figure import Figure
from matplotlib.ticker import MaxNLocator
from scipy import stats

from shared_utils.optics.domain import unwrap_scalar
from shared_utils.power.prediction_errors import summary
from shared_utils.show import style
from shared_utils.show.figure_with_alt import FigureWithAlt
from shared_utils.show.style import signed

LIMIT_D = 0.50
PER_A_D = 0.83  # what one more of A moves SRK/T's predictions by, average eye
OUTSIDE_EYES = {-1.0: 1, -0.75: 3, 0.75: 2, 1.0: 2}  # of the series to read, beyond 0.50 D
FORMULAS_EYES = {
    "A": dict(zip(np.arange(-1.25, 1.26, 0.25), (1, 2, 3, 4, 6, 8, 6, 4, 3, 2, 1), strict=True)),
    "B": dict(zip(np.arange(0.0, 1.26, 0.25), (3, 6, 10, 11, 7, 3), strict=True)),
}
KINDS = (("centred, narrow", 0.0, 0.35), ("it leans", 0.45, 0.35), ("it scatters", 0.0, 0.60))


def within(mean_d, sd_d, limit_d=LIMIT_D):
    """Return the share of Gaussian errors that lie within a limit.

    Parameters
    ----------
    mean_d, sd_d : scalar or array
        Mean and standard deviation of the errors, D.
    limit_d : scalar or array
        D.

    Returns
    -------
    float or array
        0 to 1.

    Examples
    --------
    >>> round(within(0.0, 0.50), 2)
    0.68
    """
    normal = stats.norm(mean_d, sd_d)
    return unwrap_scalar(normal.cdf(limit_d) - normal.cdf(-np.asarray(limit_d)))


def lean_and_scatter():
    """Return the figure of three series: one good, one with a lean, one with wide scatter.

    Returns
    -------
    FigureWithAlt
    """
    x = np.linspace(-1.9, 1.9, 381)
    words = []
    with style.applied():
        figure = Figure(figsize=(7.0, 2.9), dpi=style.DPI, layout="constrained")
        figure.supxlabel("achieved − predicted, D", fontsize=12)
        for axes, (kind, mean_d, sd_d) in zip(figure.subplots(1, 3), KINDS, strict=True):
            density = stats.norm.pdf(x, mean_d, sd_d)
            share = within(mean_d, sd_d)
            inside = np.abs(x) <= LIMIT_D
            axes.plot(x, density, color=style.BLUE)
            axes.fill_between(x[inside], density[inside], color=style.SKY, alpha=0.6)
            axes.axvline(0.0, ymax=0.78, color=style.GREY, linewidth=0.8)
            axes.set(xlim=(-1.9, 1.9), ylim=(0.0, 1.55), yticks=[], xticks=[-1, 0, 1])
            style.signed_ticks(axes.xaxis, 0)
            axes.spines["left"].set_visible(False)
            axes.set_title(kind, weight="bold")
            said = f"mean {signed(mean_d)}, SD {sd_d:.2f} D"
            axes.text(0.0, 1.52, said, ha="center", va="top", fontsize=12)
            axes.text(0.0, 1.36, f"{share:.0%} within", ha="center", va="top", color=style.BLUE)
            words.append(f"{kind}: {said}, {share:.0%} within {LIMIT_D:.2f} D")
    return FigureWithAlt(
        figure,
        f"Three bell curves of prediction errors. {'; '.join(words)}. A new constant mends the "
        "second, not the third.",
    )


def error_bars(errors_d, title="prediction errors of a series"):
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
    errors_d = np.array(errors_d)
    places_d = np.arange(-2.0, 2.01, 0.25)
    eyes = np.array([int(np.sum(np.abs(errors_d - place) < 0.125)) for place in places_d])
    if eyes.sum() != errors_d.size:
        raise ValueError("errors_d reaches beyond −2 to 2 D; give errors inside, in D.")
    with style.applied():
        figure = Figure(figsize=(7.0, 3.2), dpi=style.DPI, layout="constrained")
        axes = figure.add_subplot()
        heights = _draw_errors(axes, places_d, eyes)
        axes.set(
            xlim=(-2.2, 2.2),
            xticks=np.arange(-2, 2.01, 0.5),
            ylim=(0, eyes.max() + 1.6),
            xlabel="achieved − predicted, D (band: within 0.50 D)",
            ylabel="eyes",
            title=f"{title}, {errors_d.size} eyes",
        )
        axes.yaxis.set_major_locator(MaxNLocator(integer=True))
    mean_d = round(summary(errors_d).mean_d, 2)
    lean = "leans hyperopic" if mean_d > 0 else "leans myopic" if mean_d < 0 else "does not lean"
    return FigureWithAlt(figure, f"Bars of prediction errors, eyes in each: {heights}. It {lean}.")


def _draw_errors(axes, places_d, eyes):
    """Draw how many eyes have each error, over the band of the limit; return it in words."""
    axes.axvspan(-LIMIT_D - 0.125, LIMIT_D + 0.125, color="#e4edf5", zorder=0)
    axes.bar(places_d, eyes, width=0.2, color=style.BLUE)
    style.signed_ticks(axes.xaxis, 1)
    found = [(place, count) for place, count in zip(places_d, eyes, strict=True) if count]
    for place, count in found:
        axes.text(place, count + 0.15, str(count), ha="center", va="bottom")
    return ", ".join(f"{count} at {signed(place)}" for place, count in found)


def series_to_read(minus_50=3, minus_25=8, zero=10, plus_25=7, plus_50=4):
    """Return the figure of an invented series of eyes, to be read.

    Parameters
    ----------
    minus_50, minus_25, zero, plus_25, plus_50 : int
        Eyes with an error of −0.50, −0.25, 0, +0.25 and +0.50 D; eight more lie beyond.

    Returns
    -------
    FigureWithAlt
    """
    eyes = {-0.5: minus_50, -0.25: minus_25, 0.0: zero, 0.25: plus_25, 0.5: plus_50}
    eyes |= OUTSIDE_EYES
    return error_bars(np.repeat(list(eyes), list(eyes.values())))


def constant_to_read(label=118.9, mean_d=-0.415):
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
        axes.plot(ends, mean_d - PER_A_D * (ends - label), color=style.BLUE)
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
        f"by {PER_A_D:.2f} D for each 1 of A.",
    )


def two_formulas_to_read():
    """Return the bars of two formulas' errors in the same forty invented eyes, to be read.

    Returns
    -------
    FigureWithAlt
    """
    with style.applied():
        figure = Figure(figsize=(7.0, 4.6), dpi=style.DPI, layout="constrained")
        words = []
        for axes, (name, eyes) in zip(
            figure.subplots(2, 1, sharex=True), FORMULAS_EYES.items(), strict=True
        ):
            places_d, counts = np.array(list(eyes)), np.array(list(eyes.values()))
            heights = _draw_errors(axes, places_d, counts)
            axes.set(xlim=(-1.6, 1.6), ylim=(0, 14.5), yticks=[0, 5, 10], ylabel="eyes")
            axes.set_xticks(np.arange(-1.5, 1.51, 0.5))
            axes.set_title(f"formula {name}", weight="bold")
            mean_d = np.average(places_d, weights=counts)
            words.append(f"Formula {name}: {heights}; mean {signed(mean_d)}")
        axes.set_xlabel("achieved − predicted, D (band: within 0.50 D)")
    return FigureWithAlt(
        figure, f"Bars of prediction errors of forty eyes by two formulas. {'. '.join(words)}."
    )
