"""Whatever is given to the floor of lens powers: numbers come back, or one clear sentence."""

from functools import partial

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shared_utils.power import (
    after_laser,
    axial_length,
    cornea,
    lens_steps,
    long_eyes,
    secondary,
)
from shared_utils.power.biometry import Eye, between_eyes, radius_from_k, screening
from shared_utils.power.constants import optimise
from shared_utils.power.lens_constants import LensConstants
from tests.absurd import ANYTHING, answer, numbers_in

LENS = LensConstants.from_a_constant(118.4)


def treated_eye(length, k, acd):
    return Eye(length, k, acd_mm=acd)


def compared(length, k, before, refraction):
    found = after_laser.compare(
        Eye(length, k, acd_mm=3.2),
        LENS,
        "myopic",
        k_before_d=before,
        refraction_before_d=refraction,
        refraction_after_d=0.0,
    )
    return [found.spread_d, *(estimate.iol_power_d for estimate in found.estimates)]


# function of plain numbers → usual values
FUNCTIONS = {
    "radius_from_k": (radius_from_k, (43.5,)),
    "screening": (lambda length, k: [f.holds for f in screening(Eye(length, k))], (23.5, 43.5)),
    "between_eyes": (
        lambda a, b: [f.holds for f in between_eyes(Eye(a, 43.0), Eye(b, 43.0))],
        (23.5, 23.6),
    ),
    "from_a_constant": (LensConstants.from_a_constant, (118.4,)),
    "from_pacd": (LensConstants.from_pacd, (5.2,)),
    "from_surgeon_factor": (LensConstants.from_surgeon_factor, (1.5,)),
    "optimise": (
        lambda length, power, rx: optimise(Eye(length, 43.5), "t2", power, rx),
        (23.5, 20.5, 0.1),
    ),
    "keratometry": (cornea.keratometry, (7.7, 1.3375)),
    "radius": (cornea.radius, (43.5, 1.3375)),
    "convert_keratometry": (cornea.convert_keratometry, (43.5, 1.332, 1.3375)),
    "thick_cornea": (cornea.thick_cornea, (7.7, 6.4, 0.55)),
    "index_from_ratio": (cornea.index_from_ratio, (0.82,)),
    "ratio_from_index": (cornea.ratio_from_index, (1.3375,)),
    "total_keratometry": (cornea.total_keratometry, (7.7, 6.4, 0.55)),
    "clinical_history_k": (after_laser.clinical_history_k, (43.5, -6.0, 0.0, 12.0)),
    "shammas_k": (after_laser.shammas_k, (38.0,)),
    "shammas_hyperopic_k": (after_laser.shammas_hyperopic_k, (46.0,)),
    "savini_k": (after_laser.savini_k, (38.0, -6.0)),
    "central_topography_k": (after_laser.central_topography_k, (38.0,)),
    "haigis_l_radius": (after_laser.haigis_l_radius, (8.8,)),
    "masket_adjustment": (after_laser.masket_adjustment, (-6.0,)),
    "haigis_l_power": (
        lambda length, k, acd, rx, v: after_laser.haigis_l_power(
            treated_eye(length, k, acd), LENS, rx, v
        ),
        (26.0, 38.0, 3.4, -0.5, 12.0),
    ),
    "shammas_pl_power": (
        lambda length, k, rx, v: after_laser.shammas_pl_power(Eye(length, k), LENS, rx, v),
        (26.0, 38.0, -0.5, 12.0),
    ),
    "compare": (compared, (26.0, 38.0, 43.5, -6.0)),
    "added_power": (secondary.added_power, (43.5, -8.0, 3.2, 0.0, 12.0)),
    "refraction_with_added": (secondary.refraction_with_added, (43.5, -8.0, 3.2, -9.0, 12.0)),
    "exchange_power": (secondary.exchange_power, (43.5, 2.0, 20.0, 5.0, 0.0, 4.5, 12.0)),
    "adjusted_length": (partial(long_eyes.adjusted_length, formula="srk_t"), (28.0,)),
    "segmented_length": (long_eyes.segmented_length, (28.0, 4.5)),
    "echo_time": (axial_length.echo_time, (23.5, 4.6)),
    "length_by_sound": (axial_length.length_by_sound, (30.2, 1555.0)),
    "optical_path": (axial_length.optical_path, (23.5, 4.6)),
    "length_by_light": (axial_length.length_by_light, (32.2,)),
    "nearest_power": (lens_steps.nearest_power, (20.3, 0.5)),
    "choices": (
        lambda length, k, rx, v: lens_steps.choices(Eye(length, k), "t2", LENS, rx, v),
        (23.5, 43.5, 0.0, 12.0),
    ),
}


@pytest.mark.parametrize("name", FUNCTIONS)
@given(data=st.data())
@settings(max_examples=60, deadline=None)
def test_numbers_or_one_sentence(name, data):
    function, usual = FUNCTIONS[name]
    assert np.isfinite(numbers_in(function(*usual))).all()
    place = data.draw(st.integers(0, len(usual) - 1))
    value = data.draw(ANYTHING)
    answer(function, *usual[:place], value, *usual[place + 1 :])
