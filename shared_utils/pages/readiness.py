"""Whether this machine can run the course, said line by line."""

from __future__ import annotations

import html
import importlib
import sys
from importlib.metadata import PackageNotFoundError, version
from typing import TYPE_CHECKING

from IPython.display import HTML

from shared_utils.course.learner import learner_id
from shared_utils.course.place import course_root
from shared_utils.show.figure_with_alt import TABLE

if TYPE_CHECKING:
    from collections.abc import Iterator

PACKAGES = ("numpy", "scipy", "matplotlib", "ipywidgets", "anywidget", "jupyterlab", "nbgrader")
OLDEST_PYTHON = (3, 11)


def checks() -> Iterator[tuple[str, bool, str]]:
    """Yield (what, whether it holds, what to know or do) for each thing the course needs."""
    python = ".".join(map(str, sys.version_info[:3]))
    yield (
        "Python",
        sys.version_info >= OLDEST_PYTHON,
        f"{python} (needs {OLDEST_PYTHON[0]}.{OLDEST_PYTHON[1]} or newer)",
    )
    for package in PACKAGES:
        try:
            yield package, True, version(package)
        except PackageNotFoundError:
            yield package, False, "missing: run `pip install -e .` in the course's folder"
    try:
        course_root()
        yield "notebooks of the course", True, "found beside the package"
    except FileNotFoundError as error:
        yield "notebooks of the course", False, str(error)
    try:
        vergence = importlib.import_module("shared_utils.optics.vergence")
        right = vergence.vergence(-0.40) == -2.5
        yield "a first sum", right, "light from 40 cm has −2.50 D" if right else "came out wrong"
    except ImportError as error:
        yield "a first sum", False, f"{error}: run `pip install -e .` in the course's folder"
    yield "your numbers", True, f"learner {learner_id()}"


def report() -> HTML:
    """Return the checks as a table with a verdict.

    Returns
    -------
    IPython.display.HTML
    """
    found = list(checks())
    rows = "".join(
        f"<tr><td>{'✓' if holds else '✗'}</td><td>{html.escape(what)}</td>"
        f"<td>{html.escape(note)}</td></tr>"
        for what, holds, note in found
    )
    failed = [what for what, holds, _ in found if not holds]
    verdict = f"Not ready: {', '.join(failed)}." if failed else "Ready: everything works here."
    return HTML(
        f"<p><strong>{html.escape(verdict)}</strong></p>{TABLE}<thead><tr><th>holds</th><th>what</th>"
        f"<th>found</th></tr></thead><tbody>{rows}</tbody></table>"
    )
