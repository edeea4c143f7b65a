"""Verdicts for many patients at once: the rules of `candidacy`, in arrays and without reasons.

For a share of a population or a property over all patients; for one patient, with the reasons, ask
`candidacy.assess`, which gives the same verdicts.

Sources
-------
Of each rule: in ``rules.toml``.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from shared_utils.choice.candidacy import VERDICTS, speaks_of_wishes
from shared_utils.choice.rules import AGAINST, COMPARISONS, book
from shared_utils.choice.vocabulary import UNKNOWN, VOCABULARY, Graded
from shared_utils.optics.domain import require, require_instance, shown
from shared_utils.optics.lenses import LENS_CLASSES

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from shared_utils.choice.rules import Rule


@dataclass(frozen=True)
class Verdicts:
    """What the rules say of each class of lens for each patient.

    Attributes
    ----------
    verdict, eye_verdict, wish_verdict : dict of str to array of str
        By class of lens, each of ``candidacy.VERDICTS``, in the shape of the patients: what counts
        in the end, what the eye allows, and what the wishes cost.
    """

    verdict: dict[str, np.ndarray]
    eye_verdict: dict[str, np.ndarray]
    wish_verdict: dict[str, np.ndarray]


def verdicts(columns: Mapping[str, ArrayLike]) -> Verdicts:
    """Return the verdict on each class of lens for many patients.

    Parameters
    ----------
    columns : mapping of str to array
        Findings and wishes by name, a grade or a number for each patient, in shapes that go
        together. "unknown", or nan in place of a number, is unknown, and so is what is left out.

    Returns
    -------
    Verdicts

    Raises
    ------
    ValueError
        Naming the finding, and the grade or the range that it can have.

    Sources
    -------
    Of each rule: in ``rules.toml``.

    Examples
    --------
    >>> found = verdicts({"macular_degeneration": ["late", "early"]})
    >>> print(*found.eye_verdict["trifocal"], sep=", ")
    not advised, with care
    >>> verdicts({"glaucoma": ["bad"]})
    Traceback (most recent call last):
    ValueError: glaucoma is 'bad'; give one of: none, suspect, mild, moderate, severe, unknown.
    """
    require_instance("columns", columns, Mapping, "a dictionary of names, each with an array")
    coded = {name: _coded(name, column) for name, column in columns.items()}
    try:
        shape = np.broadcast_shapes(*(column.shape for column in coded.values()))
    except ValueError as error:
        sizes = ", ".join(f"{name} {column.shape}" for name, column in coded.items())
        raise ValueError(
            f"The columns do not go together: {sizes}; give each as many patients."
        ) from error
    for name in VOCABULARY:
        coded[name] = np.broadcast_to(coded.get(name, np.nan), shape)
    worst = {
        (wishes, lens_class): np.zeros(shape, np.int8)
        for wishes in (False, True)
        for lens_class in LENS_CLASSES
    }
    for rule in book().rules:
        against = {
            c: VERDICTS.index(effect) for c, effect in rule.effect.items() if effect in AGAINST
        }
        if not against:
            continue
        fires = _fires(rule, coded)
        for lens_class, weight in against.items():
            of_class = worst[speaks_of_wishes(rule), lens_class]
            np.maximum(of_class, weight, out=of_class, where=fires)
    words = np.array(VERDICTS)
    eye, wish = (
        {lens_class: worst[wishes, lens_class] for lens_class in LENS_CLASSES}
        for wishes in (False, True)
    )
    return Verdicts(
        {c: words[np.maximum(eye[c], wish[c])] for c in LENS_CLASSES},
        {c: words[eye[c]] for c in LENS_CLASSES},
        {c: words[wish[c]] for c in LENS_CLASSES},
    )


def _coded(name, column):
    """Numbers as they are, grades as their place in the vocabulary; nan where unknown."""
    if name not in VOCABULARY:
        raise ValueError(f"columns has no {shown(name)}; give names as in the vocabulary.")
    kind = VOCABULARY[name]
    given = np.asarray(column, dtype=object)
    unknown = np.frompyfunc(_is_unknown, 1, 1)(given).astype(bool)
    numbers = np.full(given.shape, np.nan)
    if not isinstance(kind, Graded):
        if not unknown.all():
            known = list(given[~unknown])
            numbers[~unknown] = require(name, known, kind.low, kind.high, hint=kind.hint)
        return numbers
    places = {grade: float(place) for place, grade in enumerate(kind.grades)}
    for grade in set(given[~unknown].tolist()):
        grade = kind.check(grade)
        numbers[given == grade] = places[grade]
    return numbers


def _is_unknown(value):
    return value == UNKNOWN or (isinstance(value, float) and np.isnan(value))


def _fires(rule: Rule, coded):
    """`rules.Rule.fires` for all patients at once."""
    fires = np.ones(next(iter(coded.values())).shape, bool)
    for name, condition in rule.when.items():
        if isinstance(condition, tuple):
            fires &= _is_any_of(name, coded[name], condition)
        else:
            for word, threshold in condition.items():  # of nan, every comparison is false
                fires &= COMPARISONS[word](coded[name], threshold)
    for name, grades in rule.unless.items():
        fires &= ~_is_any_of(name, coded[name], grades)
    if rule.missing:
        gaps = [np.isnan(coded[name]) for name in rule.findings]
        fires &= np.any(gaps, axis=0) if rule.missing == "any" else np.all(gaps, axis=0)
    return fires


def _is_any_of(name, column, grades):
    order = list(getattr(VOCABULARY[name], "grades", ()))
    found = np.zeros(column.shape, bool)
    for grade in grades:
        found |= np.isnan(column) if grade == UNKNOWN else column == order.index(grade)
    return found
