"""Common mistakes beside the form grader: one comment from the page reaches the group, and no more.

The marked notebooks are laid where marked ones are kept, with what their checks said.
"""

import contextlib
import http.cookiejar
import json
import os
import re
import signal
import subprocess
import sys
import time
import urllib.error
import urllib.parse
import urllib.request
import warnings

import nbformat
import psutil
import pytest
from nbgrader.api import Gradebook

from shared_utils.classroom import mistakes
from shared_utils.grading.supervisor import settings
from shared_utils.pages import cells
from shared_utils.problems.check_records import CheckRecord, mime_bundle
from shared_utils.reports import mistakes_page, mistakes_server
from tests import lab
from tests.filling import filled
from tests.marking import REPO, SET, course_of, empty_class, short_set

EVIL = "<script>alert(1)</script>"
WRONG = (
    f"def page_vergence_d(cm):\n    return 100 / cm  # {EVIL} </pre><img src=x onerror=alert(1)>"
)
SIGN = "the sign: light from a real object diverges."
LEARNERS = ("ada", "bob", "cyd", "dan")
WHO_IS_WRONG = ("ada", "bob", "cyd")


def marked(learner):
    notebook = filled(SET, {"page": WRONG} if learner in WHO_IS_WRONG else {})
    is_right = learner not in WHO_IS_WRONG
    sentence = f"vergence: you have +2.000 D. {EVIL}"
    record = CheckRecord("vergence", is_right, *(() if is_right else ("sign", sentence, SIGN)))
    for cell in notebook.cells:
        if cells.grade_id_parts(cell) == ("page", "check"):
            cells.keep(cell, "checks", [record.as_dict()])
            cell.outputs = [nbformat.v4.new_output("display_data", data=mime_bundle([record]))]
    return notebook


@pytest.fixture(scope="module")
def room(tmp_path_factory):
    """A class of four, of whom three made one mistake; a person wrote to the first of them."""
    folder = tmp_path_factory.mktemp("mistakes")
    with course_of(folder / "course", {SET: short_set("page")}), empty_class(folder, LEARNERS) as r:
        r.release(SET)
        url = settings.gradebook_url(r.folder)
        with warnings.catch_warnings(), Gradebook(url, settings.COURSE_ID) as gradebook:
            warnings.simplefilter("ignore")  # nbgrader's own, about its session
            for learner in LEARNERS:
                path = r.layout.marked(SET, learner)
                path.parent.mkdir(parents=True)
                nbformat.write(marked(learner), path)
                gradebook.update_or_create_submission(SET, learner)
            gradebook.update_or_create_student("ada", first_name=EVIL, last_name=EVIL)
            comment = gradebook.find_comment("page-answer", "problems", SET, "ada")
            comment.manual_comment = f"Mine alone. {EVIL}"
            gradebook.db.commit()
        yield r


class Browser:
    """Cookies and plain forms, as a browser without script has them."""

    def __init__(self, address):
        self.address, cookies = address, http.cookiejar.CookieJar()
        self.opener = urllib.request.build_opener(urllib.request.HTTPCookieProcessor(cookies))

    def open(self, path, form=None):
        data = urllib.parse.urlencode(form).encode() if form else None
        try:
            with self.opener.open(self.address + path, data, timeout=60) as reply:
                return reply.status, reply.read().decode(), reply.headers
        except urllib.error.HTTPError as error:
            with error:
                return error.code, error.read().decode(), error.headers


@contextlib.contextmanager
def served(folder):
    """The class on a plain Jupyter server with the form grader and our extension."""
    port = lab.free_port()
    command = [
        *(sys.executable, "-m", "jupyter_server", "--no-browser", "--allow-root"),
        *(f"--ServerApp.root_dir={folder}", f"--ServerApp.port={port}"),
        *("--ServerApp.port_retries=0", f"--IdentityProvider.token={lab.TOKEN}"),
        mistakes_server.EXTENSION_ARGUMENT,
    ]
    with open(folder / "server.log", "w") as log:
        process = subprocess.Popen(command, cwd=folder, stdout=log, stderr=log)
    browser = Browser(f"http://127.0.0.1:{port}")
    try:
        for _ in range(600):
            assert process.poll() is None, (folder / "server.log").read_text()
            with contextlib.suppress(OSError):
                urllib.request.urlopen(f"{browser.address}/api", timeout=30).close()
                break
            time.sleep(0.1)
        yield browser
    finally:
        process.terminate()
        process.wait(60)


@pytest.fixture(scope="module")
def browser(room):
    with served(room.folder) as opened:
        yield opened


PAGE = f"/lens-course/mistakes/{SET}"


def test_without_the_token_nobody_sees_or_writes_anything(browser):
    stranger = Browser(browser.address)
    _, page, _ = stranger.open(PAGE)
    assert "ada" not in page
    status, _, _ = stranger.open(PAGE, {"group": "x", "comment": "x"})
    assert status == 403


def test_a_comment_from_the_page_reaches_the_group_once_and_leaves_a_persons_own_above(
    browser, room
):
    status, page, headers = browser.open(f"{PAGE}?token={lab.TOKEN}")
    assert status == 200
    assert "default-src 'none'" in headers["Content-Security-Policy"]
    assert "3 of 4 (75 %)" in page
    assert "<script" not in page
    assert "<img" not in page
    assert "&lt;script&gt;" in page
    (group,) = mistakes.groups(room.layout, SET)
    assert group.learners == WHO_IS_WRONG
    assert browser.open(PAGE, {"group": group.key, "comment": "No token."})[0] == 403
    xsrf = re.search(r'name="_xsrf"[^>]*value="([^"]+)"', page)[1]
    form = {"_xsrf": xsrf, "group": group.key, "comment": "Light *diverges*.\r\nMind the sign."}
    status, page, _ = browser.open(PAGE, form)
    assert status == 200
    assert "The comment was added for 3 of 3." in page
    assert "Comment that 2 of 3 have now" in page
    written = mistakes.comments(room.layout, SET)
    text = "Light *diverges*.\nMind the sign."
    assert written == {
        ("ada", "page"): f"Mine alone. {EVIL}\n\n{text}",
        ("bob", "page"): text,
        ("cyd", "page"): text,
    }
    assert "The comment was added for 0 of 3. The other 3 had it" in browser.open(PAGE, form)[1]
    assert mistakes.comments(room.layout, SET) == written
    for change, sentence, code in (
        ({"comment": "  "}, "The comment is empty", 400),
        ({"comment": "x" * 5001}, "5001 letters", 400),
        ({"group": "gone"}, "no longer there", 404),
    ):
        status, page, _ = browser.open(PAGE, {**form, **change})
        assert status == code
        assert sentence in page


def test_the_form_grader_links_to_the_page_and_back(browser, room):
    browser.open(f"/lens-course/mistakes?token={lab.TOKEN}")
    for path in (f"gradebook/{SET}", f"gradebook/{SET}/problems", f"manage_submissions/{SET}"):
        status, page, _ = browser.open(f"/formgrader/{path}")
        assert status == 200
        assert f'href="{PAGE}"' in page
    page = browser.open(PAGE)[1]
    for link in set(re.findall(r"href='(/[^']+)'", page)):
        assert browser.open(link)[0] == 200, link


def test_what_is_not_there_or_locked_is_a_sentence(browser, room):
    status, page, _ = browser.open(f"/lens-course/mistakes/77?token={lab.TOKEN}")
    assert status == 404
    assert "There is no problem set" in page
    book, aside = room.folder / "gradebook.db", room.folder / "aside.db"
    book.rename(aside)
    try:
        status, page, _ = browser.open(PAGE)
    finally:
        aside.rename(book)
    assert status == 503
    assert "gradebook" in page
    assert "Traceback" not in page


@pytest.mark.parametrize(
    ("graded", "sentence"), [(0, "Nothing of this set is marked yet"), (1, "No wrong answers")]
)
def test_where_there_is_nothing_to_show_a_sentence_says_so(graded, sentence):
    assert sentence in "".join(mistakes_page.body([], SET, graded, address="/x"))


def test_a_plot_shows_each_answer_beside_the_right_one():
    group = mistakes.MistakeGroup(
        SET, "page", "v", "the sign", ("ada",), "", 1, ((25.0, 4.0, -4.0), (50.0, 2.0, -2.0)), "cm"
    )
    page = "".join(mistakes_page.body([group], SET, 1))
    assert "2 too high, 0 too low" in page
    assert page.count("<circle") == 2
    assert "1 of 1 (100 %)" in page


@pytest.mark.slow
@pytest.mark.browser
@pytest.mark.skipif(os.name == "nt", reason="signals of POSIX")
def test_from_class_open_to_the_form_grader_and_feedback_and_nothing_is_left(room, page, tmp_path):
    from axe_playwright_python.sync_playwright import Axe

    runtime, port = tmp_path / "runtime", lab.free_port()
    command = [sys.executable, "-m", "shared_utils.cli", "class", "open", "--no-browser"]
    with open(tmp_path / "log", "wb") as log:
        opened = subprocess.Popen(
            [*command, "--port", str(port), "--folder", str(room.folder)],
            cwd=REPO,
            env={**os.environ, "JUPYTER_RUNTIME_DIR": str(runtime)},
            stdout=log,
            stderr=log,
        )
    children = []
    try:
        while not list(runtime.glob("jpserver-*.json")):
            assert opened.poll() is None
            time.sleep(0.1)
        about = json.loads(next(runtime.glob("jpserver-*.json")).read_text())
        address, asked = about["url"].rstrip("/"), []
        page.on("request", lambda request: asked.append(request.url))
        page.goto(f"{address}/tree?token={about['token']}")  # as a person comes in: by the token
        page.goto(f"{address}/formgrader/gradebook/{SET}")
        page.get_by_role("link", name="Common mistakes").click()
        page.get_by_label("Comment to all in group 1").fill("From the *browser*.")
        page.get_by_role("button", name="Add the comment for 3 learners").click()
        assert "3 of 3" in page.get_by_role("status").inner_text()
        for width in (390, 1280):
            page.set_viewport_size({"width": width, "height": 844})
            assert page.evaluate("document.documentElement.scrollWidth") <= width
            found = Axe().run(page).response["violations"]
            assert not [v for v in found if v["impact"] in ("serious", "critical")]
        page.get_by_role("link", name="bob").click()
        page.wait_for_function(
            "() => [...document.querySelectorAll('textarea.comment')]"
            ".some(box => box.value.includes('From the *browser*.'))"
        )
        assert [u for u in asked if not u.startswith((address, "data:", "blob:"))] == []
        children = psutil.Process(opened.pid).children(recursive=True)
        assert children
        opened.send_signal(signal.SIGTERM)
        assert opened.wait(60) == 128 + signal.SIGTERM
        assert not [child for child in children if child.is_running()]
    finally:
        for process in (*children, opened):
            with contextlib.suppress(psutil.NoSuchProcess):
                process.kill()
    text = dict(room.feedback(SET))["cyd"].read_text(encoding="utf-8")
    assert "From the <em>browser</em>." in text
