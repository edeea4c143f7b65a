"""Lenses that exist: rounding, ties, and the refraction of the lens that is implanted."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from shared_utils.power import formulas, lens_steps
from shared_utils.power.biometry import Eye
from shared_utils.power.lens_constants import LensConstants

LENS = LensConstants.from_a_constant(118.4)


@pytest.mark.parametrize(
    ("power", "step", "nearest"),
    [
        (20.564, 0.5, 20.5),
        (20.25, 0.5, 20.5),  # a tie: the stronger
        (-6.75, 0.5, -6.5),
        (-7.713, 0.5, -7.5),
        (20.12, 0.25, 20.0),
        (20.125, 0.25, 20.25),
        (1.4, 1.0, 1.0),
    ],
)
def test_nearest_power_by_hand(power, step, nearest):
    assert lens_steps.nearest_power(power, step) == nearest


@given(st.floats(-40, 60), st.sampled_from([0.25, 0.5, 1.0]))
def test_nearest_is_on_the_ladder_and_within_half_a_step(power, step):
    found = lens_steps.nearest_power(power, step)
    assert found / step == round(found / step)
    assert abs(found - power) <= step / 2 + 1e-9


def test_choices_are_predicted_for_the_lens_implanted():
    eye = Eye(np.array([22.0, 23.5, 26.5]), 43.5)
    found = lens_steps.choices(eye, "holladay_1", LENS, -0.25, count=5)
    assert found.iol_power_d.shape == found.predicted_d.shape == (3, 5)
    assert np.diff(found.iol_power_d) == pytest.approx(np.full((3, 4), 0.5))
    assert np.all(np.diff(found.predicted_d) < 0)
    for i in range(3):
        for power, predicted in zip(found.iol_power_d[i], found.predicted_d[i], strict=True):
            one = formulas.predicted_refraction(eye.take(i), "holladay_1", LENS, power)
            assert predicted == pytest.approx(one, abs=1e-12)
        misses = np.abs(found.predicted_d[i] + 0.25)
        assert misses[found.nearest[i]] == misses.min()


def test_a_tie_goes_to_the_more_myopic():
    eye = Eye(23.5, 43.5)
    ends = [formulas.predicted_refraction(eye, "t2", LENS, power) for power in (20.0, 20.5)]
    found = lens_steps.choices(eye, "t2", LENS, sum(ends) / 2)
    assert found.iol_power_d[found.nearest] == 20.5


@pytest.mark.parametrize(
    ("call", "sentence"),
    [
        (lambda: lens_steps.nearest_power(20.5, 0.0), "step_d is 0 D; give 0.1 to 5 D"),
        (lambda: lens_steps.choices(Eye(23.5, 43.5), "t2", LENS, count=2), "an odd whole number"),
    ],
)
def test_bad_input_gets_one_clear_sentence(call, sentence):
    with pytest.raises(ValueError, match=sentence):
        call()
