"""Lesson 03: size behind a lens, prism beside its centre, range of an add."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from shared_utils.optics import spectacles
from shared_utils.optics.vergence import at_vertex, focus_distance, vergence

MEASURED_AT_MM = 12.0
FUSED_PERCENT = 5.0  # few people fuse a larger difference: common practice, no source
FUSED_PRISM = 2.0  # of vertical prism, likewise
PAGE_M = 0.40


@dataclass(frozen=True)
class CorrectedEye:
    """An eye and the lens that corrects it, at some distance from the cornea."""

    refraction_d: float
    vertex_mm: float
    lens_d: float
    size: float

    @property
    def change_percent(self) -> float:
        """How much larger the image is than without a lens; negative where it is smaller."""
        return 100.0 * (self.size - 1.0)

    @property
    def fellow_percent(self) -> float:
        """How much larger an operated fellow eye, without a lens, sees."""
        return float(spectacles.aniseikonia_percent(1.0, self.size))

    @property
    def fused(self) -> bool:
        """Whether most people fuse what the two eyes then see."""
        return abs(self.fellow_percent) <= FUSED_PERCENT

    @property
    def to_pupil_mm(self) -> float:
        """From the lens to the entrance pupil."""
        return self.vertex_mm + spectacles.PUPIL_DEPTH_MM


def compute_corrected_eye(refraction_d: float, vertex_mm: float) -> CorrectedEye:
    """Return the lens that corrects an eye from a place, and the size of the image behind it.

    Parameters
    ----------
    refraction_d : float
        Refraction in spectacles 12 mm in front of the cornea, D.
    vertex_mm : float
        Where the lens stands, mm in front of the cornea; 0 for a contact lens.

    Returns
    -------
    CorrectedEye

    Examples
    --------
    −8.00 D in glasses: 1 / 1.12 of the size.

    >>> round(compute_corrected_eye(-8.0, 12).size, 3)
    0.893
    """
    lens_d = at_vertex(refraction_d, MEASURED_AT_MM, vertex_mm)
    size = spectacles.magnification(lens_d, vertex_mm=vertex_mm).total
    return CorrectedEye(refraction_d, vertex_mm, float(lens_d), float(size))


POWERS_D = np.linspace(-12.0, 12.0, 97)


@dataclass(frozen=True)
class SizeCurves:
    """Change of image size for each of ``POWERS_D``, and at +10 D, %."""

    glasses_percent: np.ndarray
    contact_lens_percent: np.ndarray
    at_10_d_percent: float


def compute_size_curves() -> SizeCurves:
    """Return how much larger the image is in glasses and in a contact lens, by refraction.

    Returns
    -------
    SizeCurves

    Examples
    --------
    >>> round(float(compute_size_curves().at_10_d_percent), 1)
    17.6
    """
    glasses = spectacles.magnification(POWERS_D).percent
    at_cornea_d = at_vertex(POWERS_D, MEASURED_AT_MM, 0.0)
    contact = spectacles.magnification(at_cornea_d, vertex_mm=0.0).percent
    return SizeCurves(
        np.asarray(glasses),
        np.asarray(contact),
        np.asarray(glasses)[int(np.argmin(np.abs(POWERS_D - 10.0)))],
    )


@dataclass(frozen=True)
class MinusLensSizes:
    """Change of image size behind minus lenses, as a curve and at even powers."""

    powers_d: np.ndarray
    percent: np.ndarray
    even_d: range
    even_percent: list


def compute_minus_lens_sizes(vertex_mm: float) -> MinusLensSizes:
    """Return the change of image size behind minus lenses at one distance.

    Parameters
    ----------
    vertex_mm : float
        How far the lenses stand in front of the cornea, mm.

    Returns
    -------
    MinusLensSizes

    Examples
    --------
    >>> round(compute_minus_lens_sizes(12.0).even_percent[0], 1)
    -15.3
    """
    powers_d, even_d = np.linspace(-12.0, 0.0, 121), range(-12, -1, 2)
    return MinusLensSizes(
        powers_d,
        np.asarray(spectacles.magnification(powers_d, vertex_mm=vertex_mm).percent),
        even_d,
        [spectacles.magnification(d, vertex_mm=vertex_mm).percent for d in even_d],
    )


# --- prism beside the centre -----------------------------------------------------------------


@dataclass(frozen=True)
class GazeBelowCentres:
    """Two lenses and a gaze below their centres; prism in Δ, positive for base up."""

    right_d: float
    left_d: float
    gaze_down_mm: float
    right_prism: float
    left_prism: float
    imbalance: float

    @property
    def fused(self) -> bool:
        """Whether most people fuse the imbalance."""
        return abs(self.imbalance) <= FUSED_PRISM

    @property
    def apart_cm(self) -> float:
        """How far apart the two eyes see a line of a page at 40 cm; positive: left one higher."""
        return PAGE_M * self.imbalance

    @property
    def right_line_cm(self) -> float:
        """Where the right eye sees that line, positive up: away from the base of the prism."""
        return -PAGE_M * self.right_prism

    @property
    def left_line_cm(self) -> float:
        """Where the left eye sees it."""
        return -PAGE_M * self.left_prism


def compute_gaze_below_centres(
    right_d: float, left_d: float, gaze_down_mm: float
) -> GazeBelowCentres:
    """Return the prism that each eye meets when it looks down through its lens.

    Parameters
    ----------
    right_d, left_d : float
        Vertical powers of the lenses, D.
    gaze_down_mm : float
        How far below the optical centres, mm.

    Returns
    -------
    GazeBelowCentres

    Examples
    --------
    No lens and −8 D, 8 mm down: 6.4 Δ, 2.6 cm on a page at 40 cm.

    >>> round(compute_gaze_below_centres(0, -8.0, 8).apart_cm, 2)
    2.56
    """
    return GazeBelowCentres(
        right_d,
        left_d,
        gaze_down_mm,
        float(spectacles.prism(gaze_down_mm, right_d)),
        float(spectacles.prism(gaze_down_mm, left_d)),
        float(spectacles.vertical_imbalance(right_d, left_d, gaze_down_mm)),
    )


# --- a reading add ---------------------------------------------------------------------------

TASKS = (("page", 40.0), ("screen", 65.0), ("shelf", 100.0))


@dataclass(frozen=True)
class AddRange:
    """What an eye corrected for far sees clearly through an add; distances from the glasses."""

    add_d: float
    amplitude_d: float
    blur_d: float
    nearest_cm: float
    farthest_cm: float

    @property
    def length_cm(self) -> float:
        """How long the clear range is, inf if it reaches far."""
        return self.farthest_cm - self.nearest_cm

    @property
    def best_cm(self) -> float:
        """Where the add alone is sharp, inf without an add."""
        return float(100.0 * focus_distance(self.add_d) if self.add_d > 0 else np.inf)

    @property
    def clear_tasks(self) -> list[str]:
        """Names of the ``TASKS`` that lie in the range."""
        return [name for name, cm in TASKS if self.nearest_cm <= cm <= self.farthest_cm]


def compute_add_range(add_d: float, amplitude_d: float, blur_d: float) -> AddRange:
    """Return the range that is clear through an add.

    Parameters
    ----------
    add_d : float
        Power of the add, D.
    amplitude_d : float
        Amplitude of accommodation, D; all of it may be spent.
    blur_d : float
        Defocus that goes unnoticed, D to either side; above 0.

    Returns
    -------
    AddRange

    Examples
    --------
    +2.50 D and nothing else, a quarter dioptre unnoticed: 1 / 2.75 to 1 / 2.25 m.

    >>> data = compute_add_range(2.5, 0.0, 0.25)
    >>> round(data.nearest_cm, 1), round(data.farthest_cm, 1)
    (36.4, 44.4)
    """
    nearest_cm = 100.0 * focus_distance(add_d + amplitude_d + blur_d)
    left_d = add_d - blur_d
    farthest_cm = 100.0 * focus_distance(left_d) if left_d > 0.0 else np.inf
    return AddRange(add_d, amplitude_d, blur_d, float(nearest_cm), float(farthest_cm))


# --- worked examples -------------------------------------------------------------------------


def two_glasses_steps(
    right_d: float, left_d: float, gaze_down_mm: float
) -> list[tuple[str, str, float, str]]:
    """Return the steps to size difference and prism of two thin glasses, for a worked example.

    Parameters
    ----------
    right_d, left_d : float
        Lenses 12 mm in front of the cornea, D.
    gaze_down_mm : float
        Gaze below the optical centres, mm.

    Returns
    -------
    list of (str, str, float, str)

    Examples
    --------
    >>> [round(step[2], 2) for step in two_glasses_steps(0.0, -8.0, 8.0)]
    [1.0, 0.89, 12.0, 0.0, -6.4, 6.4]
    """
    sizes = [spectacles.magnification(power_d).total for power_d in (right_d, left_d)]
    data = compute_gaze_below_centres(right_d, left_d, gaze_down_mm)
    to_pupil = "1 / (1 − 0.015 F)"
    centimetres = f"{gaze_down_mm / 10:.1f} cm · F"
    return [
        ("right image, against no lens", to_pupil, float(sizes[0]), "times"),
        ("left image, against no lens", to_pupil, float(sizes[1]), "times"),
        (
            "right image larger than the left by",
            "right / left − 1",
            float(spectacles.aniseikonia_percent(*sizes)),
            "%",
        ),
        ("prism of the right lens, base up positive", centimetres, data.right_prism, "Δ"),
        ("prism of the left lens", centimetres, data.left_prism, "Δ"),
        ("imbalance", "right − left", data.imbalance, "Δ"),
    ]


def contact_lens_steps(spectacle_d: float) -> list[tuple[str, str, float, str]]:
    """Return the steps from a spectacle lens to a contact lens and the size that it leaves.

    Parameters
    ----------
    spectacle_d : float
        Lens 12 mm in front of the cornea, D; the fellow eye needs none.

    Returns
    -------
    list of (str, str, float, str)

    Examples
    --------
    >>> [round(step[2], 2) for step in contact_lens_steps(-8.0)]
    [-7.3, -7.25, 0.98, 2.19]
    """
    data = compute_corrected_eye(spectacle_d, 0.0)
    return [
        ("from the spectacles to the cornea", "F / (1 − 0.012 F)", data.lens_d, "D"),
        ("rounded to a lens that is made", "nearest 0.25 D", round(4 * data.lens_d) / 4, "D"),
        ("its image, against no lens", "1 / (1 − 0.003 F)", data.size, "times"),
        ("fellow eye's image larger by", "1 / that − 1", data.fellow_percent, "%"),
    ]


def add_steps(page_cm: float, amplitude_d: float) -> list[tuple[str, str, float, str]]:
    """Return the steps to a reading add and its range, for a worked example.

    Parameters
    ----------
    page_cm : float
        Distance of the page, cm, positive.
    amplitude_d : float
        Amplitude of accommodation, D.

    Returns
    -------
    list of (str, str, float, str)

    Examples
    --------
    >>> [round(step[2], 2) for step in add_steps(40, 1.0)]
    [2.5, 2.0, 33.33, 50.0]
    """
    add_d = spectacles.reading_add(-page_cm / 100.0, amplitude_d)
    return [
        ("the page asks", f"100 / {page_cm:.0f}", float(-vergence(-page_cm / 100.0)), "D"),
        (
            "the add gives what half the amplitude does not",
            "that − amplitude / 2",
            float(add_d),
            "D",
        ),
        (
            "nearest clear, all accommodation spent",
            "100 / (add + amplitude)",
            float(100.0 * focus_distance(add_d + amplitude_d)),
            "cm",
        ),
        (
            "farthest clear, all accommodation relaxed",
            "100 / add",
            float(100.0 * focus_distance(add_d)),
            "cm",
        ),
    ]
