"""Figures on what the retina gets to see: lamps at night and letters at three distances."""

import numpy as np
from matplotlib.colors import LogNorm

from shared_utils.optics import acuity, letters, retina, through_focus
from shared_utils.optics.domain import require, require_one
from shared_utils.optics.lenses import PUPIL_HINT, PUPIL_RANGE_MM
from shared_utils.optics.through_focus import ACUITY_UNCERTAINTY_LOGMAR, LIMITS
from shared_utils.show import style
from shared_utils.show.figure_parts import (
    label_lines,
    line_of,
    noted_figure,
    number_at_arrow,
    some_lenses,
)
from shared_utils.show.figure_with_alt import FigureWithAlt

DIMMEST, BRIGHTEST = 1e-6, 0.3  # light per arcmin²; one scale for all pictures
CANCELS_CORNEA_UM = -0.27
CHART_LOGMAR = (0.5, 0.3, 0.1, 0.0)
_PIXEL_ARCMIN = 0.25
_CHART_ARCMIN = (76, 98)
_DISPLAY_GAMMA = 2.2  # screens turn this power of a grey value into light


def night_halo(lenses=None, pupil_mm=5.0):
    """Return the figure of a lamp at night: its picture through each lens, and the profile.

    Parameters
    ----------
    lenses : Lens or sequence of up to five, optional
        One of each class unless given, each with the aspheric body that cancels the average
        cornea: else spherical aberration makes a halo of its own in a wide pupil.
    pupil_mm : float
        Pupil diameter, 2 to 9 mm.

    Returns
    -------
    FigureWithAlt
    """
    own = lenses is None
    lenses = some_lenses(lenses, CANCELS_CORNEA_UM)
    pupil_mm = require_one("pupil_mm", pupil_mm, 2.0, PUPIL_RANGE_MM[1], hint=PUPIL_HINT)
    split = [lens for lens in lenses if retina.outermost_add_d(lens)]
    adds = [retina.outermost_add_d(lens) for lens in split]
    radius = max((retina.geometric_halo_arcmin(pupil_mm, add) / 2.0 for add in adds), default=20.0)
    width = float(np.clip(np.ceil(4.0 * radius / 10.0) * 10.0, 20.0, 240.0))
    away = np.linspace(0.0, width / 2.0, 241)
    profiles = [retina.halo_profile(lens, pupil_mm, away) for lens in lenses]
    with style.applied():
        bodies = ", aspheric lenses that cancel the cornea" if own else ""
        figure = noted_figure(
            560, f"Distant white lamp, {pupil_mm:g}-mm pupil{bodies}. Logarithmic scale. {LIMITS}"
        )
        grid = figure.add_gridspec(2, len(lenses), height_ratios=(1.0, 2.0), wspace=0.02)
        row = [figure.add_subplot(grid[0, column]) for column in range(len(lenses))]
        for axes, lens in zip(row, lenses, strict=True):
            shown = _draw_lamp(axes, lens, pupil_mm, width)
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
        if split:
            widest = int(np.argmax(adds))
            edge = retina.geometric_halo_arcmin(pupil_mm, adds[widest]) / 2.0
            axes.axvline(edge, color=style.GREY, linewidth=1.0)
            level = np.interp(edge, away, profiles[lenses.index(split[widest])])
            number_at_arrow(
                axes,
                f"½ · {pupil_mm:g} mm · {adds[widest]:g} D\n= {edge:.0f} arcmin",
                (edge, np.clip(level, 2.0 * DIMMEST, BRIGHTEST)),
                (0.74 * width / 2.0, 0.02),
            )
        labels = [
            (lens.name, away, np.maximum(profile, DIMMEST / 10.0), line_of(lens)["color"])
            for lens, profile in zip(lenses, profiles, strict=True)
        ]
        label_lines(axes, labels)
    return FigureWithAlt(figure, _halo_in_words(lenses, pupil_mm, split, adds))


def _draw_lamp(axes, lens, pupil_mm, width):
    picture = retina.night_scene(lens, pupil_mm, width_arcmin=width, pixels=201)
    shown = axes.imshow(
        np.maximum(picture, DIMMEST),
        cmap="cividis",
        norm=LogNorm(DIMMEST, BRIGHTEST),
        interpolation="bilinear",
    )
    axes.set_title(lens.name.replace(" ", "\n", 1), fontsize=12)
    axes.set(xticks=[], yticks=[])
    return shown


def _halo_in_words(lenses, pupil_mm, split, adds):
    if not split:
        return (
            f"A lamp at night through a pupil of {pupil_mm:g} mm: none of these lenses splits "
            "the light, so no halo with an edge surrounds it."
        )
    words = []
    for lens, add in zip(split, adds, strict=True):
        ring = retina.geometric_halo_arcmin(pupil_mm, add)
        words.append(f"{lens.name} {ring:.0f} arcmin ({pupil_mm:g} mm times {add:g} D)")
    whole = [lens.name for lens in lenses if lens not in split]
    rest = f" No such halo: {', '.join(whole)}." if whole else ""
    return (
        f"A lamp at night through a pupil of {pupil_mm:g} mm. Light that belongs to another focus "
        f"makes a dim disc around it, as wide as pupil times add: {'; '.join(words)}.{rest}"
    )


def letter_charts(lenses=None, pupil_mm=3.0, distances_m=(6.0, 0.67, 0.40)):
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
    lenses = some_lenses(lenses)
    pupil_mm = require_one("pupil_mm", pupil_mm, *PUPIL_RANGE_MM, hint=PUPIL_HINT)
    distances = np.atleast_1d(
        require(
            "distances_m",
            distances_m,
            *retina.DISTANCE_RANGE_M,
            hint="In metres; far is inf.",
            infinite=True,
        )
    )
    if distances.ndim != 1 or not 1 <= len(distances) <= 3:
        raise ValueError(f"distances_m holds {distances.size} numbers; give one to three, in m.")
    predicted = np.array(
        [through_focus.acuity_logmar(lens, pupil_mm, -1.0 / distances) for lens in lenses]
    )
    pixel_deg = _PIXEL_ARCMIN / 60.0
    shape = tuple(int(side / _PIXEL_ARCMIN) for side in _CHART_ARCMIN)
    paper = letters.chart(CHART_LOGMAR, pixel_deg, shape, letters_per_row=3)
    lines = ", ".join(_snellen(size) for size in CHART_LOGMAR)
    with style.applied():
        figure = noted_figure(
            184 * len(lenses) + 40,
            f"Rows {lines}; {pupil_mm:g}-mm pupil, one grey scale. Numbers are averages fitted to "
            f"the area under the MTF, pictures are not; they need not agree to the line. {LIMITS}",
        )
        panels = figure.subplots(len(lenses), len(distances), squeeze=False)
        for row, lens in enumerate(lenses):
            for column, distance_m in enumerate(distances.tolist()):
                axes = panels[row, column]
                seen = retina.image(paper, pixel_deg, lens, pupil_mm, distance_m)
                axes.imshow(
                    np.clip(seen, 0.0, 1.0) ** (1.0 / _DISPLAY_GAMMA),
                    cmap="gray",
                    vmin=0.0,
                    vmax=1.0,
                    interpolation="antialiased",
                )
                axes.set(xticks=[], yticks=[])
                axes.spines[:].set_visible(True)
                logmar = predicted[row, column]
                axes.set_xlabel(
                    f"{style.signed(logmar, '', 1).lstrip('+')} logMAR, {_snellen(logmar)}",
                    labelpad=2,
                )
                if row == 0:
                    axes.set_title(_distance(distance_m), fontsize=12)
            panels[row, 0].set_ylabel(lens.name.replace(" ", "\n", 1), color=line_of(lens)["color"])
    said = [
        f"{lens.name} "
        + ", ".join(
            f"{_snellen(logmar)} at {_distance(d)}"
            for logmar, d in zip(row, distances, strict=True)
        )
        for lens, row in zip(lenses, predicted, strict=True)
    ]
    leaders = "; ".join(
        f"{_clearest(lenses, column)} at {_distance(d)}"
        for column, d in zip(predicted.T, distances, strict=True)
    )
    return FigureWithAlt(
        figure,
        f"A letter chart on the retina, {pupil_mm:g}-mm pupil. Clearest: {leaders}. Predicted "
        f"acuity: {'; '.join(said)}.",
    )


def _clearest(lenses, logmar):
    """Names of the best, and of those that the model cannot tell from it."""
    if logmar.min() >= 1.0:
        return "none"
    best = logmar.min() + ACUITY_UNCERTAINTY_LOGMAR / 2.0
    return ", ".join(x.name for x, v in zip(lenses, logmar, strict=True) if v <= best)


def _snellen(logmar):
    return f"20/{acuity.convert(float(logmar), 'logmar', 'snellen_20'):.0f}"


def _distance(distance_m):
    if np.isinf(distance_m):
        return "far"
    return f"{distance_m:g} m" if distance_m >= 1.0 else f"{100.0 * distance_m:.0f} cm"
