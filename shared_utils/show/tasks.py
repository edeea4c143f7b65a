"""Figures and tables on everyday tasks: which glasses remain with each class of lens."""

from __future__ import annotations

import html
from typing import TYPE_CHECKING

from IPython.display import HTML
from matplotlib.figure import Figure
from matplotlib.patches import PathPatch, Rectangle
from matplotlib.textpath import TextPath
from matplotlib.transforms import Affine2D

from shared_utils.cases import tasks as cases
from shared_utils.cases.tasks import BLUR_TO_D, TALL_LETTER
from shared_utils.choice.everyday_tasks import TASKS
from shared_utils.choice.tasks import LENS_OF
from shared_utils.show import style
from shared_utils.show.examination import SHORT
from shared_utils.show.figure_parts import line_of
from shared_utils.show.figure_with_alt import TABLE, FigureWithAlt, with_caution
from shared_utils.show.style import signed

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from shared_utils.choice.tasks import Glasses, Task
    from shared_utils.optics.lenses import Lens

STRONG_D = 2.5  # from here on a square is as dark as it gets


def glass(found: Glasses) -> str:
    """Return what a task needs: none, weakest/comfortable reader, x if not enough, ? if open.

    Parameters
    ----------
    found : tasks.Glasses
        Of one eye or pair.

    Returns
    -------
    str

    Examples
    --------
    >>> (found,) = cases.glasses_by_class(3.0, wanted=[cases.NEWSPAPER])["monofocal"]
    >>> glass(found)
    '+1.50/+2.50'
    """
    power = "none" if found.clear else signed(found.reader_d, "")
    if found.clear_with and found.reader_d:
        power += f"/{signed(found.comfortable_reader_d, '')}"
    return power + ("" if found.clear_with else " x") + (" ?" if found.borderline else "")


def glasses_that_remain(
    pupils_mm: Mapping[str, float] | None = None, target_d: float = 0.0
) -> FigureWithAlt:
    """Return the figure of the glasses that ten tasks need with each class of lens.

    Parameters
    ----------
    pupils_mm : dict of str to float, optional
        Pupil in "bright", "dim" and "night" light; the usual ones unless given.
    target_d : float
        Refraction of both eyes, −4 to 2 D.

    Returns
    -------
    FigureWithAlt
    """
    columns = list(cases.glasses_by_class(pupils_mm, target_d).values())
    with style.applied():
        figure = Figure(figsize=(7.0, 5.8), dpi=style.DPI, layout="constrained")
        axes = figure.add_subplot()
        for column, found in enumerate(columns):
            for row, one in enumerate(found):
                depth = (
                    0.0
                    if one.clear
                    else 0.15 + 0.35 * min(abs(float(one.reader_d)) / STRONG_D, 1.0)
                )
                axes.add_patch(
                    Rectangle((column - 0.48, row - 0.44), 0.96, 0.88, facecolor=str(1.0 - depth))
                )
                axes.text(column, row, _two_lines(one), ha="center", va="center", size=11)
        axes.set(xlim=(-0.5, 4.5), ylim=(len(TASKS) - 0.5, -0.5))
        names = [f"{t.name}, {_distance(t.distance_m)}" for t in TASKS]
        axes.set_yticks(range(len(TASKS)), names)
        axes.set_xticks(range(5), [SHORT[name] for name in LENS_OF])
        axes.tick_params(length=0, labeltop=True, labelbottom=False)
        for label, name in zip(axes.get_xticklabels(), LENS_OF, strict=True):
            label.set_color(style.LENS_LINES[name].colour)
        axes.spines[:].set_visible(False)
        figure.supxlabel(
            "weakest above comfortable, D;  ? cannot be told;  x not clear even so",
            size=12,
        )
    message = [
        f"{name}: {sum(bool(one.clear) for one in found)} of {len(TASKS)} clear without glasses"
        f"{_newspaper(found)}"
        for name, found in zip(LENS_OF, columns, strict=True)
    ]
    return FigureWithAlt(
        figure,
        "Ten tasks from far to near with each class of lens, and the weakest and the comfortable "
        f"reader of those that need one. {'; '.join(message)}.",
        advises=True,
    )


def _two_lines(one):
    """What a task needs, the weakest above the comfortable glasses."""
    weakest, slash, comfortable = glass(one).partition("/")
    if not slash:
        return weakest
    comfortable, space, doubt = comfortable.partition(" ")
    return f"{weakest}{space}{doubt}\n{comfortable}"


def _newspaper(found):
    """What the newspaper needs with one class, for the alt text."""
    one = next(one for one in found if one.task.name == "newspaper")
    return "" if one.clear else f", newspaper {glass(one)} D"


def glasses_table(
    lens_classes: Sequence[str],
    pupils_mm: float | Mapping[str, float],
    asked: Sequence[Task],
    target_d: float = 0.0,
) -> HTML:
    """Return which glasses some tasks need, as a table.

    Parameters
    ----------
    lens_classes : sequence of str
        Columns.
    pupils_mm : float or dict of str to float
    asked : sequence of tasks.Task
        Rows.
    target_d : float

    Returns
    -------
    IPython.display.HTML
        What each task needs, its weakest and its comfortable reader; the caution first and last.
    """
    found_with = cases.glasses_by_class(pupils_mm, target_d, asked, lens_classes)
    columns = [found_with[name] for name in lens_classes]
    head = "".join(f'<th scope="col">{html.escape(name)}</th>' for name in lens_classes)
    rows = "".join(
        f'<tr><th scope="row">{html.escape(task.name)}</th><td>{signed(task.vergence_d)}</td>'
        f"<td>{signed(task.needed_logmar, '')}</td>"
        f"{''.join(f'<td>{glass(found[row])}</td>' for found in columns)}</tr>"
        for row, task in enumerate(asked)
    )
    return with_caution(
        f"{TABLE}<thead><tr><th>task</th><th>vergence</th><th>needs, logMAR</th>{head}</tr></thead>"
        f"<tbody>{rows}</tbody></table>"
    )


def _distance(distance_m):
    return f"{distance_m:g} m" if distance_m >= 1.0 else f"{100.0 * distance_m:.0f} cm"


def one_curve(lens: Lens, pupil_mm: float) -> FigureWithAlt:
    """Return the figure of one lens's acuity against distance, to be read off.

    Parameters
    ----------
    lens : Lens
        Its class gives colour and line.
    pupil_mm : float
        0.5 to 9 mm.

    Returns
    -------
    FigureWithAlt
    """
    data = cases.lens_curve(lens, pupil_mm)
    with style.applied():
        figure = Figure(figsize=(7.0, 4.2), dpi=style.DPI)
        axes = figure.add_axes((0.11, 0.14, 0.86, 0.82))
        axes.plot(data.vergence_d, data.logmar, **line_of(lens))
        axes.set(
            xlim=(0.0, -3.5),
            ylim=(1.0, -0.3),
            xlabel="vergence of the object, D",
            ylabel="logMAR, better upwards",
        )
        style.ruled(axes.xaxis, 0.5, 0.1, digits=1)
        style.ruled(axes.yaxis, 0.2, 0.05, digits=1, plus=False)
    return FigureWithAlt(
        figure,
        f"Acuity of a lens, {lens.lens_class}, against the vergence of the object, pupil "
        f"{pupil_mm:.1f} mm: best at far, falling towards near. To be read off.",
    )


WORD = "axle"


def print_to_read(letter_mm: float = 1.5) -> FigureWithAlt:
    """Return the figure of an enlarged word beside a scale in millimetres, to be read.

    Parameters
    ----------
    letter_mm : float
        Height of a small x, 1 to 2.2 mm.

    Returns
    -------
    FigureWithAlt
    """
    with style.applied():
        figure = Figure(figsize=(7.0, 3.2), dpi=style.DPI, layout="constrained")
        axes = figure.add_subplot()
        units = TextPath((0.0, 0.0), "x", size=1.0).get_extents().height
        word = TextPath((0.0, 0.0), WORD, size=1.0)
        enlarged = Affine2D().scale(letter_mm / units).translate(0.5, 0.0)
        letters = enlarged.transform_path(word)
        axes.add_patch(PathPatch(letters, color="black", linewidth=0, zorder=3))
        axes.set(xlim=(0, 9.2), ylim=(-0.4, 3.4), xticks=[], ylabel="mm on the page")
        axes.set_aspect("equal")
        style.ruled(axes.yaxis, 0.5, 0.1)
        axes.spines["bottom"].set_visible(False)
    return FigureWithAlt(
        figure,
        f"The printed word {WORD}, enlarged, on a scale in mm: its x stands {letter_mm:.1f} mm "
        f"high, its l {TALL_LETTER * letter_mm:.1f} mm.",
    )


def blur_to_read(narrow_mm: float = 2.5, wide_mm: float = 5.0) -> FigureWithAlt:
    """Return the figure of the blur disc against defocus, by day and in the evening, to be read.

    Parameters
    ----------
    narrow_mm, wide_mm : float
        Pupil by day and in the evening, up to 6 mm.

    Returns
    -------
    FigureWithAlt
    """
    pupils_mm = {"by day": narrow_mm, "in the evening": wide_mm}
    ends_mrad = {name: cases.blur_at_end_mrad(mm) for name, mm in pupils_mm.items()}
    with style.applied():
        figure = Figure(figsize=(7.0, 3.8), dpi=style.DPI, layout="constrained")
        axes = figure.add_subplot()
        for (name, end_mrad), colour, dashes in zip(
            ends_mrad.items(), (style.ORANGE, style.BLUE), ("-", "--"), strict=True
        ):
            axes.plot([0.0, BLUR_TO_D], [0.0, end_mrad], color=colour, linestyle=dashes)
            axes.text(0.5 * BLUR_TO_D - 0.03, 0.5 * end_mrad + 0.2, name, ha="right", va="bottom")
        axes.set(
            xlim=(0, BLUR_TO_D),
            ylim=(0, 9.5),
            xlabel="defocus, D",
            ylabel="width of the blur disc, mrad",
        )
        style.ruled(axes.xaxis, 0.25)
        style.ruled(axes.yaxis, 1, 0.25)
    message = ", ".join(f"{end_mrad:.2f} mrad {name}" for name, end_mrad in ends_mrad.items())
    return FigureWithAlt(
        figure,
        f"Two straight lines of the width of the blur disc, from nothing without defocus to, at "
        f"{BLUR_TO_D:.2f} D, {message}.",
    )
