"""Problems that are taken out of a set, or made extra, after submissions were handed in."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import TYPE_CHECKING

from shared_utils.classroom import deadlines
from shared_utils.pages import cells

if TYPE_CHECKING:
    from shared_utils.classroom.folder import ClassFolder


@dataclass(frozen=True)
class ProblemRule:
    """What an instructor ruled about a problem: ``dropped``, ``extra``, or that it ``counts``."""

    set: str
    problem: str
    what: str
    why: str
    at: str

    def sentence(self) -> str:
        """Return it in words."""
        words = {
            "dropped": "counts neither in the marks nor in what can be had",
            "extra": "is extra: its marks count, and not what can be had",
            "counts": "counts again",
        }
        return f"{self.set}: the problem {self.problem} {words[self.what]} ({self.why})."


def rule(folder: ClassFolder, name: str, problem: str, what: str, why: str) -> ProblemRule:
    """Rule about a problem of a set; marks and maxima follow at once.

    Parameters
    ----------
    folder : ClassFolder
    name : str
        A released set.
    problem : str
    what : str
        ``dropped``, ``extra`` or ``counts``.
    why : str
        The reason, which is recorded.

    Raises
    ------
    ValueError
        If the set has no such problem, there is no reason, or it is so already.
    """
    from shared_utils.grading.supervisor.records import Records, utc_text

    known = problems(folder, name)
    if problem not in known:
        raise ValueError(f"{name} has no problem {problem!r} that gives marks: {', '.join(known)}.")
    if not why.strip():
        raise ValueError("Say why, with --why: the reason is recorded and shown to learners.")
    before = next((each.what for each in rules(folder, name) if each.problem == problem), "counts")
    if before == what:
        raise ValueError(f"The problem {problem} of {name} is so already: {before}.")
    made = ProblemRule(name, problem, what, " ".join(why.split()), utc_text())
    with Records(folder.path).opened() as database:
        database.execute(
            "INSERT INTO adjustment (at, set_name, problem, what, why) VALUES (?, ?, ?, ?, ?)",
            (made.at, name, problem, what, made.why),
        )
    deadlines.settle(folder)
    return made


def problems(folder: ClassFolder, name: str) -> list[str]:
    """Return the problems of a set that give marks, in their order."""
    try:
        notebook = json.loads(folder.source(name).read_bytes())
        found = [cells.problem(cell) for cell in notebook["cells"] if cells.is_graded(cell)]
    except (OSError, ValueError, LookupError):
        raise ValueError(f"source/{name} cannot be read: release the set again.") from None
    return [problem for problem in dict.fromkeys(found) if problem]


def rules(folder: ClassFolder, name: str | None = None) -> list[ProblemRule]:
    """Return what holds now, the last rule of each problem; of every set if none is named."""
    last: dict[tuple[str, str], ProblemRule] = {}
    for each in history(folder):
        if name in (None, each.set):
            last[each.set, each.problem] = each
    return [each for each in last.values() if each.what != "counts"]


def history(folder: ClassFolder) -> list[ProblemRule]:
    """Return all that was ever ruled, in order."""
    from shared_utils.grading.supervisor.records import Records

    rows = Records(folder.path).rows("SELECT * FROM adjustment ORDER BY number")
    return [
        ProblemRule(row["set_name"], row["problem"], row["what"], row["why"], row["at"])
        for row in rows
    ]
