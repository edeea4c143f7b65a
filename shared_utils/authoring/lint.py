"""What a lesson, a problem set, an item or the course still lacks, by rules that tests share."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

from shared_utils.authoring.rules import (  # noqa: F401  each adds its rules
    RULES,
    of_course,
    of_items,
    of_lessons,
    of_sets,
)
from shared_utils.course import manifest

if TYPE_CHECKING:
    from collections.abc import Sequence

    from shared_utils.authoring.rules import Rule
    from shared_utils.course.manifest import Page


@dataclass(frozen=True)
class Finding:
    """Something that breaks a rule: the rule's name, where, what, the rule, and what to do."""

    name: str
    where: str
    what: str
    rule: str
    do: str


def subjects(scope: str) -> list[Page | None]:
    """Return the pages that a rule of a scope is asked about; one None for the course.

    Parameters
    ----------
    scope : str

    Returns
    -------
    list of (manifest.Page or None)
    """
    pages = manifest.of()
    return list(
        {"page": pages.pages, "lesson": pages.lessons, "set": pages.sets, "course": (None,)}[scope]
    )


def broken(rule: Rule, page: Page | None = None) -> Iterator[Finding]:
    """Yield what breaks one rule.

    Parameters
    ----------
    rule : rules.Rule
    page : manifest.Page, optional
        The page to ask about, except for a rule of the course.

    Yields
    ------
    Finding
    """
    for where, what in rule.check() if rule.scope == "course" else rule.check(page):
        yield Finding(rule.name, where, what, rule.says, rule.do)


def is_about(found: Finding, slug: str) -> bool:
    """Return whether a finding about the course is one about a page: by the file's name, not words.

    Parameters
    ----------
    found : Finding
    slug : str
        The page's.
    """
    place = re.sub(r":\d+$", "", found.where)
    names = {
        re.sub(r"^(\d\d|test_lesson)_", "", part.partition(".")[0]) for part in place.split("/")
    }
    stems = re.findall(r"\b\d\d_(\w+)", found.what)
    return slug in names or slug in stems


def findings(wanted: Sequence[str] = ()) -> list[Finding]:
    """Return all that breaks a rule.

    Parameters
    ----------
    wanted : sequence of str
        Numbers or names of pages; all of them, and the course as a whole, if empty.

    Returns
    -------
    list of Finding
    """
    pages = manifest.of()
    asked = {pages.find(name) for name in wanted}
    whole = [found for rule in RULES if rule.scope == "course" for found in broken(rule)]
    unreadable = [found for found in whole if found.name == of_course.texts_that_build.__name__]
    if unreadable:  # the other rules could not read it either
        return unreadable
    slugs = [page.slug for page in asked]
    found = [one for one in whole if not asked or any(is_about(one, slug) for slug in slugs)]
    for rule in RULES:
        if rule.scope != "course":
            for page in subjects(rule.scope):
                if not asked or page in asked:
                    found += broken(rule, page)
    return found
