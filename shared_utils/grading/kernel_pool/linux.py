"""Calls of Linux's own interface that Python lacks: namespaces, capabilities, death signal.

The constants are those of the kernel's headers, the same on every machine.
"""

from __future__ import annotations

import ctypes
import os
import signal
import sys

CLONE_NEWNS, CLONE_NEWUTS, CLONE_NEWIPC = 0x00020000, 0x04000000, 0x08000000
CLONE_NEWUSER, CLONE_NEWPID, CLONE_NEWNET = 0x10000000, 0x20000000, 0x40000000
NS_GET_USERNS = 0xB701
PR_SET_PDEATHSIG, PR_SET_NO_NEW_PRIVS = 1, 38
LINUX_CAPABILITY_VERSION_3 = 0x20080522


def die_with_parent(parent_pid: int, number: signal.Signals = signal.SIGTERM) -> None:
    """Send this process a signal when its parent ends, however that comes, where the platform can.

    Parameters
    ----------
    parent_pid : int
        The parent as it was when this process was started; if it has ended meanwhile, so does
        this process.
    number : signal.Signals
        The signal.
    """
    if sys.platform == "linux":
        _libc("prctl", PR_SET_PDEATHSIG, number)
        if os.getppid() != parent_pid:
            sys.exit(0)


def enter_namespaces(pid: int) -> None:
    """Go into the namespaces of a sandbox; the next child will be inside altogether.

    Parameters
    ----------
    pid : int
        The first process of the sandbox.
    """
    import fcntl

    process = os.pidfd_open(pid)
    mounts = os.open(f"/proc/{pid}/ns/mnt", os.O_RDONLY)
    # an ordinary user's sandbox has a user namespace, and another above it that owns the rest
    owner = fcntl.ioctl(mounts, NS_GET_USERNS)
    users = os.open(f"/proc/{pid}/ns/user", os.O_RDONLY)
    own_users = os.stat("/proc/self/ns/user")
    if not os.path.samestat(os.fstat(owner), own_users):
        _libc("setns", owner, CLONE_NEWUSER)
    others = CLONE_NEWNS | CLONE_NEWPID | CLONE_NEWNET | CLONE_NEWIPC | CLONE_NEWUTS
    _libc("setns", process, others)
    if not os.path.samestat(os.fstat(users), os.fstat(owner)):
        _libc("setns", users, CLONE_NEWUSER)


def drop_capabilities() -> None:
    """Keep no capability that entering took, nor any way to get one back."""
    _libc("prctl", PR_SET_NO_NEW_PRIVS, 1, 0, 0, 0)
    version = (ctypes.c_uint32 * 2)(LINUX_CAPABILITY_VERSION_3, 0)
    _libc("capset", version, (ctypes.c_uint32 * 6)())


def _libc(name, *arguments):
    call = getattr(ctypes.CDLL(None, use_errno=True), name)
    if call(*arguments):
        number = ctypes.get_errno()
        raise OSError(number, f"{name}: {os.strerror(number)}")
