"""Sphero-cylinders against published vectors, the dioptric power matrix, and their own limits."""

import tomllib
from pathlib import Path
from time import perf_counter

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from shared_utils.optics import vergence
from shared_utils.optics.sphero_cylinder import (
    SpheroCylinder,
    crossed_cylinder,
    interval_of_sturm,
)
from tests.absurd import ANYTHING, answer

OUTSIDE = tomllib.loads(
    (Path(__file__).parent / "outside" / "astigmatism.toml").read_text(encoding="utf-8")
)

spheres = st.floats(-20, 20)
cylinders = st.floats(-8, 8)
axes = st.floats(0, 180)
lenses = st.builds(SpheroCylinder, spheres, cylinders, axes)


def long_matrix(lens):
    """Long's dioptric power matrix of one lens: a second route beside power vectors."""
    a = np.radians(lens.axis_deg)
    s, c = lens.sphere_d, lens.cylinder_d
    off = -c * np.sin(a) * np.cos(a)
    return np.array([[s + c * np.sin(a) ** 2, off], [off, s + c * np.cos(a) ** 2]])


def from_long_matrix(matrix):
    """(S, C, axis) in minus-cylinder form: the axis is the meridian of the greater power."""
    powers, meridians = np.linalg.eigh(matrix)
    x, y = meridians[:, 1]
    axis = np.degrees(np.arctan2(y, x)) % 180.0
    return powers[1], powers[0] - powers[1], axis or 180.0


def assert_axis(found_deg, wanted_deg, within_deg):
    gap = (np.asarray(found_deg) - wanted_deg + 90.0) % 180.0 - 90.0
    assert np.all(np.abs(gap) <= within_deg), (found_deg, wanted_deg)


@pytest.mark.parametrize("case", OUTSIDE["power_vector"]["cases"])
def test_power_vector_and_blur_strength_as_published(case):
    lens = SpheroCylinder(*case["lens"])
    close = {"abs": OUTSIDE["power_vector"]["tolerance_d"]}
    assert lens.power_vector() == pytest.approx((case["m_d"], case["j0_d"], case["j45_d"]), **close)
    assert lens.blur_strength_d == pytest.approx(case["blur_d"], **close)


@pytest.mark.parametrize("case", OUTSIDE["sum"]["cases"])
def test_obliquely_crossed_lenses_add_as_the_matrix_says(case):
    total = SpheroCylinder(*case["first"]) + SpheroCylinder(*case["second"])
    sphere, cylinder, axis = case["total"]
    assert total.sphere_d == pytest.approx(sphere, abs=OUTSIDE["sum"]["tolerance_d"])
    assert total.cylinder_d == pytest.approx(cylinder, abs=OUTSIDE["sum"]["tolerance_d"])
    assert_axis(total.axis_deg, axis, OUTSIDE["sum"]["tolerance_deg"])


@pytest.mark.parametrize("case", OUTSIDE["vertex"]["cases"])
def test_each_meridian_is_vertexed_by_itself(case):
    moved = SpheroCylinder(*case["lens"]).at_vertex(
        OUTSIDE["vertex"]["from_mm"], OUTSIDE["vertex"]["to_mm"]
    )
    found = (moved.sphere_d, moved.cylinder_d, moved.axis_deg)
    assert found == pytest.approx(tuple(case["cornea"]), abs=OUTSIDE["vertex"]["tolerance_d"])


def test_vertexing_the_equivalent_is_not_the_equivalent_of_the_vertexed():
    lens = SpheroCylinder(-8.0, -4.0, 180)
    assert lens.at_vertex(12.0, 0.0).spherical_equivalent_d == pytest.approx(-8.8944, abs=1e-4)
    assert vergence.at_vertex(lens.spherical_equivalent_d, 12.0, 0.0) == pytest.approx(
        -8.9286, abs=1e-4
    )


def test_power_along_a_meridian_by_hand():
    sheet = OUTSIDE["meridian"]
    found = SpheroCylinder(*sheet["lens"]).power_along(np.array(sheet["meridian_deg"]))
    np.testing.assert_allclose(found, sheet["power_d"], atol=sheet["tolerance_d"])


@given(lens=lenses, meridian=axes)
def test_power_along_a_meridian_is_the_matrix_s_quadratic_form(lens, meridian):
    along = np.array([np.cos(np.radians(meridian)), np.sin(np.radians(meridian))])
    expected = along @ long_matrix(lens) @ along
    assert lens.power_along(meridian) == pytest.approx(expected, abs=1e-9)
    assert lens.transposed().power_along(meridian) == pytest.approx(expected, abs=1e-9)


@pytest.mark.parametrize("bad", [181.0, -1.0, float("nan"), "90"])
def test_a_meridian_beyond_a_half_turn_is_refused(bad):
    with pytest.raises(ValueError, match="meridian_deg is"):
        SpheroCylinder(0.0, -1.0, 90).power_along(bad)


def test_interval_of_sturm_by_hand():
    sheet = OUTSIDE["sturm"]
    sturm = interval_of_sturm(SpheroCylinder(*sheet["refraction"]), sheet["pupil_mm"])
    for name in ("first_line_mm", "second_line_mm", "circle_mm"):
        assert getattr(sturm, name) == pytest.approx(sheet[name], abs=sheet["tolerance_mm"])
    assert sturm.circle_diameter_um == pytest.approx(
        sheet["circle_diameter_um"], abs=sheet["tolerance_um"]
    )


@given(lens=lenses, pupil=st.floats(1, 8))
def test_circle_of_least_confusion_is_where_both_lines_blur_alike(lens, pupil):
    """Second route: rays to either focal line, cut at the circle's place (similar triangles)."""
    sturm = interval_of_sturm(lens, pupil)
    for line_mm in (sturm.first_line_mm, sturm.second_line_mm):
        width_um = 1000.0 * pupil * abs(1.0 - sturm.circle_mm / line_mm)
        assert width_um == pytest.approx(sturm.circle_diameter_um, abs=1e-6)
    z1, z2 = sturm.first_line_mm, sturm.second_line_mm
    assert sturm.circle_mm == pytest.approx(2 * z1 * z2 / (z1 + z2), abs=1e-9)
    assert z1 <= sturm.circle_mm <= z2 or z2 - z1 < 1e-9


@given(first=lenses, second=lenses)
def test_sum_and_difference_agree_with_the_power_matrix(first, second):
    for lens, matrix in (
        (first + second, long_matrix(first) + long_matrix(second)),
        (first - second, long_matrix(first) - long_matrix(second)),
    ):
        np.testing.assert_allclose(long_matrix(lens), matrix, atol=1e-8)
        sphere, cylinder, axis = from_long_matrix(matrix)
        assert lens.sphere_d == pytest.approx(sphere, abs=1e-8)
        assert lens.cylinder_d == pytest.approx(cylinder, abs=1e-8)
        if abs(cylinder) > 1e-4:
            assert_axis(lens.axis_deg, axis, 1e-4)


@given(lens=lenses)
def test_every_rewriting_keeps_the_lens(lens):
    for same in (
        lens.transposed(),
        lens.transposed().transposed(),
        lens.plus_form(),
        lens.minus_form(),
        SpheroCylinder.from_power_vector(*lens.power_vector()),
    ):
        np.testing.assert_allclose(long_matrix(same), long_matrix(lens), atol=1e-8)
        assert 0.0 < same.axis_deg <= 180.0
    assert lens.plus_form().cylinder_d >= 0.0 >= lens.minus_form().cylinder_d


@given(first=lenses, second=lenses)
def test_what_is_added_can_be_taken_away(first, second):
    back = first + second - second
    np.testing.assert_allclose(long_matrix(back), long_matrix(first), atol=1e-7)


@given(lens=lenses, vertex=st.floats(0, 20))
def test_vertexing_there_and_back_returns_the_lens(lens, vertex):
    strongest_d = max(lens.sphere_d, lens.sphere_d + lens.cylinder_d)
    assume(strongest_d / (1.0 - vertex / 1000.0 * strongest_d) < 40.0)  # what the course takes
    back = lens.at_vertex(vertex, 0.0).at_vertex(0.0, vertex)
    np.testing.assert_allclose(long_matrix(back), long_matrix(lens), atol=1e-8)


@given(lens=lenses)
def test_vertexing_does_not_care_how_the_lens_is_written(lens):
    one = lens.at_vertex(12.0, 0.0)
    other = lens.transposed().at_vertex(12.0, 0.0)
    np.testing.assert_allclose(long_matrix(one), long_matrix(other), atol=1e-8)


@given(lens=lenses)
def test_blur_strength_is_the_matrix_norm(lens):
    """Second route: the Frobenius norm of Long's matrix is √2 times the power vector's length."""
    norm = np.linalg.norm(long_matrix(lens)) / np.sqrt(2.0)
    assert lens.blur_strength_d == pytest.approx(norm, abs=1e-9)


@given(power=st.floats(0, 5), axis=axes)
def test_a_crossed_cylinder_has_no_spherical_equivalent(power, axis):
    cross = crossed_cylinder(power, axis)
    assert cross.spherical_equivalent_d == 0.0
    flipped = cross + crossed_cylinder(power, (axis + 90.0) % 180.0)
    assert flipped.blur_strength_d == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize("axis", [0, 0.0, 180, 180.0])
def test_zero_is_written_180(axis):
    assert SpheroCylinder(0.0, -1.0, axis).axis_deg == 180.0


def test_axis_just_above_zero_is_written_180():
    assert SpheroCylinder(-1.0, -2.0, 0.3).written() == "−1.00 −2.00 × 180"


def test_a_cylinder_that_cancels_leaves_no_axis():
    rest = SpheroCylinder(1.0, -2.0, 33.0) - SpheroCylinder(0.0, -2.0, 33.0)
    assert (rest.cylinder_d, rest.axis_deg) == (0.0, 180.0)
    assert not rest.axis_is_meaningful


@pytest.mark.parametrize(("cylinder", "meaningful"), [(0.09, False), (-0.1, True), (0.1, True)])
def test_axes_below_a_tenth_of_a_dioptre_are_not_meaningful(cylinder, meaningful):
    assert SpheroCylinder(0.0, cylinder, 40).axis_is_meaningful is meaningful


def test_scalars_come_back_as_floats_and_arrays_broadcast():
    one = SpheroCylinder(1, -2, 30) + SpheroCylinder(0, -1, 90)
    fields = (one.sphere_d, one.cylinder_d, one.axis_deg, *one.power_vector(), one.blur_strength_d)
    assert all(type(value) is float for value in fields)
    grid = SpheroCylinder(np.zeros((3, 1)), -1.0, np.array([30.0, 60.0]))
    assert grid.sphere_d.shape == grid.axis_deg.shape == grid.blur_strength_d.shape == (3, 2)
    assert (grid + SpheroCylinder(1.0, 0.0, 180)).cylinder_d.shape == (3, 2)
    assert grid.written()[1] == "+0.00 −1.00 × 60"
    assert interval_of_sturm(grid, 3.0).interval_mm.shape == (3, 2)


def test_the_caller_s_array_is_not_held():
    sphere = np.array([1.0, 2.0])
    lens = SpheroCylinder(sphere, -1.0, 90)
    sphere[0] = 99.0
    assert lens.sphere_d[0] == 1.0


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ((500.0, -1.0, 90.0), ("sphere_d", "500", "D", "-100 to 100")),
        ((0.0, -60.0, 90.0), ("cylinder_d", "-60", "-40 to 40")),
        ((0.0, -1.0, 185.0), ("axis_deg", "185", "0 to 180", "180° off")),
        ((0.0, -1.0, -5.0), ("axis_deg", "-5", "0 to 180")),
        ((float("nan"), -1.0, 90.0), ("sphere_d", "nan")),
        (("-1.00", -1.0, 90.0), ("sphere_d", "not a number")),
        ((np.zeros(3), np.zeros(2), 90.0), ("shapes", "sphere_d (3,)", "cylinder_d (2,)")),
    ],
)
def test_bad_lenses_are_answered_in_one_sentence(arguments, words):
    with pytest.raises(ValueError) as caught:
        SpheroCylinder(*arguments)
    for word in words:
        assert word in str(caught.value)


def test_a_corneal_power_is_not_taken_for_a_refraction():
    with pytest.raises(ValueError, match=r"cornea by mistake"):
        interval_of_sturm(SpheroCylinder(43.0, 1.0, 180), 4.0)


def test_only_lenses_add_to_lenses():
    with pytest.raises(TypeError):
        SpheroCylinder(1.0, 0.0, 180) + 1.0
    with pytest.raises(ValueError, match="do not go together"):
        SpheroCylinder(np.zeros(3), 0.0, 180) + SpheroCylinder(np.zeros(2), 0.0, 180)


@given(sphere=ANYTHING, cylinder=ANYTHING, axis=ANYTHING, vertex=ANYTHING)
def test_absurd_input_gives_a_right_number_or_a_sentence(sphere, cylinder, axis, vertex):
    def moved():
        return SpheroCylinder(sphere, cylinder, axis).at_vertex(vertex, 0.0)

    if not answer(moved):
        axis_deg = np.asarray(moved().axis_deg)
        assert np.all((axis_deg > 0.0) & (axis_deg <= 180.0))


@pytest.mark.benchmark
def test_adding_an_array_of_lenses_beats_a_loop():
    """A cohort's worth in one call must be at least 20 times as fast as lens by lens."""
    rng = np.random.default_rng(1)
    n = 2000
    first = SpheroCylinder(rng.normal(0, 3, n), -rng.gamma(2, 0.5, n), rng.uniform(0, 180, n))
    singles = [
        SpheroCylinder(*one)
        for one in zip(first.sphere_d, first.cylinder_d, first.axis_deg, strict=True)
    ]
    start = perf_counter()
    looped = [one + one for one in singles]
    loop_s = perf_counter() - start
    array_s = np.inf
    for _ in range(5):
        start = perf_counter()
        total = first + first
        array_s = min(array_s, perf_counter() - start)
    assert total.sphere_d[7] == pytest.approx(looped[7].sphere_d)
    assert loop_s > 20 * array_s
