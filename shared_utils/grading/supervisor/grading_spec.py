"""What grading needs beside a submission: plain data, so that it can go to another machine."""

from __future__ import annotations

import functools
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import nbformat
from nbgrader.api import Gradebook

from shared_utils.grading.supervisor import set_identity, settings

if TYPE_CHECKING:
    from os import PathLike
    from typing import Any

    from nbformat import NotebookNode

    from shared_utils.grading.supervisor.set_identity import SetIdentity


@dataclass(frozen=True)
class GradingSpec:
    """A set as the class has it, and the limits for running a submission to it.

    Attributes
    ----------
    set_name : str
        Its name.
    source : str
        The notebook with answers and tests, as text.
    release : str
        The notebook that learners got, as text.
    trusted : dict of str to tuple of str
        For each cell that matters its source and its checksum, as the gradebook has them.
    cell_timeout_s, notebook_timeout_s : int
        How long a submission may run.
    require_sandbox : bool
        Whether to refuse where a learner's kernel cannot run in a sandbox.
    known_sets : tuple of SetIdentity
        What every set is known by, so that a notebook of another one is refused.
    """

    set_name: str
    source: str
    release: str
    trusted: dict[str, tuple[str, str]]
    cell_timeout_s: int
    notebook_timeout_s: int
    require_sandbox: bool = False
    known_sets: tuple[SetIdentity, ...] = ()

    def notebooks(self) -> list[NotebookNode]:
        """Return the notebook with answers and tests, and the one that learners got.

        They are read once and shared: whoever changes a cell changes a copy.
        """
        return [read_once(text) for text in (self.source, self.release)]


@functools.lru_cache(maxsize=8)
def read_once(text: str) -> NotebookNode:
    """Return a notebook of a set, read once for all its submissions."""
    return nbformat.reads(text, as_version=4)


def read_spec(
    folder: str | PathLike[str], name: str, notebook: str, url: str, require_sandbox: bool = False
) -> GradingSpec:
    """Return the grading spec of a set from a class's folder and gradebook.

    Parameters
    ----------
    folder : path-like
        The class's folder.
    name : str
        A released set.
    notebook : str
        Name of its notebook, without the ending.
    url : str
        Address of the gradebook.
    require_sandbox : bool
        As in ``GradingSpec``.

    Returns
    -------
    GradingSpec
    """
    relative = Path(name) / f"{notebook}.ipynb"
    with Gradebook(url, settings.COURSE_ID) as gradebook:
        stored = gradebook.find_notebook(notebook, name)
        trusted = {cell.name: (cell.source, cell.checksum) for cell in stored.source_cells}
    return GradingSpec(
        name,
        (Path(folder) / "source" / relative).read_text(encoding="utf-8"),
        (Path(folder) / "release" / relative).read_text(encoding="utf-8"),
        trusted,
        settings.CELL_TIMEOUT_S,
        settings.NOTEBOOK_TIMEOUT_S,
        require_sandbox,
        set_identity.known_sets(folder),
    )


def spec_of(resources: dict[str, Any]) -> GradingSpec:
    """Return the grading spec of a submission, read anew where nbgrader itself is marking."""
    if "grading_spec" not in resources:
        about = resources["nbgrader"]
        # nbgrader works with the class's folder as the current one
        resources["grading_spec"] = read_spec(
            ".", about["assignment"], about["notebook"], about["db_url"]
        )
    return resources["grading_spec"]
