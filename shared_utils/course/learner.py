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


def fault_of_id(learner: str) -> str:
    """Return a sentence on why a text cannot be a learner's id; empty if it can.

    An id names a folder, stands on command lines and in tables: so it begins with a letter or a
    digit, and neither an option nor a formula begins so.

    Examples
    --------
    >>> fault_of_id("ada.bright")
    ''
    >>> print(fault_of_id("-a1"))
    '-a1' cannot be an id, which names a folder: use 1 to 64 letters without accents, digits, '.',
    '-', '_' and '@'; a letter, a digit or '_' comes first.
    """
    if re.fullmatch(r"[A-Za-z0-9_][A-Za-z0-9._@-]{0,63}", learner):
        return ""
    name = repr(learner if len(learner) <= 70 else learner[:69] + "…")
    return (
        f"{name} cannot be an id, which names a folder: use 1 to 64 letters without accents, "
        "digits, '.', '-', '_' and '@'; a letter, a digit or '_' comes first."
    )


def keep_learner_id(learner: str) -> None:
    """Keep the learner's id on this machine.

    Parameters
    ----------
    learner : str
        Letters, digits, dot, hyphen, underscore and @; at most 64; see ``fault_of_id``.

    Raises
    ------
    ValueError
        If it cannot be an id.
    """
    if fault := fault_of_id(learner):
        raise ValueError(f"{fault} Your instructor's roster has yours.")
    id_file().write_text(learner + "\n", encoding="utf-8")
