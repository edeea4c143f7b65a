"""Figures on outcomes: what leans, what scatters, and a series to read."""

from functools import lru_cache

import numpy as np
from matplotlib.figure import Figure
from matplotlib.ticker import MaxNLocator
from scipy import stats

from shared_utils.optics.domain import plain
from shared_utils.power.outcomes import summary
from shared_utils.show import style
from shared_utils.show.shown import Shown
from shared_utils.show.style import signed

LIMIT_D = 0.50
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
    return plain(normal.cdf(limit_d) - normal.cdf(-np.asarray(limit_d)))


def lean_and_scatter():
    """Return the figure of three series: one good, one with a lean, one with wide scatter.

    Returns
    -------
    Shown
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
            axes.xaxis.set_major_formatter(lambda d, _: signed(d, "", 0))
            axes.spines["left"].set_visible(False)
            axes.set_title(kind, weight="bold")
            said = f"mean {signed(mean_d)}, SD {sd_d:.2f} D"
            axes.text(0.0, 1.52, said, ha="center", va="top", fontsize=12)
            axes.text(0.0, 1.36, f"{share:.0%} within", ha="center", va="top", color=style.BLUE)
            words.append(f"{kind}: {said}, {share:.0%} within {LIMIT_D:.2f} D")
    return Shown(
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
    Shown
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
        axes.axvspan(-LIMIT_D - 0.125, LIMIT_D + 0.125, color="#e4edf5", zorder=0)
        axes.bar(places_d, eyes, width=0.2, color=style.BLUE)
        axes.set(
            xlim=(-2.2, 2.2),
            xticks=np.arange(-2, 2.01, 0.5),
            ylim=(0, eyes.max() + 1.6),
            xlabel="achieved − predicted, D (band: within 0.50 D)",
            ylabel="eyes",
            title=f"{title}, {errors_d.size} eyes",
        )
        axes.xaxis.set_major_formatter(lambda d, _: signed(d, "", 1))
        axes.yaxis.set_major_locator(MaxNLocator(integer=True))
        for place, count in zip(places_d, eyes, strict=True):
            if count:
                axes.text(place, count + 0.15, str(count), ha="center", va="bottom")
    heights = ", ".join(
        f"{count} at {signed(place)}" for place, count in zip(places_d, eyes, strict=True) if count
    )
    lean = "hyperopic" if summary(errors_d).mean_d > 0 else "myopic"
    return Shown(figure, f"Bars of prediction errors, eyes in each: {heights}. It leans {lean}.")


def series_to_read():
    """Return the figure of an invented series of forty eyes, to be read.

    Returns
    -------
    Shown
    """
    eyes = {-1.0: 1, -0.75: 3, -0.5: 3, -0.25: 8, 0.0: 10, 0.25: 7, 0.5: 4, 0.75: 2, 1.0: 2}
    return error_bars(np.repeat(list(eyes), list(eyes.values())))
