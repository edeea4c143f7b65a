"""Figures on what a lens does to light: its energy, its contrast through focus, the acuity."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from matplotlib.colors import to_rgb

from shared_utils.cases import light as cases
from shared_utils.cases.light import USABLE_LOGMAR, VERGENCE_D
from shared_utils.optics.through_focus import (
    ACUITY_UNCERTAINTY_LOGMAR,
    LIMITS,
    RANGE_UNCERTAINTY_D,
)
from shared_utils.show import style
from shared_utils.show.figure_parts import (
    distance_axis,
    label_lines,
    line_of,
    noted_figure,
    number_at_arrow,
    snellen_axis,
)
from shared_utils.show.figure_with_alt import FigureWithAlt

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import ArrayLike

    from shared_utils.optics.lenses import Lens

WORST_LOGMAR, BEST_LOGMAR = 1.05, -0.25
_HATCH = {"far": "", "intermediate": "//", "near": "..", "lost": ""}
_CURVES_BELOW = 0.72  # of the height of a panel; words stand above
_BAR_PX, _ROW_PX = 62, 94


def energy_split(
    lenses: Lens | Sequence[Lens] | None = None,
    pupil_mm: float = 3.0,
    wavelength_nm: float | None = 555.0,
) -> FigureWithAlt:
    """Return the figure of where the light of each lens goes.

    Parameters
    ----------
    lenses : Lens or sequence of up to five, optional
        One of each class unless given.
    pupil_mm : float
        Pupil diameter, 0.5 to 9 mm.
    wavelength_nm : float or None
        380 to 780 nm; None for white light.

    Returns
    -------
    FigureWithAlt
    """
    data = cases.energy_split(lenses, pupil_mm, wavelength_nm)
    lenses, pupil_mm, budgets = data.lenses, data.pupil_mm, data.budgets
    light = "white light" if wavelength_nm is None else f"{float(wavelength_nm):g} nm"
    with style.applied():
        figure = noted_figure(
            _ROW_PX * len(lenses) + 78,
            f"{pupil_mm:g}-mm pupil, {light}. {LIMITS}",
        )
        axes = figure.subplots()
        axes.set(xlim=(0, 100), ylim=(len(lenses) - 0.32, -0.5), xlabel="share of the light (%)")
        axes.set_yticks(range(len(lenses)), [lens.name.replace(" ", "\n", 1) for lens in lenses])
        axes.tick_params(axis="y", length=0)
        figure.draw_without_rendering()
        per_px = 100.0 / axes.get_window_extent().width
        for row, (lens, budget) in enumerate(zip(lenses, budgets, strict=True)):
            _draw_bar(axes, row, lens, budget, per_px)
        most, lost = data.loses_most, data.max_lost_percent
        if lost >= 0.5:
            number_at_arrow(
                axes,
                f"{lost:.0f} % in no focus",
                (100.0 - lost / 2.0, most + 0.5 * _BAR_PX / _ROW_PX),
                (60.0, most + 0.53),
            )
    shares = [
        f"{lens.name}: " + ", ".join(f"{part} {100 * e:.0f} %" for part, e in budget.items())
        for lens, budget in zip(lenses, budgets, strict=True)
    ]
    if lost >= 0.5:
        conclusion = f"The {lenses[most].name} loses most, {lost:.0f} % of the light."
    else:
        conclusion = "None of these lenses loses light."
    alt = f"{conclusion} Share of the light of each focus, {light}. {'; '.join(shares)}."
    return FigureWithAlt(figure, alt)


def _draw_bar(axes, row, lens, budget, per_px):
    colour = style.LENS_LINES[lens.lens_class].colour
    tint = tuple(1.0 - 0.30 * (1.0 - channel) for channel in to_rgb(colour))
    left = 0.0
    for part, energy in budget.items():
        wide = 100.0 * energy
        if wide < 0.05:
            continue
        axes.barh(
            row,
            wide,
            left=left,
            height=_BAR_PX / _ROW_PX,
            facecolor="white" if part == "lost" else tint,
            edgecolor=style.GREY if part == "lost" else colour,
            hatch=_HATCH[part],
            linewidth=1.5,
            linestyle=":" if part == "lost" else "-",
        )
        broken = {"intermediate": "inter-\nmediate"}.get(part, part)
        for words in (f"{part}\n{wide:.0f} %", f"{broken}\n{wide:.0f} %", f"{wide:.0f} %"):
            text = axes.text(
                left + wide / 2.0,
                row,
                words,
                ha="center",
                va="center",
                linespacing=1.0,
                bbox={"facecolor": "white", "edgecolor": "none", "pad": 0.8, "alpha": 0.85},
            )
            if text.get_window_extent().width + 6 < wide / per_px:
                break
            text.remove()
        left += wide


def contrast_through_focus(
    lenses: Lens | Sequence[Lens] | None = None,
    pupils_mm: ArrayLike = (3.0, 4.5),
    frequency_cpd: float = 15.0,
) -> FigureWithAlt:
    """Return the figure of contrast against the distance of the object, a panel for each pupil.

    Parameters
    ----------
    lenses : Lens or sequence of up to five, optional
        One of each class unless given.
    pupils_mm : one or two floats
        Pupil diameters, 0.5 to 9 mm.
    frequency_cpd : float
        Fineness of the lines, 1 to 60 cycles/degree; 15 are about 50 lines/mm on the retina.

    Returns
    -------
    FigureWithAlt
    """
    data = cases.contrast_curves(lenses, pupils_mm, frequency_cpd)
    lenses, frequency = data.lenses, data.frequency_cpd
    with style.applied():
        figure = noted_figure(
            290 * len(data.pupils_mm) + 60, f"White light, {frequency:g} cycles/degree. {LIMITS}"
        )
        panels = np.atleast_1d(figure.subplots(len(data.pupils_mm), 1, sharex=True, sharey=True))
        message = []
        top = max(0.1, np.ceil(10.0 * data.highest / _CURVES_BELOW) / 10.0)
        for row, (axes, pupil) in enumerate(zip(panels, data.pupils_mm, strict=True)):
            curves = data.curves[row]
            for lens, curve in zip(lenses, curves, strict=True):
                axes.plot(VERGENCE_D, curve, **line_of(lens))
            axes.set(xlim=(1.0, -4.0), ylim=(0.0, top), ylabel="contrast passed")
            axes.text(
                0.985, 0.95, f"pupil {pupil:g} mm", ha="right", va="top", transform=axes.transAxes
            )
            style.signed_ticks(axes.xaxis, 0)
            distance_axis(axes, label=axes is panels[0])
            axes.axvline(0.0, color=style.GREY, linewidth=0.8, zorder=0)
            ratio = data.beside_monofocal[row]
            if ratio is not None:
                chosen = data.chosen(row)
                number_at_arrow(
                    axes,
                    f"{lenses[chosen].name}:\n{ratio:.2f} of the\nmonofocal's",
                    (0.0, data.far[row][chosen]),
                    (0.93, 0.86 * top),
                    ha="left",
                )
            labels = [
                (lens.name, VERGENCE_D, curve, line_of(lens)["color"])
                for lens, curve in zip(lenses, curves, strict=True)
            ]
            label_lines(axes, labels)
            message.append(_contrast_in_words(data, row))
        panels[-1].set_xlabel("vergence of the object (D)")
    alt = (
        f"Contrast of lines of {frequency:g} cycles/degree against the distance of the object. "
        + " ".join(message)
    )
    return FigureWithAlt(figure, alt)


def _contrast_in_words(data, row):
    words = []
    for column, lens in enumerate(data.lenses):
        best, distance_cm = data.best_near(row, column)
        words.append(
            f"{lens.name} {data.far[row][column]:.2f} at far and, within 1 m, at most {best:.2f} "
            f"at {distance_cm:.0f} cm"
        )
    return f"With a pupil of {data.pupils_mm[row]:g} mm: {'; '.join(words)}."


def defocus_acuity(
    lenses: Lens | Sequence[Lens] | None = None, pupil_mm: float = 3.0
) -> FigureWithAlt:
    """Return the figure of predicted acuity against the distance of the object.

    Parameters
    ----------
    lenses : Lens or sequence of up to five, optional
        One of each class unless given.
    pupil_mm : float
        Pupil diameter, 0.5 to 9 mm.

    Returns
    -------
    FigureWithAlt
    """
    data = cases.acuity_curves(lenses, pupil_mm)
    lenses, pupil_mm = data.lenses, data.pupil_mm
    curves, reach = data.curves_logmar, data.reach_d
    with style.applied():
        figure = noted_figure(470, f"White light, {pupil_mm:g}-mm pupil. {LIMITS}")
        axes = figure.subplots()
        axes.axhspan(BEST_LOGMAR, USABLE_LOGMAR, color=style.SKY, alpha=0.18, linewidth=0)
        axes.text(0.95, BEST_LOGMAR + 0.02, "20/32 or better", va="top", color=style.GREY)
        for lens, curve in zip(lenses, curves, strict=True):
            axes.plot(VERGENCE_D, curve, **line_of(lens))
        axes.set(
            xlim=(1.0, -4.0),
            ylim=(WORST_LOGMAR, BEST_LOGMAR),
            xlabel="vergence of the object (D)",
            ylabel="acuity (logMAR), better upwards",
        )
        style.signed_ticks(axes.xaxis, 0)
        style.signed_ticks(axes.yaxis, 1, plus=False)
        axes.set_yticks(np.arange(-0.2, 1.01, 0.2))
        distance_axis(axes)
        snellen_axis(axes, [16, 20, 32, 50, 80, 125, 200])
        _draw_uncertainty(axes)
        chosen, ends = data.chosen, data.chosen_ends
        if ends:
            cm = 100.0 / reach[chosen]
            number_at_arrow(
                axes,
                f"{lenses[chosen].name}: {reach[chosen]:.1f} D\n= {cm:.0f} cm = {cm / 2.54:.0f} in",
                (-reach[chosen], USABLE_LOGMAR),
                (-2.95, -0.12),
                color=line_of(lenses[chosen])["color"],
            )
        # a lens that is named at the arrow needs no second name
        labels = [
            (lens.name, VERGENCE_D, curve, line_of(lens)["color"])
            for number, (lens, curve) in enumerate(zip(lenses, curves, strict=True))
            if not (ends and number == chosen)
        ]
        label_lines(axes, labels)
    message = [
        f"{lens.name} from far to {_cm(reach_d)}, {_plain(at_40)} logMAR at 40 cm"
        for lens, reach_d, at_40 in zip(lenses, reach, data.at_40_cm_logmar, strict=True)
    ]
    alt = (
        f"Predicted acuity against the distance of the object, {pupil_mm:g}-mm pupil. Usable "
        f"(20/32 or better) without a gap: {'; '.join(message)}. Acuities are good to "
        f"±{ACUITY_UNCERTAINTY_LOGMAR:g} logMAR, ranges to ±{RANGE_UNCERTAINTY_D:g} D."
    )
    return FigureWithAlt(figure, alt)


def _draw_uncertainty(axes):
    x, y = 0.65, 0.72
    axes.errorbar(
        [x],
        [y],
        xerr=RANGE_UNCERTAINTY_D,
        yerr=ACUITY_UNCERTAINTY_LOGMAR,
        color=style.GREY,
        capsize=4,
        linewidth=1.5,
    )
    axes.text(
        x - 0.35,
        y,
        f"good to\n±{ACUITY_UNCERTAINTY_LOGMAR:g} logMAR\n±{RANGE_UNCERTAINTY_D:g} D",
        color=style.GREY,
        va="center",
        linespacing=1.1,
    )


def _plain(logmar):
    return style.signed(logmar, "", 1).lstrip("+")


def _cm(reach_d):
    if reach_d == 0.0:
        return "nowhere"
    return f"{100.0 / reach_d:.0f} cm ({reach_d:.1f} D)"
