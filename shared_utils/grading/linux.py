"""Calls of Linux's own interface that Python lacks: namespaces, capabilities, filters, signals.

The constants are those of the kernel's headers, the same on every machine. What is missing on a
machine is left out and answered with False; what fails though it is there raises an OSError.
"""

from __future__ import annotations

import ctypes
import os
import signal
import stat
import struct
import sys
from typing import TYPE_CHECKING

from shared_utils.grading import system_calls

if TYPE_CHECKING:
    from collections.abc import Iterable

CLONE_NEWNS, CLONE_NEWUTS, CLONE_NEWIPC = 0x00020000, 0x04000000, 0x08000000
CLONE_NEWUSER, CLONE_NEWPID, CLONE_NEWNET = 0x10000000, 0x20000000, 0x40000000
NS_GET_USERNS = 0xB701
PR_SET_PDEATHSIG, PR_SET_DUMPABLE, PR_SET_NO_NEW_PRIVS = 1, 4, 38
MS_NOSUID, MS_NODEV, MS_REMOUNT = 2, 4, 32
KEYCTL_JOIN_SESSION_KEYRING = 1
SECCOMP_SET_MODE_FILTER, SECCOMP_FILTER_FLAG_TSYNC = 1, 1
# of linux/landlock.h: what is decided about a file, and about a folder beside that
LANDLOCK_CREATE_RULESET_VERSION, LANDLOCK_RULE_PATH_BENEATH = 1, 1
LANDLOCK_EXECUTE, LANDLOCK_READ_FILE, LANDLOCK_READ_FOLDER = 0x1, 0x4, 0x8
LANDLOCK_FILE = 0xC007
# from which version on there is what, each with all before it
LANDLOCK_FILES = {1: 0x1FFF, 2: 0x3FFF, 3: 0x7FFF, 5: 0xFFFF}
LANDLOCK_TCP = {1: 0, 4: 0x3}
LANDLOCK_SCOPES = {1: 0, 6: 0x3}  # of abstract sockets and signals
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


def enter_namespaces(pid: int, temporary_files: dict[str, tuple[int, int]]) -> None:
    """Go into the namespaces of a sandbox; the next child will be inside altogether.

    Parameters
    ----------
    pid : int
        The first process of the sandbox.
    temporary_files : dict of str to tuple of int
        How many bytes and how many files the file systems in memory may hold, by where they are.
        bubblewrap limits the bytes alone.
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
    for place, (size, files) in temporary_files.items():
        options = f"size={size},nr_inodes={files}".encode()
        flags = MS_REMOUNT | MS_NOSUID | MS_NODEV
        _libc("mount", b"tmpfs", os.fsencode(place), b"tmpfs", flags, options)
    if not os.path.samestat(os.fstat(users), os.fstat(owner)):
        _libc("setns", users, CLONE_NEWUSER)


def enter_own_user_namespace() -> None:
    """Leave the other processes of the sandbox in a user namespace that this process is not in.

    They belong to the same user, who could else attach to them. The user keeps its number.
    """
    user, group = os.geteuid(), os.getegid()
    # a process that has changed its user may not write about itself before it says this
    _libc("prctl", PR_SET_DUMPABLE, 1, 0, 0, 0)
    _libc("unshare", CLONE_NEWUSER)
    for name, text in (
        ("setgroups", "deny"),
        ("uid_map", f"{user} {user} 1"),
        ("gid_map", f"{group} {group} 1"),
    ):
        with open(f"/proc/self/{name}", "w", encoding="ascii") as file:
            file.write(text)


def may_enter_own_user_namespace() -> bool:
    """Return whether ``enter_own_user_namespace`` would succeed, by letting a child do it."""
    pid = os.fork()
    if pid == 0:
        try:
            enter_own_user_namespace()
            os._exit(0)
        finally:
            os._exit(1)
    return os.waitpid(pid, 0)[1] == 0


def leave_session_keyring() -> bool:
    """Take a new keyring for this session in place of the one that its parents share."""
    number = system_calls.numbers().get("own", {}).get("keyctl")
    if number is None:
        return False
    try:
        _libc("syscall", number, KEYCTL_JOIN_SESSION_KEYRING, None, returns=True)
    except OSError:  # a system that was built without keyrings
        return False
    return True


def load_filter(pid: int) -> bool:
    """Load the filter for system calls into this process; there is no way back.

    Parameters
    ----------
    pid : int
        As in ``filter_program``.

    Returns
    -------
    bool
        False where the processor's numbers are not known, and nothing is filtered.
    """
    instructions = system_calls.filter_program(pid)
    if not instructions:
        return False

    class Program(ctypes.Structure):
        _fields_ = (("length", ctypes.c_ushort), ("instructions", ctypes.c_char_p))

    number = system_calls.numbers()["own"]["seccomp"]
    program = Program(len(instructions) // 8, instructions)
    _libc("prctl", PR_SET_NO_NEW_PRIVS, 1, 0, 0, 0)
    flags = SECCOMP_FILTER_FLAG_TSYNC
    _libc("syscall", number, SECCOMP_SET_MODE_FILTER, flags, ctypes.byref(program))
    return True


def landlock_version() -> int:
    """Return what this system's Landlock can do; 0 if it has none."""
    number = system_calls.numbers().get("own", {}).get("landlock_create_ruleset")
    if number is None:
        return 0
    try:
        return _libc("syscall", number, None, 0, LANDLOCK_CREATE_RULESET_VERSION, returns=True)
    except OSError:
        return 0


def restrict_files(readable: Iterable[str], writable: Iterable[str]) -> bool:
    """Shut all files but some from this process, TCP, and signals to processes outside.

    Parameters
    ----------
    readable, writable : iterable of str
        Files, and folders with all that is in them; those that are not there are passed over.

    Returns
    -------
    bool
        False where the system has no Landlock, and nothing is shut.
    """
    version = landlock_version()
    if not version:
        return False
    files, network, scopes = (
        [bits for since, bits in table.items() if since <= version][-1]
        for table in (LANDLOCK_FILES, LANDLOCK_TCP, LANDLOCK_SCOPES)
    )
    own = system_calls.numbers()["own"]
    attributes = struct.pack("=QQQ", files, network, scopes)
    # an older system takes a shorter structure
    length = 24 if version >= 6 else 16 if version >= 4 else 8
    rules = _libc("syscall", own["landlock_create_ruleset"], attributes, length, 0, returns=True)
    try:
        reading = LANDLOCK_EXECUTE | LANDLOCK_READ_FILE | LANDLOCK_READ_FOLDER
        for paths, rights in ((readable, reading), (writable, files)):
            for path in paths:
                _allow_beneath(own["landlock_add_rule"], rules, path, rights & files)
        _libc("prctl", PR_SET_NO_NEW_PRIVS, 1, 0, 0, 0)
        _libc("syscall", own["landlock_restrict_self"], rules, 0)
    finally:
        os.close(rules)
    return True


def _allow_beneath(number, rules, path, rights):
    try:
        descriptor = os.open(path, os.O_PATH | os.O_CLOEXEC)
    except OSError:
        return
    try:
        if not stat.S_ISDIR(os.fstat(descriptor).st_mode):
            rights &= LANDLOCK_FILE
        rule = struct.pack("=Qi", rights, descriptor)
        _libc("syscall", number, rules, LANDLOCK_RULE_PATH_BENEATH, rule, 0)
    finally:
        os.close(descriptor)


def drop_capabilities() -> None:
    """Keep no capability that entering took, nor any way to get one back."""
    _libc("prctl", PR_SET_NO_NEW_PRIVS, 1, 0, 0, 0)
    version = (ctypes.c_uint32 * 2)(LINUX_CAPABILITY_VERSION_3, 0)
    _libc("capset", version, (ctypes.c_uint32 * 6)())


def _libc(name, *arguments, returns=False):
    """Call a function of the C library; with ``returns``, one whose success is not 0."""
    call = getattr(ctypes.CDLL(None, use_errno=True), name)
    # numbers and flags are as long as a register
    result = call(*(ctypes.c_long(each) if isinstance(each, int) else each for each in arguments))
    if result < 0 or (result and not returns):
        number = ctypes.get_errno()
        raise OSError(number, f"{name}: {os.strerror(number)}")
    return result
