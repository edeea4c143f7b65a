"""JupyterLab, opened at a page of the course without a question asked."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import threading
from pathlib import Path
from typing import TYPE_CHECKING

from shared_utils.course import manifest
from shared_utils.course.place import course_root

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Sequence
    from typing import Any

SECONDS_TO_END = 15


def open_course(page: str | None = None, port: int = 8888, browser: bool = True) -> int:
    """Open a page of the course in JupyterLab and stay until it is closed.

    Parameters
    ----------
    page : str, optional
        Number or name of a page, or a notebook's path below the course's folder; the first page
        if not given.
    port : int
        Port to start at; the next free one is taken.
    browser : bool
        Whether to open the web browser.

    Returns
    -------
    int
        Exit code of the server.

    Raises
    ------
    ValueError
        If there is no such page.
    """
    root = course_root()
    place = (root / page).resolve() if page else _notebook(root, "0")
    if not place.is_file() or root not in place.parents:
        place = _notebook(root, page)
    if not place.is_file():
        raise ValueError(f"{place.name} is not built: run `lens-course build` first.")
    # a workspace of its own: no tab of other work stands between the reader and the page
    path = place.relative_to(root).as_posix()
    return open_lab(root, f"/lab/workspaces/lens-course/tree/{path}", port, browser)


def _notebook(root, wanted):
    return root / "lessons" / f"{manifest.of(root).find(wanted).stem}.ipynb"


def open_lab(
    root: Path,
    url_path: str,
    port: int = 8888,
    browser: bool = True,
    extra_arguments: Sequence[str] = (),
) -> int:
    """Start JupyterLab in a folder, at a page, and stay until it is closed.

    Whoever ends this process, by a signal or by closing the terminal, ends JupyterLab with it.

    Parameters
    ----------
    root : pathlib.Path
        Folder that JupyterLab shows.
    url_path : str
        Page to open, from the first slash on.
    port : int
        Port to start at; the next free one is taken.
    browser : bool
        Whether to open the web browser.
    extra_arguments : sequence of str
        Further arguments for the server.

    Returns
    -------
    int
        Exit code of the server, or 128 and the number of the signal that ended it.
    """
    command = lab_command(root, url_path, port, browser, extra_arguments)
    labs = []

    def stay():
        labs.append(subprocess.Popen(command, env=lab_environment(), cwd=root))
        return labs[0].wait()

    def clean_up():
        for lab in labs:
            stop(lab)

    return until_ended(stay, clean_up)


def until_ended(stay: Callable[[], int], clean_up: Callable[[], Any]) -> int:
    """Stay until a server ends, or Ctrl-C or a signal ends this process, and clean up.

    Parameters
    ----------
    stay : callable
        Starts the server, waits for its end and returns its exit code.
    clean_up : callable
        Ends what is left of it; it is called however the first one ends.

    Returns
    -------
    int
        The exit code; 0 after Ctrl-C, 128 and the number of the signal after another.
    """
    before = {}
    if threading.current_thread() is threading.main_thread():  # others cannot receive signals
        for name in ("SIGTERM", "SIGHUP"):
            if number := getattr(signal, name, None):
                before[number] = signal.signal(number, _end)
    try:
        return stay()
    except KeyboardInterrupt:  # Ctrl-C is the usual way to close it
        return 0
    except _Ended as ended:
        return 128 + ended.number
    finally:
        for number in before:
            signal.signal(number, signal.SIG_IGN)  # once is enough
        clean_up()
        for number, handler in before.items():
            signal.signal(number, handler)


class _Ended(BaseException):
    """A signal that ends the process."""

    def __init__(self, number):
        self.number = number


def _end(number, _):
    raise _Ended(number)


def stop(server: subprocess.Popen, seconds: float = SECONDS_TO_END) -> None:
    """Let a server end what it started and itself; kill it if it does not."""
    server.terminate()
    try:
        server.wait(seconds)
    except subprocess.TimeoutExpired:
        server.kill()
        server.wait()


def lab_command(
    root: Path,
    url_path: str,
    port: int = 8888,
    browser: bool = True,
    extra_arguments: Iterable[str] = (),
) -> list[str]:
    """Return the command that starts JupyterLab."""
    command = [
        sys.executable,
        "-m",
        "jupyterlab",
        f"--ServerApp.root_dir={root}",
        f"--LabApp.default_url={url_path}",
        f"--ServerApp.port={port}",
        "--LabApp.news_url=",
        "--LabApp.check_for_updates_class=jupyterlab.NeverCheckForUpdate",
        *extra_arguments,
    ]
    if not browser:
        command.append("--no-browser")
    if hasattr(os, "geteuid") and os.geteuid() == 0:  # root in a container
        command.append("--allow-root")
    return command


def lab_environment() -> dict[str, str]:
    """Return the environment for JupyterLab: our settings beside the user's own."""
    ours = str(Path(__file__).parent / "jupyter")
    scripts = str(Path(sys.executable).parent)  # nbgrader calls a bare `alembic`
    environment = dict(os.environ)
    for variable, first in (("JUPYTER_CONFIG_PATH", ours), ("PATH", scripts)):
        rest = environment.get(variable)
        environment[variable] = os.pathsep.join([first, rest] if rest else [first])
    environment.setdefault("OPENBLAS_NUM_THREADS", "1")
    return environment
