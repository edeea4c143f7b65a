"""Vergence against printed numbers, against ray-transfer matrices, and against itself."""

import tomllib
from pathlib import Path

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from shared_utils.optics import vergence

OUTSIDE = tomllib.loads((Path(__file__).parent / "outside" / "vergence.toml").read_text("utf-8"))

powers_d = st.floats(-40, 40)
ways_m = st.floats(-0.02, 0.02)
indices = st.floats(1.0, 2.0)


@pytest.mark.parametrize(
    "check", OUTSIDE["value"], ids=lambda c: f"{c['function']}-{c.get('part', '')}"
)
def test_printed_value(check):
    found = getattr(vergence, check["function"].split(".")[1])(*check["arguments"])
    if "part" in check:
        found = getattr(found, check["part"])
    assert found == pytest.approx(check["result"], abs=check["tolerance"]), check["source"]


@pytest.mark.parametrize("table", OUTSIDE["vertex"], ids=lambda t: f"{t['vertex_mm']:g} mm")
def test_vertex_table(table):
    found = vergence.at_vertex(np.array(table["spectacle_d"]), table["vertex_mm"], 0.0)
    assert found == pytest.approx(table["cornea_d"], abs=table["tolerance"]), table["source"]


@pytest.mark.peer
def test_lens_pair_against_sympy_ray_matrices():
    """sympy's geometric optics, a general-purpose reference, on a grid of lens pairs."""
    from sympy.physics.optics import FreeSpace, GeometricRay, ThinLens

    for first_d in (-8.0, 5.0, 12.5):
        for second_d in (-3.0, 8.0):
            for way_m in (0.02, 0.1):
                for object_m in (0.3, 2.0):
                    ray = (
                        ThinLens(1 / second_d)
                        * FreeSpace(way_m)
                        * ThinLens(1 / first_d)
                        * FreeSpace(object_m)
                        * GeometricRay(0, 0.01)
                    )
                    image_m = float(-ray.height / ray.angle)
                    pair = vergence.two_lenses(first_d, second_d, way_m, -1 / object_m)
                    assert pair.image_distance_m == pytest.approx(image_m, rel=1e-9)
                    # upright height through the same system: m = A of the whole matrix
                    whole = (
                        FreeSpace(image_m)
                        * ThinLens(1 / second_d)
                        * FreeSpace(way_m)
                        * ThinLens(1 / first_d)
                        * FreeSpace(object_m)
                    )
                    assert pair.magnification == pytest.approx(float(whole.A), rel=1e-9)


@given(power_d=powers_d, way_m=ways_m, index=indices)
def test_there_and_back(power_d, way_m, index):
    there_d = vergence.propagate(power_d, way_m, index)
    assert vergence.propagate(there_d, -way_m, index) == pytest.approx(power_d, abs=1e-9)


@given(power_d=powers_d, way_m=st.floats(0, 0.02), index=indices)
def test_travelling_downstream_never_lowers_vergence(power_d, way_m, index):
    """dV/dx = V²/n: the slope of effectivity has no negative value."""
    assert vergence.propagate(power_d, way_m, index) >= power_d - 1e-12


@given(distance_m=st.floats(-100, 100), index=indices)
def test_vergence_and_focus_distance_undo_each_other(distance_m, index):
    assume(abs(distance_m) > 1e-6)
    back_m = vergence.focus_distance(vergence.vergence(distance_m, index), index)
    assert back_m == pytest.approx(distance_m, rel=1e-12)


@given(
    front_d=st.floats(-30, 30), back_d=st.floats(-30, 30), thick_mm=st.floats(0, 10), index=indices
)
def test_thick_lens_turned_round_swaps_its_vertex_powers(front_d, back_d, thick_mm, index):
    one = vergence.thick_lens(front_d, back_d, thick_mm, index)
    other = vergence.thick_lens(back_d, front_d, thick_mm, index)
    assert one.equivalent_power_d == pytest.approx(other.equivalent_power_d, abs=1e-9)
    assert one.back_vertex_power_d == pytest.approx(other.front_vertex_power_d, abs=1e-9)


@given(front_d=st.floats(-30, 30), back_d=st.floats(-30, 30), index=indices)
def test_a_thick_lens_without_thickness_is_the_sum_of_its_surfaces(front_d, back_d, index):
    lens = vergence.thick_lens(front_d, back_d, 0.0, index)
    assert lens.equivalent_power_d == pytest.approx(front_d + back_d, abs=1e-12)
    assert lens.back_vertex_power_d == pytest.approx(front_d + back_d, abs=1e-12)


@given(front_d=st.floats(-30, 30), back_d=st.floats(-30, 30), thick_mm=st.floats(0, 10))
def test_back_vertex_power_is_the_vergence_that_leaves(front_d, back_d, thick_mm):
    leaving_d = vergence.propagate(front_d, thick_mm / 1000, 1.5) + back_d
    lens = vergence.thick_lens(front_d, back_d, thick_mm, 1.5)
    assert lens.back_vertex_power_d == pytest.approx(leaving_d, abs=1e-9)


def test_magnification_of_one_lens_is_image_over_object_distance():
    arriving_d = vergence.vergence(-0.3)
    leaving_d = vergence.refract(arriving_d, 5.0)
    by_distances = vergence.focus_distance(leaving_d) / -0.3
    assert vergence.magnification(arriving_d, leaving_d) == pytest.approx(by_distances)


def test_a_myope_in_spectacles_works_less_than_in_contact_lenses_and_a_hyperope_more():
    """Bennett & Rabbetts, Clinical Visual Optics."""
    contact_d = vergence.accommodation_demand(-6.0, -1 / 3, vertex_mm=0.0)
    assert vergence.accommodation_demand(-6.0, -1 / 3) < contact_d
    assert vergence.accommodation_demand(6.0, -1 / 3) > contact_d


def test_far_and_near_point_lie_in_front_of_a_myope_and_accommodation_brings_it_nearer():
    far_m = vergence.far_point(-4.0, vertex_mm=0.0)
    near_m = vergence.near_point(-4.0, 2.0, vertex_mm=0.0)
    assert far_m < near_m < 0
    assert vergence.far_point(0.0) == np.inf


@pytest.mark.parametrize("shape", [(), (3,), (2, 3)])
def test_shapes_broadcast(shape):
    found = vergence.propagate(np.full(shape, 10.0), 0.02)
    assert np.shape(found) == shape
    assert np.allclose(found, 12.5)
    assert isinstance(vergence.propagate(10.0, 0.02), float)


ABSURD = ["text", None, np.nan, [1.0, np.nan], True, [[1.0], [1.0, 2.0]], {}, 1j]


@pytest.mark.parametrize("bad", ABSURD, ids=repr)
@pytest.mark.parametrize(
    "call",
    [
        vergence.vergence,
        vergence.focus_distance,
        lambda bad: vergence.refract(bad, 1.0),
        lambda bad: vergence.propagate(bad, 0.01),
        lambda bad: vergence.surface_power(bad, 1.0, 1.5),
        lambda bad: vergence.at_vertex(bad, 12, 0),
        lambda bad: vergence.magnification(bad, 1.0),
        lambda bad: vergence.two_lenses(bad, 1.0, 0.1),
        lambda bad: vergence.thick_lens(bad, 1.0, 1.0, 1.5),
        vergence.far_point,
        lambda bad: vergence.near_point(bad, 1.0),
        lambda bad: vergence.accommodation_demand(bad, -0.3),
    ],
)
def test_absurd_input_gets_one_sentence(call, bad):
    with pytest.raises(ValueError) as caught:
        call(bad)
    assert "\n" not in str(caught.value)
    assert ";" in str(caught.value)  # what it is; what to give


@pytest.mark.parametrize(
    ("call", "says"),
    [
        (lambda: vergence.vergence(0.0), "0 m"),
        (lambda: vergence.vergence(-0.4, index=0.9), "index is 0.9; give 1 to 4"),
        (lambda: vergence.propagate(10.0, 0.1), "infinite"),
        (lambda: vergence.surface_power(0.0078, 1.0, 1.376), "In metres"),
        (lambda: vergence.at_vertex(-1000, 12, 0), "-40 to 40 D"),
        (lambda: vergence.magnification(-1.0, 0.0), "0 D"),
        (lambda: vergence.two_lenses(5, 8, 100.5), "In millimetres"),
        (lambda: vergence.two_lenses(10, 8, 0.1), "infinite"),
        (lambda: vergence.thick_lens(100.0, 5.0, 15.0, 1.5), "infinite"),
        (lambda: vergence.thick_lens(5.0, 100.0, 15.0, 1.5), "infinite"),
        (lambda: vergence.near_point(0, -2), "positive"),
        (lambda: vergence.accommodation_demand(0, 0.3), "negative distance"),
        (lambda: vergence.refract([1.0, 2.0], [1.0, 2.0, 3.0]), "do not go together"),
    ],
)
def test_the_message_names_the_value_and_the_likely_slip(call, says):
    with pytest.raises(ValueError) as caught:
        call()
    assert says in str(caught.value)
