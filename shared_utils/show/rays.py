"""The figure of rays through an eye whose lens has one focus or several."""

from dataclasses import dataclass

import numpy as np
from matplotlib.patches import Arc, Ellipse, Rectangle

from shared_utils.optics.domain import require_one
from shared_utils.optics.lenses import (
    PUPIL_HINT,
    PUPIL_RANGE_MM,
    corneal_add_d,
    diffractive_bifocal,
)
from shared_utils.optics.retina import DISTANCE_RANGE_M
from shared_utils.optics.vergence import propagate
from shared_utils.show import style
from shared_utils.show.figure_parts import noted_figure, some_lenses
from shared_utils.show.figure_with_alt import FigureWithAlt

# a schematic eye: two thin powers, focused for far on its retina
CORNEA_D, LENS_MM, RETINA_MM, INDEX = 43.0, 5.0, 23.5, 1.336
FOCUS_LINES = {
    "far": (style.PURPLE, "-"),
    "intermediate": (style.SKY, ":"),
    "near": (style.ORANGE, "--"),
}
_HEIGHTS = np.array([-1.0, -0.65, -0.3, 0.0, 0.3, 0.65, 1.0])
_START_MM = -8.5


@dataclass(frozen=True)
class Focus:
    """Where light of one focus of a lens meets, mm behind the cornea."""

    name: str
    power_d: float
    place_mm: float

    @property
    def behind_mm(self):
        """Behind the retina, mm; negative in front of it."""
        return self.place_mm - RETINA_MM


def foci(lens, distance_m=np.inf):
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
        found.append(Focus(name, power_d, LENS_MM + 1000.0 * INDEX / behind_d))
    return tuple(found)


def ray_diagram(lens=None, pupil_mm=4.0, distance_m=np.inf):
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
    lens = diffractive_bifocal() if lens is None else lens
    found = foci(lens, distance_m)
    pupil_mm = require_one("pupil_mm", pupil_mm, *PUPIL_RANGE_MM, hint=PUPIL_HINT)
    distance_m = float(distance_m)
    where = "far" if np.isinf(distance_m) else f"at {100.0 * distance_m:.0f} cm"
    with style.applied():
        figure = noted_figure(
            620,
            f"Object {where}, {pupil_mm:g}-mm pupil, {lens.name} lens. Thin cornea and lens, 555 "
            "nm, no aberrations; each ray of a splitting lens goes on as one ray per focus. A "
            "generic lens.",
        )
        eye, box = figure.subplots(2, 1, height_ratios=(1.55, 1.0))
        low, high = _reach(found)
        rays = [_ray_heights(focus, pupil_mm, distance_m) for focus in found]
        _draw_eye(eye, found, rays, pupil_mm)
        half = _draw_box(box, found, rays, low, high)
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
    return FigureWithAlt(figure, _in_words(lens, found, where))


def _reach(found):
    places = [RETINA_MM, *(focus.place_mm for focus in found)]
    room = max(0.35, 0.45 * np.ptp(places))
    return min(places) - room, max(places) + room


def _ray_heights(focus, pupil_mm, distance_m):
    """Places (mm) and, for each ray, heights (mm) from the object's side to behind the focus."""
    at_cornea = _HEIGHTS * pupil_mm / 2.0
    before = 0.0 if np.isinf(distance_m) else 1.0 / (1000.0 * distance_m)
    at_start = at_cornea * (1.0 + before * _START_MM)
    inside_d = CORNEA_D - 1.0 / distance_m
    at_lens = at_cornea * (1.0 - LENS_MM / 1000.0 * inside_d / INDEX)
    beyond = RETINA_MM + 6.0
    at_beyond = at_lens * (focus.place_mm - beyond) / (focus.place_mm - LENS_MM)
    return np.array([_START_MM, 0.0, LENS_MM, beyond]), np.array(
        [at_start, at_cornea, at_lens, at_beyond]
    )


def _at(ray, z_mm):
    places, heights = ray
    return np.array([np.interp(z_mm, places, column) for column in heights.T])


def _draw_eye(axes, found, rays, pupil_mm):
    axes.set(xlim=(_START_MM, 26.5), ylim=(-11.4, 11.4), aspect="equal", xticks=[], yticks=[])
    axes.spines[:].set_visible(False)
    outline = {"edgecolor": style.GREY, "linewidth": 1.4, "fill": False}
    # a globe of radius 11 mm that a cornea of radius 7.8 mm closes
    axes.add_patch(Arc((RETINA_MM - 11.0, 0.0), 22.0, 22.0, theta1=-142.7, theta2=142.7, **outline))
    axes.add_patch(Arc((7.8, 0.0), 15.6, 15.6, theta1=121.3, theta2=238.7, **outline))
    # wide enough that a wide pupil's rays still fall on it
    tall = max(6.0, 0.9 * pupil_mm)
    axes.add_patch(
        Ellipse((LENS_MM, 0.0), 1.6, tall, facecolor="#D8E6F0", edgecolor=style.GREY, zorder=2)
    )
    for focus, ray in zip(found, rays, strict=True):
        colour, dashes = FOCUS_LINES[focus.name]
        common = focus is found[0]
        for height in range(len(_HEIGHTS)):
            z = np.array([LENS_MM, RETINA_MM])
            if common:
                z = np.array([_START_MM, 0.0, *z])
            column = np.interp(z, ray[0], ray[1][:, height])
            if common:
                axes.plot(z[:3], column[:3], color=style.GREY, linewidth=1.0, zorder=3)
            axes.plot(z[-2:], column[-2:], color=colour, linestyle=dashes, linewidth=1.1, zorder=3)
    axes.text(1.2, 6.2, "cornea", ha="right", va="center")
    axes.text(LENS_MM, tall / 2.0 + 0.5, "lens", ha="center", va="bottom")
    axes.text(RETINA_MM - 1.6, 4.6, "retina", ha="right", va="center")


def _draw_box(axes, found, rays, low, high):
    half = 1.25 * max(np.abs(_at(ray, z)).max() for ray in rays for z in (low, high))
    axes.set(xlim=(low, high), ylim=(-2.2 * half, 2.2 * half), yticks=[])
    axes.spines[:].set_visible(True)
    axes.axvline(RETINA_MM, color=style.GREY, linewidth=3.0, zorder=1)
    ticks = np.arange(np.ceil((low - RETINA_MM) * 2.0) / 2.0, high - RETINA_MM, 0.5)
    axes.set_xticks(RETINA_MM + ticks, [style.signed(t, "", 1) for t in ticks])
    axes.set_xlabel("mm behind the retina (negative: in front); heights not to scale")
    for number, (focus, ray) in enumerate(zip(found, rays, strict=True)):
        colour, dashes = FOCUS_LINES[focus.name]
        for z0, z1, strength in ((low, RETINA_MM, 1.0), (RETINA_MM, high, 0.35)):
            for one, two in zip(_at(ray, z0), _at(ray, z1), strict=True):
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
        gap = found[0].place_mm - found[-1].place_mm
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
    return half


def _where(focus):
    if abs(focus.behind_mm) < 0.02:
        return f"{focus.name}: on the retina"
    side = "behind" if focus.behind_mm > 0 else "in front"
    return f"{focus.name}: {abs(focus.behind_mm):.2f} mm {side}"


def _in_words(lens, found, where):
    sharpest = min(found, key=lambda focus: abs(focus.behind_mm))
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
