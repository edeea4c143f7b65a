"""Every problem set, sat through by many learners: marks, slips, numbers of one's own."""

import itertools
import math
import os
import re

import nbformat
import pytest

from shared_utils.course import place
from shared_utils.pages import build
from shared_utils.problems import check_records
from tests import filling
from tests.sampling import sample, size
from tests.sitting import sit

SETS = place.set_names()
CLINIC = place.find_set("mixed_review")
CLASS = [f"learner-{n:03d}" for n in range(25 if os.environ.get("CI") else 6)]
SAT = {}


def auto_graded(name):
    """Problems of a set that the machine marks, in order."""
    problems = {}
    for cell in filling.solution(name).cells:
        problem, kind = build.grade_id_parts(cell)
        if kind in ("check", "hidden"):
            problems.setdefault(problem, []).append(cell)
    return problems


def sat(name, learner, monkeypatch):
    """A set sat through with its model answers, once for all the tests that read it."""
    if (name, learner) not in SAT:
        SAT[name, learner] = sit(name, learner, monkeypatch)
    return SAT[name, learner]


def goes_well(name, learner, monkeypatch):
    sitting = sat(name, learner, monkeypatch)
    assert not sitting.errors, (learner, sitting.errors)
    for cell, (earned, points) in sitting.earned.items():
        assert earned == points, (learner, cell, sitting.message[-600:])
    return sitting


@pytest.mark.parametrize("name", SETS)
def test_the_model_answers_get_full_marks_for_a_class(name, monkeypatch):
    for learner in CLASS:
        goes_well(name, learner, monkeypatch)


@pytest.mark.long
@pytest.mark.parametrize("name", SETS)
def test_the_model_answers_get_full_marks_for_five_hundred(name, monkeypatch):
    for n in range(size(500, 50)):
        goes_well(name, f"resident-{n}", monkeypatch)
        SAT.clear()  # five hundred are too many to keep


@pytest.mark.parametrize("name", SETS)
def test_a_blank_set_earns_nothing(name, monkeypatch):
    sitting = sit(name, CLASS[0], monkeypatch, blank=True)
    for (problem, kind), (earned, _) in sitting.earned.items():
        if kind == "check":
            assert earned == 0, problem


@pytest.mark.parametrize("name", sample(SETS, 7))
def test_every_problem_names_three_slips_and_each_is_told_and_costs_its_step(name, monkeypatch):
    sitting = goes_well(name, CLASS[3], monkeypatch)
    named = {problem: set() for problem in auto_graded(name)}
    for n, check in enumerate(sitting.made):
        if check.cell_kind != "check":
            continue
        # a choice ties the wrong word to the advice, the others the advice to the wrong number
        slips = check.options.get("slips") or {}
        pairs = [(w, a) if check.check == "choice" else (a, w) for a, w in slips.items()]
        if check.check == "choice":
            pairs = [(advice, word) for word, advice in slips.items()]
        for advice, wrong in pairs:
            where = f"{name}, {check.problem}, {check.what}: {advice}"
            holds, message = check.right(wrong)
            assert not holds, f"{where}: this slip passes for right"
            assert advice in message, f"{where}: {message}"
            named[check.problem].add(advice)
            again = sit(name, CLASS[3], monkeypatch, swap={n: wrong})
            earned, points = again.earned[check.problem, "check"]
            steps = sum(c.problem == check.problem and c.cell_kind == "check" for c in sitting.made)
            assert 0 <= earned <= points * (1 - 1 / steps) + 1e-9, where
            others = {k: v for k, v in again.earned.items() if k[0] != check.problem}
            assert all(earned == points for earned, points in others.values()), where
    if name == CLINIC:  # of a patient whose power is not to be computed little is asked
        named = {"all six": set().union(*named.values())}
    few = {problem: sorted(slips) for problem, slips in named.items() if len(slips) < 3}
    assert not few, f"{name}: fewer than three slips"


@pytest.mark.parametrize("name", SETS)
def test_slips_are_told_from_the_right_answer_and_from_one_another_for_a_class(name, monkeypatch):
    for learner in CLASS:
        for check in sat(name, learner, monkeypatch).made:
            slips = check.options.get("slips") or {}
            if check.cell_kind != "check" or check.check == "choice":
                continue
            for advice, wrong in slips.items():
                assert math.isfinite(wrong), (learner, check.what, advice)
                holds, message = check.right(wrong)
                assert not holds, (learner, check.problem, advice)
                assert advice in message, (learner, check.problem, advice, message)


@pytest.mark.parametrize("name", SETS)
def test_a_slip_has_one_short_id_for_every_learner_and_no_other_slip_of_its_step_has_it(
    name, monkeypatch
):
    ids = {}
    for learner in CLASS[:5]:
        for check in sit(name, learner, monkeypatch).made:
            slips = check.options.get("slips") or {}
            if check.check == "choice":  # named by the word that was chosen
                slips = {word: word for word in slips}
            made = {advice: check.record(wrong) for advice, wrong in slips.items()}
            found = {advice: record.slip for advice, record in made.items() if record}
            assert len(set(found.values())) == len(found), (check.problem, check.what, found)
            bare = [re.sub(r"[\d.]+", "0", advice) for advice in found]  # numbers may be drawn
            for words, (advice, slip) in zip(bare, found.items(), strict=True):
                alone = bare.count(words) == 1
                where = check.problem, check.what, words if alone else advice
                assert ids.setdefault(where, slip) == slip, (where, learner)
                assert re.fullmatch(r"[a-z][a-z0-9-]{0,60}", slip), slip
                assert slip not in check_records.GENERIC_SLIPS, slip
    assert ids or name == CLINIC


@pytest.mark.parametrize("name", SETS)
def test_numbers_are_the_learners_own_and_stay(name, monkeypatch):
    drawn = {learner: sat(name, learner, monkeypatch).drawn for learner in CLASS}
    again = sit(name, CLASS[0], monkeypatch).drawn
    assert drawn[CLASS[0]] == again
    assert len(drawn[CLASS[0]]) >= len(auto_graded(name))
    same = total = 0
    for one, other in itertools.combinations(CLASS, 2):
        for problem, own in drawn[one].items():
            total += 1
            same += own == drawn[other][problem]
    assert same <= 0.1 * total


@pytest.mark.parametrize("name", SETS)
def test_another_learners_numbers_do_not_pass(name, monkeypatch):
    """The visible answers of one learner, handed in by another, lose a step in most problems."""
    mine, theirs = (sat(name, learner, monkeypatch).made for learner in CLASS[:2])
    given = {(check.problem, check.what): check.answer for check in theirs}
    lost = {}
    for own in mine:
        if own.cell_kind == "check" and (own.problem, own.what) in given:
            passes, _ = own.right(given[own.problem, own.what])
            lost[own.problem] = lost.get(own.problem, False) or not passes
    assert sum(lost.values()) >= (0.5 if name == CLINIC else 0.8) * len(lost), lost


def test_at_least_120_problems_are_marked_by_the_machine():
    assert sum(len(auto_graded(name)) for name in SETS) >= 120


@pytest.mark.parametrize("name", SETS)
def test_nothing_of_the_solutions_or_hidden_tests_is_released(name):
    root = place.course_root()
    release = (root / "exercises" / name / "problems.ipynb").read_text(encoding="utf-8")
    shown = "\n".join(c.source for c in nbformat.reads(release, as_version=4).cells)
    whole = "\n".join(cell.source for cell in filling.solution(name).cells)
    regions = re.compile(r"### BEGIN (SOLUTION|HIDDEN TESTS|MARK SCHEME)\n(.*?)### END \1", re.S)
    seen_anyway = regions.sub("", whole)
    secret = [line.strip() for _, region in regions.findall(whole) for line in region.splitlines()]
    secret = [line for line in secret if len(line) > 30 and line not in seen_anyway]
    assert len(secret) >= 3
    assert not [line for line in secret if line in shown]
