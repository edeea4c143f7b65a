"""Which goal of which lesson is shown, asked and graded: a table with no empty cell."""

import html
import re
from dataclasses import dataclass
from functools import cache

from IPython.display import HTML

from shared_utils.bank import items
from shared_utils.course import manifest
from shared_utils.pages import build, cells, source
from shared_utils.pages import goals as goals_of_pages
from shared_utils.show.figure_with_alt import TABLE

COLUMNS = ("lesson", "goal", "shown by", "asked on the page", "in the bank", "problems")


@dataclass(frozen=True)
class Goal:
    """One goal of one lesson, and where the course serves it."""

    lesson: str
    number: int
    text: str
    shown: tuple[str, ...]
    asked: tuple[str, ...]
    in_bank: tuple[str, ...]
    graded: tuple[str, ...]


def goals() -> list[Goal]:
    """Return the goals of every lesson that is there, in order.

    Returns
    -------
    list of Goal
    """
    return [goal for page in manifest.of().lessons for goal in of_lesson(page.slug)]


def table() -> HTML:
    """Return the table as HTML.

    Returns
    -------
    IPython.display.HTML
    """
    head = "".join(f"<th>{column}</th>" for column in COLUMNS)
    rows = "".join(
        "<tr>" + "".join(f"<td>{html.escape(cell)}</td>" for cell in row) + "</tr>"
        for row in _rows()
    )
    return HTML(f"{TABLE}<thead><tr>{head}</tr></thead><tbody>{rows}</tbody></table>")


def markdown() -> str:
    """Return the table as Markdown.

    Returns
    -------
    str
    """
    lines = [COLUMNS, ["---"] * len(COLUMNS), *_rows()]
    return "\n".join("| " + " | ".join(line) + " |" for line in lines) + "\n"


def _rows():
    pages = manifest.of()
    return [
        (
            pages.by_slug[goal.lesson].number,
            f"{goal.number}. {goal.text}",
            ", ".join(goal.shown),
            ", ".join(goal.asked),
            str(len(goal.in_bank)),
            ", ".join(goal.graded),
        )
        for goal in goals()
    ]


@cache
def of_lesson(lesson: str) -> tuple[Goal, ...]:
    """Return the goals of one lesson.

    Parameters
    ----------
    lesson : str
        Its slug.

    Returns
    -------
    tuple of Goal
    """
    text = source.lesson_text(lesson)
    served: dict[int, list[str]] = {}
    for part, numbers, shown in _marked(text):
        if part == "observe":
            called = re.search(r"demos?\.(\w+)\(", shown)
            name = f"slider “{_words(called[1])}”" if called else "slider"
        else:
            name = "worked example"
        for number in numbers:
            served.setdefault(number, []).append(name)
    graded: dict[int, list[str]] = {}
    for _, numbers, question in _marked(source.set_text(lesson)):
        heading = re.search(r"^##? (\d+) · ", question, re.M)
        if heading:
            for number in numbers:
                graded.setdefault(number, []).append(heading[1])
    in_bank: dict[int, list[str]] = {}
    for item in items.bank().values():
        if item.lesson == lesson:
            in_bank.setdefault(item.goal, []).append(item.key)
    on_page = set(asked_on_page(text))
    return tuple(
        Goal(
            lesson,
            number,
            words,
            tuple(dict.fromkeys(served.get(number, ()))),
            tuple(key for key in in_bank.get(number, ()) if key in on_page),
            tuple(in_bank.get(number, ())),
            tuple(graded.get(number, ())),
        )
        for number, words in goals_of_pages.goal_texts(lesson).items()
    )


def asked_on_page(text: str) -> list[str]:
    """Return the keys of the items that a page's text asks, in order."""
    return [
        key
        for call in re.findall(r"items\.ask\((.*?)\)", text, re.S)
        for key in re.findall(r'"([^"]+)"', call)
    ]


def _marked(text):
    """(part or problem, goals, source with what follows it) of the marked cells of a text."""
    if not text:
        return []
    notebook = build.text_to_notebook(text)
    marked = []
    for cell, after in zip(notebook.cells, [*notebook.cells[1:], None], strict=True):
        if cells.goals(cell):
            name = cells.part(cell) or cells.problem(cell)
            marked.append((name, cells.goals(cell), cell.source + (after.source if after else "")))
    return marked


def _words(name):
    return name.replace("_", " ")
