"""Lessons and solutions run clean from top to bottom; exercises ask, and raise nothing else."""

import re
import subprocess
import time

import nbformat
import pytest
from nbclient import NotebookClient

from shared_utils.course import manifest, place

ROOT = place.course_root()
LESSONS = [ROOT / "lessons" / f"{page.stem}.ipynb" for page in manifest.of().pages]
WITH_FIGURES = [ROOT / "lessons" / f"{page.stem}.ipynb" for page in manifest.of().lessons]
SOLUTIONS, EXERCISES = (
    [ROOT / part / name / "problems.ipynb" for name in place.set_names()]
    for part in ("solutions", "exercises")
)


def run(path, **options):
    notebook = nbformat.read(path, as_version=4)
    client = NotebookClient(
        notebook,
        timeout=60,
        kernel_name="python3",
        resources={"metadata": {"path": str(path.parent)}},
        **options,
    )
    client.execute(stderr=subprocess.DEVNULL)
    return notebook


def short(path):
    return "/".join(path.parts[-2:])


def output_text(notebook):
    return "\n".join(
        str(o.get("text", "")) + str(o.get("data", {}).get("text/html", ""))
        for cell in notebook.cells
        for o in cell.get("outputs", [])
    )


@pytest.mark.parametrize("path", LESSONS, ids=short)
def test_a_lesson_runs_clean_and_every_picture_has_alt_text(path):
    begun = time.perf_counter()
    notebook = run(path)
    assert time.perf_counter() - begun < 60  # a guard against hanging, not a measurement
    for cell in notebook.cells:
        for output in cell.get("outputs", []):
            assert output.output_type != "stream" or output.name != "stderr", output
    images = re.findall(r"<img [^>]*>", output_text(notebook))
    assert all(re.search(r'alt="[^"]{20,}"', image) for image in images)
    if path in WITH_FIGURES:
        assert len(images) >= 2


def test_lesson_says_that_all_is_ready_and_links_only_to_what_is_there():
    text = output_text(run(LESSONS[0]))
    assert "Ready: everything works here." in text
    links = re.findall(r'href="([^"]+)"', text)
    assert links
    for link in links:
        assert (ROOT / "lessons" / link).resolve().is_file(), link


@pytest.mark.parametrize("path", SOLUTIONS, ids=short)
def test_a_solution_runs_clean(path):
    run(path)


@pytest.mark.parametrize("path", EXERCISES, ids=short)
def test_an_exercise_raises_nothing_but_not_implemented(path):
    run(path, allow_error_names=["NotImplementedError"])
