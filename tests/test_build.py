"""Text to notebooks and back: nothing lost, nothing left to chance."""

import nbformat
import pytest

from shared_utils import cli
from shared_utils.course import place
from shared_utils.pages import build

TEXTS = sorted((place.course_root() / "lessons" / "source").glob("*.py")) + sorted(
    (place.course_root() / "solutions").glob("*.py")
)


@pytest.mark.parametrize("path", TEXTS, ids=lambda p: p.stem)
def test_text_to_notebook_to_text_loses_nothing(path):
    text = path.read_text(encoding="utf-8")
    notebook = build.text_to_notebook(text)
    assert build.notebook_to_text(notebook) == text
    # and the other way round
    assert build.text_to_notebook(build.notebook_to_text(notebook)) == notebook


@pytest.fixture(scope="module")
def everything_built():
    return list(build.build_all())


def test_two_builds_are_the_same_to_the_byte_and_what_is_committed(everything_built):
    first = {b.path: b.content for b in everything_built}
    second = {b.path: b.content for b in build.build_all()}
    assert first == second
    assert len(first) >= 4
    for path, content in first.items():
        assert path.read_bytes() == content.encode("utf-8"), f"{path}: run lens-course build"


def test_no_notebook_is_there_without_its_text(everything_built):
    root = place.course_root()
    built = {b.path for b in everything_built}
    for folder in ("lessons", "exercises", "solutions"):
        for path in (root / folder).rglob("*.ipynb"):
            if ".ipynb_checkpoints" not in path.parts:
                assert path in built, f"{path} has no text of its own"


def test_built_notebooks_are_valid_and_hold_no_outputs(everything_built):
    for built in everything_built:
        notebook = nbformat.reads(built.content, as_version=4)
        nbformat.validate(notebook)
        assert notebook.metadata == build.NOTEBOOK_METADATA, built.path
        ids = [cell.id for cell in notebook.cells]
        assert len(ids) == len(set(ids)), built.path
        for cell in notebook.cells:
            assert not cell.get("outputs"), built.path
            assert cell.get("execution_count") is None, built.path


def test_a_release_holds_neither_solution_nor_hidden_test(everything_built):
    for built in everything_built:
        if "exercises" not in built.path.parts:
            continue
        assert "BEGIN SOLUTION" not in built.content
        assert "HIDDEN TESTS" not in built.content
        assert "MARK SCHEME" not in built.content
        source = nbformat.read(
            place.course_root() / "solutions" / built.path.parent.name / "problems.ipynb", 4
        )
        for cell in source.cells:
            _, kind = build.grade_id_parts(cell)
            if kind in ("hidden", "written"):
                longest = max(cell.source.splitlines(), key=len)
                assert longest not in built.content


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ('# %% colour="red"\nx = 1\n', "colour"),
        ('# %% check="a" points=1\nx = 1\n\n# %% check="a" points=1\nx = 2\n', "twice"),
    ],
)
def test_an_unknown_marker_or_a_double_name_is_said(text, says):
    with pytest.raises(ValueError) as caught:
        build.text_to_notebook(text)
    assert says in str(caught.value)


@pytest.fixture
def small_course(tmp_path, monkeypatch):
    """A course of one lesson and one set, so that a test may write into it."""
    for part in place.PARTS:
        (tmp_path / part).mkdir()
    (tmp_path / "lessons" / "source").mkdir()
    (tmp_path / "lessons" / "source" / "01_a.py").write_text(
        '# %% [markdown] part="title"\n# # A\n'
    )
    (tmp_path / "solutions" / "01_a.py").write_text(
        '# %% answer="sum"\ndef double(x):\n    ### BEGIN SOLUTION\n    return 2 * x\n'
        '    ### END SOLUTION\n\n\n# %% check="sum" points=1\nassert double(2) == 4\n'
    )
    monkeypatch.setattr(build, "course_root", lambda: tmp_path)
    return tmp_path


def test_the_command_builds_checks_and_writes_back(small_course, capsys):
    assert cli.main(["build", "--check"]) == 1
    assert cli.main(["build"]) == 0
    assert cli.main(["build", "--check"]) == 0
    lesson = small_course / "lessons" / "01_a.ipynb"
    notebook = nbformat.read(lesson, 4)
    notebook.cells[0].source += "\n\nOne line more."
    nbformat.write(notebook, lesson)
    assert cli.main(["build", "--check"]) == 1
    assert cli.main(["build", "--from-notebook", str(lesson)]) == 0
    text = (small_course / "lessons" / "source" / "01_a.py").read_text()
    assert "One line more." in text
    assert cli.main(["build"]) == 0
    assert cli.main(["build", "--check"]) == 0
    assert "One line more." in lesson.read_text()
    capsys.readouterr()


def test_a_build_never_overwrites_answers(small_course, capsys):
    assert cli.main(["build"]) == 0
    exercise = small_course / "exercises" / "01_a" / "problems.ipynb"
    notebook = nbformat.read(exercise, 4)
    notebook.cells[0].source = "def double(x):\n    return x + x"
    nbformat.write(notebook, exercise)
    before = exercise.read_bytes()
    assert cli.main(["build"]) == 2
    assert "holds answers" in capsys.readouterr().err
    assert exercise.read_bytes() == before


def test_an_exercise_cannot_be_written_back(small_course, capsys):
    assert cli.main(["build"]) == 0
    path = small_course / "exercises" / "01_a" / "problems.ipynb"
    assert cli.main(["build", "--from-notebook", str(path)]) == 2
    assert "cut from solutions" in capsys.readouterr().err
