"""Parts that figures of lenses share: colour and line, the note below, axes of distance, labels."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING, cast

import numpy as np
from matplotlib.figure import Figure
from matplotlib.text import Annotation, Text

from shared_utils.cases.light import logmar_of_line
from shared_utils.show import style

if TYPE_CHECKING:
    from collections.abc import Sequence
    from typing import Any

    from matplotlib.axes import Axes
    from matplotlib.axes._secondary_axes import SecondaryAxis
    from matplotlib.layout_engine import ConstrainedLayoutEngine
    from numpy.typing import ArrayLike

    from shared_utils.optics.lenses import Lens

NOTE_CHARACTERS = 76  # of 12 pt in a line of 700 px
LINE_PX = 19
_SIDES = np.array([[0, 1], [0, -1], [1, 0], [-1, 0]])
DISTANCES_CM = (np.inf, 200.0, 100.0, 67.0, 50.0, 40.0, 33.0, 25.0)


def line_of(lens: Lens) -> dict[str, Any]:
    """Return colour and line of a lens as arguments for matplotlib."""
    return line_of_class(lens.lens_class)


def line_of_class(lens_class: str) -> dict[str, Any]:
    """Return colour and line of a class of lens as arguments for matplotlib."""
    line = style.LENS_LINES[lens_class]
    return {"color": line.colour, "linestyle": line.dashes}


def noted_figure(height_px: float, note: str) -> Figure:
    """Return a figure of full width with a note at its foot; the rest is laid out above.

    Parameters
    ----------
    height_px : float
        Without the note.
    note : str
        What the picture cannot say, limits above all.

    Returns
    -------
    matplotlib.figure.Figure
    """
    wrapped = textwrap.wrap(note, NOTE_CHARACTERS)
    foot_px = LINE_PX * len(wrapped) + 12
    whole_px = height_px + foot_px
    figure = Figure(
        figsize=(style.WIDTH_PX / style.DPI, whole_px / style.DPI),
        dpi=style.DPI,
        layout="constrained",
    )
    foot = foot_px / whole_px
    layout = cast("ConstrainedLayoutEngine", figure.get_layout_engine())  # asked for above
    layout.set(w_pad=0.1, h_pad=0.08, rect=(0.0, foot, 1.0, 1.0 - foot))
    figure.text(
        8 / style.WIDTH_PX,
        6 / whole_px,
        "\n".join(wrapped),
        va="bottom",
        color=style.GREY,
        linespacing=1.15,
    )
    return figure


def distance_axis(axes: Axes, label: bool = True) -> SecondaryAxis:
    """Put the distance of the object on top of an axis of its vergence; near lies on the right."""
    top = axes.secondary_xaxis("top")
    low, high = sorted(axes.get_xlim())
    vergence_d = [0.0 if np.isinf(cm) else -100.0 / cm for cm in DISTANCES_CM]
    shown = [i for i, d in enumerate(vergence_d) if low <= d <= high]
    top.set_xticks(
        [vergence_d[i] for i in shown],
        ["far" if np.isinf(DISTANCES_CM[i]) else f"{DISTANCES_CM[i]:.0f}" for i in shown],
    )
    if label:
        top.set_xlabel("distance of the object (cm)")
    return top


def snellen_axis(axes: Axes, lines: Sequence[int]) -> None:
    """Put some lines of a chart, as the number below 20, to the right of an axis of logMAR."""
    right = axes.secondary_yaxis("right")
    right.set_yticks(logmar_of_line(np.array(lines)), [f"20/{line}" for line in lines])


def label_lines(axes: Axes, curves: Sequence[tuple[str, ArrayLike, ArrayLike, str]]) -> None:
    """Write a name beside each curve, where the fewest other things are.

    The layout of the figure is computed first, since what fits is a matter of pixels.

    Parameters
    ----------
    axes : matplotlib.axes.Axes
        With whatever texts stand there already; they are kept clear.
    curves : sequence of (str, array, array, str)
        Name, x, y in data units, colour.
    """
    cast("Figure", axes.figure).draw_without_rendering()  # no axes of the course are in a part
    frame = axes.get_window_extent()
    paths = [_path_px(axes, x, y) for _, x, y, _ in curves]
    arrows = [
        _path_px(
            axes,
            [text.xy[0], text.get_position()[0]],
            [text.xy[1], text.get_position()[1]],
            times=100,
        )
        for text in axes.texts
        if isinstance(text, Annotation)
    ]
    # of a text with an arrow, the text alone
    taken = [_middle_and_half(Text.get_window_extent(text)) for text in axes.texts]
    for number, (name, _, _, colour) in enumerate(curves):
        text = axes.text(0.0, 0.0, name, color=colour, ha="center", va="center", zorder=5)
        box = text.get_window_extent()
        half = np.array([box.width, box.height]) / 2.0
        offsets = np.vstack([(half + gap) * _SIDES for gap in (5.0, 12.0)])
        places = (paths[number][::5, None] + offsets).reshape(-1, 2)
        low, high = np.array([frame.p0, frame.p1]) + np.outer([1, -1], half + 4.0)
        fitting = places[np.all((places >= low) & (places <= high), axis=1)]
        if fitting.size == 0:  # the curve leaves the frame: its name stands at the foot
            fitting = np.array([[frame.x1 - half[0] - 6.0, frame.y0 + half[1] + 6.0]])
        best = fitting[np.argmin(_costs(fitting, half, paths, number, taken, arrows))]
        x, y = axes.transData.inverted().transform(best)
        text.set_position((x, y))
        taken.append((best, half))


def _path_px(axes, x, y, times=2):
    """A curve in pixels, dense enough that none slips between two points."""
    points = axes.transData.transform(np.column_stack([x, y]))
    fine = np.linspace(0, len(points) - 1, times * len(points))
    return np.column_stack([np.interp(fine, np.arange(len(points)), c) for c in points.T])


def _middle_and_half(box):
    return np.array([box.x0 + box.x1, box.y0 + box.y1]) / 2.0, np.array(box.size) / 2.0


def _costs(places, half, paths, number, taken, arrows):
    """How bad places are: names on names, then on curves and arrows, then near another curve."""
    cost = np.zeros(len(places))
    for middle, size in taken:
        cost += 1000.0 * np.all(np.abs(places - middle) < half + size + 3.0, axis=1)
    for arrow in arrows:
        cost += 10.0 * np.count_nonzero(_beyond(places, half, arrow) < 3.0, axis=1)
    for other, path in enumerate(paths):
        away = _beyond(places, half, path)
        cost += 2.0 * np.count_nonzero(away < 2.0, axis=1)
        if other != number:
            cost += np.maximum(0.0, 40.0 - away.min(axis=1))
    return cost


def _beyond(places, half, path):
    """How far each point of a path lies outside a box around each place, px."""
    return np.max(np.abs(path - places[:, None]) - half, axis=2)


def number_at_arrow(
    axes: Axes, text: str, at: tuple[float, float], text_at: tuple[float, float], **kwargs: Any
) -> Annotation:
    """Write the one number of a figure at its arrow; places in data units."""
    return axes.annotate(
        text,
        xy=at,
        xytext=text_at,
        ha=kwargs.pop("ha", "center"),
        va="center",
        weight="bold",
        zorder=6,
        arrowprops={"arrowstyle": "->", "linewidth": 1.6, "shrinkA": 2, "shrinkB": 3},
        bbox={"facecolor": "white", "edgecolor": "none", "pad": 1.5, "alpha": 0.9},
        **kwargs,
    )
