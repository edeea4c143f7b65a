"""Figures on measuring an eye: where each ruler ends, echoes to read, what a millimetre costs."""

from __future__ import annotations

from typing import TYPE_CHECKING

from matplotlib.figure import Figure

from shared_utils.cases import measuring as cases
from shared_utils.show import style
from shared_utils.show.figure_with_alt import FigureWithAlt

if TYPE_CHECKING:
    from collections.abc import Sequence

SURFACES = {
    "front of the cornea": {"color": style.BLUE, "linewidth": 2.4},
    "back of the cornea": {"color": style.GREY},
    "front of the lens": {"color": "black"},
    "back of the lens": {"color": "black"},
    "inner limit": {"color": style.GREY},
    "pigment epithelium": {"color": style.VERMILION},
}


def where_the_rulers_end() -> FigureWithAlt:
    """Return the figure of an eye along its axis with what biometry measures in it.

    Returns
    -------
    FigureWithAlt
    """
    ways = cases.compute_measured_ways()
    (_, chamber_mm), (_, length_mm), (_, light_mm) = (
        ways[name] for name in ("chamber", "sound", "light")
    )
    rulers = (
        ("keratometer: radius of the front, 7.8 mm", None),
        (f"chamber depth {chamber_mm:.1f} mm", ways["chamber"]),
        (f"lens {cases.LENS_MM:.1f} mm", ways["lens"]),
        (f"length by sound {length_mm:.2f} mm: ends at the retina's inner limit", ways["sound"]),
        (f"way of light {light_mm:.2f} mm: ends at the pigment epithelium", ways["light"]),
    )
    with style.applied():
        figure = Figure(figsize=(7.0, 4.5), dpi=style.DPI, layout="constrained")
        axes = figure.add_subplot()
        axes.set(xlim=(-1.6, 25.2), ylim=(-12.6, 5.2), xticks=[], yticks=[], aspect="equal")
        axes.spines[:].set_visible(False)
        _draw_eye(axes)
        axes.annotate(
            rulers[0][0],
            xy=cases.compute_arc(0.0, cases.FRONT_MM, 4.6),
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
        f"two layers {cases.RETINA_MM:.2f} mm apart.",
    )


def _draw_eye(axes):
    axes.plot([-1.3, 25.0], [0, 0], color=style.GREY, linewidth=0.8, dashes=(6, 3))
    for name, section in cases.compute_eye_section().items():
        axes.plot(*section, **SURFACES[name])


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


def a_scan(echo_times_us: Sequence[float]) -> FigureWithAlt:
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
    data = cases.compute_echo_trace(echo_times_us)
    times, heights, end = data.echo_times_us, data.echo_heights, data.end_us
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
        axes.plot(data.times_us, data.trace, color="black", linewidth=1.5)
        for n, (time, height) in enumerate(zip(times, heights, strict=True), start=1):
            axes.text(time, height + 0.05, str(n), ha="center", va="bottom", weight="bold")
    named = ", ".join(
        f"{n} {name} at {time:.1f} µs"
        for n, (name, time) in enumerate(zip(cases.ECHOES, times, strict=True), start=1)
    )
    return FigureWithAlt(figure, f"Echoes of an eye against time, there and back: {named}.")


def echoes_to_read(
    front_us: float = 4.0, back_us: float = 9.5, retina_us: float = 30.5
) -> FigureWithAlt:
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


def price_to_read(length_mm: int = 28) -> FigureWithAlt:
    """Return the curve of what a millimetre of axial length costs, to be read at one length.

    Parameters
    ----------
    length_mm : int
        Which length a dotted line marks, 20 to 32 mm.

    Returns
    -------
    FigureWithAlt
    """
    curve = cases.compute_cost_curve()
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
        axes.plot(curve.lengths_mm, curve.d_per_mm, color=style.BLUE)
        axes.axvline(length_mm, color=style.VERMILION, linewidth=1.6, linestyle=":")
    reply = ", ".join(
        f"{price:.1f} at {mm}"
        for mm, price in zip(curve.whole_mm, curve.at_whole_d_per_mm, strict=True)
    )
    return FigureWithAlt(
        figure,
        "A falling curve: hyperopia left for 1 mm of length read too long, in D, against axial "
        f"length in mm: {reply}. A line marks {length_mm} mm.",
    )
