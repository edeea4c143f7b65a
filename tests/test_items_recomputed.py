"""Every key that is a number, computed again by a formula that is not the course's."""

import importlib
import re
import tomllib
from pathlib import Path

import pytest

from shared_utils.bank import items
from shared_utils.bank.posed import pose

BANK = items.bank()
SEEDS = range(12)
NUMBER = r"[+−]?\d+(?:\.\d+)?"
LESSONS = list(dict.fromkeys(item.lesson for item in BANK.values()))
MODULES = {lesson: importlib.import_module(f"tests.recomputed.{lesson}") for lesson in LESSONS}
BY_HAND = {key: way for module in MODULES.values() for key, way in module.BY_HAND.items()}
KEYED = {key: values for module in MODULES.values() for key, values in module.KEYED.items()}


def key_of(item):
    return next(option.text for option in item.options if option.key)


@pytest.mark.parametrize("stem", LESSONS)
def test_every_number_of_a_lesson_is_recomputed_here(stem):
    own = [item for item in BANK.values() if item.lesson == stem]
    drawn = {item.key for item in own if item.compute}
    assert drawn == set(MODULES[stem].BY_HAND)
    fixed = {item.key for item in own if item.kind == "choice" and not item.compute}
    assert set(MODULES[stem].KEYED) <= fixed


@pytest.mark.parametrize("key", BY_HAND)
def test_the_key_of_drawn_numbers_is_what_a_hand_formula_gives(key):
    item = BANK[key]
    for seed in SEEDS:
        posed = pose(item, seed)
        found = BY_HAND[key](posed.numbers)
        named = found if isinstance(found, dict) else {"answer": found}
        if item.kind == "number":
            assert posed.right == pytest.approx(named["answer"], abs=0.3 * item.within), posed.stem
        else:
            text = key_of(item)
            assert set(named) == set(re.findall(r"\{(\w+)", text)), text
            for name, value in named.items():
                digits = int(re.search(rf"\{{{name}:[^}}]*?\.?(\d*)[f}}]", text)[1] or 0)
                assert abs(posed.numbers[name] - value) <= 0.5001 * 10**-digits, posed.stem


@pytest.mark.parametrize("key", KEYED)
def test_the_numbers_of_a_fixed_key_are_right(key):
    text = key_of(BANK[key])
    found = re.findall(NUMBER, text)
    for value in KEYED[key]:
        assert any(
            abs(float(number.replace("−", "-")) - value)
            <= 0.5001 * 10 ** -len(number.partition(".")[2])
            for number in found
        ), (text, value)


SECOND = tomllib.loads(
    (Path(__file__).parent / "recomputed" / "second_reading.toml").read_text(encoding="utf-8")
)


def test_the_second_reading_holds_no_item_that_is_gone():
    fixed = {item.key for item in BANK.values() if not item.compute}
    assert {*SECOND["choice"], *SECOND["order"]} == fixed
