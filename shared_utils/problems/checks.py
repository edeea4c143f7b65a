"""Tolerant checks that say what was expected, in which unit, and the likely slip.

A check never prints the number that it expects. A wrong answer gets one sentence; there is no
traceback to read. Beside the sentence stands the same as data; see ``check_records``.
"""

from __future__ import annotations

import contextlib
import math
import numbers
import os
from dataclasses import replace
from typing import TYPE_CHECKING

import IPython.display
from IPython.core.interactiveshell import InteractiveShell

from shared_utils.pages.cells import WORKING_MARK
from shared_utils.problems import check_records
from shared_utils.problems.check_records import (
    NOT_ANSWERED,
    Advice,
    CheckRecord,
    is_slip,
    slip_ids,
    slug,
)
from shared_utils.show.style import signed

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence
    from typing import Any

_collecting: list[
    list[CheckRecord]
] = []  # lists of records, the innermost last; empty where a check stands by itself


class NotRight(AssertionError):
    """An answer that does not hold; shown as its one sentence alone.

    Parameters
    ----------
    sentence : str
        What the learner reads.
    step : str
        Name of the step, as the check calls it.
    slip : str
        Id of the slip; see ``check_records``.
    advice : str
        The part of the sentence that is the same for every learner.
    """

    def __init__(
        self, sentence: str, *, step: str = "", slip: str = "wrong-form", advice: str = ""
    ) -> None:
        super().__init__(sentence)
        self.record = CheckRecord(step, False, slip, str(sentence), advice)

    def _render_traceback_(self):
        # Python shows it: no step has caught it, so it speaks for its whole cell
        _publish([self.record])
        return [f"✗ {self}"]


def display(data: dict[str, Any], metadata: dict[str, Any] | None = None) -> None:
    """Put an output under the cell that runs; where there is no notebook there is none."""
    if InteractiveShell.initialized():
        IPython.display.display(data, metadata=metadata, raw=True)


def _publish(records):
    display(check_records.mime_bundle(records), metadata={})


def _hold(what, value):
    """Print that a step holds, and keep a record of it."""
    record = CheckRecord(what, True, sentence=f"{what}: {value} holds.")
    print(f"✓ {record.sentence}")
    if _collecting:
        _collecting[-1].append(record)
    else:
        _publish([record])


@contextlib.contextmanager
def _collected():
    """Give the list of what holds meanwhile, instead of an output for each."""
    records = []
    _collecting.append(records)
    try:
        yield records
    finally:
        _collecting.remove(records)


def number(
    what: str,
    answer: object,
    want: float,
    *,
    unit: str,
    within: float,
    expect: str,
    slips: Mapping[str, float] | None = None,
) -> None:
    """Check one number, and print that it holds.

    Parameters
    ----------
    what : str
        Name of the quantity, as the problem calls it.
    answer : object
        What the learner's code gave.
    want : float
        The right number.
    unit : str
        Its unit; empty for a pure number.
    within : float
        Tolerance, in the same unit.
    expect : str
        What kind of number is right, in words: plane, sign, unit. Not the number itself.
    slips : dict of str to float, optional
        Advice → the number that this wrong path leads to.

    Raises
    ------
    NotRight
        Saying what was got, what was expected and the likely slip.

    Examples
    --------
    >>> number("vergence at the lens", -2.5, -2.5, unit="D", within=0.01, expect="negative")
    ✓ vergence at the lens: −2.500 D holds.
    """
    got = _plain_number(what, answer, unit, expect)
    if abs(got - want) <= within + 1e-12:
        _hold(what, _written(got, unit))
        return
    slip, advice = _slip_of_number(got, want, within, slips or {})
    raise NotRight(
        f"{what}: you have {_written(got, unit)}. Expected: {expect}, to within {within:g} "
        f"{unit or 'of the value'}. {_likely(slip, advice)}".strip(),
        step=what,
        slip=slip,
        advice=advice,
    )


def slip(slip_id: str, advice: str) -> str:
    """Return an advice whose slip keeps its id when the words change.

    Without it the id is made of the first words that tell something.

    Parameters
    ----------
    slip_id : str
        In small letters, digits and hyphens; that which the old words gave, where they change.
    advice : str
        What the learner reads.

    Raises
    ------
    ValueError
        If it is no id.

    Examples
    --------
    >>> slips = {slip("index-left-out", "divide the index by the distance."): 1.0}
    >>> number("it", 1.0, 2.0, unit="D", within=0.1, expect="positive", slips=slips)
    Traceback (most recent call last):
    shared_utils.problems.checks.NotRight: it: you have +1.000 D. Expected: positive, to within
    0.1 D. Likely slip: divide the index by the distance.
    """
    return Advice(slip_id, advice)


def choice(
    what: str,
    answer: object,
    want: str,
    *,
    options: Sequence[str],
    slips: Mapping[str, str] | None = None,
) -> None:
    """Check one of a few words, and print that it holds.

    Parameters
    ----------
    what : str
        Name of the choice.
    answer : object
        What the learner gave.
    want : str
        The right word.
    options : sequence of str
        The words to choose from.
    slips : dict of str to str, optional
        Wrong word → advice.

    Raises
    ------
    NotRight
    """
    if not isinstance(answer, str) or answer.strip().lower() not in options:
        raise NotRight(
            f"{what}: you have {_short(answer)}. Expected one of the words: {', '.join(options)}.",
            step=what,
            slip="not-an-option",
        )
    word = answer.strip().lower()
    if word == want:
        _hold(what, word)
        return
    advice = (slips or {}).get(word, "Go back to the lesson's worked example.")
    raise NotRight(
        f"{what}: {word} does not hold. {advice}",
        step=what,
        slip=f"chose-{slug(word, numbers=True)}",
        advice=f"{word}: {advice}",
    )


def axis(
    what: str,
    answer: object,
    want_deg: float,
    *,
    within_deg: float,
    expect: str,
    cylinder_d: float | None = None,
    slips: Mapping[str, float] | None = None,
) -> None:
    """Check an axis, and print that it holds; 180 and 0 are the same axis.

    Parameters
    ----------
    what : str
        Name of the axis, as the problem calls it.
    answer : object
        What the learner's code gave, degrees.
    want_deg : float
        The right axis, degrees.
    within_deg : float
        Tolerance, degrees.
    expect : str
        Which axis is right, in words.
    cylinder_d : float, optional
        The right cylinder, D: below 0.125 D any axis holds, for a sphere has none.
    slips : dict of str to float, optional
        Advice → the axis that this wrong path leads to.

    Raises
    ------
    NotRight

    Examples
    --------
    >>> axis("steep axis", 179.5, 0.5, within_deg=2, expect="the steep meridian")
    ✓ steep axis: 179.5° holds.
    """
    got = _plain_number(what, answer, "degrees", expect)
    free = cylinder_d is not None and abs(cylinder_d) < 0.125
    if free or _turned(got, want_deg) <= within_deg + 1e-9:
        _hold(what, f"{got:.1f}°")
        return
    slip, advice = _slip_of_axis(got, want_deg, within_deg, slips or {})
    raise NotRight(
        f"{what}: you have {got:.1f}°. Expected: {expect}, to within {within_deg:g}°. "
        f"{_likely(slip, advice)}",
        step=what,
        slip=slip,
        advice=advice,
    )


def lens_power(
    what: str,
    answer: object,
    want_d: float,
    *,
    step_d: float = 0.5,
    expect: str,
    slips: Mapping[str, float] | None = None,
) -> None:
    """Check the power of a lens that can be ordered, and print that it holds.

    Parameters
    ----------
    what : str
        Name of the power, as the problem calls it.
    answer : object
        What the learner's code gave, D.
    want_d : float
        The right power, D, a whole number of steps.
    step_d : float
        The step in which the lens is made, D.
    expect : str
        Which power is right, in words: plane, target, rounding.
    slips : dict of str to float, optional
        Advice → the power that this wrong path leads to.

    Raises
    ------
    NotRight

    Examples
    --------
    >>> lens_power("lens to order", 21.5, 21.5, expect="the step nearest to the target")
    ✓ lens to order: +21.50 D holds.
    """
    got = _plain_number(what, answer, "D", expect)
    if abs(got / step_d - round(got / step_d)) > 1e-6:
        raise NotRight(
            f"{what}: you have {_written(got, 'D')}, which is not made: powers come in steps of "
            f"{step_d:g} D. Expected: {expect}.",
            step=what,
            slip="not-made",
        )
    if abs(got - want_d) < step_d / 2:
        _hold(what, signed(got))
        return
    slip, advice = _slip_of_lens_power(got, want_d, step_d, slips or {})
    raise NotRight(
        f"{what}: you have {signed(got)}. Expected: {expect}. {_likely(slip, advice)}",
        step=what,
        slip=slip,
        advice=advice,
    )


def working(text: str) -> None:
    """Show the worked solution of a problem with the learner's numbers, for the feedback page.

    Parameters
    ----------
    text : str
        Markdown; formulas between dollar signs.

    """
    display({"text/markdown": text, "text/plain": text}, metadata=WORKING_MARK)


class Marks:
    """Partial credit: steps that are checked one by one, and a score at the end.

    The score is the last value of a test cell, a builtin float; nbgrader reads it as the points.

    Parameters
    ----------
    points : float
        What the cell is worth when every step holds.

    Examples
    --------
    >>> marks = Marks(2)
    >>> marks.step(number, "first", 1.0, 1.0, unit="D", within=0.01, expect="positive")
    ✓ first: +1.000 D holds.
    >>> marks.step(number, "second", -2.0, 2.0, unit="D", within=0.01, expect="positive")
    ✗ second: you have −2.000 D. Expected: positive, to within 0.01 D. Likely slip: the sign.
    >>> marks.score()
    1.0
    """

    def __init__(self, points: float) -> None:
        self.points = points
        self.records: list[CheckRecord] = []

    def step(
        self,
        check: Callable[..., Any],
        what: str,
        answer: object | Callable[..., Any],
        *args: Any,
        **kwargs: Any,
    ) -> None:
        """Run one check; a step that does not hold costs its share and no more.

        Parameters
        ----------
        check : callable
            ``number``, ``axis``, ``lens_power`` or ``choice``.
        what : str
            Name of the step.
        answer : object or callable
            What the learner gave, or a function of no arguments that gives it, so that an error
            in it costs this step alone.
        *args, **kwargs
            The rest, for the check.
        """
        try:
            with _collected() as held:
                check(what, answer() if callable(answer) else answer, *args, **kwargs)
            self.records.append(held[-1] if held else CheckRecord(what, True, sentence=what))
        except NotImplementedError:
            self._miss(CheckRecord(what, False, "not-answered", f"{what}: {NOT_ANSWERED}"))
        except NotRight as error:
            self._miss(replace(error.record, step=error.record.step or what))
        except Exception as error:
            name = type(error).__name__
            sentence = f"{what}: your code stopped with {name}: {error}"
            advice = f"stopped with {name}"
            self._miss(CheckRecord(what, False, "stopped", sentence, advice, error=name))

    def _miss(self, record):
        self.records.append(record)
        print(f"✗ {record.sentence}")

    def score(self) -> float:
        """Return the points earned, as a builtin float.

        Raises
        ------
        NotRight
            Under nbgrader's Validate alone, which would say no more of a part than that it is one.
        """
        if not self.records:
            raise ValueError("No step was checked; call step() before score().")
        each = self.points / len(self.records)
        _publish(
            replace(record, earned=each if record.holds else 0.0, possible=each)
            for record in self.records
        )
        held = sum(record.holds for record in self.records)
        missed = [record.sentence for record in self.records if not record.holds]
        if missed and os.environ.get("NBGRADER_EXECUTION") == "validate":
            raise NotRight(
                f"{held} of {len(self.records)} steps hold. {' ✗ '.join(missed)}", slip="unnamed"
            )
        return float(self.points * held / len(self.records))


def _plain_number(what, answer, unit, expect):
    hint = f"Expected: {expect}." + (f" A plain number in {unit}." if unit else "")
    if answer is None:
        raise NotRight(
            f"{what}: your code gave nothing back; end it with return. {hint}",
            step=what,
            slip="no-return",
        )
    is_number = isinstance(answer, numbers.Real) and not isinstance(answer, bool)
    if not is_number and hasattr(answer, "item") and getattr(answer, "size", 0) == 1:
        answer = answer.item()  # a numpy number in an array of one
        is_number = isinstance(answer, numbers.Real) and not isinstance(answer, bool)
    if not is_number:
        raise NotRight(
            f"{what}: you have {_short(answer)}, which is not a number. {hint}",
            step=what,
            slip="not-a-number",
        )
    if not math.isfinite(answer):
        raise NotRight(
            f"{what}: you have {answer}; a division by zero, perhaps? {hint}",
            step=what,
            slip="not-finite",
        )
    return float(answer)


def _likely(slip, advice):
    return advice if slip == "unnamed" else f"Likely slip: {advice}"


def _slip_of_number(got, want, within, slips):
    """Return the id and the advice of the slip that leads to a wrong number."""
    for advice, wrong in slips.items():
        if abs(wrong - want) > within and is_slip(got, wrong, within):
            return slip_ids(slips)[advice], str(advice)
    if abs(got + want) <= within:
        return "sign", "the sign."
    for factor, slip in ((100.0, "centimetres"), (1000.0, "millimetres")):
        for wrong in (want * factor, want / factor):
            if abs(got - wrong) <= 1e-3 * abs(wrong):
                return slip, f"{slip} and metres were mixed."
    return "unnamed", "Check each step's unit and sign."


def _slip_of_axis(got_deg, want_deg, within_deg, slips):
    for advice, wrong_deg in slips.items():
        if _turned(wrong_deg, want_deg) > within_deg and _turned(got_deg, wrong_deg) <= within_deg:
            return slip_ids(slips)[advice], str(advice)
    if _turned(got_deg, want_deg + 90.0) <= within_deg:
        return "other-meridian", "that is the other meridian, 90° away."
    if _turned(math.degrees(got_deg), want_deg) <= within_deg:
        return "radians", "radians were not turned into degrees."
    if _turned(180.0 - got_deg, want_deg) <= within_deg:
        return "mirrored", "the sense of turning; axes count anticlockwise."
    return "unnamed", "Check from which meridian the angle counts."


def _slip_of_lens_power(got_d, want_d, step_d, slips):
    for advice, wrong_d in slips.items():
        if abs(wrong_d - want_d) > step_d / 2 and abs(got_d - wrong_d) < step_d / 2:
            return slip_ids(slips)[advice], str(advice)
    if abs(abs(got_d - want_d) - step_d) < 1e-6:
        return "one-step-off", "one step off; round as the problem says."
    return "unnamed", "Check the target, the constant and the rounding."


def _turned(one_deg, other_deg):
    """How far two axes lie apart, degrees, at most 90."""
    return abs((one_deg - other_deg + 90.0) % 180.0 - 90.0)


def _written(value, unit):
    sign = "+" if value > 0 else "−" if value < 0 else ""
    return f"{sign}{abs(value):.3f} {unit}".strip()


def _short(answer):
    text = repr(answer)
    return text if len(text) <= 40 else text[:37] + "..."
