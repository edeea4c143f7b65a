"""What an instructor keeps out of the public course: problems of their own, and a seed.

A folder outside the course::

    NN_slug.py   problems that join the set of that name, in the percent text of ``solutions``
    seed.txt     any words; with them every learner's numbers are others

The texts, their answers and their hidden tests stay with the instructor. The seed does not: what
follows from it stands in the released notebook, for a learner's machine must draw the numbers too.
So it makes numbers new for a class, and known to nobody before the release; it hides no answer.
"""

import ast
import hashlib
from pathlib import Path

from shared_utils.course.place import course_root, set_names
from shared_utils.pages import build
from shared_utils.problems.class_seed import with_seed

SEED = "seed.txt"


class Overlay:
    """The private folder of a class.

    Parameters
    ----------
    folder : path-like

    Raises
    ------
    ValueError
        If there is no such folder, it lies inside the course, or its files cannot be used.
    """

    def __init__(self, folder):
        self.folder = Path(folder).resolve()
        if not self.folder.is_dir():
            raise ValueError(f"There is no folder {self.folder} with private problems.")
        if self.folder.is_relative_to(course_root()):
            raise ValueError(
                f"{self.folder} lies inside the course, which is public: keep it somewhere else."
            )
        self.texts = {path.stem: path for path in sorted(self.folder.glob("*.py"))}
        for name in self.texts:
            if name not in set_names():
                raise ValueError(
                    f"{name}.py joins no set; call it as one of: {', '.join(set_names())}."
                )
        place = self.folder / SEED
        self.seed = _text_of(place).strip() if place.is_file() else ""
        if not (self.texts or self.seed):
            raise ValueError(f"{self.folder} holds neither problems (NN_slug.py) nor {SEED}.")

    def joins(self, name):
        """Return whether a set is another one with this overlay."""
        return bool(self.seed) or name in self.texts

    def notebook(self, name):
        """Return a set with what is private in it, as a notebook with answers.

        Parameters
        ----------
        name : str
            The set, such as ``"01_vergence"``.

        Returns
        -------
        nbformat.NotebookNode

        Raises
        ------
        ValueError
            If a private problem has the name of another one, or is no part of a problem.
        """
        text = (course_root() / "solutions" / f"{name}.py").read_text(encoding="utf-8")
        if name in self.texts:
            private = _text_of(self.texts[name])
            _refuse_what_is_not_python(private, self.texts[name].name)
            if any(not build.grade_id_parts(cell)[0] for cell in _cells(private)):
                raise ValueError(
                    f"{self.texts[name].name}: every cell needs a marker that names its problem, "
                    'such as # %% [markdown] question="mine".'
                )
            text = f"{text.rstrip()}\n\n{private.strip()}\n"
        notebook = build.text_to_notebook(text)
        return with_seed(notebook, self.drawn(name)) if self.seed else notebook

    def problems(self, name):
        """Return the names of the private problems of a set."""
        if name not in self.texts:
            return []
        cells = _cells(_text_of(self.texts[name]))
        return list(dict.fromkeys(build.grade_id_parts(cell)[0] for cell in cells))

    def drawn(self, name):
        """Return what the seed gives for one set: it does not tell the seed or another set's."""
        return hashlib.sha256(f"{self.seed}|{name}".encode()).hexdigest()[:16]


def _text_of(path):
    try:
        return path.read_text(encoding="utf-8")
    except UnicodeDecodeError:
        raise ValueError(f"{path.name} is not in UTF-8: save it so.") from None


def _refuse_what_is_not_python(text, file):
    for cell in _cells(text):
        if cell.cell_type != "code":
            continue
        try:
            ast.parse(cell.source)
        except SyntaxError as error:
            name = "-".join(filter(None, build.grade_id_parts(cell))) or "without a marker"
            raise ValueError(
                f"{file}: the cell {name} is not Python: {error.msg}, in its line {error.lineno}."
            ) from None


def _cells(text):
    return build.text_to_notebook(text).cells
