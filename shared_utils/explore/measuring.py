"""Sliders on measuring the eye: a cornea's back, a ruler's speed, an error's price."""

from dataclasses import dataclass

import numpy as np
from matplotlib.figure import Figure

from shared_utils.course import manifest
from shared_utils.explore.engine import Choice, Demo, Slider
from shared_utils.power import axial_length, cornea, outcomes
from shared_utils.power.biometry import Eye
from shared_utils.power.constants import LensConstants
from shared_utils.power.thin_lens import holladay_1
from shared_utils.show import style
from shared_utils.show.style import signed

AVERAGE_K_D = 43.5
LENS = LensConstants.from_a_constant(118.4)
WORTH_A_WORD_D = 0.125


@dataclass(frozen=True)
class Reading:
    """A cornea of two surfaces and what a keratometer makes of its front."""

    radius_mm: float
    ratio: float
    index: float
    reading_d: float
    true_d: float
    excess_d: float
    curve_d: np.ndarray


RATIOS = np.linspace(0.62, 1.13, 103)


def reading_and_truth(radius_mm, ratio, index):
    """Return a keratometer's reading of a cornea beside the cornea's power.

    Parameters
    ----------
    radius_mm : float
        Radius of the front surface, mm.
    ratio : float
        Radius of the back surface over that of the front.
    index : float
        Keratometric index of the instrument.

    Returns
    -------
    Reading

    Examples
    --------
    >>> seen = reading_and_truth(7.8, 0.83, 1.3375)
    >>> round(seen.reading_d, 2), round(seen.true_d, 2)
    (43.27, 42.15)
    """
    reading_d = cornea.keratometry(radius_mm, index)
    powers_d = cornea.thick_cornea(radius_mm, radius_mm * np.append(RATIOS, ratio)).power_d
    return Reading(
        radius_mm,
        ratio,
        index,
        reading_d,
        float(powers_d[-1]),
        reading_d - float(powers_d[-1]),
        reading_d - powers_d[:-1],
    )


def _build_reading():
    figure = Figure(figsize=(7.0, 3.5), dpi=style.DPI, layout="constrained")
    axes = figure.add_subplot()
    axes.set(
        xlim=(0.62, 1.13),
        ylim=(-2.0, 4.6),
        xlabel="radius of the back surface / radius of the front surface",
        ylabel="reading − true power, D",
    )
    axes.axvspan(0.78, 0.86, color="#e4edf5", zorder=0)
    axes.text(0.82, -1.7, "most eyes", ha="center", va="center", color=style.GREY)
    axes.axhline(0, color=style.GREY, linewidth=1.0)
    axes.text(0.63, -0.1, "reading is true", ha="left", va="top", color=style.GREY)
    artists = {}
    (artists["curve"],) = axes.plot([], [], color=style.BLUE)
    (artists["gap"],) = axes.plot([], [], color=style.VERMILION, linewidth=2.5)
    (artists["eye"],) = axes.plot([], [], "o", color=style.VERMILION, markersize=8)
    artists["gap text"] = axes.text(0, 0, "", color=style.VERMILION, weight="bold", va="center")
    artists["words"] = axes.text(1.12, 4.2, "", ha="right", va="center", fontsize=13)
    return figure, artists


def _move_reading(artists, seen):
    artists["curve"].set_data(RATIOS, seen.curve_d)
    artists["gap"].set_data([seen.ratio] * 2, [0.0, seen.excess_d])
    artists["eye"].set_data([seen.ratio], [seen.excess_d])
    artists["gap text"].set_text(signed(seen.excess_d))
    left = seen.ratio > 0.95
    artists["gap text"].set_ha("right" if left else "left")
    above = seen.excess_d + 0.45 if seen.excess_d >= 0.0 else seen.excess_d - 0.45
    artists["gap text"].set_position((seen.ratio + (-0.008 if left else 0.008), above))
    artists["words"].set_text(f"reads {seen.reading_d:.2f} D, has {seen.true_d:.2f} D of power")


def _verdict(seen):
    if abs(seen.excess_d) < WORTH_A_WORD_D:
        return "the reading is the cornea's power, nearly"
    side = "more" if seen.excess_d > 0 else "less"
    return f"the reading is {abs(seen.excess_d):.2f} D {side} than the cornea has"


def _say_reading(seen):
    return (
        f"Front radius {seen.radius_mm:.2f} mm read at index {seen.index:.4f}: "
        f"{seen.reading_d:.2f} D. With a back radius of {seen.ratio * seen.radius_mm:.2f} mm the "
        f"cornea has {seen.true_d:.2f} D: {_verdict(seen)}."
    )


def _describe_reading(seen):
    return (
        f"Curve of reading minus true power against the ratio of back to front radius, index "
        f"{seen.index:.4f}, front {seen.radius_mm:.2f} mm. At a ratio of {seen.ratio:.2f} "
        f"{_verdict(seen)}."
    )


def front_and_back():
    """Return the demo: front radius, ratio of the surfaces and index against the true power."""
    return Demo(
        title="what a keratometer reads and what a cornea has",
        controls=(
            Slider("ratio", "Back radius / front radius", 0.65, 1.10, 0.01, 0.83),
            Slider("radius_mm", "Radius of the front, mm", 6.8, 9.2, 0.05, 7.8, "mm"),
            Choice(
                "index",
                "Index of the keratometer:",
                {"1.3375": 1.3375, "4/3": 4 / 3, "1.3315": 1.3315},
                1.3375,
            ),
        ),
        build=_build_reading,
        compute=reading_and_truth,
        move=_move_reading,
        sentence=_say_reading,
        alt=_describe_reading,
    )


PRESSED_MM = 0.20  # how far a probe on the cornea flattens the eye; common practice: 0.1 to 0.3 mm
RULERS = {
    "sound, probe on the cornea": "touching sound",
    "sound, through water": "sound",
    "light, one index": "light",
    "each segment by itself": "segments",
}
LENGTHS_MM = np.linspace(20.0, 33.0, 66)


@dataclass(frozen=True)
class Length:
    """One eye's length by one ruler, and every ruler's error over all lengths."""

    true_mm: float
    lens_mm: float
    ruler: str
    read_mm: float
    surprise_d: float
    curves_mm: dict


def readings_mm(true_mm, lens_mm):
    """Return the length that every ruler shows of an eye.

    Parameters
    ----------
    true_mm : float or array
        Length to the retina's inner limit, mm.
    lens_mm : float
        Thickness of the lens, mm.

    Returns
    -------
    dict of str to float or array

    Examples
    --------
    >>> {name: round(mm, 2) for name, mm in readings_mm(30.0, 4.6).items()}
    {'touching sound': 29.9, 'sound': 30.1, 'light': 30.24, 'segments': 30.0}
    """
    sound_mm = axial_length.length_by_sound(axial_length.echo_time(true_mm, lens_mm))
    return {
        "touching sound": sound_mm - PRESSED_MM,
        "sound": sound_mm,
        "light": axial_length.length_by_light(axial_length.optical_path(true_mm, lens_mm)),
        "segments": true_mm,
    }


def length_and_truth(true_mm, lens_mm, ruler):
    """Return what a ruler shows of an eye, and the refraction that its error would leave.

    Parameters
    ----------
    true_mm : float
        Length to the retina's inner limit, mm.
    lens_mm : float
        Thickness of the lens, mm.
    ruler : str
        One of the values of ``RULERS``.

    Returns
    -------
    Length

    Examples
    --------
    >>> seen = length_and_truth(22.0, 4.6, "touching sound")
    >>> round(seen.read_mm, 2), round(seen.surprise_d, 1)
    (21.78, -0.7)
    """
    every = readings_mm(np.append(LENGTHS_MM, true_mm), lens_mm)
    read_mm = float(every[ruler][-1])
    return Length(
        true_mm,
        lens_mm,
        ruler,
        read_mm,
        surprise_d(true_mm, "length", read_mm - true_mm),
        {name: mm[:-1] - LENGTHS_MM for name, mm in every.items()},
    )


def surprise_d(length_mm, measured, error):
    """Return the refraction that one wrong measurement leaves, where zero was aimed at.

    Parameters
    ----------
    length_mm : float or array
        True axial length, mm; keratometry 43.50 D.
    measured : str
        What was measured wrong: ``"length"``, ``"k"`` or ``"position"``.
    error : float
        Measured minus true: mm, D, mm.

    Returns
    -------
    float or array
        D at the spectacle plane; hyperopia positive. The lens stands where Holladay 1 expects it.

    Examples
    --------
    >>> round(surprise_d(23.5, "length", 0.1), 2), round(surprise_d(23.5, "k", 1.0), 2)
    (0.27, 0.98)
    """
    by = {name: error if name == measured else 0.0 for name in ("length", "k", "position")}
    elp_mm = np.asarray(holladay_1(Eye(length_mm, AVERAGE_K_D), LENS).elp_mm)
    chosen_d = outcomes.emmetropic_power(
        Eye(length_mm + by["length"], AVERAGE_K_D + by["k"]), elp_mm + by["position"]
    )
    return outcomes.pseudophakic_refraction(
        length_mm, AVERAGE_K_D * outcomes.PER_K, elp_mm, chosen_d
    )


def _build_length():
    figure = Figure(figsize=(7.0, 3.5), dpi=style.DPI, layout="constrained")
    axes = figure.add_subplot()
    axes.set(
        xlim=(19.6, 33.4),
        ylim=(-0.48, 0.60),
        xlabel="true axial length, mm",
        ylabel="reading − truth, mm",
    )
    axes.axhline(0, color=style.GREY, linewidth=1.0)
    axes.text(33.3, -0.43, "grey: the other rulers", ha="right", va="center", color=style.GREY)
    artists = {}
    for name in RULERS.values():
        (artists[f"other {name}"],) = axes.plot([], [], color="#b5b5b5", linewidth=1.2)
    (artists["curve"],) = axes.plot([], [], color=style.BLUE, linewidth=2.6)
    (artists["gap"],) = axes.plot([], [], color=style.VERMILION, linewidth=2.5)
    (artists["eye"],) = axes.plot([], [], "o", color=style.VERMILION, markersize=8)
    artists["ruler"] = axes.text(19.8, 0.54, "", color=style.BLUE, va="center", fontsize=13)
    artists["cost"] = axes.text(19.8, 0.44, "", color=style.VERMILION, va="center", fontsize=13)
    return figure, artists


def _move_length(artists, seen):
    for name, error_mm in seen.curves_mm.items():
        artists[f"other {name}"].set_data(LENGTHS_MM, error_mm)
    artists["curve"].set_data(LENGTHS_MM, seen.curves_mm[seen.ruler])
    error_mm = seen.read_mm - seen.true_mm
    artists["gap"].set_data([seen.true_mm] * 2, [0.0, error_mm])
    artists["eye"].set_data([seen.true_mm], [error_mm])
    artists["ruler"].set_text(_ruler_in_words(seen.ruler))
    artists["cost"].set_text(f"{signed(error_mm, 'mm')}, leaves {signed(seen.surprise_d)}")


def _ruler_in_words(ruler):
    return next(words for words, value in RULERS.items() if value == ruler)


def _kind(refraction_d):
    if abs(refraction_d) < WORTH_A_WORD_D:
        return "hardly noticed"
    return "a hyperopic surprise" if refraction_d > 0 else "a myopic surprise"


def _say_length(seen):
    error_mm = seen.read_mm - seen.true_mm
    return (
        f"{_ruler_in_words(seen.ruler).capitalize()}: an eye of {seen.true_mm:.1f} mm with a lens "
        f"of {seen.lens_mm:.1f} mm reads {seen.read_mm:.2f} mm, {signed(error_mm, 'mm')} off. "
        f"That leaves {signed(seen.surprise_d)}, {_kind(seen.surprise_d)}."
    )


def _describe_length(seen):
    error_mm = seen.read_mm - seen.true_mm
    return (
        f"Error of four rulers against true axial length, lens {seen.lens_mm:.1f} mm. By "
        f"{_ruler_in_words(seen.ruler)} an eye of {seen.true_mm:.1f} mm is read "
        f"{signed(error_mm, 'mm')} off, {_kind(seen.surprise_d)}."
    )


def ruler_and_eye():
    """Return the demo: length, lens and ruler against the error of the reading."""
    return Demo(
        title="rulers for the length of an eye",
        controls=(
            Slider("true_mm", "True length, mm", 20, 33, 0.1, 23.5, "mm"),
            Slider("lens_mm", "Thickness of the lens, mm", 3.4, 5.8, 0.1, 4.6, "mm"),
            Choice("ruler", "Ruler:", RULERS, "touching sound"),
        ),
        build=_build_length,
        compute=length_and_truth,
        move=_move_length,
        sentence=_say_length,
        alt=_describe_length,
    )


MEASURED = {"length, mm": "length", "keratometry, D": "k", "lens position, mm": "position"}
LINES = {
    "length": (style.ORANGE, "-"),
    "k": (style.SKY, "--"),
    "position": (style.PURPLE, "-."),
}
PRICED_MM = np.linspace(20.0, 32.0, 41)


@dataclass(frozen=True)
class Price:
    """What one error of measurement leaves, in this eye and in eyes of every length."""

    length_mm: float
    measured: str
    error: float
    refraction_d: float
    curves_d: dict


def price_of_error(length_mm, measured, error):
    """Return the refraction that an error leaves in an eye, and the curves for every length.

    Parameters
    ----------
    length_mm : float
        True axial length, mm.
    measured : str
        One of the values of ``MEASURED``.
    error : float
        Measured minus true, in mm or D.

    Returns
    -------
    Price

    Examples
    --------
    >>> round(price_of_error(22.0, "length", -0.4).refraction_d, 1)
    -1.3
    """
    every_mm = np.append(PRICED_MM, length_mm)
    curves_d = {name: surprise_d(every_mm, name, error) for name in MEASURED.values()}
    return Price(
        length_mm,
        measured,
        error,
        float(curves_d[measured][-1]),
        {name: curve[:-1] for name, curve in curves_d.items()},
    )


def _build_price():
    figure = Figure(figsize=(7.0, 3.6), dpi=style.DPI, layout="constrained")
    axes = figure.add_subplot()
    axes.set(
        xlim=(19.6, 32.4),
        ylim=(-2.3, 2.9),
        xlabel="true axial length, mm",
        ylabel="refraction that is left, D",
    )
    axes.axhline(0, color=style.GREY, linewidth=1.0)
    artists = {}
    for words, name in MEASURED.items():
        colour, line = LINES[name]
        (artists[name],) = axes.plot([], [], color=colour, linestyle=line, linewidth=1.6)
        axes.plot([], [], color=colour, linestyle=line, linewidth=2.6, label=words)
    axes.legend(
        loc="upper center", ncols=3, frameon=False, handlelength=2.0, columnspacing=1.0, borderpad=0
    )
    (artists["gap"],) = axes.plot([], [], color=style.VERMILION, linewidth=2.5)
    (artists["eye"],) = axes.plot([], [], "o", color=style.VERMILION, markersize=8)
    artists["cost"] = axes.text(31.8, -2.0, "", ha="right", va="center", fontsize=13)
    return figure, artists


def _move_price(artists, seen):
    for name, curve in seen.curves_d.items():
        artists[name].set_data(PRICED_MM, curve)
        artists[name].set_linewidth(3.2 if name == seen.measured else 1.4)
    artists["gap"].set_data([seen.length_mm] * 2, [0.0, seen.refraction_d])
    artists["eye"].set_data([seen.length_mm], [seen.refraction_d])
    artists["cost"].set_text(f"{_error_in_words(seen)}: leaves {signed(seen.refraction_d)}")


def _error_in_words(seen):
    what, unit, less, more = {
        "length": ("length", "mm", "too short", "too long"),
        "k": ("keratometry", "D", "too flat", "too steep"),
        "position": ("lens position", "mm", "too far forward", "too deep"),
    }[seen.measured]
    if abs(seen.error) < 0.005:
        return f"{what} without error"
    return f"{what} {abs(seen.error):.2f} {unit} {more if seen.error > 0 else less}"


def _say_price(seen):
    return (
        f"An eye of {seen.length_mm:.1f} mm, {_error_in_words(seen)}: the lens chosen leaves "
        f"{signed(seen.refraction_d)} at the spectacles, {_kind(seen.refraction_d)}."
    )


def _describe_price(seen):
    return (
        f"Refraction left by the same error in length, keratometry and lens position against axial "
        f"length; length costs most in short eyes. At {seen.length_mm:.1f} mm, "
        f"{_error_in_words(seen)}, {signed(seen.refraction_d)} are left."
    )


def price():
    """Return the demo: which measurement is wrong, by how much, in which eye."""
    return Demo(
        title="what an error of measurement costs",
        controls=(
            Slider("length_mm", "True length of the eye, mm", 20, 32, 0.1, 23.5, "mm"),
            Slider("error", "Measured minus true, mm or D", -0.5, 0.5, 0.05, 0.3, "", True),
            Choice("measured", "Wrong is the:", MEASURED, "length"),
        ),
        build=_build_price,
        compute=price_of_error,
        move=_move_price,
        sentence=_say_price,
        alt=_describe_price,
    )


def keratometry_steps(radius_mm, back_mm, thickness_mm):
    """Return the steps from a corneal radius to its reading and to its power.

    Parameters
    ----------
    radius_mm, back_mm : float
        Radii of the front and the back surface, mm.
    thickness_mm : float
        Central thickness, mm.

    Returns
    -------
    list of (str, str, float, str)

    Examples
    --------
    >>> what, how, value, unit = keratometry_steps(7.5, 6.2, 0.55)[0]
    >>> how, round(value, 2), unit
    ('337.5 / 7.50', 45.0, 'D')
    """
    found = cornea.thick_cornea(radius_mm, back_mm, thickness_mm)
    return [
        (
            "the keratometer shows",
            f"337.5 / {radius_mm:.2f}",
            cornea.keratometry(radius_mm),
            "D",
        ),
        ("the front surface has", f"376 / {radius_mm:.2f}", found.anterior_d, "D"),
        ("the back surface has", f"−40 / {back_mm:.2f}", found.posterior_d, "D"),
        (
            "the cornea has",
            f"F1 + F2 − {thickness_mm / 1000:.5f} / 1.376 · F1 · F2",
            found.power_d,
            "D",
        ),
        ("the reading is too high by", "K − F", found.keratometry_excess_d, "D"),
    ]


def second_look(first_mm, second_mm, k_d):
    """Return the steps from two unlike readings of one eye to what the worse would have cost.

    Parameters
    ----------
    first_mm, second_mm : float
        The doubtful axial length and the one measured again, mm.
    k_d : float
        Mean keratometry, D.

    Returns
    -------
    list of (str, str, float, str)

    Examples
    --------
    >>> second_look(21.9, 22.3, 44.0)[0]
    ('the first reading was off by', '21.90 − 22.30', -0.4, 'mm')
    """
    eye = Eye(second_mm, k_d)
    elp_mm = holladay_1(eye, LENS).elp_mm
    right_d = outcomes.emmetropic_power(eye, elp_mm)
    wrong_d = outcomes.emmetropic_power(Eye(first_mm, k_d), elp_mm)
    left_d = outcomes.pseudophakic_refraction(second_mm, k_d * outcomes.PER_K, elp_mm, wrong_d)
    return [
        (
            "the first reading was off by",
            f"{first_mm:.2f} − {second_mm:.2f}",
            round(first_mm - second_mm, 9),
            "mm",
        ),
        (
            "lens for the second reading",
            f"lens equation, lesson {manifest.of().by_slug['formulas'].number}",
            right_d,
            "D",
        ),
        ("lens for the first reading", "the same", wrong_d, "D"),
        ("the lens would have been stronger by", "the difference", wrong_d - right_d, "D"),
        ("and would have left at the spectacles", "back through the eye", left_d, "D"),
        (
            "price of a millimetre in this eye",
            f"{signed(left_d)} / {signed(first_mm - second_mm, 'mm')}",
            left_d / (first_mm - second_mm),
            "D/mm",
        ),
    ]
