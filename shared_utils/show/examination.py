"""Figures and tables on candidacy: what each class of lens forgives, and why."""

from __future__ import annotations

import html
from typing import TYPE_CHECKING

import numpy as np
from IPython.display import HTML
from matplotlib.figure import Figure

from shared_utils.cases import examination as cases
from shared_utils.cases.examination import GATE_UM
from shared_utils.choice.candidacy import VERDICTS
from shared_utils.optics.lenses import LENS_CLASSES
from shared_utils.show import style
from shared_utils.show.figure_with_alt import TABLE, FigureWithAlt, with_caution

if TYPE_CHECKING:
    from shared_utils.choice.findings import Patient

SIGN = {"suits": "o", "with care": "D", "not advised": "X"}
FILL = {"suits": "white", "with care": "#b8b8b8", "not advised": "black"}
SIZE = {"suits": 12, "with care": 11, "not advised": 12}
"""Shape and shade of a verdict, apart from the colours of the classes."""

SHORT = {
    "monofocal": "mono-\nfocal",
    "enhanced monofocal": "enh.\nmono",
    "extended depth of focus": "ext.\ndepth",
    "bifocal": "bi-\nfocal",
    "trifocal": "tri-\nfocal",
}


def what_forgives_what() -> FigureWithAlt:
    """Return the figure of twelve findings, each alone in a healthy eye, against the five classes.

    Returns
    -------
    FigureWithAlt
        A verdict for each class, and how well the weightiest reason is founded.
    """
    data = cases.findings_alone()
    rows = data.rows
    with style.applied():
        figure = Figure(figsize=(7.0, 5.7), dpi=style.DPI, layout="constrained")
        axes = figure.add_subplot()
        for row, (_, advised) in enumerate(rows):
            for column, advice in enumerate(advised):
                _mark(axes, column, row, advice.verdict)
            axes.text(4.55, row, cases.founded(advised), va="center")
        axes.set(xlim=(-0.5, 6.95), ylim=(len(rows) - 0.5, -0.5))
        axes.set_yticks(range(len(rows)), [name for name, _ in rows])
        axes.set_xticks(
            [*range(5), 5.5], [*(SHORT[c] for c in LENS_CLASSES), "best-founded\nreason"]
        )
        axes.tick_params(length=0, top=False, labeltop=True, labelbottom=False)
        for label, lens_class in zip(axes.get_xticklabels(), LENS_CLASSES, strict=False):
            label.set_color(style.LENS_LINES[lens_class].colour)
        axes.spines[:].set_visible(False)
        for row in range(1, len(rows)):
            axes.axhline(row - 0.5, color="#dddddd", linewidth=0.8, zorder=0)
        for verdict in VERDICTS:
            axes.plot([], [], **_look(verdict), linestyle="none", label=verdict)
        axes.legend(loc="upper center", bbox_to_anchor=(0.3, 0.0), ncol=3, frameon=False)
    message = [
        f"{name}: {', '.join(f'{a.lens_class} {a.verdict}' for a in advised)}"
        for name, advised in rows
    ]
    one, split = data.squares_suited_of_one_focus, data.squares_suited_of_split_light
    return FigureWithAlt(
        figure,
        f"Twelve findings, each alone. Lenses with one focus suit in {one} of 24 squares, "
        f"lenses that split light in {split} of 24. {'; '.join(message)}.",
        advises=True,
    )


def _look(verdict):
    return {
        "marker": SIGN[verdict],
        "markersize": SIZE[verdict],
        "markerfacecolor": FILL[verdict],
        "markeredgecolor": "black",
        "markeredgewidth": 1.4,
    }


def _mark(axes, x, y, verdict):
    axes.plot([x], [y], linestyle="none", **_look(verdict))


def advice_table(patient: Patient) -> HTML:
    """Return what the rules say of each class for a patient, with the reasons against.

    Parameters
    ----------
    patient : findings.Patient

    Returns
    -------
    IPython.display.HTML
        A row for each class: verdict, reasons against, how well they are founded; the caution
        first and last.
    """
    rows = []
    for advice, against in cases.advice_with_reasons(patient):
        reasons = "".join(
            f"<li>{html.escape(r.text)} <em>({html.escape(_source(r))})</em></li>" for r in against
        )
        rows.append(
            f'<tr><th scope="row">{html.escape(advice.lens_class)}</th>'
            f"<td>{html.escape(advice.verdict)}</td>"
            f"<td>{f'<ul>{reasons}</ul>' if reasons else 'nothing'}</td></tr>"
        )
    return with_caution(
        f"{TABLE}<thead><tr><th>class</th><th>verdict</th><th>what speaks against it</th>"
        f"</tr></thead><tbody>{''.join(rows)}</tbody></table>"
    )


def _source(reason):
    if reason.source.startswith(reason.strength):
        return reason.source
    return f"{reason.strength}: {reason.source}"


def two_bodies(corneal_sa_um: float, lens_sa_um: float) -> FigureWithAlt:
    """Return the figure of what a negative and a neutral lens body leave, against decentration.

    Parameters
    ----------
    corneal_sa_um, lens_sa_um : float
        Spherical aberration of the cornea and of the negative body over 6 mm, µm.

    Returns
    -------
    FigureWithAlt
        Without numbers at the curves: they are to be read off.
    """
    data = cases.two_bodies(corneal_sa_um, lens_sa_um)
    with style.applied():
        figure = Figure(figsize=(7.0, 4.0), dpi=style.DPI)
        axes = figure.add_axes((0.11, 0.15, 0.86, 0.75))
        for name, left_um, colour, dashes in (
            ("negative body", data.negative_left_um, style.ORANGE, "-"),
            ("neutral body", data.neutral_left_um, style.SKY, "--"),
        ):
            axes.plot(data.decentration_mm, left_um, color=colour, linestyle=dashes, label=name)
        axes.set(
            xlim=(0, 0.9),
            ylim=(0, 0.7),
            xlabel="lens off the pupil's centre, mm",
            ylabel="aberration left over 6 mm, µm",
        )
        style.ruled(axes.xaxis, 0.1, 0.02)
        style.ruled(axes.yaxis, 0.1, 0.02)
        axes.legend(loc="upper left", frameon=True)
    cornea, body = (style.signed(um, "µm") for um in (corneal_sa_um, lens_sa_um))
    return FigureWithAlt(
        figure,
        f"Aberration left over 6 mm against decentration, cornea {cornea}: a rising curve for a "
        f"body of {body}, a flat line for a neutral one. They cross once.",
    )


STAGES = ("tears and cornea", "lens", "retina and nerve")
STAGE_COLOURS = (style.SKY, style.ORANGE, style.GREY)


def losses_to_read(
    cornea_log: float = 0.05, lens_log: float = 0.40, retina_log: float = 0.15
) -> FigureWithAlt:
    """Return the figure of what three stages cost in contrast, one after the other, to be read.

    Parameters
    ----------
    cornea_log, lens_log, retina_log : float
        Log units; at most 0.9 in all.

    Returns
    -------
    FigureWithAlt
    """
    lost = (cornea_log, lens_log, retina_log)
    with style.applied():
        figure = Figure(figsize=(7.0, 2.5), dpi=style.DPI, layout="constrained")
        axes = figure.add_subplot()
        start = 0.0
        for row, (one, colour) in enumerate(zip(lost, STAGE_COLOURS, strict=True)):
            axes.barh(row, one, left=start, height=0.6, color=colour, edgecolor="black")
            start += one
            # to the next stage, which begins where this one ends
            axes.plot([start, start], [row, row + 0.7], color="black", linewidth=1.2, zorder=3)
        axes.set(xlim=(0, 0.9), ylim=(2.75, -0.45), xlabel="contrast lost, log units; grid: 0.05")
        axes.set_yticks(range(3), STAGES)
        axes.tick_params(axis="y", length=0)
        style.ruled(axes.xaxis, 0.1, 0.05)
    bars = ", ".join(f"{name} {one:.2f}" for name, one in zip(STAGES, lost, strict=True))
    return FigureWithAlt(
        figure,
        f"Bars of contrast lost, in log units, each beginning where the one before ends: {bars}.",
    )


def readings_to_read(
    turn: int = 0, near_um: float = 0.52, open_um: float = 0.53, open_sd_um: float = 0.05
) -> FigureWithAlt:
    """Return the figure of four maps each of four eyes beside a gate, to be read.

    Parameters
    ----------
    turn, near_um, open_um, open_sd_um
        As for `four_maps_um`.

    Returns
    -------
    FigureWithAlt
    """
    readings = dict(sorted(cases.four_maps_um(turn, near_um, open_um, open_sd_um).items()))
    with style.applied():
        figure = Figure(figsize=(7.0, 3.0), dpi=style.DPI, layout="constrained")
        axes = figure.add_subplot()
        axes.axvline(GATE_UM, color=style.VERMILION, linestyle="--")
        axes.text(GATE_UM, 0.35, "gate ", color=style.VERMILION, ha="right", va="center")
        for eye, own in readings.items():
            axes.plot(
                own,
                np.full(own.size, eye),
                "o",
                markersize=9,
                markerfacecolor="none",
                markeredgecolor=style.BLUE,
                markeredgewidth=1.6,
            )
        axes.set(xlim=(0.25, 0.65), ylim=(4.5, 0.1), xlabel="higher-order aberration over 6 mm, µm")
        axes.set_yticks(list(readings), [f"eye {eye}" for eye in readings])
        axes.tick_params(axis="y", length=0)
        axes.set_xticks(np.arange(0.25, 0.66, 0.01), minor=True)
        style.ruled(axes.xaxis, 0.05)
    message = "; ".join(
        f"eye {eye} {', '.join(f'{um:.2f}' for um in own)}" for eye, own in readings.items()
    )
    return FigureWithAlt(
        figure,
        f"Readings of higher-order aberration over 6 mm, in µm, and a gate at {GATE_UM:.2f}: "
        f"{message}.",
    )
