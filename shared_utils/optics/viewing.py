"""An eye that looks: its lens, pupil and cornea, the vergence of the object, and the light.

Made and checked once where a function of `through_focus` or `retina` is called, and handed on
whole from there.

Sources
-------
Thibos, Ye, Zhang & Bradley, Appl Opt 1992;31:3594 (chromatic focus); CIE 1924 (luminosity).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from shared_utils.optics.chromatic import refraction
from shared_utils.optics.domain import require, require_one
from shared_utils.optics.fourier_bessel import Light
from shared_utils.optics.lenses import (
    DESIGN_WAVELENGTH_NM,
    PUPIL_HINT,
    PUPIL_RANGE_MM,
    Lens,
    aberration_um,
    require_lens,
)
from shared_utils.optics.luminosity import WAVELENGTH_HINT, WAVELENGTH_RANGE_NM, luminosity

if TYPE_CHECKING:
    from numpy import ndarray
    from numpy.typing import ArrayLike

    from shared_utils.optics.types import FloatOrArray

AVERAGE_CORNEA_SA_UM = 0.27
DEFOCUS_RANGE_D = (-8.0, 8.0)
DEFOCUS_HINT = "The vergence of the object: 40 cm is −2.5 D."


@dataclass(frozen=True)
class Viewing:
    """A lens behind a pupil and a cornea, an object at a vergence, in white or one-coloured light.

    Parameters
    ----------
    lens : Lens
        From `lenses`.
    pupil_mm : float
        Pupil diameter, 0.5 to 9 mm.
    defocus_d : scalar or array
        Vergence of the object, −8 to 8 D; 40 cm is −2.50 D. With a scalar, the whole can be a key
        of a cache.
    corneal_sa_um : float
        Spherical aberration of the cornea over a 6-mm pupil, −1 to 1 µm.
    wavelength_nm : float or None
        380 to 780 nm, in focus as green is; None for white light with the eye's chromatic focus.

    Raises
    ------
    ValueError
        Naming the value, the unit, the range and the likely slip.
    """

    lens: Lens
    pupil_mm: float
    defocus_d: ArrayLike = 0.0
    corneal_sa_um: float = AVERAGE_CORNEA_SA_UM
    wavelength_nm: float | None = None

    def __post_init__(self):
        require_lens(self.lens)
        defocus_d = require("defocus_d", self.defocus_d, *DEFOCUS_RANGE_D, hint=DEFOCUS_HINT)
        if defocus_d.size == 0:
            raise ValueError("defocus_d holds no number; give at least one.")
        checked = {
            "pupil_mm": require_one("pupil_mm", self.pupil_mm, *PUPIL_RANGE_MM, hint=PUPIL_HINT),
            "defocus_d": defocus_d if defocus_d.ndim else float(defocus_d),
            "corneal_sa_um": require_one(
                "corneal_sa_um", self.corneal_sa_um, -1.0, 1.0, hint="The average is +0.27."
            ),
        }
        if self.wavelength_nm is not None:
            checked["wavelength_nm"] = require_one(
                "wavelength_nm", self.wavelength_nm, *WAVELENGTH_RANGE_NM, hint=WAVELENGTH_HINT
            )
        for name, value in checked.items():
            object.__setattr__(self, name, value)

    def through(self, lens: Lens) -> Viewing:
        """Return the same with another lens."""
        return replace(self, lens=lens)

    @property
    def light(self) -> Light:
        """The light, in steps of equal focus if it is white."""
        if self.wavelength_nm is None:
            return white_light(self.pupil_mm)
        return Light((self.wavelength_nm / 1000.0,), (0.0,), (1.0,))

    @property
    def zone_edges_mm2(self) -> ndarray:
        """Squares of the radii of the lens's zones within the pupil, and of the pupil, mm²."""
        return np.append(self.lens.zone_radii_mm(self.pupil_mm) ** 2, self.pupil_mm**2 / 4.0)

    def path_um(self, u: ArrayLike) -> FloatOrArray:
        """Return the path that cornea and lens add at a squared radius u in mm², µm."""
        return self.lens.opd_um(u) + aberration_um(u, self.corneal_sa_um)


@lru_cache(maxsize=16)
def white_light(pupil_mm: float) -> Light:
    """Return white light in steps of equal focus: fine enough that the blur of neighbours overlaps.

    Contrast as a function of focus holds no more than a²/2λ cycles/D, a the pupil's radius, so
    equal steps of focus (not of wavelength) converge as fast as can be.
    """
    step_d = min(0.12, 3.6 / pupil_mm**2)
    fine_nm = np.arange(*WAVELENGTH_RANGE_NM, 0.5)
    # the eye's excess of power
    fine_d = -np.asarray(refraction(fine_nm, in_focus_nm=DESIGN_WAVELENGTH_NM))
    focus_d = step_d * np.arange(np.ceil(fine_d[-1] / step_d), np.floor(fine_d[0] / step_d) + 1.0)
    nm = np.interp(focus_d, fine_d[::-1], fine_nm[::-1])
    share = np.asarray(luminosity(nm)) * np.interp(nm, fine_nm, -np.gradient(fine_nm, fine_d))
    counts = share > 0.003 * share.max()
    nm, focus_d, share = nm[counts], focus_d[counts], share[counts] / share[counts].sum()
    return Light(tuple(nm / 1000.0), tuple(focus_d), tuple(share))
