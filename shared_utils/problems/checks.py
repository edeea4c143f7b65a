"""Tolerant checks that say what was expected, in which unit, and the likely slip.

A check never prints the number that it expects. A wrong answer is told in one sentence; there is
no traceback to read.
"""

import math
import numbers
import os

from IPython.display import display

from shared_utils.show.style import signed

NOT_ANSWERED = "Not answered yet."
WORKING_MARK = {"lens_course": "working"}  # by which the feedback finds a worked solution


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


def axis(what, answer, want_deg, *, within_deg, expect, cylinder_d=None, slips=None):
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
        print(f"✓ {what}: {got:.1f}° holds.")
        return
    advice = "Check from which meridian the angle counts."
    for slip, wrong in (slips or {}).items():
        if _turned(wrong, want_deg) > within_deg and _turned(got, wrong) <= within_deg:
            advice = f"Likely slip: {slip}"
            break
    else:
        if _turned(got, want_deg + 90.0) <= within_deg:
            advice = "Likely slip: that is the other meridian, 90° away."
        elif _turned(math.degrees(got), want_deg) <= within_deg:
            advice = "Likely slip: radians were not turned into degrees."
        elif _turned(180.0 - got, want_deg) <= within_deg:
            advice = "Likely slip: the sense of turning; axes count anticlockwise."
    raise NotRight(
        f"{what}: you have {got:.1f}°. Expected: {expect}, to within {within_deg:g}°. {advice}"
    )


def lens_power(what, answer, want_d, *, step_d=0.5, expect, slips=None):
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
            f"{step_d:g} D. Expected: {expect}."
        )
    if abs(got - want_d) < step_d / 2:
        print(f"✓ {what}: {signed(got)} holds.")
        return
    advice = "Check the target, the constant and the rounding."
    for slip, wrong in (slips or {}).items():
        if abs(wrong - want_d) > step_d / 2 and abs(got - wrong) < step_d / 2:
            advice = f"Likely slip: {slip}"
            break
    else:
        if abs(abs(got - want_d) - step_d) < 1e-6:
            advice = "Likely slip: one step off; round as the problem says."
    raise NotRight(f"{what}: you have {signed(got)}. Expected: {expect}. {advice}")


def working(text):
    """Show the worked solution of a problem with the learner's numbers, for the feedback page.

    Parameters
    ----------
    text : str
        Markdown; formulas between dollar signs.

    """
    display({"text/markdown": text, "text/plain": text}, metadata=WORKING_MARK, raw=True)


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
        self.slips = []

    def step(self, check, what, answer, *args, **kwargs):
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
        self.asked += 1
        try:
            check(what, answer() if callable(answer) else answer, *args, **kwargs)
            self.held += 1
        except NotImplementedError:
            self._slip(f"{what}: {NOT_ANSWERED}")
        except NotRight as slip:
            self._slip(str(slip))
        except Exception as error:
            self._slip(f"{what}: your code stopped with {type(error).__name__}: {error}")

    def _slip(self, sentence):
        self.slips.append(sentence)
        print(f"✗ {sentence}")

    def score(self):
        """Return the points earned, as a builtin float.

        Raises
        ------
        NotRight
            Under nbgrader's Validate alone, which would say no more of a part than that it is one.
        """
        if self.asked == 0:
            raise ValueError("No step was checked; call step() before score().")
        if self.slips and os.environ.get("NBGRADER_EXECUTION") == "validate":
            raise NotRight(f"{self.held} of {self.asked} steps hold. {' ✗ '.join(self.slips)}")
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


def _turned(one_deg, other_deg):
    """How far two axes lie apart, degrees, at most 90."""
    return abs((one_deg - other_deg + 90.0) % 180.0 - 90.0)


def _written(value, unit):
    sign = "+" if value > 0 else "−" if value < 0 else ""
    return f"{sign}{abs(value):.3f} {unit}".strip()


def _short(answer):
    text = repr(answer)
    return text if len(text) <= 40 else text[:37] + "..."
