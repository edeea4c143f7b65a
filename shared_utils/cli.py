"""The command ``lens-course``: reads the line, runs one command, answers failures in a sentence."""

from __future__ import annotations

import argparse
import errno
import os
import sys
import traceback
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence
    from typing import Any, NoReturn

# a second thread slows small sums down many times; set before numpy loads
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

from shared_utils import CAUTION, __version__
from shared_utils.commands import classes, consult, course, power, practice

FAILED = 2
FULL = (errno.ENOSPC, getattr(errno, "EDQUOT", errno.ENOSPC))  # a disk, or a share of one
WRITES_TO = ("to", "export", "as_xapi", "qti", "sheet", "example", "folder", "file")
COURSE = Path(__file__).resolve().parent


class Parser(argparse.ArgumentParser):
    """A parser that answers a wrong line with one sentence."""

    def error(self, message: str) -> NoReturn:
        self.exit(FAILED, f"lens-course: {message}; `{self.prog} --help` shows how.\n")


class Cite(argparse.Action):
    """Prints the citation and ends, as ``--version`` does."""

    def __init__(self, option_strings: Sequence[str], dest: str, **kwargs: Any) -> None:
        super().__init__(option_strings, argparse.SUPPRESS, nargs=0, **kwargs)

    def __call__(
        self,
        parser: argparse.ArgumentParser,
        namespace: argparse.Namespace,
        values: Any,
        option_string: str | None = None,
    ) -> None:
        from shared_utils.course.citation import citation

        print(citation())
        parser.exit()


def parser() -> argparse.ArgumentParser:
    """Return the parser of the whole command."""
    top = Parser(
        prog="lens-course",
        description="The course on the optics behind choosing a lens for a cataract patient.",
        epilog=f"Example: lens-course open. {CAUTION}",
    )
    top.add_argument("--version", action="version", version=f"lens-course {__version__}")
    top.add_argument("--cite", action=Cite, help="say how the course is cited")
    top.add_argument("--debug", action="store_true", help="on a failure, show the traceback")
    commands = top.add_subparsers(dest="command", metavar="COMMAND", required=True)
    course.add_to(commands)
    classes.add_to(commands)
    power.add_to(commands)
    consult.add_to(commands)
    practice.add_to(commands)
    return top


def main(line: Sequence[str] | None = None) -> int:
    """Run one command line.

    Parameters
    ----------
    line : sequence of str, optional
        The arguments; the process's own if not given.

    Returns
    -------
    int
        0 when all went well, 1 when a check did not hold, 2 when the command failed.
    """
    # the validator of notebooks would build a grammar of web addresses, which none holds, for
    # a second at every start; without it, it leaves that one format unchecked
    sys.modules.setdefault("rfc3987_syntax", None)  # type: ignore[arg-type]  # refuses it
    for stream in (sys.stdout, sys.stderr):  # a letter that a terminal lacks is no failure
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")
    arguments = parser().parse_args(line)
    try:
        return arguments.run(arguments) or 0
    except KeyboardInterrupt:
        print("lens-course: stopped.", file=sys.stderr)
        return FAILED
    except BrokenPipeError:  # the reader of the output, such as head, has gone
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0
    except Exception as error:
        if arguments.debug:
            raise
        sentence = (
            _full_disk(error, arguments)
            or _deliberate(error)
            or _unexpected(error, arguments.command)
        )
        print(f"lens-course: {sentence}", file=sys.stderr)
        return FAILED


def _full_disk(error, arguments):
    """The sentence of a disk that is full, or an empty string.

    The system does not say which file it was that could not be written to its end, so the place
    that the command writes to is named.
    """
    if not isinstance(error, OSError) or error.errno not in (
        errno.ENOSPC,
        getattr(errno, "EDQUOT", errno.ENOSPC),
    ):
        return ""
    named = [getattr(arguments, name, None) for name in WRITES_TO]
    where = error.filename or next(filter(None, named), None) or COURSE.parent
    command = " ".join(filter(None, (arguments.command, getattr(arguments, "step", None))))
    return (
        f"{Path(where).absolute()} cannot be written: the disk is full. Free some space, then run "
        f"`{command}` again."
    )


def _deliberate(error):
    """The sentence of an error that is meant for the reader, or an empty string.

    Meant for the reader are what the system says of a file, and a ValueError that the course
    itself raises with a whole sentence. Everything else (a KeyError, a library's ValueError) is a
    fault, whose bare text would explain nothing.
    """
    text = " ".join(str(error).split())
    if isinstance(error, OSError):
        if error.filename and error.strerror:  # without its number
            return f"{error.filename} cannot be opened: {error.strerror}."
        return text
    frames = traceback.extract_tb(error.__traceback__)
    ours = bool(frames) and Path(frames[-1].filename).is_relative_to(COURSE)
    # float("x") fails in a line of the course too, but not in one that raises
    raised = ours and ((frames[-1].line or "").startswith("raise") or text.endswith((".", "?")))
    return text if isinstance(error, ValueError) and raised and " " in text else ""


def _unexpected(error, command):
    text = " ".join(str(error).split())
    frames = [
        frame
        for frame in traceback.extract_tb(error.__traceback__)
        if Path(frame.filename).is_relative_to(COURSE)
    ]
    where = f" at {Path(frames[-1].filename).name}, line {frames[-1].lineno}" if frames else ""
    return (
        f"{type(error).__name__}{where}{f' ({text})' if text else ''}: `{command}` stopped at a "
        f"fault of the course, not of your input; `lens-course --debug {command} …` shows the "
        "traceback."
    )


if __name__ == "__main__":
    sys.exit(main())
