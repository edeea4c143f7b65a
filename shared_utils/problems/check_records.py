"""What a check has to say, as data: problem, step, slip, sentence and points.

A check puts its records under its cell, as an output of a type of the course's own that no page
shows; the sentence that a learner reads stands beside it. The collector adds the problem, which
the cell's grade id names. It reads test cells alone, and in a class only those that ran apart from
the learner's code: an output of the same type from any other cell is not a record.
"""

from __future__ import annotations

import math
import re
import unicodedata
from dataclasses import asdict, dataclass, fields, replace
from typing import TYPE_CHECKING

from shared_utils.pages import cells

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping
    from typing import Any

    from nbformat import NotebookNode

MIME = "application/vnd.lens-course.check+json"
LONGEST_SENTENCE = 500  # characters; what a learner's code says as it stops may be a book
WORDS_OF_A_SLUG = 5
# words that say too little to tell one slip from another
FILL_WORDS = {"a", "an", "and", "are", "be", "is", "it", "of", "that", "the", "this", "to", "was"}
# ids of slips that any check may name; all others are made from the words of an advice
GENERIC_SLIPS = {
    "sign": "the sign",
    "centimetres": "centimetres and metres were mixed",
    "millimetres": "millimetres and metres were mixed",
    "radians": "radians were not turned into degrees",
    "other-meridian": "the other meridian, 90° away",
    "mirrored": "the axis counts clockwise",
    "one-step-off": "one step of the lens's powers off",
    "not-made": "a power that is not made",
    "no-return": "nothing was given back",
    "not-a-number": "something else than a number",
    "not-finite": "a number without an end, or none",
    "not-an-option": "none of the words to choose from",
    "wrong-form": "not in the form that was asked for",
    "unnamed": "wrong, in a way that no slip names",
    "not-answered": "not answered",
    "stopped": "the code stopped with an error",
    "too-slow": "the code did not come to an end",
    "not-run": "the test could not be run",
    "not-reached": "the test was not reached",
    "no-mark": "the test ended without a mark",
}
NOT_ANSWERED = "Not answered yet."
_OF_THE_GRADING = {"NotRun": "not-run", "NoMark": "no-mark"}
_TOO_SLOW = ("KeyboardInterrupt", "CellTimeoutError")


@dataclass(frozen=True)
class CheckRecord:
    """What a check said of one step.

    Attributes
    ----------
    step : str
        Name of the step, as the check calls it; empty where a test ended before it had a name.
    holds : bool
    slip : str
        Short, stable id of the slip; empty if the step holds.
    sentence : str
        What the learner reads, with the learner's own numbers.
    advice : str
        The part of it that is the same for every learner.
    earned, possible : float or None
        Points; None until they are known.
    error : str
        Name of the error with which the code stopped, if it did.
    problem : str
        Name of the problem; empty until it is known.
    """

    step: str
    holds: bool
    slip: str = ""
    sentence: str = ""
    advice: str = ""
    earned: float | None = None
    possible: float | None = None
    error: str = ""
    problem: str = ""

    @property
    def slip_id(self) -> str:
        """Problem, step and slip in one word, such as ``page/vergence-at-her-eye/sign``."""
        return "/".join(filter(None, (self.problem, slug(self.step), self.slip)))

    def as_dict(self) -> dict[str, Any]:
        """Return it as plain data."""
        return asdict(self)

    @classmethod
    def from_dict(cls, data: Mapping[str, Any]) -> CheckRecord:
        """Return the record that plain data stands for.

        Raises
        ------
        ValueError
            If it is none.
        """
        try:
            given = {f.name: data[f.name] for f in fields(cls) if f.name in data}
            record = cls(**given)
        except (TypeError, KeyError):
            raise ValueError("A check's record must name its step and whether it holds.") from None
        words = (record.step, record.slip, record.sentence, record.advice, record.error)
        points = (record.earned, record.possible)
        if not (
            isinstance(record.holds, bool)
            and all(isinstance(word, str) for word in (*words, record.problem))
            and all(p is None or _is_finite(p) for p in points)
        ):
            raise ValueError("A record of a check holds words and finite points alone.")
        return record


def _is_finite(value):
    return type(value) in (int, float) and math.isfinite(value)


def slug(text: str, numbers: bool = False) -> str:
    """Return a short id made of the words of a text.

    Words that say little are left out; so are numbers, for they may be one learner's own, unless
    they are wanted.

    Examples
    --------
    >>> slug("that is half of the difference: each reading's distance from their mean.")
    'half-difference-each-readings-distance'
    >>> slug("J45: the angle was not doubled")
    'j45-angle-not-doubled'
    """
    letters = unicodedata.normalize("NFKD", text).encode("ascii", "ignore").decode().lower()
    letters = letters.replace("'", "")
    words = re.findall(r"[a-z0-9]+", letters)
    words = [word for word in words if numbers or word[0].isalpha()]
    telling = [word for word in words if word not in FILL_WORDS] or words
    return "-".join(telling[:WORDS_OF_A_SLUG])


def is_slip(got: float, wrong: float, within: float) -> bool:
    """Return whether a number is the one that a slip leads to.

    As near as the tolerance, and no farther than a quarter of the number: else 0 would pass for
    every slip that makes a number a thousand times too small.

    Examples
    --------
    >>> is_slip(0.05, 0.047, within=0.05), is_slip(0.0, 0.047, within=0.05)
    (True, False)
    """
    return abs(got - wrong) <= max(min(within, abs(wrong) / 4), 1e-6 * abs(wrong)) + 1e-9


class Advice(str):
    """An advice with an id that does not follow from its words.

    Parameters
    ----------
    slip : str
        Id of the slip, in small letters, digits and hyphens.
    words : str
        What the learner reads.

    Examples
    --------
    >>> slip_ids([Advice("index-left-out", "divide the index by the distance.")])
    {'divide the index by the distance.': 'index-left-out'}
    """

    slip: str

    def __new__(cls, slip: str, words: str) -> Advice:
        if not re.fullmatch(r"[a-z0-9]+(-[a-z0-9]+)*", slip):
            raise ValueError(f"{slip!r} is no id of a slip: write it as index-left-out.")
        made = super().__new__(cls, words)
        made.slip = slip
        return made


def slip_ids(advice_of: Iterable[str]) -> dict[str, str]:
    """Return the ids of a check's slips: advice → id; a second one with the same words has a 2.

    Examples
    --------
    >>> slip_ids(["it crosses 0.3 logMAR", "it crosses 0.1 logMAR"])
    {'it crosses 0.3 logMAR': 'crosses-logmar', 'it crosses 0.1 logMAR': 'crosses-logmar-2'}
    """
    ids: dict[str, str] = {}
    times: dict[str, int] = {}
    for advice in advice_of:
        words = advice.slip if isinstance(advice, Advice) else slug(advice)
        times[words] = times.get(words, 0) + 1
        ids[advice] = words if times[words] == 1 else f"{words}-{times[words]}"
    return ids


def mime_bundle(records: Iterable[CheckRecord]) -> dict[str, dict[str, Any]]:
    """Return the data of the output that holds records."""
    return {MIME: {"records": [record.as_dict() for record in records]}}


def of_cell(cell: NotebookNode, problem: str) -> list[CheckRecord]:
    """Return what the checks of a test cell said.

    Parameters
    ----------
    cell : nbformat.NotebookNode
        A test that was run; its outputs must be the test's own.
    problem : str
        Name of its problem.

    Returns
    -------
    list of CheckRecord
        In order, with problem and points. An error that no check named is one too.
    """
    points = float(cells.points(cell) or 0.0)
    records = [record for output in cell.outputs for record in _emitted(output)]
    errors = [output for output in cell.outputs if output.output_type == "error"]
    named = {_one_line(record.sentence) for record in records}
    # a check's own error has put its record there; one that only has its name has not
    records += [
        _of_error(error)
        for error in errors
        if error.ename != "NotRight" or _one_line(error.evalue) not in named
    ]
    unknown = sum(record.possible is None for record in records)
    known = sum(record.possible or 0.0 for record in records)
    share = max(points - known, 0.0) / unknown if unknown else 0.0
    return [_completed(record, problem, share, bool(errors)) for record in records]


def not_reached(cell: NotebookNode, problem: str) -> list[CheckRecord]:
    """Return the record of a test that was never run, in a list."""
    points = float(cells.points(cell) or 0.0)
    record = CheckRecord("", False, "not-reached", "This check was not reached.")
    return [_completed(record, problem, points, failed=True)]


def without_records(outputs: Iterable[NotebookNode]) -> list[NotebookNode]:
    """Return outputs without those that hold records."""
    return [output for output in outputs if MIME not in output.get("data", {})]


def _emitted(output):
    if output.output_type != "display_data" or MIME not in output.data:
        return
    try:
        for data in output.data[MIME]["records"]:
            yield CheckRecord.from_dict(data)
    except (TypeError, KeyError, ValueError):
        return


def _of_error(output):
    name, words = output.ename, output.evalue
    if name == "NotImplementedError":
        return CheckRecord("", False, "not-answered", NOT_ANSWERED, error=name)
    if name in _TOO_SLOW:
        sentence = "Stopped: it took too long; is a loop endless?"
        return CheckRecord("", False, "too-slow", sentence, sentence, error=name)
    # the grading's own errors are shown by one line; an error of a learner's may have their names
    if name in _OF_THE_GRADING and output.traceback == [f"✗ {words}"]:
        return CheckRecord("", False, _OF_THE_GRADING[name], _one_line(words), error=name)
    sentence = _one_line(f"Your code stopped with {name}: {words}")
    return CheckRecord("", False, "stopped", sentence, f"stopped with {name}", error=name)


def _completed(record, problem, share, failed):
    possible = share if record.possible is None else float(record.possible)
    earned = possible if record.earned is None and record.holds else float(record.earned or 0.0)
    return replace(
        record,
        problem=problem,
        sentence=_one_line(record.sentence),
        advice=_one_line(record.advice) or GENERIC_SLIPS.get(record.slip, ""),
        possible=possible,
        earned=0.0 if failed else earned,  # a test that stops gives no points
    )


def _one_line(text):
    return " ".join(text.split())[:LONGEST_SENTENCE]
