"""A class, as its commands use it: one object for its folder, and a method for each step."""

from __future__ import annotations

from typing import TYPE_CHECKING

from shared_utils.classroom import export, grading_run, release, slips
from shared_utils.classroom import folder as folders

if TYPE_CHECKING:
    from os import PathLike
    from typing import Any


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
        self._layout = folders.ClassFolder(path)
        self.folder = self._layout.path
        self.roster = self._layout.roster
        self.released_sets = self._layout.released_sets
        self.find_released = self._layout.find_released
        self.learners = self._layout.learners
        self.graded = self._layout.graded

    def release(self, wanted: Any) -> Any:
        """Make what learners get; see ``release.release``."""
        return release.release(self._layout, wanted)

    def join(self, private: Any) -> str:
        """Let private problems and a seed join; see ``release.join``."""
        return release.join(self._layout, private)

    def grade(self, name: str, learners: Any = None, **options: Any) -> Any:
        """Run and mark submissions; see ``grading_run.grade``."""
        return grading_run.grade(self._layout, name, learners, **options)

    def slips(self) -> Any:
        """Return the slips of everyone in every set; see ``slips.read_slips``."""
        return slips.read_slips(self._layout)

    def feedback(self, name: str) -> Any:
        """Write a page for each learner; see ``export.write_feedback``."""
        return export.write_feedback(self._layout, name)

    def export(self, target: Any = None) -> Any:
        """Write all marks to a CSV file; see ``export.write_grades``."""
        return export.write_grades(self._layout, target)

    def write_report(self, name: str, results: Any) -> Any:
        """Write what became of a set's submissions; see ``export.write_grading_report``."""
        return export.write_grading_report(self._layout, name, results)


def new_class(path: str | PathLike[str], roster: Any = None, db: Any = None) -> Classroom:
    """Make the folder of a class and return the class; see ``folder.make``."""
    return Classroom(folders.make(path, roster, db).path)
