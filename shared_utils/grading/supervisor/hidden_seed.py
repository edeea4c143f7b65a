"""The class's secret, and the seed that each submission's hidden tests draw their inputs from.

The secret is a file of the class's folder that its owner alone may read. Workers and the examiner
are given only the seed of the submission at hand, the learner's kernel neither.
"""

from __future__ import annotations

import hashlib
import hmac
import os
import secrets
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping
    from os import PathLike

SECRET_FILE = "hidden.secret"
SECRET_BYTES = 32


def class_secret(folder: str | PathLike[str]) -> bytes:
    """Return the secret of a class; it is made where there is none yet.

    Parameters
    ----------
    folder : path-like
        The class's folder.

    Returns
    -------
    bytes
        ``SECRET_BYTES`` of them.

    Raises
    ------
    ValueError
        If the file holds something else, for marks would not be the same again.
    """
    path = Path(folder) / SECRET_FILE
    if not path.exists():
        # whole under another name first, so that of two who make it both read the same
        fresh = path.with_name(f".{SECRET_FILE}.{os.getpid()}.{secrets.token_hex(4)}")
        descriptor = os.open(fresh, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        try:
            with open(descriptor, "w", encoding="ascii") as file:
                file.write(secrets.token_hex(SECRET_BYTES) + "\n")
            try:
                os.link(fresh, path)
            except FileExistsError:
                pass
            except OSError:  # a disk that knows no links
                fresh.replace(path)
        finally:
            fresh.unlink(missing_ok=True)
    try:
        secret = bytes.fromhex(path.read_text(encoding="ascii").strip())
    except ValueError:
        secret = b""
    if len(secret) != SECRET_BYTES:
        raise ValueError(
            f"{SECRET_FILE} in the class's folder is damaged: put it back from a backup, or remove "
            "it, and the next grading makes a new one."
        )
    return secret


def digest_of(notebook: bytes, files: Mapping[str, bytes]) -> str:
    """Return what tells what was handed in from everything else: hexadecimal digits.

    Parameters
    ----------
    notebook : bytes
        The file.
    files : dict of str to bytes
        What lay beside it.
    """
    digest = hashlib.sha256(hashlib.sha256(notebook).digest())
    for path, content in sorted(files.items()):
        digest.update(hashlib.sha256(os.fsencode(path)).digest())
        digest.update(hashlib.sha256(content).digest())
    return digest.hexdigest()


def seed_of(
    secret: bytes, learner: str, set_name: str, notebook: bytes, files: Mapping[str, bytes]
) -> str:
    """Return the seed of a submission's hidden tests, which tells nothing of the secret.

    Parameters
    ----------
    secret : bytes
        The class's.
    learner, set_name : str
        Whose submission it is, and to which set.
    notebook : bytes
        What was handed in.
    files : dict of str to bytes
        What lay beside it.

    Returns
    -------
    str
        Hexadecimal digits.
    """
    about = "\n".join([learner, set_name, digest_of(notebook, files)])
    return hmac.digest(secret, about.encode("utf-8", "surrogateescape"), hashlib.sha256).hex()
