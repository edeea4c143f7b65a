"""Exact rays against surfaces that image without error, other tracers and the paraxial limit."""

import time
import tomllib
from pathlib import Path

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq

from shared_utils.optics import model_eyes, paraxial
from shared_utils.optics.ray_trace import (
    ConicSystem,
    Surface,
    best_focus_mm,
    pupil_points,
    spot,
    trace,
    wavefront,
    zernike,
)
from tests.absurd import VALUES, answer

OUTSIDE = tomllib.loads(
    (Path(__file__).parent / "outside" / "ray_trace.toml").read_text(encoding="utf-8")
)
NAVARRO = ConicSystem.of(model_eyes.get("navarro"))
LE_GRAND = ConicSystem.of(model_eyes.get("le_grand"))
ALONG = np.array([0.0, 0.0, 1.0])
indices = st.floats(1.3, 1.9)
heights = st.floats(0.01, 2.5)


def meridian(heights_mm, z_mm=-5.0):
    """Points at heights in the y–z plane in front of the eye."""
    heights_mm = np.asarray(heights_mm, dtype=float)
    return np.stack([0 * heights_mm, heights_mm, 0 * heights_mm + z_mm], axis=-1)


def with_lens(shape=0.0, asphericity=0.0, power_d=21.0, index=1.49, cornea_q=-0.08):
    """An eye with a lens of a power and a shape factor 4.5 mm behind the cornea's vertex."""
    to_radius = 2.0 * 1000.0 * (index - 1.336) / power_d
    front = np.inf if shape == -1.0 else to_radius / (1.0 + shape)
    back = np.inf if shape == 1.0 else -to_radius / (1.0 - shape)
    system = paraxial.System(
        [7.72, 6.5, front, back], [0.55, 3.95, 0.9], [1.0, 1.376, 1.336, index, 1.336]
    )
    return ConicSystem.of(system, [cornea_q, 0.0, asphericity, 0.0], stop=2)


# surfaces that image a point without error


@given(indices, indices, st.floats(5.0, 60.0), st.floats(0.05, 0.4))
def test_a_conic_of_q_minus_ratio_squared_focuses_parallel_light(before, behind, radius, share):
    # Descartes; Born & Wolf: ellipsoid into the denser medium, hyperboloid out of it. With
    # index −1 behind the same rule gives the parabola of a telescope's mirror.
    assume(abs(before - behind) > 0.02)
    system = ConicSystem((Surface(radius, behind, -((before / behind) ** 2)),), before)
    focus_mm = system.back_focal_mm()
    assert focus_mm == pytest.approx(behind * radius / (behind - before), rel=1e-12)
    heights_mm = radius * np.linspace(-share, share, 9)
    rays = trace(system, meridian(heights_mm), ALONG)
    assert rays.at_plane(focus_mm)[:, 1] == pytest.approx(0.0, abs=1e-9 * abs(focus_mm))
    pupil_mm = min(2 * share * radius, 12.0, abs(focus_mm) / 1.5)
    front = wavefront(system, pupil_mm)
    assert front.rms_um < 1e-6
    assert spot(system, pupil_mm, focus_mm).rms_um < 1e-6 * abs(focus_mm)


@given(indices, indices, st.floats(5.0, 20.0))
def test_the_aplanatic_points_of_a_sphere(before, behind, radius):
    # Welford: light towards R (1 + n'/n) behind the vertex is sent to R (1 + n/n') without error
    system = ConicSystem((Surface(radius, behind),), before)
    target = np.array([0.0, 0.0, radius * (1 + behind / before)])
    start = meridian(radius * np.linspace(-0.7, 0.7, 9))
    rays = trace(system, start, target - start)
    image = rays.at_plane(radius * (1 + before / behind))
    assert image[:, :2] == pytest.approx(0.0, abs=1e-9)


@given(indices, st.floats(5.0, 20.0), st.floats(-0.6, 0.6))
def test_light_through_the_centre_of_a_sphere_goes_straight(behind, radius, slope):
    direction = np.array([0.3 * slope, slope, 1.0]) / np.linalg.norm([0.3 * slope, slope, 1.0])
    start = np.array([0.0, 0.0, radius]) - 40.0 * direction
    rays = trace(ConicSystem((Surface(radius, behind),)), start, direction)
    assert rays.directions == pytest.approx(direction, abs=1e-12)
    assert rays.path_mm == pytest.approx(40.0 - radius, abs=1e-9)


def test_a_flat_surface_obeys_snell():
    angle = np.radians([0.0, 10.0, 30.0, 55.0])
    direction = np.stack([0 * angle, np.sin(angle), np.cos(angle)], axis=-1)
    rays = trace(ConicSystem((Surface(np.inf, 1.5),)), [0.0, 0.0, -1.0], direction)
    assert rays.directions[:, 1] == pytest.approx(np.sin(angle) / 1.5, abs=1e-15)
    assert rays.path_mm == pytest.approx(1.0 / np.cos(angle), abs=1e-12)


# the paraxial limit


@settings(max_examples=50)
@given(
    st.lists(
        st.tuples(
            st.floats(4.0, 30.0),
            st.sampled_from([-1.0, 1.0]),
            st.floats(0.2, 4.0),
            indices,
            st.floats(-3.0, 1.0),
        ),
        min_size=1,
        max_size=5,
    )
)
def test_close_to_the_axis_rays_obey_the_matrix(surfaces):
    radii, signs, gaps, index, q = (list(column) for column in zip(*surfaces, strict=True))
    radii = [r * s for r, s in zip(radii, signs, strict=True)]
    system = paraxial.System(radii, gaps[1:], [1.0, *index])
    conics = ConicSystem.of(system, q)
    small_mm, slope = 1e-4, 1e-5
    for height, angle in ((small_mm, 0.0), (0.0, slope), (small_mm, slope)):
        rays = trace(conics, [0.0, height, 0.0], [0.0, angle, 1.0])
        out = system.matrix() @ [height / 1000.0, angle]
        assert rays.hits_mm[-1][1] == pytest.approx(1000.0 * out[0], abs=1e-9)
        assert rays.directions[1] == pytest.approx(out[1] / index[-1], abs=1e-9)
    power_d = -system.matrix()[1, 0]
    if abs(power_d) > 1.0:
        focus_mm = paraxial.cardinal_points(system).back_focal_mm
        assert conics.back_focal_mm() == pytest.approx(focus_mm, rel=1e-9)


@pytest.mark.parametrize("name", ["le_grand", "navarro", "gullstrand_exact", "gullstrand_emsley"])
def test_pupils_of_the_model_eyes(name):
    # a second route: the image of the stop by matrices, from both sides
    eye = model_eyes.get(name)
    entrance_mm, exit_mm = ConicSystem.of(eye).pupils_mm()
    stop_mm = sum(eye.thickness_mm[: eye.cornea_surfaces])
    way = paraxial.translation(
        eye.thickness_mm[eye.cornea_surfaces - 1], eye.index[eye.cornea_surfaces]
    )
    (a, b), _ = way @ eye.cornea().matrix()
    assert entrance_mm == pytest.approx(1000.0 * b / a, abs=1e-9)
    (_, b), (_, d) = eye.lens().matrix()
    assert exit_mm == pytest.approx(eye.length_mm() - 1000.0 * eye.index[-1] * b / d, abs=1e-9)
    assert 2.8 < entrance_mm < stop_mm < exit_mm < stop_mm + 0.2


def test_the_reduced_eyes_pupil_is_its_surface():
    assert ConicSystem.of(model_eyes.get("emsley_reduced")).pupils_mm() == (0.0, 0.0)


@pytest.mark.parametrize("name", ["le_grand", "navarro", "gullstrand_exact", "emsley_reduced"])
@pytest.mark.parametrize("length_mm", [22.5, 23.5, 25.0, 26.5])
def test_through_a_narrow_pupil_defocus_is_the_refraction(name, length_mm):
    eye = model_eyes.get(name)
    system = ConicSystem.of(eye)
    entrance_mm = system.pupils_mm()[0]
    at_pupil_d = model_eyes.refraction(eye, length_mm, vertex_mm=-entrance_mm)
    got = wavefront(system, 0.1, focus_mm=length_mm).refraction_d
    assert got == pytest.approx(at_pupil_d, abs=0.002)


# aberrations


@pytest.mark.parametrize("q", [0.0, -0.26, 0.5])
@pytest.mark.parametrize("index", [1.336, 1.376, 1.5])
@pytest.mark.parametrize("radius", [7.8, -7.8])
def test_spherical_aberration_of_one_surface_tends_to_seidels(q, index, radius):
    # Welford: W040 = h⁴ (n − 1) (1/n² + Q) / (8 R³); Z(4, 0) is W040 / (6 √5)
    pupil_mm = 1.0
    seidel_um = (
        1000.0 * (pupil_mm / 2) ** 4 * (index - 1) * (index**-2 + q) / (8 * radius**3) / 180**0.5
    )
    system = ConicSystem((Surface(radius, index, q),))
    got = wavefront(system, pupil_mm, rings=4).spherical_aberration_um
    assert got == pytest.approx(seidel_um, rel=0.02)
    wide = wavefront(system, 2 * pupil_mm).spherical_aberration_um
    assert wide / got == pytest.approx(16.0, rel=0.05)


@pytest.mark.parametrize("q", OUTSIDE["cornea"]["asphericity"])
def test_published_corneas_lie_among_measured_ones(q):
    outside = OUTSIDE["cornea"]
    cornea = ConicSystem.of(paraxial.System([7.77, 6.4], [0.5], [1.0, 1.376, 1.336]), [q, -0.6])
    got = wavefront(cornea, outside["pupil_mm"]).spherical_aberration_um
    assert abs(got - outside["mean_um"]) < 2 * outside["sd_um"]


@given(st.floats(-0.6, 0.2), st.floats(0.02, 0.2))
def test_a_flatter_margin_means_less_spherical_aberration(q, less):
    flatter, steeper = (
        wavefront(ConicSystem((Surface(7.8, 1.376, k),)), 6.0).spherical_aberration_um
        for k in (q - less, q)
    )
    assert flatter < steeper


def test_a_positive_sign_means_the_margin_focuses_in_front():
    system = ConicSystem((Surface(7.8, 1.376),))
    rays = trace(system, meridian([0.1, 3.0]), ALONG)
    crossing = rays.hits_mm[0][:, 2] - rays.hits_mm[0][:, 1] * (
        rays.directions[:, 2] / rays.directions[:, 1]
    )
    assert crossing[1] < crossing[0]
    assert wavefront(system, 6.0).spherical_aberration_um > 0.0
    assert best_focus_mm(system, 6.0) < system.back_focal_mm()


@given(st.floats(-2.0, 3.0))
def test_myopia_has_positive_defocus_and_negative_refraction(behind_mm):
    assume(abs(behind_mm) > 0.1)  # nearer, spherical aberration has its own part in Z(2, 0)
    front = wavefront(LE_GRAND, 2.0, focus_mm=LE_GRAND.back_focal_mm() + behind_mm)
    assert np.sign(front.defocus_um) == np.sign(behind_mm)
    assert np.sign(front.refraction_d) == -np.sign(behind_mm)


@pytest.mark.parametrize("pupil_mm", [2.0, 4.0, 6.0])
def test_rays_are_the_wavefronts_normals(pupil_mm):
    # Welford: the ray's miss at the focus is (R / n) times the slope of the wavefront error over
    # the exit pupil; here the stop is the surface itself, so heights are those at the pupil
    system = ConicSystem((Surface(7.8, 1.376, -0.1),))
    focus_mm = system.back_focal_mm() + 0.2
    heights_mm = np.linspace(-pupil_mm / 2, pupil_mm / 2, 401)
    rays = trace(system, meridian(heights_mm), ALONG)
    at_focus = rays.at_plane(focus_mm)
    away = at_focus - [0.0, 0.0, focus_mm]
    front = wavefront(system, pupil_mm, focus_mm)
    radial = sum(
        front.coefficient_um(n, 0) * zernike(n, 0, 2 * np.abs(heights_mm) / pupil_mm, 0.0)
        for n in range(0, 13, 2)
    )
    # the reference sphere meets each ray a little inside its height at the surface
    centre = np.array([0.0, 0.0, focus_mm])
    start = rays.hits_mm[-1] - centre
    half = np.sum(start * rays.directions, axis=-1)
    on_sphere = (
        start
        + rays.directions
        * (-half - np.sqrt(half**2 - np.sum(start**2, axis=-1) + focus_mm**2))[:, None]
    )
    slope = np.gradient(radial / 1000.0, on_sphere[:, 1], edge_order=2)
    expected = -focus_mm / 1.376 * slope
    assert away[5:-5, 1] == pytest.approx(expected[5:-5], abs=1e-3 * np.abs(away).max() + 1e-6)


@pytest.mark.parametrize("pupil_mm", [3, 6])
def test_navarros_wavefront_is_that_of_another_tracer(pupil_mm):
    outside = OUTSIDE["library"]
    front = wavefront(NAVARRO, pupil_mm, rings=20)
    for name in ("spherical_aberration_um", "defocus_um"):
        assert getattr(front, name) == pytest.approx(
            outside[name][str(pupil_mm)], abs=outside["tolerance_um"]
        )


def test_navarros_rays_are_those_of_another_tracer():
    outside = OUTSIDE["library"]
    rays = trace(NAVARRO, meridian(outside["entry_mm"]), ALONG)
    tolerance = outside["tolerance_mm"]
    assert rays.hits_mm[2][:, 1] == pytest.approx(outside["lens_front_mm"], abs=tolerance)
    assert rays.hits_mm[3][:, 1] == pytest.approx(outside["lens_back_mm"], abs=tolerance)
    assert rays.at_plane(24.004)[:, 1] == pytest.approx(outside["retina_mm"], abs=tolerance)


@pytest.mark.long
@pytest.mark.peer
@pytest.mark.filterwarnings("ignore")
@pytest.mark.parametrize("field_deg", [0.0, 5.0])
def test_navarros_eye_in_a_general_purpose_tracer(field_deg):
    # needs the extra "peers"; the import fails rather than skips, so that nobody takes it for run
    from optiland.materials import IdealMaterial
    from optiland.optic import Optic

    eye = model_eyes.get("navarro")
    peer = Optic()
    peer.add_surface(index=0, thickness=np.inf)
    ways = [*eye.thickness_mm, eye.retina_mm - eye.length_mm()]
    for k, (radius, q, way, index) in enumerate(
        zip(eye.radius_mm, eye.asphericity, ways, eye.index[1:], strict=True)
    ):
        peer.add_surface(
            index=k + 1,
            radius=radius,
            conic=q,
            thickness=way,
            material=IdealMaterial(n=index),
            is_stop=k == 2,
        )
    peer.add_surface(index=5)
    peer.set_aperture(aperture_type="EPD", value=6.0)
    peer.set_field_type("angle")
    peer.add_field(y=field_deg)
    peer.add_wavelength(value=0.589, is_primary=True)
    shares = np.linspace(-1.0, 1.0, 101)
    peer.trace_generic(0, 1, np.zeros_like(shares), shares, 0.589)

    field = np.radians(field_deg)
    aim = meridian(3.0 * shares, NAVARRO.pupils_mm()[0])
    direction = np.array([0.0, np.sin(field), np.cos(field)])
    rays = trace(NAVARRO, aim - 20.0 * direction, direction)
    surfaces = peer.surface_group.surfaces
    for k in range(4):
        assert rays.hits_mm[k][:, 1] == pytest.approx(np.ravel(surfaces[k + 1].y), abs=1e-9)
        assert rays.hits_mm[k][:, 2] == pytest.approx(np.ravel(surfaces[k + 1].z), abs=1e-9)
    assert rays.directions[:, 1] == pytest.approx(np.ravel(surfaces[4].M), abs=1e-10)
    # both count from a plane across the axis
    assert np.diff(rays.path_mm) == pytest.approx(np.diff(np.ravel(surfaces[4].opd)), abs=1e-9)
    assert rays.at_plane(eye.retina_mm)[:, 1] == pytest.approx(np.ravel(surfaces[5].y), abs=1e-9)


# shape, tilt and decentration of a lens in the eye


def test_a_spherical_lens_is_best_with_its_flat_side_to_the_retina():
    assert "flatter side towards the retina" in OUTSIDE["lens_shape"]["source"]
    equiconvex, flat_behind, flat_in_front = (
        wavefront(with_lens(shape), 6.0).spherical_aberration_um for shape in (0.0, 1.0, -1.0)
    )
    assert flat_behind < equiconvex < flat_in_front
    shapes = np.linspace(-1.0, 2.5, 15)
    sa = [wavefront(with_lens(s), 6.0).spherical_aberration_um for s in shapes]
    assert 0.4 < shapes[np.argmin(sa)] < 1.6


def test_a_lens_that_cancels_aberration_is_better_centred_and_less_forgiving():
    outside = OUTSIDE["decentration"]
    pupil_mm = outside["pupil_mm"]
    q = brentq(lambda q: wavefront(with_lens(0, q), 6.0).spherical_aberration_um, -60.0, 0.0)

    def rms_um(asphericity, decentration_mm):
        lens = with_lens(0.0, asphericity)
        return spot(lens.moved(2, 3, (0.0, decentration_mm)), pupil_mm).rms_um

    assert rms_um(q, 0.0) < 0.5 * rms_um(0.0, 0.0)
    even_mm = brentq(lambda d: rms_um(q, d) - rms_um(0.0, d), 0.05, 1.5)
    assert even_mm == pytest.approx(outside["limit_mm"], abs=outside["tolerance_mm"])


def test_decentring_an_aspheric_lens_makes_coma_in_proportion():
    lens = with_lens(0.0, -30.0)
    assert wavefront(lens, 4.5).coma_um < 1e-9
    coma = [wavefront(lens.moved(2, 3, (0.0, d)), 4.5).coma_um for d in (0.1, 0.2, 0.4)]
    assert coma[1] / coma[0] == pytest.approx(2.0, rel=0.02)
    assert coma[2] / coma[0] == pytest.approx(4.0, rel=0.05)


@given(st.floats(-10.0, 10.0), st.floats(-1.0, 1.0))
def test_a_turned_sphere_is_a_moved_sphere(tilt_deg, height_mm):
    # a sphere has no axis: turned about its vertex it is the sphere around the moved centre
    sphere = ConicSystem((Surface(7.8, 1.376),))
    turned = sphere.moved(0, 0, tilt_deg=(tilt_deg, 0.0))
    angle = np.radians(tilt_deg)
    vertex = (0.0, -7.8 * np.sin(angle), 7.8 * np.cos(angle) - 7.8)
    moved = ConicSystem((Surface(7.8, 1.376, vertex_mm=vertex),))
    start = meridian(height_mm)
    one, other = (trace(system, start, ALONG) for system in (turned, moved))
    assert one.hits_mm == pytest.approx(other.hits_mm, abs=1e-12)
    assert one.directions == pytest.approx(other.directions, abs=1e-12)


def test_a_lens_turns_about_its_middle_first_about_x_then_about_y():
    # by hand: half of 30° is its sine, √3/2 its cosine; y turns towards z, z towards x
    lens = ConicSystem.of(paraxial.System([10.0, -10.0], [2.0], [1.336, 1.49, 1.336]))
    once = lens.moved(0, 1, tilt_deg=(30.0, 0.0)).surfaces
    assert once[0].vertex_mm == pytest.approx((0.0, 0.5, 1 - 3**0.5 / 2), abs=1e-12)
    assert once[1].vertex_mm == pytest.approx((0.0, -0.5, 1 + 3**0.5 / 2), abs=1e-12)
    assert once[0].axis == once[1].axis == pytest.approx((0.0, -0.5, 3**0.5 / 2), abs=1e-12)
    twice = lens.moved(0, 1, tilt_deg=(30.0, 30.0)).surfaces[0]
    assert twice.axis == pytest.approx((3**0.5 / 4, -0.5, 0.75), abs=1e-12)


@given(st.floats(-0.5, 0.5), st.floats(-0.5, 0.5), st.floats(-8.0, 8.0), st.floats(-8.0, 8.0))
def test_the_way_back_is_the_way_in(dx, dy, tilt_x, tilt_y):
    system = NAVARRO.moved(2, 3, (dx, dy), (tilt_x, tilt_y))
    start = np.array([[0.5, 1.0, -2.0], [0.0, -1.5, -2.0]])
    rays = trace(system, start, ALONG)
    flip = np.array([1.0, 1.0, -1.0])
    before = [system.index_before, *(s.index_behind for s in system.surfaces)]
    back = ConicSystem(
        tuple(
            Surface(
                -s.radius_mm,
                before[k],
                s.asphericity,
                tuple(flip * s.vertex_mm),
                tuple(-flip * s.axis),
            )
            for k, s in reversed(list(enumerate(system.surfaces)))
        ),
        before[-1],
    )
    # a mirror at the retina sends each ray back along its way; the world turned round in z
    far = rays.hits_mm[-1] + 3.0 * rays.directions
    home = trace(back, flip * far, -flip * rays.directions)
    assert home.directions == pytest.approx(np.broadcast_to(ALONG, (2, 3)), abs=1e-10)
    assert home.at_plane(2.0)[:, :2] == pytest.approx(start[:, :2], abs=1e-9)


def test_moving_the_whole_eye_moves_the_image_and_nothing_else():
    moved = NAVARRO.moved(0, 3, (0.3, -0.2))
    still, there = spot(NAVARRO, 3.0, 24.0), spot(moved, 3.0, 24.0)
    assert NAVARRO.moved(1, 2) == NAVARRO
    assert there.rms_um != pytest.approx(still.rms_um, rel=1e-3)  # the pupil stayed behind
    points = meridian([-1.0, 0.5, 1.0])
    one = trace(NAVARRO, points, ALONG).at_plane(24.0)
    other = trace(moved, np.add(points, [0.3, -0.2, 0.0]), ALONG).at_plane(24.0)
    assert other - one == pytest.approx(np.broadcast_to([0.3, -0.2, 0.0], (3, 3)), abs=1e-12)


@given(st.floats(0.0, 2 * np.pi))
def test_a_centred_eye_has_no_preferred_meridian(turn):
    here = trace(NAVARRO, [0.0, 2.0, -1.0], ALONG)
    there = trace(NAVARRO, [2.0 * np.sin(turn), 2.0 * np.cos(turn), -1.0], ALONG)
    assert there.path_mm == pytest.approx(here.path_mm, abs=1e-12)
    assert np.hypot(*there.hits_mm[-1][:2]) == pytest.approx(here.hits_mm[-1][1], abs=1e-12)
    assert there.directions[2] == pytest.approx(here.directions[2], abs=1e-13)


@pytest.mark.parametrize("field_deg", [2.0, 5.0])
def test_a_tilted_eye_is_an_eye_seen_from_the_side(field_deg):
    # to first order the image moves by the field angle about the nodal point
    got = spot(LE_GRAND, 1.0, 24.197, field_deg).centroid_mm
    nodal_mm = paraxial.cardinal_points(model_eyes.get("le_grand")).nodal_mm[1]
    expected = np.tan(np.radians(field_deg)) * (24.197 - nodal_mm)
    assert got[1] == pytest.approx(expected, rel=0.01)
    assert got[0] == pytest.approx(0.0, abs=1e-12)
    up = wavefront(LE_GRAND, 3.0, field_deg=field_deg)
    down = wavefront(LE_GRAND, 3.0, field_deg=-field_deg)
    assert up.coefficient_um(3, -1) == pytest.approx(-down.coefficient_um(3, -1), abs=1e-9)
    assert abs(up.coefficient_um(3, 1)) < 1e-9
    # pure coma about the middle ray, ρ³ sin θ, is Z(3, −1) with √8 times as much Z(1, −1)
    narrow = wavefront(LE_GRAND, 1.0, field_deg=field_deg)
    ratio = narrow.coefficient_um(1, -1) / narrow.coefficient_um(3, -1)
    assert ratio == pytest.approx(8**0.5, rel=0.02)


# spots, pupils and Zernike functions


def test_a_defocused_point_is_an_even_disc():
    # a disc of radius a has an rms radius of a / √2
    system = ConicSystem((Surface(7.8, 1.376, -(1.376**-2)),))
    focus_mm = system.back_focal_mm()
    edge_um = 1000.0 * 0.25 * 0.5 / focus_mm
    got = spot(system, 0.5, focus_mm + 0.5)
    assert got.rms_um == pytest.approx(edge_um / np.sqrt(2), rel=1e-3)
    assert got.weight.sum() == pytest.approx(1.0)


@given(st.floats(-0.5, 0.5), st.floats(1.0, 6.0), st.sampled_from([0.0, 0.4]))
def test_no_plane_is_better_than_the_best(off_mm, pupil_mm, decentration_mm):
    eye = NAVARRO.moved(2, 3, (0.0, decentration_mm))
    best_mm = best_focus_mm(eye, pupil_mm)
    least_um = spot(eye, pupil_mm).rms_um
    assert least_um == pytest.approx(spot(eye, pupil_mm, best_mm).rms_um, rel=1e-9)
    assert spot(eye, pupil_mm, best_mm + off_mm).rms_um >= least_um - 1e-9


def test_zernike_functions_as_written_in_the_standard():
    assert len(OUTSIDE["zernike"]["names"]) == 3
    radius, angle = np.linspace(0.0, 1.0, 11), np.linspace(0.0, 6.0, 11)
    written = {
        (2, 0): 3**0.5 * (2 * radius**2 - 1),
        (3, -1): 8**0.5 * (3 * radius**3 - 2 * radius) * np.sin(angle),
        (4, 0): 5**0.5 * (6 * radius**4 - 6 * radius**2 + 1),
    }
    for (n, m), values in written.items():
        assert zernike(n, m, radius, angle) == pytest.approx(values, abs=1e-12)


def test_zernike_functions_are_orthonormal_on_the_rays_of_the_pupil():
    x, y, weight = pupil_points()
    radius, angle = np.hypot(x, y), np.arctan2(y, x)
    orders = [(n, m) for n in range(9) for m in range(-n, n + 1, 2)]
    table = np.array([zernike(n, m, radius, angle) for n, m in orders])
    assert (table * weight) @ table.T == pytest.approx(np.eye(len(orders)), abs=1e-12)


def test_the_squares_of_the_coefficients_add_up():
    front = wavefront(NAVARRO.moved(2, 3, (0.1, 0.3), (2.0, 1.0)), 5.0)
    squares = sum(
        front.coefficient_um(n, m) ** 2 for n in range(1, 11) for m in range(-n, n + 1, 2)
    )
    assert np.sqrt(squares) == pytest.approx(front.rms_um, rel=1e-4)


def test_finer_rays_change_nothing():
    coarse, fine = (wavefront(NAVARRO, 6.0, rings=r, spokes=s) for r, s in ((8, 12), (30, 60)))
    assert coarse.spherical_aberration_um == pytest.approx(fine.spherical_aberration_um, abs=1e-6)
    assert spot(NAVARRO, 6.0, rings=8).rms_um == pytest.approx(
        spot(NAVARRO, 6.0, rings=30).rms_um, rel=1e-4
    )


@pytest.mark.parametrize("shape", [(), (4,), (3, 2)])
def test_shapes(shape):
    rays = trace(NAVARRO, np.broadcast_to([0.0, 1.0, -1.0], (*shape, 3)), ALONG)
    assert rays.hits_mm.shape == (4, *shape, 3)
    assert rays.directions.shape == (*shape, 3)
    assert np.shape(rays.path_mm) == shape
    assert np.linalg.norm(rays.directions, axis=-1) == pytest.approx(np.ones(shape))


@pytest.mark.benchmark
def test_many_rays_at_once_are_cheap():
    many = meridian(np.linspace(-3.0, 3.0, 1000))

    def seconds(work, times):
        best = np.inf
        for _ in range(3):
            start = time.perf_counter()
            for _ in range(times):
                work()
            best = min(best, (time.perf_counter() - start) / times)
        return best

    one = seconds(lambda: trace(NAVARRO, many[0], ALONG), 20)
    thousand = seconds(lambda: trace(NAVARRO, many, ALONG), 20)
    assert 1000 * one / thousand > 50


# slips


def eye_with(**changes):
    return ConicSystem((Surface(**{"radius_mm": 7.8, "index_behind": 1.376, **changes}),))


@pytest.mark.parametrize(
    ("call", "says"),
    [
        (lambda: ConicSystem.of(model_eyes.get("liou_brennan")), "index gradient"),
        (lambda: ConicSystem.of(model_eyes.get("le_grand"), [0.0, 1.0]), "one Q for each"),
        (lambda: ConicSystem.of(model_eyes.get("le_grand"), stop=7), "0 to 3"),
        (lambda: ConicSystem.of("navarro"), "model_eyes.get('navarro')"),
        (lambda: trace(model_eyes.get("navarro"), [0.0, 1.0, -1.0], ALONG), "ConicSystem.of(eye)"),
        (lambda: ConicSystem(()), "one or more"),
        (lambda: ConicSystem("surfaces"), "one or more"),
        (lambda: eye_with(radius_mm=0.0078), "Multiply by 1000"),
        (lambda: eye_with(axis=(0.0, 0.0, 2.0)), "unit vector"),
        (lambda: eye_with(vertex_mm=(0.0, 1.0)), "give 3 numbers"),
        (lambda: wavefront(eye_with(radius_mm=2.0), 6.0), "miss surface 0"),
        (lambda: trace(eye_with(), [0.0, 9.0, -1.0], ALONG), "miss surface 0"),
        (lambda: trace(eye_with(), [0.0, 0.0, -1.0], [0.0, 0.0, -1.0]), "forwards"),
        (lambda: trace(eye_with(), [0.0, 0.0], ALONG), "last dimension"),
        (lambda: trace(eye_with(), np.zeros((4, 3)), np.ones((5, 3))), "do not go together"),
        (
            lambda: trace(
                ConicSystem((Surface(np.inf, 1.0),), 1.5), [0.0, 0.0, -1.0], [0.0, 1.0, 1.0]
            ),
            "totally reflected",
        ),
        (lambda: wavefront(eye_with(radius_mm=np.inf), 3.0), "no power"),
        (lambda: spot(eye_with(radius_mm=np.inf), 3.0), "leave parallel"),
        (lambda: wavefront(eye_with(), 6.0, focus_mm=1.0), "further away"),
        (lambda: wavefront(eye_with(), 0.006), "Multiply by 1000"),
        (lambda: wavefront(model_eyes.get("navarro"), 6.0), "ConicSystem.of(eye)"),
        (lambda: wavefront(NAVARRO, [3.0, 6.0]), "give one number"),
        (lambda: NAVARRO.moved(3, 2), "in order"),
        (lambda: NAVARRO.moved(0, 4), "0 to 3"),
        (lambda: NAVARRO.moved(2, 3, (0.0, 20.0)), "-5 to 5 mm"),
        (lambda: zernike(3, 0, 0.5, 0.0), "in twos"),
        (lambda: zernike(2, 0, 2.0, 0.0), "radii of the pupil"),
        (lambda: pupil_points(0), "1 to 200"),
        (lambda: pupil_points(10, 2.5), "whole number"),
    ],
)
def test_a_slip_gets_a_sentence(call, says):
    assert says in answer(call)


@pytest.mark.parametrize("value", VALUES, ids=repr)
def test_absurd_input(value):
    for field in ("radius_mm", "index_behind", "asphericity", "vertex_mm", "axis"):
        answer(lambda field=field: wavefront(eye_with(**{field: value}), 3.0).rms_um)
    answer(lambda: trace(NAVARRO, value, ALONG).path_mm)
    answer(lambda: trace(NAVARRO, [0.0, 1.0, -1.0], value).path_mm)
    answer(lambda: trace(NAVARRO, [0.0, 1.0, -1.0], ALONG).at_plane(value))
    for place in range(3):
        given = [4.0, 24.0, 2.0]
        given[place] = value
        answer(lambda given=given: spot(NAVARRO, *given).rms_um)
        answer(lambda given=given: wavefront(NAVARRO, *given).rms_um)
    answer(lambda: best_focus_mm(NAVARRO, value))
    for name in ("decentration_mm", "tilt_deg"):
        answer(lambda name=name: spot(NAVARRO.moved(2, 3, **{name: value}), 3.0).rms_um)
        answer(lambda name=name: spot(NAVARRO.moved(2, 3, **{name: [value, 0.1]}), 3.0).rms_um)
    assert answer(lambda: ConicSystem(value))
    answer(lambda: ConicSystem(NAVARRO.surfaces, value).back_focal_mm())
    answer(lambda: ConicSystem.of(model_eyes.get("navarro"), value).back_focal_mm())
    answer(lambda: pupil_points(value)[2])
    answer(zernike, value, 0, 0.5, 0.0)
    answer(zernike, 4, value, 0.5, 0.0)
    answer(zernike, 4, 0, value, 0.0)
    answer(zernike, 4, 0, 0.5, value)
