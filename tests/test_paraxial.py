"""Ray-transfer matrices and cardinal points, against sympy and by identities."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from shared_utils.optics import paraxial, vergence

# Le Grand's full theoretical eye, as tabulated in Atchison & Smith, Optics of the Human Eye (from
# memory): radii and thicknesses in mm.
LE_GRAND = paraxial.System(
    [7.8, 6.5, 10.2, -6.0], [0.55, 3.05, 4.0], [1.0, 1.3771, 1.3374, 1.42, 1.336]
)


@pytest.mark.peer
def test_system_against_sympy_ray_matrices():
    """sympy's matrices act on (height, angle): its C is our C over the last index."""
    from sympy.physics.optics import CurvedRefraction, FreeSpace

    whole = None
    index = LE_GRAND.index
    for surface, radius in enumerate(LE_GRAND.radius_mm):
        step = CurvedRefraction(radius / 1000, index[surface], index[surface + 1])
        if surface:
            step = step * FreeSpace(LE_GRAND.thickness_mm[surface - 1] / 1000)
        whole = step if whole is None else step * whole
    ours = LE_GRAND.matrix()
    assert ours[0, 0] == pytest.approx(float(whole.A), abs=1e-12)
    assert ours[0, 1] == pytest.approx(float(whole.B) * index[0], abs=1e-12)
    assert ours[1, 0] == pytest.approx(float(whole.C) * index[-1], abs=1e-9)
    assert ours[1, 1] == pytest.approx(float(whole.D) * index[-1] / index[0], abs=1e-12)


def test_le_grand_eye_to_the_printed_digits():
    """Le Grand & El Hage, Physiological Optics (from memory): mm from the corneal vertex."""
    points = paraxial.cardinal_points(LE_GRAND)
    assert points.power_d == pytest.approx(59.940, abs=0.0006)
    assert points.principal_mm == pytest.approx((1.595, 1.908), abs=0.0006)
    assert points.nodal_mm == pytest.approx((7.200, 7.513), abs=0.0006)
    assert points.front_focal_mm == pytest.approx(-15.089, abs=0.0006)
    assert points.back_focal_mm == pytest.approx(24.197, abs=0.0006)


def test_thick_lens_and_matrix_agree():
    lens = vergence.thick_lens(8.0, -3.0, 5.0, 1.5)
    front, back = 1000 * 0.5 / 8.0, 1000 * -0.5 / -3.0
    points = paraxial.cardinal_points(paraxial.System([front, back], [5.0], [1.0, 1.5, 1.0]))
    assert points.power_d == pytest.approx(lens.equivalent_power_d, abs=1e-12)
    assert points.principal_mm[0] == pytest.approx(lens.front_principal_mm, abs=1e-9)
    assert points.principal_mm[1] - 5.0 == pytest.approx(lens.back_principal_mm, abs=1e-9)


@given(
    radius_mm=st.lists(st.floats(5, 50), min_size=2, max_size=5),
    data=st.data(),
)
def test_every_matrix_has_determinant_one(radius_mm, data):
    gaps = len(radius_mm) - 1
    thickness_mm = data.draw(st.lists(st.floats(0, 5), min_size=gaps, max_size=gaps))
    index = data.draw(st.lists(st.floats(1, 1.6), min_size=gaps + 2, max_size=gaps + 2))
    system = paraxial.System(radius_mm, thickness_mm, index)
    assert np.linalg.det(system.matrix()) == pytest.approx(1.0, abs=1e-9)


def test_in_one_medium_nodal_and_principal_points_coincide():
    points = paraxial.cardinal_points(paraxial.System([50, -50], [10], [1, 1.5, 1]))
    assert points.nodal_mm == pytest.approx(points.principal_mm)


def test_distances_of_the_cardinal_points_hold():
    """Focal and nodal points: F'N' = f and FN = f' (Atchison & Smith)."""
    points = paraxial.cardinal_points(LE_GRAND)
    f_front = 1000 / points.power_d
    f_back = 1336 / points.power_d
    assert points.back_focal_mm - points.nodal_mm[1] == pytest.approx(f_front, abs=1e-9)
    assert points.nodal_mm[0] - points.front_focal_mm == pytest.approx(f_back, abs=1e-9)


def test_elements_take_arrays():
    stacked = paraxial.refraction([1.0, 2.0]) @ paraxial.translation([10.0, 20.0], 1.5)
    assert stacked.shape == (2, 2, 2)


@pytest.mark.parametrize(
    ("call", "says"),
    [
        (lambda: paraxial.System([], [], [1.0]), "do not fit together"),
        (lambda: paraxial.System([7.8], [1.0], [1.0, 1.3]), "do not fit together"),
        (lambda: paraxial.System([7.8, 6.5], [-0.5], [1.0, 1.376, 1.336]), "0 mm or more"),
        (lambda: paraxial.System(["a"], [], [1.0, 1.3]), "not a number"),
        (lambda: paraxial.System([0.0], [], [1.0, 1.3]).matrix(), "radius_mm"),
        (
            lambda: paraxial.cardinal_points(paraxial.System([np.inf], [], [1.0, 1.3])),
            "0 D",
        ),
    ],
)
def test_absurd_systems_get_one_sentence(call, says):
    with pytest.raises(ValueError) as caught:
        call()
    assert says in str(caught.value)
    assert "\n" not in str(caught.value)
