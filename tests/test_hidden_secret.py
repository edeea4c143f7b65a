"""The class's secret: the same submission meets the same inputs, and the secret goes nowhere.

A submission keeps the inputs that its functions are given and a later cell prints them, which is
the most that a learner gets to see of them.
"""

import hashlib
import json
import os
import re
import shutil
import stat

import nbformat
import pytest

from shared_utils.classroom import classroom as classes
from shared_utils.classroom import nbgrader_calls
from shared_utils.grading.supervisor import hidden_seed
from tests import filling
from tests.marking import SET, class_of, course_of, everything, marks_by_cell, short_set
from tests.stock import autograde

SECRET_FILE = hidden_seed.SECRET_FILE
KEEPS = """\
seen = []


def page_vergence_d(distance_cm):
    seen.append(distance_cm)
    return -100.0 / distance_cm
"""
# whatever looks like a secret in the memory of the learner's process, as its digest; the process
# may not open /proc/self/mem
PRINTS = """\
import ctypes
import hashlib
import os
import re

from shared_utils.problems import hidden_numbers

print("SEEN", seen)
print("SECRET", hidden_numbers._secret)
found = set()
with open("/proc/self/maps") as maps:
    regions = [line.split() for line in maps if learner_id() == "ada"]
read_end, write_end = os.pipe()
libc = ctypes.CDLL(None)
for ends, may, *_, name in regions:
    first, last = (int(end, 16) for end in ends.split("-"))
    if may.startswith("rw") and not name.startswith("/"):
        for at in range(first, last, 2**15):
            # through a pipe: what is no longer there is refused and does not end the process
            size = ctypes.c_size_t(min(2**15 + 64, last - at))
            size = libc.write(write_end, ctypes.c_void_p(at), size)
            if size > 0:
                found.update(re.findall(rb"[0-9a-f]{64}", os.read(read_end, size)))
print("FOUND", sorted(hashlib.sha256(one).hexdigest() for one in found))


def vergence_in_aqueous_d(distance_mm):
    return 1336.0 / distance_mm
"""
PLANTED = "0123456789abcdef" * 4


def handed_in(remark=""):
    notebook = filling.filled(SET, {"page": KEEPS, "aqueous": f"planted = '{PLANTED}'\n{PRINTS}"})
    notebook.cells.append(nbformat.v4.new_markdown_cell(remark, id="remark"))
    return notebook


def printed(room, learner, word):
    """What the submission's own cell printed after a word."""
    path = room.folder / "autograded" / learner / SET / "problems.ipynb"
    text = "".join(
        output.text
        for cell in nbformat.read(path, as_version=4).cells
        for output in cell.get("outputs", [])
        if output.output_type == "stream"
    )
    return re.search(rf"^{word} (.*)$", text, re.MULTILINE)[1]


def seen(room, learner):
    return json.loads(printed(room, learner, "SEEN"))


@pytest.fixture(scope="module")
def graded(tmp_path_factory):
    """Two learners who handed in the same, one with another remark, one with answers alone."""
    folder = tmp_path_factory.mktemp("hidden")
    with course_of(folder / "course", {SET: short_set("page", "aqueous")}):
        same = handed_in("the same")
        given = {"ada": same, "bo": same, "cy": handed_in("another"), "dee": filling.filled(SET)}
        with class_of(folder, given) as room:
            for result in room.grade(SET):
                assert result.notes == [], result
            for _ in room.feedback(SET):
                pass
            yield room


@pytest.mark.grading
def test_graded_again_a_submission_meets_the_same_inputs_and_gets_the_same_marks(graded):
    before = {who: (seen(graded, who), marks_by_cell(graded, who)) for who in ("ada", "bo")}
    list(graded.grade(SET, again=True))
    after = {who: (seen(graded, who), marks_by_cell(graded, who)) for who in ("ada", "bo")}
    assert after == before
    assert set(before["ada"][1].values()) == {1.0}


@pytest.mark.grading
def test_another_learner_and_another_submission_meet_other_inputs(graded):
    ada, bo, cy = (seen(graded, who) for who in ("ada", "bo", "cy"))
    hidden = [inputs[-3:] for inputs in (ada, bo, cy)]
    assert all(16.0 - 2.0 <= inputs[0] <= 16.0 + 2.0 for inputs in hidden)
    assert hidden[0] != hidden[1] != hidden[2] != hidden[0]

    room = classes.Classroom(graded.folder)
    path = room.folder / "submitted" / "cy" / SET / "problems.ipynb"
    kept = path.read_text(encoding="utf-8")
    try:
        nbformat.write(handed_in("handed in once more"), path)
        list(room.grade(SET, ["cy"]))
        assert seen(room, "cy")[-3:] != hidden[2]
        assert seen(room, "cy")[:-3] == cy[:-3]  # the learner's own numbers stay
        path.write_text(kept, encoding="utf-8")
        path.with_name("beside.txt").write_text("tables of answers", encoding="utf-8")
        list(room.grade(SET, ["cy"]))
        assert seen(room, "cy")[-3:] != hidden[2]
    finally:
        path.write_text(kept, encoding="utf-8")
        path.with_name("beside.txt").unlink(missing_ok=True)
        list(room.grade(SET, ["cy"]))
    assert seen(room, "cy") == cy


@pytest.mark.grading
def test_the_form_graders_button_draws_the_same_and_stock_autograding_draws_without(
    graded, tmp_path
):
    room = classes.Classroom(shutil.copytree(graded.folder, tmp_path / "button"))
    with nbgrader_calls.open_nbgrader(room.folder) as api:
        assert api.autograde(SET, "ada", create=False)["success"]
    assert seen(room, "ada") == seen(graded, "ada")

    stock = shutil.copytree(graded.folder, tmp_path / "stock")
    autograde(stock, SET, ["dee"])
    assert everything(graded.folder)[SET, "dee"] == everything(stock)[SET, "dee"]
    assert set(marks_by_cell(graded, "dee").values()) == {1.0}


@pytest.mark.grading
def test_the_secret_is_nowhere_but_in_its_file(graded):
    secret = (graded.folder / SECRET_FILE).read_text(encoding="ascii").strip()
    submission = graded.folder / "submitted" / "ada" / SET / "problems.ipynb"
    seed = hidden_seed.seed_of(bytes.fromhex(secret), "ada", SET, submission.read_bytes(), {})
    found = json.loads(printed(graded, "ada", "FOUND").replace("'", '"'))
    digests = [hashlib.sha256(text.encode()).hexdigest() for text in (PLANTED, secret, seed)]
    assert [digest in found for digest in digests] == [True, False, False]
    assert printed(graded, "ada", "SECRET") == "b''"

    files = [path for path in graded.folder.rglob("*") if path.is_file()]
    ends = {path.suffix for path in files}
    assert {".ipynb", ".html", ".db"} <= ends, ends
    for path in files:
        content = path.read_bytes()
        if path.name != SECRET_FILE:
            assert secret.encode() not in content, path
            assert bytes.fromhex(secret) not in content, path
        assert seed.encode() not in content, path


@pytest.mark.skipif(os.name != "posix", reason="File modes are POSIX's.")
def test_a_class_gets_a_secret_that_its_owner_alone_may_read(tmp_path):
    room = classes.new_class(tmp_path / "new")
    path = room.folder / SECRET_FILE
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    first = hidden_seed.class_secret(room.folder)
    assert first == hidden_seed.class_secret(room.folder)
    path.unlink()  # as in the folder of a class that was made before
    assert hidden_seed.class_secret(room.folder) != first
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    assert [one.name for one in room.folder.glob(".hidden*")] == []


@pytest.mark.parametrize("content", ["", "not hexadecimal", "00" * 16])
def test_a_damaged_secret_is_said_and_not_made_anew(tmp_path, content):
    (tmp_path / SECRET_FILE).write_text(content, encoding="ascii")
    with pytest.raises(ValueError, match="damaged"):
        hidden_seed.class_secret(tmp_path)
    assert (tmp_path / SECRET_FILE).read_text(encoding="ascii") == content


def test_seeds_differ_by_learner_set_and_all_that_was_handed_in():
    given = [b"secret", "ada", "01_vergence", b"notebook", {"a.txt": b"1"}]
    others = [b"other", "bo", "02_eye", b"notebook ", {"a.txt": b"2"}]
    seeds = {hidden_seed.seed_of(*given)}
    for place, other in enumerate(others):
        seeds.add(hidden_seed.seed_of(*given[:place], other, *given[place + 1 :]))
    # neither two files for one, nor a name for a content
    for files in ({}, {"b.txt": b"1"}, {"a.txt": b"", "1": b""}, {"a.txt1": b""}):
        seeds.add(hidden_seed.seed_of(*given[:4], files))
    assert len(seeds) == 10
    assert hidden_seed.seed_of(*given) in seeds
