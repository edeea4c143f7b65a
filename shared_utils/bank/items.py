"""The item bank: questions of three kinds, each wrong answer tied to its slip.

=========== ==========================================================================
``choice``  single best answer of four, with feedback for each
``number``  a number with its unit
``order``   steps to be put into their order
=========== ==========================================================================

Where a number is asked, be it to write or to choose, the numbers of the question are drawn anew
each time, and key and wrong answers are computed from them. Any item may show a figure to read,
drawn from the same numbers. An item is shown on a page as plain HTML whose answers open with a
click or a key, so that it works in a page that is printed, exported or read aloud.
"""

import html
import math
import tomllib
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from IPython.display import HTML

from shared_utils.bank.posed import pose
from shared_utils.course import manifest
from shared_utils.pages import source

BANK = Path(__file__).parent / "items"
KINDS = ("choice", "number", "order")
DIFFICULTIES = (1, 2, 3)
ON_PAGE = 0  # the seed of the numbers that stand on a page


@dataclass(frozen=True)
class Option:
    """One answer: its text, whether it is the key, and what is said to who picks it."""

    text: str
    feedback: str
    key: bool = False


@dataclass(frozen=True)
class Slip:
    """A wrong number that a named wrong path gives, and what is said to who takes it."""

    name: str
    feedback: str


@dataclass(frozen=True)
class Item:
    """One question of the bank.

    ``draw`` gives the range (low, high, step) of each number of the question; ``compute`` names the
    function in ``bank/values`` that takes them and gives ``answer``, a number for each
    slip, and whatever the texts say besides. Texts name numbers as ``{answer:+.2f}``.
    ``figure_with`` names those that the figure is drawn with.
    """

    key: str
    lesson: str
    goal: int
    stem: str
    source: str
    kind: str = "choice"
    difficulty: int = 2
    options: tuple[Option, ...] = ()
    draw: dict[str, list[float]] | None = None
    compute: str = ""
    unit: str = ""
    within: float = 0.0
    digits: int = 2
    slips: tuple[Slip, ...] = ()
    steps: tuple[str, ...] = ()
    working: str = ""
    figure: str = ""
    figure_with: tuple[str, ...] = ()

    def __post_init__(self):
        if self.kind not in KINDS:
            raise ValueError(f"Item {self.key!r}: the kind is one of {', '.join(KINDS)}.")
        if self.difficulty not in DIFFICULTIES:
            raise ValueError(f"Item {self.key!r}: the difficulty is 1 easy, 2 middling or 3 hard.")
        keyed = sum(option.key for option in self.options)
        if self.kind == "choice" and (keyed != 1 or len(self.options) < 3):
            raise ValueError(
                f"Item {self.key!r} has {len(self.options)} options of which {keyed} are keyed; "
                "give at least three options and key exactly one."
            )
        if self.kind == "number" and not (self.compute and self.within > 0 and self.working):
            raise ValueError(
                f"Item {self.key!r} asks for a number; give compute, within and working."
            )
        if self.draw and not self.compute:
            raise ValueError(f"Item {self.key!r} draws numbers; give compute, which takes them.")
        if self.kind == "order" and not (len(self.steps) >= 3 and self.working):
            raise ValueError(f"Item {self.key!r} asks for an order; give three steps and working.")


@cache
def bank() -> dict[str, Item]:
    """Return every item by its key, in the order of the lessons.

    Returns
    -------
    dict of str to Item

    Raises
    ------
    ValueError
        If an item lacks a field, two share a key, or a file is not a lesson's; the message names
        the file and the item.
    """
    items = {}
    pages = manifest.of()
    paths = {path.stem: path for path in sorted(BANK.glob("*.toml"))}
    for stem in paths:
        if stem not in pages.by_slug or not pages.by_slug[stem].part:
            raise ValueError(
                f"{stem}.toml belongs to no lesson of {manifest.FILE.name}; rename it."
            )
    for path in (paths[page.slug] for page in pages.lessons if page.slug in paths):
        text = source.fill(path.read_text(encoding="utf-8"), pages, path.name)
        for entry in _entries(path, text):
            try:
                options = tuple(Option(**option) for option in entry.pop("options", ()))
                slips = tuple(Slip(**slip) for slip in entry.pop("slips", ()))
                entry |= {name: tuple(entry.get(name, ())) for name in ("steps", "figure_with")}
                item = Item(lesson=path.stem, options=options, slips=slips, **entry)
            except ValueError as error:
                raise ValueError(f"{path.name}: {error}") from error
            except (KeyError, TypeError) as error:
                raise ValueError(
                    f"{path.name}, item {entry.get('key', '?')!r}: {error}; an item has key, goal, "
                    "stem, source and what its kind asks for."
                ) from error
            if item.key in items:
                raise ValueError(f"{path.name}: the key {item.key!r} stands twice; rename one.")
            items[item.key] = item
    return items


def _entries(path, text):
    try:
        entries = tomllib.loads(text).get("item", [])
    except tomllib.TOMLDecodeError as error:
        raise ValueError(f"{path.name} is no TOML: {error}.") from error
    if not isinstance(entries, list) or not all(isinstance(entry, dict) for entry in entries):
        raise ValueError(f"{path.name}: begin each item with a line [[item]].")
    return entries


def ask(*keys: str) -> HTML:
    """Return the named items ready to show; choosing an answer opens its feedback.

    Parameters
    ----------
    *keys : str
        Keys of items in the bank, of the kind ``choice``.

    Returns
    -------
    IPython.display.HTML
    """
    missing = [key for key in keys if key not in bank()]
    if missing:
        raise ValueError(f"No item in the bank is called {missing[0]!r}; see bank/items.")
    return HTML("\n".join(_shown(n, bank()[key]) for n, key in enumerate(keys, start=1)))


ROUND = 8
ENOUGH = 10  # a lesson with fewer questions to choose from would repeat one from round to round
STEP = 7  # about this many lessons on, from one question of a mixed round to the next


def interleaved(turn: int) -> list[str]:
    """Return keys of a mixed round: one of each of eight lessons, no two neighbours of one part.

    Parameters
    ----------
    turn : int
        1, 2, ...: other items and the other half of the lessons; from the third on, harder ones.

    Returns
    -------
    list of str
    """
    lessons: dict[str, list[str]] = {}
    for item in bank().values():
        if item.kind == "choice" and (turn < 3 or item.difficulty >= 2):
            lessons.setdefault(item.lesson, []).append(item.key)
    enough = {lesson: keys for lesson, keys in lessons.items() if len(keys) >= ENOUGH}
    if len(enough) >= ROUND:
        lessons = enough
    order = list(lessons)
    step = _alternating_step(order)
    places = range(ROUND * (turn - 1), ROUND * turn)
    picked = [order[step * place % len(order)] for place in places]
    # steps through each lesson's list that mix words, numbers and figures and repeat no item
    return [
        lessons[lesson][(7 * turn + 2 * place) % len(lessons[lesson])]
        for lesson, place in zip(dict.fromkeys(picked), places, strict=False)
    ]


def _alternating_step(order):
    """How many lessons on each time, round and round: all have their turn, and parts alternate."""
    pages, count = manifest.of().by_slug, len(order)
    parts = [pages[lesson].part for lesson in order]
    steps = [n for n in range(1, count) if math.gcd(n, count) == 1]
    steps.sort(key=lambda n: abs(n - STEP))
    alternating = (
        n for n in steps if all(parts[i] != parts[(i + n) % count] for i in range(count))
    )
    return next(alternating, (steps or [1])[0])


def _shown(number, item):
    posed = pose(item, ON_PAGE)
    answers = "".join(
        f"<li><details><summary>{html.escape(option.text)}</summary>"
        f"<p><strong>{'Yes.' if option.key else 'Not this.'}</strong> "
        f"{html.escape(option.feedback)}</p></details></li>"
        for option in posed.options
    )
    figure = posed.shown_figure()
    picture = figure._repr_html_() if figure is not None else ""
    return (
        f"<section><p><strong>{number}.</strong> {html.escape(posed.stem)}</p>{picture}"
        f'<ol style="list-style-type: upper-alpha">{answers}</ol></section>'
    )
