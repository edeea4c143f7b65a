"""The pages about the course that are written from it, beside the notebooks."""

from __future__ import annotations

from typing import TYPE_CHECKING

from shared_utils.authoring import api_index, coverage
from shared_utils.course.place import course_root
from shared_utils.pages.build import Built

if TYPE_CHECKING:
    from pathlib import Path

FOLDER = ".project"
HEAD = """\
# What the lessons cover

Written by `lens-course build`. Every goal of every lesson is shown, asked and graded;
`lens-course lint` says where a cell is empty.

"""


def pages(root: Path | None = None) -> list[Built]:
    """Return every generated page with its content.

    Parameters
    ----------
    root : pathlib.Path, optional
        The course's folder.

    Returns
    -------
    list of Built
    """
    root = root or course_root()
    return [
        Built(root / FOLDER / "COVERAGE.md", HEAD + coverage.markdown()),
        Built(root / FOLDER / "API.md", api_index.markdown()),
    ]
