"""Tolerant checks that say what was expected, in which unit, and the likely slip.

A check never prints the number that it expects. A wrong answer is told in one sentence; there is
no traceback to read.
"""

import math
import numbers

NOT_ANSWERED = "Not answered yet."


class NotRight(AssertionError):
    """An answer that does not hold; shown as its one sentence alone."""

    def _render_traceback_(self):
        return [f"✗ {self}"]


def number(what, answer, want, *, unit, within, expect, slips=None):
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
        print(f"✓ {what}: {_written(got, unit)} holds.")
        return
    advice = _advice(got, want, within, slips or {})
    raise NotRight(
        f"{what}: you have {_written(got, unit)}. Expected: {expect}, to within {within:g} "
        f"{unit or 'of the value'}. {advice}".strip()
    )


def choice(what, answer, want, *, options, slips=None):
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
            f"{what}: you have {_short(answer)}. Expected one of the words: {', '.join(options)}."
        )
    word = answer.strip().lower()
    if word == want:
        print(f"✓ {what}: {word} holds.")
        return
    advice = (slips or {}).get(word, "Go back to the lesson's worked example.")
    raise NotRight(f"{what}: {word} does not hold. {advice}")


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

    def __init__(self, points):
        self.points = points
        self.asked = self.held = 0

    def step(self, check, what, answer, *args, **kwargs):
        """Run one check; a step that does not hold costs its share and no more.

        Parameters
        ----------
        check : callable
            ``number`` or ``choice``.
        what : str
            Name of the step.
        answer : object or callable
            What the learner gave, or a function of no arguments that gives it, so that an error
            in it costs this step alone.
        *args, **kwargs
            The rest, for the check.
        """
        self.asked += 1
        try:
            check(what, answer() if callable(answer) else answer, *args, **kwargs)
            self.held += 1
        except NotImplementedError:
            print(f"✗ {what}: {NOT_ANSWERED}")
        except NotRight as slip:
            print(f"✗ {slip}")
        except Exception as error:
            print(f"✗ {what}: your code stopped with {type(error).__name__}: {error}")

    def score(self):
        """Return the points earned, as a builtin float."""
        if self.asked == 0:
            raise ValueError("No step was checked; call step() before score().")
        return float(self.points * self.held / self.asked)


def _plain_number(what, answer, unit, expect):
    hint = f"Expected: {expect}." + (f" A plain number in {unit}." if unit else "")
    if answer is None:
        raise NotRight(f"{what}: your code gave nothing back; end it with return. {hint}")
    is_number = isinstance(answer, numbers.Real) and not isinstance(answer, bool)
    if not is_number and hasattr(answer, "item") and getattr(answer, "size", 0) == 1:
        answer = answer.item()  # a numpy number in an array of one
        is_number = isinstance(answer, numbers.Real) and not isinstance(answer, bool)
    if not is_number:
        raise NotRight(f"{what}: you have {_short(answer)}, which is not a number. {hint}")
    if not math.isfinite(answer):
        raise NotRight(f"{what}: you have {answer}; a division by zero, perhaps? {hint}")
    return float(answer)


def _advice(got, want, within, slips):
    for advice, wrong in slips.items():
        if abs(wrong - want) > within and abs(got - wrong) <= max(within, 1e-6 * abs(wrong)):
            return f"Likely slip: {advice}"
    if abs(got + want) <= within:
        return "Likely slip: the sign."
    for factor, slip in ((100.0, "centimetres and metres"), (1000.0, "millimetres and metres")):
        for wrong in (want * factor, want / factor):
            if abs(got - wrong) <= 1e-3 * abs(wrong):
                return f"Likely slip: {slip} were mixed."
    return "Check each step's unit and sign."


def _written(value, unit):
    sign = "+" if value > 0 else "−" if value < 0 else ""
    return f"{sign}{abs(value):.3f} {unit}".strip()


def _short(answer):
    text = repr(answer)
    return text if len(text) <= 40 else text[:37] + "..."
