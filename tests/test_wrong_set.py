"""A learner hands in the notebook of one set in the place of another: all 240 ways.

From the released notebooks through the folder of submissions to the report. No kernel runs.
"""

import functools
import json
import re
from itertools import permutations

import nbformat
import pytest

from shared_utils import cli
from shared_utils.classroom import marks
from shared_utils.course import place
from shared_utils.grading.supervisor import set_identity, settings
from shared_utils.pages import build
from tests.filling import filled, solution
from tests.honest import submission
from tests.marking import empty_class

pytestmark = pytest.mark.grading

SETS = place.set_names()
PAIRS = list(permutations(SETS, 2))


def learner_with(name):
    return f"has_{name}"


@pytest.fixture(scope="module")
def answered():
    """Every set as a learner fills it in: half of it right."""
    return {name: submission(solution(name), "half right", 1) for name in SETS}


@pytest.fixture(scope="module")
def room(tmp_path_factory, answered):
    """A class in which each learner hands in one set's notebook as every other set."""
    folder = tmp_path_factory.mktemp("class")
    with empty_class(folder, [learner_with(name) for name in SETS]) as room:
        for name in SETS:
            room.release(name)
        for of, handed_in_as in PAIRS:
            target = room.folder / "submitted" / learner_with(of) / handed_in_as
            target.mkdir(parents=True)
            nbformat.write(answered[of], target / "problems.ipynb")
        yield room


@pytest.fixture(scope="module")
def results(room):
    return functools.cache(lambda name: {r.learner: r for r in room.grade(name)})


def test_there_are_240_pairs():
    assert len(PAIRS) == 16 * 15 == 240


@pytest.mark.parametrize(
    ("of", "handed_in_as"),
    [
        pytest.param(*pair, marks=[pytest.mark.slow] if pair[1] not in SETS[:2] else [])
        for pair in PAIRS
    ],
)
def test_the_notebook_of_another_set_is_refused_with_both_names(results, of, handed_in_as):
    result = results(handed_in_as)[learner_with(of)]
    assert result.marks is None
    assert result.notes == [
        f"This is the notebook of {of}, handed in as {handed_in_as}; it was not marked."
    ]


@pytest.mark.slow
def test_none_counts_as_zero_and_the_report_names_them(room, results, capsys):
    for name in SETS:
        results(name)
    read = marks.read(settings.gradebook_url(room.folder))
    assert not any(one.handed_in().any() for one in read.sets)
    assert cli.main(["class", "status", "--folder", str(room.folder)]) == 0
    assert "This is the notebook of 05_measuring, handed in as 03_glasses" in (
        capsys.readouterr().out
    )
    assert cli.main(["class", "report", "--folder", str(room.folder)]) == 0
    page = (room.folder / "report" / "class_report.html").read_text(encoding="utf-8")
    for of, handed_in_as in PAIRS:
        assert f"the notebook of {of}, handed in as {handed_in_as}" in page


def as_it_was(notebook):
    return nbformat.writes(notebook)


def without_metadata(notebook):
    """As another program saves it: no metadata, no ids, an older format."""
    plain = json.loads(nbformat.writes(notebook))
    plain["metadata"], plain["nbformat_minor"] = {}, 4
    for number, cell in enumerate(plain["cells"]):
        cell["metadata"] = {}
        cell.pop("id", None)
        if number % 2:
            cell["source"] = "".join(cell["source"]).replace("\n", "\r\n")
    return json.dumps(plain)


def without_metadata_of_the_notebook(notebook):
    plain = json.loads(nbformat.writes(notebook))
    plain["metadata"] = {}
    return json.dumps(plain)


def with_answers_alone(notebook):
    """Every locked text was edited: the names of the cells are what is left."""
    plain = json.loads(nbformat.writes(notebook))
    plain["metadata"] = {}
    for cell in plain["cells"]:
        cell["source"] = "edited"
    return json.dumps(plain)


def with_the_name_of_the_other(notebook):
    plain = json.loads(nbformat.writes(notebook))
    plain["metadata"]["lens_course"] = {"set": "vergence"}
    return json.dumps(plain)


WAYS = (
    *(as_it_was, without_metadata, without_metadata_of_the_notebook, with_answers_alone),
    with_the_name_of_the_other,
)


@pytest.fixture(scope="module")
def known(tmp_path_factory):
    return set_identity.known_sets(tmp_path_factory.mktemp("no_class"))


@pytest.fixture(scope="module")
def saved(answered):
    return {
        (way, name): way(notebook).encode() for way in WAYS for name, notebook in answered.items()
    }


@pytest.mark.parametrize("way", WAYS)
def test_it_is_known_by_its_content_in_all_pairs(known, saved, way):
    for of, handed_in_as in PAIRS:
        fault = set_identity.fault_of_file(saved[way, of], handed_in_as, known)
        assert re.findall(r"\d\d_[a-z_]+", fault) == [of, handed_in_as]


@pytest.mark.parametrize("name", SETS)
def test_the_right_set_is_never_refused(known, saved, name):
    released = build.serialise(build.released(solution(name))).encode()
    for content in (released, *(saved[way, name] for way in WAYS)):
        assert set_identity.fault_of_file(content, name, known) == ""


@pytest.mark.parametrize(
    "content", [b"", b"poem", b"[]", b"{}", b'{"cells": 3}', b"\xff", b"[" * 9000]
)
def test_what_is_no_notebook_is_left_to_others(known, content):
    assert set_identity.fault_of_file(content, SETS[0], known) == ""


@pytest.mark.slow
def test_marks_that_an_earlier_version_gave_for_it_are_taken_back(tmp_path, monkeypatch):
    with empty_class(tmp_path, ["ada"]) as room:
        room.release(SETS[0])
        target = room.folder / "submitted" / "ada" / SETS[0] / "problems.ipynb"
        target.parent.mkdir(parents=True)
        nbformat.write(filled(SETS[1]), target)
        with monkeypatch.context() as before:
            before.setattr(set_identity, "fault", lambda *_: "")
            (result,) = room.grade(SETS[0])
            assert result.marks == 0
        (result,) = room.grade(SETS[0])
        assert result.marks is None
        assert len(result.notes) == 1
        target.rename(target.with_name("measuring (1).ipynb"))
        (result,) = room.grade(SETS[0])
        assert result.notes[0].startswith(f"This is the notebook of {SETS[1]}, handed in as")
        nbformat.write(filled(SETS[0]), target)
        (result,) = room.grade(SETS[0])
        assert result.marks > 20
