"""Of 100 such people: shares of the registry, chance drawn another way, and what must hold."""

from time import process_time

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import special, stats

from shared_utils.choice import outlook as outlooks
from shared_utils.choice.everyday_tasks import TASKS, Task
from shared_utils.choice.findings import Patient, otherwise_healthy
from shared_utils.choice.limits import Limits
from shared_utils.choice.outlook import outlook, outlook_for, share_within, student_of_registry
from shared_utils.choice.sight import EyeWithLens
from shared_utils.choice.tasks import LENS_OF, glasses_for
from shared_utils.choice.vocabulary import UNKNOWN
from shared_utils.optics.lenses import LENS_CLASSES
from shared_utils.optics.through_focus import ACUITY_UNCERTAINTY_LOGMAR, acuity_logmar
from tests.sampling import examples
from tests.test_limits import DRAWN, OF_FELLOW, ORDERED, drawn_from, person

SURE = {"sd_d": 0.0, "cylinder_sd_d": 0.0}
SIGN = [task for task in TASKS if task.name == "road sign by day"]
NEWSPAPER = [task for task in TASKS if task.name == "newspaper"]


def letter_task(logmar, distance_m=1000.0):
    """A task that needs just this acuity by day."""
    limb_arcmin = 10.0 ** (logmar + 0.1)
    return Task(
        "letters", distance_m, float(np.radians(limb_arcmin * 5.0 / 60.0)) * 1000.0 * distance_m
    )


# --- from outside ------------------------------------------------------------------------------


def test_the_spread_has_the_shares_of_the_registry():
    """Lundström et al., J Cataract Refract Surg 2018 (abstract)."""
    assert share_within(0.5) == pytest.approx(0.727, abs=1e-6)
    assert share_within(1.0) == pytest.approx(0.930, abs=1e-6)
    errors_d = outlooks.registry_sd_d() * outlooks._standard_errors()
    assert np.mean(np.abs(errors_d) <= 0.5) == pytest.approx(0.727, abs=0.01)
    assert np.mean(np.abs(errors_d) <= 1.0) == pytest.approx(0.930, abs=0.01)


def test_its_mean_absolute_error_is_that_of_the_same_registry():
    """0.42 D in the abstract, which the fit did not use."""
    scale_d, degrees = student_of_registry()
    mean_d = 2.0 * scale_d * np.sqrt(degrees / np.pi) / (degrees - 1.0)
    mean_d *= special.gamma((degrees + 1.0) / 2.0) / special.gamma(degrees / 2.0)
    assert mean_d == pytest.approx(0.42, abs=0.03)


def test_the_difference_of_two_eyes_spreads_as_one_eye_does():
    """Gorodezky et al. 2014 (abstract): within 0.5 D 71 of 100 pairs, within 1 D 93; and half of
    an eye's error is found in its fellow."""
    errors_d = outlooks.registry_sd_d() * outlooks._standard_errors()
    weights = outlooks._joint_weights(outlooks.CORRELATION)
    differences_d = np.abs(errors_d[:, None] - errors_d)
    assert weights[differences_d <= 0.5].sum() == pytest.approx(0.71, abs=0.03)
    assert weights[differences_d <= 1.0].sum() == pytest.approx(0.93, abs=0.02)
    slope = (errors_d @ weights @ errors_d) / np.mean(errors_d**2)
    assert slope == pytest.approx(0.5, abs=0.03)


def test_letters_that_bear_half_a_dioptre_are_read_by_the_registry_s_share():
    """Where the acuity that is needed is lost just beyond half a dioptre to either side."""
    lens, pupil_mm = LENS_OF["monofocal"], 3.0
    at_d = np.array([-0.5, 0.5])
    needed = acuity_logmar(lens, pupil_mm, at_d)
    eye = EyeWithLens(lens, 0.0, Limits(pupil_mm=pupil_mm))
    numbers = [
        outlook(eye, tasks=letter_task(logmar), cylinder_sd_d=0.0)[0].of_100 for logmar in needed
    ]
    assert min(numbers) - 1 <= 72.7 <= max(numbers) + 1
    assert np.ptp(numbers) < 20


@pytest.mark.parametrize(("lens_class", "distance_m"), [("monofocal", 2.0), ("trifocal", 0.5)])
def test_chance_drawn_many_times_gives_the_same(lens_class, distance_m):
    """Another way: random refractions and cylinders, and the acuity of the model itself."""
    rng = np.random.default_rng(11)
    count, lens, pupil_mm, gain = 40_000, LENS_OF[lens_class], 3.0, 0.05
    cylinders_d, rho, (scale_d, degrees) = (0.5, 1.25), 0.5, student_of_registry()
    targets_d = (-0.25, -1.0)
    normal = rng.multivariate_normal([0, 0], [[1, rho], [rho, 1]], count).T
    errors_d = scale_d * normal / np.sqrt(rng.chisquare(degrees, count) / degrees)
    grid_d = np.arange(-8.0, 8.0, 0.05)
    curve = acuity_logmar(lens, pupil_mm, grid_d)
    angles = []
    for error_d, target_d, cylinder_d in zip(errors_d, targets_d, cylinders_d, strict=True):
        defocus_d = np.clip(-1.0 / distance_m - target_d - error_d, -5.0, 4.0)
        sharp = 10.0 ** np.interp(defocus_d, grid_d, curve)
        half_d = np.hypot(
            cylinder_d / 2.0 + rng.normal(0.0, 0.2, count), rng.normal(0.0, 0.2, count)
        )
        angles.append(np.log10(np.hypot(sharp, 0.65 * pupil_mm * half_d)))
    both = np.minimum(np.min(angles, axis=0), np.max(angles, axis=0) - gain)
    eyes = [
        EyeWithLens(lens, target_d, Limits(pupil_mm=pupil_mm, residual_cylinder_d=cylinder_d))
        for target_d, cylinder_d in zip(targets_d, cylinders_d, strict=True)
    ]
    for quantile in (0.2, 0.5, 0.8):
        needed = float(np.quantile(both, quantile))
        task = letter_task(needed, distance_m)
        [found] = outlook(*eyes, tasks=[task], gain_logmar=gain, correlation=rho)
        line = ACUITY_UNCERTAINTY_LOGMAR
        for number, at in ((found.low, -line), (found.of_100, 0.0), (found.high, line)):
            assert number / 100.0 == pytest.approx(np.mean(both <= needed + at), abs=0.02)
        [alone] = outlook(eyes[0], tasks=[task])
        assert alone.of_100 / 100.0 == pytest.approx(np.mean(angles[0] <= needed), abs=0.02)


def test_the_length_of_a_power_vector_is_rice_s():
    """By scipy's own distribution."""
    lengths = np.linspace(0.0, 3.0, 50)
    for mean in (0.0, 0.3, 1.1):
        found = outlooks._shorter_than(lengths, np.full(50, mean), 0.2)
        assert found == pytest.approx(stats.rice.cdf(lengths, mean / 0.2, scale=0.2), abs=1e-3)


# --- limits ------------------------------------------------------------------------------------


@pytest.mark.parametrize("lens_class", LENS_CLASSES)
@pytest.mark.parametrize("target_d", [0.0, -1.0])
def test_without_spread_it_is_the_bare_answer(lens_class, target_d):
    for found in ({}, {"strabismus": "manifest"}, {"residual_astigmatism_d": 1.25}):
        who = otherwise_healthy(found)
        plan = (who, LENS_OF[lens_class], target_d, -1.25)
        for bare, numbers in zip(glasses_for(*plan), outlook_for(*plan, **SURE), strict=True):
            assert numbers.of_100 == (100 if bare.clear else 0)
            assert numbers.low <= numbers.of_100 <= numbers.high
            near = abs(bare.acuity_logmar - bare.task.needed_logmar) < ACUITY_UNCERTAINTY_LOGMAR
            assert near == (numbers.low < numbers.high)


def test_a_huge_spread_leaves_hardly_anybody():
    who = otherwise_healthy({"fellow_eye": "none or blind"})
    [narrow], [wide] = (
        outlook_for(who, LENS_OF["monofocal"], tasks=NEWSPAPER, target_d=-2.5, extra_sd_d=sd)
        for sd in (0.0, 5.0)
    )
    assert narrow.of_100 > 60
    assert wide.of_100 < 30
    [rough] = outlook_for(who, LENS_OF["monofocal"], tasks=SIGN, cylinder_sd_d=5.0)
    assert rough.of_100 < 15


def test_a_wider_spread_never_helps_a_task_on_target():
    who = otherwise_healthy({"fellow_eye": "none or blind"})
    numbers = [
        outlook_for(who, LENS_OF["monofocal"], tasks=SIGN, extra_sd_d=sd)[0].of_100
        for sd in np.linspace(0.0, 3.0, 13)
    ]
    assert np.all(np.diff(numbers) <= 0)
    assert numbers[0] > 90 > numbers[-1]


def test_eyes_whose_errors_are_alike_help_each_other_less():
    eye = EyeWithLens(LENS_OF["monofocal"], 0.0)
    task = letter_task(0.05)
    numbers = [outlook(eye, eye, [task], correlation=rho)[0].of_100 for rho in (0.0, 0.5, 0.95)]
    [alone] = outlook(eye, tasks=[task])
    assert numbers[0] > numbers[1] > numbers[2] >= alone.of_100


def test_a_measured_refraction_does_not_spread():
    sharp = EyeWithLens(LENS_OF["monofocal"], 0.0, measured=True)
    [found] = outlook(sharp, tasks=SIGN, cylinder_sd_d=0.0)
    assert found.of_100 == 100


def test_of_eyes_of_unknown_potential_nothing_is_told():
    only = {"fellow_eye": "none or blind", "amblyopia": "deep", "potential_acuity_logmar": UNKNOWN}
    for found in outlook_for(otherwise_healthy(only), LENS_OF["trifocal"]):
        assert (found.of_100, found.low, found.known) == (0, 0, False)
        assert found.in_short == "unknown"
        assert "cannot be told" in str(found)


def test_beside_an_eye_of_unknown_potential_the_sound_one_counts_alone():
    found = {"amblyopia": "deep", "potential_acuity_logmar": UNKNOWN}
    # a spread of its own would hide what is asked here
    beside = outlook_for(otherwise_healthy(found), LENS_OF["trifocal"], extra_sd_d=0.0)
    alone = outlook_for(otherwise_healthy({"fellow_eye": "none or blind"}), LENS_OF["trifocal"])
    both = outlook_for(otherwise_healthy({"strabismus": "manifest"}), LENS_OF["trifocal"])
    for one, single, pair in zip(beside, alone, both, strict=True):
        assert one.known
        assert (one.of_100, one.low) == (single.of_100, single.low)
        assert single.high <= one.high
        assert one.high >= pair.high - 1


def test_an_answer_says_its_interval():
    [found] = outlook_for(otherwise_healthy(), LENS_OF["monofocal"], tasks=NEWSPAPER)
    assert str(found) == (
        f"newspaper: of 100 such people {found.of_100} without glasses "
        f"(between {found.low} and {found.high})"
    )
    assert found.in_short == f"{found.of_100} ({found.low}–{found.high})"


# --- what must hold ----------------------------------------------------------------------------


@given(
    values=drawn_from([n for n in ORDERED if not n.startswith("fellow_")]),
    of_fellow=drawn_from(OF_FELLOW),
    in_fellow=st.booleans(),
    lens_class=st.sampled_from(LENS_CLASSES),
    data=st.data(),
)
@settings(max_examples=examples(200), deadline=None)
def test_a_worse_finding_never_leaves_more_people_without_glasses(
    values, of_fellow, in_fellow, lens_class, data
):
    names = [n for n in (OF_FELLOW if in_fellow else ORDERED) if not n.startswith("fellow_")]
    name = data.draw(st.sampled_from(names))
    low = data.draw(st.integers(0, len(DRAWN[name]) - 1))
    high = data.draw(st.integers(low, len(DRAWN[name]) - 1))
    found = []
    for at in (low, high):
        changed = {name: DRAWN[name][at]}
        who = person(
            values if in_fellow else values | changed,
            of_fellow | changed if in_fellow else of_fellow,
        )
        found.append(outlook_for(who, LENS_OF[lens_class], 0.0, -1.0, extra_sd_d=0.0))
    for better, worse in zip(*found, strict=True):
        assert 0 <= worse.low <= worse.of_100 <= worse.high <= 100
        assert worse.of_100 <= better.of_100 + 1  # a table between whose entries is a line
        assert worse.low <= better.low + 1


def test_it_does_not_matter_which_eye_comes_first():
    one = {"potential_acuity_logmar": 0.1, "residual_astigmatism_d": 0.8, "straylight_log": 1.5}
    other = {"potential_acuity_logmar": 0.0, "residual_astigmatism_d": 0.2, "chord_mu_mm": 0.7}
    pupils = {"photopic_pupil_mm": 2.8, "mesopic_pupil_mm": 4.0, "scotopic_pupil_mm": 5.5}
    who = Patient({**one, **pupils, "strabismus": "none"}, fellow_findings=other | pupils)
    for lens in LENS_OF.values():
        assert outlook_for(who, lens, 0.0, -0.75) == outlook_for(who.exchanged(), lens, -0.75, 0.0)


def test_many_people_answer_as_each_alone():
    rng = np.random.default_rng(6)
    n = 7
    cylinders, best = rng.uniform(0, 2, n), rng.uniform(-0.1, 0.3, n)
    known, targets = rng.random(n) > 0.3, rng.uniform(-1.5, 0.2, n)

    def asked(at):
        limits = Limits(
            residual_cylinder_d=cylinders[at], best_logmar=best[at], potential_known=known[at]
        )
        eye = EyeWithLens(LENS_OF["bifocal"], targets[at], limits)
        return outlook(eye, EyeWithLens(LENS_OF["monofocal"], -1.0), TASKS[::3], gain_logmar=0.05)

    together = asked(slice(None))
    for at in range(n):
        for whole, alone in zip(together, asked(at), strict=True):
            for part in ("of_100", "low", "high", "known"):
                assert getattr(whole, part)[at] == getattr(alone, part)


@pytest.mark.parametrize(
    ("call", "says"),
    [
        (lambda: outlook_for({}, LENS_OF["monofocal"]), "a Patient"),
        (lambda: outlook_for(Patient(), "monofocal"), "give a lens"),
        (lambda: outlook(LENS_OF["monofocal"]), "an EyeWithLens"),
        (lambda: outlook_for(Patient(), LENS_OF["monofocal"], tasks=["tv"]), "one of tasks"),
        (lambda: outlook_for(Patient(), LENS_OF["monofocal"], sd_d=-1.0), "standard deviation"),
        (lambda: outlook_for(Patient(), LENS_OF["monofocal"], correlation=1.0), "correlation is 1"),
        (lambda: share_within(-1.0), "without a sign"),
    ],
)
def test_a_wrong_value_is_answered_with_one_sentence(call, says):
    with pytest.raises(ValueError, match=says):
        call()


# --- speed -------------------------------------------------------------------------------------


@pytest.mark.benchmark
def test_ten_thousand_eyes_at_once_cost_less_than_one_by_one(capsys):
    rng = np.random.default_rng(0)
    cylinders = rng.uniform(0.0, 2.0, 10_000)

    def timed(cylinders_d):
        limits = Limits(residual_cylinder_d=cylinders_d)
        start = process_time()
        outlook(EyeWithLens(LENS_OF["trifocal"], 0.0, limits), tasks=SIGN)
        return process_time() - start

    timed(0.5)
    one_s = min(timed(0.5) for _ in range(5))
    many_s = timed(cylinders)
    with capsys.disabled():
        print(f"\n10 000 eyes, one task: {many_s:.2f} s; one eye: {1e3 * one_s:.2f} ms")
    assert many_s < 2_000 * one_s
