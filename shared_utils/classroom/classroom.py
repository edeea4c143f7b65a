"""A class, as its commands use it: one object for its folder, and a method for each step."""

from __future__ import annotations

from typing import TYPE_CHECKING

from shared_utils.classroom import (
    deadlines,
    export,
    grading_run,
    marks,
    mistakes,
    release,
    similarity,
    slips,
)
from shared_utils.classroom import folder as folders
from shared_utils.classroom import status as statuses

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence
    from datetime import tzinfo
    from os import PathLike
    from pathlib import Path
    from typing import Any

    from shared_utils.classroom.grading_run import GradingResult
    from shared_utils.classroom.marks import ClassMarks
    from shared_utils.classroom.mistakes import MistakeGroup
    from shared_utils.classroom.overlay import Overlay
    from shared_utils.classroom.similarity import Alike
    from shared_utils.classroom.slips import LearnerSlip
    from shared_utils.classroom.status import SetStatus


class Classroom:
    """A class in its folder.

    Parameters
    ----------
    path : path-like
        Made by ``new_class``.

    Raises
    ------
    ValueError
        If the folder is not a class's.
    """

    def __init__(self, path: str | PathLike[str]) -> None:
        self._layout = self.layout = folders.ClassFolder(path)
        self.folder = self._layout.path
        self.roster = self._layout.roster
        self.released_sets = self._layout.released_sets
        self.find_released = self._layout.find_released
        self.learners = self._layout.learners
        self.graded = self._layout.graded

    def release(self, wanted: str) -> Path:
        """Make what learners get; see ``release.release``."""
        return release.release(self._layout, wanted)

    def join(self, private: str | PathLike[str]) -> Overlay:
        """Let private problems and a seed join; see ``release.join``."""
        return release.join(self._layout, private)

    def grade(
        self, name: str, learners: Sequence[str] | None = None, **options: Any
    ) -> Iterator[GradingResult]:
        """Run and mark submissions; see ``grading_run.grade``."""
        return grading_run.grade(self._layout, name, learners, **options)

    def zone(self) -> tzinfo:
        """Return the class's time zone; see ``deadlines.zone_of``."""
        return deadlines.zone_of(self._layout)

    def late_rule_in_words(self) -> str:
        """Return what lateness costs; see ``deadlines.late_rule_in_words``."""
        return deadlines.late_rule_in_words(self._layout)

    def status(self, name: str) -> SetStatus:
        """Return where a set stands; see ``status.status``."""
        return statuses.status(self._layout, name)

    def alike(self, name: str) -> list[Alike]:
        """Return which answers to a set are alike in a rare way; see ``similarity.look``."""
        return similarity.look(self._layout, name)

    def mistakes(self, name: str) -> list[MistakeGroup]:
        """Return the groups of wrong answers to a set; see ``mistakes.groups``."""
        return mistakes.groups(self._layout, name)

    def comment(self, group: MistakeGroup, text: str) -> int:
        """Write a comment to everybody in a group; see ``mistakes.comment``."""
        return mistakes.comment(self._layout, group, text)

    def marks(self) -> ClassMarks:
        """Return the marks of the class by its rules; see ``marks.read``."""
        from shared_utils.grading.supervisor import settings

        deadlines.settle(self._layout)
        read = marks.read(settings.gradebook_url(self.folder))
        return deadlines.with_receipts(self._layout, read)

    def slips(self) -> list[LearnerSlip]:
        """Return the slips of everyone in every set; see ``slips.read_slips``."""
        return slips.read_slips(self._layout)

    def feedback(self, name: str) -> Iterator[tuple[str, Path]]:
        """Write a page for each learner; see ``export.write_feedback``."""
        return export.write_feedback(self._layout, name)

    def is_own(self, path: str | PathLike[str]) -> bool:
        """Return whether a path is the class's own; see ``ClassFolder.is_own``."""
        return self._layout.is_own(path)

    def export(self, target: str | PathLike[str] | None = None) -> Path:
        """Write all marks to a CSV file; see ``export.write_grades``."""
        return export.write_grades(self._layout, target)

    def write_report(self, name: str, results: Iterable[GradingResult]) -> Path:
        """Write what became of a set's submissions; see ``export.write_grading_report``."""
        return export.write_grading_report(self._layout, name, results)


def new_class(
    path: str | PathLike[str], roster: str | PathLike[str] | None = None, db: str | None = None
) -> Classroom:
    """Make the folder of a class and return the class; see ``folder.make``."""
    return Classroom(folders.make(path, roster, db).path)
