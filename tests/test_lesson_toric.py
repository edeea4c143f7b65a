"""Lesson toric: what its sliders and figures must obey, and the numbers in its prose."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from shared_utils.cases import toric as cases
from shared_utils.explore import toric as demos
from shared_utils.optics.vergence import propagate
from shared_utils.power import toric
from shared_utils.show import toric as figures
from tests.prose import says

STEM = "toric"
sizes = st.floats(0.5, 3.0)


@given(size=st.floats(0.0, 3.0), meridian=st.floats(5.0, 180.0))
def test_the_whole_cornea_lies_towards_against_the_rule(size, meridian):
    """Abulafia & Koch: 0.508 D at 180 more, less 7 % of what is there."""
    data = cases.compute_total_cornea(size, meridian, "abulafia_koch")
    before, after = (np.array(toric.double_angle(a)) for a in (data.measured, data.total))
    assert after[0] - before[0] == pytest.approx(0.508 - 0.074 * before[0], abs=1e-9)


@given(cornea=st.floats(39.0, 48.0), elp=st.floats(4.0, 7.0))
def test_the_ratio_is_that_of_two_meridians_carried_to_the_lens(cornea, elp):
    """Second route: carry two corneal powers a little apart to the lens and take differences."""
    gap_d = 1e-4
    strong, weak = (propagate(p, elp / 1000, 1.336) for p in (cornea + gap_d, cornea - gap_d))
    assert cases.cylinder_ratio(cornea, elp) == pytest.approx(
        (strong - weak) / (2 * gap_d), rel=1e-5
    )


def test_the_ratio_rises_with_depth_and_with_the_cornea():
    assert np.all(np.diff(cases.cylinder_ratio(43.0, cases.POSITIONS_MM)) > 0)
    assert cases.cylinder_ratio(44.0, 5.0) > cases.cylinder_ratio(43.0, 5.0)


@given(cornea=sizes, lens=sizes, turn=st.floats(0.0, 90.0))
def test_what_remains_obeys_the_law_of_cosines_and_keeps_the_equivalent(cornea, lens, turn):
    data = cases.compute_turned_lens(cornea, lens, turn)
    twice = np.cos(np.radians(2 * turn))
    square = cornea**2 + lens**2 - 2 * cornea * lens * twice
    assert data.size_d == pytest.approx(np.sqrt(max(square, 0.0)), abs=1e-6)
    assert data.remaining.spherical_equivalent_d == pytest.approx(0.0, abs=1e-9)
    drawn = np.interp(turn, cases.TURNS_DEG, data.remaining_d)
    assert data.size_d == pytest.approx(drawn, abs=0.01)


@pytest.mark.parametrize("turn", [5.0, 10.0, 20.0])
def test_a_small_turn_leaves_a_cylinder_45_degrees_off(turn):
    """Steep at 90 + turn/2 − 45, as textbooks say (Næser; from memory)."""
    left = cases.compute_turned_lens(2.0, 2.0, turn).remaining
    assert left.axis_deg == pytest.approx(90 + turn / 2 - 45)


def test_the_sentence_says_when_nothing_is_gained():
    say = demos.turned_lens().sentence
    assert "as much as with no toric lens" in say(cases.compute_turned_lens(2.0, 2.0, 30.0))
    assert "more than with no toric lens" in say(cases.compute_turned_lens(2.0, 2.0, 31.0))
    assert "35 % of what" in say(cases.compute_turned_lens(2.0, 2.0, 10.0))


@given(centroid=st.floats(0, 1), meridian=st.floats(5, 180), scatter=st.floats(0.05, 0.6))
def test_a_series_has_the_centroid_and_the_scatter_it_was_given(centroid, meridian, scatter):
    data = cases.compute_series(centroid, meridian, scatter)
    assert np.hypot(*data.statistics.mean_xy_d) == pytest.approx(centroid, abs=1e-9)
    np.testing.assert_allclose(data.statistics.sd_xy_d, scatter)
    assert data.mean_size_d >= centroid - 1e-9


def test_sizes_of_a_series_without_direction_have_the_mean_of_rayleigh():
    """Gaussian in both directions: mean size √(π/2) σ; 40 eyes come within a tenth of it."""
    data = cases.compute_series(0.0, 90.0, 0.4)
    assert data.mean_size_d == pytest.approx(np.sqrt(np.pi / 2) * 0.4, rel=0.1)
    assert not data.zero_is_outside
    assert cases.compute_series(1.0, 90.0, 0.4).zero_is_outside


def test_the_worked_plan_uses_the_regression_that_the_power_floor_has():
    for flat, steep, meridian in ((43.0, 44.25, 180), (42.5, 44.75, 90)):
        steps = cases.plan_steps(flat, steep, meridian, 5.2)
        total = cases.compute_total_cornea(steep - flat, meridian, "abulafia_koch").total
        assert abs(steps[2][2]) == pytest.approx(total.cylinder_d, abs=1e-3)
        assert steps[5][2] % cases.CYLINDER_STEP_D == pytest.approx(0.0)
        assert abs(steps[5][2] - steps[4][2]) <= cases.CYLINDER_STEP_D / 2 + 1e-9


def test_figures_say_what_to_conclude():
    assert "less than the front alone shows" in figures.front_and_back().alt
    assert "centroid is 0.88 D at 178" in figures.how_to_read().alt
    for figure in (figures.front_and_back(), figures.how_to_read()):
        assert figure.figure.get_size_inches()[0] * figure.figure.dpi <= 700


def test_numbers_in_the_prose_are_those_of_the_code():
    expect = {
        meridian: cases.compute_total_cornea(0.5, meridian, "abulafia_koch").total.cylinder_d
        for meridian in (90, 180)
    }
    says(STEM, "0.508 − 0.926 · 0.50 = 0.05 D", expect[90])
    says(STEM, "The same 0.50 D at 180 becomes 0.97 D.", expect[180])
    says(STEM, "About 1.44 in an average eye.", cases.cylinder_ratio(43.0, 5.2))
    says(STEM, "The true ratio there is about 1.37", cases.cylinder_ratio(43.0, 4.5))
    says(STEM, "sin 10° is 0.69 D", toric.misaligned_cylinder(2.0, 2.0, 10.0))
    steps = cases.plan_steps(43.0, 44.25, 180, 5.2)
    says(STEM, "**Order 2.25 D.**", steps[5][2])
    naive_d = round((44.25 - 43.0) * steps[3][2] / 0.75) * 0.75
    says(
        STEM,
        "you would have ordered 1.50 D and left 0.63 D",
        naive_d,
        steps[2][2] - naive_d / steps[3][2],
    )
    both = [
        cases.compute_total_cornea(1.25, m, "abulafia_koch").total.cylinder_d for m in (90, 180)
    ]
    says(STEM, "a regression expects 0.65 and 1.67 D", *both)
    says(STEM, "leaves 0.57 D", cases.cylinder_after_turn(43.0, 44.25, 180, 5.2, 10.0))
    says(
        STEM,
        "√(1.67² + 1.56² − 2 · 1.67 · 1.56 · cos 20°)",
        steps[2][2],
        steps[6][2],
    )
