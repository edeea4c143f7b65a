"""Right answers never reach a learner's code: tests hand its functions inputs, and own results.

All that crosses is recorded. A learner's own results are changed by a ten-millionth on their way,
so that they can be told from the right ones.
"""

import contextlib
import io
import itertools
import types

import numpy as np
import pytest

from shared_utils.course import learner as learner_ids
from shared_utils.course import place
from shared_utils.problems import checks, hidden_numbers
from tests import sitting

TEN_MILLIONTH = 1e-7
SETS = place.set_names()
LEARNERS = ("learner-000", "learner-001", "resident-7")
SECRETS = (b"", b"first secret", b"second secret")


def numbers_in(value):
    """Every number in a value, however deep."""
    if isinstance(value, dict):
        value = list(value.values())
    if isinstance(value, (list, tuple)):
        return [number for part in value for number in numbers_in(part)]
    if isinstance(value, np.ndarray) and value.dtype.kind in "fi":
        return [float(number) for number in value.ravel()]
    is_number = isinstance(value, (int, float, np.number)) and not isinstance(value, bool)
    return [float(value)] if is_number else []


def changed(value):
    """The same with its broken numbers changed by a ten-millionth; what is ordered stays."""
    if isinstance(value, (float, np.floating)) and 4.0 * value != round(4.0 * value):
        return float(value) * (1.0 + TEN_MILLIONTH)
    if isinstance(value, (list, tuple)) and not hasattr(value, "_fields"):
        return type(value)(map(changed, value))
    if isinstance(value, dict):
        return {key: changed(part) for key, part in value.items()}
    if isinstance(value, np.ndarray) and value.dtype.kind == "f":
        return value * (1.0 + TEN_MILLIONTH)
    return value


def is_plain(number):
    """Whether a number may be met by chance: a whole one, or one of three decimals."""
    return round(number, 3) == number


def what_crosses(cells, learner, monkeypatch):
    """What tests hand to a learner's functions, what they expect, and what the page has given."""
    crossed, wanted, given, errors = [], [], set(), []
    at, depth, spaces = [None, None], [0], {"__name__": "__main__"}
    real = {kind: getattr(checks, kind) for kind in sitting.KINDS_OF_CHECK}

    def recorded(kind):
        def check(what, answer, want, **options):
            wanted.extend((what, number) for number in numbers_in(want))
            return real[kind](what, answer, want, **options)

        return check

    def as_learners(function, name):
        def call(*args, **named):
            if depth[0] == 0 and at[1] in ("check", "hidden"):
                crossed.extend((*at, name, number) for number in numbers_in([args, named]))
            depth[0] += 1
            try:
                return changed(function(*args, **named))
            finally:
                depth[0] -= 1

        return call

    with monkeypatch.context() as patch, contextlib.redirect_stdout(io.StringIO()):
        patch.setenv(learner_ids.LEARNER_VARIABLE, learner)
        for kind in sitting.KINDS_OF_CHECK:
            patch.setattr(checks, kind, recorded(kind))
        for problem, kind, body, last, _ in cells:
            at[:] = problem, kind
            before = dict(spaces)
            try:
                exec(body, spaces)
                if last:
                    eval(last, spaces)
            except Exception as error:
                errors.append((problem, kind, error))
            for name, value in list(spaces.items()):
                if before.get(name) is value:
                    continue
                if kind == "answer" and isinstance(value, types.FunctionType):
                    spaces[name] = as_learners(value, name)
                elif kind not in ("answer", "check", "hidden"):
                    given.update(numbers_in(value))
    return crossed, wanted, given, errors


def leaks(crossed, wanted, given):
    return {
        (problem, kind, name, what)
        for problem, kind, name, number in crossed
        for what, right in wanted
        if number not in given
        and not is_plain(number)
        and right
        and abs(number / right - 1.0) < TEN_MILLIONTH / 1000.0
    }


@pytest.mark.parametrize("name", SETS)
def test_no_right_answer_is_handed_to_a_learners_function(name, monkeypatch):
    for learner, secret in itertools.product(LEARNERS, SECRETS):
        monkeypatch.setattr(hidden_numbers, "_secret", secret)
        cells = sitting._cells(name, "model")
        crossed, wanted, given, errors = what_crosses(cells, learner, monkeypatch)
        assert not errors
        assert leaks(crossed, wanted, given) == set()


def test_a_right_answer_that_is_handed_over_is_found(monkeypatch):
    body = (
        "checks.number('one', first(), 1 / 7, unit='', within=0.1, expect='')\n"
        "checks.number('two', second(1 / 7), 2 / 7, unit='', within=0.1, expect='')\n"
    )
    answer = "from shared_utils.problems import checks\n"
    answer += "def first():\n    return 1 / 7\n"
    answer += "def second(x):\n    return 2 * x\n"
    cells = [
        ("a", "answer", compile(answer, "answer", "exec"), None, None),
        ("a", "check", compile(body, "check", "exec"), None, 1),
    ]
    assert leaks(*what_crosses(cells, "somebody", monkeypatch)[:3]) == {
        ("a", "check", "second", "one")
    }
    own = body.replace("second(1 / 7)", "second(first())")
    cells[1] = ("a", "check", compile(own, "check", "exec"), None, 1)
    assert leaks(*what_crosses(cells, "somebody", monkeypatch)[:3]) == set()
