"""Two foci: what its text says, what its sliders must obey, and its figure."""

import numpy as np
import pytest

from shared_utils.cases import two_foci as cases
from shared_utils.cases.light import MOON_ARCMIN
from shared_utils.optics import lenses, retina
from shared_utils.show import two_foci as figures
from tests.prose import says

STEM = "two_foci"


def test_the_text_gives_the_shares_that_the_steps_make():
    half = 100 * np.sinc(0.5) ** 2
    says(STEM, "two foci with 40.5 % each", half, digits=1)
    says(STEM, "and 19 % in orders", 100 - 2 * half, digits=0)
    three = lenses.diffractive_trifocal().energy_budget()
    says(
        STEM,
        "and near get 39, 20 and 26 %; 15 % is lost",
        *(100 * share for share in three.values()),
        digits=0,
    )
    says(
        STEM,
        "sinc²(0.62 − 1) = 0.60 for near, sinc²(0.62) = 0.23 for far",
        np.sinc(0.5 * 555 / 450 - 1) ** 2,
        np.sinc(0.5 * 555 / 450) ** 2,
    )


def test_the_text_gives_the_places_of_the_colours():
    says(STEM, "is 0.62 wavelengths of blue and 0.43 of red", 0.5 * 555 / 450, 0.5 * 555 / 650)
    blue, red = (cases.shares(0.5, nm, "bifocal").place_d for nm in (450, 650))
    says(STEM, "far focus moves by 1.2 D, the near one by 0.3 D", red[0] - blue[0], digits=1)
    assert red[1] - blue[1] == pytest.approx(0.3, abs=0.05)


def test_the_text_gives_the_case():
    add = lenses.corneal_add_d(3.5, 5.4, 43.0)
    says(STEM, "Her second focus lies at 42 cm with 41 % of the light", 100 / add, digits=0)
    says(STEM, "at 84 cm. This is what", 200 / add, digits=0)
    halo = retina.geometric_halo_arcmin(5.0, add)
    says(STEM, "a dim disc of 41 arcmin, 1.3 Moons", halo, digits=0)
    says(STEM, "a dim disc of 41 arcmin, 1.3 Moons", halo / MOON_ARCMIN, digits=1)
    assert 0.5 < 1 / 0.65 < add - 0.5  # the stand lies between the foci


def test_contrast_in_focus_follows_the_share():
    """Swanson's share against contrast, over heights of steps and pupils, in green light."""
    for step in (0.0, 0.3, 0.5, 0.7, 1.0):
        for pupil_mm in (3.0, 4.5):
            data = cases.bifocal_contrast(step, pupil_mm, "green")
            assert data.left == pytest.approx(data.share, abs=0.06)
    white = cases.bifocal_contrast(0.5, 3.0, "white")
    assert white.left[0] == pytest.approx(0.41, abs=0.03)
    assert white.left[1] > white.share[1] + 0.05  # "near does a little better than its share"


def test_the_sliders_shares_are_sinc_squared():
    for step in (0.0, 0.25, 0.5, 1.0, 1.75):
        for nm in (450, 555, 650):
            data = cases.shares(step, nm, "bifocal")
            for order in (-1, 0, 1, 2):
                assert data.energy[order] == pytest.approx(np.sinc(step * 555 / nm - order) ** 2)
            assert sum(data.of_foci.values()) == pytest.approx(1.0)


def test_halo_dims_as_it_widens_and_apodised_steps_take_it_away():
    wide, narrow = cases.lamp(6.0, 2.5, "bifocal"), cases.lamp(3.0, 2.5, "bifocal")
    assert wide.halo_arcmin == pytest.approx(2 * narrow.halo_arcmin)
    assert wide.profile[20] < narrow.profile[20] / 2  # 10 arcmin from the lamp
    shrinking = "bifocal, steps shrink outwards"
    assert cases.lamp(6.0, 2.5, shrinking).around < cases.lamp(3.0, 2.5, shrinking).around
    assert cases.lamp(6.0, 2.5, shrinking).around < wide.around / 2
    assert cases.lamp(5.0, 2.5, "monofocal").around < 0.03
    # about a thousand times dimmer than the lamp
    five = cases.lamp(5.0, 2.5, "bifocal").profile
    assert 700 < five[0] / np.median(five[10:30]) < 2000
    # most of what is not in the far focus lies in the halo or beyond
    assert cases.lamp(5.0, 2.5, "bifocal").around == pytest.approx(1 - 0.405, abs=0.05)


def test_the_halo_is_as_bright_as_its_share_over_its_area():
    """Geometry alone: the near order's 4/π² of the light, spread evenly over the disc."""
    for pupil_mm, add_d in ((5.0, 2.5), (6.0, 2.0), (6.0, 3.5)):
        data = cases.lamp(pupil_mm, add_d, "bifocal")
        away = cases.AWAY_ARCMIN
        inside = (away > 6.0) & (away < 0.4 * data.halo_arcmin)
        even = 4 / np.pi**2 / (np.pi * (data.halo_arcmin / 2) ** 2)
        assert data.profile[inside].mean() == pytest.approx(even, rel=0.25)


def test_the_figure_gives_the_shares():
    shown = figures.steps_and_shares()
    assert "bifocal with steps of 0.5 wavelengths: far 41 %, near 41 %, lost 19 %" in shown.alt
    assert shown.figure.get_size_inches()[0] * shown.figure.dpi <= 700


def test_straylight_follows_its_definition_and_hides_the_edge_of_a_halo():
    """s / θ² per steradian (van den Berg et al., from memory); 1 arcmin² is 8.4616e-8 sr."""
    data = cases.lamp_in_eye(1.5, 5.0, "monofocal")
    at_half_a_degree = data.scattered[cases.AWAY_ARCMIN == 30.0]
    assert at_half_a_degree == pytest.approx(10**1.5 / 0.5**2 * 8.4616e-8, rel=1e-4)
    times = [cases.lamp_in_eye(s, 5.0, "bifocal").halo_over_scattered for s in (0.9, 1.5, 2.1)]
    assert times == sorted(times, reverse=True)
    bare = cases.lamp(5.0, 2.5, "bifocal")
    assert not bare.scattered.any()
    assert np.array_equal(bare.profile, bare.by_lens)
