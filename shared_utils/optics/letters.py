"""Letters for a chart, drawn by geometry: five strokes high, five wide, each stroke one MAR.

No system font is used, so a chart is the same on every machine. The ten letters are those of
usual charts, of about equal legibility; E, turned four ways, is for those who do not read.

Sources
-------
Sloan, *Am J Ophthalmol* 1959;48:807 (the ten letters on a 5 × 5 grid); Bailey & Lovie, *Am J Optom
Physiol Opt* 1976;53:740 (gaps of a letter's width, rows apart by the height of the smaller, steps
of 0.1 logMAR); ISO 8596 (the ring with a gap, which the letter C is). The outlines are this
course's own.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from shared_utils.optics.acuity import LOGMAR_RANGE, STROKES_PER_LETTER
from shared_utils.optics.domain import require, require_one_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy import ndarray
    from numpy.typing import ArrayLike

SLOAN = "CDHKNORSVZ"
TUMBLING = ("E", "E down", "E left", "E up")
NAMES = (*SLOAN, *TUMBLING)

_FINER = 4  # samples a pixel in each direction
_MARGIN_STROKES = 2.0  # of the largest row, around a chart


def _bar(*corners):
    """Inside of a convex outline, corners clockwise on a page whose y runs downwards."""

    def inside(x, y):
        within = np.ones(np.broadcast(x, y).shape, dtype=bool)
        for (x0, y0), (x1, y1) in zip(corners, corners[1:] + corners[:1], strict=True):
            within &= (x1 - x0) * (y - y0) - (y1 - y0) * (x - x0) >= 0
        return within

    return inside


def _box(left, top, right, bottom):
    return _bar((left, top), (right, top), (right, bottom), (left, bottom))


def _ring(x0, y0, outer, keep):
    """A ring one stroke wide, where ``keep`` holds."""

    def inside(x, y):
        radius = np.hypot(x - x0, y - y0)
        return (radius <= outer) & (radius >= outer - 1.0) & keep(x, y)

    return inside


_SHAPES = {
    "C": (_ring(2.5, 2.5, 2.5, lambda x, y: (x < 2.5) | (np.abs(y - 2.5) > 0.5)),),
    "D": (
        _box(0, 0, 1, 5),
        _box(1, 0, 2.5, 1),
        _box(1, 4, 2.5, 5),
        _ring(2.5, 2.5, 2.5, lambda x, y: x >= 2.5),
    ),
    "H": (_box(0, 0, 1, 5), _box(4, 0, 5, 5), _box(1, 2, 4, 3)),
    "K": (
        _box(0, 0, 1, 5),
        _bar((3.6, 0), (5, 0), (1, 3.9), (1, 2.5)),
        _bar((1.8, 1.9), (2.6, 1.3), (5, 5), (3.7, 5)),
    ),
    "N": (
        _box(0, 0, 1, 5),
        _box(4, 0, 5, 5),
        _bar((0, 0), (1.2, 0), (5, 5), (3.8, 5)),
    ),
    "O": (_ring(2.5, 2.5, 2.5, lambda x, y: True),),
    "R": (
        _box(0, 0, 1, 5),
        _box(1, 0, 3.5, 1),
        _box(1, 2, 3.5, 3),
        _ring(3.5, 1.5, 1.5, lambda x, y: x >= 3.5),
        _bar((2, 3), (3.3, 3), (5, 5), (3.7, 5)),
    ),
    "S": (
        _box(1.5, 0, 4.6, 1),
        _box(1.5, 2, 3.5, 3),
        _box(0.4, 4, 3.5, 5),
        _ring(1.5, 1.5, 1.5, lambda x, y: x <= 1.5),
        _ring(3.5, 3.5, 1.5, lambda x, y: x >= 3.5),
    ),
    "V": (
        _bar((0, 0), (1.1, 0), (3.05, 5), (1.95, 5)),
        _bar((3.9, 0), (5, 0), (3.05, 5), (1.95, 5)),
    ),
    "Z": (_box(0, 0, 5, 1), _box(0, 4, 5, 5), _bar((3.7, 1), (5, 1), (1.3, 4), (0, 4))),
    "E": (_box(0, 0, 1, 5), _box(1, 0, 5, 1), _box(1, 2, 5, 3), _box(1, 4, 5, 5)),
}


def letter(name: str, pixels: float) -> ndarray:
    """Return a letter as ink on a square of pixels.

    Parameters
    ----------
    name : str
        One of `NAMES`: C D H K N O R S V Z, or E, which may be turned (``E down``, ``E left``,
        ``E up``).
    pixels : float
        Height and width of the letter, 1 to 2000; a part of a pixel counts.

    Returns
    -------
    numpy.ndarray
        0 (paper) to 1 (ink); whole pixels, the letter in the upper left corner.

    Examples
    --------
    >>> letter("E", 5).astype(int)[:, 1]
    array([1, 0, 1, 0, 1])
    """
    require_one_of("name", name, NAMES)
    height = require("pixels", pixels, 1.0, 2000.0, hint="The height of the letter, in pixels.")
    if height.ndim:
        raise ValueError(f"pixels holds {height.size} numbers; give one height.")
    side = int(np.ceil(height))
    return _placed(name, 0.0, 0.0, float(height), side, side)


def chart(
    rows_logmar: ArrayLike,
    degrees_per_pixel: float,
    shape: tuple[int, int],
    letters_per_row: int = 5,
    names: Sequence[str] = ("N", "C", "K", "Z", "O", "R", "H", "S", "D", "V"),
) -> ndarray:
    """Return a chart: black letters on white, a row for each size.

    Parameters
    ----------
    rows_logmar : scalar or array
        Size of each row from the top, −1 to 3 logMAR; a letter is 5 · 10^logMAR arcmin high.
    degrees_per_pixel : float
        Visual angle of a pixel, 0.0001 to 1°.
    shape : (int, int)
        Rows and columns of pixels.
    letters_per_row : int
        1 to 10.
    names : sequence of str
        Of `NAMES`, used in turn.

    Returns
    -------
    numpy.ndarray
        1 (paper) to 0 (ink), the rows in the middle of the picture.

    Raises
    ------
    ValueError
        If the chart does not fit.

    Examples
    --------
    >>> round(float(chart(0.3, 0.01, (64, 200)).mean()), 2)
    0.94
    """
    rows = require("rows_logmar", rows_logmar, *LOGMAR_RANGE, hint="20/20 is 0, 20/200 is 1.")
    pixel_deg = require("degrees_per_pixel", degrees_per_pixel, 1e-4, 1.0, hint="1' is 0.0167°.")
    count = require("letters_per_row", letters_per_row, 1, 10)
    size = require("shape", shape, 1, 4096, hint="Rows and columns of pixels.")
    if pixel_deg.ndim or count.ndim or count % 1 or size.shape != (2,) or np.any(size % 1):
        raise ValueError(
            "degrees_per_pixel, letters_per_row and shape are one number, one whole number and "
            "two whole numbers; give them so."
        )
    if not isinstance(names, (list, tuple)) or len(names) == 0:
        given = " ".join(repr(names).split())[:40]  # an array's repr has lines
        raise ValueError(f"names is {given}; give a list of letters, such as ('N', 'C').")
    for name in names:
        require_one_of("names", name, NAMES)
    rows = np.atleast_1d(rows).ravel()
    if rows.size == 0:
        raise ValueError("rows_logmar holds no number; give at least one size.")
    height, width = size.astype(int)
    high = STROKES_PER_LETTER * 10.0**rows / 60.0 / float(pixel_deg)  # pixels
    gaps = high[1:]
    needed = (high.sum() + gaps.sum(), high.max() * (2.0 * float(count) - 1.0))
    margin = 2.0 * _MARGIN_STROKES / STROKES_PER_LETTER * high.max()
    if needed[0] + margin > height or needed[1] + margin > width:
        raise ValueError(
            f"shape is {height} by {width} pixels, and this chart needs {needed[0] + margin:.0f} "
            f"by {needed[1] + margin:.0f}; give more pixels, smaller letters or fewer."
        )
    if high.min() < 1.0:
        raise ValueError(
            f"degrees_per_pixel is {float(pixel_deg):g}°, a letter of {rows.min():g} logMAR is "
            "smaller than a pixel; give finer pixels."
        )
    paper = np.ones((height, width))
    top, number = (height - needed[0]) / 2.0, 0
    for pixels, gap in zip(high, [*gaps, 0.0], strict=True):
        left = (width - pixels * (2.0 * float(count) - 1.0)) / 2.0
        for place in range(int(count)):
            _print(paper, names[number % len(names)], top, left + 2.0 * place * pixels, pixels)
            number += 1
        top += pixels + gap
    return paper


def _print(paper, name, top, left, pixels):
    """Put a letter on the paper where it belongs, to a part of a pixel."""
    low, high = int(np.floor(top)), int(np.ceil(top + pixels))
    start, stop = int(np.floor(left)), int(np.ceil(left + pixels))
    paper[low:high, start:stop] -= _placed(
        name, top - low, left - start, pixels, high - low, stop - start
    )


def _placed(name, top, left, pixels, rows, columns):
    scale = STROKES_PER_LETTER / pixels
    y = ((np.arange(rows * _FINER) + 0.5) / _FINER - top) * scale
    x = ((np.arange(columns * _FINER) + 0.5) / _FINER - left) * scale
    return _ink(name, x, y[:, None]).reshape(rows, _FINER, columns, _FINER).mean(axis=(1, 3))


def _ink(name, x, y):
    """Whether places on the letter's own 5 × 5 grid are ink."""
    if name in TUMBLING:
        for _ in range(TUMBLING.index(name)):
            x, y = y, STROKES_PER_LETTER - x
        name = "E"
    inside = (x >= 0) & (x <= STROKES_PER_LETTER) & (y >= 0) & (y <= STROKES_PER_LETTER)
    return inside & np.logical_or.reduce([shape(x, y) for shape in _SHAPES[name]])
