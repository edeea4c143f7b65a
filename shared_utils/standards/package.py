"""Files in one zip, the same to the byte whenever it is written."""

from __future__ import annotations

import zipfile
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping
    from os import PathLike

EPOCH = (1980, 1, 1, 0, 0, 0)  # a zip says nothing of when it was made


def write_zip(file: str | PathLike[str], files: Mapping[str, bytes]) -> None:
    """Write files into a zip.

    Parameters
    ----------
    file : path-like
    files : dict of str to bytes
        Name in the zip → content, in their order.
    """
    with zipfile.ZipFile(file, "w") as package:
        for name, content in files.items():
            entry = zipfile.ZipInfo(name, EPOCH)
            package.writestr(entry, content, compress_type=zipfile.ZIP_DEFLATED)
