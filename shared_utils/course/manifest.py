"""The pages of the course in their order, read from ``manifest.toml``: the one list of them.

A page is known by its slug. Its number follows from its place in the list, so that a lesson can be
inserted; what must not change then, the learners' numbers, hangs on the record's ``seed``.
"""

from __future__ import annotations

import keyword
import re
import tomllib
from dataclasses import dataclass
from functools import cache, cached_property
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence
    from typing import Any

FILE = Path(__file__).with_name("manifest.toml")
BELOW_ROOT = Path("shared_utils", "course", FILE.name)
FIELDS = {"slug": str, "title": str, "minutes": int, "seed": str, "problem_set": bool}
REQUIRED = ("slug", "title", "minutes")
RESERVED = ("first", "last")  # they stand for a lesson in a page's text


@dataclass(frozen=True)
class Part:
    """A part of the course: its number from 1, its title, its questions in a mock examination."""

    number: int
    title: str
    exam_questions: int

    @property
    def numbered_title(self) -> str:
        """Its number and title: ``"2 · Lens power"``."""
        return f"{self.number} · {self.title}"


@dataclass(frozen=True)
class Page:
    """A page of the course.

    Attributes
    ----------
    number : str
        Two digits, such as ``"05"``; from the page's place in the manifest.
    slug : str
        Its name, such as ``"measuring"``.
    title : str
    minutes : int
        To read it.
    part : Part or None
        The part that a lesson belongs to; None for a page outside the lessons.
    seed : str
        What the learners' numbers of its problem set are drawn from.
    problem_set : bool
        Whether it has a problem set.
    """

    number: str
    slug: str
    title: str
    minutes: int
    part: Part | None
    seed: str
    problem_set: bool

    @property
    def stem(self) -> str:
        """The name of its built files: ``"05_measuring"``."""
        return f"{self.number}_{self.slug}"

    @property
    def numbered_title(self) -> str:
        """Its number and title: ``"05 Measuring the eye"``."""
        return f"{self.number} {self.title}"


@dataclass(frozen=True)
class Manifest:
    """All parts and pages, in order."""

    parts: tuple
    pages: tuple

    @cached_property
    def by_slug(self) -> dict[str, Page]:
        """The pages by slug."""
        return {page.slug: page for page in self.pages}

    @property
    def lessons(self) -> tuple[Page, ...]:
        """The pages that are lessons."""
        return tuple(page for page in self.pages if page.part)

    @property
    def sets(self) -> tuple[Page, ...]:
        """The pages that have a problem set."""
        return tuple(page for page in self.pages if page.problem_set)

    def find(self, wanted: str, what: str = "page", pages: Sequence[Page] | None = None) -> Page:
        """Return a page from its number or name.

        Parameters
        ----------
        wanted : str
            ``"5"``, ``"05"``, ``"measuring"`` or ``"05_measuring"``; a number before a name may be
            one that the page had before a lesson was inserted.
        what : str
            What is looked for, in the words of the message.
        pages : sequence of Page, optional
            Those to look among; all if not given.

        Returns
        -------
        Page

        Raises
        ------
        ValueError
            If there is none; the message lists those that there are.

        Examples
        --------
        >>> of().find("1").stem
        '01_vergence'
        """
        pages = self.pages if pages is None else pages
        text = str(wanted).strip().strip("/")
        slug = slug_in(text)
        for page in pages:
            if page.slug == slug or (text.isdecimal() and int(text) == int(page.number)):
                return page
        names = ", ".join(page.stem for page in pages)
        raise ValueError(f"There is no {what} {wanted!r}; give one of: {names}.")

    def lesson(self, wanted: Any) -> Page:
        """Return a lesson from its number or name, as ``find`` does."""
        return self.find(wanted, "lesson", self.lessons)

    def get(self, name: str) -> Page | None:
        """Return the page that a name stands for, with or without a number, or None.

        Parameters
        ----------
        name : str

        Returns
        -------
        Page or None
        """
        return self.by_slug.get(slug_in(name))

    def place(self, slug: str) -> int:
        """Return where a page stands in the order, from 0; behind all others if it is not here."""
        page = self.by_slug.get(slug)
        return self.pages.index(page) if page else len(self.pages)

    def title_of_set(self, name: str) -> str:
        """Return what a problem set is called: its number, and the title of its page if it has one.

        Parameters
        ----------
        name : str
            As a class has it, with a number.

        Returns
        -------
        str

        Examples
        --------
        >>> of().title_of_set("01_vergence")
        'Problem set 01: Vergence'
        """
        number, _, rest = name.partition("_")
        page = self.get(name)
        return f"Problem set {number}: {page.title if page else rest}"

    def seed_of(self, name: str) -> str:
        """Return what the numbers of a set are drawn from: the record's seed, else the name."""
        page = self.get(name)
        return page.seed if page else name


def of(root: Path | None = None) -> Manifest:
    """Return the manifest of a course.

    Parameters
    ----------
    root : pathlib.Path, optional
        The course's folder; the course that this package belongs to if not given.

    Returns
    -------
    Manifest

    Raises
    ------
    ValueError
        If a record lacks a field, holds an unknown one, or does not fit the others; the message
        says which and what to do.

    Examples
    --------
    >>> [part.title for part in of().parts]
    ['Vergence', 'Lens power', 'Splitting light', 'Candidacy']
    """
    path = root / BELOW_ROOT if root else FILE
    try:
        stamp = path.stat()
    except FileNotFoundError:
        raise ValueError(
            f"There is no {BELOW_ROOT.as_posix()} in {root}: it lists the pages."
        ) from None
    return _read(path, (stamp.st_mtime_ns, stamp.st_size))


@cache
def _read(path, _stamp):
    return parse(path.read_text(encoding="utf-8"))


def slug_in(name: str) -> str:
    """Return a name without the number before it.

    Parameters
    ----------
    name : str

    Returns
    -------
    str

    Examples
    --------
    >>> slug_in("05_measuring"), slug_in("measuring")
    ('measuring', 'measuring')
    """
    return re.sub(r"^\d+_", "", str(name))


def fault_of_slug(slug: str) -> str:
    """Return why a text cannot be a slug, or an empty text.

    Parameters
    ----------
    slug : str

    Returns
    -------
    str

    Examples
    --------
    >>> fault_of_slug("two_foci")
    ''
    """
    if not re.fullmatch(r"[a-z][a-z0-9]*(_[a-z0-9]+)*", slug):
        return "use small letters, digits and single _ between them, a letter first"
    if keyword.iskeyword(slug) or slug in RESERVED:
        return "this word has a meaning of its own here; use another"
    return ""


def parse(text: str) -> Manifest:
    """Return the manifest that a text holds.

    Parameters
    ----------
    text : str
        TOML: tables ``before`` and ``after`` for pages outside the lessons, ``part`` for the parts
        with ``part.lesson`` for their lessons.

    Returns
    -------
    Manifest

    Raises
    ------
    ValueError
        As ``of``.
    """
    try:
        whole = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise ValueError(f"{FILE.name} cannot be read: {error}.") from None
    unknown = sorted(whole.keys() - {"before", "part", "after"})
    if unknown:
        raise ValueError(f"{FILE.name}: {unknown[0]!r} is not known; use before, part and after.")
    parts: list[Part] = []
    records: list[tuple[dict[str, Any], Part | None]]
    records = [(record, None) for record in whole.get("before", ())]
    for number, table in enumerate(whole.get("part", ()), start=1):
        lessons = table.pop("lesson", [])
        named = f"part {number}"
        _known(table, {"title": str, "exam_questions": int}, ("title", "exam_questions"), named)
        if table["exam_questions"] < 0:
            raise ValueError(
                f"{FILE.name}, {named}: exam_questions is {table['exam_questions']}; "
                "give 0 or more."
            )
        if not lessons:
            raise ValueError(f"{FILE.name}, {named}: a part has at least one [[part.lesson]].")
        parts.append(Part(number, **table))
        records += [(record, parts[-1]) for record in lessons]
    records += [(record, None) for record in whole.get("after", ())]
    pages = tuple(_page(number, *record) for number, record in enumerate(records))
    _distinct([page.slug for page in pages], "slug")
    _distinct([page.seed for page in pages], "seed")
    _distinct([page.title for page in pages], "title")
    _distinct([part.title for part in parts], "title of a part")
    return Manifest(tuple(parts), pages)


def _page(number, record, part):
    slug = record.get("slug", "?")
    _known(record, FIELDS, REQUIRED, f"record {slug!r}")
    fault = fault_of_slug(slug)
    if fault:
        raise ValueError(f"{FILE.name}: {slug!r} cannot be a slug: {fault}.")
    if record["minutes"] < 1:
        raise ValueError(
            f"{FILE.name}, record {slug!r}: {record['minutes']} minutes; give 1 or more."
        )
    return Page(
        number=f"{number:02d}",
        part=part,
        **{"seed": slug, "problem_set": part is not None, **record},
    )


def _known(table, fields, required, named):
    for name, value in table.items():
        if name not in fields:
            raise ValueError(
                f"{FILE.name}, {named}: {name!r} is not known; use {', '.join(fields)}."
            )
        if type(value) is not fields[name]:
            raise ValueError(
                f"{FILE.name}, {named}: {name} is {value!r}; give a {fields[name].__name__}."
            )
    for name in required:
        if name not in table:
            raise ValueError(f"{FILE.name}, {named}: {name} is missing.")


def _distinct(values, what):
    for value in values:
        if values.count(value) > 1:
            raise ValueError(f"{FILE.name}: the {what} {value!r} stands twice; change one.")
