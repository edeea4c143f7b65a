"""Text to notebooks, and back, without losing a byte.

The text is the only hand-written form: jupytext's percent format, with a one-line marker that
says what a cell is, and with names of pages where a reader sees numbers (``pages.source``). From
``lessons/source/SLUG.py`` comes ``lessons/NN_SLUG.ipynb``; from ``solutions/SLUG.py`` come
nbgrader's source and release notebooks; NN follows from the manifest.

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

from __future__ import annotations

import hashlib
import re
from copy import deepcopy
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import jupytext
import nbformat

from shared_utils.course import manifest, place
from shared_utils.course.place import course_root
from shared_utils.pages import cells, source
from shared_utils.pages.cells import grade_id_parts

if TYPE_CHECKING:
    from collections.abc import Iterator
    from os import PathLike

    from nbformat import NotebookNode

    from shared_utils.course.manifest import Page

NOTEBOOK_METADATA = {
    "kernelspec": {"display_name": "Python 3", "language": "python", "name": "python3"},
    "language_info": {"name": "python"},
}


@dataclass(frozen=True)
class Built:
    """A file of the course and what it must hold."""

    path: Path
    content: str


def text_to_notebook(text: str) -> NotebookNode:
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
    seen: dict[str, int] = {}
    for cell in notebook.cells:
        cell.metadata = _metadata_from_marker(cell)
        cell.id = _cell_id(cell, seen)
        if cell.cell_type == "code":
            cell.outputs, cell.execution_count = [], None
    made = nbformat.v4.new_notebook(cells=notebook.cells, metadata=NOTEBOOK_METADATA)
    made.nbformat_minor = 5
    nbformat.validate(made)
    return made


def notebook_to_text(notebook: NotebookNode) -> str:
    """Return the percent text of a notebook: the way back of ``text_to_notebook``."""
    plain = nbformat.from_dict(notebook)
    for cell in plain.cells:
        cell.metadata = nbformat.from_dict(cells.marker_of(cell))
    plain.metadata = {
        "jupytext": {"notebook_metadata_filter": "-all", "cell_metadata_filter": "all"}
    }
    return jupytext.writes(plain, "py:percent")


def released(notebook: NotebookNode) -> NotebookNode:
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


def serialise(notebook: NotebookNode) -> str:
    """Return a notebook as text that is the same on every run."""
    return nbformat.writes(notebook).rstrip("\n") + "\n"


def build_all(root: Path | None = None) -> Iterator[Built]:
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
    for _, fault in place.fault_of_files(root):
        raise ValueError(f"{fault} Write the one or take the other away.")
    pages = manifest.of(root)
    for page in pages.pages:
        notebook = _notebook_of(source.lesson_text, page, place.lesson_source, root)
        yield Built(root / "lessons" / f"{page.stem}.ipynb", serialise(notebook))
    for page in pages.sets:
        notebook = _notebook_of(source.set_text, page, place.set_source, root)
        cells.name_set(notebook, page.slug)
        below = Path(page.stem) / "problems.ipynb"
        yield Built(root / "solutions" / below, serialise(notebook))
        yield Built(root / "exercises" / below, serialise(released(notebook)))


def _notebook_of(text_of, page, source_of, root):
    text = text_of(page.slug, root)  # says its file itself
    try:
        return text_to_notebook(text)
    except ValueError as error:
        where = source_of(page.slug, root).relative_to(root).as_posix()
        raise ValueError(f"{where}: {error}") from None


def left_over(root: Path | None = None) -> list[tuple[Path, Page]]:
    """Return the notebooks that a build wrote when their page had another number, in order.

    Parameters
    ----------
    root : pathlib.Path, optional
        The course's folder.

    Returns
    -------
    list of (pathlib.Path, manifest.Page)
        Each with the page that it is of.
    """
    root = root or course_root()
    pages = manifest.of(root)
    found = []
    for path in sorted((root / "lessons").glob("[0-9]*_*.ipynb")):
        page = pages.get(path.stem)
        if page and page.stem != path.stem:
            found.append((path, page))
    for part in ("solutions", "exercises"):
        for path in sorted((root / part).glob("[0-9]*_*/problems.ipynb")):
            page = pages.get(path.parent.name)
            if page and page.stem != path.parent.name:
                found.append((path, page))
    return found


def take_away(path: Path, page: Page, root: Path | None = None) -> str:
    """Take away what ``left_over`` found; an exercise that holds answers moves to its new folder.

    Parameters
    ----------
    path : pathlib.Path
    page : manifest.Page
    root : pathlib.Path, optional
        The course's folder.

    Returns
    -------
    str
        What became of it, as a sentence.
    """
    root = root or course_root()
    name = path.relative_to(root).as_posix()
    if path.parent.parent == root / "exercises" and holds_answers(path):
        new = root / "exercises" / page.stem / path.name
        number = 1
        while holds_answers(new):
            number += 1
            new = new.with_name(f"problems_{number}.ipynb")
        new.parent.mkdir(exist_ok=True)
        path.replace(new)
        message = f"{name} holds answers: it lies at {new.relative_to(root).as_posix()} now."
    else:
        path.unlink()
        message = f"Removed {name}: it is {page.stem} now."
    if path.parent.name != "lessons" and not any(path.parent.iterdir()):
        path.parent.rmdir()
    return message


def holds_answers(path: Path) -> bool:
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


def write_back(path: str | PathLike[str], root: Path | None = None) -> Path:
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
        If the notebook is not one that is built from a text of its own, or cannot be read, or has
        nothing in it, or was built under earlier numbers and an edited line says one; the text
        stays as it was.
    """
    root = root or course_root()
    path = Path(path).resolve()
    if path.suffix == ".ipynb" and path.parent == root / "lessons":
        target = place.lesson_source(manifest.slug_in(path.stem), root)
    elif path.name == "problems.ipynb" and path.parent.parent == root / "solutions":
        target = place.set_source(manifest.slug_in(path.parent.name), root)
    else:
        raise ValueError(
            f"{path.name} has no text of its own: give a notebook of lessons/ or solutions/; "
            "exercises/ are cut from solutions/."
        )
    try:
        notebook = nbformat.read(path, as_version=4)
    except FileNotFoundError:
        raise ValueError(f"There is no notebook {path.name} in {path.parent.name}/.") from None
    except OSError:
        raise
    except Exception:  # nbformat has no common error for what is no notebook
        raise ValueError(
            f"{path.name} is not a notebook that can be read; its text {target.name} stays as it "
            "was."
        ) from None
    # an editor leaves one empty cell where all were deleted
    if not any(cell.source.strip() for cell in notebook.get("cells", [])):
        raise ValueError(f"{path.name} has no cells; its text {target.name} stays as it was.")
    text = notebook_to_text(notebook)
    if target.is_file():
        pages, named = manifest.of(root), target.read_text(encoding="utf-8")
        own = path.stem if path.parent == root / "lessons" else path.parent.name
        stems = set(re.findall(r"\b\d\d_\w+\b", text)) | {own}
        if any((now := pages.get(stem)) and now.stem != stem for stem in stems):
            text = source.with_numbers_of_now(text, named, pages)
        text = source.put_back(text, named, pages)
    target.write_text(text, encoding="utf-8", newline="\n")
    return target


def _metadata_from_marker(cell):
    marker = {k: v for k, v in cell.metadata.items() if k != "lines_to_next_cell"}
    which = f"The cell that begins {cell.source[:40]!r}"
    if bad := marker.get("incorrectly_encoded_metadata") or marker.get("title"):  # jupytext's names
        raise ValueError(
            f'{which} has a marker that cannot be read: {bad}; write it as part="idea", points=1 '
            "or hide=true."
        )
    try:
        metadata, unknown = cells.metadata_for(marker)
    except ValueError as error:
        raise ValueError(f"{which} {error}") from None
    if unknown:
        raise ValueError(
            f"{which} has a marker {sorted(unknown)[0]!r} that is not known here; see "
            "pages/build.py for those that are."
        )
    return nbformat.from_dict(metadata)


def _cell_id(cell, seen):
    grade_id = cells.grade_id(cell)
    if grade_id:
        if grade_id in seen:
            raise ValueError(f"The grade id {grade_id!r} stands twice; name one anew.")
        seen[grade_id] = 1
        return grade_id
    digest = hashlib.sha256(f"{cell.cell_type}\n{cell.source}".encode()).hexdigest()[:12]
    seen[digest] = seen.get(digest, 0) + 1
    return digest if seen[digest] == 1 else f"{digest}-{seen[digest]}"
