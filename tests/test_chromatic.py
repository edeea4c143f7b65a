"""The eye's colours: two published laws held together by the model eyes they belong to."""

import tomllib
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from shared_utils.optics import chromatic, model_eyes, paraxial
from tests.absurd import VALUES, answer

OUTSIDE = tomllib.loads(
    (Path(__file__).parent / "outside" / "chromatic.toml").read_text(encoding="utf-8")
)
LAWS = list(chromatic.LAWS)
visible = st.floats(400.0, 700.0)


def reduced_eye_refraction_d(wavelength_nm):
    """The reduced eye's refraction by its own surface and length."""
    outside = OUTSIDE["thibos"]

    def system(nm):
        index = chromatic.reduced_eye_index(nm)
        return paraxial.System([outside["radius_mm"]], [], [1.0, index])

    length_mm = paraxial.cardinal_points(system(outside["in_focus_nm"])).back_focal_mm
    return model_eyes.refraction(system(wavelength_nm), length_mm, vertex_mm=0.0)


@pytest.mark.parametrize("case", OUTSIDE["thibos"]["cases"])
def test_thibos_by_two_routes(case):
    tolerance = OUTSIDE["thibos"]["tolerance_d"]
    by_surface = reduced_eye_refraction_d(case["wavelength_nm"])
    assert by_surface == pytest.approx(case["refraction_d"], abs=6e-4)
    by_formula = chromatic.refraction(case["wavelength_nm"])
    assert by_formula == pytest.approx(by_surface, abs=tolerance)


@given(visible)
def test_thibos_index_and_refraction_belong_together(wavelength_nm):
    assert chromatic.refraction(wavelength_nm) == pytest.approx(
        reduced_eye_refraction_d(wavelength_nm), abs=OUTSIDE["thibos"]["tolerance_d"]
    )


@given(visible)
def test_the_cauchy_indices_in_gullstrands_eye_give_the_published_refraction(wavelength_nm):
    eye = model_eyes.get("gullstrand_exact")
    order = ("cornea", "aqueous", "lens_surface", "lens_core", "lens_surface", "vitreous")

    def refraction_d(nm):
        index = [1.0, *(chromatic.cauchy_index(medium, nm) for medium in order)]
        system = paraxial.System(eye.radius_mm, eye.thickness_mm, index)
        return model_eyes.refraction(system, 24.3854, vertex_mm=0.0)

    by_eye = refraction_d(wavelength_nm) - refraction_d(555.0)
    by_law = chromatic.refraction(wavelength_nm, "atchison_smith", in_focus_nm=555.0)
    assert by_law == pytest.approx(by_eye, abs=0.013)


@pytest.mark.parametrize("medium", chromatic.CAUCHY)
def test_indices_are_gullstrands_at_555_nm(medium):
    outside = OUTSIDE["gullstrand_index"]
    got = chromatic.cauchy_index(medium, outside["wavelength_nm"])
    assert got == pytest.approx(outside[medium], abs=outside["tolerance"])


@pytest.mark.parametrize("medium", chromatic.CAUCHY)
def test_dispersion_is_that_of_wet_tissue(medium):
    outside = OUTSIDE["abbe"]
    d, f, c = (chromatic.cauchy_index(medium, outside[f"{line}_nm"]) for line in "dfc")
    low, high = outside[medium]
    assert low < (d - 1.0) / (f - c) < high


def test_the_reduced_eye_is_water():
    outside = OUTSIDE["water"]
    got = chromatic.reduced_eye_index(outside["wavelength_nm"])
    assert got == pytest.approx(outside["index"], abs=outside["tolerance"])


@pytest.mark.parametrize("law", LAWS)
def test_the_span_over_the_visible(law):
    outside = OUTSIDE["measured_span"]
    blue, red = chromatic.refraction([outside["from_nm"], outside["to_nm"]], law)
    assert red - blue == pytest.approx(outside["span_d"], abs=outside["tolerance_d"])


@given(visible, st.floats(0.5, 50.0), st.sampled_from(LAWS))
def test_blue_is_myopic_and_indices_fall(wavelength_nm, redder_nm, law):
    bluer, redder = chromatic.refraction(np.array([wavelength_nm, wavelength_nm + redder_nm]), law)
    assert redder > bluer
    for medium in chromatic.CAUCHY:
        here, there = chromatic.cauchy_index(medium, [wavelength_nm, wavelength_nm + redder_nm])
        assert here > there
    assert chromatic.reduced_eye_index(wavelength_nm) > chromatic.reduced_eye_index(
        wavelength_nm + redder_nm
    )


@given(visible, visible, visible, st.sampled_from(LAWS))
def test_differences_do_not_depend_on_the_colour_in_focus(one_nm, other_nm, in_focus_nm, law):
    bare = chromatic.refraction(one_nm, law) - chromatic.refraction(other_nm, law)
    referred = chromatic.refraction(one_nm, law, other_nm)
    assert referred == pytest.approx(bare, abs=1e-12)
    both = chromatic.refraction(np.array([one_nm, other_nm]), law, in_focus_nm)
    assert both[0] - both[1] == pytest.approx(bare, abs=1e-12)
    assert chromatic.refraction(in_focus_nm, law, in_focus_nm) == 0.0


def test_referred_to_one_wavelength_the_laws_agree():
    wavelength_nm = np.linspace(400.0, 700.0, 61)
    thibos, atchison_smith = (
        chromatic.refraction(wavelength_nm, law, in_focus_nm=555.0) for law in LAWS
    )
    assert np.max(np.abs(thibos - atchison_smith)) < 0.06
    # the slip this guards against: the zeros lie 0.17 D from 555 nm
    assert chromatic.refraction(555.0, "thibos") == pytest.approx(-0.17, abs=0.01)


@pytest.mark.parametrize(("law", "zero_nm"), [("thibos", 590.0), ("atchison_smith", 588.5)])
def test_each_laws_zero_is_where_the_text_says(law, zero_nm):
    below, above = chromatic.refraction([zero_nm - 0.05, zero_nm + 0.05], law)
    assert below < 0.0 < above


def test_arrays_and_scalars():
    assert chromatic.refraction(np.full((2, 3), 500.0)).shape == (2, 3)
    assert chromatic.refraction([[450.0], [500.0]], in_focus_nm=[555.0, 589.0]).shape == (2, 2)
    assert type(chromatic.refraction(500)) is float
    assert type(chromatic.cauchy_index("aqueous", 500)) is float


@pytest.mark.parametrize(
    ("call", "says"),
    [
        (lambda: chromatic.refraction(0.555), "in micrometres? Multiply by 1000"),
        (lambda: chromatic.refraction(555.0, in_focus_nm=5.5), "in_focus_nm"),
        (lambda: chromatic.refraction(555.0, "helmholtz"), "give one of: thibos"),
        (lambda: chromatic.cauchy_index("lens", 555.0), "lens_surface, lens_core"),
    ],
)
def test_a_slip_gets_a_sentence(call, says):
    assert says in answer(call)


@pytest.mark.parametrize("value", VALUES, ids=repr)
def test_absurd_input(value):
    answer(chromatic.reduced_eye_index, value)
    answer(chromatic.cauchy_index, "cornea", value)
    assert answer(chromatic.cauchy_index, value, 555.0)
    answer(chromatic.refraction, value)
    assert answer(chromatic.refraction, 555.0, value)
    answer(chromatic.refraction, 555.0, "thibos", value)
