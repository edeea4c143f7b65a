"""Blocks reference functions while a problem asks for the learner's own.

The code of such a function is exchanged for a guard, so that it is blocked under every name that
was ever given to it. The guard lets calls of the course itself through, whose other functions may
need this one, and no others.

Lives here: blocking and unblocking. May not live here: when; see ``grading.supervisor.run`` and
``selfcheck``.
"""

from __future__ import annotations

import functools
import importlib
import os
import sys
import sysconfig
from pathlib import Path
from types import CodeType, FunctionType
from typing import TYPE_CHECKING

import shared_utils

if TYPE_CHECKING:
    from collections.abc import Sequence
    from typing import Any

COURSE = str(Path(shared_utils.__file__).resolve().parent) + os.sep
# checks and grading call what the learner wrote: their calls do not count as the course's own
NOT_REFERENCE = tuple(COURSE + floor + os.sep for floor in ("problems", "grading", "classroom"))
LIBRARIES = tuple(
    str(Path(sysconfig.get_path(name)).resolve()) + os.sep
    for name in ("stdlib", "platstdlib", "purelib", "platlib")
)

_blocked: dict[str, tuple[FunctionType, CodeType]] = {}  # name → (function, its own code)
_checking = False


class OutOfReach(Exception):
    """The learner's code called a function that it was asked to write."""

    def _render_traceback_(self):
        return [f"✗ {self}"]


def block(names: Sequence[str], checking: bool = False) -> None:
    """Block some functions, and unblock all others.

    Parameters
    ----------
    names : sequence of str
        Full names, such as ``"shared_utils.power.formulas.iol_power"``; none to unblock all.
    checking : bool
        Whether the cell that runs now is a check in the same kernel, which may call them.

    Raises
    ------
    ValueError
        If a name is not that of a plain function of the course.
    """
    global _checking
    _checking = checking
    while _blocked:
        function, code = _blocked.popitem()[1]
        function.__code__ = code
    for name in names:
        function = find(name)
        _blocked[name] = (function, function.__code__)
        function.__code__ = _guard(name)
    if names:
        _refuse_reloads()


def find(name: str) -> FunctionType:
    """Return the function of a full name.

    Raises
    ------
    ValueError
        If there is none, or it is not a plain function of the course.
    """
    module, _, rest = name.rpartition(".")
    while module:
        try:
            found = functools.reduce(getattr, rest.split("."), importlib.import_module(module))
            break
        except ModuleNotFoundError:
            module, _, last = module.rpartition(".")
            rest = f"{last}.{rest}"
        except AttributeError:
            module = ""
    if not module or not name.startswith("shared_utils."):
        raise ValueError(f"There is no function {name} in the course.")
    if not isinstance(found, FunctionType) or found.__closure__:
        raise ValueError(f"{name} is not a plain function, so it cannot be put out of reach.")
    return found


def call_original(name: str, args: tuple[Any, ...], kwargs: dict[str, Any]) -> Any:
    """Call a blocked function if the course itself calls it."""
    function, code = _blocked[name]
    if not _from_course(sys._getframe(2)):
        raise OutOfReach(_sentence(name))
    original = FunctionType(code, function.__globals__, function.__name__, function.__defaults__)
    original.__kwdefaults__ = function.__kwdefaults__
    return original(*args, **kwargs)


@functools.cache
def _refuse_reloads():
    """Refuse from now on to load a module anew while one of its functions is blocked."""

    def refuse(event, args):
        if event == "exec" and _blocked:
            file = getattr(args[0], "co_filename", None)
            for name, (_, code) in _blocked.items():
                if code.co_filename == file:
                    raise OutOfReach(_sentence(name))

    sys.addaudithook(refuse)


def _sentence(name):
    short = ".".join(name.split(".")[-2:])
    return f"This problem asks for your own formula; {short} is out of reach while it is graded."


def _guard(name):
    namespace = {}
    exec(
        "def guard(*args, **kwargs):\n"
        f"    from {__name__} import call_original\n"
        f"    return call_original({name!r}, args, kwargs)\n",
        namespace,
    )
    return namespace["guard"].__code__


def _from_course(frame):
    """Whether the nearest code that belongs to no library is the course's."""
    while frame:
        file = frame.f_code.co_filename
        if file.startswith(COURSE) and not file.startswith(NOT_REFERENCE):
            return True
        if not file.startswith((*LIBRARIES, "<frozen ")):
            return _checking and file == _running_cell(frame)
        frame = frame.f_back
    return False


def _running_cell(frame):
    """Return the file name that Python gives to the cell that runs now."""
    while frame and frame.f_code.co_name != "<module>":
        frame = frame.f_back
    return frame.f_code.co_filename if frame else None
