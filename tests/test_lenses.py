"""Generic lenses against scalar diffraction theory, worked by hand and by other routes."""

import importlib
import tomllib
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shared_utils.optics import lenses, paraxial
from shared_utils.optics.luminosity import luminosity
from tests.absurd import answer

OUTSIDE = tomllib.loads(
    (Path(__file__).parent / "outside" / "light_lenses.toml").read_text(encoding="utf-8")
)

DESIGNS = [
    lenses.monofocal,
    lenses.enhanced_monofocal,
    lenses.extended_depth,
    lenses.extended_depth_smooth,
    lenses.extended_depth_by_aberration,
    lenses.diffractive_bifocal,
    lenses.apodised_bifocal,
    lenses.diffractive_trifocal,
    lenses.refractive_zonal,
    lenses.small_aperture,
]
SPLITTING = [
    lenses.diffractive_bifocal(),
    lenses.diffractive_bifocal(add_d=3.1, step=0.42),
    lenses.diffractive_trifocal(),
    lenses.diffractive_trifocal(near_step=0.35, intermediate_step=0.22),
    lenses.extended_depth(),
    lenses.extended_depth(step=1.5),
]
visible = st.floats(400.0, 700.0)


def name_of(design):
    return design.__name__ if callable(design) else design.name


# --- energy --------------------------------------------------------------------------------


@pytest.mark.parametrize("printed", OUTSIDE["energy"], ids=lambda e: e["what"])
def test_energy_of_an_order_is_that_of_scalar_theory(printed):
    parameters = {"step": printed["step"]} if "step" in printed else {}
    energies = getattr(lenses, printed["design"])(**parameters).order_energies()
    for order, energy in zip(printed["order"], printed["energy"], strict=True):
        assert energies[order] == pytest.approx(energy, abs=printed["tolerance"])


def test_half_and_half_as_the_trade_says_it():
    """Common practice, no source; the physics beside it is sinc²(½) = 4/π² twice."""
    rule = OUTSIDE["rule_half_and_half"]
    budget = lenses.diffractive_bifocal(step=0.5).energy_budget()
    for part in ("far", "near", "lost"):
        assert 100.0 * budget[part] == pytest.approx(
            rule[f"{part}_percent"], abs=rule["tolerance_percent"]
        )


def test_half_and_half_holds_for_green_only():
    """Blue meets a step of more than half its wavelength and goes to near, red to far."""
    blue = lenses.diffractive_bifocal().energy_budget(450.0)
    red = lenses.diffractive_bifocal().energy_budget(650.0)
    for colour, nm in ((blue, 450.0), (red, 650.0)):
        step = 0.5 * 555.0 / nm
        assert colour["far"] == pytest.approx(np.sinc(step) ** 2, abs=1e-12)
        assert colour["near"] == pytest.approx(np.sinc(step - 1.0) ** 2, abs=1e-12)
    assert blue["near"] > 0.55
    assert red["far"] > 0.5


@pytest.mark.parametrize("lens", SPLITTING, ids=name_of)
@pytest.mark.parametrize("wavelength_nm", [450.0, 555.0, 640.0])
def test_energies_are_the_fourier_orders_of_the_path(lens, wavelength_nm):
    """Independent route: the discrete Fourier transform of one ring, 200 000 samples."""
    samples = 200_000
    u = (np.arange(samples) + 0.5) / samples * lens.ring_mm2
    wave = np.exp(2e3j * np.pi * (lens.opd_um(u) - lens.base_d * u / 2.0) / wavelength_nm)
    orders = np.abs(np.fft.fft(wave)) ** 2 / samples**2
    for order, energy in lens.order_energies(wavelength_nm).items():
        assert energy == pytest.approx(orders[order], abs=2e-5)


@pytest.mark.parametrize("lens", [x for x in SPLITTING if len(x.steps) == 2], ids=name_of)
def test_a_trifocal_is_two_gratings_on_top_of_each_other(lens):
    """Orders of a product of gratings add up: |Σ A_k B_(m−2k)|², coded from sinc alone."""
    coarse, fine = lens.steps

    def amplitude(step, order):
        return np.sinc(step - order) * np.exp(1j * np.pi * (step - order))

    k = np.arange(-4000, 4001)
    for order, energy in lens.order_energies().items():
        total = np.sum(amplitude(fine, k) * amplitude(coarse, order - 2 * k))
        assert energy == pytest.approx(abs(total) ** 2, abs=2e-4)


@given(st.floats(0.0, 2.5), st.floats(0.0, 2.5), visible, st.sampled_from([False, True]))
@settings(deadline=None)
def test_no_light_is_made_or_lost(step, second, wavelength_nm, apodised):
    lens = lenses.Diffractive(
        "any",
        "trifocal",
        steps=(step,) if apodised else (step, second),
        apodised_mm=2.0 if apodised else None,
    )
    energies = lens.order_energies(wavelength_nm, 4.0, range(-300, 310))
    assert sum(energies.values()) == pytest.approx(1.0, abs=3e-3)
    assert min(energies.values()) >= 0.0


@pytest.mark.parametrize("design", DESIGNS, ids=name_of)
@pytest.mark.parametrize("pupil_mm", [1.0, 3.0, 4.5, 6.0])
@pytest.mark.parametrize("wavelength_nm", [None, 450.0, 555.0])
def test_a_budget_accounts_for_all_light(design, pupil_mm, wavelength_nm):
    lens = design()
    budget = lens.energy_budget(wavelength_nm, pupil_mm)
    assert list(budget) == [*lens.foci, "lost"]
    assert sum(budget.values()) == pytest.approx(1.0, abs=1e-12)
    assert min(budget.values()) >= -1e-12


def test_light_on_the_axis_of_five_whole_rings_is_that_of_the_orders():
    """Both foci of an even bifocal, from the diffraction integral instead of a series."""
    lens = lenses.diffractive_bifocal(add_d=2.5)
    u = (np.arange(500_000) + 0.5) / 500_000 * 5 * lens.ring_mm2
    for focus_d in (0.0, 2.5):
        wave = np.exp(2j * np.pi * (lens.opd_um(u) - focus_d * u / 2.0) / 0.555)
        assert abs(wave.mean()) ** 2 == pytest.approx(4.0 / np.pi**2, abs=1e-5)


def test_an_apodised_lens_gives_a_wide_pupil_to_far():
    lens = lenses.apodised_bifocal()
    pupils = [2.0, 3.0, 4.0, 5.0, 6.0]
    far = [lens.energy_budget(pupil_mm=pupil)["far"] for pupil in pupils]
    near = [lens.energy_budget(pupil_mm=pupil)["near"] for pupil in pupils]
    assert np.all(np.diff(far) > 0)
    assert np.all(np.diff(near) < 0)


def test_an_apodised_lens_is_the_even_one_at_its_centre_and_plain_outside():
    lens = lenses.apodised_bifocal(apodised_mm=5.0)
    small = lens.order_energies(pupil_mm=0.6)
    assert small[0] == pytest.approx(lenses.diffractive_bifocal().order_energies()[0], abs=5e-3)
    outside = lenses.apodised_bifocal(apodised_mm=1.0)
    u = np.linspace(1.0, 9.0, 50)[1:] + lens.ring_mm2
    np.testing.assert_array_equal(outside.opd_um(u), 0.0)


def test_a_zonal_lens_shares_by_area():
    lens = lenses.refractive_zonal(near_rings_mm=((0.5, 1.0),))
    assert lens.order_energies(pupil_mm=1.0) == {0: 1.0, 1: 0.0}
    assert lens.order_energies(pupil_mm=4.0)[1] == pytest.approx(0.75 / 4.0)


def test_a_mask_costs_the_light_of_its_area():
    lens = lenses.small_aperture(1.6, 3.6)
    assert lens.energy_budget(pupil_mm=1.5)["lost"] == 0.0
    assert lens.energy_budget(pupil_mm=3.6)["far"] == pytest.approx((1.6 / 3.6) ** 2)
    assert lens.energy_budget(pupil_mm=5.0)["lost"] == pytest.approx((3.6**2 - 1.6**2) / 25.0)


# --- shape ---------------------------------------------------------------------------------


@pytest.mark.parametrize("printed", OUTSIDE["zones"], ids=lambda z: f"{z['add_d']} D")
def test_zone_radii_are_those_of_a_zone_plate(printed):
    radii = lenses.diffractive_bifocal(add_d=printed["add_d"]).zone_radii_mm(6.0)
    np.testing.assert_allclose(
        radii[: len(printed["radius_mm"])], printed["radius_mm"], atol=printed["tolerance_mm"]
    )
    assert radii[-1] < 3.0
    np.testing.assert_allclose(np.diff(radii**2), np.diff(radii**2)[0], rtol=1e-9)


@given(st.floats(0.5, 5.0), st.floats(0.0, 9.0))
def test_a_full_step_is_the_refractive_lens_of_the_same_power(add_d, u_mm2):
    """Whole waves do not count: exp(2πi path/λ) is that of a lens of the add."""
    lens = lenses.diffractive_bifocal(add_d, step=1.0)
    waves = (lens.opd_um(u_mm2) - add_d * u_mm2 / 2.0) / 0.555
    assert waves == pytest.approx(round(waves), abs=1e-8)


@pytest.mark.parametrize(
    "lens",
    [lenses.enhanced_monofocal(), lenses.extended_depth_smooth(), lenses.refractive_zonal()],
    ids=name_of,
)
def test_a_lens_without_steps_has_none(lens):
    path = lens.opd_um(np.linspace(0.0, 9.0, 90_001))
    assert np.max(np.abs(np.diff(path))) < 2e-4


def test_the_centre_of_a_smooth_lens_has_the_power_it_says():
    lens = lenses.extended_depth_smooth(centre_d=2.0, width_mm=0.8)
    u = 1e-6
    assert 2.0 * lens.opd_um(u) / u == pytest.approx(2.0, abs=1e-5)
    far_out = np.array([8.0, 9.0])
    assert np.diff(lens.opd_um(far_out)) == pytest.approx(0.0, abs=1e-5)


def test_apodised_steps_do_not_delay_far_light():
    """Each ring's mean path is the same: none, the lens being flat apart from its steps."""
    lens = lenses.apodised_bifocal()
    ring = lens.ring_mm2 * ((np.arange(2000) + 0.5) / 2000)
    for k in range(12):
        assert lens.opd_um(k * lens.ring_mm2 + ring).mean() == pytest.approx(0.0, abs=1e-6)


def test_spherical_aberration_cancels_or_adds():
    negative = lenses.monofocal(-0.20).opd_um(4.0)
    assert negative + lenses.aberration_um(4.0, 0.20) == pytest.approx(0.0, abs=1e-15)
    assert lenses.monofocal(0.1).opd_um(4.0) > 0


# --- power and colour ----------------------------------------------------------------------


@given(visible, st.sampled_from([0, 1, 2]))
def test_diffraction_bends_in_proportion_to_wavelength(wavelength_nm, order):
    lens = lenses.diffractive_trifocal(add_d=2.5)
    assert lens.order_power_d(order, wavelength_nm) == pytest.approx(
        order * 1.25 * wavelength_nm / 555.0
    )


def test_far_light_of_an_extended_depth_lens_is_diffracted_against_the_eye():
    """Its power rises towards red, the eye's falls: they cancel in part."""
    lens = lenses.extended_depth()
    assert lens.order_power_d(1) == 0.0
    assert lens.order_power_d(1, 650.0) > 0.0 > lens.order_power_d(1, 480.0)


def test_refraction_here_knows_no_colour():
    for lens, order, power_d in (
        (lenses.monofocal(), 0, 0.0),
        (lenses.refractive_zonal(add_d=2.0), 1, 2.0),
    ):
        np.testing.assert_array_equal(lens.order_power_d(order, [450.0, 650.0]), power_d)


def test_an_add_shrinks_from_lens_to_cornea():
    """Independent route: heights of a ray through cornea and aqueous, by matrices."""
    known = OUTSIDE["add_factor"]
    for position_mm in known["lens_position_mm"]:
        factor = lenses.corneal_add_d(1.0, position_mm, 43.0)
        assert known["low"] <= round(factor, 2) <= known["high"] + 0.005
        way = paraxial.translation(position_mm, 1.336) @ paraxial.refraction(43.0)
        assert factor == pytest.approx((way @ [1.0, 0.0])[0] ** 2)


# --- luminosity ----------------------------------------------------------------------------


@pytest.mark.peer
@pytest.mark.filterwarnings("ignore")
def test_luminosity_is_the_cie_table():
    """colour-science: CIE 1924, every 5 nm, of which ours knows every second value."""
    with np.printoptions():  # it changes how numpy prints, for everybody
        colour = importlib.import_module("colour.colorimetry")
    table = colour.SDS_LEFS_PHOTOPIC["CIE 1924 Photopic Standard Observer"]
    nm = np.arange(380.0, 781.0, 5.0)
    np.testing.assert_allclose(luminosity(nm)[::2], table[nm[::2]], atol=1e-6)
    np.testing.assert_allclose(luminosity(nm), table[nm], atol=0.002)


# --- what cannot be ------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: lenses.diffractive_bifocal(add_d=-2.5), "add_d is -2.5 D"),
        (lambda: lenses.diffractive_bifocal(add_d=[2.0, 3.0]), "add_d holds 2 numbers"),
        (lambda: lenses.diffractive_bifocal(step=-0.1), "steps"),
        (lambda: lenses.diffractive_trifocal(add_d=0.3), "add_d is 0.3 D"),
        (lambda: lenses.monofocal(np.nan), "lens_sa_um is nan µm"),
        (lambda: lenses.monofocal([0.1, 0.2]), "lens_sa_um holds 2 numbers"),
        (lambda: lenses.Lens("x", "magic"), "lens_class is 'magic'"),
        (lambda: lenses.Diffractive("x", "bifocal", steps=(1, 1, 1)), "steps holds 3"),
        (lambda: lenses.apodised_bifocal(apodised_mm=0.0), "apodised_mm is 0 mm"),
        (lambda: lenses.refractive_zonal(near_rings_mm=((1.0, 0.5),)), "near_rings_mm"),
        (lambda: lenses.refractive_zonal(near_rings_mm=()), "near_rings_mm"),
        (lambda: lenses.small_aperture(2.0, 1.0), "mask_mm is 1 mm"),
        (lambda: lenses.monofocal().opd_um(-1.0), "u_mm2 is -1"),
        (lambda: lenses.monofocal().transmission("wide"), "u_mm2 is 'wide'"),
        (lambda: lenses.monofocal().zone_radii_mm(-3.0), "pupil_mm is -3 mm"),
        (lambda: lenses.monofocal().zone_radii_mm([3.0, 4.0]), "pupil_mm holds 2 numbers"),
        (lambda: lenses.monofocal().order_energies(0.555), "wavelength_nm is 0.555 nm"),
        (lambda: lenses.monofocal().order_energies([]), "wavelength_nm holds no number"),
        (lambda: lenses.monofocal().order_energies(orders=["far"]), "order is 'far'"),
        (lambda: lenses.diffractive_bifocal().order_power_d(0.5), "order is 0.5"),
        (lambda: lenses.monofocal().order_power_d(1), "order is 1"),
        (lambda: lenses.corneal_add_d(-1.0), "lens_add_d is -1 D"),
        (lambda: luminosity(1064.0), "wavelength_nm is 1064 nm"),
    ],
)
def test_what_cannot_be_gets_one_clear_sentence(call, words):
    assert words in answer(call)


def test_lenses_can_be_told_apart_and_looked_up():
    assert lenses.diffractive_bifocal() == lenses.diffractive_bifocal()
    assert len({design() for design in DESIGNS}) == len(DESIGNS)
    assert {design().lens_class for design in DESIGNS} == set(lenses.LENS_CLASSES)
