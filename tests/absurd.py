"""What nobody should hand over, and the answer it must get: a number, or one clear sentence."""

import dataclasses
from collections.abc import Mapping

import numpy as np
from hypothesis import strategies as st

ANYTHING = st.one_of(
    st.floats(),
    st.floats(-100.0, 200.0),
    st.integers(-(10**6), 10**6),
    st.just(0.0),
    st.none(),
    st.text(max_size=3),
    st.booleans(),
    st.lists(st.floats(3.0, 60.0), max_size=3),
)

VALUES = [
    -1.0,
    0.0,
    1e-300,
    1e300,
    -1e9,
    np.nan,
    np.inf,
    -np.inf,
    "7.8",
    "",
    None,
    True,
    1 + 2j,
    [],
    [1.0, np.nan],
    [[1.0, 2.0], [3.0]],
    np.zeros((2, 3)),
    {"a": 1},
    slice(1),
    b"7",
    np.array("2020-01-01", dtype="datetime64[D]"),
]


def answer(function, *args, **kwargs):
    """Call, and hold that the answer is finite numbers or one sentence; return the sentence."""
    try:
        got = function(*args, **kwargs)
    except ValueError as error:
        sentence = str(error)
        assert "\n" not in sentence, sentence
        assert sentence.endswith((".", "?")), sentence
        assert 20 < len(sentence) < 400, sentence
        return sentence
    assert np.isfinite(numbers_in(got)).all(), (args, kwargs, got)
    return ""


def answer_in_every_place(function, good, value):
    """Hold the same with one value in the place of each argument, and of all of them."""
    for place in range(len(good)):
        answer(function, *good[:place], value, *good[place + 1 :])
    answer(function, *[value] * len(good))


def numbers_in(got):
    """Every number in an answer, whatever it is made of."""
    if dataclasses.is_dataclass(got):
        return [n for part in vars(got).values() if part is not None for n in numbers_in(part)]
    if isinstance(got, Mapping):
        return [n for part in got.values() for n in numbers_in(part)]
    if isinstance(got, (list, tuple)):
        return [n for part in got for n in numbers_in(part)]
    if isinstance(got, str) or got is None:
        return []
    return np.ravel(np.asarray(got, dtype=float)).tolist()
