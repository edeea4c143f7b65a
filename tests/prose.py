"""Numbers that stand in prose, held against the code that computes them."""

import re
from functools import cache

from shared_utils.bank import items
from shared_utils.pages import source


def says(stem, phrase, *values, digits=2):
    """Assert that a page says a phrase, and that the phrase gives each value as computed.

    Parameters
    ----------
    stem : str
        The page's slug: its lesson, its problem set and its items are searched.
    phrase : str
        As it stands there; white space does not matter.
    *values : float
        What the code gives; each, rounded, must stand in the phrase, without its sign.
    digits : int
        Decimals to round to.
    """
    assert _plain(phrase) in _text(stem), f"{stem} does not say: {phrase}"
    written = re.findall(r"\d+(?:\.\d+)?", phrase.replace("\u202f", "").replace(",", ""))
    for value in values:
        wanted = f"{abs(value):.{digits}f}"
        assert wanted in written, f"{phrase!r} should give {wanted}"


def _plain(text):
    return " ".join(text.split())


@cache
def _text(stem):
    own = items.BANK / f"{stem}.toml"
    texts = [source.lesson_text(stem), source.set_text(stem)]
    texts += [own.read_text(encoding="utf-8")] if own.is_file() else []
    whole = "\n".join(texts)
    return _plain(re.sub(r"^# ?", "", whole, flags=re.M))
