"""What a test's outputs mean, where nbgrader would read them wrongly.

nbgrader gives nothing for a test that warned, and everything for one whose value is no number.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from nbformat import v4
from nbgrader import utils
from nbgrader.preprocessors import NbGraderPreprocessor

from shared_utils.pages import cells

if TYPE_CHECKING:
    from typing import Any

    from nbformat import NotebookNode


class Outcome(NbGraderPreprocessor):
    """Keeps a warning from costing marks, and a value that is no number from earning them."""

    def preprocess_cell(
        self, cell: NotebookNode, resources: dict[str, Any], index: int
    ) -> tuple[NotebookNode, dict[str, Any]]:
        if cell.cell_type == "code" and utils.is_grade(cell):
            max_points = float(cells.points(cell) or 0.0)
            for output in cell.outputs:
                if output.output_type == "stream":
                    output.name = "stdout"
            results = [out for out in cell.outputs if out.output_type == "execute_result"]
            if any(not _is_mark(result, max_points) for result in results):
                sentence = f"The test did not end with a number from 0 to {max_points:g}."
                about = {"ename": "NoMark", "evalue": sentence, "traceback": [f"✗ {sentence}"]}
                cell.outputs.append(v4.new_output("error", **about))
                cell.outputs = [out for out in cell.outputs if out not in results]
        return cell, resources


def _is_mark(result, max_points):
    try:
        mark = float(result.data["text/plain"])
    except (KeyError, TypeError, ValueError):
        return False
    return math.isfinite(mark) and 0 <= mark <= max_points
