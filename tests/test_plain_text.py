"""What other people wrote passes as data wherever a name or an answer is shown or written."""

import csv
import dataclasses
import io
import re
import tempfile
import unicodedata
from html.parser import HTMLParser
from pathlib import Path
from types import SimpleNamespace

import nbformat
import nbgrader
import numpy as np
import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st
from nbconvert.exporters import HTMLExporter
from rich.console import Console
from traitlets.config import Config

from shared_utils import cli
from shared_utils.classroom import export, grading_run, marks, roster
from shared_utils.classroom.slips import LearnerSlip
from shared_utils.clinic import cohort, cohort_file, plain_text
from shared_utils.commands import classes, consult
from shared_utils.grading.supervisor import feedback, grade_submission
from shared_utils.grading.supervisor import settings as grading_settings
from shared_utils.problems.check_records import CheckRecord
from shared_utils.reports import class_report
from shared_utils.standards import oneroster
from tests.sampling import examples

HOSTILE = (
    *("=1+1", "+1", "-1", "@sum(a1)", "\t=1", "\r=1", "＝1", "'=1", "'s Gravesande"),
    *("A [/b]", "[red]A", "A [link=x]", ":smile:", "{A}", "%s", "A\\", "A [/"),
    *("\ud800", "A\udcff", "\u202eadA", "\u2066A", "A\u2028B", "A\u2029B", "A\x85B", "A\x1b[31mB"),
    *("A\0B", "A\nB", 'A"B', "<script>alert(1)</script>", "</td>", "&amp;", "A,B;C", "A" * 10_000),
)
letters = st.text(st.characters(exclude_categories=()), max_size=40)
names = st.one_of(st.sampled_from(HOSTILE), st.builds("".join, st.lists(letters, max_size=3)))
LESSON = feedback.Lesson("01_vergence")
CALCULATED = tuple("=+-@\t\r＝＋－＠")
few = settings(
    max_examples=examples(60),
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)


def each_hostile(test):
    for name in HOSTILE:
        test = example(name)(test)
    return few(given(names)(test))


def cells_of(content):
    text = content.decode("utf-8")
    return list(csv.reader(io.StringIO(text, newline=""), strict=True))


def in_utf8(text):
    """A text as UTF-8 can hold it, the half pairs by their numbers."""
    return text.encode("utf-8", "backslashreplace").decode()


def printed(thing, width=80):
    out = io.StringIO()
    console = Console(file=out, width=width, highlight=False, soft_wrap=True, emoji=False)
    console.print(thing)
    return out.getvalue()


def obeys_nothing(line):
    """Whether a line of a terminal holds neither control letters nor turned direction."""
    return not any(
        unicodedata.category(letter) in ("Cc", "Cs", "Zl", "Zp")
        or unicodedata.bidirectional(letter) in ("RLO", "LRO", "RLE", "LRE", "RLI", "LRI", "FSI")
        for letter in line
    )


class Reader(HTMLParser):
    """Reads which tags a page has and what stands in them."""

    def __init__(self, page):
        super().__init__()
        self.tags, self.texts = [], []
        self.feed(page)

    def handle_starttag(self, tag, attrs):
        self.tags.append(tag)

    def handle_data(self, data):
        self.texts.append(data)


@each_hostile
def test_no_cell_of_a_csv_file_is_a_formula_and_each_can_be_had_back(name):
    content = plain_text.csv_text(["name", "marks"], [[name, -1.5]])
    _, (cell, number) = cells_of(content)
    assert not cell.startswith(CALCULATED)
    assert number == "-1.5"
    assert plain_text.from_csv_cell(cell) == in_utf8(name)


@each_hostile
def test_a_roster_that_was_written_is_read_as_it_was(name):
    if any(letter in name for letter in "\0\r\n"):
        return  # refused, with the line
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "roster.csv"
        person = {"id": "ada", "first_name": name, "last_name": name, "email": ""}
        roster.write_rows(file, roster.COLUMNS, [person])
        kept = in_utf8(name).strip()
        found = roster.read_roster(file)
    assert found == {"ada": {**person, "first_name": kept, "last_name": kept}}


@each_hostile
def test_a_table_in_a_terminal_shows_a_name_on_one_line_as_it_is(name):
    results = [grading_run.GradingResult(name, name, 2.0, 26.0), grading_run.GradingResult("b", "")]
    lines = printed(classes._table(results)).split("\n")
    assert len([line for line in lines if line.strip()]) == 3
    assert all(obeys_nothing(line) for line in lines)
    if name and len(name) <= classes.WIDEST and name.isprintable():
        assert name in lines[1]
    assert len(lines[1]) < 3 * 10 * classes.WIDEST  # a letter's number takes up to ten


@settings(few, max_examples=examples(20))
@example(list(HOSTILE))
@given(st.lists(names, min_size=1, max_size=5))
def test_the_report_of_a_class_holds_a_name_as_text_alone(people):
    def written(folder, named):
        ids = [f"learner{n}" for n in range(len(named))]
        one = marks.SetMarks(
            "01_vergence",
            tuple(ids),
            ("page",),
            np.array([2.0]),
            np.full((len(ids), 1), 1.0),
            np.zeros(len(ids), bool),
            (None,) * len(ids),
        )
        slips = [
            LearnerSlip(
                "01_vergence",
                learner,
                CheckRecord("step", False, f"slip-{n}", name, name, 0.0, 1.0, "", "page"),
            )
            for n, (learner, name) in enumerate(zip(ids, named, strict=True))
        ]
        of_class = marks.ClassMarks(dict(zip(ids, named, strict=True)), (one,))
        report = class_report.make(of_class, slips)
        return Reader(class_report.write(report, folder).read_text("utf-8"))

    with tempfile.TemporaryDirectory() as folder:
        plain = written(Path(folder) / "plain", ["Ada"] * len(people))
        hostile = written(Path(folder) / "hostile", people)
        assert hostile.tags == plain.tags
        text = "".join(hostile.texts)
        for name in people:
            assert plain_text.shown(name).strip() in text
        for file in (Path(folder) / "hostile").glob("*.csv"):
            for row in cells_of(file.read_bytes()):
                assert not any(cell.startswith(CALCULATED) for cell in row)


class Room:
    def __init__(self, path):
        self.path = path


@each_hostile
def test_the_report_of_a_grading_holds_a_name_as_text_alone(tmp_path, name):
    result = grading_run.GradingResult(name, name, 2.0, 26.0, notes=[name])
    file = export.write_grading_report(Room(tmp_path), "01_vergence", [result])
    _, row = cells_of(file.read_bytes())
    assert [plain_text.from_csv_cell(cell) for cell in row[:2]] == [in_utf8(name)] * 2
    assert not any(cell.startswith(CALCULATED) for cell in row)


@each_hostile
def test_a_cohort_that_was_written_is_read_with_its_labels(tmp_path, name):
    invented = dataclasses.replace(cohort.invent(1, seed=1), label=(name,))
    cohort_file.write(tmp_path / "eyes.csv", invented)
    content = (tmp_path / "eyes.csv").read_bytes()
    _, row = cells_of(content.removeprefix(b"\xef\xbb\xbf"))
    assert not row[0].startswith(CALCULATED)
    reading = cohort_file.read(tmp_path / "eyes.csv")
    assert reading.cohort.n == 1
    if name.strip() == name and name and "\n" not in name and "\r" not in name:
        assert reading.cohort.label == (in_utf8(name),)


@pytest.mark.parametrize("learner", ["=1+1", "+1", "a\tb", "\ud800"])
def test_an_id_that_a_spreadsheet_would_calculate_is_none_of_onerosters(tmp_path, learner):
    one = marks.SetMarks(
        "01_vergence",
        (learner,),
        ("page",),
        np.array([2.0]),
        np.array([[1.0]]),
        np.array([False]),
        (None,),
    )
    with pytest.raises(ValueError, match="id of a learner"):
        oneroster.write(marks.ClassMarks({learner: "Ada"}, (one,)), tmp_path / "o.zip", "c")


@each_hostile
def test_a_page_of_feedback_holds_an_answer_as_text_alone(name):
    def page(text):
        problem = {**feedback._problem("page"), "of": 2.0, "title": "1 · " + text}
        problem["seen"] = [{"holds": False, "text": text}]
        about = {"title": text, "lesson": LESSON, "problems": [problem], "notes": [text]}
        return render(
            {"feedback": {**about, "caution": ""}, "nbgrader": {"student": text, "score": 1}}
        )

    found = page(name).encode("utf-8", "replace").decode()
    assert Reader(found).tags == Reader(page("Ada")).tags


def render(resources):
    config = grading_settings.configure(Config(), ".")
    exporter = feedback.Page(config=config)
    resources["nbgrader"] |= {"max_score": 2, "late_penalty": 0}
    return exporter.from_notebook_node(nbformat.v4.new_notebook(), resources)[0]


def test_the_label_of_a_patient_obeys_nothing_in_a_terminal(tmp_path, capsys):
    file = tmp_path / "p.toml"
    file.write_text('label = "A [/b] :smile: \\u202e\\u001b[31m"\n', encoding="utf-8")
    assert cli.main(["consult", str(file)]) == 0
    shown = capsys.readouterr().out
    assert "A [/b] :smile: \\u202e\\x1b[31m" in shown
    assert consult.CAUTION.split()[0] in shown


def test_the_form_grader_asks_the_network_for_nothing_and_shows_a_name_as_text():
    config = grading_settings.configure(Config(), ".")
    # as nbgrader's extension sets them
    theirs = Path(nbgrader.__file__).parent / "server_extensions" / "formgrader" / "templates"
    config.HTMLExporter.template_name = "formgrade"
    config.HTMLExporter.extra_template_basedirs = [str(theirs)]
    resources = {
        "assignment_id": "01",
        "notebook_id": "problems",
        "submission_id": "x",
        "index": 0,
        "total": 1,
        "base_url": "",
        "student": "ada",
        "notebook_path": "",
        "last_name": "<script>alert(1)</script>",
        "first_name": "A & B",
    }
    words = nbformat.v4.new_notebook(cells=[nbformat.v4.new_markdown_cell("Let $x = 1/2$.")])
    page, _ = HTMLExporter(config=config).from_notebook_node(words, resources)
    assert "formgrade.js" in page
    assert "<math" in page
    assert "window.MathJax" in page
    assert not re.findall(r"""(?:src|href)=["'](?:https?:)?//[^"']*""", page)
    assert "&lt;script&gt;alert(1)&lt;/script&gt;, A &amp; B" in page
    assert "<script>alert" not in page


def test_half_of_a_character_in_an_answer_does_not_keep_it_from_being_marked():
    answer = nbformat.v4.new_markdown_cell("half HALF, whole 🙂, A [/b]")
    answer.metadata = {"nbgrader": {"grade_id": "why-written"}}
    content = nbformat.writes(nbformat.v4.new_notebook(cells=[answer])).replace("HALF", "\\ud800")
    spec = SimpleNamespace(trusted={"why-written": answer})
    notebook, _ = grade_submission.read_notebook(content.encode("utf-8"), spec, "ada")
    assert notebook.cells[0].source == "half ?, whole 🙂, A [/b]"
