"""Kernels from the pool: as apart from each other, and as isolated, as those that start cold."""

import contextlib
import json
import os
from pathlib import Path

import nbformat
import pytest
from nbgrader.utils import compute_checksum

from shared_utils.grading.supervisor import kernel_pool_client, sandbox, worker_pool
from shared_utils.grading.supervisor.grade_submission import Submission, grade_submission
from shared_utils.grading.supervisor.grading_spec import GradingSpec
from shared_utils.pages import build
from tests import ordinary_user
from tests.honest import SMALL, submission

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
import ctypes, json, os, random, sys
import numpy as np
status = open("/proc/self/status").read()
found = {
    "capabilities": {line.split()[1] for line in status.splitlines()
                     if line[:6] in ("CapPrm", "CapEff")},
    "may gain capabilities": "NoNewPrivs:\\t1" not in status,
    "alone in its group": os.getpgrp() == os.getpid(),
    "processes": sum(name.isdigit() for name in os.listdir("/proc")),
    "folders": sorted(os.listdir("/tmp")),
    "network": open("/proc/net/dev").read().count(":") - 1,
    "user": os.getuid(),
    "from the pool": "matplotlib.pyplot" in sys.modules,
    "drawn": [random.random(), float(np.random.random())],
    "mounted": ctypes.CDLL(None).mount(b"x", b"/tmp", b"tmpfs", 0, None),
    "filtered": "Seccomp:\\t2" in status,
    "own users": open("/proc/self/uid_map").read().split(),
    "limits": open("/proc/self/limits").read(),
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
    assert found["folders"] == ["home", "work"]
    assert found["filtered"]
    assert found["own users"] == [str(found["user"])] * 2 + ["1"]
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
    leave = "import os, time; open('/tmp/' + os.environ['LENS_COURSE_LEARNER'], 'w')"
    look = f"{leave}\ntime.sleep(1)\nprint(sorted(os.listdir('/tmp')))"
    workers = worker_pool.WorkerPool(spec(), 2)
    try:
        both = list(workers.grade([handed_in("ada", look), handed_in("bo", look)]))
    finally:
        workers.stop()
    seen = {graded.learner: printed(graded) for graded in both}
    assert seen == {"ada": "['ada', 'home', 'work']\n", "bo": "['bo', 'home', 'work']\n"}


@pytest.mark.slow
def test_without_a_pool_kernels_start_cold_and_give_the_same_marks(monkeypatch):
    def missing():
        raise OSError("there is none")

    monkeypatch.setattr(kernel_pool_client, "current_pool", missing)
    assert printed(grade("ada", "print('cold')")) == "cold\n"


def test_a_pool_that_was_killed_is_replaced(monkeypatch):
    # other tests of this process have ended theirs too
    monkeypatch.setattr(kernel_pool_client, "MAX_STARTS", 100)
    grade("ada")
    kernel_pool_client.current_pool().process.kill()
    # this one cold, the next one from a new pool
    assert printed(grade("ada", "print('cold')")) == "cold\n"
    code = "import sys; print('matplotlib.pyplot' in sys.modules)"
    assert printed(grade("ada", code)) == "True\n"


def test_without_a_sandbox_a_kernel_starts_no_process_and_is_gone_with_its_folder(monkeypatch):
    monkeypatch.setattr(sandbox, "fault", lambda: "left away")
    code = (
        "import os, subprocess\n"
        "try:\n    subprocess.Popen(['sleep', '60'])\n"
        "except PermissionError:\n    print(os.getpid(), os.getcwd())"
    )
    pid, folder = printed(grade("ada", code)).split()
    assert Path(folder).parent.name.startswith(sandbox.PREFIX)
    assert not Path(folder).parent.exists()
    with contextlib.suppress(FileNotFoundError):  # or the pool has not asked for it yet
        assert Path("/proc", pid, "stat").read_text().rsplit(")", 1)[1].split()[0] == "Z"


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
    run = ordinary_user.run(code)
    assert run.returncode == 0, run.stderr
    found = json.loads(run.stdout.splitlines()[0])
    assert found["from the pool"]
    assert found["user"] == 65534
    assert found["capabilities"] == ["0" * 16]
    assert found["may gain capabilities"] is False
    assert (found["processes"], found["folders"]) == (3, ["home", "work"])
    assert found["filtered"]
    assert found["own users"] == ["65534", "65534", "1"]
    assert found["alone in its group"]
    assert found["network"] <= 1
    assert found["mounted"] != 0
