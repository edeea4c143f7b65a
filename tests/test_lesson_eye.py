"""Lesson eye: its numbers against the code, its sliders against what must hold."""

import tomllib
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from shared_utils.cases import eye as cases
from shared_utils.explore import engine
from shared_utils.explore import eye as demos
from shared_utils.optics import accommodation, model_eyes, paraxial
from shared_utils.optics.vergence import accommodation_demand, at_vertex, far_point, near_point
from shared_utils.show import eye as figures
from tests.prose import says

STEM = "eye"
LE_GRAND = model_eyes.get("le_grand")
OUTSIDE = tomllib.loads((Path(__file__).parent / "outside" / "model_eyes.toml").read_text("utf-8"))


def test_numbers_of_the_ideas():
    points = paraxial.cardinal_points(LE_GRAND)
    says(STEM, "1.6 to 1.9 mm behind the cornea", *points.principal_mm, digits=1)
    reduced = paraxial.cardinal_points(model_eyes.get("emsley_reduced"))
    forward_mm = np.subtract(points.nodal_mm, reduced.nodal_mm)
    says(STEM, "they stand 1.6 to 2.0 mm", *forward_mm, digits=1)
    says(STEM, r"\frac{1333}{60^2} = 0.37", 4000 / 3 / 60**2)
    says(STEM, "a millimetre is 2.7 D", 60**2 / (4000 / 3), digits=1)
    says(STEM, "1000 / 60 = 16.7 mm", 1000 / 60, digits=1)
    says(STEM, "24 mm away: that gives 0.21 mm", np.tan(np.radians(0.5)) * 24)
    emsley = model_eyes.get("gullstrand_emsley"), model_eyes.get("gullstrand_emsley", True)
    relaxed_d, rounder_d = (paraxial.cardinal_points(e.lens()).power_d for e in emsley)
    says(STEM, "from 21.8 to 32.3 D", relaxed_d, rounder_d, digits=1)
    radii = [eye.radius_mm[1] for eye in emsley]
    says(STEM, "from 10 to 5 mm", *radii, digits=0)
    says(STEM, "18.5 − 0.30 × 45 = 5.0 D", accommodation.amplitude_at_age(45), digits=1)


def test_numbers_of_the_case():
    right_d, left_d, apart_d, wanted_mm, measured_mm = (
        step[2] for step in cases.two_eyes_steps(-5.50, -2.50, 25.10, 25.13)
    )
    assert apart_d == pytest.approx(right_d - left_d)
    says(STEM, "the right eye would be 1 mm longer", wanted_mm, digits=0)
    assert abs(measured_mm) < 0.05
    # the model eye confirms the rule and the index
    exact_mm = np.diff(model_eyes.axial_length(LE_GRAND, [-2.5, -5.5]))[0]
    assert exact_mm == pytest.approx(wanted_mm, abs=0.15)
    assert cases.compute_ametropia(25.13, 7.8, 1.420).spectacle_d == pytest.approx(-2.5, abs=0.03)
    denser_d = cases.compute_ametropia(25.10, 7.8, 1.437).spectacle_d
    says(STEM, "turns −2.50 D into −5.6 D", denser_d, digits=1)
    says(STEM, "An index higher by 0.01 makes about 1.7 D", _of_index(0.01), digits=1)


def _of_index(more):
    length_mm = LE_GRAND.retina_mm
    return cases.compute_ametropia(length_mm, 7.8, 1.42 + more).at_cornea_d


def test_a_long_eye_with_and_without_glasses():
    says(
        STEM,
        "it has −4.8 D in spectacles",
        cases.compute_ametropia(26.0, 7.8, 1.42).spectacle_d,
        digits=1,
    )
    says(STEM, "1.411 it needs no glasses")
    assert cases.compute_ametropia(26.0, 8.4, 1.411).spectacle_d == pytest.approx(0.0, abs=0.1)
    longer_d = model_eyes.refraction(LE_GRAND, LE_GRAND.retina_mm + 1.0, 0.0)
    assert longer_d == pytest.approx(-2.7, abs=0.15)


def test_numbers_of_the_set():
    says(STEM, "2 mm more of length are about 5 D of myopia", 2 / cases.MM_PER_D, digits=0)
    # the rule of the last list is that of a model eye from -10 to +6 D
    refraction_d = np.array([-10.0, -5.0, -2.0, 0.0, 3.0, 5.5])
    exact_mm = model_eyes.axial_length(model_eyes.get("gullstrand_emsley"), refraction_d)
    assert 23.9 - 0.38 * refraction_d == pytest.approx(exact_mm, abs=0.2)


def test_the_curve_to_read_names_its_values():
    lengths_mm = np.linspace(21.0, 23.0, 21)
    shown = figures.refraction_curve(lengths_mm, 2.0 * (22.0 - lengths_mm))
    assert "+2.0 D at 21.0 mm" in shown.alt
    assert "−1.0 D at 22.5 mm" in shown.alt


def test_the_fixed_numbers_of_the_items():
    eye = model_eyes.get("gullstrand_emsley")
    for length_mm, phrase in (
        (22.0, "About 3.2 D, against 1.8 D in an eye of 30 mm"),
        (30.0, "a small part of it: about 1.8 D"),
    ):
        two = model_eyes.refraction(eye, [length_mm - 0.5, length_mm + 0.5], 0.0)
        says(STEM, phrase, np.diff(two)[0], digits=1)
    says(
        STEM, "At about 29 cm", -100 * near_point(0.0, accommodation.amplitude_at_age(50)), digits=0
    )


@given(angle=st.floats(0.0, 10.0), name=st.sampled_from(sorted(demos.EYES.values())))
def test_the_image_is_where_the_undeviated_ray_meets_the_retina(angle, name):
    data = cases.compute_six_points(angle, name)
    assert data.nodal_way_mm == pytest.approx(1000 / data.points.power_d)
    assert data.image_mm == pytest.approx(np.tan(np.radians(angle)) * data.nodal_way_mm)


def test_the_rays_drawn_all_end_on_the_image():
    explorer = engine.explore(demos.six_points())
    for name in demos.EYES.values():
        explorer.set(angle_deg=7.0, name=name)
        data = cases.compute_six_points(7.0, name)
        artists = explorer._picture.artists
        for n in range(3):
            x, y = artists[f"ray {n}"].get_data()
            assert (x[-1], y[-1]) == pytest.approx((data.points.back_focal_mm, -data.image_mm))
        x, y = artists["ray 0"].get_data()  # through N outside, from N' inside
        first, second = data.points.nodal_mm
        outside = (y[1] - y[0]) / (x[1] - x[0])
        inside = (y[3] - y[2]) / (x[3] - x[2])
        assert inside == pytest.approx(outside)
        assert y[1] + outside * (first - x[1]) == pytest.approx(0.0, abs=1e-9)
        assert y[2] + inside * (second - x[2]) == pytest.approx(0.0, abs=1e-9)


def test_the_eye_made_of_le_grands_parts_is_le_grands_eye():
    data = cases.compute_ametropia(24.197, 7.8, 1.42)
    published = next(e for e in OUTSIDE["eye"] if e["name"] == "le_grand")
    assert data.power_d == pytest.approx(published["power_d"], abs=published["tolerance_d"])
    assert data.focus_mm == pytest.approx(published["back_focal_mm"], abs=0.001)
    assert data.spectacle_d == pytest.approx(0.0, abs=0.01)


@given(length=st.floats(21, 28.8), radius=st.floats(7.2, 8.35), index=st.floats(1.405, 1.434))
def test_longer_steeper_denser_eyes_are_more_short_sighted(length, radius, index):
    here = cases.compute_ametropia(length, radius, index).at_cornea_d
    assert cases.compute_ametropia(length + 0.1, radius, index).at_cornea_d < here
    assert cases.compute_ametropia(length, radius + 0.05, index).at_cornea_d > here
    assert cases.compute_ametropia(length, radius, index + 0.001).at_cornea_d < here
    in_focus = cases.compute_ametropia(
        cases.compute_ametropia(length, radius, index).focus_mm, radius, index
    )
    assert in_focus.at_cornea_d == pytest.approx(0.0, abs=1e-9)


def test_the_rays_meet_at_the_focus_and_blur_the_retina_by_its_distance():
    explorer = engine.explore(demos.length_cornea_lens())
    explorer.set(axial_length_mm=26.0, corneal_radius_mm=7.6, lens_index=1.43)
    data = cases.compute_ametropia(26.0, 7.6, 1.43)
    low, high = explorer._picture.artists["blur"].get_data()[1]
    want = (26.0 - data.focus_mm) / (data.focus_mm - data.principal_mm) * cases.HALF_PUPIL_MM
    assert abs(high - low) / 2 == pytest.approx(want)


@given(age=st.floats(10, 79), refraction=st.floats(-6, 6), worn=st.booleans())
def test_the_clear_range_shrinks_with_age_towards_its_far_end(age, refraction, worn):
    data = cases.compute_clear_range(age, refraction, worn)
    older = cases.compute_clear_range(age + 1, refraction, worn)
    assert data.near_d <= older.near_d + 1e-12 <= data.far_d + 1e-9
    assert data.far_d == pytest.approx(older.far_d)
    if not worn:
        ocular = at_vertex(refraction, 12.0, 0.0)
        assert data.far_d == pytest.approx(ocular)
        if abs(ocular) > 0.01:
            assert 1 / data.far_d == pytest.approx(far_point(refraction))


def test_glasses_bring_a_myopes_near_point_closer_and_a_hyperopes_farther():
    minus, none, plus = (cases.compute_clear_range(45, d, True).near_d for d in (-4.0, 0.0, 4.0))
    assert minus < none < plus
    assert none == pytest.approx(-5.0)
    # a page whose demand the amplitude just pays, by the other function
    glasses_to_page_m = 1.0 / minus + 0.012
    assert accommodation_demand(-4.0, glasses_to_page_m) == pytest.approx(5.0)


def test_the_reading_myope_and_what_remains_after_surgery():
    assert cases.compute_clear_range(75, -2.5, False).reads
    assert not cases.compute_clear_range(75, -4.0, False).reads
    data = cases.compute_clear_range(75, -2.5, True)
    assert (data.far_d, data.near_d) == (0.0, pytest.approx(0.0, abs=1e-9))
    assert cases.compute_clear_range(45, 0.0, False).reads
    assert not cases.compute_clear_range(56, 0.0, False).reads
    assert not cases.compute_clear_range(75, 3.0, False).reachable


def test_alt_texts_follow_the_data():
    points = figures.points_side_by_side()
    assert "7.3 to 7.5 mm" in points.alt
    assert "5.6 mm" in points.alt
    lengths = figures.length_and_refraction()
    assert "3.2 D at 22 mm, 2.7 D at 23.9 mm and 1.8 D at 30 mm" in lengths.alt
    assert all(f.figure.get_size_inches()[0] <= 7.0 for f in (points, lengths))
