"""What a notebook may show: bounded in one place, whatever the kind, and built anew."""

import nbformat
import pytest
from nbformat import v4

from shared_utils.grading.supervisor import outputs
from shared_utils.grading.supervisor.outputs import CUT, Outputs

BIG = "x" * 100_000
FLOODS = {
    "stream": {"output": "stream", "name": "stdout", "text": BIG},
    "result": {"output": "result", "data": {"text/plain": BIG}},
    "error": {"output": "error", "ename": "E", "evalue": BIG, "traceback": [BIG]},
    "display": {"output": "display", "data": {"image/png": BIG}, "display_id": "d"},
    "update": {"output": "update", "data": {"text/html": BIG}, "display_id": "d"},
}


def begin(kept):
    cell = v4.new_code_cell()
    kept.begin(cell)
    return cell


def size_of(cell):
    return len(nbformat.writes(v4.new_notebook(cells=[cell])))


@pytest.mark.parametrize("kind", FLOODS)
def test_every_kind_is_cut_alike(kind):
    kept = Outputs()
    cell = begin(kept)
    kept.add({"output": "display", "data": {"text/plain": "d"}, "display_id": "d"})
    for _ in range(50):
        kept.add(FLOODS[kind])
    assert 100_000 < size_of(cell) < outputs.MAX_CELL_CHARS + 110_000
    texts = [output.text for output in cell.outputs if output.output_type == "stream"]
    assert sum(CUT in text for text in texts) == 1
    # and the next cell has its own room
    after = begin(kept)
    kept.add({"output": "stream", "name": "stdout", "text": "seen"})
    assert after.outputs[0].text == "seen"


def test_updates_of_many_displays_count_as_often_as_they_are_shown():
    kept = Outputs()
    cell = begin(kept)
    for _ in range(400):
        kept.add({"output": "display", "data": {"text/plain": "d"}, "display_id": "d"})
    kept.add({"output": "update", "data": {"text/plain": BIG}, "display_id": "d"})
    assert size_of(cell) < outputs.MAX_CELL_CHARS


def test_pieces_are_counted():
    kept = Outputs()
    cell = begin(kept)
    for _ in range(2000):
        kept.add({"output": "display", "data": {"text/plain": "d"}})
    assert len(cell.outputs) == outputs.MAX_CELL_PIECES + 1


def test_a_notebook_has_a_limit_of_its_own():
    kept = Outputs()
    book = v4.new_notebook(cells=[])
    for _ in range(40):
        book.cells.append(begin(kept))
        for _ in range(4):
            kept.add(FLOODS["stream"])
            kept.add({"output": "error", "ename": "E", "evalue": BIG, "traceback": []})
    assert len(nbformat.writes(book)) < outputs.MAX_NOTEBOOK_CHARS * 1.1
    # that there was an error is still to be seen, once in a cell
    last = book.cells[-1].outputs
    assert [output.output_type for output in last] == ["stream", "error"]
    assert len(last[1].evalue) == outputs.MAX_LINE_CHARS


@pytest.mark.parametrize(
    "message",
    [
        {},
        {"output": "file"},
        {"output": ["stream"]},
        {"output": "stream", "name": 3, "text": 4},
        {"output": "stream", "name": {"a": 1}, "text": None},
        {"output": "result", "data": 3},
        {"output": "result", "data": {"text/plain": ["x"], "application/json": {}}},
        {"output": "display", "data": {}, "display_id": {"a": 1}},
        {"output": "display", "data": {"text/plain": "x"}, "display_id": ["d"], "metadata": 3},
        {"output": "update", "data": {"text/plain": "x"}, "display_id": ["d"]},
        {"output": "error"},
        {"output": "error", "ename": 3, "evalue": [], "traceback": {"a": 1}},
        {"output": "error", "ename": "E", "evalue": "x", "traceback": [1, None]},
        {"output": "clear", "wait": "later"},
    ],
    ids=range(14),
)
def test_what_is_malformed_leaves_a_notebook_that_is_valid(message):
    kept = Outputs()
    cell = begin(kept)
    kept.add(message, count=1)
    nbformat.validate(v4.new_notebook(cells=[cell]))


def test_displays_are_updated_and_cleared_as_a_notebook_does_it():
    kept = Outputs()
    cell = begin(kept)
    kept.add({"output": "display", "data": {"text/plain": "first"}, "display_id": "d"})
    kept.add({"output": "stream", "name": "stdout", "text": "a"})
    kept.add({"output": "stream", "name": "stdout", "text": "b"})
    kept.add({"output": "update", "data": {"text/plain": "second"}, "display_id": "d"})
    assert cell.outputs[0].data == {"text/plain": "second"}
    assert cell.outputs[1].text == "ab"
    kept.add({"output": "clear", "wait": True})
    assert len(cell.outputs) == 2
    kept.add({"output": "stream", "name": "stdout", "text": "c"})
    assert [output.text for output in cell.outputs] == ["c"]
    kept.add({"output": "clear"})
    assert cell.outputs == []


def test_what_the_examiner_says_is_kept_and_what_it_printed_is_cut():
    kept = Outputs()
    cell = begin(kept)
    for _ in range(9):
        kept.add_trusted({"output_type": "stream", "name": "stdout", "text": BIG})
    result = {"output_type": "execute_result", "data": {"text/plain": "1.0"}}
    kept.add_trusted({**result, "metadata": {}, "execution_count": 1})
    assert size_of(cell) < outputs.MAX_CELL_CHARS + 110_000
    assert cell.outputs[-1].data == {"text/plain": "1.0"}
