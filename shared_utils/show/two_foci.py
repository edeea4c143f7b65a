"""Figures on lenses that split the light: their steps, and the share of each focus."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING

from shared_utils.cases.two_foci import (
    READ_CPD,
    READ_PUPIL_MM,
    contrast_peaks,
    shares_of_steps,
    stepped_lenses,
)
from shared_utils.optics.lenses import DESIGN_WAVELENGTH_NM
from shared_utils.show import style
from shared_utils.show.figure_parts import line_of, noted_figure
from shared_utils.show.figure_with_alt import FigureWithAlt

if TYPE_CHECKING:
    from matplotlib.axes import Axes

_SHOWN_D = (1.7, -3.7)


def focus_words(name: str) -> str:
    """Return the name of a focus, short enough to stand over a bar."""
    return {"intermediate": "inter-\nmediate"}.get(name, name)


def few_distances(axes: Axes) -> None:
    """Put some distances of the object on top of a narrow axis of its vergence."""
    top = axes.secondary_xaxis("top")
    top.set_xticks([0.0, -1.0, -2.0, -3.0, -4.0, -5.0], ["far", "100", "50", "33", "25", "20"])
    top.set_xlabel("distance of the object, cm")


def steps_and_shares() -> FigureWithAlt:
    """Return the figure of three lenses: the steps from the middle outwards, and their orders.

    Returns
    -------
    FigureWithAlt
    """
    lenses = stepped_lenses()
    with style.applied():
        figure = noted_figure(
            540,
            f"Adds at the corneal plane; {DESIGN_WAVELENGTH_NM:g} nm. Left: path against the "
            "distance from the middle, the smooth far power left out. Right: where each order is "
            "in focus, and its share. Generic lenses, scalar theory.",
        )
        panels = figure.subplots(len(lenses), 2, width_ratios=(1.0, 1.35))
        for row, stepped in enumerate(lenses):
            _draw_steps(panels[row, 0], stepped)
            _draw_orders(panels[row, 1], stepped)
        panels[-1, 0].set_xlabel("from the middle, mm")
        panels[-1, 1].set_xlabel("vergence of the object, D")
        few_distances(panels[0, 1])
    message = []
    for stepped in lenses:
        lens = stepped.lens
        shares = ", ".join(f"{focus} {100 * e:.0f} %" for focus, e in stepped.budget.items())
        message.append(f"{lens.name} with steps of {_heights(lens)} wavelengths: {shares}")
    return FigureWithAlt(
        figure,
        "Steps on a lens and the orders that they make. The height of the steps decides how the "
        f"light is shared, the width of the rings where the foci lie. {'; '.join(message)}.",
    )


def shares_to_read(step: float = 0.3, add_d: float = 2.5) -> FigureWithAlt:
    """Return the figure of the orders of one stepped lens and their shares, to be read.

    Parameters
    ----------
    step : float
        Height of the steps, wavelengths.
    add_d : float
        Near add at the corneal plane, 1 to 3 D.

    Returns
    -------
    FigureWithAlt
    """
    lens, orders = shares_of_steps(step, add_d)
    places = [order.place_d for order in orders]
    shares = [100.0 * order.energy for order in orders]
    with style.applied():
        figure = noted_figure(
            300, f"{DESIGN_WAVELENGTH_NM:g} nm; orders farther out are left out. Grid: 10 %."
        )
        axes = figure.subplots()
        axes.bar(places, shares, width=0.5, color=line_of(lens)["color"])
        axes.set(
            xlim=(4.0, -6.5),
            ylim=(0, 100),
            xticks=places,
            xlabel="vergence of the object that is in focus, D",
            ylabel="share of the light, %",
        )
        style.ruled(axes.yaxis, 20, 10)
        style.signed_ticks(axes.xaxis, 1)
    bars = ", ".join(
        f"{share:.0f} % at {style.signed(place, 'D', 1)}"
        for place, share in zip(places, shares, strict=True)
    )
    return FigureWithAlt(
        figure,
        f"Shares of the light in the orders of a stepped lens, as bars: {bars}. Orders farther out "
        "are left out.",
    )


@cache
def peaks_to_read(add_d: float = 2.25, refraction_d: float = -0.5) -> FigureWithAlt:
    """Return the figure of contrast against the vergence of the object, to be read.

    Parameters
    ----------
    add_d : float
        Near add at the corneal plane, 1.5 to 3 D.
    refraction_d : float
        Of the eye for far, −1 to 0 D.

    Returns
    -------
    FigureWithAlt
    """
    data = contrast_peaks(add_d, refraction_d)
    with style.applied():
        figure = noted_figure(
            320,
            f"Lines of {READ_CPD:g} cycles/degree, {READ_PUPIL_MM:g}-mm pupil, green light. "
            "Grid: 0.25 D.",
        )
        axes = figure.subplots()
        axes.plot(data.object_d, data.contrast, **line_of(data.lens))
        axes.set(
            xlim=(1.0, -5.0),
            ylim=(0, 0.5),
            xlabel="vergence of the object, D",
            ylabel="contrast passed",
        )
        style.ruled(axes.xaxis, 1, 0.25, digits=0)
    places = [style.signed(place) for place in data.places_d]
    return FigureWithAlt(
        figure,
        "Contrast passed against the vergence of the object: two peaks of the same height, at "
        f"{places[0]} and at {places[1]}.",
    )


def _heights(lens):
    return " and ".join(f"{step:g}" for step in lens.steps)


def _draw_steps(axes, stepped):
    lens, r, waves = stepped.lens, stepped.radius_mm, stepped.path_waves
    colour = line_of(lens)["color"]
    axes.fill_between(r, waves, color=colour, alpha=0.18, linewidth=0)
    axes.plot(r, waves, color=colour, linewidth=1.5)
    axes.set(xlim=(0, r[-1]), ylim=(0, 1.65), yticks=(0, 0.5, 1, 1.5))
    axes.set_ylabel(f"{lens.name.replace(' ', chr(10), 1)}\nwavelengths", color=colour)


def _draw_orders(axes, stepped):
    colour = line_of(stepped.lens)["color"]
    axes.set(xlim=_SHOWN_D, ylim=(0, 1.0), yticks=(0, 0.2, 0.4, 0.6))
    style.signed_ticks(axes.xaxis, 0)
    for order in stepped.orders:
        place, energy, name = order.place_d, order.energy, order.focus
        if not _SHOWN_D[1] < place < _SHOWN_D[0]:
            continue
        axes.bar(
            place,
            energy,
            width=0.25,
            facecolor=colour if name else "white",
            edgecolor=colour if name else style.GREY,
            linestyle="-" if name else ":",
            linewidth=1.2,
        )
        if name:
            axes.text(
                place,
                energy + 0.02,
                f"{focus_words(name)}\n{100 * energy:.0f} %",
                ha="center",
                va="bottom",
                linespacing=1.0,
            )
    lost = 100.0 * stepped.budget["lost"]
    axes.text(
        _SHOWN_D[1], 0.99, f"in no focus {lost:.0f} %", ha="right", va="top", color=style.GREY
    )
