"""What a notebook's cells show: built anew from what a learner's kernel sent, and bounded.

Every kind counts alike, in one place: printed text, results, displays, updates of those, errors.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from nbformat import from_dict, v4

if TYPE_CHECKING:
    from typing import Any

    from nbformat import NotebookNode

MAX_CELL_CHARS = 500_000
MAX_CELL_PIECES = 500
MAX_NOTEBOOK_CHARS = 5_000_000
MAX_LINE_CHARS = 1_000
CUT = "\n… the rest of the output was cut.\n"


class Outputs:
    """The outputs of a notebook's cells, one cell after the other."""

    def __init__(self) -> None:
        self.chars = 0
        self.by_display_id: dict[str, list[NotebookNode]] = {}
        self._start([])

    def begin(self, cell: NotebookNode) -> None:
        """Let what comes next belong to a cell, which has no output yet."""
        cell.outputs, cell.execution_count = [], None
        self._start(cell.outputs)

    def _start(self, outputs):
        self.outputs, self.cell_chars, self.pieces = outputs, 0, 0
        self.cut = self.clears_next = self.error_is_kept = False

    def add(self, message: dict[str, Any], count: int | None = None) -> None:
        """Take an output as a learner's kernel sent it; one that is malformed is dropped.

        Parameters
        ----------
        message : dict
            ``output`` is its kind: ``stream``, ``display``, ``update``, ``result``, ``error`` or
            ``clear``.
        count : int, optional
            The number of the cell.
        """
        kind = message.get("output")
        if kind == "clear":
            self._clear(message.get("wait") is True)
            return
        built = _build(kind, message, count)
        if built is None:
            return
        if kind == "update":
            self._update(message, built)
        elif self._fits(built):
            self._append(built)
            if kind == "display" and isinstance(message.get("display_id"), str):
                self.by_display_id.setdefault(message["display_id"], []).append(built)
        elif kind == "error" and not self.error_is_kept:
            # whoever reads the notebook must know that there was one
            self.error_is_kept = True
            self.outputs.append(_short_error(built))

    def add_trusted(self, output: dict[str, Any]) -> None:
        """Take an output of the examiner's; only what was printed may be cut."""
        built = from_dict(output)
        if built.output_type != "stream" or self._fits(built):
            self.outputs.append(built)

    def _fits(self, output, times=1):
        """Count an output, and return whether there is room for it; say so once if there is not."""
        size = _size(output) * times
        self.pieces += 1
        self.cell_chars += size
        if self.cut:
            return False
        if (
            self.cell_chars > MAX_CELL_CHARS
            or self.pieces > MAX_CELL_PIECES
            or self.chars + size > MAX_NOTEBOOK_CHARS
        ):
            self.cut = True
            self.outputs.append(v4.new_output("stream", text=CUT))
            return False
        self.chars += size  # what is dropped takes no room from other cells
        return True

    def _append(self, output):
        if self.clears_next:
            self._clear(later=False)
        last = self.outputs[-1] if self.outputs else None
        if last and last.output_type == output.output_type == "stream" and last.name == output.name:
            last.text += output.text
        else:
            self.outputs.append(output)

    def _clear(self, later):
        self.clears_next = later
        if not later:
            self.outputs[:] = []

    def _update(self, message, built):
        shown = self.by_display_id.get(str(message.get("display_id")), [])
        if self._fits(built, max(len(shown), 1)):
            for output in shown:
                output.data = from_dict(dict(built.data))


def _build(kind, message, count):
    """Return an output of nothing but text; None if there is nothing to show."""
    if kind == "stream":
        name = "stderr" if message.get("name") == "stderr" else "stdout"
        return v4.new_output("stream", name=name, text=_text(message.get("text")))
    if kind == "error":
        lines = message.get("traceback")
        lines = [_text(line) for line in lines] if isinstance(lines, list) else []
        name, value = (_text(message.get(part)) for part in ("ename", "evalue"))
        return v4.new_output("error", ename=name or "Error", evalue=value, traceback=lines)
    data = message.get("data")
    if kind not in ("display", "update", "result") or not isinstance(data, dict):
        return None
    texts = {kind: value for kind, value in data.items() if isinstance(value, str)}
    if not texts:
        return None
    if kind == "result":
        return v4.new_output("execute_result", data=texts, execution_count=count)
    return v4.new_output("display_data", data=texts)


def _text(value):
    return value if isinstance(value, str) else ""


def _short_error(error):
    name, value = error.ename[:100], error.evalue[:MAX_LINE_CHARS]
    line = f"{name}: {value}"
    return v4.new_output("error", ename=name, evalue=value, traceback=[line])


def _size(output):
    if output.output_type == "stream":
        return len(output.text)
    if output.output_type == "error":
        return len(output.ename) + len(output.evalue) + sum(map(len, output.traceback)) + 1
    return sum(len(kind) + len(value) for kind, value in output.data.items())
