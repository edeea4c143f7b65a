"""What every page of a report is set in: one file without scripts, and the tables in it."""

from __future__ import annotations

import html
from pathlib import Path
from typing import TYPE_CHECKING

from shared_utils import CAUTION

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

STYLE = Path(__file__).parent / "class_report.css"


def page_of(title: str, body: Iterable[str]) -> str:
    """Return a whole page.

    Parameters
    ----------
    title : str
        Plain text.
    body : iterable of str
        HTML.

    Returns
    -------
    str
    """
    caution = f"<p>{html.escape(CAUTION)}</p>"
    return (
        '<!doctype html>\n<html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<title>{html.escape(title)}</title><style>{STYLE.read_text(encoding='utf-8')}</style>"
        f"</head><body><main>{caution}{''.join(body)}{caution}</main></body></html>\n"
    )


def side_by_side(heads: Sequence[str], rows: Iterable[tuple[str, str, bool]]) -> str:
    """Return two texts line beside line as a table; equal lines are marked by a sign, too.

    Parameters
    ----------
    heads : sequence of str
        Whose the two are, plain text.
    rows : iterable of (str, str, bool)
        Line, line, and whether they are the same.

    Returns
    -------
    str
    """
    body = []
    for *lines, same in rows:
        row = "".join(f"<td><pre>{html.escape(line)}</pre></td>" for line in lines)
        sign, mark = ("=", " class='same'") if same else ("", "")
        body.append(f"<tr{mark}><td>{sign}</td>{row}</tr>")
    named = "".join(f"<th scope='col'>{html.escape(head)}</th>" for head in heads)
    return (
        "<div class='scroll' tabindex='0'><table class='pair'><thead><tr>"
        f"<th scope='col'>same</th>{named}</tr></thead><tbody>{''.join(body)}</tbody></table></div>"
    )
