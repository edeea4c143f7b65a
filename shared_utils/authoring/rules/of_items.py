"""Rules of the items that a lesson has in the bank, as far as their texts tell."""

from __future__ import annotations

import ast
import collections
import importlib
import re
import tomllib
from typing import TYPE_CHECKING

from shared_utils.authoring import coverage
from shared_utils.authoring.rules import lesson, rule, short
from shared_utils.bank import items
from shared_utils.course import place

if TYPE_CHECKING:
    from collections.abc import Iterator

    from shared_utils.bank.items import Item
    from shared_utils.course.manifest import Page

OPTIONS = 4
SLIPS = 3
LETTERS_OF_A_STEM = 25
LETTERS_OF_FEEDBACK = 20
ITEMS = 20
NUMBERS = 4
ORDERS = 1
FIGURES = 2
ITEMS_OF_A_GOAL = 4
NUMBER = r"[+−]?\d+(?:\.\d+)?"


def of_lesson(page: Page) -> list[Item]:
    """Return the items of a lesson."""
    return [item for item in items.bank().values() if item.lesson == page.slug]


def where(item: Item) -> str:
    """Return where an item lies: file, line and key."""
    path = items.BANK / f"{item.lesson}.toml"
    lines = path.read_text(encoding="utf-8").splitlines()
    line = next((n for n, one in enumerate(lines, 1) if one == f'key = "{item.key}"'), 1)
    return f"{short(path)}:{line} ({item.key})"


def key_of(item: Item) -> str:
    """Return the text of the right option."""
    return next(option.text for option in item.options if option.key)


@rule(
    "lesson",
    f"A lesson has at least {ITEMS} items: {NUMBERS} that ask a number, {ORDERS} that asks an "
    f"order, {FIGURES} with a figure, {ITEMS_OF_A_GOAL} for each goal, some of each difficulty.",
    "Add items to bank/items/SLUG.toml.",
)
def number_of_items(page: Page) -> Iterator[tuple[str, str]]:
    own = of_lesson(page)
    kinds = collections.Counter(item.kind for item in own)
    by_goal = collections.Counter(item.goal for item in own)
    counts = [
        ("items", len(own), ITEMS),
        ("that ask a number", kinds["number"], NUMBERS),
        ("that ask an order", kinds["order"], ORDERS),
        ("with a figure", sum(bool(item.figure) for item in own), FIGURES),
        ("difficulties", len({item.difficulty for item in own}), len(items.DIFFICULTIES)),
    ]
    for goal in coverage.of_lesson(page.slug):
        counts.append((f"for goal {goal.number}", by_goal[goal.number], ITEMS_OF_A_GOAL))
    for what, count, least in counts if lesson(page).cells else ():
        if count < least:
            yield short(items.BANK / f"{page.slug}.toml"), f"Here: {count} {what}, of {least}."


@rule(
    "lesson",
    "An item serves one of its lesson's goals.",
    "Give goal the number of a goal at the top of the lesson.",
)
def goal_of_an_item(page: Page) -> Iterator[tuple[str, str]]:
    known = [goal.number for goal in coverage.of_lesson(page.slug)]
    for item in of_lesson(page):
        if item.goal not in known:
            yield where(item), f"Goal {item.goal} is not there."


@rule(
    "lesson",
    f"A choice has {OPTIONS} options, each with feedback of its own of at least "
    f"{LETTERS_OF_FEEDBACK} letters, none of them “all of the above”.",
    "Write an option for each usual slip, and say in its feedback what went wrong.",
)
def options_of_a_choice(page: Page) -> Iterator[tuple[str, str]]:
    for item in of_lesson(page):
        if item.kind != "choice":
            continue
        feedback = [option.feedback for option in item.options]
        texts = [" ".join(option.text.lower().split()) for option in item.options]
        if len(item.options) != OPTIONS or len(set(texts)) != len(texts):
            yield where(item), f"{len(set(texts))} different options."
        if len(set(feedback)) != len(feedback) or min(map(len, feedback)) < LETTERS_OF_FEEDBACK:
            yield where(item), "Feedback is short, or stands twice."
        if re.search(r"\b(all|none|both) of the (above|these)\b", " ".join(texts)):
            yield where(item), "An option speaks of the others."


@rule(
    "lesson",
    "A wrong option with drawn numbers stands for a wrong path of its own.",
    "Name another number of bank/values in the option's text, or none.",
)
def wrong_paths(page: Page) -> Iterator[tuple[str, str]]:
    for item in of_lesson(page):
        if item.kind == "choice" and item.compute:
            of_key = set(re.findall(r"\{(\w+)", key_of(item)))
            for option in item.options:
                named = set(re.findall(r"\{(\w+)", option.text))
                if not option.key and named and named == of_key:
                    yield where(item), f"{option.text!r} says the same numbers as the key."


@rule(
    "lesson",
    f"An item that asks a number names at least {SLIPS} slips.",
    "Add slips = { name, feedback }, and the number of each in bank/values.",
)
def slips_of_a_number(page: Page) -> Iterator[tuple[str, str]]:
    for item in of_lesson(page):
        if item.kind == "number" and len(item.slips) < SLIPS:
            yield where(item), f"This one names {len(item.slips)}."


@rule(
    "lesson",
    f"An item can be read alone: its question has at least {LETTERS_OF_A_STEM} letters, and "
    "speaks of a picture only if it has one.",
    "Say in the question all that is needed to answer it.",
)
def readable_alone(page: Page) -> Iterator[tuple[str, str]]:
    for item in of_lesson(page):
        if len(item.stem) < LETTERS_OF_A_STEM:
            yield where(item), f"This one has {len(item.stem)} letters."
        pointing = r"\b(above|below|picture|figure|shown here|this page)\b"
        found = re.search(pointing, item.stem)
        if found and not item.figure:
            yield where(item), f"It says {found[0]!r} and has no figure."


@rule(
    "lesson",
    "An item names where its fact stands.",
    "Give source: author, year and place, or “common practice, no source”.",
)
def source_of_an_item(page: Page) -> Iterator[tuple[str, str]]:
    for item in of_lesson(page):
        if not item.source.strip():
            yield where(item), "This one names nothing."


@rule(
    "lesson",
    "What an item computes with, and the figure that it shows, are there.",
    "Write the function into bank/values/SLUG.py or show/SLUG.py.",
)
def functions_of_an_item(page: Page) -> Iterator[tuple[str, str]]:
    for item in of_lesson(page):
        for floor, name in (("bank.values", item.compute), ("show", item.figure)):
            module, _, function = name.partition(".")
            if name and not _has(f"shared_utils.{floor}.{module}", function):
                yield where(item), f"{name} is not in {floor.replace('.', '/')}."


def _has(module, name):
    try:
        return callable(getattr(importlib.import_module(module), name, None))
    except ModuleNotFoundError:
        return False


@rule(
    "lesson",
    "Every number that is a key is computed again by a formula that is not the course's.",
    "Write it into BY_HAND of tests/recomputed/SLUG.py, or into KEYED where the key is fixed.",
)
def recomputed(page: Page) -> Iterator[tuple[str, str]]:
    path = place.course_root() / "tests" / "recomputed" / f"{page.slug}.py"
    known = _keys_in(path)
    for item in of_lesson(page):
        fixed = item.kind == "choice" and not item.compute
        number = item.compute or (fixed and re.match(rf"(about )?{NUMBER}", key_of(item)))
        if number and item.key not in known:
            yield where(item), f"{short(path)} does not have it."


def _keys_in(path):
    """Texts that are keys of a dict in a module, read without running it."""
    if not path.is_file():
        return set()
    return {
        key.value
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.Dict)
        for key in node.keys
        if isinstance(key, ast.Constant)
    }


@rule(
    "lesson",
    "A key in words was chosen by a second reader, who saw neither key nor feedback.",
    "Let somebody answer it, and write the answer into tests/recomputed/second_reading.toml.",
)
def second_reading(page: Page) -> Iterator[tuple[str, str]]:
    path = place.course_root() / "tests" / "recomputed" / "second_reading.toml"
    found = tomllib.loads(path.read_text(encoding="utf-8"))
    wanted: str | list[str]
    for item in of_lesson(page):
        if item.kind == "order":
            given, wanted = found["order"].get(item.key), list(item.steps)
        elif not item.compute:
            given, wanted = found["choice"].get(item.key), key_of(item)
        else:
            continue
        if given is None:
            yield where(item), "Nobody did."
        elif given != wanted:
            yield where(item), f"The second reader chose {given!r}."
