"""A class from its roster to the marks, with every submission that an instructor meets.

The marks are worked out by hand from the points of problem set 01, those of the visible check and
of the hidden tests: page 1 + 1, aqueous 1 + 1, image 1 + 2, surface 1 + 1, vertex 1 + 2,
points 2 + 2, thick 2 + 2, pair 3 + 3, together 26; the written answer has 4 more, by hand.
"""

import contextlib
import csv
import json
import os
import re
import shutil
import signal
import socket
import sqlite3
import subprocess
import sys
import time
import types
import urllib.error
import urllib.request
from copy import deepcopy
from pathlib import Path

import nbformat
import psutil
import pytest
from nbgrader.utils import determine_grade
from traitlets.config import PyFileConfigLoader

from shared_utils import cli
from shared_utils.classroom import classroom as classes
from shared_utils.classroom import nbgrader_calls, release, roster
from shared_utils.course import learner as learner_ids
from shared_utils.grading.supervisor import outcome, outputs, run, settings
from shared_utils.pages import server, source
from shared_utils.pages.build import text_to_notebook
from tests.lab import free_port

pytestmark = pytest.mark.grading

REPO = Path(__file__).parent.parent
SET = "01_vergence"
TEXT = source.set_text(SET)
SOLVED = {cell.id: cell.source for cell in text_to_notebook(TEXT).cells}
ANSWERS = [name for name in SOLVED if name.endswith("-answer")]
SECONDS = 6
PAGE = "def page_vergence_d(distance_cm):\n    "
FLOOD = "for _ in range(40):\n    print('x' * 100_000)"
SCRIPT = "from IPython.display import HTML\nHTML('<script>alert(4711)</script>')"
STUBBORN = """\
import time
while True:
    try:
        time.sleep(1)
    except KeyboardInterrupt:
        pass"""


def filled(release, only=None, **changed):
    """Return the release with the answers of the solution; ``page=`` replaces one of them."""
    notebook = deepcopy(release)
    for cell in notebook.cells:
        problem, _, kind = cell.id.rpartition("-")
        if kind == "answer" and problem in changed:
            cell.source = changed[problem]
        elif kind == "answer" and (only is None or problem in only):
            cell.source = SOLVED[cell.id]
        elif kind == "written":
            cell.source = "The light diverges less when it reaches the cornea."
    return notebook


def index_of(notebook, name):
    return next(i for i, cell in enumerate(notebook.cells) if cell.id == name)


def with_cell(notebook, source):
    notebook.cells.insert(2, nbformat.v4.new_code_cell(source))
    return notebook


def without(notebook, name):
    del notebook.cells[index_of(notebook, name)]
    return notebook


def edited(notebook):
    check = notebook.cells[index_of(notebook, "page-check")]
    check.source = "print('✓ all well')"
    check.metadata.nbgrader.points = 100
    return notebook


def tagged(notebook):
    check = notebook.cells[index_of(notebook, "page-check")]
    check.metadata.tags = ["skip-execution"]
    return notebook


def doubled(notebook):
    """A test copied by hand, and an answer split into two cells, as JupyterLab leaves them."""
    copy = deepcopy(notebook.cells[index_of(notebook, "page-check")])
    copy.id = "copy"
    notebook.cells.insert(4, copy)
    place = index_of(notebook, "points-answer")
    first, rest = notebook.cells[place].source.split("\n\n\n")
    second = deepcopy(notebook.cells[place])
    notebook.cells[place].source, second.source, second.id = first, rest, "rest"
    notebook.cells.insert(place + 1, second)
    return notebook


WRONG = {
    name.removesuffix("-answer"): re.sub(
        r"### BEGIN SOLUTION.*?### END SOLUTION", "return 12345.0", SOLVED[name], flags=re.DOTALL
    )
    for name in ANSWERS
}
FAR_RIGHT_NEAR_WRONG = (
    "def far_point_cm(refraction_d):\n    return -100 / refraction_d\n\n\n"
    "def near_point_cm(refraction_d, amplitude_d):\n    return 3.0\n"
)

# learner: how the submission is made from the release, marks by hand, sentence in the report
CASES = {
    "right": (lambda r: filled(r), 26, None),
    "right.too": (lambda r: filled(r), 26, None),
    "wrong": (lambda r: filled(r, **WRONG), 0, None),
    # page 2, aqueous 2, image 3, surface 2; points: visible 1 step of 2 held, so 1 of 2;
    # hidden 3 of 6, so 1 of 2
    "half": (
        lambda r: filled(
            r, only=("page", "aqueous", "image", "surface"), points=FAR_RIGHT_NEAR_WRONG
        ),
        11,
        None,
    ),
    "blank": (deepcopy, 0, None),
    # the rest: only the page's 2 points are lost, or nothing is
    "raises": (lambda r: filled(r, page=PAGE + "return 1 / 0"), 24, None),
    "exits": (
        lambda r: filled(r, page=PAGE + "import os; os._exit(1)"),
        24,
        "page-check ended the kernel",
    ),
    "endless": (
        lambda r: filled(r, page=PAGE + "while True: pass"),
        24,
        f"page-check was stopped after {SECONDS} s",
    ),
    "stubborn": (lambda r: with_cell(filled(r), STUBBORN), 26, "Cell 3 ran for longer than"),
    "deleted": (lambda r: without(filled(r), "page-check"), 26, "page-check was missing"),
    "unanswered": (lambda r: without(filled(r), "page-answer"), 24, "page-answer was missing"),
    "edited": (
        lambda r: edited(filled(r, page=WRONG["page"])),
        24,
        "page-check had been changed",
    ),
    "tagged": (lambda r: tagged(filled(r, page=WRONG["page"])), 24, None),
    "doubled": (lambda r: doubled(filled(r)), 26, "copy of the cell page-check was left out"),
    "warns": (
        lambda r: filled(r, page=PAGE + "import warnings; warnings.warn('hm'); "
                         "return -100 / distance_cm"),
        26,
        None,
    ),
    "floods": (lambda r: with_cell(with_cell(filled(r), FLOOD), SCRIPT), 26, None),
    "shadows": (lambda r: filled(r, page=WRONG["page"]), 24, None),
}  # fmt: skip
BROKEN = {
    "poem": "is not a notebook",
    "cut.off": "is cut off",
    "empty": "is empty",
    "renamed": "called 'problems (1).ipynb'",
    "other.set": "holds no cell of this set",
    "absent": "Nothing was handed in",
}
STRANGER = "right2"


def make_submissions(room, release):
    for learner, (make, _, _) in CASES.items():
        put(room, learner, nbformat.writes(make(release)))
    whole = nbformat.writes(filled(release))
    put(room, "poem", "Roses are red")
    put(room, "cut.off", whole[: len(whole) // 2])
    put(room, "empty", "")
    put(room, "renamed", whole, "problems (1).ipynb")
    put(room, "other.set", nbformat.writes(nbformat.v4.new_notebook()))
    put(room, STRANGER, whole)
    put(room, "right", "2026-11-01 09:30:00.000000 UTC", "timestamp.txt")
    # a library's name beside the notebook: were it taken, nothing would run and all be lost
    put(room, "shadows", "raise ImportError('not the library')", "numpy.py")
    if os.name != "nt":
        link = room.folder / "submitted" / "floods" / SET / "peek.txt"
        link.symlink_to(room.folder / "source" / SET / "problems.ipynb")


def put(room, learner, text, name="problems.ipynb"):
    folder = room.folder / "submitted" / learner / SET
    folder.mkdir(parents=True, exist_ok=True)
    (folder / name).write_text(text, encoding="utf-8")


@pytest.fixture(scope="module")
def room(tmp_path_factory):
    """A class in which everything was handed in, not yet graded."""
    folder = tmp_path_factory.mktemp("class")
    listed = folder / "list.csv"
    people = [[learner, learner.title(), "Doe, Jr", ""] for learner in (*CASES, *BROKEN)]
    with open(listed, "w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows([roster.COLUMNS, *people])
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(settings, "CELL_TIMEOUT_S", SECONDS)
        patch.setenv("PYTHONPATH", str(REPO))
        room = classes.new_class(folder / "room", listed)
        make_submissions(room, nbformat.read(room.release("1"), as_version=4))
        yield room


@pytest.fixture(scope="module")
def results(room):
    return {result.learner: result for result in room.grade(SET)}


@pytest.fixture(scope="module")
def pages(room, results):
    return {learner: page.read_text("utf-8") for learner, page in room.feedback(SET)}


@pytest.mark.slow
def test_the_release_is_the_exercise_and_gives_nothing_away(room):
    text = (room.folder / "release" / SET / "problems.ipynb").read_text(encoding="utf-8")
    assert text == (REPO / "exercises" / SET / "problems.ipynb").read_text(encoding="utf-8")
    assert "SOLUTION" not in text
    assert "HIDDEN" not in text
    assert "MARK SCHEME" not in text
    for secret in ("reduced_m", "return -100.0 / distance_cm", *hidden_names()):
        assert secret not in text


@pytest.mark.slow
@pytest.mark.parametrize("learner", CASES)
def test_marks_are_those_worked_out_by_hand(results, learner):
    _, marks, sentence = CASES[learner]
    result = results[learner]
    assert result.marks == pytest.approx(marks), result
    assert result.of == 30
    assert result.by_hand == (0 if learner == "blank" else 4)
    if sentence:
        assert any(sentence in note for note in result.notes), result.notes
    else:
        assert result.notes == []


@pytest.mark.slow
@pytest.mark.parametrize("learner", BROKEN)
def test_a_broken_submission_is_named_and_harms_nobody(results, learner):
    assert results[learner].marks is None
    assert len(results[learner].notes) == 1
    assert BROKEN[learner] in results[learner].notes[0]


@pytest.mark.slow
def test_a_learner_who_is_not_in_the_roster_is_named_with_the_nearest_id(results):
    assert results[STRANGER].marks is None
    assert "Not in roster.csv" in results[STRANGER].notes[0]
    assert "Is it right?" in results[STRANGER].notes[0]


@pytest.mark.slow
def test_learners_have_numbers_of_their_own(room, results):
    given = []
    for learner in ("right", "right.too"):
        marked = room.folder / "autograded" / learner / SET / "problems.ipynb"
        notebook = nbformat.read(marked, as_version=4)
        cells = {cell.id: cell for cell in notebook.cells}
        given.append(cells["page-given"].outputs[0].data["text/markdown"])
        assert f"Numbers of learner {learner}." in given[-1]
    numbers = [re.search(r"(\d+) cm", text)[1] for text in given]
    assert numbers[0] != numbers[1]


@pytest.mark.slow
def test_floods_are_cut_and_links_are_not_followed(room, results):
    marked = room.folder / "autograded" / "floods" / SET
    assert (marked / "problems.ipynb").stat().st_size < 1_000_000
    assert "the rest of the output was cut" in (marked / "problems.ipynb").read_text("utf-8")
    assert not (marked / "peek.txt").exists()


def hidden_names():
    """Names that only the hidden tests use."""
    shown = "\n".join(text for name, text in SOLVED.items() if not name.endswith("-hidden"))
    hidden = "\n".join(text for name, text in SOLVED.items() if name.endswith("-hidden"))
    words = {word for word in re.findall(r"\b[a-z]+_[a-z_]+\b", hidden) if word not in shown}
    assert len(words) > 10
    return sorted(words)


@pytest.mark.slow
def test_feedback_is_written_for_everyone_marked_and_keeps_the_hidden_tests(pages):
    assert set(pages) == set(CASES)
    for learner, page in pages.items():
        for secret in (*hidden_names(), "HIDDEN TESTS", "for another distance: "):
            assert secret not in page, (learner, secret)
        assert "With other numbers" in page
    # the hidden page stands 16 cm away: −100/16 = −6.25 D; another is 400 cm away: −0.25 D
    assert "6.250" not in pages["right"]
    another = "</span>the same function for another distance"
    assert f"Holds: {another} <small>(held 3 of 3)" in pages["right"]
    assert f"Does not hold: {another}" in pages["wrong"]
    assert "stopped with ZeroDivisionError" in pages["raises"]
    assert "page-check ended the kernel" in pages["exits"]
    assert "alert(4711)</script>" not in pages["floods"]


@pytest.mark.slow
def test_export_and_report_hold_every_learner(room, results):
    with open(room.export(), encoding="utf-8", newline="") as file:
        rows = {row["id"]: row for row in csv.DictReader(file)}
    assert set(rows) == {*CASES, *BROKEN}
    for learner, (_, marks, _) in CASES.items():
        assert float(rows[learner]["marks"]) == pytest.approx(marks)
        assert rows[learner]["last_name"] == "Doe, Jr"
    assert all(rows[learner]["marks"] == "" for learner in BROKEN)
    reported = room.write_report(SET, results.values())
    with open(reported, encoding="utf-8", newline="") as file:
        reported_rows = {row["id"]: row for row in csv.DictReader(file)}
    slips = {learner: row["slips"] for learner, row in reported_rows.items()}
    # the time is the learner's word, and is marked as that
    right, wrong = reported_rows["right"], reported_rows["wrong"]
    assert right["handed_in"].startswith("2026-11-01T09:30:00")
    assert right["time_from"] == "timestamp.txt, sent by the learner"
    assert (wrong["handed_in"], wrong["time_from"]) == ("", "")
    assert slips["right"] == ""
    assert all(slip.endswith("/not-answered") for slip in slips["blank"].split())
    assert slips["wrong"].startswith("page/")
    assert [slip.slip_id for slip in results["wrong"].slips] == slips["wrong"].split()
    # seven have 26, seven have 24, one has 11 and two have nothing
    total = sum(float(row["marks"] or 0) for row in rows.values())
    assert total == pytest.approx(7 * 26 + 7 * 24 + 11)


@pytest.mark.slow
def test_the_command_grades_what_is_new_and_names_what_is_broken(room, results, capsys):
    assert cli.main(["class", "grade", "01", "--folder", str(room.folder)]) == 0
    out, err = capsys.readouterr()
    assert re.search(r"^half +Half Doe, Jr +11 +30 +4$", out, flags=re.MULTILINE)
    assert "cut.off: problems.ipynb is cut off" in out
    assert "\x1b" not in out
    assert "SAWarning" not in out + err
    before = {result.learner: result.slips for result in results.values()}
    assert {result.learner: result.slips for result in room.grade(SET)} == before
    report = (room.folder / f"report_{SET}.csv").read_text(encoding="utf-8")
    assert 'poem,"Poem Doe, Jr",,30.0,0.0,,problems.ipynb is not a notebook' in report


@pytest.mark.slow
def test_a_submission_that_breaks_later_keeps_its_marks_and_is_named(room, results):
    place = room.folder / "submitted" / "raises" / SET / "problems.ipynb"
    whole = place.read_bytes()
    place.write_bytes(whole[:1000])
    (broken,) = room.grade(SET, ["raises"])
    place.write_bytes(whole)
    assert broken.marks == 24
    assert "is cut off" in broken.notes[0]
    assert "The marks are the earlier ones." in broken.notes[0]


@pytest.mark.slow
def test_marks_by_hand_stay_when_nothing_has_changed(room, results):
    with nbgrader_calls.open_nbgrader(room.folder) as api, api.gradebook as gradebook:
        gradebook.find_grade("why-written", "problems", SET, "right").manual_score = 3
        gradebook.find_grade("why-written", "problems", SET, "right").needs_manual_grade = False
        gradebook.db.commit()
    (again,) = room.grade(SET, ["right"])
    assert again.marks == 29
    assert again.by_hand == 0
    # nbgrader asks for another look at a mark by hand when a submission is run again
    (forced,) = room.grade(SET, ["right"], again=True)
    assert forced.marks == 29
    with nbgrader_calls.open_nbgrader(room.folder) as api, api.gradebook as gradebook:
        gradebook.find_grade("why-written", "problems", SET, "right").manual_score = None
        gradebook.db.commit()


@pytest.mark.slow
def test_a_release_after_submissions_is_kept_whatever_comes(room, results, tmp_path, monkeypatch):
    released = room.folder / "release" / SET / "problems.ipynb"
    before = released.read_bytes()
    assert room.release("01").read_bytes() == before
    for part in ("solutions", "exercises"):
        shutil.copytree(REPO / part / SET, tmp_path / part / SET)
    place = tmp_path / "solutions" / SET / "problems.ipynb"
    fewer = without(nbformat.read(place, as_version=4), "page-hidden")
    nbformat.write(fewer, place)
    monkeypatch.setattr(release, "course_root", lambda: tmp_path)
    with pytest.raises(ValueError, match="has submissions in this class"):
        room.release("01")
    assert released.read_bytes() == before
    assert "page-hidden" in (room.folder / "source" / SET / "problems.ipynb").read_text("utf-8")


@pytest.mark.slow
def test_the_form_grader_opens_the_class(room, results):
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    command = [sys.executable, "-m", "jupyterlab", "--no-browser", "--allow-root"]
    command += [f"--ServerApp.port={port}", "--IdentityProvider.token=letmein"]
    with open(room.folder / "lab.log", "wb") as log:
        lab = subprocess.Popen(command, cwd=room.folder, stdout=log, stderr=log)
    try:
        api = f"http://127.0.0.1:{port}/formgrader/api"
        (assignment,) = patiently(f"{api}/assignments")
        reply_text = patiently(f"{api}/submission/{SET}/doubled/autograde", data=b"")
        submission = patiently(f"{api}/submission/{SET}/doubled")
    finally:
        lab.terminate()
        lab.wait(timeout=30)
    assert assignment["name"] == SET
    # all but the absent one, and the stranger
    assert assignment["num_submissions"] == len(CASES) + len(BROKEN) - 1 + 1
    # a button there marks by the same steps as the command
    assert reply_text["success"], reply_text
    assert submission["score"] == CASES["doubled"][1]


def patiently(url, data=None):
    headers = {"Authorization": "token letmein"}
    request = urllib.request.Request(url, data, headers)
    for _ in range(120):
        try:
            with urllib.request.urlopen(request, timeout=30) as answer:
                assert answer.status == 200
                return json.load(answer)
        except (urllib.error.URLError, ConnectionError):
            time.sleep(0.5)
    raise AssertionError(f"{url} did not answer in a minute")


@pytest.mark.slow
@pytest.mark.skipif(os.name == "nt", reason="signals of POSIX")
def test_open_that_is_ended_ends_lab_too(tmp_path):
    (tmp_path / "room").mkdir()
    (tmp_path / "room" / "nbgrader_config.py").touch()
    runtime = tmp_path / "runtime"
    port = free_port()
    command = [sys.executable, "-m", "shared_utils.cli", "class", "open", "--no-browser"]
    with open(tmp_path / "log", "wb") as log:
        opened = subprocess.Popen(
            [*command, "--port", str(port), "--folder", str(tmp_path / "room")],
            cwd=REPO,
            env={**os.environ, "JUPYTER_RUNTIME_DIR": str(runtime)},
            stdout=log,
            stderr=log,
        )
    lab = []
    try:
        until(lambda: list(runtime.glob("jpserver-*.json")), opened)
        lab = psutil.Process(opened.pid).children(recursive=True)
        assert lab
        opened.send_signal(signal.SIGTERM)
        assert opened.wait(60) == 128 + signal.SIGTERM
        assert not [child for child in lab if child.is_running()]
    finally:
        for process in (*lab, opened):
            with contextlib.suppress(psutil.NoSuchProcess):
                process.kill()


def until(holds, process):
    """Wait for a state, as long as the process runs, for two minutes at most."""
    for _ in range(1200):
        if holds():
            return
        assert process.poll() is None
        time.sleep(0.1)
    raise AssertionError("It never came.")


@pytest.mark.slow
def test_open_starts_lab_in_the_class(room, monkeypatch):
    asked = []
    monkeypatch.setattr(server, "open_lab", lambda *a, **k: asked.append((a, k)) or 0)
    line = ["class", "open", "--folder", str(room.folder), "--no-browser", "--port", "9999"]
    assert cli.main(line) == 0
    assert asked == [
        (
            (room.folder, "/lab/workspaces/lens-course-class", 9999),
            {
                "browser": False,
                "extra_arguments": [
                    "--ServerApp.jpserver_extensions=shared_utils.reports.mistakes_server=True"
                ],
            },
        )
    ]


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("name\nAda\n", "no column id"),
        ("id\nada\nADA\n", "stands twice"),
        ("id\n../ada\n", "names a folder"),
        ("id\nada lee\n", "names a folder"),
        ("id\n" + "a" * 65 + "\n", "line 2: 'a+…?' cannot be an id"),
        ("id\nada\n-a1\n", "line 3: '-a1' cannot be an id"),
        ("id\n@ada\n", "'@ada' cannot be an id"),
        ("id,ID\nada,ada\n", "column id twice"),
        # an open quotation mark would make one learner of these three
        ('id,first_name\nada,"Ada\nbob,Bob\ncat,Cat\n', "line 2: a quotation mark is not closed"),
        ('id,first_name\nada,Ada\nbob,"Bob\ncat,"Cat"\n', "line 3: a quotation mark is not closed"),
        ('sep=;\nid;first_name\nada;"Ada\nbob;Bob"\n', "line 3: a quotation mark is not closed"),
        ("id,first_name,last_name,email\nada,Ada,Lee, Jr.,a@b.example\n", "line 2: 5 cells"),
        ("i\0d\0\n\0", "not in UTF-8"),
    ],
)
def test_a_roster_that_does_not_hold_is_told_and_nothing_is_made(tmp_path, text, sentence):
    (tmp_path / "r.csv").write_text(text, encoding="utf-8")
    with pytest.raises(ValueError, match=sentence):
        classes.new_class(tmp_path / "room", tmp_path / "r.csv")
    assert not (tmp_path / "room").exists()


@pytest.mark.parametrize(
    "content",
    [
        "\ufeffid;first_name\r\nada;A\u2028da\r\n;\r\n".encode(),
        "id\tfirst_name\r\nada\tA\u2028da\r\n".encode("utf-16"),
        "ID,First_Name,group\nada,A\u2028da,\n".encode(),
        " Id , first_name\rada, A\u2028da\r".encode(),
        "sep=;\r\nid;first_name\r\nada;A\u2028da\r\n".encode("utf-16-be").join([b"\xfe\xff", b""]),
        '"sep=;"\nfirst_name;id\n"A\u2028da";ada\n'.encode(),
    ],
)
def test_a_roster_from_a_spreadsheet_is_read(tmp_path, content):
    (tmp_path / "r.csv").write_bytes(content)
    people = roster.read_roster(tmp_path / "r.csv")
    person = {"id": "ada", "first_name": "A\u2028da", "last_name": "", "email": ""}
    assert people == {"ada": person}


@pytest.mark.parametrize("learner", ["-a1", ".ada", "a" * 65, "ada lee", "", "ä"])
def test_the_roster_and_the_command_refuse_the_same_ids(tmp_path, monkeypatch, learner, capsys):
    (tmp_path / "r.csv").write_text(f'first_name,id\nAda,"{learner}"\n', encoding="utf-8")
    with pytest.raises(ValueError, match="cannot be an id"):
        roster.read_roster(tmp_path / "r.csv")
    monkeypatch.setattr(learner_ids, "id_file", lambda: tmp_path / ".learner")
    with pytest.raises(ValueError, match="cannot be an id"):
        learner_ids.keep_learner_id(learner)
    assert not (tmp_path / ".learner").exists()


@pytest.mark.parametrize("name", ["inside", "full", "odd [2027]"])
def test_a_folder_that_cannot_hold_a_class_is_refused(tmp_path, name, capsys):
    folder = REPO / "klass" if name == "inside" else tmp_path / name
    if name == "full":
        folder.mkdir()
        (folder / "thesis.txt").touch()
    assert cli.main(["class", "new", str(folder)]) == 2
    assert capsys.readouterr().err.count("\n") == 1
    assert not (folder / "roster.csv").exists()


@pytest.mark.parametrize(
    "step", ["overlay .", "release 01", "grade 01", "feedback 01", "export", "open"]
)
def test_a_step_outside_a_class_is_told_in_one_sentence(tmp_path, step, capsys):
    assert cli.main(["class", *step.split(), "--folder", str(tmp_path)]) == 2
    assert "is not the folder of a class" in capsys.readouterr().err


@pytest.mark.slow
def test_a_class_of_an_earlier_version_finds_its_settings(tmp_path):
    path = classes.new_class(tmp_path / "room").folder / "nbgrader_config.py"
    current = path.read_text(encoding="utf-8")
    old = (
        "from shared_utils.coursework.grading.settings import configure\n"
        "configure(get_config(), __file__)\n"
    )
    added = "c = get_config()\nc.ExchangeCollect.check_owner = False\n"
    for below in ("", added):
        path.write_text(old + below, encoding="utf-8")
        classes.Classroom(path.parent)
        assert path.read_text(encoding="utf-8") == current + below
    config = PyFileConfigLoader(str(path)).load_config()
    assert config.CourseDirectory.root == str(path.parent)
    assert config.ExchangeCollect.check_owner is False
    assert not path.with_suffix(".new").exists()


@pytest.mark.parametrize("step", ["release 01", "grade 01", "export", "report"])
@pytest.mark.parametrize(
    ("content", "sentence"),
    [
        (None, "There is no gradebook"),
        (b"", "The gradebook is empty"),
        (b"no database " * 100, "cannot be used: file is not a database; see whether"),
    ],
)
def test_a_gradebook_that_cannot_be_read_is_told_and_none_is_made(
    tmp_path, step, content, sentence, capsys
):
    (tmp_path / "nbgrader_config.py").touch()
    (tmp_path / "roster.csv").write_text("id\nada\n", encoding="utf-8")
    for part in ("release", "source"):
        (tmp_path / part / SET).mkdir(parents=True)
        (tmp_path / part / SET / "problems.ipynb").touch()
    if content is not None:
        (tmp_path / "gradebook.db").write_bytes(content)
    assert cli.main(["class", *step.split(), "--folder", str(tmp_path)]) == 2
    err = capsys.readouterr().err
    assert sentence in err
    assert err.count("\n") == 1
    assert (tmp_path / "gradebook.db").exists() == (content is not None)


def test_a_gradebook_that_another_program_holds_is_named_with_what_to_do(tmp_path, capsys):
    (tmp_path / "r.csv").write_text("id\nada\n", encoding="utf-8")
    room = classes.new_class(tmp_path / "room", tmp_path / "r.csv")
    (room.folder / "release" / SET).mkdir()
    (room.folder / "release" / SET / "problems.ipynb").touch()
    with contextlib.closing(sqlite3.connect(room.folder / "gradebook.db")) as other:
        other.execute("BEGIN EXCLUSIVE")
        assert cli.main(["class", "export", "--folder", str(room.folder)]) == 2
        err = capsys.readouterr().err
        assert f"{room.folder / 'gradebook.db'} cannot be used: database is locked" in err
        assert "close the form grader" in err


@pytest.mark.parametrize("url", ["nonsense", "mysql://host/optics"])
def test_an_address_that_no_gradebook_can_have_is_refused(tmp_path, url, capsys):
    assert cli.main(["class", "new", str(tmp_path / "room"), "--db", url]) == 2
    assert capsys.readouterr().err.count("\n") == 1
    assert not (tmp_path / "room").exists()


@pytest.mark.slow
def test_an_address_of_no_scheduler_is_refused(room, capsys):
    line = ["class", "grade", "01", "--cluster", "nonsense", "--folder", str(room.folder)]
    assert cli.main(line) == 2
    assert "is no address of a Dask scheduler" in capsys.readouterr().err


def test_a_marked_notebook_that_was_damaged_is_named(tmp_path):
    place = tmp_path / "autograded" / "ada" / SET / "problems.ipynb"
    place.parent.mkdir(parents=True)
    place.write_text("{", encoding="utf-8")
    (tmp_path / "nbgrader_config.py").touch()
    with pytest.raises(ValueError, match=f"autograded/ada/{SET}/problems.ipynb is not a marked"):
        classes.Classroom(tmp_path).slips()


def test_a_gradebook_half_made_is_not_left_behind(tmp_path, monkeypatch):
    def fails(*_):
        raise OSError("no disk")

    monkeypatch.setattr(nbgrader_calls, "keep_roster", fails)
    with pytest.raises(OSError, match="no disk"):
        classes.new_class(tmp_path / "room")
    assert not (tmp_path / "room").exists()


@pytest.mark.parametrize(
    ("value", "marks"),
    [
        *(("1.5", True), ("0.0", True), ("2", True), ("np.float64(1.5)", False), ("nan", False)),
        *(("-1", False), ("True", False), ("2.5", False), ("<Figure>", False)),
    ],
)
def test_only_a_number_within_the_points_is_a_mark(value, marks):
    cell = nbformat.v4.new_code_cell("score")
    cell.metadata.nbgrader = {"grade": True, "points": 2, "solution": False}
    cell.outputs = [nbformat.v4.new_output("execute_result", {"text/plain": value})]
    outcome.Outcome().preprocess_cell(cell, {}, 0)
    kinds = [output.output_type for output in cell.outputs]
    assert kinds == (["execute_result"] if marks else ["error"])


@pytest.mark.parametrize("reply", ["ran", "failed", "stopped"])
def test_a_silent_test_passes_only_if_the_examiner_said_that_it_ran(reply):
    cell = nbformat.v4.new_code_cell("assert True")
    cell.metadata.nbgrader = {"grade": True, "points": 2, "solution": False, "grade_id": "a-check"}
    runner = run.Run()
    runner.ran_well, runner.timed_out, runner.left_out = set(), {}, {}
    runner.requested_names, runner.outputs = [], outputs.Outputs()
    received = {"ran_well": reply == "ran", "timed_out": reply == "stopped", "outputs": []}
    runner.examiner = types.SimpleNamespace(run=lambda *_: received)
    runner.outputs.begin(cell)
    runner._run_test(cell, 0)
    notebook = nbformat.v4.new_notebook(cells=[cell])
    runner._note_what_did_not_run(notebook, cell, 0)
    assert determine_grade(cell) == ((2.0 if reply == "ran" else 0), 2.0)


def test_a_stop_by_hand_stops_the_whole_grading():
    # nbgrader catches it, with every other error, and would go on with the next learner
    outcome = {"success": False, "error": "Traceback …\nKeyboardInterrupt\n"}
    with pytest.raises(KeyboardInterrupt):
        nbgrader_calls.require_success(outcome, "It could not be done")


@pytest.mark.parametrize(
    "step",
    [
        "",
        "new",
        "overlay",
        "release",
        "grade",
        "feedback",
        "export",
        "open",
        "hub trial",
        "hub files",
    ],
)
def test_help_fits_a_screen_and_shows_an_example(step, capsys):
    with pytest.raises(SystemExit) as left:
        cli.main(["class", *step.split(), "--help"])
    out = capsys.readouterr().out
    assert left.value.code == 0
    assert len(out.splitlines()) <= 24
    assert f"Example: lens-course class {step}" in out
