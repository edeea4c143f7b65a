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
from shared_utils.grading.supervisor.bubblewrap import TEMPORARY_FILES, SandboxProcess
from shared_utils.grading.supervisor.sandbox import minimal_environment

if TYPE_CHECKING:
    from collections.abc import Sequence

    from shared_utils.grading.supervisor.sandbox import Sandbox

POOL_PROCESS = "shared_utils.grading.kernel_pool.process"
START_TIMEOUT_S = 60
MAX_STARTS = 3
# where the pool's process looks for files of its user: there are none
NO_HOME = "/nonexistent"


class PooledKernel:
    """A kernel that the pool forked.

    Parameters
    ----------
    pid : int
        Its number.
    descriptor : int
        A descriptor of the process, which is closed here.
    shell : SandboxProcess or None
        The first process of its sandbox, which ends with the kernel.
    """

    def __init__(self, pid: int, descriptor: int, shell: SandboxProcess | None) -> None:
        self.pid, self._shell = pid, shell
        self._descriptor: int | None = descriptor

    def interrupt(self) -> None:
        """Interrupt what runs in it."""
        self._signal(signal.SIGINT)

    def stop(self) -> None:
        """End it with all that it has started."""
        if self._descriptor is None:
            return
        if self._shell:
            self._shell.stop()
        else:
            with contextlib.suppress(ProcessLookupError):
                os.killpg(self.pid, signal.SIGKILL)
        self._signal(signal.SIGKILL)
        select.select([self._descriptor], [], [])
        os.close(self._descriptor)
        self._descriptor = None

    def _signal(self, number):
        with contextlib.suppress(ProcessLookupError):
            signal.pidfd_send_signal(self._descriptor, number)


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
        line: socket.socket,
        processor_s: int,
        modules: Sequence[str],
    ) -> PooledKernel:
        """Fork a kernel.

        Parameters
        ----------
        sandbox : Sandbox
            Where it runs.
        line : socket.socket
            The kernel's end of the line to it.
        processor_s : int
            How much processor time it may take.
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
        shell = SandboxProcess(sandbox) if sandbox.isolated else None
        request = {
            "settings": sandbox.settings(processor_s),
            "environment": sandbox.environment(),
            "modules": modules,
            "sandbox_pid": shell and shell.first_pid,
            "temporary_files": TEMPORARY_FILES,
        }
        try:
            self._wait_until_ready()
            if shell:
                shell.wait_until_built()
            socket.send_fds(self.connection, [json.dumps(request).encode()], [line.fileno()])
            reply, descriptors, _, _ = socket.recv_fds(self.connection, MAX_MESSAGE_BYTES, 1)
            if not descriptors:
                raise OSError("the process that kernels are forked from has ended")
            return PooledKernel(int(reply), descriptors[0], shell)
        except BaseException:
            if shell:
                shell.stop()
            raise

    def clone(self, modules: Sequence[str] = ()) -> KernelPool:
        """Return another one, forked from this as soon as this is ready.

        Parameters
        ----------
        modules : sequence of str
            What the instructor's own cells import, here once for all clones.

        Returns
        -------
        KernelPool
        """
        connection, other_end = socket.socketpair(socket.AF_UNIX, socket.SOCK_SEQPACKET)
        with other_end:
            request = json.dumps({"modules": modules}).encode()
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
