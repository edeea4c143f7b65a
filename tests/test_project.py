"""What others need to use the project: licences, a citation, one version, a changelog."""

import re
import shutil
import subprocess
import sys
import zipfile
from importlib import metadata
from pathlib import Path

import pytest
import yaml

import shared_utils
from shared_utils import cli
from shared_utils.course import citation

REPO = Path(__file__).parent.parent
PROJECT = REPO / ".project"


def test_the_installed_package_names_licence_authors_and_home():
    about = metadata.metadata("lens-course")
    assert about["License-Expression"] == "BSD-3-Clause AND CC-BY-4.0"
    assert citation.AUTHORS.replace('"', "") in about["Author"].replace('"', "")
    assert any(url.startswith("Homepage, https://") for url in about.get_all("Project-URL"))
    assert about["Version"] == shared_utils.__version__


def test_the_citation_file_agrees_with_the_command(capsys):
    # required keys of the Citation File Format 1.2.0 (from memory)
    about = yaml.safe_load((PROJECT / "CITATION.cff").read_text(encoding="utf-8"))
    assert about.keys() >= {"cff-version", "message", "title", "authors"}
    assert about["cff-version"] == "1.2.0"
    with pytest.raises(SystemExit) as ended:
        cli.main(["--cite"])
    assert ended.value.code == 0
    shown = capsys.readouterr().out
    assert about["version"] == shared_utils.__version__
    assert about["title"] == citation.TITLE
    assert all(about[name] in shown for name in ("version", "title"))
    assert [author["name"] for author in about["authors"]] == [citation.AUTHORS]
    assert str(about["date-released"]) == citation.RELEASED


def test_the_changelog_begins_with_this_version():
    text = (PROJECT / "CHANGELOG.md").read_text(encoding="utf-8")
    first = re.search(r"^## (\S+) · (\S+)$", text, re.M)
    assert first[1] == shared_utils.__version__
    assert first[2] == citation.RELEASED


@pytest.mark.slow
def test_a_wheel_carries_the_licence_texts(tmp_path):
    # from a copy, for a build leaves folders behind
    copy = tmp_path / "course"
    ignored = shutil.ignore_patterns(".git", ".venv", "*.ipynb", "__pycache__", "*.egg-info")
    shutil.copytree(REPO, copy, ignore=ignored)
    line = [sys.executable, "-m", "pip", "wheel", "--quiet", "--no-deps", "-w", tmp_path, copy]
    subprocess.run(line, check=True)
    (wheel,) = tmp_path.glob("lens_course-*.whl")
    with zipfile.ZipFile(wheel) as opened:
        inside = opened.namelist()
    texts = {Path(path).name for path in inside if ".dist-info/licenses/" in path}
    assert {"BSD-3-Clause.txt", "CC-BY-4.0.txt"} <= texts
    assert "shared_utils/licences/CC-BY-4.0.txt" in inside


def test_developers_page_is_read_in_ten_minutes():
    # 200 words a minute: common practice, no source
    words = len((REPO / "DEVELOPERS.md").read_text(encoding="utf-8").split())
    assert words <= 10 * 210
