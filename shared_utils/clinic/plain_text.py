"""Text that other people wrote, such as names and answers, passed on as data and as nothing else.

A spreadsheet calculates a cell that begins with =, +, - or @; a terminal and a page obey control
letters. Every CSV file that the course writes is written here, and what a terminal or a page shows
of such a text goes through ``shown``.

Sources
-------
OWASP, CSV Injection (owasp.org/www-community/attacks/CSV_Injection): the letters with which a
formula begins, and the apostrophe before them. Unicode Standard Annex 9: the letters that turn the
direction of writing.
"""

from __future__ import annotations

import csv
import io
import re
import unicodedata
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

# the wide forms count as formulas in spreadsheets of East Asia
_FORMULA = re.compile(r"'*[=+\-@\t\r\n＝＋－＠]")
_TURNS_DIRECTION = "\u061c\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069"
_NO_TEXT = {"Cc", "Cs", "Zl", "Zp"}  # control letters, half pairs, ends of lines and paragraphs


def csv_text(
    columns: Sequence[str],
    rows: Iterable[Sequence[object]],
    *,
    line_end: str = "\n",
    exact: bool = False,
) -> bytes:
    """Return a table as the bytes of a CSV file, UTF-8, that a spreadsheet calculates nothing of.

    A text that begins as a formula does gets an apostrophe in front, which a spreadsheet takes for
    "this is text"; ``from_csv_cell`` takes it away again. Numbers stay numbers. Half of a surrogate
    pair, which UTF-8 cannot hold, is written as its number, such as ``\\ud800``.

    Parameters
    ----------
    columns : sequence of str
    rows : iterable of sequence
        Cells in the order of the columns; None and nan are blank.
    line_end : str
    exact : bool
        Whether texts stay letter for letter, for a program that reads them by a standard.

    Returns
    -------
    bytes

    Examples
    --------
    >>> csv_text(["name", "marks"], [["=1+1", -2.0], ["Ada", 3]])
    b"name,marks\\n'=1+1,-2.0\\nAda,3\\n"
    """
    lines = []
    for row in (columns, *rows):
        blank = ["" if cell is None or cell != cell else cell for cell in row]
        line = io.StringIO(newline="")
        # before Python 3.13 only the letters of its own end of line put a cell into quotes
        writer = csv.writer(line, lineterminator="\r\n")
        writer.writerow(blank if exact else [csv_cell(cell) for cell in blank])
        lines.append(line.getvalue().removesuffix("\r\n") + line_end)
    return "".join(lines).encode("utf-8", "backslashreplace")


def csv_cell(cell: object) -> object:
    """Return a cell so that no spreadsheet calculates it; a number stays as it is.

    Examples
    --------
    >>> csv_cell("@sum(a1)"), csv_cell(-1.5), csv_cell("Ada")
    ("'@sum(a1)", -1.5, 'Ada')
    """
    return f"'{cell}" if isinstance(cell, str) and _FORMULA.match(cell) else cell


def from_csv_cell(cell: str) -> str:
    """Return the text that ``csv_cell`` was given.

    Examples
    --------
    >>> from_csv_cell("'=1+1"), from_csv_cell("'s Gravesande")
    ('=1+1', "'s Gravesande")
    """
    return cell[1:] if cell.startswith("'") and _FORMULA.match(cell) else cell


def shown(text: str, at_most: int = 0) -> str:
    r"""Return a text on one line, with its control letters as their numbers.

    Parameters
    ----------
    text : str
    at_most : int
        Letters after which it is cut off with an ellipsis; never if 0.

    Returns
    -------
    str

    Examples
    --------
    >>> print(shown("Ada\x1b[31m \u202eenoL"))
    Ada\x1b[31m \u202eenoL
    >>> shown("Adalberta", at_most=5)
    'Adal…'
    """
    if at_most and len(text) > at_most:
        text = text[: at_most - 1] + "…"
    return "".join(
        letter.encode("unicode_escape").decode()
        if letter in _TURNS_DIRECTION or unicodedata.category(letter) in _NO_TEXT
        else letter
        for letter in text
    )
