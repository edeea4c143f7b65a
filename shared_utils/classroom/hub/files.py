"""The files of a hub, as they lie in ``templates``: written once, and then the instructor's."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from os import PathLike

TEMPLATES = Path(__file__).parent / "templates"
# what may hold a password is for its owner alone
MODES = {"hub.env": 0o600}
MODE = 0o644


def template(kind: str, name: str) -> str:
    """Return the text of a file: ``trial`` or ``machine``, and its name."""
    return (TEMPLATES / kind / f"{name}.txt").read_text(encoding="utf-8")


def write_machine(folder: str | PathLike[str]) -> dict[str, str]:
    """Write the files of a hub for a machine of its own.

    A file that is there is left as it is, for the instructor may have changed it.

    Parameters
    ----------
    folder : path-like
        Where; it is made if need be.

    Returns
    -------
    dict of str to str
        For each file what became of it: ``written``; ``unchanged``, it is there as it would be
        written; or ``kept``, it is there with another text.

    Raises
    ------
    ValueError
        If the folder cannot be written to.
    """
    place = Path(folder)
    try:
        place.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise ValueError(f"{place} cannot be made: {error.strerror}.") from None
    names = sorted(path.name.removesuffix(".txt") for path in (TEMPLATES / "machine").iterdir())
    return {name: write(place / name, template("machine", name)) for name in names}


def write(path: Path, text: str) -> str:
    """Write a file unless it is there; return what became of it (see ``write_machine``)."""
    try:
        # made with its mode: a secret is at no moment open to others
        made = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, MODES.get(path.name, MODE))
    except FileExistsError:
        if not path.is_file():
            raise ValueError(f"{path} is there and is no file: move it away.") from None
        return "unchanged" if path.read_bytes() == text.encode() else "kept"
    except OSError as error:
        raise ValueError(f"{path} cannot be written: {error.strerror}.") from None
    with open(made, "w", encoding="utf-8", newline="\n") as file:
        file.write(text)
    return "written"
