"""Where the course lies on this machine, and what its pages are called."""

from __future__ import annotations

from pathlib import Path

from shared_utils.course import manifest

PARTS = ("lessons", "exercises", "solutions", "shared_utils")


def course_root() -> Path:
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


def lesson_source(slug: str, root: Path | None = None) -> Path:
    """Return where the text of a page lies: ``lessons/source/SLUG.py``."""
    return (root or course_root()) / "lessons" / "source" / f"{slug}.py"


def set_source(slug: str, root: Path | None = None) -> Path:
    """Return where the text of a problem set lies: ``solutions/SLUG.py``."""
    return (root or course_root()) / "solutions" / f"{slug}.py"


def find_set(wanted: str, root: Path | None = None) -> str:
    """Return the name of a problem set, with its number, from its number or name.

    Parameters
    ----------
    wanted : str
        ``"1"``, ``"01"``, ``"vergence"`` or ``"01_vergence"``.
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
    pages = manifest.of(root or course_root())
    return pages.find(wanted, "problem set", pages.sets).stem


def set_names(root: Path | None = None) -> list[str]:
    """Return the names of all problem sets, with their numbers, in order."""
    return [page.stem for page in manifest.of(root or course_root()).sets]


def fault_of_files(root: Path | None = None) -> list[tuple[Path, str]]:
    """Return what does not fit between the manifest and the folder of the course, in sentences.

    Parameters
    ----------
    root : pathlib.Path, optional
        The course's folder.

    Returns
    -------
    list of (pathlib.Path, str)
        The file that is missing or that no record names, and a sentence.
    """
    root = root or course_root()
    pages = manifest.of(root)
    faults = []
    for source, listed in ((lesson_source, pages.pages), (set_source, pages.sets)):
        wanted = [source(page.slug, root) for page in listed]
        there = sorted(wanted[0].parent.glob("*.py")) if wanted else []
        for path in wanted:
            if not path.is_file():
                where = path.relative_to(root).as_posix()
                faults.append(
                    (path, f"{where} is missing, and {manifest.FILE.name} has its record.")
                )
        for path in there:
            if path not in wanted:
                where = path.relative_to(root).as_posix()
                faults.append(
                    (path, f"{where} has no record in {manifest.FILE.name} that names it.")
                )
    return faults
