"""Published formulas from a measured eye to a lens power, and back to a refraction.

Every thin-lens formula is one vergence sum with three numbers of its own: the corneal power, the
optical length and the effective lens position (ELP). So each formula is a small function that
returns these three with the intermediate steps, and one core does the optics both ways. The two
regressions join in with their own last step.

Each formula has one record, in ``registry.FORMULAS``, and is called by its name. Everything
here is for learning, not for patient care.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from shared_utils.optics.domain import broadcast, require, unwrap_scalar
from shared_utils.power.biometry import K_RANGE_D, require_eye
from shared_utils.power.core import (
    AQUEOUS_INDEX,
    ELP_UNDETERMINED_BELOW_D,
    IOL_POWER_RANGE_D,
    TARGET_RANGE_D,
    VERTEX_HINT,
    VERTEX_RANGE_MM,
    Steps,
    Trace,
)
from shared_utils.power.lens_constants import require_lens_constants
from shared_utils.power.registry import FORMULAS
from shared_utils.power.regression import RegressionSteps
from shared_utils.power.thin_lens import ELP_K_HINT

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from shared_utils.optics.types import FloatOrArray
    from shared_utils.power.biometry import Eye
    from shared_utils.power.lens_constants import LensConstants

__all__ = [
    "AQUEOUS_INDEX",
    "FORMULAS",
    "IOL_POWER_RANGE_D",
    "TARGET_RANGE_D",
    "RegressionSteps",
    "Steps",
    "Trace",
    "iol_power",
    "predicted_refraction",
    "steps",
    "trace_power",
    "trace_refraction",
]


def steps(
    eye: Eye, formula: str, lens_constants: LensConstants, elp_k_d: ArrayLike | None = None
) -> Steps | RegressionSteps:
    """Return what a formula makes of an eye before the optics begins.

    Parameters
    ----------
    eye : biometry.Eye
    formula : str
        Name of a published formula, as in ``FORMULAS``.
    lens_constants : constants.LensConstants
    elp_k_d : scalar or array, optional
        Keratometry for the lens position alone (double-K), 30 to 65 D. A formula whose position
        takes no K says so with the flag ``elp_k_unused``.

    Returns
    -------
    Steps or RegressionSteps

    Raises
    ------
    ValueError
        If the name is not that of a formula here.

    Examples
    --------
    >>> from shared_utils.power.biometry import Eye
    >>> from shared_utils.power.constants import LensConstants
    >>> found = steps(Eye(28.0, 48.0), "srk_t", LensConstants.from_a_constant(118.4))
    >>> round(found.elp_mm, 3), bool(found.flags["root_clamped"])
    (8.909, True)
    """
    record = FORMULAS.find(formula)
    require_eye("eye", eye)
    require_lens_constants(lens_constants)
    if elp_k_d is not None:  # also for a formula that will not use it
        elp_k_d = require("elp_k_d", elp_k_d, *K_RANGE_D, hint=ELP_K_HINT)
    _shape(eye, lens_constants, elp_k_d=elp_k_d)
    return record.function(eye, lens_constants, elp_k_d)


def iol_power(
    eye: Eye,
    formula: str,
    lens_constants: LensConstants,
    target_d: ArrayLike = 0.0,
    vertex_mm: ArrayLike = 12.0,
    elp_k_d: ArrayLike | None = None,
) -> FloatOrArray:
    """Return the lens power that a formula asks for a target refraction.

    Parameters
    ----------
    eye : biometry.Eye
        One eye or a cohort of arrays.
    formula : str
        Name of a published formula, as in ``FORMULAS``.
    lens_constants : constants.LensConstants
    target_d : scalar or array
        Refraction wanted at the spectacle plane, −30 to 30 D; myopia negative.
    vertex_mm : scalar or array
        Vertex distance, 0 to 20 mm.
    elp_k_d : scalar or array, optional
        Keratometry for the lens position alone (double-K), 30 to 65 D.

    Returns
    -------
    float or array
        Power of the lens, D, as computed; see ``lens_steps`` for lenses that exist.

    Raises
    ------
    ValueError
        Naming the value, the unit, the range and the likely slip.

    Sources
    -------
    The paper of each formula, named in ``thin_lens`` and ``regression``.

    Examples
    --------
    >>> from shared_utils.power.biometry import Eye
    >>> from shared_utils.power.constants import LensConstants
    >>> lens = LensConstants.from_a_constant(118.4)
    >>> round(iol_power(Eye(23.5, 43.5), "srk_t", lens), 1)
    20.6
    """
    return trace_power(eye, formula, lens_constants, target_d, vertex_mm, elp_k_d).answer_d


def predicted_refraction(
    eye: Eye,
    formula: str,
    lens_constants: LensConstants,
    iol_power_d: ArrayLike,
    vertex_mm: ArrayLike = 12.0,
    elp_k_d: ArrayLike | None = None,
) -> FloatOrArray:
    """Return the refraction that a formula predicts for a lens of a given power.

    Parameters
    ----------
    eye : biometry.Eye
        One eye or a cohort of arrays.
    formula : str
        Name of a published formula, as in ``FORMULAS``.
    lens_constants : constants.LensConstants
    iol_power_d : scalar or array
        Power of the lens, −200 to 200 D; the one that is implanted, not the one computed.
    vertex_mm : scalar or array
        Vertex distance, 0 to 20 mm.
    elp_k_d : scalar or array, optional
        Keratometry for the lens position alone (double-K), 30 to 65 D.

    Returns
    -------
    float or array
        Refraction at the spectacle plane, D; myopia negative.

    Raises
    ------
    ValueError
        Naming the value, the unit, the range and the likely slip.

    Sources
    -------
    The paper of each formula, named in ``thin_lens`` and ``regression``.

    Examples
    --------
    >>> from shared_utils.power.biometry import Eye
    >>> from shared_utils.power.constants import LensConstants
    >>> lens = LensConstants.from_a_constant(118.4)
    >>> round(predicted_refraction(Eye(23.5, 43.5), "srk_t", lens, 20.5), 3)
    0.045
    """
    return trace_refraction(eye, formula, lens_constants, iol_power_d, vertex_mm, elp_k_d).answer_d


def trace_power(
    eye: Eye,
    formula: str,
    lens_constants: LensConstants,
    target_d: ArrayLike = 0.0,
    vertex_mm: ArrayLike = 12.0,
    elp_k_d: ArrayLike | None = None,
) -> Trace:
    """Return every step from the eye to the lens power, with its warnings.

    Parameters
    ----------
    eye, formula, lens_constants, target_d, vertex_mm, elp_k_d
        As for ``iol_power``.

    Returns
    -------
    Trace
        ``named``: every quantity in order, the last ``iol_power_d``. ``flags``: those of the
        formula, and ``elp_undetermined`` (a lens weaker than 5 D hardly minds where it stands)
        and ``negative_power`` (legitimate in very long eyes).

    Examples
    --------
    >>> from shared_utils.power.biometry import Eye
    >>> from shared_utils.power.constants import LensConstants
    >>> trace = trace_power(Eye(23.5, 43.5), "t2", LensConstants.from_a_constant(118.4))
    >>> for name, value in trace.named.items():
    ...     print(f"{name:22}{value:8.3f}")
    corneal_height_mm        3.229
    offset_mm                1.878
    retinal_thickness_mm     0.180
    cornea_d                42.920
    optical_length_mm       23.680
    elp_mm                   5.107
    target_at_cornea_d       0.000
    behind_cornea_d         42.920
    at_lens_d               51.343
    behind_lens_d           71.931
    iol_power_d             20.588
    """
    target_d = require("target_d", target_d, *TARGET_RANGE_D, hint="Myopia is negative.")
    return _trace("to_power", target_d, eye, formula, lens_constants, vertex_mm, elp_k_d)


def trace_refraction(
    eye: Eye,
    formula: str,
    lens_constants: LensConstants,
    iol_power_d: ArrayLike,
    vertex_mm: ArrayLike = 12.0,
    elp_k_d: ArrayLike | None = None,
) -> Trace:
    """Return every step from an implanted lens to the refraction, with its warnings.

    Parameters
    ----------
    eye, formula, lens_constants, iol_power_d, vertex_mm, elp_k_d
        As for ``predicted_refraction``.

    Returns
    -------
    Trace
        ``named``: every quantity in order, the last ``refraction_d``. ``flags``: as for
        ``trace_power``.

    Examples
    --------
    >>> from shared_utils.power.biometry import Eye
    >>> from shared_utils.power.constants import LensConstants
    >>> lens = LensConstants.from_a_constant(118.4)
    >>> trace = trace_refraction(Eye(30.0, 44.0), "t2", lens, 2.0)
    >>> round(trace.answer_d, 3), trace.flags["elp_undetermined"]
    (-0.108, True)
    """
    power_d = require("iol_power_d", iol_power_d, *IOL_POWER_RANGE_D, hint="Usually −5 to 40 D.")
    return _trace("to_refraction", power_d, eye, formula, lens_constants, vertex_mm, elp_k_d)


def _trace(way, given_d, eye, formula, lens_constants, vertex_mm, elp_k_d):
    vertex_mm = require("vertex_mm", vertex_mm, *VERTEX_RANGE_MM, hint=VERTEX_HINT)
    found = steps(eye, formula, lens_constants, elp_k_d)
    shape = _shape(eye, lens_constants, elp_k_d=elp_k_d, given_d=given_d, vertex_mm=vertex_mm)
    last = getattr(found, way)(given_d, vertex_mm)
    named = {**found.named, **found.before_optics(), **last}
    answer = next(reversed(named))
    if np.shape(named[answer]) != shape:  # something was given that this formula ignores
        named[answer] = np.broadcast_to(named[answer], shape).copy()
    power_d = np.abs(named["iol_power_d"] if way == "to_power" else given_d)
    flags = {**found.flags, "elp_undetermined": power_d < ELP_UNDETERMINED_BELOW_D}
    flags["negative_power"] = np.asarray(named.get("iol_power_d", given_d)) < 0.0
    return Trace(
        named={name: unwrap_scalar(np.asarray(value)) for name, value in named.items()},
        flags={name: bool(f) if np.ndim(f) == 0 else f for name, f in flags.items()},
    )


def _shape(eye, lens_constants, **others):
    """Shape that all that was given makes together, or one sentence why there is none."""
    given = {**vars(eye), **vars(lens_constants), **others}
    return broadcast(**{name: v for name, v in given.items() if v is not None})[0].shape
