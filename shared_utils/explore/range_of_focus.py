"""Sliders on the range of focus: one defocus curve, and two eyes together."""

from dataclasses import dataclass

import numpy as np
from matplotlib.figure import Figure

from shared_utils.choice.tasks import LENS_OF
from shared_utils.explore.engine import Choice, Demo, Slider
from shared_utils.show import style
from shared_utils.show.figure_parts import line_of
from shared_utils.show.range_of_focus import (
    CURVE_D,
    LIMIT_LOGMAR,
    PHONE_D,
    SCREEN_D,
    acuity_curve,
    reach_in_words,
    read_at,
    set_curve_axes,
    usable_parts,
)
from shared_utils.show.style import signed

PUPILS_MM = np.arange(2.0, 5.01, 0.5)
CLASSES = {name: name for name in LENS_OF}
# below the curves, which end at 1.3, is room for words
_FOOT_OF_CURVE, _FOOT_OF_EYES = 1.6, 1.78
# where the acuity is read, and on which side of the line the words stand
_MARKS = (("66 cm", SCREEN_D, "right"), ("40 cm", PHONE_D, "left"))


def _compute_all():
    """Compute every curve once; they are kept."""
    for lens_class in LENS_OF:
        for pupil_mm in PUPILS_MM.tolist():
            acuity_curve(lens_class, pupil_mm)


def _foot_words(axes, place_d, side, foot, **kwargs):
    away_d = 0.07 if side == "right" else -0.07
    return axes.text(place_d + away_d, foot - 0.03, "", ha=side, va="bottom", **kwargs)


def _logmar(value):
    return signed(value, "", 2).lstrip("+")


# --- one curve ---------------------------------------------------------------------------------


@dataclass(frozen=True)
class Curve:
    """A defocus curve and what is read off it."""

    lens_class: str
    pupil_mm: float
    limit_logmar: float
    logmar: np.ndarray
    parts: list

    @property
    def range_d(self):
        """Usable range from far without a gap, D."""
        return -self.parts[0][1] if self.parts and self.parts[0][0] == 0.0 else 0.0

    def at(self, vergence_d):
        """Acuity at a vergence, logMAR."""
        return float(read_at(self.logmar, vergence_d))


def curve_of(lens_class, pupil_mm, limit_logmar=LIMIT_LOGMAR):
    """Return the defocus curve of a class of lens, and where it is good enough.

    Parameters
    ----------
    lens_class : str
        As in `choice.tasks.LENS_OF`.
    pupil_mm : float
        Pupil diameter, mm.
    limit_logmar : float
        Worst acuity that still counts.

    Returns
    -------
    Curve

    Examples
    --------
    >>> curve_of("monofocal", 2.0).range_d > curve_of("monofocal", 4.0).range_d
    True
    """
    logmar = acuity_curve(lens_class, round(float(pupil_mm), 2))
    return Curve(lens_class, pupil_mm, limit_logmar, logmar, usable_parts(logmar, limit_logmar))


def _build_curve():
    _compute_all()
    figure = Figure(figsize=(7.0, 4.1), dpi=style.DPI, layout="constrained")
    axes = figure.add_subplot()
    set_curve_axes(axes, _FOOT_OF_CURVE)
    artists = {}
    for n in range(3):
        artists[f"part {n}"] = axes.axvspan(0, 0, color=style.SKY, alpha=0.25, linewidth=0)
    (artists["limit"],) = axes.plot([], [], color=style.GREY, linewidth=1.0)
    (artists["beside"],) = axes.plot([], [], color=style.BLACK, linewidth=1.0, alpha=0.45)
    (artists["curve"],) = axes.plot([], [])
    for name, place, side in _MARKS:
        (artists[f"{name} line"],) = axes.plot([], [], ":", color=style.PURPLE)
        (artists[f"{name} dot"],) = axes.plot([], [], "o", color=style.PURPLE, markersize=9)
        artists[f"{name} words"] = _foot_words(axes, place, side, _FOOT_OF_CURVE, color="#8a4672")
    artists["range"] = axes.text(0.93, 1.57, "", va="bottom")
    return figure, artists


def _move_curve(artists, seen):
    for n in range(3):
        there = n < len(seen.parts)
        band = artists[f"part {n}"]
        band.set_visible(there)
        if there:
            begun, end = seen.parts[n]
            band.set_x(end)
            band.set_width(begun - end)
    artists["limit"].set_data([1.0, -4.0], [seen.limit_logmar] * 2)
    artists["beside"].set_data(CURVE_D, acuity_curve("monofocal", round(seen.pupil_mm, 2)))
    line = line_of(LENS_OF[seen.lens_class])
    artists["curve"].set_data(CURVE_D, seen.logmar)
    artists["curve"].set_color(line["color"])
    artists["curve"].set_linestyle(line["linestyle"])
    for name, place, _ in _MARKS:
        value = seen.at(place)
        artists[f"{name} line"].set_data([place, place], [_FOOT_OF_CURVE, value])
        artists[f"{name} dot"].set_data([place], [value])
        artists[f"{name} words"].set_text(f"{name}: {_logmar(value)}")
    artists["range"].set_text(f"usable {seen.range_d:.1f} D")


def _say_curve(seen):
    far, screen, phone = (_logmar(seen.at(place)) for place in (0.0, SCREEN_D, PHONE_D))
    return (
        f"{seen.lens_class.capitalize()}, pupil {seen.pupil_mm:.1f} mm: far {far}, 66 cm {screen}, "
        f"40 cm {phone} logMAR. At {seen.limit_logmar:.2f} or better "
        f"{reach_in_words(seen.parts)}: {seen.range_d:.1f} D without a gap."
    )


def _describe_curve(seen):
    gap = "in one stretch" if len(seen.parts) == 1 else "with a gap between"
    if not seen.parts:
        gap = "for it stays below the limit"
    return f"Acuity against the vergence of the object, usable {gap}. {_say_curve(seen)}"


def curve_and_range():
    """Return the demo: lens, pupil and limit against the defocus curve and its range."""
    return Demo(
        title="a defocus curve and its usable range",
        controls=(
            Slider("pupil_mm", "Pupil, mm", 2.0, 5.0, 0.5, 3.0, "mm"),
            Slider("limit_logmar", "Limit, logMAR", 0.1, 0.4, 0.05, 0.2, "logMAR"),
            Choice("lens_class", "Lens:", CLASSES, "extended depth of focus"),
        ),
        build=_build_curve,
        compute=curve_of,
        move=_move_curve,
        sentence=_say_curve,
        alt=_describe_curve,
    )


# --- two eyes ----------------------------------------------------------------------------------

SEEN_D = np.linspace(1.0, -4.0, 81)


@dataclass(frozen=True)
class Pair:
    """Two eyes with the same lens: one aimed at far, one nearer."""

    lens_class: str
    pupil_mm: float
    target_d: float
    far_eye: np.ndarray
    near_eye: np.ndarray
    parts: list
    shared: list

    @property
    def both(self):
        """The better eye at each place, logMAR."""
        return np.minimum(self.far_eye, self.near_eye)

    def at(self, vergence_d):
        """Acuity of the two eyes at a vergence, logMAR."""
        return float(np.interp(-vergence_d, -SEEN_D, self.both))

    @property
    def range_d(self):
        """Range from far without a gap, D."""
        return -self.parts[0][1] if self.parts and self.parts[0][0] == 0.0 else 0.0

    @property
    def shared_d(self):
        """In how many dioptres of the range both eyes are good enough."""
        return sum(begun - end for begun, end in self.shared)


def two_eyes_with(target_d, pupil_mm, lens_class):
    """Return what two eyes see, one aimed at far and the other nearer.

    Parameters
    ----------
    target_d : float
        Refraction that the near eye is aimed at, D, 0 or negative.
    pupil_mm : float
        Pupil diameter, mm.
    lens_class : str
        As in `choice.tasks.LENS_OF`; the same in both eyes.

    Returns
    -------
    Pair

    Examples
    --------
    The near eye's curve is the far eye's, shifted by the target.

    >>> seen = two_eyes_with(-1.25, 3.0, "monofocal")
    >>> bool(abs(seen.near_eye[36] - seen.far_eye[16]) < 1e-6), SEEN_D[36], SEEN_D[16]
    (True, np.float64(-1.25), np.float64(0.0))
    """
    curve = acuity_curve(lens_class, round(float(pupil_mm), 2))
    far_eye = read_at(curve, SEEN_D)
    # an eye of refraction R sees vergence V as one without error sees V − R
    near_eye = read_at(curve, np.minimum(SEEN_D - target_d, CURVE_D[0]))
    return Pair(
        lens_class,
        pupil_mm,
        target_d,
        far_eye,
        near_eye,
        usable_parts(np.minimum(far_eye, near_eye), LIMIT_LOGMAR, SEEN_D),
        usable_parts(np.maximum(far_eye, near_eye), LIMIT_LOGMAR, SEEN_D),
    )


def _build_eyes():
    _compute_all()
    figure = Figure(figsize=(7.0, 4.3), dpi=style.DPI, layout="constrained")
    axes = figure.add_subplot()
    set_curve_axes(axes, _FOOT_OF_EYES)
    axes.axhline(LIMIT_LOGMAR, color=style.GREY, linewidth=1.0)
    artists = {}
    (artists["both"],) = axes.plot([], [], color=style.SKY, linewidth=9.0, alpha=0.55)
    (artists["far eye"],) = axes.plot([], [], color=style.PURPLE, linewidth=2.0)
    (artists["near eye"],) = axes.plot([], [], color=style.ORANGE, linewidth=2.0, dashes=(4, 2))
    for n, (words, colour, kind) in enumerate(
        (
            ("far eye", style.PURPLE, {"linewidth": 2.0}),
            ("near eye", style.ORANGE, {"linewidth": 2.0, "dashes": (4, 2)}),
            ("both", style.SKY, {"linewidth": 9.0, "alpha": 0.55}),
        )
    ):
        left = 0.9 - 1.25 * n
        axes.plot([left, left - 0.3], [1.47, 1.47], color=colour, **kind)
        axes.text(left - 0.38, 1.47, words, va="center")
    for name, place, side in _MARKS:
        (artists[f"{name} dot"],) = axes.plot([], [], "o", color=style.BLACK, markersize=7)
        artists[f"{name} words"] = _foot_words(axes, place, side, _FOOT_OF_EYES)
        axes.axvline(place, ymax=0.07, color=style.BLACK, linewidth=1.0, linestyle=":")
    return figure, artists


def _move_eyes(artists, seen):
    artists["far eye"].set_data(SEEN_D, seen.far_eye)
    artists["near eye"].set_data(SEEN_D, seen.near_eye)
    artists["both"].set_data(SEEN_D, seen.both)
    for name, place, _ in _MARKS:
        value = seen.at(place)
        artists[f"{name} dot"].set_data([place], [value])
        artists[f"{name} words"].set_text(f"{name}: {_logmar(value)}")


def _say_eyes(seen):
    return (
        f"{seen.lens_class.capitalize()}, pupil {seen.pupil_mm:.1f} mm, near eye "
        f"{signed(seen.target_d)}: 20/32 or better {reach_in_words(seen.parts)}; in "
        f"{seen.shared_d:.1f} D of it both eyes are. 40 cm: {_logmar(seen.at(PHONE_D))} logMAR."
    )


def _describe_eyes(seen):
    gap = "no gap" if len(seen.parts) == 1 else "a gap"
    return (
        f"Acuity of a far eye, a near eye and the better of both against the vergence of the "
        f"object, {gap}. {_say_eyes(seen)}"
    )


def two_eyes():
    """Return the demo: target of the near eye, pupil and lens against what two eyes see."""
    return Demo(
        title="two eyes with two targets",
        controls=(
            Slider("target_d", "Target of the near eye, D", -2.5, 0.0, 0.25, -1.25, "D", True),
            Slider("pupil_mm", "Pupil, mm", 2.0, 5.0, 0.5, 3.0, "mm"),
            Choice("lens_class", "Lens in both eyes:", CLASSES, "monofocal"),
        ),
        build=_build_eyes,
        compute=two_eyes_with,
        move=_move_eyes,
        sentence=_say_eyes,
        alt=_describe_eyes,
    )


# --- steps of the worked example ---------------------------------------------------------------


def plan_steps(range_near_d, range_far_d, target_d):
    """Return the steps from the range of one eye to that of two with different targets.

    Parameters
    ----------
    range_near_d, range_far_d : float
        How far one eye's usable range reaches from its focus, towards near and beyond, D.
    target_d : float
        Refraction that the near eye is aimed at, D, negative.

    Returns
    -------
    list of (str, str, float, str)

    Examples
    --------
    >>> [round(step[2], 2) for step in plan_steps(1.4, 1.2, -1.25)][:4]
    [1.4, 2.65, 37.74, 0.05]
    """
    nearest_d = range_near_d - target_d
    begins_d = max(-target_d - range_far_d, 0.0)
    return [
        ("the far eye reaches", "its range", range_near_d, "D"),
        ("the near eye reaches", f"range + {-target_d:.2f} D", nearest_d, "D"),
        ("that is", "100 / D", 100.0 / nearest_d, "cm"),
        (
            "the near eye begins at",
            f"{-target_d:.2f} D − {range_far_d:.2f} D, not below 0",
            begins_d,
            "D",
        ),
        (
            "gap between the two",
            "near eye's beginning less far eye's reach, not below 0",
            max(begins_d - range_near_d, 0.0),
            "D",
        ),
    ]


def what_a_plan_gives(target_d, pupil_mm, lens_class):
    """Return acuity at 40 cm and the range that both eyes share, for a worked example.

    Parameters
    ----------
    target_d, pupil_mm, lens_class
        As for ``two_eyes_with``.

    Returns
    -------
    list of (str, float, str)
    """
    seen = two_eyes_with(target_d, pupil_mm, lens_class)
    return [
        ("at 40 cm", seen.at(PHONE_D), "logMAR"),
        ("shared by both eyes", seen.shared_d, "D"),
    ]


def range_beyond_d(lens_class, pupil_mm, limit_logmar=LIMIT_LOGMAR):
    """Return how far the usable range of an eye reaches beyond far, into hyperopic blur.

    Parameters
    ----------
    lens_class : str
        As in `choice.tasks.LENS_OF`.
    pupil_mm : float
        Pupil diameter, mm.
    limit_logmar : float
        Worst acuity that still counts.

    Returns
    -------
    float
        D, up to 3.5.
    """
    curve = acuity_curve(lens_class, pupil_mm)[::-1]
    beyond = -CURVE_D[::-1]
    parts = usable_parts(curve, limit_logmar, beyond)
    return -parts[0][1]
