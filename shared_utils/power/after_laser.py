"""Lens power after corneal laser surgery: what went wrong, and published ways around it.

Two errors add up. The index error: the keratometer's 1.3375 takes an untouched ratio of the two
corneal surfaces for given, and after a myopic treatment it reads too much. The position error: a
formula that looks at K to guess where the lens will stand sees a flat cornea and puts it too far
forward. Both leave a myopic-treated eye hyperopic. A corrected K mends the first; double-K mends
the second (the K of before surgery as ``elp_k_d`` in ``formulas``; Aramberri, J Cataract Refract
Surg 2003;29:2063). Haigis has no K in its lens position and needs no double-K.

After radial keratotomy none of this holds: diurnal change and a drift to hyperopia remain.

Coefficients from memory of the papers named, unless a line says otherwise. For learning, not for
patient care.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from shared_utils.optics.domain import broadcast, require, require_one_of, unwrap_scalar
from shared_utils.optics.vergence import at_vertex
from shared_utils.power.biometry import K_RANGE_D, KERATOMETER_SCALE, require_eye
from shared_utils.power.core import TARGET_RANGE_D, VERTEX_HINT, VERTEX_RANGE_MM, Steps
from shared_utils.power.formulas import iol_power
from shared_utils.power.lens_constants import require_lens_constants
from shared_utils.power.registry import FORMULAS

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from shared_utils.optics.types import FloatOrArray
    from shared_utils.power.biometry import Eye
    from shared_utils.power.lens_constants import LensConstants

K_HINT = "Keratometry at 1.3375 in D, 337.5 / radius in mm."
REFRACTION_HINT = "Myopia is negative."
TREATED_RANGE_D = (-20.0, 20.0)
TREATED_HINT = "Before minus after: negative for a myopic treatment."
CENTRAL_OFFSET_D = {"maloney": 4.9, "wang_2004": 6.1, "later": 5.59}


def treated_refraction(
    refraction_before_d: ArrayLike, refraction_after_d: ArrayLike, vertex_mm: ArrayLike = 12.0
) -> FloatOrArray:
    """Return the spherical equivalent that the laser treated, at the cornea.

    Parameters
    ----------
    refraction_before_d, refraction_after_d : scalar or array
        Spherical equivalents before the laser and stable after it, −30 to 30 D at the spectacles.
    vertex_mm : scalar or array
        Vertex distance, 0 to 20 mm.

    Returns
    -------
    float or array
        D; negative for a myopic treatment.

    Sources
    -------
    Common practice, no source.

    Examples
    --------
    >>> round(treated_refraction(-6.25, -0.25), 2)
    -5.56
    """
    before_d, after_d, vertex_mm = broadcast(
        refraction_before_d=require(
            "refraction_before_d", refraction_before_d, *TARGET_RANGE_D, hint=REFRACTION_HINT
        ),
        refraction_after_d=require(
            "refraction_after_d", refraction_after_d, *TARGET_RANGE_D, hint=REFRACTION_HINT
        ),
        vertex_mm=require("vertex_mm", vertex_mm, *VERTEX_RANGE_MM, hint=VERTEX_HINT),
    )
    before_d = np.asarray(at_vertex(before_d, vertex_mm, 0.0))
    return unwrap_scalar(before_d - np.asarray(at_vertex(after_d, vertex_mm, 0.0)))


def clinical_history_k(
    k_before_d: ArrayLike,
    refraction_before_d: ArrayLike,
    refraction_after_d: ArrayLike,
    vertex_mm: ArrayLike = 12.0,
) -> FloatOrArray:
    """Return K by clinical history: the K of before, changed by what the refraction changed.

    Parameters
    ----------
    k_before_d : scalar or array
        Keratometry before the laser, 30 to 65 D.
    refraction_before_d, refraction_after_d : scalar or array
        Spherical equivalents, −30 to 30 D at the spectacles; the later one from before the
        cataract changed it.
    vertex_mm : scalar or array
        Vertex distance, 0 to 20 mm.

    Returns
    -------
    float or array
        D.

    Sources
    -------
    Holladay, Refract Corneal Surg 1989;5:203. From memory.

    Examples
    --------
    43.50 − 5.56 = 37.94 D.

    >>> round(clinical_history_k(43.50, -6.25, -0.25), 2)
    37.94
    """
    k_before_d, treated_d = broadcast(
        k_before_d=require("k_before_d", k_before_d, *K_RANGE_D, hint=K_HINT),
        treated_d=treated_refraction(refraction_before_d, refraction_after_d, vertex_mm),
    )
    return unwrap_scalar(k_before_d + treated_d)


def shammas_k(k_after_d: ArrayLike) -> FloatOrArray:
    """Return K after a myopic treatment, from the K measured after it alone.

    Parameters
    ----------
    k_after_d : scalar or array
        Keratometry after the laser, 30 to 65 D.

    Returns
    -------
    float or array
        D.

    Sources
    -------
    Shammas, Shammas, Garabet, Kim, Shammas & LaBree, Am J Ophthalmol 2003;136:426. From memory.

    Examples
    --------
    >>> round(shammas_k(38.0), 2)
    36.52
    """
    return unwrap_scalar(1.14 * require("k_after_d", k_after_d, *K_RANGE_D, hint=K_HINT) - 6.8)


def shammas_hyperopic_k(k_after_d: ArrayLike) -> FloatOrArray:
    """Return K after a hyperopic treatment, from the K measured after it alone.

    Parameters
    ----------
    k_after_d : scalar or array
        Keratometry after the laser, 30 to 65 D.

    Returns
    -------
    float or array
        D.

    Sources
    -------
    Shammas, Shammas & Hill, J Cataract Refract Surg 2013;39:739.

    Examples
    --------
    >>> round(shammas_hyperopic_k(46.5), 2)
    46.67
    """
    return unwrap_scalar(1.0457 * require("k_after_d", k_after_d, *K_RANGE_D, hint=K_HINT) - 1.9538)


def savini_k(k_after_d: ArrayLike, treated_d: ArrayLike) -> FloatOrArray:
    """Return K by an index that falls with the treatment.

    Parameters
    ----------
    k_after_d : scalar or array
        Keratometry after the laser, 30 to 65 D.
    treated_d : scalar or array
        Treated spherical equivalent, −20 to 20 D; negative for a myopic treatment.

    Returns
    -------
    float or array
        D.

    Sources
    -------
    Savini, Barboni & Zanini, J Refract Surg 2007: index = 1.338 + 0.0009856 × treated. From
    memory.

    Examples
    --------
    >>> round(savini_k(38.0, -6.0), 2)
    37.39
    """
    k_after_d, treated_d = broadcast(
        k_after_d=require("k_after_d", k_after_d, *K_RANGE_D, hint=K_HINT),
        treated_d=require("treated_d", treated_d, *TREATED_RANGE_D, hint=TREATED_HINT),
    )
    return unwrap_scalar(1000.0 * (0.338 + 0.0009856 * treated_d) * k_after_d / KERATOMETER_SCALE)


def central_topography_k(central_k_d: ArrayLike, version: str = "maloney") -> FloatOrArray:
    """Return K from the centre of a topographic map: its anterior power, less a fixed posterior.

    Parameters
    ----------
    central_k_d : scalar or array
        Central topographic power at 1.3375, 30 to 65 D.
    version : str
        ``"maloney"`` takes off 4.9 D, ``"wang_2004"`` 6.1 D, ``"later"`` 5.59 D.

    Returns
    -------
    float or array
        D.

    Sources
    -------
    Wang, Booth & Koch, Ophthalmology 2004;111:1825, and successors. From memory.

    Examples
    --------
    38 × 376 / 337.5 − 4.9 = 37.43 D.

    >>> round(central_topography_k(38.0), 3), round(central_topography_k(38.0, "wang_2004"), 3)
    (37.435, 36.235)
    """
    require_one_of("version", version, CENTRAL_OFFSET_D)
    central_k_d = require("central_k_d", central_k_d, *K_RANGE_D, hint=K_HINT)
    return unwrap_scalar(central_k_d * 376.0 / KERATOMETER_SCALE - CENTRAL_OFFSET_D[version])


def haigis_l_radius(radius_mm: ArrayLike) -> FloatOrArray:
    """Return the radius that regular Haigis takes after a myopic treatment.

    Parameters
    ----------
    radius_mm : scalar or array
        Radius measured after the laser, 5 to 12 mm.

    Returns
    -------
    float or array
        mm.

    Sources
    -------
    Haigis, J Cataract Refract Surg 2008;34:1658. From memory.

    Examples
    --------
    331.5 / (−5.1625 × 8.73 + 82.2603 − 0.35) = 9.00 mm.

    >>> round(haigis_l_radius(8.73), 2)
    9.0
    """
    radius_mm = require("radius_mm", radius_mm, 5.0, 12.0, hint="Dioptres? Use 337.5 / K.")
    return unwrap_scalar(331.5 / (-5.1625 * radius_mm + 82.2603 - 0.35))


def haigis_l_power(
    eye: Eye, lens_constants: LensConstants, target_d: ArrayLike = 0.0, vertex_mm: ArrayLike = 12.0
) -> FloatOrArray:
    """Return the lens power by Haigis-L, for eyes after a myopic treatment.

    Parameters
    ----------
    eye : biometry.Eye
        Measured after the laser, with ``acd_mm``.
    lens_constants : constants.LensConstants
        ``a0``, ``a1``, ``a2``.
    target_d : scalar or array
        Refraction wanted, −30 to 30 D.
    vertex_mm : scalar or array
        Vertex distance, 0 to 20 mm.

    Returns
    -------
    float or array
        D.

    Sources
    -------
    Haigis, J Cataract Refract Surg 2008;34:1658. From memory.

    Examples
    --------
    >>> from shared_utils.power.biometry import Eye
    >>> from shared_utils.power.constants import LensConstants
    >>> lens = LensConstants.from_a_constant(118.4)
    >>> round(haigis_l_power(Eye(26.0, 38.0, acd_mm=3.45), lens), 1)
    22.8
    """
    require_lens_constants(lens_constants)
    require_eye("eye", eye)
    k_d = KERATOMETER_SCALE / np.asarray(haigis_l_radius(eye.corneal_radius_mm))
    treated = replace(eye, k1_d=k_d, k2_d=None, k1_axis_deg=None)
    return iol_power(treated, "haigis", lens_constants, target_d, vertex_mm)


def shammas_pl_power(
    eye: Eye, lens_constants: LensConstants, target_d: ArrayLike = 0.0, vertex_mm: ArrayLike = 12.0
) -> FloatOrArray:
    """Return the lens power by Shammas-PL, for eyes after a myopic treatment.

    Parameters
    ----------
    eye : biometry.Eye
        Measured after the laser.
    lens_constants : constants.LensConstants
        ``pacd_mm``.
    target_d : scalar or array
        Refraction wanted, −30 to 30 D; the paper prints emmetropia, another target goes through
        the shared vergence sum.
    vertex_mm : scalar or array
        Vertex distance, 0 to 20 mm.

    Returns
    -------
    float or array
        D.

    Sources
    -------
    Shammas & Shammas, J Cataract Refract Surg 2007;33:31: P = 1336/(L − 0.1 (L − 23) − c) −
    1/(1.0125/Kc − c/1336), Kc = 1.14 K − 6.8, c = pACD + 0.05. From memory.

    Examples
    --------
    >>> from shared_utils.power.biometry import Eye
    >>> from shared_utils.power.constants import LensConstants
    >>> lens = LensConstants.from_a_constant(118.4)
    >>> round(shammas_pl_power(Eye(26.0, 38.0), lens), 1)
    23.3
    """
    require_lens_constants(lens_constants)
    require_eye("eye", eye)
    length_mm, k_d, pacd_mm, target_d, vertex_mm = broadcast(
        axial_length_mm=eye.axial_length_mm,
        k_d=eye.mean_k_d,
        pacd_mm=lens_constants.pacd_mm,
        target_d=require("target_d", target_d, *TARGET_RANGE_D, hint=REFRACTION_HINT),
        vertex_mm=require("vertex_mm", vertex_mm, *VERTEX_RANGE_MM, hint=VERTEX_HINT),
    )
    found = Steps(
        cornea_d=np.asarray(shammas_k(k_d)) / 1.0125,
        optical_length_mm=length_mm - 0.1 * (length_mm - 23.0),
        elp_mm=pacd_mm + 0.05,
    )
    return unwrap_scalar(found.to_power(target_d, vertex_mm)["iol_power_d"])


def masket_adjustment(treated_d: ArrayLike) -> FloatOrArray:
    """Return what to add to the power that a formula asks for with the K measured after.

    Parameters
    ----------
    treated_d : scalar or array
        Treated spherical equivalent, −20 to 20 D; negative for a myopic treatment.

    Returns
    -------
    float or array
        D; positive after a myopic treatment.

    Sources
    -------
    Masket & Masket, J Cataract Refract Surg 2006;32:430. From memory.

    Examples
    --------
    −0.326 × (−6) + 0.101 = 2.057 D.

    >>> round(masket_adjustment(-6.0), 3)
    2.057
    """
    treated_d = require("treated_d", treated_d, *TREATED_RANGE_D, hint=TREATED_HINT)
    return unwrap_scalar(-0.326 * treated_d + 0.101)


def refraction_error_from_length(eye: Eye) -> FloatOrArray:
    """Return the refraction error that untreated formulas left after laser, by length times K.

    Parameters
    ----------
    eye : biometry.Eye
        Measured after a myopic laser treatment.

    Returns
    -------
    float or array
        D; a rough check from one series of 257 eyes, not a method to choose a lens with.

    Sources
    -------
    A regression published from Naples in J Cataract Refract Surg 2010/2011: −0.0157 (L × K) +
    16.437.

    Examples
    --------
    >>> from shared_utils.power.biometry import Eye
    >>> round(refraction_error_from_length(Eye(26.5, 38.0)), 2)
    0.63
    """
    require_eye("eye", eye)
    product = np.asarray(eye.axial_length_mm) * np.asarray(eye.mean_k_d)
    return unwrap_scalar(-0.0157 * product + 16.437)


@dataclass(frozen=True)
class Estimate:
    """What one method says for an eye.

    Attributes
    ----------
    method : str
        Name of the method.
    k_d : float or array or None
        Corrected keratometry, D; None for a method that gives the power alone.
    iol_power_d : float or array
        Power, D.
    position_uncorrected : bool
        Whether a treated K still guesses the lens position, as no K of before was given.
    source : str
        Who published it.
    """

    method: str
    k_d: float | np.ndarray | None
    iol_power_d: float | np.ndarray
    position_uncorrected: bool
    source: str


@dataclass(frozen=True)
class Comparison:
    """All methods whose data are at hand, and how far they lie apart.

    Attributes
    ----------
    estimates : tuple of Estimate
    lacking : dict
        Method left out → what it would need.
    median_d, lowest_d, highest_d, spread_d : float or array
        Over the methods' powers, D; the uncorrected power takes no part.
    """

    estimates: tuple
    lacking: dict
    median_d: float | np.ndarray
    lowest_d: float | np.ndarray
    highest_d: float | np.ndarray
    spread_d: float | np.ndarray


def compare(
    eye: Eye,
    lens_constants: LensConstants,
    laser: str,
    formula: str = "srk_t",
    k_before_d: ArrayLike | None = None,
    refraction_before_d: ArrayLike | None = None,
    refraction_after_d: ArrayLike | None = None,
    central_k_d: ArrayLike | None = None,
    target_d: float = 0.0,
    vertex_mm: float = 12.0,
) -> Comparison:
    """Return what every method says for an eye after laser surgery, and the spread between them.

    Parameters
    ----------
    eye : biometry.Eye
        Measured after the laser.
    lens_constants : constants.LensConstants
    laser : str
        ``"myopic"`` or ``"hyperopic"`` treatment.
    formula : str
        Thin-lens formula that takes the corrected K; the K of before serves its lens position.
    k_before_d : scalar or array, optional
        Keratometry before the laser, 30 to 65 D.
    refraction_before_d, refraction_after_d : scalar or array, optional
        Spherical equivalents before and stable after the laser, D at the spectacles.
    central_k_d : scalar or array, optional
        Central topographic power at 1.3375, D.
    target_d, vertex_mm
        As for ``formulas.iol_power``.

    Returns
    -------
    Comparison
        First the estimate ``"uncorrected"``, which takes no part in the spread.

    Raises
    ------
    ValueError
        If the refractions contradict ``laser``.

    Sources
    -------
    The papers named beside each estimate.

    Examples
    --------
    >>> from shared_utils.power.biometry import Eye
    >>> from shared_utils.power.constants import LensConstants
    >>> eye, lens = Eye(26.0, 38.0, acd_mm=3.45), LensConstants.from_a_constant(118.4)
    >>> found = compare(eye, lens, "myopic", k_before_d=43.5)
    >>> for estimate in found.estimates:
    ...     print(f"{estimate.method:12} {estimate.iol_power_d:5.1f}")
    uncorrected   19.2
    double_k      21.0
    shammas       23.1
    shammas_pl    23.3
    haigis_l      22.8
    """
    require_lens_constants(lens_constants)
    require_eye("eye", eye)
    require_one_of("laser", laser, ("myopic", "hyperopic"))
    myopic = laser == "myopic"
    treated_d = None
    for name, value in (
        ("refraction_before_d", refraction_before_d),
        ("refraction_after_d", refraction_after_d),
    ):  # also where the other is missing
        if value is not None:
            require(name, value, *TARGET_RANGE_D, hint=REFRACTION_HINT)
    if refraction_before_d is not None and refraction_after_d is not None:
        treated_d = treated_refraction(refraction_before_d, refraction_after_d, vertex_mm)
        if np.any(np.asarray(treated_d) * (1.0 if myopic else -1.0) > 0.0):
            raise ValueError(
                f"refraction_before_d to refraction_after_d is no {laser} treatment; check the "
                "signs in D and their order."
            )
    FORMULAS.find(formula, FORMULAS.where("position_uses_k"))
    estimates, lacking = [], {}

    def power(k_d, elp_k_d):
        treated = eye if k_d is None else replace(eye, k1_d=k_d, k2_d=None, k1_axis_deg=None)
        return iol_power(treated, formula, lens_constants, target_d, vertex_mm, elp_k_d)

    def add_k(method, source, k_d):
        open_position = k_before_d is None
        estimates.append(Estimate(method, k_d, power(k_d, k_before_d), open_position, source))

    def add_power(method, source, power_d, open_position=False):
        estimates.append(Estimate(method, None, power_d, open_position, source))

    uncorrected_d = power(None, None)
    add_power("uncorrected", "the formula as if nothing had been done", uncorrected_d, True)
    if k_before_d is None:
        lacking["double_k"] = "k_before_d"
    else:
        add_power("double_k", "Aramberri 2003", power(None, k_before_d))
    if k_before_d is None or refraction_before_d is None or refraction_after_d is None:
        lacking["clinical_history"] = "k_before_d, refraction_before_d, refraction_after_d"
    else:
        history_d = clinical_history_k(
            k_before_d, refraction_before_d, refraction_after_d, vertex_mm
        )
        add_k("clinical_history", "Holladay 1989", history_d)
    if treated_d is None:
        lacking["savini"] = lacking["masket"] = "refraction_before_d, refraction_after_d"
    else:
        add_k("savini", "Savini et al. 2007", savini_k(eye.mean_k_d, treated_d))
        add_power(
            "masket",
            "Masket & Masket 2006",
            unwrap_scalar(np.asarray(uncorrected_d) + masket_adjustment(treated_d)),
        )
    if not myopic:
        add_k("shammas_hyperopic", "Shammas et al. 2013", shammas_hyperopic_k(eye.mean_k_d))
    else:
        add_k("shammas", "Shammas et al. 2003", shammas_k(eye.mean_k_d))
        pl_d = shammas_pl_power(eye, lens_constants, target_d, vertex_mm)
        add_power("shammas_pl", "Shammas & Shammas 2007", pl_d)
        if eye.acd_mm is None:
            lacking["haigis_l"] = "acd_mm"
        else:
            l_d = haigis_l_power(eye, lens_constants, target_d, vertex_mm)
            add_power("haigis_l", "Haigis 2008", l_d)
        if central_k_d is None:
            lacking["central_topography"] = "central_k_d"
        else:
            add_k("central_topography", "Wang et al. 2004", central_topography_k(central_k_d))
    powers = broadcast(**{e.method: e.iol_power_d for e in estimates[1:]})
    lowest_d, highest_d = np.min(powers, axis=0), np.max(powers, axis=0)
    return Comparison(
        estimates=tuple(estimates),
        lacking=lacking,
        median_d=unwrap_scalar(np.median(powers, axis=0)),
        lowest_d=unwrap_scalar(lowest_d),
        highest_d=unwrap_scalar(highest_d),
        spread_d=unwrap_scalar(highest_d - lowest_d),
    )
