"""Items of lesson difficult_eyes beyond their keys: the figures to read hide what is asked."""

from shared_utils.bank.items import bank
from shared_utils.bank.posed import pose


def test_every_corrected_method_asks_for_more_than_the_uncorrected_lens():
    for seed in range(60):
        n = pose(bank()["laser-powers-to-read"], seed).numbers
        methods = ("double_k_d", "history_d", "masket_d", "shammas_pl_d", "haigis_l_d")
        assert all(n[name] > n["uncorrected_d"] for name in methods)


def test_the_places_where_a_short_eye_is_lengthened_lie_below_the_line_s_crossing():
    """0.8544 L + 3.7222 = L at 25.56 mm, as the feedback says."""
    assert round(3.7222 / (1 - 0.8544), 2) == 25.56
    for seed in range(60):
        n = pose(bank()["below-its-threshold"], seed).numbers
        assert n["answer"] > n["length_mm"]
