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

from shared_utils.grading.inside import start_kernel
from shared_utils.grading.kernel_pool import MAX_MESSAGE_BYTES, linux

# what every kernel imports and what many learners do; the set's own imports come with a request
PRELOADED_MODULES = (
    *("ipykernel.kernelapp", "ipykernel.ipkernel", "ipykernel.debugger", "IPython.core.debugger"),
    *("IPython.core.completerlib", "IPython.core.magics", "IPython.extensions.storemagic"),
    *("faulthandler", "runpy", "sqlite3", "tornado.platform.asyncio", "tornado.queues"),
    *("numpy", "matplotlib.pyplot", "matplotlib.backends.backend_agg"),
    "shared_utils.grading.inside.answers",
)


def main() -> None:
    """Import, say that it is ready, serve until the other end of the connection is closed."""
    # else each kernel imports its hundred modules; None is how an import is refused
    sys.modules["debugpy"] = None  # type: ignore[assignment]
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
                if descriptors:  # the request for a clone, which serves this connection
                    connection.close()
                    _serve(socket.socket(fileno=descriptors[0]))
                    os._exit(0)
                _become_kernel(request, connection)
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


def _become_kernel(request, connection):
    sandbox_pid = request["sandbox_pid"]
    if sandbox_pid:
        linux.enter_namespaces(sandbox_pid)
        pid = os.fork()  # the child is the first to be inside altogether
        if pid:
            _send_process(connection, pid)
            os.waitpid(pid, 0)
            os._exit(0)
    os.setsid()  # so that a signal to its group reaches nobody else
    if not sandbox_pid:
        linux.die_with_parent(os.getppid(), signal.SIGKILL)
        _send_process(connection, os.getpid())
    connection.close()
    _redirect_to_null()
    os.closerange(3, 1024)
    os.environ.clear()
    os.environ.update(request["environment"])
    os.chdir(request["cwd"])
    _reseed()
    sys.argv = [start_kernel.__file__, *request["arguments"]]
    start_kernel.apply_limits()
    if sandbox_pid:
        linux.drop_capabilities()
    start_kernel.start()


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
