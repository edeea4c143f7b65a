"""An instructor's private problems and seed join a class, and stay out of the course."""

import shutil

import nbformat
import pytest

from shared_utils import cli
from shared_utils.classroom import classroom as classes
from shared_utils.classroom import overlay
from shared_utils.classroom import release as class_release
from shared_utils.problems import class_seed, numbers, selfcheck
from shared_utils.problems.numbers import Draw
from tests.filling import filled, save
from tests.marking import REPO, SET, class_of, course_of, marks_by_cell, short_set

SEED = "a spring that nobody knows"
# two visible points and three hidden ones
PRIVATE = """\
# %% [markdown] question="lamp" goals="1"
# ## A · A lamp of our own (5 points)
#
# Return the vergence of a lamp's light in **D**, from its distance in **m**, a positive number.

# %% given="lamp"
lamp_m = Draw("01_vergence/lamp").pick("distance_m", 1, 900) / 100
print(lamp_m)

# %% answer="lamp"
def lamp_d(distance_m):
    ### BEGIN SOLUTION
    return -1 / distance_m
    ### END SOLUTION

# %% check="lamp" points=2
checks.number("lamp", lamp_d(lamp_m), -1 / lamp_m, unit="D", within=0.01, expect="negative")

# %% hidden="lamp" points=3
### BEGIN HIDDEN TESTS
checks.working(f"$V = {-1 / lamp_m:.2f}$ D")
checks.number("another lamp", lamp_d(0.125), -8.0, unit="D", within=0.01, expect="negative")
### END HIDDEN TESTS
"""
WRONG = "def lamp_d(distance_m):\n    return 1 / distance_m"


@pytest.fixture
def private(tmp_path):
    folder = tmp_path / "private"
    folder.mkdir()
    (folder / f"{SET}.py").write_text(PRIVATE, encoding="utf-8")
    (folder / "seed.txt").write_text(f"{SEED}\n", encoding="utf-8")
    return folder


@pytest.fixture
def seeded():
    numbers.use_seed("0123456789abcdef")
    yield
    numbers.use_seed("")


def drawn():
    draw = Draw("01_vergence/page", learner="ada")
    return [draw.pick(name, 1, 10**6) for name in ("a", "b", "c")]


def test_a_seed_draws_other_numbers_and_none_draws_those_of_the_course(seeded):
    with_seed = drawn()
    numbers.use_seed("")
    without = drawn()
    numbers.use_seed("fedcba9876543210")
    assert not set(with_seed) & set(without) & set(drawn())
    assert with_seed != without != drawn()


def test_what_the_release_shows_of_the_seed_tells_no_other_sets_numbers(private):
    joined = overlay.Overlay(private)
    assert joined.drawn("01_vergence") != joined.drawn("02_eye")
    notebook = joined.notebook(SET)
    assert class_seed.seed_of(notebook) == joined.drawn(SET)
    assert SEED not in nbformat.writes(notebook)


@pytest.mark.grading
@pytest.mark.slow
def test_private_problems_are_released_marked_and_told_with_the_seeds_numbers(
    tmp_path, private, monkeypatch, capsys
):
    with course_of(tmp_path / "course", {SET: short_set("page")}), class_of(tmp_path, {}) as room:
        line = ["class", "overlay", str(private), "--folder", str(room.folder)]
        assert cli.main(line) == 0
        reply = capsys.readouterr().out
        assert f"Joins {SET}: lamp." in reply
        assert "no secret once it is released" in reply
        release = nbformat.read(room.release("01"), as_version=4)
        text = nbformat.writes(release)
        assert "A lamp of our own" in text
        for secret in (SEED, "-1 / distance_m", "0.125", "another lamp", "checks.working"):
            assert secret not in text
        public = nbformat.writes(filled(SET))
        assert "use_seed" not in public
        assert "lamp" not in public

        (room.folder / "roster.csv").write_text("id\nada\nbo\n", encoding="utf-8")
        model = {cell.id: cell.source for cell in overlay.Overlay(private).notebook(SET).cells}
        for learner in ("ada", "bo"):
            notebook = nbformat.from_dict(release)
            for cell in notebook.cells:
                if cell.id.endswith("-answer"):
                    cell.source = model[cell.id]
                    if learner == "bo" and cell.id == "lamp-answer":
                        cell.source = WRONG
            place = room.folder / "submitted" / learner / SET / "problems.ipynb"
            save(notebook, place)
        results = {result.learner: result for result in room.grade(SET)}
        # page 1 + 1, lamp 2 + 3
        assert (results["ada"].marks, results["ada"].of, results["ada"].notes) == (7, 7, [])
        assert (results["bo"].marks, results["bo"].notes) == (2, [])
        pages = {learner: page.read_text(encoding="utf-8") for learner, page in room.feedback(SET)}
        assert "A · A lamp of our own" in pages["bo"]
        assert "Worked with your numbers" in pages["bo"]
        assert "0.125" not in pages["bo"]

        marked = room.folder / "autograded" / "ada" / SET / "problems.ipynb"
        (given,) = [c for c in nbformat.read(marked, 4).cells if c.id == "lamp-given"]
        numbers.use_seed(overlay.Overlay(private).drawn(SET))
        expected = Draw("01_vergence/lamp", learner="ada").pick("distance_m", 1, 900) / 100
        numbers.use_seed("")
        assert given.outputs[0].text.strip() == str(expected)
        assert expected != Draw("01_vergence/lamp", learner="ada").pick("distance_m", 1, 900) / 100

        for learner in ("ada", "bo"):
            monkeypatch.setenv("LENS_COURSE_LEARNER", learner)
            place = room.folder / "submitted" / learner / SET / "problems.ipynb"
            report = selfcheck.check(place, SET)
            own = {f"{p.name}-check": p.earned for p in report.problems}
            marks = marks_by_cell(room, learner)
            assert own == {name: marks[name] for name in ("page-check", "lamp-check")}
            assert report.notes == []
            assert report.problems[-1].title == "A · A lamp of our own (5 points)"

        shutil.rmtree(private)
        with pytest.raises(ValueError, match="There is no folder"):
            room.release("01")


@pytest.mark.parametrize(
    ("name", "text", "sentence"),
    [
        ("99_nothing.py", PRIVATE, "99_nothing.py joins no set"),
        (f"{SET}.py", PRIVATE.replace('"lamp"', '"page"'), "stands twice"),
        (f"{SET}.py", PRIVATE + "\n# %%\nprint(3)\n", "every cell needs a marker"),
        (f"{SET}.txt", PRIVATE, "holds neither problems"),
        (f"{SET}.py", PRIVATE.replace("return -1 /", "return return"), "lamp-answer is not Python"),
    ],
)
def test_a_folder_that_cannot_join_is_told_and_nothing_is_changed(tmp_path, name, text, sentence):
    (tmp_path / "private").mkdir()
    (tmp_path / "private" / name).write_text(text, encoding="utf-8")
    (tmp_path / "room").mkdir()
    (tmp_path / "room" / "nbgrader_config.py").touch()
    room = classes.Classroom(tmp_path / "room")
    with pytest.raises(ValueError, match=sentence):
        room.join(tmp_path / "private")
    assert not (room.folder / class_release.OVERLAY).exists()


def test_a_folder_inside_the_public_course_is_refused():
    with pytest.raises(ValueError, match="which is public"):
        overlay.Overlay(REPO / "solutions")
