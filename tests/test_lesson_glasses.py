"""Lesson glasses: its numbers against the code, its sliders against what must hold."""

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from shared_utils.cases import glasses as cases
from shared_utils.explore import engine
from shared_utils.explore import glasses as demos
from shared_utils.optics import spectacles
from shared_utils.optics.vergence import accommodation_demand, at_vertex
from shared_utils.show import glasses as figures
from tests.prose import says

STEM = "glasses"


def test_numbers_of_idea_1():
    slid_d = at_vertex(12.0, 16.0, 0.0) - at_vertex(12.0, 12.0, 0.0)
    says(STEM, "slide 4 mm down the nose gain 0.83 D", slid_d)
    says(STEM, "about 1.5 % a dioptre", spectacles.magnification(1.0).percent, digits=1)
    says(STEM, "of 2 % a dioptre would say 16 %", 2 * 8, digits=0)
    worn = cases.compute_corrected_eye(-8.0, 0.0)
    says(STEM, "same correction is −7.30 D", worn.lens_d)
    says(STEM, "and leaves 2 %", worn.fellow_percent, digits=0)


def test_numbers_of_ideas_2_and_3():
    data = cases.compute_gaze_below_centres(0.0, -8.0, 8.0)
    says(
        STEM,
        "0.8 cm × 8 D = 6.4 Δ, and 6.4 cm at 1 m are 2.6 cm at 40 cm",
        data.imbalance,
        digits=1,
    )
    says(STEM, "6.4 cm at 1 m are 2.6 cm at 40 cm", data.apart_cm, digits=1)
    weak, strong = (cases.compute_add_range(add, 0.0, 0.25) for add in (2.0, 3.0))
    phrase = "+2.00 D is clear from 44 to 57 cm, +3.00 D from 31 to 36 cm: 13 cm against 6 cm"
    for end in (weak.nearest_cm, weak.farthest_cm, strong.nearest_cm, strong.farthest_cm):
        says(STEM, phrase, end, digits=0)
    says(STEM, phrase, weak.length_cm, strong.length_cm, digits=0)
    assert strong.length_cm < weak.length_cm / 2


def test_numbers_of_the_case_and_after():
    sizes_percent, imbalance = (cases.two_glasses_steps(0.0, -8.0, 8.0)[n][2] for n in (2, 5))
    says(STEM, "differ by 12 % and stand 6.4 Δ apart", sizes_percent, digits=0)
    says(STEM, "differ by 12 % and stand 6.4 Δ apart", imbalance, digits=1)
    says(STEM, "a contact lens of −7.25 D", cases.contact_lens_steps(-8.0)[1][2])
    in_glasses = [accommodation_demand(rx, -1 / 3) for rx in (-6.0, 6.0)]
    in_contact_lens = accommodation_demand(-6.0, -1 / 3 - 0.012, vertex_mm=0.0)
    says(STEM, "2.53 D in glasses, 2.90 D in contact lenses", in_glasses[0], in_contact_lens)
    says(STEM, "For +6.00 D it is 3.35 D in", in_glasses[1])


def test_the_fixed_numbers_of_the_items():
    says(STEM, "differ by 10.5 %", cases.compute_corrected_eye(-7.0, 12.0).fellow_percent, digits=1)


@given(refraction=st.floats(-16, 12), vertex=st.floats(0, 20))
def test_the_lens_keeps_the_eye_in_focus_and_size_grows_with_the_way(refraction, vertex):
    data = cases.compute_corrected_eye(refraction, vertex)
    assert at_vertex(data.lens_d, vertex, 0.0) == pytest.approx(at_vertex(refraction, 12.0, 0.0))
    nearer = cases.compute_corrected_eye(refraction, 0.0)
    assert abs(np.log(nearer.size)) <= abs(np.log(data.size)) + 1e-12
    assert (data.size - 1.0) * refraction >= 0.0


@given(right=st.floats(-10, 6), left=st.floats(-10, 6), gaze=st.floats(0, 15))
def test_the_imbalance_is_that_of_the_difference_alone(right, left, gaze):
    data = cases.compute_gaze_below_centres(right, left, gaze)
    shared = cases.compute_gaze_below_centres(right + 2.0, left + 2.0, gaze)
    assert data.imbalance == pytest.approx(shared.imbalance, abs=1e-9)
    assert data.imbalance == pytest.approx(gaze / 10 * (right - left), abs=1e-9)
    turned = cases.compute_gaze_below_centres(left, right, gaze)
    assert turned.imbalance == pytest.approx(-data.imbalance)


def test_the_page_moves_against_the_base():
    explorer = engine.explore(demos.down_through_two_lenses())
    explorer.set(right_d=4.0, left_d=-4.0, gaze_down_mm=10)
    artists = explorer._picture.artists
    right, left = (artists[f"{eye} line"].get_ydata()[0] for eye in ("right", "left"))
    # Prentice: 4 Δ; at 40 cm each shifts by 1.6 cm, plus down, minus up
    assert (right, left) == (pytest.approx(-1.6), pytest.approx(1.6))
    assert "4.0 Δ base up" in artists["right prism"].get_text()


@given(add=st.floats(0.5, 4), amplitude=st.floats(0, 4), blur=st.sampled_from([0.25, 0.5]))
def test_a_stronger_add_brings_both_ends_nearer_and_shortens_the_range(add, amplitude, blur):
    assume(add > blur + 0.05)
    data = cases.compute_add_range(add, amplitude, blur)
    stronger = cases.compute_add_range(add + 0.25, amplitude, blur)
    assert stronger.nearest_cm < data.nearest_cm
    assert stronger.farthest_cm < data.farthest_cm
    assert stronger.length_cm < data.length_cm
    with_more = cases.compute_add_range(add, amplitude + 0.5, blur)
    assert with_more.farthest_cm == data.farthest_cm
    assert with_more.nearest_cm < data.nearest_cm


def test_the_add_of_the_steps_clears_the_page_with_half_in_reserve():
    demand_d, add_d, nearest_cm, farthest_cm = (step[2] for step in cases.add_steps(40, 1.0))
    assert add_d + 0.5 == pytest.approx(demand_d)
    assert nearest_cm < 40 < farthest_cm


def test_alt_texts_follow_the_data():
    size = figures.size_change()
    assert "+17.6 % at +10 D" in size.alt
    assert "+22.0 % at +12 D" in size.alt
    contact = [cases.compute_corrected_eye(refraction, 0.0).size for refraction in (-12.0, 12.0)]
    assert np.abs(np.array(contact) - 1.0).max() < cases.FUSED_PERCENT / 100
    assert "inside the grey band" in size.alt
    base = figures.base_of_the_prism()
    assert "4.0 Δ with its base up, and the image moves down" in base.alt
    curve = figures.defocus_against_distance([30.0, 40.0, 50.0], [0.8, 0.0, 0.5])
    assert "0.80 D at 30 cm" in curve.alt
    assert "0.50 D at 50 cm" in curve.alt
    assert all(f.figure.get_size_inches()[0] <= 7.0 for f in (size, base, curve))
