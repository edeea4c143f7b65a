"""Starts a learner's kernel: limits this process, then runs the kernel in it.

The limits are hard ones and are set before any of the learner's code is read.
"""

import os
import sys

MAX_MEMORY_BYTES = 3 * 2**30
MAX_PROCESSOR_S = 180
MAX_PROCESSES = 64
MAX_FILE_BYTES = 32 * 2**20
MAX_OPEN_FILES = 256


def apply_limits() -> None:
    """Set the limits, where the platform has them, and become the user that is named.

    The user stands first on the command line, as ``--user=NUMBER``; without it the process keeps
    its user.
    """
    user = None
    if len(sys.argv) > 1 and sys.argv[1].startswith("--user="):
        user = int(sys.argv.pop(1).partition("=")[2])
        os.chown(sys.argv[sys.argv.index("-f") + 1], user, user)
    try:
        import resource
    except ImportError:  # Windows
        return
    limits = [
        (resource.RLIMIT_CORE, 0),
        (resource.RLIMIT_CPU, MAX_PROCESSOR_S),
        (resource.RLIMIT_FSIZE, MAX_FILE_BYTES),
        (resource.RLIMIT_NOFILE, MAX_OPEN_FILES),
        (resource.RLIMIT_AS, MAX_MEMORY_BYTES),
    ]
    if user is not None:
        # counted over all of a user's processes, so only for a user that has no others
        limits.append((resource.RLIMIT_NPROC, MAX_PROCESSES))
    for resource_id, limit in limits:
        try:
            resource.setrlimit(resource_id, (limit, limit))
        except (ValueError, OSError):  # macOS has no limit on memory
            continue
    if user is not None:
        os.setgroups([])
        os.setgid(user)
        os.setuid(user)


def start() -> None:
    """Start the kernel that the command line describes."""
    # in a sandbox the parent is process 1, which a kernel takes for a parent that has ended
    os.environ.pop("JPY_PARENT_PID", None)
    from ipykernel.kernelapp import IPKernelApp

    IPKernelApp.launch_instance()


if __name__ == "__main__":
    apply_limits()
    start()
