"""How the course is cited."""

from shared_utils import __version__

TITLE = "Choosing a lens: the optics behind a cataract operation"
AUTHORS = 'The authors of the course "Choosing a lens"'
RELEASED = "2026-11-28"


def citation() -> str:
    """Return the citation as text, and as a BibTeX entry below it.

    Returns
    -------
    str

    Examples
    --------
    >>> citation().splitlines()[0].startswith('The authors of the course "Choosing a lens"')
    True
    """
    year = RELEASED.partition("-")[0]
    return (
        f"{AUTHORS}. {TITLE}. Version {__version__}, {year}.\n"
        "Cite the original papers for the formulas; the pages and docstrings name them.\n\n"
        f"@software{{choosing_a_lens,\n"
        f"  author = {{{{{AUTHORS}}}}},\n"
        f"  title = {{{TITLE}}},\n"
        f"  version = {{{__version__}}},\n"
        f"  year = {{{year}}},\n"
        f"}}"
    )
