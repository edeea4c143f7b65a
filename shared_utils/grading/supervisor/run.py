"""Runs a submission from the top in a kernel of its own, and its tests in the examiner.

The learner's cells see neither solutions, hidden tests nor marks: those are in the examiner, a
second process that asks for values and compares them. One bad cell costs no other cell its
marks: a cell that ends the kernel, or that cannot be interrupted, is left out and the notebook is
run again without it. A test counts as run only when the examiner has answered that it ran well.
"""

from __future__ import annotations

import ast
import contextlib
import functools
import json
from pathlib import Path
from time import monotonic
from typing import TYPE_CHECKING

import nbformat
import zmq
from nbclient.exceptions import CellTimeoutError, DeadKernelError
from nbclient.util import ensure_async, run_sync
from nbformat import v4
from nbgrader import utils
from nbgrader.preprocessors import Execute
from traitlets import Bool, Integer

from shared_utils.grading.supervisor import examiner_client, kernels, sandbox
from shared_utils.grading.supervisor import hidden_seed as hidden_seeds
from shared_utils.grading.supervisor.grading_spec import spec_of
from shared_utils.grading.supervisor.restore import add_note, name_of
from shared_utils.pages import cells

if TYPE_CHECKING:
    from typing import Any

    from jupyter_client import KernelManager
    from nbformat import NotebookNode

SERVE = "__import__('shared_utils.grading.inside.answers', fromlist=['serve']).serve()"
NO_REPLY = "{}"
STOP_TIMEOUT_S = 3


class Run(Execute):
    """Runs what the learner wrote in one kernel and what the instructor wrote in the examiner."""

    max_output_chars = Integer(500_000, help="characters of output kept for each cell").tag(
        config=True
    )
    max_restarts = Integer(4, help="how often a notebook is run again").tag(config=True)
    max_seconds = Integer(180, help="how long a notebook may run in all").tag(config=True)
    use_bubblewrap = Bool(True, help="whether to put bubblewrap around the kernel").tag(config=True)

    def preprocess(
        self, nb: NotebookNode, resources: Any = None, km: Any = None
    ) -> tuple[NotebookNode, dict[str, Any]]:
        analysed = _analyse(spec_of(resources).source)
        self.requested_names, self.modules, self.blocked = analysed
        self.learner = resources["nbgrader"]["student"]
        # nbgrader itself has laid what was handed in beside the notebook
        self.files = resources.get("files")
        if self.files is None:
            self.files = sandbox.files_beside(resources["metadata"].get("path"))
        hidden_seed = resources.get("hidden_seed")
        if hidden_seed is None:
            hidden_seed = self._seed_read_anew(resources["nbgrader"])
        self.left_out: dict[int, str] = {}  # index of a cell that is not run: why
        self.end = monotonic() + self.max_seconds
        while True:
            self.ran_well: set[int] = set()
            self.output_chars: dict[int, int] = {}
            self.running_index: int | None = None
            self.sandbox: sandbox.Sandbox | None = None
            # of the message under which the learner's kernel replies
            self.serve_id: str | None = None
            self.examiner = examiner_client.examiner_for(self.learner, hidden_seed)
            try:
                nb, resources = super().preprocess(nb, resources, km)
                break
            except (DeadKernelError, examiner_client.ExaminerTimeout):
                self._leave_out(nb, "ended the kernel")
            except CellTimeoutError:
                self._leave_out(nb, f"ran for longer than {self.timeout} s and would not stop")
            finally:
                if self.sandbox:
                    self.sandbox.remove()
        for index, cell in enumerate(nb.cells):
            self._note_what_did_not_run(nb, cell, index)
        return nb, resources

    def _seed_read_anew(self, about):
        """Return the seed of a submission's hidden tests where nbgrader itself is marking."""
        # nbgrader works with the class's folder as the current one
        handed_in = Path("submitted") / about["student"] / about["assignment"]
        notebook = (handed_in / f"{about['notebook']}.ipynb").read_bytes()
        files = sandbox.files_beside(handed_in)
        secret = hidden_seeds.class_secret(".")
        return hidden_seeds.seed_of(secret, about["student"], about["assignment"], notebook, files)

    def preprocess_cell(
        self, cell: NotebookNode, resources: dict[str, Any], index: int
    ) -> tuple[NotebookNode, dict[str, Any]]:
        if cell.cell_type == "code" and index not in self.left_out and monotonic() > self.end:
            self.left_out[index] = f"stood after the {self.max_seconds} s of a notebook"
        if index in self.left_out:
            if cell.cell_type == "code":
                cell.outputs = [_error("NotRun", f"This cell {self.left_out[index]}.")]
            return cell, resources
        self.running_index = index
        with self._functions_blocked(cell):
            return self._run_cell(cell, resources, index)

    def _run_cell(self, cell, resources, index):
        if cell.cell_type == "code" and utils.is_grade(cell) and not utils.is_solution(cell):
            self._run_test(cell, index)
            return cell, resources
        if cell.cell_type == "code" and utils.is_locked(cell):
            self.examiner.run(cell.source, self.timeout)
        if cell.cell_type == "code":
            self._stop_serving()
        return super().preprocess_cell(cell, resources, index)

    def on_cell_executed(self, **kwargs: Any) -> None:
        super().on_cell_executed(**kwargs)
        if kwargs["execute_reply"]["content"]["status"] == "ok":
            self.ran_well.add(kwargs["cell_index"])

    def create_kernel_manager(self) -> KernelManager:
        manager = super().create_kernel_manager()
        isolated = self.use_bubblewrap and not sandbox.fault()
        self.sandbox = sandbox.Sandbox(self.learner, self.files, isolated)
        kernels.prepare(manager, self.sandbox, self.modules)
        return manager

    def start_new_kernel(self, **kwargs: Any) -> None:
        assert self.sandbox is not None  # made with the kernel's manager
        environment = self.sandbox.environment()
        super().start_new_kernel(env=environment, cwd=str(self.sandbox.work), **kwargs)

    def output(self, outs: Any, msg: Any, display_id: Any, cell_index: Any) -> Any:
        # a result and an error decide about marks and are always kept
        if msg["msg_type"] in ("stream", "display_data"):
            before = self.output_chars.get(cell_index, 0)
            self.output_chars[cell_index] = before + len(str(msg["content"]))
            if before > self.max_output_chars:
                return None
            if self.output_chars[cell_index] > self.max_output_chars:
                outs.append(v4.new_output("stream", text="\n… the rest of the output was cut.\n"))
                return None
        return super().output(outs, msg, display_id, cell_index)

    @contextlib.contextmanager
    def _functions_blocked(self, cell):
        """Block what a problem asks for while its answer runs or is tested."""
        problem, kind = cells.grade_id_parts(cell)
        names = self.blocked.get(problem) if kind in ("answer", "check", "hidden") else None
        if names:
            self._block(names)
        yield
        if names:
            self._block([])

    def _block(self, names):
        try:
            self._request(json.dumps({"block": names}), self.timeout)
        except examiner_client.LearnerTimeout:
            raise CellTimeoutError("The learner's kernel did not answer.") from None

    def _run_test(self, cell, index):
        """Run a test in the examiner, which may send requests to the learner's kernel."""
        cell.outputs, cell.execution_count = [], None
        reply = self.examiner.run(cell.source, self.timeout, self.requested_names, self._request)
        if reply["timed_out"]:
            cell.outputs = [nbformat.from_dict({"output_type": "error", **self.error_on_timeout})]
            return
        cell.outputs = [nbformat.from_dict(output) for output in reply["outputs"]]
        if reply["ran_well"]:
            self.ran_well.add(index)

    def _request(self, request, timeout_s):
        """Return the reply of the learner's kernel, an untrusted text."""
        if self.serve_id is None:
            self.serve_id = self.kc.execute(SERVE, silent=True)
        self.kc.input(request)
        reply = self._receive(timeout_s)
        if reply is None:
            self._interrupt()
            if self._receive(STOP_TIMEOUT_S) is None:
                raise CellTimeoutError("The learner's code would not stop.")
            raise examiner_client.LearnerTimeout
        return reply

    def _stop_serving(self):
        """Let the learner's kernel run cells again."""
        end = monotonic() + STOP_TIMEOUT_S
        while self.serve_id is not None:
            self.kc.input("")
            if self._receive(end - monotonic()) is None:
                raise CellTimeoutError("The learner's code would not stop.")

    def _receive(self, timeout_s):
        """Return the kernel's next reply, or None if there is none in time.

        Without an event loop, which would take longer than the replies. What is printed meanwhile
        is dropped.
        """
        channels = (self.kc.stdin_channel, self.kc.shell_channel, self.kc.iopub_channel)
        stdin, shell, iopub = (zmq.Socket.shadow(each.socket) for each in channels)
        poller = zmq.Poller()
        for socket in (stdin, shell, iopub):
            poller.register(socket, zmq.POLLIN)
        end = monotonic() + timeout_s
        while (left_s := end - monotonic()) > 0:
            ready = dict(poller.poll(1000 * min(left_s, 1.0)))
            if iopub in ready:
                iopub.recv_multipart()
            if stdin in ready:
                content = self._content(stdin)
                if content is not None:
                    return str(content.get("prompt"))
            elif shell in ready:
                if self._content(shell) is not None:
                    self.serve_id = None
                    return NO_REPLY
            elif not ready and not self._is_alive():
                raise DeadKernelError("Kernel died")
        return None

    def _content(self, socket):
        """Return the content of a message that answers ours; None if it is none."""
        try:
            _, parts = self.kc.session.feed_identities(socket.recv_multipart())
            message = self.kc.session.deserialize(parts)
            if message["parent_header"]["msg_id"] == self.serve_id:
                return dict(message["content"])
        except (ValueError, TypeError, LookupError, AttributeError, RecursionError):
            pass  # whoever writes to a kernel's sockets may write anything
        return None

    @run_sync
    async def _interrupt(self):
        await ensure_async(self.km.interrupt_kernel())

    @run_sync
    async def _is_alive(self):
        return await ensure_async(self.km.is_alive())

    def _leave_out(self, nb, why):
        if self.running_index is None:
            raise RuntimeError("The kernel ended before it ran a cell.")
        self.left_out[self.running_index] = why
        if len(self.left_out) > self.max_restarts:
            rest = range(self.running_index + 1, len(nb.cells))
            self.left_out.update(dict.fromkeys(rest, "stood after too many that did so"))

    def _note_what_did_not_run(self, nb, cell, index):
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


@functools.lru_cache(maxsize=4)
def _analyse(source):
    """Return what tests ask for, what the instructor's cells import, and what is blocked."""
    notebook = nbformat.reads(source, as_version=4)
    blocked = cells.own_by_problem(notebook)
    return _requested_names(notebook), _modules(notebook), blocked


def _requested_names(source):
    """Return the names that the instructor's own answers define and the tests mention."""
    defined, mentioned = set(), set()
    for cell in source.cells:
        if cell.cell_type != "code":
            continue
        tree = ast.parse(cell.source)
        if utils.is_solution(cell):
            for node in tree.body:
                if isinstance(node, (ast.FunctionDef, ast.ClassDef)):
                    defined.add(node.name)
                elif isinstance(node, (ast.Assign, ast.AnnAssign)):
                    parts = [part for part in ast.walk(node) if isinstance(part, ast.Name)]
                    defined |= {part.id for part in parts if isinstance(part.ctx, ast.Store)}
        elif utils.is_grade(cell):
            names = [node.id for node in ast.walk(tree) if isinstance(node, ast.Name)]
            mentioned |= set(names)
    return sorted(defined & mentioned)


def _modules(source):
    """Return what the instructor's own cells import: modules, and names that may be such."""
    found = set()
    for cell in source.cells:
        for node in ast.walk(ast.parse(cell.source)) if cell.cell_type == "code" else ():
            if isinstance(node, ast.Import):
                found |= {part.name for part in node.names}
            elif isinstance(node, ast.ImportFrom) and node.module and not node.level:
                found |= {f"{node.module}.{part.name}" for part in node.names}
    return sorted(found)


def _error(name, sentence):
    return v4.new_output("error", ename=name, evalue=sentence, traceback=[f"✗ {sentence}"])
