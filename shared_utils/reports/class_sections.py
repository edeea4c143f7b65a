"""Parts of a class's report that the gradebook does not have: what was late, refused, ruled."""

from __future__ import annotations

import html
from dataclasses import dataclass
from itertools import groupby
from typing import TYPE_CHECKING

import numpy as np

from shared_utils.classroom import deadlines, problem_rules, similarity
from shared_utils.classroom import status as statuses
from shared_utils.reports import html_page

if TYPE_CHECKING:
    from typing import Any

    from shared_utils.classroom.folder import ClassFolder
    from shared_utils.classroom.marks import ClassMarks


@dataclass(frozen=True)
class Section:
    """A table of the report, and a file beside it.

    Attributes
    ----------
    key : str
        Name of the CSV file.
    title, note : str
        Heading, and what a reader must know, plain text.
    head : tuple of str
    rows : tuple of tuple
    page : str
        HTML that stands in place of the table on the page; the table if it is empty.
    """

    key: str
    title: str
    note: str
    head: tuple[str, ...]
    rows: tuple[tuple[Any, ...], ...]
    page: str = ""


def of_class(folder: ClassFolder, marks: ClassMarks) -> tuple[Section, ...]:
    """Return the parts of a class's report.

    Parameters
    ----------
    folder : ClassFolder
    marks : ClassMarks

    Returns
    -------
    tuple of Section
    """
    found = [statuses.status(folder, name) for name in folder.released_sets()]
    return (
        _not_marked(found),
        _received(folder, found, marks),
        _rules(folder),
        _alike(folder),
    )


def _not_marked(found):
    rows = tuple(
        (one.name, *who_and_why) for one in found for who_and_why in one.not_marked.items()
    )
    note = "What was handed in and could not be marked; it counts as no zero."
    return Section("not_marked", "Not marked", note, ("set", "id", "why"), rows)


def _received(folder, found, marks):
    zone = deadlines.zone_of(folder)
    cost = {}
    for one in marks.sets:
        penalties = np.broadcast_to(one.penalties, len(one.learners))
        cost |= {(one.name, who): float(p) for who, p in zip(one.learners, penalties, strict=True)}
    rows = []
    for one in found:
        for receipt in one.late:
            rows.append(
                (
                    one.name,
                    receipt.learner,
                    deadlines.shown(receipt.due, zone),
                    deadlines.shown(receipt.received, zone),
                    deadlines.WHO_SAYS[receipt.how],
                    deadlines.days(receipt.seconds_late),
                    cost.get((one.name, receipt.learner), 0.0),
                )
            )
    due = [f"{one.name} {deadlines.shown(one.due, zone)}" for one in found if one.due]
    note = " ".join(
        filter(
            None,
            (
                f"Due dates: {', '.join(due)}." if due else "No set has a due date.",
                deadlines.late_rule_in_words(folder),
                "What a learner's own files say of the time does not count.",
            ),
        )
    )
    head = ("set", "id", "due, with extra time", "received", "who says so", "late by", "marks lost")
    return Section("late", "Handed in late", note, head, tuple(rows))


def _rules(folder):
    now = {(each.set, each.problem): each for each in problem_rules.rules(folder)}
    rows = tuple(
        (
            *(each.set, each.problem, each.what, each.why, each.at),
            "yes" if now.get((each.set, each.problem)) == each else "no",
        )
        for each in problem_rules.history(folder)
    )
    note = (
        "Problems that were dropped or made extra after the set was released, all that was ruled."
    )
    head = ("set", "problem", "what", "why", "at, UTC", "holds now")
    return Section("problem_rules", "Dropped and extra problems", note, head, rows)


def _alike(folder):
    found = [each for name in folder.released_sets() for each in similarity.look(folder, name)]
    rows = tuple(
        (
            *(each.set, each.problem, similarity.IN_WORDS[each.kind], each.one, each.other),
            *(each.why, each.found, each.text_one, each.text_other),
        )
        for each in found
    )
    note = (
        "What two learners have in common and hardly anybody else has: for you to judge, and no "
        "verdict. It changes no mark. Those who learn together may well write alike; ask both. "
        "What was found once stays here, with the text as it was then."
    )
    head = (
        *("set", "problem", "what is alike", "id", "other id", "why", "first noticed, UTC"),
        *("answer", "other answer"),
    )
    page = "".join(
        _pair(name, pair, list(of_pair))
        for (name, pair), of_pair in groupby(found, key=lambda each: (each.set, each.pair))
    )
    return Section("answers_alike", "Answers alike", note, head, rows, page)


def _pair(name, pair, found):
    parts = [f"<h3>{html.escape(f'{name}: {pair[0]} and {pair[1]}')}</h3>"]
    for each in found:
        where = f"{each.problem}: " if each.problem else ""
        words = f"{where}{similarity.IN_WORDS[each.kind]}. {each.why} Noticed {each.found}."
        parts.append(f"<p>{html.escape(words)}</p>")
    shown = {(e.problem, e.one, e.other, e.text_one, e.text_other) for e in found if e.text_one}
    for problem, one, other, *texts in sorted(shown):
        heads = [f"{problem}, {who}" for who in (one, other)]
        parts.append(html_page.side_by_side(heads, similarity.side_by_side(*texts)))
    return "".join(parts)
