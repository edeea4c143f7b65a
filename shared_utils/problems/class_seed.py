"""A class's seed in the notebook that its learners get: with it their numbers are others.

It follows from the instructor's own seed and is no secret: a learner's machine draws numbers too.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from shared_utils.pages import cells

if TYPE_CHECKING:
    from nbformat import NotebookNode

SETUP = "setup-given"
LINES = '\n\nfrom shared_utils.problems.numbers import use_seed\n\nuse_seed("{}")'
SEED_AT_END = re.compile(re.escape(LINES.format("@")).replace("@", "([0-9a-f]{16})") + r"\s*\Z")


def with_seed(notebook: NotebookNode, seed: str) -> NotebookNode:
    """Return a set whose learners draw their numbers with a seed.

    Parameters
    ----------
    notebook : nbformat.NotebookNode
        Changed in place.
    seed : str
        Sixteen hexadecimal digits; nothing is changed if it is empty.
    """
    for cell in notebook.cells:
        if seed and cells.grade_id(cell) == SETUP:
            cell.source += LINES.format(seed)
    return notebook


def seed_of(notebook: NotebookNode) -> str:
    """Return the seed in a notebook that a learner got, or an empty text."""
    for cell in notebook.cells:
        if cells.grade_id(cell) == SETUP:
            found = SEED_AT_END.search(cell.source)
            return found[1] if found else ""
    return ""
