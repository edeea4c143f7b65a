"""Adjusted and segmented lengths against the published regressions by hand."""

import tomllib
from pathlib import Path

import numpy as np
import pytest

from shared_utils.power import formulas, long_eyes
from shared_utils.power.biometry import Eye
from shared_utils.power.lens_constants import LensConstants
from shared_utils.power.registry import FORMULAS

OUTSIDE = tomllib.loads(
    (Path(__file__).parent / "outside" / "lens_position.toml").read_text(encoding="utf-8")
)
PAIRS = [(f, year) for f, record in FORMULAS.items() for year in record.long_eye_lines]


@pytest.mark.parametrize(("formula", "year", "length", "adjusted"), OUTSIDE["long_eyes"]["cases"])
def test_adjusted_length_of_the_table(formula, year, length, adjusted):
    found = long_eyes.adjusted_length(length, formula, year)
    assert found == pytest.approx(adjusted, abs=OUTSIDE["long_eyes"]["tolerance_mm"])


@pytest.mark.parametrize(("formula", "year", "crossing"), OUTSIDE["long_eyes"]["crossings"])
def test_the_line_crosses_the_measured_length_where_the_table_says(formula, year, crossing):
    ends = np.array([30.0, 35.0])  # the line, read off beyond any threshold
    slope, offset = np.polyfit(ends, long_eyes.adjusted_length(ends, formula, year), 1)
    found = offset / (1.0 - slope)
    assert found == pytest.approx(crossing, abs=OUTSIDE["long_eyes"]["crossing_tolerance_mm"])


@pytest.mark.parametrize(("formula", "year"), PAIRS)
def test_short_eyes_are_left_alone_and_the_jump_is_what_is_said(formula, year):
    edge = long_eyes.threshold_mm(formula, year)
    around = np.array([edge - 1e-6, edge + 1e-6])
    found = long_eyes.adjusted_length(around, formula, year)
    assert found[0] == around[0]
    assert found[1] - found[0] == pytest.approx(long_eyes.jump_mm(formula, year), abs=1e-5)
    assert long_eyes.adjusted_length(20.0, formula, year) == 20.0
    on_edge = long_eyes.adjusted_length(edge, formula, year)
    assert (on_edge != edge) == (year == 2018)  # "above" in 2011, "from" in 2018


def test_haigis_jumps_most_and_srk_t_of_2011_first_lengthens():
    assert long_eyes.jump_mm("haigis") == pytest.approx(-0.22, abs=5e-3)
    assert long_eyes.adjusted_length(25.3, "srk_t") > 25.3
    assert long_eyes.adjusted_length(25.6, "srk_t") < 25.6


def test_power_of_a_long_eye_adjusted_once_and_twice():
    case = OUTSIDE["long_eye_power"]
    eye = Eye(case["axial_length_mm"], case["k_d"])
    lens = LensConstants.from_a_constant(case["a_constant"])

    def power(eye):
        return formulas.iol_power(eye, "holladay_1", lens)

    once = long_eyes.adjusted_eye(eye, "holladay_1", 2011)
    revised = long_eyes.adjusted_eye(eye, "holladay_1", 2018)
    found = [power(eye), power(once), power(revised)]
    wanted = [case["plain_d"], case["adjusted_2011_d"], case["adjusted_2018_d"]]
    assert found == pytest.approx(wanted, abs=case["tolerance_d"])
    # adjusting twice asks for still more power: the patient is left myopic
    assert power(long_eyes.adjusted_eye(once, "holladay_1", 2011)) - power(once) > 1.0


@pytest.mark.parametrize(("length", "lens", "wanted"), OUTSIDE["segmented_length"]["cases"])
def test_segmented_length_of_the_table(length, lens, wanted):
    found = long_eyes.segmented_length(length, lens)
    assert found == pytest.approx(wanted, abs=OUTSIDE["segmented_length"]["tolerance_mm"])


@pytest.mark.parametrize(
    ("call", "sentence"),
    [
        (lambda: long_eyes.adjusted_length(28.0, "t2"), "published for: srk_t, holladay_1"),
        (lambda: long_eyes.adjusted_length(28.0, "haigis", 2018), "for: srk_t, holladay_1"),
        (lambda: long_eyes.adjusted_length(28.0, "srk_t", 2015), "published in 2011 and 2018"),
        (lambda: long_eyes.adjusted_length(0.028, "srk_t"), "axial_length_mm is 0.028 mm"),
        (lambda: long_eyes.segmented_length(23.5, 0.0046), "lens_thickness_mm is 0.0046 mm"),
    ],
)
def test_bad_input_gets_one_clear_sentence(call, sentence):
    with pytest.raises(ValueError, match=sentence):
        call()
