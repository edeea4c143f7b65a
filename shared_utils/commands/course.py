"""Commands for everybody: open, build, check, book, learner."""

from __future__ import annotations

import difflib
from pathlib import Path
from typing import TYPE_CHECKING

from rich.console import Console
from rich.progress import track

if TYPE_CHECKING:
    import argparse


def add_to(commands: argparse._SubParsersAction) -> None:
    """Add the parsers of this group."""
    start = _parser(
        commands,
        "open",
        "open the course in JupyterLab",
        "lens-course open vergence",
    )
    start.add_argument(
        "page", nargs="?", help="number, name or path of a page (default: the first)"
    )
    start.add_argument("--no-browser", action="store_true", help="only start the server")
    start.add_argument("--port", type=int, default=8888, help="port to start at (default: 8888)")
    start.set_defaults(run=_open)

    build = _parser(
        commands, "build", "write every notebook from its text", "lens-course build --check"
    )
    build.add_argument("--check", action="store_true", help="write nothing; fail on a difference")
    build.add_argument(
        "--from-notebook", metavar="PATH", help="write a notebook's edits back into its text"
    )
    build.set_defaults(run=_build)

    new = commands.add_parser(
        "new", help="begin a lesson", description="Write the first texts of a new lesson."
    )
    kinds = new.add_subparsers(dest="kind", metavar="KIND", required=True)
    lesson = _parser(
        kinds,
        "lesson",
        "write a lesson that builds and runs, to be filled",
        "lens-course new lesson prisms --after glasses --title Prisms",
    )
    lesson.add_argument("slug", metavar="SLUG", help="its name in every file: small letters and _")
    lesson.add_argument(
        "--after", metavar="LESSON", help="the lesson before it (default: the last)"
    )
    lesson.add_argument("--title", metavar="T", help="what the map calls it (default: the slug)")
    lesson.add_argument(
        "--part", metavar="P", help="number or title of its part, at whose end it goes"
    )
    lesson.set_defaults(run=_new_lesson)

    lint = _parser(
        commands, "lint", "say what lessons, sets and items lack", "lens-course lint vergence"
    )
    lint.add_argument("pages", nargs="*", metavar="PAGE", help="number or name (default: all)")
    lint.set_defaults(run=_lint)

    check = _parser(
        commands, "check", "check your answers to a problem set", "lens-course check 01"
    )
    check.add_argument("set", help="number or name of the set")
    check.add_argument("--notebook", metavar="PATH", help="a filled notebook that lies elsewhere")
    check.set_defaults(run=_check)

    book = _parser(
        commands,
        "book",
        "write the course as static pages that print and open offline",
        "lens-course book ~/lens-book",
    )
    book.add_argument("folder", help="a new or an empty folder")
    book.add_argument(
        "--only", nargs="+", metavar="PAGE", help="these pages alone, by number or name"
    )
    book.set_defaults(run=_book)

    learner = _parser(
        commands,
        "learner",
        "show or set whose numbers the problems use",
        "lens-course learner ada.bright",
    )
    learner.add_argument("id", nargs="?", help="the id that your instructor knows you by")
    learner.set_defaults(run=_learner)


def _parser(commands, name, says, example):
    return commands.add_parser(
        name, help=says, description=says.capitalize() + ".", epilog=f"Example: {example}"
    )


def _open(arguments):
    from shared_utils.pages import server

    return server.open_course(arguments.page, arguments.port, browser=not arguments.no_browser)


def _build(arguments):
    from shared_utils.authoring import generated
    from shared_utils.pages import build

    console = Console(highlight=False, soft_wrap=True)
    if arguments.from_notebook:
        target = build.write_back(arguments.from_notebook)
        console.print(f"Wrote {target.name}; now run `lens-course build`.", markup=False)
        return 0
    root = build.course_root()
    different, answered = 0, []
    for path, page in build.left_over():
        different += 1
        if arguments.check:
            name = path.relative_to(root).as_posix()
            console.print(f"{name} is of an earlier build: it is {page.stem} now.", markup=False)
        else:
            console.print(build.take_away(path, page), markup=False)
    for built in track(
        [*build.build_all(), *generated.pages(root)],
        "building",
        console=Console(stderr=True),
        transient=True,
    ):
        old = built.path.read_text(encoding="utf-8") if built.path.exists() else ""
        if old == built.content:
            continue
        different += 1
        name = built.path.relative_to(root).as_posix()
        if arguments.check:
            console.print(f"{name} is not what its text builds:", markup=False)
            lines = difflib.unified_diff(
                old.splitlines(),
                built.content.splitlines(),
                "as it is",
                "as built",
                lineterm="",
                n=1,
            )
            console.print("\n".join(list(lines)[:12]), markup=False)
        elif built.path.parent.parent.name == "exercises" and build.holds_answers(built.path):
            answered.append(name)
        else:
            built.path.parent.mkdir(parents=True, exist_ok=True)
            built.path.write_text(built.content, encoding="utf-8", newline="\n")
            console.print(f"wrote {name}", markup=False)
    if answered:
        raise ValueError(
            f"{', '.join(answered)} holds answers, which a build would overwrite: move it to "
            "another folder first, or hand it in. Everything else is built."
        )
    if not different:
        console.print("Every notebook is what its text builds.")
    elif arguments.check:
        console.print("Run `lens-course build` and commit what it writes.")
        return 1
    return 0


def _new_lesson(arguments):
    from shared_utils.authoring import new_lesson

    written = new_lesson.write(
        arguments.slug, after=arguments.after, title=arguments.title, part=arguments.part
    )
    for path in written:
        print(f"wrote {path.as_posix()}")
    print(f"Next: lens-course build, then lens-course lint {arguments.slug}")
    return 0


def _lint(arguments):
    from shared_utils.authoring import lint

    console = Console(highlight=False, soft_wrap=True)
    with Console(stderr=True).status("reading"):
        found = lint.findings(arguments.pages)
    for rule in dict.fromkeys(one.rule for one in found):
        broken = [one for one in found if one.rule == rule]
        console.print(rule, markup=False, style="bold")
        for one in broken:
            console.print(f"  {one.where}: {one.what}", markup=False)
        console.print(f"  → {broken[0].do}\n", markup=False)
    if found:
        console.print(f"{len(found)} to mend.")
        return 1
    console.print("Nothing is missing.")
    return 0


def _check(arguments):
    from shared_utils.course import place
    from shared_utils.problems import selfcheck

    console = Console(highlight=False, soft_wrap=True)
    name = place.find_set(arguments.set)
    path = Path(arguments.notebook) if arguments.notebook else selfcheck.notebook_of(name)
    with console.status("running your notebook"):
        report = selfcheck.check(path, name)
    for line in report.lines():
        console.print(line, markup=False)
    return 0 if report.all_hold() else 1


def _book(arguments):
    from shared_utils.pages import book

    console = Console(highlight=False, soft_wrap=True)
    with console.status("running the pages"):
        index = book.write(
            arguments.folder,
            arguments.only,
            reply=lambda title: console.print(f"wrote {title}", markup=False),
        )
    console.print(f"Open {index} in a browser.", markup=False)
    return 0


def _learner(arguments):
    from shared_utils.course import learner

    if arguments.id is not None:
        learner.keep_learner_id(arguments.id)
    print(f"The problems use the numbers of learner: {learner.learner_id()}")
    return 0
