"""Lessons and solutions run clean from top to bottom; exercises ask, and raise nothing else."""

import re
import subprocess
from functools import cache

import nbformat
import pytest
from nbclient import NotebookClient

from shared_utils.course import manifest, place
from tests.sampling import first_of_each, sample

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
        timeout=240,
        kernel_name="python3",
        resources={"metadata": {"path": str(path.parent)}},
        **options,
    )
    client.execute(stderr=subprocess.DEVNULL)
    return notebook


@cache
def executed(path):
    """A notebook run once for the tests that read what came of it."""
    return run(path)


def part_of(path):
    """The part of the course that a notebook belongs to; the start and the rest have their own."""
    page = manifest.of().get(path.parent.name if path.stem == "problems" else path.stem)
    return getattr(page, "part", None)


def short(path):
    return "/".join(path.parts[-2:])


def output_text(notebook):
    return "\n".join(
        str(o.get("text", "")) + str(o.get("data", {}).get("text/html", ""))
        for cell in notebook.cells
        for o in cell.get("outputs", [])
    )


@pytest.mark.parametrize("path", first_of_each(LESSONS, part_of), ids=short)
def test_a_lesson_runs_clean_and_every_picture_has_alt_text(path):
    notebook = executed(path)
    for cell in notebook.cells:
        for output in cell.get("outputs", []):
            assert output.output_type != "stream" or output.name != "stderr", output
    images = re.findall(r"<img [^>]*>", output_text(notebook))
    assert all(re.search(r'alt="[^"]{20,}"', image) for image in images)
    if path in WITH_FIGURES:
        assert len(images) >= 2


def test_the_first_page_says_that_all_is_ready_and_links_only_to_what_is_there():
    text = output_text(executed(LESSONS[0]))
    assert "Ready: everything works here." in text
    links = re.findall(r'href="([^"]+)"', text)
    assert links
    for link in links:
        assert (ROOT / "lessons" / link).resolve().is_file(), link


@pytest.mark.parametrize("path", sample(SOLUTIONS, 8), ids=short)
def test_a_solution_runs_clean(path):
    run(path)


@pytest.mark.parametrize("path", sample(EXERCISES, 8), ids=short)
def test_an_exercise_raises_nothing_but_not_implemented(path):
    run(path, allow_error_names=["NotImplementedError"])
