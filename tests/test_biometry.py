"""The measured eye: cohorts, and the published criteria for measuring again."""

import numpy as np
import pytest

from shared_utils.power.biometry import Eye, between_eyes, screening


def named(findings):
    return {finding.name: finding.holds for finding in findings}


def test_a_cohort_is_taken_apart():
    eyes = Eye(np.array([22.0, 23.5, 26.0]), 44.0, np.array([45.0, 44.5, 44.0]), acd_mm=3.1)
    assert len(eyes) == 3
    assert eyes.shape == (3,)
    one = eyes.take(1)
    assert (one.axial_length_mm, one.mean_k_d, one.acd_mm) == (23.5, 44.25, 3.1)
    assert one.lens_thickness_mm is None
    assert one.shape == ()
    assert len(eyes.take(eyes.axial_length_mm > 23)) == 2
    assert len(eyes.take(slice(0, 1))) == 1
    with pytest.raises(TypeError, match="One eye has no length"):
        len(one)


@pytest.mark.parametrize(
    ("length", "k", "holds"),
    [  # Holladay et al. 1988, from memory: below 22 or above 25 mm, below 40 or above 47 D
        (21.99, 43.5, {"short_or_long"}),
        (22.0, 43.5, set()),
        (25.0, 47.0, set()),
        (25.01, 40.0, {"short_or_long"}),
        (23.5, 39.99, {"flat_or_steep"}),
        (23.5, 47.01, {"flat_or_steep"}),
    ],
)
def test_screening_of_one_eye(length, k, holds):
    found = named(screening(Eye(length, k)))
    assert {name for name, value in found.items() if value} == holds
    assert all(type(value) is bool for value in found.values())


def test_screening_of_a_power_and_of_a_cohort():
    eyes = Eye(np.array([21.0, 23.5, 26.0]), 43.5)
    found = named(screening(eyes, np.array([28.0, 20.5, 17.5]), 20.5))
    assert found["short_or_long"].tolist() == [True, False, True]
    assert found["unusual_power"].tolist() == [True, False, False]


@pytest.mark.parametrize(
    ("left", "power", "holds"),
    [  # the same paper: more than 0.3 mm, 1 D of K or 1 D of power
        (Eye(23.8, 43.5), 21.5, set()),
        (Eye(23.81, 43.5), 21.5, {"length_differs"}),
        (Eye(23.5, 44.51), 21.5, {"k_differs"}),
        (Eye(23.5, 44.5), 21.51, {"power_differs"}),
    ],
)
def test_difference_between_the_eyes(left, power, holds):
    found = named(between_eyes(Eye(23.5, 43.5), left, 20.5, power))
    assert {name for name, value in found.items() if value} == holds


@pytest.mark.parametrize(
    "call",
    [
        lambda: screening(Eye(23.5, 43.5), emmetropic_power_d=20.0),
        lambda: between_eyes(Eye(23.5, 43.5), Eye(23.5, 43.5), left_power_d=20.0),
    ],
)
def test_half_a_pair_of_powers_is_turned_away(call):
    with pytest.raises(ValueError, match="together, both in D, or neither"):
        call()
