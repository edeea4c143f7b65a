"""How much contrast an eye with a lens passes, through focus, and what acuity that predicts.

The eye: a round pupil, the cornea's average spherical aberration, the eye's chromatic focus in
white light, and a lens from `lenses`. Defocus is the vergence of the object at the cornea: 0 D is
far, 40 cm is −2.50 D. The eye is focused for far at 555 nm through the centre of its pupil; where
aberration is left, a wide pupil sees best a little nearer. Pupils are entrance pupils, frequencies
are cycles/degree of visual angle.

Wherever a curve from here is shown, `LIMITS` is shown with it.

Sources
-------
Goodman, *Introduction to Fourier Optics*; Thibos, Ye, Zhang & Bradley, Appl Opt 1992;31:3594
(chromatic focus); CIE 1924 (luminosity). Where a metric has its own source, it says so.
"""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from shared_utils.optics.domain import broadcast, require, require_one, unwrap_scalar
from shared_utils.optics.fourier_bessel import MRAD_PER_DEG, diffraction_limit, transfer_of_pupil
from shared_utils.optics.lenses import (
    DESIGN_WAVELENGTH_NM,
    PUPIL_HINT,
    PUPIL_RANGE_MM,
    monofocal,
)
from shared_utils.optics.viewing import (
    AVERAGE_CORNEA_SA_UM,
    DEFOCUS_HINT,
    DEFOCUS_RANGE_D,
    Viewing,
)

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from shared_utils.optics.lenses import Lens
    from shared_utils.optics.types import FloatOrArray

LIMITS = (
    "A model eye: no scatter, no coma or astigmatism, no neural adaptation; generic lenses, scalar "
    "theory. Acuity is a teaching calibration: good to ±0.1 logMAR, ranges to ±0.25 D."
)
ACUITY_UNCERTAINTY_LOGMAR = 0.1
RANGE_UNCERTAINTY_D = 0.25

LENGTH_OF_ONE_DEGREE_MM = 16.67 * MRAD_PER_DEG / 1000.0  # on the retina of a 60-D eye
NEAREST_D = -4.0  # 25 cm, nearer than people hold what they read

# acuity = _AT_BEST + _PER_AREA / MTFa, within what charts measure
_AT_BEST_LOGMAR, _PER_AREA_LOGMAR = -0.30, 6.0
_ACUITY_RANGE_LOGMAR = (-0.2, 1.3)
_AREA_TO_PER_MM = 50.0


def transfer(
    lens: Lens,
    pupil_mm: float,
    defocus_d: ArrayLike,
    frequency_cpd: ArrayLike,
    wavelength_nm: float | None = None,
    corneal_sa_um: float = AVERAGE_CORNEA_SA_UM,
) -> FloatOrArray:
    """Return the contrast that the eye passes, negative where black and white are exchanged.

    Parameters
    ----------
    lens : Lens
        From `lenses`.
    pupil_mm : float
        Pupil diameter, 0.5 to 9 mm.
    defocus_d : scalar or array
        Vergence of the object, −8 to 8 D; 40 cm is −2.50 D.
    frequency_cpd : scalar or array
        Cycles/degree, 0 or more. Beyond the cut-off (pupil / wavelength) the answer is exactly 0.
    wavelength_nm : float or None
        380 to 780 nm, in focus as green is; None for white light with the eye's chromatic focus.
    corneal_sa_um : float
        Spherical aberration of the cornea over a 6-mm pupil, −1 to 1 µm; the average is +0.27.

    Returns
    -------
    float or array
        Shape of defocus_d followed by shape of frequency_cpd; −1 to 1, and 1 at frequency 0.

    Sources
    -------
    Goodman, the optical transfer function; equal-energy white light weighted by CIE 1924 V(λ),
    chromatic focus of Thibos et al. 1992.

    Examples
    --------
    Half a dioptre into a 4-mm pupil reverses the contrast of lines of 15 cycles/degree.

    >>> transfer(monofocal(), 4.0, 0.5, 15.0, 555.0, corneal_sa_um=0.0) < 0
    True
    """
    viewing = Viewing(lens, pupil_mm, defocus_d, corneal_sa_um, wavelength_nm)
    return unwrap_scalar(signed_contrast(viewing, frequency_cpd))


def signed_contrast(viewing: Viewing, frequency_cpd: ArrayLike) -> np.ndarray:
    """Return the same as `transfer` for a `Viewing`, always as an array."""
    frequency_cpd = require("frequency_cpd", frequency_cpd, 0.0, hint="Of visual angle.")
    if frequency_cpd.size == 0:
        raise ValueError("frequency_cpd holds no number; give at least one.")
    defocus_d = np.asarray(viewing.defocus_d)
    contrast = transfer_of_pupil(
        viewing.path_um,
        viewing.lens.transmission,
        viewing.zone_edges_mm2,
        viewing.light,
        defocus_d.ravel(),
        frequency_cpd.ravel(),
    )
    return contrast.reshape(defocus_d.shape + frequency_cpd.shape)


def mtf(
    lens: Lens,
    pupil_mm: float,
    defocus_d: ArrayLike,
    frequency_cpd: ArrayLike,
    wavelength_nm: float | None = None,
    corneal_sa_um: float = AVERAGE_CORNEA_SA_UM,
) -> FloatOrArray:
    """Return the contrast that the eye passes, without its sign.

    Parameters
    ----------
    lens, pupil_mm, defocus_d, frequency_cpd, wavelength_nm, corneal_sa_um
        As for `transfer`.

    Returns
    -------
    float or array
        Shape of defocus_d followed by shape of frequency_cpd; 0 to 1, exactly 0 beyond the
        cut-off.

    Sources
    -------
    Goodman, the modulation transfer function: the modulus of the transfer function.

    Examples
    --------
    A perfect eye passes 39 % at half the cut-off, here 4 mm / 555 nm · π/180 / 2 = 63 cpd.

    >>> round(mtf(monofocal(), 4.0, 0.0, 62.9, wavelength_nm=555.0, corneal_sa_um=0.0), 2)
    0.39
    """
    viewing = Viewing(lens, pupil_mm, defocus_d, corneal_sa_um, wavelength_nm)
    return unwrap_scalar(np.abs(signed_contrast(viewing, frequency_cpd)))


def mtf_area(
    lens: Lens,
    pupil_mm: float,
    defocus_d: ArrayLike,
    wavelength_nm: float | None = None,
    corneal_sa_um: float = AVERAGE_CORNEA_SA_UM,
) -> FloatOrArray:
    """Return the area under the MTF up to 50 lines/mm on the retina (MTFa).

    Parameters
    ----------
    lens, pupil_mm, defocus_d, wavelength_nm, corneal_sa_um
        As for `transfer`.

    Returns
    -------
    float or array
        Lines/mm, 0 to 50; 50 lines/mm are 14.5 cycles/degree in an eye of 60 D.

    Sources
    -------
    Alarcón et al., Biomed Opt Express 2016;7:1877 and Vega et al., Biomed Opt Express 2018 (the
    metric; from memory).

    Examples
    --------
    >>> bool(mtf_area(monofocal(), 3.0, 0.0) > mtf_area(monofocal(), 3.0, -1.0))
    True
    """
    return unwrap_scalar(
        _mtf_area(Viewing(lens, pupil_mm, defocus_d, corneal_sa_um, wavelength_nm))
    )


def _mtf_area(viewing):
    per_mm, weight = _gauss_between(0.0, _AREA_TO_PER_MM, 24)
    return np.abs(signed_contrast(viewing, per_mm * LENGTH_OF_ONE_DEGREE_MM)) @ weight


def neural_contrast_sensitivity(frequency_cpd: ArrayLike) -> FloatOrArray:
    """Return the contrast sensitivity that retina and brain would have behind perfect optics.

    Parameters
    ----------
    frequency_cpd : scalar or array
        Cycles/degree, 0 to 60.

    Returns
    -------
    float or array
        1 / contrast at threshold, no unit.

    Sources
    -------
    Contrast sensitivity of Watson & Ahumada, J Vis 2005;5(9):6, divided by the mean eye's MTF of
    Watson, J Vis 2013;13(6):18, at 4 mm.

    Examples
    --------
    >>> neural_contrast_sensitivity(6.0) > neural_contrast_sensitivity(30.0)
    True
    """
    f = require("frequency_cpd", frequency_cpd, 0.0, 60.0, hint="Of visual angle.")
    whole = 373.08 * (1.0 / np.cosh((f / 4.1726) ** 0.7786) - 0.8493 / np.cosh(f / 1.3625))
    pupil_mm = 4.0
    cut_off = pupil_mm / (DESIGN_WAVELENGTH_NM / 1000.0) * MRAD_PER_DEG
    corner = 21.95 - 5.512 * pupil_mm + 0.3922 * pupil_mm**2
    optics = np.sqrt(diffraction_limit(f / cut_off)) * (1.0 + (f / corner) ** 2) ** -0.62
    return unwrap_scalar(whole / optics)


def visual_strehl(
    lens: Lens,
    pupil_mm: float,
    defocus_d: ArrayLike,
    wavelength_nm: float | None = None,
    corneal_sa_um: float = AVERAGE_CORNEA_SA_UM,
) -> FloatOrArray:
    """Return the visual Strehl ratio: how well contrast that the brain can use is passed.

    Reversed contrast counts against it.

    Parameters
    ----------
    lens, pupil_mm, defocus_d, wavelength_nm, corneal_sa_um
        As for `transfer`.

    Returns
    -------
    float or array
        1 for the perfect eye with the same pupil at 555 nm, no unit; may be slightly negative.

    Sources
    -------
    Thibos, Hong, Bradley & Applegate, J Vis 2004;4(4):9 (VSOTF), with
    `neural_contrast_sensitivity` for a weight, 0 to 60 cycles/degree.

    Examples
    --------
    >>> round(visual_strehl(monofocal(), 3.0, 0.0, 555.0, corneal_sa_um=0.0), 3)
    1.0
    """
    viewing = Viewing(lens, pupil_mm, defocus_d, corneal_sa_um, wavelength_nm)
    frequency_cpd, weight = _gauss_between(0.0, 60.0, 48)
    weight = weight * frequency_cpd * neural_contrast_sensitivity(frequency_cpd)
    passed = signed_contrast(viewing, frequency_cpd)
    cut_off = viewing.pupil_mm / (DESIGN_WAVELENGTH_NM / 1000.0) * MRAD_PER_DEG
    return unwrap_scalar(passed @ weight / (diffraction_limit(frequency_cpd / cut_off) @ weight))


def acuity_logmar(
    lens: Lens,
    pupil_mm: ArrayLike,
    defocus_d: ArrayLike,
    corneal_sa_um: float = AVERAGE_CORNEA_SA_UM,
) -> FloatOrArray:
    """Return the acuity that the area under the MTF predicts, in white light.

    A teaching calibration, good to `ACUITY_UNCERTAINTY_LOGMAR`: −0.30 + 6.0 / MTFa, held to −0.2
    to 1.3 logMAR.

    Parameters
    ----------
    lens : Lens
        From `lenses`.
    pupil_mm : scalar or array
        Pupil diameter, 0.5 to 9 mm.
    defocus_d : scalar or array
        Vergence of the object, −8 to 8 D; 40 cm is −2.50 D.
    corneal_sa_um : float
        Spherical aberration of the cornea over a 6-mm pupil, µm.

    Returns
    -------
    float or array
        logMAR; 0.0 is 20/20, smaller is better.

    Sources
    -------
    The inverse form is that of Alarcón et al. 2016; the two constants are this course's, from the
    anchors MTFa 20 for 0.0 and MTFa 12 for 0.2 logMAR (secondary source). A test compares them
    with the loss by defocus of Blendowske, Optom Vis Sci 2015.

    Examples
    --------
    >>> bool(acuity_logmar(monofocal(), 3.0, -2.5) > acuity_logmar(monofocal(), 3.0, 0.0))
    True
    """
    pupil_mm, defocus_d = broadcast(
        pupil_mm=require("pupil_mm", pupil_mm, *PUPIL_RANGE_MM, hint=PUPIL_HINT),
        defocus_d=require("defocus_d", defocus_d, *DEFOCUS_RANGE_D, hint=DEFOCUS_HINT),
    )
    acuity = np.empty(pupil_mm.shape)
    for pupil in np.unique(pupil_mm):
        here = pupil_mm == pupil
        acuity[here] = acuity_of(Viewing(lens, pupil, defocus_d[here], corneal_sa_um))
    return unwrap_scalar(acuity)


def acuity_of(viewing: Viewing) -> np.ndarray:
    """Return the same as `acuity_logmar` for a `Viewing`, always as an array."""
    acuity = _AT_BEST_LOGMAR + _PER_AREA_LOGMAR / np.maximum(_mtf_area(viewing), 0.1)
    return np.clip(acuity, *_ACUITY_RANGE_LOGMAR)


def with_less_contrast(logmar: ArrayLike, divisor: ArrayLike) -> FloatOrArray:
    """Return the acuity that is left where something divides the contrast of all detail alike.

    The same as `acuity_logmar` of an eye whose MTF is divided: so is the area under it.

    Parameters
    ----------
    logmar : scalar or array
        Acuity with full contrast as from `acuity_logmar`, −0.2 to 1.3 logMAR.
    divisor : scalar or array
        What divides the contrast, 1 to 1000; half the contrast is 2.

    Returns
    -------
    float or array
        logMAR, held to −0.2 to 1.3.

    Sources
    -------
    As `acuity_logmar`: −0.30 + 6.0 · divisor / MTFa.

    Examples
    --------
    Half the contrast of an eye at 0.0 logMAR: −0.30 + 2 · 0.30.

    >>> round(with_less_contrast(0.0, 2.0), 2)
    0.3
    """
    logmar, divisor = broadcast(
        logmar=require("logmar", logmar, *_ACUITY_RANGE_LOGMAR),
        divisor=require("divisor", divisor, 1.0, 1000.0, hint="Half the contrast is 2."),
    )
    return unwrap_scalar(divided(logmar, divisor))


def divided(logmar: np.ndarray, divisor: np.ndarray) -> np.ndarray:
    """Return the same as `with_less_contrast` without checks, always as an array."""
    less = _AT_BEST_LOGMAR + divisor * (logmar - _AT_BEST_LOGMAR)
    return np.clip(less, *_ACUITY_RANGE_LOGMAR)


def usable_range_d(
    lens: Lens,
    pupil_mm: ArrayLike,
    limit_logmar: ArrayLike = 0.2,
    corneal_sa_um: float = AVERAGE_CORNEA_SA_UM,
) -> FloatOrArray:
    """Return how far the range reaches, from far without a gap, in which acuity stays usable.

    Counted from far (0 D) towards near, up to the first distance at which the predicted acuity is
    worse than the limit. A bifocal's near focus beyond a gap does not count, nor does what lies
    on the hyperopic side of far.

    Parameters
    ----------
    lens : Lens
        From `lenses`.
    pupil_mm : scalar or array
        Pupil diameter, 0.5 to 9 mm.
    limit_logmar : scalar or array
        Worst acuity that still counts, −0.2 to 1.3 logMAR; 0.2 is 20/32.
    corneal_sa_um : float
        Spherical aberration of the cornea over a 6-mm pupil, µm.

    Returns
    -------
    float or array
        D, 0 or more, good to `RANGE_UNCERTAINTY_D`; 0 if far itself is worse than the limit, and
        at most 4 D (25 cm), where the search ends.

    Examples
    --------
    >>> bool(usable_range_d(monofocal(), 2.0) > usable_range_d(monofocal(), 4.0))
    True
    """
    pupil_mm, limit_logmar = broadcast(
        pupil_mm=require("pupil_mm", pupil_mm, *PUPIL_RANGE_MM, hint=PUPIL_HINT),
        limit_logmar=require("limit_logmar", limit_logmar, *_ACUITY_RANGE_LOGMAR),
    )
    vergence_d = np.linspace(0.0, NEAREST_D, 81)
    reach = np.empty(pupil_mm.shape)
    for pupil in np.unique(pupil_mm):
        acuity = acuity_of(Viewing(lens, pupil, vergence_d, corneal_sa_um))
        for place in np.argwhere(pupil_mm == pupil):
            limit = limit_logmar[tuple(place)]
            reach[tuple(place)] = range_from_far_d(usable_stretches_d(vergence_d, acuity, limit))
    return unwrap_scalar(reach)


def usable_stretches_d(
    vergence_d: ArrayLike, logmar: ArrayLike, limit_logmar: float = 0.2
) -> list[tuple[float, float]]:
    """Return the stretches from far towards near in which a defocus curve stays usable.

    Parameters
    ----------
    vergence_d : array
        Vergence of the object at each point of the curve, D, falling, from 0 D or beyond far to
        below 0 D; what lies beyond far (above 0 D) is left out.
    logmar : array
        Acuity at each point, logMAR; straight lines join the points.
    limit_logmar : float
        Worst acuity that still counts, −0.2 to 1.3 logMAR; 0.2 is 20/32.

    Returns
    -------
    list of (float, float)
        Vergence at which each stretch begins and ends, D, from 0 to the nearest point; none where
        the curve is worse than the limit everywhere.

    Raises
    ------
    ValueError
        If the two arrays differ in length, or the vergence does not fall from far towards near.

    Examples
    --------
    >>> usable_stretches_d([0.0, -1.0, -2.0, -3.0, -4.0], [0.0, 0.1, 0.3, 0.3, 0.1])
    [(0.0, -1.5), (-3.5, -4.0)]
    """
    vergence_d, logmar = require("vergence_d", vergence_d), require("logmar", logmar)
    limit = require_one("limit_logmar", limit_logmar, *_ACUITY_RANGE_LOGMAR)
    if vergence_d.ndim != 1 or vergence_d.shape != logmar.shape or vergence_d.size < 2:
        raise ValueError(
            f"vergence_d holds {vergence_d.size} numbers and logmar {logmar.size}; give two lists "
            "of the same length, two points or more."
        )
    if np.any(np.diff(vergence_d) >= 0.0) or vergence_d[0] < 0.0 or vergence_d[-1] >= 0.0:
        raise ValueError(
            f"vergence_d goes from {vergence_d[0]:g} to {vergence_d[-1]:g} D; give points that "
            "fall from far (0 D or above) to near (below 0 D)."
        )
    near = vergence_d < 0.0
    place = np.concatenate([[0.0], vergence_d[near]])
    excess = np.concatenate([[np.interp(0.0, -vergence_d, logmar)], logmar[near]]) - limit
    usable = excess <= 0.0
    edges = [0.0] if usable[0] else []
    for n in np.flatnonzero(usable[1:] != usable[:-1]):
        share = excess[n] / (excess[n] - excess[n + 1])
        edges.append(float(place[n] + share * (place[n + 1] - place[n])))
    if usable[-1]:
        edges.append(float(place[-1]))
    return list(zip(edges[::2], edges[1::2], strict=True))


def range_from_far_d(stretches: list[tuple[float, float]]) -> float:
    """Return how far the stretch that begins at far reaches; 0 D if none begins there.

    Parameters
    ----------
    stretches : list of (float, float)
        From `usable_stretches_d`.

    Returns
    -------
    float
        D, 0 or more.

    Examples
    --------
    >>> range_from_far_d([(0.0, -1.5), (-3.5, -4.0)]), range_from_far_d([(-3.5, -4.0)])
    (1.5, 0.0)
    """
    if not stretches or stretches[0][0] != 0.0:
        return 0.0
    return 0.0 - stretches[0][1]


def contrast_loss_log(
    lens: Lens,
    pupil_mm: float,
    frequency_cpd: ArrayLike,
    defocus_d: ArrayLike = 0.0,
    reference: Lens | None = None,
    wavelength_nm: float | None = None,
    corneal_sa_um: float = AVERAGE_CORNEA_SA_UM,
) -> FloatOrArray:
    """Return how many log units of contrast a lens costs beside a monofocal focused for far.

    What retina and brain do with contrast is the same behind both lenses, so the ratio of the two
    MTFs is also that of the contrast sensitivities.

    Parameters
    ----------
    lens, pupil_mm, wavelength_nm, corneal_sa_um
        As for `transfer`.
    frequency_cpd : scalar or array
        Cycles/degree, 0 to below the cut-off of the monofocal.
    defocus_d : scalar or array
        Vergence of the object for both lenses, D; 0 is far.
    reference : Lens or None
        The lens to compare with; None for a neutral monofocal.

    Returns
    -------
    float or array
        Log10 units, positive for a loss, shape as for `transfer`; inf where the lens passes
        nothing.

    Raises
    ------
    ValueError
        Where the reference passes nothing.

    Examples
    --------
    0.405 of the light makes 0.405 of the contrast: log 1/0.405 is 0.39, a little less in fact.

    >>> from shared_utils.optics.lenses import diffractive_bifocal
    >>> round(contrast_loss_log(diffractive_bifocal(), 3.0, 12.0), 1)
    0.4
    """
    viewing = Viewing(lens, pupil_mm, defocus_d, corneal_sa_um, wavelength_nm)
    beside = viewing.through(monofocal() if reference is None else reference)
    beside = np.abs(signed_contrast(beside, frequency_cpd))
    if np.any(beside == 0):
        raise ValueError(
            "frequency_cpd lies beyond the cut-off of the reference, which passes no contrast "
            "there; give fewer cycles/degree."
        )
    with np.errstate(divide="ignore"):
        passed = np.abs(signed_contrast(viewing, frequency_cpd))
        return unwrap_scalar(np.log10(beside) - np.log10(passed))


@lru_cache(maxsize=8)
def _gauss_between(low, high, count):
    x, w = np.polynomial.legendre.leggauss(count)
    return low + (1.0 + x) * (high - low) / 2.0, w * (high - low) / 2.0
