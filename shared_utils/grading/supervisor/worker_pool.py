"""Processes on this machine that grade submissions side by side, fed by the supervisor."""

from __future__ import annotations

import contextlib
import multiprocessing
import multiprocessing.connection
import os
import signal
import sys
import warnings
from collections import deque
from typing import TYPE_CHECKING, cast

from shared_utils.grading import linux
from shared_utils.grading.supervisor import examiner_client, kernel_pool_client, spare_kernel
from shared_utils.grading.supervisor.grade_submission import GradedSubmission, grade_submission
from shared_utils.grading.supervisor.run import imported_modules

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator
    from multiprocessing.connection import Connection
    from multiprocessing.process import BaseProcess

    from shared_utils.grading.supervisor.grade_submission import Submission
    from shared_utils.grading.supervisor.grading_spec import GradingSpec
    from shared_utils.grading.supervisor.kernel_pool_client import KernelPool

# forked where that is safe, so that nothing has to be imported again
START_METHOD = "fork" if sys.platform == "linux" else "spawn"
STOP_TIMEOUT_S = 5


class WorkerPool:
    """Workers that wait for submissions.

    Start it while this process has no other threads.

    Parameters
    ----------
    spec : GradingSpec
        The set.
    count : int
        How many workers.
    kernel_pool : KernelPool or None
        What their kernels are forked from; each worker gets a clone of it, and it ends with the
        workers.
    """

    def __init__(
        self, spec: GradingSpec, count: int, kernel_pool: KernelPool | None = None
    ) -> None:
        self.spec, self.kernel_pool = spec, kernel_pool
        self.idle: deque[tuple[Connection, BaseProcess]] = deque()
        self.busy: dict[Connection, tuple[BaseProcess, Submission]] = {}
        try:
            for _ in range(count):
                self.idle.append(self._start())
        except BaseException:
            self.stop()
            raise

    def grade(self, submissions: Iterable[Submission]) -> Iterator[GradedSubmission]:
        """Grade submissions.

        Parameters
        ----------
        submissions : iterable of Submission
            Taken one by one, when a worker is free.

        Yields
        ------
        GradedSubmission
            In the order in which they are done.
        """
        submissions = iter(submissions)

        def assign():
            while self.idle and (submission := next(submissions, None)):
                connection, process = self.idle.popleft()
                connection.send(submission)
                self.busy[connection] = process, submission

        assign()
        while self.busy:
            # it gives back what it is given, which its type does not say
            ready = cast("list[Connection]", multiprocessing.connection.wait(list(self.busy)))
            for connection in ready:
                process, submission = self.busy.pop(connection)
                try:
                    graded = connection.recv()
                    self.idle.append((connection, process))
                except (EOFError, OSError):
                    _end(connection, process)
                    self.idle.append(self._start())
                    fault = "Could not be marked: its worker ended."
                    graded = GradedSubmission(submission.learner, fault)
                assign()  # so that no worker waits while the marks are written
                yield graded

    def stop(self) -> None:
        """End all workers, whatever they are at."""
        for connection, process in self.idle:
            _end(connection, process)
        for connection, (process, _) in self.busy.items():
            _end(connection, process)
        self.idle.clear()
        self.busy.clear()
        if self.kernel_pool:
            self.kernel_pool.stop()

    def _start(self):
        context = multiprocessing.get_context(START_METHOD)
        connection, other_end = context.Pipe()
        clone = None
        if self.kernel_pool:
            with contextlib.suppress(OSError):
                clone = self.kernel_pool.clone(imported_modules(self.spec.source))
        arguments = (other_end, self.spec, clone, os.getpid())
        process = context.Process(target=_serve, args=arguments, daemon=True)
        with warnings.catch_warnings():
            # a progress bar may have its own thread by the time that a worker is replaced
            warnings.simplefilter("ignore", DeprecationWarning)
            process.start()
        other_end.close()
        if clone:
            clone.stop()  # this process's end of its connection
        return connection, process


def _end(connection, process):
    connection.close()
    process.terminate()
    process.join(STOP_TIMEOUT_S)
    if process.is_alive():
        process.kill()
        process.join()
    process.close()


def _serve(connection, spec, kernel_pool, parent_pid):
    """Grade what is received, until the connection is closed or the parent has ended."""
    # Ctrl-C goes to every process of a terminal; the parent decides what ends
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    signal.signal(signal.SIGTERM, _exit)
    linux.die_with_parent(parent_pid)
    if kernel_pool:
        kernel_pool_client.use_pool(kernel_pool)
    spare_kernel.keep_one()
    examiner_client.start_examiner()  # it gets ready while the kernel pool does
    try:
        with contextlib.suppress(EOFError, OSError):
            while True:
                connection.send(grade_submission(spec, connection.recv()))
    finally:
        spare_kernel.stop()
        kernel_pool_client.stop_pool()
        examiner_client.stop_examiner()


def _exit(*_):
    """End with what has to be cleaned up: folders of learners' files."""
    sys.exit(0)
