"""The trusted process: it knows the tests and the right answers and runs no line of a learner's.

Tests are plain Python. Where they use a name that the learner was asked to define, they get its
value, or a ``RemoteValue`` that asks the learner's kernel by way of the supervisor.

Messages are JSON, one a line. From the supervisor: ``reset`` with a learner's id and the seed of
the hidden tests' inputs, ``run`` with a cell, the names that it may ask for and whether its inputs
are those that all learners share, ``reply`` to a request of ours, ``timed_out``. To the supervisor:
``request``, or the outcome of a run.
"""

from __future__ import annotations

import ast
import builtins
import contextlib
import functools
import io
import json
import linecache
import os
import random
import traceback
from typing import TYPE_CHECKING

from shared_utils.course.learner import LEARNER_VARIABLE
from shared_utils.grading import wire_format
from shared_utils.problems import checks
from shared_utils.problems.hidden_numbers import use_hidden_seed
from shared_utils.problems.numbers import use_seed

if TYPE_CHECKING:
    from collections.abc import Callable
    from typing import Any

MAX_PRINTED_CHARS = 1_000_000
MAX_RESULT_CHARS = 10_000
MAX_TRACEBACK_LINES = 12


class Aborted(BaseException):
    """The learner's code was too slow, and the whole test ends."""


class RemoteValue:
    """Stands for a function of the learner's.

    Parameters
    ----------
    name : str
        Its name in the learner's kernel.
    request : callable
        Takes a request, a dict, and returns the reply of the learner's kernel.
    """

    def __init__(self, name: str, request: Callable[[dict[str, str]], dict[str, Any]]) -> None:
        self.__name__ = name
        self._request = request

    def __call__(self, *args: Any, **kwargs: Any) -> Any:
        reply = self._request(
            {
                "call": self.__name__,
                "args": wire_format.serialize(args),
                "kwargs": wire_format.serialize(kwargs),
            }
        )
        if "raised" in reply:
            # on one line: a second one could pass for a line of the test's own
            message = " ".join(str(reply.get("message", "")).split())
            raise _exception(str(reply["raised"]), message)
        return wire_format.deserialize(str(reply.get("value", "")))


def _exception(name, message):
    """Return the builtin exception of that name, or one that only looks like it.

    An AssertionError is never let through as one: it would speak for the test.
    """
    kind = getattr(builtins, name, None)
    if isinstance(kind, type) and issubclass(kind, BaseException):
        if not issubclass(kind, AssertionError):
            with contextlib.suppress(TypeError):
                return kind(message)
    elif not name.isidentifier():
        name = "Exception"
    return type(name, (Exception,), {})(message)


def main() -> None:
    """Serve one message after the other until the other end is closed."""
    incoming = os.fdopen(os.dup(0), "rb")
    outgoing = os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)  # what a test prints past its cell is not a message

    def send(message):
        outgoing.write(json.dumps(message).encode() + b"\n")
        outgoing.flush()

    def request(content):
        send({"request": json.dumps(content)})
        message = json.loads(incoming.readline())
        if "timed_out" in message:
            raise Aborted
        try:
            reply = json.loads(message["reply"])
        except (ValueError, RecursionError):
            reply = None
        return reply if isinstance(reply, dict) else {}

    namespace, hidden_seed = {}, ""
    for line in incoming:
        message = json.loads(line)
        if "reset" in message:
            hidden_seed = message["hidden_seed"]
            _reset(message["reset"])
            namespace = {"__name__": "__main__"}
            send({})
        else:
            use_hidden_seed(None if message["same_inputs"] else hidden_seed)
            send(_run(message["run"], message["names"], namespace, request))


def _reset(learner):
    import numpy as np

    os.environ[LEARNER_VARIABLE] = learner
    use_seed("")
    linecache.clearcache()
    random.seed(0)
    np.random.seed(0)


def _run(source, names, namespace, request):
    outputs, ran_well = [], False
    checks.display = lambda data, metadata, **_: outputs.append(
        {"output_type": "display_data", "data": data, "metadata": metadata}
    )
    printed = io.StringIO()
    with contextlib.redirect_stdout(printed), contextlib.redirect_stderr(printed):
        try:
            if names:
                _fetch(names, namespace, request)
            value = _execute(source, namespace)
            ran_well = True
        except BaseException as error:
            value = None
            failure = _as_output(error)
    if printed.getvalue():
        text = printed.getvalue()[:MAX_PRINTED_CHARS]
        outputs.append({"output_type": "stream", "name": "stdout", "text": text})
    if not ran_well:
        outputs.append(failure)
    elif value is not None:
        data = {"text/plain": repr(value)[:MAX_RESULT_CHARS]}
        rest = {"metadata": {}, "execution_count": 1}
        outputs.append({"output_type": "execute_result", "data": data, **rest})
    return {"ran_well": ran_well, "outputs": outputs}


def _fetch(names, namespace, request):
    """Put what the learner's kernel knows under these names into the namespace of the tests."""
    reply = request({"lookup": names})
    for name in names:
        if name not in reply:
            namespace.pop(name, None)
        elif reply[name] == "callable":
            namespace[name] = RemoteValue(name, request)
        else:
            namespace[name] = wire_format.deserialize(str(reply[name]))


def _execute(source, namespace):
    """Run a cell and return its last value, as a notebook does."""
    filename = f"<test {abs(hash(source))}>"
    linecache.cache[filename] = (len(source), None, source.splitlines(True), filename)
    body, last = _compiled(source, filename)
    exec(body, namespace)
    return eval(last, namespace) if last else None


@functools.lru_cache(maxsize=256)
def _compiled(source, filename):
    """Return the code of a cell and of its last expression; the same for every learner."""
    tree = ast.parse(source, filename)
    last = tree.body.pop() if tree.body and isinstance(tree.body[-1], ast.Expr) else None
    body = compile(tree, filename, "exec")
    return body, last and compile(ast.Expression(last.value), filename, "eval")


def _as_output(error):
    render = getattr(error, "_render_traceback_", None)
    lines = render() if render else traceback.format_exception(error)[-MAX_TRACEBACK_LINES:]
    name = type(error).__name__
    content = {"ename": name, "evalue": str(error), "traceback": [line.rstrip() for line in lines]}
    return {"output_type": "error", **content}


if __name__ == "__main__":
    main()
