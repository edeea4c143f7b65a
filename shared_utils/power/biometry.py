"""The measured eye: what biometry and keratometry hand over.

Keratometry is 337.5 / radius in mm. One eye, or a cohort as an eye of arrays.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from shared_utils.optics.domain import broadcast, require, require_instance, shown, unwrap_scalar

if TYPE_CHECKING:
    from numpy import ndarray
    from numpy.typing import ArrayLike

    from shared_utils.optics.types import FloatOrArray

KERATOMETER_SCALE = 337.5  # 1000 × (1.3375 − 1), so that K in D is this over the radius in mm

AXIAL_LENGTH_RANGE_MM = (15.0, 40.0)
K_RANGE_D = (30.0, 65.0)


@dataclass(frozen=True)
class Eye:
    """A measured eye, or a cohort of them as arrays that broadcast.

    Parameters
    ----------
    axial_length_mm : scalar or array
        Cornea to retina, 15 to 40 mm.
    k1_d : scalar or array
        Keratometry of one meridian, 337.5 / radius, 30 to 65 D.
    k2_d : scalar or array, optional
        Keratometry of the other meridian, 30 to 65 D; as ``k1_d`` if not given.
    k1_axis_deg : scalar or array, optional
        Meridian of ``k1_d``, 0 to 180°.
    acd_mm : scalar or array, optional
        Anterior chamber depth from the corneal epithelium to the lens, 1 to 6 mm.
    lens_thickness_mm : scalar or array, optional
        2 to 8 mm.
    white_to_white_mm : scalar or array, optional
        8 to 15 mm.

    Raises
    ------
    ValueError
        Naming the value, the unit, the range and the likely slip.

    Examples
    --------
    >>> eye = Eye(axial_length_mm=23.5, k1_d=43.0, k2_d=44.0)
    >>> eye.mean_k_d, round(eye.corneal_radius_mm, 3)
    (43.5, 7.759)
    """

    axial_length_mm: float | np.ndarray
    k1_d: float | np.ndarray
    k2_d: float | np.ndarray | None = None
    k1_axis_deg: float | np.ndarray | None = None
    acd_mm: float | np.ndarray | None = None
    lens_thickness_mm: float | np.ndarray | None = None
    white_to_white_mm: float | np.ndarray | None = None

    def __post_init__(self):
        radius_hint = "A radius in mm? Keratometry in dioptres is 337.5 / radius."
        ranges = {
            "axial_length_mm": (*AXIAL_LENGTH_RANGE_MM, "In metres? Multiply by 1000."),
            "k1_d": (*K_RANGE_D, radius_hint),
            "k2_d": (*K_RANGE_D, radius_hint),
            "k1_axis_deg": (0.0, 180.0, "A meridian in degrees, not radians."),
            "acd_mm": (1.0, 6.0, "From the corneal epithelium to the lens."),
            "lens_thickness_mm": (2.0, 8.0, "In metres? Multiply by 1000."),
            "white_to_white_mm": (8.0, 15.0, "In metres? Multiply by 1000."),
        }
        given = []
        for field, (low, high, hint) in ranges.items():
            value = getattr(self, field)
            if value is None and field not in ("axial_length_mm", "k1_d"):
                continue
            array = require(field, value, low, high, hint=hint)
            given.append((field, array.shape))
            object.__setattr__(self, field, unwrap_scalar(array))
        try:
            np.broadcast_shapes(*(shape for _, shape in given))
        except ValueError:
            shapes = ", ".join(f"{field} {shape}" for field, shape in given)
            raise ValueError(
                f"These shapes do not go together: {shapes}; give one value, or one for each eye."
            ) from None

    @property
    def shape(self) -> tuple[int, ...]:
        """Shape that the measurements make together; () for one eye."""
        given = [np.shape(v) for v in vars(self).values() if v is not None]
        return np.broadcast_shapes(*given)

    def __len__(self):
        if not self.shape:
            raise TypeError("One eye has no length; a cohort of arrays has.")
        return self.shape[0]

    def take(self, where: int | slice | ndarray) -> Eye:
        """Return the eyes at an index, a slice or a boolean mask, as an Eye.

        >>> cohort = Eye(axial_length_mm=np.array([22.0, 23.5, 26.0]), k1_d=44.0)
        >>> cohort.take(1).axial_length_mm, cohort.take(cohort.axial_length_mm > 23).shape
        (23.5, (2,))
        """
        shape = self.shape
        try:
            taken = {
                name: np.broadcast_to(value, shape)[where]
                for name, value in vars(self).items()
                if value is not None
            }
        except IndexError:
            raise ValueError(
                f"where is {shown(where)}, which fits no cohort of shape {shape}; give an index, a "
                "slice or a mask of that shape."
            ) from None
        return Eye(**taken)

    @property
    def mean_k_d(self) -> FloatOrArray:
        """Mean of the two keratometer readings, D."""
        return (
            self.k1_d
            if self.k2_d is None
            else unwrap_scalar((self.k1_d + np.asarray(self.k2_d)) / 2.0)
        )

    @property
    def corneal_radius_mm(self) -> FloatOrArray:
        """Radius that belongs to the mean reading, mm."""
        return radius_from_k(self.mean_k_d)


def require_eye(name: str, eye: object) -> Eye:
    """Return the eye, or say in one sentence what was given in its place.

    >>> require_eye("eye", 23.5)
    Traceback (most recent call last):
    ValueError: eye is 23.5, a number; give an Eye, such as Eye(axial_length_mm=23.5, k1_d=43.5).
    """
    return require_instance(name, eye, Eye, "an Eye, such as Eye(axial_length_mm=23.5, k1_d=43.5)")


def radius_from_k(k_d: ArrayLike) -> FloatOrArray:
    """Return the corneal radius behind a keratometer reading.

    Parameters
    ----------
    k_d : scalar or array
        Reading at the keratometric index 1.3375, 30 to 65 D.

    Returns
    -------
    float or array
        Radius, mm.

    Sources
    -------
    Common practice, no source: the keratometer's scale of 337.5 / R.

    Examples
    --------
    >>> radius_from_k(45.0)
    7.5
    """
    k_d = require("k_d", k_d, *K_RANGE_D, hint="A radius in mm? Dioptres are 337.5 / radius.")
    return unwrap_scalar(KERATOMETER_SCALE / k_d)


@dataclass(frozen=True)
class Finding:
    """One screening criterion, applied.

    Attributes
    ----------
    name : str
        Short name of the criterion.
    holds : bool or array of bool
        For which eyes the measurement is unusual.
    advice : str
        What is unusual, in one sentence.
    """

    name: str
    holds: bool | np.ndarray
    advice: str


def screening(
    eye: Eye, emmetropic_power_d: ArrayLike | None = None, usual_power_d: ArrayLike | None = None
) -> tuple[Finding, ...]:
    """Return which measurements of an eye are unusual enough to be repeated.

    Parameters
    ----------
    eye : Eye
    emmetropic_power_d : scalar or array, optional
        Lens power for a refraction of zero, D.
    usual_power_d : scalar or array, optional
        Mean power of that lens model in the practice, D; given together with
        ``emmetropic_power_d``.

    Returns
    -------
    tuple of Finding
        Unusual is not wrong: a finding asks for a second measurement.

    Raises
    ------
    ValueError
        If one of the two powers comes without the other.

    Sources
    -------
    Holladay et al., J Cataract Refract Surg 1988;14:17: repeat below 22 or above 25 mm, below 40
    or above 47 D, or when the power is more than 3 D from the average. From memory.

    Examples
    --------
    >>> [finding.name for finding in screening(Eye(21.5, 48.0)) if finding.holds]
    ['short_or_long', 'flat_or_steep']
    """
    require_eye("eye", eye)
    length_mm, k_d = np.asarray(eye.axial_length_mm), np.asarray(eye.mean_k_d)
    found = [
        _finding(
            "short_or_long",
            (length_mm < 22.0) | (length_mm > 25.0),
            "Axial length below 22 or above 25 mm: measure again.",
        ),
        _finding(
            "flat_or_steep",
            (k_d < 40.0) | (k_d > 47.0),
            "Mean keratometry below 40 or above 47 D: measure again, ask about corneal surgery.",
        ),
    ]
    if (emmetropic_power_d is None) != (usual_power_d is None):
        raise ValueError(
            "Give emmetropic_power_d and usual_power_d together, both in D, or neither."
        )
    if emmetropic_power_d is not None:
        found.append(
            _finding(
                "unusual_power",
                _apart(3.0, emmetropic_power_d=emmetropic_power_d, usual_power_d=usual_power_d),
                "Lens power more than 3 D from the usual: measure again.",
            )
        )
    return tuple(found)


def between_eyes(
    right: Eye,
    left: Eye,
    right_power_d: ArrayLike | None = None,
    left_power_d: ArrayLike | None = None,
) -> tuple[Finding, ...]:
    """Return which differences between the two eyes of a person are unusual.

    Parameters
    ----------
    right, left : Eye
    right_power_d, left_power_d : scalar or array, optional
        Lens powers for a refraction of zero, D; given together.

    Returns
    -------
    tuple of Finding

    Raises
    ------
    ValueError
        If one of the two powers comes without the other.

    Sources
    -------
    Holladay et al., J Cataract Refract Surg 1988;14:17: repeat when the eyes differ by more than
    1 D of K, 0.3 mm of length or 1 D of power. From memory.

    Examples
    --------
    >>> found = between_eyes(Eye(23.5, 43.5), Eye(24.0, 43.75))
    >>> [finding.name for finding in found if finding.holds]
    ['length_differs']
    """
    require_eye("right", right)
    require_eye("left", left)
    found = [
        _finding(
            "length_differs",
            _apart(0.3, right_mm=right.axial_length_mm, left_mm=left.axial_length_mm),
            "Axial lengths differ by more than 0.3 mm: measure both eyes again.",
        ),
        _finding(
            "k_differs",
            _apart(1.0, right_d=right.mean_k_d, left_d=left.mean_k_d),
            "Mean keratometry differs by more than 1 D: measure both eyes again.",
        ),
    ]
    if (right_power_d is None) != (left_power_d is None):
        raise ValueError("Give right_power_d and left_power_d together, both in D, or neither.")
    if right_power_d is not None:
        found.append(
            _finding(
                "power_differs",
                _apart(1.0, right_power_d=right_power_d, left_power_d=left_power_d),
                "Lens powers differ by more than 1 D: measure both eyes again.",
            )
        )
    return tuple(found)


def _apart(limit, **pair):
    """Whether two measurements lie further apart than a limit, beyond the error of rounding."""
    one, other = broadcast(**{name: require(name, value) for name, value in pair.items()})
    return np.abs(one - other) > limit + 1e-9


def _finding(name, holds, advice):
    return Finding(name, bool(holds) if np.ndim(holds) == 0 else holds, advice)
