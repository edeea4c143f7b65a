"""A scene as a sum of cosine waves, mirrored at its edges.

Blur that is the same in all directions weakens each wave by one factor and moves none, so the image
is the same sum with each wave times the transfer at its frequency.

Sources
-------
Martucci, IEEE Trans Signal Process 1994;42:1038: a mirrored scene and a symmetric blur need the
cosine transform alone.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from scipy import fft

from shared_utils.optics.domain import require, require_one

if TYPE_CHECKING:
    from numpy import ndarray
    from numpy.typing import ArrayLike

PIXEL_RANGE_DEG = (1e-4, 1.0)


def cosine_waves(scene: ArrayLike) -> ndarray:
    """Return the size of each cosine wave of a scene.

    Parameters
    ----------
    scene : array, shape (rows, columns)
        Brightness; single precision stays single precision.

    Returns
    -------
    numpy.ndarray
        As many waves as pixels, in the order of `frequency_of_waves_cpd`.

    Raises
    ------
    ValueError
        If the scene does not hold rows and columns of finite numbers.

    Examples
    --------
    An even scene has the wave of frequency 0 alone.

    >>> cosine_waves(np.ones((2, 3))).round(6) + 0.0
    array([[24.,  0.,  0.],
           [ 0.,  0.,  0.]])
    """
    return fft.dctn(_picture("scene", scene), type=2)


def scene_of_waves(waves: ArrayLike) -> ndarray:
    """Return the scene that some cosine waves make.

    Parameters
    ----------
    waves : array, shape (rows, columns)
        From `cosine_waves`, each times what is passed of it.

    Returns
    -------
    numpy.ndarray
        Brightness.

    Raises
    ------
    ValueError
        If the waves do not stand in rows and columns.

    Examples
    --------
    >>> scene_of_waves(0.5 * cosine_waves([[1.0, 0.0], [0.0, 1.0]])).round(6) + 0.0
    array([[0.5, 0. ],
           [0. , 0.5]])
    """
    return fft.idctn(_picture("waves", waves), type=2)


def frequency_of_waves_cpd(shape: tuple[int, int], degrees_per_pixel: float) -> ndarray:
    """Return the frequency of each wave of a scene of a shape.

    Parameters
    ----------
    shape : (int, int)
        Rows and columns of pixels.
    degrees_per_pixel : float
        Visual angle of a pixel, 0.0001 to 1°.

    Returns
    -------
    numpy.ndarray
        Cycles/degree, the shape of the scene.

    Raises
    ------
    ValueError
        If a number is out of its range.

    Examples
    --------
    Along the columns, half a cycle more with each wave over three pixels of half a degree.

    >>> frequency_of_waves_cpd((1, 3), 0.5).round(3)
    array([[0.   , 0.333, 0.667]])
    """
    sides = require("shape", shape, 1, 4096, hint="Rows and columns of pixels.")
    pixel_deg = require_one("degrees_per_pixel", degrees_per_pixel, *PIXEL_RANGE_DEG)
    if sides.shape != (2,) or np.any(sides % 1):
        raise ValueError(f"shape is {shape!r}; give two whole numbers, rows and columns.")
    rows, columns = (np.arange(int(n)) / (2.0 * int(n) * pixel_deg) for n in sides)
    return np.hypot(rows[:, None], columns)


def _picture(name, values):
    """Values as rows and columns of numbers, in the precision in which they came."""
    single = getattr(values, "dtype", None) == np.float32
    checked = require(name, values)
    if checked.ndim != 2 or checked.size == 0:
        raise ValueError(f"{name} has the shape {checked.shape}; give rows and columns of numbers.")
    return values if single else checked
