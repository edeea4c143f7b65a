"""Acuity against hand-worked conversions, published laws and plain limits."""

import tomllib
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from shared_utils.optics import acuity
from tests.absurd import VALUES, answer

OUTSIDE = tomllib.loads(
    (Path(__file__).parent / "outside" / "acuity.toml").read_text(encoding="utf-8")
)
SCALES = list(acuity.SCALES)
logmars = st.floats(-0.9, 2.9)
distances = st.floats(0.2, 10.0)


@pytest.mark.parametrize("case", OUTSIDE["scales"]["cases"], ids=lambda c: str(c["logmar"]))
@pytest.mark.parametrize("wanted", SCALES)
@pytest.mark.parametrize("given", SCALES)
def test_scales_as_worked_by_hand(case, given, wanted):
    got = acuity.convert(case[given], given, wanted)
    assert got == pytest.approx(case[wanted], abs=OUTSIDE["scales"]["tolerance"])


@given(logmars, st.sampled_from(SCALES))
def test_every_notation_and_back(logmar, scale):
    there = acuity.convert(logmar, "logmar", scale)
    assert acuity.convert(there, scale, "logmar") == pytest.approx(logmar, abs=1e-12)


@given(logmars, st.floats(0.01, 0.09))
def test_a_worse_eye_is_worse_in_every_notation(logmar, worse):
    for scale in SCALES:
        better, poorer = acuity.convert(np.array([logmar, logmar + worse]), "logmar", scale)
        rises = scale not in ("decimal", "letters")
        assert (poorer > better) == rises, scale


@pytest.mark.parametrize("case", OUTSIDE["letters"]["cases"])
def test_letter_heights(case):
    got = acuity.letter_height_mm(case["logmar"], case["viewing_distance_m"])
    tolerance = OUTSIDE["letters"]["tolerance_mm" if got < 10 else "large_letter_tolerance_mm"]
    assert got == pytest.approx(case["height_mm"], abs=tolerance)


@given(logmars, distances)
def test_letter_and_print_there_and_back(logmar, distance_m):
    height_mm = acuity.letter_height_mm(logmar, distance_m)
    if 0.01 < height_mm < 1000.0:
        back = acuity.logmar_of_letter(height_mm, distance_m)
        assert back == pytest.approx(logmar, abs=1e-9)
    print_m_units = acuity.m_units(logmar, distance_m)
    if 0.01 < print_m_units < 1000.0:
        back = acuity.logmar_of_m_units(print_m_units, distance_m)
        assert back == pytest.approx(logmar, abs=1e-12)


def test_m_units():
    outside = OUTSIDE["m_units"]
    height_mm = acuity.letter_height_mm(0.0, 1.0)
    assert height_mm == pytest.approx(
        outside["height_of_one_mm"], abs=outside["height_tolerance_mm"]
    )
    assert acuity.m_units(0.0, 1.0) == 1.0
    got = acuity.m_units(outside["logmar"], outside["viewing_distance_m"])
    assert got == pytest.approx(outside["m_units"], abs=outside["tolerance"])


def test_size_on_the_retina():
    outside = OUTSIDE["retina"]
    got = acuity.retinal_size_um(outside["angle_arcmin"])
    assert got == pytest.approx(outside["size_um"], abs=outside["tolerance_um"])
    assert acuity.retinal_size_um(-5.0) == -got


def test_blur_circle():
    outside = OUTSIDE["blur_circle"]
    at = outside["defocus_d"], outside["pupil_mm"]
    assert acuity.blur_circle_arcmin(*at) == pytest.approx(
        outside["arcmin"], abs=outside["arcmin_tolerance"]
    )
    assert acuity.blur_circle_um(*at) == pytest.approx(outside["um"], abs=outside["um_tolerance"])


@given(st.floats(-8.0, 8.0), st.floats(1.0, 8.0), st.floats(50.0, 70.0))
def test_the_blur_circle_is_the_pupils_shadow(defocus_d, pupil_mm, eye_d):
    # a second route: similar triangles in a reduced eye whose focus misses its retina; seen
    # from the retina the pupil is p wide, and the vergences there differ by the defocus
    index = 4 / 3
    retina_m, focus_m = index / eye_d, index / (eye_d - defocus_d)
    shadow_um = 1e3 * pupil_mm * abs(focus_m - retina_m) / focus_m
    assert acuity.blur_circle_um(defocus_d, pupil_mm, eye_d) == pytest.approx(
        shadow_um, rel=1e-9, abs=1e-9
    )
    assert acuity.blur_circle_um(-defocus_d, pupil_mm, eye_d) == pytest.approx(
        shadow_um, rel=1e-9, abs=1e-9
    )


@pytest.mark.parametrize("case", OUTSIDE["blendowske"]["cases"])
def test_blendowskes_law(case):
    got = acuity.blendowske_logmar(case["sphere_d"])
    assert got == pytest.approx(case["logmar"], abs=OUTSIDE["blendowske"]["tolerance_logmar"])
    assert acuity.blendowske_logmar(case["sphere_d"], best_logmar=0.2) == pytest.approx(got + 0.2)


@given(st.floats(-6.0, 6.0), st.floats(-4.0, 4.0))
def test_blendowske_does_not_care_how_a_cylinder_is_written(sphere_d, cylinder_d):
    transposed = acuity.blendowske_logmar(sphere_d + cylinder_d, -cylinder_d)
    assert acuity.blendowske_logmar(sphere_d, cylinder_d) == pytest.approx(transposed, abs=1e-12)


@given(st.floats(0.5, 4.0))
def test_the_best_sphere_leaves_only_half_the_cylinder(cylinder_d):
    spheres = np.linspace(-3.0, 3.0, 601)
    blurred = acuity.blendowske_logmar(spheres, cylinder_d)
    assert spheres[np.argmin(blurred)] == pytest.approx(-cylinder_d / 2, abs=0.011)
    crossed = acuity.blendowske_logmar(-cylinder_d / 2, cylinder_d)
    assert crossed == pytest.approx(acuity.blendowske_logmar(cylinder_d / 2), abs=1e-12)


@pytest.mark.parametrize("case", OUTSIDE["smith"]["cases"])
def test_smiths_law_with_its_blend(case):
    got = acuity.convert(
        acuity.smith_logmar(case["defocus_d"], case["pupil_mm"]), "logmar", "mar_arcmin"
    )
    assert got == pytest.approx(case["mar_arcmin"], abs=OUTSIDE["smith"]["tolerance_arcmin"])


@given(st.floats(1.0, 8.0), st.floats(2.0, 7.0), st.floats(-0.2, 0.2))
def test_the_blend_joins_the_best_acuity_to_the_line(defocus_d, pupil_mm, best_logmar):
    line = acuity.smith_logmar(defocus_d, pupil_mm, blended=False)
    blend = acuity.smith_logmar(defocus_d, pupil_mm, best_logmar)
    assert blend > max(line, best_logmar)
    assert acuity.smith_logmar(0.0, pupil_mm, best_logmar) == pytest.approx(best_logmar)
    mar = 10**line
    assert mar == pytest.approx(0.189 * acuity.blur_circle_arcmin(defocus_d, pupil_mm), rel=0.002)


@pytest.mark.parametrize("case", OUTSIDE["rule_of_thumb"]["cases"])
def test_both_laws_agree_with_the_clinics_rule_of_thumb(case):
    low, high = case["snellen_20"]
    for logmar in (
        acuity.blendowske_logmar(case["defocus_d"]),
        acuity.smith_logmar(case["defocus_d"], 4.0),
    ):
        assert low <= acuity.convert(logmar, "logmar", "snellen_20") <= high


def test_arrays_broadcast_and_scalars_stay_plain():
    assert acuity.letter_height_mm([0.0, 0.3], [[6.0], [4.0]]).shape == (2, 2)
    assert acuity.smith_logmar([1.0, 2.0], [[3.0], [6.0]]).shape == (2, 2)
    for got in (
        acuity.convert(1, "decimal", "mar_arcmin"),
        acuity.blur_circle_um(1, 4),
        acuity.blendowske_logmar(-1, -1),
    ):
        assert type(got) is float


@pytest.mark.parametrize(
    ("call", "says"),
    [
        (lambda: acuity.convert(0.0, "decimal", "logmar"), "Is this another notation?"),
        (lambda: acuity.convert(20.0, "decimal", "logmar"), "Is this another notation?"),
        (lambda: acuity.convert(1.0, "snellen", "logmar"), "give one of: logmar"),
        (lambda: acuity.convert(1.0, "decimal", None), "wanted is None"),
        (lambda: acuity.letter_height_mm(20.0, 6.0), "20/20 is 0"),
        (lambda: acuity.letter_height_mm(0.0, -6.0), "positive number"),
        (lambda: acuity.letter_height_mm(0.0, 40.0), "in metres"),
        (lambda: acuity.blur_circle_um(1.0, 4.0, 22.0), "about 60 D"),
        (lambda: acuity.blur_circle_arcmin(1.0, 0.004), "in millimetres"),
        (lambda: acuity.smith_logmar(0.5, 4.0, blended=False), "holds from 1 D"),
    ],
)
def test_a_slip_gets_a_sentence(call, says):
    assert says in answer(call)


@pytest.mark.parametrize("value", VALUES, ids=repr)
@pytest.mark.parametrize(
    ("function", "good"),
    [
        (acuity.convert, [0.5, "decimal", "logmar"]),
        (acuity.convert, [70.0, "letters", "decimal"]),
        (acuity.letter_height_mm, [0.0, 6.0]),
        (acuity.logmar_of_letter, [8.7, 6.0]),
        (acuity.m_units, [0.4, 0.4]),
        (acuity.logmar_of_m_units, [1.0, 0.4]),
        (acuity.retinal_size_um, [5.0, 60.0]),
        (acuity.blur_circle_arcmin, [1.0, 4.0]),
        (acuity.blur_circle_um, [1.0, 4.0, 60.0]),
        (acuity.blendowske_logmar, [-1.0, -0.5, 0.0]),
        (acuity.smith_logmar, [-1.0, 4.0, 0.0]),
    ],
    ids=lambda f: getattr(f, "__name__", ""),
)
def test_absurd_input(function, good, value):
    for place in range(len(good)):
        answer(function, *good[:place], value, *good[place + 1 :])
    answer(function, *[value] * len(good))
