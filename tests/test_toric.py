"""Toric lenses against hand-worked vectors, meridional vergence, and published abstracts."""

import tomllib
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from shared_utils.optics.sphero_cylinder import SpheroCylinder
from shared_utils.optics.vergence import at_vertex, propagate, vergence
from shared_utils.power import toric
from shared_utils.power.biometry import Eye

OUTSIDE = tomllib.loads(
    (Path(__file__).parent / "outside" / "astigmatism.toml").read_text(encoding="utf-8")
)

steep = st.builds(
    lambda size, axis: SpheroCylinder(-size / 2, size, axis), st.floats(0.2, 8), st.floats(0, 180)
)


def astigmatism(size_d, axis_deg):
    return SpheroCylinder(-size_d / 2.0, size_d, axis_deg)


def assert_astigmatism(found, wanted, tolerance_d, tolerance_deg):
    size_d, axis_deg = wanted
    assert found.cylinder_d == pytest.approx(size_d, abs=tolerance_d)
    assert found.spherical_equivalent_d == pytest.approx(0.0, abs=1e-12)
    gap = (found.axis_deg - axis_deg + 90.0) % 180.0 - 90.0
    assert abs(gap) <= tolerance_deg, (found.axis_deg, axis_deg)


# --- corneal astigmatism and induced astigmatism -------------------------------------------


@pytest.mark.parametrize(
    ("k1", "k2", "axis", "steep_axis"),
    [(43.0, 44.5, 180, 90), (44.5, 43.0, 90, 90), (43.0, 44.5, 10, 100), (44.5, 43.0, 180, 180)],
)
def test_the_plus_axis_lies_on_the_steep_meridian(k1, k2, axis, steep_axis):
    found = toric.corneal_astigmatism(Eye(23.5, k1, k2, k1_axis_deg=axis))
    assert_astigmatism(found, (1.5, steep_axis), 1e-12, 1e-9)


def test_with_the_rule_cornea_is_corrected_by_a_minus_cylinder_at_180():
    """Textbook: steep vertical meridian, correcting minus cylinder horizontal."""
    found = toric.corneal_astigmatism(Eye(23.5, 43.0, 44.5, k1_axis_deg=180)).minus_form()
    assert (found.cylinder_d, found.axis_deg) == (-1.5, 180.0)


@pytest.mark.parametrize("missing", ["k2_d", "k1_axis_deg"])
def test_astigmatism_of_a_half_measured_eye_is_refused(missing):
    given_fields = {"k2_d": 44.0, "k1_axis_deg": 90.0}
    del given_fields[missing]
    with pytest.raises(ValueError, match=f"{missing} of the eye is missing"):
        toric.corneal_astigmatism(Eye(23.5, 43.0, **given_fields))


def test_induced_astigmatism_as_published():
    sheet = OUTSIDE["induced"]
    found = toric.induced(astigmatism(*sheet["before"]), astigmatism(*sheet["after"]))
    assert_astigmatism(found, sheet["induced"], sheet["tolerance_d"], sheet["tolerance_deg"])


@given(before=steep, after=steep)
def test_induced_size_is_the_law_of_cosines(before, after):
    turn = np.radians(2.0 * (before.axis_deg - after.axis_deg))
    a, b = before.cylinder_d, after.cylinder_d
    size = np.sqrt(max(a * a + b * b - 2.0 * a * b * np.cos(turn), 0.0))
    assert toric.induced(before, after).cylinder_d == pytest.approx(size, abs=1e-6)


@given(before=steep, after=steep)
def test_what_surgery_made_and_what_was_before_give_what_is_after(before, after):
    again = (before + toric.induced(before, after)).plus_form()
    np.testing.assert_allclose(toric.double_angle(again), toric.double_angle(after), atol=1e-9)


@given(one=steep)
def test_double_angle_there_and_back(one):
    x_d, y_d = toric.double_angle(one)
    angle = np.radians(2.0 * one.axis_deg)
    assert x_d == pytest.approx(one.cylinder_d * np.cos(angle), abs=1e-9)
    assert y_d == pytest.approx(one.cylinder_d * np.sin(angle), abs=1e-9)
    assert toric.double_angle(one.transposed()) == pytest.approx((x_d, y_d), abs=1e-9)
    back = toric.from_double_angle(x_d, y_d)
    assert_astigmatism(back, (one.cylinder_d, one.axis_deg), 1e-9, 1e-6)


# --- posterior cornea ------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("regression", "case"),
    [(name, case) for name in toric.REGRESSIONS for case in OUTSIDE[name]["cases"]],
)
def test_regressions_as_published(regression, case):
    sheet = OUTSIDE[regression]
    found = toric.total_from_keratometry(astigmatism(*case["measured"]), regression)
    assert_astigmatism(found, case["total"], sheet["tolerance_d"], sheet.get("tolerance_deg", 1e-9))


@given(one=steep)
def test_regressions_add_about_the_published_mean_against_the_rule(one):
    """What the regressions take for the posterior cornea of a usual eye is what was measured."""
    sheet = OUTSIDE["posterior_direction"]
    if not 0.5 <= one.cylinder_d <= 2.0:
        return
    x_d, _ = toric.double_angle(one)
    for name in ("abulafia_koch", "eom"):
        added, _ = toric.double_angle(toric.total_from_keratometry(one, name))
        assert sheet["lowest_mean_d"] <= added - x_d <= sheet["highest_mean_d"]


def test_a_cornea_without_astigmatism_becomes_half_a_dioptre_against_the_rule():
    """Abulafia & Koch: the constant of the regression, 0.508 D, near 180."""
    total = toric.total_from_keratometry(astigmatism(0.0, 180), "abulafia_koch")
    assert_astigmatism(total, (0.508, 0.5), 1e-3, 0.06)


def test_goggin_s_factors_leave_oblique_astigmatism_and_no_other_axis():
    oblique = toric.total_from_keratometry(astigmatism(1.3, 50), "goggin")
    assert_astigmatism(oblique, (1.3, 50.0), 1e-9, 1e-6)
    with_the_rule = toric.total_from_keratometry(astigmatism(1.0, 80), "goggin")
    assert_astigmatism(with_the_rule, (0.75, 80.0), 1e-9, 1e-6)


def test_a_small_result_has_no_meaningful_axis():
    total = toric.total_from_keratometry(astigmatism(0.5, 90), "abulafia_koch")
    assert total.cylinder_d == pytest.approx(0.046, abs=1e-3)
    assert not total.axis_is_meaningful
    assert "×" not in total.written()
    assert toric.rule_class(total) == "none"


@pytest.mark.parametrize(
    ("axis", "rule"),
    [(90, "with"), (60, "with"), (120, "with"), (180, "against"), (30, "against"),
     (150, "against"), (45, "oblique"), (59, "oblique"), (121, "oblique"), (135, "oblique")],
)  # fmt: skip
def test_rule_classes(axis, rule):
    assert toric.rule_class(astigmatism(1.0, axis)) == rule


def test_rule_classes_of_an_array():
    found = toric.rule_class(SpheroCylinder(0.0, [1.0, 1.0, 0.05], [90.0, 180.0, 90.0]))
    assert found.tolist() == ["with", "against", "none"]


def test_an_unknown_regression_is_refused():
    with pytest.raises(ValueError, match=r"regression is 'koch'; give one of: abulafia_koch"):
        toric.total_from_keratometry(astigmatism(1.0, 90), "koch")


# --- ratio between the planes -----------------------------------------------------------------


def test_ratio_rises_with_lens_position_as_recomputed():
    sheet = OUTSIDE["cylinder_ratio"]
    eye = Eye(23.5, sheet["cornea_d"])
    found = toric.cylinder_ratio(eye, np.array(sheet["elp_mm"]), corneal_index=1.3375)
    np.testing.assert_allclose(found, sheet["ratio"], atol=sheet["tolerance"])


eyes = st.builds(Eye, st.floats(20, 30), st.floats(38, 50), st.floats(38, 50))


@given(eye=eyes, elp=st.floats(3, 7), target=st.floats(-4, 4))
def test_ratio_is_the_difference_of_two_meridional_lens_powers(eye, elp, target):
    """Second route: solve each meridian for its own lens by stepping vergences."""
    if abs(eye.k1_d - eye.k2_d) < 0.1:
        return

    def lens_d(k_d):
        cornea_d = 1000.0 * (4 / 3 - 1.0) / (337.5 / k_d)
        arrives = propagate(at_vertex(target, 12.0, 0.0) + cornea_d, elp / 1000.0, 1.336)
        return vergence((eye.axial_length_mm - elp) / 1000.0, 1.336) - arrives

    at_cornea = (eye.k1_d - eye.k2_d) * (1000.0 / 3.0) / 337.5
    ratio = -(lens_d(eye.k1_d) - lens_d(eye.k2_d)) / at_cornea
    assert toric.cylinder_ratio(eye, elp, target_d=target) == pytest.approx(ratio, rel=1e-8)


@given(k=st.floats(40, 48), cylinder=st.floats(0, 6), elp=st.floats(4, 6))
def test_the_approximation_is_good_to_a_hundredth_up_to_6_d(k, cylinder, elp):
    eye = Eye(23.5, k - cylinder / 2, k + cylinder / 2)
    exact = toric.cylinder_ratio(eye, elp)
    assert abs(exact - toric.cylinder_ratio_approximate(eye, elp)) < 0.01


def test_the_target_counts_at_the_cornea():
    """−4 D at 12 mm is −3.817 D at the cornea, where it takes as much from the corneal power."""
    eye, flatter = Eye(23.5, 44.0), Eye(23.5, 44.0 - 4.0 / 1.048)
    at_spectacles = toric.cylinder_ratio(eye, 5.0, target_d=-4.0, corneal_index=1.3375)
    wanted = toric.cylinder_ratio(flatter, 5.0, corneal_index=1.3375)
    assert at_spectacles == pytest.approx(wanted, abs=1e-9)
    at_cornea = toric.cylinder_ratio(eye, 5.0, -4.0 / 1.048, vertex_mm=0.0, corneal_index=1.3375)
    assert at_cornea == pytest.approx(wanted, abs=1e-9)
    approximate = toric.cylinder_ratio_approximate(eye, 5.0, target_d=-4.0, corneal_index=1.3375)
    assert approximate == pytest.approx(wanted, abs=1e-9)


def test_ratio_and_approximation_meet_without_astigmatism():
    eye = Eye(23.5, 43.0, 43.0)
    exact = toric.cylinder_ratio(eye, 5.0)
    assert exact == pytest.approx(toric.cylinder_ratio_approximate(eye, 5.0), abs=1e-12)
    assert exact == toric.cylinder_ratio(Eye(23.5, 43.0), 5.0)


def test_a_lens_at_the_cornea_would_need_no_ratio():
    near, far = (toric.cylinder_ratio(Eye(23.5, 43.0), elp) for elp in (2.0, 4.0))
    assert 1.0 < near < 1.2 < far


@given(k=st.floats(38, 48), elp=st.floats(3, 6.5))
def test_ratio_rises_with_lens_position_and_corneal_power(k, elp):
    here = toric.cylinder_ratio(Eye(23.5, k), elp)
    assert toric.cylinder_ratio(Eye(23.5, k), elp + 0.1) > here
    assert toric.cylinder_ratio(Eye(23.5, k + 0.5), elp) > here > 1.0


# --- misalignment -----------------------------------------------------------------------------


def test_a_third_of_the_cylinder_is_left_at_ten_degrees():
    sheet = OUTSIDE["misalignment"]
    left = toric.residual(astigmatism(2.0, 90), 2.0, 100.0)
    assert -left.cylinder_d / 2.0 == pytest.approx(
        sheet["ten_degrees_fraction"], abs=sheet["tolerance"]
    )


@given(corneal=st.floats(0.5, 5), ratio=st.floats(0.2, 1.9))
def test_the_turn_that_annuls_the_correction_is_the_published_one(corneal, ratio):
    """Felipe et al.: nothing is gained where cos 2θ = (lens / cornea) / 2."""
    turn = np.degrees(np.arccos(ratio / 2.0)) / 2.0
    left = toric.misaligned_cylinder(corneal, ratio * corneal, turn)
    assert left == pytest.approx(corneal, rel=1e-9)


def test_the_chord_table():
    sheet = OUTSIDE["misalignment_chord"]
    percent = 100.0 * toric.misaligned_cylinder(1.0, 1.0, np.array(sheet["degrees"]))
    np.testing.assert_allclose(percent, sheet["percent"], atol=sheet["tolerance_percent"])


@given(corneal=steep, lens=st.floats(0, 8), turn=st.floats(-90, 90))
def test_vectors_and_law_of_cosines_agree(corneal, lens, turn):
    axis = (corneal.axis_deg + turn) % 180.0
    left = toric.residual(corneal, lens, axis)
    size = toric.misaligned_cylinder(corneal.cylinder_d, lens, turn)
    assert -left.cylinder_d == pytest.approx(size, abs=1e-6)
    cosines = (
        corneal.cylinder_d**2
        + lens**2
        - 2.0 * corneal.cylinder_d * lens * np.cos(np.radians(2.0 * turn))
    )
    assert size == pytest.approx(np.sqrt(max(cosines, 0.0)), abs=1e-6)


@given(corneal=steep, turn=st.floats(1, 89))
def test_an_equal_lens_leaves_its_axis_at_45_and_half_the_turn(corneal, turn):
    left = toric.residual(corneal, corneal.cylinder_d, (corneal.axis_deg + turn) % 180.0)
    wanted = corneal.axis_deg - 45.0 + turn / 2.0  # of the plus cylinder
    gap = (left.plus_form().axis_deg - wanted + 90.0) % 180.0 - 90.0
    assert abs(gap) < 1e-5


@given(corneal=steep, lens=st.floats(0, 8), axis=st.floats(0, 180), sphere=st.floats(-5, 5))
def test_a_turned_lens_does_not_change_the_spherical_equivalent(corneal, lens, axis, sphere):
    with_sphere = corneal + SpheroCylinder(sphere, 0.0, 180)
    left = toric.residual(with_sphere, lens, axis)
    assert left.spherical_equivalent_d == pytest.approx(sphere, abs=1e-9)


def test_a_fitting_lens_on_the_steep_meridian_leaves_nothing():
    left = toric.residual(astigmatism(1.7, 80), 1.7, 80.0)
    assert left.blur_strength_d == pytest.approx(0.0, abs=1e-9)
    assert left.written() == "+0.00 +0.00"


# --- statistics at the double angle -----------------------------------------------------------


def test_centroid_is_not_the_mean_axis():
    eyes = SpheroCylinder(0.0, 1.0, [10.0, 170.0, 10.0, 170.0])
    centroid = toric.double_angle_statistics(eyes).centroid
    assert centroid.cylinder_d == pytest.approx(np.cos(np.radians(20.0)))
    assert centroid.axis_deg == pytest.approx(180.0)


def test_ellipse_of_the_mean_as_in_the_textbook():
    sheet = OUTSIDE["mean_ellipse"]
    statistics = toric.DoubleAngleStatistics(
        sheet["n"], np.array(sheet["mean"]), np.array(sheet["covariance"])
    )
    ellipse = statistics.ellipse_of_mean()
    longest = ellipse.half_axes_d[0]
    assert longest == pytest.approx(sheet["long_half_axis"], abs=sheet["tolerance"])
    threshold = longest**2 * sheet["n"] / np.linalg.eigvalsh(sheet["covariance"])[1]
    assert threshold == pytest.approx(sheet["threshold"], abs=sheet["threshold_tolerance"])


def statistics_of(rng, n, mean, covariance):
    x_d, y_d = rng.multivariate_normal(mean, covariance, n).T
    return toric.double_angle_statistics(toric.from_double_angle(x_d, y_d)), (x_d, y_d)


MEAN = np.array([-0.4, 0.2])
COVARIANCE = np.array([[0.6, 0.2], [0.2, 0.3]])


def test_large_samples_meet_the_chi_square_ellipse():
    statistics, _ = statistics_of(np.random.default_rng(5), 20_000, MEAN, COVARIANCE)
    wanted = np.sqrt(np.linalg.eigvalsh(COVARIANCE)[::-1] * stats.chi2.ppf(0.95, 2))
    np.testing.assert_allclose(statistics.ellipse_of_data().half_axes_d, wanted, rtol=0.03)
    of_mean = statistics.ellipse_of_mean().half_axes_d
    np.testing.assert_allclose(of_mean * np.sqrt(20_000), wanted, rtol=0.03)


def inside(statistics, ellipse, point):
    """Whether a point lies within, by the outline itself: no closed form of ours."""
    offset = np.stack([ellipse.x_d, ellipse.y_d]) - statistics.mean_xy_d[:, None]
    inverse = np.linalg.inv(statistics.covariance_d2)
    level = np.einsum("ik,ij,jk->k", offset, inverse, offset)
    assert np.ptp(level) < 1e-9 * level.mean()  # the outline is a level of the covariance
    d = point - statistics.mean_xy_d
    return d @ inverse @ d <= level[0]


def test_the_ellipses_cover_as_often_as_they_say():
    """12 eyes at a time, 1500 times: 95 % to within three standard errors."""
    rng = np.random.default_rng(11)
    of_mean = of_next = 0
    for _ in range(1500):
        statistics, _ = statistics_of(rng, 12, MEAN, COVARIANCE)
        of_mean += inside(statistics, statistics.ellipse_of_mean(points=16), MEAN)
        nxt = rng.multivariate_normal(MEAN, COVARIANCE)
        of_next += inside(statistics, statistics.ellipse_of_data(points=16), nxt)
    within = 3.0 * np.sqrt(0.05 * 0.95 / 1500)
    assert of_mean / 1500 == pytest.approx(0.95, abs=within)
    assert of_next / 1500 == pytest.approx(0.95, abs=within)


def test_covariance_and_deviations():
    statistics, (x_d, y_d) = statistics_of(np.random.default_rng(3), 50, MEAN, COVARIANCE)
    assert statistics.n == 50
    np.testing.assert_allclose(statistics.mean_xy_d, [x_d.mean(), y_d.mean()], atol=1e-12)
    np.testing.assert_allclose(statistics.sd_xy_d, [x_d.std(ddof=1), y_d.std(ddof=1)], rtol=1e-9)
    r = stats.pearsonr(x_d, y_d).statistic
    assert statistics.covariance_d2[0, 1] == pytest.approx(r * np.prod(statistics.sd_xy_d))


def test_identical_eyes_shrink_the_ellipse_to_a_point():
    ellipse = toric.double_angle_statistics(SpheroCylinder(0.0, [1.0] * 5, 90)).ellipse_of_mean()
    np.testing.assert_allclose(ellipse.half_axes_d, 0.0, atol=1e-9)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: toric.cylinder_ratio(Eye(23.5, 43.0), 0.005), "elp_mm is 0.005 mm"),
        (lambda: toric.residual(astigmatism(1, 90), -1.0, 90), "given as a plus cylinder"),
        (lambda: toric.residual(astigmatism(1, 90), 1.0, 200), "axis_deg is 200"),
        (lambda: toric.misaligned_cylinder(1.0, 1.0, 120.0), "misalignment_deg is 120"),
        (lambda: toric.double_angle_statistics(astigmatism(1, 90)), "3 or more eyes"),
        (lambda: toric.from_double_angle(np.zeros(2), np.zeros(3)), "do not go together"),
    ],
)
def test_bad_input_is_answered_in_one_sentence(call, words):
    with pytest.raises(ValueError) as caught:
        call()
    assert words in str(caught.value)


def test_confidence_given_in_percent_is_caught():
    statistics, _ = statistics_of(np.random.default_rng(3), 5, MEAN, COVARIANCE)
    with pytest.raises(ValueError, match=r"0\.95, not 95"):
        statistics.ellipse_of_mean(95)


def test_arrays_broadcast_and_scalars_stay_floats():
    assert type(toric.cylinder_ratio(Eye(23.5, 43.0, 44.0), 5.0)) is float
    assert type(toric.misaligned_cylinder(1.0, 1.0, 5.0)) is float
    grid = toric.residual(astigmatism(2.0, 90), np.array([[1.0], [2.0]]), np.arange(1, 181))
    assert grid.cylinder_d.shape == (2, 180)
    cohort = Eye(np.array([22.0, 24.0]), np.array([43.0, 44.0]), np.array([44.0, 43.0]), 90.0)
    assert toric.corneal_astigmatism(cohort).axis_deg.tolist() == [180.0, 90.0]
    assert toric.cylinder_ratio(cohort, 5.0).shape == (2,)


anything = st.one_of(st.floats(), st.integers(-(10**4), 10**4), st.none(), st.text(max_size=2))


@given(elp=anything, target=anything, vertex=anything, size=anything, axis=anything)
def test_absurd_input_gives_a_right_number_or_a_sentence(elp, target, vertex, size, axis):
    for call in (
        lambda: toric.cylinder_ratio(Eye(23.5, 43.0, 44.0), elp, target, vertex),
        lambda: toric.residual(astigmatism(1.0, 90), size, axis).blur_strength_d,
        lambda: toric.misaligned_cylinder(size, 1.0, axis),
    ):
        try:
            value, sentence = call(), ""
        except ValueError as error:
            value, sentence = None, str(error)
        if value is None:
            assert sentence.endswith(".")
        else:
            assert np.isfinite(value)
            assert value >= 0.0
