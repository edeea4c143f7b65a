"""The figure of rays through an eye whose lens has one focus or several."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from matplotlib.patches import Arc, Ellipse, Rectangle

from shared_utils.cases.rays import (
    LENS_MM,
    RETINA_MM,
    START_MM,
    rays_through_eye,
)
from shared_utils.show import style
from shared_utils.show.figure_parts import noted_figure
from shared_utils.show.figure_with_alt import FigureWithAlt

if TYPE_CHECKING:
    from shared_utils.optics.lenses import Lens

FOCUS_LINES = {
    "far": (style.PURPLE, "-"),
    "intermediate": (style.SKY, ":"),
    "near": (style.ORANGE, "--"),
}


def ray_diagram(
    lens: Lens | None = None, pupil_mm: float = 4.0, distance_m: float = np.inf
) -> FigureWithAlt:
    """Return the figure of rays through the whole eye, and of the foci enlarged.

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
    FigureWithAlt
    """
    data = rays_through_eye(lens, pupil_mm, distance_m)
    far = np.isinf(data.distance_m)
    where = "far" if far else f"at {100.0 * data.distance_m:.0f} cm"
    with style.applied():
        figure = noted_figure(
            620,
            f"Object {where}, {data.pupil_mm:g}-mm pupil, {data.lens.name} lens. Thin cornea and "
            "lens, 555 nm, no aberrations; each ray of a splitting lens goes on as one ray per "
            "focus. A generic lens.",
        )
        eye, enlarged = figure.subplots(2, 1, height_ratios=(1.55, 1.0))
        low, high = data.around_foci_mm
        half = data.half_height_mm
        _draw_eye(eye, data)
        _draw_foci(enlarged, data)
        eye.add_patch(
            Rectangle((low, -max(half, 0.5)), high - low, 2 * max(half, 0.5), fill=False, zorder=6)
        )
        eye.annotate(
            "enlarged below",
            xy=(low, -max(half, 0.5)),
            xytext=(15.0, -5.5),
            ha="center",
            va="center",
            arrowprops={"arrowstyle": "-", "linewidth": 1.0},
        )
    return FigureWithAlt(figure, _in_words(data, where))


def _draw_eye(axes, data):
    axes.set(xlim=(START_MM, 26.5), ylim=(-11.4, 11.4), aspect="equal", xticks=[], yticks=[])
    axes.spines[:].set_visible(False)
    outline = {"edgecolor": style.GREY, "linewidth": 1.4, "fill": False}
    # a globe of radius 11 mm that a cornea of radius 7.8 mm closes
    axes.add_patch(Arc((RETINA_MM - 11.0, 0.0), 22.0, 22.0, theta1=-142.7, theta2=142.7, **outline))
    axes.add_patch(Arc((7.8, 0.0), 15.6, 15.6, theta1=121.3, theta2=238.7, **outline))
    # wide enough that a wide pupil's rays still fall on it
    tall = max(6.0, 0.9 * data.pupil_mm)
    axes.add_patch(
        Ellipse((LENS_MM, 0.0), 1.6, tall, facecolor="#D8E6F0", edgecolor=style.GREY, zorder=2)
    )
    for number, rays in enumerate(data.rays):
        colour, dashes = FOCUS_LINES[rays.focus.name]
        if number == 0:  # in front of the lens the rays are the same for every focus
            z = np.array([START_MM, 0.0, LENS_MM])
            for heights in rays.heights_at(z):
                axes.plot(z, heights, color=style.GREY, linewidth=1.0, zorder=3)
        z = np.array([LENS_MM, RETINA_MM])
        for heights in rays.heights_at(z):
            axes.plot(z, heights, color=colour, linestyle=dashes, linewidth=1.1, zorder=3)
    axes.text(1.2, 6.2, "cornea", ha="right", va="center")
    axes.text(LENS_MM, tall / 2.0 + 0.5, "lens", ha="center", va="bottom")
    axes.text(RETINA_MM - 1.6, 4.6, "retina", ha="right", va="center")


def _draw_foci(axes, data):
    found, half = data.foci, data.half_height_mm
    low, high = data.around_foci_mm
    axes.set(xlim=(low, high), ylim=(-2.2 * half, 2.2 * half), yticks=[])
    axes.spines[:].set_visible(True)
    axes.axvline(RETINA_MM, color=style.GREY, linewidth=3.0, zorder=1)
    ticks = np.arange(np.ceil((low - RETINA_MM) * 2.0) / 2.0, high - RETINA_MM, 0.5)
    axes.set_xticks(RETINA_MM + ticks, [style.signed(t, "", 1) for t in ticks])
    axes.set_xlabel("mm behind the retina (negative: in front); heights not to scale")
    for number, rays in enumerate(data.rays):
        focus = rays.focus
        colour, dashes = FOCUS_LINES[focus.name]
        for z0, z1, strength in ((low, RETINA_MM, 1.0), (RETINA_MM, high, 0.35)):
            for one, two in zip(rays.heights_at(z0), rays.heights_at(z1), strict=True):
                axes.plot([z0, z1], [one, two], color=colour, linestyle=dashes, alpha=strength)
        axes.plot([focus.place_mm], [0.0], "o", color=colour, markeredgecolor="black", zorder=5)
        place = (focus.place_mm - low) / (high - low)
        axes.annotate(
            _where(focus),
            xy=(focus.place_mm, 0.0),
            xytext=(np.clip(place, 0.22, 0.78), (0.92, 0.08, 0.08)[number])
            if len(found) < 3
            else ((0.78, 0.5, 0.22)[number], (0.92, 0.08, 0.92)[number]),
            textcoords="axes fraction",
            ha="center",
            va="center",
            zorder=6,
            bbox=style.PLAIN,
            arrowprops={"arrowstyle": "-", "linewidth": 1.0, "color": style.GREY},
        )
    if len(found) > 1:
        gap = data.gap_mm
        y = 1.35 * half
        axes.annotate(
            "",
            xy=(found[0].place_mm, y),
            xytext=(found[-1].place_mm, y),
            arrowprops={"arrowstyle": "<->", "linewidth": 1.6, "shrinkA": 0, "shrinkB": 0},
        )
        wide = gap > 0.2 * (high - low)  # else the number stands beside its arrow
        middle = (found[0].place_mm + found[-1].place_mm) / 2.0
        axes.text(
            middle if wide else found[-1].place_mm - 0.01 * (high - low),
            y,
            f"{gap:.2f} mm",
            ha="center" if wide else "right",
            va="center",
            weight="bold",
            bbox=style.PLAIN,
        )


def _where(focus):
    if abs(focus.behind_mm) < 0.02:
        return f"{focus.name}: on the retina"
    side = "behind" if focus.behind_mm > 0 else "in front"
    return f"{focus.name}: {abs(focus.behind_mm):.2f} mm {side}"


def _in_words(data, where):
    lens, found, sharpest = data.lens, data.foci, data.sharpest
    places = "; ".join(_where(focus) for focus in found)
    if abs(sharpest.behind_mm) < 0.1:
        conclusion = f"Its {sharpest.name} focus is sharp"
    else:
        conclusion = f"None is sharp; the {sharpest.name} focus comes closest"
    others = f", the other{'s' * (len(found) > 2)} only add{'s' * (len(found) == 2)} blur"
    if len(found) == 1:
        others = ""
    return (
        f"Rays from an object {where} through the {lens.name} lens. {conclusion}{others}. "
        f"Places of the foci against the retina: {places}."
    )
