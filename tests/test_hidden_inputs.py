"""The inputs of hidden tests: drawn for each submission, and right whatever is drawn."""

import ast
import re

import pytest

from shared_utils.course import place
from shared_utils.pages import build
from shared_utils.problems import hidden_numbers
from shared_utils.problems.hidden_numbers import HiddenDraw
from tests import filling
from tests.sitting import sit

SETS = place.set_names()
SECRETS = ("", "first secret", "second secret")
LEARNERS = [f"resident-{n}" for n in range(50)]
FEW = LEARNERS[:3]
RESULTS = "its answers are numbers and words read or computed by hand; there is no function to call"
NO_INPUT = {
    "astigmatism": {"error": "asks what the learner's function of no arguments gives"},
    "formulas": {"shelf": "asks what was read off the learner's own table"},
    "outcomes": {
        "bars": "asks what was read off the learner's own picture",
        "steps": "asks which step of the learner's own calculation is wrong",
    },
    "difficult_eyes": {
        "methods": "asks what was read off the learner's own picture",
        "steps": "asks which step of the learner's own calculation is wrong",
    },
    "toric": {"error": "asks what the learner's function of no arguments gives"},
    "examination": {"crossing": RESULTS, "class": RESULTS, "error": RESULTS},
    "tasks": {"read": RESULTS, "choose": RESULTS, "error": RESULTS},
    "consultation": {"read": RESULTS, "error": RESULTS},
    "mixed_review": {f"patient_{n}": RESULTS for n in range(1, 7)},
}
"""Hidden tests that draw nothing: set → problem → why."""
DRAWN_COUNTS = {
    ("eyes", "eyes for another surgeon"),
    ("plan", "tasks given up with other plans"),
}
"""Counts that are drawn themselves."""


@pytest.fixture
def with_secret(monkeypatch):
    """Let hidden tests draw from a secret; none again afterwards."""

    def use(secret, learner=""):
        monkeypatch.setattr(hidden_numbers, "_secret", f"{secret}{learner}".encode())

    return use


def drawn_by(name, learner, monkeypatch):
    """What the hidden tests of a set draw, by problem, and the sitting itself."""
    drawn, real = {}, HiddenDraw._below

    def below(draw, what, count):
        value = real(draw, what, count)
        drawn.setdefault(draw.problem.partition("/")[2], {})[what] = value
        return value

    with monkeypatch.context() as patch:
        patch.setattr(HiddenDraw, "_below", below)
        sitting = sit(name, learner, monkeypatch)
    return drawn, sitting


def hidden_problems(name):
    """Problems of a set that have a hidden test: name → its source."""
    parts = [(build.grade_id_parts(cell), cell.source) for cell in filling.solution(name).cells]
    return {problem: source for (problem, kind), source in parts if kind == "hidden"}


def test_every_hidden_test_draws_or_says_why_not():
    counted = {}
    for name in SETS:
        slug = name.partition("_")[2]
        fixed = set()
        for problem, source in hidden_problems(name).items():
            draws = re.findall(r'HiddenDraw\("([^"]+)"\)', source)
            assert set(draws) <= {f"{slug}/{problem}"}, (
                f"{slug}/{problem} draws for another problem"
            )
            counted[slug, problem] = bool(draws)
            if not draws:
                fixed.add(problem)
        assert fixed == NO_INPUT.get(slug, {}).keys(), slug
    assert sum(counted.values()) >= 105
    assert sum(counted.values()) + sum(map(len, NO_INPUT.values())) == len(counted)


@pytest.mark.parametrize("name", SETS)
def test_no_test_that_stays_as_it_is_could_have_drawn(name):
    """A hidden test without a draw hands no argument to a learner's function."""
    slug, tree = name.partition("_")[2], {}
    for cell in filling.solution(name).cells:
        problem, kind = build.grade_id_parts(cell)
        tree.setdefault(kind, {})[problem] = cell.source
    for problem in NO_INPUT.get(slug, {}):
        functions = {
            node.name
            for node in ast.walk(ast.parse(tree["answer"][problem]))
            if isinstance(node, ast.FunctionDef)
        }
        for node in ast.walk(ast.parse(tree["hidden"][problem])):
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Name):
                assert node.func.id not in functions or not (node.args or node.keywords), problem


def wanted(sitting):
    """What a branch of the answer decides: words, lenses that can be ordered, counts."""
    return [
        (check.problem, check.what, float(check.want) if check.check != "choice" else check.want)
        for check in sitting.made
        if check.cell_kind == "hidden"
        and (check.problem, check.what) not in DRAWN_COUNTS
        and (
            check.check in ("choice", "lens_power")
            or (isinstance(check.want, int) and check.options.get("unit") in ("", "eyes"))
        )
    ]


@pytest.mark.parametrize("name", SETS)
@pytest.mark.parametrize(
    "learners", [FEW, pytest.param(LEARNERS, marks=pytest.mark.slow)], ids=["few", "fifty"]
)
def test_model_answers_get_full_marks_whatever_is_drawn(name, learners, monkeypatch, with_secret):
    for secret in SECRETS:
        for learner in learners:
            with_secret(secret, learner)
            sitting = sit(name, learner, monkeypatch)
            assert not sitting.errors, (secret, learner, sitting.errors)
            for cell, (earned, points) in sitting.earned.items():
                assert earned == points, (secret, learner, cell, sitting.message[-600:])


@pytest.mark.parametrize("name", SETS)
@pytest.mark.parametrize(
    "learners", [FEW, pytest.param(LEARNERS, marks=pytest.mark.slow)], ids=["few", "fifty"]
)
def test_whatever_is_drawn_reaches_the_same_branches_with_room_to_spare(
    name, learners, monkeypatch, with_secret
):
    """Moved by a quarter more than they ever are, inputs lead to the same words and counts."""
    own_moved = HiddenDraw._moved

    def moved_by(times):
        def moved(draw, value, by, place):
            if isinstance(value, (list, tuple)) or not by or value == 0:
                return own_moved(draw, value, by, place)
            if isinstance(value, int):
                return own_moved(draw, value, by if times else 0, place)
            fine = round(float(by) * times, 6)
            # to the ends of the range half of the time, where a tie is met first
            if fine and draw._below(f"end {place}", 2):
                return round(value + (fine if draw._below(f"side {place}", 2) else -fine), 6)
            return own_moved(draw, float(value), fine, place)

        return moved

    monkeypatch.setattr(HiddenDraw, "_moved", moved_by(0))
    with_secret("")
    centre = {learner: wanted(sit(name, learner, monkeypatch)) for learner in learners}
    monkeypatch.setattr(HiddenDraw, "_moved", moved_by(1.25))
    for secret in SECRETS:
        for learner in learners:
            with_secret(secret, learner)
            sitting = sit(name, learner, monkeypatch)
            assert not sitting.errors, (secret, learner, sitting.errors)
            for cell, (earned, points) in sitting.earned.items():
                assert earned == points, (secret, learner, cell, sitting.message[-600:])
            changed = [
                one
                for one in zip(wanted(sitting), centre[learner], strict=True)
                if one[0] != one[1]
            ]
            assert not changed, (secret, learner, changed)


@pytest.mark.parametrize("name", SETS)
def test_a_blank_set_earns_nothing_whatever_is_drawn(name, monkeypatch, with_secret):
    for secret in SECRETS:
        with_secret(secret)
        sitting = sit(name, FEW[0], monkeypatch, blank="tested")
        for (problem, kind), (earned, _) in sitting.earned.items():
            assert earned == 0 or kind == "written", (secret, problem, kind)


@pytest.mark.parametrize("name", [name for name in SETS if "mixed" not in name])
def test_the_same_secret_draws_the_same_and_every_other_draws_others(
    name, monkeypatch, with_secret
):
    def drawn(secret, learner):
        with_secret(secret)
        return drawn_by(name, learner, monkeypatch)[0]

    first = drawn("a", FEW[0])
    assert drawn("a", FEW[0]) == first
    slug = name.partition("_")[2]
    assert first.keys() == hidden_problems(name).keys() - NO_INPUT.get(slug, {}).keys()
    for other in (drawn("b", FEW[0]), drawn("a", FEW[1]), drawn("", FEW[0])):
        assert other.keys() == first.keys()
        same = [problem for problem in first if first[problem] == other[problem]]
        assert len(same) <= 0.15 * len(first), same


def test_a_moved_value_stays_within_its_range_and_reaches_both_ends():
    draws = [HiddenDraw("vergence/page", learner=learner) for learner in LEARNERS * 20]
    for n, draw in enumerate(draws):
        draw.learner = f"{draw.learner}/{n}"
    whole = {draw.near(90, 3) for draw in draws}
    assert whole == set(range(87, 94))
    assert {type(value) for value in whole} == {int}
    assert {draw.near(0.5, 0.2) for draw in draws} == {0.3, 0.4, 0.5, 0.6, 0.7}
    assert {draw.near(16.0, 0.25) for draw in draws} == {
        round(15.75 + n / 100, 2) for n in range(51)
    }
    assert {draw.near((0.0, 180, "yes"), (0.5, 0, 0)) for draw in draws} == {(0.0, 180, "yes")}
    assert len({draw.near((5.0, 5.0), 2.0) for draw in draws}) > 500  # each by its own amount
    assert {draw.pick("n", 1, 4) for draw in draws} == {1, 2, 3, 4}
    assert {draw.choose("word", ("a", "b")) for draw in draws} == {"a", "b"}


def test_what_could_lose_its_sign_or_has_no_range_is_refused():
    draw = HiddenDraw("vergence/page", learner="ada")
    for value, by in ((-0.5, 0.5), (2, 3), (1.0, -0.1)):
        with pytest.raises(ValueError, match="could change its sign"):
            draw.near(value, by)
    with pytest.raises(ValueError, match="leave no number"):
        draw.pick("n", 5, 4)
    with pytest.raises(ValueError, match="zip"):
        draw.cases([(1.0, 2.0)], by=[0.1, 0.1])
    with pytest.raises(ValueError, match="zip"):
        draw.near((1.0, 2.0), (0.1,))
