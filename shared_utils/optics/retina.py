"""What reaches the retina: the spread of a point, halos at night, and the image of a scene.

The eye is that of `through_focus`: focused for far at 555 nm, with the average cornea's spherical
aberration and the eye's chromatic focus in white light. Angles are visual angles in arcmin, light
is the fraction of all light that passes the pupil, so a spread counts per arcmin² and its
integral is 1. A mask makes the image dimmer: `Lens.energy_budget` says by how much, and it is not
counted a second time here.

A lens that sits round the axis is computed by radii. One that is decentred or tilted, or an eye
with coma, takes a `Placement` and the slower square route.

Wherever a picture from here is shown, `through_focus.LIMITS` is shown with it: no scatter, so the
real night is brighter between the lamps.

Sources
-------
Goodman, *Introduction to Fourier Optics*; Born & Wolf, *Principles of Optics* (Airy disc and its
energy); Alba-Bueno et al. 2014 (size of a halo; abstract). Of a tilted lens: Keating, *Geometric,
Physical and Visual Optics*.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np
from scipy import fft
from scipy.interpolate import CubicSpline

from shared_utils.optics.cosine_waves import (
    PIXEL_RANGE_DEG,
    cosine_waves,
    frequency_of_waves_cpd,
    scene_of_waves,
)
from shared_utils.optics.domain import require, require_one, unwrap_scalar
from shared_utils.optics.fourier_bessel import MRAD_PER_DEG
from shared_utils.optics.lenses import (
    PUPIL_HINT,
    PUPIL_RANGE_MM,
    aberration_um,
    corneal_add_d,
    require_lens,
)
from shared_utils.optics.spread import (
    round_energy,
    round_spread,
    square_spread,
    square_transfer,
)
from shared_utils.optics.through_focus import signed_contrast
from shared_utils.optics.viewing import AVERAGE_CORNEA_SA_UM, DEFOCUS_HINT, DEFOCUS_RANGE_D, Viewing

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy import ndarray
    from numpy.typing import ArrayLike

    from shared_utils.optics.lenses import Lens
    from shared_utils.optics.types import FloatOrArray

MRAD_PER_ARCMIN = MRAD_PER_DEG / 60.0
ANGLE_RANGE_ARCMIN = (0.0, 180.0)
ANGLE_HINT = "From the axis; one degree is 60 arcmin."
DISTANCE_RANGE_M = (0.125, np.inf)
PIXEL_HINT = "In degrees: one arcmin is 0.0167."
LARGEST_SCENE = 2048  # pixels a side; more asks for memory that a small machine has not

_HALO_RING_ARCMIN = 1.0  # width over which a profile is averaged: about two cones
_EDGE_OF_HALO = (0.55, 0.75)  # of its geometric radius: where it is even, outside inner halos
_TABLE = 16384  # entries between frequency 0 and the cut-off
_FREQUENCIES = 384
_PUPIL_SIDE, _FINER, _RETINA_SIDE = 256, 2, 512  # of the square route


@dataclass(frozen=True)
class Placement:
    """How a lens sits in the eye, and the coma of cornea and lens together.

    x points to the right and y up, as the patient looks out.

    Parameters
    ----------
    decentration_mm : (float, float)
        Shift of the lens along x and y in the entrance pupil, −2 to 2 mm.
    tilt_deg : (float, float)
        Turn about the x axis and about the y axis, −20 to 20°. The rings look narrower, and the
        body of the lens gains power, most across the axis of the turn.
    coma_um : (float, float)
        Zernike coefficients Z(3,1), along x, and Z(3,−1), along y, over a 6-mm pupil, −2 to 2 µm.
        A decentred lens with spherical aberration makes its own coma besides.
    lens_power_d : float
        Power of the lens in the eye, 0 to 40 D; counts if the lens is tilted.

    Sources
    -------
    Keating, tilted thin lens: power grows by F sin²φ/2n, and by F tan²φ across the axis of the
    turn; n = 1.49 / 1.336. ISO 24157 (Zernike functions).
    """

    decentration_mm: tuple = (0.0, 0.0)
    tilt_deg: tuple = (0.0, 0.0)
    coma_um: tuple = (0.0, 0.0)
    lens_power_d: float = 20.0

    def __post_init__(self):
        for name, limit in (("decentration_mm", 2.0), ("tilt_deg", 20.0), ("coma_um", 2.0)):
            pair = require(name, getattr(self, name), -limit, limit)
            if pair.shape != (2,):
                raise ValueError(f"{name} has the shape {pair.shape}; give two numbers, x and y.")
            object.__setattr__(self, name, tuple(pair.tolist()))
        power_d = require_one(
            "lens_power_d", self.lens_power_d, 0.0, 40.0, hint="Of the lens alone."
        )
        object.__setattr__(self, "lens_power_d", power_d)


def psf(
    lens: Lens,
    pupil_mm: float,
    angle_arcmin: ArrayLike,
    defocus_d: ArrayLike = 0.0,
    wavelength_nm: float | None = None,
    corneal_sa_um: float = AVERAGE_CORNEA_SA_UM,
) -> FloatOrArray:
    """Return how the light of a point spreads over the retina (the point-spread function).

    Parameters
    ----------
    lens : Lens
        From `lenses`.
    pupil_mm : float
        Pupil diameter, 0.5 to 9 mm.
    angle_arcmin : scalar or array
        Visual angle from the middle, 0 to 180 arcmin.
    defocus_d : scalar or array
        Vergence of the point, −8 to 8 D; 40 cm is −2.50 D.
    wavelength_nm : float or None
        380 to 780 nm, in focus as green is; None for white light with the eye's chromatic focus.
    corneal_sa_um : float
        Spherical aberration of the cornea over a 6-mm pupil, −1 to 1 µm.

    Returns
    -------
    float or array
        Fraction of the light per arcmin², shape of defocus_d followed by shape of angle_arcmin;
        over all the retina it adds up to 1.

    Sources
    -------
    Goodman; Born & Wolf. In the middle of a perfect image: (area of the pupil) / λ² per radian².

    Examples
    --------
    4 mm and 555 nm: π · 4 mm² / (0.555 µm)² = 40.8 per mrad², and 1 arcmin is 0.291 mrad.

    >>> from shared_utils.optics.lenses import monofocal
    >>> round(psf(monofocal(), 4.0, 0.0, wavelength_nm=555.0, corneal_sa_um=0.0), 2)
    3.45
    """
    viewing = Viewing(lens, pupil_mm, defocus_d, corneal_sa_um, wavelength_nm)
    return unwrap_scalar(MRAD_PER_ARCMIN**2 * _round(round_spread, viewing, angle_arcmin))


def encircled_energy(
    lens: Lens,
    pupil_mm: float,
    angle_arcmin: ArrayLike,
    defocus_d: ArrayLike = 0.0,
    wavelength_nm: float | None = None,
    corneal_sa_um: float = AVERAGE_CORNEA_SA_UM,
) -> FloatOrArray:
    """Return which part of a point's light falls within an angle: the light in the bucket.

    Parameters
    ----------
    lens, pupil_mm, angle_arcmin, defocus_d, wavelength_nm, corneal_sa_um
        As for `psf`; the angle is the bucket's radius.

    Returns
    -------
    float or array
        0 to 1, shape of defocus_d followed by shape of angle_arcmin.

    Sources
    -------
    Born & Wolf: 1 − J0² − J1² for a perfect image, 0.84 of it within the first dark ring.

    Examples
    --------
    The first dark ring of 3 mm and 555 nm: 1.22 · 0.555 / 3 = 0.2257 mrad = 0.776 arcmin.

    >>> from shared_utils.optics.lenses import monofocal
    >>> round(encircled_energy(monofocal(), 3.0, 0.776, 0.0, 555.0, corneal_sa_um=0.0), 2)
    0.84
    """
    viewing = Viewing(lens, pupil_mm, defocus_d, corneal_sa_um, wavelength_nm)
    return unwrap_scalar(_energy_within(viewing, angle_arcmin))


def halo_profile(
    lens: Lens,
    pupil_mm: float,
    angle_arcmin: ArrayLike,
    defocus_d: ArrayLike = 0.0,
    corneal_sa_um: float = AVERAGE_CORNEA_SA_UM,
) -> FloatOrArray:
    """Return a point's white light from the middle outwards, without the fine rings.

    Each value is the mean over a ring 1 arcmin wide, about two cones: what `psf` shows beyond
    that no eye can tell.

    Parameters
    ----------
    lens, pupil_mm, angle_arcmin, defocus_d, corneal_sa_um
        As for `psf`.

    Returns
    -------
    float or array
        Fraction of the light per arcmin², shape of defocus_d followed by shape of angle_arcmin.

    Examples
    --------
    Half the light in focus and half in a wide disc: the halo is far dimmer than the lamp.

    >>> from shared_utils.optics.lenses import diffractive_bifocal
    >>> lens = diffractive_bifocal()
    >>> lamp, halo = halo_profile(lens, 5.0, [0.0, 12.0], corneal_sa_um=0.0)
    >>> bool(lamp > 400 * halo)
    True
    """
    return unwrap_scalar(
        _halo_profile(Viewing(lens, pupil_mm, defocus_d, corneal_sa_um), angle_arcmin)
    )


def _halo_profile(viewing, angle_arcmin):
    angle = require("angle_arcmin", angle_arcmin, *ANGLE_RANGE_ARCMIN, hint=ANGLE_HINT)
    inner = np.maximum(angle - _HALO_RING_ARCMIN / 2.0, 0.0)
    outer = np.minimum(angle + _HALO_RING_ARCMIN / 2.0, ANGLE_RANGE_ARCMIN[1])
    edges = np.stack([inner, outer], axis=-1)
    within = _energy_within(viewing, edges)
    light = (within[..., 1] - within[..., 0]) / (np.pi * (outer**2 - inner**2))
    return np.maximum(light, 0.0)


def geometric_halo_arcmin(pupil_mm: ArrayLike, add_d: ArrayLike) -> FloatOrArray:
    """Return the diameter of the disc that light of a near focus makes around a far lamp.

    Parameters
    ----------
    pupil_mm : scalar or array
        Pupil diameter, 0.5 to 9 mm.
    add_d : scalar or array
        Add at the corneal plane, 0 to 6 D.

    Returns
    -------
    float or array
        arcmin; pupil times add is its diameter in mrad.

    Sources
    -------
    Alba-Bueno et al. 2014 (abstract): the same law, for lens plane and bench.

    Examples
    --------
    5 mm · 2.5 D = 12.5 mrad.

    >>> round(geometric_halo_arcmin(5.0, 2.5), 0)
    43.0
    """
    pupil_mm = require("pupil_mm", pupil_mm, *PUPIL_RANGE_MM, hint=PUPIL_HINT)
    add_d = require("add_d", add_d, 0.0, 6.0)
    return unwrap_scalar(pupil_mm * add_d / MRAD_PER_ARCMIN)


def halo_diameter_arcmin(
    lens: Lens, pupil_mm: float, corneal_sa_um: float = AVERAGE_CORNEA_SA_UM
) -> float:
    """Return how wide the outermost halo around a far lamp is, out to half of its level.

    Parameters
    ----------
    lens : Lens
        With two foci or more.
    pupil_mm : float
        Pupil diameter, 0.5 to 9 mm.
    corneal_sa_um : float
        Spherical aberration of the cornea over a 6-mm pupil, −1 to 1 µm.

    Returns
    -------
    float
        arcmin. The level is that between 0.55 and 0.75 of the geometric radius, in white light.
        Spherical aberration that cornea and lens leave widens the halos of wide pupils.

    Raises
    ------
    ValueError
        For a lens with one focus, whose spread has no such edge.

    Examples
    --------
    Close to the 43 arcmin of geometry, in an eye without spherical aberration.

    >>> from shared_utils.optics.lenses import diffractive_bifocal
    >>> 38 < halo_diameter_arcmin(diffractive_bifocal(), 5.0, corneal_sa_um=0.0) < 44
    True
    """
    add_d = outermost_add_d(require_lens(lens))
    if add_d is None:
        raise ValueError(
            f"lens is the {lens.name} with one focus, which makes no halo with an edge; give a "
            "lens with two foci or more."
        )
    viewing = Viewing(lens, pupil_mm, corneal_sa_um=corneal_sa_um)
    radius = geometric_halo_arcmin(viewing.pupil_mm, add_d) / 2.0
    angle = np.linspace(_EDGE_OF_HALO[0], 1.6, 211) * radius
    light = _halo_profile(viewing, np.minimum(angle, ANGLE_RANGE_ARCMIN[1]))
    level = light[angle <= _EDGE_OF_HALO[1] * radius].mean()
    last = np.flatnonzero(light >= level / 2.0)[-1]
    if last == len(angle) - 1:
        raise ValueError(
            f"pupil_mm is {viewing.pupil_mm:g} mm, too small for an add of {add_d:g} D to make a "
            "halo that stands apart; give a wider pupil."
        )
    part = (light[last] - level / 2.0) / (light[last] - light[last + 1])
    return float(2.0 * (angle[last] + part * (angle[last + 1] - angle[last])))


def night_scene(
    lens: Lens,
    pupil_mm: float,
    lamps_arcmin: Sequence[tuple[float, float]] = ((0.0, 0.0),),
    width_arcmin: float = 90.0,
    pixels: int = 241,
    corneal_sa_um: float = AVERAGE_CORNEA_SA_UM,
) -> ndarray:
    """Return the retinal image of distant white lamps in the dark; show its logarithm.

    Parameters
    ----------
    lens : Lens
        From `lenses`.
    pupil_mm : float
        Pupil diameter, 0.5 to 9 mm.
    lamps_arcmin : sequence of (x, y)
        Where the lamps stand, arcmin from the middle, x to the right and y up.
    width_arcmin : float
        Width and height of the picture, 1 to 240 arcmin.
    pixels : int
        A side of the picture, 2 to 2048.
    corneal_sa_um : float
        Spherical aberration of the cornea over a 6-mm pupil, −1 to 1 µm.

    Returns
    -------
    numpy.ndarray, shape (pixels, pixels)
        Light per arcmin², averaged as in `halo_profile`, so that one lamp's adds up to 1 within
        some percent; the first row is the top.

    Examples
    --------
    >>> from shared_utils.optics.lenses import monofocal
    >>> night_scene(monofocal(), 5.0, lamps_arcmin=((-20, 0), (20, 0)), pixels=61).shape
    (61, 61)
    """
    viewing = Viewing(lens, pupil_mm, corneal_sa_um=corneal_sa_um)
    width = require_one("width_arcmin", width_arcmin, 1.0, 240.0, hint="One degree is 60 arcmin.")
    pixels = _side("pixels", pixels)
    lamps = require("lamps_arcmin", lamps_arcmin, -1000.0, 1000.0)
    if lamps.ndim != 2 or lamps.shape[1] != 2 or len(lamps) == 0:
        raise ValueError("lamps_arcmin does not hold places; give (x, y) pairs such as ((0, 0),).")
    x = ((np.arange(pixels) + 0.5) / pixels - 0.5) * width
    reach = np.linspace(0.0, ANGLE_RANGE_ARCMIN[1], 721)
    far = np.hypot(lamps[:, 0], lamps[:, 1]).max() + width / np.sqrt(2.0)
    reach = reach[: np.searchsorted(reach, far) + 2]
    log_light = np.log(np.maximum(_halo_profile(viewing, reach), 1e-30))
    away = [np.hypot(x - lamp_x, x[::-1, None] - lamp_y) for lamp_x, lamp_y in lamps]
    return sum(np.exp(np.interp(d, reach, log_light)) for d in away)


def image(
    scene: ArrayLike,
    degrees_per_pixel: float,
    lens: Lens,
    pupil_mm: float,
    distance_m: float,
    placement: Placement | None = None,
    wavelength_nm: float | None = None,
    corneal_sa_um: float = AVERAGE_CORNEA_SA_UM,
) -> ndarray:
    """Return the retinal image of a grey scene at a distance.

    Beyond its edges the scene goes on as in a mirror, so no light is lost or made there, and an
    even field stays even.

    Parameters
    ----------
    scene : array of two dimensions
        Brightness in any unit, not its logarithm or a display's grey value; the first row is the
        top.
    degrees_per_pixel : float
        Visual angle of a pixel, 0.0001 to 1°.
    lens : Lens
        From `lenses`.
    pupil_mm : float
        Pupil diameter, 0.5 to 9 mm.
    distance_m : float
        Distance of the scene, 0.125 m to infinity; the eye is focused for far.
    placement : Placement, optional
        How the lens sits; centred unless given. A placement takes the square route: a second
        instead of milliseconds, and light beyond its patch (40 to 100 arcmin across, smaller in
        wide pupils) is spread evenly over the picture.
    wavelength_nm, corneal_sa_um
        As for `psf`.

    Returns
    -------
    numpy.ndarray
        Brightness in the scene's unit, upright as the scene.

    Sources
    -------
    Goodman: the image is the scene times the transfer function, frequency by frequency.

    Examples
    --------
    >>> from shared_utils.optics.lenses import diffractive_bifocal
    >>> image(np.ones((2, 3)), 0.01, diffractive_bifocal(), 3.0, 0.4).round(6)
    array([[1., 1., 1.],
           [1., 1., 1.]])
    """
    scene = require("scene", scene)
    if scene.ndim != 2 or not 1 <= min(scene.shape) <= max(scene.shape) <= LARGEST_SCENE:
        raise ValueError(
            f"scene has the shape {scene.shape}; give rows and columns of grey values, up to "
            f"{LARGEST_SCENE} a side."
        )
    pixel_deg = require_one(
        "degrees_per_pixel", degrees_per_pixel, *PIXEL_RANGE_DEG, hint=PIXEL_HINT
    )
    distance_m = require_one(
        "distance_m", distance_m, *DISTANCE_RANGE_M, hint="In metres; far is inf.", infinite=True
    )
    placement = _placement(placement)
    viewing = Viewing(lens, pupil_mm, -1.0 / distance_m, corneal_sa_um, wavelength_nm)
    if placement == Placement():
        cut_off_cpd = viewing.pupil_mm / min(viewing.light.wavelength_um) * MRAD_PER_DEG
        place = _places_in_table(scene.shape, pixel_deg, cut_off_cpd)
        passed = _transfer_table(viewing, cut_off_cpd)[place]
        waves = cosine_waves(scene.astype(np.float32))
        return scene_of_waves(waves * passed).astype(float)
    rows, columns = scene.shape
    mirrored = np.pad(scene, ((0, rows), (0, columns)), mode="symmetric")
    waves = fft.rfft2(mirrored) * _square_transfer(viewing, placement, scene.shape, pixel_deg)
    return fft.irfft2(waves, s=mirrored.shape)[:rows, :columns]


def psf_on_grid(
    lens: Lens,
    pupil_mm: float,
    arcmin_per_pixel: float,
    pixels: int,
    defocus_d: float = 0.0,
    placement: Placement | None = None,
    wavelength_nm: float | None = None,
    corneal_sa_um: float = AVERAGE_CORNEA_SA_UM,
) -> ndarray:
    """Return how the light of a point spreads if lens or eye are not round.

    Parameters
    ----------
    lens, pupil_mm, wavelength_nm, corneal_sa_um
        As for `psf`.
    arcmin_per_pixel : float
        0.005 to 5 arcmin.
    pixels : int
        A side of the picture, 2 to 2048. Beyond about 0.9 degrees · (5 mm / pupil) from the
        middle the sampled pupil repeats the picture; less is asked for.
    defocus_d : float
        Vergence of the point, −8 to 8 D.
    placement : Placement, optional
        How the lens sits; centred unless given.

    Returns
    -------
    numpy.ndarray, shape (pixels, pixels)
        Fraction of the light per arcmin². The axis is in the middle of the picture (between two
        pixels if their number is even), the first row is the top.

    Examples
    --------
    >>> from shared_utils.optics.lenses import monofocal
    >>> centred = psf_on_grid(monofocal(), 3.0, 0.25, 41, wavelength_nm=555.0)
    >>> round(float(centred[20, 20]) / psf(monofocal(), 3.0, 0.0, wavelength_nm=555.0), 2)
    1.0
    """
    arcmin = require_one("arcmin_per_pixel", arcmin_per_pixel, 0.005, 5.0)
    pixels = _side("pixels", pixels)
    defocus_d = require_one("defocus_d", defocus_d, *DEFOCUS_RANGE_D, hint=DEFOCUS_HINT)
    placement = _placement(placement)
    viewing = Viewing(lens, pupil_mm, defocus_d, corneal_sa_um, wavelength_nm)
    finest_um = min(viewing.light.wavelength_um)
    widest = _PUPIL_SIDE * finest_um / viewing.pupil_mm / MRAD_PER_ARCMIN
    if arcmin * pixels > widest:
        raise ValueError(
            f"pixels times arcmin_per_pixel is {arcmin * pixels:.4g} arcmin; give at most "
            f"{widest:.3g} arcmin for this pupil, beyond which the picture repeats itself."
        )
    angle_mrad = (np.arange(pixels) - (pixels - 1) / 2.0) * arcmin * MRAD_PER_ARCMIN
    return _square_psf(viewing, placement, angle_mrad)[::-1] * MRAD_PER_ARCMIN**2


# --- the round route ---------------------------------------------------------------------------


def _round(engine, viewing, angle_arcmin):
    """What an engine of `spread` makes of an eye that is round; angles in mrad inside it."""
    angle = require("angle_arcmin", angle_arcmin, *ANGLE_RANGE_ARCMIN, hint=ANGLE_HINT)
    if angle.size == 0:
        raise ValueError("angle_arcmin holds no number; give at least one.")
    defocus_d = np.asarray(viewing.defocus_d)
    light = engine(
        viewing.path_um,
        viewing.lens.transmission,
        viewing.zone_edges_mm2,
        viewing.light,
        defocus_d.ravel(),
        angle.ravel() * MRAD_PER_ARCMIN,
    )
    return light.reshape(defocus_d.shape + angle.shape)


def _energy_within(viewing, angle_arcmin):
    return np.clip(_round(round_energy, viewing, angle_arcmin), 0.0, 1.0)


@lru_cache(maxsize=16)
def _transfer_table(viewing, cut_off_cpd):
    """Transfer at frequencies that stand as squares: dense where halos make it fall."""
    root = np.linspace(0.0, 1.0, _FREQUENCIES)
    passed = signed_contrast(viewing, cut_off_cpd * root**2)
    table = CubicSpline(root, passed)(np.linspace(0.0, 1.0, _TABLE))
    table[-1] = 0.0
    return (table / table[0]).astype(np.float32)


@lru_cache(maxsize=4)
def _places_in_table(shape, pixel_deg, cut_off_cpd):
    """Where in the table each wave of a mirrored scene finds its transfer."""
    frequency = frequency_of_waves_cpd(shape, pixel_deg)
    place = np.sqrt(np.minimum(frequency / cut_off_cpd, 1.0)) * (_TABLE - 1)
    return np.round(place).astype(np.int32)


# --- the square route --------------------------------------------------------------------------


def _square_path_um(viewing, placement, x, y):
    """Path over the pupil: defocus, cornea, coma, and the lens where it sits. Also its u."""
    u = x**2 + y**2
    path = viewing.defocus_d * u / 2.0 + aberration_um(u, viewing.corneal_sa_um)
    rho2 = u / 9.0
    along = placement.coma_um[0] * x + placement.coma_um[1] * y
    path = path + np.sqrt(8.0) * (3.0 * rho2 - 2.0) * along / 3.0
    x, y = x - placement.decentration_mm[0], y - placement.decentration_mm[1]
    of_lens = x**2 + y**2
    tilt = np.radians(np.hypot(*placement.tilt_deg))
    if tilt:
        axis_x, axis_y = np.radians(placement.tilt_deg) / tilt
        across2 = (x * axis_y - y * axis_x) ** 2
        power_d = corneal_add_d(1.0) * placement.lens_power_d
        all_round = np.sin(tilt) ** 2 / (2.0 * 1.49 / 1.336)
        path = path + power_d / 2.0 * (all_round * of_lens + np.tan(tilt) ** 2 * across2)
        of_lens = of_lens + across2 * np.tan(tilt) ** 2
    return path + viewing.lens.opd_um(of_lens), of_lens


def _square_psf(viewing, placement, angle_mrad):
    """Light per mrad², rows from below upwards."""
    lens, pupil_mm, light = viewing.lens, viewing.pupil_mm, viewing.light
    spacing = pupil_mm / _PUPIL_SIDE
    fine = (np.arange(_PUPIL_SIDE * _FINER) + 0.5) * spacing / _FINER - pupil_mm / 2.0
    radius = np.hypot(fine[:, None], fine)
    path, of_lens = _square_path_um(viewing, placement, fine, fine[:, None])
    covered = np.clip((pupil_mm / 2.0 - radius) * _FINER / spacing + 0.5, 0.0, 1.0)
    passed = (covered * lens.transmission(of_lens)).astype(np.float32)
    energy = np.sum(covered * lens.transmission(of_lens) ** 2) / _FINER**2
    cell = (_PUPIL_SIDE, _FINER, _PUPIL_SIDE, _FINER)
    spread = 0.0
    for um, focus_d, share in zip(light.wavelength_um, light.focus_d, light.share, strict=True):
        waves = (path + focus_d * radius**2 / 2.0) / um
        turned = np.exp((2j * np.pi * (waves - np.round(waves))).astype(np.complex64))
        wave = (passed * turned).reshape(cell).mean(axis=(1, 3))
        # what averaging takes from the waves is light that goes beyond the picture
        kept = np.sum(np.abs(wave) ** 2, dtype=float) / energy
        spread = spread + share * kept * square_spread(wave, spacing, um, angle_mrad)
    return spread


@lru_cache(maxsize=4)
def _square_transfer(viewing, placement, shape, pixel_deg):
    """Transfer at the frequencies of a scene mirrored to twice its size; exactly 1 at 0."""
    finest_um = min(viewing.light.wavelength_um)
    spacing = finest_um / (2.0 * viewing.pupil_mm)
    angle_mrad = (np.arange(_RETINA_SIDE) - (_RETINA_SIDE - 1) / 2.0) * spacing
    spread = _square_psf(viewing, placement, angle_mrad)
    pixel_mrad = pixel_deg * MRAD_PER_DEG
    # rows of a scene run downwards, angles upwards: hence the sign
    rows = -fft.fftfreq(2 * shape[0], pixel_mrad)
    columns = fft.rfftfreq(2 * shape[1], pixel_mrad)
    cut_off = viewing.pupil_mm / finest_um
    kept_rows, kept_columns = np.abs(rows) < cut_off, columns < cut_off
    passed = np.zeros((len(rows), len(columns)), dtype=np.complex64)
    passed[np.ix_(kept_rows, kept_columns)] = square_transfer(
        spread, spacing, rows[kept_rows], columns[kept_columns]
    )
    passed[0, 0] = 1.0  # light beyond the patch is spread evenly
    return passed


# --- what is accepted ---------------------------------------------------------------------------


def outermost_add_d(lens: Lens) -> float | None:
    """Power between the far focus and the nearest one, D; None for a lens with one focus."""
    require_lens(lens)
    powers = [float(lens.order_power_d(order)) for order in lens.foci.values()]
    return max(powers) - min(powers) if len(powers) > 1 else None


def _placement(placement):
    if placement is not None and not isinstance(placement, Placement):
        given = " ".join(repr(placement).split())[:40]
        raise ValueError(f"placement is {given}; give a retina.Placement.")
    return placement or Placement()


def _side(name, value):
    side = require_one(name, value, 2, LARGEST_SCENE)
    if side % 1:
        raise ValueError(f"{name} is {side:g}; give a whole number.")
    return int(side)
