"""A submission put back into the shape of the release: the answers are the learner's, no more.

Locked cells come from the gradebook whatever was done to them, in the order of the source, with
metadata of their own, so no tag or type that a learner set can keep a test from running.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import nbformat
from nbgrader.api import Gradebook
from nbgrader.preprocessors import NbGraderPreprocessor

from shared_utils.grading.supervisor import received, set_identity, settings
from shared_utils.grading.supervisor.grading_spec import spec_of
from shared_utils.grading.supervisor.records import Records
from shared_utils.pages import cells

if TYPE_CHECKING:
    from collections.abc import Iterable
    from typing import Any

    from nbformat import NotebookNode


def drop_links(notebooks: Iterable[str], **_: Any) -> None:
    """Remove links from a submission: nbgrader would copy what they point to."""
    for folder in {Path(notebook).parent for notebook in notebooks}:
        for path in folder.rglob("*"):
            if path.is_symlink():
                path.unlink()


def add_note(notebook: NotebookNode, sentence: str) -> None:
    """Keep a sentence with the submission, for the report and the feedback."""
    notes = cells.notes(notebook)
    if sentence not in notes:
        cells.keep(notebook, "notes", [*notes, sentence])


def name_of(cell: NotebookNode, index: int) -> str:
    """Return what a report calls a cell, as a sentence begins."""
    grade_id = cells.grade_id(cell)
    return f"The cell {grade_id}" if grade_id else f"Cell {index + 1}"


class Restore(NbGraderPreprocessor):
    """Takes the answers out of a submission and sets them into the source."""

    def preprocess(
        self, nb: NotebookNode, resources: dict[str, Any]
    ) -> tuple[NotebookNode, dict[str, Any]]:
        spec = spec_of(resources)
        wrong = set_identity.fault(nb, spec.set_name, spec.known_sets)
        if wrong:
            _note_refusal(resources, wrong)
            raise set_identity.WrongSet(wrong)
        source, release = spec.notebooks()
        nb.metadata.kernelspec = source.metadata.kernelspec
        self._rebuild(nb, source, release, spec.trusted)
        return nb, resources

    def _rebuild(self, nb, source, release, trusted):
        nb.metadata = nbformat.from_dict(source.metadata)
        shown = {cells.grade_id(cell): cell.source for cell in release.cells}
        submitted, beside = _split(nb, trusted)
        restored = beside.pop(None, [])
        for sources_cell in source.cells:
            grade_id = cells.grade_id(sources_cell)
            if grade_id not in trusted:
                continue
            text, checksum = trusted[grade_id]
            cell = nbformat.from_dict(sources_cell)
            cell.metadata = cells.trusted_metadata(cell, checksum)
            cell.id = grade_id
            handed_in = submitted.get(grade_id)
            if handed_in is None:
                add_note(nb, f"The cell {grade_id} was missing and was put back.")
                cell.source = text
            elif cells.is_answer(cell):
                cell.source = handed_in.source
                is_text = cell.cell_type == handed_in.cell_type == "markdown"
                if is_text and "attachments" in handed_in:
                    cell.attachments = handed_in.attachments
            else:
                if _normalized(handed_in.source) != _normalized(shown.get(grade_id, text)):
                    add_note(nb, f"The cell {grade_id} had been changed; it was put back.")
                cell.source = text
            if cell.cell_type == "code":
                cell.outputs, cell.execution_count = [], None
            restored += [cell, *beside.pop(grade_id, [])]
        for number, cell in enumerate(restored):
            if not cells.grade_id(cell):
                cell.id = f"own-{number}"
        nb.cells = restored
        nb.nbformat, nb.nbformat_minor = 4, 5


def _note_refusal(resources, sentence):
    """Where nbgrader itself is marking: it has made an entry before, which would count as zero."""
    about = resources["nbgrader"]
    if "db_url" not in about:
        return
    with Gradebook(about["db_url"], settings.COURSE_ID) as gradebook:
        book = gradebook.find_submission_notebook(
            about["notebook"], about["assignment"], about["student"]
        )
        if all(grade.auto_score is None and grade.manual_score is None for grade in book.grades):
            gradebook.remove_submission(about["assignment"], about["student"])
    name, learner = about["assignment"], about["student"]
    file = Path("submitted") / learner / name / f"{about['notebook']}.ipynb"
    received.note(Records("."), file, name, learner)
    Records(".").note_outcome(name, learner, sentence)


def _split(nb, trusted):
    """Return the submitted cells by grade id, and the learner's own cells by the one before."""
    submitted, beside, last = {}, {}, None
    for cell in nb.cells:
        grade_id = cells.grade_id(cell)
        if grade_id in trusted and grade_id not in submitted:
            submitted[grade_id], last = cell, grade_id
            continue
        if grade_id in trusted:
            if not cells.is_answer(cell):
                add_note(nb, f"A copy of the cell {grade_id} was left out.")
                continue
            add_note(nb, f"The answer {grade_id} stood in more than one cell; all were run.")
        cell.metadata = nbformat.from_dict({})
        beside.setdefault(last, []).append(cell)
    return submitted, beside


def _normalized(text):
    return text.replace("\r\n", "\n").strip()
