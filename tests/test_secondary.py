"""Second lenses and exchange against the difference of two full-eye powers."""

import tomllib
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shared_utils.power import secondary

OUTSIDE = tomllib.loads(
    (Path(__file__).parent / "outside" / "lens_position.toml").read_text(encoding="utf-8")
)["refractive_vergence"]


def full_eye_power(k, rx, d, length, v=12.0):
    """Power of the only lens in an eye of a length, closed form."""
    z = k + rx / (1 - v / 1000 * rx)
    return 1336 / (length - d) - 1336 / (1336 / z - d)


@pytest.mark.parametrize("case", OUTSIDE["cases"], ids=lambda c: f"{c['refraction_d']}")
def test_added_power_of_the_table_and_by_two_full_eyes(case):
    found = secondary.added_power(**{k: v for k, v in case.items() if k != "power_d"})
    assert found == pytest.approx(case["power_d"], abs=OUTSIDE["tolerance_d"])
    k, d, v = case["k_d"], case["position_mm"], case["vertex_mm"]
    for length in (22.0, 27.0):  # the length drops out
        wanted = full_eye_power(k, case["target_d"], d, length, v)
        wanted -= full_eye_power(k, case["refraction_d"], d, length, v)
        assert found == pytest.approx(wanted, abs=1e-9)


eyes = {
    "k": st.floats(38.0, 50.0),
    "rx": st.floats(-15.0, 10.0),
    "target": st.floats(-3.0, 1.0),
    "d": st.floats(2.5, 6.0),
    "v": st.floats(0.0, 16.0),
}


@given(**eyes)
@settings(deadline=None)
def test_there_and_back(k, rx, target, d, v):
    power = secondary.added_power(k, rx, d, target, v)
    after = secondary.refraction_with_added(k, rx, d, power, v)
    assert after == pytest.approx(target, abs=1e-9)
    assert (power > 0) == (rx > target) or rx == pytest.approx(target)


@given(**eyes, length=st.floats(21.0, 29.0), shift=st.floats(-1.0, 0.5))
@settings(deadline=None)
def test_exchange_is_the_full_eye_power_at_the_new_place(k, rx, target, d, v, length, shift):
    old = full_eye_power(k, rx, d, length, v)  # the lens that leaves this refraction
    found = secondary.exchange_power(k, rx, old, d, target, d + shift, v)
    wanted = full_eye_power(k, target, d + shift, length, v)
    assert found == pytest.approx(wanted, abs=1e-7)
    same_place = secondary.exchange_power(k, rx, old, d, target, vertex_mm=v)
    added = secondary.added_power(k, rx, d, target, v)
    assert same_place == pytest.approx(old + added, abs=1e-9)


def test_rules_of_thumb():
    # common practice, no source: half as much again for a hyperopic surprise
    assert secondary.added_power(43.5, 2.0, 5.0) / 2.0 == pytest.approx(1.475, abs=5e-3)
    assert secondary.added_power(43.5, -2.0, 5.0) / -2.0 == pytest.approx(1.38, abs=5e-3)
    assert secondary.added_power(43.5, 0.0, 5.0) == 0.0


def test_arrays_broadcast():
    found = secondary.added_power(43.5, np.array([-10.0, -5.0]), np.array([[3.0], [3.5], [4.0]]))
    assert found.shape == (3, 2)
    assert type(secondary.added_power(43.5, -5.0, 3.0)) is float


@pytest.mark.parametrize(
    ("call", "sentence"),
    [
        (lambda: secondary.added_power(7.8, -5, 3.2), r"k_d is 7.8 D; .*337.5 / radius"),
        (lambda: secondary.added_power(43.5, -50, 3.2), "refraction_d is -50 D"),
        (lambda: secondary.added_power(43.5, -5, 0.0032), "position_mm is 0.0032 mm"),
        (lambda: secondary.added_power(65, 30, 10, vertex_mm=20), "focus in front of position_mm"),
        (lambda: secondary.refraction_with_added(43.5, 0, 3, 190), "outside -40 to 40 D"),
        (
            lambda: secondary.exchange_power(43.5, 0, 200.0, 1.0, 0, 10.0),
            "new_position_mm lies behind the retina",
        ),
        (lambda: secondary.added_power([43, 44], [-1, -2, -3], 3.2), "do not go together"),
    ],
)
def test_bad_input_gets_one_clear_sentence(call, sentence):
    with pytest.raises(ValueError, match=sentence):
        call()
