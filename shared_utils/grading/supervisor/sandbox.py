"""Where a learner's kernel runs: in a folder of its own, with limits, inside bubblewrap.

Bubblewrap shows it a system that can only be read, a private temporary folder, no network, no
other processes, and neither home, solutions, tests nor the class's folder. Without it the limits
stay, where the platform has them.
"""

from __future__ import annotations

import contextlib
import functools
import os
import shutil
import signal
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING

import shared_utils
from shared_utils.course.learner import LEARNER_VARIABLE
from shared_utils.grading.supervisor.settings import STAMP

if TYPE_CHECKING:
    from collections.abc import Mapping
    from os import PathLike

START_KERNEL = "shared_utils.grading.inside.start_kernel"
PACKAGE = Path(shared_utils.__file__).resolve().parent
MAX_FILES_BYTES = 20_000_000
MAX_TEMPORARY_BYTES = 256 * 2**20
# what a program needs to start, and no secret of the instructor's
PASSED_VARIABLES = (
    *("PATH", "LANG", "LC_ALL", "LD_LIBRARY_PATH", "DYLD_LIBRARY_PATH"),
    *("SYSTEMROOT", "SYSTEMDRIVE", "COMSPEC", "PATHEXT", "WINDIR", "TEMP", "TMP"),
)
# the process that made a folder stands in its name, so that what a killed one left can be removed
PREFIX = "lens-sandbox-"
UNPROTECTED = (
    "Learners' code runs without a sandbox here: it cannot see the tests or the right answers "
    "while it is marked, but it could read and change your files and use the network"
)


class Sandbox:
    """A folder for one kernel, with the files that were handed in beside the notebook.

    Parameters
    ----------
    learner : str
        Whose kernel runs here.
    files : dict of str to bytes
        What was handed in beside the notebook, by path.
    isolated : bool
        Whether bubblewrap is put around the kernel.
    """

    def __init__(self, learner: str, files: Mapping[str, bytes], isolated: bool) -> None:
        self.learner, self.isolated = learner, isolated
        self.folder = Path(tempfile.mkdtemp(prefix=f"{PREFIX}{os.getpid()}-")).resolve()
        self.work = self.folder / "work"
        self.sockets = self.folder / "ipc"
        self.home = self.folder / "home"
        for part in (self.work, self.sockets, self.home):
            part.mkdir()
        for name, content in files.items():
            path = self.work / name
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(content)
        # another user than root, to whom the limit on processes applies; one for each grading
        as_root = isolated and os.geteuid() == 0
        self.user = 61_000 + os.getpid() % 4000 if as_root else None
        if self.user is not None:
            for path in (self.folder, *self.folder.rglob("*")):
                os.chown(path, self.user, self.user, follow_symlinks=False)

    def command(self) -> list[str]:
        """Return the kernel's command, as a kernel's specification has it."""
        user = [] if self.user is None else [f"--user={self.user}"]
        inner = [sys.executable, "-P", "-m", START_KERNEL, *user, "-f", "{connection_file}"]
        if not self.isolated:
            return inner
        return [*bubblewrap_command(self.folder), "--chdir", str(self.work), *inner]

    def environment(self) -> dict[str, str]:
        """Return the variables that the kernel sees."""
        return {**minimal_environment(self.home), LEARNER_VARIABLE: self.learner}

    def remove(self) -> None:
        """Remove the folder and all that was left in it."""
        shutil.rmtree(self.folder, ignore_errors=True)


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
    sandbox = Sandbox("nobody", {}, isolated=True)
    try:
        command = [
            *bubblewrap_command(sandbox.folder),
            sys.executable,
            "-P",
            "-c",
            "import shared_utils",
        ]
        result = subprocess.run(command, env=sandbox.environment(), capture_output=True, timeout=60)
    except (OSError, subprocess.TimeoutExpired) as error:
        return f"bubblewrap does not start here: {error}"
    finally:
        sandbox.remove()
    lines = result.stderr.decode(errors="replace").strip().splitlines()
    return f"bubblewrap does not start here: {lines[-1:]}" if result.returncode else ""


def remove_orphans() -> None:
    """Remove the folders of graders that were killed, and the sandboxes that they left half built.

    A bubblewrap whose parent is killed while it maps its users waits for ever for a word of it.
    """
    for path in Path("/proc").glob("[0-9]*/cmdline"):
        with contextlib.suppress(OSError):  # it has ended, or is another user's
            command = path.read_bytes().split(b"\0")
            if command[0] == b"bwrap" and any(
                _is_orphan(Path(os.fsdecode(argument)).name) for argument in command
            ):
                os.kill(int(path.parent.name), signal.SIGKILL)
    for folder in Path(tempfile.gettempdir()).glob(f"{PREFIX}*"):
        if _is_orphan(folder.name):
            shutil.rmtree(folder, ignore_errors=True)


def _is_orphan(name):
    """Return whether a folder's name is that of a sandbox whose grader has ended."""
    owner = name.removeprefix(PREFIX).partition("-")[0]
    return name.startswith(PREFIX) and owner.isdigit() and not Path("/proc", owner).exists()


def bubblewrap_command(folder: Path) -> list[str]:
    """Return the command that runs what follows it inside bubblewrap."""
    options = ["bwrap", "--die-with-parent", "--new-session"]
    options += ["--unshare-pid", "--unshare-net", "--unshare-ipc", "--unshare-uts"]
    options += ["--unshare-cgroup-try", "--hostname", "sandbox"]
    if os.geteuid() == 0:
        # all but those that start_kernel gives up when it changes its user
        options += ["--cap-drop", "ALL"]
        for capability in ("CAP_SETUID", "CAP_SETGID", "CAP_CHOWN", "CAP_DAC_OVERRIDE"):
            options += ["--cap-add", capability]
    else:
        options += ["--unshare-user"]
    options += ["--ro-bind", "/usr", "/usr"]
    for name in ("/bin", "/sbin", "/lib", "/lib32", "/lib64"):
        if os.path.islink(name):
            options += ["--symlink", os.readlink(name), name]
        elif os.path.isdir(name):
            options += ["--ro-bind", name, name]
    for name in ("/etc/ld.so.cache", "/etc/fonts"):  # without fonts a first figure complains
        options += ["--ro-bind-try", name, name]
    options += ["--proc", "/proc", "--dev", "/dev"]
    options += ["--size", str(MAX_TEMPORARY_BYTES), "--perms", "1777", "--tmpfs", "/tmp"]
    visible = []
    for prefix in dict.fromkeys([sys.base_prefix, sys.prefix]):
        path = Path(prefix).resolve()
        if not path.is_relative_to("/usr"):
            options += [*parent_options(path), "--ro-bind", str(path), str(path)]
            visible.append(path)
    for name in ("solutions", "exercises", "lessons", "tests", ".git"):
        hidden = PACKAGE.parent / name
        if any(hidden.is_relative_to(path) for path in visible) and hidden.exists():
            options += ["--tmpfs", str(hidden)]
    # at the path from which the kernel pool has imported it
    options += [*parent_options(PACKAGE), "--ro-bind", str(PACKAGE), str(PACKAGE)]
    return [
        *options,
        *parent_options(folder),
        "--bind",
        str(folder),
        str(folder),
        "--remount-ro",
        "/",
    ]


def parent_options(path: Path) -> list[str]:
    """Return the options that make the folders above a path, open to every user."""
    options: list[str] = []
    for parent in reversed(path.parents[:-1]):
        options += ["--perms", "0755", "--dir", str(parent)]
    return options


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
