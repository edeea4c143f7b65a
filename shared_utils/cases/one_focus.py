"""Lesson 10: the contrast that an eye passes, letters through its pupil, its aberration."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING

import numpy as np
from scipy.interpolate import CubicSpline

from shared_utils.optics import letters, through_focus
from shared_utils.optics.acuity import blur_circle_arcmin, convert
from shared_utils.optics.cosine_waves import (
    cosine_waves,
    frequency_of_waves_cpd,
    scene_of_waves,
)
from shared_utils.optics.domain import unwrap_scalar
from shared_utils.optics.lenses import DESIGN_WAVELENGTH_NM, aberration_um, monofocal

if TYPE_CHECKING:
    from typing import Any

    from numpy import ndarray
    from numpy.typing import ArrayLike

    from shared_utils.optics.types import FloatOrArray

MONOFOCAL = monofocal()
NO_SA_UM = 0.0  # a cornea without spherical aberration, and behind it a neutral lens
ARCMIN_PER_MRAD = 180.0 * 60.0 / np.pi / 1000.0
AIRY = 1.2197  # first zero of the Airy pattern, over π


def cut_off_cpd(
    pupil_mm: FloatOrArray, wavelength_nm: FloatOrArray = DESIGN_WAVELENGTH_NM
) -> FloatOrArray:
    """Return the fineness beyond which diffraction lets nothing pass.

    Parameters
    ----------
    pupil_mm : scalar or array
        Pupil diameter, mm.
    wavelength_nm : scalar or array
        Green light of 555 nm if not given.

    Returns
    -------
    float or array
        Cycles/degree: pupil over wavelength, in cycles/radian.

    Examples
    --------
    >>> round(cut_off_cpd(3.0))
    94
    """
    return np.pi / 180.0 * pupil_mm * 1e6 / wavelength_nm


def airy_radius_mrad(
    pupil_mm: FloatOrArray, wavelength_nm: FloatOrArray = DESIGN_WAVELENGTH_NM
) -> FloatOrArray:
    """Return the radius of the Airy disc, to its first dark ring, as ``airy_radius_arcmin`` does.

    >>> round(airy_radius_mrad(3.0), 3)
    0.226
    """
    return AIRY * wavelength_nm / 1000.0 / pupil_mm


def airy_radius_arcmin(
    pupil_mm: FloatOrArray, wavelength_nm: FloatOrArray = DESIGN_WAVELENGTH_NM
) -> FloatOrArray:
    """Return the radius of the Airy disc, to its first dark ring.

    Parameters
    ----------
    pupil_mm : scalar or array
        Pupil diameter, mm.
    wavelength_nm : scalar or array
        Green light of 555 nm if not given.

    Returns
    -------
    float or array
        arcmin.

    Examples
    --------
    >>> round(airy_radius_arcmin(3.0), 2)
    0.78
    """
    return ARCMIN_PER_MRAD * airy_radius_mrad(pupil_mm, wavelength_nm)


# --- contrast against fineness ------------------------------------------------------------------

COARSE_CPD, FINE_CPD = 15.0, 30.0  # strokes of 20/40 and of 20/20
FINENESS_CPD = np.linspace(0.0, 60.0, 121)
_SHOWN_DEG = 0.4
_DISPLAY_GAMMA = 2.2  # screens turn this power of a grey value into light


def grating(cpd: float, contrast: float, pixels: int = 240) -> ndarray:
    """Return one row of light and dark lines.

    Parameters
    ----------
    cpd : float
        Cycles/degree.
    contrast : float
        −1 to 1; negative where black and white are exchanged.
    pixels : int
        Across 0.4°.

    Returns
    -------
    numpy.ndarray
        Light, 0 to 1.
    """
    place_deg = (np.arange(pixels) + 0.5) / pixels * _SHOWN_DEG
    return 0.5 + 0.5 * contrast * np.sin(2.0 * np.pi * cpd * place_deg)


def on_screen(light: Any) -> Any:
    """Return grey values that make a screen give off light in this proportion."""
    return np.clip(light, 0.0, 1.0) ** (1.0 / _DISPLAY_GAMMA)


def grating_and_image(cpd: float, passed: float) -> ndarray:
    """Return the picture of lines of full contrast and, below, of their image.

    Parameters
    ----------
    cpd : float
        Cycles/degree.
    passed : float
        Contrast of the image, −1 to 1.

    Returns
    -------
    numpy.ndarray
        Grey values, 64 rows.
    """
    rows = [np.tile(grating(cpd, contrast), (32, 1)) for contrast in (1.0, passed)]
    return on_screen(np.vstack(rows))


@dataclass(frozen=True)
class PassedContrast:
    """Contrast that an eye passes: signed at two finenesses, and its curve."""

    pupil_mm: float
    defocus_d: float
    light: str
    curve: np.ndarray
    perfect: np.ndarray
    coarse: float
    fine: float

    @property
    def cut_off_cpd(self) -> float:
        """Fineness beyond which nothing passes in green light, cycles/degree."""
        return float(cut_off_cpd(self.pupil_mm))

    @property
    def lost_at_coarse(self) -> float:
        """Contrast lost at strokes of 20/40, against a perfect eye."""
        here = np.argmin(np.abs(FINENESS_CPD - COARSE_CPD))
        return self.perfect[here] - abs(self.coarse)


def compute_contrast_passed(pupil_mm: float, defocus_d: float, light: str) -> PassedContrast:
    """Return the contrast that an eye without aberration passes.

    Parameters
    ----------
    pupil_mm : float
        Pupil diameter, mm.
    defocus_d : float
        Blur left over, D, 0 or more.
    light : str
        ``green`` (555 nm) or ``white``.

    Returns
    -------
    PassedContrast

    Examples
    --------
    A perfect eye of 3 mm passes 60 % at 30 cycles/degree, a third of its cut-off.

    >>> round(compute_contrast_passed(3.0, 0.0, "green").fine, 2)
    0.6
    """
    nm = DESIGN_WAVELENGTH_NM if light == "green" else None
    passed = through_focus.transfer(MONOFOCAL, pupil_mm, defocus_d, FINENESS_CPD, nm, NO_SA_UM)
    perfect = through_focus.mtf(
        MONOFOCAL, pupil_mm, 0.0, FINENESS_CPD, DESIGN_WAVELENGTH_NM, NO_SA_UM
    )
    coarse, fine = np.interp([COARSE_CPD, FINE_CPD], FINENESS_CPD, passed).tolist()
    return PassedContrast(
        pupil_mm, defocus_d, light, np.abs(passed), np.asarray(perfect), coarse, fine
    )


@dataclass(frozen=True)
class ContrastLeft:
    """What some blur leaves of the contrast of lines: a row a blur, a column a fineness."""

    blur_d: tuple
    finenesses_cpd: tuple
    passed: np.ndarray


def compute_contrast_left(pupil_mm: float) -> ContrastLeft:
    """Return the contrast of lines with blur, of an eye without aberration in white light.

    Parameters
    ----------
    pupil_mm : float
        Pupil diameter, 0.5 to 9 mm.

    Returns
    -------
    ContrastLeft

    Examples
    --------
    >>> data = compute_contrast_left(3.0)
    >>> data.passed.shape, round(float(data.passed[2, 1]), 2)
    ((3, 3), 0.19)
    """
    blur_d, finenesses = (0.0, 0.25, 0.5), (5.0, COARSE_CPD, FINE_CPD)
    passed = np.array(
        [
            through_focus.transfer(MONOFOCAL, pupil_mm, d, finenesses, corneal_sa_um=NO_SA_UM)
            for d in blur_d
        ]
    )
    return ContrastLeft(blur_d, finenesses, passed)


def contrast_in_white(pupil_mm: float, defocus_d: float) -> tuple[ndarray, ndarray, ndarray]:
    """Return fineness, and contrast in focus and with some blur, of an eye without aberration.

    Parameters
    ----------
    pupil_mm : float
        Pupil diameter, 0.5 to 9 mm.
    defocus_d : float
        Blur, D.

    Returns
    -------
    tuple of three arrays
        Cycles/degree, 0 to 60; contrast in focus; contrast with blur.

    Examples
    --------
    >>> cpd, sharp, blurred = contrast_in_white(3.0, 0.5)
    >>> bool((blurred[1:] < sharp[1:]).all())
    True
    """
    cpd = np.linspace(0.0, 60.0, 241)
    sharp, blurred = np.asarray(
        through_focus.mtf(MONOFOCAL, pupil_mm, [0.0, defocus_d], cpd, corneal_sa_um=NO_SA_UM)
    )
    return cpd, sharp, blurred


_in_white = cache(contrast_in_white)


def read_in_white(pupil_mm: float, defocus_d: float, at_cpd: ArrayLike) -> tuple[ndarray, ...]:
    """Return what the two curves of ``contrast_in_white`` give at some finenesses.

    Parameters
    ----------
    pupil_mm : float
        Pupil diameter, 0.5 to 9 mm.
    defocus_d : float
        Blur, D.
    at_cpd : array
        Cycles/degree, 0 to 60.

    Returns
    -------
    tuple of two arrays
        Contrast in focus; contrast with blur.

    Examples
    --------
    >>> [round(float(curve[0]), 2) for curve in read_in_white(3.0, 0.5, [15.0])]
    [0.62, 0.19]
    """
    cpd, *curves = _in_white(pupil_mm, defocus_d)
    return tuple(np.interp(np.asarray(at_cpd), cpd, curve) for curve in curves)


@cache
def half_passes_at() -> float:
    """Return the part of its cut-off at which a perfect eye passes half of the contrast.

    Returns
    -------
    float

    Examples
    --------
    >>> round(half_passes_at(), 2)
    0.4
    """
    part = np.linspace(0.0, 1.0, 2001)
    return float(np.interp(0.5, through_focus.diffraction_limit(part)[::-1], part[::-1]))


@dataclass(frozen=True)
class PerfectContrast:
    """Contrast that a perfect eye passes, and where half of it is left."""

    cpd: np.ndarray
    passed: np.ndarray
    half_cpd: float


def compute_perfect_contrast(ends_cpd: float) -> PerfectContrast:
    """Return the contrast that a perfect eye passes in one colour.

    Parameters
    ----------
    ends_cpd : float
        Where nothing is left, cycles/degree.

    Returns
    -------
    PerfectContrast

    Examples
    --------
    >>> round(compute_perfect_contrast(94.0).half_cpd)
    38
    """
    part = np.linspace(0.0, 1.0, 201)
    passed = through_focus.diffraction_limit(part)
    return PerfectContrast(ends_cpd * part, passed, ends_cpd * half_passes_at())


# --- letters and the pupil ----------------------------------------------------------------------

PUPILS_MM = np.arange(1.0, 7.01, 0.25)
REFRACTIONS_D = np.arange(-2.0, 2.01, 0.25)
ROWS_LOGMAR = (0.5, 0.3, 0.1, 0.0)
PIXEL_DEG = 0.3 / 60.0
PAPER_PX = (244, 312)
# square roots of finenesses: dense among coarse ones, where blur makes contrast fall
_ROOT_CPD = np.linspace(0.0, 12.0, 61)
_FINE_ROOT_CPD = np.linspace(0.0, 12.0, 1201)


@dataclass(frozen=True)
class LettersOnRetina:
    """A distant chart on the retina, and acuity against the pupil."""

    pupil_mm: float
    refraction_d: float
    total_sa_um: float
    image: np.ndarray
    acuity_logmar: np.ndarray

    @property
    def here_logmar(self) -> float:
        """Predicted acuity at this pupil."""
        return float(np.interp(self.pupil_mm, PUPILS_MM, self.acuity_logmar))

    @property
    def best_pupil_mm(self) -> float:
        """Pupil that sees best."""
        return float(PUPILS_MM[np.argmin(self.acuity_logmar)])

    @property
    def blur_arcmin(self) -> float:
        """Diameter of the disc that the refraction left over makes."""
        return float(blur_circle_arcmin(self.refraction_d, self.pupil_mm))

    @property
    def lost_when_wide_logmar(self) -> float:
        """Acuity lost by the widest pupil, against the best."""
        return self.acuity_logmar[-1] - self.acuity_logmar.min()


@cache
def acuity_by_pupil(lens_sa_um: float) -> ndarray:
    """Return predicted acuity of a distant chart through a monofocal lens.

    Parameters
    ----------
    lens_sa_um : float
        Spherical aberration of the lens over 6 mm, µm.

    Returns
    -------
    numpy.ndarray
        logMAR, a row for each of ``PUPILS_MM``, a column for each of ``REFRACTIONS_D``.
    """
    # an eye of refraction R sees far as an eye without error sees an object of vergence −R
    lens = monofocal(lens_sa_um)
    return np.array([through_focus.acuity_logmar(lens, p, -REFRACTIONS_D) for p in PUPILS_MM])


@cache
def _waves():
    """The chart as a sum of cosines, and the root of the fineness of each, in cycles/degree."""
    paper = letters.chart(ROWS_LOGMAR, PIXEL_DEG, PAPER_PX, letters_per_row=3)
    return cosine_waves(paper), np.sqrt(frequency_of_waves_cpd(PAPER_PX, PIXEL_DEG))


def compute_letters(pupil_mm: float, refraction_d: float, lens_sa_um: float) -> LettersOnRetina:
    """Return a distant chart on the retina of an eye with a monofocal lens.

    Parameters
    ----------
    pupil_mm : float
        Pupil diameter, mm.
    refraction_d : float
        Refraction left uncorrected, D, myopia negative.
    lens_sa_um : float
        Spherical aberration of the lens over 6 mm, µm.

    Returns
    -------
    LettersOnRetina

    Examples
    --------
    The aspheric lens leaves +0.07 µm; at 3 mm half a dioptre makes a disc of 5 arcmin.

    >>> data = compute_letters(3.0, -0.5, -0.20)
    >>> round(data.blur_arcmin, 1), data.total_sa_um
    (5.2, 0.07)
    """
    waves, root_cpd = _waves()
    lens = monofocal(lens_sa_um)
    passed = through_focus.transfer(lens, pupil_mm, -refraction_d, _ROOT_CPD**2)
    curve = CubicSpline(_ROOT_CPD, passed)(_FINE_ROOT_CPD)
    image = scene_of_waves(waves * np.interp(root_cpd, _FINE_ROOT_CPD, curve))
    column = int(np.argmin(np.abs(REFRACTIONS_D - refraction_d)))
    return LettersOnRetina(
        pupil_mm,
        refraction_d,
        round(through_focus.AVERAGE_CORNEA_SA_UM + lens_sa_um, 9),
        image,
        acuity_by_pupil(lens_sa_um)[:, column],
    )


@dataclass(frozen=True)
class ChartRows:
    """Rows of the chart: where their middles lie on its paper, and their acuity as 20/x."""

    centres_px: np.ndarray
    snellen_20: tuple


def compute_chart_rows() -> ChartRows:
    """Return the rows of the chart; between two of them lies the height of the lower.

    Returns
    -------
    ChartRows

    Examples
    --------
    >>> [round(row) for row in compute_chart_rows().snellen_20]
    [63, 40, 25, 20]
    """
    heights = 5.0 * 10.0 ** np.array(ROWS_LOGMAR) / 60.0 / PIXEL_DEG
    whole = heights.sum() + heights[1:].sum()
    above = np.concatenate([[0.0], np.cumsum(heights[:-1] + heights[1:])])
    tops = (PAPER_PX[0] - whole) / 2.0 + above
    snellen = tuple(convert(row, "logmar", "snellen_20") for row in ROWS_LOGMAR)
    return ChartRows(tops + heights / 2.0, snellen)


# --- worked examples ----------------------------------------------------------------------------


def margin_excess_d(sa_um: ArrayLike, pupil_mm: ArrayLike) -> FloatOrArray:
    """Return how much stronger the margin of a pupil is than its centre.

    Parameters
    ----------
    sa_um : scalar or array
        Spherical aberration of the whole eye, Z(4,0) over 6 mm, µm.
    pupil_mm : scalar or array
        Pupil diameter, mm.

    Returns
    -------
    float or array
        D; the path 6√5 c (r/3)⁴ bends light by its slope, and slope over radius is power.

    Examples
    --------
    >>> round(margin_excess_d(0.37, 6.0), 1), round(margin_excess_d(0.37, 3.0), 2)
    (2.2, 0.55)
    """
    square = (np.asarray(pupil_mm) / 2.0) ** 2
    return unwrap_scalar(4.0 * aberration_um(square, sa_um) / square)


def perfect_eye_steps(pupil_mm: float, defocus_d: float) -> list[tuple[str, str, float, str]]:
    """Return the steps from a pupil to its finest detail and its blur, for a worked example.

    Parameters
    ----------
    pupil_mm : float
        Pupil diameter, mm.
    defocus_d : float
        Blur left over, D.

    Returns
    -------
    list of (str, str, float, str)

    Examples
    --------
    >>> round(perfect_eye_steps(3.0, 0.5)[0][2], 2)
    0.78
    """
    return [
        (
            "radius of the Airy disc",
            f"1.22 · 0.555 µm / {pupil_mm:g} mm, in mrad, times 3.44",
            float(airy_radius_arcmin(pupil_mm)),
            "arcmin",
        ),
        (
            "cut-off",
            f"{pupil_mm:g} mm / 0.555 µm per mrad, times 17.45 mrad/degree",
            float(cut_off_cpd(pupil_mm)),
            "cycles/degree",
        ),
        (
            "diameter of the blur disc",
            f"{pupil_mm:g} mm · {defocus_d:g} D, in mrad, times 3.44",
            float(blur_circle_arcmin(defocus_d, pupil_mm)),
            "arcmin",
        ),
        (
            "in strokes of a 20/20 letter",
            "a stroke is 1 arcmin",
            float(blur_circle_arcmin(defocus_d, pupil_mm)),
            "strokes",
        ),
    ]


def night_steps(
    cornea_um: float, lens_um: float, day_mm: float, night_mm: float
) -> list[tuple[str, str, float, str]]:
    """Return the steps from cornea and lens to the change of power over the pupil.

    Parameters
    ----------
    cornea_um, lens_um : float
        Spherical aberration over 6 mm, µm.
    day_mm, night_mm : float
        Pupil diameters, mm.

    Returns
    -------
    list of (str, str, float, str)

    Examples
    --------
    >>> round(night_steps(0.27, 0.10, 2.5, 6.0)[0][2], 2)
    0.37
    """
    total = cornea_um + lens_um
    return [
        ("cornea and lens add", f"{cornea_um:.2f} + ({lens_um:.2f})", total, "µm"),
        (
            "margin against centre by day",
            f"8√5/27 · {total:.2f} · ({day_mm:g}/2)²",
            float(margin_excess_d(total, day_mm)),
            "D",
        ),
        (
            "margin against centre at night",
            f"8√5/27 · {total:.2f} · ({night_mm:g}/2)²",
            float(margin_excess_d(total, night_mm)),
            "D",
        ),
    ]
