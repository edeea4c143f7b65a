"""The list of pages: loudly checked, and what follows from it when a lesson is inserted."""

import hashlib
import itertools
import json
import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from shared_utils import cli
from shared_utils.authoring import new_lesson
from shared_utils.course import manifest, place
from shared_utils.practice import progress
from shared_utils.problems.numbers import Draw
from tests.test_signatures import untyped

REPO = Path(__file__).parent.parent
TEXT = manifest.FILE.read_text(encoding="utf-8")
RECORD = '[[part.lesson]]\nslug = "eye"\n'


@pytest.mark.parametrize(
    ("old", "new", "sentence"),
    [
        ('slug = "eye"', 'slug = "vergence"', "the slug 'vergence' stands twice"),
        ('seed = "02_eye"', 'seed = "01_vergence"', "the seed '01_vergence' stands twice"),
        ('seed = "02_eye"', 'seed = "glasses"\nseeds = 1', "'seeds' is not known"),
        ('slug = "eye"', 'slug = "Eye"', "'Eye' cannot be a slug: use small letters"),
        ('slug = "eye"', 'slug = "class"', "'class' cannot be a slug: this word"),
        ('slug = "eye"', 'slug = "first"', "'first' cannot be a slug: this word"),
        ('slug = "eye"\n', "", "record '?': slug is missing"),
        ('title = "The eye as an optical system"\n', "", "record 'eye': title is missing"),
        ("minutes = 20", 'minutes = "20"', "minutes is '20'; give a int"),
        ("minutes = 20", "minutes = 0", "0 minutes; give 1 or more"),
        ("minutes = 20", "minutes = true", "minutes is True"),
        ("exam_questions = 9\n", "", "part 1: exam_questions is missing"),
        ("exam_questions = 9", "exam_questions = -1", "part 1: exam_questions is -1; give 0 or"),
        ("[[before]]", "[[begin]]", "'begin' is not known"),
        ("[[before]]", "[[before", "manifest.toml cannot be read"),
    ],
)
def test_a_record_that_does_not_hold_is_said_in_a_sentence(old, new, sentence):
    assert old in TEXT
    with pytest.raises(ValueError, match=re.escape(sentence)) as caught:
        manifest.parse(TEXT.replace(old, new, 1))
    assert "\n" not in str(caught.value)


def test_a_part_without_a_lesson_and_a_course_without_a_manifest_are_said(tmp_path):
    with pytest.raises(ValueError, match="part 1: a part has at least one"):
        manifest.parse('[[part]]\ntitle = "A"\nexam_questions = 1\n')
    with pytest.raises(ValueError, match="There is no shared_utils/course/manifest"):
        manifest.of(tmp_path)


def test_pages_are_numbered_from_00_in_their_order():
    pages = manifest.of().pages
    assert [page.number for page in pages] == [f"{n:02d}" for n in range(len(pages))]
    assert pages[0].slug == "start_here"
    assert [page.slug for page in manifest.of().lessons][:2] == ["vergence", "eye"]


@pytest.mark.parametrize("wanted", ["2", "02", "eye", "02_eye", "07_eye", " 02_eye/ "])
def test_a_page_is_found_by_number_or_name(wanted):
    assert manifest.of().find(wanted).slug == "eye"


@pytest.mark.parametrize("wanted", ["", "99", "02_ey", "eyes", "1_2"])
def test_what_is_no_page_is_said(wanted):
    with pytest.raises(ValueError, match=r"There is no page .*00_start_here"):
        manifest.of().find(wanted)


def test_the_list_stands_nowhere_else():
    """Numbered names of lessons stand in no source of the package; see also names_not_numbers."""
    stems = re.compile("|".join(rf'"{page.stem}[/"]' for page in manifest.of().pages))
    for path in (REPO / "shared_utils").rglob("*.py"):
        text = path.read_text(encoding="utf-8")
        text = re.sub(r'"""(.*?)"""', "", text, flags=re.S)  # examples in docstrings
        assert not stems.search(text), path


# what Draw hashed before there were slugs: learner, set with its number, problem, name
EARLIER = ("01_vergence/page", "05_measuring/radius", "15_consultation/audit", "16_mixed_review/x")


@pytest.mark.parametrize("problem", EARLIER)
@pytest.mark.parametrize("learner", ["ada", "self-study", "ben@hub"])
def test_a_learners_numbers_are_those_of_the_numbered_names(problem, learner):
    digest = hashlib.sha256(f"{learner}|{problem}|distance_cm".encode()).digest()
    by_hand = 20 + int.from_bytes(digest[:8], "big") % 61
    slug = re.sub(r"^\d\d_", "", problem)
    for name in (problem, slug):
        assert Draw(name, learner=learner).pick("distance_cm", 20, 80) == by_hand


def test_every_set_that_classes_had_draws_as_before():
    seeds = [page.seed for page in manifest.of().sets]
    first = [
        "01_vergence",
        "02_eye",
        "03_glasses",
        "04_astigmatism",
        "05_measuring",
        "06_formulas",
        "07_outcomes",
        "08_difficult_eyes",
        "09_toric",
        "10_one_focus",
        "11_two_foci",
        "12_range_of_focus",
        "13_examination",
        "14_tasks",
        "15_consultation",
        "16_mixed_review",
    ]
    assert [seed for seed in seeds if seed in first] == first


def test_what_a_learner_answered_is_kept_by_item_and_by_no_lesson():
    columns = " ".join(progress.TABLES.values())
    assert "lesson" not in columns
    assert "item TEXT" in columns


@pytest.fixture(scope="module")
def grown(tmp_path_factory):
    """A copy of the course in which a lesson was inserted as the fifth, and built."""
    root = tmp_path_factory.mktemp("grown") / "course"
    ignored = shutil.ignore_patterns(".git", ".venv", "__pycache__", ".*_cache", "*.egg-info")
    shutil.copytree(REPO, root, ignore=ignored)
    run(root, "new", "lesson", "prisms", "--after", "astigmatism")
    reply = run(root, "build")
    assert "Removed lessons/05_measuring.ipynb: it is 06_measuring now." in reply
    return root


def run(root, *line, code=0, learner="ada", **more):
    """Run a command of the course in a copy and return what it says."""
    variables = {
        **os.environ,
        "PYTHONPATH": str(root),
        "LENS_COURSE_LEARNER": learner,
        "LENS_COURSE_DATA": str(root.parent / "data"),
        **more,
    }
    done = subprocess.run(
        [sys.executable, "-m", "shared_utils.cli", *line],
        cwd=root,
        env=variables,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == code, done.stdout + done.stderr
    return done.stdout + done.stderr


def python(root, code):
    """Run Python in a copy and return what it prints as JSON says."""
    variables = {**os.environ, "PYTHONPATH": str(root)}
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=root, env=variables, capture_output=True, check=False
    )
    assert done.returncode == 0, done.stderr.decode()
    return json.loads(done.stdout)


@pytest.mark.slow
def test_a_new_lesson_builds_and_lint_names_what_it_lacks(grown):
    assert "Every notebook is what its text builds." in run(grown, "build", "--check")
    message = run(grown, "lint", "prisms", code=1)
    for sentence in ("of 20", "It shows 1", "Goal 2 is", "REPLACE", "written answers"):
        assert sentence in message
    assert "Traceback" not in message
    # of the lessons that were there only the README's names of pages are to be corrected
    others = {line for line in run(grown, "lint", code=1).splitlines() if line.startswith("  ")}
    others = {line for line in others if "prisms" not in line and "→" not in line}
    assert {line.split(":")[0].strip() for line in others} <= {"README.md", "DEVELOPERS.md"}


def test_a_new_lessons_public_functions_have_types(grown):
    written = [name.replace("SLUG", "prisms") for name in new_lesson.FILES.values()]
    modules = [name for name in written if re.fullmatch(r"shared_utils/.*\.py", name)]
    assert len(modules) == 4
    for name in modules:
        assert not untyped((grown / name).read_text(encoding="utf-8")), name


@pytest.mark.slow
def test_no_text_of_another_lesson_changed_but_its_numbers(grown):
    for page in manifest.of().pages:
        now = manifest.of(grown).by_slug[page.slug]
        for part, name in (("lessons", "{}.ipynb"), ("solutions", "{}/problems.ipynb")):
            old = REPO / part / name.format(page.stem)
            if old.is_file():
                new = (grown / part / name.format(now.stem)).read_text(encoding="utf-8")
                for other in manifest.of(grown).pages:  # the numbers back to what they were
                    was = manifest.of().by_slug.get(other.slug)
                    new = new.replace(other.stem, f"<{was.stem}>" if was else other.stem)
                new = new.replace("<", "").replace(">", "")
                words = old.read_text(encoding="utf-8").replace("<", "").replace(">", "")
                strip = re.compile(r'\b\d{1,2}\b|"id": "[^"]*"|\b(fif|six)teen\b', re.I)
                assert strip.sub("", new) == strip.sub("", words), page.slug
    text = (grown / "lessons" / "07_formulas.ipynb").read_text(encoding="utf-8")
    assert "what biometry measures (lesson 06)" in text
    assert "Lesson 08 finds constants" in text
    assert "Sixteen lessons" in (grown / "lessons" / "00_start_here.ipynb").read_text()


@pytest.mark.slow
def test_the_map_and_the_mixed_rounds_follow(grown):
    table, rounds, parts = python(
        grown,
        "import json; from shared_utils.pages import course_map; from shared_utils.bank import "
        "items; from shared_utils.course import manifest; b, p = items.bank(), manifest.of();"
        "rounds = [items.interleaved(n) for n in (1, 2, 3)];"
        "print(json.dumps([course_map.table().data, rounds,"
        "[[p.by_slug[b[k].lesson].part.number for k in r] for r in rounds]]))",
    )
    assert '<td>05</td><td>Prisms</td><td><a href="05_prisms.ipynb">' in table
    assert 'href="../exercises/06_measuring/problems.ipynb"' in table
    assert all(len(asked) == 8 for asked in rounds)
    assert len({key for asked in rounds for key in asked}) == 24  # a lesson of one item waits
    assert all(one != other for row in parts for one, other in itertools.pairwise(row))


@pytest.mark.parametrize("title", ["", "  "])
def test_a_new_lesson_with_an_empty_title_is_refused(tmp_path, title):
    with pytest.raises(ValueError, match="The title is empty"):
        new_lesson.write("prisms", title=title, root=tmp_path)
    assert not list(tmp_path.iterdir())


@pytest.mark.slow
def test_numbers_of_every_set_stay_and_an_overlays_too(grown):
    code = (
        "import json; from shared_utils.problems.numbers import Draw, use_seed; "
        "from shared_utils.classroom import overlay; "
        "o = object.__new__(overlay.Overlay); o.seed = 'words'; "
        "sets = {!r}; "
        "print(json.dumps([[Draw(s + '/a', learner='ada').pick('n', 1, 10**9) for s in sets],"
        "[o.drawn(s) for s in sets]]))"
    )
    slugs = [page.slug for page in manifest.of().sets]
    assert python(grown, code.format(slugs)) == python(REPO, code.format(slugs))


@pytest.mark.slow
def test_a_class_keeps_the_names_of_what_it_was_given(grown, tmp_path):
    room = tmp_path / "room"
    (tmp_path / "roster.csv").write_text("id\nada\n")
    run(REPO, "class", "new", str(room), "--roster", str(tmp_path / "roster.csv"))
    run(REPO, "class", "release", "05", "--folder", str(room))
    handed_in = room / "submitted" / "ada" / "05_measuring"
    shutil.copytree(room / "release" / "05_measuring", handed_in)
    # the course has grown; 05 is another lesson there now, and 06 is measuring
    message = run(grown, "class", "grade", "05", "--folder", str(room), code=2)
    assert "05 is not clear" in message
    assert "05_measuring or 05_prisms" in message
    for name in ("measuring", "06", "06_measuring", "05_measuring"):
        assert "ada" in run(grown, "class", "grade", name, "--folder", str(room))
    assert (room / "autograded" / "ada" / "05_measuring" / "problems.ipynb").is_file()
    message = run(grown, "class", "feedback", "measuring", "--folder", str(room))
    assert "feedback/ID/05_measuring" in message
    page = (room / "feedback" / "ada" / "05_measuring" / "problems.html").read_text()
    assert "lessons/06_measuring.ipynb" in page
    assert "release/05_measuring" in run(
        grown, "class", "release", "measuring", "--folder", str(room)
    )
    assert "release/05_prisms" in run(grown, "class", "release", "prisms", "--folder", str(room))
    report = run(grown, "class", "report", "--folder", str(room))
    assert "class_report" in report


@pytest.mark.slow
def test_check_practice_and_items_take_number_or_name(grown, tmp_path):
    message = run(grown, "check", "prisms", code=1)
    assert "Light from a page" in message
    assert run(grown, "check", "05", code=1) == message
    for name in ("prisms", "5", "05_prisms"):
        package = tmp_path / f"items_{name}.zip"
        assert "1 questions" in run(grown, "items", "--qti", str(package), "--lessons", name)
    assert "There is no lesson 'prism'" in run(
        grown, "items", "--qti", str(tmp_path / "x.zip"), "--lessons", "prism", code=2
    )


@pytest.mark.slow
def test_progress_survives(grown, tmp_path):
    answer = (
        "import json, sys; from shared_utils.practice import progress, review; "
        "p = progress.Progress({file!r}); r = review.Review(p, ['measuring']); "
        "before = r.standing().new; {more}"
        "print(json.dumps([before, r.standing().new, len(r._cards())]))"
    )
    more = "q = r.next(); r.answer(q, str(q.right), 1.0); "
    file = str(tmp_path / "progress.sqlite")
    before, after, _ = python(REPO, answer.format(file=file, more=more))
    assert after == before - 1
    assert python(grown, answer.format(file=file, more="")) == [after, after, 1]


@pytest.mark.slow
def test_the_new_lessons_own_tests_pass(grown):
    variables = {**os.environ, "PYTHONPATH": str(grown)}
    line = [
        *(sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider"),
        "tests/test_lesson_prisms.py",
        "tests/test_notebooks.py",
        "tests/test_engine.py",
        "tests/test_items_recomputed.py",
        "shared_utils/cases/prisms.py",
        *("-k", "prisms or page_and_vergence or 05_"),
    ]
    done = subprocess.run(
        line, cwd=grown, env=variables, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stdout[-3000:]


@pytest.mark.parametrize(
    ("line", "sentence"),
    [
        (["Prisms"], "'Prisms' cannot be a slug: use small letters"),
        (["import"], "'import' cannot be a slug: this word"),
        (["eye"], "lessons/source/eye.py is there already"),
        (["engine"], "shared_utils/explore/engine.py is there already"),
        (["prisms", "--after", "nothing"], "There is no page 'nothing'"),
        (["prisms", "--part", "9"], "There is no part '9'"),
        (["prisms", "--title", "Vergence"], "the title 'Vergence' stands twice"),
        (["prisms", "--after", "mixed_review"], "A lesson cannot go after 16_mixed_review"),
        (["prisms", "--after", "eye", "--part", "2"], "A lesson cannot go after 02_eye into part"),
    ],
)
def test_a_lesson_that_cannot_be_written_is_said_and_nothing_is(line, sentence, capsys, tmp_path):
    before = manifest.FILE.read_bytes()
    assert cli.main(["new", "lesson", *line]) == 2
    assert sentence in capsys.readouterr().err
    assert manifest.FILE.read_bytes() == before
    assert not place.lesson_source("prisms").exists()


@pytest.mark.parametrize(
    ("after", "part", "number", "of_part"),
    [
        (None, None, "16", 4),
        ("glasses", None, "04", 1),
        (None, "Lens power", "10", 2),
        ("astigmatism", "2", "05", 2),
        ("astigmatism", None, "05", 1),
        ("start_here", "1", "01", 1),
        ("consultation", None, "16", 4),
    ],
)
def test_a_record_goes_where_it_is_asked_to(after, part, number, of_part):
    made = new_lesson.with_record(TEXT, "prisms", after, "Prisms “2”", part)
    page = manifest.parse(made).by_slug["prisms"]
    assert (page.number, page.part.number, page.seed) == (number, of_part, "prisms")
    assert [p.slug for p in manifest.parse(made).pages if p.slug != "prisms"] == [
        p.slug for p in manifest.of().pages
    ]
    assert "\n\n\n" not in made
