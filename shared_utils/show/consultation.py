"""Figures of a consultation: powers side by side, two eyes together, the sheet in a page."""

from __future__ import annotations

import html
from typing import TYPE_CHECKING

import numpy as np
from IPython.display import HTML
from matplotlib.figure import Figure

from shared_utils.cases import consultation as cases
from shared_utils.show import sheet, style
from shared_utils.show.figure_parts import distance_axis, line_of
from shared_utils.show.figure_with_alt import TABLE, FigureWithAlt, with_caution
from shared_utils.show.style import signed

if TYPE_CHECKING:
    from collections.abc import Sequence

    from shared_utils.clinic.patient_file import Consultation
    from shared_utils.optics.lenses import Lens

SHEET_HEIGHT_PX = 620


def powers_side_by_side(consultation: Consultation) -> FigureWithAlt:
    """Return the figure of what each available lens would leave, by three formulas.

    Parameters
    ----------
    consultation : patient_file.Consultation

    Returns
    -------
    FigureWithAlt
        With the warnings of the gate named.

    Raises
    ------
    ValueError
        If the gate withholds the power of this eye, with the reason and what comes first.
    """
    rows = cases.powers_by_formula(consultation)
    warned = ", ".join(entry.title for entry in cases.gate_of(consultation).warnings)
    with style.applied():
        figure = Figure(figsize=(7.0, 2.9), dpi=style.DPI, layout="constrained")
        axes = figure.add_subplot()
        axes.axvspan(
            consultation.target_d - 0.5,
            consultation.target_d + 0.5,
            color=style.SKY,
            alpha=0.18,
            linewidth=0,
        )
        axes.axvline(consultation.target_d, color=style.GREY, linewidth=1.0)
        for row, found in enumerate(rows.values()):
            for place, (power_d, left_d) in enumerate(
                zip(found.iol_power_d, found.predicted_d, strict=True)
            ):
                best = place == found.nearest
                axes.plot(
                    [left_d],
                    [row],
                    "o",
                    markersize=11,
                    markerfacecolor="black" if best else "white",
                    markeredgecolor="black",
                )
                axes.text(left_d, row - 0.28, f"{power_d:.1f}", ha="center", va="bottom")
        axes.set(
            xlim=(consultation.target_d + 1.0, consultation.target_d - 1.0),
            ylim=(2.45, -0.85),
            xlabel="refraction that the lens would leave, D; filled: nearest to the target",
        )
        axes.set_yticks(range(len(rows)), list(rows))
        axes.tick_params(axis="y", length=0)
        style.signed_ticks(axes.xaxis, 2)
        if warned:
            axes.set_title(f"Warnings: {warned}", wrap=True, loc="left")
    message = [
        f"{name}: {found.iol_power_d[found.nearest]:.1f} D leaves "
        f"{signed(found.predicted_d[found.nearest])}"
        for name, found in rows.items()
    ]
    return FigureWithAlt(
        figure,
        f"What each lens would leave, target {signed(consultation.target_d)}. "
        f"{'; '.join(message)}. "
        "Half a dioptre of lens changes the refraction by about a third of a dioptre."
        + (f" Warnings: {warned}." if warned else ""),
        advises=True,
    )


def two_eyes(lens: Lens, offset_d: float, pupil_mm: float) -> FigureWithAlt:
    """Return the figure of the acuity of two eyes with one lens, the left set nearer.

    Parameters
    ----------
    lens : Lens
    offset_d : float
        How much more short-sighted the left eye is, D, 0 or more.
    pupil_mm : float

    Returns
    -------
    FigureWithAlt
        Without numbers at the curves: they are to be read off.
    """
    data = cases.two_eyes(lens, offset_d, pupil_mm)
    with style.applied():
        figure = Figure(figsize=(7.0, 4.4), dpi=style.DPI, layout="constrained")
        axes = figure.add_subplot()
        for name, logmar, width in (
            ("right eye", data.right_logmar, 2.2),
            ("left eye", data.left_logmar, 1.0),
        ):
            line = {**line_of(lens), "linewidth": width}
            axes.plot(data.vergence_d, logmar, label=name, **line)
        axes.set(
            xlim=(0.0, -3.0),
            ylim=(0.8, -0.2),
            xlabel="vergence of the object, D",
            ylabel="logMAR, better upwards",
        )
        style.ruled(axes.xaxis, 0.5, 0.1, digits=1)
        style.ruled(axes.yaxis, 0.2, 0.05, digits=1, plus=False)
        distance_axis(axes)
        axes.legend(loc="lower left", frameon=True)
    return FigureWithAlt(
        figure,
        f"Acuity of the right eye, set for far, and of the left, {signed(-offset_d)}, against "
        "distance. The curves cross once; beyond it the left eye is the better. To be read off.",
    )


def plans_table(consultation: Consultation, plans: Sequence[tuple[str, float]]) -> HTML:
    """Return plans for both eyes side by side: verdict, tasks clear, glasses, rings at night.

    Parameters
    ----------
    consultation : patient_file.Consultation
    plans : sequence of (str, float)
        Class of lens in both eyes, and the target of the left one, D.

    Returns
    -------
    IPython.display.HTML
    """
    rows = []
    for plan in cases.compare_plans(consultation, plans):
        moons = plan.ring_moons
        reader = "none"
        if plan.reader_d is not None and plan.comfortable_reader_d is not None:
            reader = f"{signed(plan.reader_d, '')}/{signed(plan.comfortable_reader_d)}"
        rows.append(
            f'<tr><th scope="row">{html.escape(plan.lens_class)}</th>'
            f"<td>{signed(consultation.target_d)}</td><td>{signed(plan.left_d)}</td>"
            f"<td>{plan.verdict}</td><td>{plan.clear} of {plan.tasks}</td>"
            f"<td>{reader}</td>"
            f"<td>{'none' if moons is None else f'{moons:.1f} moons'}</td></tr>"
        )
    return with_caution(
        f"{TABLE}<thead><tr><th>class</th><th>right</th><th>left</th><th>verdict</th>"
        "<th>tasks clear</th><th>strongest reader left, weakest/comfortable</th>"
        "<th>ring at night</th></tr></thead>"
        f"<tbody>{''.join(rows)}</tbody></table>"
    )


def sheet_in_page(consultation: Consultation) -> HTML:
    """Return the patient's sheet in a frame of its own, as it would be printed.

    Parameters
    ----------
    consultation : patient_file.Consultation

    Returns
    -------
    IPython.display.HTML
    """
    page = sheet.as_html(
        consultation.patient,
        consultation.target_d,
        consultation.fellow_target_d,
        invented=consultation.invented,
    )
    return HTML(
        f'<div><iframe title="The sheet of {html.escape(consultation.patient.label, quote=True)}" '
        f'srcdoc="{html.escape(page, quote=True)}" '
        f'style="width: {style.WIDTH_PX}px; height: {SHEET_HEIGHT_PX}px; border: 1px solid #888">'
        "</iframe></div>"
    )


def ranges_to_read(
    right_end_d: float = 1.5, left_begin_d: float = 0.6, left_end_d: float = 2.4
) -> FigureWithAlt:
    """Return the figure of where two eyes see clearly, as bars over vergence, to be read.

    Parameters
    ----------
    right_end_d : float
        Where the right eye's range, which begins at far, ends; D without its sign.
    left_begin_d, left_end_d : float
        Where the left eye's range begins and ends; D without its sign, up to 3.

    Returns
    -------
    FigureWithAlt
    """
    ranges_d = {"right eye": (0.0, right_end_d), "left eye": (left_begin_d, left_end_d)}
    with style.applied():
        figure = Figure(figsize=(7.0, 2.2), dpi=style.DPI, layout="constrained")
        axes = figure.add_subplot()
        for row, ((begin_d, end_d), colour) in enumerate(
            zip(ranges_d.values(), (style.SKY, style.ORANGE), strict=True)
        ):
            axes.barh(
                row, begin_d - end_d, left=-begin_d, height=0.5, color=colour, edgecolor="black"
            )
        axes.set(xlim=(0.0, -3.0), ylim=(1.6, -0.6), xlabel="vergence of the object, D; far: 0.0")
        axes.set_yticks(range(2), list(ranges_d))
        axes.tick_params(axis="y", length=0)
        style.ruled(axes.xaxis, 0.5, 0.1, digits=1)
    return FigureWithAlt(
        figure,
        "Bars of where each eye sees clearly, over the vergence of the object. Right eye: from far "
        f"to {signed(-right_end_d, 'D', 1)}. Left eye: from {signed(-left_begin_d, 'D', 1)} to "
        f"{signed(-left_end_d, 'D', 1)}.",
    )


SIGNS = {
    "who would do without glasses anyway": ("s", style.GREY),
    "who do without through this lens": ("o", style.ORANGE),
    "who wear glasses": ("o", "white"),
}
"""Marker and colour of a person."""


def people_to_read(base_people: int = 10, owed_people: int = 18) -> FigureWithAlt:
    """Return the figure of a hundred people with a lens: who does without glasses, to be read.

    Parameters
    ----------
    base_people : int
        Who would do without with one focus as well.
    owed_people : int
        Who does without through the lens.

    Returns
    -------
    FigureWithAlt
    """
    counts = (base_people, owed_people, 100 - base_people - owed_people)
    with style.applied():
        figure = Figure(figsize=(7.0, 3.4), dpi=style.DPI, layout="constrained")
        axes = figure.add_subplot()
        axes.set(xlim=(-0.7, 19.7), ylim=(4.6, -0.7), xticks=[], yticks=[])
        first = 0
        for count, (name, (marker, colour)) in zip(counts, SIGNS.items(), strict=True):
            place = np.arange(first, first + count)
            axes.plot(
                # a gap after each ten, so that they are counted easily
                place % 20 + 0.4 * (place % 20 >= 10) - 0.2,
                place // 20,
                marker,
                color=colour,
                markersize=15,
                markeredgecolor="black",
                linestyle="none",
                label=name,
            )
            first += count
        axes.spines[:].set_visible(False)
        axes.legend(
            loc="upper left", bbox_to_anchor=(0.0, 0.0), frameon=False, markerscale=0.8, ncol=1
        )
    message = ", ".join(f"{count} {name}" for count, name in zip(counts, SIGNS, strict=True))
    return FigureWithAlt(
        figure, f"A hundred people with a lens of stretched focus as signs: {message}."
    )
