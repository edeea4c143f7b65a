"""The hand-written text of a page, in which other pages go by their names.

A source says ``lesson {{number measuring}}``; what is built says ``lesson 05``, whatever the
number is now. Between double braces stands what is wanted, then the slug; ``first`` and
``last`` stand for the first and the last lesson:

========================== ==================================
``{{number measuring}}``   ``05``
``{{unpadded measuring}}`` ``5``
``{{stem measuring}}``     ``05_measuring``, for links
``{{title measuring}}``    ``Measuring the eye``
``{{minutes measuring}}``  ``20``
``{{count lessons}}``      ``fifteen``; ``{{Count lessons}}`` with a capital
========================== ==================================

Any other text between double braces is refused, with its file and line, unless it is a formula's:
right after a command of LaTeX, ``_``, ``^`` or a brace. In a line of code, where double braces are
also Python's, it is refused if it begins as one of these.

On the way back, from a notebook to its text, a name is put back wherever the edit left its number
alone: in lines that did not change, and in changed lines where the number is in a stretch that did
not change. A number that was typed anew stays a number, and ``lens-course lint`` says so. A
notebook that was built under earlier numbers gets those of now first.
"""

from __future__ import annotations

import re
from difflib import SequenceMatcher
from typing import TYPE_CHECKING

from shared_utils.course import manifest, place

if TYPE_CHECKING:
    from pathlib import Path

    from shared_utils.course.manifest import Manifest

NAME = re.compile(r"\{\{(\w+) (\w+)\}\}")
BRACES = re.compile(r"\{\{[^{}]*\}\}")
BARE_NUMBER = re.compile(r"\b[Ll]essons? \d{1,2}\b|\bProblems \d\d\b|\[\d\d [A-Z]")
OF_A_FORMULA = re.compile(r"(\\[A-Za-z]*|[_^{}])$")  # what stands right before braces of LaTeX
WORDS = [
    "no",
    "one",
    "two",
    "three",
    "four",
    "five",
    "six",
    "seven",
    "eight",
    "nine",
    "ten",
    "eleven",
    "twelve",
    "thirteen",
    "fourteen",
    "fifteen",
    "sixteen",
    "seventeen",
    "eighteen",
    "nineteen",
]
TENS = ["twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety"]
FIELDS = {
    "number": lambda page: page.number,
    "unpadded": lambda page: str(int(page.number)),
    "stem": lambda page: page.stem,
    "title": lambda page: page.title,
    "minutes": lambda page: str(page.minutes),
}


def lesson_text(name: str, root: Path | None = None) -> str:
    """Return the text of a page with its names filled in, empty if there is no such page.

    Parameters
    ----------
    name : str
        Slug, with or without a number before it.
    root : pathlib.Path, optional
        The course's folder.

    Returns
    -------
    str
    """
    return _text(place.lesson_source(manifest.slug_in(name), root), root)


def set_text(name: str, root: Path | None = None) -> str:
    """Return the text of a problem set with its names filled in, empty if there is no such set.

    Parameters
    ----------
    name : str
        Slug, with or without a number before it.
    root : pathlib.Path, optional
        The course's folder.

    Returns
    -------
    str
    """
    return _text(place.set_source(manifest.slug_in(name), root), root)


def _text(path, root):
    if not path.is_file():
        return ""
    pages = manifest.of(root or place.course_root())
    below = path.relative_to(root or place.course_root()).as_posix()
    return fill(path.read_text(encoding="utf-8"), pages, below)


def fill(text: str, pages: Manifest | None = None, where: str = "a text") -> str:
    """Return a text with what its names stand for.

    Parameters
    ----------
    text : str
    pages : Manifest, optional
        This course's if not given.
    where : str
        What the text is called in a message.

    Returns
    -------
    str

    Raises
    ------
    ValueError
        If a name stands for no page, what is wanted of it is not known, or other text stands
        between double braces; the message gives the line.

    Examples
    --------
    >>> fill("lesson {{number vergence}}, {{stem eye}}.ipynb")
    'lesson 01, 02_eye.ipynb'
    """
    pages = pages or manifest.of()
    whole, end = [], 0
    for found, value in _names(text, pages, where):
        whole += [text[end : found.start()], value]
        end = found.end()
    return "".join([*whole, text[end:]])


def put_back(text: str, source: str, pages: Manifest | None = None) -> str:
    """Return a built text with the names of its source where the numbers were left alone.

    Whatever is put back, ``fill`` gives ``text`` again.

    Parameters
    ----------
    text : str
        As it was built, perhaps edited.
    source : str
        With names, as before the edit.
    pages : Manifest, optional
        This course's if not given.

    Returns
    -------
    str

    Examples
    --------
    >>> put_back("See lesson 01 again, or 01.", "See lesson {{number vergence}} again.")
    'See lesson {{number vergence}} again, or 01.'
    """
    pages = pages or manifest.of()
    before = source.splitlines(keepends=True)
    built = [fill(line, pages) for line in before]
    now = text.splitlines(keepends=True)
    whole = []
    for same, a, b, c, d in _blocks(built, now):
        if same:
            whole += before[a:b]
        else:
            whole.append(_put_back("".join(now[c:d]), "".join(before[a:b]), pages))
    return "".join(whole)


def with_numbers_of_now(text: str, source: str, pages: Manifest | None = None) -> str:
    """Return the text of a notebook that was built under earlier numbers, with those of now.

    File names of pages say which page they mean. A bare number says so only in a line that is, but
    for numbers, one of the source's.

    Parameters
    ----------
    text : str
        As it was built, perhaps edited.
    source : str
        With names.
    pages : Manifest, optional
        This course's if not given.

    Returns
    -------
    str

    Raises
    ------
    ValueError
        If a line that was edited says a number: nobody knows which page it means by now.

    Examples
    --------
    >>> with_numbers_of_now("See 07_eye, lesson 07.", "See {{stem eye}}, lesson {{number eye}}.")
    'See 02_eye, lesson 02.'
    """
    pages = pages or manifest.of()
    slugs = "|".join(page.slug for page in pages.pages)
    text = re.sub(rf"\b\d\d_({slugs})\b", lambda found: pages.by_slug[found[1]].stem, text)
    lines = source.split("\n")
    built = [fill(line, pages) for line in lines]
    meant = [
        (re.compile(_with_any_number(line, pages)), now)
        for line, now in zip(lines, built, strict=True)
        if line != now
    ]
    whole = []
    for line in text.split("\n"):
        place = next((n for n, (pattern, _) in enumerate(meant) if pattern.fullmatch(line)), None)
        if place is not None:
            line = meant.pop(place)[1]  # the next one like it is meant by the next line like it
        elif line not in built and (bare := BARE_NUMBER.search(line)):
            raise ValueError(
                f"The notebook was built under earlier numbers, and a line that was edited says "
                f"{bare[0]!r}: {line.strip('# ')[:60]!r}. Write {{{{number SLUG}}}} there, with "
                "the page's slug, and bring the notebook in again."
            )
        whole.append(line)
    return "\n".join(whole)


def _with_any_number(line, pages):
    """A pattern for a line of a source as it was built under whatever numbers."""
    pattern, end = "", 0
    for found, value in _names(line, pages, "the text"):
        pattern += re.escape(line[end : found.start()])
        field = found[0].strip("{}").split()[0]
        any_of = {"number": r"\d\d", "unpadded": r"\d\d?", "count": r"\w+", "Count": r"\w+"}
        pattern += any_of.get(field, re.escape(value))
        end = found.end()
    return pattern + re.escape(line[end:])


def _put_back(text, source, pages):
    """The same within lines that changed, letter by letter."""
    built, names, end = "", [], 0
    for found, value in _names(source, pages, "the text"):
        built += source[end : found.start()]
        names.append((len(built), len(built) + len(value), found[0]))
        built += value
        end = found.end()
    built += source[end:]
    matching = [block for block in _blocks(built, text) if block[0]]
    for begin, stop, name in reversed(names):
        for _, a, b, c, _ in matching:
            if a <= begin and stop <= b:
                text = text[: c + begin - a] + name + text[c + stop - a :]
    return text


def _blocks(one, other):
    """(same or not, begin and end in one, begin and end in other), in order."""
    for tag, a, b, c, d in SequenceMatcher(None, one, other, autojunk=False).get_opcodes():
        yield tag == "equal", a, b, c, d


def _names(text, pages, where):
    for found in BRACES.finditer(text):
        name = NAME.fullmatch(found[0])
        field, slug = name.groups() if name else ("", "")
        line = f"{where}, line {text.count(chr(10), 0, found.start()) + 1}"
        if field in FIELDS:
            yield found, FIELDS[field](_page(slug, pages, line, found))
        elif field.lower() == "count" and slug == "lessons":
            words = in_words(len(pages.lessons))
            yield found, words if field == "count" else words.capitalize()
        elif _is_placeholder(text, found, where, bool(name)):
            raise ValueError(
                f"{line}: {' '.join(found[0].split())} is not known; write one of "
                f"{', '.join(FIELDS)}, one space and the name of a page, or count lessons, "
                "between {{ and }}."
            )


def _is_placeholder(text, found, where, two_words):
    """Whether double braces that are not known were meant as a name, not as LaTeX or Python."""
    before = text[: found.start()]
    first = re.match(r"\w*", found[0].strip("{} \t\n#"))[0].lower()
    known = first in FIELDS or first == "count"
    if OF_A_FORMULA.search(before) and not (known and before.endswith("}}")):
        return False
    code = not where.endswith(".toml") and not before.rpartition("\n")[2].startswith("#")
    return known or two_words or not code


def _page(slug, pages, where, found):
    if slug in manifest.RESERVED:
        return pages.lessons[0 if slug == "first" else -1]
    if slug not in pages.by_slug:
        raise ValueError(
            f"{where}: {found[0]} names no page; {manifest.FILE.name} has: "
            f"{', '.join(pages.by_slug)}."
        )
    return pages.by_slug[slug]


def in_words(number: int) -> str:
    """Return a whole number from 0 to 99 in words.

    Parameters
    ----------
    number : int

    Returns
    -------
    str

    Examples
    --------
    >>> in_words(15), in_words(21)
    ('fifteen', 'twenty-one')
    """
    if number < len(WORDS):
        return WORDS[number]
    tens, ones = divmod(number, 10)
    return TENS[tens - 2] + (f"-{WORDS[ones]}" if ones else "")
