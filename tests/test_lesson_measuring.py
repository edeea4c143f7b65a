"""Lesson 05: its numbers, its sliders, its pictures."""

import numpy as np
import pytest

from shared_utils.cases import measuring as cases
from shared_utils.power import axial_length, cornea, pseudophakia
from shared_utils.power.biometry import Eye
from shared_utils.power.formulas import iol_power, predicted_refraction
from shared_utils.power.lens_constants import LensConstants
from shared_utils.show import measuring as figures
from tests.prose import says

STEM = "measuring"
SENSITIVE = pseudophakia.sensitivities(Eye(23.5, 43.5), elp_mm=5.19)


def test_the_numbers_of_keratometry():
    usual = cases.compute_keratometer_reading(7.8, 0.83, 1.3375)
    says(STEM, "a back radius of 6.47 mm. The keratometer shows 43.27 D", 0.83 * 7.8, 43.269)
    assert usual.excess_d == pytest.approx(1.12, abs=0.01)
    ratios = np.linspace(0.95, 1.1, 1501)
    excess_d = cornea.thick_cornea(7.8, 7.8 * ratios).keratometry_excess_d
    says(STEM, "(ratio 1.02 here)", ratios[np.argmin(np.abs(excess_d))])
    says(STEM, "takes about 6 D away again", usual.true_d - 376 / 7.8, digits=0)


def test_the_numbers_of_the_rulers():
    says(STEM, "shows as 1.037 mm", 1.3445 / 1.3549 / 0.9571, digits=3)
    at_30 = cases.compute_length_reading(30.0, 4.6, "light")
    says(
        STEM,
        "It shows 30.24 mm, and a lens chosen for that leaves +0.36 D",
        at_30.read_mm,
        at_30.surprise_d,
    )
    oiled_us = axial_length.echo_time(23.5, 4.6, "silicone oil")
    assert 32.0 < axial_length.length_by_sound(oiled_us) < 33.0
    says(STEM, "Some 16 mm of oil take as long as 25 mm", 16 * 1555 / 980, digits=0)


def test_the_prices():
    says(STEM, "**2.7 D** for 1 mm of axial length", SENSITIVE.axial_length_mm, digits=1)
    says(STEM, "**1 D** for 1 D of keratometry", SENSITIVE.k_d, digits=0)
    says(STEM, "**1.3 D** for 1 mm of lens position", SENSITIVE.elp_mm, digits=1)
    says(STEM, "3.9 D for that millimetre", SENSITIVE.in_lens_power().axial_length_mm, digits=1)
    says(STEM, "is worth only 0.7 D", SENSITIVE.iol_power_d, digits=1)
    says(STEM, "That is about 5.5 D at the spectacles", SENSITIVE.radius_mm, digits=1)
    per_mm = [cases.compute_cost_per_mm(mm) for mm in (20.0, 23.5, 30.0)]
    says(STEM, "3.9 D/mm at 20 mm, 2.7 at 23.5, 1.5 at 30", *per_mm, digits=1)
    lens = LensConstants.from_a_constant(118.6)
    eye = Eye(23.5, 43.5, acd_mm=3.15)
    deeper = iol_power(Eye(23.5, 43.5, acd_mm=4.15), "haigis", lens)
    says(
        STEM,
        "the price is about 0.6 D/mm",
        predicted_refraction(eye, "haigis", lens, deeper),
        digits=1,
    )
    # over the errors that are drawn, the price times the error is right to a tenth of a dioptre
    for error_mm in (0.12, 0.32):
        left_d = cases.compute_refractive_surprise(20.0, "length", -error_mm)
        assert left_d == pytest.approx(-3.8 * error_mm, abs=0.1)
    between = cases.compute_refractive_surprise(22.7, "length", 0.6)
    says(STEM, "shown as some 1.7 D", between, digits=1)


def test_the_case():
    steps = cases.second_reading_steps(21.90, 22.28, 44.0)
    left_d = steps[4][2]
    assert -1.5 < left_d < -1.0  # "more than a dioptre of myopia"
    mean_d = cases.second_reading_steps((21.90 + 22.28) / 2, 22.28, 44.0)[4][2]
    assert mean_d == pytest.approx(left_d / 2, abs=0.03)  # "still half of it"
    says(STEM, "His eyes differ by 0.41 mm", 22.31 - 21.90)


def test_the_numbers_of_the_set():
    says(
        STEM,
        "leave about −0.7 D in each",
        cases.compute_refractive_surprise(23.1, "length", -0.25),
        digits=1,
    )
    assert cases.compute_refractive_surprise(22.6, "length", 0.5) > 1.0  # "well over a dioptre"


def test_prices_agree_with_the_slopes_for_small_errors():
    for length_mm in (20.0, 23.5, 28.0):
        elp_mm = cases.holladay_1(Eye(length_mm, 43.5), cases.LENS).elp_mm
        slopes = pseudophakia.sensitivities(Eye(length_mm, 43.5), elp_mm)
        # a lens chosen for a wrong number errs against the refraction's own change
        for name, slope in (
            ("length", slopes.axial_length_mm),
            ("k", slopes.k_d),
            ("position", slopes.elp_mm),
        ):
            assert cases.compute_refractive_surprise(length_mm, name, 1e-4) / 1e-4 == pytest.approx(
                -slope, rel=1e-3
            )


def test_prices_fall_with_length_but_for_keratometry():
    lengths_mm = np.linspace(20.0, 32.0, 25)
    assert np.all(np.diff(cases.compute_refractive_surprise(lengths_mm, "length", 0.3)) < 0.0)
    assert np.all(np.diff(cases.compute_refractive_surprise(lengths_mm, "position", 0.3)) > 0.0)
    by_k = cases.compute_refractive_surprise(lengths_mm, "k", 0.3)
    np.testing.assert_allclose(by_k, by_k[0], atol=0.005)
    assert cases.compute_refractive_surprise(23.5, "length", 0.0) == pytest.approx(0.0, abs=1e-9)


def test_rulers_err_least_in_an_average_eye_and_a_probe_reads_short():
    for name in ("sound", "light"):
        short, average, long = (
            cases.compute_length_readings(mm, 4.6)[name] - mm for mm in (20.0, 23.5, 30.0)
        )
        assert abs(average) < 0.03
        assert short < -0.03
        assert long > 0.08
    read = cases.compute_length_readings(22.0, 4.6)
    assert read["touching sound"] == pytest.approx(read["sound"] - 0.2)
    assert read["segments"] == 22.0


def test_the_ratio_decides_how_wrong_a_reading_is():
    excess_d = [
        cases.compute_keratometer_reading(7.8, r, 1.3375).excess_d for r in (0.7, 0.83, 1.0, 1.1)
    ]
    assert np.all(np.diff(excess_d) < 0.0)
    assert excess_d[1] > 1.0 > 0.0 > excess_d[3]


def test_the_figures_say_what_they_show():
    shown = figures.where_the_rulers_end()
    assert "7.8 mm" in shown.alt
    assert "0.25 mm apart" in shown.alt
    shown = figures.a_scan([0.0, 4.0, 9.6, 30.2])
    assert "2 front of the lens at 4.0 µs" in shown.alt
    assert shown.figure.get_size_inches()[0] * shown.figure.dpi <= 700
    with pytest.raises(ValueError, match="in the order of the echoes"):
        figures.a_scan([0.0, 9.6, 4.0, 30.2])
    assert "3.9 at 20" in figures.price_to_read().alt
    assert "2 front of the lens at 4.0 µs" in figures.echoes_to_read().alt
