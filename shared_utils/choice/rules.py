"""The rules behind an advice: what they are made of, and how they are read.

Rules are data, in ``rules.toml``: finding and grade, effect on each class of lens, one sentence,
its source and how well it is founded; what was measured stands in ``evidence.toml``, by key.
"""

from __future__ import annotations

import operator
import re
import tomllib
from dataclasses import dataclass, field
from functools import cache, cached_property
from pathlib import Path
from typing import TYPE_CHECKING

from shared_utils.choice import evidence
from shared_utils.choice.vocabulary import PLANS, UNKNOWN, VOCABULARY, Graded
from shared_utils.optics.lenses import LENS_CLASSES

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping
    from typing import Any

FILE = Path(__file__).parent / "rules.toml"

LIGHT_SPLITTING = ("bifocal", "trifocal")
"""Classes that share light between foci."""

PLAN_KINDS = ("monovision", "toric", "target")
"""What may be planned besides a class of lens; rules in blocks ``plan_rule`` speak of it."""

_WORDS = VOCABULARY | PLANS

AGAINST = ("not advised", "with care")
"""Effects that speak against a class, the heavier first."""

EFFECTS = (*AGAINST, "for", "note")
"""What a reason does, from most to least weight; "for" and "note" leave the verdict alone."""

STRENGTHS = (*evidence.STRENGTHS, "common practice")
"""How well a reason is founded, from most to least: what experts agree on stands below studies."""

NO_SOURCE = "common practice, no source"

GROUPS = {"all": LENS_CLASSES, "light-splitting": LIGHT_SPLITTING}

COMPARISONS = {
    "above": operator.gt,
    "at_least": operator.ge,
    "below": operator.lt,
    "at_most": operator.le,
}


@dataclass(frozen=True)
class Reason:
    """Why: one sentence, its source and strength, what it does, and the rule it comes from."""

    text: str
    source: str
    strength: str
    effect: str
    rule: str


@dataclass(frozen=True)
class Side:
    """What one side of a disagreement says."""

    text: str
    source: str
    strength: str


@dataclass(frozen=True)
class Conflict:
    """A question on which sources disagree, with the rules and classes it is shown with."""

    topic: str
    sides: tuple
    rules: frozenset = field(repr=False)
    classes: tuple = field(repr=False)


@dataclass(frozen=True)
class Rule:
    """One rule as read: when it fires, what it says, what it does to which class.

    ``when`` maps a name to a tuple of grades or a dictionary of comparisons; all must hold. An
    ``unless`` maps names to grades, none of which may hold. An
    examination also has ``missing``: it fires only while "any" or "all" of ``findings`` are
    unknown, and ``do`` says how to find out. ``evidence`` holds the effects that it rests on.
    """

    key: str
    text: str
    source: str
    strength: str
    effect: dict
    when: dict
    change: str = ""
    do: str = ""
    findings: tuple[str, ...] = ()
    missing: str = ""
    unless: dict = field(default_factory=dict)
    evidence: tuple = field(default=(), repr=False)

    def fires(self, values: Mapping[str, Any]) -> bool:
        """Whether the rule applies to these values."""
        for name, condition in self.when.items():
            value = values[name]
            if isinstance(condition, tuple):
                if value not in condition:
                    return False
            elif value == UNKNOWN:
                return False
            else:
                for word, threshold in condition.items():
                    if not COMPARISONS[word](value, threshold):
                        return False
        if any(values[name] in grades for name, grades in self.unless.items()):
            return False
        if self.missing:
            gaps = [values[name] == UNKNOWN for name in self.findings]
            return any(gaps) if self.missing == "any" else all(gaps)
        return True

    def reason(self, lens_class: str, values: Mapping[str, Any]) -> Reason:
        """What the rule says of a class, with the values found put in."""
        if not self._slots:
            return self._ready[lens_class]
        named = {name: _WORDS[name].shown(values[name]) for name in self._slots}
        return self._reason(self.text.format(**named), lens_class)

    @cached_property
    def _slots(self):
        return slots(self.text)

    @cached_property
    def _ready(self):
        """Reasons that no value changes, made once."""
        return {lens_class: self._reason(self.text, lens_class) for lens_class in self.effect}

    def _reason(self, text, lens_class):
        return Reason(text, self.source, self.strength, self.effect[lens_class], self.key)


@dataclass(frozen=True)
class Threshold:
    """Where a measurement begins to count against some classes."""

    name: str
    at: float
    classes: frozenset

    def borders(self, value: Any) -> bool:
        """Whether the value lies so near that it may lie on the other side."""
        # a hair more, for 0.55 − 0.50 is a hair more than 0.05
        return value != UNKNOWN and abs(value - self.at) <= _WORDS[self.name].near + 1e-9

    def sentence(self, value: Any) -> str:
        """A sentence on how near the value lies, and on which side."""
        kind = _WORDS[self.name]
        gap = value - self.at
        if abs(gap) < 0.5 * 10.0**-kind.digits:
            where = "at"
        else:
            where = f"{kind.shown(abs(gap))} {'above' if gap > 0 else 'below'}"
        return (
            f"{kind.title} is {kind.shown(value)}, {where} the prompt of {kind.shown(self.at)}: "
            "a prompt, not a law, so measure again before it decides."
        )


class Book:
    """All rules, best founded first, laid out so that only those that may fire are looked at.

    Attributes
    ----------
    rules : tuple of Rule
    conflicts : tuple of Conflict
    thresholds : tuple of Threshold
    plans : Book or None
        The rules for what may be planned besides a class of lens: monovision, a toric lens.
    """

    def __init__(
        self,
        rules: Iterable[Rule],
        conflicts: tuple[Conflict, ...],
        plans: Book | None = None,
    ) -> None:
        self.plans = plans
        self.rules = tuple(sorted(rules, key=lambda rule: STRENGTHS.index(rule.strength)))
        self.conflicts = conflicts
        self.thresholds = _thresholds(self.rules)
        self._by_value: dict[tuple[str, str], list[int]] = {}
        self._others: list[int] = []
        for place, rule in enumerate(self.rules):
            name = next((n for n, grades in rule.when.items() if isinstance(grades, tuple)), None)
            if name is None:
                self._others.append(place)
            else:
                for grade in rule.when[name]:
                    self._by_value.setdefault((name, grade), []).append(place)

    def fired(self, values: Mapping[str, Any]) -> list[Rule]:
        """The rules that apply, best founded first."""
        places = list(self._others)
        for pair in values.items():
            places += self._by_value.get(pair, ())
        return [self.rules[place] for place in sorted(places) if self.rules[place].fires(values)]


@cache
def book() -> Book:
    """Return the rules of the course, read once.

    Returns
    -------
    Book

    Examples
    --------
    >>> all(rule.source for rule in book().rules)
    True
    """
    return read(FILE.read_text(encoding="utf-8"))


def read(text: str) -> Book:
    """Return the rules that a text in TOML holds.

    Parameters
    ----------
    text : str
        As ``rules.toml``, whose head says what a rule is made of.

    Returns
    -------
    Book

    Raises
    ------
    ValueError
        One sentence that names the rule and what is wrong with it.
    """
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise ValueError(f"The rules are no TOML: {error}.") from error
    strange = sorted(set(data) - {"rule", "examination", "conflict", "plan_rule"})
    if strange:
        raise ValueError(f"{strange[0]!r} is no rule, examination or conflict; rename its block.")
    rules = [_rule(entry) for part in ("rule", "examination") for entry in data.get(part, ())]
    for_plans = [_rule(entry, PLAN_KINDS) for entry in data.get("plan_rule", ())]
    keys = [rule.key for rule in (*rules, *for_plans)]
    twice = next((key for key in keys if keys.count(key) > 1), None)
    if twice:
        raise ValueError(f"The rule {twice!r} stands twice; rename one.")
    conflicts = []
    for entry in data.get("conflict", ()):
        lacking = [part for part in ("key", "rules", "classes", "sides") if part not in entry]
        if lacking:
            raise ValueError(f"Conflict {entry.get('key', '?')!r} lacks {', '.join(lacking)}.")
        strange = [key for key in entry["rules"] if key not in keys]
        if strange:
            raise ValueError(f"Conflict {entry['key']!r} names {strange[0]!r}, which is no rule.")
        sides = tuple(_side(side, entry["key"]) for side in entry["sides"])
        rules_of_it, classes = frozenset(entry["rules"]), tuple(entry["classes"])
        conflicts.append(Conflict(entry["key"], sides, rules_of_it, classes))
    return Book(rules, tuple(conflicts), Book(for_plans, ()))


def slots(text: str) -> tuple[str, ...]:
    """Return the names whose values a text asks for.

    >>> slots("Chord mu is {chord_mu_mm}.")
    ('chord_mu_mm',)
    """
    return tuple(re.findall(r"{(\w+)}", text))


def _thresholds(rules):
    """Every threshold at which a rule begins to speak against a class."""
    found = {}
    for rule in rules:
        against = {c for c, effect in rule.effect.items() if effect in AGAINST}
        for name, condition in rule.when.items():
            if against and isinstance(condition, dict):
                for at in condition.values():
                    found.setdefault((name, at), set()).update(against)
    return tuple(Threshold(*pair, frozenset(classes)) for pair, classes in found.items())


def _side(entry, key):
    """What one side of a conflict says, with its source."""
    entry, _ = _with_evidence(entry, key)
    lacking = [part for part in ("text", "source", "strength") if not entry.get(part)]
    _hold(not lacking, key, f"a side lacks {', '.join(lacking)}")
    return Side(entry["text"], entry["source"], entry["strength"])


def _with_evidence(entry, key):
    """A table whose evidence has become its source, and the effects; one sentence if it cannot."""
    bare = evidence.bare_ratios(entry.get("text", ""))
    _hold(not bare, key, f"a ratio needs its base and its interval beside it: {bare}")
    strength = entry.get("strength")
    _hold(
        not strength or strength in STRENGTHS,
        key,
        f"strength {strength!r} is none of {', '.join(STRENGTHS)}",
    )
    if "evidence" not in entry:
        return entry, ()
    try:
        found = evidence.cited(entry["evidence"])
    except ValueError as error:
        _hold(False, key, str(error).rstrip("."))
    founded = strength == STRENGTHS[-1] or strength in {one.study.strength for one in found}
    _hold(founded, key, f"none of its evidence is a {strength}")
    own = [entry["source"]] if entry.get("source") else []
    return entry | {"source": "; ".join([*own, evidence.citations(found)])}, found


def _rule(entry, subjects=LENS_CLASSES):
    """A rule out of its table, or one sentence on what is wrong with it."""
    words = VOCABULARY if subjects == LENS_CLASSES else _WORDS
    key = entry.get("key", "?")
    entry, found = _with_evidence(entry, key)
    needed = ("key", "text", "source", "strength", "effect")
    lacking = [part for part in needed if not entry.get(part)]
    _hold(not lacking, key, f"lacks {', '.join(lacking)}")
    strange = sorted(set(entry) - set(Rule.__dataclass_fields__))
    _hold(not strange, key, f"{', '.join(strange)} is no part of a rule")
    effect, missing = {}, entry.get("missing")
    _hold(isinstance(entry["effect"], dict), key, "its effect is no table: class = effect")
    _hold(isinstance(entry.get("when", {}), dict), key, "its when is no table: name = grade")
    for who, what in entry["effect"].items():
        classes = GROUPS.get(who, (who,)) if subjects == LENS_CLASSES else (who,)
        what_it_is = "class of lens" if subjects == LENS_CLASSES else "plan"
        _hold(set(classes) <= set(subjects), key, f"{who!r} is no {what_it_is}")
        _hold(what in EFFECTS, key, f"effect {what!r} is none of {', '.join(EFFECTS)}")
        effect |= dict.fromkeys(classes, what)
    _hold(effect.get("monofocal") != "not advised", key, "a monofocal is never refused")
    findings = tuple(entry.get("findings", ()))
    unless = entry.get("unless", {})
    _hold(isinstance(unless, dict), key, "its unless is no table: name = grade")
    for name in (*entry.get("when", ()), *unless, *findings, *slots(entry["text"])):
        _hold(name in words, key, f"{name!r} is neither a finding nor a wish")
    when = entry.get("when", {})
    when = {name: _condition(key, name, when[name]) for name in when}
    unless = {name: _condition(key, name, unless[name]) for name in unless}
    compared = [name for name, condition in unless.items() if isinstance(condition, dict)]
    _hold(not compared, key, f"its unless compares {', '.join(compared)}; give grades")
    shown = [name for name in slots(entry["text"]) if not isinstance(when.get(name), dict)]
    _hold(not shown, key, f"its text shows {', '.join(shown)}, for which it sets no threshold")
    _hold(
        missing in (("any", "all") if findings else (None,)),
        key,
        "an examination has findings, and missing is 'any' or 'all'",
    )
    read_in = {"effect": effect, "when": when, "findings": findings, "unless": unless}
    return Rule(**(entry | read_in | {"evidence": found}))


def _condition(key, name, condition):
    """Grades as a tuple, comparisons as a dictionary."""
    kind = _WORDS[name]
    if isinstance(condition, dict):
        known = bool(condition) and set(condition) <= set(COMPARISONS)
        known = known and not isinstance(kind, Graded)
        known = known and all(isinstance(at, (int, float)) for at in condition.values())
        _hold(known, key, f"{name} = {condition}: compare a number by {', '.join(COMPARISONS)}")
        return condition
    grades = tuple(condition) if isinstance(condition, list) else (condition,)
    allowed = (*kind.grades, UNKNOWN) if isinstance(kind, Graded) else (UNKNOWN,)
    for grade in grades:
        _hold(grade in allowed, key, f"{name} has no grade {grade!r}, only {', '.join(allowed)}")
    return grades


def _hold(so, key, otherwise):
    if not so:
        raise ValueError(f"Rule {key!r}: {otherwise}.")
