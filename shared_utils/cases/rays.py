"""Rays through a schematic eye whose lens has one focus or several."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from shared_utils.cases.light import some_lenses
from shared_utils.optics.domain import require_one
from shared_utils.optics.lenses import (
    PUPIL_HINT,
    PUPIL_RANGE_MM,
    Lens,
    corneal_add_d,
    diffractive_bifocal,
)
from shared_utils.optics.retina import DISTANCE_RANGE_M
from shared_utils.optics.vergence import propagate

# a schematic eye: two thin powers, focused for far on its retina
CORNEA_D, LENS_MM, RETINA_MM, INDEX = 43.0, 5.0, 23.5, 1.336
HEIGHTS_OF_PUPIL = np.array([-1.0, -0.65, -0.3, 0.0, 0.3, 0.65, 1.0])  # of its radius
START_MM = -8.5


@dataclass(frozen=True)
class Focus:
    """Where light of one focus of a lens meets, mm behind the cornea."""

    name: str
    power_d: float
    place_mm: float

    @property
    def behind_mm(self) -> float:
        """Behind the retina, mm; negative in front of it."""
        return self.place_mm - RETINA_MM


def foci(lens: Lens, distance_m: float = np.inf) -> tuple[Focus, ...]:
    """Return where an object comes to a focus through each part of a lens.

    Parameters
    ----------
    lens : Lens
        From `lenses`.
    distance_m : float
        Distance of the object, 0.125 m to infinity.

    Returns
    -------
    tuple of Focus
        Nearest to the cornea last.

    Sources
    -------
    Vergence through two thin powers (Keating).

    Examples
    --------
    An add of 2.5 D at the cornea focuses far light most of a millimetre in front of the retina.

    >>> [round(focus.behind_mm, 2) for focus in foci(diffractive_bifocal(2.5))]
    [0.0, -0.87]
    """
    (lens,) = some_lenses([lens])
    distance_m = require_one(
        "distance_m", distance_m, *DISTANCE_RANGE_M, hint="In metres; far is inf.", infinite=True
    )
    way_m = LENS_MM / 1000.0
    needed_d = 1000.0 * INDEX / (RETINA_MM - LENS_MM)
    lens_d = needed_d - propagate(CORNEA_D, way_m, INDEX)
    at_lens_d = propagate(CORNEA_D - 1.0 / distance_m, way_m, INDEX)
    per_corneal_d = 1.0 / corneal_add_d(1.0, LENS_MM, CORNEA_D)
    found = []
    for name, order in lens.foci.items():
        power_d = lens.order_power_d(order)
        behind_d = at_lens_d + lens_d + power_d * per_corneal_d
        found.append(Focus(name, float(power_d), float(LENS_MM + 1000.0 * INDEX / behind_d)))
    return tuple(found)


@dataclass(frozen=True)
class Rays:
    """Rays to one focus: heights at some places along the axis."""

    focus: Focus
    place_mm: np.ndarray
    height_mm: np.ndarray  # a row for each place, a column for each ray

    def heights_at(self, z_mm: float) -> np.ndarray:
        """Heights of the rays at places behind the cornea, mm: a row for each ray."""
        return np.array([np.interp(z_mm, self.place_mm, ray) for ray in self.height_mm.T])


@dataclass(frozen=True)
class RayDiagram:
    """Rays through an eye from an object, the focus for far first."""

    lens: Lens
    pupil_mm: float
    distance_m: float
    rays: tuple

    @property
    def foci(self) -> tuple[Focus, ...]:
        """Where the rays meet."""
        return tuple(rays.focus for rays in self.rays)

    @property
    def sharpest(self) -> Focus:
        """The focus nearest to the retina."""
        return min(self.foci, key=lambda focus: abs(focus.behind_mm))

    @property
    def gap_mm(self) -> float:
        """From the last focus to the first, mm."""
        return self.foci[0].place_mm - self.foci[-1].place_mm

    @property
    def around_foci_mm(self) -> tuple[float, float]:
        """Beginning and end of the stretch around retina and foci, mm behind the cornea."""
        places = [RETINA_MM, *(focus.place_mm for focus in self.foci)]
        room = max(0.35, 0.45 * np.ptp(places))
        return min(places) - room, max(places) + room

    @property
    def half_height_mm(self) -> float:
        """Half the height of a picture that holds the rays around the foci, mm."""
        return 1.25 * max(
            np.abs(rays.heights_at(z)).max() for rays in self.rays for z in self.around_foci_mm
        )


def rays_through_eye(
    lens: Lens | None = None, pupil_mm: float = 4.0, distance_m: float = np.inf
) -> RayDiagram:
    """Return rays from an object through an eye, to each focus of its lens.

    Parameters
    ----------
    lens : Lens, optional
        A bifocal unless given.
    pupil_mm : float
        Pupil diameter, 0.5 to 9 mm.
    distance_m : float
        Distance of the object, 0.125 m to infinity; the eye is focused for far.

    Returns
    -------
    RayDiagram

    Examples
    --------
    All rays of a focus meet there.

    >>> rays = rays_through_eye().rays[1]
    >>> bool(np.allclose(rays.heights_at(rays.focus.place_mm), 0.0))
    True
    """
    lens = diffractive_bifocal() if lens is None else lens
    found = foci(lens, distance_m)
    pupil_mm = require_one("pupil_mm", pupil_mm, *PUPIL_RANGE_MM, hint=PUPIL_HINT)
    distance_m = float(distance_m)
    rays = tuple(Rays(focus, *_ray_heights(focus, pupil_mm, distance_m)) for focus in found)
    return RayDiagram(lens, pupil_mm, distance_m, rays)


def _ray_heights(focus, pupil_mm, distance_m):
    """Places (mm) and, for each ray, heights (mm) from the object's side to behind the focus."""
    at_cornea = HEIGHTS_OF_PUPIL * pupil_mm / 2.0
    before = 0.0 if np.isinf(distance_m) else 1.0 / (1000.0 * distance_m)
    at_start = at_cornea * (1.0 + before * START_MM)
    inside_d = CORNEA_D - 1.0 / distance_m
    at_lens = at_cornea * (1.0 - LENS_MM / 1000.0 * inside_d / INDEX)
    beyond = RETINA_MM + 6.0
    at_beyond = at_lens * (focus.place_mm - beyond) / (focus.place_mm - LENS_MM)
    return np.array([START_MM, 0.0, LENS_MM, beyond]), np.array(
        [at_start, at_cornea, at_lens, at_beyond]
    )
