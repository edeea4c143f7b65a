"""Where the course lies on this machine, and what its pages are called."""

from pathlib import Path

PARTS = ("lessons", "exercises", "solutions", "shared_utils")


def course_root():
    """Return the folder of the course.

    Returns
    -------
    pathlib.Path

    Raises
    ------
    FileNotFoundError
        If the package was installed without its notebooks.
    """
    root = Path(__file__).resolve().parents[2]
    if not all((root / part).is_dir() for part in PARTS):
        raise FileNotFoundError(
            "The notebooks of the course are not beside the package: get the whole repository "
            "and install it with `pip install -e .` from its folder."
        )
    return root


def find_set(wanted, root=None):
    """Return the name of a problem set from its number or name.

    Parameters
    ----------
    wanted : str
        ``"1"``, ``"01"`` or ``"01_vergence"``.
    root : pathlib.Path, optional
        The course's folder.

    Returns
    -------
    str

    Raises
    ------
    ValueError
        If there is no such set; the message lists those that exist.
    """
    names = set_names(root)
    wanted = str(wanted).strip().strip("/")
    found = [n for n in names if n == wanted or n.split("_")[0].lstrip("0") == wanted.lstrip("0")]
    if len(found) != 1:
        raise ValueError(f"There is no problem set {wanted!r}; give one of: {', '.join(names)}.")
    return found[0]


def set_names(root=None):
    """Return the names of all problem sets, in order."""
    root = root or course_root()
    return sorted(path.stem for path in (root / "solutions").glob("[0-9][0-9]_*.py"))
