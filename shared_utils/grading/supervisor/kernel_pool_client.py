"""The supervisor's side of the kernel pool: starts the pool's process, asks it for kernels.

Where there is no forking, or the pool fails, an ``OSError`` says so and kernels start cold.
"""

from __future__ import annotations

import atexit
import contextlib
import json
import os
import select
import signal
import socket
import subprocess
import sys
import threading
from typing import TYPE_CHECKING

from shared_utils.grading.kernel_pool import MAX_MESSAGE_BYTES
from shared_utils.grading.supervisor.sandbox import bubblewrap_command, minimal_environment

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from shared_utils.grading.supervisor.sandbox import Sandbox

POOL_PROCESS = "shared_utils.grading.kernel_pool.process"
START_TIMEOUT_S = 60
MAX_STARTS = 3
# says that the sandbox stands, then waits until the other end of its input is closed
WAITING_SHELL = ("/bin/sh", "-c", "echo; read -r _")
# where the pool's process looks for files of its user: there are none
NO_HOME = "/nonexistent"


class PooledKernel:
    """A kernel that the pool forked, with the methods of a ``Popen``.

    Parameters
    ----------
    pid : int
        Its number.
    descriptor : int
        A descriptor of the process, which is closed here.
    shell : SandboxShell or None
        The first process of its sandbox, which ends with the kernel.
    """

    stdin = stdout = stderr = None

    def __init__(self, pid: int, descriptor: int, shell: SandboxShell | None) -> None:
        self.pid, self._shell = pid, shell
        self._descriptor: int | None = descriptor

    def poll(self) -> int | None:
        if self._descriptor is None or select.select([self._descriptor], [], [], 0)[0]:
            return 0
        return None

    def wait(self) -> int:
        if self._descriptor is not None:
            select.select([self._descriptor], [], [])
            self.kill()  # whatever it has started itself
            os.close(self._descriptor)
            self._descriptor = None
        return 0

    def send_signal(self, number: int) -> None:
        with contextlib.suppress(ProcessLookupError):
            if self._shell and number in (signal.SIGKILL, signal.SIGTERM):
                self._shell.stop()
            else:
                os.killpg(self.pid, number)

    def kill(self) -> None:
        self.send_signal(signal.SIGKILL)


class SandboxShell:
    """A sandbox of bubblewrap's with nothing in it but a shell that waits.

    Parameters
    ----------
    sandbox : Sandbox

    Raises
    ------
    OSError
        If it cannot be built.
    """

    def __init__(self, sandbox: Sandbox) -> None:
        reader, writer = os.pipe()
        command = bubblewrap_command(sandbox.folder)
        command += ["--info-fd", str(writer), *WAITING_SHELL]
        try:
            self.process = subprocess.Popen(
                command,
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=subprocess.DEVNULL,
                env=sandbox.environment(),
                pass_fds=[writer],
            )
        finally:
            os.close(writer)
            with os.fdopen(reader) as file:
                information = file.read()
        assert self.process.stdout is not None  # a pipe, as it was started
        self._descriptor: int | None = None
        try:
            self.first_pid = json.loads(information)["child-pid"]
            self._descriptor = os.pidfd_open(self.first_pid)
            if not self.process.stdout.readline():
                raise OSError("bubblewrap has ended")
        except (ValueError, LookupError, OSError) as error:
            self.stop()
            raise OSError("no sandbox could be built") from error

    def stop(self) -> None:
        """End everything inside: when a sandbox's first process ends, all others are killed."""
        if self._descriptor is not None:
            with contextlib.suppress(ProcessLookupError):
                signal.pidfd_send_signal(self._descriptor, signal.SIGKILL)
            os.close(self._descriptor)
            self._descriptor = None
        self.process.kill()
        self.process.wait()
        assert self.process.stdin is not None  # pipes, as it was started
        assert self.process.stdout is not None
        self.process.stdin.close()
        self.process.stdout.close()


class KernelPool:
    """The process that kernels are forked from, and the connection to it.

    Parameters
    ----------
    connection : socket.socket
        To one that serves already.

    Raises
    ------
    OSError
        If there is none on this platform.
    """

    def __init__(self, connection: socket.socket | None = None) -> None:
        self.process: subprocess.Popen | None = None
        self.ready = connection is not None
        if connection is None:
            if not hasattr(os, "pidfd_open"):
                raise OSError("this platform has no descriptors of processes")
            connection, other_end = socket.socketpair(socket.AF_UNIX, socket.SOCK_SEQPACKET)
            with other_end:
                self.process = subprocess.Popen(
                    [sys.executable, "-P", "-m", POOL_PROCESS],
                    stdin=other_end.fileno(),
                    stdout=subprocess.DEVNULL,
                    stderr=subprocess.DEVNULL,
                    cwd="/",
                    env=minimal_environment(NO_HOME),
                    start_new_session=True,
                )
        self.connection = connection
        self.connection.settimeout(START_TIMEOUT_S)

    def start_kernel(
        self,
        sandbox: Sandbox,
        arguments: Sequence[str],
        environment: Mapping[str, str],
        modules: Sequence[str],
    ) -> PooledKernel:
        """Fork a kernel.

        Parameters
        ----------
        sandbox : Sandbox
            Where it runs.
        arguments : sequence of str
            What ``inside.start_kernel`` is given.
        environment : dict
            What it sees.
        modules : sequence of str
            What the instructor's own cells import.

        Returns
        -------
        PooledKernel

        Raises
        ------
        OSError
            If it cannot be had.
        """
        shell = SandboxShell(sandbox) if sandbox.isolated else None
        request = {
            "arguments": arguments,
            "environment": environment,
            "cwd": str(sandbox.work),
            "modules": modules,
            "sandbox_pid": shell and shell.first_pid,
        }
        try:
            self._wait_until_ready()
            self.connection.send(json.dumps(request).encode())
            reply, descriptors, _, _ = socket.recv_fds(self.connection, MAX_MESSAGE_BYTES, 1)
            if not descriptors:
                raise OSError("the process that kernels are forked from has ended")
            return PooledKernel(int(reply), descriptors[0], shell)
        except BaseException:
            if shell:
                shell.stop()
            raise

    def clone(self) -> KernelPool:
        """Return another one, forked from this."""
        self._wait_until_ready()
        connection, other_end = socket.socketpair(socket.AF_UNIX, socket.SOCK_SEQPACKET)
        with other_end:
            request = json.dumps({"serve": True}).encode()
            socket.send_fds(self.connection, [request], [other_end.fileno()])
        return KernelPool(connection)

    def stop(self) -> None:
        """End it."""
        self.connection.close()
        if self.process:
            self.process.wait()

    def _wait_until_ready(self):
        if not self.ready and not self.connection.recv(MAX_MESSAGE_BYTES):
            raise OSError("the process that kernels are forked from did not start")
        self.ready = True


_of_thread = threading.local()


def current_pool() -> KernelPool:
    """Return the kernel pool of this thread, started once and kept.

    Raises
    ------
    OSError
        If there is none on this platform.
    """
    if getattr(_of_thread, "owner_pid", None) != os.getpid():
        _of_thread.starts = getattr(_of_thread, "starts", 0) + 1
        if _of_thread.starts > MAX_STARTS:
            raise OSError("the process that kernels are forked from has failed too often")
        use_pool(KernelPool())
    return _of_thread.pool


def use_pool(pool: KernelPool) -> None:
    """Make a kernel pool that of this thread."""
    _of_thread.pool, _of_thread.owner_pid = pool, os.getpid()


def stop_pool() -> None:
    """End the kernel pool of this thread, if there is one."""
    if getattr(_of_thread, "owner_pid", None) == os.getpid():
        _of_thread.owner_pid = None
        _of_thread.pool.stop()


atexit.register(stop_pool)
