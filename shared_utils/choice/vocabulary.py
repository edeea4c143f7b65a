"""The vocabulary of the examination and of the wishes: names, grades and ranges.

The words are data, in ``findings.toml``, whose head says what an entry is made of. Grades stand in
order from better to worse; a wish, from what speaks most for a lens that splits light to what
speaks most against it. Unknown is a value of its own, never taken for normal.

Sources
-------
Of each finding and wish: its ``source``.
"""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from shared_utils.optics.domain import require, require_one_of, unit_of

if TYPE_CHECKING:
    from typing import Any

FILE = Path(__file__).parent / "findings.toml"
WORSE = ("higher", "lower", "away")
UNKNOWN = "unknown"


@dataclass(frozen=True)
class Graded:
    """A finding or wish in words.

    Attributes
    ----------
    name, title, source : str
        Its key, what a reader sees, and where the grades come from.
    grades : dict of str to str
        Each grade and its meaning, from better to worse.
    of, mirrors : str
        "eye" or "person", and the finding of the other eye that it repeats.
    """

    name: str
    title: str
    source: str
    grades: dict
    of: str = "eye"
    mirrors: str = ""

    def __post_init__(self):
        _hold_texts(self)
        good = isinstance(self.grades, dict) and len(self.grades) >= 2
        _hold(good, self.name, "has fewer than two grades")
        for grade, meaning in self.grades.items():
            _hold(_is_text(meaning), self.name, f"does not say what {grade!r} means")
        _hold(UNKNOWN not in self.grades, self.name, f"has {UNKNOWN!r} as a grade")

    @property
    def best(self) -> str:
        """The grade that speaks least against a lens that splits light."""
        return next(iter(self.grades))

    def check(self, value: Any) -> Any:
        """Return the grade, or say in one sentence which grades there are."""
        return require_one_of(self.name, value, (*self.grades, UNKNOWN))

    def badness(self, value: Any) -> float:
        """Return how bad a known grade is: 0 for the best."""
        return list(self.grades).index(value)

    def shown(self, value: Any) -> str:
        """Return the grade as a reader sees it."""
        return value


@dataclass(frozen=True)
class Measured:
    """A finding as a number, its unit in the suffix of its name.

    Attributes
    ----------
    name, title, source : str
        Its key, what a reader sees, and where the way to measure it comes from.
    low, high : float
        The range that makes sense.
    best : float
        An unremarkable value.
    worse : str
        Which way it gets worse: "higher", "lower", or "away" from ``usual``.
    near : float
        How near to a threshold a value counts as borderline.
    digits : int
        Decimals that a reader sees.
    usual : tuple of float, optional
        Lower and upper end of what is usual, for "away".
    hint : str
        The likely slip.
    of, mirrors : str
        "eye" or "person", and the finding of the other eye that it repeats.
    """

    name: str
    title: str
    source: str
    low: float
    high: float
    best: float
    worse: str
    near: float
    digits: int = 2
    usual: tuple = ()
    hint: str = ""
    of: str = "eye"
    mirrors: str = ""

    def __post_init__(self):
        _hold_texts(self)
        for part in ("low", "high", "best", "near", "digits"):
            value = getattr(self, part)
            number = isinstance(value, (int, float)) and not isinstance(value, bool)
            _hold(number, self.name, f"has {part} = {value!r}, which is no number")
        _hold(bool(unit_of(self.name)), self.name, "has no unit at the end of its name")
        _hold(self.low <= self.best <= self.high, self.name, "has its best outside low to high")
        _hold(self.near > 0, self.name, f"has near = {self.near!r}; give a number above 0")
        _hold(self.worse in WORSE, self.name, f"has worse = {self.worse!r}; give {WORSE}")
        ends = len(self.usual) == 2 and self.low <= self.usual[0] <= self.usual[1] <= self.high
        _hold(ends == (self.worse == "away"), self.name, "has usual, [low, high], if worse is away")

    def check(self, value: Any) -> Any:
        """Return the number as a builtin float, or say in one sentence what is wrong with it."""
        if isinstance(value, str) and value == UNKNOWN:
            return UNKNOWN
        hint = f"{self.hint} Leave it out if it was not measured.".strip()
        number = require(self.name, value, self.low, self.high, hint=hint)
        if number.ndim:
            raise ValueError(f"{self.name} holds {number.size} numbers; a patient has one.")
        return float(number)

    def badness(self, value: Any) -> float:
        """Return how bad a known value is: the larger the worse."""
        if self.worse == "away":
            low, high = self.usual
            return max(low - value, value - high, 0.0)
        return value if self.worse == "higher" else -value

    def shown(self, value: Any) -> str:
        """Return the value with its unit."""
        return f"{value:.{self.digits}f} {unit_of(self.name)}".replace("-", "−")


def read(text: str) -> tuple[dict, dict]:
    """Return the findings and the wishes that a text in TOML holds.

    Parameters
    ----------
    text : str
        As ``findings.toml``, whose head says what an entry is made of.

    Returns
    -------
    findings, wishes : dict
        Name → Graded or Measured, in order.

    Raises
    ------
    ValueError
        One sentence that names the entry and what is wrong with it.

    Examples
    --------
    >>> read('[[finding]]\\nname = "dry_eye"\\ntitle = "Dry eye"')
    Traceback (most recent call last):
    ValueError: 'dry_eye' lacks source.
    """
    return _read(text)[:2]


def _read(text):
    """Findings, wishes and what plans have."""
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise ValueError(f"The findings are no TOML: {error}.") from error
    parts = ("finding", "wish", "plan")
    strange = sorted(set(data) - set(parts))
    if strange:
        raise ValueError(f"{strange[0]!r} is neither a finding nor a wish; rename its block.")
    kinds = [[_kind(entry) for entry in data.get(part, ())] for part in parts]
    names = [kind.name for part in kinds for kind in part]
    for name in names:
        _hold(names.count(name) == 1, name, "stands twice; rename one")
    return tuple({kind.name: kind for kind in part} for part in kinds)


def _kind(entry):
    name = entry.get("name", "?")
    kind = Graded if "grades" in entry else Measured
    fields = kind.__dataclass_fields__
    needed = [part for part in ("name", "title", "source") if part not in entry]
    if not needed and kind is Measured:
        needed = [part for part in ("low", "high", "best", "worse", "near") if part not in entry]
    _hold(not needed, name, f"lacks {', '.join(needed)}")
    strange = [part for part in entry if part not in fields]
    _hold(not strange, name, f"has {', '.join(strange)}, which no {kind.__name__} has")
    return kind(**entry | ({"usual": tuple(entry["usual"])} if "usual" in entry else {}))


def _is_text(value):
    return isinstance(value, str) and bool(value.strip())


def _hold_texts(kind):
    _hold(_is_text(kind.name) and kind.name.isidentifier(), kind.name, "has no usable name")
    for part in ("title", "source"):
        _hold(_is_text(getattr(kind, part)), kind.name, f"has no {part}")
    _hold(kind.of in ("eye", "person"), kind.name, f"is of {kind.of!r}; give eye or person")
    _hold(not kind.mirrors or kind.of == "person", kind.name, "mirrors an eye; give of = person")


def _hold(so, name, otherwise):
    if not so:
        raise ValueError(f"{name!r} {otherwise}.")


FINDINGS, WISHES, PLANS = _read(FILE.read_text(encoding="utf-8"))
"""What is found in the eye; what the patient does, wants and tolerates; what a plan for the eyes
has, by name."""

VOCABULARY = FINDINGS | WISHES
"""Findings and wishes together, by name."""

EYE_FINDINGS = {name: kind for name, kind in FINDINGS.items() if kind.of == "eye"}
"""Findings that may be given for either eye, by name."""

MIRRORS = {kind.mirrors: name for name, kind in FINDINGS.items() if kind.mirrors}
"""Findings of the other eye that rules read, by the name that they have in that eye."""
