"""A free font carried inside a page, so that it has the same lines wherever it is printed.

DejaVu Sans comes with matplotlib, with its licence beside it, which allows a part of it in a
document: no more than the letters of the page and those of a typewriter go into it.
"""

import base64
import io
import string
from functools import lru_cache
from pathlib import Path

import matplotlib
from fontTools import subset

FAMILY = "Sheet Sans"
"""Name in CSS: one that no machine has, so that never another version of the font stands in."""

_FOLDER = Path(matplotlib.get_data_path()) / "fonts" / "ttf"
_FILES = {"normal": "DejaVuSans.ttf", "bold": "DejaVuSans-Bold.ttf"}
_NAMES = [*range(7), 13, 14]  # with the copyright and the licence, which have to stay
_ALWAYS = string.ascii_letters + string.digits + string.punctuation + " "
"""In every part of the font, so that nearly all pages share one."""


def css(text: str) -> str:
    """Return the rules of CSS that bring the letters of a text along.

    Parameters
    ----------
    text : str
        Whatever the page shows; a letter that the font does not have is left to the reader's
        machine.

    Returns
    -------
    str
        Two ``@font-face`` rules, normal and bold, with the font as WOFF in base64.

    Examples
    --------
    >>> rules = css("Which lens for my eye?")
    >>> rules.count("@font-face"), "base64," in rules
    (2, True)
    >>> len(rules) < 40_000
    True
    """
    letters = "".join(sorted({*_ALWAYS, *(letter for letter in text if letter.isprintable())}))
    return "\n".join(_rule(weight, letters) for weight in _FILES)


@lru_cache(maxsize=8)
def _rule(weight, letters):
    options = subset.Options(
        flavor="woff",
        hinting=False,
        layout_features=[],
        name_IDs=_NAMES,
        notdef_outline=True,
        recalc_timestamp=False,
    )
    options.drop_tables += ["FFTM"]  # the times at which its designer's program ran
    written = io.BytesIO()
    with subset.load_font(str(_FOLDER / _FILES[weight]), options) as font:
        cutter = subset.Subsetter(options)
        cutter.populate(text=letters)
        cutter.subset(font)
        subset.save_font(font, written, options)
    data = base64.b64encode(written.getvalue()).decode("ascii")
    return (
        f'@font-face {{ font-family: "{FAMILY}"; font-weight: {weight}; '
        f'src: url("data:font/woff;base64,{data}") format("woff"); }}'
    )
