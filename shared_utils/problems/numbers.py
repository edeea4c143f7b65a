"""Numbers of the learner's own, the same on every machine and after every restart.

A number follows from the learner's id, the problem and the quantity's name by a hash alone, so it
depends neither on the order of the calls nor on the version of a random generator. The text of the
cell is the same for everybody, so nbgrader's checksums hold. A problem is named by the slug of its
set; what is hashed is the ``seed`` of the set's record in the manifest, so that numbers stay when a
lesson is inserted before it.
"""

from __future__ import annotations

import hashlib
from typing import TYPE_CHECKING, TypeVar

from IPython.display import Markdown

from shared_utils.course import manifest
from shared_utils.course.learner import learner_id

if TYPE_CHECKING:
    from collections.abc import Iterable

Choice = TypeVar("Choice")

_seed = ""


def use_seed(seed: str) -> None:
    """Draw all numbers from now on with a class's seed; an empty text stands for none."""
    global _seed
    _seed = seed


class Draw:
    """The learner's numbers for one problem.

    Parameters
    ----------
    problem : str
        Set and problem, as ``"vergence/flower"``; a number before the set's name is passed over.
    learner : str, optional
        Whose numbers; whoever works here if not given.

    Examples
    --------
    >>> draw = Draw("vergence/flower", learner="ada")
    >>> draw.pick("distance_cm", 20, 80, step=5) == draw.pick("distance_cm", 20, 80, step=5)
    True
    >>> 20 <= draw.pick("distance_cm", 20, 80, step=5) <= 80
    True
    """

    def __init__(self, problem: str, learner: str | None = None) -> None:
        self.problem = problem
        name, slash, rest = problem.partition("/")
        self._drawn_from = f"{manifest.of().seed_of(name)}{slash}{rest}"
        self.learner = learner or learner_id()

    def pick(
        self, name: str, low: int | float, high: int | float, step: int | float = 1
    ) -> int | float:
        """Return a number from low to high in steps; an int where all three are ints.

        Parameters
        ----------
        name : str
            What the number is; another name gives another number.
        low, high, step : int or float
            The range, both ends included; step above 0.

        Returns
        -------
        int or float
        """
        count = int((high - low) / step + 1e-9) + 1
        if step <= 0 or count < 1:
            raise ValueError(f"{name}: low {low}, high {high}, step {step} leave no number.")
        value = low + step * self._hash(name, count)
        whole = all(isinstance(n, int) for n in (low, high, step))
        return value if whole else round(float(value), 9)

    def choose(self, name: str, options: Iterable[Choice]) -> Choice:
        """Return one of the options."""
        listed = list(options)
        return listed[self._hash(name, len(listed))]

    def tell(self, text: str) -> Markdown:
        """Return the case as text to show, with the id that the numbers belong to."""
        return Markdown(f"{text}\n\n*Numbers of learner {self.learner}.*")

    def _hash(self, name, count):
        drawn_from = "|".join([self.learner, self._drawn_from, name, *([_seed] if _seed else [])])
        digest = hashlib.sha256(drawn_from.encode()).digest()
        return int.from_bytes(digest[:8], "big") % count
