"""Methods after corneal laser surgery against their published equations."""

import tomllib
from pathlib import Path

import numpy as np
import pytest

from shared_utils.power import after_laser, formulas
from shared_utils.power.biometry import Eye
from shared_utils.power.lens_constants import LensConstants

OUTSIDE = tomllib.loads(
    (Path(__file__).parent / "outside" / "cornea.toml").read_text(encoding="utf-8")
)["after_laser"]
TOLERANCE_D = OUTSIDE["tolerance_d"]
LENS = LensConstants.from_a_constant(118.4)
MYOPIC = Eye(26.0, 38.0, acd_mm=3.45)
HYPEROPIC = Eye(22.3, 46.5, acd_mm=2.9)


def test_clinical_history():
    case = OUTSIDE["clinical_history"]
    found = after_laser.clinical_history_k(
        case["k_before_d"], case["refraction_before_d"], case["refraction_after_d"]
    )
    assert found == pytest.approx(case["k_d"], abs=1e-4)


@pytest.mark.parametrize(("radius_mm", "corrected_mm"), OUTSIDE["haigis_l"]["radius_mm"])
def test_haigis_l_radius(radius_mm, corrected_mm):
    found = after_laser.haigis_l_radius(radius_mm)
    assert found == pytest.approx(corrected_mm, abs=OUTSIDE["tolerance_mm"])


def test_haigis_l_power():
    case = OUTSIDE["haigis_l"]
    eye = Eye(case["axial_length_mm"], case["k_d"], acd_mm=case["acd_mm"])
    lens = LensConstants.from_a_constant(case["a_constant"])
    found = after_laser.haigis_l_power(eye, lens)
    assert found == pytest.approx(case["power_d"], abs=TOLERANCE_D)
    regular = formulas.iol_power(eye, "haigis", lens)
    assert regular == pytest.approx(case["regular_power_d"], abs=TOLERANCE_D)


@pytest.mark.parametrize("name", ["shammas", "shammas_hyperopic"])
def test_shammas_keratometry(name):
    for k_after, k in OUTSIDE[name]["k_d"]:
        found = getattr(after_laser, f"{name}_k")(k_after)
        assert found == pytest.approx(k, abs=TOLERANCE_D)


@pytest.mark.parametrize(("pacd_mm", "power_d"), OUTSIDE["shammas_pl"]["power_d"])
def test_shammas_pl_power(pacd_mm, power_d):
    case = OUTSIDE["shammas_pl"]
    length, k = case["axial_length_mm"], case["k_d"]
    found = after_laser.shammas_pl_power(Eye(length, k), LensConstants.from_pacd(pacd_mm))
    assert found == pytest.approx(power_d, abs=TOLERANCE_D)
    c, kc = pacd_mm + 0.05, 1.14 * k - 6.8  # the closed form in print
    printed = 1336 / (length - 0.1 * (length - 23) - c) - 1 / (1.0125 / kc - c / 1336)
    assert found == pytest.approx(printed, abs=1e-9)


def test_masket_savini_and_the_topographic_centre():
    for treated_d, change_d in OUTSIDE["masket"]["change_d"]:
        found = after_laser.masket_adjustment(treated_d)
        assert found == pytest.approx(change_d, abs=TOLERANCE_D)
    case = OUTSIDE["savini"]
    found = after_laser.savini_k(337.5 / case["radius_mm"], case["treated_d"])
    assert found == pytest.approx(case["k_d"], abs=TOLERANCE_D)
    case = OUTSIDE["central_topography"]
    for version in ("maloney", "wang_2004", "later"):
        found = after_laser.central_topography_k(case["central_k_d"], version)
        assert found == pytest.approx(case[version], abs=TOLERANCE_D)


@pytest.mark.parametrize(("product", "error_d"), OUTSIDE["error_from_length"]["product"])
def test_error_expected_from_length_and_k(product, error_d):
    eye = Eye(product / 38.0, 38.0)
    assert after_laser.refraction_error_from_length(eye) == pytest.approx(error_d, abs=1e-3)


def test_treated_refraction_is_vertexed_and_signed():
    assert after_laser.treated_refraction(-6.0, 0.0) == pytest.approx(-6 / 1.072)
    assert after_laser.treated_refraction(3.0, 0.0) == pytest.approx(3 / 0.964)
    assert after_laser.treated_refraction(-6.0, 0.0, vertex_mm=0.0) == -6.0


# --- side by side ------------------------------------------------------------------------------


def by_name(found):
    return {estimate.method: estimate for estimate in found.estimates}


def test_all_methods_for_a_myopic_treatment():
    found = after_laser.compare(
        MYOPIC,
        LENS,
        "myopic",
        k_before_d=43.5,
        refraction_before_d=-6.25,
        refraction_after_d=-0.25,
        central_k_d=38.2,
    )
    named = by_name(found)
    assert set(named) == {
        "uncorrected",
        "double_k",
        "clinical_history",
        "savini",
        "masket",
        "shammas",
        "shammas_pl",
        "haigis_l",
        "central_topography",
    }
    assert found.lacking == {}
    for name, estimate in named.items():
        if name != "uncorrected":
            assert estimate.iol_power_d > named["uncorrected"].iol_power_d, name
            assert not estimate.position_uncorrected
    powers = sorted(e.iol_power_d for e in found.estimates[1:])
    assert (found.lowest_d, found.highest_d) == (powers[0], powers[-1])
    assert found.median_d == pytest.approx(np.median(powers))
    assert found.spread_d == pytest.approx(powers[-1] - powers[0])
    # each by the published way, put together here
    k = after_laser.clinical_history_k(43.5, -6.25, -0.25)
    assert named["clinical_history"].k_d == k
    own = formulas.iol_power(Eye(26.0, k, acd_mm=3.45), "srk_t", LENS, elp_k_d=43.5)
    assert named["clinical_history"].iol_power_d == own


def test_a_hyperopic_treatment_asks_for_less_power():
    found = after_laser.compare(
        HYPEROPIC,
        LENS,
        "hyperopic",
        formula="hoffer_q",
        k_before_d=42.5,
        refraction_before_d=4.0,
        refraction_after_d=0.0,
    )
    named = by_name(found)
    assert {"haigis_l", "shammas_pl"}.isdisjoint(named)
    assert named["double_k"].iol_power_d < named["uncorrected"].iol_power_d
    assert named["masket"].iol_power_d < named["uncorrected"].iol_power_d


def test_what_is_lacking_is_named_and_an_open_position_said():
    found = after_laser.compare(Eye(26.0, 38.0), LENS, "myopic", formula="holladay_1")
    assert set(found.lacking) == {
        "double_k",
        "clinical_history",
        "savini",
        "masket",
        "haigis_l",
        "central_topography",
    }
    named = by_name(found)
    assert named["shammas"].position_uncorrected
    assert not named["shammas_pl"].position_uncorrected  # no K in its position


@pytest.mark.parametrize(
    ("call", "sentence"),
    [
        (lambda: after_laser.compare(MYOPIC, LENS, "lasik"), "give one of: myopic, hyperopic"),
        (
            lambda: after_laser.compare(
                MYOPIC, LENS, "myopic", refraction_before_d=6, refraction_after_d=0
            ),
            "is no myopic treatment; check the signs",
        ),
        (
            lambda: after_laser.compare(MYOPIC, LENS, "myopic", formula="haigis"),
            "give one of: srk_t, t2, holladay_1, hoffer_q",
        ),
        (lambda: after_laser.central_topography_k(38.0, "koch"), "give one of: maloney"),
        (lambda: after_laser.haigis_l_radius(38.0), r"Dioptres\? Use 337.5 / K"),
        (lambda: after_laser.savini_k(8.88, -6.0), "k_after_d is 8.88 D"),
        (lambda: after_laser.masket_adjustment(-60), "negative for a myopic treatment"),
        (lambda: after_laser.haigis_l_power(Eye(26.0, 38.0), LENS), "haigis needs acd_mm"),
    ],
)
def test_bad_input_gets_one_clear_sentence(call, sentence):
    with pytest.raises(ValueError, match=sentence):
        call()
