"""Figures on the range of focus: how to read a defocus curve."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING

import numpy as np

from shared_utils.cases import range_of_focus as cases
from shared_utils.cases.range_of_focus import (
    CURVE_D,
    FAR_D,
    LIMIT_LOGMAR,
    PHONE_D,
    SCREEN_D,
    acuity_curve,
    read_at,
)
from shared_utils.choice.tasks import BIFOCAL_ADD_D
from shared_utils.optics.through_focus import LIMITS
from shared_utils.show import style
from shared_utils.show.figure_parts import (
    distance_axis,
    label_lines,
    line_of_class,
    noted_figure,
    snellen_axis,
)
from shared_utils.show.figure_with_alt import FigureWithAlt

if TYPE_CHECKING:
    from typing import Any

    from matplotlib.axes import Axes

_WORST, _BEST = 1.4, -0.25
_DARK_PURPLE = "#8a4672"  # for words


def reach_in_words(parts: Any) -> str:
    """Return stretches as a reader says them: from where to where.

    Examples
    --------
    >>> reach_in_words([(0.0, -2.0), (-2.5, -3.0)])
    'from far to 50 cm and from 40 to 33 cm'
    """
    if not parts:
        return "nowhere"
    message = []
    for begun, end in parts:
        farthest = "far" if begun > FAR_D else f"{-100.0 / begun:.0f}"
        message.append(f"from {farthest} to {-100.0 / end:.0f} cm")
    return " and ".join(filter(None, [", ".join(message[:-1]), message[-1]]))


def set_curve_axes(axes: Axes, worst_logmar: float = _WORST) -> None:
    """Lay out axes of acuity against the vergence of the object; better is up, near is right."""
    axes.set(
        xlim=(1.0, -4.0),
        yticks=np.arange(-0.2, 1.21, 0.2),
        ylim=(worst_logmar, _BEST),  # after the ticks, which would widen it
        xlabel="vergence of the object, D",
        ylabel="acuity (logMAR), better upwards",
    )
    style.signed_ticks(axes.yaxis, 1, plus=False)
    style.signed_ticks(axes.xaxis, 0)
    distance_axis(axes)
    snellen_axis(axes, [20, 32, 50, 80, 125, 200])


def _set_axes_to_read(axes):
    set_curve_axes(axes, 1.0)
    style.ruled(axes.xaxis, 1, 0.25)
    style.ruled(axes.yaxis, 0.2, 0.1)


def how_to_read(pupil_mm: float = 3.0) -> FigureWithAlt:
    """Return the figure of one defocus curve, with what is read off it.

    Parameters
    ----------
    pupil_mm : float
        Pupil diameter, 0.5 to 9 mm.

    Returns
    -------
    FigureWithAlt
    """
    stretched, plain = "extended depth of focus", "monofocal"
    curve, beside = cases.curve_of(stretched, pupil_mm), cases.curve_of(plain, pupil_mm)
    screen, phone = curve.at(SCREEN_D), curve.at(PHONE_D)
    reach, reach_plain = curve.range_d, beside.range_d
    with style.applied():
        figure = noted_figure(440, f"White light, {pupil_mm:g}-mm pupil. {LIMITS}")
        axes = figure.subplots()
        set_curve_axes(axes)
        axes.axhline(LIMIT_LOGMAR, color=style.GREY, linewidth=1.0)
        axes.text(-3.95, LIMIT_LOGMAR - 0.02, "limit", color=style.GREY, ha="right", va="bottom")
        for lens_class, one in ((plain, beside), (stretched, curve)):
            axes.plot(CURVE_D, one.logmar, **line_of_class(lens_class))
        axes.axvspan(0.0, -reach, color=style.SKY, alpha=0.22, linewidth=0)
        axes.text(-reach / 2, -0.2, f"usable: {reach:.1f} D", ha="center", va="center")
        for number, (place, value) in enumerate(((SCREEN_D, screen), (PHONE_D, phone)), start=1):
            axes.plot([place, place, 1.0], [_WORST, value, value], ":", color=style.PURPLE)
            axes.plot([place], [value], "o", color=style.PURPLE, markersize=9, zorder=4)
            words = f"{number}: {-100 / place:.0f} cm, {_logmar(value)}"
            side, ha = (0.07, "right") if number == 1 else (-0.07, "left")
            axes.text(place + side, 1.36, words, ha=ha, va="bottom", color=_DARK_PURPLE)
        axes.text(-2.35, 0.92, "monofocal", ha="right", va="center")
        axes.text(
            -2.72, 0.31, "extended depth", va="center", color=line_of_class(stretched)["color"]
        )
    return FigureWithAlt(
        figure,
        f"A defocus curve and how to read it, {pupil_mm:g}-mm pupil. Go up from the distance to "
        f"the curve, then across: at 66 cm {_logmar(screen)}, at 40 cm {_logmar(phone)} logMAR. "
        f"The range that stays at 20/32 or better is {reach:.1f} D, the monofocal's "
        f"{reach_plain:.1f} D.",
    )


def _logmar(value):
    return style.signed(value, "", 2).lstrip("+")


@cache
def one_curve(lens_class: str, pupil_mm: float) -> FigureWithAlt:
    """Return the figure of one defocus curve on a grid, to be read.

    Parameters
    ----------
    lens_class : str
        As in `choice.tasks.LENS_OF`.
    pupil_mm : float
        Pupil diameter, 0.5 to 9 mm.

    Returns
    -------
    FigureWithAlt
    """
    curve = acuity_curve(lens_class, pupil_mm)
    with style.applied():
        figure = noted_figure(400, f"{pupil_mm:g}-mm pupil. Grid: 0.1 logMAR and 0.25 D. {LIMITS}")
        axes = figure.subplots()
        _set_axes_to_read(axes)
        axes.plot(CURVE_D, curve, **line_of_class(lens_class))
    at = ", ".join(f"{_logmar(read_at(curve, d))} at {d:g} D" for d in (0, -1, -1.5, -2, -2.5, -3))
    return FigureWithAlt(
        figure, f"A defocus curve through a pupil of {pupil_mm:g} mm. logMAR: {at}."
    )


def _curves_to_read(pupil_mm, curves):
    """A figure of named curves on a grid, and their numbers in words every quarter dioptre."""
    with style.applied():
        figure = noted_figure(
            420, f"{pupil_mm:.1f}-mm pupil. Grid: 0.1 logMAR and 0.25 D. {LIMITS}"
        )
        axes = figure.subplots()
        _set_axes_to_read(axes)
        drawn = CURVE_D[(CURVE_D <= 1.0) & (CURVE_D >= -4.0)]
        named = []
        for name, curve, line in curves:
            shown = read_at(curve, drawn)
            axes.plot(drawn, shown, **line)
            inside = shown < 0.95
            named.append((name, drawn[inside], shown[inside], line["color"]))
        if len(curves) > 1:
            label_lines(axes, named)
    places = np.arange(0.0, -4.01, -0.25)
    message = "; ".join(
        f"{name}: " + ", ".join(_logmar(value) for value in read_at(curve, places))
        for name, curve, _ in curves
    )
    return FigureWithAlt(
        figure,
        f"Acuity in logMAR through a pupil of {pupil_mm:.1f} mm, at 0 D, −0.25 D, −0.50 D and so "
        f"on to −4.00 D. {message}.",
    )


def curve_to_read(pupil_mm: float = 3.0, add_d: float = BIFOCAL_ADD_D) -> FigureWithAlt:
    """Return the figure of one defocus curve of a lens that is not named, to be read.

    Parameters
    ----------
    pupil_mm : float
        Pupil diameter, 0.5 to 9 mm.
    add_d : float
        Of the lens, at the corneal plane, D.

    Returns
    -------
    FigureWithAlt
    """
    line = line_of_class("bifocal")
    return _curves_to_read(pupil_mm, [("The curve", cases.bifocal_curve(add_d, pupil_mm), line)])


def two_lenses_to_read(pupil_mm: float = 3.0) -> FigureWithAlt:
    """Return the figure of the defocus curves of a monofocal and an extended-depth lens.

    Parameters
    ----------
    pupil_mm : float
        Pupil diameter, 0.5 to 9 mm.

    Returns
    -------
    FigureWithAlt
    """
    named = (("monofocal", "monofocal"), ("extended depth", "extended depth of focus"))
    return _curves_to_read(
        pupil_mm,
        [(name, acuity_curve(kind, pupil_mm), line_of_class(kind)) for name, kind in named],
    )


def two_eyes_to_read(pupil_mm: float = 3.0, target_d: float = -1.0) -> FigureWithAlt:
    """Return the figure of the defocus curves of two eyes with monofocal lenses, to be read.

    Parameters
    ----------
    pupil_mm : float
        Pupil diameter, 0.5 to 9 mm.
    target_d : float
        Refraction that the near eye is aimed at, −2.5 to 0 D.

    Returns
    -------
    FigureWithAlt
    """
    far_eye = acuity_curve("monofocal", pupil_mm)
    near_eye = cases.curve_of_target(far_eye, target_d)
    return _curves_to_read(
        pupil_mm,
        [
            ("far eye", far_eye, {"color": _DARK_PURPLE, "linestyle": "-"}),
            ("near eye", near_eye, {"color": style.VERMILION, "linestyle": "--"}),
        ],
    )
