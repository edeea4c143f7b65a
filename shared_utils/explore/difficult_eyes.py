"""Sliders on difficult eyes: unusual sizes, after corneal laser surgery, a second lens."""

from dataclasses import dataclass
from functools import cache

import numpy as np
from matplotlib.figure import Figure

from shared_utils.explore.engine import Choice, Demo, Slider
from shared_utils.power import after_laser, constants, secondary
from shared_utils.power.biometry import KERATOMETER_SCALE, Eye
from shared_utils.power.constants import LensConstants
from shared_utils.power.cornea import STROMA_INDEX, thick_cornea
from shared_utils.power.formulas import iol_power, predicted_refraction, steps
from shared_utils.power.lens_steps import nearest_power
from shared_utils.show import style
from shared_utils.show.style import signed

IN_WORDS = {
    "srk_t": "SRK/T",
    "t2": "T2",
    "holladay_1": "Holladay 1",
    "hoffer_q": "Hoffer Q",
    "haigis": "Haigis",
}
FORMULAS = tuple(IN_WORDS)
AVERAGE_EYE = Eye(23.5, 43.5, acd_mm=3.15)
A_CONSTANT = 118.4


@cache
def agreed():
    """Return constants with which all five formulas ask for the same lens in an average eye.

    So what is left between them is the eye's doing, not the constants'.

    Returns
    -------
    power.constants.LensConstants
    """
    lens = LensConstants.from_a_constant(A_CONSTANT)
    power_d = iol_power(AVERAGE_EYE, "srk_t", lens)
    for formula in FORMULAS[2:]:  # T2 has its constant from SRK/T, and so agrees
        lens = constants.optimise(AVERAGE_EYE, formula, power_d, 0.0, start=lens)
    return lens


# --- an unusual eye ---------------------------------------------------------------------------


@dataclass(frozen=True)
class Parted:
    """What five formulas ask for in one eye."""

    axial_length_mm: float
    k_d: float
    acd_mm: float
    powers_d: np.ndarray
    spread_d: float
    spread_at_spectacles_d: float
    no_height: bool


def five_formulas(axial_length_mm, k_d, acd_mm):
    """Return the lens that each of five formulas asks for, and how far they lie apart.

    Parameters
    ----------
    axial_length_mm, k_d, acd_mm : float
        mm, D and mm.

    Returns
    -------
    Parted
        ``spread_at_spectacles_d``: how far apart their predictions for one lens are, D.

    Examples
    --------
    >>> average = five_formulas(23.5, 43.5, 3.15)
    >>> round(average.spread_d, 1), average.no_height
    (0.0, False)
    """
    eye, lens = Eye(axial_length_mm, k_d, acd_mm=acd_mm), agreed()
    powers_d = np.array([iol_power(eye, formula, lens) for formula in FORMULAS])
    middle_d = float(np.median(powers_d))
    left_d = [predicted_refraction(eye, formula, lens, middle_d) for formula in FORMULAS]
    return Parted(
        axial_length_mm,
        k_d,
        acd_mm,
        powers_d,
        float(np.ptp(powers_d)),
        float(np.ptp(left_d)),
        bool(steps(eye, "srk_t", lens).flags["root_clamped"]),
    )


def _build_five():
    figure = Figure(figsize=(7.0, 3.3), dpi=style.DPI, layout="constrained")
    axes = figure.add_subplot()
    rows = np.arange(len(FORMULAS))
    axes.set(
        xlim=(-5.0, 7.2),
        ylim=(len(FORMULAS) - 0.4, -0.6),
        xticks=range(-4, 5, 2),
        xlabel="lens power − middle one of the five, D",
    )
    axes.set_yticks(rows, IN_WORDS.values())
    axes.tick_params(axis="y", length=0)
    axes.spines["left"].set_visible(False)
    axes.xaxis.set_major_formatter(lambda d, _: signed(d, "", 0))
    axes.axvline(0.0, color=style.GREY, linewidth=0.8)
    artists = {}
    for n in rows:
        (artists[f"stem {n}"],) = axes.plot([], [], color=style.BLUE, linewidth=3)
        (artists[f"end {n}"],) = axes.plot([], [], "o", color=style.BLUE, markersize=9)
        artists[f"text {n}"] = axes.text(7.1, n, "", ha="right", va="center")
    artists["no height"] = axes.text(
        -4.9, 0.5, "", ha="left", va="center", color=style.VERMILION, fontsize=12
    )
    return figure, artists


def _move_five(artists, seen):
    middle_d = np.median(seen.powers_d)
    for n, power_d in enumerate(seen.powers_d):
        away_d = power_d - middle_d
        artists[f"stem {n}"].set_data([0.0, away_d], [n, n])
        artists[f"end {n}"].set_data([away_d], [n])
        artists[f"text {n}"].set_text(signed(power_d, "D", 1))
    artists["no height"].set_text("no real corneal height" if seen.no_height else "")


def _say_five(seen):
    low_d, high_d = seen.powers_d.min(), seen.powers_d.max()
    root = " SRK/T finds no real corneal height." if seen.no_height else ""
    return (
        f"Length {seen.axial_length_mm:.1f} mm, K {seen.k_d:.2f} D, chamber {seen.acd_mm:.2f} mm: "
        f"from {signed(low_d, 'D', 1)} to {signed(high_d, 'D', 1)}, {seen.spread_d:.1f} D apart, "
        f"worth {seen.spread_at_spectacles_d:.1f} D at the spectacles.{root}"
    )


def _describe_five(seen):
    each = ", ".join(
        f"{name} {signed(power_d, 'D', 1)}"
        for name, power_d in zip(IN_WORDS.values(), seen.powers_d, strict=True)
    )
    return f"Five formulas as rows, their lens powers as dots. {each}. {_say_five(seen)}"


def unusual_eye():
    """Return the demo: length, K and chamber depth against the lens of five formulas."""
    return Demo(
        title="five formulas in one eye",
        controls=(
            Slider("axial_length_mm", "Axial length, mm", 20, 32, 0.1, 23.5, "mm"),
            Slider("k_d", "Keratometry, D", 38, 50, 0.25, 43.5, "D"),
            Slider("acd_mm", "Depth of the chamber, mm", 2.2, 4.0, 0.05, 3.15, "mm"),
        ),
        build=_build_five,
        compute=five_formulas,
        move=_move_five,
        sentence=_say_five,
        alt=_describe_five,
    )


# --- after corneal laser surgery --------------------------------------------------------------

LASER_LENGTH_MM = 26.0
K_BEFORE_D = 43.5
POSTERIOR_RATIO = 6.5 / 7.8  # of the untouched cornea: Le Grand's eye
THICKNESS_MM = 0.55
MENDED = (
    "K as measured",
    "K of the very centre",
    "with the right index",
    "and K of before for the position",
)


@dataclass(frozen=True)
class Lasered:
    """An eye after laser surgery, and the refraction left as its errors are mended in turn."""

    treated_d: float
    missed: float
    formula: str
    measured_k_d: float
    centre_k_d: float
    true_k_d: float
    left_d: np.ndarray

    @property
    def parts_d(self):
        """What ring, index and position each did to the refraction, D."""
        return self.left_d[:-1] - self.left_d[1:]


def after_treatment(treated_d, missed_percent, formula):
    """Return what a lens chosen after laser surgery leaves, before and after each correction.

    The laser shapes the front of a thick cornea and leaves its back. The formula would be right
    if it had the K that belongs to the whole cornea's power and, for the lens position, the K of
    before.

    Parameters
    ----------
    treated_d : float
        Treated spherical equivalent at the cornea, D; negative for a myopic treatment.
    missed_percent : float
        Share of the change of K that the keratometer's ring does not see, 0 to 30 %; assumed.
    formula : str
        ``"srk_t"``, ``"t2"``, ``"holladay_1"`` or ``"hoffer_q"``.

    Returns
    -------
    Lasered

    Examples
    --------
    >>> seen = after_treatment(-6.0, 0.0, "srk_t")
    >>> seen.true_k_d, bool(seen.centre_k_d > seen.true_k_d), round(float(seen.left_d[-1]), 9) + 0.0
    (37.5, True, 0.0)
    """
    front_mm = KERATOMETER_SCALE / K_BEFORE_D
    back_mm = POSTERIOR_RATIO * front_mm
    before = thick_cornea(front_mm, back_mm, THICKNESS_MM)
    # power = front + back − (t/n) front × back, solved for the front
    passed = 1.0 - THICKNESS_MM / 1000.0 / STROMA_INDEX * before.posterior_d
    front_d = (before.power_d + treated_d - before.posterior_d) / passed
    centre_d = KERATOMETER_SCALE * front_d / (1000.0 * (STROMA_INDEX - 1.0))
    measured_d = centre_d + missed_percent / 100.0 * (K_BEFORE_D - centre_d)
    true_d = K_BEFORE_D + treated_d
    lens = agreed()
    k_d = np.array([measured_d, centre_d, true_d, true_d])
    position_k_d = np.array([measured_d, centre_d, true_d, K_BEFORE_D])
    chosen_d = iol_power(Eye(LASER_LENGTH_MM, k_d), formula, lens, elp_k_d=position_k_d)
    left_d = predicted_refraction(
        Eye(LASER_LENGTH_MM, true_d), formula, lens, chosen_d, elp_k_d=K_BEFORE_D
    )
    return Lasered(treated_d, missed_percent, formula, measured_d, centre_d, true_d, left_d)


def _build_laser():
    figure = Figure(figsize=(7.0, 3.3), dpi=style.DPI, layout="constrained")
    axes = figure.add_subplot()
    rows = np.arange(len(MENDED))
    axes.set(
        xlim=(-3.6, 6.4),
        ylim=(len(MENDED) - 0.4, -0.6),
        xlabel="refraction that is left, D (myopic left, hyperopic right)",
    )
    axes.set_yticks(rows, ["K as measured", "K of the centre", "right index too", "double-K too"])
    axes.tick_params(axis="y", length=0)
    axes.spines["left"].set_visible(False)
    axes.xaxis.set_major_formatter(lambda d, _: signed(d, "", 0))
    axes.axvspan(-0.5, 0.5, color="#e4edf5", zorder=0)
    axes.axvline(0.0, color=style.GREY, linewidth=0.8)
    artists = {}
    for n in rows:
        (artists[f"bar {n}"],) = axes.plot(
            [], [], color=style.VERMILION if n < 3 else style.BLUE, linewidth=12
        )
        artists[f"bar {n}"].set_solid_capstyle("butt")
        artists[f"text {n}"] = axes.text(0, n, "", va="center")
        artists[f"cause {n}"] = axes.text(6.3, n + 0.5, "", va="center", ha="right")
        artists[f"cause {n}"].set_color(style.GREY)
    return figure, artists


def _move_laser(artists, seen):
    for n, left_d in enumerate(seen.left_d):
        artists[f"bar {n}"].set_data([0.0, left_d], [n, n])
        side = 1.0 if left_d > -0.005 else -1.0
        artists[f"text {n}"].set_position((left_d + 0.12 * side, n))
        artists[f"text {n}"].set_ha("left" if side > 0 else "right")
        artists[f"text {n}"].set_text(signed(left_d))
    for n, (cause, part_d) in enumerate(
        zip(("ring", "index", "position"), seen.parts_d, strict=True)
    ):
        artists[f"cause {n}"].set_text(f"{cause} {signed(part_d)}")


def _say_laser(seen):
    ring_d, index_d, position_d = seen.parts_d
    kind = "myopic" if seen.treated_d < 0 else "hyperopic" if seen.treated_d > 0 else "no"
    return (
        f"After {kind} laser of {signed(seen.treated_d, 'D', 1)} {IN_WORDS[seen.formula]} with the "
        f"measured K ({seen.measured_k_d:.1f} D) leaves {signed(seen.left_d[0])}: ring "
        f"{signed(ring_d)}, index {signed(index_d)}, position {signed(position_d)}."
    )


def _describe_laser(seen):
    each = "; ".join(
        f"{name}: {signed(left_d)}" for name, left_d in zip(MENDED, seen.left_d, strict=True)
    )
    return f"Four bars of the refraction left as errors are mended in turn. {each}. " + _say_laser(
        seen
    )


def laser_errors():
    """Return the demo: treatment, ring and formula against the refraction that is left."""
    return Demo(
        title="errors after corneal laser surgery",
        controls=(
            Slider("treated_d", "Laser treatment, D", -10, 5, 0.5, -6, "D", signed=True),
            Slider("missed_percent", "The ring misses, %", 0, 20, 1, 5, "%"),
            Choice(
                "formula",
                "Formula:",
                {IN_WORDS[name]: name for name in after_laser.DOUBLE_K_FORMULAS},
                "srk_t",
            ),
        ),
        build=_build_laser,
        compute=after_treatment,
        move=_move_laser,
        sentence=_say_laser,
        alt=_describe_laser,
    )


# --- a second lens ----------------------------------------------------------------------------

REFRACTIONS_D = np.linspace(-8.0, 8.0, 65)
PLUS_RULE = 1.5


@dataclass(frozen=True)
class Added:
    """A lens added to an eye, for one refraction and along all of them."""

    refraction_d: float
    position_mm: float
    k_d: float
    power_d: float
    along_d: np.ndarray


def lens_to_add(refraction_d, position_mm, k_d):
    """Return the lens to add to an eye so that no refraction remains.

    Parameters
    ----------
    refraction_d : float
        At the spectacle plane, D; myopia negative.
    position_mm : float
        Where the added lens stands, mm behind the cornea.
    k_d : float
        Keratometry, D.

    Returns
    -------
    Added

    Examples
    --------
    >>> round(lens_to_add(2.0, 5.0, 43.5).power_d, 2)
    2.95
    """
    powers_d = secondary.added_power(k_d, np.append(REFRACTIONS_D, refraction_d), position_mm)
    return Added(refraction_d, position_mm, k_d, float(powers_d[-1]), powers_d[:-1])


def _build_added():
    figure = Figure(figsize=(7.0, 3.5), dpi=style.DPI, layout="constrained")
    axes = figure.add_subplot()
    axes.set(
        xlim=(-8.4, 8.4),
        ylim=(-13, 16),
        xlabel="refraction with the present lens, D",
        ylabel="lens to add, D",
    )
    for axis in (axes.xaxis, axes.yaxis):
        axis.set_major_formatter(lambda d, _: signed(d, "", 0))
    axes.axhline(0.0, color=style.GREY, linewidth=0.8)
    axes.axvline(0.0, color=style.GREY, linewidth=0.8)
    axes.plot(REFRACTIONS_D, REFRACTIONS_D, ":", color=style.GREY)
    axes.plot(REFRACTIONS_D, PLUS_RULE * REFRACTIONS_D, "--", color=style.GREY, linewidth=1.4)
    axes.text(8.3, 3.6, "dotted: 1 ×", ha="right", va="center", color=style.GREY)
    axes.text(8.3, 1.5, "dashed: 1.5 ×", ha="right", va="center", color=style.GREY)
    artists = {}
    (artists["along"],) = axes.plot([], [], color=style.BLUE)
    (artists["here"],) = axes.plot([], [], "o", color=style.VERMILION, markersize=9)
    artists["here text"] = axes.text(-8.1, 14.0, "", va="center", color=style.VERMILION)
    return figure, artists


def _times(seen):
    if abs(seen.refraction_d) < 0.005:
        return "nothing to add"
    return f"{seen.power_d / seen.refraction_d:.2f} times the refraction"


def _move_added(artists, seen):
    artists["along"].set_data(REFRACTIONS_D, seen.along_d)
    artists["here"].set_data([seen.refraction_d], [seen.power_d])
    artists["here text"].set_text(f"add {signed(seen.power_d)}")


def _say_added(seen):
    return (
        f"With {signed(seen.refraction_d)} left, K {seen.k_d:.1f} D and the added lens "
        f"{seen.position_mm:.1f} mm behind the cornea: add {signed(seen.power_d)}, {_times(seen)}. "
        "The axial length is not asked."
    )


def _describe_added(seen):
    ends = " and ".join(f"{signed(seen.along_d[n])} at {signed(REFRACTIONS_D[n])}" for n in (0, -1))
    return (
        f"Curve of the lens to add against the refraction, beside lines of once and one and a half "
        f"times; it bends upwards, {ends}. {_say_added(seen)}"
    )


def second_lens():
    """Return the demo: refraction, position and K against the lens to add."""
    return Demo(
        title="a lens added to an eye",
        controls=(
            Slider("refraction_d", "Refraction now, D", -8, 8, 0.25, 2, "D", signed=True),
            Slider("position_mm", "Place of the added lens, mm", 2.8, 5.5, 0.1, 5.0, "mm"),
            Slider("k_d", "Keratometry, D", 36, 48, 0.25, 43.5, "D"),
        ),
        build=_build_added,
        compute=lens_to_add,
        move=_move_added,
        sentence=_say_added,
        alt=_describe_added,
    )


# --- worked examples --------------------------------------------------------------------------

PATIENT = Eye(26.0, 38.75, acd_mm=3.45)
PATIENT_K_BEFORE_D = 43.5
PATIENT_BEFORE_D, PATIENT_AFTER_D = -6.25, -0.25


@cache
def patient_methods():
    """Return what every method says for the page's patient.

    Returns
    -------
    power.after_laser.Comparison
    """
    return after_laser.compare(
        PATIENT,
        agreed(),
        "myopic",
        k_before_d=PATIENT_K_BEFORE_D,
        refraction_before_d=PATIENT_BEFORE_D,
        refraction_after_d=PATIENT_AFTER_D,
    )


def patient_steps():
    """Return the way to the patient's lens, for ``page.worked``.

    Returns
    -------
    list of (str, str, float, str)
    """
    methods = patient_methods()
    powers_d = {estimate.method: estimate for estimate in methods.estimates}
    treated_d = after_laser.treated_refraction(PATIENT_BEFORE_D, PATIENT_AFTER_D)
    history = powers_d["clinical_history"]
    return [
        ("what the laser treated, at the cornea", "−6.25 and −0.25 D over 12 mm", treated_d, "D"),
        ("K by history", "43.50 D + treated", history.k_d, "D"),
        (
            "lens as if nothing had been done",
            "SRK/T, K 38.75 D for everything",
            powers_d["uncorrected"].iol_power_d,
            "D",
        ),
        (
            "position mended alone (double-K)",
            "SRK/T, K 38.75 D, for the position 43.50 D",
            powers_d["double_k"].iol_power_d,
            "D",
        ),
        (
            "K mended too",
            "SRK/T, K by history, for the position 43.50 D",
            history.iol_power_d,
            "D",
        ),
        ("the middle of all methods", "median of the seven dots", methods.median_d, "D"),
        ("lens to order", "nearest half step", nearest_power(methods.median_d), "D"),
    ]


def exchange_steps(k_d, refraction_d, old_power_d, position_mm):
    """Return the steps to a lens that takes the place of another, for ``page.worked``.

    Parameters
    ----------
    k_d : float
        Keratometry, D.
    refraction_d : float
        With the old lens, at the spectacle plane, D.
    old_power_d : float
        D.
    position_mm : float
        Of the old lens and of the new one, mm behind the cornea.

    Returns
    -------
    list of (str, str, float, str)

    Examples
    --------
    >>> steps = exchange_steps(43.5, 2.0, 20.0, 5.0)
    >>> round(steps[-1][2], 2)
    22.95
    """
    at_cornea_d = refraction_d / (1.0 - 0.012 * refraction_d)
    arriving = [_carried(k_d + extra_d, position_mm) for extra_d in (at_cornea_d, 0.0)]
    added_d = secondary.added_power(k_d, refraction_d, position_mm)
    carry = f"V / (1 − {position_mm:.1f} V / 1336)"
    return [
        ("the refraction at the cornea", "over 12 mm", at_cornea_d, "D"),
        ("light that now is sharp: behind the cornea", "K + that", k_d + at_cornea_d, "D"),
        ("the same, at the lens", carry, arriving[0], "D"),
        ("light from far: at the lens", f"K, then {carry}", arriving[1], "D"),
        ("lens to add there (piggyback)", "the difference", added_d, "D"),
        ("or lens to put in its place", f"{old_power_d:.1f} D + that", old_power_d + added_d, "D"),
    ]


def _carried(vergence_d, way_mm):
    return vergence_d / (1.0 - way_mm * vergence_d / 1336.0)
