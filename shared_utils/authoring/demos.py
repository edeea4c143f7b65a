"""Which sliders a lesson shows, and which its module defines: read from their texts."""

from __future__ import annotations

import ast
import importlib
import re
from pathlib import Path
from typing import TYPE_CHECKING

from shared_utils import explore
from shared_utils.course import manifest
from shared_utils.pages import source

if TYPE_CHECKING:
    from collections.abc import Callable
    from typing import Any

FOLDER = Path(explore.__file__).parent


def shown(lesson: str) -> list[str]:
    """Return the names of the sliders that a lesson's page shows, in order.

    Parameters
    ----------
    lesson : str
        Its slug.

    Returns
    -------
    list of str

    Examples
    --------
    >>> shown("vergence")
    ['point_and_surface', 'lens_and_way']
    """
    return re.findall(r"\bexplore\(\s*demos\.(\w+)\(", source.lesson_text(lesson))


def defined(lesson: str) -> dict[str, int]:
    """Return the sliders that ``explore/SLUG.py`` defines: name → line.

    A slider is a public function without parameters that returns a ``Demo``.

    Parameters
    ----------
    lesson : str
        Its slug.

    Returns
    -------
    dict of str to int
    """
    return {node.name: node.lineno for node in _demos(lesson) if not _parameters(node)}


def with_parameters(lesson: str) -> dict[str, int]:
    """Return what would be sliders of ``explore/SLUG.py`` but for their parameters: name → line.

    Parameters
    ----------
    lesson : str
        Its slug.

    Returns
    -------
    dict of str to int
    """
    return {node.name: node.lineno for node in _demos(lesson) if _parameters(node)}


def _demos(lesson):
    path = FOLDER / f"{lesson}.py"
    if not path.is_file():
        return []
    return [
        node
        for node in ast.parse(path.read_text(encoding="utf-8")).body
        if isinstance(node, ast.FunctionDef)
        and not node.name.startswith("_")
        and any(_returns_demo(inner) for inner in ast.walk(node))
    ]


def _parameters(node):
    """Whether a function takes anything at all."""
    given = node.args
    return bool(given.posonlyargs or given.args or given.vararg or given.kwonlyargs or given.kwarg)


def _returns_demo(node):
    if not (isinstance(node, ast.Return) and isinstance(node.value, ast.Call)):
        return False
    called = node.value.func
    return getattr(called, "id", getattr(called, "attr", "")) == "Demo"


def every() -> list[tuple[str, Callable[..., Any]]]:
    """Return every slider that a page shows, in order.

    Returns
    -------
    list of (str, callable)
        The lesson's slug, and the function that makes the slider.

    Raises
    ------
    ValueError
        If a page shows what its module does not define.
    """
    found = []
    for page in manifest.of().lessons:
        names = shown(page.slug)
        module = importlib.import_module(f"shared_utils.explore.{page.slug}") if names else None
        for name in names:
            if not hasattr(module, name):
                raise ValueError(
                    f"The page {page.stem} shows {name}, which explore/{page.slug}.py lacks."
                )
            found.append((page.slug, getattr(module, name)))
    return found
