"""What a cell's metadata says: ours under ``lens_course``, nbgrader's under ``nbgrader``.

The one place that knows how it is kept. Readers take any cell, a learner's too: what is not there,
or is not what it should be, reads as nothing.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence
    from typing import Any

    from nbformat import NotebookNode

OURS, NBGRADER = "lens_course", "nbgrader"

# what nbgrader is told about each kind of cell: grade, solution, locked
KINDS = {
    "question": (False, False, True),
    "given": (False, False, True),
    "answer": (False, True, False),
    "check": (True, False, True),
    "hidden": (True, False, True),
    "written": (True, True, False),
}
WORKING_MARK = {OURS: "working"}  # an output's metadata, by which feedback finds a worked solution


def part(cell: Any) -> Any:
    """Return the part of a lesson's anatomy that begins with a cell, or None."""
    return _about(cell, OURS).get("part")


def goals(cell: Any) -> tuple:
    """Return the numbers of the goals that a cell serves: tuple of int."""
    return tuple(_about(cell, OURS).get("goals", ()))


def own(cell: Any) -> tuple:
    """Return the functions that are out of reach of a problem's answer: tuple of str."""
    return tuple(_about(cell, OURS).get("own", ()))


def ours(cell: Any) -> dict:
    """Return all that the course itself says about a cell: a dict, to keep or to copy."""
    return dict(_about(cell, OURS))


def grading(cell: Any) -> Any:
    """Return all that nbgrader is told about a cell: a dict, empty if nothing."""
    return _about(cell, NBGRADER)


def grade_id(cell: Any) -> Any:
    """Return the name by which nbgrader knows a cell, or an empty text."""
    found = grading(cell).get("grade_id", "")
    return found if isinstance(found, str) else ""


def grade_id_parts(cell: Any) -> Any:
    """Return (problem, kind) of a problem set's cell, or (None, None)."""
    problem, _, kind = grade_id(cell).rpartition("-")
    return (problem, kind) if kind in KINDS else (None, None)


def problem(cell: Any) -> Any:
    """Return the problem that a cell belongs to, or None."""
    return grade_id_parts(cell)[0]


def kind(cell: Any) -> Any:
    """Return what a problem set's cell is, one of ``KINDS``, or None."""
    return grade_id_parts(cell)[1]


def points(cell: Any) -> Any:
    """Return the points that a cell gives; None if it gives none."""
    return grading(cell).get("points")


def is_graded(cell: Any) -> bool:
    """Return whether a cell gives points."""
    return bool(grading(cell).get("grade"))


def is_answer(cell: Any) -> bool:
    """Return whether a cell is the learner's to fill in."""
    return bool(grading(cell).get("solution"))


def is_locked(cell: Any) -> bool:
    """Return whether a cell is not the learner's to change."""
    return bool(grading(cell).get("locked"))


def is_collapsed(cell: Any) -> Any:
    """Return whether the code of a cell is folded away."""
    about = cell["metadata"].get("jupyter", {})
    return bool(about.get("source_hidden")) if isinstance(about, dict) else False


def is_working(output: Any) -> bool:
    """Return whether an output is a worked solution."""
    return dict(output.get("metadata", {})) == WORKING_MARK


def notes(notebook: NotebookNode) -> list:
    """Return what was noted about a submission while it was graded: list of sentences."""
    return list(_about(notebook, OURS).get("notes", []))


def slips(notebook: NotebookNode) -> list:
    """Return the slips that the grading noted of a submission: list of sentences."""
    return list(_about(notebook, OURS).get("slips", []))


def keep(notebook: NotebookNode, what: str, sentences: Sequence[str]) -> None:
    """Keep sentences with a submission.

    Parameters
    ----------
    notebook : nbformat.NotebookNode
        Changed in place.
    what : str
        ``"notes"`` or ``"slips"``.
    sentences : sequence of str
    """
    notebook["metadata"].setdefault(OURS, {})[what] = list(sentences)


def metadata_for(marker: dict) -> tuple[tuple[dict, dict], ...]:
    """Return the metadata that a marker of the percent text stands for.

    Parameters
    ----------
    marker : dict
        What stands on the ``# %%`` line, as ``pages.build`` lists it.

    Returns
    -------
    tuple of (dict, dict)
        The metadata, and what of the marker is not known.
    """
    marker, metadata, about = dict(marker), {}, {}
    if marker.pop("hide", False):
        metadata["jupyter"] = {"source_hidden": True}
    if "part" in marker:
        about["part"] = marker.pop("part")
    if "goals" in marker:
        about["goals"] = [int(number) for number in str(marker.pop("goals")).split()]
    if "own" in marker:
        about["own"] = marker.pop("own").split()
    if about:
        metadata[OURS] = about
    named = next((name for name in KINDS if name in marker), None)
    if named:
        grade, solution, locked = KINDS[named]
        metadata[NBGRADER] = {
            "schema_version": 3,
            "grade_id": f"{marker.pop(named)}-{named}",
            "grade": grade,
            "solution": solution,
            "locked": locked,
            "task": False,
        }
        if grade:
            metadata[NBGRADER]["points"] = marker.pop("points")
    return metadata, marker


def marker_of(cell: Any) -> Any:
    """Return the marker of a cell: the way back of ``metadata_for``."""
    marker = {}
    if part(cell):
        marker["part"] = part(cell)
    if kind(cell):
        marker[kind(cell)] = problem(cell)
        if points(cell) is not None:
            marker["points"] = points(cell)
    if goals(cell):
        marker["goals"] = " ".join(map(str, goals(cell)))
    if own(cell):
        marker["own"] = " ".join(own(cell))
    if is_collapsed(cell):
        marker["hide"] = True
    return marker


def _about(thing, whose):
    about = thing["metadata"].get(whose, {})
    return about if isinstance(about, dict) else {}
