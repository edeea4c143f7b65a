"""The item bank: single-best-answer items, each wrong option tied to its slip.

An item is shown as plain HTML whose answers open with a click or a key, so that it works in a
page that is printed, exported or read aloud.
"""

import html
import tomllib
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from IPython.display import HTML

BANK = Path(__file__).parent / "items"


@dataclass(frozen=True)
class Option:
    """One answer: its text, whether it is the key, and what is said to who picks it."""

    text: str
    feedback: str
    key: bool = False


@dataclass(frozen=True)
class Item:
    """One question of the bank."""

    key: str
    lesson: str
    goal: int
    stem: str
    options: tuple
    source: str

    def __post_init__(self):
        keys = sum(option.key for option in self.options)
        if keys != 1 or len(self.options) < 3:
            raise ValueError(
                f"Item {self.key!r} has {len(self.options)} options of which {keys} are keyed; "
                "give at least three options and key exactly one."
            )


@cache
def bank():
    """Return every item by its key, in the order of the files.

    Returns
    -------
    dict of str to Item

    Raises
    ------
    ValueError
        If an item lacks a field, or two share a key; the message names the file and the item.
    """
    items = {}
    for path in sorted(BANK.glob("*.toml")):
        for entry in tomllib.loads(path.read_text(encoding="utf-8"))["item"]:
            try:
                options = tuple(Option(**option) for option in entry.pop("options"))
                item = Item(lesson=path.stem, options=options, **entry)
            except (KeyError, TypeError) as error:
                raise ValueError(
                    f"{path.name}, item {entry.get('key', '?')!r}: {error}; an item has key, goal, "
                    "stem, options and source."
                ) from error
            if item.key in items:
                raise ValueError(f"{path.name}: the key {item.key!r} stands twice; rename one.")
            items[item.key] = item
    return items


def ask(*keys):
    """Return the named items ready to show; choosing an answer opens its feedback.

    Parameters
    ----------
    *keys : str
        Keys of items in the bank.

    Returns
    -------
    IPython.display.HTML
    """
    missing = [key for key in keys if key not in bank()]
    if missing:
        raise ValueError(f"No item in the bank is called {missing[0]!r}; see practice/items.")
    return HTML("\n".join(_shown(n, bank()[key]) for n, key in enumerate(keys, start=1)))


def _shown(number, item):
    answers = "".join(
        f"<li><details><summary>{html.escape(option.text)}</summary>"
        f"<p><strong>{'Yes.' if option.key else 'Not this.'}</strong> "
        f"{html.escape(option.feedback)}</p></details></li>"
        for option in item.options
    )
    return (
        f"<section><p><strong>{number}.</strong> {html.escape(item.stem)}</p>"
        f'<ol style="list-style-type: upper-alpha">{answers}</ol></section>'
    )
