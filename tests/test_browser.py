"""The course in JupyterLab in a real browser, by keyboard, as a learner meets it."""

import json
import urllib.request

import pytest

from shared_utils.bank import items
from shared_utils.bank.posed import pose
from tests import lab
from tests.filling import filled, release, save

pytestmark = pytest.mark.browser

SLIDER = ".lens-course-slider input"
PICTURE = ".lens-course-picture img"


def scroll_until(page, selector):
    """Scroll down until a part is there: a long notebook draws only what is near the window."""
    for step in range(60):
        if page.locator(selector).count():
            break
        page.evaluate(
            "y => document.querySelector('.jp-WindowedPanel-outer').scrollTo(0, y)", 400 * step
        )
        page.wait_for_timeout(150)  # the notebook draws what came near
    return page.locator(selector).first


def test_lesson_opens_without_a_question_and_moves_by_keyboard(lab_on_a_copy, page):
    _, address = lab_on_a_copy
    lab.open_notebook(page, address, "lessons/01_vergence.ipynb")
    assert page.locator(".jp-Dialog").count() == 0
    assert page.locator(".Toastify__toast").count() == 0
    lab.run_all(page)
    page.wait_for_selector(SLIDER, state="attached")
    slider = page.locator(SLIDER).first
    slider.focus()  # brings it into view
    lab.wait_still(page, SLIDER)
    picture = page.locator(PICTURE).first
    sentence = page.locator(".lens-course-picture [role=status]").first

    assert slider.evaluate("e => e.labels[0].textContent") == "Object in front of it, cm"
    assert slider.get_attribute("aria-valuetext") == "40 cm"
    assert picture.get_attribute("width") == "700"
    assert "real image lies 40.0 cm behind" in picture.get_attribute("alt")

    before = {
        "src": picture.get_attribute("src"),
        "alt": picture.get_attribute("alt"),
        "text": sentence.inner_text(),
        "top": slider.bounding_box()["y"],
        "picture top": picture.bounding_box()["y"],
    }
    for _ in range(5):
        page.keyboard.press("ArrowLeft")
    page.wait_for_function(
        "alt => document.querySelector('.lens-course-picture img').alt.includes(alt)",
        arg="35 cm in front",
    )
    assert slider.get_attribute("aria-valuetext") == "35 cm"
    assert picture.get_attribute("src") != before["src"]
    assert "Light from 35 cm" in sentence.inner_text()
    assert slider.bounding_box()["y"] == before["top"]
    assert picture.bounding_box()["y"] == before["picture top"]
    page.keyboard.press("Home")
    page.wait_for_function(
        "() => document.querySelector('.lens-course-picture img').alt.includes('10 cm in front')"
    )
    assert picture.bounding_box()["y"] == before["picture top"]

    page.get_by_role("button", name="Reset").first.click()
    page.wait_for_function(
        "() => document.querySelector('.lens-course-picture img').alt.includes('40 cm in front')"
    )
    assert slider.get_attribute("aria-valuetext") == "40 cm"
    assert sentence.inner_text() == before["text"]


@pytest.mark.slow
def test_every_slider_has_a_name_of_its_own(lab_on_a_copy, page):
    _, address = lab_on_a_copy
    lab.open_notebook(page, address, "lessons/01_vergence.ipynb")
    lab.run_all(page)
    page.wait_for_selector(SLIDER, state="attached")
    names = page.eval_on_selector_all(SLIDER, "all => all.map(e => e.labels[0]?.textContent)")
    assert len(names) == len(set(names)) == 4


@pytest.mark.slow
def test_a_guess_is_kept_and_answered(lab_on_a_copy, page):
    _, address = lab_on_a_copy
    lab.open_notebook(page, address, "lessons/01_vergence.ipynb")
    lab.run_all(page)
    entry = page.get_by_label("My guess, D:")
    entry.scroll_into_view_if_needed()
    entry.fill("7.5")
    entry.press("Tab")
    page.keyboard.press("Enter")  # the button beside it
    answer = page.get_by_text("You guessed +7.50 D; the sum gives +2.50 D.")
    answer.wait_for(state="attached")
    assert "Not so." in answer.inner_text()


@pytest.mark.slow
def test_an_answer_opens_its_feedback_by_keyboard(lab_on_a_copy, page):
    _, address = lab_on_a_copy
    lab.open_notebook(page, address, "lessons/01_vergence.ipynb")
    lab.run_all(page)
    asked = pose(items.bank()["sign-of-near-light"], items.ON_PAGE)
    key = next(option for option in asked.options if option.key)
    option = page.locator("section", has_text=asked.stem).locator("summary", has_text=key.text)
    option.scroll_into_view_if_needed()
    feedback = page.get_by_text(key.feedback)
    assert not feedback.is_visible()
    option.focus()
    page.keyboard.press("Enter")
    feedback.wait_for(state="visible")


@pytest.mark.slow
def test_a_reopened_page_shows_stills_with_alt_text(lab_on_a_copy, page):
    _, address = lab_on_a_copy
    path = "lessons/01_vergence.ipynb"
    lab.open_notebook(page, address, path)
    lab.run_all(page)
    page.wait_for_selector(SLIDER, state="attached")
    page.keyboard.press("Control+s")
    lab.wait_saved(page)
    page.goto("about:blank")
    for session in _api(address, "sessions"):
        _api(address, f"sessions/{session['id']}", "DELETE")
    lab.open_notebook(page, address, path)
    still = scroll_until(page, ".jp-OutputArea img[alt*='Ray picture']")
    still.scroll_into_view_if_needed()
    assert still.is_visible()


def _api(address, path, method="GET"):
    request = urllib.request.Request(
        f"{address}/api/{path}", method=method, headers={"Authorization": f"token {lab.TOKEN}"}
    )
    answer = urllib.request.urlopen(request, timeout=20).read()
    return json.loads(answer) if answer else None


@pytest.mark.slow
@pytest.mark.grading
def test_validate_tells_a_filled_set_from_a_blank_one(lab_on_a_copy, page):
    root, address = lab_on_a_copy
    place = root / "exercises" / "01_vergence" / "problems.ipynb"
    save(filled("01_vergence"), place)
    assert "Success" in _validate(page, address)
    save(release("01_vergence"), place)
    message = _validate(page, address)
    assert "failed" in message
    assert "Not answered yet" in message or "NotImplementedError" in message
    wrong = {
        "page": "def page_vergence_d(distance_cm):\n    return 100 / distance_cm",
        "points": "def far_point_cm(r):\n    return -100 / r\n\n"
        "def near_point_cm(r, a):\n    return -100 / r",
    }
    save(filled("01_vergence", wrong), place)
    message = _validate(page, address)
    assert "Likely slip: the sign" in message
    assert "1 of 2 steps hold" in message
    assert "Likely slip: that is the far point." in message
    assert "Traceback" not in message


def _validate(page, address):
    lab.open_notebook(page, address, "exercises/01_vergence/problems.ipynb")
    page.get_by_role("button", name="Validate").first.click()
    dialog = page.locator(".jp-Dialog-content")
    dialog.get_by_text("Validation").first.wait_for()
    text = dialog.inner_text()
    page.keyboard.press("Escape")
    return text


@pytest.mark.slow
@pytest.mark.grading
def test_the_button_in_a_set_says_that_all_holds(lab_on_a_copy, page):
    root, address = lab_on_a_copy
    place = root / "exercises" / "02_eye" / "problems.ipynb"
    save(filled("02_eye"), place)
    lab.open_notebook(page, address, "exercises/02_eye/problems.ipynb")
    lab.run_all(page)
    _press_the_button(page)
    page.locator("pre[role=status]", has_text="8 of 8 problems hold").wait_for()


@pytest.mark.grading
def test_the_button_in_a_set_says_for_each_problem_whether_it_holds(lab_on_a_copy, page):
    root, address = lab_on_a_copy
    wrong = {"page": "def page_vergence_d(distance_cm):\n    return 100 / distance_cm"}
    place = root / "exercises" / "01_vergence" / "problems.ipynb"
    save(filled("01_vergence", wrong), place)
    lab.open_notebook(page, address, "exercises/01_vergence/problems.ipynb")
    lab.run_all(page)
    _press_the_button(page)
    message = page.locator("pre[role=status]", has_text="7 of 8 problems hold")
    message.wait_for()
    assert "Likely slip: the sign" in message.inner_text()
    assert "\x1b" not in message.inner_text()
    # what a check says of itself as data stands under its cell too, and nobody sees it
    shown = page.locator(".jp-OutputArea", has_text="✗ vergence of the page's light: you have")
    shown = shown.filter(has_not_text="problems hold").first
    assert shown.inner_text().strip().startswith("✗ vergence of the page's light: you have")
    assert shown.inner_text().count("Likely slip") == 1
    assert shown.locator(".jp-OutputArea-child:visible").count() == 1
    for word in ("records", "application/vnd", "possible"):
        assert word not in shown.inner_text()


def _press_the_button(page):
    button = scroll_until(page, "button:has-text('Check my answers')")
    button.scroll_into_view_if_needed()
    button.focus()
    page.keyboard.press("Enter")
