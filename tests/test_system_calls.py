"""The filter for system calls: what it decides, by running its program here instruction by one."""

import ctypes
import ctypes.util
import errno
import os
import platform
import re
import signal
import struct
import subprocess
import sys
import tempfile
from pathlib import Path

import pytest

from shared_utils.grading import system_calls
from shared_utils.grading.system_calls import ALLOW, ERROR, KILL_PROCESS, PROCESSORS

PID = 4711
HERE = platform.machine()
ALL_SECTIONS = ("allowed", "checked", "own")
# where Linux's headers lie, and the fixed names that the generic ones give to a number
HEADERS = {
    "x86_64": (
        "/usr/include/x86_64-linux-gnu/asm/unistd_64.h",
        "/usr/include/asm/unistd_64.h",
    ),
    "aarch64": ("/usr/include/asm-generic/unistd.h",),
}
RENAMED = {"fstatat": "newfstatat"}
on_linux = pytest.mark.skipif(sys.platform != "linux", reason="The filter is Linux's own.")


def run(program, number, arguments=(), processor="x86_64"):
    """Return what a filter answers, by the rules of classic BPF (Linux, networking/filter.rst)."""
    data = struct.pack("<IIQ6Q", number, PROCESSORS.get(processor, 0x40000003), 0, *_six(arguments))
    steps = [struct.unpack_from("<HBBI", program, at) for at in range(0, len(program), 8)]
    at = accumulator = 0
    while True:
        code, if_true, if_false, constant = steps[at]
        at += 1
        if code == 0x20:
            (accumulator,) = struct.unpack_from("<I", data, constant)
        elif code == 0x54:
            accumulator &= constant
        elif code == 0x05:
            at += constant
        elif code == 0x06:
            return constant
        else:
            holds = {
                0x15: accumulator == constant,
                0x25: accumulator > constant,
                0x35: accumulator >= constant,
                0x45: bool(accumulator & constant),
            }[code]
            at += if_true if holds else if_false


def _six(arguments):
    return [each % 2**64 for each in (*arguments, *[0] * (6 - len(arguments)))]


def answer(name, *arguments, processor="x86_64", **options):
    """Return the name of an error, "allowed" or "killed"."""
    table = system_calls.numbers(processor)
    number = next(table[part][name] for part in ALL_SECTIONS if name in table[part])
    program = system_calls.filter_program(PID, processor=processor, **options)
    return named(run(program, number, arguments, processor))


def named(result):
    if result in (ALLOW, KILL_PROCESS):
        return {ALLOW: "allowed", KILL_PROCESS: "killed"}[result]
    assert result & ~0xFFFF == ERROR
    return errno.errorcode[result & 0xFFFF]


THREAD = 0x3D0F00  # what glibc passes for a thread
EXPECTED = [
    (("read",), "allowed"),
    (("mmap",), "allowed"),
    (("openat",), "allowed"),
    (("futex",), "allowed"),
    (("clone", THREAD), "allowed"),
    (("clone", signal.SIGCHLD), "EPERM"),
    (("clone", 0x10000000 | signal.SIGCHLD), "EPERM"),
    (("clone", 0x10000000 | THREAD), "EPERM"),
    (("clone", 0x40000000 | THREAD), "EPERM"),
    (("execve",), "EPERM"),
    (("execveat",), "EPERM"),
    (("socket", 1), "EAFNOSUPPORT"),
    (("socket", 2), "EAFNOSUPPORT"),
    (("socket", 10), "EAFNOSUPPORT"),
    (("socket", 16), "EAFNOSUPPORT"),
    (("socket", 40), "EAFNOSUPPORT"),
    (("socketpair", 1), "allowed"),
    (("socketpair", 2), "EAFNOSUPPORT"),
    (("sendto", 3, 0, 5, 0, 0, 0), "allowed"),
    (("sendto", 3, 0, 5, 0, 0x7F0012345678, 16), "EPERM"),
    (("sendto", 3, 0, 5, 0, 0x7F0000000000, 16), "EPERM"),
    (("kill", PID, signal.SIGINT), "allowed"),
    (("kill", 1, signal.SIGKILL), "EPERM"),
    (("kill", 0, signal.SIGKILL), "EPERM"),
    (("kill", -1, signal.SIGKILL), "EPERM"),
    (("tgkill", PID, PID, signal.SIGINT), "allowed"),
    (("tgkill", 1, 1, signal.SIGKILL), "EPERM"),
    (("personality", 0xFFFFFFFF), "allowed"),
    (("personality", 0x0040000), "EPERM"),
    (("prctl", 15), "allowed"),
    (("prctl", 22), "EPERM"),
    (("prctl", 35), "EPERM"),
    (("ioctl", 0, 0x5401), "allowed"),
    (("ioctl", 0, 0x5412), "ENOTTY"),
    (("ioctl", 0, 0x541C), "ENOTTY"),
    (("fcntl", 0, 2), "allowed"),
    (("fcntl", 0, 8), "EPERM"),
    (("fcntl", 0, 1031), "EPERM"),
    (("prlimit64", 0), "allowed"),
    (("prlimit64", 1), "EPERM"),
    (("seccomp",), "ENOSYS"),
    (("keyctl",), "ENOSYS"),
    (("landlock_restrict_self",), "ENOSYS"),
]


@pytest.mark.parametrize("processor", PROCESSORS)
@pytest.mark.parametrize(("call", "wanted"), EXPECTED, ids=lambda part: str(part)[:40])
def test_the_filter_decides(processor, call, wanted):
    name, *arguments = call
    assert answer(name, *arguments, processor=processor) == wanted


def test_processes_are_refused_where_they_have_calls_of_their_own():
    assert answer("fork") == answer("vfork") == "EPERM"
    assert not {"fork", "vfork"} & set(system_calls.numbers("aarch64")["checked"])


def test_the_shell_of_a_sandbox_may_become_a_program_and_nothing_else():
    assert answer("execve", may_execute=True) == "allowed"
    assert answer("clone", signal.SIGCHLD, may_execute=True) == "EPERM"
    program = system_calls.filter_program(0, may_execute=True, processor="x86_64")
    for target in (0, 1, PID):
        assert named(run(program, 62, (target, 9))) == "EPERM"


# of asm/unistd_64.h, each with what it would open
SHUT = {
    "shmget": 29,
    "ptrace": 101,
    "semget": 64,
    "msgget": 68,
    "mount": 165,
    "reboot": 169,
    "init_module": 175,
    "setns": 308,
    "process_vm_readv": 310,
    "process_vm_writev": 311,
    "memfd_create": 319,
    "bpf": 321,
    "unshare": 272,
    "userfaultfd": 323,
    "add_key": 248,
    "request_key": 249,
    "perf_event_open": 298,
    "name_to_handle_at": 303,
    "open_by_handle_at": 304,
    "pidfd_send_signal": 424,
    "io_uring_setup": 425,
    "pidfd_open": 434,
    "clone3": 435,
    "pidfd_getfd": 438,
    "memfd_secret": 447,
    "connect": 42,
    "bind": 49,
    "sendmsg": 46,
    "link": 86,
    "symlink": 88,
    "mknod": 133,
    "chroot": 161,
    "inotify_init": 253,
    "vmsplice": 278,
    "setsid": 112,
    "setuid": 105,
}


@pytest.mark.parametrize("name", SHUT)
def test_what_is_not_listed_does_not_exist(name):
    program = system_calls.filter_program(PID, processor="x86_64")
    assert named(run(program, SHUT[name])) == "ENOSYS"


def test_what_a_later_linux_adds_does_not_exist():
    program = system_calls.filter_program(PID, processor="x86_64")
    # and those with the bit of the x32 calls
    for number in (*range(453, 1200), *range(0x40000000, 0x40000400), 2**32 - 1):
        assert named(run(program, number)) == "ENOSYS"


def test_calls_of_another_processor_end_the_process():
    program = system_calls.filter_program(PID, processor="x86_64")
    # read of x86_64 is restart_syscall of i386, whose calls a process of 64 bits can make too
    assert named(run(program, 0, processor="i386")) == "killed"
    assert named(run(program, 63, processor="aarch64")) == "killed"


@pytest.mark.parametrize("processor", PROCESSORS)
def test_the_numbers_are_those_of_linuxs_headers(processor):
    path = next((path for path in HEADERS[processor] if Path(path).is_file()), None)
    if not path:
        pytest.skip("Linux's headers are not installed here (Debian: linux-libc-dev).")
    defined = re.findall(
        r"#define\s+__NR(?:3264)?_(\w+)\s+(\d+)\s*$", Path(path).read_text(), re.MULTILINE
    )
    numbers = {RENAMED.get(name, name): int(number) for name, number in defined}
    table = system_calls.numbers(processor)
    ours = {name: number for part in ALL_SECTIONS for name, number in table[part].items()}
    unknown = set(ours) - set(numbers)
    assert unknown <= {"fchmodat2"}  # of Linux 6.6, younger than some headers
    assert {name: numbers[name] for name in ours if name in numbers} == {
        name: number for name, number in ours.items() if name in numbers
    }


LIBRARY = ctypes.util.find_library("seccomp")
EQUAL, MASKED = 4, 7  # SCMP_CMP_EQ, SCMP_CMP_MASKED_EQ


class Comparison(ctypes.Structure):
    _fields_ = (
        ("argument", ctypes.c_uint),
        ("operator", ctypes.c_int),
        ("first", ctypes.c_uint64),
        ("second", ctypes.c_uint64),
    )


def by_library(library):
    """Return a filter with the same rules as libseccomp writes it."""
    library.seccomp_init.restype = ctypes.c_void_p
    allow = ALLOW

    def rule(action, name, *comparisons):
        number = library.seccomp_syscall_resolve_name(name.encode())
        listed = (Comparison * max(len(comparisons), 1))(*(Comparison(*c) for c in comparisons))
        outcome = library.seccomp_rule_add_array(
            ctypes.c_void_p(context), action, number, len(comparisons), listed
        )
        assert outcome == 0, (name, outcome)

    context = library.seccomp_init(ERROR | errno.ENOSYS)
    table = system_calls.numbers("x86_64")
    for name in table["allowed"]:
        rule(allow, name)
    for name in ("fork", "vfork", "execve", "execveat"):
        rule(ERROR | errno.EPERM, name)
    rule(ERROR | errno.EAFNOSUPPORT, "socket")
    rule(allow, "socketpair", (0, EQUAL, 1))
    rule(allow, "sendto", (4, EQUAL, 0))
    rule(allow, "clone", (0, MASKED, 0x7E020000 | 0x10000, 0x10000))
    for name in ("kill", "tgkill"):
        rule(allow, name, (0, EQUAL, PID))
    for value, index, name in (
        *((0xFFFFFFFF, 0, "personality"), (0, 0, "prlimit64")),
        *((value, 0, "prctl") for value in system_calls.PRCTL_OPTIONS),
        *((value, 1, "ioctl") for value in system_calls.IOCTL_REQUESTS),
        *((value, 1, "fcntl") for value in system_calls.FCNTL_COMMANDS),
    ):
        rule(allow, name, (index, EQUAL, value))
    with tempfile.TemporaryFile() as file:
        assert library.seccomp_export_bpf(ctypes.c_void_p(context), file.fileno()) == 0
        file.seek(0)
        program = file.read()
    library.seccomp_release(ctypes.c_void_p(context))
    return program


@on_linux
@pytest.mark.skipif(HERE != "x86_64", reason="The library writes for this processor.")
@pytest.mark.skipif(not LIBRARY, reason="libseccomp is not installed (Debian: libseccomp2).")
@pytest.mark.slow
def test_the_filter_allows_what_that_of_a_library_allows():
    library = ctypes.CDLL(LIBRARY)
    theirs = by_library(library)
    ours = system_calls.filter_program(PID, processor="x86_64")
    values = (0, 1, 2, PID, THREAD, 0x7E020000, 0x10000000 | THREAD, 0xFFFFFFFF)
    values += (*system_calls.IOCTL_REQUESTS, *system_calls.FCNTL_COMMANDS, 8, 1031, 0x5412)
    values += system_calls.PRCTL_OPTIONS
    compared = 0
    for number in (*range(600), 0x40000000, 0x40000001):
        for value in values:
            for arguments in ((value,), (0, value), (0, 0, 0, 0, value)):
                allowed = [run(program, number, arguments) == ALLOW for program in (ours, theirs)]
                assert allowed[0] == allowed[1], (number, arguments)
                compared += allowed[0]
    assert compared > 5000


@on_linux
@pytest.mark.skipif(not LIBRARY, reason="libseccomp is not installed (Debian: libseccomp2).")
@pytest.mark.parametrize("processor", PROCESSORS)
def test_the_numbers_are_those_of_a_library(processor):
    library = ctypes.CDLL(LIBRARY)
    table = system_calls.numbers(processor)
    known = 0
    for name, number in {**table["allowed"], **table["checked"], **table["own"]}.items():
        theirs = library.seccomp_syscall_resolve_name_arch(PROCESSORS[processor], name.encode())
        if theirs != -1:  # younger than the library
            assert theirs == number, name
            known += 1
    assert known > 100


def test_an_unknown_processor_has_no_filter():
    assert system_calls.filter_program(1, processor="vax") == b""


@on_linux
@pytest.mark.skipif(not system_calls.numbers(), reason="This processor has no filter.")
def test_the_filter_holds_in_this_system():
    """Control and attack in one process: the same calls before and after it is loaded."""
    code = (
        "import os, socket, ctypes\n"
        "from shared_utils.grading import linux\n"
        "def tried(f):\n"
        "    try:\n        f()\n        return 'done'\n"
        "    except OSError as error:\n        return error.errno\n"
        "def child():\n"
        "    if os.fork() == 0: os._exit(0)\n"
        "calls = [child, lambda: socket.socket(), lambda: os.memfd_create('x'),\n"
        "    lambda: os.kill(os.getppid(), 0), lambda: os.stat('/')]\n"
        "before = [tried(f) for f in calls]\n"
        "assert linux.load_filter(os.getpid())\n"
        "print(before, [tried(f) for f in calls])\n"
    )
    run_ = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True)
    assert run_.stdout.split("] [")[0] == "['done', 'done', 'done', 'done', 'done'", run_
    after = [errno.EPERM, errno.EAFNOSUPPORT, errno.ENOSYS, errno.EPERM, "done"]
    assert run_.stdout.strip().endswith(str(after))


@on_linux
@pytest.mark.root
@pytest.mark.skipif(os.geteuid() != 0, reason="Only root can try this without asking.")
def test_a_user_who_may_make_no_user_namespace_is_known_beforehand():
    """Some systems forbid it: then root's kernels do without, and no other's run in a sandbox."""
    code = (
        "from shared_utils.grading import linux\n"
        "print(linux.may_enter_own_user_namespace())\n"
        "open('/proc/sys/user/max_user_namespaces', 'w').write('0')\n"
        "print(linux.may_enter_own_user_namespace())\n"
    )
    # the setting is that of a user namespace which ends with the process
    command = ["unshare", "--user", "--map-root-user", sys.executable, "-c", code]
    done = subprocess.run(command, capture_output=True, text=True)
    assert done.stdout == "True\nFalse\n", done.stderr
