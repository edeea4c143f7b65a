"""The slips of a class, from what was handed in to what an instructor reads, by the command line.

Which slips and marks must come out is worked out by hand from the texts of the problem sets 01 and
02; the marks of set 01 are those that test_class names.
"""

import csv
import json
import re

import nbformat
import pytest

from shared_utils import cli
from shared_utils.grading.supervisor import settings
from shared_utils.problems.check_records import MIME
from shared_utils.standards import xapi
from tests.filling import filled, save, solution
from tests.marking import REPO

FIRST, SECOND = "01_vergence", "02_eye"
FORGED = {
    "records": [
        {"step": "forged", "holds": False, "slip": "forged", "sentence": "a forged sentence"},
        {"step": "forged", "holds": True, "earned": 30.0, "possible": 30.0},
    ]
}
FORGERY = f"""\
from IPython.display import display
from shared_utils.problems import checks
display({{{MIME!r}: {FORGED!r}, "text/plain": "forged"}}, raw=True)
checks._publish([checks.CheckRecord("forged", False, "forged", "a forged sentence")])
checks.display = lambda *_, **__: None
print("✗ forged: Likely slip: a forged sentence")
"""
PAGE = "def page_vergence_d(distance_cm):\n    "
AQUEOUS = "def vergence_in_aqueous_d(distance_mm):\n    "
SURFACE = "def corneal_front_power_d(radius_mm, index_behind):\n    "
POINTS = (
    "def far_point_cm(refraction_d):\n    return 100 / refraction_d\n\n\n"
    "def near_point_cm(refraction_d, amplitude_d):\n    return 'close'\n"
)
UNANSWERED = (
    "def image_distance_cm(object_distance_cm, lens_power_d):\n"
    "    # YOUR CODE HERE\n    raise NotImplementedError()\n"
)
OTHER_WORD = """

rightly = cause


def cause(*given):
    return {"length": "power", "power": "length"}[rightly(*given)]
"""
# learner → answers to set 01 that are not the model's
ANSWERS = {
    "ada": {
        "page": PAGE + "return 100 / distance_cm",
        "aqueous": AQUEOUS + "return 1000 / distance_mm",
        "points": POINTS,
    },
    "ben": {
        "page": PAGE + "return 100 / distance_cm",
        "aqueous": AQUEOUS + "return -1336 / distance_mm",
        "image": UNANSWERED,
        "surface": SURFACE + "return 1 / 0",
    },
    "cyd": {
        "page": PAGE + "return 100 / distance_cm (",
        "aqueous": FORGERY + AQUEOUS + "return 1336 / distance_mm + 7",
        "surface": SURFACE + "raise type('NotRun', (Exception,), {})(f'r = {radius_mm}')",
    },
    "dee": {},
}
# (problem, learner, slip) that must come out, each with the points that it costs
NAMED_IN_FIRST = {
    ("page", "ada", "sign-real-object-sends-out"): 1,
    ("page", "ben", "sign-real-object-sends-out"): 1,
    ("page", "cyd", "stopped"): 1,
    ("aqueous", "ada", "index-left-out-vergence-index"): 1,
    ("aqueous", "ben", "sign"): 1,
    ("aqueous", "cyd", "unnamed"): 1,
    ("image", "ben", "not-answered"): 1,
    ("surface", "ben", "stopped"): 1,
    ("surface", "cyd", "stopped"): 1,
    # two steps for two points
    ("points", "ada", "sign-problem-asks-for-distance"): 1,
    ("points", "ada", "not-a-number"): 1,
}
# of 26: page 2, aqueous 2, image 3, surface 2, points 4
MARKS = {"ada": 26 - 2 - 2 - 4, "ben": 26 - 2 - 2 - 3 - 2, "cyd": 26 - 2 - 2 - 2, "dee": 26}


def rows_of(file):
    with open(file, encoding="utf-8", newline="") as opened:
        return list(csv.DictReader(opened))


@pytest.fixture(scope="module")
def graded(tmp_path_factory):
    """The folder of a class that went the whole way by commands, and what they printed."""
    folder = tmp_path_factory.mktemp("slips")
    roster = folder / "list.csv"
    roster.write_text("id\n" + "\n".join(ANSWERS) + "\n", encoding="utf-8")
    room = folder / "room"
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(settings, "CELL_TIMEOUT_S", 10)
        patch.setenv("PYTHONPATH", str(REPO))

        def run(*line, at=room):
            where = ["--folder", str(at)] if at else []
            assert cli.main(["class", *line, *where]) == 0

        run("new", str(room), "--roster", str(roster), at=None)
        run("release", "01")
        run("release", "02")
        for learner, answers in ANSWERS.items():
            notebook = filled(FIRST, answers)
            if learner == "cyd":
                notebook.cells.insert(2, nbformat.v4.new_code_cell(FORGERY))
                notebook.metadata["lens_course"] = {"slips": FORGED["records"]}
                for cell in notebook.cells:
                    cell.metadata["lens_course"] = {"checks": FORGED["records"]}
            save(notebook, room / "submitted" / learner / FIRST / "problems.ipynb")
        model = {cell.id: cell.source for cell in solution(SECOND).cells}
        notebook = filled(SECOND, {"cause": model["cause-answer"] + OTHER_WORD})
        save(notebook, room / "submitted" / "ada" / SECOND / "problems.ipynb")
        run("grade", "01")
        run("grade", "02")
        run("feedback", "01")
        run("report")
        run("export")
        run("export", "--as", "xapi")
        run("export", "--as", "oneroster", "--to", str(room / "oneroster"))
    return room


@pytest.mark.slow
@pytest.mark.grading
def test_the_marks_are_those_worked_out_by_hand(graded):
    marks = {row["id"]: row for row in rows_of(graded / "grades.csv") if row["set"] == FIRST}
    assert {learner: float(row["marks"]) for learner, row in marks.items()} == MARKS


@pytest.mark.slow
@pytest.mark.grading
def test_every_slip_is_in_the_table_by_learner_with_its_points(graded):
    found = {}
    for row in rows_of(graded / "report" / "slips_by_learner.csv"):
        if row["set"] == FIRST:
            key = row["problem"], row["learner"], row["slip"]
            assert key not in found
            found[key] = float(row["points_possible"]) - float(row["points_earned"])
            assert row["sentence"]
    assert found == NAMED_IN_FIRST
    header = rows_of(graded / "report" / "slips_by_learner.csv")[0]
    assert list(header)[:6] == ["set", "problem", "learner", "step", "slip", "sentence"]


@pytest.mark.slow
@pytest.mark.grading
def test_a_wrong_word_is_a_slip_with_a_name(graded):
    (row,) = [
        row for row in rows_of(graded / "report" / "slips_by_learner.csv") if row["set"] == SECOND
    ]
    word = re.match("what makes the eyes differ: (length|power) does not hold", row["sentence"])[1]
    assert row["slip"] == f"chose-{word}"
    # one of two steps of a test of two points
    assert (row["points_earned"], row["points_possible"]) == ("0.0", "1.0")


@pytest.mark.slow
@pytest.mark.grading
def test_the_report_counts_slips_by_set_and_problem_the_worst_first(graded):
    rows = rows_of(graded / "report" / "slips.csv")
    first = [row for row in rows if row["set"] == FIRST]
    counted = {(row["problem"], row["slip"]): int(row["learners"]) for row in first}
    expected = {}
    for problem, _, slip in NAMED_IN_FIRST:
        expected[problem, slip] = expected.get((problem, slip), 0) + 1
    assert counted == expected
    # two learners made the same slip in page, two had code in surface that stopped
    problems = list(dict.fromkeys(row["problem"] for row in first))
    assert set(problems[:2]) == {"page", "surface"}
    for problem in problems:
        own = [int(row["learners"]) for row in first if row["problem"] == problem]
        assert own == sorted(own, reverse=True)
    assert [row["set"] for row in rows] == sorted(row["set"] for row in rows)
    page = (graded / "report" / "class_report.html").read_text(encoding="utf-8")
    cells = "</td><td>".join(
        (
            *(FIRST, "page", "vergence of the page&#x27;s light", "sign-real-object-sends-out"),
            "the sign: a real object sends out diverging light, and that is negative.",
            *("2", "2", "2.00"),
        )
    )
    assert f"<tr><td>{cells}</td></tr>" in page
    assert "chose-" in page


@pytest.mark.slow
@pytest.mark.grading
def test_the_table_of_the_grading_and_the_statements_name_the_slips_by_their_ids(graded):
    ids = {row["id"]: row["slips"].split() for row in rows_of(graded / f"report_{FIRST}.csv")}
    assert ids["dee"] == []
    assert "page/vergence-pages-light/sign-real-object-sends-out" in ids["ada"]
    wanted = {learner: set() for learner in ANSWERS}
    for problem, learner, slip in NAMED_IN_FIRST:
        wanted[learner].add((problem, slip))
    assert {
        who: {(i.split("/")[0], i.split("/")[-1]) for i in own} for who, own in ids.items()
    } == (wanted)
    lines = (graded / "statements.jsonl").read_text(encoding="utf-8").splitlines()
    stated = {}
    for statement in map(json.loads, lines):
        if statement["object"]["id"].endswith(FIRST):
            extensions = statement["result"].get("extensions", {})
            stated[statement["actor"]["account"]["name"]] = extensions.get(f"{xapi.BASE}slips", [])
    assert {who: sorted(own) for who, own in stated.items()} == {
        who: sorted(own) for who, own in ids.items()
    }
    for file in (graded / "oneroster").iterdir():
        assert "sign-real" not in file.read_text(encoding="utf-8")


@pytest.mark.slow
@pytest.mark.grading
def test_the_feedback_says_the_sentences_and_shows_no_record(graded):
    pages = {
        learner: (graded / "feedback" / learner / FIRST / "problems.html").read_text("utf-8")
        for learner in ANSWERS
    }
    advice = "Likely slip: the sign: a real object sends out diverging light, and that is negative."
    assert advice in pages["ada"]
    assert advice in pages["ben"]
    assert "near point: you have 'close', which is not a number." in pages["ada"]
    assert "Not answered yet." in pages["ben"]
    assert "Your code stopped with ZeroDivisionError: division by zero" in pages["ben"]
    for page in pages.values():
        # what a learner wrote is shown as it was written, and may hold such words
        shown = re.sub(r'<div class="code">.*?</pre>', "", page, flags=re.S)
        for word in ("application/vnd", "possible", "sign-real-object", "records", "advice"):
            assert word not in shown


@pytest.mark.slow
@pytest.mark.grading
def test_a_forged_record_is_no_slip_and_no_mark(graded):
    marked = graded / "autograded" / "cyd" / FIRST / "problems.ipynb"
    notebook = nbformat.read(marked, as_version=4)
    assert {slip["slip"] for slip in notebook.metadata.lens_course.slips} == {"stopped", "unnamed"}
    kept = [cell.metadata.get("lens_course", {}).get("checks", []) for cell in notebook.cells]
    assert sum(map(len, kept)) > 10
    assert all(record["step"] != "forged" for records in kept for record in records)
    assert all(
        MIME not in out.get("data", {}) for c in notebook.cells for out in c.get("outputs", ())
    )
    for file in ("slips.csv", "slips_by_learner.csv", "class_report.html"):
        assert "forged" not in (graded / "report" / file).read_text(encoding="utf-8")
    page = (graded / "feedback" / "cyd" / FIRST / "problems.html").read_text(encoding="utf-8")
    verdicts = re.findall(r'<ul class="said">.*?</ul>', page, flags=re.S)
    assert verdicts
    assert "forged" not in "".join(verdicts)
    # an error that has the name of the grading's own says no number of a hidden test: the hidden
    # corneas have radii of 7.8, 8.0 and −6.0 mm
    assert not re.search(r"r = (7\.8|8\.0|-6\.0)", page)
    assert "stopped with an error of its own" in page
