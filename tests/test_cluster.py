"""The same marks from the workers of a Dask cluster, and about as quickly as from workers here."""

import shutil
import time

import pytest

from shared_utils import cli
from shared_utils.grading.supervisor import sandbox
from tests.honest import honest_class
from tests.marking import everything
from tests.sampling import size

pytestmark = pytest.mark.grading
# what its libraries say about each other and about their own threads at the end
pytestmark = [pytestmark, pytest.mark.filterwarnings("ignore")]


@pytest.fixture(scope="module")
def address(tmp_path_factory):
    """A scheduler with two workers, which know nothing of the class."""
    from distributed import LocalCluster

    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("PYTHONPATH", sandbox.PACKAGE.parent.as_posix())
        patch.setenv("DASK_TEMPORARY_DIRECTORY", str(tmp_path_factory.mktemp("dask")))
        with LocalCluster(
            n_workers=2, threads_per_worker=1, dashboard_address=None, silence_logs=50
        ) as cluster:
            yield cluster.scheduler_address


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


@pytest.mark.slow
def test_a_scheduler_that_does_not_answer_gets_one_sentence(tmp_path, monkeypatch, capsys):
    from shared_utils.grading.supervisor import cluster

    monkeypatch.setattr(cluster, "CONNECT_TIMEOUT_S", 1)
    with honest_class(tmp_path, 1, 1) as (room, (name,)):
        line = ["class", "grade", name, "--folder", str(room.folder)]
        assert cli.main([*line, "--cluster", "tcp://127.0.0.1:9"]) == 2
        message = capsys.readouterr().err
        assert message == "lens-course: No Dask scheduler answers at tcp://127.0.0.1:9.\n"
