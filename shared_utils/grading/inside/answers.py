"""Answers requests in the learner's kernel: runs a cell, says what a name is, and calls it.

Nothing here is trusted: a learner's code may replace all of it and still give no more than a value.
"""

from __future__ import annotations

import base64
import contextlib
import json
import os
import signal
from pathlib import Path
from typing import TYPE_CHECKING

from shared_utils.course.learner import LEARNER_VARIABLE
from shared_utils.grading import wire_format
from shared_utils.grading.frames import LineEnded
from shared_utils.problems import blocked_functions

if TYPE_CHECKING:
    from typing import Any

    from shared_utils.grading.frames import Line
    from shared_utils.grading.inside.shell import Shell

TOO_LARGE = "This output is too large to be kept."


class Kernel:
    """A learner's kernel: one request after the other, each answered under its number.

    Requests are ``learner`` with an id, ``run`` with a cell, ``write`` with a part of a file, and
    what the examiner asks: ``lookup`` names, ``call`` a function, ``block`` functions.

    Parameters
    ----------
    line : Line
        To the supervisor.
    shell : Shell
        Whose names the learner's code defines.
    """

    def __init__(self, line: Line, shell: Shell) -> None:
        self.line, self.shell = line, shell
        self.number = 0
        self.shows = self.may_interrupt = self.sends = self.interrupted = False

    def serve(self) -> None:
        """Answer until the line ends."""
        self.shell.publish = self._show
        self.shell.take_over()
        if hasattr(signal, "SIGINT"):
            signal.signal(signal.SIGINT, self._interrupt)
        self._send({"ready": True})
        while True:
            try:
                request = self.line.receive() or {}
                self.number = request["number"]
                self._send(self._answer(request))
            except LineEnded:
                os._exit(0)
            except KeyboardInterrupt:  # it came after the code had ended
                continue

    def _answer(self, request):
        if "learner" in request:
            os.environ[LEARNER_VARIABLE] = request["learner"]
            return {"reply": "{}"}
        if "write" in request:
            path = Path(request["write"])
            path.parent.mkdir(parents=True, exist_ok=True)
            with open(path, "ab") as file:
                file.write(base64.b64decode(request["content"]))
            return {"reply": "{}"}
        self.shows = "run" in request
        try:
            self.may_interrupt = True
            if self.shows:
                return {"ran_well": self.shell.run(request["run"])}
            return {"reply": _reply(request["request"], self.shell.user_ns)}
        finally:
            self.may_interrupt = False
            with contextlib.suppress(Exception):
                self.shell.flush()

    def _show(self, kind: str, **content: Any) -> None:
        if self.shows:
            try:
                self._send({"output": kind, **content})
            except ValueError:
                text = {"name": "stderr", "text": TOO_LARGE}
                self._send({"output": "stream", **text})

    def _send(self, message):
        """Send a message whole, even if an interrupt comes meanwhile."""
        self.sends = True
        try:
            self.line.send({"number": self.number, **message})
        finally:
            self.sends = False
        if self.interrupted and self.may_interrupt:
            self.interrupted = False
            raise KeyboardInterrupt

    def _interrupt(self, *_):
        self.interrupted = self.sends
        if self.may_interrupt and not self.sends:
            raise KeyboardInterrupt


def _reply(text, namespace):
    try:
        request = json.loads(text)
        if "lookup" in request:
            names = [name for name in request["lookup"] if name in namespace]
            return json.dumps({name: _describe(namespace[name]) for name in names})
        if "block" in request:
            blocked_functions.block(request["block"])
            return json.dumps({})
        args = wire_format.deserialize(request["args"])
        kwargs = wire_format.deserialize(request["kwargs"])
        value = namespace[request["call"]](*args, **kwargs)
        return json.dumps({"value": wire_format.serialize(value)})
    except BaseException as error:
        first = error.args[0] if len(error.args) == 1 else None
        message = first if isinstance(first, str) else str(error)
        return json.dumps({"raised": type(error).__name__, "message": message[:1000]})


def _describe(value):
    if callable(value):
        return "callable"
    try:
        return wire_format.serialize(value)
    except Exception as error:
        stopped = wire_format.Untrusted(f"a value that stopped with {type(error).__name__}")
        return wire_format.serialize(stopped)
