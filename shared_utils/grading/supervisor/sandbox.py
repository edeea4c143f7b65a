"""Where a learner's kernel runs: with limits, inside bubblewrap, and with nothing on the disk.

Bubblewrap shows it a system that can only be read, a private temporary folder, no network, no
other processes, and neither home, solutions, tests nor the class's folder. Without it the limits
stay, and the filter of system calls, where the platform has them; the kernel then works in a folder
of its own, which is removed afterwards.
"""

from __future__ import annotations

import contextlib
import functools
import itertools
import os
import shutil
import signal
import subprocess
import sys
import sysconfig
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING

from shared_utils.grading import linux, system_calls
from shared_utils.grading.supervisor import remove_tree
from shared_utils.grading.supervisor.bubblewrap import PACKAGE, bubblewrap_command
from shared_utils.grading.supervisor.settings import STAMP

if TYPE_CHECKING:
    from os import PathLike
    from typing import Any

START_KERNEL = "shared_utils.grading.inside.start_kernel"
MAX_FILES_BYTES = 20_000_000
# what a program needs to start, and no secret of the instructor's
PASSED_VARIABLES = (
    *("PATH", "LANG", "LC_ALL", "LD_LIBRARY_PATH", "DYLD_LIBRARY_PATH"),
    *("SYSTEMROOT", "SYSTEMDRIVE", "COMSPEC", "PATHEXT", "WINDIR", "TEMP", "TMP"),
)
# the process that made a sandbox stands in its name, so that what a killed one left can be removed
PREFIX = "lens-sandbox-"
# what a kernel may read beside Python's own folders, and what it may also write
SYSTEM = ("/usr", "/bin", "/lib", "/lib32", "/lib64", "/etc/ld.so.cache", "/etc/fonts")
PROC = ("/proc",)
OWN_PROC = ("/proc/self", "/proc/cpuinfo", "/proc/meminfo", "/proc/stat")
DEVICES = ("/dev/null", "/dev/zero", "/dev/full", "/dev/random", "/dev/urandom")
SHARED = ("/dev/shm",)
_numbers = itertools.count()


class Sandbox:
    """A place for one kernel.

    Parameters
    ----------
    isolated : bool
        Whether bubblewrap is put around the kernel.
    """

    def __init__(self, isolated: bool) -> None:
        self.isolated = isolated
        number = next(_numbers)
        self.name = f"{PREFIX}{os.getpid()}-{number}"
        self.folder: Path | None = None
        if isolated:
            place = Path("/tmp")  # its own, in memory: see bubblewrap
        else:
            place = self.folder = Path(tempfile.mkdtemp(prefix=f"{self.name}-")).resolve()
        self.work, self.home = place / "work", place / "home"
        # another user than root, to whom the limit on processes applies; two for each grading, in
        # turn, since the next sandbox may be made while this one is used
        as_root = isolated and os.geteuid() == 0
        self.user = 61_000 + (2 * os.getpid() + number % 2) % 4000 if as_root else None

    def settings(self, processor_s: int) -> dict[str, Any]:
        """Return what a kernel is told of the place it runs in."""
        return {
            "user": self.user,
            "isolated": self.isolated,
            "shares_sandbox": self.isolated,
            "filtered": "calls" in protections(),
            "processor_s": processor_s,
            "work": str(self.work),
            "home": str(self.home),
            "readable": [*readable_paths(), *(PROC if self.isolated else OWN_PROC)],
            "writable": [str(self.work.parent), *DEVICES, *(SHARED if self.isolated else ())],
        }

    def environment(self) -> dict[str, str]:
        """Return the variables that the kernel sees; whose it is it learns later."""
        own = {"TMPDIR": str(self.folder)} if self.folder else {}
        return {**minimal_environment(self.home), **own}

    def remove(self) -> None:
        """Remove what was left on the disk."""
        if self.folder:
            remove_tree.remove(self.folder)


@functools.cache
def readable_paths() -> tuple[str, ...]:
    """Return what a kernel reads beside its own files: the system's libraries and Python's."""
    python = {sysconfig.get_path(name) for name in ("stdlib", "platstdlib", "purelib", "platlib")}
    libraries = {os.path.join(prefix, "lib") for prefix in (sys.prefix, sys.base_prefix)}
    return (*SYSTEM, *sorted(python | libraries), str(PACKAGE))


def minimal_environment(home: str | PathLike[str]) -> dict[str, str]:
    """Return the variables of a process that must know no secret, with a home of its own."""
    home = Path(home)
    return {
        **{name: os.environ[name] for name in PASSED_VARIABLES if name in os.environ},
        "HOME": str(home),
        "USERPROFILE": str(home),
        "IPYTHONDIR": str(home / "ipython"),
        "MPLCONFIGDIR": str(home / "matplotlib"),
        "MPLBACKEND": "module://matplotlib_inline.backend_inline",
        "PYTHONPATH": str(PACKAGE.parent),
        "PYTHONSAFEPATH": "1",
        "PYTHONDONTWRITEBYTECODE": "1",
        "OPENBLAS_NUM_THREADS": "1",
    }


@functools.cache
def fault() -> str:
    """Return why there is no sandbox here, as the end of a sentence; empty if there is one."""
    if not sys.platform.startswith("linux"):
        return "bubblewrap is for Linux alone"
    if not shutil.which("bwrap"):
        return "bubblewrap is not installed (Debian: apt install bubblewrap)"
    remove_orphans()
    sandbox = Sandbox(isolated=True)
    # an ordinary user's kernel makes a user namespace inside; root's may do without
    own = "" if os.geteuid() == 0 else "; linux.enter_own_user_namespace()"
    python = [sys.executable, "-P", "-c", f"from shared_utils.grading import linux{own}"]
    command = [*bubblewrap_command(sandbox.name), *python]
    try:
        result = subprocess.run(command, env=sandbox.environment(), capture_output=True, timeout=60)
    except (OSError, subprocess.TimeoutExpired) as error:
        return f"bubblewrap does not start here: {error}"
    lines = result.stderr.decode(errors="replace").strip().splitlines()
    return f"bubblewrap does not start here: {lines[-1:]}" if result.returncode else ""


@functools.cache
def protections() -> frozenset[str]:
    """Return what protects this machine where there is no sandbox, and inside it as well.

    ``calls``, the filter for system calls, and ``files``, Landlock.
    """
    found = {"calls": _filter_loads(), "files": bool(linux.landlock_version())}
    return frozenset(name for name, there in found.items() if there)


def _filter_loads():
    """Return whether a process here can load the filter, by letting one do it."""
    if not system_calls.numbers():
        return False
    code = (
        "import os, sys\nfrom shared_utils.grading import linux\n"
        "sys.exit(not linux.load_filter(os.getpid()))"
    )
    environment = minimal_environment("/nonexistent")
    python = [sys.executable, "-P", "-c", code]
    return subprocess.run(python, env=environment, capture_output=True).returncode == 0


def unprotected() -> str:
    """Return what is not protected here while learners' code is marked, in sentences.

    Returns
    -------
    str
        Empty if nothing is missing.
    """
    why, there = fault(), protections()
    if not why:
        return "" if "calls" in there else UNFILTERED
    if not there:
        return f"{UNPROTECTED} {MARK_ELSEWHERE} Why: {why}."
    return f"There is no sandbox here: learners' code {OPEN[there]} Why: {why}."


UNFILTERED = (
    "The sandbox stands, but system calls are not filtered on this processor: a learner's code "
    "can start processes and fill the memory."
)
UNPROTECTED = (
    "Learners' code runs without protection here: while it is marked it can read, change and "
    "delete your files and use the network."
)
MARK_ELSEWHERE = "Mark on Linux, or pass --require-sandbox."
OPEN = {
    frozenset({"calls", "files"}): (
        "cannot start programs, use the network or read your files, but can see that they exist. "
        "`apt install bubblewrap` adds the sandbox."
    ),
    frozenset({"calls"}): (
        "cannot start programs or use the network, but it can read and change your files. "
        "`apt install bubblewrap` adds the sandbox."
    ),
    frozenset({"files"}): (
        "cannot read your files, but it can start programs and use the network. "
        "`apt install bubblewrap` adds the sandbox."
    ),
}


def remove_orphans() -> None:
    """Remove the folders of graders that were killed, and the sandboxes that they left half built.

    A bubblewrap whose parent is killed while it maps its users waits for ever for a word of it.
    """
    for path in Path("/proc").glob("[0-9]*/cmdline"):
        with contextlib.suppress(OSError):  # it has ended, or is another user's
            command = path.read_bytes().split(b"\0")
            if command[0] == b"bwrap" and any(is_orphan(os.fsdecode(part)) for part in command):
                os.kill(int(path.parent.name), signal.SIGKILL)
    for folder in Path(tempfile.gettempdir()).glob(f"{PREFIX}*"):
        if is_orphan(folder.name):
            remove_tree.remove(folder)


def is_orphan(name: str) -> bool:
    """Return whether a name is that of a sandbox, or of its folder, whose grader has ended."""
    owner = name.removeprefix(PREFIX).partition("-")[0]
    return name.startswith(PREFIX) and owner.isdigit() and not Path("/proc", owner).exists()


def files_beside(folder: str | PathLike[str]) -> dict[str, bytes]:
    """Return what was handed in beside the notebook, by path; neither notebooks nor links.

    Parameters
    ----------
    folder : path-like
        That of the submission.

    Returns
    -------
    dict of str to bytes
        As much as fits into ``MAX_FILES_BYTES``.
    """
    files, left = {}, MAX_FILES_BYTES
    for path in sorted(Path(folder).rglob("*")):
        if path.is_symlink() or not path.is_file() or path.suffix == ".ipynb" or path.name == STAMP:
            continue
        left -= path.stat().st_size
        if left < 0:
            break
        with contextlib.suppress(OSError):  # one that nobody may read
            files[path.relative_to(folder).as_posix()] = path.read_bytes()
    return files
