"""Practice and the mock examination in JupyterLab, by keyboard, from start to report."""

import re
from contextlib import contextmanager

import pytest

from shared_utils.practice import exam
from shared_utils.practice.progress import Progress
from tests import lab

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
    button = page.get_by_role("button", name=name, exact=True)
    button.wait_for()
    page.wait_for_function(
        "name => [...document.querySelectorAll('.jp-OutputArea button')]"
        ".some(b => b.textContent.trim() === name && !b.disabled)",
        arg=name,
    )
    button.focus()
    page.keyboard.press("Enter")


def give_something(page):
    """Choose the first option, or write an answer, as the question wants it; by keyboard."""
    page.wait_for_timeout(300)
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


def test_practice_by_keyboard_keeps_answers(page, tmp_path):
    with own_lab(tmp_path) as address:
        lab.open_notebook(page, address, "lessons/17_practice.ipynb")
        lab.run_all(page)
        for _ in range(3):
            give_something(page)
            press(page, "Answer")
            page.locator("strong", has_text=re.compile(r"^(Right|Not so)\.$")).wait_for()
            press(page, "Next question")
            page.wait_for_timeout(300)
    assert len(Progress(tmp_path / "progress.sqlite").rows("SELECT * FROM answer")) == 3


def test_the_examination_by_keyboard_goes_from_start_to_report(page, tmp_path):
    with own_lab(tmp_path) as address:
        lab.open_notebook(page, address, "lessons/18_mock_examination.ipynb")
        lab.run_all(page)
        press(page, "Begin")
        for n in range(1, 5):
            page.get_by_text(f"Question {n} of 40;").wait_for()
            give_something(page)
            press(page, "Keep answer")
            page.get_by_text(f"; {n} answered;").wait_for(timeout=15_000)
        press(page, "Pause")
        press(page, "Go on")
        # the page is run anew, as after a crash: it goes on where it was
        lab.open_notebook(page, address, "lessons/18_mock_examination.ipynb")
        lab.run_all(page)
        press(page, "Go on")
        page.get_by_text("; 4 answered;").wait_for()
        press(page, "End and report")
        page.get_by_text("of 40 right").first.wait_for()
        assert page.locator("img[alt^='Right answers by part']").count() == 1
    progress = Progress(tmp_path / "progress.sqlite")
    sat = exam.Exam(progress, 1)
    assert sat.ended()
    assert len(sat.given()) == 4
