"""Inputs of hidden tests, drawn for each learner and submission from a secret.

While a class is graded the secret follows from the class's own secret, the learner, the set and
what was handed in: a second run draws the same inputs, while inputs that got out of one submission
fit no other, not even the same learner's next one. Outside of a class the secret is empty and the
inputs follow from the learner's id alone. Only the process that runs the tests is given a secret.
"""

from __future__ import annotations

import hashlib
import hmac
from typing import TYPE_CHECKING, Any

from shared_utils.course import manifest
from shared_utils.course.learner import learner_id

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from shared_utils.problems.numbers import Choice

_secret: bytes | None = b""


def use_hidden_seed(seed: str | None) -> None:
    """Draw the inputs of hidden tests from now on with a submission's seed; empty for none.

    With None they stand in the middle of their ranges, which are public, the same for everybody:
    for comparing how wrong answers behave, never for marks.
    """
    global _secret
    _secret = None if seed is None else seed.encode()


class HiddenDraw:
    """The inputs of one problem's hidden tests.

    Parameters
    ----------
    problem : str
        Set and problem, as ``"vergence/page"``.
    learner : str, optional
        Whose submission it is; whoever works here if not given.

    Examples
    --------
    >>> unseen = HiddenDraw("vergence/page", learner="ada")
    >>> 16 <= unseen.pick("distance_cm", 16, 20) <= 20
    True
    >>> abs(unseen.near(55.0, 2.5) - 55.0) <= 2.5
    True
    >>> unseen.near((24.0, "long", 90), (0, 0, 0))
    (24.0, 'long', 90)
    """

    def __init__(self, problem: str, learner: str | None = None) -> None:
        self.problem = problem
        name, slash, rest = problem.partition("/")
        self._drawn_from = f"{manifest.of().seed_of(name)}{slash}{rest}"
        self.learner = learner or learner_id()

    def pick(
        self, name: str, low: int | float, high: int | float, step: int | float = 1
    ) -> int | float:
        """Return a number from low to high in steps, as ``Draw.pick`` does.

        Parameters
        ----------
        name : str
            What the number is; another name gives another number.
        low, high, step : int or float
            The range, both ends included; step above 0.

        Returns
        -------
        int or float
            An int where all three are ints.

        Raises
        ------
        ValueError
            If there is no number in the range.
        """
        if step <= 0 or high < low:
            raise ValueError(f"{name}: low {low}, high {high}, step {step} leave no number.")
        value = low + step * self._below(name, int((high - low) / step + 1e-9) + 1)
        whole = all(isinstance(n, int) for n in (low, high, step))
        return value if whole else round(float(value), 9)

    def choose(self, name: str, options: Iterable[Choice]) -> Choice:
        """Return one of the options."""
        listed = list(options)
        return listed[self._below(name, len(listed))]

    def near(self, value: Any, by: Any) -> Any:
        """Return a value moved by a drawn amount, at most ``by`` up or down.

        Parameters
        ----------
        value : int, float, list or tuple
            An int gives an int. A float is rounded to its own decimals or to those of ``by``,
            whichever are more. Of a list or tuple every entry is moved, each by its own amount.
        by : int, float, list or tuple
            The same for every entry, or one for each. Where it is 0 the value stays as it is, a
            word too. A value of 0 always stays: it stands for no lens, no way, no target.

        Returns
        -------
        int, float, list or tuple
            As the value.

        Raises
        ------
        ValueError
            If a value could lose its sign.

        Examples
        --------
        >>> unseen = HiddenDraw("vergence/page", learner="ada")
        >>> 0.4 <= unseen.near(0.5, 0.1) <= 0.6
        True
        """
        return self._moved(value, by, "near")

    def cases(self, rows: Sequence[Any], by: Any) -> list[Any]:
        """Return rows of inputs, each moved as by ``near``.

        Parameters
        ----------
        rows : sequence of number, list or tuple
            One for each case.
        by : number, list or tuple
            What a row is moved by, as in ``near``: a number or a tuple for all rows alike, a list
            for each row its own.

        Returns
        -------
        list
            As many rows.

        Examples
        --------
        >>> unseen = HiddenDraw("vergence/image", learner="ada")
        >>> [lens_d for _, lens_d in unseen.cases([(25.0, 10.0), (20.0, 2.0)], by=(3.0, 0))]
        [10.0, 2.0]
        """
        by_row = by if isinstance(by, list) else [by] * len(rows)
        return [
            self._moved(row, row_by, f"case {place}")
            for place, (row, row_by) in enumerate(zip(rows, by_row, strict=True))
        ]

    def _moved(self, value, by, place):
        if isinstance(value, (list, tuple)):
            each = by if isinstance(by, (list, tuple)) else [by] * len(value)
            moved = [
                self._moved(part, part_by, f"{place}/{n}")
                for n, (part, part_by) in enumerate(zip(value, each, strict=True))
            ]
            return type(value)(moved)
        if not by or value == 0:
            return value
        if not 0 < by < abs(value):
            raise ValueError(f"{value} moved by up to {by} could change its sign: take less.")
        if isinstance(value, int):
            most = int(by)
            return value + self._below(f"{place} {value} {by}", 2 * most + 1) - most
        decimals = max(_decimals(value), _decimals(by))
        most = int(by * 10**decimals + 1e-6)
        steps = self._below(f"{place} {value} {by}", 2 * most + 1) - most
        return round(float(value) + steps / 10**decimals, decimals) + 0.0

    def _below(self, name, count):
        if _secret is None:
            return count // 2
        drawn_from = "|".join([self.learner, self._drawn_from, name])
        digest = hmac.digest(_secret, drawn_from.encode(), hashlib.sha256)
        return int.from_bytes(digest[:8], "big") % count


def _decimals(value):
    """How many decimals a float is written with: 16.0 has one."""
    return max(len(f"{float(value):.9f}".rstrip("0").partition(".")[2]), 1)
