"""Model eyes against what their authors printed, a general-purpose library and plain physics."""

import tomllib
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from shared_utils.optics import model_eyes, paraxial
from tests.absurd import VALUES, answer

OUTSIDE = tomllib.loads(
    (Path(__file__).parent / "outside" / "model_eyes.toml").read_text(encoding="utf-8")
)
ALL = list(model_eyes.EYES.values())
HOMOGENEOUS = [eye for eye in ALL if not any(eye.gradients)]


def label(eye):
    return eye["name"] + (" accommodated" if eye.get("accommodated") else "")


@pytest.mark.parametrize("printed", OUTSIDE["eye"], ids=label)
def test_cardinal_points_are_those_printed(printed):
    eye = model_eyes.get(printed["name"], accommodated=printed.get("accommodated", False))
    points = paraxial.cardinal_points(eye)
    assert points.power_d == pytest.approx(printed["power_d"], abs=printed["tolerance_d"])
    for place in ("front_focal_mm", "back_focal_mm", "principal_mm", "nodal_mm"):
        if place in printed:
            assert getattr(points, place) == pytest.approx(
                printed[place], abs=printed["tolerance_mm"]
            ), place
    for part in ("cornea", "lens"):
        if f"{part}_d" in printed:
            got = paraxial.cardinal_points(getattr(eye, part)()).power_d
            assert got == pytest.approx(printed[f"{part}_d"], abs=printed["tolerance_d"]), part


def test_every_eye_has_printed_numbers():
    printed = {(e["name"], e.get("accommodated", False)) for e in OUTSIDE["eye"]}
    assert printed == set(model_eyes.EYES)
    assert model_eyes.names() == tuple(n for n, accommodated in model_eyes.EYES if not accommodated)


@pytest.mark.peer
@pytest.mark.parametrize("eye", HOMOGENEOUS, ids=lambda e: e.name)
def test_the_matrix_is_that_of_a_general_library(eye):
    from sympy.physics.optics import CurvedRefraction, FreeSpace

    # the library's rays are (height, angle), ours (height in m, index × angle)
    total = np.eye(2)
    for k, radius in enumerate(eye.radius_mm):
        step = CurvedRefraction(radius, eye.index[k], eye.index[k + 1])
        total = np.array(step, dtype=float) @ total
        if k < len(eye.thickness_mm):
            total = np.array(FreeSpace(eye.thickness_mm[k]), dtype=float) @ total
    reduced = np.diag([1e-3, eye.index[-1]]) @ total @ np.diag([1e3, 1 / eye.index[0]])
    assert eye.matrix() == pytest.approx(reduced, abs=1e-11)


@pytest.mark.parametrize("eye", ALL, ids=lambda e: e.name)
def test_no_light_is_made_or_lost(eye):
    assert np.linalg.det(eye.matrix()) == pytest.approx(1.0, abs=1e-12)


@pytest.mark.parametrize("eye", [e for e in ALL if len(e.radius_mm) > 1], ids=lambda e: e.name)
def test_cornea_chamber_and_lens_make_the_eye(eye):
    chamber = paraxial.translation(
        eye.thickness_mm[eye.cornea_surfaces - 1], eye.index[eye.cornea_surfaces]
    )
    whole = eye.lens().matrix() @ chamber @ eye.cornea().matrix()
    assert whole == pytest.approx(eye.matrix(), abs=1e-12)


def numerical(gradient, thickness_mm):
    """The same slab by a step-wise solver: another route than the series."""
    columns = [
        solve_ivp(
            lambda z, ray: (ray[1] / gradient.at(z), 2.0 * gradient.radial * ray[0]),
            (0.0, thickness_mm),
            start,
            method="DOP853",
            rtol=1e-12,
            atol=1e-14,
        ).y[:, -1]
        for start in ([1.0, 0.0], [0.0, 1.0])
    ]
    (a, c), (b, d) = columns
    return np.array([[a, b / 1000.0], [1000.0 * c, d]])


@pytest.mark.parametrize("gap", [2, 3])
def test_the_gradients_series_is_the_solution_of_the_ray_equation(gap):
    eye = model_eyes.get("liou_brennan")
    gradient, thickness_mm = eye.gradients[gap], eye.thickness_mm[gap]
    assert gradient.matrix(thickness_mm) == pytest.approx(
        numerical(gradient, thickness_mm), rel=1e-9, abs=1e-9
    )


@given(
    st.floats(1.33, 1.6),
    st.floats(-0.03, 0.03),
    st.floats(-0.01, 0.01),
    st.floats(-0.005, 0.005),
    st.floats(0.0, 4.0),
)
def test_any_gradient_keeps_its_invariant_and_may_be_cut_in_two(centre, slope, bend, radial, z):
    whole = model_eyes.Gradient(centre, slope, bend, radial)
    assert np.linalg.det(whole.matrix(z)) == pytest.approx(1.0, abs=1e-9)
    half = z / 2
    rest = model_eyes.Gradient(whole.at(half), slope + 2 * bend * half, bend, radial)
    assert rest.matrix(half) @ whole.matrix(half) == pytest.approx(whole.matrix(z), abs=1e-9)


@given(st.floats(1.33, 1.6), st.floats(-0.01, -1e-4), st.floats(0.1, 8.0))
def test_a_radial_gradient_alone_is_the_textbooks_rod(centre, radial, z):
    # Hecht, Optics, from memory: cos(gz) on the diagonal, g² = −2 n₂ / n₀
    g = np.sqrt(-2 * radial / centre)
    rod = [
        [np.cos(g * z), np.sin(g * z) / (1000 * centre * g)],
        [-1000 * centre * g * np.sin(g * z), np.cos(g * z)],
    ]
    assert model_eyes.Gradient(centre, radial=radial).matrix(z) == pytest.approx(
        np.array(rod), rel=1e-9, abs=1e-9
    )


def test_many_slabs_at_once():
    gradient = model_eyes.get("liou_brennan").gradients[2]
    many = gradient.matrix([[0.0, 0.5], [1.0, 1.59]])
    assert many.shape == (2, 2, 2, 2)
    assert many[0, 0] == pytest.approx(np.eye(2))
    assert many[1, 1] == pytest.approx(gradient.matrix(1.59), abs=1e-15)


def test_the_two_halves_of_a_gradient_lens_meet_in_index():
    eye = model_eyes.get("liou_brennan")
    assert eye.gradients[2].at(1.59) == pytest.approx(eye.gradients[3].centre, abs=1e-4)
    assert eye.surface_powers_d()[3] == pytest.approx(0.0, abs=1e-9)  # flat: no power at the join


def test_gullstrands_refraction_and_near_point():
    outside = OUTSIDE["gullstrand_refraction"]
    relaxed_d = model_eyes.refraction(model_eyes.get("gullstrand_exact"), vertex_mm=0.0)
    assert relaxed_d == pytest.approx(outside["relaxed_d"], abs=outside["relaxed_tolerance_d"])
    eye = model_eyes.get("gullstrand_exact", accommodated=True)
    near_mm = 1000.0 / model_eyes.refraction(eye, vertex_mm=0.0)
    assert near_mm == pytest.approx(
        outside["near_point_mm"], abs=outside["near_point_tolerance_mm"]
    )


@pytest.mark.parametrize(
    "name",
    [n for n in model_eyes.names() if n not in ("gullstrand_exact", "gullstrand_simplified")],
)
def test_the_other_eyes_are_emmetropic(name):
    assert model_eyes.refraction(model_eyes.get(name)) == pytest.approx(0.0, abs=0.005)


@pytest.mark.parametrize("case", OUTSIDE["reduced_eye_length"]["cases"])
def test_lengths_of_the_reduced_eye(case):
    eye = model_eyes.get("emsley_reduced")
    tolerance = OUTSIDE["reduced_eye_length"]["tolerance_mm"]
    got = model_eyes.axial_length(eye, case["refraction_d"], vertex_mm=0.0)
    assert got == pytest.approx(case["length_mm"], abs=tolerance)


@given(st.sampled_from(ALL), st.floats(19.0, 32.0), st.floats(0.0, 15.0))
def test_length_to_refraction_and_back(eye, length_mm, vertex_mm):
    refraction_d = model_eyes.refraction(eye, length_mm, vertex_mm)
    assert model_eyes.axial_length(eye, refraction_d, vertex_mm) == pytest.approx(
        length_mm, abs=1e-9
    )


@given(st.sampled_from(ALL), st.floats(18.0, 34.0), st.floats(0.01, 1.0))
def test_a_longer_eye_is_more_myopic(eye, length_mm, more_mm):
    shorter, longer = model_eyes.refraction(eye, np.array([length_mm, length_mm + more_mm]))
    assert longer < shorter


@given(st.floats(-8.0, 4.0))
def test_the_corrected_eye_is_sharp(refraction_d):
    # a second route: a thin lens in air, then the eye, must focus on the retina
    eye = model_eyes.get("le_grand")
    length_mm = model_eyes.axial_length(eye, refraction_d)
    glasses = paraxial.translation(12.0) @ paraxial.refraction(refraction_d)
    (a, _), (c, _) = eye.matrix() @ glasses
    assert -1000.0 * eye.index[-1] * a / c + eye.length_mm() == pytest.approx(length_mm, abs=1e-9)


def test_navarros_accommodating_surfaces_by_hand():
    outside = OUTSIDE["navarro_accommodated"]
    eye = model_eyes.navarro(outside["accommodation_d"])
    tolerance = outside["tolerance"]
    for field in ("radius_mm", "thickness_mm", "asphericity"):
        assert getattr(eye, field) == pytest.approx(outside[field], abs=tolerance), field
    assert eye.index[3] == pytest.approx(outside["lens_index"], abs=tolerance)


def test_navarros_eye_accommodates_about_as_told():
    # the published formulas follow anatomy, not paraxial power: within 0.55 D from 0 to 10 D
    stated_d = np.arange(0.0, 10.5, 0.5)
    got_d = [-model_eyes.refraction(model_eyes.navarro(a), vertex_mm=0.0) for a in stated_d]
    assert np.all(np.diff(got_d) > 0.0)
    assert got_d == pytest.approx(stated_d, abs=0.55)
    assert model_eyes.navarro(0.0) == model_eyes.get("navarro")


def test_parts_keep_their_asphericity():
    lens = model_eyes.get("liou_brennan").lens()
    assert lens.asphericity == (-0.94, 0.0, 0.96)
    assert lens.index == (1.336, 1.368, 1.407, 1.336)
    assert lens.retina_mm == pytest.approx(23.95 - 0.50 - 3.16)  # from the lens's own front


@pytest.mark.parametrize(
    ("call", "says"),
    [
        (lambda: model_eyes.get("legrand"), "give one of: emsley_reduced"),
        (lambda: model_eyes.get(["le_grand"]), "give one of"),
        (lambda: model_eyes.get("le_grand", accommodated=True), "no published accommodated form"),
        (lambda: model_eyes.get("navarro", accommodated=3.0), "navarro(accommodation_d)"),
        (lambda: model_eyes.navarro(-2.0), "positive number"),
        (lambda: model_eyes.navarro([1.0, 2.0]), "one number in D per eye"),
        (lambda: model_eyes.get("emsley_reduced").lens(), "no lens of its own"),
        (lambda: model_eyes.refraction(model_eyes.navarro(), 0.024), "In metres?"),
        (lambda: model_eyes.refraction(paraxial.System([7.8], [], [1, 1.336])), "15 to 40 mm"),
        (lambda: model_eyes.axial_length(model_eyes.navarro(), 35.0), "refraction_d asks"),
        (lambda: model_eyes.refraction(model_eyes.navarro(), [22, 23], [1, 2, 3]), "do not go"),
        (lambda: model_eyes.refraction("le_grand"), "such as get('le_grand')"),
        (lambda: model_eyes.axial_length(None, -3.0), "such as get('le_grand')"),
        (lambda: model_eyes.Gradient(1.4, slope=[0.01, 0.02]), "one number"),
        (lambda: model_eyes.Gradient(1.4, slope=0.1, bend=0.1).matrix(8.0), "cut the slab in two"),
    ],
)
def test_a_slip_gets_a_sentence(call, says):
    assert says in answer(call)


@pytest.mark.parametrize("value", VALUES, ids=repr)
def test_absurd_input(value):
    eye = model_eyes.get("le_grand")
    answer(model_eyes.refraction, eye, value)
    answer(model_eyes.refraction, eye, 24.0, vertex_mm=value)
    answer(model_eyes.axial_length, eye, value)
    answer(model_eyes.axial_length, eye, -2.0, vertex_mm=value)
    answer(model_eyes.Gradient(1.4, radial=-0.002).matrix, value)
    assert answer(model_eyes.get, value)
    answer(lambda: model_eyes.navarro(value).matrix())
    answer(lambda: model_eyes.Gradient(value, slope=0.01).matrix(2.0))
    answer(lambda: model_eyes.Gradient(1.4, value, 0.01, value).matrix(2.0))
