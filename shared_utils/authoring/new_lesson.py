"""The first texts of a new lesson: short; they build, run and pass, to be replaced bit by bit."""

import json
from pathlib import Path

from shared_utils.course import manifest
from shared_utils.course.place import course_root

SKELETON = Path(__file__).parent / "skeleton"
MINUTES = 20
# what is written, and where: SLUG stands for the slug
FILES = {
    "lesson.txt": "lessons/source/SLUG.py",
    "set.txt": "solutions/SLUG.py",
    "case.txt": "shared_utils/cases/SLUG.py",
    "explore.txt": "shared_utils/explore/SLUG.py",
    "show.txt": "shared_utils/show/SLUG.py",
    "values.txt": "shared_utils/bank/values/SLUG.py",
    "items.txt": "shared_utils/bank/items/SLUG.toml",
    "test.txt": "tests/test_lesson_SLUG.py",
    "recomputed.txt": "tests/recomputed/SLUG.py",
}


def write(
    slug: str,
    after: str | None = None,
    title: str | None = None,
    part: str | None = None,
    root: Path | None = None,
) -> list[Path]:
    """Write the texts of a new lesson and its record in the manifest.

    Parameters
    ----------
    slug : str
        Its name: small letters, digits and single underscores.
    after : str, optional
        Number or name of the page before it; the last lesson of its part if not given.
    title : str, optional
        What the map calls it; the slug in words if not given.
    part : str, optional
        Number or title of its part; that of the page before it, else the last, if not given.
    root : pathlib.Path, optional
        The course's folder.

    Returns
    -------
    list of pathlib.Path
        What was written, below the course's folder.

    Raises
    ------
    ValueError
        If the slug is not valid, anything of this name is there, or it cannot go where it is asked
        to; nothing is written then.
    """
    root = root or course_root()
    fault = manifest.fault_of_slug(slug)
    if fault:
        raise ValueError(f"{slug!r} cannot be a slug: {fault}.")
    if title is not None and not title.strip():
        raise ValueError("The title is empty: give what the map calls the lesson, or leave it out.")
    title = title or slug.replace("_", " ").capitalize()
    targets = {root / name.replace("SLUG", slug): SKELETON / text for text, name in FILES.items()}
    for path in targets:
        if path.exists():
            there = path.relative_to(root).as_posix()
            raise ValueError(f"{there} is there already and stays as it is: choose another slug.")
    listed = root / manifest.BELOW_ROOT
    text = with_record(listed.read_text(encoding="utf-8"), slug, after, title, part)
    for path, template in targets.items():
        filled = template.read_text(encoding="utf-8").replace("@slug@", slug)
        filled = filled.replace("@key@", slug.replace("_", "-"))
        path.write_text(filled, encoding="utf-8", newline="\n")
    listed.write_text(text, encoding="utf-8", newline="\n")
    return [path.relative_to(root) for path in (*targets, listed)]


def with_record(text: str, slug: str, after: str | None, title: str, part: str | None) -> str:
    """Return the text of a manifest with the record of a new lesson.

    Parameters
    ----------
    text : str
        Of the manifest.
    slug, title : str
    after, part : str or None
        As ``write`` takes them.

    Returns
    -------
    str

    Raises
    ------
    ValueError
        If the lesson cannot go there.
    """
    pages = manifest.parse(text)
    wanted = _part(pages, part) if part else None
    if after is None:
        own = [page for page in pages.lessons if page.part == (wanted or pages.parts[-1])]
        before = own[-1]
    else:
        before = pages.find(after)
    wanted = wanted or before.part
    place = pages.place(before.slug) + 1
    behind = pages.pages[place] if place < len(pages.pages) else None
    record = (
        f'[[part.lesson]]\nslug = "{slug}"\ntitle = {json.dumps(title, ensure_ascii=False)}\n'
        f"minutes = {MINUTES}\n"
    )
    lines = text.splitlines(keepends=True)
    if wanted is not None and before.part == wanted:
        at = _next_table(lines, _line_of(lines, before.slug) + 1)
    elif wanted is not None and behind is not None and behind.part == wanted:
        at = _table_above(lines, _line_of(lines, behind.slug))
    else:
        raise ValueError(
            f"A lesson cannot go after {before.stem}"
            + (f" into part {wanted.numbered_title}" if wanted else "")
            + ": name a lesson of its part, or with --part the page before that part."
        )
    gap = "" if at == 0 or not lines[at - 1].strip() else "\n"
    made = "".join([*lines[:at], gap, record, "\n" if at < len(lines) else "", *lines[at:]])
    manifest.parse(made)  # a slug or a title that is taken is said here
    return made


def _part(pages, wanted):
    for part in pages.parts:
        if str(wanted).strip().lower() in (str(part.number), part.title.lower()):
            return part
    names = ", ".join(part.numbered_title for part in pages.parts)
    raise ValueError(f"There is no part {wanted!r}; give number or title of one of: {names}.")


def _line_of(lines, slug):
    return next(n for n, line in enumerate(lines) if line.strip() == f'slug = "{slug}"')


def _next_table(lines, start):
    return next((n for n in range(start, len(lines)) if lines[n].startswith("[[")), len(lines))


def _table_above(lines, start):
    return next(n for n in range(start, -1, -1) if lines[n].startswith("[["))
