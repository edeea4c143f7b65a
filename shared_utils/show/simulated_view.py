"""Figures on what the retina gets to see: lamps at night and letters at three distances."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from matplotlib.colors import LogNorm

from shared_utils.cases import simulated_view as cases
from shared_utils.cases.light import snellen_line
from shared_utils.optics.through_focus import LIMITS
from shared_utils.show import style
from shared_utils.show.figure_parts import (
    label_lines,
    line_of,
    noted_figure,
    number_at_arrow,
)
from shared_utils.show.figure_with_alt import FigureWithAlt

if TYPE_CHECKING:
    from collections.abc import Sequence

    from shared_utils.optics.lenses import Lens

DIMMEST, BRIGHTEST = 1e-6, 0.3  # light per arcmin²; one scale for all pictures
_DISPLAY_GAMMA = 2.2  # screens turn this power of a grey value into light


def night_halo(lenses: Lens | Sequence[Lens] | None = None, pupil_mm: float = 5.0) -> FigureWithAlt:
    """Return the figure of a lamp at night: its picture through each lens, and the profile.

    Parameters
    ----------
    lenses : Lens or sequence of up to five, optional
        One of each class unless given, each with an aspheric body that takes away most of the
        average cornea's spherical aberration, which makes a halo of its own in a wide pupil.
    pupil_mm : float
        Pupil diameter, 2 to 9 mm.

    Returns
    -------
    FigureWithAlt
    """
    own = lenses is None
    data = cases.night_halos(lenses, pupil_mm)
    lenses, pupil_mm, width = data.lenses, data.pupil_mm, data.width_arcmin
    away, profiles = data.away_arcmin, data.profiles
    with style.applied():
        bodies = ", aspheric lenses (eye: +0.07 µm)" if own else ""
        figure = noted_figure(
            560, f"Distant white lamp, {pupil_mm:g}-mm pupil{bodies}. Logarithmic scale. {LIMITS}"
        )
        grid = figure.add_gridspec(2, len(lenses), height_ratios=(1.0, 2.0), wspace=0.02)
        row = [figure.add_subplot(grid[0, column]) for column in range(len(lenses))]
        for place, axes in enumerate(row):
            shown = _draw_lamp(axes, data, place)
        row[0].set_ylabel(f"{width:g} arcmin")
        bar = figure.colorbar(
            shown, ax=row, location="right", fraction=0.04, aspect=9, pad=0.01, shrink=0.75
        )
        bar.set_ticks([1e-1, 1e-3, 1e-5])
        bar.minorticks_off()
        axes = figure.add_subplot(grid[1, :])
        for lens, profile in zip(lenses, profiles, strict=True):
            axes.plot(away, np.maximum(profile, DIMMEST / 10.0), **line_of(lens))
        axes.set(
            yscale="log",
            xlim=(0.0, width / 2.0),
            ylim=(DIMMEST, BRIGHTEST),
            xlabel="angle from the lamp (arcmin)",
            ylabel="light per arcmin²",
        )
        widest = data.widest
        if widest is not None:
            edge = float(data.halo_arcmin(widest)) / 2.0
            axes.axvline(edge, color=style.GREY, linewidth=1.0)
            level = data.light_at(widest, edge)
            number_at_arrow(
                axes,
                f"½ · {pupil_mm:g} mm · {data.adds_d[widest]:g} D\n= {edge:.0f} arcmin",
                (edge, float(np.clip(level, 2.0 * DIMMEST, BRIGHTEST))),
                (0.74 * width / 2.0, 0.02),
            )
        labels = [
            (lens.name, away, np.maximum(profile, DIMMEST / 10.0), line_of(lens)["color"])
            for lens, profile in zip(lenses, profiles, strict=True)
        ]
        label_lines(axes, labels)
    return FigureWithAlt(figure, _halo_in_words(data))


def _draw_lamp(axes, data, place):
    shown = axes.imshow(
        np.maximum(data.picture(place), DIMMEST),
        cmap="cividis",
        norm=LogNorm(DIMMEST, BRIGHTEST),
        interpolation="bilinear",
    )
    axes.set_title(data.lenses[place].name.replace(" ", "\n", 1), fontsize=12)
    axes.set(xticks=[], yticks=[])
    return shown


def _halo_in_words(data):
    pupil_mm = data.pupil_mm
    if not data.adds_d:
        return (
            f"A lamp at night through a pupil of {pupil_mm:g} mm: none of these lenses splits "
            "the light, so no halo with an edge surrounds it."
        )
    words = [
        f"{data.lenses[place].name} {data.halo_arcmin(place):.0f} arcmin "
        f"({pupil_mm:g} mm times {add_d:g} D)"
        for place, add_d in data.adds_d.items()
    ]
    whole = [lens.name for place, lens in enumerate(data.lenses) if place not in data.adds_d]
    rest = f" No such halo: {', '.join(whole)}." if whole else ""
    return (
        f"A lamp at night through a pupil of {pupil_mm:g} mm. Light that belongs to another focus "
        f"makes a dim disc around it, as wide as pupil times add: {'; '.join(words)}.{rest}"
    )


def letter_charts(
    lenses: Lens | Sequence[Lens] | None = None,
    pupil_mm: float = 3.0,
    distances_m: Sequence[float] = (6.0, 0.67, 0.40),
) -> FigureWithAlt:
    """Return the figure of a letter chart as the retina gets it, through each lens.

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
    FigureWithAlt
    """
    data = cases.chart_images(lenses, pupil_mm, distances_m)
    lenses, pupil_mm, distances = data.lenses, data.pupil_mm, data.distances_m
    lines = ", ".join(_snellen(size) for size in cases.CHART_LOGMAR)
    with style.applied():
        figure = noted_figure(
            184 * len(lenses) + 40,
            f"Rows {lines}; {pupil_mm:g}-mm pupil, one grey scale. Numbers are averages fitted to "
            f"the area under the MTF, pictures are not; they need not agree to the line. {LIMITS}",
        )
        panels = figure.subplots(len(lenses), len(distances), squeeze=False)
        for row, lens in enumerate(lenses):
            for column, distance_m in enumerate(distances):
                axes = panels[row, column]
                image = data.image(row, column)
                axes.imshow(
                    np.clip(image, 0.0, 1.0) ** (1.0 / _DISPLAY_GAMMA),
                    cmap="gray",
                    vmin=0.0,
                    vmax=1.0,
                    interpolation="antialiased",
                )
                axes.set(xticks=[], yticks=[])
                axes.spines[:].set_visible(True)
                logmar = data.logmar[row, column]
                axes.set_xlabel(
                    f"{style.signed(logmar, '', 1).lstrip('+')} logMAR, {_snellen(logmar)}",
                    labelpad=2,
                )
                if row == 0:
                    axes.set_title(_distance(distance_m), fontsize=12)
            panels[row, 0].set_ylabel(lens.name.replace(" ", "\n", 1), color=line_of(lens)["color"])
    message = [
        f"{lens.name} "
        + ", ".join(
            f"{_snellen(logmar)} at {_distance(d)}"
            for logmar, d in zip(row, distances, strict=True)
        )
        for lens, row in zip(lenses, data.logmar, strict=True)
    ]
    leaders = "; ".join(
        f"{', '.join(lens.name for lens in data.clearest(column)) or 'none'} at {_distance(d)}"
        for column, d in enumerate(distances)
    )
    return FigureWithAlt(
        figure,
        f"A letter chart on the retina, {pupil_mm:g}-mm pupil. Clearest: {leaders}. Predicted "
        f"acuity: {'; '.join(message)}.",
    )


def _snellen(logmar):
    return f"20/{snellen_line(float(logmar)):.0f}"


def _distance(distance_m):
    if np.isinf(distance_m):
        return "far"
    return f"{distance_m:g} m" if distance_m >= 1.0 else f"{100.0 * distance_m:.0f} cm"
