"""Rules of the course as a whole: its list of pages, and what must agree with it."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from shared_utils.authoring import demos, new_lesson
from shared_utils.authoring.rules import lesson, problem_set, rule, short
from shared_utils.bank import items
from shared_utils.course import manifest, place
from shared_utils.pages import build

if TYPE_CHECKING:
    from collections.abc import Iterator

LISTED = short(manifest.FILE)


@rule(
    "course",
    f"Every page and problem set has its record in {manifest.FILE.name} and its text.",
    "Write the one, or take the other away; `lens-course new lesson SLUG` writes both.",
)
def files_and_records() -> Iterator[tuple[str, str]]:
    for path, fault in place.fault_of_files():
        yield short(path), fault


@rule(
    "course",
    "Every file of items belongs to a lesson.",
    f"Name it as the lesson's slug in {manifest.FILE.name}, or take it away.",
)
def files_of_items() -> Iterator[tuple[str, str]]:
    lessons = {page.slug for page in manifest.of().lessons}
    for path in sorted(items.BANK.glob("*.toml")):
        if path.stem not in lessons:
            yield short(path), "No lesson has this name."


@rule(
    "course",
    "Every slider is shown by a page, so that a learner meets it and the tests drive it.",
    "Move it to the module of the lesson that shows it, or take it away.",
)
def sliders_without_a_page() -> Iterator[tuple[str, str]]:
    lessons = {page.slug for page in manifest.of().lessons}
    for path in sorted(demos.FOLDER.glob("*.py")):
        if path.stem not in lessons:
            for name, line in demos.defined(path.stem).items():
                yield f"{short(path)}:{line}", f"{path.stem} is no lesson, and defines {name}."


@rule(
    "course",
    "Every lesson has tests of its own: tests/test_lesson_SLUG.py and tests/recomputed/SLUG.py.",
    "Write what its page says and its sliders must obey; `lens-course new lesson` writes a start.",
)
def tests_of_a_lesson() -> Iterator[tuple[str, str]]:
    folder = place.course_root() / "tests"
    for page in manifest.of().lessons:
        for path in (
            folder / f"test_lesson_{page.slug}.py",
            folder / "recomputed" / f"{page.slug}.py",
        ):
            if not path.is_file():
                yield short(path), f"The lesson {page.slug} has none."


@rule(
    "course",
    "What a lesson's figures, sliders, items and problems compute stands in cases/SLUG.py, its "
    "figures in show/SLUG.py, its sliders in explore/SLUG.py.",
    "Write it there; `lens-course new lesson` writes a start.",
)
def modules_of_a_lesson() -> Iterator[tuple[str, str]]:
    for page in manifest.of().lessons:
        for floor in ("cases", "show", "explore"):
            name = f"shared_utils/{floor}/{page.slug}.py"
            if not (place.course_root() / name).is_file():
                yield name, f"The lesson {page.slug} has none."


@rule(
    "course",
    "A source names other pages by their slugs, for numbers change when a lesson is inserted.",
    "Write lesson {{number SLUG}} or {{stem SLUG}}; pages/source.py lists what there is.",
)
def names_not_numbers() -> Iterator[tuple[str, str]]:
    pages = manifest.of()
    stems = "|".join(rf"\d\d_{page.slug}\b" for page in pages.pages)
    number = re.compile(rf"\b[Ll]essons? \d{{1,2}}\b|\bProblems \d\d\b|\[\d\d [A-Z]|{stems}")
    for path in _sources():
        for line, text in enumerate(path.read_text(encoding="utf-8").splitlines(), 1):
            for found in number.finditer(text):
                yield f"{short(path)}:{line}", f"It says {found[0]!r}."


def _sources():
    for page in manifest.of().pages:
        yield from (
            path
            for path in (
                place.lesson_source(page.slug),
                place.set_source(page.slug),
                items.BANK / f"{page.slug}.toml",
                demos.FOLDER / f"{page.slug}.py",
                demos.FOLDER.parent / "show" / f"{page.slug}.py",
            )
            if path.is_file()
        )


@rule(
    "course",
    "Nothing of a new lesson's first texts is left.",
    "Write your own where the text says REPLACE.",
)
def nothing_left_to_replace() -> Iterator[tuple[str, str]]:
    for page in manifest.of().pages:
        for name in new_lesson.FILES.values():
            path = place.course_root() / name.replace("SLUG", page.slug)
            if path.is_file():
                lines = path.read_text(encoding="utf-8").splitlines()
                for line, text in enumerate(lines, 1):
                    if "REPLACE" in text:
                        yield f"{short(path)}:{line}", text.strip(" #")[:70]


@rule(
    "course",
    "README and DEVELOPERS name files by the numbers that they have now.",
    "Correct the number.",
)
def names_in_readme() -> Iterator[tuple[str, str]]:
    pages = manifest.of()
    for name in ("README.md", "DEVELOPERS.md"):
        path = place.course_root() / name
        lines = path.read_text(encoding="utf-8").splitlines() if path.is_file() else []
        for line, text in enumerate(lines, 1):
            for stem in re.findall(r"\b\d\d_[a-z_]+\b", text):
                page = pages.get(stem)
                if page is None or page.stem != stem:
                    now = f"it is {page.stem} now" if page else "there is no such page"
                    yield f"{name}:{line}", f"It says {stem}; {now}."


@rule(
    "course",
    "The page of the mock examination says how many questions it asks of each part.",
    f"Correct the page, or exam_questions in {manifest.FILE.name}.",
)
def questions_of_the_examination() -> Iterator[tuple[str, str]]:
    pages = manifest.of()
    page = pages.by_slug.get("mock_examination")
    if page is None:
        return
    text = lesson(page)
    wanted = ", ".join(f"{part.title.lower()} {part.exam_questions}" for part in pages.parts)
    if wanted not in " ".join(text.prose().split()):
        yield f"{text.name}:1", f"It does not say: {wanted}."


@rule(
    "course",
    "No notebook lies among those of the course without a text that builds it.",
    "Run `lens-course build`; what it does not take away is yours to move.",
)
def notebooks_without_a_text() -> Iterator[tuple[str, str]]:
    root = place.course_root()
    pages = manifest.of()
    wanted = {root / "lessons" / f"{page.stem}.ipynb" for page in pages.pages}
    wanted |= {path for path, _ in build.left_over()}
    for page in pages.sets:
        wanted |= {
            root / part / page.stem / "problems.ipynb" for part in ("exercises", "solutions")
        }
    for folder in ("lessons", "exercises", "solutions"):
        for path in sorted((root / folder).rglob("*.ipynb")):
            if path not in wanted and ".ipynb_checkpoints" not in path.parts:
                yield short(path), "No text builds it."


@rule(
    "course",
    "Every notebook is built under the number that its page has now.",
    "Run `lens-course build`.",
)
def notebooks_of_an_earlier_build() -> Iterator[tuple[str, str]]:
    for path, page in build.left_over():
        yield short(path), f"The page is {page.stem} now."


@rule(
    "course",
    "Every text builds: its markers are known, and its names are those of pages.",
    "Correct what the sentence says.",
)
def texts_that_build() -> Iterator[tuple[str, str]]:
    for page in manifest.of().pages:
        for read, source_of in ((lesson, place.lesson_source), (problem_set, place.set_source)):
            try:
                read(page)
            except ValueError as error:
                where = short(source_of(page.slug))
                yield where, str(error).removeprefix(f"{where}: ")
    try:
        items.bank()
    except ValueError as error:
        yield short(items.BANK), str(error)
