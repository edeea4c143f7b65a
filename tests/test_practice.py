"""Review, examination and the file that keeps them: nothing lost, nothing told too early."""

import io
import itertools
import json
import random
import signal
import sqlite3
import subprocess
import sys
import threading
import time
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest
from rich.console import Console
from statsmodels.stats.proportion import proportion_confint

from shared_utils import cli
from shared_utils.bank.items import bank
from shared_utils.bank.posed import pose
from shared_utils.course import manifest, place
from shared_utils.practice import exam, exam_report, page, review, terminal
from shared_utils.practice.progress import Progress

SMALL = (4, 0, 0, 0)


class Clocked(Progress):
    """Progress whose clock the test sets."""

    moment = datetime(2026, 11, 1, 9, tzinfo=UTC)

    def now(self):
        return self.moment


@pytest.fixture
def progress(tmp_path):
    return Clocked(tmp_path / "progress.sqlite")


@pytest.fixture
def part_one(monkeypatch):
    """An examination over what part 1 has alone."""
    whole = manifest.of()
    parts = [
        replace(part, exam_questions=count) for part, count in zip(whole.parts, SMALL, strict=True)
    ]
    small = replace(whole, parts=tuple(parts))
    monkeypatch.setattr(manifest, "of", lambda root=None: small)


def answer_all_of_today(progress, right=True):
    asked = []
    learning = review.Review(progress)
    while (posed := learning.next()) is not None and len(asked) < 60:
        learning.answer(posed, right_or_wrong(posed, right), 3.0)
        asked.append(posed.item)
    return asked


def right_or_wrong(posed, right):
    if right:
        return str(posed.right)
    if posed.item.kind == "number":
        return f"{posed.right + 50:.2f}"
    return posed.right[::-1] if posed.item.kind == "order" else "A" if posed.right != "A" else "B"


def test_new_items_are_limited_a_day_and_right_ones_come_back_later_and_later(progress):
    asked = answer_all_of_today(progress)
    assert len(asked) == min(review.NEW_A_DAY, len(bank()))
    first = asked[0].key
    gaps, learning = [], review.Review(progress)
    for _ in range(4):
        due = learning.back(first)
        gaps.append(due - progress.moment)
        progress.moment = due
        learning.answer(pose(bank()[first], 7), str(pose(bank()[first], 7).right))
    assert gaps == sorted(gaps)
    assert gaps[0] >= timedelta(days=1)


def test_a_wrong_item_comes_back_today_and_with_other_numbers(progress):
    learning = review.Review(progress)
    key = "page-in-numbers"
    posed = pose(bank()[key], 0)
    verdict = learning.answer(posed, str(-posed.right))
    assert (verdict.right, verdict.slip) == (False, "sign")
    assert learning.back(key) - progress.moment <= timedelta(minutes=10)
    progress.moment += timedelta(minutes=11)
    again = learning.next()
    assert again.item.key == key
    assert again.stem != posed.stem


@pytest.mark.slow
def test_no_interval_passes_the_day_before_the_examination(progress):
    review.set_exam_date(progress, "2026-11-20")
    for _ in range(30):
        answer_all_of_today(progress)
        progress.moment += timedelta(days=1)
        if progress.moment >= datetime(2026, 11, 19, tzinfo=UTC):
            break
    last = max(row["due"] for row in progress.rows("SELECT due FROM card"))
    assert last <= "2026-11-19T06:00:00+00:00"


@pytest.mark.parametrize("text", ["tomorrow", "2026-02-30", "2020-01-01"])
def test_a_date_that_cannot_be_is_said(progress, text):
    with pytest.raises(ValueError, match=r"date|passed"):
        review.set_exam_date(progress, text)
    assert progress.setting(review.EXAM_DATE) is None


def test_lessons_are_interleaved(progress):
    lessons = [item.lesson for item in answer_all_of_today(progress)]
    if len(set(lessons)) > 1:
        assert all(one != other for one, other in itertools.pairwise(lessons))


def test_an_examination_says_nothing_before_its_end_and_then_all(progress):
    sitting = exam.Exam.begin(progress, 10, SMALL)
    assert len(sitting.questions) == 4
    with pytest.raises(ValueError, match="still runs"):
        sitting.report()
    for n, asked in enumerate(sitting.questions[:3]):
        sitting.answer(n, right_or_wrong(asked, n != 1), 20.0)
    report = sitting.end()
    assert (report.whole.right, report.whole.asked) == (2, 4)
    assert [missed.place for missed in report.missed] == [2, 4]
    assert report.missed[1].given == "no answer"
    assert report.used_seconds == 60.0
    missed = [sitting.questions[n].item for n in (1, 3)]
    pages = manifest.of().by_slug
    titles = {pages[item.lesson].numbered_title for item in missed}
    assert set(report.reread()) == titles
    goals = [goal for goals in report.reread().values() for goal in goals]
    assert len(goals) == len({(item.lesson, item.goal) for item in missed})
    assert [one.outcome for one in report.taken] == ["right", "missed", "right", "no answer"]
    message = dict(report.sections())
    assert "2 of 4 right, 50 %" in message["Your score"][0]
    assert "1 of 4 questions without an answer" in message["Against time"][0]
    with pytest.raises(ValueError, match="has ended"):
        sitting.answer(3, str(sitting.questions[3].right), 1.0)


def test_the_clock_stops_for_a_pause_and_ends_the_examination(progress):
    sitting = exam.Exam.begin(progress, 1, SMALL)
    sitting.pause(50.0)
    assert sitting.left_seconds() == 10.0
    with pytest.raises(ValueError, match="ran out before this answer"):
        sitting.answer(0, str(sitting.questions[0].right), 15.0)
    assert sitting.given() == {}
    assert sitting.left_seconds() == 0.0
    with pytest.raises(ValueError, match="time is up"):
        sitting.answer(1, str(sitting.questions[1].right), 1.0)


def test_an_examination_asks_no_item_twice_and_another_one_asks_others(progress):
    plans = []
    for _ in range(4):
        plans.append([q.item.key for q in exam.Exam.begin(progress, 10, SMALL).questions])
        progress.moment += timedelta(hours=1)
    assert all(len(set(plan)) == 4 for plan in plans)
    assert len({tuple(plan) for plan in plans}) > 1
    goals = {(bank()[key].lesson, bank()[key].goal) for key in plans[0]}
    assert len(goals) == 4  # every goal before the second of any


@pytest.mark.parametrize(("right", "asked"), [(0, 5), (3, 10), (31, 40), (40, 40)])
def test_the_range_of_a_share_is_wilsons(right, asked):
    """Against the interval of statsmodels, an independent library."""
    ours = exam_report.share("all", [True] * right + [False] * (asked - right))
    low, high = proportion_confint(right, asked, method="wilson")
    assert (ours.low, ours.high) == (pytest.approx(low, abs=1e-9), pytest.approx(high, abs=1e-9))


def test_export_delete_and_import_give_back_what_was(progress, tmp_path):
    answer_all_of_today(progress)
    before = progress.rows("SELECT * FROM answer"), progress.rows("SELECT * FROM card")
    progress.export(tmp_path / "mine.json")
    progress.delete()
    assert not progress.rows("SELECT * FROM answer")
    progress.import_from(tmp_path / "mine.json")
    assert (progress.rows("SELECT * FROM answer"), progress.rows("SELECT * FROM card")) == before


LISTS = {"lens_course_progress": 1, "card": [], "answer": [], "exam": [], "exam_answer": []}


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (b"", "it is no JSON"),
        (b"\xff", "it is no JSON"),
        (b"[" * 100_000, "it is no JSON"),
        (b"[]", "it does not say lens_course_progress"),
        (b"{}", "it does not say lens_course_progress"),
        (b'{"lens_course_progress": 2}', "of another version of the course"),
        (b'{"lens_course_progress": 1, "setting": 3}', "it has no list 'setting'"),
        (json.dumps({**LISTS, "setting": [{}]}).encode(), "entry 1 of its list 'setting'"),
        (
            json.dumps({**LISTS, "setting": [{"name": "a", "value": "1"}, 3]}).encode(),
            "entry 2 of its list 'setting' does not fit",
        ),
        (
            json.dumps({**LISTS, "setting": [{"name": "a", "value": None}]}).encode(),
            "entry 1 of its list 'setting' does not fit",
        ),
        (None, "other.json cannot be read: No such file or directory"),
    ],
)
def test_a_file_that_is_no_export_changes_nothing(progress, tmp_path, capsys, content, says):
    answer_all_of_today(progress)
    before = progress.rows("SELECT * FROM answer")
    if content is not None:
        (tmp_path / "other.json").write_bytes(content)
    line = ["practice", "--file", str(progress.file), "--import", str(tmp_path / "other.json")]
    assert cli.main(line) == 2
    err = capsys.readouterr().err
    assert says in err
    assert err.endswith("nothing was changed.\n")
    assert progress.rows("SELECT * FROM answer") == before
    assert not list(tmp_path.glob("*before*"))


def test_two_windows_at_once_lose_nothing(progress):
    def window(number):
        mine = Progress(progress.file)
        learning = review.Review(mine)
        for n in range(25):
            posed = pose(bank()["page-in-numbers"], 100 * number + n)
            learning.answer(posed, str(posed.right))

    threads = [threading.Thread(target=window, args=(n,)) for n in range(3)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(progress.rows("SELECT * FROM answer")) == 75


@pytest.mark.parametrize("damage", ["middle", "head", "cut", "text"])
def test_a_damaged_file_is_kept_aside_said_and_rescued(tmp_path, monkeypatch, damage):
    monkeypatch.setenv("LENS_COURSE_DATA", str(tmp_path))
    progress = Clocked(tmp_path / "progress.sqlite")
    with progress.opened() as connection:
        for n in range(1, 2001):
            row = (n, "2026-11-01", "page-in-numbers", n, "-2.5", 1, "", 3.0)
            connection.execute("INSERT INTO answer VALUES (?, ?, ?, ?, ?, ?, ?, ?)", row)
    with sqlite3.connect(progress.file) as connection:
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    connection.close()
    whole = progress.file.read_bytes()
    spoilt = {
        "middle": whole[:30000] + b"\xff" * 4096 + whole[30000 + 4096 :],
        "head": b"\x00" * 100 + whole[100:],
        "cut": whole[: len(whole) // 2],
        "text": b"dear diary",
    }[damage]
    progress.file.write_bytes(spoilt)
    reopened = Clocked(progress.file)
    assert "damaged" in reopened.notice
    kept = list(tmp_path.glob("progress.damaged-*.sqlite"))
    assert [path.read_bytes() for path in kept] == [spoilt]
    saved = len(reopened.rows("SELECT * FROM answer"))
    if damage in ("middle", "cut"):
        assert saved >= 500
    posed = review.Review(reopened).next()
    review.Review(reopened).answer(posed, str(posed.right))
    assert len(reopened.rows("SELECT * FROM answer")) == saved + 1


ANSWERING = """
import sys
from shared_utils.practice import exam, review
from shared_utils.bank.items import bank
from shared_utils.bank.posed import pose
from shared_utils.practice.progress import Progress

progress = Progress(sys.argv[1])
if sys.argv[2] == "exam":
    sitting = exam.Exam.unfinished(progress) or exam.Exam.begin(progress, 600, (9, 0, 0, 0))
    n = 0
    while True:
        n += 1
        sitting.answer(n % 9, str(sitting.questions[n % 9].right), float(n))
        print(n, flush=True)
else:
    learning = review.Review(progress)
    n = 0
    while True:
        posed = pose(bank()["page-in-numbers"], n)
        learning.answer(posed, str(posed.right))
        n += 1
        print(n, flush=True)
"""


def killed_while_answering(file, which, moment):
    """Answer in a process of its own until it is killed; how many answers it knew to be kept."""
    process = subprocess.Popen(
        [sys.executable, "-c", ANSWERING, str(file), which],
        stdout=subprocess.PIPE,
        text=True,
        cwd=place.course_root(),
    )
    first = process.stdout.readline()
    time.sleep(moment)
    process.send_signal(signal.SIGKILL)
    lines = [first, *process.stdout]
    process.wait()
    process.stdout.close()
    return int([line for line in lines if line.endswith("\n")][-1])


def killed_at(moments, tmp_path):
    for n, moment in enumerate(moments):
        file = tmp_path / f"review{n}.sqlite"
        known = killed_while_answering(file, "review", moment)
        reopened = Progress(file)
        assert not reopened.notice
        assert known <= len(reopened.rows("SELECT * FROM answer")) <= known + 1
        assert len(reopened.rows("SELECT * FROM card")) == 1
        file = tmp_path / f"exam{n}.sqlite"
        known = killed_while_answering(file, "exam", moment)
        reopened = Progress(file)
        sitting = exam.Exam.unfinished(reopened)
        used = sitting.used_seconds()
        # every answer n took n seconds, so the clock tells how many were kept
        assert used in (known * (known + 1) / 2, (known + 1) * (known + 2) / 2)
        assert len(sitting.given()) == min(9, max(known, len(sitting.given())))
        report = sitting.end()
        assert report.whole.right == len(sitting.given())


def test_a_kill_loses_at_most_the_answer_being_typed(tmp_path):
    killed_at([random.Random(5).uniform(0.0, 0.3)], tmp_path)


@pytest.mark.long
def test_a_kill_at_ten_moments_loses_at_most_the_answer_being_typed(tmp_path):
    chance = random.Random(11)
    killed_at([chance.uniform(0.0, 1.0) for _ in range(10)], tmp_path)


class Typed(Console):
    """A console whose reader types what is given; what was said is kept."""

    def __init__(self, lines):
        self.lines = iter(lines)
        super().__init__(record=True, width=100, file=io.StringIO(), highlight=False)

    def input(self, prompt="", **options):
        self.print(prompt)
        typed = next(self.lines, None)
        if typed is None:
            raise EOFError
        return typed() if callable(typed) else typed


def test_practice_in_the_terminal_marks_and_stops(progress):
    learning = review.Review(progress)
    console = Typed(["nonsense", lambda: str(learning.next().right), "q"])
    assert terminal.practise(progress, console=console) == 1
    message = console.export_text()
    assert "is not an answer here" in message
    assert "Right." in message
    assert "Comes back" in message
    assert "not for patient care" in message


def test_the_examination_in_the_terminal_pauses_leaves_goes_on_and_reports(progress, part_one):
    console = Typed(["p", "", "", "q"])
    begin = exam.Exam.begin.__func__

    def small(cls, progress, minutes):
        return begin(cls, progress, minutes, SMALL)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(exam.Exam, "begin", classmethod(small))
        assert terminal.sit(progress, 10, console) is None
    waiting = exam.Exam.unfinished(progress)
    answers = [(lambda n=n: str(waiting.questions[n].right)) for n in range(len(waiting.questions))]
    console = Typed(answers)
    report = terminal.sit(progress, 10, console)
    message = console.export_text()
    assert "You go on where you were" in message
    assert report.whole.right == report.whole.asked == 4
    assert "█" in message


def test_the_page_of_practice_keeps_answers_and_says_what_is_missing(progress):
    shown = page.ReviewPage(progress)
    shown.answer()
    assert "first" in shown.reply.value
    posed = shown.question.posed
    shown.question.choice.value = posed.right if posed.item.kind == "choice" else None
    shown.question.field.value = str(posed.right)
    shown.answer()
    assert "Right." in shown.reply.value
    assert len(progress.rows("SELECT * FROM answer")) == 1
    shown.next()
    assert shown.question.posed.item.key != posed.item.key
    shown.date.value = "2026-13-01"
    assert "is not a date" in shown.reply.value


def test_the_page_of_the_examination_goes_from_start_to_report(progress, monkeypatch):
    begin = exam.Exam.begin.__func__
    monkeypatch.setattr(
        exam.Exam, "begin", classmethod(lambda cls, p, minutes: begin(cls, p, minutes, SMALL))
    )
    shown = page.ExamPage(progress, minutes=10)
    shown.begin()
    for n in range(4):
        posed = shown.question.posed
        assert posed is shown.exam.questions[n]
        if posed.item.kind == "choice":
            shown.question.choice.value = posed.right
        else:
            shown.question.field.value = str(posed.right)
        shown.keep()
        assert "Right" not in shown.reply.value
        if n == 1:
            shown.pause()
            assert shown.question.layout.display == "none"
            shown.begin()
    reopened = page.ExamPage(progress)
    assert reopened.exam.given() == shown.exam.given()
    shown.end()
    assert "4 of 4 right" in shown.report.value
    assert "<img" in shown.report.value


def test_the_commands_export_take_over_and_forget(tmp_path, monkeypatch, capsys):
    file, copy = str(tmp_path / "p.sqlite"), str(tmp_path / "copy.json")
    answer_all_of_today(Progress(file))
    assert cli.main(["practice", "--file", file, "--export", copy]) == 0
    monkeypatch.setattr("builtins.input", lambda _: "yes")
    assert cli.main(["practice", "--file", file, "--forget"]) == 0
    assert not Progress(file).rows("SELECT * FROM answer")
    assert cli.main(["practice", "--file", file, "--import", copy]) == 0
    answers = Progress(file).rows("SELECT * FROM answer")
    assert answers
    assert "before" not in capsys.readouterr().out
    empty = str(tmp_path / "empty.json")
    Progress(tmp_path / "new.sqlite").export(empty)
    assert cli.main(["practice", "--file", file, "--import", empty]) == 0
    assert "What was here before is kept as" in capsys.readouterr().out
    (aside,) = tmp_path.glob("p.before-*.json")
    assert cli.main(["practice", "--file", file, "--import", str(aside)]) == 0
    assert Progress(file).rows("SELECT * FROM answer") == answers
    assert cli.main(["practice", "--file", file, "--lessons", "77"]) == 2
    assert "no lesson '77'" in capsys.readouterr().err


def test_what_is_no_file_of_progress_is_refused_and_left_as_it_is(tmp_path, monkeypatch, capsys):
    monkeypatch.setattr("builtins.input", lambda _: "yes")
    diary, folder = tmp_path / "diary.txt", tmp_path / "letters"
    diary.write_text("dear diary", encoding="utf-8")
    folder.mkdir()
    (folder / "first").write_text("dear friend", encoding="utf-8")
    for other in (diary, folder):
        for line in (["practice"], ["practice", "--forget"], ["exam"]):
            assert cli.main([*line, "--file", str(other)]) == 2
            sentence = f"lens-course: {other} is not a file of progress; give another name.\n"
            assert capsys.readouterr().err == sentence
    assert sorted(tmp_path.rglob("*")) == [diary, folder, folder / "first"]
    assert diary.read_text(encoding="utf-8") == "dear diary"
    empty = tmp_path / "empty.sqlite"
    empty.touch()
    assert Progress(empty).rows("SELECT * FROM answer") == []


def test_forget_asks_before_the_file_is_opened(tmp_path, monkeypatch):
    monkeypatch.setenv("LENS_COURSE_DATA", str(tmp_path))
    file = tmp_path / "progress.sqlite"
    file.write_text("damaged", encoding="utf-8")
    monkeypatch.setattr("builtins.input", lambda _: "no")
    assert cli.main(["practice", "--forget"]) == 0
    assert list(tmp_path.iterdir()) == [file]
    assert file.read_text(encoding="utf-8") == "damaged"


def test_an_export_takes_the_place_of_nothing(tmp_path, capsys):
    file, there = tmp_path / "p.sqlite", tmp_path / "thesis.txt"
    there.write_text("mine", encoding="utf-8")
    for option in ("--export", "--as-xapi"):
        assert cli.main(["practice", "--file", str(file), option, str(there)]) == 2
        message = f"lens-course: {there} is there already; give the name of a new file.\n"
        assert capsys.readouterr().err == message
        assert there.read_text(encoding="utf-8") == "mine"
    assert cli.main(["practice", "--file", str(file), "--export", str(file)]) == 2
    assert "is there already" in capsys.readouterr().err
    assert Progress(file).notice == ""


@pytest.mark.parametrize("minutes", ["inf", "-inf", "nan", "0", "-5", "600.5"])
def test_a_time_that_no_examination_is_given_is_refused_before_anything_is_kept(
    tmp_path, progress, capsys, minutes
):
    file = tmp_path / "new.sqlite"
    assert cli.main(["exam", "--file", str(file), f"--minutes={minutes}"]) == 2
    out, err = capsys.readouterr()
    assert (out, err.count("\n")) == ("", 1)
    assert "give more than 0 and at most 600 minutes." in err
    assert not file.exists()
    with pytest.raises(ValueError, match="at most 600"):
        exam.Exam.begin(progress, float(minutes))
    assert not progress.rows("SELECT * FROM exam")


def bytes_in(folder):
    return {path.name: path.read_bytes() for path in folder.iterdir()}


@pytest.mark.parametrize("number", [0, 0x0F055112])
def test_another_programs_database_is_refused_and_left_as_it_is(tmp_path, capsys, number):
    other = tmp_path / "letters.sqlite"
    with sqlite3.connect(other) as connection:
        connection.execute("CREATE TABLE answer (letter TEXT)")
        connection.execute("INSERT INTO answer VALUES ('dear friend')")
        connection.execute(f"PRAGMA application_id = {number}")
    connection.close()
    before = bytes_in(tmp_path)
    for line in (["practice"], ["exam"], ["practice", "--export", str(tmp_path / "new.json")]):
        assert cli.main([*line, "--file", str(other)]) == 2
        sentence = f"lens-course: {other} is not a file of progress; give another name.\n"
        assert capsys.readouterr().err == sentence
    assert bytes_in(tmp_path) == before


def test_a_file_of_an_earlier_version_is_taken_for_progress(tmp_path, progress):
    progress.set("name", "value")
    with sqlite3.connect(progress.file) as connection:
        connection.execute("PRAGMA application_id = 0")
    connection.close()
    assert Progress(progress.file).setting("name") == "value"
    assert progress.file.read_bytes()[68:72] == b"Lens"  # sqlite.org/fileformat2.html, 1.3.16


@pytest.mark.parametrize("minutes", [float("inf"), 601.0])
def test_an_examination_without_an_end_that_was_kept_gets_one(progress, monkeypatch, minutes):
    begun = exam.Exam.begin(progress, 60, SMALL)
    with progress.opened() as connection:
        connection.execute("UPDATE exam SET minutes = ?", (minutes,))
    monkeypatch.setattr("builtins.input", lambda *_: "q")
    out = io.StringIO()
    terminal.sit(progress, 60, Console(file=out, width=200))
    assert "begun with" in out.getvalue()
    assert "600 min 00 s left" in out.getvalue()
    sitting = exam.Exam.unfinished(progress)
    assert sitting.number == begun.number
    assert sitting.left_seconds() == pytest.approx(600 * 60, abs=60)
    assert "it has 600 minutes now" in page.ExamPage(progress).reply.value
    assert sitting.end().minutes == 600


def test_a_file_that_another_program_holds_is_named_with_what_to_do(
    tmp_path, monkeypatch, capsys, progress
):
    monkeypatch.setattr("shared_utils.practice.progress.WAIT_SECONDS", 0.05)
    shown = page.ReviewPage(progress)
    other = sqlite3.connect(progress.file, isolation_level=None)
    other.execute("BEGIN EXCLUSIVE")
    shown.question.choice.value = shown.question.choice.options[0][1]
    shown.question.field.value = "1"
    shown.answer()
    assert str(progress.file) in shown.reply.value
    assert cli.main(["practice", "--file", str(progress.file), "--until", "2030-01-01"]) == 2
    other.execute("ROLLBACK")
    other.close()
    err = capsys.readouterr().err
    assert f"{progress.file} holds your progress, and another window" in err
    assert "fault of the course" not in err
    assert not list(tmp_path.glob("*damaged*"))


def test_a_full_disk_is_named_with_the_file_and_moves_nothing(tmp_path, progress, capsys):
    progress.set("first", "kept")
    small = sqlite3.connect

    def full(*args, **kwargs):
        connection = small(*args, **kwargs)
        connection.execute("PRAGMA max_page_count = 1")  # SQLite takes what there is already
        return connection

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(sqlite3, "connect", full)
        with pytest.raises(ValueError, match=r"progress\.sqlite holds .* the disk is full"):
            progress.set("second", "x" * 100_000)
    assert Progress(progress.file).setting("first") == "kept"
    assert Progress(progress.file).setting("second") is None
    assert not list(tmp_path.glob("*damaged*"))


def test_a_file_that_may_not_be_written_is_named_and_not_moved(tmp_path, progress):
    def refused(*args, **kwargs):
        raise read_only

    source = sqlite3.connect(f"{progress.file.as_uri()}?mode=ro", uri=True)
    with pytest.raises(sqlite3.OperationalError) as caught:
        source.execute("DELETE FROM answer")
    source.close()
    read_only = caught.value
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(sqlite3, "connect", refused)
        with pytest.raises(ValueError, match="may not be written"):
            Progress(progress.file)
    assert not list(tmp_path.glob("*damaged*"))
