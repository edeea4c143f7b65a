"""Of which problem set a notebook is, whatever its file is called.

A set is known by its locked cells: their texts, then their names. So it is recognised also where
its metadata was taken out, its outputs were cleared or it was saved by another program. What the
notebook says of itself counts only where nothing of its content is known.
"""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from shared_utils.course import manifest, place
from shared_utils.pages import cells

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping
    from os import PathLike
    from typing import Any

NOTEBOOK = "problems.ipynb"
SHORTEST_TEXT = 20  # characters; a shorter text says nothing of its set


class WrongSet(ValueError):
    """A notebook of another set than it was handed in as; says so in a sentence."""


@dataclass(frozen=True)
class SetIdentity:
    """What a set is known by.

    Attributes
    ----------
    name : str
        Of the set, such as ``03_glasses``.
    texts : frozenset of str
        Digests of the texts of its locked cells.
    names : frozenset of str
        The names of its cells.
    """

    name: str
    texts: frozenset[str]
    names: frozenset[str]

    @property
    def slug(self) -> str:
        """The set's name without its number."""
        return manifest.slug_in(self.name)


def identity_of(name: str, notebook: Mapping[str, Any]) -> SetIdentity:
    """Return what a set is known by.

    Parameters
    ----------
    name : str
        Of the set.
    notebook : nbformat.NotebookNode or dict
        As it is released.

    Returns
    -------
    SetIdentity
    """
    locked = [cell for cell in notebook["cells"] if cells.is_locked(cell)]
    return SetIdentity(
        name,
        frozenset(filter(None, (_digest(cell) for cell in locked))),
        frozenset(filter(None, (cells.grade_id(cell) for cell in notebook["cells"]))),
    )


def known_sets(folder: str | PathLike[str]) -> tuple[SetIdentity, ...]:
    """Return what every set is known by: those released in a class, then the course's others.

    Parameters
    ----------
    folder : path-like
        The class's folder.

    Returns
    -------
    tuple of SetIdentity
    """
    released = sorted((Path(folder) / "release").glob(f"*/{NOTEBOOK}"))
    known = {}
    for path in (*released, *sorted((place.course_root() / "exercises").glob(f"*/{NOTEBOOK}"))):
        name = path.parent.name
        if manifest.slug_in(name) not in known:
            try:
                known[manifest.slug_in(name)] = identity_of(name, json.loads(path.read_bytes()))
            except (OSError, ValueError, LookupError, TypeError, AttributeError):
                continue  # a released set that cannot be read is told where it is graded
    return tuple(known.values())


def fault(notebook: Mapping[str, Any], handed_in_as: str, known: Iterable[SetIdentity]) -> str:
    """Return a sentence if a notebook is of another set than it was handed in as; else nothing.

    Parameters
    ----------
    notebook : nbformat.NotebookNode or dict
    handed_in_as : str
        Name of the set.
    known : iterable of SetIdentity
        Of the sets that it may be of.

    Returns
    -------
    str

    Examples
    --------
    >>> here, there = (SetIdentity(n, frozenset(), frozenset({n})) for n in ("01_eye", "02_lens"))
    >>> page = {"metadata": {"lens_course": {"set": "lens"}}, "cells": []}
    >>> fault(page, "01_eye", [here, there])
    'This is the notebook of 02_lens, handed in as 01_eye; it was not marked.'
    >>> fault(page, "02_lens", [here, there])
    ''
    """
    known = tuple(known)
    slug = manifest.slug_in(handed_in_as)
    texts = {_digest(cell) for cell in notebook["cells"]} - {""}
    names = {cells.grade_id(cell) or str(cell.get("id", "")) for cell in notebook["cells"]}
    for found in (
        {each: len(texts & each.texts) for each in known},
        {each: len(names & each.names) for each in known},
    ):
        here = max((count for each, count in found.items() if each.slug == slug), default=0)
        other = max(found, key=lambda each: found[each], default=None)
        if other is not None and found[other] > here:
            return _sentence(other.name, handed_in_as)
        if here:
            return ""
    stated = cells.set_slug(notebook)
    if stated and stated != slug:
        there = next((each.name for each in known if each.slug == stated), stated)
        return _sentence(there, handed_in_as)
    return ""


def fault_of_file(content: bytes, handed_in_as: str, known: Iterable[SetIdentity]) -> str:
    """Return the same of a file; nothing of one that is no notebook, which is told elsewhere."""
    try:
        return fault(json.loads(content.decode("utf-8-sig")), handed_in_as, known)
    except (ValueError, LookupError, TypeError, AttributeError, RecursionError):
        return ""


def _sentence(name, handed_in_as):
    return f"This is the notebook of {name}, handed in as {handed_in_as}; it was not marked."


def _digest(cell):
    """Tell a cell's text from every other's, whatever was done to its blanks."""
    source = cell.get("source", "")
    text = "".join(source) if isinstance(source, list) else str(source)
    text = " ".join(text.split())
    if len(text) < SHORTEST_TEXT:
        return ""
    return hashlib.sha256(text.encode("utf-8", "replace")).hexdigest()[:16]
