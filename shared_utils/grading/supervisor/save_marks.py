"""The last steps of the form grader's own marking: what is saved, by the rules of the class.

The command writes by ``gradebook``; these do the same where nbgrader itself is marking.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from nbgrader import utils
from nbgrader.api import Gradebook
from nbgrader.preprocessors import NbGraderPreprocessor, SaveAutoGrades

from shared_utils.grading.supervisor import class_rules, hand_marks, received, settings
from shared_utils.grading.supervisor.grading_spec import spec_of
from shared_utils.grading.supervisor.records import Records
from shared_utils.pages import cells

if TYPE_CHECKING:
    from typing import Any

    from nbformat import NotebookNode


class SaveMarks(SaveAutoGrades):
    """Saves automatic marks and comments; a mark by hand stays as long as its answer does."""

    def preprocess(
        self, nb: NotebookNode, resources: dict[str, Any]
    ) -> tuple[NotebookNode, dict[str, Any]]:
        where = resources["nbgrader"]
        # nbgrader works with the class's folder as the current one
        records = Records(".")
        source, _ = spec_of(resources).notebooks()
        digests = hand_marks.answer_digests(nb, source)
        known = records.answers(where["assignment"], where["student"])
        self.unchanged = {name for name, digest in digests.items() if known.get(name) == digest}
        nb, resources = super().preprocess(nb, resources)
        records.keep_answers(where["assignment"], where["student"], digests)
        return nb, resources

    def _add_score(self, cell: NotebookNode, resources: dict[str, Any]) -> None:
        name = cells.grade_id(cell)
        grade = self.gradebook.find_grade(
            name, self.notebook_id, self.assignment_id, self.student_id
        )
        grade.auto_score, _ = utils.determine_grade(cell, self.log)
        grade.needs_manual_grade = hand_marks.needs_person(grade, name in self.unchanged)
        self.gradebook.db.commit()


class Settle(NbGraderPreprocessor):
    """Brings a submission that was just saved in line with the rules of the class."""

    def preprocess(
        self, nb: NotebookNode, resources: dict[str, Any]
    ) -> tuple[NotebookNode, dict[str, Any]]:
        where = resources["nbgrader"]
        name, learner = where["assignment"], where["student"]
        records = Records(".")
        received.note(records, Path("submitted") / learner / name / "problems.ipynb", name, learner)
        with Gradebook(where["db_url"], settings.COURSE_ID) as gradebook:
            class_rules.settle(gradebook, records, ".", name, learner)
            gradebook.db.commit()
        records.note_outcome(name, learner)
        return nb, resources
