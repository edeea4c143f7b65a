"""A folder is removed whatever lies in it, and nothing outside it is touched."""

import os
import shutil
import subprocess
import sys
import threading

import pytest

from shared_utils.grading.supervisor import remove_tree
from tests import ordinary_user
from tests.test_kernel_pool import needs_sandbox

pytestmark = pytest.mark.skipif(
    not remove_tree.HAS_DESCRIPTORS, reason="This platform cannot open folders in folders."
)


@pytest.fixture
def outside(tmp_path):
    """A folder beside the one that is removed, and what is in it."""
    folder = tmp_path / "outside"
    (folder / "below").mkdir(parents=True)
    (folder / "file").write_text("kept", encoding="utf-8")
    (folder / "below" / "file").write_text("kept", encoding="utf-8")
    yield folder
    assert (folder / "file").read_text(encoding="utf-8") == "kept"
    assert (folder / "below" / "file").read_text(encoding="utf-8") == "kept"


def nest(folder, depth):
    """Make folders in folders, deeper than a path can say, with a file in each."""
    code = (
        "import os, sys\nos.chdir(sys.argv[1])\nfor _ in range(int(sys.argv[2])):\n"
        "    os.mkdir('d'); os.chdir('d'); open('f', 'w').close()\n"
    )
    subprocess.run([sys.executable, "-c", code, str(folder), str(depth)], check=True)


def test_a_folder_with_links_is_removed_and_they_are_not_followed(tmp_path, outside):
    folder = tmp_path / "work"
    folder.mkdir()
    (folder / "link").symlink_to(outside)
    (folder / "file link").symlink_to(outside / "file")
    (folder / "dead link").symlink_to("nowhere")
    (folder / "up").symlink_to("..")
    os.link(outside / "file", folder / "hard link")
    os.mkfifo(folder / "pipe")
    (folder / "a").mkdir()
    (folder / "a" / "self").symlink_to(folder)
    for number in range(200):
        (folder / "a" / str(number)).mkdir()
    assert remove_tree.remove(folder)
    assert not folder.exists()


def test_three_thousand_folders_deep(tmp_path, outside):
    folder = tmp_path / "work"
    folder.mkdir()
    nest(folder, 3000)
    # control: what was used before
    with pytest.raises(RecursionError):
        shutil.rmtree(folder, ignore_errors=True)
    assert remove_tree.remove(folder)


def test_a_link_in_the_folders_own_place_is_left_alone(tmp_path, outside):
    (tmp_path / "work").symlink_to(outside)
    assert not remove_tree.remove(tmp_path / "work")
    assert (tmp_path / "work").is_symlink()


def test_a_folder_that_is_swapped_for_a_link_meanwhile(tmp_path, outside):
    for _ in range(30):
        folder = tmp_path / "work"
        for number in range(40):
            (folder / str(number)).mkdir(parents=True)
        done = threading.Event()

        def swap(folder=folder, done=done):
            while not done.is_set():
                for number in range(40):
                    try:
                        os.rename(folder / str(number), folder / f"gone{number}")
                        os.symlink(outside, folder / str(number))
                    except OSError:
                        pass

        swapping = threading.Thread(target=swap)
        swapping.start()
        remove_tree.remove(folder)
        done.set()
        swapping.join()
        assert remove_tree.remove(folder)


def test_a_folder_that_is_moved_meanwhile_leads_nowhere(tmp_path, outside, monkeypatch):
    """On the way up the folder above is another one: there, nothing is removed."""
    folder = tmp_path / "work"
    (folder / "a" / "b" / "c").mkdir(parents=True)
    enter = remove_tree._enter

    def moved(above, name):
        opened = enter(above, name)
        if name == "c":
            os.rename(folder / "a" / "b", outside / "b")
        return opened

    monkeypatch.setattr(remove_tree, "_enter", moved)
    assert not remove_tree.remove(folder)
    assert (outside / "b").is_dir()


def test_what_cannot_be_entered_leaves_the_rest_removed(tmp_path, monkeypatch):
    folder = tmp_path / "work"
    for name in "abc":
        (folder / name / "below").mkdir(parents=True)
    enter = remove_tree._enter

    def refuse(above, name):
        if name == "b":
            raise PermissionError
        return enter(above, name)

    monkeypatch.setattr(remove_tree, "_enter", refuse)
    assert not remove_tree.remove(folder)
    assert os.listdir(folder) == ["b"]


def test_a_folder_that_is_not_there_is_gone(tmp_path):
    assert remove_tree.remove(tmp_path / "never" / "was")


@needs_sandbox
@pytest.mark.root
@pytest.mark.slow
def test_an_ordinary_user_removes_what_has_no_rights():
    code = (
        "import os, tempfile\n"
        "from shared_utils.grading.supervisor import remove_tree\n"
        "folder = tempfile.mkdtemp()\n"
        "os.makedirs(folder + '/a/b/c'); open(folder + '/a/b/f', 'w').close()\n"
        "os.chmod(folder + '/a/b/c', 0); os.chmod(folder + '/a/b', 0o500)\n"
        "os.chmod(folder + '/a', 0)\n"
        "try: os.listdir(folder + '/a'); print('open')\n"
        "except PermissionError: print('shut')\n"
        "print(remove_tree.remove(folder), os.path.exists(folder))\n"
    )
    assert ordinary_user.run(code).stdout.split() == ["shut", "True", "False"]
