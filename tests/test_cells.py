"""Cells' metadata: read and written in one place, whatever a learner has put there."""

import ast
from pathlib import Path

import nbformat
import pytest

from shared_utils.pages import cells

PACKAGE = Path(__file__).parent.parent / "shared_utils"
OWNER = PACKAGE / "pages" / "cells.py"
KEYS = {"lens_course", "nbgrader"}
# the words as the name of a class's course, and of a package that must be there
NO_METADATA = {"COURSE_ID", "PACKAGES"}


def spelled_keys(source):
    """Return the lines at which a module spells a key of the metadata."""
    tree = ast.parse(source)
    allowed = set()
    for node in ast.walk(tree):
        # nbgrader hands its settings to a step as resources["nbgrader"]
        if isinstance(node, ast.Subscript) and getattr(node.value, "id", "") == "resources":
            allowed.add(node.slice)
        if isinstance(node, ast.Assign):
            name = getattr(node.targets[0], "id", "")
            if name == "resources" and isinstance(node.value, ast.Dict):
                allowed |= set(node.value.keys)
            elif name in NO_METADATA:
                allowed |= set(ast.walk(node.value))
    return [
        node.lineno
        for node in ast.walk(tree)
        if (isinstance(node, ast.Attribute) and node.attr in KEYS)
        or (isinstance(node, ast.Constant) and node.value in KEYS and node not in allowed)
    ]


@pytest.mark.parametrize(
    "path",
    [path for path in sorted(PACKAGE.rglob("*.py")) if path != OWNER],
    ids=lambda path: str(path.relative_to(PACKAGE)),
)
def test_no_other_module_spells_the_keys_of_the_metadata(path):
    assert spelled_keys(path.read_text(encoding="utf-8")) == []


def test_the_owner_does():
    assert spelled_keys(OWNER.read_text(encoding="utf-8"))


@pytest.mark.parametrize(
    "source",
    [
        'cell.metadata.get("nbgrader", {})',
        'cell["metadata"]["lens_course"]',
        "cell.metadata.nbgrader.points",
        'NOTES = "lens_course"',
        '"nbgrader" in cell.metadata',
        'cell.metadata = {"nbgrader": {}}',
        'metadata.setdefault("lens_course", {})',
    ],
)
def test_a_key_is_found(source):
    assert spelled_keys(source) == [1]


@pytest.mark.parametrize(
    "source",
    [
        "from nbgrader.api import Gradebook",
        'learner = resources["nbgrader"]["student"]',
        'resources = {"nbgrader": {"student": "ada"}}',
        'COURSE_ID = "lens_course"',
        'STEPS = ("nbgrader.preprocessors.ClearOutput",)',
        "with open_nbgrader(path) as nbgrader:\n    nbgrader.release(name)",
    ],
)
def test_what_is_no_key_is_not_found(source):
    assert spelled_keys(source) == []


@pytest.mark.parametrize("about", [None, "text", 3, ["grade_id"]])
def test_metadata_of_another_form_reads_as_nothing(about):
    cell = {"metadata": {"nbgrader": about, "lens_course": about}}
    assert cells.grade_id(cell) == ""
    assert cells.grade_id_parts(cell) == (None, None)
    assert not any(f(cell) for f in (cells.is_graded, cells.is_answer, cells.is_locked))
    assert cells.points(cell) is cells.checksum(cell) is cells.score(cell) is None
    assert (cells.goals(cell), cells.own(cell), cells.records(cell)) == ((), (), [])
    assert not cells.is_readable(cell)


def test_a_name_that_is_no_text_is_no_name():
    cell = {"metadata": {"nbgrader": {"grade_id": ["page-answer"]}}}
    assert cells.grade_id(cell) == ""
    assert not cells.is_readable(cell)
    assert cells.is_readable({"metadata": {"nbgrader": {"grade_id": "page-answer"}}})
    assert cells.is_readable({"metadata": {}})


def test_what_is_kept_is_read_again_and_leaves_the_rest_alone():
    notebook = nbformat.v4.new_notebook()
    cells.keep(notebook, "notes", ["One.", "Two."])
    cells.keep(notebook, "slips", [{"step": "Power"}])
    cells.keep(notebook, "notes", ["Three."])
    again = nbformat.reads(nbformat.writes(notebook), as_version=4)
    assert (cells.notes(again), cells.slips(again)) == (["Three."], [{"step": "Power"}])
    test = nbformat.v4.new_code_cell(metadata={"lens_course": {"goals": [1]}})
    cells.keep(test, "checks", [{"step": "Power"}])
    assert (cells.records(test), cells.goals(test)) == ([{"step": "Power"}], (1,))


def test_a_submission_has_the_metadata_of_the_source_and_no_more():
    given = {"grade_id": "page-check", "points": 2}
    metadata = {"nbgrader": given, "lens_course": {"goals": [1]}, "tags": ["raises-exception"]}
    cell = nbformat.v4.new_code_cell(metadata=metadata)
    assert cells.trusted_metadata(cell, "abc") == {
        "nbgrader": {**given, "checksum": "abc"},
        "lens_course": {"goals": [1]},
    }
    assert "checksum" not in cell.metadata.nbgrader


def test_what_is_out_of_reach_is_named_by_problem():
    answer = nbformat.v4.new_code_cell(
        metadata={"nbgrader": {"grade_id": "two-words-answer"}, "lens_course": {"own": ["f", "g"]}}
    )
    notebook = nbformat.v4.new_notebook(cells=[answer, nbformat.v4.new_code_cell()])
    assert cells.own_by_problem(notebook) == {"two-words": ["f", "g"]}
