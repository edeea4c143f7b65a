"""Practice and the mock examination in JupyterLab, by keyboard, from start to report."""

import random
import re
import threading
from contextlib import contextmanager

import psutil
import pytest

from shared_utils.practice import exam, review
from shared_utils.practice.progress import Progress
from tests import lab
from tests.sampling import size

pytestmark = pytest.mark.browser

RADIO = ".widget-radio-box input[type=radio]"
FIELD = ".widget-text input"


@contextmanager
def own_lab(folder):
    """JupyterLab whose learner's progress lies in a folder of the test."""
    (folder / "course").mkdir()
    with lab.copy_of_course(folder / "course") as root:
        environment = {"LENS_COURSE_DATA": str(folder)}
        with lab.running_lab(root, environment=environment) as address:
            yield address


def press(page, name):
    enabled(page, name).press("Enter")  # focuses it first


def enabled(page, name):
    """Wait until a button can be pressed; return it."""
    button = page.get_by_role("button", name=name, exact=True)
    button.wait_for()
    page.wait_for_function(
        "name => [...document.querySelectorAll('.jp-OutputArea button')]"
        ".some(b => b.textContent.trim() === name && !b.disabled)",
        arg=name,
    )
    return button


def give_something(page):
    """Choose the first option, or write an answer, as the question wants it; by keyboard."""
    lab.wait_idle(page)  # all parts of the question are there
    if page.locator(RADIO).first.is_visible():
        page.locator(RADIO).first.focus()
        page.keyboard.press("Space")
    else:
        field = page.locator(FIELD).last
        letters = "letters" in field.evaluate("e => e.parentElement.textContent")
        lines = page.locator(".widget-vbox .widget-html").all_inner_texts()
        asked = next(text for text in lines if "\nA " in text) if letters else ""
        field.focus()
        page.keyboard.type("".join(a for a in "ABCDEFG" if f"\n{a} " in asked) or "1.23")
        page.keyboard.press("Tab")


def test_an_answer_given_by_keyboard_is_kept(page, tmp_path):
    with own_lab(tmp_path) as address:
        lab.open_notebook(page, address, "lessons/17_practice.ipynb")
        lab.run_all(page)
        page.get_by_text("0 answered today.").wait_for()
        one_of_practice(page)
        page.get_by_text("1 answered today.").wait_for()
    rows = Progress(tmp_path / "progress.sqlite").rows("SELECT * FROM answer")
    assert len(rows) == 1


@pytest.mark.slow
def test_practice_by_keyboard_goes_from_the_first_question_to_the_end_of_the_day(page, tmp_path):
    with own_lab(tmp_path) as address:
        lab.open_notebook(page, address, lab.page_of("practice"))
        lab.run_all(page)
        for n in range(review.NEW_A_DAY):
            page.get_by_text(f"{n} answered today.").wait_for()
            one_of_practice(page)
        page.get_by_text("Nothing more for today").wait_for()
    rows = Progress(tmp_path / "progress.sqlite").rows("SELECT * FROM answer")
    assert len(rows) == review.NEW_A_DAY


@pytest.mark.slow
def test_the_examination_by_keyboard_goes_from_start_to_report(page, tmp_path):
    with own_lab(tmp_path) as address:
        lab.open_notebook(page, address, lab.page_of("mock_examination"))
        lab.run_all(page)
        press(page, "Begin")
        for n in range(1, 5):
            page.get_by_text(f"Question {n} of 40;").wait_for()
            give_something(page)
            press(page, "Keep answer")
            page.get_by_text(f"; {n} answered;").wait_for()
        clock = page.get_by_role("timer")
        seen = clock.inner_text()
        page.wait_for_function(
            "s => document.querySelector('[role=timer]').textContent !== s", arg=seen
        )
        press(page, "Pause")
        page.get_by_text("Paused.").wait_for()
        seen = clock.inner_text()
        page.wait_for_timeout(2500)
        assert clock.inner_text() == seen
        press(page, "Go on")
        # the page is run anew, as after a crash: it goes on where it was
        lab.open_notebook(page, address, lab.page_of("mock_examination"))
        lab.run_all(page)
        press(page, "Go on")
        page.get_by_text("; 4 answered;").wait_for()
        press(page, "End and report")
        page.get_by_text("of 40 right").first.wait_for()
        for alt in ("Right answers by part", "Seconds that each of 40 questions took"):
            assert page.locator(f"img[alt^='{alt}']").count() == 1
        headings = page.locator(".widget-html h3").all_inner_texts()
        assert headings[:3] == ["Your score", "By part", "Against time"]
        assert headings[-1] == "Read again"
    progress = Progress(tmp_path / "progress.sqlite")
    sat = exam.Exam(progress, 1)
    assert sat.ended()
    assert len(sat.given()) == 4


def kernel_of(folder):
    """The process of the kernel that runs in a folder."""
    for process in psutil.process_iter(["cmdline", "cwd"]):
        words = process.info["cmdline"] or []
        here = str(process.info["cwd"] or "")
        if "ipykernel_launcher" in " ".join(words) and here.startswith(str(folder)):
            return process
    raise AssertionError("no kernel runs here")


def answer_until_killed(page, folder, steps, seconds):
    """Take steps one after the other until the kernel is killed; how many came to their end."""
    killer = threading.Timer(seconds, kernel_of(folder).kill)
    killer.start()
    done = 0
    page.set_default_timeout(1000 * (seconds + 5))
    try:
        for step in steps:
            step()
            done += 1
    except Exception:  # the page waits for a kernel that is gone
        if killer.is_alive():
            raise
    killer.join()
    page.set_default_timeout(lab.PATIENCE_MS)
    return done


def one_of_practice(page):
    enabled(page, "Answer")  # the question is there
    give_something(page)
    press(page, "Answer")
    page.locator("strong", has_text=re.compile(r"^(Right|Not so)\.$")).wait_for()
    press(page, "Next question")


def one_of_the_examination(page, place):
    page.get_by_text(f"Question {place} of 40;").wait_for()
    give_something(page)
    press(page, "Keep answer")
    page.get_by_text(f"; {place} answered;").wait_for()


def killed(page, folder, times, seed):
    """Kill the kernel at random moments, run the page again: what was kept is there."""
    chance = random.Random(seed)
    file = folder / "progress.sqlite"
    with own_lab(folder) as address:
        for _ in range(times):
            kept = len(Progress(file).rows("SELECT * FROM answer"))
            lab.open_notebook(page, address, lab.page_of("practice"))
            lab.run_all(page)
            page.get_by_text(f"{kept} answered today.").wait_for()
            if kept > review.NEW_A_DAY - 8:
                Progress(file).delete()
                continue
            steps = [lambda: one_of_practice(page)] * 7
            done = answer_until_killed(page, folder, steps, chance.uniform(0.2, 4.0))
            reopened = Progress(file)
            assert not reopened.notice
            assert kept + done <= len(reopened.rows("SELECT * FROM answer")) <= kept + done + 1
        for _ in range(times):
            lab.open_notebook(page, address, lab.page_of("mock_examination"))
            lab.run_all(page)
            waiting = exam.Exam.unfinished(Progress(file))
            before = waiting.given() if waiting else {}
            press(page, "Go on" if waiting else "Begin")
            page.get_by_text(f"; {len(before)} answered;").wait_for()
            places = range(len(before) + 1, len(before) + 9)
            steps = [lambda n=n: one_of_the_examination(page, n) for n in places]
            done = answer_until_killed(page, folder, steps, chance.uniform(0.2, 4.0))
            reopened = exam.Exam.unfinished(Progress(file))
            now = reopened.given()
            assert before.items() <= now.items()
            assert len(before) + done <= len(now) <= len(before) + done + 1
            if len(now) > 30:
                reopened.end()


@pytest.mark.slow
def test_a_killed_kernel_loses_at_most_the_answer_being_typed(page, tmp_path):
    killed(page, tmp_path, 1, seed=2)


@pytest.mark.long
@pytest.mark.timeout(1500)
def test_ten_killed_kernels_lose_at_most_the_answer_being_typed(page, tmp_path):
    killed(page, tmp_path, size(10, 2), seed=3)
