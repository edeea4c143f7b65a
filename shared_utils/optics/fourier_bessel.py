"""From a round pupil to the contrast that it passes: Fourier and Bessel in place of a grid.

Whatever is round needs one radius, not a square of pixels. One matrix product takes the wave in
the pupil to its amplitude on the retina, for all defoci and wavelengths at once. Contrast ends
exactly at a cut-off frequency, so the intensities at angles that follow the zeros of J0 hold all
of it, and a second product gives it at any frequency. Three details make this accurate:

* Gauss points between the lens's rings, so that no step is blurred;
* the rim's diffraction, which reaches far, taken out and put back in closed form;
* the light beyond the last angle, which falls with the cube of the angle, put back by its total,
  so that contrast at frequency 0 is exactly 1.

Units leave no constants: r in mm, u = r² in mm², path and wavelength in µm, power in D, angle in
mrad. Then path = power · u / 2, phase = 2π · path / wavelength, and a frequency compares places of
the pupil that lie wavelength · frequency apart.

Sources
-------
Goodman, *Introduction to Fourier Optics* (pupil, spread, transfer; closed form for a round
pupil). Watson, *Theory of Bessel Functions*, chapter XVIII (series over the zeros of J0).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np
from scipy.special import itj0y0, j0, j1, jn_zeros

if TYPE_CHECKING:
    from collections.abc import Callable
    from typing import TypeAlias

    from numpy import ndarray
    from numpy.typing import ArrayLike

    from shared_utils.optics.types import FloatOrArray

    PupilFunction: TypeAlias = Callable[[ndarray], FloatOrArray]  # of u_mm2

MRAD_PER_DEG = 1000.0 * np.pi / 180.0

# How dense is dense enough: with these, contrast differs by less than 0.002 from that of a grid
# twice as fine, for pupils of 1 to 8 mm. Each is a factor on an estimate of what varies.
_ANGLES_PER_BLUR = 1.3
_ANGLES_PER_RING = 1.0
_ANGLES_AT_LEAST = 40
_POINTS_PER_TURN = 0.5 * np.pi
_BLOCK = 64  # defoci at a time: memory stays bounded, cost in proportion


@dataclass(frozen=True)
class Light:
    """The wavelengths of a light, each with its focus in the eye and its share of brightness."""

    wavelength_um: tuple
    focus_d: tuple
    share: tuple


def diffraction_limit(relative_frequency: ArrayLike) -> ndarray:
    """Return the contrast that a round pupil without error passes.

    Parameters
    ----------
    relative_frequency : scalar or array
        Frequency divided by the cut-off frequency, which is pupil diameter / wavelength; 0 or
        more.

    Returns
    -------
    numpy.ndarray
        1 to 0; 0 beyond the cut-off.

    Sources
    -------
    Goodman: (2/π)(arccos x − x √(1 − x²)).

    Examples
    --------
    >>> diffraction_limit([0.0, 0.5, 1.0]).round(3)
    array([1.   , 0.391, 0.   ])
    """
    x = np.clip(relative_frequency, 0.0, 1.0)
    return 2.0 / np.pi * (np.arccos(x) - x * np.sqrt(1.0 - x * x))


def transfer_of_pupil(
    path_um: PupilFunction,
    amplitude: PupilFunction,
    edges_mm2: ArrayLike,
    light: Light,
    defocus_d: ndarray,
    frequency_cpd: ndarray,
) -> ndarray:
    """Return the contrast that a round pupil passes, negative where it is reversed.

    Parameters
    ----------
    path_um, amplitude : functions of u_mm2
        Path (µm) and amplitude transmission of the wave at each place of the pupil.
    edges_mm2 : sequence of floats
        u where either changes abruptly, mm², rising; the last is the rim of the pupil.
    light : Light
    defocus_d : array of one dimension
        D, added to the path.
    frequency_cpd : array of one dimension
        Cycles/degree, 0 or more.

    Returns
    -------
    numpy.ndarray, shape (defocus, frequency)
    """
    edges = open_part(amplitude, edges_mm2)
    wavelength, focus = np.array(light.wavelength_um), np.array(light.focus_d)
    local = np.add.outer(_local_power_d(path_um, edges), [np.min(defocus_d), np.max(defocus_d)])
    turns = np.max(np.abs(np.add.outer(local, focus)) / (2.0 * wavelength))
    grid = _grid(tuple(edges.tolist()), float(np.ceil(4.0 * turns) / 4.0))
    defocus = _defocus(grid, light.wavelength_um, tuple(defocus_d.tolist()))
    series = _series(grid, light, tuple(frequency_cpd.tolist()))

    u = grid.u_mm2
    passed = np.asarray(amplitude(u))
    phase = 2.0 * np.pi * (np.asarray(path_um(u))[:, None] + focus * u[:, None] / 2.0) / wavelength
    pupil = (passed[:, None] * np.exp(1j * phase)).astype(np.complex64)
    total = grid.weight @ passed**2
    rim = float(amplitude(edges[-1] * (1.0 - 1e-9)) ** 2)
    contrast = np.empty((len(defocus_d), len(frequency_cpd)))
    for start in range(0, len(defocus_d), _BLOCK):
        block = slice(start, start + _BLOCK)
        waves = (defocus[:, :, block] * pupil[:, :, None]).reshape(len(u), -1)
        # a complex number is two real ones side by side: a real product carries both
        retina = (grid.to_retina @ waves.view(np.float32)).view(np.complex64)
        intensity = retina.real**2 + retina.imag**2
        caught = (series.at_zero @ intensity).reshape(len(wavelength), -1)
        beyond = (total - caught - rim * series.rim_at_zero).T @ series.beyond
        within = intensity.reshape(len(series.matrix), -1).T @ series.matrix
        contrast[block] = within + rim * series.rim + beyond
    return contrast / total


@dataclass(frozen=True, eq=False)
class _Grid:
    """Points in the pupil, angles on the retina, and the matrix from one to the other."""

    rim_mm2: float
    u_mm2: np.ndarray
    weight: np.ndarray  # of the pupil's area; sums to 1
    angle: np.ndarray  # 2π · rim radius · angle / wavelength, at half the zeros of J0
    to_retina: np.ndarray  # (angle, point)


@dataclass(frozen=True)
class _Series:
    """What makes contrast of intensities; shares of the wavelengths are in it."""

    matrix: np.ndarray  # (angle and wavelength, frequency)
    at_zero: np.ndarray  # the same at frequency 0, for one wavelength
    rim: np.ndarray  # what diffraction at the rim adds beyond the series, per frequency
    rim_at_zero: float
    beyond: np.ndarray  # (wavelength, frequency), contrast of the light beyond the last angle


@lru_cache(maxsize=8)
def _grid(edges_mm2, turns_per_mm2):
    """Grid for a wave that makes so many turns per mm² at its steepest; same key, same grid."""
    edges = np.array((0.0, *edges_mm2))
    rim = edges[-1]
    radii = np.sqrt(edges / rim)
    rings = np.diff(radii[:-1])  # without the last, which the pupil cuts anywhere
    blur = 4.0 * np.pi * rim * turns_per_mm2
    splitting = 2.0 * np.pi / np.min(rings) if rings.size else 0.0
    reach = _ANGLES_PER_BLUR * blur + _ANGLES_PER_RING * splitting
    angle = jn_zeros(0, int(np.ceil(reach * 2.0 / np.pi)) + _ANGLES_AT_LEAST) / 2.0
    turns = np.diff(edges) * turns_per_mm2 + np.diff(radii) * angle[-1] / (2.0 * np.pi)
    parts = []
    for low, high, count in zip(edges, edges[1:], _POINTS_PER_TURN * turns + 5.0, strict=False):
        x, w = gauss_points(int(np.ceil(count)))
        parts.append((low + (1.0 + x) / 2.0 * (high - low), w / 2.0 * (high - low) / rim))
    u, weight = (np.concatenate(part) for part in zip(*parts, strict=True))
    to_retina = (j0(angle[:, None] * np.sqrt(u / rim)) * weight).astype(np.float32)
    return _Grid(rim, u, weight, angle, to_retina)


@lru_cache(maxsize=64)
def gauss_points(count: int) -> tuple[ndarray, ndarray]:
    """Return points in −1 to 1 and weights of Gauss and Legendre's rule."""
    return np.polynomial.legendre.leggauss(count)


@lru_cache(maxsize=4)
def _defocus(grid, wavelength_um, defocus_d):
    """Wave of each defocus, (point, wavelength, defocus)."""
    waves = np.multiply.outer(0.5 / np.array(wavelength_um), np.array(defocus_d))
    return np.exp(2j * np.pi * np.multiply.outer(grid.u_mm2, waves)).astype(np.complex64)


@lru_cache(maxsize=8)
def _series(grid, light, frequency_cpd):
    wavelength, share = np.array(light.wavelength_um), np.array(light.share)
    shear = np.multiply.outer(wavelength, np.array(frequency_cpd)) / MRAD_PER_DEG
    relative = shear / np.sqrt(grid.rim_mm2)  # 2 at the cut-off
    inside = np.where(relative < 2.0, share[:, None], 0.0)
    at_zero = 1.0 / (4.0 * j1(2.0 * grid.angle) ** 2)
    matrix = at_zero[:, None, None] * inside * j0(np.multiply.outer(grid.angle, relative))
    airy = (2.0 * j1(grid.angle) / grid.angle) ** 2
    # a quarter of a turn past the last zero lies the end of its share of the series
    last = (grid.angle[-1] + np.pi / 4.0) * relative
    cube = j0(last) - last * (1.0 - itj0y0(last)[0] + j1(last))
    return _Series(
        matrix=matrix.reshape(-1, len(frequency_cpd)).astype(np.float32),
        at_zero=at_zero.astype(np.float32),
        rim=share @ diffraction_limit(relative / 2.0) - np.tensordot(airy, matrix.sum(1), 1),
        rim_at_zero=float(1.0 - airy @ at_zero),
        beyond=inside * cube,
    )


def open_part(amplitude: PupilFunction, edges_mm2: ArrayLike) -> ndarray:
    """Return the edges up to the outermost place where light passes; a dark rim is no pupil."""
    edges = np.asarray(edges_mm2, dtype=float)
    middles = (edges + np.concatenate([[0.0], edges[:-1]])) / 2.0
    return edges[: np.flatnonzero(amplitude(middles))[-1] + 1]


def _local_power_d(path_um, edges):
    """Least and greatest local power of the path between its edges, D."""
    low, high = np.concatenate([[0.0], edges[:-1]]), edges
    u = low[:, None] + (high - low)[:, None] * np.linspace(0.01, 0.99, 15)
    power = 2.0 * np.diff(path_um(u), axis=1) / np.diff(u, axis=1)
    return np.array([np.min(power), np.max(power)])
