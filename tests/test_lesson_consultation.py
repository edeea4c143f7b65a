"""The consultation: numbers in the prose, the order, the plan for two eyes, a hundred people."""

import numpy as np
import pytest
from scipy.stats import norm

from shared_utils.bank.items import bank
from shared_utils.bank.posed import pose
from shared_utils.cases import consultation as cases
from shared_utils.cases.light import MOON_ARCMIN, MOON_MRAD
from shared_utils.cases.sheet import rings_mrad
from shared_utils.choice import candidacy, evidence, tasks
from shared_utils.choice.outlook import outlook_for
from shared_utils.choice.tasks import LENS_OF
from shared_utils.optics import through_focus
from shared_utils.power import biometry
from shared_utils.power.formulas import iol_power
from shared_utils.show import consultation as figures
from tests.prose import says

STEM = "consultation"
EXTENDED, ENHANCED = "extended depth of focus", "enhanced monofocal"


def clear(offset_d, lens_class):
    return sum(cases.plan_for_two_eyes(offset_d, lens_class).clear.values())


def test_the_prose_says_what_the_code_computes():
    right = cases.order_steps(cases.RIGHT.patient.eye, 0.0)
    says(STEM, "20.64 D for her right eye", right[0][2])
    says(STEM, "about 79 of 100 eyes end within ±0.50 D", 100 * (2 * norm.cdf(1.25) - 1), digits=0)
    weak, strong = cases.lens_ordered(20.5, 0.4), cases.lens_ordered(21.0, 0.4)
    phrase = "Lens 20.5 D should leave +0.10 D, lens 21.0 D −0.25 D"
    says(STEM, phrase, weak.predicted_d, strong.predicted_d)
    says(
        STEM, "end 78 with the first and 70 with", 100 * weak.within, 100 * strong.within, digits=0
    )
    assert (round(100 * weak.hyperopic), round(100 * strong.hyperopic)) == (16, 3)
    left = cases.order_steps(cases.LEFT_EYE, -0.5)
    says(STEM, "The formula says 21.45 D", left[0][2])
    says(STEM, "lens you order should leave −0.53 D", left[2][2])
    says(STEM, "right 20.5 D for far, left 21.5 D", right[1][2], left[1][2], digits=1)
    assert cases.plan_for_two_eyes(0.0, EXTENDED).ring_arcmin == 0.0
    two, three = 5.4 * tasks.BIFOCAL_ADD_D / MOON_MRAD, 5.4 * 2.5 / MOON_MRAD
    phrase = "that is 1.5 moons with three foci at 2.5 D, 1.7 with two at 2.75 D"
    says(STEM, phrase, three, two + 1e-9, digits=1)
    for name, moons in (("bifocal", two), ("trifocal", three)):
        ring = cases.plan_for_two_eyes(0.0, name).ring_arcmin / MOON_ARCMIN
        assert ring == pytest.approx(moons, abs=0.01)
    says(
        STEM,
        "4 people of 100 at a base of 2 and 61 at a base of 34",
        cases.HundredPeople(2, 2.8).through_lens,
        cases.HundredPeople(34, 2.8).through_lens,
        digits=0,
    )
    stretched = evidence.effect("stretched, no glasses").of_100()
    says(STEM, "of 100 about 12 do without with one focus", stretched["base"], digits=0)
    changed = [
        evidence.effect(key).of_100()["value"]
        for key in ("exchanged, of complaints", "exchanged, of later complaints")
    ]
    phrase = "a multifocal 4 of 100 got another lens in one series and 7 in another"
    says(STEM, phrase, changed[0], 100, changed[1], digits=0)
    capsule = [
        evidence.effect(f"capsule, {which}").of_100()["value"]
        for which in ("multifocal", "monofocal")
    ]
    phrase = "in 16 of 100 eyes with a multifocal and in 6 with a monofocal"
    says(STEM, phrase, capsule[0], 100, capsule[1], digits=0)
    shadow = evidence.effect("dark shadow, lasting").value
    says(STEM, "stays in about 4 of 1 000 eyes", shadow, digits=0)
    says(
        STEM,
        "perhaps 34, and the studies allow 13 to 90",
        *(stretched[name] for name in ("value", "low", "high")),
        digits=0,
    )
    says(
        STEM, "72 wear glasses all the same", 100 - cases.HundredPeople(10, 2.8).with_lens, digits=0
    )


def test_the_tail_of_the_registry_is_heavier_than_the_bell():
    """Lundström 2018: 72.7 and 93.0 %; by the table of the normal law z = 1.096, then 2.19."""
    spread_d = 0.5 / norm.ppf((1 + 0.727) / 2)
    assert spread_d == pytest.approx(0.5 / 1.096, abs=1e-3)
    bell = 100 * (2 * norm.cdf(1.0 / spread_d) - 1)
    says(STEM, "The bell curve promises 97 where", bell, digits=0)
    half, one = (
        evidence.effect(f"registry, within {far}").value
        for far in ("half a dioptre", "one dioptre")
    )
    says(STEM, "73 of 100 ended within ±0.50 D and 93 within", half / 10, one / 10, digits=0)
    assert one / 10 < bell - 4


def test_the_answers_of_the_page():
    assert clear(0.0, EXTENDED) == clear(0.5, ENHANCED) == 7
    assert clear(0.0, ENHANCED) == 5
    assert clear(0.5, "monofocal") < 7 == clear(0.75, "monofocal")
    assert (clear(1.0, EXTENDED), clear(0.0, "trifocal")) == (9, 9)
    contrast = {
        name: through_focus.contrast_loss_log(LENS_OF[name], 3.1, 12.0)
        for name in (ENHANCED, EXTENDED)
    }
    assert contrast[ENHANCED] < contrast[EXTENDED]  # "keeps more contrast"
    readers = {}
    for name, left_d in ((EXTENDED, 0.0), (ENHANCED, -0.5)):
        found = tasks.glasses_for(cases.RIGHT.patient, LENS_OF[name], 0.0, left_d)
        (fine,) = [one for one in found if one.task.name == "fine print in dim light"]
        readers[name] = fine.reader_d, fine.comfortable_reader_d
        assert fine.reader_d == max(one.reader_d for one in found if not one.clear)
    says(STEM, "weakest +1.50 D, comfortable +2.25 D with plan A", *readers[EXTENDED])
    says(STEM, "a reader for fine print, weakest +1.25 D, comfortable +2.00 D", *readers[ENHANCED])
    verdicts = {a.lens_class: a.verdict for a in candidacy.assess(cases.RIGHT.patient)}
    assert set(verdicts.values()) == {"suits", "with care"}
    assert [name for name, v in verdicts.items() if v == "with care"] == ["bifocal", "trifocal"]


def test_of_a_hundred_people_like_her_the_page_says_how_many():
    found = outlook_for(cases.RIGHT.patient, LENS_OF[ENHANCED], 0.0, -0.5)
    [phone] = [one for one in found if one.task.name == "phone at arm's length"]
    says(STEM, "with plan B 62 use a telephone", phone.of_100, digits=0)
    says(STEM, "as the model is good to a line, 26 to 88", phone.low, phone.high, digits=0)


def test_the_plan_shows_what_the_rules_of_the_lower_floors_say():
    for name, lens in LENS_OF.items():
        plan = cases.plan_for_two_eyes(0.0, name, 5.0)
        assert np.array_equal(plan.right_logmar, plan.left_logmar)
        rings = rings_mrad(lens, 5.0)
        widest = max((wide for wide, _ in rings), default=0.0)
        assert plan.ring_arcmin == pytest.approx(np.degrees(widest / 1000) * 60)
        assert cases.plan_for_two_eyes(0.0, name, 6.0).ring_arcmin >= plan.ring_arcmin
        assert cases.plan_for_two_eyes(1.0, name).left_logmar[0] >= plan.right_logmar[0]


def test_the_bell_holds_all_eyes():
    for power_d in (19.5, 20.5, 22.0):
        for sd_d in (0.3, 0.7):
            data = cases.lens_ordered(power_d, sd_d)
            myopic = norm.cdf(-0.5, data.predicted_d, sd_d)
            assert data.within + data.hyperopic + myopic == pytest.approx(1.0)
    powers = [cases.lens_ordered(d, 0.4).predicted_d for d in (20.0, 20.5, 21.0)]
    assert np.diff(powers) == pytest.approx([-0.34, -0.34], abs=0.02)


def test_srk_2_by_hand_is_near():
    ours = iol_power(cases.RIGHT.patient.eye, "srk_t", cases.CONSTANTS, 0.0)
    assert ours == pytest.approx(118.6 - 2.5 * 23.64 - 0.9 * 43.25, abs=0.25)


def test_nothing_asks_for_a_second_measurement():
    found = biometry.between_eyes(cases.RIGHT.patient.eye, cases.LEFT_EYE)
    assert not any(one.holds for one in found)
    assert not any(one.holds for one in biometry.screening(cases.RIGHT.patient.eye))


def test_a_hundred_people_stay_a_hundred():
    for base in (2, 17, 34):
        for times in (1.0, 2.9):
            data = cases.HundredPeople(base, times)
            assert 0 <= data.through_lens <= data.with_lens <= 100


def test_the_figures_and_the_sheet_say_what_was_computed():
    assert "20.5 D leaves +0.10 D" in figures.powers_side_by_side(cases.RIGHT).alt
    assert "−0.75 D" in figures.two_eyes(LENS_OF["monofocal"], 0.75, 3.1).alt
    table = figures.plans_table(cases.RIGHT, [(ENHANCED, -0.5), (EXTENDED, -1.0)]).data
    assert "7 of 10" in table
    assert "9 of 10" in table
    (plan,) = cases.compare_plans(cases.RIGHT, [(ENHANCED, -0.5)])
    assert f"{plan.reader_d:+.2f}/{plan.comfortable_reader_d:+.2f} D" in table
    split = figures.plans_table(cases.RIGHT, [("trifocal", 0.0)]).data
    assert "1.5 moons" in split
    page = figures.sheet_in_page(cases.PLANNED).data
    assert "srcdoc=" in page
    assert "not for patient care" in page
    assert "−0.50" in page


def test_the_ranges_to_read_are_told_in_dioptres_and_not_in_distances():
    for seed in range(6):
        asked = pose(bank()["two-ranges-to-read"], seed)
        shown = asked.shown_figure()
        right, left = shown.figure.axes[0].patches
        ends = [bar.get_x() + part * bar.get_width() for bar in (right, left) for part in (0, 1)]
        for end_d, name in zip(ends[1:], asked.item.figure_with, strict=True):
            assert end_d == pytest.approx(-asked.numbers[name])
            assert f"−{asked.numbers[name]:.1f} D" in shown.alt
        assert "cm" not in shown.alt


def test_the_people_to_read_are_a_hundred_and_as_many_as_told():
    for seed in range(6):
        asked = pose(bank()["people-to-read"], seed)
        shown = asked.shown_figure()
        drawn = [len(line.get_xdata()) for line in shown.figure.axes[0].lines]
        assert sum(drawn) == 100
        assert drawn[:2] == [asked.numbers["base_people"], asked.numbers["owed_people"]]
        assert all(f" {count} who" in shown.alt for count in drawn)
        assert "times" not in shown.alt
