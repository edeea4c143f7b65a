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
import math
from pathlib import Path
from time import monotonic
from typing import TYPE_CHECKING

from nbformat import from_dict, v4
from nbgrader import utils
from nbgrader.preprocessors import NbGraderPreprocessor
from traitlets import Bool, Integer

from shared_utils.grading.supervisor import examiner_client, sandbox, spare_kernel
from shared_utils.grading.supervisor import hidden_seed as hidden_seeds
from shared_utils.grading.supervisor.grading_spec import read_once, spec_of
from shared_utils.grading.supervisor.learner_kernel import (
    KernelEnded,
    LearnerKernel,
    WouldNotStop,
)
from shared_utils.grading.supervisor.outputs import Outputs
from shared_utils.grading.supervisor.restore import add_note, name_of
from shared_utils.pages import cells
from shared_utils.problems import check_records

if TYPE_CHECKING:
    from typing import Any

    from nbformat import NotebookNode

# a notebook's time is over before its processor time is
SPARE_PROCESSOR_S = 5


class Run(NbGraderPreprocessor):
    """Runs what the learner wrote in one kernel and what the instructor wrote in the examiner."""

    timeout = Integer(20, help="how long a cell may run").tag(config=True)
    max_restarts = Integer(4, help="how often a notebook is run again").tag(config=True)
    max_seconds = Integer(180, help="how long a notebook may run in all").tag(config=True)
    use_bubblewrap = Bool(True, help="whether to put bubblewrap around the kernel").tag(config=True)

    def preprocess(
        self, nb: NotebookNode, resources: dict[str, Any]
    ) -> tuple[NotebookNode, dict[str, Any]]:
        analysed = _analyse(spec_of(resources).source)
        self.requested_names, self.modules, self.blocked = analysed
        self.learner = resources["nbgrader"]["student"]
        # nbgrader itself has laid what was handed in beside the notebook
        files = resources.get("files")
        if files is None:
            files = sandbox.files_beside(resources["metadata"].get("path"))
        hidden_seed = resources.get("hidden_seed")
        if hidden_seed is None:
            hidden_seed = self._seed_read_anew(resources["nbgrader"])
        self.left_out: dict[int, str] = {}  # index of a cell that is not run: why
        self.end = monotonic() + self.max_seconds
        while True:
            self.ran_well: set[int] = set()
            self.timed_out: dict[int, str] = {}  # cell → why it was stopped
            self.running_index: int | None = None
            self.count = 0
            self.outputs = Outputs()
            kernel = None
            try:
                self.examiner = examiner_client.examiner_for(self.learner, hidden_seed)
                kernel = self.kernel = self._start_kernel(files)
                for index, cell in enumerate(nb.cells):
                    self._run_cell(cell, index)
                self._see_wrong_results(nb)
                break
            except (KernelEnded, examiner_client.ExaminerTimeout):
                self._leave_out(nb, "ended the kernel")
            except WouldNotStop:
                self._leave_out(nb, f"ran for longer than {self.timeout} s and would not stop")
            finally:
                if kernel:
                    kernel.stop()
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

    def _start_kernel(self, files):
        isolated = self.use_bubblewrap and not sandbox.fault()
        processor_s = self.max_seconds + SPARE_PROCESSOR_S
        if not self.left_out and (kernel := spare_kernel.take(isolated, self.modules, processor_s)):
            with contextlib.suppress(KernelEnded):  # it ended while it waited
                kernel.prepare(self.learner, files)
                spare_kernel.start(isolated, self.modules, processor_s)
                return kernel
        left_s = math.ceil(max(self.end - monotonic(), 0)) + SPARE_PROCESSOR_S
        kernel = LearnerKernel(sandbox.Sandbox(isolated), self.modules, left_s)
        kernel.prepare(self.learner, files)
        spare_kernel.start(isolated, self.modules, processor_s)
        return kernel

    def _run_cell(self, cell, index):
        if cell.cell_type != "code":
            return
        if index not in self.left_out and monotonic() > self.end:
            self.left_out[index] = f"stood after the {self.max_seconds} s of a notebook"
        if index in self.left_out:
            cell.outputs = [_error("NotRun", f"This cell {self.left_out[index]}.")]
            return
        if not cell.source.strip():
            return
        self.running_index = index
        with self._functions_blocked(cell):
            self.outputs.begin(cell)
            if utils.is_grade(cell) and not utils.is_solution(cell):
                self._run_test(cell, index)
                return
            if utils.is_locked(cell):
                self.examiner.run(cell.source, self.timeout)
            self._run_learners(cell, index)

    def _run_learners(self, cell, index):
        """Run a cell in the learner's kernel."""
        self.count += 1
        cell.execution_count = self.count
        try:
            show = functools.partial(self.outputs.add, count=self.count)
            if self.kernel.run(cell.source, self.timeout, show):
                self.ran_well.add(index)
        except TimeoutError as error:
            self._stopped(cell, index, str(error))

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
            self.kernel.request(json.dumps({"block": names}), self.timeout)
        except TimeoutError:
            raise WouldNotStop from None

    def _run_test(self, cell, index):
        """Run a test in the examiner, which may send requests to the learner's kernel."""
        reply = self.examiner.run(cell.source, self.timeout, self.requested_names, self._request)
        if reply["timed_out"]:
            self._stopped(cell, index)
            return
        for output in reply["outputs"]:
            self.outputs.add_trusted(output)
        if reply["ran_well"]:
            self.ran_well.add(index)

    def _see_wrong_results(self, nb):
        """Run hidden tests that did not hold once more, with inputs that all learners share.

        For marks each submission meets inputs of its own, so equal mistakes give unequal results.
        All marks are there by now: whatever happens here costs none.
        """
        with contextlib.suppress(
            KernelEnded, WouldNotStop, TimeoutError, examiner_client.ExaminerTimeout
        ):
            for index, cell in enumerate(nb.cells):
                problem, kind = cells.grade_id_parts(cell)
                if kind != "hidden" or index in self.timed_out or index in self.left_out:
                    continue
                held = all(r.holds for r in check_records.of_cell(cell, problem or ""))
                if held or monotonic() > self.end:
                    continue
                with self._functions_blocked(cell):
                    reply = self.examiner.run(
                        *(cell.source, self.timeout, self.requested_names, self._request),
                        same_inputs=True,
                    )
                if reply["timed_out"]:
                    continue
                again = from_dict({**cell, "outputs": reply["outputs"]})
                records = check_records.of_cell(again, problem or "")
                cells.keep(cell, "results", [r.as_dict() for r in records if not r.holds])

    def _request(self, request, timeout_s):
        """Return the reply of the learner's kernel, an untrusted text."""
        try:
            return self.kernel.request(request, timeout_s)
        except TimeoutError:
            raise examiner_client.LearnerTimeout from None

    def _stopped(self, cell, index, why=""):
        self.timed_out[index] = why or f"after {self.timeout} s"
        sentence = f"It was stopped {self.timed_out[index]}."
        cell.outputs.append(_error("CellTimeoutError", sentence))

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
        elif index in self.timed_out:
            add_note(nb, f"{name_of(cell, index)} was stopped {self.timed_out[index]}.")
        if utils.is_grade(cell) and index not in self.ran_well and not errors:
            cell.outputs.append(_error("NotRun", "This test was not run to its end."))


@functools.lru_cache(maxsize=4)
def _analyse(source):
    """Return what tests ask for, what the instructor's cells import, and what is blocked."""
    notebook = read_once(source)
    blocked = cells.own_by_problem(notebook)
    return _requested_names(notebook), _modules(notebook), blocked


def imported_modules(source: str) -> list[str]:
    """Return what the instructor's own cells of a set import: modules, and names that may be such.

    Parameters
    ----------
    source : str
        The notebook with answers and tests, as text.

    Returns
    -------
    list of str
    """
    return _analyse(source)[1]


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
