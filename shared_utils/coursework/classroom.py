"""A class: its folder, its roster, and the way of a problem set from release to marks.

The folder lies outside the course, so that learners' work and marks never get into the repository:

================== ==================================================================
``roster.csv``     who is in the class: id, first_name, last_name, email
``source/``        the sets with answers and hidden tests, as they were released
``release/``       what learners get
``submitted/``     what they hand in: ``submitted/ID/SET/problems.ipynb``
``autograded/``    the same, run and marked
``feedback/``      one page for each learner and set
``gradebook.db``   nbgrader's gradebook; it holds the hidden tests in clear
``overlay.txt``    where the instructor's private problems are, if there are any
``gradebook.url``  where the gradebook is instead, if it is in a database elsewhere
================== ==================================================================
"""

import csv
import difflib
import hashlib
import json
import logging
import re
import shutil
import warnings
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

from shared_utils import CAUTION
from shared_utils.coursework import build
from shared_utils.coursework.overlay import Overlay
from shared_utils.coursework.place import course_root, find_set

NOTEBOOK = "problems.ipynb"
FOLDERS = ("source", "release", "submitted", "autograded", "feedback")
COLUMNS = ("id", "first_name", "last_name", "email")
SETTINGS = """\
from shared_utils.coursework.grading.settings import configure
configure(get_config(), __file__)
"""
NOTE = f"""\
A class of the course on the optics behind choosing a lens for a cataract patient.

roster.csv                           who is in the class: id, first_name, last_name, email
release/SET/problems.ipynb           hand this to the learners
submitted/ID/SET/problems.ipynb      put here what they hand in; ID as in roster.csv
feedback/ID/SET/problems.html        give this back to them

In this folder, in this order:

lens-course class release 01         make the set's released notebook
lens-course class grade 01           run and mark everything that was handed in
lens-course class open               mark the written answers in the form grader
lens-course class feedback 01        write each learner's feedback
lens-course class export             write all marks to grades.csv

source/ and gradebook.db hold the answers and the hidden tests: keep this folder to yourself and out
of the course's repository. What nbgrader says goes to class.log.

{CAUTION}
"""
OVERLAY = "overlay.txt"
LARGEST_BYTES = 20_000_000


@dataclass
class Result:
    """What became of one learner's submission."""

    learner: str
    name: str
    marks: float | None = None
    of: float | None = None
    by_hand: float = 0.0
    notes: list = field(default_factory=list)


class Classroom:
    """A class in its folder.

    Parameters
    ----------
    folder : path-like
        Made by ``new_class``.

    Raises
    ------
    ValueError
        If the folder is not a class's.
    """

    def __init__(self, folder):
        self.folder = Path(folder).resolve()
        if not (self.folder / "nbgrader_config.py").is_file():
            raise ValueError(
                f"{self.folder} is not the folder of a class: go into it, name it with --folder, "
                "or make one with `lens-course class new FOLDER`."
            )

    def roster(self):
        """Return the learners by id, as ``roster.csv`` has them."""
        return read_roster(self.folder / "roster.csv")

    def release(self, wanted):
        """Make what learners get, and keep its tests in the gradebook.

        Parameters
        ----------
        wanted : str
            Number or name of the set.

        Returns
        -------
        pathlib.Path
            The released notebook: the same, byte for byte, as the one in ``exercises``, unless
            an overlay joins it.

        Raises
        ------
        ValueError
            If the set cannot be released; the folder is then as it was before.
        """
        name = find_set(wanted)
        whole, expected = self._texts(name)
        with _kept(self.folder, [f"{part}/{name}" for part in ("source", "release")]):
            source = self.folder / "source" / name
            shutil.rmtree(source, ignore_errors=True)
            source.mkdir(parents=True)
            (source / NOTEBOOK).write_bytes(whole)
            with self._nbgrader() as api:
                self._done(
                    api.generate_assignment(name),
                    f"{name} could not be released",
                    {
                        "Cannot add or remove cells": "has submissions in this class, and cells "
                        "were added to it or taken away since; grade it as it was released, or "
                        "make a new class for the new text. Nothing was changed",
                    },
                )
            released = self.folder / "release" / name / NOTEBOOK
            if released.read_bytes() != expected:
                raise ValueError(
                    f"The release of {name} differs from exercises/{name}: run `lens-course build`."
                )
        return released

    def join(self, folder):
        """Let private problems and a seed join the sets that are released from now on.

        Parameters
        ----------
        folder : path-like
            As ``overlay`` describes it.

        Returns
        -------
        Overlay

        Raises
        ------
        ValueError
            If the folder cannot be used; nothing is changed then.
        """
        joined = Overlay(folder)
        for name in joined.texts:
            joined.notebook(name)
        (self.folder / OVERLAY).write_text(f"{joined.folder}\n", encoding="utf-8")
        return joined

    def _texts(self, name):
        """Return a set as it is released here, with answers and without, in bytes."""
        place = self.folder / OVERLAY
        joined = Overlay(place.read_text(encoding="utf-8").strip()) if place.is_file() else None
        if joined and joined.joins(name):
            notebook = joined.notebook(name)
            pair = notebook, build.released(notebook)
            return tuple(build.serialise(one).encode("utf-8") for one in pair)
        places = [course_root() / part / name / NOTEBOOK for part in ("solutions", "exercises")]
        if not all(place.is_file() for place in places):
            raise ValueError(f"{name} is not built: run `lens-course build` first.")
        return tuple(place.read_bytes() for place in places)

    def released_sets(self):
        """Return the names of the sets that this class has had."""
        return sorted(path.parent.name for path in (self.folder / "release").glob(f"*/{NOTEBOOK}"))

    def find_released(self, wanted):
        """Return the name of a released set from its number or name."""
        name = find_set(wanted)
        if name not in self.released_sets():
            raise ValueError(
                f"{name} was not released in this class: run `lens-course class release "
                f"{name.split('_')[0]}` first."
            )
        return name

    def learners(self, name):
        """Return the ids to go through for a set: the roster's, then any other that handed in."""
        strangers = {path.parent.name for path in (self.folder / "submitted").glob(f"*/{name}")}
        roster = self.roster()
        return [*roster, *sorted(strangers - set(roster))]

    def grade(self, name, learners=None, again=False, require_box=False):
        """Run and mark submissions, one by one.

        A submission that has not changed since it was marked is not run again, so that marks given
        by hand stay as they are.

        Parameters
        ----------
        name : str
            A released set.
        learners : sequence of str, optional
            Ids; all of ``learners(name)`` if not given.
        again : bool
            Whether to run those that have not changed, too.
        require_box : bool
            Whether to refuse where no box can be put around a learner's kernel.

        Yields
        ------
        Result
            One for each learner; what is wrong with a submission is a sentence in its notes.

        Raises
        ------
        ValueError
            If a box is required and there is none.
        """
        if require_box and unprotected():
            raise ValueError(f"Nothing was graded. {unprotected()}")
        roster = self.roster()
        released = self.folder / "release" / name / NOTEBOOK
        known = {cell["metadata"]["nbgrader"]["grade_id"] for cell in _cells(released)}
        with self._nbgrader() as api:
            self._keep_roster(api, roster)
            for learner in self.learners(name) if learners is None else learners:
                person = roster.get(learner)
                result = Result(learner, _full_name(person))
                if person is None:
                    result.notes.append(_stranger(learner, roster))
                    yield result
                    continue
                notebook = self.folder / "submitted" / learner / name / NOTEBOOK
                fault, remark = examine(notebook, known, learner)
                if fault:
                    self._marks(api, name, result)
                    earlier = "" if result.marks is None else " The marks are the earlier ones."
                    result.notes.append(fault + earlier)
                else:
                    self._grade_one(api, name, notebook, result, again)
                    result.notes += [remark] if remark else []
                yield result

    def feedback(self, name):
        """Write one page for each learner whose submission was marked.

        Yields
        ------
        tuple of str and pathlib.Path
            The learner's id and the page.
        """
        with self._nbgrader() as api:
            for learner in self.graded(name):
                said = f"The feedback of {learner} could not be written"
                self._done(api.generate_feedback(name, learner), said)
                yield learner, self.folder / "feedback" / learner / name / "problems.html"

    def graded(self, name):
        """Return the ids of the learners whose submission to a set was marked."""
        found = (self.folder / "autograded").glob(f"*/{name}/{NOTEBOOK}")
        return sorted(path.parent.parent.name for path in found)

    def export(self, target=None):
        """Write the marks of every learner in every released set.

        Parameters
        ----------
        target : path-like, optional
            A CSV file; ``grades.csv`` in the class's folder if not given.

        Returns
        -------
        pathlib.Path
        """
        target = Path(target) if target else self.folder / "grades.csv"
        rows = []
        with self._nbgrader() as api:
            roster = self.roster()
            self._keep_roster(api, roster)
            for name in self.released_sets():
                for learner, person in roster.items():
                    result = Result(learner, _full_name(person))
                    self._marks(api, name, result)
                    rows.append({"set": name, **person, **_marks_row(result)})
        _write_rows(target, ["set", *COLUMNS, "marks", "of", "to_mark_by_hand"], rows)
        return target

    def write_report(self, name, results):
        """Write what became of a set's submissions, and return the file."""
        target = self.folder / f"report_{name}.csv"
        rows = [
            {"id": r.learner, "name": r.name, **_marks_row(r), "notes": " ".join(r.notes)}
            for r in results
        ]
        _write_rows(target, ["id", "name", "marks", "of", "to_mark_by_hand", "notes"], rows)
        return target

    def _grade_one(self, api, name, notebook, result, again):
        from shared_utils.coursework.grading import settings

        marked = self.folder / "autograded" / result.learner / name / NOTEBOOK
        stamp = marked.with_name(settings.STAMP)
        print_of = _fingerprint(notebook, self.folder / "source" / name / NOTEBOOK)
        old = stamp.read_text(encoding="utf-8") if stamp.is_file() and marked.is_file() else ""
        if again or old != print_of:
            outcome = api.autograde(name, result.learner, force=True, create=False)
            if not self._tell(outcome)["success"]:
                reason = _last_line(outcome)
                result.notes.append(f"Could not be marked ({reason}); class.log tells more.")
                return
            stamp.write_text(print_of, encoding="utf-8")
        self._marks(api, name, result)
        result.notes += (
            json.loads(marked.read_text(encoding="utf-8"))["metadata"]
            .get("lens_course", {})
            .get("notes", [])
        )

    def _marks(self, api, name, result):
        from nbgrader.api import MissingEntry

        with api.gradebook as gradebook:
            result.of = gradebook.find_assignment(name).max_score
            try:
                submission = gradebook.find_submission(name, result.learner)
            except MissingEntry:
                return
            grades = [grade for book in submission.notebooks for grade in book.grades]
            result.marks = submission.score
            waiting = [grade.max_score for grade in grades if grade.needs_manual_grade]
            result.by_hand = sum(waiting, 0.0)

    def _keep_roster(self, api, roster):
        with api.gradebook as gradebook:
            for learner, person in roster.items():
                about = {column: person[column] or None for column in COLUMNS[1:]}
                gradebook.update_or_create_student(learner, **about)

    @contextmanager
    def _nbgrader(self):
        """Give nbgrader with this class's settings, its words kept in the log."""
        from nbgrader.apps import NbGraderAPI
        from traitlets.config import Config

        from shared_utils.coursework.grading import settings

        handler = logging.FileHandler(settings.log_path(self.folder), encoding="utf-8")
        handler.setFormatter(logging.Formatter("%(asctime)s %(levelname)s %(message)s"))
        loggers = [logging.getLogger(name) for name in ("traitlets", "py.warnings")]
        with warnings.catch_warnings():
            warnings.simplefilter("default")
            logging.captureWarnings(True)
            for logger in loggers:
                logger.addHandler(handler)
            try:
                yield NbGraderAPI(config=settings.configure(Config(), self.folder))
            finally:
                for logger in loggers:
                    logger.removeHandler(handler)
                handler.close()
                logging.captureWarnings(False)

    def _tell(self, outcome):
        """Pass on an interruption, which nbgrader catches with everything else."""
        if "KeyboardInterrupt" in outcome.get("error", ""):
            raise KeyboardInterrupt
        if not outcome["success"]:
            logging.getLogger("traitlets").error(outcome["error"])
        return outcome

    def _done(self, outcome, said, known=()):
        if self._tell(outcome)["success"]:
            return
        told = outcome.get("error", "") + outcome.get("log", "")
        for mark in known:
            if mark in told:
                raise ValueError(f"{said}: it {known[mark]}.")
        raise ValueError(f"{said} ({_last_line(outcome)}); class.log tells more.")


def unprotected():
    """Return a sentence on what learners' code could reach while it is graded, or an empty text."""
    from shared_utils.coursework.grading import box

    return f"{box.UNBOXED}: {box.fault()}." if box.fault() else ""


def new_class(folder, roster=None, db=None):
    """Make the folder of a class and return the class.

    Parameters
    ----------
    folder : path-like
        New or empty, outside the course's folder.
    roster : path-like, optional
        A CSV file with the columns id, first_name, last_name, email; the id is what a learner's
        folder in ``submitted`` is called. Without it the roster is empty, to be filled in.
    db : str, optional
        Address of an empty PostgreSQL database for the gradebook, such as
        ``postgresql://host/optics_2027``; a file in the folder if not given.

    Returns
    -------
    Classroom

    Raises
    ------
    ValueError
        If the folder or the database cannot be used or the roster does not hold.
    """
    folder = Path(folder).resolve()
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
    people = read_roster(roster) if roster else {}
    if db:
        _empty_database(db)

    made = not folder.exists()
    folder.mkdir(parents=True, exist_ok=True)
    try:
        for part in FOLDERS:
            (folder / part).mkdir()
        _write_rows(folder / "roster.csv", COLUMNS, people.values())
        (folder / "README.txt").write_text(NOTE, encoding="utf-8")
        (folder / "nbgrader_config.py").write_text(SETTINGS, encoding="utf-8")
        if db:
            from shared_utils.coursework.grading import settings

            (folder / settings.ELSEWHERE).write_text(db + "\n", encoding="utf-8")
        classroom = Classroom(folder)
        with classroom._nbgrader() as api:
            classroom._keep_roster(api, people)
    except BaseException:
        # a gradebook that was half made would never be whole again
        for path in folder.iterdir():
            shutil.rmtree(path) if path.is_dir() else path.unlink()
        if made:
            folder.rmdir()
        raise
    return classroom


def _empty_database(url):
    """Refuse a database that cannot be reached or holds something."""
    from sqlalchemy import create_engine, inspect
    from sqlalchemy.exc import SQLAlchemyError

    from shared_utils.coursework.grading import settings

    try:
        engine = create_engine(settings.with_driver(url))
        tables = inspect(engine).get_table_names()
        engine.dispose()
    except ModuleNotFoundError as error:
        raise ValueError(
            f"{error.name} is missing for this database: run `pip install -e '.[postgres]'` in the "
            "course's folder."
        ) from None
    except SQLAlchemyError as error:
        said = str(getattr(error, "orig", None) or error).strip().splitlines()[-1]
        raise ValueError(f"The database cannot be used: {said}.") from None
    if tables:
        raise ValueError(
            "The database is not empty: each class has one of its own; make another with createdb."
        )


def read_roster(path):
    """Return the learners of a roster by id.

    Parameters
    ----------
    path : path-like
        CSV with commas or semicolons and a first line that names the columns.

    Returns
    -------
    dict of str to dict
        For each id its row, with the columns id, first_name, last_name, email.

    Raises
    ------
    ValueError
        If there is no such file, a column is missing, or an id is unfit or stands twice.
    """
    path = Path(path)
    try:
        text = path.read_text(encoding="utf-8-sig")
    except FileNotFoundError:
        raise ValueError(f"There is no roster {path}.") from None
    except UnicodeDecodeError:
        raise ValueError(f"{path.name} is not in UTF-8: save it as “CSV UTF-8”.") from None
    lines = text.splitlines()
    comma = ";" if lines and lines[0].count(";") > lines[0].count(",") else ","
    reader = csv.DictReader(lines, delimiter=comma, skipinitialspace=True)
    if "id" not in (reader.fieldnames or []):
        raise ValueError(
            f"{path.name} has no column id: its first line must be {','.join(COLUMNS)}."
        )
    people = {}
    for row in reader:
        person = {column: (row.get(column) or "").strip() for column in COLUMNS}
        learner = person["id"]
        where = f"{path.name}, line {reader.line_num}"
        if not any(person.values()):
            continue
        if not re.fullmatch(r"[A-Za-z0-9_@-][A-Za-z0-9._@-]*", learner):
            raise ValueError(
                f"{where}: the id {learner!r} names a folder, so it may hold letters without "
                "accents, digits, and . _ @ - alone."
            )
        if learner.lower() in {other.lower() for other in people}:
            raise ValueError(f"{where}: the id {learner!r} stands twice.")
        people[learner] = person
    return people


def examine(notebook, known, learner):
    """Return what keeps a submission from being marked, and what is odd about it.

    Parameters
    ----------
    notebook : pathlib.Path
        Where the submission must lie.
    known : set of str
        The grade ids of the set.
    learner : str
        Whose it is.

    Returns
    -------
    fault : str
        A sentence, empty if it can be marked.
    remark : str
        A sentence, empty if there is none.
    """
    fault = _missing(notebook)
    if fault:
        return fault, ""
    try:
        text = notebook.read_bytes().decode("utf-8-sig")
        cells = json.loads(text)["cells"]
        ids = {cell["metadata"].get("nbgrader", {}).get("grade_id") for cell in cells}
        _reads(text)
    except UnicodeDecodeError:
        return f"{NOTEBOOK} is not a notebook; ask for the file again.", ""
    except json.JSONDecodeError:
        if text.lstrip().startswith("{") and not text.rstrip().endswith("}"):
            return f"{NOTEBOOK} is cut off: the file ends in the middle; ask for it again.", ""
        return f"{NOTEBOOK} is not a notebook; ask for the file again.", ""
    except Exception:
        return f"{NOTEBOOK} is not a notebook that can be read; ask for the file again.", ""
    if not ids & known:
        return f"{NOTEBOOK} holds no cell of this set; is it the notebook of another one?", ""
    return "", _other_numbers(cells, learner)


def _missing(notebook):
    """Return why there is no file to read, or an empty text."""
    folder = notebook.parent
    if notebook.is_symlink() or folder.is_symlink():
        return f"{NOTEBOOK} is a link, not a file; put the file itself there."
    if not notebook.is_file():
        others = sorted(folder.glob("*.[iI][pP][yY][nN][bB]")) if folder.is_dir() else []
        if others:
            return f"The file is called {others[0].name!r}: rename it {NOTEBOOK} and grade again."
        if folder.is_dir():
            return f"There is no {NOTEBOOK} in {'/'.join(folder.parts[-3:])}."
        return "Nothing was handed in."
    size = notebook.stat().st_size
    if size == 0:
        return f"{NOTEBOOK} is empty; ask for the file again."
    if size > LARGEST_BYTES:
        return f"{NOTEBOOK} has {size / 1e6:.0f} MB; ask for it with its outputs cleared."
    return ""


def _reads(text):
    import nbformat

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # cells without an id, which get one
        nbformat.validate(nbformat.reads(text, as_version=4), relax_add_props=True)


def _other_numbers(cells, learner):
    """Return a remark if the learner worked with the numbers of another id."""
    for cell in cells:
        if cell["metadata"].get("nbgrader", {}).get("grade_id") == "setup-given":
            said = re.search(r"Numbers for learner: ([^\s\"\\]+)", json.dumps(cell.get("outputs")))
            if said and said[1] != learner:
                return (
                    f"Worked with the numbers of {said[1]!r} and was marked with those of "
                    f"{learner!r}; let the learner run `lens-course learner {learner}`."
                )
    return ""


def _stranger(learner, roster):
    near = difflib.get_close_matches(learner, roster, n=1)
    hint = f" Is it {near[0]}? Then rename the folder." if near else ""
    return f"Not in roster.csv, so not marked: add a line there and grade again.{hint}"


def _full_name(person):
    return f"{person['first_name']} {person['last_name']}".strip() if person else ""


def _cells(path):
    return json.loads(path.read_text(encoding="utf-8"))["cells"]


def _fingerprint(*paths):
    digest = hashlib.sha256()
    for path in paths:
        digest.update(path.read_bytes())
    return digest.hexdigest()


def _last_line(outcome):
    lines = [line for line in outcome.get("error", "").splitlines() if line.strip()]
    return lines[-1].strip().rstrip(".") if lines else "no reason given"


def _marks_row(result):
    return {
        "marks": "" if result.marks is None else round(result.marks, 4),
        "of": "" if result.of is None else result.of,
        "to_mark_by_hand": result.by_hand,
    }


def _write_rows(path, columns, rows):
    with open(path, "w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, columns, lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)


@contextmanager
def _kept(folder, parts):
    """Put folders back as they were if what is done with them fails."""
    backup = folder / ".before"
    shutil.rmtree(backup, ignore_errors=True)
    for part in parts:
        if (folder / part).is_dir():
            shutil.copytree(folder / part, backup / part)
    try:
        yield
    except BaseException:
        for part in parts:
            shutil.rmtree(folder / part, ignore_errors=True)
            if (backup / part).is_dir():
                shutil.copytree(backup / part, folder / part)
        raise
    finally:
        shutil.rmtree(backup, ignore_errors=True)
