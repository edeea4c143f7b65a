"""Two eyes and a plan: potential caps every task, monovision and toric lenses want good eyes.

Properties come from the literature and from what has hurt, not from the rules.
"""

import ast
import itertools
from functools import cache
from pathlib import Path
from unittest import mock

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import shared_utils
from shared_utils import CAUTION
from shared_utils.choice import counselling, outlook, tasks
from shared_utils.choice.candidacy import VERDICTS, assess
from shared_utils.choice.everyday_tasks import TASKS
from shared_utils.choice.findings import Patient, otherwise_healthy
from shared_utils.choice.plans import assess_monovision, assess_target, assess_toric
from shared_utils.choice.rules import LIGHT_SPLITTING, book
from shared_utils.choice.tasks import LENS_OF, glasses_for, glasses_needed
from shared_utils.choice.vocabulary import (
    EYE_FINDINGS,
    FINDINGS,
    MIRRORS,
    PLANS,
    UNKNOWN,
    VOCABULARY,
    WISHES,
    Graded,
)
from shared_utils.clinic import patient_file
from shared_utils.optics.acuity import blendowske_logmar
from shared_utils.optics.lenses import LENS_CLASSES
from shared_utils.optics.through_focus import ACUITY_UNCERTAINTY_LOGMAR
from shared_utils.power.biometry import Eye
from tests import drawing
from tests.absurd import VALUES, answer
from tests.sampling import examples, sample

MANY = settings(max_examples=examples(500), deadline=None)
MONOVISION_D = (0.0, -1.25)


def some_values(name):
    kind = VOCABULARY[name]
    if isinstance(kind, Graded):
        return list(kind.grades)
    middle = [kind.low + part * (kind.high - kind.low) for part in (0.1, 0.25, 0.5)]
    near = [kind.best + part * kind.near for part in (0, 2, 5, 10)]
    values = {round(v, 3) for v in (kind.low, *middle, *near, kind.high)}
    return sorted((v for v in values if kind.low <= v <= kind.high), key=kind.badness)


DRAWN = {name: some_values(name) for name in VOCABULARY} | {
    "photopic_pupil_mm": [2.2, 2.8, 3.2, 4.0],
    "mesopic_pupil_mm": [4.0, 4.2, 5.0, 5.5, 6.5],
    "scotopic_pupil_mm": [4.0, 5.0, 6.0, 7.5],
    "contrast_sensitivity_log": [2.0, 1.7, 1.5, 1.4, 1.3, 1.2, 0.8],
    "straylight_log": [0.9, 1.1, 1.4, 1.5, 1.6, 1.7, 2.2],
    "refraction_d": [0.0, 0.5, -1.0, -2.0, -3.0, -4.0, 5.0, -7.0, 8.0],
    "fellow_refraction_d": [0.0, 0.5, -1.0, -2.6, 2.9, -3.5, 5.0, -7.0, 8.0],
    "residual_astigmatism_d": [0.0, 0.2, 0.5, 0.75, 1.0, 1.5, 2.5, 4.0],
    "corneal_astigmatism_d": [0.0, 0.3, 0.6, 0.9, 1.2, 2.0, 2.5, 6.0],
    "potential_acuity_logmar": [-0.1, 0.0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.7, 1.0, 1.3, 2.0],
    "fellow_potential_acuity_logmar": [-0.1, 0.0, 0.1, 0.2, 0.3, 0.5, 0.7, 1.0, 1.3, 2.0],
}
anything = st.fixed_dictionaries(
    {name: st.sampled_from([UNKNOWN, *values]) for name, values in DRAWN.items()}
)
other_eyes = drawing.other_eyes(DRAWN)
some_names = st.lists(st.sampled_from(sorted(DRAWN)), unique=True, max_size=6)
nearly_healthy = some_names.flatmap(
    lambda names: st.fixed_dictionaries(
        {name: st.sampled_from([*DRAWN[name], UNKNOWN]) for name in names}
    )
)
a_class = st.sampled_from(LENS_CLASSES)
somebody = st.one_of(anything, nearly_healthy)
plans_d = st.tuples(st.sampled_from([0.0, -0.5, -1.25, -4.0]), st.sampled_from([0.0, -1.25, -2.5]))


def patient(values, eye=None, other=None):
    values = drawing.in_order(values)
    healthy = otherwise_healthy(
        {n: v for n, v in values.items() if n in FINDINGS},
        {n: v for n, v in values.items() if n in WISHES},
    )
    other = {} if other is None else drawing.beside(other, healthy.findings)
    found = drawing.as_measured(healthy.findings, eye)
    return Patient(found, healthy.wishes, eye, **other)


def every_glass(who, plan=(0.0, 0.0)):
    return {c: glasses_for(who, LENS_OF[c], *plan) for c in LENS_CLASSES}


def sentences(part):
    return " ".join((part.verdict, part.wish, *part.lines))


# --- patients whom the advice failed -----------------------------------------------------------


def test_late_macular_degeneration_with_a_potential_of_one_has_nothing_without_glasses():
    who = otherwise_healthy(
        {
            "macular_degeneration": "late",
            "potential_acuity_logmar": 1.0,
            "fellow_potential_acuity_logmar": 1.0,
        }
    )
    for found in itertools.chain(*every_glass(who).values()):
        assert not found.clear
        assert not found.clear_with
    assert "Likely no glasses for" not in str(counselling.sheet(who))
    # the sound eye beside it does the work, and the sheet says which eye that is
    other = counselling.sheet(
        otherwise_healthy({"macular_degeneration": "late", "potential_acuity_logmar": 1.0})
    )
    assert "counts what your other eye sees" in " ".join(other.notes)


@pytest.mark.parametrize(
    "finding",
    [
        {"amblyopia": "deep"},
        {"macular_degeneration": "late"},
        {"retinal_dystrophy": "present"},
        {"optic_nerve": "marked loss"},
    ],
    ids=str,
)
def test_of_an_eye_that_may_see_little_nothing_is_promised_until_its_potential_is_measured(finding):
    who = otherwise_healthy(
        finding | {"potential_acuity_logmar": UNKNOWN, "fellow_potential_acuity_logmar": UNKNOWN}
    )
    for found in itertools.chain(*every_glass(who).values()):
        assert not found.known
        assert not any((found.clear, found.clear_with, found.borderline))
        assert "cannot be told" in str(found)
    text = str(counselling.sheet(who))
    assert "Likely no glasses for" not in text
    assert "We cannot tell yet" in text


def test_deep_amblyopia_is_capped_by_its_measured_potential():
    only = {"amblyopia": "deep", "potential_acuity_logmar": 0.5, "fellow_eye": "none or blind"}
    for found in itertools.chain(*every_glass(otherwise_healthy(only)).values()):
        assert found.known
        assert not found.clear


def test_keratoconus_that_keeps_two_and_a_half_dioptres_is_not_promised_far_sight():
    who = otherwise_healthy(
        {
            "ectasia": "manifest",
            "irregular_astigmatism": "marked",
            "corneal_astigmatism_d": 2.5,
            "residual_astigmatism_d": 2.5,
            "potential_acuity_logmar": 0.2,
        }
    )
    for found in itertools.chain(*every_glass(who).values()):
        assert not found.clear
        assert not found.cylinder_d  # no glasses correct it
    text = str(counselling.sheet(who))
    assert "Likely no glasses for" not in text
    assert "hard to forecast" in text


@pytest.mark.parametrize("grade", ["mild", "deep"])
@pytest.mark.parametrize("which", ["amblyopia", "fellow_amblyopia"])
def test_monovision_is_not_for_an_amblyopic_eye(which, grade):
    advice = assess_monovision(otherwise_healthy({which: grade}), *MONOVISION_D)
    assert advice.verdict == ("not advised" if grade == "deep" else "with care")
    assert any("two good eyes" in reason.text for reason in advice.reasons)


@pytest.mark.parametrize("plan", [(0.0, -4.0), (-4.0, 0.0), (-3.0, -4.0), (-1.25, -4.0)])
def test_minus_four_dioptres_is_no_monovision(plan):
    assert assess_monovision(otherwise_healthy(), *plan).verdict == "not advised"


def test_monovision_that_was_tried_by_two_good_eyes_suits():
    advice = assess_monovision(otherwise_healthy(), *MONOVISION_D)
    assert advice.verdict == "suits"
    assert advice.lens_class == "monovision"
    assert CAUTION in str(advice)
    assert assess_monovision(otherwise_healthy(), 0.0, -0.5) is None


def test_the_dominant_eye_is_the_one_that_sights_whichever_eye_it_is():
    for dominance, plan, verdict in (
        ("this eye", (0.0, -1.25), "suits"),
        ("this eye", (-1.25, 0.0), "with care"),
        ("the other eye", (0.0, -1.25), "with care"),
        ("the other eye", (-1.25, 0.0), "suits"),
        ("neither clearly", (0.0, -1.25), "suits"),
        (UNKNOWN, (0.0, -1.25), "with care"),
    ):
        assert (
            assess_monovision(otherwise_healthy({"dominance": dominance}), *plan).verdict == verdict
        )


@pytest.mark.parametrize(
    "finding",
    [
        {"ectasia": "manifest"},
        {"ectasia": "suspect"},
        {"irregular_astigmatism": "marked"},
        {"zonules": "severe weakness"},
        {"capsule": "posterior opening"},
    ],
    ids=str,
)
@pytest.mark.parametrize("remains", [UNKNOWN, 0.6, 2.5])
def test_nobody_with_an_irregular_cornea_or_a_loose_bag_is_told_to_plan_a_toric_lens(
    finding, remains
):
    who = otherwise_healthy(
        finding | {"corneal_astigmatism_d": 2.5, "residual_astigmatism_d": remains}
    )
    assert assess_toric(who).verdict != "suits"
    for advice in assess(who):
        reply = [*(reason.text for reason in advice.reasons), *advice.would_change]
        for sentence in reply:
            assert "a toric lens or incisions" not in sentence
            assert "Plan a toric" not in sentence
            assert "plan a toric" not in sentence


def test_a_regular_cornea_in_a_firm_bag_is_told_of_a_toric_lens():
    """Or the test above would hold of rules that never speak of one."""
    who = otherwise_healthy({"corneal_astigmatism_d": 2.5, "residual_astigmatism_d": 2.5})
    advice = assess(who)[0]
    assert any("toric lens or incisions" in reason.text for reason in advice.reasons)
    assert any("Plan a toric lens" in sentence for sentence in advice.would_change)
    assert assess_toric(who).verdict == "suits"


@pytest.mark.parametrize("state", ["phakic", "pseudophakic monofocal"])
@pytest.mark.parametrize(
    ("has_d", "plan_d", "verdict"),
    [
        (-1.25, -1.25, "suits"),
        (-1.0, -1.5, "suits"),  # half a dioptre apart
        (-0.5, -1.25, "not advised"),
        (0.0, -1.25, "not advised"),
        (-3.0, -2.5, "not advised"),  # half a dioptre apart, but 3 D between the eyes
        (UNKNOWN, -1.25, "with care"),
    ],
)
def test_an_eye_that_is_not_operated_on_is_planned_with_its_own_refraction(
    state, has_d, plan_d, verdict
):
    """Common practice, no source: no operation, no other refraction."""
    found = {"fellow_eye": state, "fellow_refraction_d": has_d}
    assert assess_monovision(otherwise_healthy(found), 0.0, plan_d).verdict == verdict
    operated = otherwise_healthy(found | {"fellow_eye": "cataract"})
    assert assess_monovision(operated, 0.0, -1.25).verdict == "suits"


def test_an_eye_that_is_not_operated_on_is_counted_with_its_own_refraction():
    """Blendowske 2015: 10 D of myopia leave 2 logMAR, and a road sign is larger than none."""
    found = {"potential_acuity_logmar": 1.6, "fellow_potential_acuity_logmar": 0.0}
    found |= {"fellow_eye": "phakic"}
    sign = [task for task in TASKS if task.name == "road sign by day"]
    for has_d, clear in ((0.0, True), (-10.0, False)):
        who = otherwise_healthy(found | {"fellow_refraction_d": has_d})
        [glasses] = glasses_for(who, LENS_OF["trifocal"], tasks=sign)
        assert glasses.clear is clear


@pytest.mark.parametrize(("length_mm", "verdict"), [(23.5, "suits"), (27.5, "with care")])
def test_a_long_eye_turns_its_toric_lens_more(length_mm, verdict):
    """BMC Ophthalmol 2020, doi 10.1186/s12886-020-01465-2: 7.5 ± 11.2°, abstract."""
    eye = Eye(axial_length_mm=length_mm, k1_d=43.0, k2_d=45.0)
    assert assess_toric(patient({"corneal_astigmatism_d": 2.0}, eye)).verdict == verdict


def test_who_wants_no_glasses_reads_the_same_of_the_eye_for_dear_and_plain_lenses():
    message = counselling.sheet(otherwise_healthy({}, {"glasses": "wants none"}))
    words = counselling.wording()
    assert {part.verdict for part in message.lenses} == {words["verdict"]["suits"]}
    by_class = {part.lens_class: part for part in message.lenses}
    assert set(by_class) == set(LENS_CLASSES)
    assert "you want no glasses" in by_class["monofocal"].wish
    for part in message.lenses:
        assert words["say"]["not_checked"] not in sentences(part)
        assert "talk it over" not in sentences(part)


# --- what a sheet says -------------------------------------------------------------------------


@pytest.mark.parametrize(
    "fellow", [{"fellow_eye": "none or blind"}, {"fellow_potential_acuity_logmar": 1.3}], ids=str
)
def test_the_sheet_is_right_for_a_patient_with_one_seeing_eye(fellow):
    message = counselling.sheet(otherwise_healthy(fellow), 0.0, -1.25)
    words = counselling.wording()
    assert words["say"]["one_eye"] in message.notes
    assert words["questions"]["one_eye"] in message.questions
    assert words["questions"]["other_eye"] not in message.questions
    text = str(message)
    assert "one eye is set for far" not in text
    assert "your eyes are set" not in text
    assert {part.lens_class for part in message.not_advised} >= set(LIGHT_SPLITTING)
    # the eye that is blind adds nothing, whatever it is aimed at
    who = otherwise_healthy(fellow)
    for lens in LENS_OF.values():
        assert glasses_for(who, lens, 0.0, -1.25) == glasses_for(who, lens, 0.0, -2.5)
    near = counselling.sheet(otherwise_healthy(fellow), -2.5)
    assert "your eye is set for closer up" in " ".join(near.plan)


@pytest.mark.parametrize("state", ["pseudophakic monofocal", "pseudophakic light-splitting"])
def test_an_eye_that_has_its_lens_is_asked_about_as_such(state):
    message = counselling.sheet(otherwise_healthy({"fellow_eye": state}))
    words = counselling.wording()["questions"]
    assert words["other_lens"] in message.questions
    assert words["other_eye"] not in message.questions


@pytest.mark.parametrize(
    "finding",
    [
        {"corneal_surgery": "laser, centred"},
        {"corneal_surgery": "radial keratotomy"},
        {"corneal_graft": "stroma or whole thickness"},
        {"vitrectomy": "oil"},
        {"contact_lens_wear": "worn until recently"},
    ],
    ids=str,
)
def test_the_sheet_says_where_the_power_is_uncertain(finding):
    assert "hard to forecast" in " ".join(counselling.sheet(otherwise_healthy(finding)).notes)
    assert "hard to forecast" not in str(counselling.sheet(otherwise_healthy()))


def test_the_sheet_says_what_speaks_against_one_eye_for_near():
    refused = counselling.sheet(otherwise_healthy({"fellow_amblyopia": "deep"}), *MONOVISION_D)
    assert "We would not set one eye for far and one for near" in " ".join(refused.plan)
    assert "your other eye has been lazy" in " ".join(refused.plan)
    too_much = counselling.sheet(otherwise_healthy(), 0.0, -4.0)
    assert "differ too much" in " ".join(too_much.plan)
    fine = counselling.sheet(otherwise_healthy(), *MONOVISION_D)
    assert len(fine.plan) == 1


# --- the blur of a cylinder --------------------------------------------------------------------


@pytest.mark.parametrize("cylinder_d", [1.0, 2.0, 2.5])
def test_a_cylinder_blurs_like_half_of_it_in_defocus(cylinder_d):
    """Blendowske, Optom Vis Sci 2015 (abstract): the angle resolved grows as 1 + b², pupil left
    open; b is taken as the length of the power vector, half the cylinder, and the sharp eye to
    resolve 1 arcmin."""
    far = tasks.Task("far", 1000.0, 4000.0)
    lens = LENS_OF["monofocal"]
    [found] = glasses_needed(lens, 3.0, 0.0, far, residual_cylinder_d=cylinder_d)
    expected = blendowske_logmar(-cylinder_d / 2.0, cylinder_d)  # its circle of least confusion
    assert found.acuity_logmar == pytest.approx(expected, abs=ACUITY_UNCERTAINTY_LOGMAR)


@pytest.mark.parametrize(("lens_class", "cylinder_d"), [("trifocal", 0.75), ("bifocal", 1.0)])
def test_so_much_cylinder_as_was_borne_in_an_experiment_is_borne_for_far(lens_class, cylinder_d):
    """Am J Ophthalmol 2020, doi 10.1016/j.ajo.2020.07.051 (abstract): 0.20 logMAR held."""
    far = tasks.Task("far", 1000.0, 4000.0)
    [found] = glasses_needed(LENS_OF[lens_class], 3.0, 0.0, far, residual_cylinder_d=cylinder_d)
    assert found.acuity_logmar <= 0.20 + ACUITY_UNCERTAINTY_LOGMAR


def test_glasses_made_to_measure_take_a_regular_cylinder_away():
    sign = [task for task in TASKS if task.name == "road sign at night"]
    [found] = glasses_needed(LENS_OF["monofocal"], 3.0, 0.0, sign, residual_cylinder_d=2.0)
    assert not found.clear
    assert found.clear_with
    assert (found.reader_d, found.cylinder_d) == (0.0, 2.0)
    assert "2.00 D of cylinder" in str(found)
    [irregular] = glasses_needed(
        LENS_OF["monofocal"],
        3.0,
        0.0,
        sign,
        residual_cylinder_d=2.0,
        glasses_correct_cylinder=False,
    )
    assert not irregular.cylinder_d


def test_arrays_of_eyes_answer_as_their_members_do():
    rng = np.random.default_rng(4)
    n = 12
    eyes = {
        "best_logmar": rng.uniform(-0.2, 1.0, n),
        "residual_cylinder_d": rng.uniform(0.0, 3.0, n) * rng.integers(0, 2, n),
        "fellow_target_d": rng.uniform(-2.0, 0.0, n),
        "fellow_best_logmar": rng.uniform(-0.2, 1.0, n),
        "potential_known": rng.random(n) > 0.3,
        "fellow_potential_known": rng.random(n) > 0.3,
        "glasses_correct_cylinder": rng.random(n) > 0.3,
    }
    pupils = rng.uniform(2.0, 5.0, n)
    for lens in LENS_OF.values():
        together = glasses_needed(lens, pupils, 0.0, **eyes)
        for place in range(n):
            one = {name: values[place].item() for name, values in eyes.items()}
            alone = glasses_needed(lens, pupils[place], 0.0, **one)
            for whole, single in zip(together, alone, strict=True):
                for part in ("acuity_logmar", "clear", "reader_d", "clear_with", "cylinder_d"):
                    expected = pytest.approx(getattr(single, part), abs=1e-9)
                    assert getattr(whole, part)[place] == expected
                assert whole.known[place] == single.known


# --- fields: each is read ----------------------------------------------------------------------


@cache
def read_by_rules():
    rules = (*book().rules, *book().plans.rules)
    return {n for rule in rules for n in (*rule.when, *rule.unless, *rule.findings)}


@cache
def read_by_code():
    """Names that a module of the package asks a patient's values for."""
    names = set()
    for path in Path(shared_utils.__file__).parent.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Subscript) and isinstance(node.slice, ast.Constant):
                names.add(node.slice.value)
            if isinstance(node, ast.Attribute):
                names.add(node.attr)
    return names


def unread(names):
    return [name for name in names if name not in read_by_rules() | read_by_code()]


def test_every_field_that_can_be_entered_is_read():
    assert unread(VOCABULARY) == []
    assert unread(PLANS) == []
    assert unread(patient_file.PLAN) == []
    assert unread(Eye.__dataclass_fields__) == []


def test_a_field_that_nothing_reads_is_found():
    assert unread(["colour_of_socks"]) == ["colour_of_socks"]


# beside a healthy eye these count only with another finding
BESIDE = {
    "surface_treatment": {"dry_eye": "moderate"},
    "glaucoma_course": {"glaucoma": "mild"},
    "corneal_astigmatism_d": {"residual_astigmatism_d": UNKNOWN},
    "ectasia_course": {"ectasia": "suspect"},
    "refractive_laser": {"corneal_surgery": "laser, centred"},
}


@pytest.mark.parametrize("name", sample(VOCABULARY, 4))
def test_every_field_moves_something_that_is_said(name):
    """Not read only: entered otherwise, it changes an advice, a plan or a task."""

    def message(value):
        who = patient({**BESIDE.get(name, {}), name: value})
        toric = assess_toric(patient({"corneal_astigmatism_d": 2.0, name: value}))
        plans = (assess_monovision(who, *MONOVISION_D), assess_target(who, 0.0))
        return (*assess(who), *plans, toric, every_glass(who, MONOVISION_D))

    assert len({str(message(value)) for value in DRAWN[name]}) > 1


def with_other_eye(name, value):
    """A healthy person whose other eye is healthy but for one finding; of this eye the same."""
    ill, healthy = patient({**BESIDE.get(name, {}), name: value}), otherwise_healthy()
    return Patient(
        healthy.findings | ({MIRRORS[name]: value} if name in MIRRORS else {}),
        ill.wishes,
        fellow_findings={
            n: v for n, v in ill.findings.items() if n in EYE_FINDINGS and n not in MIRRORS
        },
    )


@pytest.mark.parametrize("name", sample(EYE_FINDINGS, 4))
def test_every_field_of_the_other_eye_moves_what_is_said_of_that_eye(name):
    def message(value):
        other = with_other_eye(name, value).exchanged()
        toric = assess_toric(with_other_eye(name, value).exchanged())
        return (*assess(other), assess_monovision(other, *MONOVISION_D), toric)

    assert len({str(message(value)) for value in DRAWN[name]}) > 1


@pytest.mark.parametrize("name", sorted(EYE_FINDINGS))
def test_what_one_eye_for_near_asks_of_this_eye_it_asks_of_the_other(name):
    """A grade that forbids it in one eye forbids it in the other: two good eyes are wanted."""
    for value in DRAWN[name]:
        this = assess_monovision(patient({name: value}), *MONOVISION_D)
        other = assess_monovision(with_other_eye(name, value), *MONOVISION_D)
        assert rank(other) >= rank(this)
        if rank(this):
            assert rank(other)


def test_what_speaks_against_the_other_eye_is_said_to_be_of_it():
    advice = assess_monovision(with_other_eye("macular_degeneration", "late"), *MONOVISION_D)
    assert advice.verdict == advice.eye_verdict == "not advised"
    assert advice.reasons[0].text.startswith("Of the other eye: ")
    assert assess_monovision(with_other_eye("dry_eye", "none"), *MONOVISION_D).verdict == "suits"
    unseen = assess_monovision(with_other_eye("macular_degeneration", UNKNOWN), *MONOVISION_D)
    assert unseen.verdict == "with care"
    assert any(step.startswith("Of the other eye") for step in unseen.examine_first)


# --- the refraction aimed at -------------------------------------------------------------------


@pytest.mark.parametrize(
    ("apart_d", "state", "verdict"),
    [
        (2.0, "phakic", "suits"),
        (2.75, "phakic", "with care"),
        (3.5, "phakic", "not advised"),
        (3.5, "pseudophakic monofocal", "not advised"),
        (3.5, "cataract", "suits"),  # until it is operated on as well
        (3.5, "none or blind", "suits"),
    ],
)
def test_an_eye_that_stays_as_it_is_must_go_with_the_target(apart_d, state, verdict):
    """Common practice, no source: glasses bear about 2.5 to 3 D between the eyes."""
    for target_d, has_d in ((0.0, -apart_d), (0.0, apart_d), (-1.0, -1.0 - apart_d)):
        who = otherwise_healthy({"fellow_eye": state, "fellow_refraction_d": has_d})
        assert assess_target(who, target_d).verdict == verdict
    waits = otherwise_healthy({"fellow_eye": "cataract", "fellow_refraction_d": -apart_d})
    notes = [r.text for r in assess_target(waits, 0.0).reasons if r.effect == "note"]
    assert bool(notes) == (apart_d > 2.5)


def test_who_takes_glasses_off_to_read_is_told_that_a_far_target_ends_it():
    found = {"refraction_d": -3.0, "fellow_refraction_d": -3.0, "fellow_eye": "cataract"}
    habit = {"glasses_before": "taken off to read"}
    who = otherwise_healthy(found, habit)
    assert assess_target(who, 0.0).verdict == "with care"
    assert assess_target(who, -2.5).verdict == "suits"
    assert assess_target(who, 0.0, -2.0).verdict == "suits"  # one eye goes on reading
    asked = otherwise_healthy(found, {"glasses_before": UNKNOWN})
    assert assess_target(asked, 0.0).verdict == "with care"
    assert assess_target(asked, 0.0).examine_first
    reading = counselling.wording()["questions"]["reading"]
    assert reading in counselling.sheet(who, 0.0).questions
    assert reading not in counselling.sheet(who, -2.5).questions
    assert len(counselling.sheet(who, 0.0).questions) == len(counselling.sheet(who, -2.5).questions)


@given(
    values=somebody,
    target_d=st.sampled_from([0.0, -1.25, -2.5]),
    one_d=st.floats(-15, 15),
    two_d=st.floats(-15, 15),
)
@MANY
def test_an_eye_further_from_the_target_is_never_taken_more_lightly(values, target_d, one_d, two_d):
    near_d, far_d = sorted((one_d, two_d), key=lambda has_d: abs(target_d - has_d))
    before, after = (
        assess_target(patient({**values, "fellow_refraction_d": has_d}), target_d)
        for has_d in (near_d, far_d)
    )
    assert rank(after) >= rank(before)


@pytest.mark.parametrize(
    ("stereo", "difference_d", "verdict"),
    [
        ("ordinary", 1.5, "suits"),
        ("high", 0.75, "with care"),
        ("high", 1.25, "with care"),
        ("high", 1.5, "not advised"),
    ],
)
def test_depth_vision_limits_the_difference(stereo, difference_d, verdict):
    who = otherwise_healthy({}, {"stereo_demand": stereo})
    assert assess_monovision(who, 0.0, -difference_d).verdict == verdict


@pytest.mark.parametrize(
    ("findings", "verdict"),
    [
        ({"ectasia_stage": "stage 2", "ectasia_course": "stable"}, "with care"),
        ({"ectasia_stage": "stage 2", "ectasia_course": "progressing"}, "not advised"),
        ({"ectasia_stage": "stage 2", "ectasia_course": UNKNOWN}, "not advised"),
        ({"ectasia_stage": "stage 3", "ectasia_course": "stable"}, "not advised"),
        ({"ectasia_stage": UNKNOWN, "ectasia_course": "stable"}, "not advised"),
    ],
    ids=str,
)
def test_a_toric_lens_in_an_ectatic_cornea_only_where_it_is_early_and_stable(findings, verdict):
    """Mol & van Dooren 2016 (abstract): "topographically stable, fairly regular" corneas."""
    who = otherwise_healthy({"ectasia": "manifest", "corneal_astigmatism_d": 3.0} | findings)
    assert assess_toric(who).verdict == verdict


@pytest.mark.parametrize("name", patient_file.examples())
def test_every_example_is_still_a_patient(name):
    found = patient_file.read(patient_file.find(name))
    assert counselling.sheet(found.patient, found.target_d, found.fellow_target_d)


# --- what must never happen --------------------------------------------------------------------


def seeing_eyes(values):
    """Best acuity of each eye that may be counted on, where it was measured."""
    best = [values["potential_acuity_logmar"]]
    if values["fellow_eye"] != "none or blind":
        best.append(values["fellow_potential_acuity_logmar"])
    return [logmar for logmar in best if logmar != UNKNOWN]


@given(values=somebody, plan=plans_d, lens_class=a_class)
@MANY
def test_no_task_is_done_beyond_what_the_eyes_can_resolve(values, plan, lens_class):
    """A letter whose limbs are finer than the eye resolves is not read, whatever the lens."""
    who = patient(values)
    both_measured = UNKNOWN not in (
        who.values["potential_acuity_logmar"],
        who.values["fellow_potential_acuity_logmar"],
    )
    for found in glasses_for(who, LENS_OF[lens_class], *plan):
        task = found.task
        limb_arcmin = np.degrees(np.arctan(task.letter_mm / 1000.0 / task.distance_m)) * 60.0 / 5.0
        finest = np.log10(limb_arcmin)
        able = [logmar for logmar in seeing_eyes(who.values) if logmar <= finest]
        unmeasured = who.values["potential_acuity_logmar"] == UNKNOWN
        if not able and (both_measured or not unmeasured):
            assert not found.clear
            assert not found.clear_with
        if not found.known:
            assert not any((found.clear, found.clear_with))


LIMITING = {"amblyopia": "deep", "macular_degeneration": "late"}


@given(values=somebody, plan=plans_d, which=st.sampled_from(sorted(LIMITING)), lens_class=a_class)
@MANY
def test_an_unmeasured_eye_with_a_disease_that_limits_sight_is_promised_nothing(
    values, plan, which, lens_class
):
    alone = {"potential_acuity_logmar": UNKNOWN, "fellow_eye": "none or blind"}
    who = patient({**values, **alone, which: LIMITING[which]})
    for found in glasses_for(who, LENS_OF[lens_class], *plan):
        assert not any((found.known, found.clear, found.clear_with))


# a smaller pupil deepens focus; a lens in the other eye is of another kind, not of a worse one;
# neither eye's dominance is worse, nor laser for one refraction; age is no illness
PUPILS = ("photopic_pupil_mm", "mesopic_pupil_mm", "scotopic_pupil_mm")
NO_ORDER = (
    *PUPILS,
    "fellow_eye",
    "fellow_refraction_d",
    "dominance",
    "age_years",
    "refractive_laser",
)
ORDERED = [name for name in FINDINGS if name not in NO_ORDER]


def tasks_of(values, lens_class, plan):
    return glasses_for(patient(values), LENS_OF[lens_class], *plan)


def draw_worse(data, name):
    """A value and another that is as bad or worse."""
    low = data.draw(st.integers(0, len(DRAWN[name]) - 1), "from")
    high = data.draw(st.integers(low, len(DRAWN[name]) - 1), "to")
    return DRAWN[name][low], DRAWN[name][high]


@given(
    values=somebody,
    name=st.sampled_from(ORDERED),
    plan=plans_d,
    lens_class=a_class,
    data=st.data(),
)
@MANY
def test_a_worse_finding_never_makes_a_task_clearer(values, name, plan, lens_class, data):
    before, after = (
        tasks_of({**values, name: value}, lens_class, plan) for value in draw_worse(data, name)
    )
    for better, worse in zip(before, after, strict=True):
        assert better.clear or not worse.clear
        assert better.clear_with or not worse.clear_with


@given(values=somebody, plan=plans_d, lens_class=a_class)
@MANY
def test_losing_the_other_eye_never_makes_a_task_clearer(values, plan, lens_class):
    lost = {**values, "fellow_eye": "none or blind"}
    before, after = (tasks_of(one, lens_class, plan) for one in (values, lost))
    for better, worse in zip(before, after, strict=True):
        assert better.clear or not worse.clear


def rank(advice):
    return VERDICTS.index(advice.verdict)


@given(
    values=somebody,
    name=st.sampled_from([*ORDERED, "mesopic_pupil_mm"]),
    other=st.none() | other_eyes,
    data=st.data(),
)
@MANY
def test_a_worse_finding_never_improves_a_plan(values, name, other, data):
    before, after = (
        patient({**values, name: value}, other=other) for value in draw_worse(data, name)
    )
    assert rank(assess_target(after, 0.0)) >= rank(assess_target(before, 0.0))
    assert rank(assess_monovision(after, *MONOVISION_D)) >= rank(
        assess_monovision(before, *MONOVISION_D)
    )
    if name != "corneal_astigmatism_d":  # more of it, if regular, speaks for a toric lens
        assert rank(assess_toric(after)) >= rank(assess_toric(before))


def forbids_monovision(values, plan):
    """Two good eyes, straight, tried, and not too unlike: what textbooks ask for."""
    apart = abs(plan[0] - plan[1])
    return (
        apart > 1.5
        or min(plan) <= -3.0
        or values["fellow_eye"] == "none or blind"
        or values["strabismus"] not in ("none",)
        or values["monovision_trial"] != "tolerated"
        or values["amblyopia"] != "none"
        or values["fellow_amblyopia"] != "none"
        or any(
            values[name] == UNKNOWN or values[name] >= 0.3
            for name in ("potential_acuity_logmar", "fellow_potential_acuity_logmar")
        )
        or values["macular_degeneration"] != "none"
        or values["retinal_dystrophy"] != "none"
        or values["ectasia"] == "manifest"
        or values["night_driving"] in ("professional", UNKNOWN)
        or values["dominance"] == UNKNOWN
    )


@given(values=somebody, other=other_eyes, name=st.sampled_from(ORDERED), data=st.data())
@MANY
def test_a_worse_finding_of_the_other_eye_never_improves_a_plan(values, other, name, data):
    if name not in EYE_FINDINGS or name in MIRRORS:
        return
    found = other["fellow_findings"]
    before, after = (
        patient(values, other=other | {"fellow_findings": {**found, name: value}})
        for value in draw_worse(data, name)
    )
    assert rank(assess_monovision(after, *MONOVISION_D)) >= rank(
        assess_monovision(before, *MONOVISION_D)
    )
    for plain, exchanged in zip(assess(before.exchanged()), assess(after.exchanged()), strict=True):
        assert rank(exchanged) >= rank(plain)


@given(values=somebody, plan=plans_d, other=st.none() | other_eyes)
@MANY
def test_monovision_suits_nobody_with_a_finding_that_forbids_it(values, plan, other):
    who = patient(values, other=other)
    advice = assess_monovision(who, *plan)
    assert (advice is None) == (abs(plan[0] - plan[1]) < 0.75)
    if advice is not None and forbids_monovision(who.values, plan):
        assert advice.verdict != "suits"
        assert any(reason.effect in ("with care", "not advised") for reason in advice.reasons)


@given(values=somebody, length_mm=st.sampled_from([22.0, 23.5, 27.0, 31.0]))
@MANY
def test_a_toric_lens_suits_no_irregular_cornea_and_no_loose_bag(values, length_mm):
    who = patient(values, Eye(axial_length_mm=length_mm, k1_d=43.0))
    wanted = {
        "ectasia": "none",
        "irregular_astigmatism": "none",
        "zonules": "firm",
        "capsule": "intact",
    }
    advice = assess_toric(who)
    if any(who.values[name] != good for name, good in wanted.items()) or length_mm > 26.5:
        assert advice.verdict != "suits"
    early = who.values["ectasia_stage"] in ("none", "stage 1", "stage 2")
    unstable = not early or who.values["ectasia_course"] != "stable"
    if who.values["zonules"] == "severe weakness" or (
        who.values["ectasia"] == "manifest" and unstable
    ):
        assert advice.verdict == "not advised"


@given(values=somebody, plan=plans_d)
@MANY
def test_the_same_words_stand_for_dear_and_plain_lenses(values, plan):
    """What is said of the eye does not depend on the wishes, nor what is said of a wish on the
    eye, and no sentence belongs to a class."""
    who = patient(values)
    words = counselling.wording()
    easy, healthy = otherwise_healthy().wishes, otherwise_healthy().findings
    with (  # the words of glasses stand elsewhere
        mock.patch.object(tasks, "glasses_for", return_value=()),
        mock.patch.object(outlook, "outlook_for", return_value=()),
    ):
        made = [
            counselling.sheet(Patient(*one), *plan)
            for one in ((who.findings, who.wishes), (who.findings, easy), (healthy, who.wishes))
        ]
    by_class = [{part.lens_class: part for part in one.lenses + one.not_advised} for one in made]
    for advice in assess(who):
        mine, same_eye, same_wish = (parts[advice.lens_class] for parts in by_class)
        assert mine.verdict == same_eye.verdict == words["verdict"][advice.eye_verdict]
        assert mine.wish == same_wish.wish
        assert words["say"]["not_checked"] not in mine.wish
        if not mine.wish:
            assert advice.wish_verdict == "suits" or UNKNOWN in who.wishes.values()
        why = [line for line in mine.lines if line.startswith("Why")]
        assert bool(why) == (advice.eye_verdict != "suits")
    assert made[0].caution == CAUTION


# --- wrong values ------------------------------------------------------------------------------


@pytest.mark.parametrize("value", VALUES, ids=repr)
@pytest.mark.parametrize(
    "name",
    [
        "best_logmar",
        "fellow_best_logmar",
        "residual_cylinder_d",
        "fellow_residual_cylinder_d",
        "potential_known",
        "glasses_correct_cylinder",
    ],
)
def test_absurd_limits_are_answered_or_turned_away(name, value):
    def readers(**kwargs):
        found = glasses_needed(LENS_OF["monofocal"], 3.0, 0.0, fellow_target_d=0.0, **kwargs)
        return [one.reader_d for one in found]

    answer(readers, **{name: value})


@pytest.mark.parametrize("wrong", [{}, None, "Ada"])
def test_only_a_patient_has_plans(wrong):
    for call in (
        lambda: assess_monovision(wrong, 0.0, -1.25),
        lambda: assess_toric(wrong),
        lambda: glasses_for(wrong, LENS_OF["monofocal"]),
        lambda: tasks.only_eye(wrong),
    ):
        with pytest.raises(ValueError, match="a Patient"):
            call()
    with pytest.raises(ValueError, match="Myopia is negative"):
        assess_monovision(otherwise_healthy(), 0.0, -9.0)
