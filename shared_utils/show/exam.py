"""The figures of an examination's report."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from matplotlib.figure import Figure

from shared_utils.show import style
from shared_utils.show.figure_with_alt import FigureWithAlt

if TYPE_CHECKING:
    from collections.abc import Sequence
    from typing import Protocol

    class Share(Protocol):
        """What a figure needs to know of one part of the course."""

        @property
        def name(self) -> str: ...
        @property
        def right(self) -> int: ...
        @property
        def asked(self) -> int: ...
        @property
        def low(self) -> float: ...
        @property
        def high(self) -> float: ...

    class Taken(Protocol):
        """What a figure needs to know of one question that was taken."""

        @property
        def place(self) -> int: ...
        @property
        def seconds(self) -> float: ...
        @property
        def outcome(self) -> str: ...


# what came of a question: colour, and a mark that tells it apart without colour
OUTCOMES = (
    ("right", style.BLUE, "o"),
    ("missed", style.VERMILION, "X"),
    ("no answer", style.GREY, "s"),
)


def shares(shares: Sequence[Share]) -> FigureWithAlt:
    """Return the figure of right answers by part, with the range that each tells.

    Parameters
    ----------
    shares : sequence of Share
        With ``name``, ``right``, ``asked``, ``low`` and ``high``.

    Returns
    -------
    FigureWithAlt
    """
    with style.applied():
        figure = Figure(figsize=(7.0, 0.9 + 0.5 * len(shares)), dpi=style.DPI, layout="constrained")
        axes = figure.add_subplot()
        axes.set(xlim=(0, 100), xlabel="right, per cent (bar: range that so few questions leave)")
        axes.set_ylim(len(shares) - 0.5, -0.5)
        axes.set_yticks(range(len(shares)), [share.name for share in shares])
        axes.tick_params(axis="y", length=0)
        for row, share in enumerate(shares):
            axes.plot([100 * share.low, 100 * share.high], [row, row], color=style.SKY, linewidth=6)
            axes.plot([100 * share.right / share.asked], [row], "o", color="black", markersize=8)
    words = "; ".join(f"{share.name}: {share.right} of {share.asked}" for share in shares)
    return FigureWithAlt(figure, f"Right answers by part of the course. {words}.")


def pace(taken: Sequence[Taken], minutes: float) -> FigureWithAlt:
    """Return the figure of the time that each question took, and what came of it.

    Parameters
    ----------
    taken : sequence of Taken
        With ``place``, ``seconds`` and ``outcome``.
    minutes : float
        Time allowed for the whole.

    Returns
    -------
    FigureWithAlt
    """
    allowed_seconds = 60.0 * minutes / len(taken)
    with style.applied():
        figure = Figure(figsize=(7.0, 2.8), dpi=style.DPI, layout="constrained")
        axes = figure.add_subplot()
        highest = max(allowed_seconds, *(one.seconds for one in taken))
        axes.set(
            xlim=(0.3, len(taken) + 0.7),
            ylim=(0, 1.3 * highest),
            xlabel="question",
            ylabel="seconds",
            xticks=range(1, len(taken) + 1, max(1, math.ceil(len(taken) / 10))),
        )
        for outcome, colour, marker in OUTCOMES:
            here = [one for one in taken if one.outcome == outcome]
            places, seconds = [one.place for one in here], [one.seconds for one in here]
            axes.vlines(places, 0, seconds, color=colour, linewidth=3)
            axes.plot(places, seconds, marker, color=colour, markersize=8, label=outcome)
        axes.axhline(allowed_seconds, color=style.GREY, linewidth=1.2, linestyle="--")
        axes.annotate(
            f"{allowed_seconds:.0f} s each",
            (len(taken) + 0.7, allowed_seconds),
            xytext=(4, -4),
            textcoords="offset points",
            color=style.GREY,
        )
        axes.legend(loc="upper left", ncols=3, frameon=False)
    counts = ", ".join(
        f"{sum(one.outcome == outcome for one in taken)} {outcome}" for outcome, *_ in OUTCOMES
    )
    longer = sum(one.seconds > allowed_seconds for one in taken)
    return FigureWithAlt(
        figure,
        f"Seconds that each of {len(taken)} questions took: {counts}. {longer} took longer than "
        f"the {allowed_seconds:.0f} s that the time allows each.",
    )
