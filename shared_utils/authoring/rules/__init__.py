"""The rules that lessons, problem sets, items and the course as a whole keep.

Each is a function that yields (where, what) for everything that breaks it; its sentence and what
to do stand beside it. ``lens-course lint`` shows what they find, and the tests ask each rule about
each page, so there is one wording and one check.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING

from shared_utils.course import place
from shared_utils.pages import build, cells, source

if TYPE_CHECKING:
    from pathlib import Path
    from typing import Any

    from nbformat import NotebookNode

    from shared_utils.course.manifest import Page

SCOPES = ("page", "lesson", "set", "course")
RULES: list[Rule] = []


@dataclass(frozen=True)
class Rule:
    """A rule: its name, what it is about, its sentence, what to do, and its check."""

    name: str
    scope: str
    says: str
    do: str
    check: Callable


def rule(scope: str, says: str, do: str) -> Callable[..., Any]:
    """Make a rule of a check and keep it.

    Parameters
    ----------
    scope : str
        ``"page"``, ``"lesson"`` and ``"set"`` checks take a page of the manifest; ``"course"``
        checks take nothing.
    says : str
        The rule in a sentence.
    do : str
        What to do where it is broken, in a sentence.

    Returns
    -------
    callable
        A decorator for a function that yields (where, what).
    """
    assert scope in SCOPES, scope

    def keep(check):
        RULES.append(Rule(check.__name__, scope, says, do, check))
        return check

    return keep


@dataclass(frozen=True)
class Text:
    """A text with its cells, and the line at which each begins."""

    name: str
    text: str
    cells: tuple[NotebookNode, ...]
    lines: tuple[int, ...]

    def where(self, cell: NotebookNode, words: str = "") -> str:
        """Return the place of a cell, or of the line in it that holds some words."""
        line = self.lines[self.cells.index(cell)]
        if words:
            below = self.text.splitlines()[line - 1 :]
            line += next((n for n, one in enumerate(below) if words in one), 0)
        return f"{self.name}:{line}"

    def of_part(self, part: str | None) -> list[NotebookNode]:
        """Return the cells that begin a part of a lesson's anatomy."""
        return [cell for cell in self.cells if cells.part(cell) == part]

    def of_kind(self, *kinds: str) -> list[NotebookNode]:
        """Return the cells of a problem set that are of some kinds."""
        return [cell for cell in self.cells if cells.kind(cell) in kinds]

    def prose(self) -> str:
        """Return what is written for the reader."""
        return "\n".join(cell.source for cell in self.cells if cell.cell_type == "markdown")


def lesson(page: Page) -> Text:
    """Return the text of a page; without cells if it is not there."""
    return _text(place.lesson_source(page.slug), source.lesson_text(page.slug))


def problem_set(page: Page) -> Text:
    """Return the text of a page's problem set; without cells if it is not there."""
    return _text(place.set_source(page.slug), source.set_text(page.slug))


@cache
def _text(path, text):
    if not text:
        return Text(short(path), "", (), ())
    found = tuple(build.text_to_notebook(text).cells)
    begin = re.compile(r"# %%(?: |$)")
    lines = tuple(n for n, line in enumerate(text.splitlines(), 1) if begin.match(line))
    if len(lines) != len(found):
        raise ValueError(f"{short(path)}: begin it, and each cell, with a line # %%.")
    return Text(short(path), text, found, lines)


def short(path: Path) -> str:
    """Return a path as it stands in the course's folder."""
    return path.relative_to(place.course_root()).as_posix()
