"""One submission from what was handed in to its marks: plain data in, plain data out.

A worker does this, here or on another machine; it sees neither the class's folder nor its
gradebook. The steps are those that nbgrader takes when the form grader asks for them.
"""

import json
import logging
import re
import socket
import warnings
from dataclasses import dataclass, field
from importlib import import_module
from time import monotonic

import nbformat
from nbgrader import utils
from traitlets.config import Config

from shared_utils.grading.supervisor import sandbox, settings
from shared_utils.grading.supervisor.collect_checks import slips_of
from shared_utils.grading.supervisor.restore import notes_of

SUFFIX = ".ipynb"


@dataclass(frozen=True)
class Work:
    """A submission.

    Attributes
    ----------
    learner : str
        Whose it is.
    notebook : bytes
        What was handed in.
    files : dict of str to bytes
        What lay beside it.
    """

    learner: str
    notebook: bytes
    files: dict


@dataclass
class Marked:
    """What became of a submission.

    Attributes
    ----------
    learner : str
        Whose it is.
    fault : str
        Why it could not be marked, a sentence; empty if it was.
    notebook : bytes
        Run and marked; empty if it was not.
    scores : dict of str to float or None
        Points for each cell that is marked, None where a person has to.
    unanswered : list of str
        The answers that were left as they were.
    notes : list of str
        What was noted, in sentences.
    slips : list of CheckRecord
        The steps of the visible tests that do not hold.
    seconds : float
        How long it took.
    where : str
        The machine.
    unprotected : str
        Why there was no box; empty if there was one.
    """

    learner: str
    fault: str = ""
    notebook: bytes = b""
    scores: dict = field(default_factory=dict)
    unanswered: list = field(default_factory=list)
    notes: list = field(default_factory=list)
    slips: list = field(default_factory=list)
    seconds: float = 0.0
    where: str = ""
    unprotected: str = ""


def mark(kit, work):
    """Run a submission and mark it.

    Parameters
    ----------
    kit : Kit
        The set.
    work : Work
        The submission.

    Returns
    -------
    Marked
        Whatever was handed in; what is wrong with it is a sentence.
    """
    start = monotonic()
    marked = Marked(work.learner, where=socket.gethostname(), unprotected=sandbox.fault())
    if kit.require_box and sandbox.fault():
        marked.fault = f"Not marked: {sandbox.fault()} on {marked.where}."
        return marked
    try:
        notebook, marked.notes = examine(work.notebook, kit, work.learner)
        _mark(kit, work, notebook, marked)
    except Unfit as error:
        marked.fault = str(error)
    except Exception as error:
        logging.getLogger("traitlets").exception("%s could not be marked", work.learner)
        reason = str(error).strip().splitlines()[-1:] or [type(error).__name__]
        marked.fault = f"Could not be marked ({reason[0].rstrip('.')}); class.log tells more."
    marked.seconds = monotonic() - start
    return marked


def _mark(kit, work, notebook, marked):
    config = settings.limit(Config(), kit.seconds_per_cell, kit.seconds_per_notebook)
    resources = {
        "nbgrader": {"student": work.learner, "assignment": kit.set, "notebook": "problems"},
        "kit": kit,
        "files": work.files,
        "metadata": {},
    }
    for step in (*settings.PUT_IN_ORDER, *settings.RUN_AND_JUDGE):
        module, _, name = step.rpartition(".")
        take = getattr(import_module(module), name)(config=config)
        notebook, resources = take(notebook, resources)
    for cell in notebook.cells:
        if not utils.is_grade(cell) and not utils.is_solution(cell):
            continue
        name = cell.metadata.nbgrader.grade_id
        if utils.is_grade(cell):
            marked.scores[name], _ = utils.determine_grade(cell)
        checksum = cell.metadata.nbgrader.get("checksum")
        if utils.is_solution(cell) and checksum == utils.compute_checksum(cell):
            marked.unanswered.append(name)
    marked.notes = [*notes_of(notebook), *marked.notes]
    marked.slips = slips_of(notebook)
    # half of a character may come out of a learner's function
    marked.notebook = nbformat.writes(notebook).encode("utf-8", "replace")


class Unfit(ValueError):
    """A submission that cannot be marked; says why, in a sentence."""


def examine(handed_in, kit, learner):
    """Return a submission as a notebook, and what is odd about it.

    Parameters
    ----------
    handed_in : bytes
        The file.
    kit : Kit
        The set.
    learner : str
        Whose it is.

    Returns
    -------
    notebook : nbformat.NotebookNode
    remarks : list of str
        Sentences.

    Raises
    ------
    Unfit
        If it is no notebook of this set.
    """
    try:
        text = handed_in.decode("utf-8-sig")
        json.loads(text)
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # cells without an id, which get one
            notebook = nbformat.reads(text, as_version=4)
            nbformat.validate(notebook, relax_add_props=True)
        ids = {cell.metadata.get("nbgrader", {}).get("grade_id") for cell in notebook.cells}
    except UnicodeDecodeError:
        raise Unfit("problems.ipynb is not a notebook; ask for the file again.") from None
    except json.JSONDecodeError:
        if text.lstrip().startswith("{") and not text.rstrip().endswith("}"):
            said = "problems.ipynb is cut off: the file ends in the middle; ask for it again."
            raise Unfit(said) from None
        raise Unfit("problems.ipynb is not a notebook; ask for the file again.") from None
    except Exception:
        said = "problems.ipynb is not a notebook that can be read; ask for the file again."
        raise Unfit(said) from None
    if not ids & kit.trusted.keys():
        raise Unfit("problems.ipynb holds no cell of this set; is it the notebook of another one?")
    return notebook, _other_numbers(notebook.cells, learner)


def _other_numbers(cells, learner):
    """Return remarks if the learner worked with the numbers of another id."""
    for cell in cells:
        if cell["metadata"].get("nbgrader", {}).get("grade_id") == "setup-given":
            said = re.search(r"Numbers for learner: ([^\s\"\\]+)", json.dumps(cell.get("outputs")))
            if said and said[1] != learner:
                return [
                    f"Worked with the numbers of {said[1]!r} and was marked with those of "
                    f"{learner!r}; let the learner run `lens-course learner {learner}`."
                ]
    return []
