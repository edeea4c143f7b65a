"""A run that is killed at any moment: nothing is half written, and the next one goes on."""

import json
import os
import random
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import pytest

from shared_utils.grading.supervisor import sandbox, settings
from tests.honest import honest_class
from tests.marking import everything
from tests.sampling import size

pytestmark = [
    pytest.mark.grading,
    pytest.mark.skipif(sys.platform == "win32", reason="Windows has no signal to kill with."),
]
CLEAN_UP_TIMEOUT_S = 20


@pytest.fixture
def short_folder():
    """A folder for temporary files, with a name short enough for local sockets."""
    folder = Path(tempfile.mkdtemp(prefix="k"))
    yield folder
    shutil.rmtree(folder)


def grading(room, name, temporary):
    """Start the command that grades a set."""
    # the set's own course lies elsewhere, so the command is told where
    code = (
        "import sys\n"
        "from pathlib import Path\n"
        "from shared_utils import cli\n"
        "from shared_utils.course import place\n"
        "from shared_utils.classroom import folder, release\n"
        "place.course_root = folder.course_root = release.course_root = lambda: Path(sys.argv[1])\n"
        "sys.exit(cli.main(sys.argv[2:]))\n"
    )
    course = room.folder.parent / "course"
    line = ["class", "grade", name, "--workers", "2", "--folder", str(room.folder)]
    return subprocess.Popen(
        [sys.executable, "-c", code, str(course), *line],
        env={**os.environ, "TMPDIR": str(temporary)},
        stdout=subprocess.DEVNULL,
        stderr=subprocess.PIPE,
    )


def marked(room, name):
    return list((room.folder / "autograded").glob(f"*/{name}/{settings.STAMP}"))


def holds(room, name, wanted):
    """Check that what is written is whole: a submission is there as it must be, or not at all."""
    for who, marks in everything(room.folder).items():
        assert marks == wanted[who], who
    for stamp in marked(room, name):
        notebook = json.loads(stamp.with_name("problems.ipynb").read_text(encoding="utf-8"))
        assert notebook["cells"][-1]["id"]
        assert stamp.read_text(encoding="utf-8")


def what_is_left(room, temporary, killed):
    shown = subprocess.run(["ps", "axww"], capture_output=True, text=True).stdout
    left = [line for line in shown.splitlines() if str(temporary) in line]
    left += [line for line in shown.splitlines() if str(room.folder) in line]
    left += [line for line in shown.splitlines() if any(map(sandbox.is_orphan, line.split()))]
    # what the killed one was trying its sandbox with is removed by the next run
    return left + [path for path in temporary.iterdir() if f"-{killed}-" not in path.name]


def nothing_is_left(room, temporary, killed=0):
    """Wait until the workers have noticed, and have taken their folders with them."""
    end = time.monotonic() + CLEAN_UP_TIMEOUT_S
    while what_is_left(room, temporary, killed):
        if time.monotonic() > end:
            # a sandbox whose parent was killed while it was built; the next run removes it
            sandbox.remove_orphans()
            time.sleep(1)
            assert what_is_left(room, temporary, killed) == []
        time.sleep(0.1)


@pytest.mark.parametrize(
    ("count", "kills"),
    [
        pytest.param(5, 2, marks=pytest.mark.slow),
        pytest.param(
            size(60, 10), size(20, 3), marks=[pytest.mark.long, pytest.mark.timeout(2400)]
        ),
    ],
)
def test_a_killed_run_goes_on_where_it_was(tmp_path, short_folder, count, kills):
    chance = random.Random(20)
    with honest_class(tmp_path, count, 1) as (room, (name,)):
        kept = shutil.copytree(room.folder, tmp_path / "kept")
        start = time.monotonic()
        whole = grading(room, name, short_folder)
        while not marked(room, name):
            assert whole.poll() is None, whole.stderr.read()
            time.sleep(0.02)
        first = time.monotonic() - start
        _, error = whole.communicate()
        assert whole.returncode == 0, error
        each = (time.monotonic() - start - first) / (count - 1)
        wanted = everything(room.folder)
        assert len(wanted) == count

        done = 0
        while done < kills:
            shutil.rmtree(room.folder)
            shutil.copytree(kept, room.folder)
            while done < kills:
                run = grading(room, name, short_folder)
                if done % 4 == 0:  # while it gets ready
                    time.sleep(first * chance.uniform(0.1, 1))
                else:  # at any moment after some more were marked
                    more = len(marked(room, name)) + chance.randint(1, max(count // 10, 1))
                    while len(marked(room, name)) < more and run.poll() is None:
                        time.sleep(0.005)
                    time.sleep(each * chance.uniform(0, 1))
                run.send_signal(signal.SIGKILL)
                run.communicate()
                if run.returncode == 0:
                    break
                done += 1
                nothing_is_left(room, short_folder, run.pid)
                holds(room, name, wanted)
            before = {stamp: stamp.stat().st_mtime_ns for stamp in marked(room, name)}
            run = grading(room, name, short_folder)
            _, error = run.communicate()
            assert run.returncode == 0, error
            assert everything(room.folder) == wanted
            assert len(marked(room, name)) == count
            assert not list(short_folder.iterdir())
            # what was marked before was not marked again
            assert all(stamp.stat().st_mtime_ns == then for stamp, then in before.items())


@pytest.mark.slow
def test_a_run_that_is_interrupted_says_so_and_leaves_nothing_running(tmp_path, short_folder):
    with honest_class(tmp_path, 6, 1) as (room, (name,)):
        run = grading(room, name, short_folder)
        while not marked(room, name):
            assert run.poll() is None, run.stderr.read()
            time.sleep(0.02)
        run.send_signal(signal.SIGINT)
        _, error = run.communicate(timeout=60)
        assert run.returncode == 2
        assert error.decode() == "lens-course: stopped.\n"
        nothing_is_left(room, short_folder)
