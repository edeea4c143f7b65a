"""What an instructor keeps out of the public course: problems of their own, and a seed.

A folder outside the course::

    SLUG.py      problems that join the set of that name, in the percent text of ``solutions``
    seed.txt     any words; with them every learner's numbers are others

The texts, their answers and their hidden tests stay with the instructor. The seed does not: what
follows from it stands in the released notebook, for a learner's machine must draw the numbers too.
So it makes numbers new for a class, and known to nobody before the release; it hides no answer.
"""

from __future__ import annotations

import ast
import hashlib
from pathlib import Path
from typing import TYPE_CHECKING

from shared_utils.course import manifest
from shared_utils.course.place import course_root, set_names
from shared_utils.pages import build, cells, source
from shared_utils.problems.class_seed import with_seed

if TYPE_CHECKING:
    from os import PathLike

    from nbformat import NotebookNode

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

    def __init__(self, folder: str | PathLike[str]) -> None:
        self.folder = Path(folder).resolve()
        if not self.folder.is_dir():
            raise ValueError(f"There is no folder {self.folder} with private problems.")
        if self.folder.is_relative_to(course_root()):
            raise ValueError(
                f"{self.folder} lies inside the course, which is public: keep it somewhere else."
            )
        self.texts: dict[str, Path] = {}
        known = {manifest.slug_in(name) for name in set_names()}
        for path in sorted(self.folder.glob("*.py")):
            slug = manifest.slug_in(path.stem)
            if slug not in known:
                raise ValueError(
                    f"{path.name} joins no set; call it as one of: {', '.join(set_names())}."
                )
            if slug in self.texts:
                raise ValueError(
                    f"{path.name} and {self.texts[slug].name} join one set; join them."
                )
            self.texts[slug] = path
        place = self.folder / SEED
        self.seed = _text_of(place).strip() if place.is_file() else ""
        if not (self.texts or self.seed):
            raise ValueError(f"{self.folder} holds neither problems (SLUG.py) nor {SEED}.")

    def joins(self, name: str) -> bool:
        """Return whether a set is another one with this overlay."""
        return bool(self.seed) or manifest.slug_in(name) in self.texts

    def notebook(self, name: str) -> NotebookNode:
        """Return a set with what is private in it, as a notebook with answers.

        Parameters
        ----------
        name : str
            The set, such as ``"vergence"``, with or without its number.

        Returns
        -------
        nbformat.NotebookNode

        Raises
        ------
        ValueError
            If a private problem has the name of another one, or is no part of a problem.
        """
        text = source.set_text(name, course_root())
        slug = manifest.slug_in(name)
        if slug in self.texts:
            private = source.fill(_text_of(self.texts[slug]), where=self.texts[slug].name)
            _refuse_what_is_not_python(private, self.texts[slug].name)
            if any(not cells.problem(cell) for cell in _cells(private)):
                raise ValueError(
                    f"{self.texts[slug].name}: every cell needs a marker that names its problem, "
                    'such as # %% [markdown] question="mine".'
                )
            text = f"{text.rstrip()}\n\n{private.strip()}\n"
        notebook = build.text_to_notebook(text)
        cells.name_set(notebook, slug)
        return with_seed(notebook, self.drawn(name)) if self.seed else notebook

    def problems(self, name: str) -> list[str]:
        """Return the names of the private problems of a set."""
        slug = manifest.slug_in(name)
        if slug not in self.texts:
            return []
        text = source.fill(_text_of(self.texts[slug]), where=self.texts[slug].name)
        names = dict.fromkeys(cells.problem(cell) for cell in _cells(text))
        return [name for name in names if name]

    def drawn(self, name: str) -> str:
        """Return what the seed gives for one set: it does not tell the seed or another set's."""
        own = manifest.of().seed_of(name)
        return hashlib.sha256(f"{self.seed}|{own}".encode()).hexdigest()[:16]


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
