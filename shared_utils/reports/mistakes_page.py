"""The page of a set's mistakes: which are common, who made them, and what an answer looks like."""

from __future__ import annotations

import html
from pathlib import Path
from typing import TYPE_CHECKING

from shared_utils.reports import html_page
from shared_utils.show import class_report as figures

if TYPE_CHECKING:
    from collections.abc import Sequence
    from os import PathLike

    from shared_utils.classroom.mistakes import MistakeGroup


def write(groups: Sequence[MistakeGroup], name: str, file: str | PathLike[str]) -> Path:
    """Write the page and return it.

    Parameters
    ----------
    groups : sequence of MistakeGroup
        Largest first; the page numbers them from 1.
    name : str
        Of the set.
    file : path-like
        Its folder is made if it is not there.

    Returns
    -------
    pathlib.Path
    """
    path = Path(file)
    path.parent.mkdir(parents=True, exist_ok=True)
    body = [
        f"<h1>Mistakes in {html.escape(name)}</h1>",
        f"<p>{len(groups)} groups of wrong answers, by what the answers do, the largest first. To "
        f"write one comment to a whole group: <code>lens-course class mistakes "
        f'{html.escape(name)} --group 1 --comment "…"</code></p>',
        "<p>This page names learners: it is for the instructor alone. Nothing was sent.</p>",
    ]
    if groups:
        body.append(figures.mistake_groups(groups)._repr_html_())
    for number, group in enumerate(groups, 1):
        where = ", ".join(filter(None, (group.problem, group.step)))
        count = len(group.learners)
        body += [
            f"<h2>{number} · {html.escape(where)}</h2>",
            f"<p>{html.escape(group.what)}</p>",
            f"<p>{count} {'learner' if count == 1 else 'learners'}: "
            f"{html.escape(', '.join(group.learners))}</p>",
            f"<pre>{html.escape(group.example)}</pre>",
        ]
    path.write_text(html_page.page_of(f"Mistakes in {name}", body), encoding="utf-8")
    return path
