"""Sliders on outcomes: a constant and its series, clinics that compare; a file of one's own."""

import html
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import ipywidgets
import numpy as np
from matplotlib.figure import Figure
from matplotlib.patches import Polygon

from shared_utils import CAUTION
from shared_utils.clinic import cohort, cohort_file
from shared_utils.explore.engine import Choice, Demo, Slider, spoken
from shared_utils.power import constants, outcomes
from shared_utils.power.audit import FEWEST_EYES, audit
from shared_utils.power.biometry import Eye
from shared_utils.power.constants import LensConstants
from shared_utils.power.formulas import predicted_refraction
from shared_utils.power.lens_steps import choices
from shared_utils.show import style
from shared_utils.show.figure_with_alt import TABLE
from shared_utils.show.style import signed

SERIES_EYES, SERIES_SEED, LABEL_A = 120, 24, 118.4
SHORT_MM, LONG_MM = 22.5, 25.0
ERROR_LIMIT_D = 3.0
LENGTH_LIMITS_MM = (19.0, 31.0)
BINS_D = np.arange(-3.125, 3.2, 0.25)  # a bar for each quarter dioptre, centred on it
MOST_IN_A_BAR = 45


@cache
def series():
    """Return the invented series of the page: one surgeon, one lens model, the label's constant.

    Returns
    -------
    clinic.cohort.Cohort
        120 eyes, one of each person.
    """
    return cohort.invent(SERIES_EYES, SERIES_SEED, a_constant=LABEL_A)


@cache
def optimised():
    """Return the constants that bring the mean error of SRK/T in the series to zero.

    Returns
    -------
    power.constants.LensConstants
    """
    eyes = series()
    return constants.optimise(
        eyes.eye,
        "srk_t",
        eyes.iol_power_d,
        eyes.achieved_d,
        start=LensConstants.from_a_constant(LABEL_A),
    )


def errors_with(a_constant):
    """Return the errors of the series by SRK/T with a given A-constant.

    Parameters
    ----------
    a_constant : float
        110 to 125.

    Returns
    -------
    array
        D, one for each eye.

    Examples
    --------
    The larger constant expects the lens farther back, so it predicts more hyperopia.

    >>> bool(np.all(errors_with(119.0) < errors_with(118.0)))
    True
    """
    eyes = series()
    lens = LensConstants.from_a_constant(a_constant)
    predicted_d = predicted_refraction(eyes.eye, "srk_t", lens, eyes.iol_power_d)
    return outcomes.prediction_error(eyes.achieved_d, predicted_d)


@dataclass(frozen=True)
class Series:
    """The series by one constant: which eyes count, and what their errors amount to."""

    a_constant: float
    which: str
    length_mm: np.ndarray
    error_d: np.ndarray
    counts: np.ndarray
    summary: outcomes.Summary


def series_by_constant(a_constant, which):
    """Return the errors of the series, and the summary of the eyes looked at.

    Parameters
    ----------
    a_constant : float
        For SRK/T, 110 to 125.
    which : str
        ``"all"``, ``"short"`` (below 22.5 mm) or ``"long"`` (above 25 mm).

    Returns
    -------
    Series

    Examples
    --------
    >>> bool(abs(series_by_constant(optimised().a_constant, "all").summary.mean_d) < 1e-6)
    True
    """
    length_mm = series().eye.axial_length_mm
    counts = {
        "all": np.ones(length_mm.size, bool),
        "short": length_mm < SHORT_MM,
        "long": length_mm > LONG_MM,
    }[which]
    error_d = errors_with(a_constant)
    return Series(a_constant, which, length_mm, error_d, counts, outcomes.summary(error_d[counts]))


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
    bars.set(xlim=(0, MOST_IN_A_BAR), xlabel="eyes in each quarter dioptre")
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


def _move_series(artists, seen):
    inside = np.abs(seen.error_d) <= 0.5 + 1e-9
    for name, mask in (
        ("others", ~seen.counts),
        ("outside", seen.counts & ~inside),
        ("inside", seen.counts & inside),
    ):
        artists[name].set_data(seen.length_mm[mask], seen.error_d[mask])
    mean_d = seen.summary.mean_d
    artists["mean"].set_data(LENGTH_LIMITS_MM, [mean_d] * 2)
    artists["mean over"].set_data([0, MOST_IN_A_BAR], [mean_d] * 2)
    eyes, _ = np.histogram(seen.error_d[seen.counts], BINS_D)
    x = np.concatenate([[0], np.repeat(eyes, 2), [0]])
    y = np.concatenate([[BINS_D[0]], np.repeat(BINS_D, 2)[1:-1], [BINS_D[-1]]])
    artists["bars"].set_xy(np.column_stack([x, y]))
    artists["constant text"].set_text(f"A = {seen.a_constant:.2f}")
    artists["mean text"].set_text(f"mean {signed(mean_d)}")
    artists["sd text"].set_text(f"SD {seen.summary.sd_d:.2f} D")
    artists["within text"].set_text(f"within: {seen.summary.within[0.5]:.0%}")


def _which_eyes(seen):
    return {
        "all": f"all {seen.summary.n} eyes",
        "short": f"the {seen.summary.n} eyes below {SHORT_MM:.1f} mm",
        "long": f"the {seen.summary.n} eyes above {LONG_MM:.0f} mm",
    }[seen.which]


def _say_series(seen):
    found = seen.summary
    return (
        f"With A = {seen.a_constant:.2f}, {_which_eyes(seen)} have a mean error of "
        f"{signed(found.mean_d)}, an SD of {found.sd_d:.2f} D, and {found.within[0.5]:.0%} of them "
        "lie within 0.50 D."
    )


def _describe_series(seen):
    mean_d = seen.summary.mean_d
    lean = "no" if abs(mean_d) < 0.05 else "a hyperopic" if mean_d > 0 else "a myopic"
    return (
        f"Prediction errors against axial length, and as bars. {_say_series(seen)} The series has "
        f"{lean} lean."
    )


def constant_and_errors():
    """Return the demo: the A-constant and the eyes looked at against the errors of a series."""
    return Demo(
        title="a constant that moves a series of errors",
        controls=(
            Slider("a_constant", "A-constant for SRK/T", 117.8, 119.8, 0.05, LABEL_A),
            Choice(
                "which",
                "Count:",
                {"all eyes": "all", "short eyes": "short", "long eyes": "long"},
                "all",
            ),
        ),
        build=_build_series,
        compute=series_by_constant,
        move=_move_series,
        sentence=_say_series,
        alt=_describe_series,
    )


CLINICS = 60
MOST_EYES = 400
BETTER_SD_D = 0.40
TOGETHER = 0.90  # correlation of two formulas' errors in the same eyes; assumed, no source


@dataclass(frozen=True)
class Compared:
    """What many clinics found when they compared the same two formulas."""

    eyes: int
    apart_d: float
    paired: bool
    found_d: np.ndarray
    wrong: int
    needed: int


@cache
def _chance():
    """Gaussian numbers for all clinics: shared by both formulas, and each formula's own."""
    return np.random.default_rng(11).standard_normal((3, CLINICS, MOST_EYES))


def clinics_that_compare(eyes, apart_d, paired):
    """Return the difference of SDs that each of 60 clinics finds, where the truth is known.

    Parameters
    ----------
    eyes : int
        Eyes for each formula in every clinic, 10 to 400.
    apart_d : float
        True difference of the SDs, D; the better formula has 0.40 D.
    paired : bool
        Whether both formulas are tried in the same eyes, where their errors correlate by 0.90.

    Returns
    -------
    Compared
        ``needed`` is for 80 % power at the 5 % level.

    Examples
    --------
    >>> clinics_that_compare(400, 0.10, True).wrong
    0
    """
    shared, first, second = _chance()[:, :, : int(eyes)]
    if paired:
        first, second = (
            np.sqrt(TOGETHER) * shared + np.sqrt(1.0 - TOGETHER) * own for own in (first, second)
        )
    better_d = BETTER_SD_D * first.std(axis=1, ddof=1)
    worse_d = (BETTER_SD_D + apart_d) * second.std(axis=1, ddof=1)
    found_d = worse_d - better_d
    needed = outcomes.eyes_for_comparison(
        BETTER_SD_D, BETTER_SD_D + apart_d, TOGETHER if paired else 0.0
    )
    return Compared(int(eyes), apart_d, paired, found_d, int(np.sum(found_d < 0)), int(needed))


def _build_clinics():
    figure = Figure(figsize=(7.0, 3.4), dpi=style.DPI, layout="constrained")
    axes = figure.add_subplot()
    axes.set(
        xlim=(-0.32, 0.42),
        ylim=(-2, CLINICS + 14),
        yticks=[],
        ylabel="60 clinics",
        xlabel="SD of the worse formula − SD of the better one, as found, D",
    )
    axes.spines["left"].set_visible(False)
    axes.xaxis.set_major_formatter(lambda d, _: signed(d, "", 1))
    axes.axvline(0.0, color="black", linewidth=1.0)
    top = CLINICS + 12
    axes.text(-0.01, top, "the worse one is crowned", ha="right", va="top", color=style.VERMILION)
    axes.text(0.01, top, "the better one is crowned", ha="left", va="top", color=style.BLUE)
    artists = {}
    (artists["truth"],) = axes.plot([], [], ":", color=style.GREY)
    (artists["right"],) = axes.plot([], [], "o", color=style.BLUE, markersize=6)
    (artists["wrong"],) = axes.plot([], [], "D", color=style.VERMILION, markersize=6)
    artists["wrong text"] = axes.text(-0.31, CLINICS + 5, "", va="top", color=style.VERMILION)
    artists["truth text"] = axes.text(0.41, CLINICS + 5, "", va="top", ha="right", color=style.GREY)
    return figure, artists


def _move_clinics(artists, seen):
    rows = np.arange(CLINICS)
    wrong = seen.found_d < 0
    artists["wrong"].set_data(seen.found_d[wrong], rows[wrong])
    artists["right"].set_data(seen.found_d[~wrong], rows[~wrong])
    artists["truth"].set_data([seen.apart_d] * 2, [-2, CLINICS])
    artists["wrong text"].set_text(f"{seen.wrong} of {CLINICS} clinics")
    artists["truth text"].set_text(f"dotted: the truth, {signed(seen.apart_d)}")


def _say_clinics(seen):
    same = "in the same eyes" if seen.paired else "each in eyes of its own"
    return (
        f"{seen.eyes} eyes a formula, {same}, truth {seen.apart_d:.2f} D apart: {seen.wrong} of "
        f"{CLINICS} clinics crown the worse formula. To find the difference 4 times in 5 takes "
        f"{seen.needed} eyes."
    )


def _describe_clinics(seen):
    low_d, high_d = np.percentile(seen.found_d, (5, 95))
    return (
        f"Sixty clinics as dots by the difference they found. {_say_clinics(seen)} Nine in ten "
        f"found between {signed(low_d)} and {signed(high_d)}."
    )


def clinics_compare():
    """Return the demo: eyes, true difference and design against what clinics find."""
    return Demo(
        title="sixty clinics that compare two formulas",
        controls=(
            Slider("eyes", "Eyes for each formula", 10, MOST_EYES, 10, 40),
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
        compute=clinics_that_compare,
        move=_move_clinics,
        sentence=_say_clinics,
        alt=_describe_clinics,
    )


# --- worked examples --------------------------------------------------------------------------

PATIENT = Eye(axial_length_mm=23.5, k1_d=43.5)
PATIENT_LENS_D = 20.5
PATIENT_SPHERE_D, PATIENT_CYLINDER_D = 1.00, -0.50
SECOND_EYE = Eye(axial_length_mm=23.46, k1_d=43.25)


def patient_steps():
    """Return the way from a patient's surprise to the lens of her other eye, for ``page.worked``.

    Returns
    -------
    list of (str, str, float, str)
    """
    label, best = LensConstants.from_a_constant(LABEL_A), optimised()
    equivalent_d = PATIENT_SPHERE_D + PATIENT_CYLINDER_D / 2.0
    before_d = predicted_refraction(PATIENT, "srk_t", label, PATIENT_LENS_D)
    after_d = predicted_refraction(PATIENT, "srk_t", best, PATIENT_LENS_D)
    old, new = (choices(SECOND_EYE, "srk_t", lens, count=1) for lens in (label, best))
    written = f"SRK/T, A = {LABEL_A:.2f}, for the {PATIENT_LENS_D:.1f} D that she got"
    return [
        ("her spherical equivalent", "+1.00 D + (−0.50 D) / 2", equivalent_d, "D"),
        ("what was predicted", written, before_d, "D"),
        ("her prediction error", "achieved − predicted", equivalent_d - before_d, "D"),
        (
            "the same eye by the series' constant",
            f"SRK/T, A = {best.a_constant:.2f}, the same lens",
            after_d,
            "D",
        ),
        ("what is left: her own error", "achieved − predicted", equivalent_d - after_d, "D"),
        ("lens for the other eye, old constant", "nearest half step", old.iol_power_d[0], "D"),
        ("lens for the other eye, new constant", "nearest half step", new.iol_power_d[0], "D"),
    ]


def summary_steps(errors_d):
    """Return how a short series is summed up by hand, for ``page.worked``.

    Parameters
    ----------
    errors_d : sequence of float
        Prediction errors, D.

    Returns
    -------
    list of (str, str, float, str)

    Examples
    --------
    >>> summary_steps([-0.5, 0.0, 0.5])[0]
    ('mean: does it lean?', 'sum / n', 0.0, 'D')
    """
    found = outcomes.summary(errors_d)
    return [
        ("mean: does it lean?", "sum / n", found.mean_d, "D"),
        ("SD: how far it scatters", "√(Σ(error − mean)² / (n − 1))", found.sd_d, "D"),
        ("MAE: mean size", "Σ|error| / n", found.mae_d, "D"),
        ("MedAE: middle size", "the middle of the sorted |error|", found.medae_d, "D"),
        ("within 0.50 D", "eyes with |error| ≤ 0.50 D / n", 100 * found.within[0.5], "%"),
    ]


# --- a series of one's own --------------------------------------------------------------------

FORMULAS = {
    "srk_t": "SRK/T",
    "t2": "T2",
    "holladay_1": "Holladay 1",
    "hoffer_q": "Hoffer Q",
    "haigis": "Haigis",
}


def audit_of_file(name, a_constant):
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
    if not str(name).strip():
        raise ValueError("No file is named yet; write its name, such as my_series.csv.")
    path = Path(str(name).strip()).expanduser()
    try:
        has = cohort_file.columns(path)
        optional = [column for column in ("k2_d", "acd_mm") if column in has]
        reading = cohort_file.read(path, ["iol_power_d", "achieved_d", *optional])
    except FileNotFoundError:
        raise ValueError(
            f"There is no file {path.name!r} in {path.resolve().parent}; put it there, or write "
            "the whole path."
        ) from None
    except OSError as error:
        raise ValueError(f"{path.name!r} cannot be read: {error.strerror}.") from None
    eyes = reading.cohort
    formulas = [f for f in FORMULAS if f != "haigis" or eyes.eye.acd_mm is not None]
    lens = LensConstants.from_a_constant(a_constant)
    if eyes.n < 2:
        raise ValueError(reading.report(at_most=3).replace("\n", " "))
    found = audit(eyes.eye, eyes.iol_power_d, eyes.achieved_d, formulas, lens)
    said = [*reading.report().splitlines()]
    counted = int(found.used.sum())
    if counted < eyes.n:
        said.append(f"{eyes.n - counted} eyes were left out: a formula had no answer for them.")
    if counted < FEWEST_EYES:
        said.append(f"With fewer than {FEWEST_EYES} eyes hardly anything can be told apart.")
    after = [_largest_errors(eyes, found, lens), _told_apart(found), CAUTION]
    return _paragraphs(said) + _audit_table(found) + _paragraphs(after)


def _paragraphs(lines):
    return "".join(f"<p>{html.escape(line)}</p>" for line in lines)


def _audit_table(found):
    rows = "".join(
        f"<tr><th>{FORMULAS[row.formula]}</th><td>{row.start:.2f}</td>"
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


def _largest_errors(eyes, found, lens):
    """The three largest errors by the first formula, with the eyes' labels, in one sentence."""
    row = found.formulas[0]
    predicted_d = predicted_refraction(
        eyes.eye.take(found.used),
        row.formula,
        lens.with_constant(row.formula, row.constant),
        eyes.iol_power_d[found.used],
    )
    error_d = outcomes.prediction_error(eyes.achieved_d[found.used], predicted_d)
    labels = [label for label, used in zip(eyes.label, found.used, strict=True) if used]
    worst = np.argsort(-np.abs(error_d))[:3]
    named = ", ".join(f"{labels[at]} ({signed(error_d[at])})" for at in worst)
    return f"Look up the largest errors by {FORMULAS[row.formula]}: {named}."


def _told_apart(found):
    """What the comparison allows to be said, in one sentence."""
    told = [pair for pair in found.pairs if pair.p_holm < 0.05]
    if not told:
        return "By the SD, in the same eyes, no two formulas can be told apart."
    ordered = [
        (pair.first, pair.second) if pair.difference_d < 0 else (pair.second, pair.first)
        for pair in told
    ]
    said = "; ".join(f"{FORMULAS[less]} less than {FORMULAS[more]}" for less, more in ordered)
    return (
        f"By the SD, in the same eyes, p below 0.05 by Holm, these scatter less: {said}. No other "
        "two can be told apart."
    )


class OwnSeries(ipywidgets.VBox):
    """A place to name a file of one's own and to see its audit, or one sentence why not.

    Nothing leaves the machine and nothing is kept.
    """

    def __init__(self):
        wide = {"description_width": "initial"}
        self.name = ipywidgets.Text(
            description="File:", placeholder="my_series.csv", style=wide, continuous_update=False
        )
        self.a_constant = ipywidgets.FloatText(
            description="A-constant that was used:", value=LABEL_A, step=0.1, style=wide
        )
        self.audit_button = ipywidgets.Button(description="Audit this file")
        self.example_button = ipywidgets.Button(
            description="Write an example", tooltip="Write an invented series to example_series.csv"
        )
        self.told = ipywidgets.HTML()
        self.audit_button.on_click(lambda _: self.audit())
        self.example_button.on_click(lambda _: self.write_example())
        super().__init__(
            [
                ipywidgets.HBox([self.name, self.a_constant]),
                ipywidgets.HBox([self.audit_button, self.example_button]),
                self.told,
            ]
        )

    def audit(self):
        """Show the audit of the file that is named."""
        try:
            self.told.value = audit_of_file(self.name.value, self.a_constant.value)
        except ValueError as error:
            self.told.value = spoken(str(error), strong="Not audited.")

    def write_example(self, folder="."):
        """Write the invented series beside the page, unless a file of that name is there."""
        path = Path(folder) / "example_series.csv"
        if not path.exists():
            try:
                cohort_file.write(path, series())
            except OSError as error:
                self.told.value = spoken(f"{path} cannot be written: {error.strerror}.")
                return
        self.name.value = str(path)
        self.told.value = spoken(f"{path.name} is there: {SERIES_EYES} invented eyes. Audit it.")

    def _repr_mimebundle_(self, **kwargs):
        bundle = super()._repr_mimebundle_(**kwargs)
        data, metadata = bundle if isinstance(bundle, tuple) else (bundle, {})
        still = (
            "<p>Here stands a place for the name of a file when the page runs. In a terminal the "
            f"same is <code>lens-course power --csv FILE --a-constant {LABEL_A}</code>.</p>"
        )
        return {**data, "text/html": still}, metadata
