"""Which system calls a learner's kernel may use, as a seccomp filter: a program for the kernel.

Allowed is what is listed; any other call, and one that a later Linux adds, is answered as if it did
not exist, so that libraries fall back on what they did before there was such a call. New processes,
programs, network addresses and signals to others are refused.

The program is the classic BPF that seccomp(2) takes: load a word, compare it, jump or return. The
constants are those of Linux's own headers, the same on every processor that is listed.
"""

from __future__ import annotations

import errno
import functools
import platform
import struct
import sys
import tomllib
from pathlib import Path

TABLE = Path(__file__).with_suffix(".toml")
PROCESSORS = {"x86_64": 0xC000003E, "aarch64": 0xC00000B7}  # AUDIT_ARCH_… of linux/audit.h
# instructions, of linux/bpf_common.h
LOAD, EQUAL, GREATER, AT_LEAST, BITS, RETURN = 0x20, 0x15, 0x25, 0x35, 0x45, 0x06
# where struct seccomp_data holds the number, the processor, and the low word of an argument
NUMBER, PROCESSOR = 0, 4
ALLOW, KILL_PROCESS, ERROR = 0x7FFF0000, 0x80000000, 0x00050000
CLONE_THREAD = 0x00010000
# CLONE_NEWNS, NEWCGROUP, NEWUTS, NEWIPC, NEWUSER, NEWPID, NEWNET
CLONE_NEW_NAMESPACES = 0x7E020000
AF_UNIX = 1
QUERY_PERSONALITY = 0xFFFFFFFF
# PR_GET_DUMPABLE, PR_SET_NAME, PR_GET_NAME, PR_GET_SECCOMP, PR_CAPBSET_READ,
# PR_GET_NO_NEW_PRIVS, PR_SET_VMA
PRCTL_OPTIONS = (3, 15, 16, 21, 23, 39, 0x53564D41)
# TCGETS, TIOCGPGRP, TIOCGWINSZ, FIONREAD, FIONBIO, FIONCLEX, FIOCLEX
IOCTL_REQUESTS = (0x5401, 0x540F, 0x5413, 0x541B, 0x5421, 0x5450, 0x5451)
# F_DUPFD to F_SETLKW, F_OFD_GETLK to F_OFD_SETLKW, F_DUPFD_CLOEXEC, F_GETPIPE_SZ: neither a signal
# to another process nor a larger pipe
FCNTL_COMMANDS = (*range(8), 36, 37, 38, 1030, 1032)


@functools.cache
def numbers(processor: str = "") -> dict[str, dict[str, int]]:
    """Return the numbers of the listed calls by section and name; empty if none are known.

    Parameters
    ----------
    processor : str
        As ``platform.machine`` gives it; this one, if not given.

    Returns
    -------
    dict of str to dict of str to int

    Examples
    --------
    >>> numbers("x86_64")["allowed"]["read"]
    0
    >>> numbers("aarch64")["allowed"]["read"]
    63
    >>> numbers("an abacus")
    {}
    """
    processor = processor or (platform.machine() if sys.platform == "linux" else "")
    if processor not in PROCESSORS:
        return {}
    column = list(PROCESSORS).index(processor)
    table = tomllib.loads(TABLE.read_text(encoding="utf-8"))
    return {
        section: {name: row[column] for name, row in rows.items() if row[column] >= 0}
        for section, rows in table.items()
    }


def filter_program(pid: int, may_execute: bool = False, processor: str = "") -> bytes:
    """Return the filter for a process.

    Parameters
    ----------
    pid : int
        The process, as it is numbered where it runs: it may send signals to itself. 0: to nobody.
    may_execute : bool
        Whether it may become another program, as the shell of a sandbox has to.
    processor : str
        As in ``numbers``.

    Returns
    -------
    bytes
        Instructions of eight bytes; empty where the processor's numbers are not known.
    """
    table = numbers(processor)
    if not table:
        return b""
    program = [
        (LOAD, 0, 0, PROCESSOR),
        (EQUAL, 1, 0, PROCESSORS[processor or platform.machine()]),
        (RETURN, 0, 0, KILL_PROCESS),
        (LOAD, 0, 0, NUMBER),
    ]
    for name, body in _checked(pid, may_execute).items():
        if name in table["checked"]:
            program += [(EQUAL, 0, len(body), table["checked"][name]), *body]
    for first, last in _ranges(sorted(table["allowed"].values())):
        program += [
            (GREATER, 3, 0, last),
            (AT_LEAST, 0, 1, first),
            (RETURN, 0, 0, ALLOW),
            _refuse(errno.ENOSYS),
        ]
    program.append(_refuse(errno.ENOSYS))
    return b"".join(struct.pack("<HBBI", *each) for each in program)


def _checked(pid, may_execute):
    """Return the instructions for each call that is not simply allowed."""
    allow, forbid = [(RETURN, 0, 0, ALLOW)], [_refuse(errno.EPERM)]
    execute = allow if may_execute else forbid
    to_itself = _only(0, (pid,) if pid else (), errno.EPERM)
    return {
        # a thread, and no process
        "clone": [
            (LOAD, 0, 0, _argument(0)),
            (BITS, 1, 0, CLONE_NEW_NAMESPACES),
            (BITS, 1, 0, CLONE_THREAD),
            *forbid,
            *allow,
        ],
        "fork": forbid,
        "vfork": forbid,
        "execve": execute,
        "execveat": execute,
        # a pair of sockets reaches nothing but itself
        "socket": [_refuse(errno.EAFNOSUPPORT)],
        "socketpair": _only(0, (AF_UNIX,), errno.EAFNOSUPPORT),
        # no address: a pointer of two words
        "sendto": [
            (LOAD, 0, 0, _argument(4)),
            (EQUAL, 0, 3, 0),
            (LOAD, 0, 0, _argument(4) + 4),
            (EQUAL, 0, 1, 0),
            *allow,
            *forbid,
        ],
        "kill": to_itself,
        "tgkill": to_itself,
        "personality": _only(0, (QUERY_PERSONALITY,), errno.EPERM),
        "prctl": _only(0, PRCTL_OPTIONS, errno.EPERM),
        "ioctl": _only(1, IOCTL_REQUESTS, errno.ENOTTY),
        "fcntl": _only(1, FCNTL_COMMANDS, errno.EPERM),
        "prlimit64": _only(0, (0,), errno.EPERM),
    }


def _only(argument, values, error):
    """Return instructions that allow a call with one of these values and refuse any other."""
    compare = [(EQUAL, len(values) - n, 0, value) for n, value in enumerate(values)]
    return [
        (LOAD, 0, 0, _argument(argument)),
        *compare,
        _refuse(error),
        (RETURN, 0, 0, ALLOW),
    ]


def _argument(index):
    return 16 + 8 * index


def _refuse(error):
    return (RETURN, 0, 0, ERROR | error)


def _ranges(numbers):
    """Return sorted numbers as pairs of a first and a last without a gap between.

    >>> _ranges([0, 1, 2, 5, 7, 8])
    [[0, 2], [5, 5], [7, 8]]
    """
    found: list[list[int]] = []
    for number in numbers:
        if found and number == found[-1][1] + 1:
            found[-1][1] = number
        else:
            found.append([number, number])
    return found
