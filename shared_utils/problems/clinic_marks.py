"""How the clinic day is marked: one rubric for every patient, a right argument from a wrong number.

The learner's answer is a dictionary. What can be computed is checked in the open, from the
learner's own earlier numbers; the judgement is checked when the class is graded.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from shared_utils.clinic import rounds
from shared_utils.problems import checks
from shared_utils.problems.checks import Marks, NotRight

if TYPE_CHECKING:
    from collections.abc import Callable
    from typing import Any

    from shared_utils.clinic.rounds import Chart

FIELDS = ("keratometry", "lens_d", "leaves_d", "reader_d", "verdict", "because")
KERATOMETRY = ("holds", "misleads")
VERDICTS = ("suits", "with care", "not advised")


def computed(seen: Chart, answer: Callable[..., Any], points: float) -> float:
    """Mark what can be computed: the lens, what it leaves, the reader.

    Parameters
    ----------
    seen : rounds.Chart
    answer : callable
        Gives the learner's dictionary.
    points : float

    Returns
    -------
    float
        A builtin float, as nbgrader wants it.
    """
    marks = Marks(points)
    if _says(answer, "keratometry") == "misleads":
        marks.step(
            checks.choice,
            "lens",
            lambda: _none(answer()),
            "none",
            options=("none", "a power"),
            slips={"a power": "keratometry that misleads gives no power: write None."},
        )
        return marks.score()
    right_d, _ = rounds.lens_and_rest(seen)
    target_d = seen.target_d
    marks.step(
        checks.lens_power,
        "lens to order",
        lambda: _field(answer(), "lens_d"),
        right_d,
        expect="the step of 0.5 D nearest to what SRK/T asks for, at the target of the chart",
        slips={
            "the target was taken with the wrong sign.": _other_lens(seen, -target_d or 0.75),
            "the target was added to the power at the spectacle plane; it costs more in the eye.": (
                right_d + (2.0 if target_d < -0.3 else -2.0)
            ),
            "half the eye is missing: both keratometry readings count, and their mean.": (
                right_d + 4.0
            ),
        },
    )
    lens_d = _own(answer, "lens_d", right_d)
    leaves_d = rounds.left_by(seen, lens_d)
    marks.step(
        checks.number,
        "refraction that your lens leaves",
        lambda: _field(answer(), "leaves_d"),
        leaves_d,
        unit="D",
        within=0.06,
        expect="the prediction of SRK/T for the lens that you order, at the spectacles",
        slips=_far_enough(
            leaves_d,
            {
                "that is the target: the step that can be ordered leaves something else.": target_d,
                "the sign: a lens stronger than asked for leaves the eye short-sighted.": -leaves_d,
                "that is counted at the lens; at the spectacles it is about two thirds.": (
                    1.5 * (leaves_d - target_d) + target_d
                ),
            },
        ),
    )
    leaves_d = _own(answer, "leaves_d", leaves_d)
    reader_d = round((rounds.NEAR_D + leaves_d) * 4) / 4
    marks.step(
        checks.number,
        "comfortable reader for a newspaper at 40 cm with a monofocal lens",
        lambda: _field(answer(), "reader_d"),
        reader_d,
        unit="D",
        within=0.13,
        expect="all that 40 cm asks for, less what the eye is short-sighted; nearest quarter",
        slips={
            "that is a page at 33 cm.": reader_d + 0.5,
            "that is the weakest reader; the comfortable one leaves its depth in reserve.": (
                reader_d - 1.0
            ),
            "what the lens leaves was counted with the wrong sign, or twice.": reader_d - 0.75,
        },
    )
    return marks.score()


def judged(seen: Chart, answer: Callable[..., Any], points: float) -> float:
    """Mark the judgement: keratometry, verdict and what decides it; each stands by itself.

    Parameters
    ----------
    seen : rounds.Chart
    answer : callable
        Gives the learner's dictionary.
    points : float

    Returns
    -------
    float
    """
    marks = Marks(points)
    holds = rounds.keratometry_holds(seen)
    marks.step(
        checks.choice,
        "keratometry",
        lambda: _field(answer(), "keratometry"),
        "holds" if holds else "misleads",
        options=KERATOMETRY,
        slips={
            "holds": "look for earlier surgery and for an unsteady surface before any power.",
            "misleads": "nothing on this chart makes keratometry unsteady.",
        },
    )
    marks.step(
        checks.choice,
        "lens",
        lambda: _none(answer()),
        "a power" if holds else "none",
        options=("none", "a power"),
        slips={
            "a power": "a power from keratometry that misleads is worse than none: write None.",
            "none": "keratometry holds here, so a power can be reckoned.",
        },
    )
    right, deciding = rounds.verdict(seen)
    marks.step(
        checks.choice,
        f"verdict on the {seen.asked_class} lens",
        lambda: _field(answer(), "verdict"),
        right,
        options=VERDICTS,
        slips={
            "suits": "something on the chart, or something not examined, speaks against it.",
            "with care": "weigh again how strongly the chart speaks.",
            "not advised": "what speaks against it does not rule it out.",
        },
    )
    given = _says(answer, "because")
    marks.step(
        checks.choice,
        "what decides it",
        lambda: _field(answer(), "because"),
        given if given in deciding else deciding[0],
        options=(*seen.named(), rounds.NOTHING, *deciding),
        slips=dict.fromkeys(seen.named(), "that does not decide this verdict."),
    )
    return marks.score()


def working(seen: Chart) -> str:
    """Return the worked answer of a patient as Markdown, for the feedback.

    Parameters
    ----------
    seen : rounds.Chart

    Returns
    -------
    str
    """
    right, deciding = rounds.verdict(seen)
    names = ", ".join(f"`{name}`" for name in deciding)
    if rounds.keratometry_holds(seen):
        lens_d, leaves_d = rounds.lens_and_rest(seen)
        reader_d = round((rounds.NEAR_D + leaves_d) * 4) / 4
        power = (
            f"Keratometry holds. SRK/T with A = {rounds.A_CONSTANT} gives {lens_d:+.1f} D to "
            f"order, which leaves {leaves_d:+.2f} D; a newspaper at 40 cm asks for "
            f"{rounds.NEAR_D:.2f} D, so a comfortable reader of {reader_d:+.2f} D."
        )
    else:
        power = "Keratometry misleads here: no power before it is measured in a way that holds."
    return f"{power} The {seen.asked_class} lens: **{right}**, because of {names}."


def _field(answer, name):
    if not isinstance(answer, dict):
        raise NotRight(
            f"Your answer is {type(answer).__name__}; give a dictionary with {', '.join(FIELDS)}."
        )
    if name not in answer:
        raise NotRight(f"Your dictionary lacks {name!r}; it has {', '.join(map(str, answer))}.")
    return answer[name]


def _none(answer):
    return "none" if _field(answer, "lens_d") is None else "a power"


def _says(answer, name):
    """A word of the answer, or None where there is none to read yet."""
    try:
        word = _field(answer(), name)
    except Exception:
        return None
    return word.strip().lower() if isinstance(word, str) else None


def _own(answer, name, otherwise):
    """The learner's own number, so that a mistake is marked once; else the right one."""
    try:
        return min(max(float(_field(answer(), name)), -20.0), 40.0)
    except Exception:
        return otherwise


def _far_enough(right_d, slips):
    """Those slips that can be told from the right number and from one another."""
    kept = {}
    for advice, wrong_d in slips.items():
        if all(abs(wrong_d - other_d) > 0.13 for other_d in (right_d, *kept.values())):
            kept[advice] = wrong_d
    return kept


def _other_lens(seen, target_d):
    lens_d, _ = rounds.lens_and_rest(replace(seen, target_d=target_d))
    right_d, _ = rounds.lens_and_rest(seen)
    return lens_d if abs(lens_d - right_d) > 0.4 else right_d + 1.0
