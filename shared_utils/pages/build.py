"""Text to notebooks, and back, without losing a byte.

The text is the only hand-written form: jupytext's percent format, with a one-line marker that
says what a cell is. From ``lessons/source/NN_slug.py`` comes ``lessons/NN_slug.ipynb``; from
``solutions/NN_slug.py`` come nbgrader's source and release notebooks.

Markers, on the ``# %%`` line:

=================================== =====================================================
``part="idea"``                     part of a lesson's anatomy that begins with this cell
``goals="1 3"``                     which of the page's goals a part or a question serves
``hide=true``                       code that is not the lesson: collapsed
``question="flower"``               locked text of a problem
``given="flower"``                  locked code: the learner's own numbers
``answer="flower"``                 where the learner writes
``check="flower" points=1``         locked test that the learner sees
``hidden="flower" points=2``        locked test that the release leaves out
``written="flower" points=4``       a written answer, graded by hand
``own="shared_utils.power.core.f"`` reference functions out of an answer's reach in grading
=================================== =====================================================
"""

import hashlib
from copy import deepcopy
from dataclasses import dataclass
from pathlib import Path

import jupytext
import nbformat

from shared_utils.course.place import course_root

# what nbgrader is told about each kind of cell: grade, solution, locked
KINDS = {
    "question": (False, False, True),
    "given": (False, False, True),
    "answer": (False, True, False),
    "check": (True, False, True),
    "hidden": (True, False, True),
    "written": (True, True, False),
}
NOTEBOOK_METADATA = {
    "kernelspec": {"display_name": "Python 3", "language": "python", "name": "python3"},
    "language_info": {"name": "python"},
}


@dataclass(frozen=True)
class Built:
    """A file of the course and what it must hold."""

    path: Path
    content: str


def text_to_notebook(text):
    """Return the notebook that a percent text stands for.

    Parameters
    ----------
    text : str

    Returns
    -------
    nbformat.NotebookNode
        Version 4.5, no outputs, ids derived from the grade id or the source.

    Raises
    ------
    ValueError
        If two cells have the same grade id, or a marker is not known.
    """
    notebook = jupytext.reads(text, "py:percent")
    seen = {}
    for cell in notebook.cells:
        cell.metadata = _metadata_from_marker(cell)
        cell.id = _cell_id(cell, seen)
        if cell.cell_type == "code":
            cell.outputs, cell.execution_count = [], None
    made = nbformat.v4.new_notebook(cells=notebook.cells, metadata=NOTEBOOK_METADATA)
    made.nbformat_minor = 5
    nbformat.validate(made)
    return made


def notebook_to_text(notebook):
    """Return the percent text of a notebook: the way back of ``text_to_notebook``."""
    plain = nbformat.from_dict(notebook)
    for cell in plain.cells:
        cell.metadata = _marker_from_metadata(cell)
    plain.metadata = {
        "jupytext": {"notebook_metadata_filter": "-all", "cell_metadata_filter": "all"}
    }
    return jupytext.writes(plain, "py:percent")


def released(notebook):
    """Return the notebook as learners get it, by nbgrader's own steps.

    Parameters
    ----------
    notebook : nbformat.NotebookNode
        With solutions and hidden tests.

    Returns
    -------
    nbformat.NotebookNode
        Without them, cells locked, checksums set.
    """
    # nbgrader takes a second to import, and building lessons does not need it
    from nbgrader import preprocessors as steps

    notebook = deepcopy(notebook)
    for step in (
        steps.ClearSolutions,
        steps.LockCells,
        steps.ComputeChecksums,
        steps.ClearOutput,
        steps.CheckCellMetadata,
        steps.ClearHiddenTests,
        steps.ClearMarkScheme,
        steps.ComputeChecksums,
        steps.CheckCellMetadata,
    ):
        notebook, _ = step().preprocess(notebook, {})
    return notebook


def serialise(notebook):
    """Return a notebook as text that is the same on every run."""
    return nbformat.writes(notebook).rstrip("\n") + "\n"


def build_all(root=None):
    """Yield every built file of the course with its content.

    Parameters
    ----------
    root : pathlib.Path, optional
        The course's folder.

    Yields
    ------
    Built
    """
    root = root or course_root()
    for text in sorted((root / "lessons" / "source").glob("*.py")):
        notebook = text_to_notebook(text.read_text(encoding="utf-8"))
        yield Built(root / "lessons" / f"{text.stem}.ipynb", serialise(notebook))
    for text in sorted((root / "solutions").glob("*.py")):
        notebook = text_to_notebook(text.read_text(encoding="utf-8"))
        place = Path(text.stem) / "problems.ipynb"
        yield Built(root / "solutions" / place, serialise(notebook))
        yield Built(root / "exercises" / place, serialise(released(notebook)))


def holds_answers(path):
    """Return whether somebody has written answers into an exercise's notebook.

    Parameters
    ----------
    path : pathlib.Path

    Returns
    -------
    bool
    """
    if not path.exists():
        return False
    try:
        notebook = nbformat.read(path, as_version=4)
    except Exception:  # whatever it is, it is somebody's
        return True
    stubs = {"answer": "raise NotImplementedError", "written": "YOUR ANSWER HERE"}
    return any(
        kind in stubs and stubs[kind] not in cell.source
        for cell in notebook.cells
        for _, kind in [grade_id_parts(cell)]
    )


def write_back(path, root=None):
    """Write the edits made in a notebook back into its text.

    Parameters
    ----------
    path : path-like
        A notebook in ``lessons`` or ``solutions``.
    root : pathlib.Path, optional
        The course's folder.

    Returns
    -------
    pathlib.Path
        The text that was written.

    Raises
    ------
    ValueError
        If the notebook is not one that is built from a text of its own.
    """
    root = root or course_root()
    path = Path(path).resolve()
    if path.suffix == ".ipynb" and path.parent == root / "lessons":
        target = root / "lessons" / "source" / f"{path.stem}.py"
    elif path.name == "problems.ipynb" and path.parent.parent == root / "solutions":
        target = root / "solutions" / f"{path.parent.name}.py"
    else:
        raise ValueError(
            f"{path.name} has no text of its own: give a notebook of lessons/ or solutions/; "
            "exercises/ are cut from solutions/."
        )
    try:
        notebook = nbformat.read(path, as_version=4)
    except FileNotFoundError:
        raise ValueError(f"There is no notebook {path.name} in {path.parent.name}/.") from None
    target.write_text(notebook_to_text(notebook), encoding="utf-8", newline="\n")
    return target


def grade_id_parts(cell):
    """Return (problem, kind) of a problem set's cell, or (None, None)."""
    grade_id = cell.metadata.get("nbgrader", {}).get("grade_id", "")
    problem, _, kind = grade_id.rpartition("-")
    return (problem, kind) if kind in KINDS else (None, None)


def _metadata_from_marker(cell):
    marker = {k: v for k, v in cell.metadata.items() if k != "lines_to_next_cell"}
    metadata = {}
    if marker.pop("hide", False):
        metadata["jupyter"] = {"source_hidden": True}
    ours = {}
    if "part" in marker:
        ours["part"] = marker.pop("part")
    if "goals" in marker:
        ours["goals"] = [int(number) for number in str(marker.pop("goals")).split()]
    if "own" in marker:
        ours["own"] = marker.pop("own").split()
    if ours:
        metadata["lens_course"] = ours
    kind = next((k for k in KINDS if k in marker), None)
    if kind:
        grade, solution, locked = KINDS[kind]
        metadata["nbgrader"] = {
            "schema_version": 3,
            "grade_id": f"{marker.pop(kind)}-{kind}",
            "grade": grade,
            "solution": solution,
            "locked": locked,
            "task": False,
        }
        if grade:
            metadata["nbgrader"]["points"] = marker.pop("points")
    if marker:
        raise ValueError(
            f"The cell that begins {cell.source[:40]!r} has a marker {sorted(marker)[0]!r} that "
            "is not known here; see pages/build.py for those that are."
        )
    return nbformat.from_dict(metadata)


def _marker_from_metadata(cell):
    marker = {}
    ours = cell.metadata.get("lens_course", {})
    if "part" in ours:
        marker["part"] = ours["part"]
    problem, kind = grade_id_parts(cell)
    if kind:
        marker[kind] = problem
        if "points" in cell.metadata.nbgrader:
            marker["points"] = cell.metadata.nbgrader.points
    if "goals" in ours:
        marker["goals"] = " ".join(map(str, ours["goals"]))
    if "own" in ours:
        marker["own"] = " ".join(ours["own"])
    if cell.metadata.get("jupyter", {}).get("source_hidden"):
        marker["hide"] = True
    return nbformat.from_dict(marker)


def _cell_id(cell, seen):
    grade_id = cell.metadata.get("nbgrader", {}).get("grade_id")
    if grade_id:
        if grade_id in seen:
            raise ValueError(f"The grade id {grade_id!r} stands twice; name one anew.")
        seen[grade_id] = 1
        return grade_id
    digest = hashlib.sha256(f"{cell.cell_type}\n{cell.source}".encode()).hexdigest()[:12]
    seen[digest] = seen.get(digest, 0) + 1
    return digest if seen[digest] == 1 else f"{digest}-{seen[digest]}"
