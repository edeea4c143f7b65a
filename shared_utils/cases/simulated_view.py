"""What the retina gets to see through a lens: lamps at night and letters at some distances."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from shared_utils.cases.light import ASPHERIC_BODY_UM, some_lenses
from shared_utils.optics import letters, retina, through_focus
from shared_utils.optics.domain import require, require_one
from shared_utils.optics.lenses import PUPIL_HINT, PUPIL_RANGE_MM
from shared_utils.optics.through_focus import ACUITY_UNCERTAINTY_LOGMAR

if TYPE_CHECKING:
    from collections.abc import Sequence

    from shared_utils.optics.lenses import Lens
    from shared_utils.optics.types import FloatOrArray

CHART_LOGMAR = (0.5, 0.3, 0.1, 0.0)
_PIXEL_ARCMIN = 0.25
_CHART_ARCMIN = (76, 98)
_SCENE_PIXELS = 201


@dataclass(frozen=True)
class NightHalos:
    """A distant white lamp at night through some lenses."""

    lenses: tuple
    pupil_mm: float
    width_arcmin: float
    away_arcmin: np.ndarray
    profiles: list  # light per arcmin² along away_arcmin
    adds_d: dict  # place of each lens that splits light → add

    @property
    def widest(self) -> int | None:
        """Place of the lens with the widest halo; None if no lens splits light."""
        return max(self.adds_d, key=self.adds_d.__getitem__, default=None)

    def halo_arcmin(self, place: int) -> FloatOrArray:
        """Diameter of the halo of a lens by geometry."""
        return retina.geometric_halo_arcmin(self.pupil_mm, self.adds_d[place])

    def light_at(self, place: int, angle_arcmin: float) -> float:
        """Light per arcmin² of a lens at an angle from the lamp."""
        return np.interp(angle_arcmin, self.away_arcmin, self.profiles[place])

    def picture(self, place: int) -> np.ndarray:
        """Light per arcmin² around the lamp through a lens, rows and columns."""
        return retina.night_scene(
            self.lenses[place],
            self.pupil_mm,
            width_arcmin=self.width_arcmin,
            pixels=_SCENE_PIXELS,
        )


def night_halos(lenses: Lens | Sequence[Lens] | None = None, pupil_mm: float = 5.0) -> NightHalos:
    """Return a lamp at night through some lenses.

    Parameters
    ----------
    lenses : Lens or sequence of up to five, optional
        One of each class unless given, each with an aspheric body that takes away most of the
        average cornea's spherical aberration, which makes a halo of its own in a wide pupil.
    pupil_mm : float
        Pupil diameter, 2 to 9 mm.

    Returns
    -------
    NightHalos

    Examples
    --------
    5 mm times 2.5 D is 12.5 mrad.

    >>> from shared_utils.optics.lenses import diffractive_bifocal
    >>> round(night_halos(diffractive_bifocal(2.5), 5.0).halo_arcmin(0))
    43
    """
    lenses = some_lenses(lenses, ASPHERIC_BODY_UM)
    pupil_mm = require_one("pupil_mm", pupil_mm, 2.0, PUPIL_RANGE_MM[1], hint=PUPIL_HINT)
    adds_d = {
        place: add_d for place, lens in enumerate(lenses) if (add_d := retina.outermost_add_d(lens))
    }
    radii = [retina.geometric_halo_arcmin(pupil_mm, add_d) / 2.0 for add_d in adds_d.values()]
    radius = max(radii, default=20.0)
    width = float(np.clip(np.ceil(4.0 * radius / 10.0) * 10.0, 20.0, 240.0))
    away = np.linspace(0.0, width / 2.0, 241)
    profiles = [retina.halo_profile(lens, pupil_mm, away) for lens in lenses]
    return NightHalos(lenses, pupil_mm, width, away, profiles, adds_d)


@dataclass(frozen=True)
class ChartImages:
    """A letter chart through some lenses at some distances, and the acuity predicted there."""

    lenses: tuple
    pupil_mm: float
    distances_m: tuple
    logmar: np.ndarray  # a row for each lens, a column for each distance

    @cached_property
    def _chart(self):
        shape = tuple(int(side / _PIXEL_ARCMIN) for side in _CHART_ARCMIN)
        return letters.chart(CHART_LOGMAR, _PIXEL_ARCMIN / 60.0, shape, letters_per_row=3)

    def image(self, row: int, column: int) -> np.ndarray:
        """The chart on the retina through a lens at a distance: 1 is paper, 0 is ink."""
        pixel_deg = _PIXEL_ARCMIN / 60.0
        lens, distance_m = self.lenses[row], self.distances_m[column]
        return retina.image(self._chart, pixel_deg, lens, self.pupil_mm, distance_m)

    def clearest(self, column: int) -> list[Lens]:
        """The lenses that see best at a distance, with those that the model cannot tell apart."""
        logmar = self.logmar[:, column]
        if logmar.min() >= 1.0:
            return []
        best = logmar.min() + ACUITY_UNCERTAINTY_LOGMAR / 2.0
        return [lens for lens, at in zip(self.lenses, logmar, strict=True) if at <= best]


def chart_images(
    lenses: Lens | Sequence[Lens] | None = None,
    pupil_mm: float = 3.0,
    distances_m: Sequence[float] = (6.0, 0.67, 0.40),
) -> ChartImages:
    """Return a letter chart as the retina gets it, through some lenses at some distances.

    The letters have the same visual angle at every distance.

    Parameters
    ----------
    lenses : Lens or sequence of up to five, optional
        One of each class unless given.
    pupil_mm : float
        Pupil diameter, 0.5 to 9 mm.
    distances_m : sequence of one to three floats
        0.125 m to infinity.

    Returns
    -------
    ChartImages

    Examples
    --------
    >>> from shared_utils.optics.lenses import monofocal
    >>> images = chart_images(monofocal(), 3.0, [6.0, 0.4])
    >>> bool(images.logmar[0, 0] < images.logmar[0, 1]), images.image(0, 1).shape
    (True, (304, 392))
    """
    lenses = some_lenses(lenses)
    pupil_mm = require_one("pupil_mm", pupil_mm, *PUPIL_RANGE_MM, hint=PUPIL_HINT)
    distances = np.atleast_1d(
        require(
            "distances_m",
            distances_m,
            *retina.DISTANCE_RANGE_M,
            hint="In metres; far is inf.",
            infinite=True,
        )
    )
    if distances.ndim != 1 or not 1 <= len(distances) <= 3:
        raise ValueError(f"distances_m holds {distances.size} numbers; give one to three, in m.")
    logmar = np.array(
        [through_focus.acuity_logmar(lens, pupil_mm, -1.0 / distances) for lens in lenses]
    )
    return ChartImages(lenses, pupil_mm, tuple(distances.tolist()), logmar)
