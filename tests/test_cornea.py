"""Corneal power against hand work, the matrix of its two surfaces, and textbook corneas."""

import tomllib
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from shared_utils.optics import paraxial
from shared_utils.power import cornea
from shared_utils.power.registry import FORMULAS

OUTSIDE = tomllib.loads(
    (Path(__file__).parent / "outside" / "cornea.toml").read_text(encoding="utf-8")
)
THICK = OUTSIDE["thick_cornea"]

radii = st.floats(4.0, 15.0)
indices = st.floats(1.30, 1.40)


@pytest.mark.parametrize("case", OUTSIDE["keratometry"]["cases"], ids=lambda c: str(c["index"]))
def test_dioptres_by_every_index(case):
    found = cornea.keratometry(OUTSIDE["keratometry"]["radius_mm"], case["index"])
    assert found == pytest.approx(case["k_d"], abs=OUTSIDE["keratometry"]["tolerance_d"])


def test_every_reader_s_index_is_one_of_those_of_the_table():
    known = [case["index"] for case in OUTSIDE["keratometry"]["cases"]]
    readers = dict(cornea.KERATOMETRIC_INDEX)
    readers |= {name: record.keratometric_index for name, record in FORMULAS.items()}
    for reader, index in readers.items():
        if reader not in ("srk_t", "t2"):  # 1.333, as the paper rounds 4/3
            assert any(index == pytest.approx(k, abs=1e-12) for k in known), reader
    assert readers["srk_t"] == readers["t2"] == 1.333


@pytest.mark.parametrize("case", THICK["cases"], ids=lambda c: f"{c['anterior_mm']}")
def test_gaussian_power_of_the_table(case):
    found = cornea.thick_cornea(case["anterior_mm"], case["posterior_mm"], case["thickness_mm"])
    for name in ("anterior_d", "posterior_d", "power_d"):
        assert getattr(found, name) == pytest.approx(case[name], abs=THICK["tolerance_d"])
    assert found.back_principal_mm == pytest.approx(
        case["back_principal_mm"], abs=THICK["tolerance_mm"]
    )
    assert found.equivalent_index == pytest.approx(
        case["equivalent_index"], abs=THICK["tolerance_index"]
    )
    assert found.keratometry_excess_d == pytest.approx(
        case["excess_d"], abs=THICK["tolerance_excess_d"]
    )


@given(front=radii, back=radii, thickness=st.floats(0.2, 1.5))
def test_gaussian_power_is_that_of_the_matrix(front, back, thickness):
    found = cornea.thick_cornea(front, back, thickness)
    points = paraxial.cardinal_points(
        paraxial.System([front, back], [thickness], [1.0, 1.376, 1.336])
    )
    assert found.power_d == pytest.approx(points.power_d, rel=1e-12)
    assert found.back_principal_mm == pytest.approx(points.principal_mm[1], abs=1e-9)
    # the equivalent index makes the true power of the anterior radius
    as_read = 1000.0 * (found.equivalent_index - 1.0) / front
    assert as_read == pytest.approx(found.power_d, rel=1e-12)
    assert cornea.keratometry(front) - found.power_d == pytest.approx(found.keratometry_excess_d)


@given(radius=st.floats(5.0, 12.0), one=indices, other=indices)
def test_conversion_keeps_the_radius(radius, one, other):
    shown = cornea.keratometry(radius, one)
    converted = cornea.convert_keratometry(shown, one, other)
    assert cornea.radius(converted, other) == pytest.approx(radius, rel=1e-12)
    assert (converted > shown) == (other > one) or one == pytest.approx(other)


@pytest.mark.parametrize(("ratio", "index"), OUTSIDE["ratio"]["cases"])
def test_ratio_of_radii_and_index_tell_each_other(ratio, index):
    tolerance = OUTSIDE["ratio"]["tolerance"]
    assert cornea.index_from_ratio(ratio) == pytest.approx(index, abs=tolerance)
    assert cornea.ratio_from_index(index) == pytest.approx(ratio, abs=10 * tolerance)


@given(st.floats(0.6, 1.1))
def test_ratio_and_index_there_and_back_and_by_a_thin_cornea(ratio):
    index = cornea.index_from_ratio(ratio)
    assert cornea.ratio_from_index(index) == pytest.approx(ratio, rel=1e-12)
    # thickness adds the product of the powers, about 0.001 of index
    thick = cornea.thick_cornea(7.7, 7.7 * ratio, 0.55).equivalent_index
    assert 0.0 < thick - index < 0.002


def test_the_keratometer_s_index_asks_for_a_flatter_back_than_front():
    assert cornea.ratio_from_index(1.3375) > 1.0


def test_anterior_power_over_keratometry_as_printed():
    printed = OUTSIDE["anterior_of_keratometry"]
    found = cornea.keratometry(7.7, 1.3771) / cornea.keratometry(7.7)
    assert found == pytest.approx(printed["factor"], abs=printed["tolerance"])


def test_total_keratometry_leaves_the_normal_eye_alone_and_shows_the_treated_one():
    assert cornea.total_keratometry(7.8, 6.5, 0.55) == pytest.approx(cornea.keratometry(7.8))
    treated = cornea.total_keratometry(8.88, 6.4, 0.45) - cornea.keratometry(8.88)
    assert treated == pytest.approx(1.099 - 1.828, abs=0.002)
    other = cornea.total_keratometry(7.7, 6.4, 0.55, normal_mm=(7.7, 6.4, 0.55))
    assert other == pytest.approx(cornea.keratometry(7.7))


def test_arrays_broadcast():
    found = cornea.thick_cornea(np.array([7.5, 7.7, 7.9]), np.array([[6.3], [6.6]]))
    assert found.power_d.shape == (2, 3)
    assert type(cornea.thick_cornea(7.7, 6.4).power_d) is float


@pytest.mark.parametrize(
    ("call", "sentence"),
    [
        (lambda: cornea.keratometry(43.5), r"radius_mm is 43.5 mm; give 4 to 15 mm"),
        (lambda: cornea.radius(7.8), r"k_d is 7.8 D; .*radius in mm\?"),
        (lambda: cornea.keratometry(7.8, 0.3375), r"index is 0.3375; give 1.3 to 1.4"),
        (lambda: cornea.thick_cornea(7.7, 6.4, 550), r"In µm\? Divide by 1000"),
        (lambda: cornea.index_from_ratio(0.0), r"ratio is 0; give 0.5 to 1.5"),
        (lambda: cornea.ratio_from_index(1.376), r"index is 1.376; give 1.3 to 1.34"),
    ],
)
def test_bad_input_gets_one_clear_sentence(call, sentence):
    with pytest.raises(ValueError, match=sentence):
        call()
