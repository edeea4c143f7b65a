"""The item bank: whole, readable alone, no cue from length or place, slips that lead on."""

import collections
import itertools
import math
import os
import re

import pytest

from shared_utils.bank import items
from shared_utils.bank.posed import pose
from shared_utils.course import manifest
from tests.sampling import examples

BANK = items.bank()
DRAWS = 200 if os.environ.get("CI") else 100


def of_kind(kind):
    return [pytest.param(i, id=i.key) for i in BANK.values() if i.kind == kind]


@pytest.mark.parametrize("item", of_kind("choice"))
def test_a_choice_has_four_different_options_each_with_feedback_of_its_own(item):
    stems = set()
    for seed in range(DRAWS if item.compute else 1):
        posed = pose(item, seed)
        stems.add((posed.stem, *(posed.numbers[name] for name in item.figure_with)))
        texts = [" ".join(option.text.lower().split()) for option in posed.options]
        assert len(set(texts)) == 4, (posed.stem, texts)
        feedback = [option.feedback for option in posed.options]
        assert len(set(feedback)) == 4
        whole = " ".join([posed.stem, *texts, *feedback])
        assert not re.search(r"[{}]|\b(nan|inf)\b|[+−-]0\.?0*\b(?!\.?\d)", whole), whole
        assert posed.mark(posed.right).right
    assert len(stems) >= (20 if item.draw else 1)


def same_number(one, other):
    """Whether two options say the same number in other words: 2.50 and 2.5."""
    found = [re.findall(r"[+−]?\d+(?:\.\d+)?", text) for text in (one, other)]
    same_words = {re.sub(r"[+−]?\d+(?:\.\d+)?", "#", text) for text in (one, other)}
    numbers = {tuple(float(n.replace("−", "-")) for n in numbers) for numbers in found}
    return len(same_words) == 1 and len(numbers) == 1


@pytest.mark.parametrize("item", of_kind("choice"))
def test_no_two_options_say_the_same_number(item):
    for seed in range(examples(DRAWS) if item.compute else 1):
        texts = [option.text for option in pose(item, seed).options]
        assert not any(same_number(*pair) for pair in itertools.combinations(texts, 2)), texts


@pytest.mark.parametrize("item", of_kind("number"))
def test_a_number_item_holds_for_two_hundred_draws(item):
    stems = set()
    for seed in range(DRAWS):
        posed = pose(item, seed)
        stems.add(posed.stem)
        values = [posed.right, *(posed.numbers[slip.name] for slip in item.slips)]
        assert all(math.isfinite(value) for value in values)
        verdict = posed.mark(f"{posed.right:.{item.digits}f}")
        assert verdict.right, (posed.stem, posed.right)
        assert "{" not in posed.stem + verdict.message
        written = [round(value, item.digits) for value in values]
        assert len(set(written)) == len(written), (posed.stem, written)
        for slip in item.slips:
            wrong = posed.mark(repr(posed.numbers[slip.name]))
            assert not wrong.right, (posed.stem, slip.name)
            assert wrong.slip == slip.name, (posed.stem, slip.name, wrong.slip)
    assert len(stems) >= 20


@pytest.mark.parametrize("item", of_kind("order"))
def test_an_order_is_put_in_many_orders_and_one_is_right(item):
    seen = {pose(item, seed).right for seed in range(30)}
    assert len(seen) >= 5
    posed = pose(item, 1)
    assert posed.mark(posed.right).right
    assert not posed.mark(posed.right[::-1]).right


def test_neither_place_nor_length_gives_the_key_away():
    choices = [item for item in BANK.values() if item.kind == "choice"]
    places = collections.Counter(
        [option.key for option in item.options].index(True) for item in choices
    )
    put = collections.Counter(pose(item, seed).right for item in choices for seed in range(8))
    for count in put.values():  # shuffled: each letter a quarter of the time
        assert abs(count / put.total() - 0.25) < 4 * math.sqrt(0.25 * 0.75 / put.total())
    longest = shortest = 0
    for item in choices:
        options = pose(item).options
        lengths = [len(option.text) for option in options]
        key = len(next(option.text for option in options if option.key))
        longest += key == max(lengths) and lengths.count(key) == 1
        shortest += key == min(lengths) and lengths.count(key) == 1
    if len(choices) >= 60:  # of fewer a count says nothing
        assert max(places.values()) <= 0.4 * len(choices), places
        assert longest <= 0.4 * len(choices), (longest, len(choices))
        assert shortest <= 0.4 * len(choices), (shortest, len(choices))


def test_every_figure_of_an_item_is_there():
    for item in BANK.values():
        if item.figure:
            assert pose(item).shown_figure().alt


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({"kind": "essay"}, "the kind is one of"),
        ({"difficulty": 7}, "difficulty"),
        ({"kind": "number"}, "asks for a number"),
        ({"kind": "order", "steps": ("a", "b", "c")}, "asks for an order"),
        ({}, "key exactly one"),
    ],
)
def test_an_item_that_lacks_something_is_said(changes, says):
    with pytest.raises(ValueError, match=says):
        items.Item("k", "vergence", 1, "What is asked here?", "a book", **changes)


def test_a_file_of_the_bank_holds_known_fields_alone(tmp_path, monkeypatch):
    (tmp_path / "vergence.toml").write_text('[[item]]\nkey = "a"\ncolour = "red"\n')
    monkeypatch.setattr(items, "BANK", tmp_path)
    with pytest.raises(ValueError, match="colour"):
        items.bank.__wrapped__()


@pytest.mark.parametrize(
    ("given", "understood"),
    [("−2.5", -2.5), ("-2,5 D", -2.5), ("+ 3", 3.0), (" .5d ", 0.5), ("2.", 2.0)],
)
def test_a_number_is_understood_as_people_write_it(given, understood):
    assert pose(BANK["page-in-numbers"], 1).understood(given) == understood


@pytest.mark.parametrize("given", ["", "two", "1.2.3", "nan", "inf", "1e5", "5 mm"])
def test_what_is_no_number_is_turned_away(given):
    with pytest.raises(ValueError, match="give a number in D"):
        pose(BANK["page-in-numbers"], 1).mark(given)


@pytest.mark.parametrize("given", ["", "E", "AB", "1"])
def test_what_is_no_letter_is_turned_away(given):
    with pytest.raises(ValueError, match="one letter of A, B, C, D"):
        pose(BANK["reciprocal"], 1).mark(given)


def test_mixed_rounds_repeat_no_item_and_mix_words_numbers_and_figures():
    rounds = [[BANK[key] for key in items.interleaved(turn)] for turn in (1, 2, 3)]
    assert len({item.key for asked in rounds for item in asked}) == 3 * items.ROUND
    for asked in rounds:
        assert 1 <= sum(bool(item.figure) for item in asked) <= 3
        assert 3 <= sum(bool(item.compute) for item in asked) <= 6
        parts = [manifest.of().by_slug[item.lesson].part for item in asked]
        assert all(one != other for one, other in itertools.pairwise(parts))
