"""The measured eye: what biometry and keratometry hand over.

Keratometry is 337.5 / radius in mm. One eye, or a cohort as an eye of arrays.
"""

from dataclasses import dataclass

import numpy as np

from shared_utils.optics.domain import plain, require

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
            object.__setattr__(self, field, plain(array))
        try:
            np.broadcast_shapes(*(shape for _, shape in given))
        except ValueError:
            shapes = ", ".join(f"{field} {shape}" for field, shape in given)
            raise ValueError(
                f"These shapes do not go together: {shapes}; give one value, or one for each eye."
            ) from None

    @property
    def mean_k_d(self):
        """Mean of the two keratometer readings, D."""
        return self.k1_d if self.k2_d is None else plain((self.k1_d + np.asarray(self.k2_d)) / 2.0)

    @property
    def corneal_radius_mm(self):
        """Radius that belongs to the mean reading, mm."""
        return radius_from_k(self.mean_k_d)


def radius_from_k(k_d):
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
    return plain(KERATOMETER_SCALE / k_d)
