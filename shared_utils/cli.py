"""The command ``lens-course``: reads the line, runs one command, turns failures into a sentence."""

import argparse
import os
import sys

# a second thread slows small sums down many times; set before numpy loads
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

from shared_utils import CAUTION, __version__
from shared_utils.commands import classes, consult, course, power, practice

FAILED = 2


class Parser(argparse.ArgumentParser):
    """A parser that answers a wrong line with one sentence."""

    def error(self, message):
        self.exit(FAILED, f"lens-course: {message}; `{self.prog} --help` shows how.\n")


class Cite(argparse.Action):
    """Prints the citation and ends, as ``--version`` does."""

    def __init__(self, option_strings, dest, **kwargs):
        super().__init__(option_strings, argparse.SUPPRESS, nargs=0, **kwargs)

    def __call__(self, parser, namespace, values, option_string=None):
        from shared_utils.course.citation import citation

        print(citation())
        parser.exit()


def parser():
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


def main(line=None):
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
    sys.modules.setdefault("rfc3987_syntax", None)
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
        print(f"lens-course: {_sentence(error)}", file=sys.stderr)
        return FAILED


def _sentence(error):
    if isinstance(error, OSError) and error.filename and error.strerror:  # without its number
        return f"{error.filename} cannot be opened: {error.strerror}."
    return " ".join(str(error).split()) or type(error).__name__


if __name__ == "__main__":
    sys.exit(main())
