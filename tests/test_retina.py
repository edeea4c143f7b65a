"""Light on the retina against closed forms, geometry, a Fourier route and a peer library."""

import importlib
import re
import tomllib
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import minimize_scalar
from scipy.special import j0, j1

from shared_utils.optics import acuity, cosine_waves, lenses, letters, retina, spread, through_focus
from shared_utils.optics.viewing import AVERAGE_CORNEA_SA_UM
from tests.absurd import VALUES, answer
from tests.sampling import sample
from tests.timing import best_of

OUTSIDE = tomllib.loads(
    (Path(__file__).parent / "outside" / "light_retina.toml").read_text(encoding="utf-8")
)
GREEN_NM, GREEN_UM = 555.0, 0.555
MRAD = np.pi / 10.8  # in an arcmin
BARE = lenses.monofocal()
PERFECT = {"wavelength_nm": GREEN_NM, "corneal_sa_um": 0.0}
EVERY_DESIGN = [
    lenses.monofocal(),
    lenses.enhanced_monofocal(),
    lenses.extended_depth(),
    lenses.extended_depth_smooth(),
    lenses.extended_depth_by_aberration(),
    lenses.diffractive_bifocal(),
    lenses.apodised_bifocal(),
    lenses.diffractive_trifocal(),
    lenses.refractive_zonal(),
    lenses.small_aperture(),
]
CANCELLING = -AVERAGE_CORNEA_SA_UM  # leaves an eye without spherical aberration


def name_of(lens):
    return lens.name


# --- spread: closed forms ------------------------------------------------------------------


@pytest.mark.parametrize("pupil_mm", [0.5, 3.0, 6.0, 9.0])
def test_a_perfect_eye_spreads_an_airy_disc(pupil_mm):
    """Born & Wolf: (2 J1(v) / v)² around a middle of (area of the pupil) / λ² per radian²."""
    angle = np.linspace(0.01, 30.0, 400)
    v = np.pi * pupil_mm * angle * MRAD / GREEN_UM
    middle = np.pi * pupil_mm**2 / 4.0 / GREEN_UM**2 * MRAD**2
    ours = retina.psf(BARE, pupil_mm, angle, **PERFECT)
    np.testing.assert_allclose(ours, middle * (2.0 * j1(v) / v) ** 2, atol=1e-12 * middle)
    assert retina.psf(BARE, pupil_mm, 0.0, **PERFECT) == pytest.approx(middle)


@pytest.mark.parametrize("pupil_mm", [0.5, 3.0, 6.0, 9.0])
def test_light_in_the_bucket_is_the_closed_form(pupil_mm):
    """Born & Wolf: 1 − J0² − J1²."""
    angle = np.linspace(0.0, 180.0 if pupil_mm < 5 else 60.0, 500)
    v = np.pi * pupil_mm * angle * MRAD / GREEN_UM
    ours = retina.encircled_energy(BARE, pupil_mm, angle, **PERFECT)
    np.testing.assert_allclose(ours, 1.0 - j0(v) ** 2 - j1(v) ** 2, atol=2e-5)


def test_the_first_dark_ring_and_what_it_holds():
    known = OUTSIDE["airy"]
    unit = GREEN_UM / 3.0 / MRAD  # λ / pupil, arcmin
    dark = minimize_scalar(
        lambda x: retina.psf(BARE, 3.0, x * unit, **PERFECT),
        bounds=(1.0, 1.4),
        method="bounded",
        options={"xatol": 1e-9},
    )
    assert dark.x == pytest.approx(known["first_zero"], abs=known["tolerance"])
    assert retina.encircled_energy(BARE, 3.0, dark.x * unit, **PERFECT) == pytest.approx(
        known["energy"], abs=known["energy_tolerance"]
    )


def test_strehl_of_defocus_is_a_squared_sinc():
    """Born & Wolf: on the axis, sinc²(W/λ), W = D a² / 2 the path at the rim."""
    defocus = np.array([-1.0, -0.4, 0.0, 0.3, 1.0])
    ours = retina.psf(BARE, 4.0, 0.0, defocus, **PERFECT)
    np.testing.assert_allclose(ours / ours[2], np.sinc(defocus * 2.0 / GREEN_UM) ** 2, atol=1e-12)


@pytest.mark.parametrize("lens", EVERY_DESIGN, ids=name_of)
def test_the_bucket_holds_what_the_spread_adds_up_to(lens):
    """Independent route: the spread, ring by ring, by Gauss's rule."""
    x, w = np.polynomial.legendre.leggauss(400)
    for reach in (1.5, 12.0):
        angle = (1.0 + x) / 2.0 * reach
        light = retina.psf(lens, 4.0, angle, [0.0, -2.5])
        held = light @ (2.0 * np.pi * angle * w) * reach / 2.0
        np.testing.assert_allclose(
            retina.encircled_energy(lens, 4.0, reach, [0.0, -2.5]), held, atol=5e-5
        )


@pytest.mark.parametrize("lens", sample(EVERY_DESIGN, 3), ids=name_of)
@pytest.mark.parametrize("wavelength_nm", [450.0, pytest.param(None, marks=pytest.mark.long)])
def test_the_spread_and_the_contrast_are_a_transform_pair(lens, wavelength_nm):
    """Hankel: contrast is the spread's sum of waves J0. What falls beyond 180 arcmin is small."""
    frequency = np.array([2.0, 6.0, 15.0])
    x, w = np.polynomial.legendre.leggauss(1500)
    angle = (1.0 + x) * 90.0
    light = retina.psf(lens, 2.0, angle, -0.6, wavelength_nm)
    waves = j0(2.0 * np.pi * np.multiply.outer(angle / 60.0, frequency))
    ours = (light * 2.0 * np.pi * angle * w * 90.0) @ waves
    known = through_focus.transfer(lens, 2.0, -0.6, frequency, wavelength_nm)
    np.testing.assert_allclose(ours, known, atol=4e-3)


# --- where the light of a lens goes ---------------------------------------------------------


def in_discs(lens, pupil_mm, reach_mrad):
    """Geometry: order m, out of focus by m adds, lies evenly on a disc of m · add · pupil."""
    total = 0.0
    for order, energy in lens.order_energies(orders=range(-400, 401)).items():
        radius = abs(order) * lens.spacing_d * pupil_mm / 2.0
        total += energy * (1.0 if radius < reach_mrad else (reach_mrad / radius) ** 2)
    return total


def test_nearly_all_light_lies_within_40_mrad():
    """A perfect image has lost 2 / πv there, a bifocal besides what its high orders throw out."""
    reach = 40.0 / MRAD
    rim = 2.0 / (np.pi * np.pi * 3.0 * 40.0 / GREEN_UM)
    for lens in (BARE, lenses.extended_depth_smooth()):
        ours = retina.encircled_energy(lens, 3.0, reach, wavelength_nm=GREEN_NM)
        assert ours == pytest.approx(1.0 - rim, abs=2e-4)
    bifocal = lenses.diffractive_bifocal()
    ours = retina.encircled_energy(bifocal, 3.0, reach, wavelength_nm=GREEN_NM)
    assert ours == pytest.approx(in_discs(bifocal, 3.0, 40.0) - rim, abs=2e-3)


@pytest.mark.parametrize(("pupil_mm", "tolerance"), [(3.0, 0.02), (5.0, 0.01)])
def test_light_in_the_bucket_of_a_bifocal_is_far_energy_and_halo(pupil_mm, tolerance):
    """Four ninths at most of a monofocal's: 0.405 in focus, and the discs of the other orders."""
    lens, bucket = lenses.diffractive_bifocal(), 1.5
    ours, whole = (retina.encircled_energy(x, pupil_mm, bucket, **PERFECT) for x in (lens, BARE))
    in_focus = lens.order_energies()[0]
    halo = in_discs(lens, pupil_mm, bucket * MRAD) - in_focus
    assert ours == pytest.approx(in_focus * whole + halo, abs=tolerance)
    assert ours > in_focus * whole


@pytest.mark.parametrize("pupil_mm", OUTSIDE["halo"]["pupil_mm"])
@pytest.mark.parametrize("add_d", OUTSIDE["halo"]["add_d"])
def test_a_halo_is_as_wide_as_pupil_times_add(add_d, pupil_mm):
    known = OUTSIDE["halo"]
    lens = lenses.diffractive_bifocal(add_d, lens_sa_um=CANCELLING)
    ours = retina.halo_diameter_arcmin(lens, pupil_mm)
    assert known["low"] < ours * MRAD / (pupil_mm * add_d) < known["high"]


def test_halos_grow_with_pupil_and_add_and_get_dimmer():
    """Common practice, no source. The physics: the same energy on a disc of pupil times add."""
    for lens_of, pupils in (
        (lambda x: lenses.diffractive_bifocal(2.5, lens_sa_um=CANCELLING), (3.0, 4.0, 5.0, 6.0)),
        (lambda x: lenses.diffractive_bifocal(x, lens_sa_um=CANCELLING), (4.0,) * 4),
    ):
        widths, levels = [], []
        for pupil_mm, add_d in zip(pupils, (1.5, 2.0, 2.5, 3.5), strict=True):
            lens = lens_of(add_d)
            width = retina.halo_diameter_arcmin(lens, pupil_mm)
            angle = np.linspace(0.3, 0.4, 20) * width
            widths.append(width)
            levels.append(retina.halo_profile(lens, pupil_mm, angle).mean())
        assert np.all(np.diff(widths) > 0)
        assert np.all(np.diff(levels) < 0)


def test_the_level_of_a_halo_is_its_energy_over_its_area():
    """Far from the middle, green light: near's 0.405 and order −1's 0.045 on one disc."""
    lens, pupil_mm = lenses.diffractive_bifocal(2.5, lens_sa_um=CANCELLING), 6.0
    radius = retina.geometric_halo_arcmin(pupil_mm, 2.5) / 2.0
    inner, outer = 0.4 * radius, 0.85 * radius
    held = np.diff(retina.encircled_energy(lens, pupil_mm, [inner, outer], 0.0, GREEN_NM))[0]
    energies = lens.order_energies(orders=range(-20, 21))
    level = sum(e / order**2 for order, e in energies.items() if order)
    assert held == pytest.approx(level * (0.85**2 - 0.4**2), rel=0.05)


def test_spherical_aberration_that_nothing_cancels_widens_a_halo():
    bifocal, aspheric = (
        lenses.diffractive_bifocal(),
        lenses.diffractive_bifocal(lens_sa_um=CANCELLING),
    )
    assert retina.halo_diameter_arcmin(bifocal, 5.0) > retina.halo_diameter_arcmin(aspheric, 5.0)


def test_a_profile_averages_the_fine_rings_away():
    lens = lenses.diffractive_bifocal()
    angle = np.linspace(8.0, 16.0, 200)
    smooth, fine = retina.halo_profile(lens, 5.0, angle), retina.psf(lens, 5.0, angle)
    assert np.mean(smooth) == pytest.approx(np.mean(fine), rel=0.1)
    assert np.std(np.diff(smooth)) < 0.5 * np.std(np.diff(fine))
    assert retina.halo_profile(lens, 5.0, 0.0) == pytest.approx(
        retina.encircled_energy(lens, 5.0, 0.5) / (np.pi * 0.25)
    )


def test_a_night_scene_holds_the_light_of_its_lamps():
    lens = lenses.diffractive_bifocal(lens_sa_um=CANCELLING)
    one = retina.night_scene(lens, 5.0, width_arcmin=60.0, pixels=301)
    least, most = retina.encircled_energy(lens, 5.0, [30.0, 30.0 * np.sqrt(2.0)])
    assert 0.94 * least < one.sum() * 0.2**2 < most
    np.testing.assert_allclose(one, one.T)
    np.testing.assert_allclose(one, one[::-1])
    pair = retina.night_scene(lens, 5.0, ((-10.0, 5.0), (10.0, 5.0)), 60.0, 121)
    row, column = np.unravel_index(np.argmax(pair[:, :60]), (121, 60))
    assert (60 - row) * 60 / 121 == pytest.approx(5.0, abs=0.5)  # the first row is the top
    assert (column - 60) * 60 / 121 == pytest.approx(-10.0, abs=0.5)
    np.testing.assert_allclose(pair, pair[:, ::-1], rtol=1e-9)


# --- the retinal image ----------------------------------------------------------------------


@pytest.mark.parametrize("lens", sample(EVERY_DESIGN, 3), ids=name_of)
def test_an_even_field_stays_even(lens):
    for shape in ((1, 1), (7, 32), (40, 40)):
        for pupil_mm, distance_m in ((0.5, np.inf), (3.0, 0.4), (6.0, 0.7)):
            seen = retina.image(np.full(shape, 0.7), 0.01, lens, pupil_mm, distance_m)
            np.testing.assert_allclose(seen, 0.7, atol=1e-6)
    seen = retina.image(
        np.full((12, 20), 0.7), 0.01, lens, 3.0, 0.4, retina.Placement(decentration_mm=(0.3, 0.0))
    )
    np.testing.assert_allclose(seen, 0.7, atol=1e-6)


@given(
    st.sampled_from(EVERY_DESIGN),
    st.floats(0.5, 7.0),
    st.floats(0.2, 10.0),
    st.integers(0, 10**6),
)
@settings(max_examples=15)
def test_no_light_of_a_scene_is_made_or_lost(lens, pupil_mm, distance_m, number):
    scene = np.random.default_rng(number).random((24, 31))
    seen = retina.image(scene, 0.02, lens, pupil_mm, distance_m)
    assert seen.sum() == pytest.approx(scene.sum(), rel=1e-5)
    twice = retina.image(2.0 * scene + 1.0, 0.02, lens, pupil_mm, distance_m)
    np.testing.assert_allclose(twice, 2.0 * seen + 1.0, atol=1e-4)
    turned = retina.image(scene[::-1].T, 0.02, lens, pupil_mm, distance_m)
    np.testing.assert_allclose(turned, seen[::-1].T, atol=1e-5)


def by_fourier(scene, lens, pupil_mm, defocus_d):
    """Independent route, green: pupil on a square, fast Fourier transform, product of spectra.

    Half the array is pupil, so a pixel of the spread is half of λ / pupil.
    """
    side, finer = len(scene), 4
    spacing = 2.0 * pupil_mm / side
    x = (np.arange(side * finer) - (side * finer - 1) / 2.0) * spacing / finer
    u = x[:, None] ** 2 + x**2
    path = lens.opd_um(u) + defocus_d * u / 2.0
    wave = np.where(u <= pupil_mm**2 / 4.0, lens.transmission(u), 0.0) * np.exp(
        2j * np.pi * path / GREEN_UM
    )
    total = np.sum(np.abs(wave) ** 2) / finer**2
    wave = wave.reshape(side, finer, side, finer).mean(axis=(1, 3))
    light = np.abs(np.fft.fft2(wave)) ** 2
    passed = np.fft.fft2(light / (side**2 * total))
    passed[0, 0] = 1.0  # averaging the steps has thrown some light far out
    return np.fft.ifft2(np.fft.fft2(scene) * passed).real


@pytest.mark.parametrize(
    ("lens", "tolerance"),
    sample(
        [
            pytest.param(BARE, 5e-3),
            pytest.param(lenses.extended_depth_smooth(), 5e-3),
            pytest.param(lenses.small_aperture(), 5e-3),
            pytest.param(lenses.diffractive_bifocal(), 8e-3),
            pytest.param(lenses.diffractive_trifocal(), 8e-3),
        ],
        2,
    ),
    ids=lambda x: getattr(x, "name", ""),
)
def test_an_image_is_that_of_the_fourier_route(lens, tolerance):
    side, pupil_mm = 384, 3.0
    pixel_deg = GREEN_UM / (2.0 * pupil_mm) / (1000.0 * np.pi / 180.0)
    scene = np.zeros((side, side))
    scene[150:230:2, 160:200] = 1.0
    scene[180:200, 210:240] = 0.6
    for distance_m in (np.inf, 1.0, 0.4):
        known = by_fourier(scene, lens, pupil_mm, -1.0 / distance_m)
        ours = retina.image(scene, pixel_deg, lens, pupil_mm, distance_m, **PERFECT)
        np.testing.assert_allclose(ours, known, atol=tolerance)


def test_an_image_of_lines_keeps_the_contrast_that_the_lens_passes():
    """Stripes of whole periods: amplitude out over amplitude in is the transfer, sign and all."""
    place = (np.arange(240) + 0.5) / 240.0  # one degree
    for frequency in (3.0, 10.0, 30.0):
        stripes = np.cos(2.0 * np.pi * frequency * place)
        seen = retina.image(np.tile(1.0 + stripes, (3, 1)), 1.0 / 240, BARE, 4.0, 1.0)
        passed = 2.0 * np.mean((seen[1] - 1.0) * stripes)
        known = through_focus.transfer(BARE, 4.0, -1.0, frequency)
        assert passed == pytest.approx(known, abs=1.5e-3)


def test_beyond_its_edges_a_scene_is_mirrored():
    scene = np.zeros((32, 32))
    scene[:, 0] = 1.0
    half = retina.image(scene, 0.01, BARE, 3.0, 1.0)
    both = retina.image(np.hstack([scene[:, ::-1], scene]), 0.01, BARE, 3.0, 1.0)
    np.testing.assert_allclose(half, both[:, 32:], atol=1e-6)


def test_a_bifocal_shows_near_what_a_monofocal_does_not():
    paper = letters.chart([0.3, 0.1], 0.005, (160, 340))
    near = [
        np.ptp(retina.image(paper, 0.005, lens, 3.0, 0.4))
        for lens in (lenses.diffractive_bifocal(), BARE)
    ]
    assert near[0] > 1.5 * near[1]


# --- the square route -----------------------------------------------------------------------


@pytest.mark.peer
@pytest.mark.parametrize("lens", [BARE, lenses.diffractive_bifocal()], ids=name_of)
def test_the_triple_product_is_that_of_prysm(lens):
    """On the same samples. prysm's middle is sample side / 2, ours lies between two samples.

    In the pupil that is no more than a phase; on the retina it is taken into account by the
    angles asked for.
    """
    propagation = importlib.import_module("prysm.propagation")
    side, pupil_mm, out, step_mrad = 128, 3.0, 64, 0.07
    spacing = pupil_mm / side
    x = (np.arange(side) - side / 2.0) * spacing
    u = x[:, None] ** 2 + x**2
    wave = np.where(u <= pupil_mm**2 / 4.0, 1.0, 0.0) * np.exp(
        2j * np.pi * (lens.opd_um(u) + 0.3 * u / 2.0) / GREEN_UM
    )
    wave = wave * np.exp(0.4j * x) * (1.0 + 0.1 * x[:, None])  # nothing symmetric
    angle = (np.arange(out) - out // 2) * step_mrad
    ours = spread.square_spread(wave, spacing, GREEN_UM, angle)
    focal_mm = 1000.0  # a milliradian is then a millimetre, and prysm counts in µm
    theirs = np.abs(
        propagation.focus_fixed_sampling(wave, spacing, focal_mm, GREEN_UM, 1000.0 * step_mrad, out)
    )
    theirs = theirs**2
    theirs *= ours.max() / theirs.max()
    assert np.max(np.abs(ours - theirs)) < 1e-12 * ours.max()


@pytest.mark.parametrize(
    ("lens", "tolerance"),
    sample(
        [
            pytest.param(BARE, 1e-3),
            pytest.param(lenses.extended_depth_smooth(), 1e-3),
            pytest.param(lenses.diffractive_bifocal(), 5e-3),
            pytest.param(lenses.small_aperture(), 5e-3),
        ],
        2,
    ),
    ids=lambda x: getattr(x, "name", ""),
)
@pytest.mark.parametrize("wavelength_nm", [None, 500.0])
def test_both_routes_spread_alike(lens, tolerance, wavelength_nm):
    square = retina.psf_on_grid(lens, 4.0, 0.25, 61, -0.5, wavelength_nm=wavelength_nm)
    x = (np.arange(61) - 30) * 0.25
    away = np.hypot(x[:, None], x)
    radial = retina.psf(lens, 4.0, away.ravel(), -0.5, wavelength_nm).reshape(61, 61)
    np.testing.assert_allclose(square, radial, atol=tolerance * radial.max())


@pytest.mark.parametrize("lens", [BARE, lenses.diffractive_bifocal()], ids=name_of)
def test_both_routes_give_the_same_image(lens):
    """A coma of nothing takes the square route, whose patch holds nearly all light."""
    scene = np.zeros((90, 70))
    scene[30:60:3, 20:50] = 1.0
    nothing = retina.Placement(coma_um=(1e-12, 0.0))
    for distance_m in (np.inf, 0.5):
        square = retina.image(scene, 0.008, lens, 3.0, distance_m, nothing)
        radial = retina.image(scene, 0.008, lens, 3.0, distance_m)
        np.testing.assert_allclose(square, radial, atol=0.01)
        assert square.sum() == pytest.approx(scene.sum(), rel=1e-5)


def placed(lens=None, **how):
    lens = lenses.diffractive_bifocal(lens_sa_um=CANCELLING) if lens is None else lens
    return retina.psf_on_grid(lens, 4.0, 0.5, 60, 0.0, retina.Placement(**how), GREEN_NM)


def test_what_is_turned_or_mirrored_spreads_turned_or_mirrored():
    """Rows run downwards, y upwards."""
    right = placed(decentration_mm=(0.5, 0.0), coma_um=(0.2, 0.1))
    peak = right.max()
    left = placed(decentration_mm=(-0.5, 0.0), coma_um=(-0.2, 0.1))
    np.testing.assert_allclose(left, right[:, ::-1], atol=1e-5 * peak)
    lower = placed(decentration_mm=(0.5, 0.0), coma_um=(0.2, -0.1))
    np.testing.assert_allclose(lower, right[::-1], atol=1e-5 * peak)
    upwards = placed(decentration_mm=(0.0, 0.5), coma_um=(-0.1, 0.2))
    np.testing.assert_allclose(upwards, np.rot90(right), atol=1e-5 * peak)
    assert np.max(np.abs(left - right)) > 0.01 * peak


def test_a_tilt_is_the_same_to_either_side_and_turns_with_its_axis():
    about_x = placed(tilt_deg=(8.0, 0.0))
    peak = about_x.max()
    np.testing.assert_allclose(placed(tilt_deg=(-8.0, 0.0)), about_x, atol=1e-5 * peak)
    np.testing.assert_allclose(about_x[::-1], about_x, atol=1e-5 * peak)
    np.testing.assert_allclose(about_x[:, ::-1], about_x, atol=1e-5 * peak)
    np.testing.assert_allclose(placed(tilt_deg=(0.0, 8.0)), about_x.T, atol=1e-5 * peak)


def test_a_tilted_lens_makes_the_astigmatism_that_keating_gives():
    """Independent route: a pupil with that sphere and cylinder, and plain sums."""
    tilt = np.radians(12.0)
    at_cornea = 20.0 * lenses.corneal_add_d(1.0)
    sphere = at_cornea * np.sin(tilt) ** 2 / (2.0 * 1.49 / 1.336)
    cylinder = at_cornea * np.tan(tilt) ** 2
    side = 256
    x = (np.arange(side) + 0.5) / side * 4.0 - 2.0
    y = x[:, None]
    path = (sphere * (x**2 + y**2) + cylinder * y**2) / 2.0  # most across the axis, which is x
    wave = np.where(x**2 + y**2 < 4.0, np.exp(2j * np.pi * path / GREEN_UM), 0.0)
    angle = (np.arange(41) - 20) * 0.5 * MRAD
    known = spread.square_spread(wave, 4.0 / side, GREEN_UM, angle) * MRAD**2
    ours = retina.psf_on_grid(
        BARE, 4.0, 0.5, 41, 0.0, retina.Placement(tilt_deg=(12.0, 0.0)), GREEN_NM, 0.0
    )
    np.testing.assert_allclose(ours, known, atol=0.01 * known.max())
    assert np.sum(ours[:, 20]) > 2.0 * np.sum(ours[20])  # drawn out across the axis


def test_a_decentred_near_focus_is_a_prism():
    """Prentice: 2.5 D, 0.5 mm off, 1.25 mrad: a near point is seen 4.3 arcmin to the other side."""
    lens = lenses.diffractive_bifocal(2.5)
    for shift, axis in (((0.5, 0.0), 0), ((0.0, 0.5), 1)):
        how = retina.Placement(decentration_mm=shift)
        light = retina.psf_on_grid(lens, 4.0, 0.25, 81, -2.5, how, **PERFECT)
        place = np.array(np.unravel_index(np.argmax(light), light.shape)) - 40
        seen_arcmin = (place[1] * 0.25, -place[0] * 0.25)  # x, y; rows run downwards
        assert seen_arcmin[axis] == pytest.approx(-1.25 / MRAD, abs=0.3)
        assert seen_arcmin[1 - axis] == pytest.approx(0.0, abs=0.13)


def test_what_has_no_axis_does_not_mind_being_decentred():
    plain = placed(BARE)
    np.testing.assert_allclose(placed(BARE, decentration_mm=(0.7, 0.2)), plain, atol=1e-9)
    # one that cancels the cornea's aberration does: what is left over is coma
    aspheric = lenses.monofocal(CANCELLING)
    assert placed(aspheric, decentration_mm=(0.5, 0.0)).max() < 0.8 * placed(aspheric).max()


def test_an_image_is_drawn_out_to_the_side_of_its_spread():
    """A point as a scene: coma's tail points as in the spread itself."""
    how = retina.Placement(coma_um=(0.4, -0.2))
    scene = np.zeros((61, 61))
    scene[30, 30] = 1.0
    seen = retina.image(scene, 0.25 / 60.0, BARE, 4.0, np.inf, how, GREEN_NM)
    known = retina.psf_on_grid(BARE, 4.0, 0.25, 61, 0.0, how, GREEN_NM) * 0.25**2
    np.testing.assert_allclose(seen, known, atol=0.02 * known.max())


# --- letters --------------------------------------------------------------------------------


@pytest.mark.parametrize("name", letters.NAMES)
def test_a_letter_fills_five_strokes_by_five(name):
    ink = letters.letter(name, 50)
    assert ink.shape == (50, 50)
    assert 0.0 <= ink.min() <= ink.max() <= 1.0
    for side in (ink[0], ink[-1], ink[:, 0], ink[:, -1]):
        assert side.max() > 0.3  # the gap of C takes the place where its ring would touch
    assert 0.3 < ink.mean() < 0.72
    coarse = letters.letter(name, 10)
    np.testing.assert_allclose(coarse, ink.reshape(10, 5, 10, 5).mean(axis=(1, 3)), atol=0.13)


def test_strokes_and_gaps_are_one_fifth():
    """By hand: E has 5 + 3 · 4 = 17 of 25 squares; the ring π (2.5² − 1.5²) less its gap."""
    known = OUTSIDE["letters"]
    assert letters.letter("E", 50).mean() == pytest.approx(17.0 / 25.0)
    ring = letters.letter("O", 200)
    assert ring.mean() == pytest.approx(np.pi * 4.0 / 25.0, abs=2e-3)
    gap = letters.letter("C", 50)[:, -8:].mean(axis=1) < 0.01
    assert np.sum(gap[15:35]) == 50 // known["strokes"]
    for name in "HOV":
        np.testing.assert_array_equal(letters.letter(name, 40), letters.letter(name, 40)[:, ::-1])
    for name in ("N", "Z", "S"):
        ink = letters.letter(name, 40)
        assert np.mean(np.abs(ink - ink[::-1, ::-1])) < 0.005
    assert len({letters.letter(name, 30).tobytes() for name in letters.NAMES}) == 14


def test_the_four_directions_of_e_are_turns():
    one, down, left, up = (letters.letter(name, 25) for name in letters.TUMBLING)
    np.testing.assert_array_equal(down, np.rot90(one, -1))
    np.testing.assert_array_equal(left, one[:, ::-1])
    np.testing.assert_array_equal(up, np.rot90(one))


@given(st.floats(-0.1, 1.0))
@settings(max_examples=20)
def test_a_row_is_as_high_as_its_logmar(logmar):
    known = OUTSIDE["letters"]
    pixel_deg = 0.004
    paper = letters.chart(logmar, pixel_deg, (400, 400), letters_per_row=1, names=("H",))
    ink = 1.0 - paper
    high = ink[:, ink.sum(axis=0).argmax()].sum() * pixel_deg * 60.0
    assert high == pytest.approx(known["arcmin_at_0_logmar"] * 10.0**logmar, abs=0.1)
    # and at 6 m that is the height of acuity's own letter
    mm = 6000.0 * np.tan(np.radians(high / 60.0))
    assert mm == pytest.approx(acuity.letter_height_mm(logmar, 6.0), abs=0.2)


def test_rows_are_apart_by_the_height_of_the_smaller():
    """Bailey & Lovie 1976."""
    ink = 1.0 - letters.chart([0.6, 0.3], 0.002, (800, 900), 2, ("H", "N"))
    filled = np.flatnonzero(ink.sum(axis=1) > 0.5)
    breaks = np.flatnonzero(np.diff(filled) > 1)
    assert len(breaks) == 1
    gap = filled[breaks[0] + 1] - filled[breaks[0]] - 1
    assert gap == pytest.approx(5.0 * 10.0**0.3 / 60.0 / 0.002, abs=2)
    columns = np.flatnonzero(ink[: filled[breaks[0]]].sum(axis=0) > 0.5)
    between = np.diff(columns).max() - 1
    assert between == pytest.approx(5.0 * 10.0**0.6 / 60.0 / 0.002, abs=2)


# --- what cannot be -------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: retina.psf("bifocal", 3.0, 0.0), "lens is 'bifocal'"),
        (lambda: retina.psf(BARE, [3.0, 4.0], 0.0), "pupil_mm holds 2"),
        (lambda: retina.psf(BARE, 3.0, -1.0), "angle_arcmin is -1 arcmin"),
        (lambda: retina.psf(BARE, 3.0, []), "angle_arcmin holds no number"),
        (lambda: retina.psf(BARE, 3.0, 0.0, 40.0), "defocus_d is 40 D"),
        (lambda: retina.psf(BARE, 3.0, 0.0, 0.0, 0.555), "wavelength_nm is 0.555 nm"),
        (lambda: retina.encircled_energy(BARE, 3.0, 600.0), "angle_arcmin is 600"),
        (lambda: retina.halo_diameter_arcmin(BARE, 3.0), "one focus"),
        (lambda: retina.halo_diameter_arcmin(None, 3.0), "lens is None"),
        (lambda: retina.night_scene(BARE, 3.0, ((0, 0, 1),)), "lamps_arcmin"),
        (lambda: retina.night_scene(BARE, 3.0, pixels=2.5), "pixels is 2.5"),
        (lambda: retina.image(np.ones(5), 0.01, BARE, 3.0, 1.0), "scene has the shape (5,)"),
        (lambda: retina.image(np.ones((0, 5)), 0.01, BARE, 3.0, 1.0), "scene has the shape"),
        (lambda: retina.image([[np.nan]], 0.01, BARE, 3.0, 1.0), "scene[0, 0] is nan"),
        (lambda: retina.image([[1.0]], 5.0, BARE, 3.0, 1.0), "degrees_per_pixel is 5"),
        (lambda: retina.image([[1.0]], 0.01, BARE, 3.0, -1.0), "distance_m is -1 m"),
        (lambda: retina.image([[1.0]], 0.01, BARE, 3.0, 1.0, "off"), "placement is 'off'"),
        (lambda: retina.psf_on_grid(BARE, 3.0, 5.0, 200), "repeats itself"),
        (lambda: retina.Placement(decentration_mm=0.5), "decentration_mm has the shape ()"),
        (lambda: retina.Placement(tilt_deg=(90.0, 0.0)), "tilt_deg[0] is 90"),
        (lambda: retina.Placement(lens_power_d=-5.0), "lens_power_d is -5 D"),
        (lambda: letters.letter("Q", 10), "name is 'Q'"),
        (lambda: retina.psf(np.zeros((2, 3)), 3.0, 0.0), "lens is array"),
        (lambda: letters.letter("C", 0.2), "pixels is 0.2"),
        (lambda: letters.chart(1.0, 0.01, (20, 20)), "this chart needs"),
        (lambda: letters.chart(0.0, 0.5, (20, 20)), "smaller than a pixel"),
        (lambda: letters.chart([], 0.01, (20, 20)), "rows_logmar holds no number"),
        (lambda: letters.chart(0.0, 0.01, (200, 200), names="NCK"), "names is 'NCK'"),
        (lambda: letters.chart(0.0, 0.01, (200, 200), names=("Q",)), "names is 'Q'"),
        (lambda: letters.chart(0.0, 0.01, 200), "shape"),
    ],
)
def test_what_cannot_be_gets_one_clear_sentence(call, words):
    with pytest.raises(ValueError) as caught:
        call()
    sentence = str(caught.value)
    assert words in sentence
    assert "\n" not in sentence
    assert sentence.endswith(".")


@pytest.mark.parametrize("value", VALUES, ids=lambda v: repr(v)[:20])
def test_absurd_input_gets_numbers_or_one_sentence(value):
    bifocal = lenses.diffractive_bifocal()
    answer(retina.psf, value, 3.0, 1.0)
    answer(retina.psf, BARE, value, 1.0)
    answer(retina.psf, BARE, 3.0, value)
    answer(retina.psf, BARE, 3.0, 1.0, value)
    answer(retina.encircled_energy, BARE, 3.0, value)
    answer(retina.halo_profile, BARE, 3.0, value)
    answer(retina.halo_diameter_arcmin, bifocal, value)
    answer(retina.geometric_halo_arcmin, value, value)
    answer(retina.night_scene, BARE, 3.0, value, 20.0, 5)
    answer(retina.night_scene, BARE, 3.0, ((0.0, 0.0),), value, 5)
    answer(retina.night_scene, BARE, 3.0, ((0.0, 0.0),), 20.0, value)
    answer(retina.image, value, 0.01, BARE, 3.0, 1.0)
    answer(retina.image, [[1.0]], value, BARE, 3.0, 1.0)
    answer(retina.image, [[1.0]], 0.01, BARE, 3.0, value)
    answer(retina.psf_on_grid, BARE, 3.0, value, 5)
    answer(retina.psf_on_grid, BARE, 3.0, 0.2, value)
    answer(retina.Placement, decentration_mm=value)
    answer(retina.Placement, tilt_deg=value)
    answer(retina.Placement, lens_power_d=value)
    answer(letters.letter, value, 10)
    answer(letters.letter, "C", value)
    answer(letters.chart, value, 0.01, (100, 100))
    answer(letters.chart, 0.0, value, (100, 100))
    answer(letters.chart, 0.0, 0.01, value)
    answer(letters.chart, 0.0, 0.01, (100, 100), value)
    answer(letters.chart, 0.0, 0.01, (100, 100), 1, value)


@pytest.mark.parametrize("defocus", [0.0, [0.0, -1.0], [[0.0], [1.0]]])
@pytest.mark.parametrize("angle", [1.0, [1.0, 2.0, 3.0]])
def test_shapes_are_defocus_then_angle(defocus, angle):
    for function in (retina.psf, retina.encircled_energy, retina.halo_profile):
        ours = function(BARE, 3.0, angle, defocus)
        assert np.shape(ours) == np.shape(defocus) + np.shape(angle)
    if np.ndim(defocus) == np.ndim(angle) == 0:
        assert isinstance(ours, float)


def test_memory_is_bounded():
    for kept in (
        spread._points,
        spread._bessel,
        retina._transfer_table,
        retina._places_in_table,
        retina._square_transfer,
    ):
        assert 0 < kept.cache_info().maxsize <= 16


# --- speed ----------------------------------------------------------------------------------


@pytest.mark.benchmark
def test_an_image_costs_little_more_than_its_two_transforms():
    """512 × 512: beside the least that any Fourier route can cost, there and back again."""
    from scipy import fft

    scene = np.random.default_rng(1).random((512, 512))
    lens = lenses.diffractive_bifocal()
    ours = best_of(9, lambda: retina.image(scene, 1 / 512, lens, 3.0, 0.4))
    single = scene.astype(np.float32)
    least = best_of(9, lambda: fft.irfft2(fft.rfft2(single)))
    assert ours / least < 6.0, f"{1e3 * ours:.1f} ms, {1e3 * least:.1f} ms"


@pytest.mark.benchmark
def test_a_new_distance_costs_no_more_than_convolutions_with_a_known_spread():
    """A slider of distance, beside a convolution by a general library, its spread given."""
    from scipy.signal import fftconvolve

    scene = np.random.default_rng(1).random((512, 512))
    lens = lenses.diffractive_bifocal()
    distances = iter(np.linspace(0.3, 2.0, 40))
    ours = best_of(9, lambda: retina.image(scene, 1 / 512, lens, 3.0, next(distances)))
    kernel = np.ones((257, 257)) / 257**2
    theirs = best_of(5, lambda: fftconvolve(scene, kernel, mode="same"))
    assert ours / theirs < 2.0, f"{1e3 * ours:.1f} ms, {1e3 * theirs:.1f} ms"


@pytest.mark.benchmark
def test_radii_are_cheaper_than_a_square():
    """The profile of a halo, out to where the square of the other route ends."""
    lens = lenses.diffractive_bifocal()
    angle = np.linspace(0.0, 36.0, 145)
    round_way = best_of(5, lambda: retina.halo_profile(lens, 5.0, angle))
    square_way = best_of(2, lambda: retina.psf_on_grid(lens, 5.0, 0.5, 145))
    assert square_way / round_way > 5.0


def test_waves_that_cannot_be_get_one_clear_sentence():
    for call, words in (
        (lambda: cosine_waves.cosine_waves([1.0, 2.0]), "scene has the shape (2,)"),
        (lambda: cosine_waves.scene_of_waves(np.ones((0, 2))), "waves has the shape (0, 2)"),
        (lambda: cosine_waves.frequency_of_waves_cpd((2, 2.5), 0.01), "two whole numbers"),
        (lambda: cosine_waves.frequency_of_waves_cpd((2, 2), 0.0), "degrees_per_pixel is 0"),
    ):
        with pytest.raises(ValueError, match=re.escape(words)):
            call()
