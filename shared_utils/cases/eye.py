"""Lesson 02: points of an eye, its ametropia and its range of clear vision."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, cast

import numpy as np

from shared_utils.optics import accommodation, acuity, model_eyes, paraxial
from shared_utils.optics.vergence import at_vertex, far_point, propagate, refract, vergence

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy import ndarray

    from shared_utils.optics.model_eyes import ModelEye
    from shared_utils.optics.paraxial import CardinalPoints

VERTEX_MM = 12.0
MM_PER_D = 0.37
"""Length for a dioptre of refraction at the cornea: 1333 / 60², the reduced eye."""

START_MM = -20.0  # where drawn rays begin


@dataclass(frozen=True)
class SixPoints:
    """A model eye's points, mm from the cornea, and the image of an angle."""

    angle_deg: float
    surfaces: int
    points: paraxial.CardinalPoints
    image_mm: float

    @property
    def nodal_way_mm(self) -> float:
        """From the second nodal point to the image."""
        return self.points.back_focal_mm - self.points.nodal_mm[1]

    @property
    def rays_mm(self) -> list[tuple[list[float], list[float]]]:
        """Rays through N, F and P to the image: for each its x and y."""
        points = self.points
        slope = -np.tan(np.radians(self.angle_deg))
        first, second = points.principal_mm
        rays = []
        for n, crosses in enumerate((points.nodal_mm[0], points.front_focal_mm, first)):
            # the light arrives along its slope and leaves the second principal plane as high
            at_plane = slope * (first - crosses)
            start = START_MM if n == 0 else max(START_MM, points.front_focal_mm)
            x = [start, first, second, points.back_focal_mm]
            rays.append((x, [slope * (start - crosses), at_plane, at_plane, -self.image_mm]))
        return rays

    @property
    def places_mm(self) -> dict[str, float]:
        """Where each point lies, or the middle of a pair."""
        return {
            "F": self.points.front_focal_mm,
            "P": np.mean(self.points.principal_mm),
            "N": np.mean(self.points.nodal_mm),
            "F2": self.points.back_focal_mm,
        }


def compute_six_points(angle_deg: float, name: str) -> SixPoints:
    """Return the six points of a model eye and the image of a distant object in it.

    Parameters
    ----------
    angle_deg : float
        Angle that the object subtends, °.
    name : str
        A model eye.

    Returns
    -------
    SixPoints

    Examples
    --------
    Five degrees in the 60 D eye: tan 5° times 16.67 mm.

    >>> round(compute_six_points(5.0, "emsley_reduced").image_mm, 2)
    1.46
    """
    eye = model_eyes.get(name)
    points = paraxial.cardinal_points(eye)
    image_mm = acuity.retinal_size_um(60.0 * angle_deg, points.power_d) / 1000.0
    return SixPoints(angle_deg, len(eye.radius_mm), points, float(image_mm))


def compute_cardinal_points(names: Sequence[str]) -> list[CardinalPoints]:
    """Return the cardinal points of some model eyes.

    Parameters
    ----------
    names : sequence of str
        Model eyes.

    Returns
    -------
    list of CardinalPoints

    Examples
    --------
    >>> round(compute_cardinal_points(["emsley_reduced"])[0].power_d, 2)
    60.0
    """
    return [paraxial.cardinal_points(model_eyes.get(name)) for name in names]


# --- what makes an eye ametropic -------------------------------------------------------------

LE_GRAND = model_eyes.get("le_grand")
NORMAL_INDEX = LE_GRAND.index[3]
BACK_SHARE = LE_GRAND.radius_mm[1] / LE_GRAND.radius_mm[0]  # of the cornea's two radii
HALF_PUPIL_MM = 2.6


@dataclass(frozen=True)
class Ametropia:
    """An eye with its own cornea, lens and length."""

    axial_length_mm: float
    corneal_radius_mm: float
    lens_index: float
    power_d: float
    principal_mm: float
    focus_mm: float
    at_cornea_d: float
    spectacle_d: float

    @property
    def gap_mm(self) -> float:
        """From the focus back to the retina; negative where the focus lies behind it."""
        return self.axial_length_mm - self.focus_mm

    @property
    def far_point_cm(self) -> float:
        """The far point from the cornea; negative in front of it."""
        return float(100.0 * far_point(self.at_cornea_d, vertex_mm=0.0))

    @property
    def rays_mm(self) -> list[tuple[list[float], list[float]]]:
        """Rays of distant light across the pupil, to the retina: for each its x and y."""
        rays = []
        for height in np.linspace(-HALF_PUPIL_MM, HALF_PUPIL_MM, 5):
            slope = -height / (self.focus_mm - self.principal_mm)
            end = height + slope * (self.axial_length_mm - self.principal_mm)
            x = [-7.0, self.principal_mm, self.axial_length_mm]
            rays.append((x, [height, height, end]))
        return rays

    @property
    def blur_mm(self) -> tuple[float, float]:
        """Ends of the blur on the retina, heights above the axis."""
        end = self.rays_mm[-1][1][-1]
        return -end, end


def compute_ametropia(
    axial_length_mm: float, corneal_radius_mm: float, lens_index: float
) -> Ametropia:
    """Return the refraction of Le Grand's eye with another length, cornea or lens.

    Parameters
    ----------
    axial_length_mm : float
        Cornea to retina, mm.
    corneal_radius_mm : float
        Radius of the corneal front, mm; the back keeps its share.
    lens_index : float
        Refractive index of the lens.

    Returns
    -------
    Ametropia

    Examples
    --------
    >>> round(compute_ametropia(24.2, 7.8, 1.42).spectacle_d, 2)
    -0.01
    """
    eye = paraxial.System(
        (corneal_radius_mm, BACK_SHARE * corneal_radius_mm, *LE_GRAND.radius_mm[2:]),
        LE_GRAND.thickness_mm,
        (*LE_GRAND.index[:3], lens_index, LE_GRAND.index[4]),
    )
    points = paraxial.cardinal_points(eye)
    # any system will do where the length is given
    at_cornea_d = model_eyes.refraction(cast("ModelEye", eye), axial_length_mm, 0.0)
    return Ametropia(
        axial_length_mm,
        corneal_radius_mm,
        lens_index,
        points.power_d,
        points.principal_mm[1],
        points.back_focal_mm,
        float(at_cornea_d),
        float(at_vertex(at_cornea_d, 0.0, VERTEX_MM)),
    )


def compute_cornea_profile() -> tuple[ndarray, ndarray]:
    """Return the section of Le Grand's cornea: depths behind its apex and heights, mm.

    Returns
    -------
    depths_mm, heights_mm : numpy.ndarray

    Examples
    --------
    >>> depths_mm, _ = compute_cornea_profile()
    >>> round(float(depths_mm[0]), 2)
    0.88
    """
    heights_mm = np.linspace(-3.6, 3.6, 61)
    radius_mm = LE_GRAND.radius_mm[0]
    return radius_mm - np.sqrt(radius_mm**2 - heights_mm**2), heights_mm


# --- length and refraction -------------------------------------------------------------------

LENGTHS_MM = np.linspace(20.0, 32.0, 121)
LONG_MM = 30.0


@dataclass(frozen=True)
class LengthCurves:
    """Refraction of the Gullstrand–Emsley eye against its length, and the straight rule."""

    normal_mm: float
    at_cornea_d: np.ndarray
    spectacle_d: np.ndarray
    rule_d: np.ndarray
    per_mm_d: list
    long_d: list
    long_by_rule_d: float


def compute_length_curves() -> LengthCurves:
    """Return the refraction against ``LENGTHS_MM``, and what a millimetre is worth.

    Returns
    -------
    LengthCurves
        ``per_mm_d`` at 22 mm, at the length in focus and at 30 mm; ``long_d`` at 30 mm, at the
        cornea and in spectacles.

    Examples
    --------
    >>> [round(d, 1) for d in compute_length_curves().per_mm_d]
    [3.2, 2.7, 1.8]
    """
    eye = model_eyes.get("gullstrand_emsley")
    normal_mm = float(model_eyes.axial_length(eye, 0.0))
    return LengthCurves(
        normal_mm,
        np.asarray(model_eyes.refraction(eye, LENGTHS_MM, 0.0)),
        np.asarray(model_eyes.refraction(eye, LENGTHS_MM)),
        (normal_mm - LENGTHS_MM) / MM_PER_D,
        [
            abs(float(np.diff(model_eyes.refraction(eye, np.array([mm - 0.5, mm + 0.5]), 0.0))[0]))
            for mm in (22.0, normal_mm, LONG_MM)
        ],
        [model_eyes.refraction(eye, LONG_MM, vertex_mm) for vertex_mm in (0.0, VERTEX_MM)],
        (normal_mm - LONG_MM) / MM_PER_D,
    )


def compute_eye_with_cornea(radius_mm: float) -> ModelEye:
    """Return the Gullstrand–Emsley eye with another cornea, its lens unchanged.

    Parameters
    ----------
    radius_mm : float
        Radius of the cornea, mm; 7.8 as published.

    Returns
    -------
    ModelEye

    Examples
    --------
    A steeper cornea makes the same length short-sighted.

    >>> round(model_eyes.refraction(compute_eye_with_cornea(7.5), 24.0, vertex_mm=0.0), 1)
    -2.0
    """
    eye = model_eyes.get("gullstrand_emsley")
    return replace(eye, radius_mm=(radius_mm, *eye.radius_mm[1:]))


def compute_refraction_curve(radius_mm: float) -> tuple[ndarray, ndarray]:
    """Return the refraction at the cornea of an eye with a cornea against its length.

    Parameters
    ----------
    radius_mm : float
        Radius of the cornea, mm.

    Returns
    -------
    lengths_mm, refractions_d : numpy.ndarray

    Examples
    --------
    >>> lengths_mm, refractions_d = compute_refraction_curve(7.5)
    >>> float(lengths_mm[0]), round(float(refractions_d[0]), 1)
    (24.0, -2.0)
    """
    lengths_mm = np.linspace(24.0, 28.0, 161)
    eye = compute_eye_with_cornea(radius_mm)
    return lengths_mm, np.asarray(model_eyes.refraction(eye, lengths_mm, vertex_mm=0.0))


# --- age and the range of clear vision -------------------------------------------------------

AGES = np.arange(10.0, 81.0)
READING_D = 2.5  # 40 cm


def compute_amplitude_curve(population: str) -> ndarray:
    """Return the amplitude of accommodation at each of ``AGES``.

    Parameters
    ----------
    population : str
        ``"minimum"``, ``"average"`` or ``"maximum"``.

    Returns
    -------
    numpy.ndarray
        D.

    Examples
    --------
    >>> float(compute_amplitude_curve("average")[AGES == 45.0][0])
    5.0
    """
    return np.asarray(accommodation.amplitude_at_age(AGES, population))


@dataclass(frozen=True)
class ClearRange:
    """What an eye sees clearly: vergences of the objects as they reach the bare cornea, D."""

    age_years: float
    refraction_d: float
    worn: bool
    amplitude_d: float
    far_d: float
    near_d: float

    @property
    def reachable(self) -> bool:
        """Whether any real object is clear."""
        return self.near_d <= 0.0

    @property
    def reads(self) -> bool:
        """Whether a page at 40 cm is clear, to within the quarter dioptre that nobody notices."""
        return self.near_d - 0.25 <= -READING_D <= self.far_d + 0.25


def compute_clear_range(age_years: float, refraction_d: float, worn: bool) -> ClearRange:
    """Return the range of clear vision of an eye of an age, with or without glasses for far.

    Parameters
    ----------
    age_years : float
        Age, 5 to 100 years.
    refraction_d : float
        Refraction at the spectacle plane, D.
    worn : bool
        Whether the glasses for far are on.

    Returns
    -------
    ClearRange
        ``far_d`` above 0 says that far vision costs accommodation.

    Examples
    --------
    −2.50 D at 70, glasses off: clear at 1 / 2.43 m from the cornea and nowhere else.

    >>> data = compute_clear_range(70, -2.5, False)
    >>> round(data.far_d, 2), round(data.near_d, 2)
    (-2.43, -2.43)
    """
    amplitude_d = accommodation.amplitude_at_age(age_years)
    relaxed_d = at_vertex(refraction_d, VERTEX_MM, 0.0)
    strained_d = refract(relaxed_d, -amplitude_d)
    if worn:  # what must reach the glasses so that this reaches the cornea, told from the cornea
        way_m = VERTEX_MM / 1000.0
        near_d = propagate(refract(propagate(strained_d, -way_m), -refraction_d), way_m)
        return ClearRange(age_years, refraction_d, True, float(amplitude_d), 0.0, float(near_d))
    return ClearRange(
        age_years, refraction_d, False, float(amplitude_d), float(relaxed_d), float(strained_d)
    )


# --- worked examples -------------------------------------------------------------------------


def reduced_eye_steps(axial_length_mm: float) -> list[tuple[str, str, float, str]]:
    """Return the steps from the length of a reduced eye to its glasses, for a worked example.

    Parameters
    ----------
    axial_length_mm : float
        Surface to retina, mm.

    Returns
    -------
    list of (str, str, float, str)

    Examples
    --------
    >>> [round(step[2], 2) for step in reduced_eye_steps(24.0)]
    [55.56, -4.44, -4.69, -22.5]
    """
    eye = model_eyes.get("emsley_reduced")
    at_retina_d = vergence(axial_length_mm / 1000.0, index=4 / 3)
    at_cornea_d = model_eyes.refraction(eye, axial_length_mm, 0.0)
    spectacle_d = at_vertex(at_cornea_d, 0.0, VERTEX_MM)
    return [
        (
            "what the length needs to have its focus on the retina",
            f"(4/3) / {axial_length_mm / 1000:.4f} m",
            float(at_retina_d),
            "D",
        ),
        (
            "what the eye lacks (+) or has too much (−): refraction at the cornea",
            "that − 60.00 D",
            float(at_cornea_d),
            "D",
        ),
        ("the same in spectacles, 12 mm in front", "K / (1 + 0.012 K)", float(spectacle_d), "D"),
        (
            "far point, from the cornea (− in front, + behind)",
            "100 / K",
            float(100.0 * far_point(at_cornea_d, vertex_mm=0.0)),
            "cm",
        ),
    ]


def two_eyes_steps(
    right_d: float, left_d: float, right_mm: float, left_mm: float
) -> list[tuple[str, str, float, str]]:
    """Return the steps that ask whether length explains how two eyes differ.

    Parameters
    ----------
    right_d, left_d : float
        Refractions in spectacles, D.
    right_mm, left_mm : float
        Lengths measured, mm.

    Returns
    -------
    list of (str, str, float, str)

    Examples
    --------
    >>> [round(step[2], 2) for step in two_eyes_steps(-5.50, -2.50, 25.10, 25.13)]
    [-5.16, -2.43, -2.73, 1.01, -0.03]
    """
    right_cornea_d = at_vertex(right_d, VERTEX_MM, 0.0)
    left_cornea_d = at_vertex(left_d, VERTEX_MM, 0.0)
    apart_d = right_cornea_d - left_cornea_d
    to_cornea = "F / (1 − 0.012 F)"
    return [
        ("right eye, at the cornea", to_cornea, float(right_cornea_d), "D"),
        ("left eye, at the cornea", to_cornea, float(left_cornea_d), "D"),
        ("how they differ", "right − left", float(apart_d), "D"),
        ("length that would explain it", "−0.37 mm a dioptre", float(-MM_PER_D * apart_d), "mm"),
        ("length that was measured", "right − left", right_mm - left_mm, "mm"),
    ]
