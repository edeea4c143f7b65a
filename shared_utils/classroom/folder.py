"""The folder of a class: what lies where, and how it is made.

It lies outside the course, so that learners' work and marks never get into the repository:

================== ==================================================================
``roster.csv``     who is in the class: id, first_name, last_name, email
``source/``        the sets with answers and hidden tests, as they were released
``release/``       what learners get
``submitted/``     what they hand in: ``submitted/ID/SET/problems.ipynb``
``autograded/``    the same, run and marked, with the slips that the tests named
``feedback/``      one page for each learner and set
``gradebook.db``   nbgrader's gradebook; it holds the hidden tests in clear
``records.db``     received times, late rule, dropped problems, answers found alike
``overlay.txt``    where the instructor's private problems are, if there are any
``gradebook.url``  where the gradebook is instead, if it is in a database elsewhere
``lti.json``       learning platforms that may start the course, if there are any
``lti.key``        the key that marks are sent to them with, for the owner alone
``hidden.secret``  what the inputs of hidden tests are drawn from, for the owner alone
``hub/``           settings, homes and exchange of a hub for a trial, if there was one
================== ==================================================================
"""

from __future__ import annotations

import re
import shutil
from pathlib import Path
from typing import TYPE_CHECKING

from shared_utils import CAUTION
from shared_utils.classroom import gradebook_database, nbgrader_calls
from shared_utils.classroom.roster import COLUMNS, read_roster, write_rows
from shared_utils.course import manifest
from shared_utils.course.place import course_root, find_set, set_names

if TYPE_CHECKING:
    from os import PathLike

NOTEBOOK = "problems.ipynb"
FOLDERS = ("source", "release", "submitted", "autograded", "feedback")
FILES = (
    "roster.csv",
    "gradebook.db",
    "overlay.txt",
    "gradebook.url",
    "hidden.secret",
    "nbgrader_config.py",
    "README.txt",
    "class.log",
    "records.db",
    "hub",
    "lti.json",
    "lti.key",
)
OLD_SETTINGS_MODULE = "shared_utils.coursework.grading.settings"
SETTINGS_MODULE = "shared_utils.grading.supervisor.settings"
SETTINGS = f"""\
from {SETTINGS_MODULE} import configure
configure(get_config(), __file__)
"""
NOTE = f"""\
A class of the course on the optics behind choosing a lens for a cataract patient.

roster.csv                           who is in the class: id, first_name, last_name, email
release/SET/problems.ipynb           hand this to the learners
submitted/ID/SET/problems.ipynb      put here what they hand in; ID as in roster.csv
feedback/ID/SET/problems.html        give this back to them

In this folder, in this order:

lens-course class overlay ../mine    if you have problems of your own: let them join
lens-course class release 01         make the set's released notebook
lens-course class due 01 DATE        say when it is due; also extra time, and what lateness costs
lens-course class grade 01           run and mark everything that was handed in
lens-course class status             who handed in, what is late, what was not marked and why
lens-course class mistakes 01        wrong answers by what they do; one comment for a whole group
lens-course class compare 01         answers that are alike in a rare way, for you to judge
lens-course class drop 01 PROBLEM    let a problem not count after all
lens-course class open               mark the written answers in the form grader
lens-course class feedback 01        write each learner's feedback
lens-course class export             write all marks to grades.csv

source/ and gradebook.db hold the answers and the hidden tests, and hidden.secret what the
inputs of those tests are drawn from: keep this folder to yourself and out of the course's
repository. Without that file a submission that is graded again meets other inputs. What nbgrader
says goes to class.log.

{CAUTION}
"""


class ClassFolder:
    """A class's folder, and what lies where in it.

    Parameters
    ----------
    path : path-like
        Made by ``make``.

    Raises
    ------
    ValueError
        If the folder is not a class's.
    """

    def __init__(self, path: str | PathLike[str]) -> None:
        self.path = Path(path).resolve()
        if not (self.path / "nbgrader_config.py").is_file():
            raise ValueError(
                f"{self.path} is not the folder of a class: go into it, name it with --folder, "
                "or make one with `lens-course class new FOLDER`."
            )
        _update_settings(self.path / "nbgrader_config.py")

    def is_own(self, path: str | PathLike[str]) -> bool:
        """Return whether a path is the class's folder, or one of its files, or in its folders."""
        whole = Path(path).resolve()
        if not whole.is_relative_to(self.path):
            return False
        within = whole.relative_to(self.path).parts
        return not within or within[0] in (*FOLDERS, *FILES)

    def roster(self) -> dict[str, dict[str, str]]:
        """Return the learners by id, as ``roster.csv`` has them."""
        return read_roster(self.path / "roster.csv")

    def source(self, name: str) -> Path:
        """Return a set with answers and tests, as it was released."""
        return self.path / "source" / name / NOTEBOOK

    def released(self, name: str) -> Path:
        """Return the notebook that learners get."""
        return self.path / "release" / name / NOTEBOOK

    def submitted(self, name: str, learner: str) -> Path:
        """Return where a learner's submission has to be."""
        return self.path / "submitted" / learner / name / NOTEBOOK

    def marked(self, name: str, learner: str) -> Path:
        """Return where a marked submission is kept."""
        return self.path / "autograded" / learner / name / NOTEBOOK

    def feedback(self, name: str, learner: str) -> Path:
        """Return where a learner's page is written."""
        return (self.path / "feedback" / learner / name / NOTEBOOK).with_suffix(".html")

    def released_sets(self) -> list[str]:
        """Return the names of the sets that this class has had."""
        return sorted(path.parent.name for path in (self.path / "release").glob(f"*/{NOTEBOOK}"))

    def find_released(self, wanted: str) -> str:
        """Return the name of a released set, as it was released, from its number or name."""
        name = self.name_here(wanted)
        if name not in self.released_sets():
            raise ValueError(
                f"{name} was not released in this class: run `lens-course class release "
                f"{name.split('_')[0]}` first."
            )
        return name

    def name_here(self, wanted: str) -> str:
        """Return what a set is called in this class: as it was released, else as in the course.

        A lesson that was inserted since gives later sets other numbers in the course, not here.
        """
        text = str(wanted).strip().strip("/")
        released = self.released_sets()
        if text in released:
            return text
        if text.isdecimal():
            number = re.compile(rf"0*{int(text)}_")
            here = [name for name in released if number.match(name)]
            now = [name for name in set_names() if number.match(name)]
            slugs = {manifest.slug_in(name) for name in [*here, *now]}
            if here and len(slugs) > 1:
                names = " or ".join(dict.fromkeys([*here, *now]))
                raise ValueError(
                    f"{text} is not clear: the course's numbers have changed since sets were "
                    f"released in this class; give a name, {names}."
                )
            if here:
                return here[0]
        stem = find_set(text)
        same = [name for name in released if manifest.slug_in(name) == manifest.slug_in(stem)]
        return same[0] if same else stem

    def learners(self, name: str) -> list[str]:
        """Return the ids to go through for a set: the roster's, then any other that handed in."""
        strangers = {path.parent.name for path in (self.path / "submitted").glob(f"*/{name}")}
        roster = self.roster()
        return [*roster, *sorted(strangers - set(roster))]

    def graded(self, name: str) -> list[str]:
        """Return the ids of the learners whose submission to a set was marked."""
        found = (self.path / "autograded").glob(f"*/{name}/{NOTEBOOK}")
        return sorted(path.parent.parent.name for path in found)


def _update_settings(path):
    """Let a class that was made by an earlier version find its settings where they are now.

    What the instructor has added below stays.
    """
    text = path.read_text(encoding="utf-8")
    if OLD_SETTINGS_MODULE in text:
        new = path.with_suffix(".new")
        new.write_text(text.replace(OLD_SETTINGS_MODULE, SETTINGS_MODULE), encoding="utf-8")
        new.replace(path)


def make(
    path: str | PathLike[str], roster: str | PathLike[str] | None = None, db: str | None = None
) -> ClassFolder:
    """Make the folder of a class.

    Parameters
    ----------
    path : path-like
        New or empty, outside the course's folder.
    roster : path-like, optional
        A CSV file with the columns id, first_name, last_name, email; the id is what a learner's
        folder in ``submitted`` is called. Without it the roster is empty, to be filled in.
    db : str, optional
        Address of an empty PostgreSQL database for the gradebook, such as
        ``postgresql://host/optics_2027``; a file in the folder if not given.

    Returns
    -------
    ClassFolder

    Raises
    ------
    ValueError
        If the folder or the database cannot be used or the roster does not hold.
    """
    folder = Path(path).resolve()
    if folder.is_relative_to(course_root()):
        raise ValueError(
            f"{folder} lies inside the course: learners' work must not get into its repository; "
            "name a folder outside."
        )
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise ValueError(f"{folder} is there already and is not empty; name a new folder.")
    odd = sorted(set(str(folder)) & set("*?[]{}%"))
    if odd:
        raise ValueError(f"nbgrader cannot work in a folder with {odd[0]} in its path: {folder}.")
    from shared_utils.grading.supervisor import hidden_seed

    people = read_roster(roster) if roster else {}
    if db:
        from shared_utils.grading.supervisor import settings

        gradebook_database.refuse_used_database(settings.with_driver(db))

    made = not folder.exists()
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise ValueError(f"{folder} cannot be made: {error.strerror}.") from None
    try:
        for part in FOLDERS:
            (folder / part).mkdir()
        write_rows(folder / "roster.csv", COLUMNS, people.values())
        (folder / "README.txt").write_text(NOTE, encoding="utf-8")
        (folder / "nbgrader_config.py").write_text(SETTINGS, encoding="utf-8")
        if db:
            (folder / settings.GRADEBOOK_URL).write_text(db + "\n", encoding="utf-8")
        hidden_seed.class_secret(folder)
        made_folder = ClassFolder(folder)
        with nbgrader_calls.open_gradebook(folder, new=True) as gradebook:
            nbgrader_calls.keep_roster(gradebook, people)
    except BaseException:
        # a gradebook that was half made would never be whole again
        for path in folder.iterdir():
            shutil.rmtree(path) if path.is_dir() else path.unlink()
        if made:
            folder.rmdir()
        raise
    return made_folder
