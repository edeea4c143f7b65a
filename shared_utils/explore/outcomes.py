"""Sliders on outcomes: a constant and its series, clinics that compare; a file of one's own."""

from __future__ import annotations

import html
from pathlib import Path
from typing import TYPE_CHECKING

import ipywidgets
import numpy as np
from matplotlib.figure import Figure
from matplotlib.patches import Polygon

from shared_utils import CAUTION
from shared_utils.cases import outcomes as cases
from shared_utils.explore.engine import Choice, Demo, Slider, spoken
from shared_utils.show import style
from shared_utils.show.figure_with_alt import TABLE
from shared_utils.show.style import signed

if TYPE_CHECKING:
    from os import PathLike

ERROR_LIMIT_D = 3.0
LENGTH_LIMITS_MM = (19.0, 31.0)
MAX_IN_A_BAR = 45


def _build_series():
    figure = Figure(figsize=(7.0, 3.9), dpi=style.DPI, layout="constrained")
    scatter, bars = figure.subplots(1, 2, sharey=True, width_ratios=(3, 2))
    for axes in (scatter, bars):
        axes.axhspan(-0.5, 0.5, color="#e4edf5", zorder=0)
        axes.axhline(0.0, color=style.GREY, linewidth=0.8)
    scatter.set(
        xlim=LENGTH_LIMITS_MM,
        ylim=(-ERROR_LIMIT_D, ERROR_LIMIT_D),
        xlabel="axial length, mm",
        ylabel="achieved − predicted, D",
    )
    scatter.yaxis.set_major_formatter(lambda d, _: signed(d, "", 0))
    scatter.text(19.3, -2.9, "band: within 0.50 D", va="bottom", color=style.BLUE)
    bars.set(xlim=(0, MAX_IN_A_BAR), xlabel="eyes in each quarter dioptre")
    artists = {}
    for name, marker in (("others", "white"), ("outside", style.VERMILION), ("inside", style.BLUE)):
        edge = style.GREY if name == "others" else marker
        (artists[name],) = scatter.plot(
            [], [], "o", markersize=5, markerfacecolor=marker, markeredgecolor=edge
        )
    (artists["mean"],) = scatter.plot([], [], color="black", linewidth=2.0)
    (artists["mean over"],) = bars.plot([], [], color="black", linewidth=2.0)
    artists["bars"] = bars.add_patch(Polygon(np.zeros((3, 2)), facecolor=style.SKY, zorder=1))
    corner = {"ha": "right", "transform": bars.transAxes}
    for n, name in enumerate(("mean text", "sd text", "within text")):
        artists[name] = bars.text(0.99, 0.985 - 0.075 * n, "", va="top", **corner)
    artists["constant text"] = scatter.text(19.3, 2.92, "", va="top", weight="bold")
    return figure, artists


def _move_series(artists, data):
    for name, mask in (
        ("others", ~data.counts),
        ("outside", data.counts & ~data.inside),
        ("inside", data.counts & data.inside),
    ):
        artists[name].set_data(data.length_mm[mask], data.error_d[mask])
    mean_d = data.summary.mean_d
    artists["mean"].set_data(LENGTH_LIMITS_MM, [mean_d] * 2)
    artists["mean over"].set_data([0, MAX_IN_A_BAR], [mean_d] * 2)
    x = np.concatenate([[0], np.repeat(data.eyes_in_bins, 2), [0]])
    y = np.concatenate([[cases.BINS_D[0]], np.repeat(cases.BINS_D, 2)[1:-1], [cases.BINS_D[-1]]])
    artists["bars"].set_xy(np.column_stack([x, y]))
    artists["constant text"].set_text(f"A = {data.a_constant:.2f}")
    artists["mean text"].set_text(f"mean {signed(mean_d)}")
    artists["sd text"].set_text(f"SD {data.summary.sd_d:.2f} D")
    artists["within text"].set_text(f"within: {data.summary.within[0.5]:.0%}")


def _which_eyes(data):
    return {
        "all": f"all {data.summary.n} eyes",
        "short": f"the {data.summary.n} eyes below {cases.SHORT_MM:.1f} mm",
        "long": f"the {data.summary.n} eyes above {cases.LONG_MM:.0f} mm",
    }[data.which]


def _say_series(data):
    found = data.summary
    return (
        f"With A = {data.a_constant:.2f}, {_which_eyes(data)} have a mean error of "
        f"{signed(found.mean_d)}, an SD of {found.sd_d:.2f} D, and {found.within[0.5]:.0%} of them "
        "lie within 0.50 D."
    )


def _describe_series(data):
    mean_d = data.summary.mean_d
    lean = "no" if abs(mean_d) < 0.05 else "a hyperopic" if mean_d > 0 else "a myopic"
    return (
        f"Prediction errors against axial length, and as bars. {_say_series(data)} The series has "
        f"{lean} lean."
    )


def constant_and_errors() -> Demo:
    """Return the demo: the A-constant and the eyes looked at against the errors of a series."""
    return Demo(
        title="a constant that moves a series of errors",
        controls=(
            Slider("a_constant", "A-constant for SRK/T", 117.8, 119.8, 0.05, cases.LABEL_A),
            Choice(
                "which",
                "Count:",
                {"all eyes": "all", "short eyes": "short", "long eyes": "long"},
                "all",
            ),
        ),
        build=_build_series,
        compute=cases.compute_series,
        move=_move_series,
        sentence=_say_series,
        alt=_describe_series,
    )


def _build_clinics():
    figure = Figure(figsize=(7.0, 3.4), dpi=style.DPI, layout="constrained")
    axes = figure.add_subplot()
    axes.set(
        xlim=(-0.32, 0.42),
        ylim=(-2, cases.CLINICS + 14),
        yticks=[],
        ylabel="60 clinics",
        xlabel="SD of the worse formula − SD of the better one, as found, D",
    )
    axes.spines["left"].set_visible(False)
    axes.xaxis.set_major_formatter(lambda d, _: signed(d, "", 1))
    axes.axvline(0.0, color="black", linewidth=1.0)
    top = cases.CLINICS + 12
    axes.text(-0.01, top, "the worse one is crowned", ha="right", va="top", color=style.VERMILION)
    axes.text(0.01, top, "the better one is crowned", ha="left", va="top", color=style.BLUE)
    artists = {}
    (artists["truth"],) = axes.plot([], [], ":", color=style.GREY)
    (artists["right"],) = axes.plot([], [], "o", color=style.BLUE, markersize=6)
    (artists["wrong"],) = axes.plot([], [], "D", color=style.VERMILION, markersize=6)
    artists["wrong text"] = axes.text(-0.31, cases.CLINICS + 5, "", va="top", color=style.VERMILION)
    artists["truth text"] = axes.text(
        0.41, cases.CLINICS + 5, "", va="top", ha="right", color=style.GREY
    )
    return figure, artists


def _move_clinics(artists, data):
    rows = np.arange(cases.CLINICS)
    wrong = data.found_d < 0
    artists["wrong"].set_data(data.found_d[wrong], rows[wrong])
    artists["right"].set_data(data.found_d[~wrong], rows[~wrong])
    artists["truth"].set_data([data.apart_d] * 2, [-2, cases.CLINICS])
    artists["wrong text"].set_text(f"{data.wrong} of {cases.CLINICS} clinics")
    artists["truth text"].set_text(f"dotted: the truth, {signed(data.apart_d)}")


def _say_clinics(data):
    same = "in the same eyes" if data.paired else "each in eyes of its own"
    return (
        f"{data.eyes} eyes a formula, {same}, truth {data.apart_d:.2f} D apart: {data.wrong} of "
        f"{cases.CLINICS} clinics crown the worse formula. To find the difference 4 times in 5 "
        f"takes {data.needed} eyes."
    )


def _describe_clinics(data):
    low_d, high_d = data.middle_90_d
    return (
        f"Sixty clinics as dots by the difference they found. {_say_clinics(data)} Nine in ten "
        f"found between {signed(low_d)} and {signed(high_d)}."
    )


def clinics_compare() -> Demo:
    """Return the demo: eyes, true difference and design against what clinics find."""
    return Demo(
        title="sixty clinics that compare two formulas",
        controls=(
            Slider("eyes", "Eyes for each formula", 10, cases.MAX_EYES, 10, 40),
            Choice(
                "apart_d",
                "True difference of SD:",
                {"0.02 D": 0.02, "0.05 D": 0.05, "0.10 D": 0.10},
                0.05,
            ),
            Choice(
                "paired",
                "Eyes:",
                {"each formula its own eyes": False, "both formulas in the same eyes": True},
                False,
            ),
        ),
        build=_build_clinics,
        compute=cases.compute_clinics,
        move=_move_clinics,
        sentence=_say_clinics,
        alt=_describe_clinics,
    )


# --- a series of one's own --------------------------------------------------------------------


def audit_of_file(name: str | PathLike[str], a_constant: float) -> str:
    """Return the audit of a file of outcomes, as HTML.

    Parameters
    ----------
    name : str or path
        File of comma-separated text, one eye a row; see ``clinic.cohort_file``.
    a_constant : float
        The constant that was used, 110 to 125.

    Returns
    -------
    str

    Raises
    ------
    ValueError
        If nothing can be audited: one sentence that says why and what to do.
    """
    data = cases.audit_file(name, a_constant)
    before = [*data.reading.report().splitlines()]
    if data.left_out:
        before.append(f"{data.left_out} eyes were left out: a formula had no answer for them.")
    if data.few:
        before.append(
            f"With fewer than {cases.FEWEST_EYES} eyes hardly anything can be told apart."
        )
    after = [_largest_errors(data), _distinguishable(data), CAUTION]
    return f"{_paragraphs(before)}{_audit_table(data.found)}{_paragraphs(after)}"


def _largest_errors(data):
    named = ", ".join(f"{label} ({signed(error_d)})" for label, error_d in data.largest)
    formula = cases.FORMULAS[data.found.formulas[0].formula]
    return f"Look up the largest errors by {formula}: {named}."


def _distinguishable(data):
    if not data.apart:
        return "By the SD, in the same eyes, no two formulas can be told apart."
    pairs = "; ".join(
        f"{cases.FORMULAS[less]} less than {cases.FORMULAS[more]}" for less, more in data.apart
    )
    return (
        f"By the SD, in the same eyes, p below 0.05 by Holm, these scatter less: {pairs}. No other "
        "two can be told apart."
    )


def _paragraphs(lines):
    return "".join(f"<p>{html.escape(line)}</p>" for line in lines)


def _audit_table(found):
    rows = "".join(
        f"<tr><th>{cases.FORMULAS[row.formula]}</th><td>{row.start:.2f}</td>"
        f"<td>{signed(row.before.mean_d, '')}</td><td>{row.constant:.2f}</td>"
        f"<td>{row.after.sd_d:.2f}</td><td>{row.after.mae_d:.2f}</td>"
        f"<td>{row.after.medae_d:.2f}</td><td>{row.after.within[0.5]:.0%}</td></tr>"
        for row in found.formulas
    )
    heads = (
        *("formula", "constant", "mean error, D", "new constant"),
        *("SD, D", "MAE, D", "MedAE, D", "within 0.50 D"),
    )
    head = "".join(f"<th>{name}</th>" for name in heads)
    return (
        f"{TABLE}<caption>The mean error is by the constant given; all that follows is by the new "
        f"one, with mean error zero.</caption><thead><tr>{head}</tr></thead>"
        f"<tbody>{rows}</tbody></table>"
    )


class OwnSeries(ipywidgets.VBox):
    """A place to name a file of one's own and to see its audit, or one sentence why not.

    Nothing leaves the machine and nothing is kept.
    """

    def __init__(self) -> None:
        wide = {"description_width": "initial"}
        self.name = ipywidgets.Text(
            description="File:", placeholder="my_series.csv", style=wide, continuous_update=False
        )
        self.a_constant = ipywidgets.FloatText(
            description="A-constant that was used:", value=cases.LABEL_A, step=0.1, style=wide
        )
        self.audit_button = ipywidgets.Button(description="Audit this file")
        self.example_button = ipywidgets.Button(
            description="Write an example", tooltip="Write an invented series to example_series.csv"
        )
        self.reply = ipywidgets.HTML()
        self.audit_button.on_click(lambda _: self.audit())
        self.example_button.on_click(lambda _: self.write_example())
        super().__init__(
            [
                ipywidgets.HBox([self.name, self.a_constant]),
                ipywidgets.HBox([self.audit_button, self.example_button]),
                self.reply,
            ]
        )

    def audit(self) -> None:
        """Show the audit of the file that is named."""
        try:
            self.reply.value = audit_of_file(self.name.value, self.a_constant.value)
        except ValueError as error:
            self.reply.value = spoken(str(error), strong="Not audited.")

    def write_example(self, folder: str = ".") -> None:
        """Write the invented series beside the page, unless a file of that name is there."""
        path = Path(folder) / "example_series.csv"
        if not path.exists():
            try:
                cases.write_series(path)
            except OSError as error:
                self.reply.value = spoken(f"{path} cannot be written: {error.strerror}.")
                return
        self.name.value = str(path)
        self.reply.value = spoken(
            f"{path.name} is there: {cases.SERIES_EYES} invented eyes. Audit it."
        )

    def _repr_mimebundle_(self, **kwargs):
        bundle = super()._repr_mimebundle_(**kwargs)
        data, metadata = bundle if isinstance(bundle, tuple) else (bundle, {})
        still = (
            "<p>Here stands a place for the name of a file when the page runs. In a terminal the "
            f"same is <code>lens-course power --csv FILE --a-constant {cases.LABEL_A}</code>.</p>"
        )
        return {**data, "text/html": still}, metadata
