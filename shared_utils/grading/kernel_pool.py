"""Kernels that start warm: each is a fork of one process that has imported what the course needs.

That process, the nursery, runs no line of a learner's and knows no secret; each of its forks is one
kernel, used once and killed, so nothing of one submission is left for the next. Where there is a
box, bubblewrap builds it around a process that only waits, and the fork goes into it, for good,
before it reads anything of the learner's. Where there is no forking, kernels start cold.
"""

import atexit
import contextlib
import ctypes
import gc
import importlib
import json
import os
import random
import select
import signal
import socket
import subprocess
import sys
import tempfile
import threading

from shared_utils.grading.inside import start_kernel
from shared_utils.grading.supervisor import sandbox

MODULE = "shared_utils.grading.kernel_pool"
STARTING_SECONDS = 60
MOST_STARTS = 3
# says that the box stands, then waits until the other end of its input is closed
WAITING = ("/bin/sh", "-c", "echo; read -r _")
LARGEST_REQUEST = 65_536

# where the nursery looks for files of its user: there are none
HOME = "/nonexistent"
# what every kernel imports and what many learners do; the set's own imports come with a request
LOADED = (
    *("ipykernel.kernelapp", "ipykernel.ipkernel", "ipykernel.debugger", "IPython.core.debugger"),
    *("IPython.core.completerlib", "IPython.core.magics", "IPython.extensions.storemagic"),
    *("faulthandler", "runpy", "sqlite3", "tornado.platform.asyncio", "tornado.queues"),
    *("numpy", "matplotlib.pyplot", "matplotlib.backends.backend_agg"),
    "shared_utils.grading.inside.answers",
)

# numbers of Linux's own interface, the same on every machine
NEW_USERS = 0x10000000
NEW_REST = 0x00020000 | 0x20000000 | 0x40000000 | 0x08000000 | 0x04000000  # files … host name
OWNER_OF_NAMESPACE = 0xB701
DIE_WITH_PARENT, NO_NEW_POWERS = 1, 38
POWERS_VERSION = 0x20080522


class Kernel:
    """A kernel that the nursery forked, with the manners of a ``Popen``.

    Parameters
    ----------
    pid : int
        Its number.
    handle : int
        A descriptor of the process, which is closed here.
    walls : Walls or None
        The box that it is in; it ends with its kernel.
    """

    stdin = stdout = stderr = None

    def __init__(self, pid, handle, walls):
        self.pid, self._handle, self._walls = pid, handle, walls

    def poll(self):
        if self._handle is None or select.select([self._handle], [], [], 0)[0]:
            return 0
        return None

    def wait(self):
        if self._handle is not None:
            select.select([self._handle], [], [])
            self.kill()  # whatever it has started itself
            os.close(self._handle)
            self._handle = None
        return 0

    def send_signal(self, number):
        with contextlib.suppress(ProcessLookupError):
            if self._walls and number in (signal.SIGKILL, signal.SIGTERM):
                self._walls.remove()
            else:
                os.killpg(self.pid, number)

    def kill(self):
        self.send_signal(signal.SIGKILL)


class Walls:
    """A box of bubblewrap's with nobody in it but one who waits.

    Raises
    ------
    OSError
        If it cannot be built.
    """

    def __init__(self, place):
        told, tell = os.pipe()
        command = [*sandbox.walls(place.folder), "--info-fd", str(tell), *WAITING]
        pipes = {"stdin": subprocess.PIPE, "stdout": subprocess.PIPE, "stderr": subprocess.DEVNULL}
        try:
            self.process = subprocess.Popen(
                command, env=place.environment(), pass_fds=[tell], **pipes
            )
        finally:
            os.close(tell)
            with os.fdopen(told) as information:
                said = information.read()
        self._handle = None
        try:
            self.first = json.loads(said)["child-pid"]
            self._handle = os.pidfd_open(self.first)
            if not self.process.stdout.readline():
                raise OSError("bubblewrap has ended")
        except (ValueError, LookupError, OSError) as error:
            self.remove()
            raise OSError("no box could be built") from error

    def remove(self):
        """End everything inside: when the first process of a box ends, all others are killed."""
        if self._handle is not None:
            with contextlib.suppress(ProcessLookupError):
                signal.pidfd_send_signal(self._handle, signal.SIGKILL)
            os.close(self._handle)
            self._handle = None
        self.process.kill()
        self.process.wait()
        self.process.stdin.close()
        self.process.stdout.close()


class Nursery:
    """The process that kernels are forked from, and the line to it.

    Parameters
    ----------
    line : socket.socket
        To one that serves already.

    Raises
    ------
    OSError
        If there is none on this platform.
    """

    def __init__(self, line=None):
        self.line, self.process, self.ready = line, None, line is not None
        if line is None:
            if not hasattr(os, "pidfd_open"):
                raise OSError("this platform has no handles on processes")
            self.line, theirs = socket.socketpair(socket.AF_UNIX, socket.SOCK_SEQPACKET)
            with theirs:
                self.process = subprocess.Popen(
                    [sys.executable, "-P", "-m", MODULE],
                    stdin=theirs,
                    stdout=subprocess.DEVNULL,
                    stderr=subprocess.DEVNULL,
                    cwd="/",
                    env=sandbox.environment(HOME),
                    start_new_session=True,
                )
        self.line.settimeout(STARTING_SECONDS)

    def kernel(self, place, arguments, environment, modules):
        """Fork a kernel.

        Parameters
        ----------
        place : sandbox.Place
            Where it runs.
        arguments : sequence of str
            What ``seat`` is given.
        environment : dict
            What it sees.
        modules : sequence of str
            What the instructor's own cells import.

        Returns
        -------
        Kernel

        Raises
        ------
        OSError
            If it cannot be had.
        """
        walls = Walls(place) if place.boxed else None
        wanted = {"arguments": arguments, "environment": environment, "cwd": str(place.work)}
        wanted |= {"modules": modules, "box": walls and walls.first}
        try:
            self._wait_until_ready()
            self.line.send(json.dumps(wanted).encode())
            told, handles, _, _ = socket.recv_fds(self.line, LARGEST_REQUEST, 1)
            if not handles:
                raise OSError("the process that kernels are forked from has ended")
            return Kernel(int(told), handles[0], walls)
        except BaseException:
            if walls:
                walls.remove()
            raise

    def twin(self):
        """Return another one, forked from this."""
        self._wait_until_ready()
        ours, theirs = socket.socketpair(socket.AF_UNIX, socket.SOCK_SEQPACKET)
        with theirs:
            socket.send_fds(self.line, [json.dumps({"serve": True}).encode()], [theirs.fileno()])
        return Nursery(ours)

    def stop(self):
        """End it."""
        self.line.close()
        if self.process:
            self.process.wait()

    def _wait_until_ready(self):
        if not self.ready and not self.line.recv(LARGEST_REQUEST):
            raise OSError("the process that kernels are forked from did not start")
        self.ready = True


_kept = threading.local()


def nursery():
    """Return the nursery of this thread, started once and kept.

    Raises
    ------
    OSError
        If there is none on this platform.
    """
    if getattr(_kept, "owner", None) != os.getpid():
        _kept.started = getattr(_kept, "started", 0) + 1
        if _kept.started > MOST_STARTS:
            raise OSError("the process that kernels are forked from has failed too often")
        adopt(Nursery())
    return _kept.nursery


def adopt(nursery):
    """Make a nursery that of this thread."""
    _kept.nursery, _kept.owner = nursery, os.getpid()


def stop():
    """End the nursery of this thread, if there is one."""
    if getattr(_kept, "owner", None) == os.getpid():
        _kept.owner = None
        _kept.nursery.stop()


atexit.register(stop)


def die_with(parent):
    """End this process when its parent ends, however that comes, where the platform can."""
    if sys.platform == "linux":
        _libc("prctl", DIE_WITH_PARENT, signal.SIGTERM)
        if os.getppid() != parent:
            sys.exit(0)


def main():
    """Be a nursery."""
    sys.modules["debugpy"] = None  # else each kernel imports its hundred modules
    for module in LOADED:
        importlib.import_module(module)
    gc.collect()
    gc.freeze()
    line = socket.socket(fileno=os.dup(0))
    _open_nothing()
    line.send(b"ready")
    _serve(line)


def _serve(line):
    """Fork for every request, until the other end is closed."""
    while True:
        request, handles, _, _ = socket.recv_fds(line, LARGEST_REQUEST, 1)
        if not request:
            break
        wanted = json.loads(request)
        for module in wanted.get("modules", ()):
            with contextlib.suppress(Exception):
                importlib.import_module(module)
        if os.fork() == 0:
            try:
                if handles:
                    line.close()
                    _serve(socket.socket(fileno=handles[0]))
                    os._exit(0)
                _become_kernel(wanted, line)
            finally:
                with contextlib.suppress(OSError):
                    line.send(b"failed")  # or it is closed, and the kernel is known
                os._exit(1)
        for handle in handles:
            os.close(handle)
        with contextlib.suppress(ChildProcessError):
            while os.waitpid(-1, os.WNOHANG)[0]:  # those that have ended meanwhile
                pass
    with contextlib.suppress(ChildProcessError):
        while os.wait():
            pass


def _become_kernel(wanted, line):
    if wanted["box"]:
        _enter(wanted["box"])
        pid = os.fork()  # the child is the first to be inside altogether
        if pid:
            _hand_over(line, pid)
            os.waitpid(pid, 0)
            os._exit(0)
    os.setsid()  # a signal to its group shall reach nobody else
    if not wanted["box"]:
        _libc("prctl", DIE_WITH_PARENT, signal.SIGKILL)
        _hand_over(line, os.getpid())
    line.close()
    _open_nothing()
    os.closerange(3, 1024)
    os.environ.clear()
    os.environ.update(wanted["environment"])
    os.chdir(wanted["cwd"])
    _forget()
    sys.argv = [start_kernel.__file__, *wanted["arguments"]]
    start_kernel.apply_limits()
    if wanted["box"]:
        _give_up_powers()
    start_kernel.start()


def _hand_over(line, pid):
    handle = os.pidfd_open(pid)
    socket.send_fds(line, [str(pid).encode()], [handle])
    os.close(handle)
    line.close()


def _open_nothing():
    """Read nothing and write nowhere."""
    nothing = os.open(os.devnull, os.O_RDWR)
    for number in (0, 1, 2):
        os.dup2(nothing, number)
    os.close(nothing)


def _forget():
    """Draw anew what every fork would have in common."""
    import numpy as np

    random.seed()
    np.random.seed()
    tempfile.tempdir = None


def _enter(first):
    """Go into the box whose first process this is; the next child will be inside altogether."""
    import fcntl

    handle = os.pidfd_open(first)
    files = os.open(f"/proc/{first}/ns/mnt", os.O_RDONLY)
    # an ordinary user's box has users of its own, and others above them that own the rest
    owner = fcntl.ioctl(files, OWNER_OF_NAMESPACE)
    users = os.open(f"/proc/{first}/ns/user", os.O_RDONLY)
    ours = os.stat("/proc/self/ns/user")
    if not os.path.samestat(os.fstat(owner), ours):
        _libc("setns", owner, NEW_USERS)
    _libc("setns", handle, NEW_REST)
    if not os.path.samestat(os.fstat(users), os.fstat(owner)):
        _libc("setns", users, NEW_USERS)


def _give_up_powers():
    """Keep no power over the machine that entering took, nor any way to get one back."""
    _libc("prctl", NO_NEW_POWERS, 1, 0, 0, 0)
    _libc("capset", (ctypes.c_uint32 * 2)(POWERS_VERSION, 0), (ctypes.c_uint32 * 6)())


def _libc(name, *arguments):
    call = getattr(ctypes.CDLL(None, use_errno=True), name)
    if call(*arguments):
        number = ctypes.get_errno()
        raise OSError(number, f"{name}: {os.strerror(number)}")


if __name__ == "__main__":
    main()
