"""One style for every figure: sizes, and the colour and line of each class of lens.

Colours are from the set of Okabe and Ito, told apart with every kind of colour vision; the line
style says the same a second time, and a label on the line a third.
"""

from contextlib import contextmanager
from dataclasses import dataclass

import matplotlib as mpl

WIDTH_PX = 700
DPI = 100

BLACK, GREY, BLUE, VERMILION, GREEN = "#000000", "#555555", "#0072B2", "#D55E00", "#009E73"
ORANGE, SKY, PURPLE = "#E69F00", "#56B4E9", "#CC79A7"

RC = {
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
def applied():
    """Draw what is made inside in the style of the house."""
    with mpl.rc_context(RC):
        yield


def signed(value, unit="D", digits=2):
    """Return a number as the trade writes it, with a real minus sign and a plus.

    >>> signed(-2.5), signed(5), signed(0)
    ('−2.50 D', '+5.00 D', '0.00 D')
    """
    rounded = round(float(value), digits)
    sign = "+" if rounded > 0 else "−" if rounded < 0 else ""
    return f"{sign}{abs(rounded):.{digits}f} {unit}".rstrip()
