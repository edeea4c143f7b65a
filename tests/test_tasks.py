"""Glasses that remain: the trade's statements, the curve behind, monovision, what must hold."""

import tomllib
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shared_utils.choice import tasks
from shared_utils.choice.everyday_tasks import TASKS, WORD_RESERVE_LOGMAR, Task
from shared_utils.choice.findings import Patient
from shared_utils.choice.tasks import LENS_OF, USUAL_PUPIL_MM, glasses_needed
from shared_utils.optics.lenses import LENS_CLASSES, corneal_add_d, monofocal
from shared_utils.optics.through_focus import ACUITY_UNCERTAINTY_LOGMAR, acuity_logmar
from tests.absurd import VALUES, answer

OUTSIDE = tomllib.loads(
    (Path(__file__).parent / "outside" / "tasks.toml").read_text(encoding="utf-8")
)
NAMES = [task.name for task in TASKS]
PARTS = (
    "acuity_logmar",
    "clear",
    "reader_d",
    "clear_with",
    "borderline",
    "comfortable_reader_d",
)
QUARTER_D = 0.25


def by_name(lens_class, pupil_mm=USUAL_PUPIL_MM, target_d=0.0, **fellow):
    answers = glasses_needed(LENS_OF[lens_class], pupil_mm, target_d, **fellow)
    return {glasses.task.name: glasses for glasses in answers}


# --- from outside ------------------------------------------------------------------------------


@pytest.mark.parametrize("habit", OUTSIDE["habit"], ids=lambda habit: habit["what"])
def test_the_glasses_that_the_trade_expects(habit):
    found = by_name(habit["lens"])
    for name in habit["glasses"]:
        assert not found[name].clear, name
        if "reader_d" in habit:
            assert found[name].reader_d == pytest.approx(
                habit["reader_d"], abs=habit["tolerance_d"]
            )
    for name in habit["none"]:
        assert found[name].clear, name


def test_where_the_model_and_the_trade_part_is_known():
    # the trade gives a monofocal for far no dashboard; the model reads its large figures by day
    assert by_name("monofocal")["dashboard"].clear
    # a bifocal of 2.5 D instead of 2.75 D reads labels and a telephone at arm's length, just
    lens = tasks.lenses.diffractive_bifocal(2.5, lens_sa_um=tasks.BODY_SA_UM)
    found = {g.task.name: g for g in glasses_needed(lens, USUAL_PUPIL_MM, 0.0)}
    assert found["shelf"].clear
    assert found["shelf"].borderline
    assert not found["computer"].clear


def test_the_bifocal_is_the_usual_one():
    reply = OUTSIDE["bifocal_in_lens"]
    low, high = reply["at_cornea_d"]
    assert low <= tasks.BIFOCAL_ADD_D <= high
    assert corneal_add_d(reply["add_d"]) == pytest.approx(tasks.BIFOCAL_ADD_D, abs=0.1)


@pytest.mark.parametrize("reply", OUTSIDE["vergence"], ids=lambda reply: str(reply["distance_m"]))
def test_distance_becomes_vergence(reply):
    assert Task("it", reply["distance_m"], 2.0).vergence_d == pytest.approx(reply["vergence_d"])


def test_a_letter_of_five_arcmin_is_zero_logmar():
    reply = OUTSIDE["letter"]
    needed = Task("it", reply["distance_m"], reply["letter_mm"]).needed_logmar
    assert needed + WORD_RESERVE_LOGMAR == pytest.approx(
        reply["logmar_without_reserve"], abs=reply["tolerance_logmar"]
    )


def test_an_offset_moves_the_focus_to_its_distance():
    reply = OUTSIDE["monovision"]
    task = Task("it", reply["best_at_m"], 1.5)
    [there] = glasses_needed(LENS_OF["monofocal"], 3.0, reply["offset_d"], task)
    assert there.acuity_logmar == pytest.approx(
        acuity_logmar(LENS_OF["monofocal"], 3.0, 0.0), abs=0.02
    )


@pytest.mark.parametrize("offset_d", OUTSIDE["registry"]["offset_d"])
def test_monovision_serves_the_screen_and_keeps_far(offset_d):
    found = by_name("monofocal", fellow_target_d=offset_d)
    assert found[OUTSIDE["registry"]["task"]].clear
    assert found["road sign by day"].clear
    assert not by_name("monofocal")[OUTSIDE["registry"]["task"]].clear


# --- the curve behind --------------------------------------------------------------------------


@pytest.mark.parametrize("lens_class", LENS_CLASSES)
def test_acuity_between_the_kept_curves_is_that_of_the_model(lens_class):
    rng = np.random.default_rng(5)
    lens = LENS_OF[lens_class]
    for pupil, distance in zip(rng.uniform(2, 5.5, 6), rng.uniform(0.3, 2, 6), strict=True):
        [found] = glasses_needed(lens, pupil, -0.3, Task("it", distance, 2.0))
        exact = acuity_logmar(lens, pupil, -1 / distance + 0.3)
        # half of what the acuity itself is good to
        assert found.acuity_logmar == pytest.approx(exact, abs=ACUITY_UNCERTAINTY_LOGMAR / 2)


@pytest.mark.parametrize("lens_class", LENS_CLASSES)
def test_a_lens_body_that_cancels_the_cornea_sees_best_at_its_target(lens_class):
    """Of wide pupils; a body that does not is up to half a dioptre off."""
    defocus_d = np.arange(-0.75, 0.76, 0.05)
    best = defocus_d[np.argmin(acuity_logmar(LENS_OF[lens_class], 5.0, defocus_d))]
    assert abs(best) <= 0.25
    neutral = defocus_d[np.argmin(acuity_logmar(monofocal(), 5.0, defocus_d))]
    assert neutral < -0.25


# --- what must hold ----------------------------------------------------------------------------

EYES = {
    "lens_class": st.sampled_from(LENS_CLASSES),
    "pupil_mm": st.floats(2.0, 6.0),
    "target_d": st.floats(-2.5, 1.0),
}


@settings(deadline=None, max_examples=40)
@given(**EYES)
def test_the_reader_is_the_weakest_that_makes_it_clear(lens_class, pupil_mm, target_d):
    for glasses in glasses_needed(LENS_OF[lens_class], pupil_mm, target_d):
        assert (glasses.reader_d / QUARTER_D).is_integer()
        assert abs(glasses.reader_d) <= tasks.STRONGEST_READER_D
        if glasses.clear:
            assert glasses.reader_d == 0
            assert glasses.clear_with
            continue
        # glasses before the eye do what another refraction would
        shift = target_d - glasses.reader_d
        if -4 <= shift <= 2:
            [with_them] = glasses_needed(LENS_OF[lens_class], pupil_mm, shift, glasses.task)
            assert with_them.clear == glasses.clear_with
        weaker = target_d - glasses.reader_d + QUARTER_D
        if glasses.clear_with and glasses.reader_d > QUARTER_D and weaker <= 2:
            [not_yet] = glasses_needed(LENS_OF[lens_class], pupil_mm, weaker, glasses.task)
            assert not not_yet.clear


@settings(deadline=None, max_examples=40)
@given(**EYES, best_logmar=st.sampled_from([None, 0.0, 0.3]))
def test_the_comfortable_reader_is_never_weaker_nor_worse(
    lens_class, pupil_mm, target_d, best_logmar
):
    lens = LENS_OF[lens_class]
    for glasses in glasses_needed(lens, pupil_mm, target_d, best_logmar=best_logmar):
        weakest, comfortable = glasses.reader_d, glasses.comfortable_reader_d
        assert abs(weakest) <= abs(comfortable) <= tasks.STRONGEST_READER_D
        assert weakest * comfortable >= 0
        assert (comfortable == 0) == (weakest == 0)
        seen = [target_d - reader_d for reader_d in (weakest, comfortable)]
        if not glasses.clear and -4 <= min(seen) <= max(seen) <= 2:
            worse, better = (
                glasses_needed(lens, pupil_mm, d, glasses.task, best_logmar=best_logmar)[0]
                for d in seen
            )
            assert better.acuity_logmar <= worse.acuity_logmar + 1e-9
            assert better.clear == glasses.clear_with


@pytest.mark.parametrize("reply", OUTSIDE["vergence"], ids=lambda reply: str(reply["distance_m"]))
@pytest.mark.parametrize("target_d", [0.0, -0.5, 0.5])
def test_the_comfortable_reader_of_one_focus_is_what_the_distance_asks_for(reply, target_d):
    """Textbooks: the vergence of the object, less what a short-sighted eye brings itself."""
    task = Task("a page", reply["distance_m"], 1.0, page=True)
    [found] = glasses_needed(LENS_OF["monofocal"], 3.0, target_d, task)
    wanted = -reply["vergence_d"] + target_d
    if wanted > 0.5:
        assert found.comfortable_reader_d == pytest.approx(wanted, abs=0.13)


def test_potential_hides_no_part_of_the_comfortable_reader():
    sound = by_name("monofocal")
    capped = by_name("monofocal", best_logmar=0.1)
    for name in NAMES:
        if capped[name].clear_with:
            assert capped[name].comfortable_reader_d == sound[name].comfortable_reader_d


@settings(deadline=None, max_examples=40)
@given(**EYES, fellow=st.floats(-2.5, 1.0))
def test_a_second_eye_never_makes_a_task_less_clear(lens_class, pupil_mm, target_d, fellow):
    one = by_name(lens_class, pupil_mm, target_d)
    other = by_name(lens_class, pupil_mm, fellow)
    both = by_name(lens_class, pupil_mm, target_d, fellow_target_d=fellow)
    swapped = by_name(lens_class, pupil_mm, fellow, fellow_target_d=target_d)
    for name in NAMES:
        best = min(one[name].acuity_logmar, other[name].acuity_logmar)
        assert both[name].acuity_logmar == pytest.approx(best)
        assert both[name].clear == (one[name].clear or other[name].clear)
        assert both[name] == swapped[name]


def test_two_eyes_alike_count_as_one():
    assert by_name("trifocal") == by_name("trifocal", fellow_target_d=0.0)


def test_a_different_lens_in_the_fellow_eye_adds_its_distances():
    found = by_name("monofocal", fellow_target_d=0.0, fellow_lens=LENS_OF["bifocal"])
    assert found["newspaper"].clear
    assert (
        found["road sign by day"].acuity_logmar
        == by_name("monofocal")["road sign by day"].acuity_logmar
    )


def test_a_myopic_eye_reads_and_wears_minus_for_far():
    found = by_name("monofocal", target_d=-2.5)
    assert found["newspaper"].clear
    assert found["television"].reader_d < 0
    assert found["television"].clear_with


def test_what_no_glasses_make_clear_says_so():
    far, near = Task("a hair", 1000.0, 0.2), Task("dust", 0.25, 0.1)
    hopeless, closest = glasses_needed(LENS_OF["monofocal"], 3.0, 0.0, [far, near])
    assert not hopeless.clear_with
    assert str(hopeless) == "a hair: not clear, glasses or not"
    assert str(closest) == "dust: not clear, closest with reader +4.00 D"


def test_each_answer_says_itself():
    message = {name: str(glasses) for name, glasses in by_name("bifocal").items()}
    assert message["newspaper"] == "newspaper: clear without glasses"
    assert message["computer"] == "computer: weakest reader +1.00 D, comfortable +1.50 D"
    assert "glasses −" in str(by_name("monofocal", target_d=-2.5)["television"])
    assert "3 eyes" in str(by_name("monofocal", target_d=[0.0, 0.5, -0.5])["television"])


def test_arrays_answer_as_their_members_do():
    pupils, targets = np.array([2.5, 3.1, 4.4]), np.array([[0.0], [-1.0]])
    for lens_class in LENS_CLASSES:
        together = by_name(lens_class, pupils, targets, fellow_target_d=-0.5)
        for i, j in np.ndindex(2, 3):
            alone = by_name(lens_class, pupils[j], targets[i, 0], fellow_target_d=-0.5)
            for name in NAMES:
                for part in PARTS:
                    assert getattr(together[name], part)[i, j] == getattr(alone[name], part)
                    assert type(getattr(alone[name], part)) in (bool, float)


def test_near_the_border_the_answer_says_so():
    found = by_name("monofocal")
    gap = found["shelf"].acuity_logmar - found["shelf"].task.needed_logmar
    assert found["shelf"].borderline == (abs(gap) < ACUITY_UNCERTAINTY_LOGMAR / 2)
    assert not found["newspaper"].borderline


@pytest.mark.parametrize(
    ("reply", "expected"),
    [
        ({}, (3, 4, 5)),
        ({"photopic_pupil_mm": 3.0, "scotopic_pupil_mm": 6.0}, (3, 4.5, 6)),
        ({"photopic_pupil_mm": 6.0}, (6, 6, 6)),
        ({"scotopic_pupil_mm": 2.4}, (2.4, 2.4, 2.4)),
        ({"photopic_pupil_mm": 1.0, "scotopic_pupil_mm": 9.0}, (1.5, 5, 8.5)),
    ],
)
def test_pupils_come_from_the_patient_where_they_were_measured(reply, expected):
    assert tuple(tasks.pupils_of(Patient(reply)).values()) == pytest.approx(expected)


@pytest.mark.parametrize(
    ("call", "says"),
    [
        (lambda: glasses_needed("monofocal", 3, 0), "give a lens"),
        (lambda: glasses_needed(LENS_OF["bifocal"], 30, 0), "pupil_mm is 30 mm"),
        (lambda: glasses_needed(LENS_OF["bifocal"], 3, 5), "Myopia is negative"),
        (lambda: glasses_needed(LENS_OF["bifocal"], {"bright": 3}, 0), "bright, dim, night"),
        (lambda: glasses_needed(LENS_OF["bifocal"], 3, 0, ["tv"]), "one of tasks is 'tv'"),
        (
            lambda: glasses_needed(LENS_OF["bifocal"], 3, 0, fellow_lens=LENS_OF["bifocal"]),
            "give fellow_target_d",
        ),
        (
            lambda: glasses_needed(LENS_OF["bifocal"], [3, 4], [0, 0, 0]),
            "do not go together",
        ),
        (lambda: Task("it", 40, 0.001), "letter_mm is 0.001 mm"),
        (lambda: Task("it", 0.1, 2), "distance_m is 0.1 m"),
        (lambda: Task("it", 1, 2, light="dusk"), "bright, dim, night"),
    ],
)
def test_a_wrong_value_is_answered_with_one_sentence(call, says):
    with pytest.raises(ValueError, match=says.replace("(", r"\(")):
        call()


@pytest.mark.parametrize("value", VALUES, ids=repr)
@pytest.mark.parametrize("name", ["pupil_mm", "target_d", "fellow_target_d"])
def test_absurd_input_is_answered_or_turned_away(name, value):
    given = {"pupil_mm": 3.0, "target_d": 0.0} | {name: value}

    def readers(**kwargs):
        return [found.reader_d for found in glasses_needed(LENS_OF["monofocal"], **kwargs)]

    answer(readers, **given)
