"""What every test shares."""

import os
import tempfile

# before numpy loads: a second thread slows small sums many times on a busy machine
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
# pages that keep a learner's progress must not touch the developer's own
os.environ["LENS_COURSE_DATA"] = tempfile.mkdtemp(prefix="lens-course-")

import pytest
from hypothesis import settings

# two slow cores shared with others: a time limit for one example says nothing about the code
settings.register_profile("course", deadline=None)
settings.load_profile("course")


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
