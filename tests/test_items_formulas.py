"""Items beyond their keys: the shelf to read, and figures that hide their key."""

import pytest

from shared_utils.bank.items import bank
from shared_utils.bank.posed import pose
from shared_utils.power.biometry import Eye
from shared_utils.power.formulas import iol_power
from shared_utils.power.lens_constants import LensConstants


def test_the_lenses_offered_lie_on_the_shelf_and_miss_by_more_than_the_key():
    for seed in range(60):
        posed = pose(bank()["read-the-ladder"], seed)
        read = dict(zip(posed.numbers["iol_power_d"], posed.numbers["predicted_d"], strict=True))
        miss = {
            option: abs(read[float(option.text.removesuffix(" D"))] - posed.numbers["target_d"])
            for option in posed.options
        }
        key = next(option for option in posed.options if option.key)
        for option in posed.options:
            assert option is key or miss[option] > miss[key] + 0.1, posed.choices


def test_the_gap_to_read_hides_its_difference():
    for seed in range(20):
        posed = pose(bank()["read-the-gap"], seed)
        assert f"{posed.numbers['answer']:.0f} at" not in posed.shown_figure().alt


@pytest.mark.parametrize("formula", ["srk_t", "holladay_1", "hoffer_q"])
def test_a_deeper_chamber_is_noticed_by_haigis_alone(formula):
    """As chamber-changes-one says here, and shallower-chamber in lesson difficult_eyes."""
    lens = LensConstants.from_a_constant(118.4)
    shallow, deep = (Eye(23.5, 43.5, acd_mm=acd_mm) for acd_mm in (2.60, 3.10))
    assert iol_power(deep, "haigis", lens) > iol_power(shallow, "haigis", lens) + 0.1
    assert iol_power(deep, formula, lens) == pytest.approx(iol_power(shallow, formula, lens))
