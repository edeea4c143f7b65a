"""Kernels forked from a warm process: as apart from each other, and as boxed in, as cold ones."""

import json
import os
import subprocess
import sys
from pathlib import Path

import nbformat
import pytest
from nbgrader.utils import compute_checksum

from shared_utils.grading import kernel_pool
from shared_utils.grading.supervisor import sandbox, worker_pool
from shared_utils.grading.supervisor.grade_submission import Work, mark
from shared_utils.grading.supervisor.grading_spec import Kit
from shared_utils.pages import build
from tests.honest import SMALL, submission
from tests.marking import REPO

pytestmark = [
    pytest.mark.grading,
    pytest.mark.skipif(not hasattr(os, "pidfd_open"), reason="Kernels are cold on this platform."),
]
SET = "99_words"
SOURCE = build.text_to_notebook(SMALL[SET])
MOST = 5
boxed = pytest.mark.skipif(
    bool(sandbox.fault()), reason=f"There is no box here: {sandbox.fault()}."
)

# what a learner's kernel can see and do
LOOK = """\
import json, os, random, subprocess, sys
import numpy as np
status = open("/proc/self/status").read()
told = {
    "powers": {line.split()[1] for line in status.splitlines() if line[:6] in ("CapPrm", "CapEff")},
    "new powers": "NoNewPrivs:\\t1" not in status,
    "alone in its group": os.getpgrp() == os.getpid(),
    "processes": sum(name.isdigit() for name in os.listdir("/proc")),
    "folders": [name for name in os.listdir("/tmp") if name.startswith("lens-")],
    "network": open("/proc/net/dev").read().count(":") - 1,
    "user": os.getuid(),
    "warm": "matplotlib.pyplot" in sys.modules,
    "drawn": [random.random(), float(np.random.random())],
    "mounted": subprocess.run("mount -t tmpfs x /tmp 2> /dev/null", shell=True).returncode,
    "descriptors": [os.readlink(f"/proc/self/fd/{n}") for n in os.listdir("/proc/self/fd")
                    if os.path.exists(f"/proc/self/fd/{n}")],
}
print(json.dumps(told, default=sorted))
"""
SPOIL = """\
import builtins, pathlib, sys
from shared_utils.problems import checks
import matplotlib
builtins.left = checks.left = matplotlib.left = "behind"
for place in ("/tmp", pathlib.Path.home(), "."):
    (pathlib.Path(place) / "left").write_text("behind")
"""
FIND = """\
import builtins, pathlib
from shared_utils.problems import checks
import matplotlib
print([hasattr(where, "left") for where in (builtins, checks, matplotlib)],
      [(pathlib.Path(place) / "left").exists() for place in ("/tmp", pathlib.Path.home(), ".")])
"""


def kit():
    trusted = {
        cell.metadata.nbgrader.grade_id: (cell.source, compute_checksum(cell))
        for cell in SOURCE.cells
    }
    source, released = (nbformat.writes(book) for book in (SOURCE, build.released(SOURCE)))
    return Kit(SET, source, released, trusted, 10, 60)


def handed_in(learner, *cells):
    notebook = submission(SOURCE, "right", 0)
    notebook.cells += [nbformat.v4.new_code_cell(cell) for cell in cells]
    return Work(learner, nbformat.writes(notebook).encode(), {})


def said(marked):
    assert not marked.fault
    assert sum(score or 0 for score in marked.scores.values()) == MOST
    (output,) = nbformat.reads(marked.notebook.decode(), 4).cells[-1].outputs
    return output["text"]


@boxed
def test_a_warm_kernel_is_boxed_in_with_no_powers_and_alone():
    told = json.loads(said(mark(kit(), handed_in("ada", LOOK))))
    assert told["warm"]
    assert told["powers"] == ["0" * 16]
    assert told["new powers"] is False
    assert told["processes"] == 3  # the box's first, the one that waits, and itself
    assert len(told["folders"]) == 1
    assert told["alone in its group"]
    assert told["network"] <= 1  # its own loop
    assert told["mounted"] != 0
    assert told["user"] not in (0, os.getuid()) or os.getuid() != 0
    kinds = {path.split(":")[0].split("/")[-1] for path in told["descriptors"]}
    assert kinds <= {"null", "socket", "pipe", "anon_inode", "fd"}, told["descriptors"]


@boxed
def test_nothing_of_one_submission_is_left_for_the_next():
    mark(kit(), handed_in("ada", SPOIL))
    assert "True" not in said(mark(kit(), handed_in("bo", FIND)))
    drawn = [json.loads(said(mark(kit(), handed_in("ada", LOOK))))["drawn"] for _ in range(2)]
    assert not set(drawn[0]) & set(drawn[1])


@pytest.mark.slow
@boxed
def test_submissions_that_run_at_the_same_time_do_not_see_each_other():
    wait = "import time; time.sleep(1)"
    crew = worker_pool.Crew(kit(), 2)
    try:
        both = list(crew.mark([handed_in("ada", wait, LOOK), handed_in("bo", wait, LOOK)]))
    finally:
        crew.stop()
    folders = [json.loads(said(marked))["folders"] for marked in both]
    assert [len(seen) for seen in folders] == [1, 1]
    assert folders[0] != folders[1]


@pytest.mark.slow
def test_without_a_warm_process_kernels_start_cold_and_give_the_same_marks(monkeypatch):
    def missing():
        raise OSError("there is none")

    monkeypatch.setattr(kernel_pool, "nursery", missing)
    assert said(mark(kit(), handed_in("ada", "print('cold')"))) == "cold\n"


def test_a_warm_process_that_was_killed_is_replaced():
    mark(kit(), handed_in("ada"))
    kernel_pool.nursery().process.kill()
    # this one cold, the next one warm again
    assert said(mark(kit(), handed_in("ada", "print('cold')"))) == "cold\n"
    found = "import sys; print('matplotlib.pyplot' in sys.modules)"
    assert said(mark(kit(), handed_in("ada", found))) == "True\n"


def test_without_a_box_a_kernel_is_ended_with_all_that_it_started(monkeypatch):
    monkeypatch.setattr(sandbox, "fault", lambda: "left away")
    started = "import subprocess, os; print(subprocess.Popen(['sleep', '60']).pid)"
    pid = int(said(mark(kit(), handed_in("ada", started))))
    try:
        with open(f"/proc/{pid}/stat") as stat:
            assert stat.read().rsplit(")", 1)[1].split()[0] == "Z"
    except FileNotFoundError:
        pass


@pytest.mark.slow
@boxed
@pytest.mark.skipif(os.name == "nt" or os.getuid() != 0, reason="Only root can become another.")
def test_an_ordinary_users_box_is_as_tight():
    """The same look around, from a process of a user who has no powers to give up."""
    code = (
        "from tests.test_warm import *\n"
        "assert not sandbox.fault(), sandbox.fault()\n"
        "print(said(mark(kit(), handed_in('ada', LOOK))))"
    )
    # Python may lie where only root can look
    home = os.path.expanduser("~")
    walls = ["bwrap", "--bind", "/", "/", "--dev-bind", "/dev", "/dev", "--cap-add", "ALL"]
    walls += ["--perms", "0755", "--tmpfs", home]
    for prefix in (sys.base_prefix, sys.prefix, str(REPO)):
        walls += [*sandbox._parents(Path(prefix)), "--ro-bind", prefix, prefix]
    nobody = ["setpriv", "--reuid=65534", "--regid=65534", "--clear-groups"]
    nobody += ["--inh-caps=-all", "--bounding-set=-all"]
    environment = {**os.environ, "PYTHONPATH": str(REPO), "HOME": "/tmp", "TMPDIR": "/tmp"}
    run = subprocess.run(
        [*walls, "--", *nobody, sys.executable, "-c", code],
        env=environment,
        cwd="/",
        capture_output=True,
        text=True,
    )
    assert run.returncode == 0, run.stderr
    told = json.loads(run.stdout.splitlines()[0])
    assert told["warm"]
    assert told["user"] == 65534
    assert told["powers"] == ["0" * 16]
    assert told["new powers"] is False
    assert (told["processes"], len(told["folders"])) == (3, 1)
    assert told["alone in its group"]
    assert told["network"] <= 1
    assert told["mounted"] != 0
