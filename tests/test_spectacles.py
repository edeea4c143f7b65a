"""Spectacles against hand-worked textbook equations, matrices and plain limits."""

import tomllib
from pathlib import Path

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from shared_utils.optics import model_eyes, paraxial, spectacles, vergence
from tests.absurd import VALUES, answer

OUTSIDE = tomllib.loads(
    (Path(__file__).parent / "outside" / "spectacles.toml").read_text(encoding="utf-8")
)
powers = st.floats(-20.0, 20.0)


@pytest.mark.parametrize("case", OUTSIDE["magnification"]["cases"])
def test_magnification_as_worked_by_hand(case):
    total = case["total"]
    got = spectacles.magnification(**{k: v for k, v in case.items() if k != "total"})
    assert got.total == pytest.approx(total, abs=OUTSIDE["magnification"]["tolerance"])
    assert got.percent == pytest.approx(100 * (total - 1), abs=1e-3)


@given(powers, st.floats(0.0, 10.0), st.floats(0.0, 6.0), st.floats(0.0, 20.0))
def test_magnification_is_that_of_the_afocal_system(front_d, thickness_mm, back_d, vertex_mm):
    # a second route: rays through both surfaces to the pupil; angle there over angle without
    system = paraxial.System(
        [530 / front_d if abs(front_d) > 0.01 else np.inf, -530 / back_d if back_d > 0.01 else 1e9],
        [thickness_mm],
        [1.0, 1.53, 1.0],
    )
    front_d, back_d = system.surface_powers_d()
    bvp_d = vergence.thick_lens(front_d, back_d, thickness_mm, 1.53).back_vertex_power_d
    (a, b), (c, d) = paraxial.translation(vertex_mm + 3.0) @ system.matrix()
    assume(abs(bvp_d) < 39.0 and a > 0.2)
    # the ray of field angle 1 that goes through the pupil's centre starts at height −b / a
    by_rays = d - c * b / a
    got = spectacles.magnification(bvp_d, front_d, thickness_mm, 1.53, vertex_mm)
    assert got.total == pytest.approx(by_rays, rel=1e-9)
    assert got.total == pytest.approx(got.shape * got.power, rel=1e-12)


@given(powers)
def test_a_thin_contact_lens_at_the_pupil_does_not_magnify(power_d):
    lens = spectacles.magnification(power_d, vertex_mm=0.0, pupil_depth_mm=0.0)
    assert (lens.shape, lens.power, lens.total, lens.percent) == (1.0, 1.0, 1.0, 0.0)


@given(st.floats(0.25, 20.0), st.floats(1.0, 20.0))
def test_plus_enlarges_minus_reduces_and_more_so_further_out(power_d, vertex_mm):
    near, far = spectacles.magnification(power_d, vertex_mm=np.array([0.0, vertex_mm])).total
    assert 1.0 < near < far
    near, far = spectacles.magnification(-power_d, vertex_mm=np.array([0.0, vertex_mm])).total
    assert 1.0 > near > far


@given(st.floats(0.5, 2.0), st.floats(0.5, 2.0))
def test_aniseikonia_has_the_sign_of_the_larger_right_image(right, left):
    percent = spectacles.aniseikonia_percent(right, left)
    assert np.sign(percent) == np.sign(right / left - 1.0)
    back = spectacles.aniseikonia_percent(left, right)
    assert (1 + percent / 100) * (1 + back / 100) == pytest.approx(1.0)


@given(powers, st.floats(50.0, 70.0))
def test_knapp_axial_ametropia_at_the_front_focus_keeps_the_image(spectacle_d, eye_d):
    got = spectacles.relative_magnification(spectacle_d, eye_d, 1000.0 / eye_d, standard_d=eye_d)
    assert got == pytest.approx(1.0, abs=1e-12)


@given(powers)
def test_relative_magnification_is_the_ratio_of_image_sizes(refraction_d):
    # a second route: heights on the retinas of the model eyes, by matrices
    eye = model_eyes.get("emsley_reduced")
    length_mm = model_eyes.axial_length(eye, refraction_d)
    to_retina = paraxial.translation(length_mm, eye.index[-1])
    corrected = eye.matrix() @ paraxial.translation(12.0) @ paraxial.refraction(refraction_d)
    size = (to_retina @ corrected)[0, 1]  # height for a ray of angle 1 at height 0
    standard = (paraxial.translation(eye.retina_mm, eye.index[-1]) @ eye.matrix())[0, 1]
    got = spectacles.relative_magnification(refraction_d, 60.0, lens_to_principal_mm=12.0)
    assert got == pytest.approx(size / standard, rel=1e-9)


def test_aphakic_glasses_against_a_contact_lens():
    outside = OUTSIDE["aphakia"]
    for vertex_mm, limits in (
        (12.0, outside["spectacle_percent"]),
        (0.0, outside["contact_lens_percent"]),
    ):
        spectacle_d = vergence.at_vertex(outside["correction_at_cornea_d"], 0.0, vertex_mm)
        percent = 100 * (
            spectacles.relative_magnification(spectacle_d, outside["eye_power_d"], vertex_mm) - 1
        )
        assert limits[0] < percent < limits[1]


@pytest.mark.parametrize("case", OUTSIDE["prentice"]["cases"])
def test_prentice(case):
    got = spectacles.prism(case["decentration_mm"], case["power_d"])
    assert got == pytest.approx(case["prism"], abs=OUTSIDE["prentice"]["tolerance"])


def test_imbalance_by_hand_and_its_signs():
    case = OUTSIDE["prentice"]["imbalance"]
    right, left, down = case["right_d"], case["left_d"], case["gaze_down_mm"]
    got = spectacles.vertical_imbalance(right, left, down)
    assert got == pytest.approx(case["prism"], abs=1e-9)
    assert spectacles.vertical_imbalance(left, right, down) == pytest.approx(-got)
    assert spectacles.vertical_imbalance(right, right, down) == 0.0


@given(st.floats(-20.0, 20.0), powers)
def test_prism_is_the_angle_by_which_a_thin_lens_turns_a_ray(decentration_mm, power_d):
    turned = paraxial.refraction(power_d) @ [decentration_mm / 1000.0, 0.0]
    assert spectacles.prism(decentration_mm, power_d) == pytest.approx(-100 * turned[1], abs=1e-12)


@pytest.mark.parametrize("case", OUTSIDE["reading"]["cases"])
def test_reading_add(case):
    got = spectacles.reading_add(case["object_distance_m"], case["amplitude_d"])
    assert got == pytest.approx(case["add_d"], abs=OUTSIDE["reading"]["tolerance_d"])


@given(st.floats(-2.0, -0.2), st.floats(0.0, 12.0), st.floats(0.0, 1.0))
def test_the_add_and_the_used_accommodation_reach_the_page(distance_m, amplitude_d, share):
    add_d = spectacles.reading_add(distance_m, amplitude_d, share)
    assert add_d >= 0.0
    assert add_d + share * amplitude_d >= -1.0 / distance_m - 1e-12


def test_arrays_broadcast_and_scalars_stay_plain():
    lens = spectacles.magnification(np.array([-5.0, 5.0]), vertex_mm=[[12.0], [0.0]])
    assert lens.total.shape == lens.percent.shape == (2, 2)
    assert type(spectacles.magnification(-5.0).total) is float
    assert type(spectacles.prism(5, 4)) is float
    assert spectacles.prism([5.0, 2.0], 4.0).shape == (2,)


@pytest.mark.parametrize(
    ("call", "says"),
    [
        (lambda: spectacles.magnification(40.0, vertex_mm=25.0), "no upright image"),
        (lambda: spectacles.prism(0.5, 400.0), "-40 to 40 D"),
        (lambda: spectacles.reading_add(0.40), "negative distance"),
        (lambda: spectacles.reading_add(-40.0), "in metres"),
        (lambda: spectacles.reading_add(-0.4, 1.0, 50.0), "not a percentage"),
        (lambda: spectacles.relative_magnification(-40.0, 30.0, 0.0), "converging power"),
        (lambda: spectacles.prism([1, 2], [1, 2, 3]), "do not go together"),
    ],
)
def test_a_slip_gets_a_sentence(call, says):
    assert says in answer(call)


@pytest.mark.parametrize("value", VALUES, ids=repr)
@pytest.mark.parametrize(
    ("function", "good"),
    [
        (spectacles.magnification, [-5.0, 3.0, 2.0, 1.5, 12.0, 3.0]),
        (spectacles.aniseikonia_percent, [1.0, 0.9]),
        (spectacles.relative_magnification, [-5.0, 60.0, 14.0, 60.0]),
        (spectacles.prism, [5.0, 4.0]),
        (spectacles.vertical_imbalance, [-6.0, -3.0, 8.0]),
        (spectacles.reading_add, [-0.4, 1.0, 0.5]),
    ],
    ids=lambda f: getattr(f, "__name__", ""),
)
def test_absurd_input(function, good, value):
    for place in range(len(good)):
        answer(function, *good[:place], value, *good[place + 1 :])
    answer(function, *[value] * len(good))
