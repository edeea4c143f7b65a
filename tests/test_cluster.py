"""The same marks from the workers of a Dask cluster, and about as quickly as from workers here."""

import os
import shutil
import time
from contextlib import contextmanager

import pytest

from shared_utils import cli
from shared_utils.grading.supervisor import sandbox
from tests.honest import honest_class
from tests.marking import everything
from tests.sampling import size

pytestmark = pytest.mark.grading
# what its libraries say about each other and about their own threads at the end
pytestmark = [pytestmark, pytest.mark.filterwarnings("ignore")]


@contextmanager
def scheduler(folder, workers):
    """Give the address of a scheduler with workers that know nothing of the class."""
    from distributed import LocalCluster

    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("PYTHONPATH", sandbox.PACKAGE.parent.as_posix())
        patch.setenv("DASK_TEMPORARY_DIRECTORY", str(folder))
        with LocalCluster(
            n_workers=workers, threads_per_worker=1, dashboard_address=None, silence_logs=50
        ) as cluster:
            yield cluster.scheduler_address


@pytest.fixture(scope="module")
def address(tmp_path_factory):
    """A scheduler with two workers."""
    with scheduler(tmp_path_factory.mktemp("dask"), 2) as found:
        yield found


@pytest.mark.parametrize(
    "count",
    [
        pytest.param(4, marks=pytest.mark.slow),
        pytest.param(size(30, 6), marks=[pytest.mark.long, pytest.mark.timeout(1500)]),
    ],
)
def test_the_gradebook_is_the_same(tmp_path, address, count):
    with honest_class(tmp_path, count, 1) as (room, (name,)):
        kept = shutil.copytree(room.folder, tmp_path / "kept")
        line = ["class", "grade", name, "--folder", str(room.folder)]
        assert cli.main([*line, "--cluster", address]) == 0
        there = everything(room.folder)
        pages = sorted(path.parent.parent.name for path in marked(room, name))
        shutil.rmtree(room.folder)
        shutil.copytree(kept, room.folder)
        assert cli.main([*line, "--workers", "2"]) == 0
        assert everything(room.folder) == there
        assert sorted(path.parent.parent.name for path in marked(room, name)) == pages
        assert len(pages) == count


def marked(room, name):
    return (room.folder / "autograded").glob(f"*/{name}/problems.ipynb")


@pytest.mark.benchmark
@pytest.mark.long
@pytest.mark.timeout(1500)
def test_two_workers_of_a_cluster_are_about_as_quick_as_two_here(tmp_path, address, capsys):
    with honest_class(tmp_path, 30, 1) as (room, (name,)):
        list(room.grade(name, cluster=address))  # a cluster that stands has imported everything
        took = {"here": [], "there": []}
        for _ in range(3):
            for where, how in (("here", {"workers": 2}), ("there", {"cluster": address})):
                start = time.monotonic()
                results = list(room.grade(name, again=True, **how))
                took[where].append(time.monotonic() - start)
                assert all(result.marks is not None for result in results)
        ratio = sum(took["here"]) / sum(took["there"])
        with capsys.disabled():
            print("two workers here, there (s):", took, f"ratio {ratio:.2f}")
        assert ratio >= 0.8


@pytest.mark.benchmark
@pytest.mark.long
@pytest.mark.timeout(7200)
def test_five_thousand_submissions_on_two_and_on_four_processes(tmp_path, monkeypatch, capsys):
    from shared_utils.grading.supervisor import cluster

    grade, waiting, max_waiting = cluster.Cluster.grade, 0, 0

    def counted(self, submissions):
        def taken():
            nonlocal waiting, max_waiting
            for submission in submissions:
                waiting += 1
                max_waiting = max(max_waiting, waiting)
                yield submission

        nonlocal waiting
        for graded in grade(self, taken()):
            waiting -= 1
            yield graded

    monkeypatch.setattr(cluster.Cluster, "grade", counted)
    count = size(5_000, 40)
    with honest_class(tmp_path, count, 1) as (room, (name,)):
        for workers in (2, 4):
            dask, max_waiting = tmp_path / f"dask{workers}", 0
            with scheduler(dask, workers) as address:
                list(room.grade(name, room.learners(name)[:workers], again=True, cluster=address))
                start = time.monotonic()
                results = list(room.grade(name, again=True, cluster=address))
                seconds = time.monotonic() - start
            assert len(results) == count
            assert all(result.marks is not None and not result.notes for result in results)
            # however many were handed in, no more are read than the workers have before them
            assert max_waiting <= cluster.QUEUED_PER_WORKER * workers + 1
            with capsys.disabled():
                rate, load = count / seconds, os.getloadavg()[0]
                print(f"\n{count} submissions, {workers} processes: {rate:.1f} a second; ", end="")
                print(f"load {load:.1f} on {os.cpu_count()} processors")


@pytest.mark.slow
def test_a_scheduler_that_does_not_answer_gets_one_sentence(tmp_path, monkeypatch, capsys):
    from shared_utils.grading.supervisor import cluster

    monkeypatch.setattr(cluster, "CONNECT_TIMEOUT_S", 1)
    with honest_class(tmp_path, 1, 1) as (room, (name,)):
        line = ["class", "grade", name, "--folder", str(room.folder)]
        assert cli.main([*line, "--cluster", "tcp://127.0.0.1:9"]) == 2
        message = capsys.readouterr().err
        assert message == "lens-course: No Dask scheduler answers at tcp://127.0.0.1:9.\n"
