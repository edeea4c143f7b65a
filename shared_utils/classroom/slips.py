"""The slips that the tests named in a class, as data: who, in which set, problem and step.

They are read from the marked notebooks, where the grading keeps them, whether the command or the
form grader has marked. They name learners, so they stay in the class's folder.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import TYPE_CHECKING

from shared_utils.classroom.folder import NOTEBOOK
from shared_utils.pages import cells
from shared_utils.problems.check_records import CheckRecord

if TYPE_CHECKING:
    from pathlib import Path

    from shared_utils.classroom.folder import ClassFolder

COLUMNS = (
    *("set", "problem", "learner", "step", "slip", "sentence"),
    *("points_earned", "points_possible"),
)


@dataclass(frozen=True)
class LearnerSlip:
    """A slip of one learner in one set; ``record`` says the rest."""

    set: str
    learner: str
    record: CheckRecord

    def row(self) -> tuple[str | float | None, ...]:
        """Return it as a row of a table, by ``COLUMNS``."""
        r = self.record
        points = (r.earned, r.possible)
        return (self.set, r.problem, self.learner, r.step, r.slip, r.sentence, *points)


def read_slips(folder: ClassFolder) -> list[LearnerSlip]:
    """Return the slips of everyone in every set.

    Parameters
    ----------
    folder : ClassFolder

    Returns
    -------
    list of LearnerSlip
        By set and learner, in the order of the notebook.

    Raises
    ------
    ValueError
        If a marked notebook cannot be read.
    """
    found = sorted(
        (path.parent.name, path.parent.parent.name, path)
        for path in (folder.path / "autograded").glob(f"*/[!.]*/{NOTEBOOK}")
    )
    return [
        LearnerSlip(name, learner, record)
        for name, learner, path in found
        for record in slips_of_file(path)
    ]


def slips_of_file(path: Path) -> list[CheckRecord]:
    """Return the slips that are kept in a marked notebook."""
    try:
        notebook = json.loads(path.read_bytes())
        return [CheckRecord.from_dict(slip) for slip in cells.slips(notebook)]
    except (OSError, ValueError, LookupError, TypeError, AttributeError):
        place = "/".join(path.parts[-4:])
        raise ValueError(
            f"{place} is not a marked notebook any more: run `lens-course class grade --again`."
        ) from None
