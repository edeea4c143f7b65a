"""IPython's shell for a learner's cells, made once and forked: what it shows goes into a function.

Plain Python is run here; what only IPython understands (magics, ``await``) is left to it.
"""

from __future__ import annotations

import ast
import base64
import builtins
import io
import os
import sys
from typing import TYPE_CHECKING

from IPython.core.displayhook import DisplayHook
from IPython.core.displaypub import DisplayPublisher
from IPython.core.interactiveshell import InteractiveShell
from traitlets.config import Config

if TYPE_CHECKING:
    from collections.abc import Callable
    from typing import Any

MAX_BUFFERED_CHARS = 64_000
NO_PROGRAMS = "Other programs cannot be started while a notebook is marked: {}"
NO_INPUT = "Nobody is there to ask while a notebook is marked; write the value into the cell."


class Stream(io.TextIOBase):
    """Stands for a standard stream, and passes on what is printed in large pieces."""

    encoding, errors = "utf-8", "strict"

    def __init__(self, name: str, show: Callable[..., None]) -> None:
        self.name, self._show = name, show
        self._parts: list[str] = []
        self._chars = 0

    def writable(self) -> bool:
        return True

    def write(self, text: str) -> int:
        if not isinstance(text, str):
            raise TypeError(f"write() argument must be str, not {type(text).__name__}")
        self._parts.append(text)
        self._chars += len(text)
        if self._chars > MAX_BUFFERED_CHARS:
            self.flush()
        return len(text)

    def flush(self) -> None:
        parts, self._parts, self._chars = self._parts, [], 0
        text = "".join(parts)
        # so that no piece is longer than a frame may be
        for start in range(0, len(text), 10 * MAX_BUFFERED_CHARS):
            piece = text[start : start + 10 * MAX_BUFFERED_CHARS]
            self._show("stream", name=self.name, text=piece)


class Result(DisplayHook):
    """Shows the value of a cell's last expression."""

    shell: Any
    _content: dict[str, Any] | None = None

    def start_displayhook(self) -> None:
        self._content = {}

    def write_output_prompt(self) -> None:
        pass

    def write_format_data(self, format_dict: dict[str, Any], md_dict: Any = None) -> None:
        self._content = {"data": _as_text(format_dict)}

    def finish_displayhook(self) -> None:
        if self._content:
            self.shell.show("result", **self._content)
        self._content = None


class Publisher(DisplayPublisher):
    """Shows what ``display`` is given."""

    def publish(  # type: ignore[override]
        self,
        data: dict[str, Any],
        metadata: Any = None,
        *,
        transient: dict[str, Any] | None = None,
        update: bool = False,
        **_: Any,
    ) -> None:
        display_id = (transient or {}).get("display_id")
        kind = "update" if update else "display"
        self.shell.show(kind, data=_as_text(data), display_id=display_id)

    def clear_output(self, wait: bool = False) -> None:
        self.shell.show("clear", wait=bool(wait))


class Shell(InteractiveShell):
    """A shell without files, history file, programs or a person at it."""

    displayhook_class = Result
    display_pub_class = Publisher
    # takes a kind of output and its content
    publish: Callable[..., None] | None = None

    def init_ipython_dir(self, ipython_dir: Any) -> None:
        pass  # it would be made

    def init_profile_dir(self, profile_dir: Any) -> None:
        pass

    def init_virtualenv(self) -> None:
        pass

    def enable_gui(self, gui: Any = None) -> None:
        pass

    def system(self, cmd: str) -> None:
        print(NO_PROGRAMS.format(cmd), file=sys.stderr)
        self.user_ns["_exit_code"] = 1

    def getoutput(self, cmd: str, *_: Any, **__: Any) -> list[str]:
        self.system(cmd)
        return []

    def ask_exit(self) -> None:
        os._exit(0)

    def show(self, kind: str, **content: Any) -> None:
        """Pass an output on, after what was printed before it."""
        if kind != "stream":
            self.flush()
        if self.publish is not None:
            self.publish(kind, **content)

    def flush(self) -> None:
        """Pass on what was printed."""
        for stream in (sys.stdout, sys.stderr):
            if isinstance(stream, Stream):
                stream.flush()

    def _showtraceback(self, etype, evalue, stb):
        self.show("error", ename=str(etype.__name__), evalue=str(evalue), traceback=list(stb))
        self.failed = True

    def take_over(self) -> None:
        """Take the place of the standard streams, of ``input`` and of what shows a value."""
        sys.stdout, sys.stderr = Stream("stdout", self.show), Stream("stderr", self.show)
        sys.stdin = io.StringIO()
        builtins.input = _input
        self.builtin_trap.activate()
        self.builtin_trap._nested_level = 1  # for good
        self.failed = False

    def run(self, source: str) -> bool:
        """Run a cell, and return whether it came to its end."""
        self.failed = False
        sys.displayhook = self.displayhook
        compiled = self._compiled(source)
        if compiled is None:
            result = self.run_cell(source, store_history=True)
            return bool(result and result.success) and not self.failed
        assert self.history_manager is not None  # made with the shell
        self.history_manager.store_inputs(self.execution_count, source)
        try:
            for code in compiled:
                exec(code, self.user_global_ns, self.user_ns)
        except SystemExit:
            self.showtraceback(exception_only=True)
        except BaseException as error:
            # without this frame
            frames = error.__traceback__ and error.__traceback__.tb_next
            self.showtraceback((type(error), error, frames), running_compiled_code=True)
        self.events.trigger("post_execute")
        self.execution_count += 1
        return not self.failed

    def _compiled(self, source):
        """Return the code of a cell, its last expression apart; None if it is for IPython to run.

        That is what is no plain Python, and a word alone, which may be the name of a magic.
        """
        if source.strip().isidentifier():
            return None
        try:
            name = self.compile.cache(source, self.execution_count)
            tree = ast.parse(source, name)
            last = tree.body.pop() if tree.body and isinstance(tree.body[-1], ast.Expr) else None
            codes = [self.compile(tree, name, "exec")]
            if last:
                codes.append(self.compile(ast.Interactive([last]), name, "single"))
        except (SyntaxError, ValueError, RecursionError, MemoryError):
            return None
        return codes


def make() -> Shell:
    """Return the shell of this process; it is made once."""
    config = Config()
    config.HistoryManager.enabled = False
    config.HistoryManager.hist_file = ":memory:"
    return Shell.instance(config=config)


def _as_text(data):
    """Return what is displayed, bytes in base64."""
    return {
        kind: base64.b64encode(value).decode() if isinstance(value, bytes) else value
        for kind, value in data.items()
    }


def _input(prompt=""):
    raise EOFError(NO_INPUT)
