"""When a submission was received, as the instructor's side can vouch for it.

A file's own dates and nbgrader's ``timestamp.txt`` come from the learner's side and can be set
there. What counts is, first to last: the time that the instructor has listed; the time at which the
system noted the file in the exchange, which no program of the learner's can set back; else the
time at which the file was put into the class's folder, as it was when the class first saw it.
"""

from __future__ import annotations

import hashlib
from contextlib import suppress
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from os import PathLike

    from shared_utils.grading.supervisor.records import Records

LISTED, EXCHANGE, PUT_HERE = "listed", "exchange", "put here"
EXCHANGE_ROOT = "exchange"  # the setting that names the exchange's folder
NOTEBOOK = "problems.ipynb"


def digest_of(content: bytes) -> str:
    """Return what tells a notebook's file from every other."""
    return hashlib.sha256(content).hexdigest()


def note(records: Records, file: str | PathLike[str], set_name: str, learner: str) -> None:
    """Note a submission that lies in the class's folder, if there is one.

    Parameters
    ----------
    records : Records
    file : path-like
        The notebook.
    set_name, learner : str
    """
    path = Path(file)
    if not path.is_file():
        return
    with suppress(OSError):
        digest = digest_of(path.read_bytes())
        at, how = _changed(path), PUT_HERE
        root = records.setting(EXCHANGE_ROOT)
        if root and (collected := in_exchange(root, set_name, learner, digest)):
            at, how = collected, EXCHANGE
        records.note_file(set_name, learner, digest, at, how)


def in_exchange(
    root: str | PathLike[str], set_name: str, learner: str, digest: str
) -> datetime | None:
    """Return when a submission came into nbgrader's exchange, or None if it is not there.

    Parameters
    ----------
    root : path-like
        The exchange's folder.
    set_name, learner : str
    digest : str
        Of the notebook, as ``digest_of`` gives it.
    """
    found = []
    for path in Path(root).glob(f"*/inbound/{learner}+{set_name}+*/{NOTEBOOK}"):
        with suppress(OSError):
            if not path.is_symlink() and digest_of(path.read_bytes()) == digest:
                found.append(_changed(path))
    return min(found, default=None)


def _changed(path):
    """Return when the system last noted a change of a file: unlike its date it cannot be set."""
    return datetime.fromtimestamp(path.stat().st_ctime, UTC)
