"""What the default run takes of a long list of cases, and what a sample takes of a long suite."""

import os

import pytest

SAMPLE = bool(os.environ.get("COURSE_SAMPLE"))
"""Whether the suites marked ``long`` shall run on a sample: `.ci/run` sets it."""


def sample(cases, every):
    """Return the cases for ``parametrize``, all but one in so many marked ``slow``.

    A dictionary gives its keys. A case that is a ``pytest.param`` keeps what it has.
    """
    return [
        case if n % every == 0 or (hasattr(case, "marks") and case.marks) else _slow(case)
        for n, case in enumerate(cases)
    ]


def first_of_each(cases, group):
    """Return the cases for ``parametrize``; all but the first of each group are ``slow``."""
    met, marked = set(), []
    for case in cases:
        marked.append(_slow(case) if group(case) in met else case)
        met.add(group(case))
    return marked


def _slow(case):
    if isinstance(case, type(pytest.param())):
        return pytest.param(*case.values, id=case.id, marks=[*case.marks, pytest.mark.slow])
    return pytest.param(case, marks=pytest.mark.slow)


def size(whole, sampled):
    """Return how many a long suite takes: the whole, or fewer where a sample is enough."""
    return sampled if SAMPLE else whole


def examples(count):
    """Return how many examples hypothesis draws: all of them in CI, a quarter elsewhere."""
    return count if os.environ.get("CI") else max(count // 4, 10)
