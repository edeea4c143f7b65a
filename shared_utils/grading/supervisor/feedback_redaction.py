"""Feedback that says what held and what did not, and gives no hidden test away."""

from __future__ import annotations

import builtins
from dataclasses import replace
from typing import TYPE_CHECKING

from nbgrader.preprocessors import ClearHiddenTests, NbGraderPreprocessor

from shared_utils.grading.supervisor.collect_checks import keep_records, records_of
from shared_utils.pages import cells

if TYPE_CHECKING:
    from typing import Any

    from nbformat import NotebookNode

REDACTED = "# A test with other numbers, kept for grading. What held and what did not stands below."
OWN = "this problem asks for your own formula, and the course's was out of reach"
OF_THE_GRADING = ("CellTimeoutError", "NoMark")
FORM = "the answer has not the form that was asked for"


class Redact(NbGraderPreprocessor):
    """Takes hidden tests, and every number in what they said, out of the feedback.

    A worked solution, which a hidden cell shows with the learner's own numbers, stays.
    """

    def preprocess(
        self, nb: NotebookNode, resources: dict[str, Any]
    ) -> tuple[NotebookNode, dict[str, Any]]:
        marker = ClearHiddenTests(parent=self).begin_test_delimeter
        for cell in nb.cells:
            if cell.cell_type == "code" and marker in cell.source:
                _redact(cell)
        return nb, resources


def _redact(cell):
    cell.source = REDACTED
    cell.outputs = [
        output
        for output in cell.outputs
        if output.output_type == "display_data" and cells.is_working(output)
    ]
    keep_records(cell, [_redacted(record) for record in records_of(cell)])
    cells.keep(cell, "results", [])


def _redacted(record):
    """Return a record without what was got, what was expected and which slip it was."""
    if record.slip == "not-run":
        words = "This test was not run to its end."
    elif record.error:
        words = _stopped(record.error)
    elif not (record.step or record.holds):
        words = FORM
    else:
        words = ""
    # what stands behind a colon in a step's name may be a number
    sentence = ": ".join(filter(None, (record.step.partition(":")[0], words)))
    return replace(record, step="", slip="", advice="", error="", sentence=sentence)


def _stopped(name):
    """Say how code stopped, in words that its author had no part in."""
    if name == "OutOfReach":
        return OWN
    known = name in OF_THE_GRADING or isinstance(getattr(builtins, name, None), type)
    return f"stopped with {name if known else 'an error of its own'}"
