"""A hub for a trial: everything on this machine, for invented learners, until it is ended.

All servers run as the user who started it, so nothing separates learners from each other nor from
the class's answers.
"""

from __future__ import annotations

import importlib.util
import json
import os
import secrets
import shutil
import socket
import subprocess
import sys
import time
import urllib.request
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from shared_utils.classroom import deadlines, folder, release
from shared_utils.classroom.hub import files
from shared_utils.classroom.roster import COLUMNS, write_rows
from shared_utils.grading import linux
from shared_utils.grading.supervisor.settings import COURSE_ID
from shared_utils.pages import server

if TYPE_CHECKING:
    from collections.abc import Callable
    from os import PathLike

LEARNERS = {
    "trial-ada": ("Ada", "Trial"),
    "trial-bo": ("Bo", "Trial"),
    "trial-cleo": ("Cleo", "Trial"),
}
FIRST_SET = "01"
PROXY = "configurable-http-proxy"
RUN_VARIABLE = "LENS_COURSE_HUB_RUN"
SECONDS_TO_START = 120
SECONDS_TO_END = 60


class Access(NamedTuple):
    """How a hub that runs is reached."""

    url: str
    password: str


def require_programs() -> None:
    """Refuse a machine without JupyterHub or its proxy.

    Raises
    ------
    ValueError
        With what to do.
    """
    if os.name != "posix":
        raise ValueError("JupyterHub does not run on Windows: try this on Linux.")
    if importlib.util.find_spec("jupyterhub") is None:
        raise ValueError(
            "JupyterHub is not installed: run `pip install -e '.[hub]'` in the course's folder."
        )
    if not shutil.which(PROXY):
        raise ValueError(
            f"JupyterHub's proxy is not installed: run `npm install -g {PROXY}` (npm comes with "
            "Node.js)."
        )


def require_port(port: int) -> None:
    """Refuse a port of this machine that cannot be had.

    Raises
    ------
    ValueError
    """
    if not 1 <= port <= 65535:
        raise ValueError(f"There is no port {port}: give one from 1024 to 65535 with --port.")
    with socket.socket() as tried:
        tried.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            tried.bind(("127.0.0.1", port))
        except OSError as error:
            raise ValueError(
                f"Port {port} cannot be had ({error.strerror}): give another with --port."
            ) from None


def prepare(path: str | PathLike[str], db: str | None = None) -> folder.ClassFolder:
    """Make the class of a trial, or take up that of an earlier one.

    Parameters
    ----------
    path : path-like
        New or empty, or the folder of a class that has no learners but invented ones.
    db : str, optional
        Address of an empty PostgreSQL database for the gradebook of a new class.

    Returns
    -------
    ClassFolder
        Its first set lies in the exchange.

    Raises
    ------
    ValueError
        If the folder is something else, or a real class's.
    """
    place = Path(path).resolve()
    if not place.exists() or (place.is_dir() and not any(place.iterdir())):
        folder.make(place, db=db)
    elif not (place / "nbgrader_config.py").is_file():
        raise ValueError(f"{place} is neither empty nor the folder of a class: name a new folder.")
    elif db:
        raise ValueError(f"{place} is a class with a gradebook already: leave --db out.")
    layout = folder.ClassFolder(place)
    _invent_learners(layout)
    _write_files(layout)
    _release_first(layout)
    deadlines.use_exchange(layout, place / "hub" / "exchange")
    return layout


def _invent_learners(layout):
    """Fill an empty roster; refuse one that names anybody else."""
    others = sorted(layout.roster().keys() - LEARNERS)
    if others:
        raise ValueError(
            f"{layout.path} is a class with learners of its own, such as {others[0]}. On a trial "
            "nothing separates learners from each other or from the answers, so it has invented "
            "ones alone: name a new folder."
        )
    if not layout.roster():
        people = [
            dict(zip(COLUMNS, (learner, *names, ""), strict=True))
            for learner, names in LEARNERS.items()
        ]
        write_rows(layout.path / "roster.csv", COLUMNS, people)


def _write_files(layout):
    hub = layout.path / "hub"
    for part in ("settings", "home", "exchange"):
        (hub / part).mkdir(parents=True, exist_ok=True)
    (hub / "exchange").chmod(0o777)  # as nbgrader wants it; the folder around it is closed
    hub.chmod(0o700)
    files.write(hub / "jupyterhub_config.py", files.template("trial", "jupyterhub_config.py"))
    files.write(
        hub / "settings" / "nbgrader_config.py", files.template("trial", "nbgrader_config.py")
    )
    settings = layout.path / "nbgrader_config.py"
    addition = files.template("trial", "class_config.py")
    text = settings.read_text(encoding="utf-8")
    if "c.Exchange.root" not in text:
        settings.write_text(text + addition, encoding="utf-8")


def _release_first(layout):
    """Put the first set into the exchange, so that there is something to fetch."""
    if not layout.released_sets():
        release.release(layout, FIRST_SET)
    name = layout.released_sets()[0]
    outbound = layout.path / "hub" / "exchange" / COURSE_ID / "outbound" / name
    if not outbound.is_dir():
        nbgrader(layout, "release_assignment", name)


def nbgrader(layout: folder.ClassFolder, *step: str) -> None:
    """Run one of nbgrader's own commands in a class's folder.

    Raises
    ------
    ValueError
        If it fails, with its last line.
    """
    ran = subprocess.run(
        [sys.executable, "-mnbgrader", *step],
        cwd=layout.path,
        env=server.lab_environment(),
        capture_output=True,
        text=True,
        check=False,
    )
    if ran.returncode:
        last = (ran.stderr.strip().splitlines() or ["it does not say why"])[-1]
        raise ValueError(f"`nbgrader {' '.join(step)}` failed in {layout.path}: {last}.")


def serve(layout: folder.ClassFolder, port: int, announce: Callable[[Access], None]) -> int:
    """Start the hub of a trial and stay until it is ended, by Ctrl-C or a signal.

    Parameters
    ----------
    layout : ClassFolder
        Made by ``prepare``.
    port : int
        Where it is reached, on this machine alone.
    announce : callable
        Gets address and password when the hub answers.

    Returns
    -------
    int
        The hub's exit code, 0 after Ctrl-C, or 128 and the number of a signal.

    Raises
    ------
    ValueError
        If a hub runs in this folder already, or this one does not start.
    """
    import fcntl

    place = layout.path / "hub"
    access = Access(f"http://127.0.0.1:{port}", secrets.token_urlsafe(9))
    run = secrets.token_hex(16)
    environment = _environment(port, access.password, run)
    hubs = []

    def stay():
        command = [sys.executable, "-m", "jupyterhub", "-f", "jupyterhub_config.py"]
        with (place / "hub.log").open("ab") as log:
            # Ctrl-C shall reach this process alone, which then ends the hub in order
            hub = subprocess.Popen(
                command,
                cwd=place,
                env=environment,
                stdin=subprocess.DEVNULL,
                stdout=log,
                stderr=log,
                start_new_session=True,
                preexec_fn=partial(linux.die_with_parent, os.getpid()),
            )
        hubs.append(hub)
        _await_hub(hub, access.url, place / "hub.log")
        announce(access)
        return hub.wait()

    def clean_up():
        for hub in hubs:
            server.stop(hub, SECONDS_TO_END)
        _end_what_is_left(run)

    with (place / "lock").open("w") as lock:
        try:
            fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            raise ValueError(
                f"A hub runs in {layout.path} already: end it with Ctrl-C where it was started."
            ) from None
        return server.until_ended(stay, clean_up)


def _environment(port, password, run):
    inner, proxy = _free_ports(2)
    scripts = server.lab_environment()["PATH"]  # first those of this Python
    return os.environ | {
        "PATH": scripts,
        "LENS_COURSE_HUB_PORT": str(port),
        "LENS_COURSE_HUB_INNER_URL": f"http://127.0.0.1:{inner}",
        "LENS_COURSE_HUB_PROXY_URL": f"http://127.0.0.1:{proxy}",
        "LENS_COURSE_HUB_PROXY": shutil.which(PROXY) or PROXY,
        "LENS_COURSE_HUB_PASSWORD": password,
        RUN_VARIABLE: run,
    }


def _free_ports(count):
    tried = [socket.socket() for _ in range(count)]
    try:
        for each in tried:
            each.bind(("127.0.0.1", 0))
        return [each.getsockname()[1] for each in tried]
    finally:
        for each in tried:
            each.close()


def _await_hub(hub, url, log):
    """Wait until the hub answers through its proxy."""
    # a proxy for the web, which the environment may name, does not reach this machine
    opener = urllib.request.build_opener(urllib.request.ProxyHandler({}))
    end = time.monotonic() + SECONDS_TO_START
    while time.monotonic() < end and hub.poll() is None:
        try:
            with opener.open(f"{url}/hub/api/", timeout=5) as answer:
                json.load(answer)["version"]
            return
        except (OSError, ValueError, KeyError):
            time.sleep(0.2)
    raise ValueError(f"The hub did not start; {log} says why in its last lines.")


def _end_what_is_left(run):
    """End what the hub has left behind, such as servers of a hub that was killed.

    Every process of a run carries its number in its environment.
    """
    import psutil

    def left():
        for process in psutil.process_iter():
            try:
                if process.pid != os.getpid() and process.environ().get(RUN_VARIABLE) == run:
                    yield process
            except (psutil.Error, OSError):  # another user's, or it has just ended
                continue

    for ending in ("terminate", "kill"):
        found = list(left())
        for process in found:
            try:
                getattr(process, ending)()
            except psutil.NoSuchProcess:
                continue
        psutil.wait_procs(found, timeout=5)
