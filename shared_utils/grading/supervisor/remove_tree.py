"""Removes a folder in which a learner's code may have left anything, and nothing outside it.

One descriptor goes down and up again, whatever the depth. No link is followed, and on the way up
the folder above must be the one that it was on the way down: else a folder that was moved meanwhile
would lead elsewhere.
"""

from __future__ import annotations

import contextlib
import os
import shutil
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from os import PathLike

# without them a platform's own removal is taken, which looks at links first as well
HAS_DESCRIPTORS = (
    os.unlink in os.supports_dir_fd and os.open in os.supports_dir_fd and hasattr(os, "O_NOFOLLOW")
)
FLAGS = os.O_RDONLY | getattr(os, "O_DIRECTORY", 0) | getattr(os, "O_NOFOLLOW", 0)


def remove(folder: str | PathLike[str]) -> bool:
    """Remove a folder with all that is in it.

    Parameters
    ----------
    folder : path-like
        If it is a link, it is left alone.

    Returns
    -------
    bool
        Whether it is gone.
    """
    folder = os.path.abspath(folder)
    if not HAS_DESCRIPTORS:
        shutil.rmtree(folder, ignore_errors=True)
        return not os.path.lexists(folder)
    with contextlib.suppress(OSError):
        above = os.open(os.path.dirname(folder), FLAGS)
        try:
            if _empty(above, os.path.basename(folder)):
                os.rmdir(os.path.basename(folder), dir_fd=above)
        finally:
            os.close(above)
    return not os.path.lexists(folder)


def _empty(above, name):
    """Remove what is in a folder, and return whether all of it is gone."""
    current, whole = _enter(above, name), True
    # of each folder on the way down: its name in the one above, what it is, its own folders
    path = [(name, _identity(current), _remove_files(current))]
    try:
        while True:
            if path[-1][2]:
                below = path[-1][2].pop()
                try:
                    lower = _enter(current, below)
                except OSError:
                    whole = False
                    continue
                os.close(current)
                current = lower
                path.append((below, _identity(current), _remove_files(current)))
                continue
            name, _, _ = path.pop()
            if not path:
                return whole
            upper = os.open("..", FLAGS, dir_fd=current)
            os.close(current)
            current = upper
            if _identity(current) != path[-1][1]:
                return False  # it was moved meanwhile
            try:
                os.rmdir(name, dir_fd=current)
            except OSError:
                whole = False
    finally:
        os.close(current)


def _remove_files(current):
    """Remove all but folders, and return the names of those."""
    with os.scandir(current) as entries:
        found = [(entry.name, entry.is_dir(follow_symlinks=False)) for entry in entries]
    for name, is_folder in found:
        if not is_folder:
            with contextlib.suppress(OSError):
                os.unlink(name, dir_fd=current)
    return [name for name, is_folder in found if is_folder]


def _enter(above, name):
    """Open a folder in another, whatever its owner may do there; never a link."""
    try:
        opened = os.open(name, FLAGS, dir_fd=above)
    except PermissionError:
        if not hasattr(os, "O_PATH"):
            raise
        only_named = os.open(name, FLAGS | os.O_PATH, dir_fd=above)
        try:
            os.chmod(f"/proc/self/fd/{only_named}", 0o700)
        finally:
            os.close(only_named)
        opened = os.open(name, FLAGS, dir_fd=above)
    with contextlib.suppress(OSError):  # another's
        os.fchmod(opened, 0o700)
    return opened


def _identity(descriptor):
    status = os.fstat(descriptor)
    return status.st_dev, status.st_ino
