"""Contrast through focus against closed forms, a slow independent integral, and a peer library."""

import importlib
import time
import tomllib
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq, minimize_scalar
from scipy.special import j0, jv

from shared_utils.optics import fourier_bessel, lenses, through_focus, viewing
from shared_utils.optics.luminosity import luminosity
from tests.absurd import answer
from tests.sampling import sample
from tests.timing import best_of

OUTSIDE = tomllib.loads(
    (Path(__file__).parent / "outside" / "light_contrast.toml").read_text(encoding="utf-8")
)

GREEN_NM, GREEN_UM = 555.0, 0.555
MRAD_PER_DEG = 1000.0 * np.pi / 180.0
BARE = lenses.monofocal()
EVERY_DESIGN = [
    lenses.monofocal(),
    lenses.monofocal(-0.20),
    lenses.enhanced_monofocal(),
    lenses.extended_depth(),
    lenses.extended_depth_smooth(),
    lenses.extended_depth_by_aberration(),
    lenses.diffractive_bifocal(),
    lenses.diffractive_bifocal(add_d=4.0),
    lenses.apodised_bifocal(),
    lenses.diffractive_trifocal(),
    lenses.refractive_zonal(),
    lenses.small_aperture(),
]
LIKE_NATURAL = lenses.monofocal(-0.17)  # leaves +0.10 µm over 6 mm, as natural eyes have
MAX_ERROR = 2.5e-3  # of modulation


def perfect(pupil_mm, defocus_d, frequency_cpd, lens=BARE):
    """One wavelength and a cornea without aberration: what textbooks write formulas for."""
    return through_focus.transfer(lens, pupil_mm, defocus_d, frequency_cpd, GREEN_NM, 0.0)


def cut_off_cpd(pupil_mm):
    return pupil_mm / GREEN_UM * MRAD_PER_DEG


def strehl(lens, pupil_mm, defocus_d):
    """Volume under the transfer function beside that of a perfect eye."""
    x, w = np.polynomial.legendre.leggauss(200)
    frequency = (1.0 + x) / 2.0 * cut_off_cpd(pupil_mm)
    volume = w * frequency
    return (perfect(pupil_mm, defocus_d, frequency, lens) @ volume) / (
        perfect(pupil_mm, 0.0, frequency) @ volume
    )


# --- closed forms --------------------------------------------------------------------------


@pytest.mark.parametrize("pupil_mm", [1.0, 2.0, 3.0, 4.5, 6.0, 8.0])
def test_in_focus_contrast_is_the_closed_form(pupil_mm):
    """Goodman: (2/π)(arccos x − x √(1 − x²)), x = frequency / cut-off."""
    x = np.linspace(0.0, 0.999, 40)
    known = 2.0 / np.pi * (np.arccos(x) - x * np.sqrt(1.0 - x * x))
    ours = perfect(pupil_mm, 0.0, x * cut_off_cpd(pupil_mm))
    np.testing.assert_allclose(ours, known, atol=1e-6)


def hopkins(pupil_mm, defocus_d, frequency_cpd):
    """Hopkins, Proc R Soc A 1955;231:91: defocused contrast as a series of Bessel functions."""
    s = 2.0 * frequency_cpd / cut_off_cpd(pupil_mm)
    rim_waves = defocus_d * (pupil_mm / 2.0) ** 2 / 2.0 / GREEN_UM
    a = 4.0 * np.pi * rim_waves * s
    beta = np.arccos(s / 2.0)
    n = np.arange(1, 400)
    even = beta * jv(1, a) + np.sum(
        (-1.0) ** (n + 1) * np.sin(2 * n * beta) / (2 * n) * (jv(2 * n - 1, a) - jv(2 * n + 1, a))
    )
    n = np.arange(0, 400)
    odd = np.sum(
        (-1.0) ** n * np.sin((2 * n + 1) * beta) / (2 * n + 1) * (jv(2 * n, a) - jv(2 * n + 2, a))
    )
    return 4.0 / (np.pi * a) * (np.cos(a * s / 2.0) * even - np.sin(a * s / 2.0) * odd)


@pytest.mark.parametrize("pupil_mm", [2.0, 3.0, 6.0])
def test_defocused_contrast_is_the_series_of_hopkins(pupil_mm):
    defocus = np.array([-4.0, -2.5, -1.0, -0.3, 0.5, 2.0])
    frequency = np.array([0.5, 1.5, 3.0, 6.0, 12.0, 24.0, 48.0])
    known = [[hopkins(pupil_mm, d, f) for f in frequency] for d in defocus]
    np.testing.assert_allclose(perfect(pupil_mm, defocus, frequency), known, atol=5e-4)


def test_the_spread_is_an_airy_disc():
    """Its first dark ring, found in the spread that the transfer function makes."""
    known = OUTSIDE["airy"]
    x, w = np.polynomial.legendre.leggauss(300)
    frequency = (1.0 + x) / 2.0  # of the cut-off
    weight = w * frequency * perfect(3.0, 0.0, frequency * cut_off_cpd(3.0))
    near_zero = minimize_scalar(
        lambda angle: np.sum(weight * j0(2.0 * np.pi * frequency * angle)),
        bounds=(1.0, 1.4),
        method="bounded",
        options={"xatol": 1e-9},
    )
    assert near_zero.x == pytest.approx(known["first_zero"], abs=1e-3)
    assert near_zero.fun == pytest.approx(0.0, abs=1e-7)


@given(st.floats(2.0, 6.0), st.floats(-1.0, 1.0))
@settings(max_examples=25, deadline=None)
def test_strehl_of_defocus_is_a_squared_sinc(pupil_mm, defocus_d):
    """Born & Wolf: on the axis, sinc²(W/λ), W = D a² / 2 the path at the rim."""
    waves = defocus_d * (pupil_mm / 2.0) ** 2 / 2.0 / GREEN_UM
    assert strehl(BARE, pupil_mm, defocus_d) == pytest.approx(np.sinc(waves) ** 2, abs=2e-4)


def test_strehl_of_a_little_spherical_aberration_is_marechals():
    """Z(4,0) of 0.03 µm over 3 mm, in its own best focus: the parabola of Z(4,0) as defocus."""
    known = OUTSIDE["strehl_marechal"]
    z40, rim = known["z40_um"], 1.5**2
    lens = lenses.monofocal(z40 * (9.0 / rim) ** 2)
    defocus_d = -2.0 * 6.0 * np.sqrt(5.0) * z40 / rim
    assert strehl(lens, 3.0, defocus_d) == pytest.approx(known["strehl"], abs=known["tolerance"])
    assert known["strehl"] == pytest.approx(np.exp(-((2 * np.pi * z40 / GREEN_UM) ** 2)), abs=1e-4)


@pytest.mark.parametrize("known", OUTSIDE["iso_11979_2"], ids=lambda k: k["what"])
def test_the_bench_of_iso_11979_2(known):
    per_degree = known["focal_length_mm"] * np.pi / 180.0
    ours = through_focus.mtf(
        BARE,
        known["pupil_mm"],
        0.0,
        np.array(known["per_mm"]) * per_degree,
        known["wavelength_nm"],
        corneal_sa_um=0.0,
    )
    np.testing.assert_allclose(ours, known["modulation"], atol=known["tolerance"])
    criterion = OUTSIDE["iso_11979_2_criterion"]
    assert criterion["share_of_maximum"] * ours[-1] == pytest.approx(
        criterion["modulation"], abs=criterion["tolerance"]
    )


def test_two_images_dip_where_blur_reverses_contrast():
    """Half the light in focus, half out of it, as de Gracia et al. describe."""
    known = OUTSIDE["two_images"]
    defocus = np.arange(0.0, 3.01, 0.05)
    blurred = perfect(known["pupil_mm"], defocus, known["frequency_cpd"])
    ratio = (1.0 + blurred / blurred[0]) / 2.0
    assert ratio.min() == pytest.approx(known["dip"], abs=known["tolerance"])
    assert defocus[ratio.argmin()] == pytest.approx(known["dip_at_d"], abs=known["tolerance_d"])
    beyond = ratio[defocus >= known["far_beyond_d"]]
    np.testing.assert_allclose(beyond, known["far_beyond"], atol=known["tolerance"])


# --- a slow, independent integral ----------------------------------------------------------


def by_overlap(lens, pupil_mm, defocus_d, frequency_cpd, step_nm, side):
    """White light by brute force: overlap of the pupil with its sheared self, point by point.

    No Bessel function, no Fourier transform, wavelengths in equal steps of nm. A defocus D makes
    the two copies differ by D · x · shear; mirror images are complex conjugates, so cosines do.
    """
    radius = pupil_mm / 2.0
    nm = np.arange(400.0, 711.0, step_nm)
    share = luminosity(nm) / luminosity(nm).sum()
    middle = (np.arange(side) + 0.5) / side
    # rows set off by the golden ratio, so that no ring's edge runs along the points
    place = (np.arange(side) + (np.arange(side)[:, None] * 0.618034 + 0.5) % 1.0) / side
    aperture = np.linspace(0.0, radius**2, 200_001)[1:] - radius**2 / 400_000
    whole = np.pi * radius**2 * np.mean(lens.transmission(aperture) ** 2)
    total = np.zeros((len(defocus_d), len(frequency_cpd)))
    for wavelength, weight in zip(nm / 1000.0, share, strict=True):
        chromatic = 0.63346 / (wavelength - 0.214102) - 0.63346 / (0.555 - 0.214102)  # Thibos 1992
        for column, frequency in enumerate(frequency_cpd):
            shear = wavelength * frequency / MRAD_PER_DEG
            half = radius - shear / 2.0
            if half <= 0:
                continue
            x = half * (1.0 - (1.0 - middle[:, None]) ** 2)  # dense at the tip of the overlap
            top = np.sqrt(radius**2 - (x + shear / 2.0) ** 2)
            y = top * place
            area = 2.0 * half * (1.0 - middle[:, None]) * top / side**2
            one, two = ((x + sign * shear / 2.0) ** 2 + y**2 for sign in (1, -1))
            waves = lens.opd_um(one) - lens.opd_um(two)
            waves += 0.27 * 6.0 * np.sqrt(5.0) * (one**2 - two**2) / 81.0
            passed = area * lens.transmission(one) * lens.transmission(two)
            for row, d in enumerate(defocus_d):
                phase = 2.0 * np.pi / wavelength * (waves + (d + chromatic) * x * shear)
                total[row, column] += weight * 4.0 * np.sum(passed * np.cos(phase)) / whole
    return total


@pytest.mark.parametrize(
    "pupil_mm",
    [3.0, *(pytest.param(p, marks=pytest.mark.long) for p in (2.0, 4.0, 5.0, 6.0))],
)
@pytest.mark.parametrize("lens", sample(EVERY_DESIGN, 6), ids=lambda lens: lens.name)
def test_white_contrast_is_that_of_the_slow_integral(lens, pupil_mm):
    defocus, frequency = [-2.6, -1.2, 0.0, 0.8], [1.5, 4.0, 10.0, 25.0]
    known = by_overlap(lens, pupil_mm, defocus, frequency, step_nm=8.0, side=240)
    ours = through_focus.mtf(lens, pupil_mm, defocus, frequency)
    assert np.max(np.abs(ours - np.abs(known))) < MAX_ERROR
    np.testing.assert_array_equal(
        ours, np.abs(through_focus.transfer(lens, pupil_mm, defocus, frequency))
    )


# --- a peer: prysm, a general-purpose physical optics library ---------------------------------


def sampled_pupil(lens, pupil_mm, side, spacing_mm, wavelength_um=GREEN_UM, finer=1):
    """Wave on a square grid, its u, and the energy that it kept.

    Each sample is the mean of finer ones, so edges are not jagged, but hold less energy.
    """

    def squared_radius(count, spacing):
        x = (np.arange(count) - (count - 1) / 2.0) * spacing
        return x[:, None] ** 2 + x**2

    u = squared_radius(side * finer, spacing_mm / finer)
    wave = lens.transmission(u) * np.exp(2j * np.pi * lens.opd_um(u) / wavelength_um)
    wave = np.where(u <= pupil_mm**2 / 4.0, wave, 0.0)
    coarse = wave.reshape(side, finer, side, finer).mean(axis=(1, 3))
    kept = finer**2 * np.sum(np.abs(coarse) ** 2) / np.sum(np.abs(wave) ** 2)
    return coarse, squared_radius(side, spacing_mm), kept


@pytest.mark.peer
@pytest.mark.parametrize("pupil_mm", sample([3.0, 5.0], 2))
@pytest.mark.parametrize(
    "lens",
    sample(
        [BARE, lenses.diffractive_bifocal(), lenses.extended_depth_smooth(), lenses.monofocal(0.3)],
        2,
    ),
    ids=lambda lens: f"{lens.name} {lens.lens_sa_um}",
)
def test_contrast_is_that_of_prysm(lens, pupil_mm):
    """Fast Fourier transform, zero-padded; a pixel of its MTF is a shear by a sample."""
    propagation = importlib.import_module("prysm.propagation")
    otf = importlib.import_module("prysm.otf")
    # a square grid cuts rings short: its own error is larger there, and falls with its spacing
    rings = lens.zone_radii_mm(pupil_mm).size > 0
    side, finer, tolerance = (1024, 3, 2e-3) if rings else (768, 1, 1e-3)
    spacing_mm = pupil_mm * 1.02 / side
    wave, u, kept = sampled_pupil(lens, pupil_mm, side, spacing_mm, finer=finer)
    shear = np.array([6, 16, 40, 80, 160, 320]) * side // 512
    frequency = shear * spacing_mm / GREEN_UM * MRAD_PER_DEG
    for defocus_d in (0.0, -0.6, -2.0):
        blurred = wave * np.exp(2j * np.pi * defocus_d * u / 2.0 / GREEN_UM)
        spread = np.abs(propagation.focus(blurred, Q=2)) ** 2
        theirs = otf.mtf_from_psf(spread, 1.0).data
        middle = theirs.shape[0] // 2
        # the transform of the spread ends at the padded side: one pixel, one sample of shear
        ours = np.abs(perfect(pupil_mm, defocus_d, frequency, lens))
        np.testing.assert_allclose(ours, kept * theirs[middle, middle + shear], atol=tolerance)


@pytest.mark.peer
def test_the_closed_form_is_that_of_prysm():
    otf = importlib.import_module("prysm.otf")
    per_mm = np.linspace(0.0, 400.0, 30)
    f_number, wavelength_um = 5.0, 0.5  # cut-off 400/mm
    theirs = otf.diffraction_limited_mtf(f_number, wavelength_um, frequencies=per_mm)
    np.testing.assert_allclose(fourier_bessel.diffraction_limit(per_mm / 400.0), theirs, atol=1e-12)


# --- physics that must hold ------------------------------------------------------------------


@pytest.mark.parametrize("lens", EVERY_DESIGN, ids=lambda lens: lens.name)
@pytest.mark.parametrize("pupil_mm", [0.5, 2.0, 4.5, 9.0])
def test_no_light_is_lost_between_pupil_and_retina(lens, pupil_mm):
    """Contrast at frequency 0 is 1, and near it almost so: what falls beyond counts too."""
    for wavelength_nm in (None, GREEN_NM):
        ours = through_focus.transfer(lens, pupil_mm, [-3.0, 0.0, 1.0], [0.0, 1e-3], wavelength_nm)
        np.testing.assert_allclose(ours[:, 0], 1.0, atol=3e-4)  # single precision
        np.testing.assert_allclose(ours[:, 1], 1.0, atol=1e-2)


@given(
    st.sampled_from(EVERY_DESIGN), st.floats(1.0, 7.0), st.floats(-5.0, 3.0), st.floats(0.0, 80.0)
)
@settings(max_examples=40, deadline=None)
def test_no_lens_passes_more_than_a_perfect_one(lens, pupil_mm, defocus_d, frequency_cpd):
    """Goodman: aberrations never raise the modulus, for a clear pupil."""
    ours = through_focus.mtf(lens, pupil_mm, defocus_d, frequency_cpd, GREEN_NM)
    assert isinstance(ours, float)
    assert 0.0 <= ours <= 1.0 + 1e-5
    if lens.name != "small aperture":
        limit = fourier_bessel.diffraction_limit(frequency_cpd / cut_off_cpd(pupil_mm))
        assert ours <= limit + 1e-3


def test_beyond_the_cut_off_nothing_passes():
    beyond = cut_off_cpd(3.0) * np.array([1.0001, 1.5, 10.0])
    np.testing.assert_array_equal(perfect(3.0, [0.0, 1.0], beyond), 0.0)
    np.testing.assert_array_equal(through_focus.mtf(BARE, 2.0, -1.0, [95.0, 300.0]), 0.0)
    # a mask that covers the rim lowers the cut-off with it
    assert through_focus.mtf(lenses.small_aperture(1.6), 3.0, 0.0, 60.0, GREEN_NM) == 0.0


def test_a_perfect_eye_does_not_tell_near_from_far():
    """Without aberration blur is the same on both sides of focus; with it, it is not."""
    d, f = np.array([0.4, 1.0, 2.0]), np.array([4.0, 12.0])
    np.testing.assert_allclose(perfect(4.0, d, f), perfect(4.0, -d, f), atol=1e-6)
    one, other = (through_focus.mtf(BARE, 4.0, s * d, f, GREEN_NM) for s in (1, -1))
    assert np.max(np.abs(one - other)) > 0.05


def test_positive_aberration_sees_nearer():
    """Margins that converge more put a wide pupil's best focus in front of the retina."""
    defocus = np.arange(-1.5, 1.51, 0.1)
    for sa, sign in ((0.3, -1.0), (-0.3, 1.0)):
        contrast = through_focus.mtf(BARE, 5.0, defocus, 9.0, GREEN_NM, corneal_sa_um=sa)
        assert np.sign(defocus[contrast.argmax()]) == sign


def test_a_negative_lens_cancels_the_cornea():
    lens = lenses.monofocal(-0.20)
    ours = through_focus.mtf(lens, 5.0, -0.7, 15.0, GREEN_NM, corneal_sa_um=0.20)
    assert ours == pytest.approx(abs(perfect(5.0, -0.7, 15.0)), abs=1e-6)


def test_blue_is_in_focus_nearer_than_red():
    """White light of one colour at a time: the eye's own lens of colour, Thibos et al. 1992."""
    light = viewing.white_light(3.0)
    focus = dict(zip(np.round(light.wavelength_um, 3), light.focus_d, strict=True))
    assert min(light.focus_d) > -0.6
    assert max(light.focus_d) < 1.6
    assert np.all(np.diff([focus[w] for w in sorted(focus)]) < 0)
    assert sum(light.share) == pytest.approx(1.0)
    at = light.focus_d.index(0.0)
    assert light.wavelength_um[at] == pytest.approx(0.555, abs=1e-4)
    # 0.450 µm: 0.63346 / 0.235898 − 0.63346 / 0.340898 = 0.827 D, worked by hand
    assert np.interp(0.450, light.wavelength_um[::-1], light.focus_d[::-1]) == pytest.approx(
        0.827, abs=0.01
    )


def test_the_foci_of_a_bifocal_lie_an_add_apart():
    """At 5 mm; in a small pupil with few rings the orders interfere and shift a little."""
    lens = lenses.diffractive_bifocal(add_d=2.6)
    peaks = [
        minimize_scalar(
            lambda d: -abs(perfect(5.0, d, 20.0, lens)),
            bounds=(focus - 0.3, focus + 0.3),
            method="bounded",
        ).x
        for focus in (0.0, -2.6)
    ]
    assert peaks[0] - peaks[1] == pytest.approx(2.6, abs=0.02)


def test_an_aperture_of_a_mask_is_a_small_pupil():
    masked = through_focus.mtf(lenses.small_aperture(1.6, 3.6), 3.0, [-1.0, 0.0], [5.0, 20.0])
    np.testing.assert_allclose(
        masked, through_focus.mtf(BARE, 1.6, [-1.0, 0.0], [5.0, 20.0]), atol=MAX_ERROR
    )


# --- the trade's rules, and the physics beside them ---------------------------------------------


def test_contrast_follows_energy():
    """Common practice, no source: "half the light, half the contrast".

    The physics: far contrast is that of the far order times its energy, because the images of the
    other orders are too blurred to add contrast above a few cycles/degree.
    """
    lens, frequency = lenses.diffractive_bifocal(add_d=2.5), np.linspace(3.0, 30.0, 28)
    far = perfect(5.0, 0.0, frequency, lens)
    in_focus = lens.order_energies()[0] * perfect(5.0, 0.0, frequency)
    blurred = sum(
        energy * perfect(5.0, order * 2.5, frequency)
        for order, energy in lens.order_energies(orders=range(-2, 4)).items()
        if order
    )
    assert np.sqrt(np.mean((far - in_focus - blurred) ** 2)) < 0.02
    assert np.max(np.abs(blurred[frequency > 8.0])) < 0.02


def test_a_bifocal_costs_more_than_a_third_of_a_log_unit():
    """Common practice, no source: about 0.4 log units; log10(1/0.405) = 0.39 by energy."""
    loss = through_focus.contrast_loss_log(
        lenses.diffractive_bifocal(), 3.0, np.array([3.0, 6.0, 12.0, 18.0, 30.0])
    )
    assert np.all((loss > 0.28) & (loss < 0.45))


def test_extended_depth_reaches_about_17_inches():
    """Common practice, no source. The model is good to ±0.25 D: it shows why the range ends.

    Order 2 lies 1.35 D nearer than far, and beyond it acuity falls as a monofocal's does beyond
    its focus: the range ends about a dioptre beyond the order that carries it.
    """
    rule = OUTSIDE["rule_extended_depth"]
    lens = lenses.extended_depth()
    ours = through_focus.usable_range_d(lens, rule["pupil_mm"], rule["limit_logmar"])
    assert ours == pytest.approx(rule["range_d"], abs=rule["tolerance_d"])
    assert ours > through_focus.usable_range_d(BARE, rule["pupil_mm"]) + 0.4


def test_extended_depth_keeps_most_far_contrast_but_not_all_of_it():
    """Common practice, no source: "distance contrast near the monofocal's".

    So it is beside a bifocal, for the echelette: a loss of 0.1 to 0.3 log units at 3 mm. It is
    not so for the smooth centre, which passes coarse detail as a monofocal does and loses more
    than half a log unit of fine detail, nor for an echelette that shares evenly (step 1.5).
    """
    frequency = np.array([3.0, 6.0, 12.0, 18.0])
    loss = {
        name: through_focus.contrast_loss_log(lens, 3.0, frequency)
        for name, lens in (
            ("echelette", lenses.extended_depth()),
            ("even", lenses.extended_depth(step=1.5)),
            ("smooth", lenses.extended_depth_smooth()),
            ("bifocal", lenses.diffractive_bifocal()),
        )
    }
    assert np.all((loss["echelette"] > 0.08) & (loss["echelette"] < 0.25))
    assert np.all(loss["echelette"] < loss["bifocal"])
    assert np.all(loss["even"] > loss["echelette"])
    assert loss["smooth"][0] < 0.1
    assert np.max(loss["smooth"]) > 0.5


def test_each_class_reaches_as_far_as_it_is_chosen_for():
    """Common practice, no source: the order of the classes; a bifocal has a gap."""
    reach = {lens.name: through_focus.usable_range_d(lens, 3.0) for lens in EVERY_DESIGN[2:]}
    plain = through_focus.usable_range_d(BARE, 3.0)
    assert plain < reach["enhanced monofocal"] < reach["extended depth"] < reach["trifocal"]
    assert reach["bifocal"] < plain
    near = through_focus.acuity_logmar(lenses.diffractive_bifocal(), 3.0, -2.5)
    assert near < 0.1
    assert through_focus.acuity_logmar(BARE, 3.0, -2.5) > 0.4


def test_a_wide_pupil_takes_depth_away():
    for lens in (BARE, lenses.small_aperture(), lenses.extended_depth_smooth()):
        reach = through_focus.usable_range_d(lens, [3.0, 4.5])
        assert reach[0] > reach[1]


# --- acuity --------------------------------------------------------------------------------------


@pytest.mark.parametrize("pupil_mm", OUTSIDE["blendowske"]["pupil_mm"])
def test_blur_costs_the_acuity_that_blendowske_found(pupil_mm):
    known = OUTSIDE["blendowske"]
    defocus = np.array(known["defocus_d"])
    acuity = through_focus.acuity_logmar(LIKE_NATURAL, pupil_mm, defocus)
    lost = acuity - acuity[0]
    error = lost - np.log10(1.0 + defocus**2)
    assert np.sqrt(np.mean(error**2)) < known["rms_logmar"]


def test_a_small_aperture_buys_the_depth_that_tabernero_found():
    known = OUTSIDE["tabernero"]
    wide, small = known["wide_pupil_mm"], known["small_pupil_mm"]
    wanted = through_focus.acuity_logmar(LIKE_NATURAL, wide, known["wide_d"])
    same = brentq(lambda d: through_focus.acuity_logmar(LIKE_NATURAL, small, -d) - wanted, 0.5, 5.0)
    assert same == pytest.approx(known["small_d"], abs=known["tolerance_d"])


def test_acuity_stays_within_what_charts_measure():
    acuity = through_focus.acuity_logmar(BARE, [[2.0], [6.0]], [-6.0, 0.0, 4.0])
    assert acuity.shape == (2, 3)
    assert acuity.min() >= -0.2
    assert acuity.max() == 1.3
    assert through_focus.acuity_logmar(BARE, 6.0, -6.0) == 1.3


def test_the_range_ends_where_the_acuity_does():
    for lens in (BARE, lenses.extended_depth(), lenses.diffractive_bifocal()):
        end = through_focus.usable_range_d(lens, 3.0)
        assert through_focus.acuity_logmar(lens, 3.0, -end) == pytest.approx(0.2, abs=0.01)
        between = through_focus.acuity_logmar(lens, 3.0, -np.linspace(0.0, end - 0.05, 30))
        assert np.all(between <= 0.2)


def test_stretches_are_found_by_straight_lines_between_points():
    places = [1.0, 0.0, -1.0, -2.0, -3.0]
    ((begun, end),) = through_focus.usable_stretches_d(places, [0.0, 0.3, 0.1, 0.3, 0.3])
    assert (begun, end) == pytest.approx((-0.5, -1.5))
    assert through_focus.usable_stretches_d(places, [0.5] * 5) == []


def test_a_range_is_nothing_or_all_at_the_ends_of_the_scale():
    assert through_focus.usable_range_d(BARE, 3.0, limit_logmar=-0.2) == 0.0
    assert through_focus.usable_range_d(BARE, 3.0, limit_logmar=1.3) == 4.0
    reach = through_focus.usable_range_d(BARE, 3.0, [0.0, 0.2, 0.5])
    assert np.all(np.diff(reach) > 0)


def test_visual_strehl_falls_with_blur_and_knows_the_perfect_eye():
    for pupil_mm in (2.0, 4.0, 6.0):
        assert through_focus.visual_strehl(
            BARE, pupil_mm, 0.0, GREEN_NM, corneal_sa_um=0.0
        ) == pytest.approx(1.0, abs=1e-4)
    blurred = through_focus.visual_strehl(
        BARE, 4.0, [0.0, -0.25, -0.5, -1.0], GREEN_NM, corneal_sa_um=0.0
    )
    assert np.all(np.diff(blurred) < 0)


def test_the_area_under_the_curve_is_an_area():
    """Trapezoids over 400 frequencies, 0 to 50 lines/mm of 16.67 mm focal length."""
    per_mm = np.linspace(0.0, 50.0, 401)
    for lens in (BARE, lenses.diffractive_bifocal()):
        curve = through_focus.mtf(lens, 3.0, [0.0, -1.0], per_mm * 16.67 * np.pi / 180.0)
        np.testing.assert_allclose(
            through_focus.mtf_area(lens, 3.0, [0.0, -1.0]),
            np.trapezoid(curve, per_mm, axis=1),
            atol=0.02,
        )


def test_limits_are_said_in_one_place():
    for words in ("scatter", "neural", "generic", "teaching calibration", "0.1 logMAR", "0.25 D"):
        assert words in through_focus.LIMITS
    assert through_focus.ACUITY_UNCERTAINTY_LOGMAR == 0.1
    assert through_focus.RANGE_UNCERTAINTY_D == 0.25


# --- shapes, and what cannot be ------------------------------------------------------------------


@pytest.mark.parametrize("defocus", [0.0, [0.0], [0.0, -1.0], [[0.0, -1.0, -2.0], [1.0, 2.0, 3.0]]])
@pytest.mark.parametrize("frequency", [10.0, [10.0], [5.0, 10.0]])
def test_shapes_are_defocus_then_frequency(defocus, frequency):
    ours = through_focus.mtf(BARE, 3.0, defocus, frequency)
    assert np.shape(ours) == np.shape(defocus) + np.shape(frequency)
    alone = through_focus.mtf(BARE, 3.0, np.ravel(defocus)[-1], np.ravel(frequency)[-1])
    assert isinstance(alone, float)
    assert np.ravel(ours)[-1] == pytest.approx(alone, abs=1e-3)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: through_focus.mtf("bifocal", 3.0, 0.0, 10.0), "lens is 'bifocal'"),
        (lambda: through_focus.mtf(BARE, -3.0, 0.0, 10.0), "pupil_mm is -3 mm"),
        (lambda: through_focus.mtf(BARE, np.nan, 0.0, 10.0), "pupil_mm is nan mm"),
        (lambda: through_focus.mtf(BARE, [3.0, 4.0], 0.0, 10.0), "pupil_mm holds 2 numbers"),
        (lambda: through_focus.mtf(BARE, 3.0, 40.0, 10.0), "defocus_d is 40 D"),
        (lambda: through_focus.mtf(BARE, 3.0, [], 10.0), "defocus_d holds no number"),
        (lambda: through_focus.mtf(BARE, 3.0, 0.0, []), "frequency_cpd holds no number"),
        (lambda: through_focus.mtf(BARE, 3.0, 0.0, -1.0), "frequency_cpd is -1 cycles/degree"),
        (lambda: through_focus.mtf(BARE, 3.0, 0.0, np.inf), "frequency_cpd is inf"),
        (lambda: through_focus.mtf(BARE, 3.0, 0.0, 10.0, []), "wavelength_nm holds 0 numbers"),
        (lambda: through_focus.mtf(BARE, 3.0, 0.0, 10.0, 0.555), "wavelength_nm is 0.555 nm"),
        (lambda: through_focus.mtf(BARE, 3.0, 0.0, 10.0, None, 27.0), "corneal_sa_um is 27 µm"),
        (lambda: through_focus.acuity_logmar(BARE, 3.0, np.nan), "defocus_d is nan D"),
        (lambda: through_focus.acuity_logmar(BARE, [2.0, 3.0], [0, 1, 2]), "do not go together"),
        (lambda: through_focus.acuity_logmar(None, 3.0, 0.0), "lens is None"),
        (lambda: through_focus.usable_range_d(BARE, 3.0, 20.0), "limit_logmar is 20 logMAR"),
        (lambda: through_focus.usable_stretches_d([0, -1], [0.1]), "two lists of the same length"),
        (lambda: through_focus.usable_stretches_d([-1, 0], [0.1, 0.2]), "fall from far"),
        (lambda: through_focus.usable_stretches_d([0, -1], [0.1, np.nan]), "logmar[1] is nan"),
        (lambda: through_focus.usable_stretches_d([0, -1], [0.1, 0.2], 20.0), "limit_logmar is 20"),
        (lambda: through_focus.visual_strehl(BARE, "3 mm", 0.0), "pupil_mm is '3 mm'"),
        (lambda: through_focus.neural_contrast_sensitivity(90.0), "frequency_cpd is 90"),
        (lambda: through_focus.contrast_loss_log(BARE, 2.0, 200.0), "beyond the cut-off"),
    ],
)
def test_what_cannot_be_gets_one_clear_sentence(call, words):
    assert words in answer(call)


def test_a_lens_that_passes_nothing_loses_everything():
    assert through_focus.contrast_loss_log(lenses.small_aperture(1.0), 3.0, 60.0) == np.inf


def test_memory_is_bounded_and_answers_do_not_change():
    first = through_focus.mtf(BARE, 3.0, [0.0, -1.0], [5.0, 10.0])
    for pupil_mm in np.linspace(2.0, 4.0, 20):
        through_focus.mtf(BARE, pupil_mm, [0.0, -1.0], [5.0, 10.0])
    for kept in (
        fourier_bessel._grid,
        fourier_bessel._defocus,
        fourier_bessel._series,
        fourier_bessel.gauss_points,
        viewing.white_light,
    ):
        assert kept.cache_info().maxsize is not None
    np.testing.assert_array_equal(first, through_focus.mtf(BARE, 3.0, [0.0, -1.0], [5.0, 10.0]))


# --- speed ---------------------------------------------------------------------------------------

EIGHTEEN_CPD = np.array([1.5, 4.5, *range(3, 37, 3), 42, 48, 54, 60], dtype=float)


@pytest.mark.benchmark
@pytest.mark.peer
def test_a_through_focus_curve_takes_a_300th_of_a_general_grid():
    """61 defoci, white light, 18 frequencies at 3 mm, beside prysm's matrix transform.

    A round pupil against any pupil: the ratio is what symmetry and one big product are worth, no
    verdict on a library that does not assume either.
    """
    fttools = importlib.import_module("prysm.fttools")
    lens, pupil_mm, defocus = lenses.diffractive_bifocal(), 3.0, np.linspace(-4.0, 2.0, 61)
    ours_s = best_of(9, lambda: through_focus.mtf(lens, pupil_mm, defocus, EIGHTEEN_CPD))
    ours = through_focus.mtf(lens, pupil_mm, defocus, EIGHTEEN_CPD)

    light = viewing.white_light(pupil_mm)
    side, angles, mrad = 192, 96, 0.09
    spacing_mm = pupil_mm / side
    start = time.perf_counter()
    theirs = np.zeros_like(ours)
    for wavelength, focus, share in zip(
        light.wavelength_um, light.focus_d, light.share, strict=True
    ):
        wave, u, _ = sampled_pupil(lens, pupil_mm, side, spacing_mm, wavelength)
        wave = wave * np.exp(2j * np.pi * lenses.aberration_um(u, 0.27) / wavelength)
        angle = (np.arange(angles) - angles // 2) * mrad
        waves = np.cos(2.0 * np.pi * np.multiply.outer(angle, EIGHTEEN_CPD / MRAD_PER_DEG))
        for row, d in enumerate(defocus):
            blurred = wave * np.exp(1j * np.pi * (d + focus) * u / wavelength)
            padding = wavelength / (side * spacing_mm * mrad)
            spread = np.abs(fttools.mdft.dft2(blurred, padding, angles)) ** 2
            line = spread.sum(axis=0)
            theirs[row] += share * (line @ waves) / line.sum()
    theirs_s = time.perf_counter() - start
    assert theirs_s / ours_s > 300.0, f"{1e3 * theirs_s:.0f} ms, ours {1e3 * ours_s:.2f} ms"
    focused = np.abs(defocus) < 0.3
    assert np.max(np.abs(ours - np.abs(theirs))[focused]) < 0.15  # the same job, cut off at 4 mrad


@pytest.mark.benchmark
@pytest.mark.parametrize("what", ["defocus", "frequency"])
def test_cost_grows_no_faster_than_the_question(what):
    lens = lenses.extended_depth()

    def seconds(times):
        defocus = np.linspace(-4.0, 2.0, 61 * (times if what == "defocus" else 1))
        frequency = np.linspace(1.0, 60.0, 18 * (times if what == "frequency" else 1))
        return best_of(9, lambda: through_focus.mtf(lens, 4.0, defocus, frequency))

    assert seconds(4) / seconds(1) < 4.0 * 1.4


@pytest.mark.benchmark
def test_a_slider_profits_from_what_is_kept():
    defocus = np.linspace(-4.0, 2.0, 61)

    def cold():
        for kept in (fourier_bessel._grid, fourier_bessel._defocus, fourier_bessel._series):
            kept.cache_clear()
        through_focus.mtf(lenses.diffractive_bifocal(), 4.0, defocus, EIGHTEEN_CPD)

    steps = iter(np.linspace(0.45, 0.50, 60))

    def slide():
        through_focus.mtf(lenses.diffractive_bifocal(step=next(steps)), 4.0, defocus, EIGHTEEN_CPD)

    assert best_of(5, cold) / best_of(9, slide) > 1.5
