"""A set released to a class: what learners get, and the instructor's own problems that join it."""

from __future__ import annotations

import shutil
from contextlib import contextmanager
from typing import TYPE_CHECKING

from shared_utils.classroom.folder import NOTEBOOK
from shared_utils.classroom.nbgrader_calls import open_nbgrader, require_success
from shared_utils.classroom.overlay import Overlay
from shared_utils.course.place import course_root, find_set
from shared_utils.pages import build

if TYPE_CHECKING:
    from os import PathLike
    from pathlib import Path

    from shared_utils.classroom.folder import ClassFolder

OVERLAY = "overlay.txt"


def release(folder: ClassFolder, wanted: str) -> Path:
    """Make what learners get, and keep its tests in the gradebook.

    Parameters
    ----------
    folder : ClassFolder
    wanted : str
        Number or name of the set.

    Returns
    -------
    pathlib.Path
        The released notebook: the same, byte for byte, as the one in ``exercises``, unless an
        overlay joins it.

    Raises
    ------
    ValueError
        If the set cannot be released; the folder is then as it was before.
    """
    name = folder.name_here(wanted)
    whole, expected = _texts(folder, name)
    with _restored_on_failure(folder.path, [f"{part}/{name}" for part in ("source", "release")]):
        source = folder.source(name)
        shutil.rmtree(source.parent, ignore_errors=True)
        source.parent.mkdir(parents=True)
        source.write_bytes(whole)
        with open_nbgrader(folder.path) as nbgrader:
            require_success(
                nbgrader.generate_assignment(name),
                f"{name} could not be released",
                {
                    "Cannot add or remove cells": "has submissions in this class, and cells "
                    "were added to it or taken away since; grade it as it was released, or "
                    "make a new class for the new text. Nothing was changed",
                },
            )
        released = folder.released(name)
        if released.read_bytes() != expected:
            raise ValueError(
                f"The release of {name} differs from exercises/{name}: run `lens-course build`."
            )
    return released


def join(folder: ClassFolder, private: str | PathLike[str]) -> Overlay:
    """Let private problems and a seed join the sets that are released from now on.

    Parameters
    ----------
    folder : ClassFolder
    private : path-like
        As ``overlay`` describes it.

    Returns
    -------
    Overlay

    Raises
    ------
    ValueError
        If the private folder cannot be used; nothing is changed then.
    """
    joined = Overlay(private)
    for name in joined.texts:
        joined.notebook(name)
    (folder.path / OVERLAY).write_text(f"{joined.folder}\n", encoding="utf-8")
    return joined


def _texts(folder, name):
    """Return a set as it is released here, with answers and without, in bytes."""
    place = folder.path / OVERLAY
    joined = Overlay(place.read_text(encoding="utf-8").strip()) if place.is_file() else None
    if joined and joined.joins(name):
        notebook = joined.notebook(name)
        pair = notebook, build.released(notebook)
        return tuple(build.serialise(one).encode("utf-8") for one in pair)
    stem = find_set(name)  # the course may number it otherwise now
    places = [course_root() / part / stem / NOTEBOOK for part in ("solutions", "exercises")]
    if not all(place.is_file() for place in places):
        raise ValueError(f"{name} is not built: run `lens-course build` first.")
    return tuple(place.read_bytes() for place in places)


@contextmanager
def _restored_on_failure(folder, parts):
    """Put folders back as they were if what is done with them fails."""
    backup = folder / ".before"
    shutil.rmtree(backup, ignore_errors=True)
    for part in parts:
        if (folder / part).is_dir():
            shutil.copytree(folder / part, backup / part)
    try:
        yield
    except BaseException:
        for part in parts:
            shutil.rmtree(folder / part, ignore_errors=True)
            if (backup / part).is_dir():
                shutil.copytree(backup / part, folder / part)
        raise
    finally:
        shutil.rmtree(backup, ignore_errors=True)
