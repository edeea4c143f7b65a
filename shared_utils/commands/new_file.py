"""What a command writes where the reader says never takes the place of what is there."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from os import PathLike


def refuse_existing(name: str | PathLike[str]) -> None:
    """Refuse the name of a file or a folder that is there.

    Parameters
    ----------
    name : path-like

    Raises
    ------
    ValueError
        If it is there.
    """
    if Path(name).exists():
        raise ValueError(f"{name} is there already; give the name of a new file.")
