"""Who works here: the id that a learner's numbers and records belong to."""

from __future__ import annotations

import os
import re
from typing import TYPE_CHECKING

from shared_utils.course.place import course_root

if TYPE_CHECKING:
    from pathlib import Path

LEARNER_VARIABLE = "LENS_COURSE_LEARNER"
NOBODY = "self-study"


def id_file() -> Path:
    """Return the file that keeps the learner's id on the learner's own machine."""
    return course_root() / ".learner"


def learner_id() -> str:
    """Return who works here.

    While grading, the one whose submission it is; on a hub, the hub's user; else the id that
    ``lens-course learner ID`` has kept, else ``self-study``.

    Returns
    -------
    str
    """
    for variable in (LEARNER_VARIABLE, "JUPYTERHUB_USER"):
        if os.environ.get(variable):
            return os.environ[variable]
    try:
        return id_file().read_text(encoding="utf-8").strip() or NOBODY
    except FileNotFoundError:  # not set, or the notebooks lie elsewhere
        return NOBODY


def keep_learner_id(learner: str) -> None:
    """Keep the learner's id on this machine.

    Parameters
    ----------
    learner : str
        Letters, digits, dot, hyphen, underscore and @; at most 64.

    Raises
    ------
    ValueError
        If it has other characters, which a folder's name could not carry everywhere.
    """
    if not re.fullmatch(r"[A-Za-z0-9._@-]{1,64}", learner) or not learner.strip("."):
        raise ValueError(
            f"{learner!r} cannot be an id: use 1 to 64 letters, digits, '.', '-', '_' or '@', as "
            "your instructor's roster does."
        )
    id_file().write_text(learner + "\n", encoding="utf-8")
