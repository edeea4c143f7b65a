"""Kernels from the pool: as apart from each other, and as isolated, as those that start cold."""

import json
import os
import subprocess
import sys
from pathlib import Path

import nbformat
import pytest
from nbgrader.utils import compute_checksum

from shared_utils.grading.supervisor import kernel_pool_client, sandbox, worker_pool
from shared_utils.grading.supervisor.grade_submission import Submission, grade_submission
from shared_utils.grading.supervisor.grading_spec import GradingSpec
from shared_utils.pages import build
from tests.honest import SMALL, submission
from tests.marking import REPO

pytestmark = [
    pytest.mark.grading,
    pytest.mark.skipif(not hasattr(os, "pidfd_open"), reason="This platform has no kernel pool."),
]
SET = "99_words"
SOURCE = build.text_to_notebook(SMALL[SET])
MAX_MARKS = 5
needs_sandbox = pytest.mark.skipif(
    bool(sandbox.fault()), reason=f"There is no sandbox here: {sandbox.fault()}."
)

# what a learner's kernel can see and do
INSPECT = """\
import json, os, random, subprocess, sys
import numpy as np
status = open("/proc/self/status").read()
found = {
    "capabilities": {line.split()[1] for line in status.splitlines()
                     if line[:6] in ("CapPrm", "CapEff")},
    "may gain capabilities": "NoNewPrivs:\\t1" not in status,
    "alone in its group": os.getpgrp() == os.getpid(),
    "processes": sum(name.isdigit() for name in os.listdir("/proc")),
    "folders": [name for name in os.listdir("/tmp") if name.startswith("lens-")],
    "network": open("/proc/net/dev").read().count(":") - 1,
    "user": os.getuid(),
    "from the pool": "matplotlib.pyplot" in sys.modules,
    "drawn": [random.random(), float(np.random.random())],
    "mounted": subprocess.run("mount -t tmpfs x /tmp 2> /dev/null", shell=True).returncode,
    "descriptors": [os.readlink(f"/proc/self/fd/{n}") for n in os.listdir("/proc/self/fd")
                    if os.path.exists(f"/proc/self/fd/{n}")],
}
print(json.dumps(found, default=sorted))
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


def spec():
    trusted = {
        cell.metadata.nbgrader.grade_id: (cell.source, compute_checksum(cell))
        for cell in SOURCE.cells
    }
    source, released = (nbformat.writes(book) for book in (SOURCE, build.released(SOURCE)))
    return GradingSpec(SET, source, released, trusted, 10, 60)


def handed_in(learner, *cells):
    notebook = submission(SOURCE, "right", 0)
    notebook.cells += [nbformat.v4.new_code_cell(cell) for cell in cells]
    return Submission(learner, nbformat.writes(notebook).encode(), {})


def grade(learner, *cells):
    return grade_submission(spec(), handed_in(learner, *cells))


def printed(graded):
    assert not graded.fault
    assert sum(score or 0 for score in graded.scores.values()) == MAX_MARKS
    (output,) = nbformat.reads(graded.notebook.decode(), 4).cells[-1].outputs
    return output["text"]


@needs_sandbox
def test_a_pooled_kernel_is_isolated_with_no_capabilities_and_alone():
    found = json.loads(printed(grade("ada", INSPECT)))
    assert found["from the pool"]
    assert found["capabilities"] == ["0" * 16]
    assert found["may gain capabilities"] is False
    assert found["processes"] == 3  # bubblewrap's first, the shell that waits, and itself
    assert len(found["folders"]) == 1
    assert found["alone in its group"]
    assert found["network"] <= 1  # its own loop
    assert found["mounted"] != 0
    assert found["user"] not in (0, os.getuid()) or os.getuid() != 0
    kinds = {path.split(":")[0].split("/")[-1] for path in found["descriptors"]}
    assert kinds <= {"null", "socket", "pipe", "anon_inode", "fd"}, found["descriptors"]


@needs_sandbox
def test_nothing_of_one_submission_is_left_for_the_next():
    grade("ada", SPOIL)
    assert "True" not in printed(grade("bo", FIND))
    drawn = [json.loads(printed(grade("ada", INSPECT)))["drawn"] for _ in range(2)]
    assert not set(drawn[0]) & set(drawn[1])


@pytest.mark.slow
@needs_sandbox
def test_submissions_that_run_at_the_same_time_do_not_see_each_other():
    wait = "import time; time.sleep(1)"
    workers = worker_pool.WorkerPool(spec(), 2)
    try:
        both = list(
            workers.grade([handed_in("ada", wait, INSPECT), handed_in("bo", wait, INSPECT)])
        )
    finally:
        workers.stop()
    folders = [json.loads(printed(graded))["folders"] for graded in both]
    assert [len(names) for names in folders] == [1, 1]
    assert folders[0] != folders[1]


@pytest.mark.slow
def test_without_a_pool_kernels_start_cold_and_give_the_same_marks(monkeypatch):
    def missing():
        raise OSError("there is none")

    monkeypatch.setattr(kernel_pool_client, "current_pool", missing)
    assert printed(grade("ada", "print('cold')")) == "cold\n"


def test_a_pool_that_was_killed_is_replaced():
    grade("ada")
    kernel_pool_client.current_pool().process.kill()
    # this one cold, the next one from a new pool
    assert printed(grade("ada", "print('cold')")) == "cold\n"
    code = "import sys; print('matplotlib.pyplot' in sys.modules)"
    assert printed(grade("ada", code)) == "True\n"


def test_without_a_sandbox_a_kernel_is_ended_with_all_that_it_started(monkeypatch):
    monkeypatch.setattr(sandbox, "fault", lambda: "left away")
    started = "import subprocess, os; print(subprocess.Popen(['sleep', '60']).pid)"
    pid = int(printed(grade("ada", started)))
    try:
        with open(f"/proc/{pid}/stat") as stat:
            assert stat.read().rsplit(")", 1)[1].split()[0] == "Z"
    except FileNotFoundError:
        pass


@pytest.mark.slow
@needs_sandbox
@pytest.mark.root
def test_an_ordinary_users_sandbox_isolates_as_well():
    """The same inspection, from a process of a user who has no capabilities to give up."""
    code = (
        "from tests.test_kernel_pool import *\n"
        "assert not sandbox.fault(), sandbox.fault()\n"
        "print(printed(grade('ada', INSPECT)))"
    )
    # Python may lie where only root can look
    home = os.path.expanduser("~")
    command = ["bwrap", "--bind", "/", "/", "--dev-bind", "/dev", "/dev", "--cap-add", "ALL"]
    command += ["--perms", "0755", "--tmpfs", home]
    for prefix in (sys.base_prefix, sys.prefix, str(REPO)):
        command += [*sandbox.parent_options(Path(prefix)), "--ro-bind", prefix, prefix]
    nobody = ["setpriv", "--reuid=65534", "--regid=65534", "--clear-groups"]
    nobody += ["--inh-caps=-all", "--bounding-set=-all"]
    environment = {**os.environ, "PYTHONPATH": str(REPO), "HOME": "/tmp", "TMPDIR": "/tmp"}
    run = subprocess.run(
        [*command, "--", *nobody, sys.executable, "-c", code],
        env=environment,
        cwd="/",
        capture_output=True,
        text=True,
    )
    assert run.returncode == 0, run.stderr
    found = json.loads(run.stdout.splitlines()[0])
    assert found["from the pool"]
    assert found["user"] == 65534
    assert found["capabilities"] == ["0" * 16]
    assert found["may gain capabilities"] is False
    assert (found["processes"], len(found["folders"])) == (3, 1)
    assert found["alone in its group"]
    assert found["network"] <= 1
    assert found["mounted"] != 0
