"""Commands for a class on a JupyterHub: class hub trial, class hub files."""

from __future__ import annotations

import getpass
import shlex
from typing import TYPE_CHECKING

from rich.console import Console

if TYPE_CHECKING:
    import argparse

FATES = {
    "written": "written",
    "unchanged": "there already, as it would be written",
    "kept": "there already with another text: kept as it is",
}


def add_to(steps: argparse._SubParsersAction) -> None:
    """Add the parsers of this group."""
    says = "let a class work on a JupyterHub: a trial, or files"
    hub = steps.add_parser(
        "hub",
        help=says,
        description=f"{says[0].upper()}{says[1:]} for a machine of its own.",
        epilog="Example: lens-course class hub trial ../hub_trial",
    )
    kinds = hub.add_subparsers(dest="kind", metavar="KIND", required=True)

    trial = kinds.add_parser(
        "trial",
        help="start a hub on this machine, with invented learners",
        description="Start a hub on this machine, with a class of invented learners, until Ctrl-C.",
        epilog="Example: lens-course class hub trial ../hub_trial",
    )
    trial.add_argument("folder", metavar="FOLDER", help="a new folder, or that of an earlier trial")
    trial.add_argument("--port", type=int, default=8000, help="where it is reached (default: 8000)")
    trial.add_argument(
        "--db",
        metavar="URL",
        help="an empty PostgreSQL database for the gradebook (default: a file)",
    )
    trial.set_defaults(run=_trial)

    machine = kinds.add_parser(
        "files",
        help="write the files of a hub for a machine of its own",
        description="Write settings, service and steps of a hub for a machine of its own.",
        epilog="Example: lens-course class hub files ../hub",
    )
    machine.add_argument("folder", metavar="FOLDER", help="where to write; what is there is kept")
    machine.set_defaults(run=_files)


def _trial(arguments):
    from shared_utils.classroom.hub import trial

    trial.require_programs()
    trial.require_port(arguments.port)
    with Console(stderr=True).status("preparing the class"):
        layout = trial.prepare(arguments.folder, arguments.db)
    print("The hub starts; this takes some seconds.", flush=True)
    code = trial.serve(layout, arguments.port, lambda access: _announce(layout, access))
    print("The hub, its proxy and all servers have ended.")
    return code


def _announce(layout, access):
    from shared_utils.classroom.grading_run import unprotected

    name = layout.released_sets()[0]
    learners = ", ".join(layout.roster())
    lines = [
        f"The hub runs at {access.url}, for this machine alone.",
        f"Log in as one of {learners}; the password, shown this once: {access.password}",
        f"All servers run as {getpass.getuser()} and are not separated: whoever logs in can read "
        "the others' work and this class's answers.",
        "So this is for a trial, not for a real class; for one: lens-course class hub files FOLDER",
        unprotected(),
        f"Learners find {name} in JupyterLab, Nbgrader, Assignment List: fetch, solve, submit.",
        "Then, in another terminal:",
        f"  cd {shlex.quote(str(layout.path))}",
        f"  nbgrader collect {name}",
        f"  lens-course class grade {name}",
        f"  lens-course class feedback {name}",
        f"  nbgrader release_feedback {name}",
        f"What the hub says goes to {layout.path / 'hub' / 'hub.log'}.",
        "Ctrl-C here ends the hub, its proxy and all servers.",
    ]
    print("\n".join(filter(None, lines)), flush=True)


def _files(arguments):
    from shared_utils.classroom.hub import files

    written = files.write_machine(arguments.folder)
    for name, fate in written.items():
        print(f"{name}: {FATES[fate]}")
    if "kept" in written.values():
        print("To have one anew, move yours away and run this again.")
    print("Next: read STEPS.txt there; it says what to do and what was tried.")
    return 0
