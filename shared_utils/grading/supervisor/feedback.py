"""The page that a learner gets back: for each problem marks, slips, the way, where to reread.

It is laid out here and written by the template beside it; hidden tests were redacted before.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from nbconvert.exporters import HTMLExporter
from nbgrader.api import Gradebook
from nbgrader.preprocessors import NbGraderPreprocessor

from shared_utils import CAUTION
from shared_utils.course import manifest
from shared_utils.course.place import course_root
from shared_utils.grading.supervisor import class_rules
from shared_utils.grading.supervisor.collect_checks import records_of
from shared_utils.grading.supervisor.records import Records
from shared_utils.pages import build, cells, source

if TYPE_CHECKING:
    from typing import Any

    from nbformat import NotebookNode


class Page(HTMLExporter):
    """Writes the page, by a template of the course's own."""


class Layout(NbGraderPreprocessor):
    """Sorts the cells of a marked submission into problems, for the template."""

    def preprocess(
        self, nb: NotebookNode, resources: dict[str, Any]
    ) -> tuple[NotebookNode, dict[str, Any]]:
        where = resources["nbgrader"]
        lesson = Lesson(where["assignment"])
        problems: dict[str, dict[str, Any]] = {}
        problem: dict[str, Any] | None = None
        title = where["assignment"]
        with Gradebook(where["db_url"]) as gradebook:
            book = gradebook.find_submission_notebook(
                where["notebook"], where["assignment"], where["student"]
            )
            waiting = {grade.name for grade in book.grades if grade.needs_manual_grade}
        # nbgrader works with the class's folder as the current one
        ruled = class_rules.adjustments(Records("."), where["assignment"])
        for cell in nb.cells:
            name, kind = cells.grade_id_parts(cell)
            if name and name not in problems:
                problems[name] = _problem(name)
                problems[name]["rule"] = _rule_in_words(*ruled.get(name, ("", "")))
            problem = problems.get(name or "", problem)
            if kind == "question" and cell.source.startswith("# "):
                title = _title(cell)
            elif kind and problem is not None:
                _put(problem, kind, cell, waiting)
                for number in cells.goals(cell):
                    if number <= len(lesson.goals):
                        problem["reread"].append(lesson.goal(number))
            elif problem is not None and (cell.source.strip() or cell.get("outputs")):
                problem["beside"].append(cell)
        resources["feedback"] = {
            "title": title,
            "lesson": lesson,
            "problems": [p for p in problems.values() if p["of"] or p["beside"] or p["rule"]],
            "notes": cells.notes(nb),
            "caution": CAUTION,
        }
        return nb, resources


class Lesson:
    """What the lesson of a problem set says of its goals; empty if the set has no lesson.

    Parameters
    ----------
    name : str
        Of the set, which is the lesson's too.
    """

    def __init__(self, name: str) -> None:
        root = course_root()
        page = manifest.of(root).get(name)  # under the number that the course gives it now
        self.page, self.title = f"lessons/{page.stem if page else name}.ipynb", ""
        self.goals: list[str] = []
        self.headings: dict[int, list[str]] = {}
        text = source.lesson_text(name, root)
        if text:
            self._read(build.text_to_notebook(text))

    def goal(self, number: int) -> dict[str, Any]:
        """Return a goal in words and the headings of the parts that serve it."""
        return {"words": self.goals[number - 1], "headings": self.headings.get(number, [])}

    def _read(self, notebook):
        heading = ""
        for cell in notebook.cells:
            if cell.cell_type == "markdown":
                headings = re.findall(r"^##? +(.+)$", cell.source, flags=re.MULTILINE)
                heading = headings[0] if headings else heading
            if cells.part(cell) == "title":
                self.title = heading
            elif cells.part(cell) == "goals":
                listed = re.findall(r"^\d+\.\s+\*\*(.+?)\*\*", cell.source, flags=re.M | re.S)
                self.goals = [" ".join(words.split()) for words in listed]
            for number in cells.goals(cell):
                served = self.headings.setdefault(number, [])
                served += [heading] if heading not in served else []


def _rule_in_words(what, why):
    words = {
        class_rules.DROPPED: "This problem does not count",
        class_rules.EXTRA: "This problem is extra: its marks are added",
    }
    return f"{words[what]}: {why.rstrip('.')}." if what in words else ""


def _problem(name):
    lists = ("question", "given", "answers", "beside", "seen", "hidden", "working", "reread")
    about = {"name": name, "title": "", "rule": "", "marks": 0.0, "of": 0.0, "waiting": 0.0}
    return {**about, "comments": [], **{part: [] for part in lists}}


def _title(cell):
    line = cell.source.strip().splitlines()[0].lstrip("# ")
    return re.sub(r"\s*\([\d.]+ points?\)$", "", line)


def _put(problem, kind, cell, waiting):
    if cells.comment(cell):
        problem["comments"].append(cells.comment(cell))
    if cells.is_graded(cell):
        possible = cells.points(cell) or 0.0
        problem["of"] += possible
        problem["marks"] += cells.score(cell) or 0.0
        if cells.grade_id(cell) in waiting:
            problem["waiting"] += possible
    if kind == "question":
        problem["title"] = _title(cell)
        problem["question"].append(cell.source.partition("\n")[2])
    elif kind == "given":
        problem["given"] += [out for out in cell.outputs if out.output_type == "display_data"]
        problem["given"] += [out for out in cell.outputs if out.output_type == "execute_result"]
    elif kind in ("answer", "written"):
        problem["answers"].append(cell)
    else:
        if kind == "check":
            problem["seen"] += _lines(records_of(cell))
        else:
            problem["hidden"] += _by_step(records_of(cell))
        problem["working"] += [
            output.data["text/markdown"]
            for output in cell.outputs
            if output.output_type == "display_data" and cells.is_working(output)
        ]


def _lines(records):
    """Return records as dicts of holds and text."""
    return [{"holds": record.holds, "text": record.sentence} for record in records]


def _by_step(records):
    """Return one line for each step of a hidden test, with how often it held."""
    steps = {}
    for line in _lines(records):
        steps.setdefault(line["text"].partition(":")[0], []).append(line)
    return [
        {
            "holds": all(line["holds"] for line in tried),
            "text": next((line["text"] for line in tried if not line["holds"]), step),
            "held": sum(line["holds"] for line in tried),
            "tried": len(tried),
        }
        for step, tried in steps.items()
    ]
