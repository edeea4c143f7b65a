"""Verdicts in arrays are those of one patient at a time."""

import time

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from shared_utils.choice.candidacy import assess
from shared_utils.choice.findings import PUPILS, Patient
from shared_utils.choice.populations import verdicts
from shared_utils.choice.vocabulary import FINDINGS, UNKNOWN, VOCABULARY, WISHES, Graded
from shared_utils.optics.lenses import LENS_CLASSES


def drawn(rng, count):
    """Findings and wishes drawn without regard to what goes together, a third of them unknown."""
    columns = {}
    for name, kind in VOCABULARY.items():
        if isinstance(kind, Graded):
            column = rng.choice(np.array([*kind.grades, UNKNOWN], dtype=object), count)
        else:
            numbers = np.round(rng.uniform(kind.low, kind.high, count), kind.digits)
            column = numbers.astype(object)
            column[rng.random(count) < 0.3] = UNKNOWN
        columns[name] = column
    columns[PUPILS[1]] = np.full(count, UNKNOWN, dtype=object)
    narrow = columns[PUPILS[0]] != UNKNOWN
    columns[PUPILS[2]][narrow] = UNKNOWN  # else they would have to go together
    return columns


def patient_of(columns, place):
    values = {name: column[place] for name, column in columns.items()}
    return Patient(
        {n: v for n, v in values.items() if n in FINDINGS},
        {n: v for n, v in values.items() if n in WISHES},
    )


@given(seed=st.integers(0, 2**32 - 1))
def test_many_patients_are_told_what_each_is_told_alone(seed):
    columns = drawn(np.random.default_rng(seed), 3)
    found = verdicts(columns)
    for place in range(3):
        for advice in assess(patient_of(columns, place)):
            for part in ("verdict", "eye_verdict", "wish_verdict"):
                assert getattr(found, part)[advice.lens_class][place] == getattr(advice, part)


def test_what_is_left_out_is_unknown_and_shapes_go_together():
    found = verdicts({"glaucoma": [["none"], ["severe"]], "chord_mu_mm": [0.1, np.nan, 0.9]})
    assert {found.verdict[c].shape for c in LENS_CLASSES} == {(2, 3)}
    alone = {a.lens_class: a.verdict for a in assess(Patient({"glaucoma": "severe"}))}
    assert {c: found.verdict[c][1, 1] for c in LENS_CLASSES} == alone
    nobody = {a.lens_class: a.verdict for a in assess(Patient())}
    assert {c: str(verdicts({}).verdict[c]) for c in LENS_CLASSES} == nobody


@pytest.mark.parametrize(
    ("columns", "sentence"),
    [
        ({"chord_mu_mm": [0.1, 6.0]}, "chord_mu_mm"),
        ({"glaucom": ["none"]}, "columns has no 'glaucom'"),
        ({"glaucoma": ["none"] * 2, "dry_eye": ["none"] * 3}, "do not go together"),
        ([1, 2], "a dictionary of names"),
    ],
)
def test_what_cannot_be_used_is_named(columns, sentence):
    with pytest.raises(ValueError, match=sentence):
        verdicts(columns)


@pytest.mark.benchmark
def test_a_hundred_thousand_patients_are_assessed_in_ten_seconds():
    columns = drawn(np.random.default_rng(3), 100_000)
    start = time.process_time()
    found = verdicts(columns)
    took_s = time.process_time() - start
    print(f"100,000 patients: {took_s:.2f} s")
    assert found.verdict["trifocal"].shape == (100_000,)
    assert took_s < 10.0
