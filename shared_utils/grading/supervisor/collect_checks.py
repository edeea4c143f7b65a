"""What the tests of a submission said, taken out of their outputs and kept as the notebook's data.

Only the outputs of test cells count: those come from the examiner, which runs no line of a
learner's. A record that a learner's own cell shows is no record, and goes with its other outputs.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from nbgrader import utils
from nbgrader.preprocessors import NbGraderPreprocessor

from shared_utils.pages import cells
from shared_utils.problems import check_records
from shared_utils.problems.check_records import CheckRecord

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping
    from typing import Any

    from nbformat import NotebookNode


class CollectChecks(NbGraderPreprocessor):
    """Keeps the records of each test with its cell, and the slips with the notebook."""

    def preprocess(
        self, nb: NotebookNode, resources: dict[str, Any]
    ) -> tuple[NotebookNode, dict[str, Any]]:
        slips = []
        for cell in nb.cells:
            if cell.cell_type != "code":
                continue
            if utils.is_grade(cell) and not utils.is_solution(cell):
                problem, kind = cells.grade_id_parts(cell)
                records = check_records.of_cell(cell, problem or "")
                keep_records(cell, records)
                # what a hidden test found stays with its cell
                slips += [r.as_dict() for r in records if kind == "check" and not r.holds]
            cell.outputs = check_records.without_records(cell.outputs)
        cells.keep(nb, "slips", slips)
        return nb, resources


def keep_records(cell: NotebookNode, records: Iterable[CheckRecord]) -> None:
    """Keep records with a test of a marked notebook, in place of those that it has."""
    cells.keep(cell, "checks", [record.as_dict() for record in records])


def records_of(cell: NotebookNode) -> list[CheckRecord]:
    """Return the records that were kept with a test of a marked notebook."""
    return [CheckRecord.from_dict(record) for record in cells.records(cell)]


def slips_of(notebook: Mapping[str, Any]) -> list[CheckRecord]:
    """Return the steps of the visible tests that do not hold in a marked notebook."""
    return [CheckRecord.from_dict(record) for record in cells.slips(notebook)]
