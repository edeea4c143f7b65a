"""What a learner's code tries against the sandbox itself, as root grades and as an ordinary user.

Each probe does a small thing that a sandbox must refuse, and says whether it could.
As a control all of them run once without a sandbox of ours: there, those that are not in
``NO_CONTROL`` must succeed, else they would prove nothing.
"""

import hashlib
import json
import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import nbformat
import pytest

from shared_utils.grading.supervisor import kernel_pool_client, sandbox
from shared_utils.grading.supervisor.grade_submission import (
    MAX_CELLS,
    MAX_NOTEBOOK_BYTES,
    Submission,
    grade_submission,
)
from shared_utils.grading.supervisor.grading_spec import GradingSpec
from tests import ordinary_user
from tests.marking import REPO
from tests.sampling import size
from tests.test_kernel_pool import MAX_MARKS, grade, handed_in, needs_sandbox, spec

pytestmark = [pytest.mark.grading, needs_sandbox]

SECRET = "a secret of the instructor's"
# the numbers of x86_64, where the C library has no function for a call
PREPARE = f"""\
import ctypes, fcntl, multiprocessing, os, resource, signal, socket, struct, subprocess, sys, time
libc = ctypes.CDLL(None, use_errno=True)
libc.mmap.restype = libc.memfd_create.restype = ctypes.c_long
libc.syscall.restype = ctypes.c_long
REPO = {str(REPO)!r}
PACKAGE = REPO + "/shared_utils"
def call(number, *arguments):
    as_long = [ctypes.c_long(each) if isinstance(each, int) else each for each in arguments]
    return libc.syscall(ctypes.c_long(number), *as_long) >= 0
def child(pid):
    if pid == 0: os._exit(0)
    os.waitpid(pid, 0)
    return pid > 0
def read_memory(pid):
    here = struct.pack("=QQ", ctypes.addressof(ctypes.create_string_buffer(8)), 8)
    return call(310, pid, here, 1, struct.pack("=QQ", 4096, 8), 1, 0) or ctypes.get_errno() == 14
def by_handle(path):
    handle = struct.pack("=II", 0, 0).ljust(200)
    number = ctypes.create_string_buffer(8)
    return call(303, -100, path, handle, number, 0) or ctypes.get_errno() == 75
def send_address():
    sender = socket.socketpair(socket.AF_UNIX, socket.SOCK_DGRAM)[0]
    try: sender.sendto(b"x", "/nowhere")
    except FileNotFoundError: return True
def send_descriptor():
    one, other = socket.socketpair()
    return socket.send_fds(one, [b"x"], [0]) == 1
def send_datagram():
    return socket.socket(socket.AF_INET, socket.SOCK_DGRAM).sendto(b"x", ("127.0.0.1", 9)) == 1
def push_key():
    return fcntl.ioctl(os.open("/dev/ptmx", os.O_RDWR | os.O_NOCTTY), 0x5412, b"x") == 0
def wrote(path, text="x"):
    with open(path, "a") as file: file.write(text)
    return True
def read(path):
    with open(path, "rb") as file: return bool(file.read(10))
def many(size, count, folder):
    for number in range(count):
        with open(f"{{folder}}/many{{number}}", "wb") as file: file.write(bytes(size))
    return True
"""
PROCESSES = {
    "fork": "child(os.fork())",
    "raw fork": "child(libc.syscall(57))",
    "raw vfork": "child(libc.syscall(57)) and call(58)",
    "raw clone": "child(libc.syscall(56, signal.SIGCHLD, 0, 0, 0, 0))",
    "raw clone3": "child(libc.syscall(435, struct.pack('=QQQQQQQQ', 0, 0, 0, 0, 17, 0, 0, 0), 64))",
    "subprocess": "subprocess.run(['true']).returncode == 0",
    "system": "os.system('true') == 0",
    "posix_spawn": "os.waitpid(os.posix_spawn('/bin/true', ['true'], {}), 0)",
    "popen of C": "libc.popen(b'true', b'r') != 0",
    "multiprocessing": "multiprocessing.get_context('fork').Process(target=int).start() is None",
    "pty": "child(__import__('pty').fork()[0])",
    "kill of the first": "os.kill(1, 0) is None",
    "kill of all": "libc.kill(-1, 0) == 0",
    "tgkill of the first": "call(234, 1, 1, 0)",
    "queued signal": "call(129, 1, 0, struct.pack('=iii', 0, 0, -1).ljust(128, b'\\0'))",
    "descriptor of a process": "os.pidfd_open(1) > 0",
    "ptrace": "call(101, 0x4206, 1, 0, 0)",
    "environment of the first": "read('/proc/1/environ')",
    "memory of the first": "bool(os.open('/proc/1/mem', os.O_RDWR))",
    "memory of the first by call": "read_memory(1)",
    "files of the first": "bool(os.readlink('/proc/1/fd/0'))",
    "group of another": "os.setpgid(0, 0) is None",
    "a session": "call(112) or ctypes.get_errno() == 1",
    "realtime": "os.sched_setscheduler(0, os.SCHED_FIFO, os.sched_param(1)) is None",
    "priority": "os.setpriority(os.PRIO_PROCESS, 0, -5) is None",
    "higher limits": "resource.setrlimit(resource.RLIMIT_CORE, (2**20, 2**20)) is None",
    "limits of another": "bool(resource.prlimit(1, resource.RLIMIT_NOFILE))",
}  # fmt: skip
KERNEL = {
    "keyring": "call(248, b'user', b'left', b'x', 1, -3)",
    "keyring read": "call(250, 6, -3, 0, 0)",
    "memory without a file": "os.memfd_create('x') > 0",
    "secret memory": "call(319, b'y', 0) and call(447, 0) or call(319, b'y', 0)",
    "shared memory of System V": "call(29, 0, 4096, 0o1600)",
    "messages of System V": "call(68, 0, 0o1600)",
    "semaphores of System V": "call(64, 0, 1, 0o1600)",
    "message queue": "call(240, b'left', 0o102, 0o600, 0)",
    "io_uring": "call(425, 4, ctypes.create_string_buffer(256))",
    "userfaultfd": "call(323, 1)",
    "personality": "libc.personality(0x0040000) >= 0 and libc.personality(0xffffffff) & 0x0040000",
    "perf": "call(298, struct.pack('=IIQ', 1, 112, 0).ljust(112, b'\\0'), 0, -1, -1, 0)",
    "bpf": "call(321, 0, struct.pack('=IIII', 2, 4, 8, 1).ljust(72, b'\\0'), 72)",
    "kernel log": "call(103, 10, 0, 0)",
    "clock": "call(227, 0, struct.pack('=qq', int(time.time()), 0))",
    "host name": "call(170, b'owned', 5)",
    "core pattern": "wrote('/proc/sys/kernel/core_pattern', '')",
    "swap": "call(168, b'/nowhere') or ctypes.get_errno() in (2, 22)",
    "key of a terminal": "push_key()",
    "large pipe": "fcntl.fcntl(os.pipe()[1], 1031, 2**20) >= 2**20",
    "locked memory": "libc.mlock(ctypes.create_string_buffer(2**21), 2**21) == 0",
    "watch of files": "call(253)",
    "signal for files": "fcntl.fcntl(os.pipe()[0], 8, 1) == 0",
}  # fmt: skip
NAMESPACES = {
    "user namespace": "libc.unshare(0x10000000) == 0",
    "mount namespace": "libc.unshare(0x20000) == 0",
    "network namespace": "libc.unshare(0x40000000) == 0",
    "process namespace": "libc.unshare(0x20000000) == 0",
    "namespace of the first": "libc.setns(os.open('/proc/1/ns/uts', os.O_RDONLY), 0) == 0",
    "clone into a user namespace": "child(libc.syscall(56, 0x10000011, 0, 0, 0, 0))",
    "mount": "libc.mount(b'x', b'/tmp', b'tmpfs', 0, None) == 0",
    "new mount calls": "call(430, b'tmpfs', 0)",
    "chroot": "os.chroot('/') is None",
    "root user": "os.getuid() == 0 or os.setuid(0) is None",
    "capabilities": "'CapEff:\\t0000000000000000' not in open('/proc/self/status').read()",
    "privileges by a program": "'NoNewPrivs:\\t0' in open('/proc/self/status').read()",
}  # fmt: skip
NETWORK = {
    "internet": "bool(socket.socket(socket.AF_INET))",
    "internet of six": "bool(socket.socket(socket.AF_INET6))",
    "datagrams": "send_datagram()",
    "vsock to the host": "bool(socket.socket(40, socket.SOCK_STREAM))",
    "netlink": "bool(socket.socket(16, socket.SOCK_RAW))",
    "packets": "bool(socket.socket(17, socket.SOCK_RAW))",
    "ciphers of the kernel": "bool(socket.socket(38, socket.SOCK_SEQPACKET))",
    "a local socket": "bool(socket.socket(socket.AF_UNIX))",
    "an abstract socket": "socket.socket(socket.AF_UNIX).bind('\\0left') is None",
    "a pair with an address": "send_address()",
    "descriptors over a pair": "send_descriptor()",
    "a name": "bool(socket.getaddrinfo('localhost', 80))",
}  # fmt: skip
FILES = {
    "users of the machine": "read('/etc/passwd')",
    "passwords of the machine": "read('/etc/shadow')",
    "folder of the course": "'pyproject.toml' in os.listdir(REPO)",
    "solutions": "bool(os.listdir(REPO + '/solutions'))",
    "tests": "bool(os.listdir(REPO + '/tests'))",
    "the system's root": "'home' in os.listdir('/')",
    "write into the course": "wrote(PACKAGE + '/left.py')",
    "write into Python": f"wrote({os.path.dirname(os.__file__) + '/left.py'!r})",
    "write into the packages": f"wrote({os.path.dirname(nbformat.__file__) + '/left.py'!r})",
    "write into the system": "wrote('/usr/lib/left')",
    "write beside the system": "wrote('/left')",
    "write into devices": "wrote('/dev/left')",
    "remove from the course": "os.rename(PACKAGE + '/cli.py', PACKAGE + '/cli.py') is None",
    "a device": "os.mknod('node', 0o600 | 0o020000, os.makedev(1, 1)) is None",
    "a pipe with a name": "os.mkfifo('pipe') is None",
    "a link": "os.symlink('/etc', 'link') is None",
    "a hard link": "wrote('one') and os.link('one', 'two') is None",
    "a file by handle": "by_handle(b'/')",
    "memory of the machine": "bool(os.open('/dev/mem', os.O_RDONLY))",
    "log of the machine": "bool(os.open('/dev/kmsg', os.O_RDONLY))",
    "settings of the machine": "wrote('/proc/sys/vm/swappiness', '')",
    "killed last": "wrote('/proc/self/oom_score_adj', '-500')",
    "devices of the machine": "bool(os.listdir('/sys'))",
    "large file": "many(33 * 2**20, 1, '.')",
    "many files": "many(1, 4200, '.')",
    "shared memory filled": "many(2**20, 17, '/dev/shm')",
    "secret in the environment": "'SECRET_TOKEN' in os.environ",
}  # fmt: skip
PROBES = {**PROCESSES, **KERNEL, **NAMESPACES, **NETWORK, **FILES}
# these do not succeed in the control either: it lets nothing be written to the system, and some are
# refused, or were left out, by many a Linux itself
NO_CONTROL = {
    *(name for name in FILES if name.startswith(("write into", "write beside", "remove from"))),
    *("key of a terminal", "privileges by a program", "ciphers of the kernel", "killed last"),
    *("memory of the machine", "vsock to the host", "io_uring", "userfaultfd", "keyring"),
    *("keyring read", "secret memory", "perf", "bpf", "log of the machine", "kernel log"),
}


def cell_of(name):
    return (
        f"try:\n    print('GOT' if ({PROBES[name]}) else 'refused')\n"
        "except BaseException as error:\n    print('refused', type(error).__name__, error)"
    )


def outputs_of(graded):
    assert not graded.fault, graded.fault
    return [
        "".join(output.get("text", "") for output in cell.get("outputs", ()))
        for cell in nbformat.reads(graded.notebook.decode(), 4).cells
    ]


def probed(names):
    """Return what each probe answered in one kernel, whose submission keeps full marks."""
    graded = grade("ada", PREPARE, *(cell_of(name) for name in names))
    answered = outputs_of(graded)[-len(names) :]
    assert sum(score or 0 for score in graded.scores.values()) == MAX_MARKS
    return dict(zip(names, answered, strict=True))


def check(answered):
    assert {name: text for name, text in answered.items() if not text.startswith("refused")} == {}


def test_no_probe_gets_what_it_wants(monkeypatch):
    monkeypatch.setenv("SECRET_TOKEN", SECRET)
    check(probed(list(PROBES)))


@pytest.mark.slow
@pytest.mark.root
def test_no_probe_gets_what_it_wants_where_an_ordinary_user_grades():
    code = "from tests.test_hostile_sandbox import *\ncheck(probed(list(PROBES)))\nprint('all')"
    run = ordinary_user.run(code, environment={"SECRET_TOKEN": SECRET})
    assert run.stdout == "all\n", run.stderr


@pytest.mark.slow
def test_without_bubblewrap_a_probe_gets_little(monkeypatch):
    """Filter, limits and Landlock alone: its folder is on the disk, and root stays root."""
    if len(sandbox.protections()) < 2:
        pytest.skip("This system has no Landlock.")
    monkeypatch.setattr(sandbox, "fault", lambda: "left away")
    answered = probed(list(PROBES))
    got = {name for name, text in answered.items() if not text.startswith("refused")}
    # its own folder on the disk has no limit on bytes or files but that on one file
    assert got <= {"many files", "shared memory filled", "root user"}


def without_a_sandbox():
    """Return what each probe says where nothing but the machine's own rules stands in its way.

    The system can only be read there, so that no probe does harm: those that write have no control.
    """
    code = (
        "import json, os, sys\n"
        "from tests.test_hostile_sandbox import *\n"
        "os.environ['SECRET_TOKEN'] = SECRET\n"
        "os.makedirs('/tmp/lens-sandbox-1/work'); os.chdir('/tmp/lens-sandbox-1/work')\n"
        "answered = {}\n"
        "for name in PROBES:\n"
        "    reader, writer = os.pipe()\n"
        "    pid = os.fork()\n"
        "    if pid == 0:\n"
        "        os.dup2(writer, 1)\n"
        "        sys.stdout = os.fdopen(1, 'w')\n"
        "        try: exec(PREPARE + cell_of(name), {'__name__': '__main__'})\n"
        "        finally: sys.stdout.flush(); os._exit(0)\n"
        "    os.close(writer)\n"
        "    with os.fdopen(reader) as file: answered[name] = file.read()\n"
        "    os.waitpid(pid, 0)\n"
        "print(json.dumps(answered))\n"
    )
    command = ["bwrap", "--ro-bind", "/", "/", "--dev-bind", "/dev", "/dev", "--unshare-pid"]
    command += ["--proc", "/proc", "--tmpfs", "/tmp", "--tmpfs", "/dev/shm", "--unshare-uts"]
    command += ["--ro-bind", str(REPO), str(REPO), "--cap-add", "ALL", "--die-with-parent"]
    environment = {**os.environ, "PYTHONPATH": str(REPO)}
    run = subprocess.run(
        [*command, sys.executable, "-c", code], env=environment, capture_output=True, text=True
    )
    assert run.returncode == 0, run.stderr
    return json.loads(run.stdout)


@pytest.mark.slow
@pytest.mark.root
def test_without_a_sandbox_the_probes_succeed():
    answered = without_a_sandbox()
    assert len(PROBES) > 100
    refused = {name for name, text in answered.items() if not text.startswith("GOT")}
    assert refused <= NO_CONTROL


# what needs a notebook of its own: it ends, floods or stops its kernel, or lies to the supervisor
LINE = "import os, json, socket, struct, threading, time\nline = socket.socket(fileno=os.dup(3))\n"
LIE = (
    LINE + "def say(**message):\n    text = json.dumps(message).encode()\n"
    "    line.sendall(struct.pack('>I', len(text)) + text)\n"
)
VALUE = '{"str": "forged"}'
# in a kernel that is the first process itself
OF_ITSELF = {"tgkill of the first", "ptrace", "limits of another", "namespace of the first"}
ATTACKS = {
    "garbage on the line": LINE + "line.sendall(b'\\xff' * 1000)",
    "a frame that is too long": LINE + "line.sendall(struct.pack('>I', 2**31))",
    "a frame without an end": LINE + "line.sendall(struct.pack('>I', 1000) + b'{')",
    "a frame that is no JSON": LINE + "line.sendall(struct.pack('>I', 3) + b'{{{')",
    "a frame nested deeply": LINE + "line.sendall(struct.pack('>I', 10**6) + b'[' * 10**6)",
    "a frame that is a list": LINE + "line.sendall(struct.pack('>I', 2) + b'[]')",
    "a number of many digits": LINE + "line.sendall(struct.pack('>I', 10**5) + b'9' * 10**5)",
    "forged answers": LIE + "for number in range(200):\n    say(number=number, ran_well=True,"
    f" reply=json.dumps({{'value': {VALUE!r}, 'side': 'callable', 'power_d': '{{}}'}}))",
    "answers from a thread": LIE + "def lie():\n    for number in range(10**6):\n"
    f"        say(number=number % 60, reply=json.dumps({{'value': {VALUE!r}}}))\n"
    "threading.Thread(target=lie, daemon=True).start()",
    "outputs that are none": LIE + "for value in (3, None, [], {'a': []}, 'x' * 1000):\n"
    "    for kind in ('stream', 'result', 'error', 'display', 'update', 'clear', 'odd', 3):\n"
    "        for number in range(60):\n"
    "            say(number=number, output=kind, text=value, data=value, ename=value,\n"
    "                evalue=value, traceback=value, display_id=value, wait=value, name=value)",
    "a closed line": "import os\nos.close(3)",
    "a closed line and a loop": "import os\nos.close(3)\nwhile True: pass",
    "everything closed": "import os\nos.closerange(0, 256)",
    "a stolen line": LINE + "def steal():\n    while True: line.recv(100)\n"
    "threading.Thread(target=steal, daemon=True).start()",
    "a line nobody reads": LIE + "time.sleep(100)",
    "a flood on the line": LINE + "while True: line.sendall(bytes(2**20))",
    "a flood of frames": LIE + "while True: say(number=1, output='stream', text='x' * 10**6)",
    "a flood of small frames": LIE + "while True: say()",
    "a flood from a thread": LIE + "def flood():\n    while True: say(text='x' * 10**6)\n"
    "threading.Thread(target=flood, daemon=True).start()",
    "huge results": "'x' * 10**8",
    "huge print": "print('x' * 10**8)",
    "huge errors": "raise ValueError('x' * 10**7)",
    "huge displays": "from IPython.display import display, HTML\n"
    "while True: display(HTML('x' * 10**6))",
    "huge updates": "from IPython.display import display, HTML\nh = display(display_id='u')\n"
    "for _ in range(300): display(HTML('a'), display_id='u')\n"
    "for _ in range(100): h.update(HTML('x' * 10**6))",
    "many small outputs": "from IPython.display import display\nwhile True: display(1)",
    "clear and print": "from IPython.display import clear_output\n"
    "while True:\n    print('x' * 10**5)\n    clear_output()",
    "swallowed interrupts": "import signal\nsignal.signal(signal.SIGINT, signal.SIG_IGN)\n"
    "while True: pass",
    "blocked interrupts": "import signal, time\n"
    "signal.pthread_sigmask(signal.SIG_BLOCK, range(1, 60))\nwhile True: time.sleep(1)",
    "an interrupt that answers": LIE + "import signal\n"
    "signal.signal(signal.SIGINT, lambda *_: say(number=1, ran_well=True))\nwhile True: pass",
    "stopped": "import os, signal\nos.kill(os.getpid(), signal.SIGSTOP)",
    "a crash": "import ctypes\nctypes.string_at(0)",
    "an exit": "import os\nos._exit(0)",
    "an exit of the shell": "exit()",
    "endless recursion in C": "import sys, re\nsys.setrecursionlimit(10**9)\n"
    "def f(): f()\nf()",
    "memory": "hoard = []\nwhile True: hoard.append(bytearray(2**26))",
    "memory that is mapped": "import mmap\nhoard = []\n"
    "while True: hoard.append(mmap.mmap(-1, 2**26)); hoard[-1].write(bytes(2**26))",
    "memory in pipes": "import os\nhoard = []\nwhile True:\n    hoard.append(os.pipe())\n"
    "    os.set_blocking(hoard[-1][1], False); os.write(hoard[-1][1], bytes(2**20))",
    "memory in sockets": "import socket\nhoard = []\nwhile True:\n"
    "    hoard.append(socket.socketpair()); hoard[-1][0].setblocking(False)\n"
    "    hoard[-1][0].setsockopt(1, 7, 2**30); hoard[-1][0].send(bytes(2**20))",
    "threads": "import threading, time\n"
    "while True: threading.Thread(target=time.sleep, args=(60,), daemon=True).start()",
    "disk": "n = 0\nwhile True:\n    n += 1\n"
    "    with open(f'f{n}', 'wb') as file: file.write(bytes(2**24))",
    "files": "n = 0\nwhile True:\n    n += 1\n    open(f'f{n}', 'w').close()",
    "folders in folders": "import os\nfor _ in range(3000):\n    os.mkdir('d'); os.chdir('d')",
    "folder of the sandbox moved": "import os\nf = os.path.dirname(os.getcwd())\n"
    "for name in os.listdir(f):\n    os.rename(f'{f}/{name}', f'{f}/gone-{name}')",
    "folders without rights": "import os\nos.mkdir('a'); os.mkdir('a/b'); os.chmod('a', 0)",
    "shell replaced": "import sys\nfrom shared_utils.grading.inside import answers, shell\n"
    "answers.Kernel._answer = lambda *_: {'ran_well': True, 'reply': '{}'}\n"
    "shell.Shell.run = lambda *_: True",
    "wire format replaced": "from shared_utils.grading import wire_format\n"
    f"wire_format.serialize = lambda value: {VALUE!r}\n"
    "wire_format.deserialize = lambda text: None",
    "json replaced": "import json\njson.dumps = lambda *_, **__: '{\"number\": 3}'",
    "objects of others": "import gc, builtins\n"
    "for thing in gc.get_objects():\n    if isinstance(thing, dict): thing.clear()",
    "modules removed": "import sys\nsys.modules.clear()",
    "processor time": "while True:\n    try:\n        while True: sum(range(10**6))\n"
    "    except BaseException: pass",
}  # fmt: skip
FEW = ("garbage on the line", "forged answers", "a closed line", "huge results", "a crash")
SLOW_S = 30  # a notebook's time is 12 s


def attacked(code, how, first):
    """Return a submission in which a cell attacks before or behind the answers."""
    book = nbformat.reads(handed_in("x").notebook.decode(), 4)
    cell = nbformat.v4.new_code_cell(code)
    if how == "wrong":
        for each in book.cells:
            if each.metadata.get("nbgrader", {}).get("solution") and each.cell_type == "code":
                each.source = "def side(refraction_d):\n    return 'no'\npower_d = 'no'"
    book.cells.insert(0 if first else len(book.cells), cell)
    limits = {"cell_timeout_s": 2, "notebook_timeout_s": 12}
    mine = GradingSpec(**{**vars(spec()), **limits})
    start = time.monotonic()
    graded = grade_submission(mine, Submission("x", nbformat.writes(book).encode(), {}))
    return graded, time.monotonic() - start


def attack_all(names):
    """Let each attack steal, and let it stand behind right answers; honest work goes between."""
    for name in names:
        stealing, seconds = attacked(ATTACKS[name], "wrong", first=True)
        assert stealing.fault == "", (name, stealing.fault)
        assert sum(score or 0 for score in stealing.scores.values()) == 0, (name, stealing.scores)
        assert seconds < SLOW_S, (name, seconds)
        behind, seconds = attacked(ATTACKS[name], "right", first=False)
        assert behind.fault == "", (name, behind.fault)
        assert sum(score or 0 for score in behind.scores.values()) == MAX_MARKS, (name, behind)
        assert seconds < SLOW_S, (name, seconds)
        assert max(len(stealing.notebook), len(behind.notebook)) < 5_000_000, name
        honest = grade("honest")
        assert honest.notes == [], (name, honest.notes)
        assert sum(score or 0 for score in honest.scores.values()) == MAX_MARKS, name
        nothing_is_left()


def nothing_is_left():
    """Check that no process and no folder of this grading is there any more."""
    mine = f"{sandbox.PREFIX}{os.getpid()}-"
    shown = subprocess.run(["ps", "axww"], capture_output=True, text=True).stdout
    assert mine not in shown
    assert not list(Path(tempfile.gettempdir()).glob(f"{mine}*"))


def test_a_few_attacks_on_the_line_steal_nothing():
    attack_all(FEW)


@pytest.mark.long
@pytest.mark.timeout(3000)
def test_nothing_is_stolen_lost_or_left_behind():
    attack_all(list(ATTACKS)[:: size(1, 4)])


@pytest.mark.long
@pytest.mark.root
@pytest.mark.timeout(3000)
def test_nothing_is_stolen_lost_or_left_behind_where_an_ordinary_user_grades():
    step = size(1, 4)
    code = f"from tests.test_hostile_sandbox import *\nattack_all(list(ATTACKS)[::{step}])"
    run = ordinary_user.run(code + "\nprint('all')", timeout=2900)
    assert run.stdout == "all\n", run.stderr


SPOIL = """\
import builtins, os, pathlib, sys, tempfile
import matplotlib, numpy
builtins.left = matplotlib.left = numpy.left = sys.left = "behind"
for place in ("/tmp", "/dev/shm", pathlib.Path.home(), ".", tempfile.gettempdir()):
    (pathlib.Path(place) / "left").write_text("behind")
os.environ["LEFT"] = "behind"
"""
LOOK = """\
import builtins, os, pathlib, sys, tempfile
import matplotlib, numpy
print([hasattr(where, "left") for where in (builtins, matplotlib, numpy, sys)],
      [(pathlib.Path(place) / "left").exists()
       for place in ("/tmp", "/dev/shm", pathlib.Path.home(), ".", tempfile.gettempdir())],
      "LEFT" in os.environ,
      [name for name in ("first-learner", "second-learner") if name in str(os.environ)])
"""


def test_three_notebooks_in_a_row_know_nothing_of_each_other():
    seen = []
    for learner in ("first-learner", "second-learner", "third-learner"):
        seen.append(outputs_of(grade(learner, LOOK, SPOIL, LOOK))[-3:])
    nothing = "[False, False, False, False] [False, False, False, False, False] False"
    for (before, _, after), own in zip(
        seen, (["first-learner"], ["second-learner"], []), strict=True
    ):
        assert before == f"{nothing} {own}\n"
        # control: it would be seen
        assert after == f"{nothing} {own}\n".replace("False", "True")


def test_a_notebook_that_is_too_large_is_a_sentence():
    cells = [nbformat.v4.new_code_cell("") for _ in range(MAX_CELLS)]
    book = nbformat.reads(handed_in("x").notebook.decode(), 4)
    book.cells += cells
    many = grade_submission(spec(), Submission("x", nbformat.writes(book).encode(), {}))
    assert "cells, more than the 1000 that are marked" in many.fault
    sheets = {"nbformat": 3, "nbformat_minor": 0, "metadata": {}}
    old = {"cell_type": "code", "input": "", "outputs": [], "language": "python", "metadata": {}}
    sheets["worksheets"] = [{"cells": [old] * 600}, {"cells": [old] * 600}]
    older = grade_submission(spec(), Submission("x", json.dumps(sheets).encode(), {}))
    assert "1200 cells" in older.fault
    large = handed_in("x").notebook + b" " * MAX_NOTEBOOK_BYTES
    assert "larger than 20 MB" in grade_submission(spec(), Submission("x", large, {})).fault


def test_handed_in_files_travel_to_the_kernel():
    files = {"data.csv": b"1,2", "a/b/large.bin": os.urandom(9_000_000), "empty": b""}
    look = (
        "import hashlib, os\nprint(os.getcwd(), sorted(os.listdir('.')),\n"
        "hashlib.sha256(open('a/b/large.bin', 'rb').read()).hexdigest())"
    )
    book = handed_in("ada", look)
    graded = grade_submission(spec(), Submission("ada", book.notebook, files))
    digest = hashlib.sha256(files["a/b/large.bin"]).hexdigest()
    assert outputs_of(graded)[-1] == f"/tmp/work ['a', 'data.csv', 'empty'] {digest}\n"


def test_a_kernel_pool_that_is_gone_is_no_loss(monkeypatch):
    def missing():
        raise OSError("there is none")

    monkeypatch.setattr(kernel_pool_client, "current_pool", missing)
    names = [name for name in PROBES if name not in ("many files", "files of the first")]
    graded = grade("ada", PREPARE, *(cell_of(name) for name in names))
    answered = dict(zip(names, outputs_of(graded)[-len(names) :], strict=True))
    # it is the first process of its sandbox itself, and shares it with no other
    own = {"kill of the first", "environment of the first", "memory of the first"}
    check({name: text for name, text in answered.items() if name not in own | OF_ITSELF})
