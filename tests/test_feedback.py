"""What a learner gets back: it teaches, keeps the hidden tests, and nothing in it runs."""

import os
import re

import nbformat
import pytest
from nbconvert import HTMLExporter

from shared_utils.classroom import nbgrader_calls
from shared_utils.grading.supervisor import sanitize
from shared_utils.pages import mathml
from tests import lab
from tests.filling import filled
from tests.marking import REPO, SET, class_of
from tests.test_class import FAR_RIGHT_NEAR_WRONG, WRONG, index_of

EVIL = "alert(4711)"
# every way that is known to make a page act, as a learner's markdown
MARKDOWN = f"""\
Hello <script>{EVIL}</script>

<img src=x onerror="{EVIL}"> <svg onload="{EVIL}"></svg> <x onclick="{EVIL}">box</x>

<iframe srcdoc="<script>parent.{EVIL}</script>"></iframe> <body onload="{EVIL}">

A <a href="javascript:{EVIL}" id="raw">one</a> [two](javascript:{EVIL})
[three](JaVaScRiPt&#58;{EVIL}) [four](data:text/html,<script>{EVIL}</script>)
[five](../api/contents) ![six](x" onerror="{EVIL}) ![seven](attachment:none.png)
![eight](javascript:{EVIL} "title' onerror='{EVIL}")

<form action="javascript:{EVIL}"><button>nine</button></form>

<style>body {{ display: none }}</style>

<meta http-equiv="refresh" content="0;url=javascript:{EVIL}">

The <math><mi href="javascript:{EVIL}">ten</mi></math> and $\\text{{<img src=x onerror={EVIL}>}}$
and $\\href{{javascript:{EVIL}}}{{eleven}}$ and $a < b$

$$\\frac{{1}}{{2}}$$

```mermaid
graph TD; A["<img src=x onerror={EVIL}>"]
```
"""
OUTPUTS = f"""\
from IPython.display import HTML, Javascript, Latex, Markdown, display
evil = {MARKDOWN!r}
display(HTML(evil), Javascript("{EVIL}"), Markdown(evil), Latex(evil))
for kind in ("image/svg+xml", "text/vnd.mermaid", "application/vnd.jupyter.widget-view+json",
             "text/html", "application/javascript", "image/png", "image/jpeg", "text/plain"):
    display({{kind: '"><img src=x onerror={EVIL}>'}}, raw=True)
    display({{kind: "<svg xmlns='http://www.w3.org/2000/svg' onload='{EVIL}'/>"}}, raw=True)
png = "iVBORw0KGgoAAAANSUhEUgAAAAEAAAABCAYAAAAfFcSJAAAADUlEQVR42mNk+M9QDwADhgGAWjR9awAAAABJRU5ErkJg"
display({{"image/png": png}}, raw=True,
        metadata={{"image/png": {{"width": "1 onerror={EVIL} x=", "alt": '" onload="{EVIL}'}}}})
print("\\x1b[31m<img src=x onerror={EVIL}>")
raise type("<img src=x onerror={EVIL}>", (Exception,), {{}})("<img src=x onerror={EVIL}>")
"""


def hostile(notebook):
    notebook.cells.insert(2, nbformat.v4.new_code_cell(OUTPUTS, id="outputs"))
    notebook.cells.insert(3, nbformat.v4.new_markdown_cell(MARKDOWN, id="words"))
    notebook.cells.insert(4, nbformat.v4.new_raw_cell(MARKDOWN, id="raw"))
    notebook.cells[4].metadata = {"raw_mimetype": "text/html", "tags": [f'" onclick="{EVIL}']}
    notebook.cells[index_of(notebook, "why-written")].source = MARKDOWN
    notebook.cells[index_of(notebook, "page-answer")].source += f'\n"<script>{EVIL}</script>"'
    notebook.metadata.title = f"<script>{EVIL}</script>"
    notebook.metadata.language_info = {"name": f"<script>{EVIL}</script>"}
    return notebook


@pytest.fixture(scope="module")
def room(tmp_path_factory):
    """A marked class."""
    handed_in = {
        "right.one": filled(SET),
        "half": filled(SET, {**WRONG, "points": FAR_RIGHT_NEAR_WRONG}),
        "hostile": hostile(filled(SET)),
    }
    with class_of(tmp_path_factory.mktemp("feedback"), handed_in) as made:
        marks = {result.learner: result.marks for result in made.grade(SET)}
        assert marks == {"right.one": 26, "half": 2, "hostile": 26}
        yield made


@pytest.fixture(scope="module")
def pages(room):
    return dict(room.feedback(SET))


@pytest.mark.slow
@pytest.mark.grading
def test_problems_are_named_with_their_marks_and_where_to_reread(pages):
    page = pages["half"].read_text(encoding="utf-8")
    assert "Test cell" not in page
    for title in ("1 · Light from a page", "6 · Far point and near point"):
        assert f"<h2>{title}</h2>" in page
    row = (
        r'<a href="#points">6 · Far point and near point</a></td>\s*<td class="number">2 of 4</td>'
    )
    assert re.search(row, page)
    assert "still to be read" in page
    vertex = page.partition('<section id="vertex">')[2].partition("</section>")[0]
    assert "Lesson 01 · Vergence: <code>lens-course open lessons/01_vergence.ipynb</code>" in vertex
    goal = "carry vergence over a distance, as from spectacles to the cornea"
    assert f"<li>{goal}: “Idea 2: light changes its vergence on the way”</li>" in vertex
    assert "near point: you have +3.000 cm." in page
    assert "To reread" not in pages["right.one"].read_text(encoding="utf-8")


@pytest.mark.slow
@pytest.mark.grading
def test_the_worked_solution_has_the_learners_numbers_and_the_hidden_tests_stay_redacted(pages):
    numbers = set()
    for learner in ("right.one", "half"):
        page = pages[learner].read_text(encoding="utf-8")
        worked = page.partition("Worked with your numbers")[2].partition("</div>")[0]
        (away_m,) = re.findall(r"The page is (0\.\d+) m away", worked)
        numbers.add(away_m)
        assert f"Her book stands <strong>{100 * float(away_m):.0f} cm</strong>" in page
        assert f"<mn>{away_m}</mn>" in worked
        assert "$" not in worked
        for secret in ("ruler_cm", "candle", "HIDDEN", "minus one over the distance in metres"):
            assert secret not in page
    assert len(numbers) == 2


@pytest.mark.parametrize(
    ("latex", "part"),
    [
        (r"V = \frac{n}{v}", "<mfrac>"),
        (r"F_1 + F_2", "<msub>"),
        (r"V = -2.13\ \text{D}", '<mo form="prefix">−</mo>'),
        (r"\text{<img src=x>}", "&lt;img"),
        (r"\frac{", "<code>\\frac{</code>"),
        ("x" * 3000, "<code>xxx"),
    ],
)
def test_a_formula_is_mathml_or_stands_as_it_was_written(latex, part):
    assert part in sanitize.clean(mathml.formula(latex))


@pytest.mark.parametrize(
    "text",
    [
        "<p>a <strong>b</strong> <em>c</em></p>",
        '<table class="lens-course-table"><tbody><tr><td>1</td></tr></tbody></table>',
        '<img width="700" height="350" alt="a picture" src="data:image/png;base64,iVBORw0KGgo=">',
        '<td style="text-align:right">1</td>',
    ],
)
def test_what_the_course_shows_stays_as_it_is(text):
    wrapped = f"<table><tbody><tr>{text}</tr></tbody></table>" if text.startswith("<td") else text
    assert sanitize.clean(wrapped) == wrapped


@pytest.mark.parametrize(
    "text",
    [
        '<img src="https://example.org/seen.png">',
        '<img src="data:image/svg+xml;base64,PHN2Zy8+">',
        '<a href="data:text/html,x">x</a>',
        '<p style="position:fixed;background:url(https://example.org)">x</p>',
        '<input class="score" id="page-check"><b id="x" class="score">x</b>',
    ],
)
def test_what_could_call_out_or_cover_the_page_goes(text):
    cleaned = sanitize.clean(text)
    for word in ("example.org", "svg", "data:", "position", "input", "id=", "score"):
        assert word not in cleaned


def watched(page):
    """Note on a page whether a script of the learner's ran, and what was asked of the network."""
    asked = []
    page.add_init_script("window.ran = []; window.alert = what => window.ran.push(what)")
    page.on("request", lambda request: asked.append(request.url))
    page.on("dialog", lambda dialog: dialog.dismiss())
    return asked


def nothing_ran(page, part):
    """Press every link in a part of a page, then tell whether nothing in it could act."""
    page.wait_for_timeout(1000)
    page.evaluate(
        """part => document.querySelectorAll(part + ' details').forEach(box => box.open = true)""",
        part,
    )
    handlers, links, frames = page.evaluate(
        """part => {
          const all = [...document.querySelectorAll(part + ' *')];
          return [
            all.filter(e => [...e.attributes].some(a => a.name.startsWith('on'))).length,
            all.map(e => e.getAttribute('href')).filter(h => h && !/^(https?:|#)/.test(h)),
            all.filter(e => ['SCRIPT', 'IFRAME', 'FORM', 'STYLE', 'META', 'OBJECT'].includes(
              e.tagName)).length]
        }""",
        part,
    )
    for link in page.locator(f"{part} a").all():
        link.dispatch_event("click")
    page.wait_for_timeout(300)
    assert page.evaluate("window.ran") == []
    return (handlers, links, frames) == (0, [], 0)


@pytest.mark.slow
@pytest.mark.browser
@pytest.mark.grading
def test_no_script_runs_on_the_feedback_page_and_it_needs_no_network(pages, page):
    asked = watched(page)
    page.goto(pages["hostile"].as_uri())
    assert nothing_ran(page, "main")
    assert asked == [pages["hostile"].as_uri()]
    assert page.locator("math").count() > 3
    assert page.locator("main").inner_text().count("Problems 01 · Vergence") == 1
    # a formula has the height of a fraction, so the browser did draw it
    assert page.locator('math[display="block"]').first.bounding_box()["height"] > 25
    page.goto(pages["right.one"].as_uri())
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")


@pytest.mark.slow
@pytest.mark.browser
@pytest.mark.grading
def test_no_script_runs_in_the_form_grader(room, page):
    with nbgrader_calls.open_nbgrader(room.folder) as api, api.gradebook as gradebook:
        book = gradebook.find_submission_notebook("problems", SET, "hostile").id
    paths = {"PYTHONPATH": str(REPO) + os.pathsep + os.environ.get("PYTHONPATH", "")}
    asked, errors = watched(page), []
    page.on("pageerror", lambda error: errors.append(str(error)))
    with lab.running_lab(room.folder, environment=paths) as address:
        page.goto(f"{address}/lab?token={lab.TOKEN}")
        asked.clear()
        errors.clear()
        page.goto(f"{address}/formgrader/submissions/{book}/")
        page.wait_for_selector("#notebook-container .nbgrader_cell", state="attached")
        assert nothing_ran(page, "#notebook-container .text_cell")
        assert nothing_ran(page, "#notebook-container .output_wrapper")
        shown = page.locator("#notebook-container").first.inner_text()
        assert "Her book stands" in shown
        assert "<p>" not in shown.replace(MARKDOWN, "")
        assert page.locator("#notebook-container math").count() > 3
        page.wait_for_function("window.MathJax.loaded === true")
        assert errors == []
        assert [url for url in asked if not url.startswith((address, "data:"))] == []


@pytest.mark.slow
@pytest.mark.browser
def test_the_same_words_do_run_where_nobody_cleans_them(page, tmp_path):
    """Were this page silent, the two tests above would prove nothing."""
    words = nbformat.v4.new_notebook(cells=[nbformat.v4.new_markdown_cell(MARKDOWN)])
    words.cells[0].source = MARKDOWN.replace("![seven](attachment:none.png)", "")
    html, _ = HTMLExporter(template_name="basic", sanitize_html=False).from_notebook_node(words)
    (tmp_path / "page.html").write_text(html, encoding="utf-8")
    watched(page)
    page.goto((tmp_path / "page.html").as_uri())
    page.wait_for_timeout(1000)
    assert 4711 in page.evaluate("window.ran")
