"""An instructor's rules after work was handed in: what is late, what is dropped, what stays.

From the release through the folder of submissions to gradebook, report and exports. The marks are
worked out by hand from the points of a small set: side 1 + 2, power 2, a written answer 4: 9.
"""

import contextlib
import csv
import errno
import io
import os
import re
import shutil
import sqlite3
import zipfile
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path

import nbformat
import pytest
import sqlalchemy
from nbconvert.writers import FilesWriter

from shared_utils import cli
from shared_utils.classroom import classroom as classes
from shared_utils.classroom import deadlines, nbgrader_calls
from shared_utils.grading.supervisor import received, records
from shared_utils.grading.supervisor.class_rules import LateRule
from shared_utils.grading.supervisor.records import Records
from shared_utils.standards import xapi
from tests.filling import filled
from tests.honest import SMALL
from tests.marking import class_of, course_of, everything

pytestmark = pytest.mark.grading

SET = "02_words"
LEARNERS = ("ada", "bob", "cyd")
RIGHT_OF_ALL = 5  # the written answer has 4 more, by hand
BERLIN = deadlines.named_zone("Europe/Berlin")


@contextmanager
def class_of_three(folder):
    """Give a class of three who handed in the right answers, not graded yet."""
    with course_of(folder / "course", SMALL):
        notebooks = {who: filled(SET, {"why": f"Because of {who}."}) for who in LEARNERS}
        with class_of(folder, notebooks, name=SET) as room:
            yield room


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    with class_of_three(tmp_path_factory.mktemp("made")) as room:
        yield room


@pytest.fixture
def room(made, tmp_path):
    """A class of three of one's own."""
    return classes.Classroom(shutil.copytree(made.folder, tmp_path / "room"))


@pytest.fixture(scope="module")
def untouched(made, tmp_path_factory):
    """The same for tests that change nothing."""
    place = tmp_path_factory.mktemp("untouched") / "room"
    room = classes.Classroom(shutil.copytree(made.folder, place))
    deadlines.note_files(room.layout, SET)
    return room


def run(room, line, capsys, code=0):
    words = line if isinstance(line, list) else line.split()
    assert cli.main(["class", *words, "--folder", str(room.folder)]) == code
    out, err = capsys.readouterr()
    assert "Traceback" not in out + err
    return out if code == 0 else err


def marks_of(room):
    return {result.learner: (result.marks, result.of, result.by_hand) for result in room.grade(SET)}


def by_hand(room, learner, cell, mark):
    with nbgrader_calls.open_nbgrader(room.folder) as api, api.gradebook as gradebook:
        grade = gradebook.find_grade(cell, "problems", SET, learner)
        grade.manual_score, grade.needs_manual_grade = mark, False
        gradebook.db.commit()


def rows(file):
    with open(file, encoding="utf-8", newline="") as opened:
        return list(csv.DictReader(opened))


def listed(room, *lines):
    file = room.folder.parent / "times.csv"
    file.write_text("\n".join(["id,received", *lines]) + "\n", encoding="utf-8")
    return file


def test_lateness_goes_from_the_list_to_every_export(room, capsys):
    assert "names no time zone" in run(room, "due 02 2027-03-01", capsys, code=2)
    out = run(room, "due 02 2027-03-01 --zone Europe/Berlin", capsys)
    assert "02_words is due 2027-03-01 23:59 Europe/Berlin." in out
    # what the learner's side says of the time does not count
    stamp = room.folder / "submitted" / "bob" / SET / "timestamp.txt"
    stamp.write_text("2027-02-01 12:00:00 UTC", encoding="utf-8")
    run(room, "grade 02", capsys)
    # 23:59:59 in Berlin is 22:59:59 UTC; two days less five hours late
    file = listed(room, "ada,2027-03-01 23:59", "bob,2027-03-03T17:59:59+00:00", "cyd,2027-03-03")
    assert "when 3 submissions" in run(room, f"due 02 --received {file}", capsys)
    run(room, "due 02 --learner cyd --extra-days 2", capsys)
    status = run(room, "status", capsys)
    assert "02_words, bob: 1 d 19 h late, received 2027-03-03 18:59 Europe/Berlin" in status
    assert "cyd:" not in status
    assert "ada:" not in status
    assert "Lateness costs no marks." in status
    assert {who: marks for who, (marks, _, _) in marks_of(room).items()} == dict.fromkeys(
        LEARNERS, RIGHT_OF_ALL
    )
    # two days were begun: 20 per cent of 5 marks
    assert "10 % of the marks" in run(room, "due --per-day 10 --cap 50", capsys)
    assert marks_of(room)["bob"][0] == 4.0
    # a mark by hand, given later, is late too: 20 per cent of 5 + 3
    by_hand(room, "bob", "why-written", 3)
    run(room, "export", capsys)
    row = {row["id"]: row for row in rows(room.folder / "grades.csv")}["bob"]
    assert float(row["marks"]) == pytest.approx(6.4)
    assert float(row["late_penalty"]) == pytest.approx(1.6)
    assert float(row["seconds_late"]) == 43 * 3600
    assert row["due_utc"] == "2027-03-01T22:59:59+00:00"
    assert row["received_utc"] == "2027-03-03T17:59:59+00:00"
    run(room, "report", capsys)
    (late,) = rows(room.folder / "report" / "late.csv")
    assert (late["id"], late["late by"]) == ("bob", "1 d 19 h")
    assert float(late["marks lost"]) == pytest.approx(1.6)
    totals = {row["id"]: row[SET] for row in rows(room.folder / "report" / "marks.csv")}
    assert float(totals["bob"]) == pytest.approx(6.4)
    run(room, "export --as oneroster", capsys)
    with zipfile.ZipFile(room.folder / "oneroster.zip") as opened:
        items, results = (
            list(csv.DictReader(io.StringIO(opened.read(f"{name}.csv").decode())))
            for name in ("lineItems", "results")
        )
    assert [item["dueDate"] for item in items] == ["2027-03-01"]
    assert all(item["assignDate"] <= item["dueDate"] for item in items)
    found = {row["studentSourcedId"]: (row["late"], row["scoreDate"]) for row in results}
    assert found == {
        "ada": ("false", "2027-03-01"),
        "bob": ("true", "2027-03-03"),
        "cyd": ("false", "2027-03-03"),
    }
    times = {s["actor"]["account"]["name"]: s["timestamp"] for s in xapi.of_class(room.marks())}
    assert times["bob"].startswith("2027-03-03T17:59:59")
    (page,) = (page for learner, page in room.feedback(SET) if learner == "bob")
    text = page.read_text(encoding="utf-8")
    assert "Handed in late" in text
    assert "6.4 of 9" in text
    # and back again
    assert "Lateness costs no marks." in run(room, "due --per-day 0", capsys)
    assert marks_of(room)["bob"][0] == 8
    assert "has no due date any more" in run(room, "due 02 none", capsys)
    assert "–" in run(room, "status", capsys)


def test_a_date_is_another_one_in_utc_and_stays_the_one_that_was_said(room, capsys):
    run(room, "due 02 2027-03-01 --zone America/Los_Angeles", capsys)
    marks_of(room)
    run(room, "export --as oneroster", capsys)
    with zipfile.ZipFile(room.folder / "oneroster.zip") as opened:
        assert "2027-03-01" in opened.read("lineItems.csv").decode()
    assert room.marks().sets[0].due == datetime(2027, 3, 2, 7, 59, 59)


@pytest.mark.parametrize(
    ("line", "sentence"),
    [
        ("due 02 soon --zone UTC", "'soon' is no date"),
        ("due 02 2027-02-30 --zone UTC", "is no date"),
        ("due 02 2027-03-01 --zone Mars/Base", "is no time zone known here"),
        ("due 02 2027-03-28T02:30 --zone Europe/Berlin", "There is no 2027-03-28T02:30"),
        ("due 02 9999-12-31 --zone America/Lima", "lies outside the years 1970 to 2999"),
        ("due 02 0001-01-01 --zone Asia/Tokyo", "lies outside the years 1970 to 2999"),
        ("due 02 --learner ada", "needs both"),
        ("due 02 --learner eve --extra-days 2", "no learner 'eve'"),
        ("due 02 --learner ada --extra-days -2", "0 to 3660 days"),
        ("due --per-day 110", "0 to 100 per cent"),
        ("due --cap 50", "goes with --per-day"),
        ("due --received x.csv", "Name the set"),
        ("due 02 --received none.csv", "cannot be read"),
        ("due --exchange /nowhere/at/all", "There is no folder"),
        ("drop 02 nothing --why x", "has no problem 'nothing' that gives marks: side, power, why"),
        ("drop 02 side --undo --why x", "is so already"),
        ("status 01", "was not released"),
    ],
)
def test_what_cannot_be_ruled_is_told_in_one_sentence(untouched, capsys, line, sentence):
    before = (untouched.folder / "records.db").read_bytes()
    err = run(untouched, line, capsys, code=2)
    assert sentence in err
    assert err.count("\n") == 1
    assert (untouched.folder / "records.db").read_bytes() == before


def test_the_status_fits_a_terminal_of_80_columns_and_names_strangers(room, capsys, monkeypatch):
    monkeypatch.setenv("COLUMNS", "80")
    run(room, "due 02 2020-03-01 --zone America/Argentina/Buenos_Aires", capsys)
    nbformat.write(filled(SET), _place(room.layout.submitted(SET, "bod")))
    status = run(room, "status", capsys)
    head, row = status.splitlines()[:2]
    assert "…" not in head + row
    assert [cell for cell in row.split("  ") if cell.strip()][1].strip() == "2020-03-01 23:59"
    assert "Times are those of America/Argentina/Buenos_Aires." in status
    assert re.search(r"02_words, bod: Not in roster.csv.* Is it bob\?", status)
    # who is not in the class is neither handed in nor late
    assert row.split()[-6:] == ["3", "3", "0", "3", "3", "1"]
    assert "bod:" not in status.replace("02_words, bod: Not in", "")
    assert {one["id"] for one in _late(room, capsys)} == set(LEARNERS)


def test_what_was_handed_in_and_not_marked_is_submitted_in_oneroster(room, capsys):
    room.layout.submitted(SET, "ada").write_text("no notebook", encoding="utf-8")
    shutil.rmtree(room.layout.submitted(SET, "bob").parent)
    run(room, "due 02 2020-03-01 --zone UTC", capsys)
    run(room, "grade 02", capsys)
    target = room.folder.parent / "out"
    run(room, f"export --as oneroster --to {target}", capsys)
    found = {one["studentSourcedId"]: one for one in rows(target / "results.csv")}
    states = {who: (one["scoreStatus"], one["score"], one["late"]) for who, one in found.items()}
    assert states["ada"] == ("submitted", "", "true")
    assert states["bob"] == ("not submitted", "", "")
    assert states["cyd"] == ("partially graded", "5.0", "true")


def test_a_second_grading_of_the_same_set_waits_for_the_first(room, capsys):
    first = room.grade(SET)
    done = [next(first)]
    err = run(room, "grade 02", capsys, code=2)
    assert "02_words is being graded in this folder already" in err
    assert err.count("\n") == 1
    done += first
    assert {each.marks for each in done} == {RIGHT_OF_ALL}
    run(room, "grade 02", capsys)


def test_a_flood_of_output_is_not_called_too_slow(room):
    answer = 'side = str\nprint("x" * 50_000_000)'
    nbformat.write(filled(SET, {"side": answer}), room.layout.submitted(SET, "ada"))
    [result] = room.grade(SET, ["ada"])
    assert result.notes == ["The cell side-answer was stopped for more than 32 MB of output."]


def test_records_that_are_locked_are_not_to_be_moved_away(room, capsys, monkeypatch):
    run(room, "due 02 2027-03-01 --zone UTC", capsys)
    monkeypatch.setattr(records, "WAIT_S", 0)
    with contextlib.closing(sqlite3.connect(room.folder / "records.db")) as other:
        other.execute("BEGIN EXCLUSIVE")
        err = run(room, "status", capsys, code=2)
    assert "another program holds it" in err
    assert "move it away" not in err
    # one that is damaged is
    (room.folder / "records.db").write_bytes(b"no database " * 100)
    assert "move it away" in run(room, "status", capsys, code=2)


def test_a_gradebook_on_a_full_disk_is_said_and_nothing_is_half_written(room, capsys):
    def full(_connection, _cursor, statement, *_):
        if statement.startswith("INSERT INTO comment"):
            found = sqlite3.OperationalError("database or disk is full")
            raise sqlalchemy.exc.OperationalError(statement, {}, found)

    sqlalchemy.event.listen(sqlalchemy.engine.Engine, "before_cursor_execute", full)
    try:
        err = run(room, "grade 02", capsys, code=2)
    finally:
        sqlalchemy.event.remove(sqlalchemy.engine.Engine, "before_cursor_execute", full)
    assert everything(room.folder) == {}
    assert f"The gradebook {room.folder / 'gradebook.db'} cannot be used" in err
    assert "disk is full; free some space" in err
    assert err.count("\n") == 1
    # what nbgrader says of it stands in the log, not in the terminal
    assert "Rolling back" in (room.folder / "class.log").read_text(encoding="utf-8")
    assert {marks for marks, *_ in marks_of(room).values()} == {RIGHT_OF_ALL}
    assert len(everything(room.folder)) == len(LEARNERS)


def test_a_page_of_feedback_that_finds_the_disk_full_is_said_with_its_path(
    room, capsys, monkeypatch
):
    run(room, "grade 02", capsys)
    page = room.layout.feedback(SET, "ada")

    def full(*_, **__):
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    with monkeypatch.context() as patch:
        patch.setattr(FilesWriter, "write", full)
        err = run(room, "feedback 02", capsys, code=2)
    assert f"could not be written to {page}: the disk is full. Free some space" in err
    assert err.count("\n") == 1
    run(room, "feedback 02", capsys)
    assert "5 of 9" in page.read_text(encoding="utf-8")


def test_a_full_disk_stops_no_command_at_its_log(room, capsys):
    if not Path("/dev/full").exists():
        pytest.skip("Only Linux has a file that is always full.")
    log = room.folder / "class.log"
    log.unlink(missing_ok=True)
    log.symlink_to("/dev/full")
    assert "Released" in run(room, "release 02", capsys)  # no traceback beside it
    log.unlink()


def test_counts_are_said_in_whole_sentences(room, capsys):
    assert "has 1 day more in" in run(room, "due 02 --learner ada --extra-days 1", capsys)
    assert "has 2 days more in" in run(room, "due 02 --learner ada --extra-days 2", capsys)


def test_a_list_of_times_may_have_the_head_of_the_roster(room, capsys):
    file = room.folder.parent / "times.csv"
    file.write_bytes("Name\u2028;ID;Received\r\nA\u2028B;ada;2027-03-01\r\n".encode())
    out = run(room, f"due 02 --zone UTC --received {file}", capsys)
    assert "Took over when 1 submission to 02_words was received." in out


def _place(path):
    path.parent.mkdir(parents=True)
    return path


def _late(room, capsys):
    run(room, "report", capsys)
    return rows(room.folder / "report" / "late.csv")


@pytest.mark.parametrize(
    ("lines", "sentence"),
    [
        (["eve,2027-03-01T10:00Z"], "line 2: there is no learner 'eve'"),
        (["ada,2027-03-01T10:00Z", "bob,yesterday"], "line 3: 'yesterday' is no date"),
        (["ada,2027-03-01T10:00"], "names no time zone"),
    ],
)
def test_a_list_of_times_that_does_not_hold_changes_nothing(untouched, capsys, lines, sentence):
    before = Records(untouched.folder).received(SET)
    line = f"due 02 --received {listed(untouched, *lines)}"
    assert sentence in run(untouched, line, capsys, code=2)
    assert Records(untouched.folder).received(SET) == before


def test_when_a_file_was_put_here_cannot_be_set_back_and_stays(room):
    file = room.layout.submitted(SET, "ada")
    before = datetime.now(UTC).replace(microsecond=0)
    file.write_bytes(file.read_bytes())
    os.utime(file, (0, 0))  # as a learner's program would date it
    deadlines.note_files(room.layout, SET)
    (first,) = (r for r in deadlines.receipts(room.layout, SET, None) if r.learner == "ada")
    assert first.received >= before
    assert first.how == "put here"
    records = Records(room.folder)
    digest = received.digest_of(file.read_bytes())
    long_ago = datetime(2027, 1, 1, tzinfo=UTC)
    records.list_received(SET, "ada", digest, long_ago, received.LISTED)
    os.utime(file)
    deadlines.note_files(room.layout, SET)
    assert records.received(SET)["ada"] == (long_ago, "listed")
    # another file is another submission
    nbformat.write(filled(SET, {"why": "I thought again."}), file)
    deadlines.note_files(room.layout, SET)
    assert records.received(SET)["ada"][0] >= before


def test_the_time_in_the_exchange_counts_not_that_of_the_collection(room, tmp_path, capsys):
    file = room.layout.submitted(SET, "ada")
    inbound = tmp_path / "exchange" / "optics" / "inbound" / f"ada+{SET}+2020-01-01 00:00:00 UTC+x"
    inbound.mkdir(parents=True)
    (inbound / "problems.ipynb").write_bytes(file.read_bytes())
    os.utime(inbound / "problems.ipynb", (0, 0))
    at = datetime.fromtimestamp((inbound / "problems.ipynb").stat().st_ctime, UTC)
    run(room, ["due", "--exchange", str(tmp_path / "exchange")], capsys)
    found = {r.learner: r for r in deadlines.receipts(room.layout, SET, None)}
    assert found["ada"].how == "exchange"
    assert abs((found["ada"].received - at).total_seconds()) < 1
    assert found["bob"].how == "put here"


# the days begun, worked out by hand: a second after two days is the third
@pytest.mark.parametrize(
    ("hours", "lost"), [(0, 0), (0.01, 2), (24, 2), (24.01, 4), (72, 6), (1000, 7)]
)
def test_each_day_that_was_begun_costs_up_to_the_cap(hours, lost):
    assert LateRule(10, 35).penalty(20, hours * 3600) == pytest.approx(lost)


def test_a_dropped_problem_leaves_marks_and_maxima_and_comes_back(room, capsys):
    run(room, "grade 02", capsys)
    by_hand(room, "ada", "why-written", 3)
    by_hand(room, "bob", "power-check", 0.5)
    before = everything(room.folder)
    assert marks_of(room) == {"ada": (8, 9, 0), "bob": (3.5, 9, 4), "cyd": (5, 9, 4)}
    out = run(room, ["drop", "02", "power", "--why", "its number was wrong"], capsys)
    assert "the problem power counts neither in the marks nor" in out
    assert marks_of(room) == {"ada": (6, 7, 0), "bob": (3, 7, 4), "cyd": (3, 7, 4)}
    run(room, ["drop", "02", "why", "--why", "nobody understood it"], capsys)
    assert marks_of(room) == {"ada": (3, 3, 0), "bob": (3, 3, 0), "cyd": (3, 3, 0)}
    # marked anew it stays dropped
    assert {(r.marks, r.of) for r in room.grade(SET, again=True)} == {(3, 3)}
    run(room, "export", capsys)
    assert {(row["marks"], row["of"]) for row in rows(room.folder / "grades.csv")} == {
        ("3.0", "3.0")
    }
    run(room, "report", capsys)
    page = (room.folder / "report" / "class_report.html").read_text(encoding="utf-8")
    assert "its number was wrong" in page
    (one,) = rows(room.folder / "report" / "sets.csv")
    assert float(one["marks"]) == 3
    run(room, "export --as oneroster", capsys)
    with zipfile.ZipFile(room.folder / "oneroster.zip") as opened:
        (item,) = csv.DictReader(io.StringIO(opened.read("lineItems.csv").decode()))
    assert item["resultValueMax"] == "3.0"
    pages = {who: page.read_text(encoding="utf-8") for who, page in room.feedback(SET)}
    assert "This problem does not count: its number was wrong." in pages["ada"]
    assert "3 of 3" in pages["ada"]
    assert "the problem why counts neither" in run(room, "status", capsys)
    run(room, ["drop", "02", "power", "--undo", "--why", "it was right after all"], capsys)
    run(room, ["drop", "02", "why", "--undo", "--why", "they did"], capsys)
    assert marks_of(room) == {"ada": (8, 9, 0), "bob": (3.5, 9, 4), "cyd": (5, 9, 4)}
    assert everything(room.folder) == before
    run(room, "report", capsys)
    ruled = rows(room.folder / "report" / "problem_rules.csv")
    assert [(row["problem"], row["what"], row["holds now"]) for row in ruled] == [
        *(("power", "dropped", "no"), ("why", "dropped", "no")),
        *(("power", "counts", "no"), ("why", "counts", "no")),
    ]


def test_an_extra_problem_adds_its_marks_alone(room, capsys):
    run(room, "grade 02", capsys)
    out = run(room, ["drop", "02", "power", "--extra", "--why", "beyond the lesson"], capsys)
    assert "its marks count" in out
    assert marks_of(room)["ada"] == (5, 7, 4)
    (page, *_) = (page for _, page in room.feedback(SET))
    text = page.read_text(encoding="utf-8")
    assert "2 extra" in text
    run(room, "report", capsys)
    # released again, the maxima stay ruled
    room.release(SET)
    assert marks_of(room)["ada"] == (5, 7, 4)


@pytest.mark.slow
def test_marks_by_hand_stay_until_the_answer_or_its_rubric_changes(tmp_path, capsys):
    with course_of(tmp_path / "course", SMALL) as root:
        whole = filled(SET, {"why": "Because of the lens."})
        with class_of(tmp_path, {"ada": whole, "bob": whole}, name=SET) as room:
            list(room.grade(SET))
            for learner in ("ada", "bob"):
                by_hand(room, learner, "why-written", 3)
            by_hand(room, "bob", "side-hidden", 1.5)
            assert marks_of(room) == {"ada": (8, 9, 0), "bob": (7.5, 9, 0)}
            # a test was corrected
            change(root, 'startswith("long")', 'startswith("long-")')
            room.release(SET)
            assert marks_of(room) == {"ada": (8, 9, 0), "bob": (7.5, 9, 0)}
            # everything is marked anew, by the command and by the form grader's button
            assert all(not r.by_hand for r in room.grade(SET, again=True))
            with nbgrader_calls.open_nbgrader(room.folder) as api:
                assert api.autograde(SET, "ada", create=False, force=True)["success"]
            assert waiting(room, "ada") == []
            # the answer of one has changed
            file = room.layout.submitted(SET, "ada")
            nbformat.write(filled(SET, {"why": "Because of the cornea."}), file)
            assert marks_of(room) == {"ada": (8, 9, 4), "bob": (7.5, 9, 0)}
            # still so when it is marked once more before a person has looked
            assert [r.by_hand for r in room.grade(SET, again=True)] == [4, 0]
            by_hand(room, "ada", "why-written", 2)
            assert marks_of(room)["ada"] == (7, 9, 0)
            # the rubric has changed
            change(root, "Because.", "Because of the lens.")
            room.release(SET)
            assert marks_of(room) == {"ada": (7, 9, 4), "bob": (7.5, 9, 4)}
            assert waiting(room, "bob") == ["why-written"]


def change(root, old, new):
    for path in (Path(root) / "solutions" / SET / "problems.ipynb",):
        text = path.read_text(encoding="utf-8")
        escaped = [part.replace('"', '\\"') for part in (old, new)]
        assert escaped[0] in text
        path.write_text(text.replace(*escaped), encoding="utf-8")


def waiting(room, learner):
    marks = everything(room.folder)[SET, learner][0]
    return [cell for cell, (_, _, needs) in marks.items() if needs]


def test_the_form_graders_button_refuses_another_set_and_leaves_no_zero(room, capsys):
    nbformat.write(filled("01_lists"), room.layout.submitted(SET, "ada"))
    with nbgrader_calls.open_nbgrader(room.folder) as api:
        assert not api.autograde(SET, "ada", create=False)["success"]
    assert (SET, "ada") not in everything(room.folder)
    why = Records(room.folder).not_marked(SET)["ada"]
    assert re.fullmatch("This is the notebook of 01_lists, handed in as 02_words; .*", why)
    assert why in run(room, "status", capsys)
    # and a right one clears it
    nbformat.write(filled(SET), room.layout.submitted(SET, "ada"))
    assert "ada" not in run(room, "status", capsys)
    assert marks_of(room)["ada"][0] == RIGHT_OF_ALL
