"""A submission is run from the top, and one bad cell costs no other cell its marks.

A cell that ends the kernel, or that cannot be interrupted, is left out and the notebook is run
again without it. A test counts as run only when the kernel has answered that it ran well.
"""

import os
import shutil
import tempfile
from pathlib import Path

import zmq
from jupyter_client.asynchronous import AsyncKernelClient
from nbclient.exceptions import CellTimeoutError, DeadKernelError
from nbformat import v4
from nbgrader import utils
from nbgrader.preprocessors import Execute
from traitlets import Integer, Unicode

from shared_utils.coursework.grading.restore import add_note, name_of
from shared_utils.coursework.numbers import LEARNER_VARIABLE


class ShortQueueClient(AsyncKernelClient):
    """A client that lets a flood of output wait in the kernel instead of filling the memory."""

    def _context_default(self):
        context = super()._context_default()
        context.setsockopt(zmq.RCVHWM, 32)
        context.setsockopt(zmq.MAXMSGSIZE, 8 * 2**20)
        return context


class Run(Execute):
    """Runs every cell in one kernel that knows whose submission it is."""

    most_output = Integer(500_000, help="characters of output kept for each cell").tag(config=True)
    most_restarts = Integer(4, help="how often a notebook is run again").tag(config=True)
    log_file = Unicode(os.devnull, help="where the kernel's own words go").tag(config=True)

    def preprocess(self, nb, resources=None, km=None):
        self.learner = resources["nbgrader"]["student"]
        self.left_out = {}  # index of a cell that is not run: why
        while True:
            self.ran_well, self.size, self.running, self.sockets = set(), {}, None, ""
            try:
                nb, resources = super().preprocess(nb, resources, km)
                break
            except DeadKernelError:
                self._leave_out(nb, "ended the kernel")
            except CellTimeoutError:
                self._leave_out(nb, f"ran for longer than {self.timeout} s and would not stop")
            finally:
                shutil.rmtree(self.sockets, ignore_errors=True)
        for index, cell in enumerate(nb.cells):
            self._judge(nb, cell, index)
        return nb, resources

    def preprocess_cell(self, cell, resources, index):
        if index in self.left_out:
            if cell.cell_type == "code":
                cell.outputs = [_error("NotRun", f"This cell {self.left_out[index]}.")]
            return cell, resources
        self.running = index
        return super().preprocess_cell(cell, resources, index)

    def on_cell_executed(self, **kwargs):
        super().on_cell_executed(**kwargs)
        if kwargs["execute_reply"]["content"]["status"] == "ok":
            self.ran_well.add(kwargs["cell_index"])

    def create_kernel_manager(self):
        manager = super().create_kernel_manager()
        manager.client_factory = ShortQueueClient
        self.sockets = tempfile.mkdtemp(prefix="lens-")
        if os.name != "nt":
            # files that only this user can open, in an absolute place: the kernel runs elsewhere
            manager.transport, manager.ip = "ipc", str(Path(self.sockets) / "kernel")
        return manager

    def start_new_kernel(self, **kwargs):
        own = {LEARNER_VARIABLE: self.learner, "PYTHONSAFEPATH": "1"}
        with open(self.log_file, "ab") as log:
            super().start_new_kernel(env={**os.environ, **own}, stdout=log, stderr=log, **kwargs)

    def output(self, outs, msg, display_id, cell_index):
        # a result and an error decide about marks and are always kept
        if msg["msg_type"] in ("stream", "display_data"):
            before = self.size.get(cell_index, 0)
            self.size[cell_index] = before + len(str(msg["content"]))
            if before > self.most_output:
                return None
            if self.size[cell_index] > self.most_output:
                outs.append(v4.new_output("stream", text="\n… the rest of the output was cut.\n"))
                return None
        return super().output(outs, msg, display_id, cell_index)

    def _leave_out(self, nb, why):
        if self.running is None:
            raise RuntimeError("The kernel ended before it ran a cell.")
        self.left_out[self.running] = why
        if len(self.left_out) > self.most_restarts:
            rest = range(self.running + 1, len(nb.cells))
            self.left_out.update(dict.fromkeys(rest, "stood after too many that did so"))

    def _judge(self, nb, cell, index):
        """Note what did not run, and let no test pass that did not run well."""
        if cell.cell_type != "code":
            return
        errors = [output for output in cell.outputs if output.output_type == "error"]
        if index in self.left_out:
            add_note(nb, f"{name_of(cell, index)} {self.left_out[index]}; it was left out.")
        elif any(error.ename == "CellTimeoutError" for error in errors):
            add_note(nb, f"{name_of(cell, index)} was stopped after {self.timeout} s.")
        if utils.is_grade(cell) and index not in self.ran_well and not errors:
            cell.outputs.append(_error("NotRun", "This test was not run to its end."))


def _error(name, sentence):
    return v4.new_output("error", ename=name, evalue=sentence, traceback=[f"✗ {sentence}"])
