"""The trusted process: it knows the tests and the right answers and runs no line of a learner's.

Tests are plain Python. Where they use a name that the learner was asked to define, they get the
plain value, or a stand-in that asks the learner's kernel through whoever holds the other end.
"""

import ast
import atexit
import builtins
import contextlib
import io
import json
import linecache
import os
import queue
import random
import subprocess
import sys
import threading
import traceback
from pathlib import Path
from time import monotonic

from shared_utils.course.learner import LEARNER_VARIABLE
from shared_utils.grading import wire_format
from shared_utils.problems import checks
from shared_utils.problems.numbers import use_seed

STARTING_SECONDS = 60
# the package as it is imported here, not another one that is installed
PACKAGE_PLACE = str(Path(__file__).resolve().parents[3])
MODULE = "shared_utils.grading.trusted.examiner"


class Late(Exception):
    """The learner's code did not answer in time."""


class Hung(Exception):
    """A test of ours did not come to an end."""


class Examiner:
    """A trusted process, and the line to it."""

    def __init__(self):
        self.owner = os.getpid()
        self.process = subprocess.Popen(
            [sys.executable, "-P", "-m", MODULE],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            env={**os.environ, "PYTHONPATH": PACKAGE_PLACE, "OPENBLAS_NUM_THREADS": "1"},
            start_new_session=True,
        )
        self.lines = queue.Queue()
        self.listening = threading.Thread(target=self._listen, daemon=True)
        self.listening.start()

    def begin(self, learner):
        """Forget everything, and draw the numbers of this learner."""
        self._say({"begin": learner})
        self._hear(STARTING_SECONDS)

    def run(self, source, seconds, names=(), ask=None):
        """Run trusted code.

        Parameters
        ----------
        source : str
            A cell, as the instructor wrote it.
        seconds : float
            How long it may take in all.
        names : sequence of str
            Those that the learner was asked to define.
        ask : callable
            Takes a request and the seconds that are left, returns the learner's answer; raises
            ``Late`` if there is none.

        Returns
        -------
        dict
            ``ran_well``, and ``outputs`` as nbformat has them.

        Raises
        ------
        Hung
            If the code itself did not come to an end; the process is then gone.
        """
        end = monotonic() + seconds
        late = False
        self._say({"run": source, "names": list(names)})
        while True:
            heard = self._hear(max(end - monotonic(), 0.0) + 5.0)
            if "ask" not in heard:
                return {**heard, "late": late}
            try:
                left = end - monotonic()
                if left <= 0:
                    raise Late
                self._say({"answer": ask(heard["ask"], left)})
            except Late:
                late = True
                self._say({"late": True})
            except BaseException:
                self.stop()
                raise

    def stop(self):
        """End the process."""
        self.process.kill()
        self.process.wait()
        with contextlib.suppress(OSError):
            self.process.stdin.close()
        self.listening.join()

    def _say(self, what):
        try:
            self.process.stdin.write(json.dumps(what).encode() + b"\n")
            self.process.stdin.flush()
        except OSError:
            raise Hung from None

    def _hear(self, seconds):
        try:
            line = self.lines.get(timeout=seconds)
        except queue.Empty:
            line = b""
        if not line:
            self.stop()
            raise Hung
        return json.loads(line)

    def _listen(self):
        with self.process.stdout as heard:
            for line in heard:
                self.lines.put(line)
        self.lines.put(b"")


_kept = threading.local()


def ready(learner):
    """Return the examiner of this thread, ready for a learner; it is started once and kept."""
    kept = getattr(_kept, "examiner", None)
    if not kept or kept.owner != os.getpid() or kept.process.poll() is not None:
        kept = _kept.examiner = Examiner()
    kept.begin(learner)
    return kept


def stop():
    """End the examiner of this thread, if there is one."""
    kept = getattr(_kept, "examiner", None)
    if kept and kept.owner == os.getpid():
        kept.stop()
    _kept.examiner = None


atexit.register(stop)


class Stopped(BaseException):
    """The learner's code was too slow, and the whole test ends."""


class Theirs:
    """Stands for a function of the learner's."""

    def __init__(self, name, ask):
        self.__name__ = name
        self._ask = ask

    def __call__(self, *given, **named):
        request = {
            "call": self.__name__,
            "given": wire_format.write(given),
            "named": wire_format.write(named),
        }
        told = self._ask(request)
        if "raised" in told:
            # on one line: a second one could pass for a line of the test's own
            words = " ".join(str(told.get("words", "")).split())
            raise _error(str(told["raised"]), words)
        return wire_format.read(str(told.get("value", "")))


def _error(name, words):
    """Return the builtin exception of that name, or one that only looks like it.

    An AssertionError is never let through as one: it would speak for the test.
    """
    kind = getattr(builtins, name, None)
    if isinstance(kind, type) and issubclass(kind, BaseException):
        if not issubclass(kind, AssertionError):
            with contextlib.suppress(TypeError):
                return kind(words)
    elif not name.isidentifier():
        name = "Exception"
    return type(name, (Exception,), {})(words)


def main():
    """Serve one line after the other until the other end is closed."""
    said = os.fdopen(os.dup(0), "rb")
    to = os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)  # what a test prints past its cell is not an answer

    def tell(what):
        to.write(json.dumps(what).encode() + b"\n")
        to.flush()

    def ask(request):
        tell({"ask": json.dumps(request)})
        told = json.loads(said.readline())
        if "late" in told:
            raise Stopped
        try:
            answer = json.loads(told["answer"])
        except (ValueError, RecursionError):
            answer = None
        return answer if isinstance(answer, dict) else {}

    known = {}
    for line in said:
        wanted = json.loads(line)
        if "begin" in wanted:
            _fresh(wanted["begin"])
            known = {"__name__": "__main__"}
            tell({})
        else:
            tell(_run(wanted["run"], wanted["names"], known, ask))


def _fresh(learner):
    import numpy as np

    os.environ[LEARNER_VARIABLE] = learner
    use_seed("")
    linecache.clearcache()
    random.seed(0)
    np.random.seed(0)


def _run(source, names, known, ask):
    outputs, ran_well = [], False
    checks.display = lambda data, metadata, **_: outputs.append(
        {"output_type": "display_data", "data": data, "metadata": metadata}
    )
    printed = io.StringIO()
    with contextlib.redirect_stdout(printed), contextlib.redirect_stderr(printed):
        try:
            if names:
                _fetch(names, known, ask)
            value = _execute(source, known)
            ran_well = True
        except BaseException as error:
            value = None
            failure = _as_output(error)
    if printed.getvalue():
        text = printed.getvalue()[:1_000_000]
        outputs.append({"output_type": "stream", "name": "stdout", "text": text})
    if not ran_well:
        outputs.append(failure)
    elif value is not None:
        data = {"text/plain": repr(value)[:10_000]}
        about = {"metadata": {}, "execution_count": 1}
        outputs.append({"output_type": "execute_result", "data": data, **about})
    return {"ran_well": ran_well, "outputs": outputs}


def _fetch(names, known, ask):
    told = ask({"look": names})
    for name in names:
        if name not in told:
            known.pop(name, None)
        elif told[name] == "callable":
            known[name] = Theirs(name, ask)
        else:
            known[name] = wire_format.read(str(told[name]))


def _execute(source, known):
    """Run a cell and return its last value, as a notebook does."""
    place = f"<test {abs(hash(source))}>"
    linecache.cache[place] = (len(source), None, source.splitlines(True), place)
    tree = ast.parse(source, place)
    last = tree.body.pop() if tree.body and isinstance(tree.body[-1], ast.Expr) else None
    exec(compile(tree, place, "exec"), known)
    if last is None:
        return None
    return eval(compile(ast.Expression(last.value), place, "eval"), known)


def _as_output(error):
    render = getattr(error, "_render_traceback_", None)
    lines = render() if render else traceback.format_exception(error)[-12:]
    name = type(error).__name__
    told = {"ename": name, "evalue": str(error), "traceback": [line.rstrip() for line in lines]}
    return {"output_type": "error", **told}


if __name__ == "__main__":
    main()
