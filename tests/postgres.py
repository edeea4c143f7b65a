"""A PostgreSQL of a test's own."""

import os
import shutil
import subprocess
import tempfile
import time
from contextlib import contextmanager
from pathlib import Path

import pytest


@contextmanager
def running():
    """The address of an empty database in a PostgreSQL that runs for this test alone."""
    programs = {name: _postgres(name) for name in ("initdb", "postgres", "createdb")}
    pytest.importorskip("psycopg", reason="The extra postgres is not installed.")
    folder = Path(tempfile.mkdtemp(prefix="lens-pg-"))
    become = []
    if os.geteuid() == 0:  # which PostgreSQL refuses to run as
        become = ["runuser", "-u", "nobody", "--"]
        shutil.chown(folder, "nobody")
    run = {"cwd": folder, "stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL}
    data, user = str(folder / "data"), "instructor"
    make = [*become, programs["initdb"], "-D", data, "-U", user, "--auth=trust", "-E", "UTF8"]
    subprocess.run(make, check=True, **run)
    serve = [*become, programs["postgres"], "-D", data, "-k", str(folder)]
    server = subprocess.Popen([*serve, "-c", "listen_addresses=", "-c", "fsync=off"], **run)
    try:
        create = [programs["createdb"], "-h", str(folder), "-U", user, "gradebook"]
        for _ in range(120):
            if subprocess.run(create, check=False, **run).returncode == 0:
                break
            time.sleep(0.5)
        yield f"postgresql:///gradebook?host={folder}&user={user}"
    finally:
        server.terminate()
        server.wait(timeout=30)
        shutil.rmtree(folder)


def _postgres(name):
    """Return a program of PostgreSQL's; Debian keeps those of the server out of the PATH."""
    found = sorted(Path("/usr/lib/postgresql").glob(f"*/bin/{name}"))
    program = shutil.which(name) or (str(found[-1]) if found else None)
    return program or pytest.skip(f"There is no {name} here (Debian: apt install postgresql).")
