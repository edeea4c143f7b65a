"""The small parts of a lesson's page: a guess that is kept, and a number checked from outside."""

from __future__ import annotations

import html
from typing import TYPE_CHECKING

import ipywidgets
import traitlets
from IPython.display import HTML

from shared_utils.explore.engine import SENTENCE_HEIGHT_PX, spoken
from shared_utils.show import style
from shared_utils.show.figure_with_alt import TABLE
from shared_utils.show.style import signed

if TYPE_CHECKING:
    from collections.abc import Sequence


class Guess(ipywidgets.VBox):
    """A question answered before looking; the answer is kept until the cell is run again.

    Parameters
    ----------
    question : str
        One sentence.
    unit : str
        Unit of the number asked for.
    options : sequence of str, optional
        If given, one of these is chosen instead of a number.
    """

    kept = traitlets.Any(allow_none=True, default_value=None)

    def __init__(self, question: str, unit: str = "", options: Sequence[str] = ()) -> None:
        self.question, self.unit, self.options = question, unit, tuple(options)
        width = {"description_width": "initial"}
        if self.options:
            self.entry = ipywidgets.Dropdown(
                description="My guess:", options=["choose one", *self.options], style=width
            )
        else:
            label = f"My guess, {unit}:" if unit else "My guess:"
            self.entry = ipywidgets.FloatText(description=label, value=0.0, style=width)
        self.keep_button = ipywidgets.Button(description="Keep my guess")
        self.keep_button.on_click(lambda _: self.keep())
        self.reply = ipywidgets.HTML()
        super().__init__(
            [
                ipywidgets.HTML(spoken(question)),
                ipywidgets.HBox([self.entry, self.keep_button]),
                self.reply,
            ]
        )

    def keep(self) -> None:
        """Record what stands in the entry."""
        if self.entry.value == "choose one":
            self.reply.value = spoken("Choose one of the answers first.")
            return
        self.kept = self.entry.value
        self.reply.value = spoken(f"Kept: {self.in_words()}. Now look.")

    def in_words(self) -> str:
        """Return the kept guess as it is read out."""
        return str(self.kept) if self.options else signed(self.kept, self.unit)

    def _repr_mimebundle_(self, **kwargs):
        choices = "; ".join(map(html.escape, self.options)) or "a number"
        unit = f", in {html.escape(self.unit)}" if self.unit else ""
        still = (
            f"<p>{html.escape(self.question)}</p>"
            f"<p>Write your guess down ({choices}{unit}) before you read on.</p>"
        )
        return _with_still(super()._repr_mimebundle_(**kwargs), still)


class Answer(ipywidgets.HTML):
    """The guess held against the result, as soon as there is a guess.

    Parameters
    ----------
    guess : Guess
    result : float or str
        What the sum gives.
    near : float
        How far off still counts as right, in the guess's unit.
    why : str
        The usual misconception, and what is true.
    """

    def __init__(self, guess: Guess, result: float | str, why: str, near: float = 0.01) -> None:
        self.guess, self.result, self.why, self.near = guess, result, why, near
        super().__init__(
            layout=ipywidgets.Layout(
                width=f"{style.WIDTH_PX}px", min_height=f"{SENTENCE_HEIGHT_PX}px"
            )
        )
        self._show()
        guess.observe(lambda _: self._show(), "kept")

    def right(self) -> bool:
        """Return whether the kept guess holds."""
        if self.guess.options:
            return self.guess.kept == self.result
        return abs(self.guess.kept - self.result) <= self.near

    def _show(self):
        if self.guess.kept is None:
            self.value = spoken("Keep a guess above first; then this place answers to it.")
            return
        self.value = spoken(
            f"You guessed {self.guess.in_words()}; the sum gives {self._result_in_words()}. "
            f"{self.why}",
            strong="That holds." if self.right() else "Not so.",
        )

    def _result_in_words(self):
        return str(self.result) if self.guess.options else signed(self.result, self.guess.unit)

    def _repr_mimebundle_(self, **kwargs):
        still = (
            f"<details><summary>Compare your guess with the result</summary>"
            f"<p>{html.escape(self._result_in_words())}. {html.escape(self.why)}</p></details>"
        )
        return _with_still(super()._repr_mimebundle_(**kwargs), still)


def outside_check(rows: Sequence[tuple[str, str, float, float, str]]) -> HTML:
    """Return a table that holds our numbers against numbers from outside.

    Parameters
    ----------
    rows : sequence of (str, str, float, float, str)
        What it is, where the number comes from, theirs, ours, unit.

    Returns
    -------
    IPython.display.HTML
    """
    body = "".join(
        f"<tr><td>{html.escape(what)}</td><td>{html.escape(source)}</td>"
        f"<td>{signed(theirs, unit, 3)}</td><td>{signed(ours, unit, 3)}</td>"
        f"<td>{signed(ours - theirs, unit, 4)}</td></tr>"
        for what, source, theirs, ours, unit in rows
    )
    return HTML(
        f"{TABLE}<thead><tr><th>quantity</th><th>this number comes from</th><th>theirs</th>"
        f"<th>ours</th><th>difference</th></tr></thead><tbody>{body}</tbody></table>"
    )


def worked(steps: Sequence[tuple[str, str, float, str]]) -> HTML:
    """Return a worked example as a table, every step with its unit.

    Parameters
    ----------
    steps : sequence of (str, str, float, str)
        What the step does, how it is computed, the result, its unit.

    Returns
    -------
    IPython.display.HTML
    """
    return _steps_table(steps, missing=())


def faded(steps: Sequence[tuple[str, str, float, str]], missing: Sequence[int]) -> HTML:
    """Return the same kind of example with some results left for the reader.

    Parameters
    ----------
    steps : sequence of (str, str, float, str)
        As for ``worked``.
    missing : sequence of int
        Which steps are left out, counted from 1; each opens with a click or a key.

    Returns
    -------
    IPython.display.HTML
    """
    return _steps_table(steps, missing)


def _steps_table(steps, missing):
    rows = []
    for number, (what, how, value, unit) in enumerate(steps, start=1):
        result = signed(value, unit)
        if number in missing:
            how = "your turn"
            result = f"<details><summary>show</summary>{result}</details>"
        rows.append(
            f"<tr><td>{number}</td><td>{html.escape(what)}</td><td>{html.escape(how)}</td>"
            f"<td>{result}</td></tr>"
        )
    return HTML(
        f"{TABLE}<thead><tr><th>step</th><th>what happens</th><th>how</th><th>result</th></tr>"
        f"</thead><tbody>{''.join(rows)}</tbody></table>"
    )


def _with_still(bundle, still):
    data, metadata = bundle if isinstance(bundle, tuple) else (bundle, {})
    return {**data, "text/html": still}, metadata
