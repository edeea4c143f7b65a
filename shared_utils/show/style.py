"""One style for every figure: sizes, and the colour and line of each class of lens.

Colours are from the set of Okabe and Ito, told apart with every kind of colour vision; the line
style says the same a second time, and a label on the line a third.
"""

from __future__ import annotations

from contextlib import contextmanager
from dataclasses import dataclass
from typing import TYPE_CHECKING

import matplotlib as mpl
from matplotlib.ticker import MultipleLocator

from shared_utils.optics.notation import signed

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from typing import Any, Literal

    from matplotlib.axis import Axis
    from matplotlib.typing import RcKeyType

WIDTH_PX = 700
DPI = 100

BLACK, GREY, BLUE, VERMILION, GREEN = "#000000", "#555555", "#0072B2", "#D55E00", "#009E73"
ORANGE, SKY, PURPLE = "#E69F00", "#56B4E9", "#CC79A7"

PLAIN = {"facecolor": "white", "edgecolor": "none", "pad": 1.0}
"""Box of a text that stands on lines."""

RC: dict[RcKeyType, Any] = {
    "font.family": "DejaVu Sans",
    "font.size": 12,
    "axes.titlesize": 13,
    "axes.labelsize": 12,
    "xtick.labelsize": 12,
    "ytick.labelsize": 12,
    "legend.fontsize": 12,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.linewidth": 0.8,
    "lines.linewidth": 2.0,
    "axes.unicode_minus": True,
    "figure.dpi": DPI,
    "figure.facecolor": "white",
}


@dataclass(frozen=True)
class LensLine:
    """Colour and line of a class of lens."""

    colour: str
    dashes: str | tuple


LENS_LINES = {
    "monofocal": LensLine(BLACK, "-"),
    "enhanced monofocal": LensLine(GREY, (0, (8, 3))),
    "extended depth of focus": LensLine(BLUE, "--"),
    "bifocal": LensLine(VERMILION, "-."),
    "trifocal": LensLine(GREEN, ":"),
}


@contextmanager
def applied() -> Iterator[None]:
    """Draw what is made inside in the style of the house."""
    with mpl.rc_context(RC):
        yield


def signed_ticks(axis: Axis, digits: int, plus: bool = True) -> None:
    """Write the ticks of one axis with a real minus sign and, unless told not to, a plus.

    Parameters
    ----------
    axis : matplotlib.axis.Axis
    digits : int
        After the point.
    plus : bool
    """
    axis.set_major_formatter(
        lambda value, _: signed(value, "", digits).removeprefix("" if plus else "+")
    )


def ruled(
    axis: Axis,
    major: float | None = None,
    minor: float | None = None,
    digits: int | None = None,
    plus: bool = True,
) -> None:
    """Rule one axis of a figure like paper to read numbers by, on a light ground.

    The lines lie below all that is drawn.

    Parameters
    ----------
    axis : matplotlib.axis.Axis
    major : float, optional
        Step of the named lines; without it the axis keeps the ticks that it has.
    minor : float, optional
        Step of the lines between them; without it there are none.
    digits : int, optional
        After the point, where numbers stand with their sign; without it they stay as they are.
    plus : bool
        Whether positive numbers then get a plus.

    Examples
    --------
    >>> from matplotlib.figure import Figure
    >>> axes = Figure().add_subplot(xlim=(-1, 1))
    >>> ruled(axes.xaxis, 0.5, 0.1, digits=1)
    >>> [axes.xaxis.get_major_formatter()(d) for d in (-0.5, 0.0, 0.5)]
    ['−0.5', '0.0', '+0.5']
    """
    axis.axes.set_axisbelow(True)
    lines: tuple[tuple[float | None, Literal["major", "minor"], Callable, str, float], ...] = (
        (minor, "minor", axis.set_minor_locator, "#d2d2d2", 0.6),
        (major, "major", axis.set_major_locator, "#a6a6a6", 0.8),
    )
    for step, which, set_locator, grey, width in lines:
        if step:
            set_locator(MultipleLocator(step))
        if step or which == "major":
            axis.grid(which=which, color=grey, linewidth=width)
    if digits is not None:
        signed_ticks(axis, digits, plus)
