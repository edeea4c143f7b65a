"""A submission is run from the top in a kernel of its own, and its tests elsewhere.

The learner's cells see neither solutions, hidden tests nor marks: those are in the examiner, a
second process that asks for plain values and judges them. One bad cell costs no other cell its
marks: a cell that ends the kernel, or that cannot be interrupted, is left out and the notebook is
run again without it. A test counts as run only when the examiner has answered that it ran well.
"""

import ast
import contextlib
import functools
import json
from time import monotonic

import nbformat
import zmq
from nbclient.exceptions import CellTimeoutError, DeadKernelError
from nbclient.util import ensure_async, run_sync
from nbformat import v4
from nbgrader import utils
from nbgrader.preprocessors import Execute
from traitlets import Bool, Integer

from shared_utils.grading.supervisor import kernels, sandbox
from shared_utils.grading.supervisor.grading_spec import kit_of
from shared_utils.grading.supervisor.restore import add_note, name_of
from shared_utils.grading.trusted import examiner
from shared_utils.problems import own_work

SERVE = "__import__('shared_utils.grading.inside.answers', fromlist=['serve']).serve()"
NO_ANSWER = "{}"
SECONDS_TO_STOP = 3


class Run(Execute):
    """Runs what the learner wrote in one kernel and what the instructor wrote in the examiner."""

    max_output_chars = Integer(500_000, help="characters of output kept for each cell").tag(
        config=True
    )
    max_restarts = Integer(4, help="how often a notebook is run again").tag(config=True)
    max_seconds = Integer(180, help="how long a notebook may run in all").tag(config=True)
    use_box = Bool(True, help="whether to put a box around the kernel").tag(config=True)

    def preprocess(self, nb, resources=None, km=None):
        self.requested_names, self.modules, self.out_of_reach = _about(kit_of(resources).source)
        self.learner = resources["nbgrader"]["student"]
        # nbgrader itself has laid what was handed in beside the notebook
        beside = resources["metadata"].get("path")
        self.files = (
            sandbox.files_beside(beside) if "files" not in resources else resources["files"]
        )
        self.left_out = {}  # index of a cell that is not run: why
        self.end = monotonic() + self.max_seconds
        while True:
            self.ran_well, self.size, self.running, self.place = set(), {}, None, None
            self.asking = None  # the request under which the learner's kernel gives answers
            self.examiner = examiner.ready(self.learner)
            try:
                nb, resources = super().preprocess(nb, resources, km)
                break
            except (DeadKernelError, examiner.Hung):
                self._leave_out(nb, "ended the kernel")
            except CellTimeoutError:
                self._leave_out(nb, f"ran for longer than {self.timeout} s and would not stop")
            finally:
                if self.place:
                    self.place.remove()
        for index, cell in enumerate(nb.cells):
            self._judge(nb, cell, index)
        return nb, resources

    def preprocess_cell(self, cell, resources, index):
        if cell.cell_type == "code" and index not in self.left_out and monotonic() > self.end:
            self.left_out[index] = f"stood after the {self.max_seconds} s of a notebook"
        if index in self.left_out:
            if cell.cell_type == "code":
                cell.outputs = [_error("NotRun", f"This cell {self.left_out[index]}.")]
            return cell, resources
        self.running = index
        with self._own_work(cell):
            return self._run_cell(cell, resources, index)

    def _run_cell(self, cell, resources, index):
        if cell.cell_type == "code" and utils.is_grade(cell) and not utils.is_solution(cell):
            self._examine(cell, index)
            return cell, resources
        if cell.cell_type == "code" and utils.is_locked(cell):
            self.examiner.run(cell.source, self.timeout)
        if cell.cell_type == "code":
            self._stop_asking()
        return super().preprocess_cell(cell, resources, index)

    def on_cell_executed(self, **kwargs):
        super().on_cell_executed(**kwargs)
        if kwargs["execute_reply"]["content"]["status"] == "ok":
            self.ran_well.add(kwargs["cell_index"])

    def create_kernel_manager(self):
        manager = super().create_kernel_manager()
        boxed = self.use_box and not sandbox.fault()
        self.place = sandbox.Place(self.learner, self.files, boxed)
        kernels.prepare(manager, self.place, self.modules)
        return manager

    def start_new_kernel(self, **kwargs):
        environment = self.place.environment()
        super().start_new_kernel(env=environment, cwd=str(self.place.work), **kwargs)

    def output(self, outs, msg, display_id, cell_index):
        # a result and an error decide about marks and are always kept
        if msg["msg_type"] in ("stream", "display_data"):
            before = self.size.get(cell_index, 0)
            self.size[cell_index] = before + len(str(msg["content"]))
            if before > self.max_output_chars:
                return None
            if self.size[cell_index] > self.max_output_chars:
                outs.append(v4.new_output("stream", text="\n… the rest of the output was cut.\n"))
                return None
        return super().output(outs, msg, display_id, cell_index)

    @contextlib.contextmanager
    def _own_work(self, cell):
        """Keep what a problem asks for out of reach of its answer, while that runs or is tested."""
        problem, _, kind = cell.metadata.get("nbgrader", {}).get("grade_id", "").rpartition("-")
        names = self.out_of_reach.get(problem) if kind in ("answer", "check", "hidden") else None
        if names:
            self._shut(names)
        yield
        if names:
            self._shut([])

    def _shut(self, names):
        try:
            self._ask(json.dumps({"shut": names}), self.timeout)
        except examiner.Late:
            raise CellTimeoutError("The learner's kernel did not answer.") from None

    def _examine(self, cell, index):
        """Run a test in the examiner, which may ask the learner's kernel."""
        cell.outputs, cell.execution_count = [], None
        told = self.examiner.run(cell.source, self.timeout, self.requested_names, self._ask)
        if told["late"]:
            cell.outputs = [nbformat.from_dict({"output_type": "error", **self.error_on_timeout})]
            return
        cell.outputs = [nbformat.from_dict(output) for output in told["outputs"]]
        if told["ran_well"]:
            self.ran_well.add(index)

    def _ask(self, request, seconds):
        """Return what the learner's kernel answers, a text that nobody vouches for."""
        if self.asking is None:
            self.asking = self.kc.execute(SERVE, silent=True)
        self.kc.input(request)
        answer = self._hear(seconds)
        if answer is None:
            self._interrupt()
            if self._hear(SECONDS_TO_STOP) is None:
                raise CellTimeoutError("The learner's code would not stop.")
            raise examiner.Late
        return answer

    def _stop_asking(self):
        """Let the learner's kernel run cells again."""
        end = monotonic() + SECONDS_TO_STOP
        while self.asking is not None:
            self.kc.input("")
            if self._hear(end - monotonic()) is None:
                raise CellTimeoutError("The learner's code would not stop.")

    def _hear(self, seconds):
        """Return what the kernel says when it is asked, or None if it does not in time.

        Without a loop of events, which would take longer than the answers. What is printed
        meanwhile is let go.
        """
        channels = (self.kc.stdin_channel, self.kc.shell_channel, self.kc.iopub_channel)
        answers, replies, printed = (zmq.Socket.shadow(each.socket) for each in channels)
        ears = zmq.Poller()
        for socket in (answers, replies, printed):
            ears.register(socket, zmq.POLLIN)
        end = monotonic() + seconds
        while (left := end - monotonic()) > 0:
            ready = dict(ears.poll(1000 * min(left, 1.0)))
            if printed in ready:
                printed.recv_multipart()
            if answers in ready:
                told = self._told(answers)
                if told is not None:
                    return str(told.get("prompt"))
            elif replies in ready:
                if self._told(replies) is not None:
                    self.asking = None
                    return NO_ANSWER
            elif not ready and not self._is_alive():
                raise DeadKernelError("Kernel died")
        return None

    def _told(self, socket):
        """Return what a message to us holds; None if it is none."""
        try:
            _, parts = self.kc.session.feed_identities(socket.recv_multipart())
            message = self.kc.session.deserialize(parts)
            if message["parent_header"]["msg_id"] == self.asking:
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
        if self.running is None:
            raise RuntimeError("The kernel ended before it ran a cell.")
        self.left_out[self.running] = why
        if len(self.left_out) > self.max_restarts:
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


@functools.lru_cache(maxsize=4)
def _about(source):
    """Return what the tests ask for, what the instructor's cells import, and what is shut off."""
    notebook = nbformat.reads(source, as_version=4)
    return _requested_names(notebook), _modules(notebook), own_work.names_by_problem(notebook)


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
