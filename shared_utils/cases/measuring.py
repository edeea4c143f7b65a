"""Lesson 05: a cornea's reading and its power, an eye's length, what an error costs."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from shared_utils.course import manifest
from shared_utils.optics.domain import require
from shared_utils.optics.notation import signed
from shared_utils.power import axial_length, cornea, pseudophakia
from shared_utils.power.axial_length import CHAMBER_MM, CORNEA_MM, RETINA_MM
from shared_utils.power.biometry import Eye
from shared_utils.power.lens_constants import DEMO_A_CONSTANT, LensConstants
from shared_utils.power.thin_lens import holladay_1

if TYPE_CHECKING:
    from collections.abc import Sequence

    from shared_utils.optics.types import FloatOrArray

AVERAGE_K_D = 43.5
LENGTH_MM, LENS_MM = 23.5, 4.6  # of the eye that is drawn
FRONT_MM, BACK_MM = 7.8, 6.5
LENS = LensConstants.from_a_constant(DEMO_A_CONSTANT)


# --- the cornea ------------------------------------------------------------------------------

RATIOS = np.linspace(0.62, 1.13, 103)


@dataclass(frozen=True)
class KeratometerReading:
    """A cornea of two surfaces and what a keratometer makes of its front."""

    radius_mm: float
    ratio: float
    index: float
    reading_d: float
    true_d: float
    excess_d: float
    curve_d: np.ndarray

    @property
    def back_mm(self) -> float:
        """Radius of the back surface."""
        return self.ratio * self.radius_mm


def compute_keratometer_reading(radius_mm: float, ratio: float, index: float) -> KeratometerReading:
    """Return a keratometer's reading of a cornea beside the cornea's power.

    Parameters
    ----------
    radius_mm : float
        Radius of the front surface, mm.
    ratio : float
        Radius of the back surface over that of the front.
    index : float
        Keratometric index of the instrument.

    Returns
    -------
    KeratometerReading

    Examples
    --------
    >>> data = compute_keratometer_reading(7.8, 0.83, 1.3375)
    >>> round(data.reading_d, 2), round(data.true_d, 2)
    (43.27, 42.15)
    """
    reading_d = cornea.keratometry(radius_mm, index)
    powers_d = cornea.thick_cornea(radius_mm, radius_mm * np.append(RATIOS, ratio)).power_d
    return KeratometerReading(
        radius_mm,
        ratio,
        index,
        float(reading_d),
        float(np.asarray(powers_d)[-1]),
        float(reading_d - float(np.asarray(powers_d)[-1])),
        reading_d - np.asarray(powers_d)[:-1],
    )


# --- the length ------------------------------------------------------------------------------

PRESSED_MM = 0.20  # how far a probe on the cornea flattens the eye; common practice: 0.1 to 0.3 mm
LENGTHS_MM = np.linspace(20.0, 33.0, 66)


@dataclass(frozen=True)
class LengthReading:
    """One eye's length by one ruler, and every ruler's error over all lengths."""

    true_mm: float
    lens_mm: float
    ruler: str
    read_mm: float
    surprise_d: float
    curves_mm: dict

    @property
    def error_mm(self) -> float:
        """Reading minus truth."""
        return self.read_mm - self.true_mm


def compute_length_readings(true_mm: FloatOrArray, lens_mm: float) -> dict[str, FloatOrArray]:
    """Return the length that every ruler shows of an eye.

    Parameters
    ----------
    true_mm : float or array
        Length to the retina's inner limit, mm.
    lens_mm : float
        Thickness of the lens, mm.

    Returns
    -------
    dict of str to float or array

    Examples
    --------
    >>> {name: round(mm, 2) for name, mm in compute_length_readings(30.0, 4.6).items()}
    {'touching sound': 29.9, 'sound': 30.1, 'light': 30.24, 'segments': 30.0}
    """
    sound_mm = axial_length.length_by_sound(axial_length.echo_time(true_mm, lens_mm))
    return {
        "touching sound": sound_mm - PRESSED_MM,
        "sound": sound_mm,
        "light": axial_length.length_by_light(axial_length.optical_path(true_mm, lens_mm)),
        "segments": true_mm,
    }


def compute_length_reading(true_mm: float, lens_mm: float, ruler: str) -> LengthReading:
    """Return what a ruler shows of an eye, and the refraction that its error would leave.

    Parameters
    ----------
    true_mm : float
        Length to the retina's inner limit, mm.
    lens_mm : float
        Thickness of the lens, mm.
    ruler : str
        One of the names in ``compute_length_readings``.

    Returns
    -------
    LengthReading

    Examples
    --------
    >>> data = compute_length_reading(22.0, 4.6, "touching sound")
    >>> round(data.read_mm, 2), round(data.surprise_d, 1)
    (21.78, -0.7)
    """
    every = compute_length_readings(np.append(LENGTHS_MM, true_mm), lens_mm)
    read_mm = float(np.asarray(every[ruler])[-1])
    return LengthReading(
        true_mm,
        lens_mm,
        ruler,
        read_mm,
        float(compute_refractive_surprise(true_mm, "length", read_mm - true_mm)),
        {name: np.asarray(mm)[:-1] - LENGTHS_MM for name, mm in every.items()},
    )


def compute_arc(
    vertex_mm: float, radius_mm: float, height_mm: FloatOrArray
) -> tuple[FloatOrArray, FloatOrArray]:
    """Return depth and height of a surface at a height above the axis.

    Parameters
    ----------
    vertex_mm : float
        Where it meets the axis, mm.
    radius_mm : float
        Its radius, mm; positive where it bulges forwards.
    height_mm : scalar or array
        At most the radius.

    Returns
    -------
    depth_mm, height_mm : float or array

    Examples
    --------
    >>> round(float(compute_arc(0.0, 7.8, 4.6)[0]), 2)
    1.5
    """
    drop = abs(radius_mm) - np.sqrt(radius_mm**2 - np.asarray(height_mm) ** 2)
    return vertex_mm + np.sign(radius_mm) * drop, height_mm


def compute_eye_section() -> dict[str, tuple[FloatOrArray, FloatOrArray]]:
    """Return the surfaces of the eye that is drawn along its axis: depths and heights, mm.

    Returns
    -------
    dict of str to (array, array)

    Examples
    --------
    >>> list(compute_eye_section())[:2]
    ['front of the cornea', 'back of the cornea']
    """
    wide = np.linspace(-5.2, 5.2, 80)
    front = np.linspace(-5.0, 5.0, 80)
    lens = np.linspace(-4.4, 4.4, 80)
    return {
        "front of the cornea": compute_arc(0.0, FRONT_MM, front),
        "back of the cornea": compute_arc(CORNEA_MM, BACK_MM, front),
        "front of the lens": compute_arc(CHAMBER_MM, 10.0, lens),
        "back of the lens": compute_arc(CHAMBER_MM + LENS_MM, -6.0, lens),
        "inner limit": compute_arc(LENGTH_MM, -12.0, wide),
        "pigment epithelium": compute_arc(LENGTH_MM + RETINA_MM, -12.0, wide),
    }


def compute_measured_ways() -> dict[str, tuple[float, float]]:
    """Return from where to where each measurement along the axis goes in that eye, mm.

    Returns
    -------
    dict of str to (float, float)

    Examples
    --------
    >>> compute_measured_ways()["light"]
    (0.0, 23.75)
    """
    return {
        "chamber": (0.0, CHAMBER_MM),
        "lens": (CHAMBER_MM, CHAMBER_MM + LENS_MM),
        "sound": (0.0, LENGTH_MM),
        "light": (0.0, LENGTH_MM + RETINA_MM),
    }


ECHOES = ("cornea", "front of the lens", "back of the lens", "retina")


@dataclass(frozen=True)
class EchoTrace:
    """Echoes of an eye against time there and back."""

    echo_times_us: np.ndarray
    echo_heights: np.ndarray
    end_us: float
    times_us: np.ndarray
    trace: np.ndarray


def compute_echo_trace(echo_times_us: Sequence[float]) -> EchoTrace:
    """Return the strength of an eye's echoes against time.

    Parameters
    ----------
    echo_times_us : sequence of 4
        Times of the echoes of cornea, front of the lens, back of the lens and retina, 0 to 60 µs,
        there and back.

    Returns
    -------
    EchoTrace

    Raises
    ------
    ValueError
        If the times are not four, or do not rise.

    Examples
    --------
    >>> data = compute_echo_trace([0.0, 4.0, 9.6, 30.2])
    >>> round(float(data.trace[np.argmin(abs(data.times_us - 4.0))]), 1)
    0.7
    """
    times = require("echo_times_us", echo_times_us, 0.0, 60.0, hint="In µs, there and back.")
    if times.shape != (4,) or np.any(np.diff(times) <= 0.0):
        raise ValueError(
            f"echo_times_us is {times.tolist()}; give four times in the order of the echoes: "
            f"{', '.join(ECHOES)}."
        )
    end = max(36.0, times[-1] + 3.0)
    fine = np.linspace(-1.0, end, 2400)
    heights = np.array([1.0, 0.72, 0.66, 0.95])
    trace = heights @ np.exp(-(((fine - times[:, np.newaxis]) / 0.13) ** 2))
    behind = np.clip(fine - times[-1], 0.0, None)
    trace = trace + np.where(behind > 0.3, 0.35 * np.exp(-behind / 1.5), 0.0)
    return EchoTrace(times, heights, end, fine, trace)


# --- what an error costs ---------------------------------------------------------------------

MEASURED = ("length", "k", "position")
COST_LENGTHS_MM = np.linspace(20.0, 32.0, 41)


def compute_refractive_surprise(
    length_mm: FloatOrArray, measured: str, error: FloatOrArray
) -> FloatOrArray:
    """Return the refraction that one wrong measurement leaves, where zero was aimed at.

    Parameters
    ----------
    length_mm : float or array
        True axial length, mm; keratometry 43.50 D.
    measured : str
        What was measured wrong: ``"length"``, ``"k"`` or ``"position"``.
    error : float or array
        Measured minus true: mm, D, mm.

    Returns
    -------
    float or array
        D at the spectacle plane; hyperopia positive. The lens stands where Holladay 1 expects it
        in the true eye.

    Examples
    --------
    >>> round(compute_refractive_surprise(23.5, "length", 0.1), 2)
    0.27
    >>> round(compute_refractive_surprise(23.5, "k", 1.0), 2)
    0.98
    """
    by = {name: error if name == measured else 0.0 for name in MEASURED}
    elp_mm = np.asarray(holladay_1(Eye(length_mm, AVERAGE_K_D), LENS).elp_mm)
    chosen_d = pseudophakia.emmetropic_power(
        Eye(length_mm + by["length"], AVERAGE_K_D + by["k"]), elp_mm + by["position"]
    )
    return pseudophakia.pseudophakic_refraction(
        length_mm, AVERAGE_K_D * pseudophakia.PER_K, elp_mm, chosen_d
    )


def compute_cost_per_mm(length_mm: FloatOrArray) -> FloatOrArray:
    """Return what a millimetre read too long leaves, as D for each mm of a small error.

    Parameters
    ----------
    length_mm : float or array
        True axial length, mm.

    Returns
    -------
    float or array
        D/mm.

    Examples
    --------
    >>> round(compute_cost_per_mm(20.0), 1), round(compute_cost_per_mm(23.5), 1)
    (3.9, 2.7)
    """
    return compute_refractive_surprise(length_mm, "length", 0.1) / 0.1


@dataclass(frozen=True)
class CostCurve:
    """What a millimetre read too long leaves, against the length and at whole millimetres."""

    lengths_mm: np.ndarray
    d_per_mm: np.ndarray
    whole_mm: np.ndarray
    at_whole_d_per_mm: np.ndarray


def compute_cost_curve() -> CostCurve:
    """Return what a millimetre read too long leaves in eyes of 20 to 32 mm.

    Returns
    -------
    CostCurve

    Examples
    --------
    >>> round(float(compute_cost_curve().at_whole_d_per_mm[0]), 1)
    3.9
    """
    lengths_mm, whole_mm = np.linspace(20.0, 32.0, 121), np.arange(20, 33)
    return CostCurve(
        lengths_mm,
        np.asarray(compute_cost_per_mm(lengths_mm)),
        whole_mm,
        np.asarray(compute_cost_per_mm(whole_mm.astype(float))),
    )


@dataclass(frozen=True)
class ErrorCost:
    """What one error of measurement leaves, in this eye and in eyes of every length."""

    length_mm: float
    measured: str
    error: float
    refraction_d: float
    curves_d: dict


def compute_error_cost(length_mm: float, measured: str, error: float) -> ErrorCost:
    """Return the refraction that an error leaves in an eye, and the curves for every length.

    Parameters
    ----------
    length_mm : float
        True axial length, mm.
    measured : str
        One of ``MEASURED``.
    error : float
        Measured minus true, in mm or D.

    Returns
    -------
    ErrorCost

    Examples
    --------
    >>> round(compute_error_cost(22.0, "length", -0.4).refraction_d, 1)
    -1.3
    """
    every_mm = np.append(COST_LENGTHS_MM, length_mm)
    curves_d = {name: compute_refractive_surprise(every_mm, name, error) for name in MEASURED}
    return ErrorCost(
        length_mm,
        measured,
        error,
        float(np.asarray(curves_d[measured])[-1]),
        {name: np.asarray(curve)[:-1] for name, curve in curves_d.items()},
    )


# --- worked examples -------------------------------------------------------------------------


def keratometry_steps(
    radius_mm: float, back_mm: float, thickness_mm: float
) -> list[tuple[str, str, float, str]]:
    """Return the steps from a corneal radius to its reading and to its power.

    Parameters
    ----------
    radius_mm, back_mm : float
        Radii of the front and the back surface, mm.
    thickness_mm : float
        Central thickness, mm.

    Returns
    -------
    list of (str, str, float, str)

    Examples
    --------
    >>> what, how, value, unit = keratometry_steps(7.5, 6.2, 0.55)[0]
    >>> how, round(value, 2), unit
    ('337.5 / 7.50', 45.0, 'D')
    """
    found = cornea.thick_cornea(radius_mm, back_mm, thickness_mm)
    return [
        (
            "the keratometer shows",
            f"337.5 / {radius_mm:.2f}",
            float(cornea.keratometry(radius_mm)),
            "D",
        ),
        ("the front surface has", f"376 / {radius_mm:.2f}", float(found.anterior_d), "D"),
        ("the back surface has", f"−40 / {back_mm:.2f}", float(found.posterior_d), "D"),
        (
            "the cornea has",
            f"F1 + F2 − {thickness_mm / 1000:.5f} / 1.376 · F1 · F2",
            float(found.power_d),
            "D",
        ),
        ("the reading is too high by", "K − F", float(found.keratometry_excess_d), "D"),
    ]


def second_reading_steps(
    first_mm: float, second_mm: float, k_d: float
) -> list[tuple[str, str, float, str]]:
    """Return the steps from two unlike readings of one eye to what the worse would have cost.

    Parameters
    ----------
    first_mm, second_mm : float
        The doubtful axial length and the one measured again, mm.
    k_d : float
        Mean keratometry, D.

    Returns
    -------
    list of (str, str, float, str)

    Examples
    --------
    >>> second_reading_steps(21.9, 22.3, 44.0)[0]
    ('the first reading was off by', '21.90 − 22.30', -0.4, 'mm')
    """
    eye = Eye(second_mm, k_d)
    elp_mm = holladay_1(eye, LENS).elp_mm
    right_d = pseudophakia.emmetropic_power(eye, elp_mm)
    wrong_d = pseudophakia.emmetropic_power(Eye(first_mm, k_d), elp_mm)
    left_d = pseudophakia.pseudophakic_refraction(
        second_mm, k_d * pseudophakia.PER_K, elp_mm, wrong_d
    )
    return [
        (
            "the first reading was off by",
            f"{first_mm:.2f} − {second_mm:.2f}",
            round(first_mm - second_mm, 9),
            "mm",
        ),
        (
            "lens for the second reading",
            f"lens equation, lesson {manifest.of().by_slug['formulas'].number}",
            float(right_d),
            "D",
        ),
        ("lens for the first reading", "the same", float(wrong_d), "D"),
        ("the lens would have been stronger by", "the difference", float(wrong_d - right_d), "D"),
        ("and would have left at the spectacles", "back through the eye", float(left_d), "D"),
        (
            "price of a millimetre in this eye",
            f"{signed(left_d)} / {signed(first_mm - second_mm, 'mm')}",
            float(left_d / (first_mm - second_mm)),
            "D/mm",
        ),
    ]
