"""Feedback that says what held and what did not, and gives no hidden test away."""

import re

from nbformat import v4
from nbgrader.preprocessors import ClearHiddenTests, NbGraderPreprocessor

from shared_utils.problems.checks import WORKING_MARK

REDACTED = "# A test with other numbers, kept for grading. What held and what did not stands below."
OWN = "this problem asks for your own formula, and the course's was out of reach"
ANSI = re.compile(r"\x1b\[[0-9;]*m")


class Redact(NbGraderPreprocessor):
    """Takes hidden tests, and every number in what they said, out of the feedback.

    A worked solution, which a hidden cell shows with the learner's own numbers, stays.
    """

    def preprocess(self, nb, resources):
        marker = ClearHiddenTests(parent=self).begin_test_delimeter
        for cell in nb.cells:
            if cell.cell_type == "code" and marker in cell.source:
                _redact(cell)
        return nb, resources


def _redact(cell):
    lines, workings = [], []
    for output in cell.outputs:
        if output.output_type == "display_data" and output.metadata == WORKING_MARK:
            workings.append(output)
        elif output.output_type == "stream":
            lines += [
                _label(line) for line in output.text.splitlines() if line.startswith(("✓", "✗"))
            ]
        elif output.output_type == "error":
            last = ANSI.sub("", output.traceback[-1]) if output.traceback else ""
            known = output.ename in ("NotRight", "NotRun")
            lines.append(_label(last) if known else f"✗ {_stopped(output.ename)}")
    cell.source = REDACTED
    cell.outputs = workings
    if lines:
        cell.outputs.append(v4.new_output("stream", text="\n".join(lines) + "\n"))


def _label(line):
    """Return the name of a step without what was got and what was expected."""
    label, _, rest = line.partition(":")
    stopped = re.search(r"your code stopped with (\w+)", rest)
    return f"{label}: {_stopped(stopped[1])}" if stopped else label


def _stopped(name):
    """Say how code stopped, in words that its author had no part in."""
    return OWN if name == "OutOfReach" else f"stopped with {name}"
