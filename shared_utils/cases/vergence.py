"""Lesson 01: light from a point through surfaces and along a path."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from shared_utils.optics.vergence import (
    focus_distance,
    propagate,
    refract,
    two_lenses,
    vergence,
)

if TYPE_CHECKING:
    from collections.abc import Sequence
    from typing import Any

    from numpy.typing import ArrayLike

# what is computed of a beam: how far to either side of the surface, how high, at which heights
REACH_CM = 104.0
APERTURE_CM = 1.0
HEIGHTS_CM = np.linspace(-APERTURE_CM, APERTURE_CM, 5)
WAVES_CM = np.array([6.0, 12.0, 18.0, 24.0])
NO_CURVE = np.array([]), np.array([])


@dataclass(frozen=True)
class PointImage:
    """One object point, one surface, one image point."""

    object_distance_cm: float
    surface_power_d: float
    index_behind: float
    object_vergence_d: float
    image_vergence_d: float
    image_distance_cm: float

    @property
    def rays_cm(self) -> list[tuple[list[float], list[float]]]:
        """Rays from the object through the surface: for each its x and y."""
        return [
            (
                [-self.object_distance_cm, 0.0, REACH_CM],
                [0.0, height, height + self._slope(height) * REACH_CM],
            )
            for height in HEIGHTS_CM
        ]

    @property
    def extended_back_cm(self) -> Sequence[tuple[ArrayLike, ArrayLike]]:
        """The same rays carried back to a virtual image; without one, nothing."""
        if self.image_distance_cm >= 0:
            return [NO_CURVE for _ in HEIGHTS_CM]
        start = max(self.image_distance_cm, -REACH_CM)
        return [
            ([start, 0.0], [height + self._slope(height) * start, height]) for height in HEIGHTS_CM
        ]

    @property
    def arriving_waves_cm(self) -> Any:
        """Wavefronts before the surface."""
        return compute_wavefronts(-self.object_distance_cm, -1)

    @property
    def leaving_waves_cm(self) -> Any:
        """Wavefronts behind the surface."""
        return compute_wavefronts(self.image_distance_cm, 1)

    def _slope(self, height_cm):
        return 0.0 if np.isinf(self.image_distance_cm) else -height_cm / self.image_distance_cm


def compute_point_image(
    object_distance_cm: float, surface_power_d: float, index_behind: float
) -> PointImage:
    """Return the vergences and the image of a point in front of one surface.

    Parameters
    ----------
    object_distance_cm : float
        How far the point lies in front of the surface, cm; positive here, as a ruler shows it.
    surface_power_d : float
        Power of the surface, D.
    index_behind : float
        Refractive index of the medium behind it.

    Returns
    -------
    PointImage

    Examples
    --------
    >>> compute_point_image(40.0, 5.0, 1.0).image_distance_cm
    40.0
    """
    arriving_d = vergence(-object_distance_cm / 100.0)
    leaving_d = refract(arriving_d, surface_power_d)
    return PointImage(
        object_distance_cm,
        surface_power_d,
        index_behind,
        float(arriving_d),
        float(leaving_d),
        float(100.0 * focus_distance(leaving_d, index_behind)),
    )


def compute_wavefronts(centre_cm: float, side: int) -> tuple[list[float], list[float]]:
    """Return wavefronts at a few places: arcs about the point that light comes from or goes to.

    Parameters
    ----------
    centre_cm : float
        Where that point lies from the surface, cm, in the direction of light; inf for parallel
        light.
    side : int
        −1 for waves before the surface, 1 for waves behind it.

    Returns
    -------
    x_cm, y_cm : list of float
        A nan between one front and the next. The sag is enlarged 120 times.

    Examples
    --------
    Parallel light has flat fronts.

    >>> x_cm, _ = compute_wavefronts(np.inf, 1)
    >>> {float(x) for x in x_cm if np.isfinite(x)} == set(WAVES_CM.tolist())
    True
    """
    x, y = [], []
    heights = np.linspace(-APERTURE_CM, APERTURE_CM, 21)
    for place in side * WAVES_CM:
        # the height at which the outermost ray passes here
        share = 1.0 if np.isinf(centre_cm) else abs(1.0 - place / centre_cm)
        beyond = np.isfinite(centre_cm) and side * centre_cm > 0 and side * (place - centre_cm) > 0
        if share < 0.05 or beyond:
            continue
        rise = share * heights
        # radii of metres would look flat on this stretched scale: the sag is drawn 120 times larger
        sag = 0.0 if np.isinf(centre_cm) else 120.0 * rise**2 / (2.0 * (centre_cm - place))
        x += [*(place + np.clip(sag, -6.0, 6.0) * np.ones_like(rise)), np.nan]
        y += [*rise, np.nan]
    return x, y


def two_lens_steps(
    object_cm: float, first_d: float, way_cm: float, second_d: float
) -> list[tuple[str, str, float, str]]:
    """Return the steps of light through two lenses in air, ready for a worked example.

    Parameters
    ----------
    object_cm : float
        Distance of the object in front of the first lens, cm, positive.
    first_d, second_d : float
        Powers of the lenses, D.
    way_cm : float
        Distance from lens to lens, cm.

    Returns
    -------
    list of (str, str, float, str)

    Examples
    --------
    >>> two_lens_steps(50, 5.0, 10, 8.0)[0]
    ('light arrives at the first lens', '1 / (−0.50)', -2.0, 'D')
    """
    pair = two_lenses(first_d, second_d, way_cm / 100, vergence(-object_cm / 100))
    way = f"V / (1 − {way_cm / 100:.2f} · V)"
    return [
        (
            "light arrives at the first lens",
            f"1 / (−{object_cm / 100:.2f})",
            float(pair.at_first_d),
            "D",
        ),
        ("the first lens adds its power", f"U + {first_d:.2f} D", float(pair.after_first_d), "D"),
        ("the light travels to the second lens", way, float(pair.at_second_d), "D"),
        ("the second lens adds its power", f"+ {second_d:.2f} D", float(pair.after_second_d), "D"),
        ("the image, from the second lens", "100 / V", float(100 * pair.image_distance_m), "cm"),
    ]


WAY_MM = np.linspace(0.0, 60.0, 241)


@dataclass(frozen=True)
class VergenceAtPlane:
    """Vergence behind a lens: at a plane, and at every place of ``WAY_MM``."""

    lens_d: float
    way_mm: float
    arriving_d: float
    along_d: np.ndarray

    @property
    def change_d(self) -> float:
        """What the light has gained from the lens to the plane, D."""
        return self.arriving_d - self.lens_d


def compute_vergence_at_plane(lens_d: float, way_mm: float) -> VergenceAtPlane:
    """Return the vergence along the path from a lens to a plane behind it.

    Parameters
    ----------
    lens_d : float
        Power of the lens, D; the light comes from far away.
    way_mm : float
        Distance from the lens to the plane, mm.

    Returns
    -------
    VergenceAtPlane

    Examples
    --------
    >>> round(compute_vergence_at_plane(-10.0, 12.0).arriving_d, 2)
    -8.93
    """
    along_d = np.full_like(WAY_MM, np.nan)  # past a focus, or too strong to draw
    before_focus = 1.0 - WAY_MM / 1000.0 * lens_d > 0.05
    along_d[before_focus] = propagate(lens_d, WAY_MM[before_focus] / 1000.0)
    return VergenceAtPlane(lens_d, way_mm, float(propagate(lens_d, way_mm / 1000.0)), along_d)


BEAM_POINTS_M = {"diverging": -0.50, "parallel": np.inf, "converging": 0.50}


def compute_beam_vergences() -> dict[str, float]:
    """Return the vergence at one place of each beam of ``BEAM_POINTS_M``.

    Returns
    -------
    dict of str to float
        D.

    Examples
    --------
    >>> compute_beam_vergences()
    {'diverging': -2.0, 'parallel': 0.0, 'converging': 2.0}
    """
    return {kind: float(vergence(distance_m)) for kind, distance_m in BEAM_POINTS_M.items()}


@dataclass(frozen=True)
class VergenceCurve:
    """Vergence against the distance behind a lens, as a curve and at whole centimetres."""

    distances_cm: np.ndarray
    along_d: np.ndarray
    whole_cm: range
    at_whole_d: list


def compute_vergence_curve(start_d: float, end_cm: float) -> VergenceCurve:
    """Return the vergence of light in air from a lens to some distance behind it.

    Parameters
    ----------
    start_d : float
        Vergence at the lens, D.
    end_cm : float
        How far behind the lens the curve goes, cm; short of the focus.

    Returns
    -------
    VergenceCurve

    Examples
    --------
    >>> [round(d, 2) for d in compute_vergence_curve(2.5, 2).at_whole_d]
    [2.5, 2.56, 2.63]
    """
    distances_cm = np.linspace(0.0, end_cm, 101)
    whole_cm = range(int(end_cm) + 1)
    return VergenceCurve(
        distances_cm,
        np.asarray(propagate(start_d, distances_cm / 100)),
        whole_cm,
        [propagate(start_d, cm / 100) for cm in whole_cm],
    )


@dataclass(frozen=True)
class TwoLensRays:
    """Rays of parallel light through two lenses; x from the first lens, cm, heights in parts."""

    without_second_cm: float
    image_cm: float
    rays: list
    rays_without_second: list


def compute_two_lens_rays(
    way_cm: float, beyond_cm: float, image_cm: float, start_cm: float = -11
) -> TwoLensRays:
    """Return the rays of light from far away through two lenses whose foci are known.

    Parameters
    ----------
    way_cm : float
        From the first lens to the second, cm.
    beyond_cm : float
        From the second lens to where the light would meet without it, cm.
    image_cm : float
        From the second lens to where the light meets, cm.
    start_cm : float
        Where the rays begin, from the first lens, cm.

    Returns
    -------
    TwoLensRays

    Examples
    --------
    >>> rays = compute_two_lens_rays(15, 30, 10)
    >>> rays.without_second_cm, rays.image_cm
    (45, 25)
    """
    without_cm, with_cm = way_cm + beyond_cm, way_cm + image_cm
    rays, rays_without = [], []
    for height in np.linspace(-1.0, 1.0, 5):
        left = height * beyond_cm / without_cm  # what the first lens leaves of the height
        rays.append(([start_cm, 0, way_cm, with_cm], [height, height, left, 0]))
        rays_without.append(([way_cm, without_cm], [left, 0]))
    return TwoLensRays(without_cm, with_cm, rays, rays_without)
