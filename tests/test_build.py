"""Text to notebooks and back: nothing lost, nothing left to chance."""

import re

import nbformat
import pytest

from shared_utils import cli
from shared_utils.bank import items
from shared_utils.course import manifest, place
from shared_utils.pages import build, source
from tests.marking import write_course

TEXTS = [place.lesson_source(page.slug) for page in manifest.of().pages]
TEXTS += [place.set_source(page.slug) for page in manifest.of().sets]


@pytest.mark.parametrize("path", TEXTS, ids=lambda p: f"{p.parent.name}-{p.stem}")
def test_text_to_notebook_to_text_loses_nothing(path):
    text = path.read_text(encoding="utf-8")
    filled = source.fill(text)
    assert not re.search(r"\{\{\w+ \w+\}\}", filled)
    notebook = build.text_to_notebook(filled)
    assert build.notebook_to_text(notebook) == filled
    assert source.put_back(filled, text) == text
    # and the other way round
    assert build.text_to_notebook(build.notebook_to_text(notebook)) == notebook


@pytest.mark.parametrize("path", TEXTS, ids=lambda p: f"{p.parent.name}-{p.stem}")
def test_an_edit_keeps_the_names_that_it_does_not_touch(path):
    text = path.read_text(encoding="utf-8")
    names = source.NAME.findall(text)
    edited = source.fill(text)
    # a line more at the top and in the middle, a word more in each line of prose, a line less
    lines = [f"{line} Indeed." if line.startswith("# ") else line for line in edited.splitlines()]
    lines.insert(len(lines) // 2, "# Lesson 04 and lesson 4 were typed here as numbers.")
    lines.insert(1, "# 05")
    edited = "\n".join(lines) + "\n"
    back = source.put_back(edited, text)
    assert source.fill(back) == edited
    assert source.NAME.findall(back) == names
    assert "Lesson 04 and lesson 4 were typed" in back


def test_a_name_that_an_edit_replaced_stays_as_it_was_typed():
    text = "# See lesson {{number vergence}} and {{stem eye}}.ipynb.\n"
    edited = "# See lesson 03 and 02_eye.ipynb.\n"
    assert source.put_back(edited, text) == "# See lesson 03 and {{stem eye}}.ipynb.\n"


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("lesson {{number prisms}}", "{{number prisms}} names no page"),
        ("lesson {{nummer eye}}", "{{nummer eye}} is not known"),
        (
            "# one\n# lesson {{ number eye }}",
            "a text, line 2: {{ number eye }} is not known",
        ),
        ("# lesson {{number}}", "{{number}} is not known"),
        ("# lesson {{number  eye}}", "is not known"),
        ("# lesson {{number\n# eye}}", "a text, line 1: {{number # eye}} is not known"),
        ("# lesson {{number-eye}}", "{{number-eye}} is not known"),
        ("# lesson {{eye}}", "{{eye}} is not known"),
        ("# lesson {{}}", "{{}} is not known"),
        ("{{number eye}}{{ title eye }}", "{{ title eye }} is not known"),
        ("lesson {{Number eye}}", "{{Number eye}} is not known"),
        ("# lesson{{ number eye }}", "{{ number eye }} is not known"),
    ],
)
def test_a_name_of_no_page_is_said(text, sentence):
    with pytest.raises(ValueError, match=re.escape(sentence)):
        source.fill(text)


def test_braces_of_a_formula_stay_as_they_are():
    formula = r"\mathrm{{m}} J_{{45}} \sqrt{{x}} \text{{for age}} \frac{{2}}{{\pi}} 2^{{{few}}}"
    assert source.fill(formula) == formula


def test_braces_of_python_stay_as_they_are_unless_they_begin_as_a_name():
    code = 'x = f\'{{"a": {b}}} {{"a": 1}}\'\ny = f"p {{color: red}}"\n'
    assert source.fill(code) == code
    assert source.put_back(f"z = 1\n{code}", code) == f"z = 1\n{code}"
    with pytest.raises(ValueError, match=r'a\.toml, line 1: {{"a": 1}} is not known'):
        source.fill(code, where="a.toml")
    with pytest.raises(ValueError, match=r"a\.py, line 1: {{ number eye }} is not known"):
        source.fill('page.say("lesson {{ number eye }}")', where="a.py")


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
        named = {**build.NOTEBOOK_METADATA}
        if built.path.name == "problems.ipynb":
            named["lens_course"] = {"set": manifest.slug_in(built.path.parent.name)}
        assert notebook.metadata == named, built.path
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
    text = (
        '# %% answer="sum"\ndef double(x):\n    ### BEGIN SOLUTION\n    return 2 * x\n'
        '    ### END SOLUTION\n\n\n# %% check="sum" points=1\nassert double(2) == 4\n'
    )
    write_course(tmp_path, {"01_a": text})
    place.lesson_source("a", tmp_path).write_text(
        '# %% [markdown] part="title"\n# # {{number a}} · A\n', encoding="utf-8"
    )
    monkeypatch.setattr(build, "course_root", lambda: tmp_path)
    return tmp_path


@pytest.mark.slow
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
    text = (small_course / "lessons" / "source" / "a.py").read_text()
    assert "One line more." in text
    assert "# # {{number a}} · A" in text
    assert cli.main(["build"]) == 0
    assert cli.main(["build", "--check"]) == 0
    assert "One line more." in lesson.read_text()
    capsys.readouterr()


NAMED = (
    '# %% [markdown] part="title"\n# # {{number bb}} · B\n#\n# After [lesson {{number cc}}]'
    "({{stem cc}}.ipynb), of {{count lessons}}.\n#\n# Lesson {{unpadded bb}} is this one.\n"
)


@pytest.fixture
def notebook_of_before(tmp_path, monkeypatch):
    """A notebook 01_bb, of a course in which the lesson has become 02 since."""
    text = '# %% answer="sum"\nx = 1\n'
    for names in ({"01_bb": text, "02_cc": text}, {"01_aa": text, "02_bb": text, "03_cc": text}):
        write_course(tmp_path, names)
        place.lesson_source("bb", tmp_path).write_text(NAMED, encoding="utf-8")
        if "01_bb" in names:
            (built,) = [b for b in build.build_all(tmp_path) if b.path.name == "01_bb.ipynb"]
            built.path.write_text(built.content, encoding="utf-8")
    monkeypatch.setattr(build, "course_root", lambda: tmp_path)
    return built.path


def edited(path, old, new):
    notebook = nbformat.read(path, 4)
    assert old in notebook.cells[0].source
    notebook.cells[0].source = notebook.cells[0].source.replace(old, new)
    nbformat.write(notebook, path)


def test_a_notebook_of_an_earlier_number_gives_back_the_names(notebook_of_before):
    edited(notebook_of_before, "# 01 · B", "# 01 · B\n\nOne line more.")
    target = build.write_back(notebook_of_before)
    wanted = NAMED.replace(" · B\n", " · B\n#\n# One line more.\n")
    assert target.read_text(encoding="utf-8") == wanted


def test_a_number_of_before_in_an_edited_line_is_refused(notebook_of_before, capsys):
    edited(notebook_of_before, "Lesson 1 is this one.", "Lesson 1 is this one, as you know.")
    assert cli.main(["build", "--from-notebook", str(notebook_of_before)]) == 2
    err = capsys.readouterr().err
    assert "a line that was edited says 'Lesson 1'" in err
    assert "{{number SLUG}}" in err
    target = place.lesson_source("bb", notebook_of_before.parent.parent)
    assert target.read_text(encoding="utf-8") == NAMED


@pytest.mark.parametrize("name", ["lessons/source/a.py", "solutions/a.py"])
@pytest.mark.parametrize("braces", ["{{ number a }}", "{{number}}"])
def test_a_build_refuses_braces_that_a_reader_would_see(small_course, capsys, name, braces):
    path = small_course / name
    path.write_text(f"{path.read_text()}\n# %% [markdown]\n# See lesson {braces}.\n")
    line = len(path.read_text().splitlines())
    assert cli.main(["build"]) == 2
    reply = capsys.readouterr().err
    assert f"{name}, line {line}: {braces} is not known" in reply
    assert len(reply.splitlines()) == 1


def test_braces_that_a_reader_of_an_item_would_see_are_refused(tmp_path, monkeypatch):
    text = (items.BANK / "eye.toml").read_text(encoding="utf-8")
    (tmp_path / "eye.toml").write_text(f"{text}\n# {{{{number}}}}\n", encoding="utf-8")
    monkeypatch.setattr(items, "BANK", tmp_path)
    line = len(text.splitlines()) + 2
    with pytest.raises(ValueError, match=rf"eye\.toml, line {line}: {{{{number}}}} is not known"):
        items.bank.__wrapped__()  # the build reads the whole bank for COVERAGE.md


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


@pytest.mark.slow
def test_an_exercise_with_answers_moves_to_its_new_number(small_course, capsys):
    assert cli.main(["build"]) == 0
    old = small_course / "exercises" / "01_a" / "problems.ipynb"
    notebook = nbformat.read(old, 4)
    notebook.cells[0].source = "def double(x):\n    return x + x"
    nbformat.write(notebook, old)
    before = old.read_bytes()
    listed = small_course / manifest.BELOW_ROOT
    (small_course / "lessons" / "source" / "b.py").write_text("# %% [markdown]\n# # B\n")
    record = '[[part.lesson]]\nslug = "b"\ntitle = "B"\nminutes = 5\nproblem_set = false\n\n'
    text = listed.read_text().replace("[[part.lesson]]", f"{record}[[part.lesson]]", 1)
    listed.write_text(text)
    capsys.readouterr()
    assert cli.main(["build", "--check"]) == 1
    assert "exercises/01_a/problems.ipynb is of an earlier build" in capsys.readouterr().out
    assert old.read_bytes() == before
    assert cli.main(["build"]) == 2
    reply = capsys.readouterr()
    new = small_course / "exercises" / "02_a" / "problems.ipynb"
    assert "holds answers: it lies at exercises/02_a/problems.ipynb now." in reply.out
    assert "exercises/02_a/problems.ipynb holds answers, which a build would overwrite" in reply.err
    assert new.read_bytes() == before
    assert not old.parent.exists()
    assert (small_course / "lessons" / "02_a.ipynb").is_file()
    assert not (small_course / "lessons" / "01_a.ipynb").exists()
    assert "02 · A" in (small_course / "lessons" / "02_a.ipynb").read_text(encoding="utf-8")
    assert not (small_course / "solutions" / "01_a").exists()
    # once the answers lie elsewhere, the release takes their place
    new.rename(small_course / "mine.ipynb")
    assert cli.main(["build"]) == 0
    assert cli.main(["build", "--check"]) == 0


@pytest.mark.parametrize(
    ("name", "sentence"),
    [
        ("lessons/source/c.py", "lessons/source/c.py has no record in manifest.toml"),
        ("solutions/c.py", "solutions/c.py has no record in manifest.toml"),
        ("lessons/source/a.py", "lessons/source/a.py is missing"),
        ("solutions/a.py", "solutions/a.py is missing"),
    ],
)
def test_a_text_without_a_record_or_a_record_without_a_text_is_said(
    small_course, capsys, name, sentence
):
    path = small_course / name
    path.unlink() if path.exists() else path.write_text("# %%\n")
    assert cli.main(["build"]) == 2
    assert sentence in capsys.readouterr().err


def test_an_exercise_cannot_be_written_back(small_course, capsys):
    assert cli.main(["build"]) == 0
    path = small_course / "exercises" / "01_a" / "problems.ipynb"
    assert cli.main(["build", "--from-notebook", str(path)]) == 2
    assert "cut from solutions" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("content", "says"),
    [
        ('{"cells": [', "is not a notebook that can be read"),
        ("", "is not a notebook that can be read"),
        ("[]", "is not a notebook that can be read"),
        ("{}", "is not a notebook that can be read"),
        (nbformat.writes(nbformat.v4.new_notebook()), "has no cells"),
        (
            nbformat.writes(nbformat.v4.new_notebook(cells=[nbformat.v4.new_code_cell("")])),
            "has no cells",
        ),
    ],
)
def test_a_notebook_that_holds_nothing_leaves_its_text_as_it_was(
    small_course, capsys, content, says
):
    assert cli.main(["build"]) == 0
    text = place.lesson_source("a", small_course)
    before = text.read_bytes()
    path = small_course / "lessons" / "01_a.ipynb"
    path.write_text(content, encoding="utf-8")
    capsys.readouterr()
    assert cli.main(["build", "--from-notebook", str(path)]) == 2
    out, err = capsys.readouterr()
    assert (out, err.count("\n")) == ("", 1)
    assert f"01_a.ipynb {says}; its text a.py stays as it was." in err
    assert text.read_bytes() == before
