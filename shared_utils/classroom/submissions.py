"""What a learner has handed in: whether it can be run, and whether it has changed since."""

from __future__ import annotations

import hashlib
import os
from typing import TYPE_CHECKING

from shared_utils.classroom.folder import NOTEBOOK

if TYPE_CHECKING:
    from collections.abc import Mapping
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


def stamp_of(folder: ClassFolder, name: str, submission: Submission) -> str:
    """Return what tells a submission, and the set as it is, from every other."""
    digest = hashlib.sha256(submission.notebook)
    digest.update(folder.source(name).read_bytes())
    for path, content in submission.files.items():
        digest.update(os.fsencode(path) + b"\0" + content)
    return digest.hexdigest()


def time_of(files: Mapping[str, bytes]) -> tuple[datetime | None, list[str]]:
    """Return when a submission was handed in, if nbgrader's exchange has noted it, and remarks.

    The time stands in ``timestamp.txt`` among the submitted files, so it is what the learner's
    machine said, or the learner wrote: a claim, not a measurement. Nothing here takes marks off for
    it unless the instructor gives a set a due date in nbgrader.
    """
    from nbgrader.utils import parse_utc

    try:
        text = files["timestamp.txt"].decode().strip()
        return (parse_utc(text) if text else None), []
    except KeyError:
        return None, []
    except (ValueError, OverflowError):
        return None, ["timestamp.txt holds no time; the submission was taken as in time."]


def _missing(notebook):
    """Return why there is no file to read, or an empty text."""
    folder = notebook.parent
    if notebook.is_symlink() or folder.is_symlink():
        return f"{NOTEBOOK} is a link, not a file; put the file itself there."
    if not notebook.is_file():
        others = sorted(folder.glob("*.[iI][pP][yY][nN][bB]")) if folder.is_dir() else []
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
