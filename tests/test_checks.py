"""The checks, the learner's numbers, and the learner's own check of a set."""

import math

import nbformat
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from shared_utils import cli
from shared_utils.course import learner, place
from shared_utils.problems import check_records, checks, numbers, selfcheck
from tests.filling import filled, release, save

SET = "01_vergence"
WANT = {"unit": "D", "within": 0.01, "expect": "a vergence, negative"}


def message(answer, want=-2.5, **more):
    with pytest.raises(checks.NotRight) as caught:
        checks.number("it", answer, want, **{**WANT, **more})
    return str(caught.value)


def sentences(problem):
    return " ".join(slip.sentence for slip in problem.slips())


def test_a_right_number_prints_that_it_holds(capsys):
    for right in (-2.5, -2.495, np.float64(-2.5), np.array([-2.5]), np.array(-2.5)):
        checks.number("it", right, -2.5, **WANT)
    assert capsys.readouterr().out.count("holds") == 5


def test_a_wrong_number_names_kind_unit_and_slip_but_not_the_answer():
    sentence = message(2.5)
    assert "the sign" in sentence
    assert "a vergence, negative" in sentence
    assert "0.01 D" in sentence
    assert "2.500 D" in sentence
    assert "−2.500" not in sentence
    assert "centimetres" in message(-0.025)
    assert "millimetres" in message(-2500.0)
    assert "half" in message(-1.25, slips={"that is half of it.": -1.25})
    assert "unit and sign" in message(-7.0)


def slip_of(check, *given, **named):
    with pytest.raises(checks.NotRight) as caught:
        check("it", *given, **named)
    record = caught.value.record
    assert record.step == "it"
    assert record.sentence == str(caught.value)
    return record.slip


def test_a_slip_has_an_id_that_does_not_depend_on_the_sentence():
    slips = {"that is half of it.": -1.25, "at 1 m.": -0.5, "at 2 m.": -1.0}
    ids = {
        2.5: "sign",
        -0.025: "centimetres",
        -2500.0: "millimetres",
        -7.0: "unnamed",
        -1.25: "half",
        -0.5: "at-m",
        -1.0: "at-m-2",  # two that differ by a number alone
        None: "no-return",
        "2": "not-a-number",
        math.inf: "not-finite",
    }
    for answer, slip in ids.items():
        assert slip_of(checks.number, answer, -2.5, **WANT, slips=slips) == slip
    turn = {"within_deg": 2, "expect": "the steep meridian"}
    turned = {120: "other-meridian", 150: "mirrored", math.radians(30): "radians", 75: "unnamed"}
    for answer, slip in turned.items():
        assert slip_of(checks.axis, answer, 30, **turn) == slip
    steep = {"that is the flat meridian.": 120}
    assert slip_of(checks.axis, 120, 30, **turn, slips=steep) == "flat-meridian"
    for answer, slip in {21.3: "not-made", 22.0: "one-step-off", 25.0: "unnamed"}.items():
        assert slip_of(checks.lens_power, answer, 21.5, expect="the nearest step") == slip
    words = {"options": ("weaker", "much stronger")}
    assert slip_of(checks.choice, "Much stronger", "weaker", **words) == "chose-much-stronger"
    assert slip_of(checks.choice, 3, "weaker", **words) == "not-an-option"


def test_records_of_steps_have_their_share_of_the_points(monkeypatch, capsys):
    shown = []
    monkeypatch.setattr(checks, "display", lambda data, metadata: shown.append(data))
    marks = checks.Marks(4)
    for answer in (-2.5, 2.5, lambda: 1 / 0, lambda: {}["no"], lambda: not_yet()):
        marks.step(checks.number, "it", answer, -2.5, **WANT)
    assert shown == []  # one output for all, so that no line of the learner's is torn apart
    marks.score()
    cell = nbformat.v4.new_code_cell(metadata={"nbgrader": {"points": 4}})
    cell.outputs = [nbformat.v4.new_output("display_data", data) for data in shown]
    nbformat.validate(nbformat.v4.new_notebook(cells=[cell]))
    records = check_records.of_cell(cell, "page")
    slips = [record.slip for record in records]
    assert slips == ["", "sign", "stopped", "stopped", "not-answered"]
    assert [record.earned for record in records] == [0.8, 0, 0, 0, 0]
    assert {record.possible for record in records} == {0.8}
    assert records[1].slip_id == "page/it/sign"
    assert [f"✗ {r.sentence}" if r.slip else f"✓ {r.sentence}" for r in records] == (
        capsys.readouterr().out.splitlines()
    )


def not_yet():
    raise NotImplementedError


def test_a_check_that_stands_by_itself_speaks_for_its_cell(monkeypatch, capsys):
    shown = []
    monkeypatch.setattr(checks, "display", lambda data, metadata: shown.append(data))
    checks.number("first", -2.5, -2.5, **WANT)
    with pytest.raises(checks.NotRight) as caught:
        checks.number("second", 2.5, -2.5, **WANT)
    assert len(shown) == 1
    caught.value._render_traceback_()  # as IPython shows it
    cell = nbformat.v4.new_code_cell(metadata={"nbgrader": {"points": 2}})
    cell.outputs = [nbformat.v4.new_output("display_data", data) for data in shown]
    error = {"ename": "NotRight", "evalue": str(caught.value), "traceback": []}
    cell.outputs.append(nbformat.v4.new_output("error", **error))
    records = check_records.of_cell(cell, "page")
    assert [(r.step, r.slip, r.earned, r.possible) for r in records] == [
        ("first", "", 0.0, 1.0),  # a test that stops gives nothing
        ("second", "sign", 0.0, 1.0),
    ]
    # an error that only has the name is one of the learner's
    cell.outputs = [nbformat.v4.new_output("error", **error | {"evalue": "sign"})]
    assert [record.slip for record in check_records.of_cell(cell, "page")] == ["stopped"]
    capsys.readouterr()


@pytest.mark.parametrize(
    "bad",
    [None, {}, {"step": "x"}, {"step": "x", "holds": 1}, {"step": 3, "holds": True}]
    + [{"step": "x", "holds": False, "earned": value} for value in ("1", True, math.nan)],
)
def test_what_is_no_record_is_refused(bad):
    with pytest.raises(ValueError, match="record"):
        check_records.CheckRecord.from_dict(bad)


@pytest.mark.parametrize("answer", [0.0, -0.002, 0.01])
def test_nothing_is_no_slip_by_a_factor(answer):
    slips = {"millimetres were not turned into metres.": 1.336 / 28.4}  # 0.047 D
    of_aqueous = {"want": 1336 / 28.4, "within": 0.05, "slips": slips}
    assert "millimetres were" in message(1.336 / 28.4, **of_aqueous)
    assert "millimetres" not in message(answer, **of_aqueous)
    assert "was lost" in message(0.0, slips={"all of it was lost.": 0.0})


def test_a_slip_that_gives_the_right_number_is_not_named():
    assert "useless" not in message(-2.7, slips={"useless": -2.5})


@pytest.mark.parametrize("bad", [None, "−2.5", True, [1, 2], math.nan, math.inf, 1j, object()])
def test_what_is_no_number_gets_one_sentence(bad):
    assert "\n" not in message(bad)


def test_words_are_checked_without_regard_to_case(capsys):
    checks.choice("which", " Weaker ", "weaker", options=("weaker", "stronger"))
    with pytest.raises(checks.NotRight, match="plus lens"):
        checks.choice(
            "which",
            "stronger",
            "weaker",
            options=("weaker", "stronger"),
            slips={"stronger": "True of a plus lens."},
        )
    with pytest.raises(checks.NotRight, match="one of the words"):
        checks.choice("which", 3, "weaker", options=("weaker", "stronger"))
    assert "weaker holds" in capsys.readouterr().out


def test_marks_give_a_share_for_each_step_and_survive_errors(capsys):
    marks = checks.Marks(4)
    for answer in (-2.5, 2.5, lambda: 1 / 0, lambda: -2.5):
        marks.step(checks.number, "it", answer, -2.5, **WANT)
    score = marks.score()
    assert type(score) is float  # numpy's float would count as full marks
    assert score == 2.0
    assert "ZeroDivisionError" in capsys.readouterr().out


def test_under_validate_the_slips_of_the_steps_are_told(monkeypatch, capsys):
    marks = checks.Marks(2)
    marks.step(checks.number, "first", -2.5, -2.5, **WANT)
    marks.step(checks.number, "second", 2.5, -2.5, **WANT)
    assert marks.score() == 1.0
    monkeypatch.setenv("NBGRADER_EXECUTION", "validate")
    with pytest.raises(checks.NotRight, match=r"1 of 2 steps hold\. second: .* the sign"):
        marks.score()
    monkeypatch.setenv("NBGRADER_EXECUTION", "autograde")
    assert marks.score() == 1.0
    capsys.readouterr()


def test_only_the_sentence_is_shown_in_a_notebook():
    assert checks.NotRight("No.")._render_traceback_() == ["✗ No."]


def test_numbers_stay_for_one_learner_and_differ_between_learners():
    # recomputed by hand from the rule: first 8 bytes of sha256("ada|s/p|x") modulo the count
    import hashlib

    digest = hashlib.sha256(b"ada|s/p|x").digest()
    want = 20 + int.from_bytes(digest[:8], "big") % 61
    assert numbers.Draw("s/p", "ada").pick("x", 20, 80) == want
    drawn = {numbers.Draw("s/p", f"learner{n}").pick("x", 20, 80) for n in range(200)}
    assert len(drawn) > 40


@given(low=st.integers(-50, 50), count=st.integers(0, 40), step=st.sampled_from([1, 0.25, 0.1]))
def test_numbers_stay_in_their_range_and_on_their_step(low, count, step):
    high = low + count * step
    value = numbers.Draw("s/p", "ada").pick("x", low, high, step)
    assert low <= value <= high + 1e-9
    assert (value - low) / step == pytest.approx(round((value - low) / step), abs=1e-6)


def test_the_id_comes_from_the_grading_then_the_hub_then_the_file(tmp_path, monkeypatch, capsys):
    monkeypatch.setattr(learner, "id_file", lambda: tmp_path / ".learner")
    for variable in (learner.LEARNER_VARIABLE, "JUPYTERHUB_USER"):
        monkeypatch.delenv(variable, raising=False)
    assert learner.learner_id() == "self-study"
    assert cli.main(["learner", "ada.bright"]) == 0
    assert learner.learner_id() == "ada.bright"
    monkeypatch.setenv("JUPYTERHUB_USER", "hub-ada")
    assert learner.learner_id() == "hub-ada"
    monkeypatch.setenv(learner.LEARNER_VARIABLE, "roster-ada")
    assert learner.learner_id() == "roster-ada"
    assert cli.main(["learner", "../up"]) == 2
    assert "roster" in capsys.readouterr().err


def test_a_set_is_found_by_number_or_name():
    assert place.find_set("1") == place.find_set("01") == place.find_set(SET) == SET
    with pytest.raises(ValueError, match="01_vergence"):
        place.find_set("99")


@pytest.mark.grading
def test_the_right_answers_hold_and_hide_nothing(tmp_path):
    report = selfcheck.check(save(filled(SET), tmp_path / "problems.ipynb"), SET)
    assert report.all_hold()
    assert report.notes == []
    assert [p.by_hand for p in report.problems] == [False] * 8 + [True]


@pytest.mark.slow
@pytest.mark.grading
def test_a_mixed_notebook_is_told_problem_by_problem(tmp_path, monkeypatch):
    answers = {
        "page": "def page_vergence_d(distance_cm):\n    return 100 / distance_cm",
        "aqueous": "def vergence_in_aqueous_d(distance_mm):\n    return 1000 / distance_mm",
        "vertex": "def contact_lens_d(s, v):\n    while True: pass",
        "surface": "def corneal_front_power_d(r, n):\n    raise RuntimeError('oh')",
        "pair": "def vergences_d(*c):\n    return [1]\n\ndef final_image_cm(*c):\n    return 0",
    }
    notebook = filled(SET, answers)
    by_id = {c.metadata.nbgrader.grade_id: c for c in notebook.cells}
    by_id["page-check"].source = "print('passed')"  # an edited check fools nobody
    notebook.cells.remove(by_id["aqueous-check"])  # nor does a deleted one
    monkeypatch.setattr(selfcheck, "CELL_SECONDS", 15)
    report = selfcheck.check(save(notebook, tmp_path / "problems.ipynb"), SET)
    found = {p.name: p for p in report.problems}
    assert "the sign" in sentences(found["page"])
    assert found["image"].holds
    assert "RuntimeError" in sentences(found["surface"])
    assert "endless" in sentences(found["vertex"])
    assert found["thick"].holds  # below the endless loop
    assert found["pair"].earned == 0
    assert any("page-check was edited" in note for note in report.notes)
    assert any("aqueous-check was missing" in note for note in report.notes)


@pytest.mark.grading
def test_the_command_says_what_is_not_answered(tmp_path, capsys):
    blank = save(release(SET), tmp_path / "problems.ipynb")
    assert cli.main(["check", "01", "--notebook", str(blank)]) == 1
    out = capsys.readouterr().out
    assert out.count("Not answered yet") >= 8
    assert "0 of 8 problems hold" in out


def test_what_is_no_notebook_is_said(tmp_path, capsys):
    broken = tmp_path / "problems.ipynb"
    broken.write_text('{"cells": [')
    assert cli.main(["check", "01", "--notebook", str(broken)]) == 2
    assert "cannot be read as a notebook" in capsys.readouterr().err
    assert cli.main(["check", "01", "--notebook", str(tmp_path / "none.ipynb")]) == 2
    assert "There is no notebook" in capsys.readouterr().err
