"""Grades one submission: plain data in, plain data out.

A worker does this, here or on another machine; it sees neither the class's folder nor its
gradebook. The steps are those that nbgrader takes when the form grader asks for them.
"""

from __future__ import annotations

import json
import logging
import re
import socket
import warnings
from dataclasses import dataclass, field
from importlib import import_module
from time import monotonic
from typing import TYPE_CHECKING

import nbformat
from nbformat.v4.rwbase import split_lines, strip_transient
from nbgrader import utils
from traitlets.config import Config

from shared_utils.grading.supervisor import sandbox, settings
from shared_utils.grading.supervisor.collect_checks import slips_of
from shared_utils.grading.supervisor.set_identity import WrongSet
from shared_utils.pages import cells

if TYPE_CHECKING:
    from nbformat import NotebookNode

    from shared_utils.grading.supervisor.grading_spec import GradingSpec
    from shared_utils.problems.check_records import CheckRecord

SUFFIX = ".ipynb"
NOT_A_NOTEBOOK = "problems.ipynb is not a notebook; ask for the file again."
# looked at before anything else is done with it: reading takes time and memory
MAX_NOTEBOOK_BYTES = 20_000_000
MAX_CELLS = 1_000


@dataclass(frozen=True)
class Submission:
    """A submission.

    Attributes
    ----------
    learner : str
        Whose it is.
    notebook : bytes
        What was handed in.
    files : dict of str to bytes
        What lay beside it.
    hidden_seed : str
        What the inputs of the hidden tests are drawn from; never shown, and empty outside a class.
    """

    learner: str
    notebook: bytes
    files: dict[str, bytes]
    hidden_seed: str = field(default="", repr=False)


@dataclass
class GradedSubmission:
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
    host : str
        The machine.
    unprotected : str
        What was not protected meanwhile, in sentences; empty if nothing was missing.
    """

    learner: str
    fault: str = ""
    notebook: bytes = b""
    scores: dict[str, float | None] = field(default_factory=dict)
    unanswered: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    slips: list[CheckRecord] = field(default_factory=list)
    seconds: float = 0.0
    host: str = ""
    unprotected: str = ""


def grade_submission(spec: GradingSpec, submission: Submission) -> GradedSubmission:
    """Run a submission and mark it.

    Parameters
    ----------
    spec : GradingSpec
        The set.
    submission : Submission
        The submission.

    Returns
    -------
    GradedSubmission
        Whatever was handed in; what is wrong with it is a sentence.
    """
    start = monotonic()
    fault, host = sandbox.fault(), socket.gethostname()
    graded = GradedSubmission(submission.learner, host=host, unprotected=sandbox.unprotected())
    if spec.require_sandbox and fault:
        graded.fault = f"Not marked: {fault} on {host}."
        return graded
    try:
        notebook, graded.notes = read_notebook(submission.notebook, spec, submission.learner)
        _grade(spec, submission, notebook, graded)
    except (InvalidSubmission, WrongSet) as error:
        graded.fault = str(error)
    except Exception as error:
        logging.getLogger("traitlets").exception("%s could not be marked", submission.learner)
        reason = str(error).strip().splitlines()[-1:] or [type(error).__name__]
        graded.fault = f"Could not be marked ({reason[0].rstrip('.')}); class.log tells more."
    graded.seconds = monotonic() - start
    return graded


def _grade(spec, submission, notebook, graded):
    config = settings.set_limits(Config(), spec.cell_timeout_s, spec.notebook_timeout_s)
    resources = {
        "nbgrader": {
            "student": submission.learner,
            "assignment": spec.set_name,
            "notebook": "problems",
        },
        "grading_spec": spec,
        "files": submission.files,
        "hidden_seed": submission.hidden_seed,
        "metadata": {},
    }
    for step in (*settings.RESTORE_STEPS, *settings.GRADING_STEPS):
        module, _, name = step.rpartition(".")
        preprocessor = getattr(import_module(module), name)(config=config)
        notebook, resources = preprocessor(notebook, resources)
    for cell in notebook.cells:
        if not utils.is_grade(cell) and not utils.is_solution(cell):
            continue
        name = cells.grade_id(cell)
        if utils.is_grade(cell):
            graded.scores[name], _ = utils.determine_grade(cell)
        if utils.is_solution(cell) and cells.checksum(cell) == utils.compute_checksum(cell):
            graded.unanswered.append(name)
    graded.notes = [*cells.notes(notebook), *graded.notes]
    cells.keep(notebook, "notes", graded.notes)
    graded.slips = slips_of(notebook)
    graded.notebook = _as_bytes(notebook)


def _as_bytes(notebook):
    """Return a notebook as a file holds it; indents would take Python twenty times as long."""
    nbformat.validate(notebook)
    whole = split_lines(strip_transient(notebook))
    # half of a character may come out of a learner's function
    return json.dumps(whole, ensure_ascii=False, sort_keys=True).encode("utf-8", "replace")


class InvalidSubmission(ValueError):
    """A submission that cannot be marked; says why, in a sentence."""


def read_notebook(
    content: bytes, spec: GradingSpec, learner: str
) -> tuple[NotebookNode, list[str]]:
    """Return a submission as a notebook, and what is odd about it.

    Parameters
    ----------
    content : bytes
        The file.
    spec : GradingSpec
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
    InvalidSubmission
        If it is no notebook of this set.
    """
    if len(content) > MAX_NOTEBOOK_BYTES:
        raise InvalidSubmission(
            f"problems.ipynb is larger than {MAX_NOTEBOOK_BYTES // 1_000_000} MB; let the learner "
            "clear the outputs and hand it in again."
        )
    try:
        text = content.decode("utf-8-sig")
        whole = json.loads(text)
        count = _cell_count(whole)
        if count > MAX_CELLS:
            raise InvalidSubmission(
                f"problems.ipynb has {count} cells, more than the {MAX_CELLS} that are marked; "
                "ask for the file again."
            )
        if "\\ud" in text.lower():  # half of a character, which no kernel and no file takes
            whole_text = json.dumps(whole, ensure_ascii=False)
            text = whole_text.encode("utf-8", "replace").decode("utf-8")
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # cells without an id, which get one
            notebook = nbformat.reads(text, as_version=4)
            nbformat.validate(notebook, relax_add_props=True)
        if not all(cells.is_readable(cell) for cell in notebook.cells):
            raise ValueError("What nbgrader reads of a cell is not what it must be.")
    except UnicodeDecodeError:
        raise InvalidSubmission(NOT_A_NOTEBOOK) from None
    except json.JSONDecodeError:
        if text.lstrip().startswith("{") and not text.rstrip().endswith("}"):
            sentence = "problems.ipynb is cut off: the file ends in the middle; ask for it again."
            raise InvalidSubmission(sentence) from None
        raise InvalidSubmission(NOT_A_NOTEBOOK) from None
    except InvalidSubmission:
        raise
    except Exception:
        sentence = "problems.ipynb is not a notebook that can be read; ask for the file again."
        raise InvalidSubmission(sentence) from None
    if not {cells.grade_id(cell) for cell in notebook.cells} & spec.trusted.keys():
        raise InvalidSubmission(
            "problems.ipynb holds no cell of this set; is it the notebook of another one?"
        )
    return notebook, _other_numbers(notebook, learner)


def _cell_count(read):
    """Return how many cells a notebook of any format has, as it was read and before it is valid."""
    sheets = [read, *read.get("worksheets", ())] if isinstance(read, dict) else []
    return sum(len(sheet.get("cells", ())) for sheet in sheets)


def _other_numbers(notebook, learner):
    """Return remarks if the learner worked with the numbers of another id."""
    for cell in notebook.cells:
        if cells.grade_id(cell) == "setup-given":
            found = re.search(r"Numbers for learner: ([^\s\"\\]+)", json.dumps(cell.get("outputs")))
            if found and found[1] != learner:
                return [
                    f"Worked with the numbers of {found[1]!r} and was marked with those of "
                    f"{learner!r}: `lens-course learner {learner}` sets the right ones."
                ]
    return []
