"""Problem sets filled in, as a learner would: from the release, answer cell by answer cell."""

import nbformat

from shared_utils.course import place
from shared_utils.pages import build, source


def solution(name):
    """The set with its model answers."""
    return build.text_to_notebook(source.set_text(name, place.course_root()))


def release(name):
    """The set as learners get it."""
    return build.released(solution(name))


def filled(name, answers=None):
    """The release with the model answers, or with others put in by problem.

    ``answers``: problem → source of its answer cell; the model answer where none is given.
    """
    model = {c.metadata.nbgrader.grade_id: c.source for c in solution(name).cells if _open(c)}
    notebook = release(name)
    for cell in notebook.cells:
        if _open(cell):
            problem, _ = build.grade_id_parts(cell)
            cell.source = (answers or {}).get(problem, model[cell.metadata.nbgrader.grade_id])
    return notebook


def save(notebook, path):
    path.parent.mkdir(parents=True, exist_ok=True)
    nbformat.write(notebook, path)
    return path


def _open(cell):
    return build.grade_id_parts(cell)[1] in ("answer", "written")
