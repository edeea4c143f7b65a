"""Figures to read: they show what was drawn, and the answer is left to the reader."""

import re

import numpy as np
import pytest

from shared_utils.bank import items
from shared_utils.bank.posed import pose

BANK = items.bank()
READ = [i.key for i in BANK.values() if i.lesson == "range_of_focus" and i.figure]


@pytest.mark.parametrize("key", READ)
@pytest.mark.parametrize("seed", range(4))
def test_the_words_of_a_figure_do_not_give_the_answer_away(key, seed):
    posed = pose(BANK[key], seed)
    alt = posed.shown_figure().alt
    keyed = next(option.text for option in posed.options if option.key)
    assert re.search(r"\d\.\d D", keyed)[0] not in alt
    assert "bifocal" not in alt


def curves_in_words(alt):
    """The curves that the words of a figure give, every quarter dioptre from far, by name."""
    message = re.findall(r"([\w ]+): ([−\d., ]+)(?:;|\.$)", alt.partition("−4.00 D.")[2])
    return {
        name.strip(): [float(number.replace("−", "-")) for number in numbers.split(", ")]
        for name, numbers in message
    }


def reach(curve, limit_logmar):
    """Where a curve given every quarter dioptre first falls short of the limit."""
    first = next(n for n, value in enumerate(curve) if value > limit_logmar)
    share = (limit_logmar - curve[first - 1]) / (curve[first] - curve[first - 1])
    return 0.25 * (first - 1 + share)


@pytest.mark.parametrize("seed", range(8))
def test_who_has_the_words_of_a_figure_alone_finds_the_answer(seed):
    posed = pose(BANK["curve-to-read"], seed)
    (curve,) = curves_in_words(posed.shown_figure().alt).values()
    assert len(curve) == 17
    assert reach(curve, 0.2) == pytest.approx(posed.numbers["answer"], abs=0.08)
    posed = pose(BANK["read-what-is-gained"], seed)
    curves, limit = curves_in_words(posed.shown_figure().alt), posed.numbers["limit_logmar"]
    gained = reach(curves["extended depth"], limit) - reach(curves["monofocal"], limit)
    assert gained == pytest.approx(posed.numbers["answer"], abs=0.1)
    posed = pose(BANK["read-two-eyes"], seed)
    curves = curves_in_words(posed.shown_figure().alt)
    both = np.minimum(curves["far eye"], curves["near eye"])
    assert reach(both, 0.2) == pytest.approx(posed.numbers["answer"], abs=0.08)
