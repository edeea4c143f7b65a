"""The supervisor's side of the examiner: starts the trusted process and passes requests on."""

from __future__ import annotations

import atexit
import contextlib
import json
import os
import queue
import subprocess
import sys
import threading
from time import monotonic
from typing import TYPE_CHECKING

from shared_utils.grading.supervisor.sandbox import PACKAGE

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from typing import Any

EXAMINER_PROCESS = "shared_utils.grading.trusted.examiner"
START_TIMEOUT_S = 60
# added to what a test may take, for the messages themselves
GRACE_S = 5.0


class LearnerTimeout(Exception):
    """The learner's code did not answer in time."""


class ExaminerTimeout(Exception):
    """A test of the instructor's did not come to an end."""


def _ask_nobody(request, left_s):
    raise TypeError("This cell asks for values, and there is no learner's kernel to ask.")


class ExaminerClient:
    """A trusted process, and the connection to it."""

    def __init__(self) -> None:
        self.owner_pid = os.getpid()
        self.process = subprocess.Popen(
            [sys.executable, "-P", "-m", EXAMINER_PROCESS],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            # the package as it is imported here, not another one that is installed
            env={**os.environ, "PYTHONPATH": str(PACKAGE.parent), "OPENBLAS_NUM_THREADS": "1"},
            start_new_session=True,
        )
        self.received: queue.Queue[bytes] = queue.Queue()
        self.reader = threading.Thread(target=self._read, daemon=True)
        self.reader.start()

    def reset(self, learner: str, hidden_seed: str = "") -> None:
        """Forget everything, and draw the numbers of this learner and submission."""
        self._send({"reset": learner, "hidden_seed": hidden_seed})
        self._receive(START_TIMEOUT_S)

    def run(
        self,
        source: str,
        timeout_s: float,
        names: Sequence[str] = (),
        request: Callable[[str, float], str] = _ask_nobody,
        same_inputs: bool = False,
    ) -> dict[str, Any]:
        """Run trusted code.

        Parameters
        ----------
        source : str
            A cell, as the instructor wrote it.
        timeout_s : float
            How long it may take in all.
        names : sequence of str
            Those that the learner was asked to define.
        request : callable
            Takes a request and the seconds that are left, returns the reply of the learner's
            kernel; raises ``LearnerTimeout`` if there is none.
        same_inputs : bool
            Whether a hidden test gets the inputs that are the same for everybody; not for marks.

        Returns
        -------
        dict
            ``ran_well``, ``timed_out``, and ``outputs`` as nbformat has them.

        Raises
        ------
        ExaminerTimeout
            If the code itself did not come to an end; the process is then gone.
        """
        end = monotonic() + timeout_s
        timed_out = False
        self._send({"run": source, "names": list(names), "same_inputs": same_inputs})
        while True:
            message = self._receive(max(end - monotonic(), 0.0) + GRACE_S)
            if "request" not in message:
                return {**message, "timed_out": timed_out}
            try:
                left_s = end - monotonic()
                if left_s <= 0:
                    raise LearnerTimeout
                self._send({"reply": request(message["request"], left_s)})
            except LearnerTimeout:
                timed_out = True
                self._send({"timed_out": True})
            except BaseException:
                self.stop()
                raise

    def stop(self) -> None:
        """End the process."""
        self.process.kill()
        self.process.wait()
        assert self.process.stdin is not None  # a pipe, as it was started
        with contextlib.suppress(OSError):
            self.process.stdin.close()
        self.reader.join()

    def _send(self, message):
        try:
            self.process.stdin.write(json.dumps(message).encode() + b"\n")
            self.process.stdin.flush()
        except OSError:
            raise ExaminerTimeout from None

    def _receive(self, timeout_s):
        try:
            line = self.received.get(timeout=timeout_s)
        except queue.Empty:
            line = b""
        if not line:
            self.stop()
            raise ExaminerTimeout
        return json.loads(line)

    def _read(self):
        with self.process.stdout as lines:
            for line in lines:
                self.received.put(line)
        self.received.put(b"")


_of_thread = threading.local()


def start_examiner() -> ExaminerClient:
    """Return the examiner of this thread, which may still be importing; started once and kept."""
    client = getattr(_of_thread, "client", None)
    if not client or client.owner_pid != os.getpid() or client.process.poll() is not None:
        client = _of_thread.client = ExaminerClient()
    return client


def examiner_for(learner: str, hidden_seed: str = "") -> ExaminerClient:
    """Return the examiner of this thread, reset for a submission."""
    client = start_examiner()
    client.reset(learner, hidden_seed)
    return client


def stop_examiner() -> None:
    """End the examiner of this thread, if there is one."""
    client = getattr(_of_thread, "client", None)
    if client and client.owner_pid == os.getpid():
        client.stop()
    _of_thread.client = None


atexit.register(stop_examiner)
