"""The examination: numbers in the prose, the budget, a lens off centre, one finding by grade."""

import re

import numpy as np
import pytest
from scipy.stats import norm

from shared_utils.bank.items import bank
from shared_utils.bank.posed import pose
from shared_utils.cases import examination as cases
from shared_utils.choice import evidence
from shared_utils.choice.candidacy import VERDICTS, assess
from shared_utils.choice.findings import otherwise_healthy
from shared_utils.choice.rules import STRENGTHS
from shared_utils.choice.tasks import LENS_OF
from shared_utils.explore import examination as demos
from shared_utils.optics import centration, through_focus
from shared_utils.optics.lenses import LENS_CLASSES, diffractive_bifocal
from shared_utils.show import examination as figures
from tests.prose import says

STEM = "examination"
NOT_KNOWN = ("not looked for", "no map")


def verdicts(patient):
    return {advice.lens_class: advice.verdict for advice in assess(patient)}


def test_the_prose_says_what_the_code_computes():
    says(STEM, "0.15 log units, about 29 % less", 100 * (1 - 10**-0.15), digits=0)
    says(STEM, "the coma in µm is 2.1 times", centration.coma_um(1.0, 1.0), digits=1)
    says(STEM, "6.93 times the", centration.equivalent_defocus_d(1.0, 2.0))
    crossing = np.sqrt(0.27**2 - 0.07**2) / (2 * np.sqrt(10) / 3 * 0.20)  # Pythagoras, by hand
    says(STEM, "crossing lies near 0.62 mm", crossing)
    says(STEM, "crossing comes in to 0.31 mm", crossing / 2)
    halved = cases.contrast_budget(0, 50, 3.0).left("bifocal")
    says(STEM, "The picture says 23 % for the bifocal", 100 * halved, digits=0)


def test_the_bifocal_leaves_four_tenths():
    loss = through_focus.contrast_loss_log(diffractive_bifocal(), 3.0, 12.0)
    assert 10**-loss == pytest.approx(0.4, abs=0.05)


def test_losses_add_and_the_lens_costs_the_same_in_every_eye():
    healthy, sick = cases.contrast_budget(0, 100), cases.contrast_budget(20, 50)
    for name in LENS_CLASSES:
        assert healthy.left(name) == pytest.approx(10 ** -healthy.lens_log[name])
        assert sick.lens_log[name] == healthy.lens_log[name]
        assert sick.left(name) == pytest.approx(0.8 * 0.5 * healthy.left(name))
    assert healthy.left("monofocal") == 1.0
    ordered = [healthy.left(name) for name in LENS_CLASSES[:4]]
    assert ordered == sorted(ordered, reverse=True)


def test_the_trifocal_costs_her_more_than_a_step_more_than_the_extended_depth_lens():
    steps = {
        name: cases.budget_steps(name, 6, 75, 3.0)[4][2]
        for name in ("trifocal", "extended depth of focus")
    }
    more = steps["trifocal"] - steps["extended depth of focus"]
    says(STEM, "It costs 1.3 steps of the contrast chart less", more, digits=1)
    fine = [
        through_focus.contrast_loss_log(LENS_OF[name], 3.0, 12.0)
        for name in ("trifocal", "extended depth of focus")
    ]
    assert fine[0] < fine[1]  # "though more at fine detail"


def test_the_crossing_does_not_depend_on_the_size_of_an_aberration_that_is_cancelled():
    data = cases.lens_off_centre(0.0, 0.20, 6.0)
    assert data.crossing_mm == pytest.approx(3 / (2 * np.sqrt(10)), abs=0.011)
    narrow = cases.lens_off_centre(0.0, 0.20, 3.0)
    assert narrow.crossing_mm == pytest.approx(1.5 / (2 * np.sqrt(10)), abs=0.011)
    for body in cases.BODIES_UM:
        assert narrow.here_d[body] <= data.here_d[body] / 4 + 1e-12
    flat = cases.lens_off_centre(0.0, 0.05, 6.0)
    assert flat.crossing_mm is None
    assert flat.best == "neutral"


def test_a_worse_step_never_helps_a_class():
    for finding in cases.GRADES_OF_FINDING:
        for wish in demos.WANTS.values():
            ranks = []
            for step in range(1, 6):
                advised = cases.advice_on_finding(step, finding, wish).advised
                ranks.append([VERDICTS.index(a.verdict) for a in advised])
            grades = [grade for grade, _ in cases.GRADES_OF_FINDING[finding]]
            known = [r for r, grade in zip(ranks, grades, strict=True) if grade not in NOT_KNOWN]
            assert np.all(np.diff(known, axis=0) >= 0), finding
    assert cases.advice_on_finding(3, "aberration of the cornea, 6 mm", "accepts some").classes(
        "suits"
    ) == list(LENS_CLASSES)
    assert "trifocal" in cases.advice_on_finding(
        4, "aberration of the cornea, 6 mm", "accepts some"
    ).classes("with care")


def test_no_reason_is_cut_off():
    for finding in cases.GRADES_OF_FINDING:
        for step in range(1, 6):
            data = cases.advice_on_finding(step, finding, "content with glasses")
            lines = demos._reason(data)
            assert len(lines) <= demos.REASON_LINES
            reason = cases.weightiest(data.advised[-1])
            if reason:
                assert " ".join(lines).endswith(f"{reason.source}]"), (finding, step)


def test_the_patient_of_the_page():
    first, later = verdicts(cases.ON_THE_FIRST_DAY), verdicts(cases.SIX_WEEKS_LATER)
    assert "suits" not in first.values()
    assert [name for name, verdict in later.items() if verdict == "suits"] == [
        "extended depth of focus"
    ]
    assert later["trifocal"] == "with care"
    examine = [a.examine_first for a in assess(cases.ON_THE_FIRST_DAY)]
    assert all(any("tomography" in sentence for sentence in message) for message in examine)
    table = figures.advice_table(cases.SIX_WEEKS_LATER).data
    assert table.count('<th scope="row">') == 5
    assert "mild, stable disease is accepted" in table


def test_the_figure_says_what_the_rules_say():
    shown = figures.what_forgives_what()
    assert "moderate glaucoma, stable: monofocal suits" in shown.alt
    assert "lenses that split light in 0 of 24" in shown.alt
    for _, found in cases.ONE_FINDING:
        advised = assess(otherwise_healthy(found))
        assert cases.founded(advised) in STRENGTHS


def test_share_of_normal_corneas_beyond_the_gate():
    assert 100 * norm.sf(0.5, 0.479, 0.124) == pytest.approx(43, abs=0.5)


def test_share_of_people_beyond_the_habit_of_kappa():
    mean = evidence.effect("kappa, usual").value
    says(STEM, "its mean was 0.64 ± 0.27 mm", mean)
    says(STEM, "would turn away 70 of 100", 100 * norm.sf(0.5, mean, 0.27), digits=0)


def test_the_losses_to_read_are_told_and_the_sum_is_not():
    for seed in range(6):
        asked = pose(bank()["losses-to-read"], seed)
        alt = asked.shown_figure().alt
        for stage in ("cornea", "lens", "retina"):
            assert f"{asked.numbers[f'{stage}_log']:.2f}" in alt
        assert f"{asked.numbers['sum_log']:.2f}" not in alt
        assert "%" not in alt


def test_of_four_eyes_one_alone_has_readings_on_both_sides_of_the_gate():
    eyes_asked_for = set()
    for seed in range(12):
        asked = pose(bank()["readings-beside-a-gate"], seed)
        readings = cases.four_maps_um(*(asked.numbers[n] for n in asked.item.figure_with))
        both = [eye for eye, um in readings.items() if um.min() < cases.GATE_UM < um.max()]
        assert both == [asked.numbers["answer"]]
        eyes_asked_for |= set(both)
        reply = [float(word) for word in re.findall(r"0\.\d\d", asked.shown_figure().alt)]
        assert reply[1:] == [round(um, 2) for eye in (1, 2, 3, 4) for um in readings[eye]]
    assert len(eyes_asked_for) > 2
