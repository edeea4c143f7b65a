"""Lesson 07: a constant and its series of errors, clinics that compare, the audit of a file."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from scipy import stats

from shared_utils.clinic import cohort, cohort_file
from shared_utils.optics.domain import unwrap_scalar
from shared_utils.power import constants, prediction_errors, sample_size
from shared_utils.power.audit import FEWEST_EYES, Audit, audit
from shared_utils.power.biometry import Eye
from shared_utils.power.formulas import predicted_refraction
from shared_utils.power.lens_constants import LensConstants
from shared_utils.power.lens_steps import choices
from shared_utils.power.registry import FORMULAS as REGISTRY

if TYPE_CHECKING:
    from collections.abc import Sequence
    from os import PathLike

    from numpy import ndarray
    from numpy.typing import ArrayLike

    from shared_utils.clinic.cohort import Cohort
    from shared_utils.optics.types import FloatOrArray

# --- shares of errors, errors to read ----------------------------------------------------------

LIMIT_D = 0.50
PER_A_D = 0.83  # what one more of A moves SRK/T's predictions by, average eye
OUTSIDE_EYES = {-1.0: 1, -0.75: 3, 0.75: 2, 1.0: 2}  # of the series to read, beyond 0.50 D
FORMULAS_EYES = {
    "A": dict(zip(np.arange(-1.25, 1.26, 0.25), (1, 2, 3, 4, 6, 8, 6, 4, 3, 2, 1), strict=True)),
    "B": dict(zip(np.arange(0.0, 1.26, 0.25), (3, 6, 10, 11, 7, 3), strict=True)),
}
KINDS = (("centred, narrow", 0.0, 0.35), ("it leans", 0.45, 0.35), ("it scatters", 0.0, 0.60))


def share_within(mean_d: ArrayLike, sd_d: ArrayLike, limit_d: ArrayLike = LIMIT_D) -> FloatOrArray:
    """Return the share of Gaussian errors that lie within a limit.

    Parameters
    ----------
    mean_d, sd_d : scalar or array
        Mean and standard deviation of the errors, D.
    limit_d : scalar or array
        D.

    Returns
    -------
    float or array
        0 to 1.

    Examples
    --------
    >>> round(share_within(0.0, 0.50), 2)
    0.68
    """
    normal = stats.norm(mean_d, sd_d)
    return unwrap_scalar(normal.cdf(limit_d) - normal.cdf(-np.asarray(limit_d)))


@dataclass(frozen=True)
class ErrorDensity:
    """Gaussian errors: their density along a range, and the share that lies within the limit."""

    error_d: np.ndarray
    density: np.ndarray
    inside: np.ndarray
    share: float


def compute_error_density(mean_d: float, sd_d: float) -> ErrorDensity:
    """Return the density of Gaussian errors from −1.9 to 1.9 D.

    Parameters
    ----------
    mean_d, sd_d : float
        Mean and standard deviation of the errors, D.

    Returns
    -------
    ErrorDensity

    Examples
    --------
    >>> data = compute_error_density(0.0, 0.50)
    >>> float(round(data.density.max(), 2)), round(data.share, 2)
    (0.8, 0.68)
    """
    error_d = np.linspace(-1.9, 1.9, 381)
    return ErrorDensity(
        error_d,
        stats.norm.pdf(error_d, mean_d, sd_d),
        np.abs(error_d) <= LIMIT_D,
        float(share_within(mean_d, sd_d)),
    )


@dataclass(frozen=True)
class ErrorCounts:
    """How many eyes of a series have each error."""

    error_d: np.ndarray
    eyes: np.ndarray
    mean_d: float

    @property
    def n(self) -> int:
        """Eyes in all."""
        return int(self.eyes.sum())


def count_errors(errors_d: ArrayLike) -> ErrorCounts:
    """Return how many errors of a series fall on each quarter dioptre from −2 to 2 D.

    Parameters
    ----------
    errors_d : array
        Prediction errors, D, between −2 and 2, each a multiple of 0.25 D.

    Returns
    -------
    ErrorCounts

    Raises
    ------
    ValueError
        If an error lies beyond.

    Examples
    --------
    >>> data = count_errors([0.25, 0.25, -0.5])
    >>> data.n, round(data.mean_d, 2)
    (3, 0.0)
    """
    errors_d = np.asarray(errors_d, dtype=float)
    quarters_d = np.arange(-2.0, 2.01, 0.25)
    eyes = np.array([int(np.sum(np.abs(errors_d - quarter) < 0.125)) for quarter in quarters_d])
    if eyes.sum() != errors_d.size:
        raise ValueError("errors_d reaches beyond −2 to 2 D; give errors inside, in D.")
    return ErrorCounts(quarters_d, eyes, float(prediction_errors.summary(errors_d).mean_d))


def errors_of_series(
    minus_50: int, minus_25: int, zero: int, plus_25: int, plus_50: int
) -> ndarray:
    """Return the errors of an invented series, of which eight lie beyond 0.50 D.

    Parameters
    ----------
    minus_50, minus_25, zero, plus_25, plus_50 : int
        Eyes with an error of −0.50, −0.25, 0, +0.25 and +0.50 D.

    Returns
    -------
    array
        D.

    Examples
    --------
    >>> errors_of_series(3, 8, 10, 7, 4).size
    40
    """
    eyes = {-0.5: minus_50, -0.25: minus_25, 0.0: zero, 0.25: plus_25, 0.5: plus_50}
    eyes |= OUTSIDE_EYES
    return np.repeat(list(eyes), list(eyes.values()))


def errors_of_formulas() -> dict[str, ErrorCounts]:
    """Return the errors of two formulas in the same forty invented eyes.

    Returns
    -------
    dict of str to ErrorCounts

    Examples
    --------
    >>> [(name, data.n) for name, data in errors_of_formulas().items()]
    [('A', 40), ('B', 40)]
    """
    found = {}
    for name, eyes in FORMULAS_EYES.items():
        errors_d, counts = np.array(list(eyes)), np.array(list(eyes.values()))
        found[name] = ErrorCounts(errors_d, counts, float(np.average(errors_d, weights=counts)))
    return found


def mean_error_with(a_constant: ArrayLike, label: float, label_mean_d: float) -> FloatOrArray:
    """Return the mean error of SRK/T with a constant, from that with the constant used so far.

    Parameters
    ----------
    a_constant : scalar or array
    label : float
        The constant used so far.
    label_mean_d : float
        Mean error with it, D.

    Returns
    -------
    float or array
        D.

    Examples
    --------
    >>> round(mean_error_with(118.4, 118.9, -0.415), 3)
    0.0
    """
    return unwrap_scalar(label_mean_d - PER_A_D * (np.asarray(a_constant) - label))


# --- a series and its constant ----------------------------------------------------------------

SERIES_EYES, SERIES_SEED, LABEL_A = 120, 24, 118.35
SHORT_MM, LONG_MM = 22.5, 25.0
BINS_D = np.arange(-3.125, 3.2, 0.25)  # a bar for each quarter dioptre, centred on it


@cache
def invented_series() -> Cohort:
    """Return the invented series of the page: one surgeon, one lens model, the label's constant.

    Returns
    -------
    clinic.cohort.Cohort
        120 eyes, one of each person.
    """
    return cohort.invent(SERIES_EYES, SERIES_SEED, a_constant=LABEL_A)


def _implanted_and_achieved(eyes: Cohort) -> tuple[ndarray, ndarray]:
    """Power implanted and refraction achieved, which every series of this page has."""
    assert eyes.iol_power_d is not None
    assert eyes.achieved_d is not None
    return eyes.iol_power_d, eyes.achieved_d


@cache
def optimised_constants() -> LensConstants:
    """Return the constants that bring the mean error of SRK/T in the series to zero.

    Returns
    -------
    power.constants.LensConstants
    """
    eyes = invented_series()
    return constants.optimise(
        eyes.eye,
        "srk_t",
        *_implanted_and_achieved(eyes),
        start=LensConstants.from_a_constant(LABEL_A),
    )


def compute_errors(a_constant: float) -> ndarray:
    """Return the errors of the series by SRK/T with a given A-constant.

    Parameters
    ----------
    a_constant : float
        110 to 125.

    Returns
    -------
    array
        D, one for each eye.

    Examples
    --------
    The larger constant expects the lens farther back, so it predicts more hyperopia.

    >>> bool(np.all(compute_errors(119.0) < compute_errors(118.0)))
    True
    """
    eyes = invented_series()
    lens = LensConstants.from_a_constant(a_constant)
    iol_power_d, achieved_d = _implanted_and_achieved(eyes)
    predicted_d = predicted_refraction(eyes.eye, "srk_t", lens, iol_power_d)
    return np.asarray(prediction_errors.prediction_error(achieved_d, predicted_d))


@dataclass(frozen=True)
class Series:
    """The series by one constant: which eyes count, and what their errors amount to."""

    a_constant: float
    which: str
    length_mm: np.ndarray
    error_d: np.ndarray
    counts: np.ndarray
    summary: prediction_errors.Summary

    @property
    def inside(self) -> ndarray:
        """Which errors lie within the limit."""
        return np.abs(self.error_d) <= LIMIT_D + 1e-9

    @property
    def eyes_in_bins(self) -> np.ndarray:
        """Eyes that count, in each of ``BINS_D``."""
        return np.histogram(self.error_d[self.counts], BINS_D)[0]


def compute_series(a_constant: float, which: str) -> Series:
    """Return the errors of the series, and the summary of the eyes looked at.

    Parameters
    ----------
    a_constant : float
        For SRK/T, 110 to 125.
    which : str
        ``"all"``, ``"short"`` (below 22.5 mm) or ``"long"`` (above 25 mm).

    Returns
    -------
    Series

    Examples
    --------
    >>> bool(abs(compute_series(optimised_constants().a_constant, "all").summary.mean_d) < 1e-6)
    True
    """
    length_mm = np.asarray(invented_series().eye.axial_length_mm)
    counts = {
        "all": np.ones(length_mm.size, bool),
        "short": length_mm < SHORT_MM,
        "long": length_mm > LONG_MM,
    }[which]
    error_d = compute_errors(a_constant)
    return Series(
        a_constant,
        which,
        length_mm,
        error_d,
        counts,
        prediction_errors.summary(error_d[counts]),
    )


# --- clinics that compare ---------------------------------------------------------------------

CLINICS = 60
MAX_EYES = 400
BETTER_SD_D = 0.40
ERROR_CORRELATION = 0.90  # correlation of two formulas' errors in the same eyes; assumed, no source


@dataclass(frozen=True)
class ClinicComparison:
    """What many clinics found when they compared the same two formulas."""

    eyes: int
    apart_d: float
    paired: bool
    found_d: np.ndarray
    wrong: int
    needed: int

    @property
    def middle_90_d(self) -> np.ndarray:
        """Ends of the range in which nine clinics in ten found the difference, D."""
        return np.percentile(self.found_d, (5, 95))


@cache
def _random_numbers():
    """Gaussian numbers for all clinics: shared by both formulas, and each formula's own."""
    return np.random.default_rng(11).standard_normal((3, CLINICS, MAX_EYES))


def compute_clinics(eyes: int, apart_d: float, paired: bool) -> ClinicComparison:
    """Return the difference of SDs that each of 60 clinics finds, where the truth is known.

    Parameters
    ----------
    eyes : int
        Eyes for each formula in every clinic, 10 to 400.
    apart_d : float
        True difference of the SDs, D; the better formula has 0.40 D.
    paired : bool
        Whether both formulas are tried in the same eyes, where their errors correlate by 0.90.

    Returns
    -------
    ClinicComparison
        ``needed`` is for 80 % power at the 5 % level.

    Examples
    --------
    >>> compute_clinics(400, 0.10, True).wrong
    0
    """
    shared, first, second = _random_numbers()[:, :, : int(eyes)]
    if paired:
        first, second = (
            np.sqrt(ERROR_CORRELATION) * shared + np.sqrt(1.0 - ERROR_CORRELATION) * own
            for own in (first, second)
        )
    better_d = BETTER_SD_D * first.std(axis=1, ddof=1)
    worse_d = (BETTER_SD_D + apart_d) * second.std(axis=1, ddof=1)
    found_d = worse_d - better_d
    needed = sample_size.eyes_for_comparison(
        BETTER_SD_D, BETTER_SD_D + apart_d, ERROR_CORRELATION if paired else 0.0
    )
    return ClinicComparison(
        int(eyes), apart_d, paired, found_d, int(np.sum(found_d < 0)), int(needed)
    )


# --- worked examples --------------------------------------------------------------------------

PATIENT = Eye(axial_length_mm=23.5, k1_d=43.5)
PATIENT_LENS_D = 20.5
PATIENT_SPHERE_D, PATIENT_CYLINDER_D = 1.00, -0.50
SECOND_EYE = Eye(axial_length_mm=23.46, k1_d=43.25)


def patient_steps() -> list[tuple[str, str, float, str]]:
    """Return the way from a patient's surprise to the lens of her other eye, for ``page.worked``.

    Returns
    -------
    list of (str, str, float, str)
    """
    label, best = LensConstants.from_a_constant(LABEL_A), optimised_constants()
    equivalent_d = PATIENT_SPHERE_D + PATIENT_CYLINDER_D / 2.0
    before_d = predicted_refraction(PATIENT, "srk_t", label, PATIENT_LENS_D)
    after_d = predicted_refraction(PATIENT, "srk_t", best, PATIENT_LENS_D)
    old, new = (choices(SECOND_EYE, "srk_t", lens, count=1) for lens in (label, best))
    written = f"SRK/T, A = {LABEL_A:.2f}, for the {PATIENT_LENS_D:.1f} D that she got"
    return [
        ("her spherical equivalent", "+1.00 D + (−0.50 D) / 2", equivalent_d, "D"),
        ("what was predicted", written, before_d, "D"),
        ("her prediction error", "achieved − predicted", equivalent_d - before_d, "D"),
        (
            "the same eye by the series' constant",
            f"SRK/T, A = {best.a_constant:.2f}, the same lens",
            after_d,
            "D",
        ),
        ("what is left: her own error", "achieved − predicted", equivalent_d - after_d, "D"),
        ("lens for the other eye, old constant", "nearest half step", old.iol_power_d[0], "D"),
        ("lens for the other eye, new constant", "nearest half step", new.iol_power_d[0], "D"),
    ]


def summary_steps(errors_d: Sequence[float]) -> list[tuple[str, str, float, str]]:
    """Return how a short series is summed up by hand, for ``page.worked``.

    Parameters
    ----------
    errors_d : sequence of float
        Prediction errors, D.

    Returns
    -------
    list of (str, str, float, str)

    Examples
    --------
    >>> summary_steps([-0.5, 0.0, 0.5])[0]
    ('mean: does it lean?', 'sum / n', 0.0, 'D')
    """
    found = prediction_errors.summary(errors_d)
    return [
        ("mean: does it lean?", "sum / n", found.mean_d, "D"),
        ("SD: how far it scatters", "√(Σ(error − mean)² / (n − 1))", found.sd_d, "D"),
        ("MAE: mean size", "Σ|error| / n", found.mae_d, "D"),
        ("MedAE: middle size", "the middle of the sorted |error|", found.medae_d, "D"),
        ("within 0.50 D", "eyes with |error| ≤ 0.50 D / n", 100 * found.within[0.5], "%"),
    ]


# --- a series of one's own --------------------------------------------------------------------

FORMULAS = REGISTRY.titles(REGISTRY.where("in_cohorts"))


@dataclass(frozen=True)
class FileAudit:
    """The audit of a file of outcomes, and what it allows to be said."""

    reading: cohort_file.Reading
    found: Audit
    largest: tuple  # (label of the eye, error in D) by the first formula, largest first
    apart: tuple  # (formula, formula), of which the first scatters less, p < 0.05 by Holm

    @property
    def left_out(self) -> int:
        """Eyes for which a formula had no answer."""
        return self.reading.cohort.n - int(self.found.used.sum())

    @property
    def few(self) -> bool:
        """Whether so few eyes were counted that hardly anything can be told apart."""
        return int(self.found.used.sum()) < FEWEST_EYES


def audit_file(name: str | PathLike[str], a_constant: float) -> FileAudit:
    """Return the audit of a file of outcomes.

    Parameters
    ----------
    name : str or path
        File of comma-separated text, one eye a row; see ``clinic.cohort_file``.
    a_constant : float
        The constant that was used, 110 to 125.

    Returns
    -------
    FileAudit

    Raises
    ------
    ValueError
        If nothing can be audited: one sentence that says why and what to do.
    """
    if not str(name).strip():
        raise ValueError("No file is named yet; write its name, such as my_series.csv.")
    path = Path(str(name).strip()).expanduser()
    try:
        has = cohort_file.columns(path)
        optional = [column for column in ("k2_d", "acd_mm") if column in has]
        reading = cohort_file.read(path, ["iol_power_d", "achieved_d", *optional])
    except FileNotFoundError:
        raise ValueError(
            f"There is no file {path.name!r} in {path.resolve().parent}; put it there, or write "
            "the whole path."
        ) from None
    except OSError as error:
        raise ValueError(f"{path.name!r} cannot be read: {error.strerror}.") from None
    eyes = reading.cohort
    formulas = [f for f in FORMULAS if REGISTRY[f].measured_in(eyes.eye)]
    lens = LensConstants.from_a_constant(a_constant)
    if eyes.n < 2:
        raise ValueError(reading.report(at_most=3).replace("\n", " "))
    found = audit(eyes.eye, *_implanted_and_achieved(eyes), formulas, lens)
    return FileAudit(reading, found, _largest_errors(eyes, found, lens), _distinguishable(found))


def _largest_errors(eyes, found, lens):
    """The three largest errors by the first formula: (label of the eye, error in D)."""
    row = found.formulas[0]
    predicted_d = predicted_refraction(
        eyes.eye.take(found.used),
        row.formula,
        lens.with_constant(row.formula, row.constant),
        eyes.iol_power_d[found.used],
    )
    error_d = prediction_errors.prediction_error(eyes.achieved_d[found.used], predicted_d)
    labels = [label for label, used in zip(eyes.label, found.used, strict=True) if used]
    worst = np.argsort(-np.abs(error_d))[:3]
    return tuple((labels[at], float(error_d[at])) for at in worst)


def _distinguishable(found):
    """Pairs of formulas that can be told apart by the SD: the one that scatters less is first."""
    return tuple(
        (pair.first, pair.second) if pair.difference_d < 0 else (pair.second, pair.first)
        for pair in found.pairs
        if pair.p_holm < 0.05
    )


def write_series(path: str | PathLike[str]) -> None:
    """Write the invented series to a file of comma-separated text.

    Parameters
    ----------
    path : path

    Raises
    ------
    OSError
        If it cannot be written.
    """
    cohort_file.write(path, invented_series())
