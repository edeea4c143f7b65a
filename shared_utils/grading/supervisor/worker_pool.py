"""Processes on this machine that mark submissions side by side, and one that hands out the work."""

import contextlib
import multiprocessing
import multiprocessing.connection
import os
import signal
import sys
import warnings
from collections import deque

from shared_utils.grading import kernel_pool
from shared_utils.grading.supervisor import grade_submission
from shared_utils.grading.trusted import examiner

# forked where that is safe, so that nothing has to be imported again
START = "fork" if sys.platform == "linux" else "spawn"


class Crew:
    """Workers that wait for submissions.

    Start it while this process has no other threads.

    Parameters
    ----------
    kit : Kit
        The set.
    count : int
        How many workers.
    nursery : Nursery or None
        What their kernels are forked from; each gets a twin of it, and it ends with the crew.
    """

    def __init__(self, kit, count, nursery=None):
        self.kit, self.nursery = kit, nursery
        self.idle = deque()
        self.busy = {}
        try:
            for _ in range(count):
                self.idle.append(self._start())
        except BaseException:
            self.stop()
            raise

    def mark(self, works):
        """Mark submissions.

        Parameters
        ----------
        works : iterable of Work
            Taken one by one, when a worker is free.

        Yields
        ------
        Marked
            In the order in which they are done.
        """
        works = iter(works)

        def hand_out():
            while self.idle and (item := next(works, None)):
                line, process = self.idle.popleft()
                line.send(item)
                self.busy[line] = process, item

        hand_out()
        while self.busy:
            for line in multiprocessing.connection.wait(list(self.busy)):
                process, item = self.busy.pop(line)
                try:
                    marked = line.recv()
                    self.idle.append((line, process))
                except (EOFError, OSError):
                    _end(line, process)
                    self.idle.append(self._start())
                    marked = grade_submission.Marked(
                        item.learner, "Could not be marked: its worker ended."
                    )
                hand_out()  # so that nobody waits while the marks are written
                yield marked

    def stop(self):
        """End all workers, whatever they are at."""
        for line, process in self.idle:
            _end(line, process)
        for line, (process, _) in self.busy.items():
            _end(line, process)
        self.idle.clear()
        self.busy.clear()
        if self.nursery:
            self.nursery.stop()

    def _start(self):
        context = multiprocessing.get_context(START)
        ours, theirs = context.Pipe()
        twin = None
        if self.nursery:
            with contextlib.suppress(OSError):
                twin = self.nursery.twin()
        arguments = (theirs, self.kit, twin, os.getpid())
        process = context.Process(target=_serve, args=arguments, daemon=True)
        with warnings.catch_warnings():
            # a progress bar may have its own thread by the time that a worker is replaced
            warnings.simplefilter("ignore", DeprecationWarning)
            process.start()
        theirs.close()
        if twin:
            twin.stop()  # this process's end of its line
        return ours, process


def _end(line, process):
    line.close()
    process.terminate()
    process.join(5)
    if process.is_alive():
        process.kill()
        process.join()
    process.close()


def _serve(line, kit, nursery, parent):
    """Mark what comes along the line, until it is closed or the parent has ended."""
    # Ctrl-C goes to every process of a terminal; the parent says what shall end
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    signal.signal(signal.SIGTERM, _leave)
    kernel_pool.die_with(parent)
    if nursery:
        kernel_pool.adopt(nursery)
    try:
        with contextlib.suppress(EOFError, OSError):
            while True:
                line.send(grade_submission.mark(kit, line.recv()))
    finally:
        kernel_pool.stop()
        examiner.stop()


def _leave(*_):
    """Let what was begun be tidied up: folders of learners' files."""
    sys.exit(0)
