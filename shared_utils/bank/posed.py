"""An item as it is put to somebody: numbers drawn, options shuffled, an answer taken and marked.

What is drawn follows from the item and a seed alone, so a question can be put again as it was.
"""

from __future__ import annotations

import importlib
import re
import string
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from shared_utils.problems.check_records import is_slip
from shared_utils.problems.numbers import Draw
from shared_utils.show.style import signed

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from typing import Any

    from shared_utils.bank.items import Item, Option
    from shared_utils.show.figure_with_alt import FigureWithAlt


@dataclass(frozen=True)
class Verdict:
    """What an answer is worth: right or not, what is said, and the slip it betrays."""

    right: bool
    message: str
    slip: str = ""


@dataclass(frozen=True)
class Posed:
    """A question as it stands before somebody.

    ``choices`` are the lines to choose from or to put in order, lettered from A; none for a
    number. ``right`` is a letter, letters in order, or a number. ``options`` are those of the item
    with their numbers, in the order of the bank.
    """

    item: Item
    seed: int
    stem: str
    choices: tuple[str, ...]
    right: str | float
    numbers: dict[str, Any]
    options: tuple[Option, ...] = ()

    def shown_figure(self) -> FigureWithAlt | None:
        """Return the figure to read, or None.

        Returns
        -------
        shared_utils.show.figure_with_alt.FigureWithAlt or None
        """
        if not self.item.figure:
            return None
        module, name = self.item.figure.split(".")
        draws = getattr(importlib.import_module(f"shared_utils.show.{module}"), name)
        return draws(**{name: self.numbers[name] for name in self.item.figure_with})

    def hint(self) -> str:
        """Return how an answer is given, in a few words.

        Returns
        -------
        str
        """
        if self.item.kind == "number":
            return f"a number in {self.item.unit}" if self.item.unit else "a number"
        letters = ", ".join(letters_of(self.choices))
        if self.item.kind == "order":
            return f"the letters {letters} in their order"
        return f"one letter of {letters}"

    def mark(self, given: str | float) -> Verdict:
        """Return the verdict on an answer.

        Parameters
        ----------
        given : str
            A letter, letters in order, or a number; blanks, a unit and a comma for the point are
            allowed.

        Returns
        -------
        Verdict

        Raises
        ------
        ValueError
            If it is no answer to this kind of question; the message says what is.
        """
        if self.item.kind == "number":
            return self._mark_number(self._number(given))
        letters = self._letters(given)
        if self.item.kind == "order":
            right = letters == self.right
            lines = "; ".join(f"{n}. {step}" for n, step in enumerate(self.item.steps, start=1))
            return Verdict(
                right, f"{self.item.working} The order: {lines}", "" if right else "the order"
            )
        chosen = self.choices[letters_of(self.choices).index(letters)]
        option = next(option for option in self.options if option.text == chosen)
        return Verdict(option.key, option.feedback, "" if option.key else option.text)

    def understood(self, given: str | float) -> str | float:
        """Return an answer in its plain form: a letter, letters, or a float.

        Parameters
        ----------
        given : str

        Returns
        -------
        str or float
        """
        return self._number(given) if self.item.kind == "number" else self._letters(given)

    def _number(self, given: str | float) -> float:
        text = str(given).strip()
        found = re.fullmatch(
            r"([+\-−–]?)\s*(\d+(?:[.,]\d*)?|[.,]\d+)\s*" + f"(?:{re.escape(self.item.unit)})?",
            text,
            re.I,
        )
        if not found:
            raise ValueError(f"{text!r} is not an answer here; give {self.hint()}.")
        value = float(found[2].replace(",", "."))
        return -value if found[1] in ("-", "−", "–") else value

    def _letters(self, given: str | float) -> str:
        text = str(given).strip()
        letters = re.sub(r"[\s,;.)>-]+", "", text).upper()
        known = letters_of(self.choices)
        wanted = len(known) if self.item.kind == "order" else 1
        if len(letters) != wanted or len(set(letters)) != wanted or not set(letters) <= set(known):
            raise ValueError(f"{text!r} is not an answer here; give {self.hint()}.")
        return letters

    def answer_in_words(self) -> str:
        """Return the right answer as it is told.

        Returns
        -------
        str
        """
        if self.item.kind == "number":
            return signed(self.numbers["answer"], self.item.unit, self.item.digits)
        return self.in_words(self.right)

    def in_words(self, given: str | float) -> str:
        """Return an answer as it is told to who no longer sees the letters.

        Parameters
        ----------
        given : str

        Returns
        -------
        str
        """
        if self.item.kind == "number":
            return signed(self._number(given), self.item.unit, self.item.digits)
        understood = self._letters(given)
        if self.item.kind == "order":
            return ", ".join(understood)
        return f"{understood}: {self.choices[letters_of(self.choices).index(understood)]}"

    def _mark_number(self, value):
        working = filled(self.item.working, self.numbers)
        if abs(value - self.right) <= self.item.within + 1e-9:
            return Verdict(True, working)
        for slip in self.item.slips:
            if is_slip(value, self.numbers[slip.name], self.item.within):
                return Verdict(False, f"{filled(slip.feedback, self.numbers)} {working}", slip.name)
        return Verdict(False, working, "another number")


def pose(item: Item, seed: int = 0) -> Posed:
    """Return an item as it is put to somebody.

    Parameters
    ----------
    item : Item
    seed : int
        Another seed gives other numbers and another order of the options.

    Returns
    -------
    Posed

    Examples
    --------
    >>> from shared_utils.bank.items import bank
    >>> asked = pose(bank()["reciprocal"], seed=3)
    >>> asked.mark(asked.right).right
    True
    """
    numbers = _numbers(item, seed)
    if item.kind == "number":
        return Posed(item, seed, filled(item.stem, numbers), (), numbers["answer"], numbers)
    if item.kind == "order":
        shuffled = _shuffled(item, seed, item.steps)
        letters = letters_of(shuffled)
        right = "".join(letters[shuffled.index(step)] for step in item.steps)
        return Posed(item, seed, item.stem, shuffled, right, numbers)
    options = tuple(
        replace(o, text=filled(o.text, numbers), feedback=filled(o.feedback, numbers))
        for o in item.options
    )
    shuffled = _shuffled(item, seed, options)
    right = letters_of(shuffled)[[option.key for option in shuffled].index(True)]
    choices = tuple(option.text for option in shuffled)
    return Posed(item, seed, filled(item.stem, numbers), choices, right, numbers, options)


def letters_of(choices: Sequence[str]) -> list[str]:
    """Return the letters of a list of choices.

    Parameters
    ----------
    choices : sequence

    Returns
    -------
    list of str

    Examples
    --------
    >>> letters_of(["yes", "no"])
    ['A', 'B']
    """
    return list(string.ascii_uppercase[: len(choices)])


class _Numbers(string.Formatter):
    """Numbers with a real minus sign."""

    def format_field(self, value, format_spec):
        written = super().format_field(value, format_spec)
        return written if isinstance(value, str) else written.replace("-", "−")


def filled(text: str, numbers: Mapping[str, float]) -> str:
    """Return a text with its numbers put in, with a real minus sign.

    Parameters
    ----------
    text : str
    numbers : dict of str to float

    Returns
    -------
    str

    Examples
    --------
    >>> filled("It is {x:+.1f} D.", {"x": -2.0})
    'It is −2.0 D.'
    """
    return _Numbers().vformat(text, (), numbers)


def _numbers(item, seed):
    """The numbers of a question, drawn and computed; none where it has none."""
    if not item.compute:
        return {}
    draw = Draw(f"item/{item.key}", learner=str(seed))
    drawn = {name: draw.pick(name, *ends) for name, ends in (item.draw or {}).items()}
    module, function = item.compute.split(".")
    compute = getattr(importlib.import_module(f"shared_utils.bank.values.{module}"), function)
    return {**drawn, **compute(**drawn)}


def _shuffled(item, seed, lines):
    """The lines in an order that follows from the item and the seed."""
    draw = Draw(f"item/{item.key}/order", learner=str(seed))
    left, shuffled = list(lines), []
    while left:
        shuffled.append(left.pop(draw.pick(f"place {len(left)}", 0, len(left) - 1)))
    return tuple(shuffled)
