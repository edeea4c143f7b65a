"""The command that builds a sandbox, and the processes in it."""

from __future__ import annotations

import contextlib
import json
import os
import select
import signal
import subprocess
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import shared_utils
from shared_utils.grading import system_calls

if TYPE_CHECKING:
    from collections.abc import Sequence

    from shared_utils.grading.supervisor.sandbox import Sandbox

PACKAGE = Path(shared_utils.__file__).resolve().parent
# where a sandbox has a file system in memory: how many bytes and how many files it may hold
TEMPORARY_FILES = {"/tmp": (256 * 2**20, 4096), "/dev/shm": (16 * 2**20, 256)}
STOP_TIMEOUT_S = 10
# says that the sandbox stands, then waits until the other end of its input is closed
WAITING_SHELL = ("/bin/sh", "-c", "echo; read -r _")


class SandboxProcess:
    """The first process of a sandbox; all others end with it.

    Parameters
    ----------
    sandbox : Sandbox
    command : sequence of str
        What runs in it.
    options : sequence of str
        More options for bubblewrap.
    descriptors : sequence of int
        What the command inherits.
    filtered : bool
        Whether bubblewrap loads the filter for system calls, as the command does not.

    Raises
    ------
    OSError
        If it cannot be built.
    """

    def __init__(
        self,
        sandbox: Sandbox,
        command: Sequence[str] = WAITING_SHELL,
        options: Sequence[str] = (),
        descriptors: Sequence[int] = (),
        filtered: bool = True,
    ) -> None:
        reader, writer = os.pipe()
        inherited, given = [*descriptors, writer], [writer]
        line = [*bubblewrap_command(sandbox.name), "--info-fd", str(writer), *options]
        program = system_calls.filter_program(0, may_execute=True) if filtered else b""
        if program:
            filter_reader, filter_writer = os.pipe()
            os.write(filter_writer, program)  # less than a pipe holds
            os.close(filter_writer)
            line += ["--seccomp", str(filter_reader)]
            inherited.append(filter_reader)
            given.append(filter_reader)
        try:
            self.process = subprocess.Popen(
                [*line, *command],
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=subprocess.DEVNULL,
                env=sandbox.environment(),
                pass_fds=inherited,
            )
        finally:
            for descriptor in given:
                os.close(descriptor)
            with os.fdopen(reader) as file:
                information = file.read()
        self._descriptor: int | None = None
        try:
            self.first_pid = json.loads(information)["child-pid"]
            self._descriptor = os.pidfd_open(self.first_pid)
        except (ValueError, LookupError, OSError) as error:
            self.stop()
            raise OSError("no sandbox could be built") from error

    def wait_until_built(self) -> None:
        """Wait for the shell's word.

        Raises
        ------
        OSError
            If there will be none.
        """
        assert self.process.stdout is not None  # a pipe, as it was started
        if not self.process.stdout.readline():
            self.stop()
            raise OSError("bubblewrap has ended")

    def interrupt(self) -> None:
        """Interrupt the first process."""
        self._signal(signal.SIGINT)

    def stop(self) -> None:
        """End everything inside: when a sandbox's first process ends, all others are killed."""
        self._signal(signal.SIGKILL)
        self.process.kill()
        self.process.wait()
        if self._descriptor is not None:
            # it is gone when all others in it are
            select.select([self._descriptor], [], [], STOP_TIMEOUT_S)
            os.close(self._descriptor)
            self._descriptor = None
        assert self.process.stdin is not None  # pipes, as it was started
        assert self.process.stdout is not None
        self.process.stdin.close()
        self.process.stdout.close()

    def _signal(self, number):
        if self._descriptor is not None:
            with contextlib.suppress(ProcessLookupError):
                signal.pidfd_send_signal(self._descriptor, number)


def bubblewrap_command(name: str) -> list[str]:
    """Return the command that runs what follows it inside bubblewrap.

    Parameters
    ----------
    name : str
        Of the sandbox: what a killed grader leaves half built is known by it.
    """
    options = ["bwrap", "--die-with-parent", "--new-session"]
    options += ["--unshare-pid", "--unshare-net", "--unshare-ipc", "--unshare-uts"]
    options += ["--unshare-cgroup-try", "--hostname", "sandbox", "--setenv", "SANDBOX", name]
    if os.geteuid() == 0:
        # all but those that start_kernel gives up when it changes its user
        options += ["--cap-drop", "ALL"]
        for capability in ("CAP_SETUID", "CAP_SETGID"):
            options += ["--cap-add", capability]
    else:
        options += ["--unshare-user"]
    options += ["--ro-bind", "/usr", "/usr"]
    for path in ("/bin", "/sbin", "/lib", "/lib32", "/lib64"):
        if os.path.islink(path):
            options += ["--symlink", os.readlink(path), path]
        elif os.path.isdir(path):
            options += ["--ro-bind", path, path]
    for path in ("/etc/ld.so.cache", "/etc/fonts"):  # without fonts a first figure complains
        options += ["--ro-bind-try", path, path]
    options += ["--proc", "/proc", "--dev", "/dev"]
    for path, (size, _) in TEMPORARY_FILES.items():
        options += ["--size", str(size), "--perms", "1777", "--tmpfs", path]
    # an ordinary user owns it and could fill it
    options += ["--remount-ro", "/dev"]
    visible = []
    for prefix in dict.fromkeys([sys.base_prefix, sys.prefix]):
        folder = Path(prefix).resolve()
        if not folder.is_relative_to("/usr"):
            options += [*parent_options(folder), "--ro-bind", str(folder), str(folder)]
            visible.append(folder)
    for part in ("solutions", "exercises", "lessons", "tests", ".git"):
        hidden = PACKAGE.parent / part
        if any(hidden.is_relative_to(folder) for folder in visible) and hidden.exists():
            options += ["--tmpfs", str(hidden)]
    # at the path from which the kernel pool has imported it
    options += [*parent_options(PACKAGE), "--ro-bind", str(PACKAGE), str(PACKAGE)]
    return [*options, "--remount-ro", "/"]


def parent_options(path: Path) -> list[str]:
    """Return the options that make the folders above a path, open to every user."""
    options: list[str] = []
    for parent in reversed(path.parents[:-1]):
        options += ["--perms", "0755", "--dir", str(parent)]
    return options
