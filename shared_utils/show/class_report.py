"""The figures of a class's report."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from matplotlib.figure import Figure

from shared_utils.show import style
from shared_utils.show.figure_with_alt import FigureWithAlt

if TYPE_CHECKING:
    from collections.abc import Sequence
    from typing import Protocol

    class SetRow(Protocol):
        """What a figure needs to know of one set."""

        @property
        def name(self) -> str: ...
        @property
        def mean_share(self) -> float: ...
        @property
        def handed_in(self) -> int: ...
        @property
        def of(self) -> int: ...

    class ProblemRow(Protocol):
        """What a figure needs to know of one problem."""

        @property
        def name(self) -> str: ...
        @property
        def problem(self) -> str: ...
        @property
        def difficulty(self) -> float: ...
        @property
        def discrimination(self) -> float: ...


def shares_of_sets(rows: Sequence[SetRow]) -> FigureWithAlt:
    """Return the figure of the mean share of the marks, set by set.

    Parameters
    ----------
    rows : sequence of SetRow
        With ``name``, ``mean_share``, ``handed_in`` and ``of``.

    Returns
    -------
    FigureWithAlt
    """
    with style.applied():
        figure = Figure(figsize=(7.0, 1.1 + 0.32 * len(rows)), dpi=style.DPI, layout="constrained")
        axes = figure.add_subplot()
        axes.set(xlim=(0, 100), xlabel="mean share of the marks, per cent")
        axes.set_ylim(len(rows) - 0.5, -0.5)
        axes.set_yticks(range(len(rows)), [row.name for row in rows])
        shares = [100 * np.nan_to_num(row.mean_share) for row in rows]
        axes.barh(range(len(rows)), shares, color=style.SKY, height=0.6)
        for n, row in enumerate(rows):
            axes.text(1, n, f"{row.handed_in} of {row.of} handed in", va="center")
    low = min(rows, key=lambda row: np.nan_to_num(row.mean_share, nan=2.0))
    return FigureWithAlt(
        figure,
        f"Mean share of the marks in {len(rows)} sets; lowest in {low.name} with "
        f"{100 * np.nan_to_num(low.mean_share):.0f} per cent.",
    )


def problems(rows: Sequence[ProblemRow]) -> FigureWithAlt:
    """Return the figure of difficulty against discrimination, a point for each problem.

    Parameters
    ----------
    rows : sequence of ProblemRow

    Returns
    -------
    FigureWithAlt
    """
    known = [row for row in rows if np.isfinite(row.discrimination)]
    with style.applied():
        figure = Figure(figsize=(7.0, 4.0), dpi=style.DPI, layout="constrained")
        axes = figure.add_subplot()
        axes.set(
            xlim=(0, 100),
            ylim=(-0.4, 1.0),
            xlabel="mean share of the marks, per cent (easy on the right)",
            ylabel="discrimination",
        )
        axes.axhline(0.2, color=style.GREY, linewidth=1.0, linestyle=":")
        axes.text(99, 0.9, "under the dotted line: says little about the rest", ha="right")
        axes.plot(
            [100 * row.difficulty for row in known],
            [row.discrimination for row in known],
            "o",
            color=style.BLUE,
            markersize=6,
            alpha=0.7,
        )
        for row in sorted(known, key=lambda row: row.discrimination)[:3]:
            if row.discrimination < 0.2:
                axes.annotate(
                    f"{row.name[:2]} {row.problem}",
                    (100 * row.difficulty, row.discrimination),
                    xytext=(8, -4),
                    textcoords="offset points",
                )
    low = sum(row.discrimination < 0.2 for row in known)
    return FigureWithAlt(
        figure,
        f"{len(known)} problems by mean share and discrimination; {low} of them discriminate "
        "less than 0.2.",
    )
