"""What a learner has handed in: whether it can be run, and whether it has changed since."""

from __future__ import annotations

import hashlib
import os
from contextlib import suppress
from typing import TYPE_CHECKING

from shared_utils.classroom.folder import NOTEBOOK

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping
    from datetime import datetime

    from shared_utils.classroom.folder import ClassFolder
    from shared_utils.grading.supervisor.grade_submission import Submission

LARGEST_BYTES = 20_000_000


def read_submission(folder: ClassFolder, name: str, learner: str) -> tuple[str, Submission | None]:
    """Return why a submission cannot be run, or an empty text, and the submission.

    Parameters
    ----------
    folder : ClassFolder
    name : str
        A released set.
    learner : str
        Id.

    Returns
    -------
    fault : str
    submission : Submission or None
    """
    from shared_utils.grading.supervisor import grade_submission, hidden_seed, sandbox

    notebook = folder.submitted(name, learner)
    fault = _missing(notebook)
    if fault:
        return fault, None
    try:
        handed_in = notebook.read_bytes()
    except OSError as error:
        return f"{NOTEBOOK} cannot be read: {error.strerror}.", None
    files = sandbox.files_beside(notebook.parent)
    secret = hidden_seed.class_secret(folder.path)
    seed = hidden_seed.seed_of(secret, learner, name, handed_in, files)
    return "", grade_submission.Submission(learner, handed_in, files, seed)


def contents(
    folder: ClassFolder, name: str, learner: str, submission: Submission | None
) -> Iterator[bytes]:
    """Yield the notebook that was handed in, or the one that has another name in its place."""
    if submission:
        yield submission.notebook
        return
    for path in _notebooks(folder.submitted(name, learner).parent)[:1]:
        with suppress(OSError):
            if not path.is_symlink() and path.stat().st_size <= LARGEST_BYTES:
                yield path.read_bytes()


def stamp_of(folder: ClassFolder, name: str, submission: Submission) -> str:
    """Return what tells a submission, and the set as it is, from every other."""
    digest = hashlib.sha256(submission.notebook)
    digest.update(folder.source(name).read_bytes())
    for path, content in submission.files.items():
        digest.update(os.fsencode(path) + b"\0" + content)
    return digest.hexdigest()


def time_of(files: Mapping[str, bytes]) -> tuple[datetime | None, list[str]]:
    """Return when the learner's side says that a submission was handed in, if it does, and remarks.

    The time stands in ``timestamp.txt`` among the submitted files, so it is what the learner's
    machine said, or the learner wrote: a claim, not a measurement. It counts for nothing:
    nbgrader's form grader tells a new submission by it.
    """
    from nbgrader.utils import parse_utc

    try:
        text = files["timestamp.txt"].decode().strip()
        return (parse_utc(text) if text else None), []
    except KeyError:
        return None, []
    except (ValueError, OverflowError):
        return None, ["timestamp.txt holds no time; when the submission was received counts."]


def is_marked(folder: ClassFolder, name: str, submission: Submission) -> bool:
    """Return whether this very submission was marked, by the set as it is."""
    from shared_utils.grading.supervisor import settings

    marked = folder.marked(name, submission.learner)
    stamp = marked.with_name(settings.STAMP)
    return (
        marked.is_file()
        and stamp.is_file()
        and stamp.read_text(encoding="utf-8") == stamp_of(folder, name, submission)
    )


def _missing(notebook):
    """Return why there is no file to read, or an empty text."""
    folder = notebook.parent
    if notebook.is_symlink() or folder.is_symlink():
        return f"{NOTEBOOK} is a link, not a file; put the file itself there."
    if not notebook.is_file():
        others = _notebooks(folder)
        if others:
            return f"The file is called {others[0].name!r}: rename it {NOTEBOOK} and grade again."
        if folder.is_dir():
            return f"There is no {NOTEBOOK} in {'/'.join(folder.parts[-3:])}."
        return "Nothing was handed in."
    size = notebook.stat().st_size
    if size == 0:
        return f"{NOTEBOOK} is empty; ask for the file again."
    if size > LARGEST_BYTES:
        return f"{NOTEBOOK} has {size / 1e6:.0f} MB; ask for it with its outputs cleared."
    return ""


def _notebooks(folder):
    return sorted(folder.glob("*.[iI][pP][yY][nN][bB]")) if folder.is_dir() else []
