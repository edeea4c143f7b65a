"""Numbers that stand in prose, held against the code that computes them."""

import re
from functools import cache
from pathlib import Path

ROOT = Path(__file__).parent.parent


def says(stem, phrase, *values, digits=2):
    """Assert that a page says a phrase, and that the phrase gives each value as computed.

    Parameters
    ----------
    stem : str
        The page, such as ``"01_vergence"``: its lesson, its problem set and its items are searched.
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
    files = (
        ROOT / "lessons" / "source" / f"{stem}.py",
        ROOT / "solutions" / f"{stem}.py",
        ROOT / "shared_utils" / "bank" / "items" / f"{stem}.toml",
    )
    whole = "\n".join(f.read_text(encoding="utf-8") for f in files if f.is_file())
    return _plain(re.sub(r"^# ?", "", whole, flags=re.M))
