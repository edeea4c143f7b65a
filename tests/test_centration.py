"""A lens beside the pupil's centre: hand values, Zernike terms by another route, signs."""

import tomllib
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from shared_utils.optics import centration
from shared_utils.optics.ray_trace import zernike

OUTSIDE = tomllib.loads(
    (Path(__file__).parent / "outside" / "centration.toml").read_text(encoding="utf-8")
)


def projected_um(sa_um, decentration_mm, zone_mm, n, m):
    """A term of the lens's own Zernike function, moved aside, by integration over the pupil."""
    x, weight = np.polynomial.legendre.leggauss(24)
    radius = np.sqrt((1.0 + x) / 2.0)[:, None]  # equal steps of area
    angle = (np.arange(64) + 0.5) * 2.0 * np.pi / 64.0
    at_x = radius * zone_mm / 2.0 * np.cos(angle) - decentration_mm
    at_y = radius * zone_mm / 2.0 * np.sin(angle)
    square = (at_x**2 + at_y**2) / 9.0
    path = sa_um * np.sqrt(5.0) * (6.0 * square**2 - 6.0 * square + 1.0)  # Z(4,0) over 6 mm
    return float(weight / 2.0 @ (path * zernike(n, m, radius, angle)).mean(axis=1))


@pytest.mark.parametrize("zone_mm", [3.0, 4.5, 6.0])
@pytest.mark.parametrize("decentration_mm", [0.0, 0.3, 1.0])
def test_coma_and_spherical_aberration_agree_with_integration(zone_mm, decentration_mm):
    coma = projected_um(-0.20, decentration_mm, zone_mm, 3, 1)
    assert abs(coma) == pytest.approx(
        centration.coma_um(-0.20, decentration_mm, zone_mm), abs=1e-12
    )
    spherical = projected_um(-0.20, decentration_mm, zone_mm, 4, 0)
    assert spherical == pytest.approx(centration.over_zone_um(-0.20, zone_mm), abs=1e-12)


def test_the_gate_as_defocus():
    gate = OUTSIDE["gate"]
    ours = centration.equivalent_defocus_d(gate["rms_um"], gate["zone_mm"])
    assert ours == pytest.approx(gate["equivalent_d"], abs=gate["tolerance_d"])


def test_how_far_off_centre_an_aspheric_lens_is_still_the_better():
    reply = OUTSIDE["aspheric_against_spherical"]
    decentration = np.linspace(0.0, 1.0, 1001)
    aspheric = centration.left_over_um(reply["corneal_sa_um"], reply["lens_sa_um"], decentration)
    neutral = centration.left_over_um(reply["corneal_sa_um"], reply["beside_sa_um"], decentration)
    crossing = decentration[np.flatnonzero(aspheric > neutral)[0]]
    assert crossing == pytest.approx(reply["decentration_mm"], abs=reply["tolerance_mm"])


def test_a_ring_beside_the_centre_is_a_prism():
    reply = OUTSIDE["prentice"]
    here = centration.halo_shift_arcmin(reply["power_d"], 1.0)  # a fifth of its decentration
    by_rule = np.degrees(np.arctan(0.01 * reply["prism_dioptres"])) * 60.0 / 5.0
    assert here == pytest.approx(by_rule, rel=1e-3)


@given(
    cornea=st.floats(-0.5, 0.8),
    lens=st.floats(-0.5, 0.5),
    decentration=st.floats(0.0, 1.5),
    zone=st.floats(2.0, 7.0),
)
def test_more_decentration_never_helps_and_a_wider_pupil_neither(cornea, lens, decentration, zone):
    here = centration.left_over_um(cornea, lens, decentration, zone)
    assert centration.left_over_um(cornea, lens, decentration + 0.2, zone) >= here
    assert centration.left_over_um(cornea, lens, decentration, zone + 1.0) >= here
    assert centration.left_over_um(cornea, 0.0, decentration, zone) == pytest.approx(
        abs(centration.over_zone_um(cornea, zone))
    )


def test_arrays_go_through_and_slips_are_told():
    assert centration.coma_um([-0.20, 0.1], [[0.2], [0.4]]).shape == (2, 2)
    assert isinstance(centration.left_over_um(0.27, 0.0, 0.1), float)
    for wrong, says in (
        (lambda: centration.coma_um(-0.20, -0.4), "without a sign"),
        (lambda: centration.equivalent_defocus_d(500.0), "not nm"),
        (lambda: centration.over_zone_um(270.0, 6.0), "micrometres"),
        (lambda: centration.halo_shift_arcmin(2.5, float("nan")), "decentration_mm"),
    ):
        with pytest.raises(ValueError, match=says):
            wrong()
