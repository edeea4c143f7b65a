"""Imports what kernels need, then forks one kernel for each request.

Each fork is one kernel, used once and killed, so nothing of one submission is left for the next.
Where there is a sandbox, bubblewrap has built it around a process that only waits, and the fork
goes into it, for good, before it reads anything of the learner's.
"""

import contextlib
import gc
import importlib
import json
import os
import random
import signal
import socket
import sys
import tempfile

from shared_utils.grading import linux
from shared_utils.grading.inside import shell, start_kernel
from shared_utils.grading.kernel_pool import MAX_MESSAGE_BYTES

# what every kernel imports and what many learners do; the set's own imports come with a request
PRELOADED_MODULES = (
    *("asyncio", "IPython.core.magics", "IPython.core.completerlib"),
    *("numpy", "matplotlib.pyplot", "matplotlib.backends.backend_agg"),
    "matplotlib_inline.backend_inline",
    "shared_utils.grading.inside.answers",
)
LINE = 3  # the descriptor of a kernel's line


def main() -> None:
    """Import, say that it is ready, serve until the other end of the connection is closed."""
    shell.make()
    for module in PRELOADED_MODULES:
        importlib.import_module(module)
    gc.collect()
    gc.freeze()
    connection = socket.socket(fileno=os.dup(0))
    _redirect_to_null()
    connection.send(b"ready")
    _serve(connection)


def _serve(connection):
    """Fork for every request, until the other end is closed."""
    while True:
        message, descriptors, _, _ = socket.recv_fds(connection, MAX_MESSAGE_BYTES, 1)
        if not message:
            break
        request = json.loads(message)
        for module in request.get("modules", ()):
            with contextlib.suppress(Exception):
                importlib.import_module(module)
        if os.fork() == 0:
            try:
                if "settings" not in request:  # the request for a clone, on its own connection
                    connection.close()
                    _serve(socket.socket(fileno=descriptors[0]))
                    os._exit(0)
                _become_kernel(request, connection, descriptors[0])
            finally:
                with contextlib.suppress(OSError):
                    connection.send(b"failed")  # or it is closed, and the kernel is known
                os._exit(1)
        for descriptor in descriptors:
            os.close(descriptor)
        with contextlib.suppress(ChildProcessError):
            while os.waitpid(-1, os.WNOHANG)[0]:  # those that have ended meanwhile
                pass
    with contextlib.suppress(ChildProcessError):
        while os.wait():
            pass


def _become_kernel(request, connection, line):
    sandbox_pid = request["sandbox_pid"]
    if sandbox_pid:
        linux.enter_namespaces(sandbox_pid, request["temporary_files"])
        pid = os.fork()  # the child is the first to be inside altogether
        if pid:
            os.close(line)
            _send_process(connection, pid)
            os.waitpid(pid, 0)
            os._exit(0)
    os.setsid()  # so that a signal to its group reaches nobody else
    if not sandbox_pid:
        linux.die_with_parent(os.getppid(), signal.SIGKILL)
        _send_process(connection, os.getpid())
    connection.close()
    _redirect_to_null()
    os.dup2(line, LINE)
    os.closerange(LINE + 1, 1024)
    os.environ.clear()
    os.environ.update(request["environment"])
    _reseed()
    sys.argv = [""]
    start_kernel.become_kernel(socket.socket(fileno=LINE), request["settings"])


def _send_process(connection, pid):
    """Send a process's number and its descriptor."""
    descriptor = os.pidfd_open(pid)
    socket.send_fds(connection, [str(pid).encode()], [descriptor])
    os.close(descriptor)
    connection.close()


def _redirect_to_null():
    """Read nothing from the standard streams and write nowhere."""
    null = os.open(os.devnull, os.O_RDWR)
    for number in (0, 1, 2):
        os.dup2(null, number)
    os.close(null)


def _reseed():
    """Draw anew what every fork would have in common."""
    import numpy as np

    random.seed()
    np.random.seed()
    tempfile.tempdir = None


if __name__ == "__main__":
    main()
