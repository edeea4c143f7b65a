"""The book: static, offline, linked, described; no serious fault of access in the browser."""

import re

import pytest
from axe_playwright_python.sync_playwright import Axe

from shared_utils.pages import book

PAGES = ["00_start_here", "01_vergence"]


@pytest.fixture(scope="module")
def written(tmp_path_factory):
    folder = tmp_path_factory.mktemp("book")
    book.write(folder, only=PAGES)
    return folder


def pages_of(folder):
    return sorted(folder.glob("*.html"))


def test_every_page_is_whole_and_its_links_lead_to_pages_that_are_there(written):
    names = [page.stem for page in pages_of(written)]
    assert names == ["00_start_here", "01_vergence", "01_vergence_problems", "index"]
    for page in pages_of(written):
        text = page.read_text(encoding="utf-8")
        assert text.count("<h1") == 1
        assert "not for patient care" in text
        for link, anchor in re.findall(r'href="([^"#]*)(?:#([^"]+))?"', text):
            if link.startswith("http"):
                continue
            target = written / link if link else page
            if target.suffix == ".html" and target.stem[:2] in ("in", "00", "01"):
                assert target.is_file(), link
                assert not anchor or f'id="{anchor}"' in target.read_text(encoding="utf-8"), anchor


def test_nothing_comes_from_the_network_and_no_script_is_there(written):
    for page in pages_of(written):
        text = page.read_text(encoding="utf-8")
        assert "<script" not in text
        assert not re.search(r'(?:src|href)="(?:https?:)?//', text.replace("http-equiv", ""))
        assert "widget-view" not in text


def test_stills_have_alt_text_formulas_are_mathml_and_hidden_code_is_left_out(written):
    text = (written / "01_vergence.html").read_text(encoding="utf-8")
    images = re.findall(r"<img [^>]*>", text)
    assert len(images) >= 3
    assert all(re.search(r'alt="[^"]{20,}"', image) for image in images)
    assert "<math" in text
    assert "$" not in re.sub(r"<pre.*?</pre>|<math.*?</math>", "", text, flags=re.S)
    assert "import engine" not in text


def test_problem_pages_ask_and_do_not_answer(written):
    text = (written / "01_vergence_problems.html").read_text(encoding="utf-8")
    assert "Numbers of learner" in text
    assert "YOUR CODE HERE" in text
    assert "checks.number" not in text


def test_a_folder_with_other_things_is_refused_in_one_sentence(tmp_path):
    (tmp_path / "letters.txt").write_text("mine")
    with pytest.raises(ValueError, match=r"letters\.txt"):
        book.write(tmp_path)


@pytest.mark.browser
def test_axe_finds_no_serious_fault_and_no_page_is_wider_than_a_phone(written, page):
    page.set_viewport_size({"width": 390, "height": 844})
    for path in pages_of(written):
        page.goto(path.as_uri())
        found = Axe().run(page).response["violations"]
        serious = [v for v in found if v["impact"] in ("serious", "critical")]
        assert not serious, [(v["id"], v["nodes"][0]["html"][:200]) for v in serious]
        assert page.evaluate("document.documentElement.scrollWidth") <= 390, path.name
