"""Figures on measuring an eye: where each ruler ends, echoes to read, what a millimetre costs."""

import numpy as np
from matplotlib.figure import Figure

from shared_utils.optics.domain import require
from shared_utils.power import pseudophakia
from shared_utils.power.axial_length import CHAMBER_MM, CORNEA_MM, RETINA_MM
from shared_utils.power.biometry import Eye
from shared_utils.power.constants import LensConstants
from shared_utils.power.formulas import steps
from shared_utils.show import style
from shared_utils.show.figure_with_alt import FigureWithAlt

LENGTH_MM, LENS_MM = 23.5, 4.6
FRONT_MM, BACK_MM = 7.8, 6.5
ECHOES = ("cornea", "front of the lens", "back of the lens", "retina")
K_D = 43.5
LENS = LensConstants.from_a_constant(118.4)


def where_the_rulers_end():
    """Return the figure of an eye along its axis with what biometry measures in it.

    Returns
    -------
    FigureWithAlt
    """
    rulers = (
        ("keratometer: radius of the front, 7.8 mm", None),
        (f"chamber depth {CHAMBER_MM:.1f} mm", (0.0, CHAMBER_MM)),
        (f"lens {LENS_MM:.1f} mm", (CHAMBER_MM, CHAMBER_MM + LENS_MM)),
        (f"length by sound {LENGTH_MM:.2f} mm: ends at the retina's inner limit", (0.0, LENGTH_MM)),
        (
            f"way of light {LENGTH_MM + RETINA_MM:.2f} mm: ends at the pigment epithelium",
            (0.0, LENGTH_MM + RETINA_MM),
        ),
    )
    with style.applied():
        figure = Figure(figsize=(7.0, 4.5), dpi=style.DPI, layout="constrained")
        axes = figure.add_subplot()
        axes.set(xlim=(-1.6, 25.2), ylim=(-12.6, 5.2), xticks=[], yticks=[], aspect="equal")
        axes.spines[:].set_visible(False)
        _draw_eye(axes)
        axes.annotate(
            rulers[0][0],
            xy=_arc(0.0, FRONT_MM, 4.6),
            xytext=(7.9, 4.75),
            va="center",
            arrowprops={"arrowstyle": "->", "linewidth": 1.3, "color": style.BLUE},
            color=style.BLUE,
        )
        _dimension(axes, *rulers[1][1], -6.6, rulers[1][0], label_at=8.3, behind=True)
        _dimension(axes, *rulers[2][1], -8.0, rulers[2][0], label_at=8.3, behind=True)
        _dimension(axes, *rulers[3][1], -10.0, rulers[3][0])
        _dimension(axes, *rulers[4][1], -12.0, rulers[4][0])
    words = "; ".join(name for name, _ in rulers)
    return FigureWithAlt(
        figure,
        f"Section of an eye along its axis with what is measured. {words}. Light and sound end at "
        f"two layers {RETINA_MM:.2f} mm apart.",
    )


def _arc(vertex_mm, radius_mm, height_mm):
    """Place of a surface at a height above the axis; a positive radius bulges forwards."""
    drop = abs(radius_mm) - np.sqrt(radius_mm**2 - np.asarray(height_mm) ** 2)
    return vertex_mm + np.sign(radius_mm) * drop, height_mm


def _draw_eye(axes):
    axes.plot([-1.3, 25.0], [0, 0], color=style.GREY, linewidth=0.8, dashes=(6, 3))
    wide = np.linspace(-5.2, 5.2, 80)
    front = np.linspace(-5.0, 5.0, 80)
    lens = np.linspace(-4.4, 4.4, 80)
    axes.plot(*_arc(0.0, FRONT_MM, front), color=style.BLUE, linewidth=2.4)
    axes.plot(*_arc(CORNEA_MM, BACK_MM, front), color=style.GREY)
    axes.plot(*_arc(CHAMBER_MM, 10.0, lens), color="black")
    axes.plot(*_arc(CHAMBER_MM + LENS_MM, -6.0, lens), color="black")
    axes.plot(*_arc(LENGTH_MM, -12.0, wide), color=style.GREY)
    axes.plot(*_arc(LENGTH_MM + RETINA_MM, -12.0, wide), color=style.VERMILION)


def _dimension(axes, start, end, height, label, label_at=None, behind=False):
    """A measured way below the eye, with its ends carried down."""
    for place in (start, end):
        axes.plot([place] * 2, [-0.2, height - 0.3], color=style.GREY, linewidth=0.7)
    axes.annotate(
        "",
        xy=(end, height),
        xytext=(start, height),
        arrowprops={"arrowstyle": "<->", "shrinkA": 0, "shrinkB": 0, "linewidth": 1.3},
    )
    where = label_at if behind else (start + end) / 2
    axes.text(
        where,
        height + (0.0 if behind else 0.75),
        label,
        ha="left" if behind else "center",
        va="center",
        bbox=style.PLAIN,
    )


def a_scan(echo_times_us):
    """Return the picture of the echoes of an eye, to read their times from.

    Parameters
    ----------
    echo_times_us : sequence of 4
        Times of the echoes of cornea, front of the lens, back of the lens and retina, 0 to 60 µs,
        there and back.

    Returns
    -------
    FigureWithAlt
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
    echoes = np.exp(-(((fine - times[:, np.newaxis]) / 0.13) ** 2))
    trace = heights @ echoes
    behind = np.clip(fine - times[-1], 0.0, None)
    trace = trace + np.where(behind > 0.3, 0.35 * np.exp(-behind / 1.5), 0.0)
    with style.applied():
        figure = Figure(figsize=(7.0, 3.0), dpi=style.DPI, layout="constrained")
        axes = figure.add_subplot()
        axes.set(
            xlim=(-1.0, end),
            ylim=(0.0, 1.25),
            yticks=[],
            xlabel="time there and back, µs",
            ylabel="strength of the echo",
        )
        style.ruled(axes.xaxis, 2, 0.5)
        axes.plot(fine, trace, color="black", linewidth=1.5)
        for n, (time, height) in enumerate(zip(times, heights, strict=True), start=1):
            axes.text(time, height + 0.05, str(n), ha="center", va="bottom", weight="bold")
    named = ", ".join(
        f"{n} {name} at {time:.1f} µs"
        for n, (name, time) in enumerate(zip(ECHOES, times, strict=True), start=1)
    )
    return FigureWithAlt(figure, f"Echoes of an eye against time, there and back: {named}.")


def echoes_to_read(front_us=4.0, back_us=9.5, retina_us=30.5):
    """Return the picture of the echoes of an invented eye, to be read.

    Parameters
    ----------
    front_us, back_us, retina_us : float
        Times of the echoes of the lens's front, its back and the retina, µs, there and back; that
        of the cornea is 0.

    Returns
    -------
    FigureWithAlt
    """
    return a_scan([0.0, front_us, back_us, retina_us])


def left_by_length(length_mm, error_mm):
    """Return the refraction that a length read wrong leaves, where zero was aimed at.

    Parameters
    ----------
    length_mm : scalar or array
        True axial length, mm; keratometry 43.5 D.
    error_mm : scalar or array
        Read minus true, mm.

    Returns
    -------
    float or array
        D at the spectacles; the lens stands where Holladay 1 expects it in the true eye.

    Examples
    --------
    >>> round(left_by_length(23.5, 0.1), 2)
    0.27
    """
    elp_mm = steps(Eye(length_mm, K_D), "holladay_1", LENS).elp_mm
    chosen_d = pseudophakia.emmetropic_power(Eye(length_mm + error_mm, K_D), elp_mm)
    return pseudophakia.pseudophakic_refraction(
        length_mm, K_D * pseudophakia.PER_K, elp_mm, chosen_d
    )


def price_d_per_mm(length_mm):
    """Return what a millimetre read too long leaves, as D for each mm of a small error.

    >>> round(price_d_per_mm(20.0), 1), round(price_d_per_mm(23.5), 1)
    (3.8, 2.7)
    """
    return left_by_length(length_mm, 0.1) / 0.1


def price_to_read(length_mm=28):
    """Return the curve of what a millimetre of axial length costs, to be read at one length.

    Parameters
    ----------
    length_mm : int
        Which length a dotted line marks, 20 to 32 mm.

    Returns
    -------
    FigureWithAlt
    """
    lengths_mm = np.linspace(20.0, 32.0, 121)
    with style.applied():
        figure = Figure(figsize=(7.0, 3.8), dpi=style.DPI, layout="constrained")
        axes = figure.add_subplot()
        axes.set(
            xlim=(20, 32),
            ylim=(1.0, 4.0),
            xlabel="axial length, mm",
            ylabel="refraction left, D\nfor 1 mm read too long",
        )
        style.ruled(axes.xaxis, 1)
        style.ruled(axes.yaxis, 0.5, 0.1, digits=1)
        axes.plot(lengths_mm, price_d_per_mm(lengths_mm), color=style.BLUE)
        axes.axvline(length_mm, color=style.VERMILION, linewidth=1.6, linestyle=":")
    whole_mm = np.arange(20, 33)
    told = ", ".join(
        f"{price:.1f} at {mm}"
        for mm, price in zip(whole_mm, price_d_per_mm(whole_mm.astype(float)), strict=True)
    )
    return FigureWithAlt(
        figure,
        "A falling curve: hyperopia left for 1 mm of length read too long, in D, against axial "
        f"length in mm: {told}. A line marks {length_mm} mm.",
    )
