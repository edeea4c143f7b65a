"""Commands for an instructor: class new, overlay, release, grade, feedback, export, open.

Those for the rules of a class and for a look at its answers stand in modules of their own.
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from time import monotonic

from rich.console import Console
from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn
from rich.table import Table
from rich.text import Text

from shared_utils.clinic.plain_text import shown
from shared_utils.commands import class_answers, class_hub, class_lti, class_rules
from shared_utils.commands.new_file import refuse_existing

SECONDS_BETWEEN_LINES = 10
WIDEST = 64  # letters of an id or a name in a table
EXPORTS = {"csv": "grades.csv", "xapi": "statements.jsonl", "oneroster": "oneroster.zip"}


def add_to(commands: argparse._SubParsersAction) -> None:
    """Add the parsers of this group."""
    group = commands.add_parser(
        "class",
        help="run a class: release, grade, give feedback",
        epilog="Example: lens-course class new ../class_2027 --roster roster.csv",
    )
    # as the title of the steps it leaves them room on a screen of 24 lines
    title = "Run a class with nbgrader, in a folder outside the course"
    steps = group.add_subparsers(title=title, dest="step", metavar="STEP", required=True)

    new = _parser(steps, "new", "make the folder of a class", "new ../class_2027 --roster r.csv")
    new.add_argument("folder", metavar="FOLDER", help="a new folder, outside the course")
    new.add_argument("--roster", metavar="CSV", help="columns: id, first_name, last_name, email")
    new.add_argument(
        "--db",
        metavar="URL",
        help="an empty PostgreSQL database for the gradebook (default: a file)",
    )
    new.set_defaults(run=_new)

    release = _parser(steps, "release", "make what learners get", "release 01", folder=True)
    release.add_argument("set", metavar="SET", help="number or name of the set")
    release.set_defaults(run=_release)

    overlay = _parser(
        steps, "overlay", "join private problems and a seed", "overlay ../private_2027", folder=True
    )
    overlay.add_argument(
        "private", metavar="PRIVATE", help="a folder of your own, with SLUG.py and seed.txt"
    )
    overlay.set_defaults(run=_overlay)

    grade = _parser(steps, "grade", "run and mark what was handed in", "grade 01", folder=True)
    grade.add_argument("set", metavar="SET", help="number or name of the set")
    grade.add_argument("--learner", metavar="ID", help="this learner alone")
    grade.add_argument(
        "--again", action="store_true", help="also those that have not changed since"
    )
    grade.add_argument(
        "--require-sandbox", action="store_true", help="refuse where there is no sandbox"
    )
    # its earlier name, which scripts of instructors may use
    grade.add_argument(
        "--require-box", dest="require_sandbox", action="store_true", help=argparse.SUPPRESS
    )
    grade.add_argument(
        "--workers", type=int, default=1, metavar="N", help="how many at a time (default: 1)"
    )
    grade.add_argument(
        "--cluster", metavar="ADDRESS", help="let the workers of this Dask scheduler run them"
    )
    grade.set_defaults(run=_grade)

    feedback = _parser(
        steps, "feedback", "write a page for each learner", "feedback 01", folder=True
    )
    feedback.add_argument("set", metavar="SET", help="number or name of the set")
    feedback.set_defaults(run=_feedback)

    export = _parser(
        steps, "export", "write all marks for another program", "export --to m.csv", folder=True
    )
    export.add_argument(
        "--as",
        dest="kind",
        choices=("csv", "oneroster", "xapi"),
        default="csv",
        help="one table; OneRoster 1.2 files; or xAPI statements (default: csv)",
    )
    export.add_argument(
        "--to",
        metavar="PATH",
        help="new file; for oneroster a zip or a folder (default: in the class's folder)",
    )
    ids = {"class": "the folder's name", "school": "lens-course", "term": "lens-course"}
    for what, default in ids.items():
        export.add_argument(
            f"--{what}-id", metavar="ID", help=f"for oneroster: its id there (default: {default})"
        )
    export.set_defaults(run=_export)

    report = _parser(
        steps, "report", "see what the class has understood", "report --to report", folder=True
    )
    report.add_argument("--to", metavar="FOLDER", help="where to write it (default: report there)")
    report.set_defaults(run=_report)

    class_rules.add_to(steps, _parser)
    class_answers.add_to(steps, _parser)
    class_hub.add_to(steps)
    class_lti.add_to(steps, _parser)

    start = _parser(
        steps, "open", "open the class, for the form grader", "open --port 8890", folder=True
    )
    start.add_argument("--no-browser", action="store_true", help="only start the server")
    start.add_argument("--port", type=int, default=8888, help="port to start at (default: 8888)")
    start.set_defaults(run=_open)


def _parser(steps, name, says, example, folder=False):
    parser = steps.add_parser(
        name,
        help=says,
        description=f"{says[0].upper()}{says[1:]}.",
        epilog=f"Example: lens-course class {example}",
    )
    if folder:
        parser.add_argument(
            "--folder", metavar="FOLDER", default=".", help="the class's folder (default: here)"
        )
    return parser


def _classroom(arguments):
    from shared_utils.classroom.classroom import Classroom

    return Classroom(arguments.folder)


def _progress(items, says, total):
    """Pass items on and tell how many are done and how long the rest will take."""
    console = Console(stderr=True)
    if console.is_terminal:
        columns = (TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn())
        with Progress(*columns, TimeRemainingColumn(), console=console, transient=True) as bar:
            yield from bar.track(items, total, description=says)
        return
    start = written = monotonic()
    for count, item in enumerate(items, 1):
        now = monotonic()
        if now - written > SECONDS_BETWEEN_LINES and count < total:
            left = (now - start) / count * (total - count)
            print(f"{says}: {count} of {total}, about {left:.0f} s left", file=sys.stderr)
            written = now
        yield item


def _new(arguments):
    from shared_utils.classroom.classroom import new_class

    with Console(stderr=True).status("making the class"):
        classroom = new_class(arguments.folder, arguments.roster, arguments.db)
    count = len(classroom.roster())
    print(f"Made the class in {classroom.folder}, with {count} in its roster.")
    if not count:
        print("Write the learners into roster.csv, a line for each.")
    print("Next, in that folder: lens-course class release 01")
    return 0


def _release(arguments):
    classroom = _classroom(arguments)
    with Console(stderr=True).status("releasing"):
        released = classroom.release(arguments.set)
    place = released.relative_to(classroom.folder)
    print(f"Released: hand out {place.as_posix()}")
    print(f"Collect as: submitted/ID/{released.parent.name}/{released.name}")
    return 0


def _overlay(arguments):
    from shared_utils.course.place import find_set

    joined = _classroom(arguments).join(arguments.private)
    for name in joined.texts:
        print(f"Joins {find_set(name)}: {', '.join(joined.problems(name))}.")
    if joined.seed:
        print("The seed joins every set: its numbers are new, and no secret once it is released.")
    print("Next: lens-course class release 01")
    return 0


def _grade(arguments):
    from shared_utils.classroom.grading_run import unprotected

    classroom = _classroom(arguments)
    name = classroom.find_released(arguments.set)
    learners = classroom.learners(name)
    if arguments.learner:
        if arguments.learner not in learners:
            raise ValueError(f"There is no learner {arguments.learner!r} in roster.csv.")
        learners = [arguments.learner]
    if not arguments.cluster and not arguments.require_sandbox and unprotected():
        print(unprotected())
    grading = classroom.grade(
        name,
        learners,
        again=arguments.again,
        require_sandbox=arguments.require_sandbox,
        workers=arguments.workers,
        cluster=arguments.cluster,
    )
    results = list(_progress(grading, f"grading {name}", len(learners)))
    results.sort(key=lambda result: learners.index(result.learner))
    console = Console(highlight=False, soft_wrap=True, emoji=False)
    console.print(_table(results))
    for result in results:
        for note in result.notes:
            console.print(f"{shown(result.learner, WIDEST)}: {shown(note)}", markup=False)
    if not arguments.learner:
        report = classroom.write_report(name, results)
        console.print(f"Report: {report.name}", markup=False)
        class_answers.say_alike(classroom, name)
    if arguments.cluster and any(result.unprotected for result in results):
        open_ones = sorted({result.unprotected for result in results if result.unprotected})
        console.print(open_ones[0], markup=False)
    waiting = sum(result.by_hand > 0 for result in results)
    if waiting:
        console.print(f"Written answers wait for you in {waiting}: lens-course class open")
    return 0


def _table(results):
    table = Table(box=None, pad_edge=False)
    table.add_column("learner", no_wrap=True)
    table.add_column("name", no_wrap=True)
    for title in ("marks", "of", "by hand"):
        table.add_column(title, justify="right", no_wrap=True)
    for result in results:
        row = [_number(value) for value in (result.marks, result.of, result.by_hand or None)]
        who = [Text(shown(name, WIDEST)) for name in (result.learner, result.name)]
        table.add_row(*who, *row)
    return table


def _number(value):
    return "–" if value is None else f"{value:.2f}".rstrip("0").rstrip(".")


def _feedback(arguments):
    classroom = _classroom(arguments)
    name = classroom.find_released(arguments.set)
    count = len(classroom.graded(name))
    if not count:
        raise ValueError(f"No submission to {name} is marked yet: grade it first.")
    pages = list(_progress(classroom.feedback(name), f"writing feedback on {name}", count))
    print(f"Feedback written for {len(pages)}: feedback/ID/{name}/problems.html")
    return 0


def _export(arguments):
    classroom = _classroom(arguments)
    if not classroom.released_sets():
        raise ValueError("No set was released in this class yet, so there are no marks.")
    target = classroom.folder / EXPORTS[arguments.kind]
    if arguments.to and Path(arguments.to).resolve() != target:
        target = Path(arguments.to)
        _refuse_target(classroom, target, folder=arguments.kind == "oneroster")
    if arguments.kind == "csv":
        print(f"Wrote {classroom.export(target)}")
        return 0
    from shared_utils.standards import oneroster, xapi

    of_class = classroom.marks()
    if arguments.kind == "xapi":
        count = xapi.write(xapi.of_class(of_class, classroom.slips()), target)
        print(f"Wrote {count} statements to {target}")
        return 0
    ids = {what: getattr(arguments, f"{what}_id") for what in ("class", "school", "term")}
    given = {f"{what}_id": id_ for what, id_ in ids.items() if id_}
    given.setdefault("class_id", classroom.folder.name)
    given["zone"] = classroom.zone()
    written = oneroster.write(of_class, target, **given)
    print(f"Wrote {written}")
    left = [f"--{what}-id" for what, id_ in ids.items() if not id_]
    if left:
        print(f"Where the receiving system has other ids, give them: {', '.join(left)}.")
    return 0


def _refuse_target(classroom, target, folder):
    """Refuse what is the class's own or there already, but for an empty folder if one may be."""
    if classroom.is_own(target):
        raise ValueError(f"{target} belongs to the class itself; give another name.")
    if not (folder and target.is_dir() and target.suffix != ".zip" and not any(target.iterdir())):
        refuse_existing(target)


def _report(arguments):
    from shared_utils.reports import class_report, class_sections

    classroom = _classroom(arguments)
    with Console(stderr=True).status("reading the gradebook"):
        of_class = classroom.marks()
        sections = class_sections.of_class(classroom.layout, of_class)
        report = class_report.make(of_class, classroom.slips(), sections)
        page = class_report.write(report, arguments.to or classroom.folder / "report")
    print(f"The report is in {page}. It names learners: keep it to yourself.")
    return 0


def _open(arguments):
    from shared_utils.pages import server
    from shared_utils.reports import mistakes_server

    classroom = _classroom(arguments)
    # a query in the address would swallow the server's token, so the form grader is a click away
    print("When JupyterLab is open, choose Nbgrader ▸ Formgrader in its menu.")
    print("There, the page of a set under Manual Grading links to its common mistakes.")
    return server.open_lab(
        classroom.folder,
        "/lab/workspaces/lens-course-class",
        arguments.port,
        browser=not arguments.no_browser,
        extra_arguments=[mistakes_server.EXTENSION_ARGUMENT],
    )
