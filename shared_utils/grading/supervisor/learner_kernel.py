"""The supervisor's side of a learner's kernel: starts it, sends requests, takes what comes back.

What comes back is a learner's: it may be late, endless, malformed or nothing at all.
"""

from __future__ import annotations

import base64
import contextlib
import json
import logging
import secrets
import signal
import socket
import subprocess
import sys
from time import monotonic
from typing import TYPE_CHECKING

from shared_utils.grading.frames import Line, LineEnded
from shared_utils.grading.supervisor import kernel_pool_client
from shared_utils.grading.supervisor.bubblewrap import SandboxProcess
from shared_utils.grading.supervisor.sandbox import START_KERNEL

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence
    from typing import Any

    from shared_utils.grading.supervisor.sandbox import Sandbox

START_TIMEOUT_S = 60
# what interrupted code may still take
STOP_TIMEOUT_S = 3
MAX_REQUEST_BYTES = 32 * 2**20  # that come back for one request
FILE_PART_BYTES = 4 * 2**20


class KernelEnded(Exception):
    """The learner's kernel ended, or sent what is no message."""


class WouldNotStop(Exception):
    """The learner's code went on after it was interrupted."""


class ColdKernel:
    """A kernel that starts as a process of its own, where there is no pool to fork it from.

    Parameters
    ----------
    sandbox : Sandbox
        Where it runs.
    line : socket.socket
        The kernel's end of the line.
    processor_s : int
        How much processor time it may take.
    """

    def __init__(self, sandbox: Sandbox, line: socket.socket, processor_s: int) -> None:
        self._sandbox: SandboxProcess | None = None
        settings = {**sandbox.settings(processor_s), "shares_sandbox": False}
        settings["line"] = line.fileno()
        command = [sys.executable, "-P", "-m", START_KERNEL, json.dumps(settings)]
        if sandbox.isolated:
            # as the first process of the sandbox it shares it with no other
            self._sandbox = SandboxProcess(
                sandbox, command, ["--as-pid-1"], [line.fileno()], filtered=False
            )
            return
        self.process = subprocess.Popen(
            command,
            stdin=subprocess.PIPE,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            env=sandbox.environment(),
            pass_fds=[] if sys.platform == "win32" else [line.fileno()],
            start_new_session=True,
        )
        assert self.process.stdin is not None  # a pipe, as it was started
        if sys.platform == "win32":
            self.process.stdin.write(line.share(self.process.pid))
        self.process.stdin.close()

    def interrupt(self) -> None:
        """Interrupt what runs in it, where the platform can."""
        if self._sandbox:
            self._sandbox.interrupt()
        elif sys.platform != "win32":
            self.process.send_signal(signal.SIGINT)

    def stop(self) -> None:
        """End it with all that it has started."""
        if self._sandbox:
            self._sandbox.stop()
            return
        if sys.platform != "win32":
            import os

            with contextlib.suppress(ProcessLookupError, PermissionError):
                os.killpg(self.process.pid, signal.SIGKILL)
        self.process.kill()
        self.process.wait()


class LearnerKernel:
    """A kernel for one run of one submission.

    Parameters
    ----------
    sandbox : Sandbox
        Where it runs; it is removed with the kernel.
    modules : sequence of str
        What the instructor's own cells import.
    processor_s : int
        How much processor time it may take.

    Raises
    ------
    KernelEnded
        If it does not start.
    """

    def __init__(
        self,
        sandbox: Sandbox,
        modules: Sequence[str],
        processor_s: int,
    ) -> None:
        self.sandbox, self.number = sandbox, 0
        ours, theirs = socket.socketpair()
        self.line = Line(ours)
        self.process: kernel_pool_client.PooledKernel | ColdKernel | None = None
        try:
            with theirs:
                self.process = _start(sandbox, theirs, processor_s, modules)
        except BaseException:
            self.stop()
            raise

    def prepare(self, learner: str, files: Mapping[str, bytes]) -> None:
        """Wait until it is ready, and give it what the learner's cells need.

        Parameters
        ----------
        learner : str
            Whose cells it will run; it has run nobody's before.
        files : dict of str to bytes
            What was handed in beside the notebook, by path.

        Raises
        ------
        KernelEnded
            If it does not start; it is then removed.
        """
        try:
            if not (self._receive(START_TIMEOUT_S) or {}).get("ready"):
                raise KernelEnded
            self._ask({"learner": learner}, START_TIMEOUT_S)
            for path, content in files.items():
                for start in range(0, max(len(content), 1), FILE_PART_BYTES):
                    part = base64.b64encode(content[start : start + FILE_PART_BYTES]).decode()
                    self._ask({"write": path, "content": part}, START_TIMEOUT_S)
        except BaseException:
            self.stop()
            raise

    def run(self, source: str, timeout_s: float, show: Callable[[dict[str, Any]], None]) -> bool:
        """Run a cell.

        Parameters
        ----------
        source : str
        timeout_s : float
        show : callable
            Takes an output, as it came; nothing about it may be trusted.

        Returns
        -------
        bool
            Whether it came to its end by itself and well.

        Raises
        ------
        TimeoutError
            If it was interrupted.
        KernelEnded, WouldNotStop
            And then nothing else can be run.
        """
        return self._ask({"run": source}, timeout_s, show).get("ran_well") is True

    def request(self, text: str, timeout_s: float) -> str:
        """Return the answer to an examiner's request, an untrusted text; raises as ``run`` does."""
        return str(self._ask({"request": text}, timeout_s).get("reply"))

    def stop(self) -> None:
        """End it, and remove what it left."""
        if self.process:
            self.process.stop()
        self.line.close()
        self.sandbox.remove()

    def _ask(self, message, timeout_s, show=None):
        """Return the answer under the number of this request; what has another one is dropped."""
        self.number = _next_number()
        self.line.received_bytes = 0
        interrupted, why = False, ""
        end = monotonic() + timeout_s
        try:
            self.line.send({"number": self.number, **message}, timeout_s)
        except LineEnded:
            raise KernelEnded from None
        while True:
            left_s = end - monotonic()
            flooded = self.line.received_bytes > MAX_REQUEST_BYTES
            if left_s <= 0 or (flooded and not interrupted):
                if interrupted:
                    raise WouldNotStop
                why = f"for more than {MAX_REQUEST_BYTES >> 20} MB of output" if flooded else ""
                interrupted, end = True, monotonic() + STOP_TIMEOUT_S
                self.process.interrupt()
                continue
            answer = self._receive(left_s)
            if answer is None or answer.get("number") != self.number:
                continue
            if "output" not in answer:
                if interrupted:
                    raise TimeoutError(why)
                return answer
            if show:
                show(answer)

    def _receive(self, timeout_s):
        try:
            return self.line.receive(timeout_s)
        except LineEnded:
            raise KernelEnded from None


def _next_number():
    """Return a number that nobody can have answered beforehand."""
    return secrets.randbits(53)


def _start(sandbox, line, processor_s, modules):
    try:
        pool = kernel_pool_client.current_pool()
        return pool.start_kernel(sandbox, line, processor_s, modules)
    except OSError as error:
        kernel_pool_client.stop_pool()
        logging.getLogger("traitlets").warning("This kernel starts cold: %s", error)
        return ColdKernel(sandbox, line, processor_s)
