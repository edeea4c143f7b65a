"""The page of a set's mistakes: which are common, who made them, and what an answer looks like.

The same page is a file without forms, or is served beside the form grader with a box for a comment
to each group.
"""

from __future__ import annotations

import html
from collections import Counter
from itertools import groupby
from pathlib import Path
from typing import TYPE_CHECKING
from urllib.parse import quote

from shared_utils.classroom.mistakes import EACH_ITS_OWN
from shared_utils.clinic.plain_text import shown
from shared_utils.reports import html_page
from shared_utils.show import style

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from os import PathLike

    from shared_utils.classroom.mistakes import MistakeGroup

BAR_HEIGHT_PX = 18
LARGE_SHARE = 0.3
LONGEST_EXAMPLE = 4000  # characters


def write(
    groups: Sequence[MistakeGroup], name: str, file: str | PathLike[str], graded: int = 1
) -> Path:
    """Write the page as a file and return it.

    Parameters
    ----------
    groups : sequence of MistakeGroup
        Largest first; the page numbers them from 1.
    name : str
        Of the set.
    file : path-like
        Its folder is made if it is not there.
    graded : int
        How many submissions are marked.

    Returns
    -------
    pathlib.Path
    """
    path = Path(file)
    path.parent.mkdir(parents=True, exist_ok=True)
    page = html_page.page_of(f"Common mistakes in {name}", body(groups, name, graded))
    path.write_text(page, encoding="utf-8")
    return path


def body(
    groups: Sequence[MistakeGroup],
    name: str,
    graded: int,
    comments: Mapping[tuple[str, str], str] | None = None,
    books: Mapping[str, str] | None = None,
    reached: tuple[str, int, int] | None = None,
    address: str = "",
    form_grader: str = "",
    xsrf: str = "",
) -> list[str]:
    """Return the page in HTML.

    Parameters
    ----------
    groups : sequence of MistakeGroup
        Largest first.
    name : str
        Of the set.
    graded : int
        How many submissions are marked.
    comments : mapping, optional
        (learner, problem) → what stands in the gradebook as a person's comment.
    books : mapping, optional
        Learner → id of the notebook in the form grader.
    reached : (str, int, int), optional
        Key of the group that was just written to, how many were reached, how many are in it.
    address : str
        Where the pages of mistakes begin on the server; no forms if empty.
    form_grader : str
        Where the form grader begins.
    xsrf : str
        Hidden field of a form, in HTML.

    Returns
    -------
    list of str
    """
    parts = [links(address, form_grader, name) if address else ""]
    parts.append(f"<h1>Common mistakes in {html.escape(name)}</h1>")
    if not graded:
        return [*parts, "<p>Nothing of this set is marked yet: grade it first.</p>"]
    if not groups:
        return [*parts, "<p>No wrong answers were found in what is marked of this set.</p>"]
    how = (
        "Write a comment under a group, and it goes below what a person wrote to each learner in it"
        if address
        else f"To write one comment to a whole group: <code>lens-course class mistakes "
        f'{html.escape(name)} --group 1 --comment "…"</code>'
    )
    parts += [
        f"<p>{_count(graded, 'submission')} marked; {_count(len(groups), 'group')} of wrong "
        "answers, by what the answers do. Problems with the largest group stand first. "
        f"{how}.</p>",
        "<p>This page names learners: it is for the instructor alone. Nothing was sent.</p>",
    ]
    numbered = list(enumerate(groups, 1))
    largest = {g.problem: n for n, g in reversed(numbered)}
    numbered.sort(key=lambda each: (largest[each[1].problem], each[0]))
    for problem, members in groupby(numbered, key=lambda each: each[1].problem):
        of_problem = list(members)
        parts.append(_overview(problem, of_problem))
        for number, group in of_problem:
            parts.append("<section class='group'>")
            parts += _group(number, group, comments or {}, books or {}, form_grader)
            if address:
                parts.append(_form(number, group, reached, f"{address}/{quote(name)}", xsrf))
            parts.append("</section>")
    return parts


def links(address: str, form_grader: str, name: str = "") -> str:
    """Return the links of a served page to the other sets and to the form grader."""
    where = (
        f"{form_grader}/gradebook/{quote(name)}/problems" if name else f"{form_grader}/gradebook"
    )
    return (
        f"<nav><a href='{html.escape(address)}'>All sets</a> · <a href='{html.escape(where)}'>"
        "Submissions in the form grader</a></nav>"
    )


def _overview(problem, numbered):
    """The heading of a problem, what to see in its plot in words, and the plot."""
    _, first = numbered[0]
    of = first.answered
    counts = [len(group.learners) for _, group in numbered]
    # a learner may be in two groups of a problem, in another step each
    wrong = len({learner for _, group in numbered for learner in group.learners})
    share = counts[0] / of if of else 0.0
    advice = (
        " That is worth a word to the whole class."
        if of >= 5 and share >= LARGE_SHARE and first.what != EACH_ITS_OWN
        else ""
    )
    rows = []
    for (number, group), count in zip(numbered, counts, strict=True):
        percent = 100 * count / of if of else 0.0
        bar = (
            f"<svg class='bar' width='100%' height='{BAR_HEIGHT_PX}' aria-hidden='true'>"
            f"<rect width='100%' height='100%' fill='#eee'/>"
            f"<rect width='{percent:.1f}%' height='100%' fill='{style.BLUE}'/></svg>"
        )
        rows.append(
            f"<tr><th scope='row'><a href='#group-{group.key}'>Group {number}</a></th>"
            f"<td class='what'>{_text(group.what, 140)}</td><td class='plot'>{bar}"
            f"{count} of {of} ({percent:.0f} %)</td></tr>"
        )
    return (
        f"<h2>{_text(problem)}</h2><p>{wrong} of {_count(of, 'learner')} who answered "
        f"{'has' if wrong == 1 else 'have'} something wrong. The largest group has {counts[0]}: "
        f"{_text(first.what, 140).rstrip('.')}.{advice}</p>"
        "<table class='bars'><caption>Share of those who answered, for each group; a full bar is "
        "everybody.</caption><thead><tr><th scope='col'>group</th><th scope='col'>what the "
        f"answers do</th><th scope='col'>learners</th></tr></thead><tbody>{''.join(rows)}</tbody>"
        "</table>"
    )


def _group(number, group, comments, books, form_grader):
    step = f", {_text(group.step)}" if group.step else ""
    count = len(group.learners)
    names = []
    for learner in group.learners:
        shown_name = _text(learner, 80)
        if learner in books:
            address = f"{form_grader}/submissions/{quote(books[learner])}/"
            shown_name = f"<a href='{html.escape(address)}'>{shown_name}</a>"
        names.append(f"<li>{shown_name}</li>")
    yield f"<h3 id='group-{group.key}'>Group {number}: {_text(group.problem)}{step}</h3>"
    yield f"<p>{_text(group.what)}</p>"
    example = group.example[:LONGEST_EXAMPLE]
    yield f"<p>The answer of {_text(group.learners[0], 80)}:</p>"
    yield f"<pre tabindex='0'>{html.escape(example) or '(empty)'}</pre>"
    if len(group.points) > 1:
        yield _plot(group)
    opened = " open" if count <= 12 else ""
    yield (
        f"<details{opened}><summary>{_count(count, 'learner')}</summary>"
        f"<ul class='who'>{''.join(names)}</ul></details>"
    )
    there = Counter(
        comments[learner, group.problem]
        for learner in group.learners
        if (learner, group.problem) in comments
    )
    for text, times in there.most_common():
        yield (
            f"<div class='comment'><p>Comment that {times} of {count} "
            f"{'has' if times == 1 else 'have'} now:</p><blockquote>{html.escape(text)}"
            "</blockquote></div>"
        )


def _plot(group):
    """The answers of a group against the number that each was given, beside what is right."""
    width, height, left, bottom = 340, 220, 58, 36
    xs = [point[0] for point in group.points]
    ys = [y for point in group.points for y in point[1:]]
    low_x, high_x, low_y, high_y = min(xs), max(xs), min(ys), max(ys)

    def place(x, y):
        across = (x - low_x) / ((high_x - low_x) or 1)
        up = (y - low_y) / ((high_y - low_y) or 1)
        return left + 8 + across * (width - left - 24), 12 + (1 - up) * (height - bottom - 24)

    marks = []
    for x, y, right in group.points:
        a, b = place(x, right)
        marks.append(f"<circle cx='{a:.1f}' cy='{b:.1f}' r='5' fill='{style.BLUE}'/>")
        a, b = place(x, y)
        marks.append(
            f"<path d='M{a - 5:.1f} {b - 5:.1f}l10 10m0-10l-10 10' stroke='{style.VERMILION}' "
            "stroke-width='2.5'/>"
        )
    base = height - bottom
    words = []
    for y in dict.fromkeys((high_y, low_y)):
        at = place(low_x, y)[1] + 4
        words.append(f"<text x='{left - 6}' y='{at:.0f}' text-anchor='end'>{_number(y)}</text>")
    for x, anchor in ((low_x, "start"), (high_x, "end")):
        at = place(x, low_y)[0]
        words.append(
            f"<text x='{at:.0f}' y='{base + 15}' text-anchor='{anchor}'>{_number(x)}</text>"
        )
    given = _text(group.given.replace("_", " "), 30)
    words.append(
        f"<text x='{(left + width) / 2:.0f}' y='{height - 4}' text-anchor='middle'>{given}</text>"
    )
    below = sum(y < right for _, y, right in group.points)
    above = sum(y > right for _, y, right in group.points)
    return (
        "<figure><figcaption>What the answers give (crosses) and what is right (discs), for the "
        f"number that each learner was given, {given}: {above} too high, {below} too low."
        f"</figcaption><svg class='points' viewBox='0 0 {width} {height}' width='{width}' "
        f"height='{height}' aria-hidden='true'>"
        f"<path d='M{left} 4V{base}H{width - 4}' fill='none' stroke='#555'/>"
        f"{''.join(marks)}{''.join(words)}</svg></figure>"
    )


def _number(value):
    return f"{value:.4g}".replace("-", "−")


def _form(number, group, reached, action, xsrf):
    came = ""
    count = len(group.learners)
    if reached and reached[0] == group.key:
        rest = reached[2] - reached[1]
        had = f" The other {rest} had it already or have no such answer." if rest > 0 else ""
        came = (
            f"<p class='said' role='status'>The comment was added for {reached[1]} of "
            f"{reached[2]}.{had} "
            "The learners see it once their feedback is written anew: "
            f"<code>lens-course class feedback {html.escape(group.set)}</code></p>"
        )
    return (
        f"{came}<form method='post' action='{html.escape(action)}'>{xsrf}"
        f"<input type='hidden' name='group' value='{group.key}'>"
        f"<label for='comment-{group.key}'>Comment to all in group {number} (Markdown)</label>"
        f"<textarea id='comment-{group.key}' name='comment' rows='3' maxlength='5000' required>"
        f"</textarea><button>Add the comment for {_count(count, 'learner')}</button></form>"
    )


def _text(text, longest=2000):
    """A text of a learner's or a check's for a page: one line, escaped, never endless."""
    return html.escape(shown(str(text), longest))


def _count(number, what):
    return f"{number} {what}" if number == 1 else f"{number} {what}s"
