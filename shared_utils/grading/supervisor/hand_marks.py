"""Which answer a mark by hand was given for, so that it stays as long as the answer does.

A mark by hand is looked at again when the learner's answer or its rubric has changed, not when a
test was corrected or everything is marked anew.
"""

from __future__ import annotations

import hashlib
from typing import TYPE_CHECKING

from shared_utils.pages import cells

if TYPE_CHECKING:
    from collections.abc import Mapping
    from typing import Any

    from nbgrader.api import Grade


def answer_digests(marked: Mapping[str, Any], source: Mapping[str, Any]) -> dict[str, str]:
    """Return a digest of the answer and the rubric behind each cell that gives points.

    Parameters
    ----------
    marked : nbformat.NotebookNode or dict
        The submission as it is marked.
    source : nbformat.NotebookNode or dict
        The set with answers and rubrics.

    Returns
    -------
    dict of str to str
        Name of the cell → digest. Behind a test stand its problem's answers and the learner's own
        cells, behind a written answer itself and its rubric.
    """
    rubrics = {cells.grade_id(cell): _text(cell) for cell in source["cells"]}
    answers: dict[str | None, list[str]] = {}
    for cell in marked["cells"]:
        if cells.is_answer(cell) or not cells.grade_id(cell):
            answers.setdefault(cells.problem(cell), []).append(_text(cell))
    digests = {}
    for cell in marked["cells"]:
        if not cells.is_graded(cell):
            continue
        name = cells.grade_id(cell)
        if cells.is_answer(cell):
            behind = [_text(cell), rubrics.get(name, "")]
        else:
            behind = [*answers.get(cells.problem(cell), []), *answers.get(None, [])]
        digests[name] = hashlib.sha256("\0".join(behind).encode("utf-8", "replace")).hexdigest()
    return digests


def needs_person(grade: Grade, unchanged: bool) -> bool:
    """Return whether a person has to look at a cell whose automatic mark was just written.

    Parameters
    ----------
    grade : nbgrader.api.Grade
    unchanged : bool
        Whether answer and rubric are those that were marked last.
    """
    if grade.manual_score is None:
        return grade.auto_score is None
    return bool(grade.needs_manual_grade) if unchanged else True


def _text(cell):
    source = cell.get("source", "")
    return "".join(source) if isinstance(source, list) else source
