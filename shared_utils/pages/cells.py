"""What a cell's metadata says: ours under ``lens_course``, nbgrader's under ``nbgrader``.

The one place that knows how it is kept. Readers take any cell, a learner's too: what is not there,
or is not what it should be, reads as nothing. A cell or a notebook may be nbformat's or plain JSON.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, MutableMapping
    from typing import Any, Literal

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


def part(cell: Mapping[str, Any]) -> str | None:
    """Return the part of a lesson's anatomy that begins with a cell, or None."""
    return _about(cell, OURS).get("part")


def goals(cell: Mapping[str, Any]) -> tuple[int, ...]:
    """Return the numbers of the goals that a cell serves: tuple of int."""
    return tuple(_about(cell, OURS).get("goals", ()))


def own(cell: Mapping[str, Any]) -> tuple[str, ...]:
    """Return the functions that are out of reach of a problem's answer: tuple of str."""
    return tuple(_about(cell, OURS).get("own", ()))


def own_by_problem(notebook: Mapping[str, Any]) -> dict[str, list[str]]:
    """Return the functions that are out of reach in a problem set: problem → their full names."""
    return {
        grade_id(cell).rpartition("-")[0]: list(own(cell))
        for cell in notebook["cells"]
        if own(cell) and grade_id(cell)
    }


def grade_id(cell: Mapping[str, Any]) -> str:
    """Return the name by which nbgrader knows a cell, or an empty text."""
    found = _about(cell, NBGRADER).get("grade_id", "")
    return found if isinstance(found, str) else ""


def grade_id_parts(cell: Mapping[str, Any]) -> tuple[str, str] | tuple[None, None]:
    """Return (problem, kind) of a problem set's cell, or (None, None)."""
    problem, _, kind = grade_id(cell).rpartition("-")
    return (problem, kind) if kind in KINDS else (None, None)


def problem(cell: Mapping[str, Any]) -> str | None:
    """Return the problem that a cell belongs to, or None."""
    return grade_id_parts(cell)[0]


def kind(cell: Mapping[str, Any]) -> str | None:
    """Return what a problem set's cell is, one of ``KINDS``, or None."""
    return grade_id_parts(cell)[1]


def points(cell: Mapping[str, Any]) -> float | None:
    """Return the points that a cell gives; None if it gives none."""
    return _about(cell, NBGRADER).get("points")


def score(cell: Mapping[str, Any]) -> float | None:
    """Return the points that a submission got for a cell, in its feedback; None if not marked."""
    return _about(cell, NBGRADER).get("score")


def comment(cell: Mapping[str, Any]) -> str:
    """Return what the instructor wrote to a cell, in its feedback; empty if nothing."""
    return _about(cell, NBGRADER).get("comment") or ""


def checksum(cell: Mapping[str, Any]) -> str | None:
    """Return nbgrader's checksum of a cell as it was released; None if it has none."""
    return _about(cell, NBGRADER).get("checksum")


def is_graded(cell: Mapping[str, Any]) -> bool:
    """Return whether a cell gives points."""
    return bool(_about(cell, NBGRADER).get("grade"))


def is_answer(cell: Mapping[str, Any]) -> bool:
    """Return whether a cell is the learner's to fill in."""
    return bool(_about(cell, NBGRADER).get("solution"))


def is_locked(cell: Mapping[str, Any]) -> bool:
    """Return whether a cell is not the learner's to change."""
    return bool(_about(cell, NBGRADER).get("locked"))


def is_readable(cell: Mapping[str, Any]) -> bool:
    """Return whether what nbgrader would read of a cell has the form that it must have."""
    about = cell["metadata"].get(NBGRADER, {})
    return isinstance(about, dict) and not isinstance(about.get("grade_id"), (dict, list))


def trusted_metadata(cell: Mapping[str, Any], checksum: str) -> dict[str, dict[str, Any]]:
    """Return the metadata of a cell of the source that a submission may have, with a checksum."""
    kept = {NBGRADER: {**_about(cell, NBGRADER), "checksum": checksum}}
    return kept | ({OURS: cell["metadata"][OURS]} if OURS in cell["metadata"] else {})


def is_collapsed(cell: Mapping[str, Any]) -> bool:
    """Return whether the code of a cell is folded away."""
    about = cell["metadata"].get("jupyter", {})
    return bool(about.get("source_hidden")) if isinstance(about, dict) else False


def is_working(output: Mapping[str, Any]) -> bool:
    """Return whether an output is a worked solution."""
    return dict(output.get("metadata", {})) == WORKING_MARK


def notes(notebook: Mapping[str, Any]) -> list[str]:
    """Return what was noted about a submission while it was graded: list of sentences."""
    return list(_about(notebook, OURS).get("notes", []))


def slips(notebook: Mapping[str, Any]) -> list[dict[str, Any]]:
    """Return the steps that do not hold in a marked submission: list of records, as plain data."""
    return list(_about(notebook, OURS).get("slips", []))


def records(cell: Mapping[str, Any]) -> list[dict[str, Any]]:
    """Return what a test of a marked submission said: list of records, as plain data."""
    return list(_about(cell, OURS).get("checks", []))


def results(cell: Mapping[str, Any]) -> list[dict[str, Any]]:
    """Return what a hidden test found wrong with inputs that all learners share: records."""
    return list(_about(cell, OURS).get("results", []))


def keep(
    thing: Mapping[str, MutableMapping[str, Any]],
    what: Literal["notes", "slips", "checks", "results"],
    entries: Iterable[str] | Iterable[dict[str, Any]],
) -> None:
    """Keep what the grading found with a submission, in place of what was kept before.

    Parameters
    ----------
    thing : nbformat.NotebookNode
        The notebook for ``"notes"`` and ``"slips"``, a test's cell for the others; changed in
        place.
    what : str
        ``"notes"``, ``"slips"``, ``"checks"`` or ``"results"``.
    entries : iterable of str or of dict
        Sentences for notes, else records as plain data.
    """
    thing["metadata"].setdefault(OURS, {})[what] = list(entries)


def set_slug(notebook: Mapping[str, Any]) -> str:
    """Return the slug of the problem set that a notebook says it is; empty if it says none."""
    found = _about(notebook, OURS).get("set", "")
    return found if isinstance(found, str) else ""


def name_set(notebook: Mapping[str, MutableMapping[str, Any]], slug: str) -> None:
    """Let a notebook say of which problem set it is; changed in place."""
    notebook["metadata"].setdefault(OURS, {})["set"] = slug


def metadata_for(marker: Mapping[str, Any]) -> tuple[dict[str, Any], dict[str, Any]]:
    """Return the metadata that a marker of the percent text stands for.

    Parameters
    ----------
    marker : dict
        What stands on the ``# %%`` line, as ``pages.build`` lists it.

    Returns
    -------
    tuple of (dict, dict)
        The metadata, and what of the marker is not known.

    Raises
    ------
    ValueError
        If a value is not of its kind: what stands behind the words "The cell".
    """
    for name in set(marker) & {"part", "goals", "own", *KINDS}:
        whole = isinstance(marker[name], int) and not isinstance(marker[name], bool)
        if not isinstance(marker[name], str) and not (name == "goals" and whole):
            raise ValueError(f'has {name}={marker[name]}; write it as {name}="TEXT".')
    if not isinstance(marker.get("hide", False), bool):
        raise ValueError(f"has hide={marker['hide']!r}; write hide=true or leave it out.")
    if not re.fullmatch(r"[\d ]*", str(marker.get("goals", ""))):
        raise ValueError(f'has goals="{marker["goals"]}"; write their numbers, as goals="1 3".')
    for name in set(marker) & {name for name, about in KINDS.items() if about[0]}:
        points = marker.get("points")
        if isinstance(points, bool) or not isinstance(points, (int, float)) or not points >= 0:
            raise ValueError(
                f'is the {name} of "{marker[name]}" and gives no points; add points=1.'
            )
    marker = dict(marker)
    metadata: dict[str, dict[str, Any]] = {}
    about: dict[str, Any] = {}
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


def marker_of(cell: Mapping[str, Any]) -> dict[str, Any]:
    """Return the marker of a cell: the way back of ``metadata_for``."""
    marker: dict[str, Any] = {}
    if part(cell):
        marker["part"] = part(cell)
    if named := kind(cell):
        marker[named] = problem(cell)
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
