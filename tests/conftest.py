"""What every test shares."""

import gc
import os
import tempfile

# before numpy loads: a second thread slows small sums many times on a busy machine
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
# pages that keep a learner's progress must not touch the developer's own
os.environ["LENS_COURSE_DATA"] = tempfile.mkdtemp(prefix="lens-course-")

import pytest
from hypothesis import settings

# two slow cores shared with others: a time limit for one example says nothing about the code;
# the same examples every time, so that a run turns red for a change and not by chance
settings.register_profile("course", deadline=None, derandomize=True, max_examples=40)
settings.register_profile("ci", settings.get_profile("course"), max_examples=100)
settings.load_profile("ci" if os.environ.get("CI") else "course")

MAX_WORKERS = 8


def pytest_xdist_auto_num_workers():
    """As many workers as there are processors for this run, hyperthreads counted."""
    count = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count()
    return min(count or 1, MAX_WORKERS)


def pytest_collection_modifyitems(config, items):
    """Leave out what only root can do, where nobody is root."""
    if not hasattr(os, "getuid") or os.getuid() != 0:
        left_out = [item for item in items if item.get_closest_marker("root")]
        items[:] = [item for item in items if item not in left_out]
        config.hook.pytest_deselected(items=left_out)


def pytest_collection_finish():
    """Keep nine thousand tests out of every later garbage collection: some libraries force one."""
    gc.collect()
    gc.freeze()


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(item, call):
    """Turn a check that was skipped into one that failed where all the tools must be there."""
    report = yield
    if report.skipped and os.environ.get("CI") and not hasattr(report, "wasxfail"):
        report.outcome = "failed"
        report.longrepr = f"Skipped, so not checked: {report.longrepr[-1]}"
    return report


@pytest.fixture(scope="session", autouse=True)
def patient():
    """Give a learner's cell more time than a busy machine takes: the limit is for endless loops."""
    from shared_utils.problems import selfcheck

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(selfcheck, "CELL_SECONDS", 60)
        yield


@pytest.fixture(scope="session")
def lab_on_a_copy(tmp_path_factory):
    """JupyterLab on a copy of the course, started once: (folder, address)."""
    from tests import lab

    lab.browser_path()  # skips or fails before the server is started
    folder = tmp_path_factory.mktemp("course")
    with lab.copy_of_course(folder) as root, lab.running_lab(root) as address:
        yield root, address


@pytest.fixture
def page():
    """A fresh page of the headless browser."""
    from tests import lab

    with lab.browser_page() as opened:
        yield opened


@pytest.fixture
def database():
    """The address of an empty database in a PostgreSQL that runs for this test alone."""
    from tests import postgres

    with postgres.running() as address:
        yield address
