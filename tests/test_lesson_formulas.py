"""Lesson formulas: its numbers, its sliders, its pictures."""

import numpy as np
import pytest

from shared_utils.cases import formulas as cases
from shared_utils.optics.vergence import at_vertex
from shared_utils.power import formulas
from shared_utils.power.biometry import Eye
from shared_utils.power.lens_constants import LensConstants
from shared_utils.power.lens_steps import nearest_power
from shared_utils.show import formulas as figures
from tests.prose import says

STEM = "formulas"
LENS = LensConstants.from_a_constant(118.6)
AVERAGE = Eye(23.5, 43.5, acd_mm=3.15)


def test_what_half_a_millimetre_costs():
    deeper = [
        cases.compute_vergence_gap(length_mm, 43.5, 5.7).lens_d
        - cases.compute_vergence_gap(length_mm, 43.5, 5.2).lens_d
        for length_mm in (23.5, 21.0, 28.0)
    ]
    phrase = "1.0 D of lens in an average eye, 1.7 D at 21 mm, 0.3 D at 28 mm"
    says(STEM, phrase, *deeper, digits=1)


def test_who_moves_with_a_flat_cornea():
    shifts = cases.compute_expected_positions(23.5, 42.0, 3.15).shifts_mm
    says(
        STEM,
        "by −0.27, −0.18 and −0.09 mm",
        *(shifts[name] for name in ("srk_t", "holladay_1", "hoffer_q")),
    )
    assert shifts["fyodorov"] == shifts["binkhorst_2"] == shifts["haigis"] == 0.0


def test_the_numbers_of_constants_and_steps():
    low, up = (LensConstants.from_a_constant(a) for a in (118.1, 119.1))  # around the examples'
    deeper_mm = (
        formulas.steps(AVERAGE, "srk_t", up).elp_mm - formulas.steps(AVERAGE, "srk_t", low).elp_mm
    )
    says(STEM, "In SRK/T it is 0.62 mm deeper", deeper_mm)
    stronger_d = formulas.iol_power(AVERAGE, "srk_t", up) - formulas.iol_power(
        AVERAGE, "srk_t", low
    )
    says(STEM, "about 1.2 D of lens, or 0.8 D", stronger_d, digits=1)
    slope_d = formulas.predicted_refraction(AVERAGE, "srk_t", up, 20.5)
    slope_d -= formulas.predicted_refraction(AVERAGE, "srk_t", low, 20.5)
    says(STEM, "about 1.2 D of lens, or 0.8 D", slope_d, digits=1)
    more_d = formulas.iol_power(AVERAGE, "haigis", LENS) - formulas.iol_power(
        AVERAGE, "srk_t", LENS
    )
    says(STEM, "asks for about 1 D more", more_d, digits=0)
    one_step = formulas.predicted_refraction(AVERAGE, "srk_t", LENS, np.array([20.5, 21.0]))
    says(STEM, "a step of 0.50 D is worth about", 0.5)
    assert np.diff(one_step)[0] == pytest.approx(-0.35, abs=0.01)
    says(STEM, "20.80 D are computed for zero", formulas.iol_power(AVERAGE, "srk_t", LENS))


def test_the_numbers_of_the_items():
    says(STEM, "is −2.43 D at the cornea", at_vertex(-2.5, 12.0, 0.0))


def test_the_case():
    asked = cases.three_formula_steps(22.16, 42.00, 118.6, 27.0)
    orders = [nearest_power(value) for _, _, value, _ in asked[:3]]
    says(STEM, "SRK/T **26.5 D**, Holladay 1 **27.0 D**, Hoffer Q **27.5 D**", *orders, digits=1)
    says(STEM, "differ by 0.9 D of lens", asked[2][2] - asked[0][2], digits=1)
    assert all(abs(left_d) < 0.4 for _, _, left_d, _ in asked[3:])
    weaker = cases.three_formula_steps(22.16, 42.00, 118.6, 26.5)
    says(STEM, "26.5 D would risk +0.70 D", weaker[5][2])
    three = [
        formulas.steps(Eye(22.16, 42.0), name, LENS).elp_mm
        - formulas.steps(AVERAGE, name, LENS).elp_mm
        for name in ("srk_t", "holladay_1", "hoffer_q")
    ]
    assert three == sorted(three)  # SRK/T farthest forward, Hoffer Q deepest


def test_worked_steps_end_in_what_the_formulas_give():
    by_hand = cases.holladay_steps(24.3, 44.0, 1.6)[-1][2]
    lens = LensConstants.from_surgeon_factor(1.6)
    assert by_hand == pytest.approx(formulas.iol_power(Eye(24.3, 44.0), "holladay_1", lens))
    back = cases.backward_steps(24.3, 44.0, 1.6, by_hand)[-1][2]
    assert back == pytest.approx(0.0, abs=1e-9)
    haigis = cases.haigis_steps(23.5, 43.5, 3.15, 1.5269)
    assert haigis[-1][2] == pytest.approx(21.629, abs=0.001)  # the outside check table's eye


def test_the_gap_widens_with_depth_and_closes_where_no_lens_is_needed():
    depths = np.linspace(3.5, 7.0, 15)
    powers = [cases.compute_vergence_gap(23.5, 43.5, depth).lens_d for depth in depths]
    assert np.all(np.diff(powers) > 0.0)
    assert cases.compute_vergence_gap(1336 / 43.5, 43.5, 5.0).lens_d == pytest.approx(0.0, abs=1e-9)
    assert cases.compute_vergence_gap(32.0, 43.5, 5.0).lens_d < 0.0


@pytest.mark.parametrize("formula", cases.GUESSES)
def test_every_formula_asks_for_the_same_lens_in_the_average_eye(formula):
    data = cases.compute_expected_positions(23.5, 43.5, 3.15)
    assert data.powers_d[formula] == pytest.approx(20.6, abs=1e-6)
    assert data.shifts_mm[formula] == 0.0


def test_each_guess_looks_at_what_its_row_says():
    here = cases.compute_expected_positions(23.5, 43.5, 3.15).shifts_mm
    for changed, word in (
        (cases.compute_expected_positions(24.0, 43.5, 3.15), "length"),
        (cases.compute_expected_positions(23.5, 44.5, 3.15), " K"),
        (cases.compute_expected_positions(23.5, 43.5, 3.45), "chamber"),
    ):
        for formula, words in cases.GUESSES.items():
            moved = changed.shifts_mm[formula] > here[formula] + 1e-6
            assert moved == (word in words), (formula, word)


def test_the_step_ordered_is_the_nearest_and_follows_target_and_constant():
    data = cases.compute_lens_to_order(23.5, 118.6, 0.0)
    misses = np.abs(data.predicted_d)
    assert data.nearest == np.argmin(misses)
    myopic = cases.compute_lens_to_order(23.5, 118.6, -1.0)
    deeper = cases.compute_lens_to_order(23.5, 119.4, 0.0)
    assert myopic.nearest > data.nearest
    assert deeper.nearest > data.nearest
    assert np.all(np.diff(data.predicted_d) < 0.0)


def test_the_figures_say_what_they_show():
    shown = figures.vergences_along_the_eye()
    assert "+20.64 D" in shown.alt
    assert shown.figure.get_size_inches()[0] * shown.figure.dpi <= 700
    shown = figures.ladder([20.0, 20.5, 21.0], [0.39, 0.04, -0.31], -0.25)
    assert "+20.5 D leaves +0.04 D" in shown.alt
    assert "target −0.25 D" in shown.alt
    with pytest.raises(ValueError, match="two or more lenses"):
        figures.ladder([20.0], [0.39], 0.0)
    assert "51 at 5," in figures.gap_to_read(22.5, 43.0).alt
