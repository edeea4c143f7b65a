"""Accommodation against published lines and tables."""

import tomllib
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from shared_utils.optics import accommodation

OUTSIDE = tomllib.loads(
    (Path(__file__).parent / "outside" / "accommodation.toml").read_text("utf-8")
)


@pytest.mark.parametrize("case", OUTSIDE["hofstetter"]["cases"], ids=str)
def test_hofstetters_lines(case):
    found = accommodation.amplitude_at_age(case["age_years"], case["population"])
    assert found == pytest.approx(case["amplitude_d"], abs=OUTSIDE["hofstetter"]["tolerance_d"])


def test_donders_table_lies_near_the_average_line():
    table = OUTSIDE["donders"]
    found = accommodation.amplitude_at_age(table["age_years"])
    assert found == pytest.approx(np.array(table["amplitude_d"]), abs=table["tolerance_d"])


def test_an_instrument_finds_less_than_people_report():
    table = OUTSIDE["anderson"]
    for population in ("minimum", "average"):
        reported = accommodation.amplitude_at_age(table["age_years"], population)
        assert (reported > np.array(table["amplitude_d"])).all()


@given(age=st.floats(5, 99))
def test_the_lines_keep_their_order_and_never_rise(age):
    now = [accommodation.amplitude_at_age(age, p) for p in ("minimum", "average", "maximum")]
    later = [accommodation.amplitude_at_age(age + 1, p) for p in ("minimum", "average", "maximum")]
    assert 0 <= now[0] <= now[1] <= now[2]
    assert all(b <= a for a, b in zip(now, later, strict=True))
    assert type(now[1]) is float


@pytest.mark.parametrize(
    ("arguments", "sentence"),
    [((3,), "give 5 to 100 years"), ((450,), "give 5 to 100 years"), ((40, "mean"), "average")],
)
def test_bad_input_is_told_in_one_sentence(arguments, sentence):
    with pytest.raises(ValueError, match=sentence):
        accommodation.amplitude_at_age(*arguments)
