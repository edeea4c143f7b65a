"""A clinic day: the same for the same seed, every kind what it says it is."""

import pytest

from shared_utils.choice.candidacy import assess
from shared_utils.choice.findings import FINDINGS, UNKNOWN, WISHES, otherwise_healthy
from shared_utils.choice.rules import AGAINST, LENS_CLASSES, book
from shared_utils.clinic import day
from shared_utils.power.biometry import screening
from tests.absurd import VALUES, answer

SEEDS = (0, 1, 7)


def advice_of(visit):
    return {advice.lens_class: advice for advice in assess(visit.patient)}


@pytest.mark.parametrize("seed", SEEDS)
def test_a_day_comes_again_and_a_longer_day_begins_alike(seed):
    assert day.invent(9, seed) == day.invent(9, seed)
    assert day.invent(30, seed)[:9] == day.invent(9, seed)
    assert day.invent(9, seed) != day.invent(9, seed + 1)


@pytest.mark.parametrize("seed", SEEDS)
def test_a_day_has_all_kinds(seed):
    visits = day.invent(40, seed)
    assert {visit.kind for visit in visits} == set(day.KINDS)
    assert len({visit.patient.label for visit in visits}) == 40
    assert all(visit.point and visit.says.endswith(".") for visit in visits)
    assert all(30 <= visit.age_years <= 105 for visit in visits)


@pytest.mark.parametrize("seed", SEEDS)
def test_an_easy_case_is_easy(seed):
    """Nothing that was found speaks against any lens; a wish may."""
    rules = {rule.key: rule for rule in book().rules}
    for visit in day.invent(60, seed, kind="easy"):
        advised = advice_of(visit).values()
        assert "suits" in {advice.verdict for advice in advised}
        for advice in advised:
            assert advice.verdict != "not advised"
            assert advice.examine_first == ()
            assert advice.borderline == ()
            for reason in advice.reasons:
                if reason.effect in AGAINST:
                    assert set(rules[reason.rule].when) <= set(WISHES), reason.rule


@pytest.mark.parametrize("seed", SEEDS)
def test_the_advice_on_a_borderline_case_says_so(seed):
    for visit in day.invent(60, seed, kind="borderline"):
        advised = advice_of(visit)
        assert any(advice.borderline for advice in advised.values()), visit.point
        assert visit.point in " ".join(s for a in advised.values() for s in a.borderline)


@pytest.mark.parametrize("trap", day.traps(), ids=lambda trap: trap["name"])
def test_a_trap_catches_who_follows_the_wish_alone(trap):
    visits = day.invent(2 * len(day.traps()), 3, kind="trap")
    mine = [visit for visit in visits if visit.point == trap["name"]]
    assert len(mine) == 2  # each once before any comes again
    for visit in mine:
        assert visit.tempting in LENS_CLASSES
        assert advice_of(visit)[visit.tempting].verdict != "suits"
        assert visit.says == trap["says"]
    # a healthy eye with the same wish for glasses: the tempting lens is not spoken against
    wish = {"glasses": trap["wishes"].get("glasses", "accepts some")}
    healthy = {advice.lens_class: advice for advice in assess(otherwise_healthy({}, wish))}
    assert healthy[trap["tempting"]].verdict == "suits"


@pytest.mark.parametrize("seed", SEEDS)
def test_biometry_agrees_with_the_findings(seed):
    for visit in day.invent(60, seed):
        values, eye = visit.patient.values, visit.patient.eye
        assert values["mean_k_d"] == pytest.approx(eye.mean_k_d)
        assert values["corneal_astigmatism_d"] == pytest.approx(abs(eye.k2_d - eye.k1_d))
        if visit.kind != "trap":
            assert not any(finding.holds for finding in screening(eye))
        unknown = [n for n in FINDINGS | WISHES if values[n] == UNKNOWN]
        assert not unknown or visit.kind == "trap"


@pytest.mark.parametrize("value", VALUES, ids=repr)
@pytest.mark.parametrize("name", ["n", "seed", "kind"])
def test_absurd_input_is_answered_or_turned_away(name, value):
    arguments = {"n": 2, "seed": 1} | {name: value}
    answer(lambda **kwargs: len(day.invent(**kwargs)), **arguments)
