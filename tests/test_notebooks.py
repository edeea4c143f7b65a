"""Lessons and solutions run clean from top to bottom; exercises ask, and raise nothing else."""

import re
import subprocess
import time

import nbformat
import pytest
from nbclient import NotebookClient

from shared_utils.course import place, syllabus
from shared_utils.pages import build

ROOT = place.course_root()
LESSONS = sorted((ROOT / "lessons").glob("*.ipynb"))
FIFTEEN = [path for path in LESSONS if path.stem in syllabus.stems()]
SOLUTIONS = sorted((ROOT / "solutions").glob("*/problems.ipynb"))
EXERCISES = sorted((ROOT / "exercises").glob("*/problems.ipynb"))

ANATOMY = [
    "title",
    "goals",
    "case",
    "recall",
    "idea",
    "predict",
    "observe",
    "explain",
    "example",
    "self-check",
    "outside",
    "caution",
    "problems",
    "summary",
]
REPEATED = ["idea", "predict", "observe", "explain"]
WORDS_A_MINUTE = 180
MINUTES_FOR_A_SLIDER = 2


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
    if path in FIFTEEN:
        assert len(images) >= 2


def test_lesson_says_that_all_is_ready_and_links_only_to_what_is_there():
    text = output_text(run(ROOT / "lessons" / "00_start_here.ipynb"))
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


def parts_of(notebook):
    return [
        cell.metadata.lens_course.part
        for cell in notebook.cells
        if "part" in cell.metadata.get("lens_course", {})
    ]


@pytest.mark.parametrize("path", FIFTEEN, ids=short)
def test_a_lesson_has_the_anatomy(path):
    notebook = nbformat.read(path, as_version=4)
    parts = parts_of(notebook)
    assert set(parts) == set(ANATOMY)
    # in order, the four of an idea repeated together
    once = []
    for part in parts:
        if part in once:
            assert part in REPEATED
        else:
            once.append(part)
    assert once == ANATOMY
    ideas = parts.count("idea")
    assert [p for p in parts if p in REPEATED] == REPEATED * ideas
    assert "not for patient care" in text_of(notebook)


@pytest.mark.parametrize("path", LESSONS, ids=short)
def test_headings_never_skip_a_level_and_links_resolve(path):
    notebook = nbformat.read(path, as_version=4)
    level = 0
    for cell in notebook.cells:
        if cell.cell_type != "markdown":
            continue
        for marks in re.findall(r"^(#+) ", cell.source, re.M):
            assert len(marks) <= level + 1, cell.source[:60]
            level = len(marks)
        for link in re.findall(r"\]\(([^)#]+)\)", cell.source):
            if not link.startswith("http"):
                assert (path.parent / link).resolve().exists(), link


@pytest.mark.parametrize("path", FIFTEEN, ids=short)
def test_a_lesson_is_read_in_twenty_minutes_and_an_idea_in_150_words(path):
    notebook = nbformat.read(path, as_version=4)
    sliders = parts_of(notebook).count("observe")
    words = len(text_of(notebook).split())
    assert words / WORDS_A_MINUTE + sliders * MINUTES_FOR_A_SLIDER <= 20
    for cell in notebook.cells:
        if cell.metadata.get("lens_course", {}).get("part") == "idea":
            assert len(cell.source.split()) <= 150


def text_of(notebook):
    return "\n".join(c.source for c in notebook.cells if c.cell_type == "markdown")


def test_code_that_is_not_the_lesson_is_collapsed():
    for path in LESSONS:
        for cell in nbformat.read(path, as_version=4).cells:
            if cell.cell_type == "code":
                assert cell.metadata.jupyter.source_hidden


def test_the_points_that_a_set_states_are_the_points_it_gives():
    for path in SOLUTIONS:
        notebook = nbformat.read(path, as_version=4)
        points = {}
        for cell in notebook.cells:
            problem, _ = build.grade_id_parts(cell)
            points[problem] = points.get(problem, 0) + cell.metadata.nbgrader.get("points", 0)
        for cell in notebook.cells:
            problem, kind = build.grade_id_parts(cell)
            stated = re.search(r"^## .*\((\d+) points?\)", cell.source, re.M)
            if kind == "question" and stated:
                assert points[problem] == int(stated[1]), problem
        total = re.search(r"(\d+) points", notebook.cells[0].source)
        assert sum(points.values()) == int(total[1])


def test_the_map_has_fifteen_lessons_in_four_parts():
    assert [len(lessons) for _, lessons in syllabus.PARTS] == [4, 5, 3, 3]
    numbers = [number for _, lessons in syllabus.PARTS for number, _, _ in lessons]
    assert numbers == [f"{n:02d}" for n in range(1, 16)]
