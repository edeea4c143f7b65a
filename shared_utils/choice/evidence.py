"""What others measured, with its size: effect, interval, base, people, and how much of it was read.

Evidence is data, in ``evidence.toml``: studies, and the effects that each of them reports. Rules
and the patient's sheet refer to an effect by its key. A ratio stands nowhere without its base and
its interval, and what was only remembered is shown to nobody.
"""

from __future__ import annotations

import re
import tomllib
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping
    from typing import Any

FILE = Path(__file__).parent / "evidence.toml"

READ = {
    "abstract": "abstract read",
    "opening": "opening pages read",
    "summary": "read in another's summary",
    "memory": "from memory",
}
"""How much of a publication was read, and what is shown of that beside its citation."""

KINDS = ("difference", "ratio", "share", "mean", "finding")
"""What an effect is: a share is per 1,000; a finding is in words, for no number was read."""

STRENGTHS = ("guideline", "review", "study", "consensus")
"""What a publication can be, from most weight to least."""

# a number or a number word, then the comparison; slots in braces are an exercise's invented numbers
_RATIO = re.compile(
    r"(?:\d|\btwice\b|\btwo\b|\bthree\b|\bfour\b|\bfive\b|\bten\b)[\d.,]*(?: \([^)]*\))? times as "
    r"(?:many|much|often)\b|\d[\d.]* (?:%|per cent) more\b"
)
_BASE = re.compile(r"\bof (?:a |every )?(?:100|1[ ,]?000|hundred|thousand)\b")
_INTERVAL = re.compile(r"(?:interval|allow|likely|from)\D{0,12}\d[\d.]*(?: %)? to \d")
_QUOTED = re.compile(r"“[^”]*”")


@dataclass(frozen=True)
class Study:
    """One publication: who, where, of which kind, on whom, and how much of it was read."""

    key: str
    authors: str
    kind: str
    population: str
    strength: str
    read: str
    journal: str = ""
    year: int | None = None
    place: str = ""
    doi: str = ""
    cut: bool = False
    note: str = ""

    @property
    def shown(self) -> bool:
        """Whether it may be shown: what was only remembered may not."""
        return self.read != "memory"

    @property
    def reference(self) -> str:
        """Authors, journal, year and place."""
        where = " ".join(str(part) for part in (self.journal, self.year) if part)
        where = where + (";" if self.year and self.place[:1].isdigit() else ", ") + self.place
        where = where.strip("; ,") or f"doi {self.doi}"
        return f"{self.authors}, {where}"

    @property
    def citation(self) -> str:
        """The reference, with how much of it was read."""
        part = " in part" if self.cut else ""
        return f"{self.reference} ({READ[self.read]}{part})"


@dataclass(frozen=True)
class Effect:
    """One result of a study, with its interval, and for a ratio the base that it multiplies.

    Attributes
    ----------
    key : str
    study : Study
    of : str
        What was compared or counted, in words.
    kind : str
        Of `KINDS`.
    value : float or None
        Per 1,000 for a share; None for a finding in words.
    interval : tuple of float or None
        95 % interval, the lower end first.
    no_interval : str
        Why there is none.
    base_per_1000 : float or None
        Of a ratio: how many of 1,000 reach it in the group compared with.
    base_from : str
        Where the base comes from.
    unit, certainty : str
        Certainty is the authors' own grade, empty where they gave none.
    """

    key: str
    study: Study = field(repr=False)
    of: str
    kind: str
    value: float | None = None
    interval: tuple | None = None
    no_interval: str = ""
    base_per_1000: float | None = None
    base_from: str = ""
    unit: str = ""
    certainty: str = ""

    def of_100(self) -> dict[str, float]:
        """Return people of 100: with, at both ends of the interval, and without the lens.

        Returns
        -------
        dict of str to float
            "value"; "low" and "high" if there is an interval; "base" if it is a ratio.

        Raises
        ------
        ValueError
            If the effect is neither a ratio nor a share.

        Examples
        --------
        >>> {name: round(n) for name, n in effect("stretched, no glasses").of_100().items()}
        {'value': 34, 'low': 13, 'high': 90, 'base': 12}
        """
        if self.kind not in ("ratio", "share"):
            raise ValueError(
                f"{self.key!r} is a {self.kind}; only a ratio or a share counts people."
            )
        per_unit = (self.base_per_1000 or 0.0) / 10.0 if self.kind == "ratio" else 0.1
        people = {"value": (self.value or 0.0) * per_unit}
        if self.interval:
            people |= {"low": self.interval[0] * per_unit, "high": self.interval[1] * per_unit}
        if self.kind == "ratio":
            people["base"] = per_unit
        return people


@cache
def effects() -> dict[str, Effect]:
    """Return every effect of the course, by its key, read once.

    Returns
    -------
    dict of str to Effect

    Examples
    --------
    >>> effects()["stretched, no glasses"].interval
    (1.06, 7.46)
    """
    return read(FILE.read_text(encoding="utf-8"))


def effect(key: str) -> Effect:
    """Return one effect that may be shown.

    Parameters
    ----------
    key : str

    Returns
    -------
    Effect

    Raises
    ------
    ValueError
        If there is none of that key, or if its study was only remembered.

    Examples
    --------
    >>> effect("multifocal, halos").base_per_1000
    80
    """
    found = effects().get(key)
    if found is None:
        raise ValueError(f"There is no evidence {key!r}; add it to {FILE.name}.")
    if not found.study.shown:
        raise ValueError(f"{key!r} is from memory, and what was only remembered is not shown.")
    return found


def cited(keys: Iterable[str]) -> tuple[Effect, ...]:
    """Return the effects of these keys, each of which may be shown.

    Parameters
    ----------
    keys : iterable of str

    Returns
    -------
    tuple of Effect
    """
    return tuple(effect(key) for key in keys)


def citations(found: Iterable[Effect]) -> str:
    """Return the publications behind some effects, each once, as a source is printed.

    Parameters
    ----------
    found : iterable of Effect

    Returns
    -------
    str

    Examples
    --------
    >>> citations([effect("stretched, near")])
    'Liu et al., BMC Ophthalmol 2019;19:198 (abstract read)'
    """
    return "; ".join(dict.fromkeys(one.study.citation for one in found))


def bare_ratios(text: str) -> list[str]:
    """Return the sentences that state a ratio without its base or its interval.

    What stands between “ and ” is talked about, not stated. Ratios of an exercise, whose numbers
    are drawn and stand in braces, are no evidence.

    Parameters
    ----------
    text : str

    Returns
    -------
    list of str

    Examples
    --------
    >>> bare_ratios("With it 2.8 times as many do without glasses.")
    ['With it 2.8 times as many do without glasses.']
    >>> bare_ratios("Of 100 people 12 do without; 2.8 times as many with it (interval 1.1 to 7.5).")
    []
    """
    sentences = re.split(r"(?<=[.?!]) +", _QUOTED.sub("“”", text))
    return [
        one
        for one in sentences
        if _RATIO.search(one) and not (_BASE.search(one.lower()) and _INTERVAL.search(one))
    ]


def read(text: str) -> dict[str, Effect]:
    """Return the effects that a text in TOML holds, by their keys.

    Parameters
    ----------
    text : str
        As ``evidence.toml``, whose head says what a study and an effect are made of.

    Returns
    -------
    dict of str to Effect

    Raises
    ------
    ValueError
        One sentence that names the study or the effect and what is wrong with it.
    """
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise ValueError(f"The evidence is no TOML: {error}.") from error
    strange = sorted(set(data) - {"study", "effect"})
    if strange:
        raise ValueError(f"{strange[0]!r} is neither study nor effect; rename its block.")
    studies = _by_key(_study(entry) for entry in data.get("study", ()))
    found = _by_key(_effect(entry, studies) for entry in data.get("effect", ()))
    idle = sorted(set(studies) - {one.study.key for one in found.values()})
    if idle:
        raise ValueError(f"Study {idle[0]!r} has no effect; say what it found, or take it out.")
    return found


def _by_key(entries):
    found = {}
    for one in entries:
        if one.key in found:
            raise ValueError(f"{one.key!r} stands twice; rename one.")
        found[one.key] = one
    return found


def _study(entry: Mapping[str, Any]) -> Study:
    _hold_parts("Study", entry, Study, ("key", "authors", "kind", "population", "strength", "read"))
    study = Study(**entry)
    where = study.doi or study.place or (study.journal and study.year)
    _hold(where, "Study", study.key, "lacks journal and year, place or doi")
    _hold(study.read in READ, "Study", study.key, f"read is none of {', '.join(READ)}")
    strengths = ", ".join(STRENGTHS)
    _hold(study.strength in STRENGTHS, "Study", study.key, f"strength is none of {strengths}")
    return study


def _effect(entry: Mapping[str, Any], studies: Mapping[str, Study]) -> Effect:
    _hold_parts("Effect", entry, Effect, ("key", "study", "of", "kind"))
    key, kind = entry["key"], entry["kind"]

    def hold(so: Any, otherwise: str) -> None:
        _hold(so, "Effect", key, otherwise)

    hold(entry["study"] in studies, f"{entry['study']!r} is no study")
    hold(kind in KINDS, f"kind {kind!r} is none of {', '.join(KINDS)}")
    value, interval = entry.get("value"), entry.get("interval")
    hold((value is None) == (kind == "finding"), "only a finding in words has no value")
    hold(bool(interval) != bool(entry.get("no_interval")), "give its interval, or say why not")
    if interval:
        hold(len(interval) == 2, "an interval has two ends")
        within = value is not None and interval[0] <= value <= interval[1]
        hold(within, "its value lies outside its interval")
    if kind == "ratio":
        hold(interval, "a ratio needs its interval")
        hold(entry.get("base_per_1000"), "a ratio needs its base: base_per_1000")
        hold(entry.get("base_from"), "say where the base comes from: base_from")
        hold(0 < entry["base_per_1000"] <= 1000, "its base lies outside 0 to 1,000")
    if kind == "share":
        hold(value is not None and 0 <= value <= 1000, "a share is of 1,000")
    hold(not bare_ratios(entry["of"]), "states a ratio without base and interval")
    return Effect(
        **(
            dict(entry)
            | {"study": studies[entry["study"]], "interval": tuple(interval) if interval else None}
        )
    )


def _hold_parts(what, entry, made, needed):
    key = entry.get("key", "?")
    lacking = [part for part in needed if not entry.get(part)]
    _hold(not lacking, what, key, f"lacks {', '.join(lacking)}")
    strange = sorted(set(entry) - set(made.__dataclass_fields__))
    _hold(not strange, what, key, f"{', '.join(strange)} is no part of it")


def _hold(so: Any, what: str, key: str, otherwise: str) -> None:
    if not so:
        raise ValueError(f"{what} {key!r}: {otherwise}.")
