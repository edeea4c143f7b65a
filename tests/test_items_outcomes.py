"""Items beyond their keys: what the figures to read hold, and that they hide it."""

import re

import numpy as np
import pytest
from scipy import stats

from shared_utils.bank.items import bank
from shared_utils.bank.posed import pose


def eyes_stated(alt):
    """The errors of the eyes that an alt text tells, D."""
    reply = re.findall(r"(\d+) at ([+−]?\d\.\d\d) D", alt)
    return np.repeat(
        [float(place.replace("−", "-")) for _, place in reply], [int(count) for count, _ in reply]
    )


def test_the_two_formulas_hold_what_the_answers_say():
    posed = pose(bank()["read-two-formulas"])
    first, second = (eyes_stated(words) for words in posed.shown_figure().alt.split("Formula B"))
    assert first.size == second.size == 40
    assert first.mean() == pytest.approx(0.0)
    assert round(second.mean(), 2) == 0.64  # "the lean of +0.64 D"
    within = [int(np.sum(np.abs(errors) <= 0.5)) for errors in (first, second)]
    assert within == [28, 19]  # "28 against 19"
    assert np.sum(np.abs(second - second.mean()) <= 0.5) == 34  # "34 of its 40 eyes"
    assert second.std() < 0.6 * first.std()


def test_a_series_to_read_tells_as_many_eyes_as_the_question():
    leans = set()
    for seed in range(40):
        posed = pose(bank()["read-a-series"], seed)
        alt = posed.shown_figure().alt
        errors_d = eyes_stated(alt)
        assert f"of {errors_d.size} eyes" in posed.stem
        word = "hyperopic" if errors_d.mean() > 0.005 else "myopic"
        leans.add(word if abs(errors_d.mean()) > 0.005 else "not")
        assert (word in alt) or (abs(errors_d.mean()) < 0.005 and "does not lean" in alt)
    assert {"hyperopic", "myopic"} <= leans


def test_the_constant_to_read_is_not_told():
    for seed in range(20):
        posed = pose(bank()["read-the-constant"], seed)
        assert f"{posed.numbers['answer']:.1f}" not in posed.shown_figure().alt


def test_the_few_eyes_never_tell_a_lean_from_chance():
    """The interval of 95 % holds zero, as the keyed option takes for granted, for every draw."""
    for seed in range(200):
        n = pose(bank()["fifteen-eyes"], seed).numbers
        low, high = stats.norm(n["mean_d"], n["sd_d"] / np.sqrt(n["eyes"])).interval(0.95)
        assert low < 0 < high
