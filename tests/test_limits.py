"""What findings do to sight: formulas by hand, published laws, both eyes, and what must hold."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shared_utils.choice import limits, tasks, two_eyes
from shared_utils.choice.everyday_tasks import TASKS, Task
from shared_utils.choice.findings import Patient, otherwise_healthy
from shared_utils.choice.limits import Limits, fellow_limits_of, limits_of
from shared_utils.choice.sight import EyeWithLens, in_light
from shared_utils.choice.tasks import LENS_OF, glasses_for
from shared_utils.choice.vocabulary import EYE_FINDINGS, FINDINGS, UNKNOWN, Graded
from shared_utils.optics import glare
from shared_utils.optics.lenses import LENS_CLASSES
from shared_utils.optics.through_focus import acuity_logmar, mtf_area, with_less_contrast
from tests.sampling import examples

MANY = settings(max_examples=examples(300), deadline=None)
FAR = Task("far", 1000.0, 4000.0)
ONLY = {"fellow_eye": "none or blind"}


def far_logmar(finding, lens_class="monofocal", light="bright"):
    task = Task("far", 1000.0, 4000.0, light=light)
    sharp = {**ONLY, "potential_acuity_logmar": -0.3}  # so that no potential hides the cost
    [found] = glasses_for(otherwise_healthy({**sharp, **finding}), LENS_OF[lens_class], tasks=task)
    return found.acuity_logmar


# --- each by its formula -----------------------------------------------------------------------


def test_the_veil_follows_the_published_law():
    """Stiles and Holladay: ten times the straylight, or the lamp at a third of the angle."""
    one = glare.veil_cd_m2(1.0, 1.0, 9.0)
    assert one == pytest.approx(10.0 / 81.0)
    assert glare.veil_cd_m2(2.0, 1.0, 9.0) == pytest.approx(10.0 * one)
    assert glare.veil_cd_m2(1.0, 1.0, 3.0) == pytest.approx(9.0 * one)
    assert glare.contrast_divisor(3.0, 1.0) == 4.0


def test_an_oncoming_car_glares_alike_near_and_far():
    """The lamps grow brighter as 1 / d² and the angle as 1 / d, so E / θ² stays."""
    veils = []
    for metres in (20.0, 50.0, 100.0):
        lux = limits.LAMPS * limits.LAMP_CD / metres**2
        veils.append(glare.veil_cd_m2(1.1, lux, np.degrees(limits.BESIDE_M / metres)))
    assert np.ptp(veils) < 1e-9
    # by hand: 500 cd / (3.5 · 57.3)² = 0.0124 for each unit of straylight
    assert veils[0] == pytest.approx(0.01243 * 10**1.1, rel=0.01)


@pytest.mark.parametrize("divisor", [1.0, 1.5, 4.0])
def test_less_contrast_is_a_smaller_area_under_the_mtf(divisor):
    lens = LENS_OF["trifocal"]
    area = mtf_area(lens, 3.0, -1.0)
    expected = min(-0.30 + 6.0 * divisor / area, 1.3)  # the calibration of `acuity_logmar`
    assert with_less_contrast(acuity_logmar(lens, 3.0, -1.0), divisor) == pytest.approx(expected)


def test_aberration_beyond_the_usual_blurs_as_the_published_defocus():
    """4√3 RMS / r² (Thibos 2004) of √(1.0² − 0.48²) = 0.877 µm over 6 mm: 0.675 D."""
    found = limits_of(Patient({"corneal_hoa_6mm_um": 1.0, "scotopic_pupil_mm": 6.0}))
    assert found.aberration_d["night"] == pytest.approx(0.675, abs=0.002)
    assert found.aberration_d["bright"] == pytest.approx(0.675 / 2, abs=0.002)  # 3 mm: r³ / r²
    assert limits_of(Patient({"corneal_hoa_6mm_um": 0.47})).aberration_d["night"] == 0.0


def test_contrast_and_straylight_divide_contrast():
    found = limits_of(Patient({"contrast_sensitivity_log": 1.05, "straylight_log": 1.7}))
    assert found.contrast_divisor["bright"] == pytest.approx(10**0.6)
    # veils of 10^1.7 and 10^1.1 times 0.01243 over 1 cd/m²
    glared = (1 + 0.01243 * 10**1.7) / (1 + 0.01243 * 10**1.1)
    assert found.contrast_divisor["night"] == pytest.approx(10**0.6 * glared, rel=0.01)


def test_laser_changes_the_cornea_as_published():
    """Hyperopic treatment lowers it below zero, myopic raises it: Llorente 2004, Moreno 2001."""
    myopic, hyperopic = (
        limits_of(Patient({"refractive_laser": why})).corneal_sa_um.item()
        for why in ("for myopia", "for hyperopia")
    )
    assert hyperopic < 0.0 < 0.27 < myopic < 1.0


@pytest.mark.parametrize(
    ("finding", "light"),
    [
        ({"corneal_hoa_4mm_um": 0.6}, "bright"),
        ({"corneal_hoa_6mm_um": 1.5}, "night"),
        ({"angle_alpha_mm": 1.5}, "night"),
        ({"chord_mu_mm": 1.5}, "night"),
        ({"contrast_sensitivity_log": 1.2}, "bright"),
        ({"straylight_log": 1.8}, "night"),
        ({"refractive_laser": "for myopia"}, "night"),
        ({"refractive_laser": "for hyperopia"}, "night"),
        ({"amblyopia": "mild", "potential_acuity_logmar": UNKNOWN}, "bright"),
        ({"mesopic_pupil_mm": 5.0}, "dim"),
        ({"residual_astigmatism_d": 1.0}, "bright"),
    ],
    ids=str,
)
def test_every_finding_costs_sight_in_its_light(finding, light):
    assert far_logmar(finding, light=light) > far_logmar({}, light=light) + 0.005


def test_straylight_costs_nothing_by_day():
    assert far_logmar({"straylight_log": 2.5}) == far_logmar({})


# --- the other eye has its own -----------------------------------------------------------------


def test_each_eye_is_taken_with_its_own_findings():
    other = {
        "residual_astigmatism_d": 1.5,
        "photopic_pupil_mm": 2.5,
        "scotopic_pupil_mm": 6.5,
        "straylight_log": 1.9,
        "corneal_hoa_4mm_um": 0.8,
        "potential_acuity_logmar": 0.2,
        "irregular_astigmatism": "mild",
    }
    healthy = otherwise_healthy({"fellow_potential_acuity_logmar": UNKNOWN})
    both = Patient(healthy.findings, healthy.wishes, fellow_findings=other)
    one, two = limits_of(both), fellow_limits_of(both)
    assert (one.residual_cylinder_d, two.residual_cylinder_d) == (0.2, 1.5)
    assert two.pupil_mm == {"bright": 2.5, "dim": 4.5, "night": 6.5}
    assert two.best_logmar == 0.2
    assert (one.glasses_correct_cylinder, two.glasses_correct_cylinder) == (True, False)
    assert two.contrast_divisor["night"] > one.contrast_divisor["night"] == 1.0
    assert two.aberration_d["bright"] > one.aberration_d["bright"] == 0.0
    exchanged = both.exchanged()
    assert limits_of(exchanged).residual_cylinder_d == 1.5
    assert fellow_limits_of(exchanged).residual_cylinder_d == 0.2


def test_what_is_unknown_of_the_other_eye_falls_back_on_the_first():
    found = fellow_limits_of(
        Patient({"residual_astigmatism_d": 0.7, "photopic_pupil_mm": 2.2, "ectasia": "manifest"})
    )
    assert (found.residual_cylinder_d, found.pupil_mm["bright"]) == (0.7, 2.2)
    assert not found.glasses_correct_cylinder
    assert not found.potential_known


def test_an_eye_that_has_its_lens_has_its_refraction():
    found = {"fellow_eye": "pseudophakic monofocal", "fellow_refraction_d": -2.5}
    eyes = tasks.eyes_of(otherwise_healthy(found), LENS_OF["monofocal"])
    assert (float(eyes[1].target_d), eyes[1].measured) == (-2.5, True)
    newspaper = [task for task in TASKS if task.name == "newspaper"]
    [read] = glasses_for(otherwise_healthy(found), LENS_OF["monofocal"], tasks=newspaper)
    assert read.clear


# --- two eyes ----------------------------------------------------------------------------------


def test_two_equal_eyes_gain_what_was_published_and_no_more():
    """Cagenello et al. 1993: about a tenth of the angle, 0.04 to 0.05 logMAR."""
    gain = -two_eyes.together_logmar(0.0, 0.0)
    assert 1.08 < 10**gain < 1.13
    assert gain < np.log10(2) / 2  # less than contrast alone could give, √2


@given(one=st.floats(-0.3, 2.9), other=st.floats(-0.3, 2.9), step=st.floats(0.0, 0.1))
def test_a_better_eye_never_makes_two_worse(one, other, step):
    worse = two_eyes.together_logmar(one + step, other)
    assert two_eyes.together_logmar(one, other) <= worse
    assert min(one, other) - two_eyes.GAIN_LOGMAR <= two_eyes.together_logmar(one, other)
    assert two_eyes.together_logmar(one, other) <= min(one, other)


@pytest.mark.parametrize(
    ("finding", "difference_d", "gains", "level"),
    [
        ({}, 0.0, True, "full"),
        ({"strabismus": "manifest"}, 0.0, False, "none"),
        ({"strabismus": UNKNOWN}, 0.0, False, "not known"),
        ({"amblyopia": "deep"}, 0.0, False, "none"),
        ({"fellow_amblyopia": "deep"}, 0.0, False, "none"),
        ({"fellow_amblyopia": "mild"}, 0.0, True, "reduced"),
        ({"fellow_eye": "none or blind"}, 0.0, False, "none"),
        ({"fellow_potential_acuity_logmar": 1.3}, 0.0, False, "none"),
        ({"fellow_potential_acuity_logmar": 0.5}, 0.0, True, "coarse"),
        ({}, 1.25, True, "reduced"),
        ({}, 2.0, False, "coarse"),
    ],
)
def test_what_two_eyes_do_together(finding, difference_d, gains, level):
    who = otherwise_healthy(finding)
    assert (two_eyes.gain_of(who, difference_d) > 0.0) == gains
    found = two_eyes.stereo_of(who, difference_d)
    assert found.level == level
    assert ("arc seconds" in str(found)) == (level in two_eyes.STEREO_ARCSEC)


def test_two_eyes_alike_read_a_little_more_than_one():
    one, both = (
        glasses_for(otherwise_healthy(found), LENS_OF["trifocal"], tasks=FAR)[0].acuity_logmar
        for found in (ONLY, {})
    )
    assert one - both == pytest.approx(two_eyes.GAIN_LOGMAR)


# --- what must hold ----------------------------------------------------------------------------

# wider or narrower pupils, another refraction, more years: neither is worse for every task
NO_ORDER = {
    *("photopic_pupil_mm", "mesopic_pupil_mm", "scotopic_pupil_mm", "refractive_laser"),
    *("fellow_eye", "dominance", "age_years", "refraction_d", "fellow_refraction_d"),
}
ORDERED = [name for name in FINDINGS if name not in NO_ORDER]


def some_values(name):
    kind = FINDINGS[name]
    if isinstance(kind, Graded):
        return list(kind.grades)
    values = {kind.low, kind.high, kind.best, (kind.low + kind.best) / 2.0}
    values |= {kind.best + part * kind.near for part in (1, 3, 6)}
    values |= {kind.best - part * kind.near for part in (1, 3, 6)}
    return sorted((v for v in values if kind.low <= v <= kind.high), key=kind.badness)


DRAWN = {name: some_values(name) for name in ORDERED}


def drawn_from(names):
    return st.dictionaries(st.sampled_from(names), st.none(), max_size=5).flatmap(
        lambda found: st.fixed_dictionaries(
            {name: st.sampled_from([*DRAWN[name], UNKNOWN]) for name in found}
        )
    )


def person(values, of_fellow):
    healthy = otherwise_healthy({"refraction_d": UNKNOWN, **values})
    mirrored = {name: UNKNOWN for name in FINDINGS if name.startswith("fellow_p")}
    mirrored["fellow_amblyopia"] = UNKNOWN
    return Patient(healthy.findings | mirrored | values, healthy.wishes, fellow_findings=of_fellow)


OF_FELLOW = [name for name in ORDERED if name in EYE_FINDINGS]


@given(
    values=drawn_from([n for n in ORDERED if not n.startswith("fellow_")]),
    of_fellow=drawn_from(OF_FELLOW),
    in_fellow=st.booleans(),
    lens_class=st.sampled_from(LENS_CLASSES),
    data=st.data(),
)
@MANY
def test_a_worse_finding_of_either_eye_never_makes_a_task_clearer(
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
        found.append(glasses_for(who, LENS_OF[lens_class], 0.0, -1.0))
    for better, worse in zip(*found, strict=True):
        assert better.clear or not worse.clear
        assert better.clear_with or not worse.clear_with
        if better.known and worse.known:
            assert worse.acuity_logmar >= better.acuity_logmar - 1e-9


def test_a_fellow_eye_of_unknown_potential_takes_nothing_from_what_the_other_does_with_glasses():
    before, after = (
        glasses_for(person({"residual_astigmatism_d": d}, {}), LENS_OF["monofocal"], 0.0, -1.0)
        for d in (0.0, 1.1)
    )
    at = next(n for n, glasses in enumerate(before) if glasses.task.name == "computer")
    assert not before[at].known  # the other eye, set for near, might do it without glasses
    assert after[at].clear_with
    assert before[at].clear_with


@pytest.mark.parametrize("why", ["for myopia", "for hyperopia"])
@pytest.mark.parametrize("lens_class", LENS_CLASSES)
def test_laser_earns_no_credit_at_any_distance(lens_class, why):
    before, after = (
        glasses_for(otherwise_healthy({"refractive_laser": laser}), LENS_OF[lens_class])
        for laser in ("none", why)
    )
    for better, worse in zip(before, after, strict=True):
        assert worse.acuity_logmar >= better.acuity_logmar


def test_many_eyes_at_once_see_as_each_alone():
    rng = np.random.default_rng(2)
    n = 9
    parts = {
        "pupil_mm": {"bright": rng.uniform(2, 4, n), "dim": rng.uniform(3, 5, n), "night": 5.2},
        "best_logmar": rng.uniform(-0.1, 0.4, n),
        "residual_cylinder_d": rng.uniform(0, 2, n),
        "aberration_d": rng.uniform(0, 0.5, n),
        "decentration_mm": rng.uniform(0, 1, n),
        "contrast_divisor": rng.uniform(1, 2, n),
        "corneal_sa_um": np.where(np.arange(n) % 2, 0.27, 0.6),
    }
    [whole], shape = in_light((EyeWithLens(LENS_OF["bifocal"], -0.25, Limits(**parts)),), "dim")
    assert shape == (n,)
    together = whole.logmar(np.full((1, n), -1.5))[0]
    for at in range(n):
        own = {
            name: {k: np.atleast_1d(v)[at % np.size(v)] for k, v in part.items()}
            if isinstance(part, dict)
            else part[at]
            for name, part in parts.items()
        }
        [alone], _ = in_light((EyeWithLens(LENS_OF["bifocal"], -0.25, Limits(**own)),), "dim")
        assert alone.logmar(np.array([[-1.5]]))[0, 0] == pytest.approx(together[at], abs=1e-12)


@pytest.mark.parametrize(
    ("call", "says"),
    [
        (lambda: Limits(pupil_mm=30), "pupil_mm is 30 mm"),
        (lambda: Limits(pupil_mm={"bright": 3}), "bright, dim, night"),
        (lambda: Limits(contrast_divisor=0.5), "Half of it is 2"),
        (lambda: Limits(potential_known=1), "neither True nor False"),
        (lambda: EyeWithLens("monofocal"), "give a lens"),
        (lambda: EyeWithLens(LENS_OF["monofocal"], 5.0), "Myopia is negative"),
        (lambda: EyeWithLens(LENS_OF["monofocal"], 0.0, {}), "give Limits"),
        (lambda: limits_of({}), "a Patient"),
        (lambda: two_eyes.gain_of(Patient(), -1.0), "without a sign"),
    ],
)
def test_a_wrong_value_is_answered_with_one_sentence(call, says):
    with pytest.raises(ValueError, match=says):
        call()
