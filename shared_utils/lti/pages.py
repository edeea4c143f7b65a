"""The plain pages that a browser is shown; what others wrote is escaped, and no script runs."""

from __future__ import annotations

from html import escape
from typing import TYPE_CHECKING

from shared_utils import CAUTION
from shared_utils.clinic.plain_text import shown

if TYPE_CHECKING:
    from shared_utils.lti.launch import Choice, Start

STYLE = (
    "body{font:1.1rem/1.5 sans-serif;max-width:40rem;margin:2rem auto;padding:0 1rem;"
    "color:#111;background:#fff}button{font:inherit;padding:.5rem 1rem;margin:.25rem 0}"
)


def page(title: str, *parts: str) -> str:
    """Return a page; the title is escaped, the parts are HTML already."""
    return (
        '<!doctype html><html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width">'
        f"<title>{text(title)}</title><style>{STYLE}</style></head>"
        f"<body><main><h1>{text(title)}</h1>{''.join(parts)}"
        f"<p><small>{text(CAUTION)}</small></p></main></body></html>"
    )


def text(words: str) -> str:
    """Return a text as HTML that shows it and does nothing else.

    Examples
    --------
    >>> text("<b>Ada")
    '&lt;b&gt;Ada'
    """
    return escape(shown(words))


def refusal(sentence: str) -> str:
    """Return the page of a launch that was refused."""
    return page("The course was not started", f"<p>{text(sentence)}</p>")


def how_to_open(start: Start) -> str:
    """Return the page where the class has no hub: how a set is opened."""
    if start.set_name:
        words = f"Open the problem set {start.set_name} on your own machine with this command:"
        command = f"lens-course open {start.set_name}"
    else:
        words, command = (
            "Open the course on your own machine with this command:",
            "lens-course open",
        )
    parts = [f"<p>{text(words)}</p><pre>{text(command)}</pre>"]
    if start.learner:
        parts.append(f"<p>Your id in this class is {text(start.learner)}.</p>")
    return page("Choosing a lens", *parts)


def choice(given: Choice) -> str:
    """Return the page on which an instructor chooses what a link leads to."""
    forms = [
        f'<form method="post" action="{escape(given.return_url)}">'
        f'<input type="hidden" name="JWT" value="{escape(reply)}">'
        f"<button>{text(title)}</button></form>"
        for title, reply in given.replies
    ]
    return page("What shall the link open?", *forms)
