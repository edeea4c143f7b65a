"""What marking takes beside a submission: plain data, so that it can go to another machine."""

from dataclasses import dataclass
from pathlib import Path

import nbformat
from nbgrader.api import Gradebook

from shared_utils.grading.supervisor import settings


@dataclass(frozen=True)
class Kit:
    """A set as the class has it, and the limits for running a submission to it.

    Attributes
    ----------
    set : str
        Its name.
    source : str
        The notebook with answers and tests, as text.
    release : str
        The notebook that learners got, as text.
    trusted : dict of str to tuple of str
        For each cell that matters its source and its checksum, as the gradebook has them.
    seconds_per_cell, seconds_per_notebook : int
        How long a submission may run.
    require_box : bool
        Whether to refuse where no box can be put around a learner's kernel.
    """

    set: str
    source: str
    release: str
    trusted: dict
    seconds_per_cell: int
    seconds_per_notebook: int
    require_box: bool = False

    def notebooks(self):
        """Return the notebook with answers and tests, and the one that learners got."""
        return [nbformat.reads(text, as_version=4) for text in (self.source, self.release)]


def read_kit(folder, name, notebook, url, require_box=False):
    """Return the kit of a set from a class's folder and gradebook.

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
    require_box : bool
        As in ``Kit``.

    Returns
    -------
    Kit
    """
    place = Path(name) / f"{notebook}.ipynb"
    with Gradebook(url, settings.COURSE_ID) as gradebook:
        kept = gradebook.find_notebook(notebook, name)
        trusted = {cell.name: (cell.source, cell.checksum) for cell in kept.source_cells}
    return Kit(
        name,
        (Path(folder) / "source" / place).read_text(encoding="utf-8"),
        (Path(folder) / "release" / place).read_text(encoding="utf-8"),
        trusted,
        settings.SECONDS_PER_CELL,
        settings.SECONDS_PER_NOTEBOOK,
        require_box,
    )


def kit_of(resources):
    """Return the kit that goes with a submission, read where nbgrader itself is marking."""
    if "kit" not in resources:
        where = resources["nbgrader"]
        # nbgrader works with the class's folder as the current one
        resources["kit"] = read_kit(".", where["assignment"], where["notebook"], where["db_url"])
    return resources["kit"]
