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
import os
import re
import shutil
import warnings
from collections import deque
from contextlib import ExitStack, contextmanager, suppress
from dataclasses import dataclass, field
from pathlib import Path

from shared_utils import CAUTION
from shared_utils.course import manifest
from shared_utils.course.place import course_root, find_set, set_names
from shared_utils.pages import build
from shared_utils.problems.overlay import Overlay

NOTEBOOK = "problems.ipynb"
FOLDERS = ("source", "release", "submitted", "autograded", "feedback")
COLUMNS = ("id", "first_name", "last_name", "email")
SETTINGS = """\
from shared_utils.grading.supervisor.settings import configure
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
    slips: list = field(default_factory=list)
    seconds: float | None = None
    unprotected: str = ""


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
        name = self._name_here(wanted)
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
        stem = find_set(name)  # the course may number it otherwise now
        places = [course_root() / part / stem / NOTEBOOK for part in ("solutions", "exercises")]
        if not all(place.is_file() for place in places):
            raise ValueError(f"{name} is not built: run `lens-course build` first.")
        return tuple(place.read_bytes() for place in places)

    def released_sets(self):
        """Return the names of the sets that this class has had."""
        return sorted(path.parent.name for path in (self.folder / "release").glob(f"*/{NOTEBOOK}"))

    def find_released(self, wanted):
        """Return the name of a released set, as it was released, from its number or name."""
        name = self._name_here(wanted)
        if name not in self.released_sets():
            raise ValueError(
                f"{name} was not released in this class: run `lens-course class release "
                f"{name.split('_')[0]}` first."
            )
        return name

    def _name_here(self, wanted):
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
        stem = find_set(text)
        same = [name for name in released if manifest.slug_in(name) == manifest.slug_in(stem)]
        return same[0] if same else stem

    def learners(self, name):
        """Return the ids to go through for a set: the roster's, then any other that handed in."""
        strangers = {path.parent.name for path in (self.folder / "submitted").glob(f"*/{name}")}
        roster = self.roster()
        return [*roster, *sorted(strangers - set(roster))]

    def grade(self, name, learners=None, again=False, require_box=False, workers=1, cluster=None):
        """Run and mark submissions side by side, with one hand in the gradebook.

        A submission that has not changed since it was marked is not run again, so that marks given
        by hand stay as they are, and a run that was stopped goes on where it was.

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
        workers : int
            How many submissions are run at a time.
        cluster : str, optional
            Address of a Dask scheduler whose workers run them instead.

        Returns
        -------
        iterator of Result
            One for each learner, as they are done; what is wrong with a submission is a sentence
            in its notes.

        Raises
        ------
        ValueError
            If a box is required and there is none, or the cluster cannot be reached.
        """
        if require_box and not cluster and unprotected():
            raise ValueError(f"Nothing was graded. {unprotected()}")
        if workers < 1:
            raise ValueError(f"There must be at least one worker, not {workers}.")
        with ExitStack() as opened:
            config = opened.enter_context(self._settings())
            # before the gradebook is opened: workers are forked from here
            crew = self._crew(name, require_box, workers, cluster)
            opened.callback(crew.stop)
            learners = self.learners(name) if learners is None else learners
            return self._graded(name, learners, again, config, crew, opened.pop_all())

    def _crew(self, name, require_box, workers, cluster):
        nursery = None
        if not cluster:
            from shared_utils.grading import kernel_pool

            with suppress(OSError):
                nursery = kernel_pool.Nursery()  # it gets ready while nbgrader is imported
        from shared_utils.grading.supervisor import grading_spec, settings

        url = settings.gradebook_url(self.folder)
        wanted = grading_spec.read_kit(self.folder, name, Path(NOTEBOOK).stem, url, require_box)
        if cluster:
            from shared_utils.grading.supervisor.cluster import Cluster

            return Cluster(wanted, cluster)
        from shared_utils.grading.supervisor.worker_pool import Crew

        return Crew(wanted, workers, nursery)

    def _graded(self, name, learners, again, config, crew, opened):
        from shared_utils.grading.supervisor import gradebook, settings

        roster = self.roster()
        under_way, done = {}, deque()

        def works():
            for learner in learners:
                result = Result(learner, _full_name(roster.get(learner)))
                if learner not in roster:
                    result.notes.append(_stranger(learner, roster))
                    done.append(result)
                    continue
                fault, work = self._handed_in(name, learner)
                old = self._marked_folder(name, learner)
                stamp = "" if fault else self._stamp(name, work)
                if fault:
                    self._add_marks(kept, name, result, fault)
                elif not again and _read(old / settings.STAMP) == stamp and _read(old / NOTEBOOK):
                    about = json.loads(_read(old / NOTEBOOK))["metadata"].get("lens_course", {})
                    result.notes += about.get("notes", [])
                    result.slips += about.get("slips", [])
                    self._add_marks(kept, name, result)
                else:
                    under_way[learner] = work, stamp, result
                    yield work
                    continue
                done.append(result)

        with opened:
            kept = gradebook.Book(config)
            opened.callback(kept.close)
            self._keep_roster(kept)
            for marked in crew.mark(works()):
                work, stamp, result = under_way.pop(marked.learner)
                result.unprotected = marked.unprotected
                if not marked.fault:
                    result.seconds = marked.seconds
                    result.notes += marked.notes + self._keep(kept, name, work, marked, stamp)
                    result.slips += marked.slips
                self._add_marks(kept, name, result, marked.fault)
                yield result
                while done:
                    yield done.popleft()
            yield from done

    def _handed_in(self, name, learner):
        """Return why a submission cannot be run, or an empty text, and the submission."""
        from shared_utils.grading.supervisor import grade_submission, sandbox

        notebook = self.folder / "submitted" / learner / name / NOTEBOOK
        fault = _missing(notebook)
        if fault:
            return fault, None
        try:
            handed_in = notebook.read_bytes()
        except OSError as error:
            return f"{NOTEBOOK} cannot be read: {error.strerror}.", None
        return "", grade_submission.Work(learner, handed_in, sandbox.files_beside(notebook.parent))

    def _marked_folder(self, name, learner):
        return self.folder / "autograded" / learner / name

    def _stamp(self, name, work):
        """Return what tells a submission, and the set as it is, from every other."""
        digest = hashlib.sha256(work.notebook)
        digest.update((self.folder / "source" / name / NOTEBOOK).read_bytes())
        for path, content in work.files.items():
            digest.update(os.fsencode(path) + b"\0" + content)
        return digest.hexdigest()

    def _keep(self, kept, name, work, marked, stamp):
        """Keep what was marked: stopped at any moment, it is as before or done anew next time."""
        from shared_utils.grading.supervisor import settings

        when, note = _time_of(work.files)
        folder = self._marked_folder(name, work.learner)
        fresh = folder.with_name(f".{name}")
        shutil.rmtree(fresh, ignore_errors=True)
        contents = {**work.files, NOTEBOOK: marked.notebook, settings.STAMP: stamp.encode()}
        for path, content in contents.items():
            (fresh / path).parent.mkdir(parents=True, exist_ok=True)
            (fresh / path).write_bytes(content)
        kept.keep(name, marked, when)
        if folder.exists():
            shutil.rmtree(folder)
        fresh.rename(folder)
        return note

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
        with self._book() as kept:
            self._keep_roster(kept)
            for name in self.released_sets():
                for learner, person in self.roster().items():
                    result = Result(learner, _full_name(person))
                    self._add_marks(kept, name, result)
                    rows.append({"set": name, **person, **_marks_row(result)})
        _write_rows(target, ["set", *COLUMNS, "marks", "of", "to_mark_by_hand"], rows)
        return target

    def write_report(self, name, results):
        """Write what became of a set's submissions, and return the file."""
        target = self.folder / f"report_{name}.csv"
        rows = [
            {
                "id": r.learner,
                "name": r.name,
                **_marks_row(r),
                "seconds": "" if r.seconds is None else round(r.seconds, 1),
                "notes": " ".join(r.notes),
                "slips": " ".join(r.slips),
            }
            for r in results
        ]
        columns = ["id", "name", "marks", "of", "to_mark_by_hand", "seconds", "notes", "slips"]
        _write_rows(target, columns, rows)
        return target

    def _add_marks(self, kept, name, result, fault=""):
        result.of, result.marks, result.by_hand = kept.marks(name, result.learner)
        if fault:
            earlier = "" if result.marks is None else " The marks are the earlier ones."
            result.notes.append(fault + earlier)

    def _keep_roster(self, kept):
        people = self.roster().items()
        kept.keep_roster(
            {who: {key: about[key] or None for key in COLUMNS[1:]} for who, about in people}
        )

    @contextmanager
    def _nbgrader(self):
        """Give nbgrader with this class's settings."""
        from nbgrader.apps import NbGraderAPI

        with self._settings() as config:
            yield NbGraderAPI(config=config)

    @contextmanager
    def _book(self):
        """Give this class's gradebook."""
        from shared_utils.grading.supervisor import gradebook

        with self._settings() as config:
            opened = gradebook.Book(config)
            try:
                yield opened
            finally:
                opened.close()

    @contextmanager
    def _settings(self):
        """Give this class's settings for nbgrader, whose words are kept in the log meanwhile."""
        from traitlets.config import Config

        from shared_utils.grading.supervisor import settings

        handler = logging.FileHandler(settings.log_path(self.folder), encoding="utf-8")
        handler.setFormatter(logging.Formatter("%(asctime)s %(levelname)s %(message)s"))
        loggers = [logging.getLogger(name) for name in ("traitlets", "py.warnings")]
        with warnings.catch_warnings():
            warnings.simplefilter("default")
            logging.captureWarnings(True)
            for logger in loggers:
                logger.addHandler(handler)
            try:
                yield settings.configure(Config(), self.folder)
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


def unprotected(fault=None):
    """Return a sentence on what learners' code could reach while it is graded, or an empty text.

    Parameters
    ----------
    fault : str, optional
        Why there is no box; as it is here, if not given.
    """
    from shared_utils.grading.supervisor import sandbox

    fault = sandbox.fault() if fault is None else fault
    return f"{sandbox.UNBOXED}: {fault}." if fault else ""


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
            from shared_utils.grading.supervisor import settings

            (folder / settings.ELSEWHERE).write_text(db + "\n", encoding="utf-8")
        classroom = Classroom(folder)
        with classroom._book() as kept:
            classroom._keep_roster(kept)
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

    from shared_utils.grading.supervisor import settings

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


def _stranger(learner, roster):
    near = difflib.get_close_matches(learner, roster, n=1)
    hint = f" Is it {near[0]}? Then rename the folder." if near else ""
    return f"Not in roster.csv, so not marked: add a line there and grade again.{hint}"


def _full_name(person):
    return f"{person['first_name']} {person['last_name']}".strip() if person else ""


def _read(path):
    """Return the text of a file, empty if there is none."""
    return path.read_text(encoding="utf-8") if path.is_file() else ""


def _time_of(files):
    """Return when a submission was handed in, if nbgrader's exchange has noted it, and remarks."""
    from nbgrader.utils import parse_utc

    try:
        said = files["timestamp.txt"].decode().strip()
        return (parse_utc(said) if said else None), []
    except KeyError:
        return None, []
    except (ValueError, OverflowError):
        return None, ["timestamp.txt holds no time; the submission was taken as in time."]


def _last_line(outcome):
    lines = [line for line in outcome.get("error", "").splitlines() if line.strip()]
    return lines[-1].strip().rstrip(".") if lines else "no reason given"


def _marks_row(result):
    return {
        "marks": "" if result.marks is None else result.marks,  # to the last digit
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
