"""Lesson astigmatism: what its sliders and figures must obey, and the numbers in its prose."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from shared_utils.cases import astigmatism as cases
from shared_utils.explore import astigmatism as demos
from shared_utils.optics.sphero_cylinder import SpheroCylinder
from shared_utils.show import astigmatism as figures
from tests.prose import says

STEM = "astigmatism"


@given(cylinder=st.floats(-3, 3), axis=st.floats(5, 180), meridian=st.floats(5, 180))
def test_two_meridians_at_right_angles_share_the_cylinder(cylinder, axis, meridian):
    """Euler's theorem: powers along meridians 90° apart add to 2 S + C, whatever the meridian."""
    across = (meridian + 90.0) % 180.0
    here, there = (cases.compute_meridional_power(cylinder, axis, m) for m in (meridian, across))
    assert here.power_d + there.power_d == pytest.approx(2 * cases.SPHERE_D + cylinder, abs=1e-8)
    assert here.share + there.share == pytest.approx(1.0)


def test_the_curve_of_power_touches_the_principal_meridians():
    data = cases.compute_meridional_power(-2.0, 30.0, 30.0)
    assert data.powers_d.max() == pytest.approx(-1.0)
    assert cases.MERIDIANS_DEG[np.argmin(data.powers_d)] == 120.0


def test_no_cylinder_has_no_axis_in_the_sentence():
    sentence = demos.power_around().sentence(cases.compute_meridional_power(0.0, 30.0, 60.0))
    assert "×" not in sentence


@pytest.mark.parametrize("cylinder", [-0.5, -1.0, -2.5])
def test_the_sphere_moves_lines_and_circle_as_the_refraction_says(cylinder):
    """No lens: vertical line sharp; half the cylinder: round; all of it: horizontal line sharp."""
    none, half, whole = (
        cases.compute_retinal_spot(cylinder, lens, 4.0) for lens in (0.0, cylinder / 2, cylinder)
    )
    assert none.vertical_line_mm == pytest.approx(0.0, abs=1e-9)
    assert none.width_um == pytest.approx(0.0, abs=1e-9)
    assert half.circle_mm == pytest.approx(0.0, abs=1e-9)
    assert half.width_um == pytest.approx(half.height_um)
    assert half.width_um == pytest.approx(half.sturm.circle_diameter_um)
    assert whole.height_um == pytest.approx(0.0, abs=1e-9)


@given(lens=st.floats(-2.5, 2.5), cylinder=st.floats(-2.5, 0), pupil=st.floats(2, 6))
def test_a_spot_s_width_is_the_blur_of_its_meridian(lens, cylinder, pupil):
    """Textbook blur on the retina, pupil × defocus / power of the eye; 1000 mm·D/D is µm."""
    data = cases.compute_retinal_spot(cylinder, lens, pupil)
    assert data.width_um == pytest.approx(1000 * pupil * abs(lens) / 60, abs=1e-6)
    assert data.height_um == pytest.approx(1000 * pupil * abs(cylinder - lens) / 60, abs=1e-6)


@given(size=st.floats(-3, 0), axis=st.floats(5, 180))
def test_the_sum_keeps_the_spherical_equivalents_and_the_law_of_cosines(size, axis):
    total = cases.compute_cylinder_sum(size, axis).total
    assert total.spherical_equivalent_d == pytest.approx((size - 1.0) / 2, abs=1e-9)
    square = 1.0 + size**2 - 2.0 * size * np.cos(np.radians(2 * axis))
    assert total.cylinder_d**2 == pytest.approx(square, abs=1e-8)


@given(
    st.builds(SpheroCylinder, st.floats(-5, 5), st.floats(-4, 4), st.floats(0, 180)),
    st.builds(SpheroCylinder, st.floats(-5, 5), st.floats(-4, 4), st.floats(0, 180)),
)
def test_the_steps_of_the_worked_example_lead_to_the_sum_by_matrices(first, second):
    steps = {what: value for what, _, value, _ in cases.sum_steps(first, second)}
    assert steps["back: the cylinder"] == pytest.approx(
        cases.compute_cylinder_by_matrix(first, second), abs=1e-6
    )
    mean = first.spherical_equivalent_d + second.spherical_equivalent_d
    assert steps["back: the sphere"] + steps["back: the cylinder"] / 2 == pytest.approx(mean)


def test_figures_say_what_to_conclude():
    assert "−3.00 D along 120°" in figures.sphere_and_cylinder().alt
    assert "circle of 67 µm on it" in figures.spots_between_the_lines().alt
    for figure in (figures.sphere_and_cylinder(), figures.spots_between_the_lines()):
        assert figure.figure.get_size_inches()[0] * figure.figure.dpi <= 700


def test_numbers_in_the_prose_are_those_of_the_code():
    lens = SpheroCylinder(-1.0, -2.0, 30)
    says(STEM, "−1.00 D along 30° and −3.00 D along 120°", *map(lens.power_along, (30, 120)))
    says(STEM, "sin² 30° is a quarter, so −1.00 − 0.50 D", lens.power_along(60) + 1.0)
    pair = cases.compute_cylinder_sum(-1.0, 60.0).total
    says(STEM, "it became sphere, −0.50 D", pair.sphere_d)
    total = SpheroCylinder(-1.0, -1.5, 20) + SpheroCylinder(-0.5, -1.0, 65)
    says(STEM, "**−1.75 −1.75 × 37**", total.axis_deg, digits=0)
    says(STEM, "**−1.75 −1.75 × 37**", round(total.sphere_d * 4) / 4)
    says(STEM, "**−1.75 −1.75 × 37**", round(total.cylinder_d * 4) / 4)
    says(STEM, "0.70 D of cylinder too much", 2.5 + total.cylinder_d)
    moved = SpheroCylinder(-8.0, -4.0, 180).at_vertex(12.0, 0.0)
    says(STEM, "−7.30 −3.19 × 180 at the cornea", moved.sphere_d, moved.cylinder_d)
