"""From a pupil to the light that it spreads: by radii where all is round, by a square where not.

The light at one angle is the square of the sum of all waves of the pupil. Round pupils need one
radius (a Bessel function in place of the Fourier transform); decentred, tilted or coma-ridden
lenses need the square, by the matrix triple product: two plain matrix products, for just the
angles that are wanted, at any spacing, with no zero-padding.

Units as in `fourier_bessel`: r in mm, u = r² in mm², path and wavelength in µm, power in D, angle
in mrad; light per mrad², of all the light that passes the pupil.

Sources
-------
Goodman, *Introduction to Fourier Optics* (Fraunhofer diffraction, Fourier–Bessel transform);
Soummer, Pueyo, Sivaramakrishnan & Vanderbei, Opt Express 2007;15:15935 (matrix triple product).
"""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np
from scipy.interpolate import CubicSpline
from scipy.special import j0

from shared_utils.optics.fourier_bessel import gauss_points, open_part

if TYPE_CHECKING:
    from numpy import ndarray
    from numpy.typing import ArrayLike

    from shared_utils.optics.fourier_bessel import Light, PupilFunction

_POINTS_AT_LEAST = 12  # beyond π/2 a turn, with which Gauss points begin to follow a wave
_BLOCK = 512  # angles at a time: memory stays bounded
_STEP = np.pi / 12.0  # of 2π · rim radius · angle / wavelength: twelve follow one bright ring


def round_spread(
    path_um: PupilFunction,
    amplitude: PupilFunction,
    edges_mm2: ArrayLike,
    light: Light,
    defocus_d: ndarray,
    angle_mrad: ndarray,
) -> ndarray:
    """Return the light at angles from the axis of a round pupil.

    Parameters
    ----------
    path_um, amplitude, edges_mm2, light, defocus_d
        As for `fourier_bessel.transfer_of_pupil`.
    angle_mrad : array of one dimension
        0 or more.

    Returns
    -------
    numpy.ndarray, shape (defocus, angle)
        Per mrad²; its integral over all angles is 1.
    """
    pupil = _RoundPupil(path_um, amplitude, edges_mm2, light, defocus_d, np.max(angle_mrad))
    spread = np.zeros((len(defocus_d), len(angle_mrad)))
    for number, (um, share) in enumerate(zip(light.wavelength_um, light.share, strict=True)):
        turning = 2.0 * np.pi * np.sqrt(pupil.u_mm2) / um
        waves = pupil.waves(number)
        for start in range(0, len(angle_mrad), _BLOCK):
            block = slice(start, start + _BLOCK)
            retina = _product(j0(np.multiply.outer(angle_mrad[block], turning)), waves)
            peak = np.pi * pupil.rim_mm2 / um**2 / pupil.passed
            spread[:, block] += share * peak * (retina.real**2 + retina.imag**2).T
    return spread


def round_energy(
    path_um: PupilFunction,
    amplitude: PupilFunction,
    edges_mm2: ArrayLike,
    light: Light,
    defocus_d: ndarray,
    angle_mrad: ndarray,
) -> ndarray:
    """Return the light within angles from the axis of a round pupil.

    Parameters
    ----------
    path_um, amplitude, edges_mm2, light, defocus_d, angle_mrad
        As for `round_spread`.

    Returns
    -------
    numpy.ndarray, shape (defocus, angle)
        Fractions of the light that passes the pupil.
    """
    pupil = _RoundPupil(path_um, amplitude, edges_mm2, light, defocus_d, np.max(angle_mrad))
    per_mrad = 2.0 * np.pi * np.sqrt(pupil.rim_mm2) / np.array(light.wavelength_um)
    steps = int(np.ceil(per_mrad.max() * np.max(angle_mrad) / _STEP)) + 4
    place = _STEP * np.arange(steps)
    to_retina = _bessel(pupil.edges, pupil.counts, steps)
    within = np.zeros((len(defocus_d), len(angle_mrad)))
    for number, share in enumerate(light.share):
        retina = _product(to_retina, pupil.waves(number).astype(np.complex64))
        rings = (retina.real**2 + retina.imag**2) * place[:, None] / 2.0 / pupil.passed
        energy = CubicSpline(place, rings).antiderivative()
        within += share * energy(per_mrad[number] * angle_mrad).T
    return within


class _RoundPupil:
    """Gauss points between the edges of a round pupil, and the waves at them."""

    def __init__(self, path_um, amplitude, edges_mm2, light, defocus_d, reach_mrad):
        edges = open_part(amplitude, edges_mm2)
        wavelength, focus = np.array(light.wavelength_um), np.array(light.focus_d)
        ends = np.array([np.min(defocus_d), np.max(defocus_d)])
        steepest = _steepest_d(path_um, edges) + np.abs(np.add.outer(ends, focus))
        per_mm2 = np.max(steepest / (2.0 * wavelength))
        inner = np.concatenate([[0.0], edges[:-1]])
        turns = (edges - inner) * per_mm2
        turns += (np.sqrt(edges) - np.sqrt(inner)) * reach_mrad / wavelength.min()
        # rounded up to a fifth more, so that a slider's next step finds its matrix again
        rounded = 1.2 ** np.ceil(np.log(0.5 * np.pi * turns + 1.0) / np.log(1.2))
        self.counts = tuple(int(c) for c in np.ceil(rounded) + _POINTS_AT_LEAST)
        self.edges = tuple(edges.tolist())
        self.rim_mm2 = edges[-1]
        self.u_mm2, self._weight = _points(self.edges, self.counts)
        passed = amplitude(self.u_mm2)
        self.passed = self._weight @ passed**2
        self._weighted = self._weight * passed
        self._path_um = path_um(self.u_mm2)
        self._light, self._defocus_d = light, defocus_d

    def waves(self, number):
        """Waves of one wavelength, (point, defocus), weighted for the sum over the pupil."""
        focus = self._defocus_d + self._light.focus_d[number]
        path = self._path_um[:, None] + np.multiply.outer(self.u_mm2, focus) / 2.0
        turned = np.exp(2j * np.pi / self._light.wavelength_um[number] * path)
        return self._weighted[:, None] * turned


def _steepest_d(path_um, edges):
    """Largest local power of the path between its edges, D; its sign does not count."""
    inner = np.concatenate([[0.0], edges[:-1]])
    u = inner[:, None] + (edges - inner)[:, None] * np.linspace(0.01, 0.99, 15)
    return 2.0 * np.max(np.abs(np.diff(path_um(u), axis=1) / np.diff(u, axis=1)))


@lru_cache(maxsize=8)
def _points(edges, counts):
    """Gauss points in u and their share of the pupil's area."""
    parts = []
    for low, high, count in zip((0.0, *edges), edges, counts, strict=False):
        x, w = gauss_points(count)
        parts.append((low + (1.0 + x) / 2.0 * (high - low), w / 2.0 * (high - low) / edges[-1]))
    return tuple(np.concatenate(part) for part in zip(*parts, strict=True))


@lru_cache(maxsize=2)
def _bessel(edges, counts, steps):
    """Matrix from the points of a pupil to equal steps of angle, the same for all wavelengths."""
    relative = np.sqrt(_points(edges, counts)[0] / edges[-1])
    return j0(np.multiply.outer(_STEP * np.arange(steps), relative)).astype(np.float32)


def _product(real, waves):
    # a complex number is two real ones side by side: a real product carries both
    waves = np.ascontiguousarray(waves)
    return (real @ waves.view(waves.real.dtype)).view(waves.dtype)


def square_spread(
    wave: ndarray, spacing_mm: float, wavelength_um: float, angle_mrad: ArrayLike
) -> ndarray:
    """Return the light on a square of angles, by the matrix triple product.

    Parameters
    ----------
    wave : complex array, shape (side, side)
        Amplitude at each place of the pupil; rows run along y, columns along x, the middle of the
        array is the middle of the pupil.
    spacing_mm : float
        From one place to the next.
    wavelength_um : float
    angle_mrad : array of one dimension
        Of the rows and of the columns; in the direction in which the light seems to come from.

    Returns
    -------
    numpy.ndarray, shape (angle, angle)
        Per mrad²; its integral over one period, wavelength / spacing, is 1.
    """
    side = len(wave)
    place = (np.arange(side) - (side - 1) / 2.0) * spacing_mm
    turns = np.multiply.outer(np.asarray(angle_mrad), place) / wavelength_um
    matrix = np.exp(-2j * np.pi * turns).astype(wave.dtype)
    retina = matrix @ wave @ matrix.T
    total = np.sum(np.abs(wave) ** 2, dtype=float)
    light = retina.real**2 + retina.imag**2
    return light * (spacing_mm / wavelength_um) ** 2 / total


def square_transfer(
    spread: ndarray, spacing_mrad: float, row_per_mrad: ArrayLike, column_per_mrad: ArrayLike
) -> ndarray:
    """Return the transfer function of a square of light, at any frequencies.

    Parameters
    ----------
    spread : array, shape (side, side)
        Light on the retina, the middle of the array being the axis.
    spacing_mrad : float
        From one place to the next.
    row_per_mrad, column_per_mrad : arrays of one dimension
        Frequencies along y and x, cycles/mrad.

    Returns
    -------
    complex array, shape (row frequency, column frequency)
        The sum of the square at frequency 0.
    """
    angle = (np.arange(len(spread)) - (len(spread) - 1) / 2.0) * spacing_mrad
    rows, columns = (
        np.exp(-2j * np.pi * np.multiply.outer(f, angle)).astype(np.complex64)
        for f in (row_per_mrad, column_per_mrad)
    )
    return rows @ (spread.astype(np.float32) @ columns.T) * spacing_mrad**2
