"""Starts a learner's kernel: takes this process's powers away, then runs the kernel in it.

Everything is taken away, for good, before any of the learner's code is read.
"""

from __future__ import annotations

import contextlib
import json
import os
import socket
import sys
from typing import TYPE_CHECKING

from shared_utils.grading import linux
from shared_utils.grading.frames import Line

if TYPE_CHECKING:
    from typing import Any

# with the file systems in memory, and no process but this one, all that a kernel can take
MAX_MEMORY_BYTES = 3 * 2**30
MAX_PROCESSOR_S = 180
MAX_PROCESSES = 64
MAX_FILE_BYTES = 32 * 2**20
MAX_OPEN_FILES = 256
MAX_LOCKED_BYTES = 2**16
MAX_PENDING_SIGNALS = 256


def apply_limits(processor_s: int = MAX_PROCESSOR_S) -> None:
    """Set the limits that the platform has.

    Parameters
    ----------
    processor_s : int
        How much processor time this process may take from its start.
    """
    try:
        import resource
    except ImportError:  # Windows
        return
    limits = {
        "CORE": 0,
        "CPU": processor_s,
        "FSIZE": MAX_FILE_BYTES,
        "NOFILE": MAX_OPEN_FILES,
        "AS": MAX_MEMORY_BYTES,
        "MEMLOCK": MAX_LOCKED_BYTES,
        "MSGQUEUE": 0,
        "SIGPENDING": MAX_PENDING_SIGNALS,
    }
    for name, limit in limits.items():
        resource_id = getattr(resource, f"RLIMIT_{name}", LINUX_LIMITS.get(name))
        if resource_id is not None:
            _limit(resource, resource_id, limit)


# of asm-generic/resource.h, where Python names none
LINUX_LIMITS = {"MSGQUEUE": 12, "SIGPENDING": 11} if sys.platform == "linux" else {}


def _limit(resource, resource_id, limit):
    with contextlib.suppress(ValueError, OSError):  # macOS has no limit on memory
        resource.setrlimit(resource_id, (limit, limit))


def confine(settings: dict[str, Any]) -> None:
    """Take from this process all that a learner's code must not have.

    Parameters
    ----------
    settings : dict
        ``user``, a number to become or None; ``isolated``, whether bubblewrap is around this
        process; ``shares_sandbox``, whether other processes are in it; ``filtered``, whether
        there is a filter for system calls; ``processor_s``;
        ``readable`` and ``writable``, all files that it may need.
    """
    if settings["user"] is not None:
        os.setgroups([])
        os.setgid(settings["user"])
        os.setuid(settings["user"])
    # some systems forbid it to a user whom root has become; root's own processes are out of reach
    if settings["shares_sandbox"] and (
        settings["user"] is None or linux.may_enter_own_user_namespace()
    ):
        linux.enter_own_user_namespace()
    if settings["isolated"]:
        # counted over the user's processes: here it has no others
        import resource

        _limit(resource, resource.RLIMIT_NPROC, MAX_PROCESSES)
    apply_limits(settings["processor_s"])
    if sys.platform == "linux":
        linux.leave_session_keyring()
        linux.drop_capabilities()
        linux.restrict_files(settings["readable"], settings["writable"])
        if settings["filtered"]:
            linux.load_filter(os.getpid())


def become_kernel(connection: socket.socket, settings: dict[str, Any]) -> None:
    """Run the kernel in this process until its line ends.

    Parameters
    ----------
    connection : socket.socket
        The kernel's end of the line.
    settings : dict
        As ``confine`` takes them, and ``work`` and ``home``, its folders.
    """
    from shared_utils.grading.inside import answers, shell

    learners_shell = shell.make()
    confine(settings)
    for folder in (settings["work"], settings["home"]):
        os.makedirs(folder, exist_ok=True)
    os.chdir(settings["work"])
    answers.Kernel(Line(connection), learners_shell).serve()


def main() -> None:
    """Become the kernel that the command line describes."""
    settings = json.loads(sys.argv[1])
    if sys.platform == "win32":
        connection = socket.fromshare(sys.stdin.buffer.read())
    else:
        connection = socket.socket(fileno=settings["line"])
    become_kernel(connection, settings)


if __name__ == "__main__":
    main()
