"""How a formula's prediction moves with each measurement, its own lens position moving along."""

import tomllib
from pathlib import Path

import pytest

from shared_utils.power.biometry import Eye
from shared_utils.power.formulas import iol_power, predicted_refraction
from shared_utils.power.lens_constants import LensConstants
from shared_utils.power.pseudophakia import sensitivities

OUTSIDE = tomllib.loads(
    (Path(__file__).parent / "outside" / "sensitivities.toml").read_text(encoding="utf-8")
)
LENGTH_MM, K_D, ACD_MM, A_CONSTANT = OUTSIDE["eye"].values()


def refraction_d(formula, power_d, length=0.0, k=0.0, a=0.0):
    eye = Eye(LENGTH_MM + length, K_D + k, acd_mm=ACD_MM)
    lens = LensConstants.from_a_constant(A_CONSTANT + a)
    return predicted_refraction(eye, formula, lens, power_d)


def slope(formula, what):
    """Central difference at the lens for emmetropia, D for 1 more."""
    eye = Eye(LENGTH_MM, K_D, acd_mm=ACD_MM)
    power_d = iol_power(eye, formula, LensConstants.from_a_constant(A_CONSTANT))
    step = 1e-3
    up, down = (refraction_d(formula, power_d, **{what: by}) for by in (step, -step))
    return (up - down) / (2.0 * step)


@pytest.mark.parametrize(
    ("formula", "what", "expected"),
    [
        (formula, what, expected)
        for formula, slopes in OUTSIDE["slopes"].items()
        for what, expected in slopes.items()
    ],
)
def test_slopes_of_formulas(formula, what, expected):
    assert slope(formula, what) == pytest.approx(expected, abs=OUTSIDE["tolerance"])


@pytest.mark.parametrize("formula", OUTSIDE["slopes"])
def test_a_lens_position_that_follows_the_eye_softens_the_error(formula):
    """A formula expects the lens deeper in a longer or steeper eye, which works against both."""
    eye = Eye(LENGTH_MM, K_D)
    fixed = sensitivities(eye, elp_mm=5.19)
    assert fixed.axial_length_mm < slope(formula, "length") < 0.0
    assert fixed.k_d < slope(formula, "k") < 0.0
