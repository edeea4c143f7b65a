"""Which goal of which lesson is shown, asked and graded: a table with no empty cell."""

import html
import re
from dataclasses import dataclass
from functools import cache

from IPython.display import HTML

from shared_utils.bank import items
from shared_utils.course import syllabus
from shared_utils.course.place import course_root
from shared_utils.pages import build
from shared_utils.pages import goals as goals_of_pages
from shared_utils.show.figure_with_alt import TABLE

BEGIN, END = "<!-- coverage: written by lens-course build -->", "<!-- coverage ends -->"
COLUMNS = ("lesson", "goal", "shown by", "asked on the page", "in the bank", "problems")


@dataclass(frozen=True)
class Goal:
    """One goal of one lesson, and where the course serves it."""

    stem: str
    number: int
    text: str
    shown: tuple
    asked: tuple
    in_bank: tuple
    graded: tuple


def goals():
    """Return the goals of every lesson that is there, in order.

    Returns
    -------
    list of Goal
    """
    return [goal for stem in syllabus.stems() for goal in _goals_of(stem)]


def table():
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


def markdown():
    """Return the table as Markdown.

    Returns
    -------
    str
    """
    lines = [COLUMNS, ["---"] * len(COLUMNS), *_rows()]
    return "\n".join("| " + " | ".join(line) + " |" for line in lines) + "\n"


def in_developers():
    """Return DEVELOPERS.md as it must be, with the table between its marks.

    Returns
    -------
    build.Built
    """
    path = course_root() / "DEVELOPERS.md"
    before, _, rest = path.read_text(encoding="utf-8").partition(BEGIN)
    _, _, after = rest.partition(END)
    return build.Built(path, f"{before}{BEGIN}\n\n{markdown()}\n{END}{after}")


def _rows():
    return [
        (
            goal.stem[:2],
            f"{goal.number}. {goal.text}",
            ", ".join(goal.shown),
            ", ".join(goal.asked),
            str(len(goal.in_bank)),
            ", ".join(goal.graded),
        )
        for goal in goals()
    ]


@cache
def _goals_of(stem):
    page = _cells(course_root() / "lessons" / "source" / f"{stem}.py")
    if not page:
        return ()
    served = {}
    for part, numbers, source in page:
        if part == "observe":
            name = re.search(r"demos?\.(\w+)\(", source)
            name = f"slider “{_words(name[1])}”" if name else "slider"
        else:
            name = "worked example"
        for number in numbers:
            served.setdefault(number, []).append(name)
    graded = {}
    for _, numbers, source in _cells(course_root() / "solutions" / f"{stem}.py"):
        heading = re.search(r"^##? (\d+) · ", source, re.M)
        for number in numbers if heading else ():
            graded.setdefault(number, []).append(heading[1])
    in_bank = {}
    for item in items.bank().values():
        if item.lesson == stem:
            in_bank.setdefault(item.goal, []).append(item.key)
    text = goals_of_pages.lesson_text(stem)
    on_page = {
        key
        for call in re.findall(r"items\.ask\((.*?)\)", text, re.S)
        for key in re.findall(r'"([^"]+)"', call)
    }
    return tuple(
        Goal(
            stem,
            number,
            words,
            tuple(dict.fromkeys(served.get(number, ()))),
            tuple(key for key in in_bank.get(number, ()) if key in on_page),
            tuple(in_bank.get(number, ())),
            tuple(graded.get(number, ())),
        )
        for number, words in goals_of_pages.goal_texts(stem).items()
    )


def _cells(path):
    """(part or problem, goals, source with what follows it) of the marked cells of a text."""
    if not path.is_file():
        return []
    notebook = build.text_to_notebook(path.read_text(encoding="utf-8"))
    marked = []
    for cell, after in zip(notebook.cells, [*notebook.cells[1:], None], strict=True):
        ours = cell.metadata.get("lens_course", {})
        if "goals" in ours:
            name = ours.get("part") or build.grade_id_parts(cell)[0]
            marked.append((name, ours["goals"], cell.source + (after.source if after else "")))
    return marked


def _words(name):
    return name.replace("_", " ")
