"""Submissions run and marked side by side, with one writer for the gradebook."""

from __future__ import annotations

import json
import re
import shutil
from collections import deque
from contextlib import ExitStack, contextmanager, suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

from shared_utils.classroom import nbgrader_calls, submissions
from shared_utils.classroom.folder import NOTEBOOK
from shared_utils.classroom.roster import full_name, not_in_roster
from shared_utils.classroom.slips import slips_of_file
from shared_utils.pages import cells

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from nbgrader.api import Gradebook

    from shared_utils.classroom.folder import ClassFolder
    from shared_utils.grading.supervisor.gradebook import TransactionalGradebook
    from shared_utils.problems.check_records import CheckRecord


@dataclass
class GradingResult:
    """What became of one learner's submission.

    Attributes
    ----------
    learner, name : str
        Id, and name as the roster has it.
    marks, of : float or None
        What the learner has, and what can be had; None if nothing was marked.
    by_hand : float
        Points that a person still has to give.
    notes : list of str
        What was noted, in sentences.
    slips : list of CheckRecord
        The steps of the visible tests that do not hold.
    seconds : float or None
        How long it took; None if it was not run.
    unprotected : str
        What was not protected meanwhile, in sentences; empty if nothing was missing.
    handed_in : str
        When, as ``timestamp.txt`` in the submission says, universal time; empty if it does not.
    """

    learner: str
    name: str
    marks: float | None = None
    of: float | None = None
    by_hand: float = 0.0
    notes: list[str] = field(default_factory=list)
    slips: list[CheckRecord] = field(default_factory=list)
    seconds: float | None = None
    unprotected: str = ""
    handed_in: str = ""

    def add_marks(
        self, gradebook: TransactionalGradebook | Gradebook, set_name: str, fault: str = ""
    ) -> None:
        """Take the marks from the gradebook, and note why there is no new one."""
        self.of, self.marks, self.by_hand = gradebook.marks(set_name, self.learner)
        if fault:
            earlier = "" if self.marks is None else " The marks are the earlier ones."
            self.notes.append(fault + earlier)

    def marks_row(self) -> dict[str, float | str]:
        """Return the marks as a row of a table has them, to the last digit."""
        return {
            "marks": "" if self.marks is None else self.marks,
            "of": "" if self.of is None else self.of,
            "to_mark_by_hand": self.by_hand,
        }


def grade(
    folder: ClassFolder,
    name: str,
    learners: Sequence[str] | None = None,
    again: bool = False,
    require_sandbox: bool = False,
    workers: int = 1,
    cluster: str | None = None,
) -> Iterator[GradingResult]:
    """Run and mark submissions.

    A submission that has not changed since it was marked is not run again, so that marks given by
    hand stay as they are, and a run that was stopped goes on where it was.

    Parameters
    ----------
    folder : ClassFolder
    name : str
        A released set.
    learners : sequence of str, optional
        Ids; all of ``folder.learners(name)`` if not given.
    again : bool
        Whether to run those that have not changed, too.
    require_sandbox : bool
        Whether to refuse where a learner's kernel cannot be put into a sandbox.
    workers : int
        How many submissions are run at a time.
    cluster : str, optional
        Address of a Dask scheduler whose workers run them instead.

    Returns
    -------
    iterator of GradingResult
        One for each learner, as they are done; what is wrong with a submission is a sentence in
        its notes.

    Raises
    ------
    ValueError
        If a sandbox is required and there is none, the cluster cannot be reached, or this set is
        being graded already.
    """
    if require_sandbox and not cluster and _sandbox_fault():
        raise ValueError(f"Nothing was graded. {unprotected()}")
    if workers < 1:
        raise ValueError(f"There must be at least one worker, not {workers}.")
    if cluster and not re.fullmatch(r"(\w+://)?[\w.\[\]:-]+:\d+", cluster):
        raise ValueError(
            f"{cluster!r} is no address of a Dask scheduler: give one such as tcp://10.0.0.1:8786."
        )
    with ExitStack() as opened:
        opened.enter_context(_alone(folder, name))
        config = opened.enter_context(nbgrader_calls.nbgrader_settings(folder.path))
        # before the gradebook is opened: workers are forked from here
        spec, pool = _worker_pool(folder, name, require_sandbox, workers, cluster)
        opened.callback(pool.stop)
        learners = folder.learners(name) if learners is None else learners
        return _graded(folder, spec, learners, again, config, pool, opened.pop_all())


def unprotected() -> str:
    """Return what learners' code could do here while it is graded, in sentences; or an empty text.

    Returns
    -------
    str
    """
    from shared_utils.grading.supervisor import sandbox

    return sandbox.unprotected()


@contextmanager
def _alone(folder, name):
    """Refuse a second run over the same set: both would write the same marked submissions."""
    try:
        import fcntl
    except ImportError:  # a platform without such locks
        yield
        return
    with folder.source(name).open("rb") as held:
        try:
            fcntl.flock(held, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            raise ValueError(
                f"{name} is being graded in this folder already: wait until that has ended, then "
                "do this again; what is marked by then is not run twice."
            ) from None
        except OSError:
            pass  # a file system without such locks
        yield


def _sandbox_fault():
    from shared_utils.grading.supervisor import sandbox

    return sandbox.fault()


def _worker_pool(folder, name, require_sandbox, workers, cluster):
    kernel_pool = None
    if not cluster:
        from shared_utils.grading.supervisor.kernel_pool_client import KernelPool

        with suppress(OSError):
            kernel_pool = KernelPool()  # it gets ready while nbgrader is imported
    from shared_utils.grading.supervisor import grading_spec, settings

    url = settings.gradebook_url(folder.path)
    if not cluster:  # known before workers are forked, so that none finds it out for itself
        unprotected()
    stem = Path(NOTEBOOK).stem
    spec = grading_spec.read_spec(folder.path, name, stem, url, require_sandbox)
    if cluster:
        from shared_utils.grading.supervisor.cluster import Cluster

        return spec, Cluster(spec, cluster)
    from shared_utils.grading.supervisor.worker_pool import WorkerPool

    return spec, WorkerPool(spec, workers, kernel_pool)


def _graded(folder, spec, learners, again, config, pool, opened):
    from shared_utils.grading.supervisor import gradebook as gradebooks
    from shared_utils.grading.supervisor import received, set_identity, settings

    name, roster = spec.set_name, folder.roster()
    under_way, done = {}, deque()

    def note_fault(result, fault):
        result.add_marks(gradebook, name, fault)
        is_there = folder.submitted(name, result.learner).parent.exists()
        records.note_outcome(name, result.learner, fault if is_there else "")

    def to_run():
        for learner in learners:
            result = GradingResult(learner, full_name(roster.get(learner)))
            if learner not in roster:
                result.notes.append(not_in_roster(learner, roster))
                done.append(result)
                continue
            fault, submission = submissions.read_submission(folder, name, learner)
            earlier = folder.marked(name, learner)
            stamp = "" if fault else submissions.stamp_of(folder, name, submission)
            is_marked = bool(stamp) and _read(earlier.with_name(settings.STAMP)) == stamp
            if submission:
                received.note(records, folder.submitted(name, learner), name, learner)
            for content in submissions.contents(folder, name, learner, submission):
                fault = set_identity.fault_of_file(content, name, spec.known_sets) or fault
            when = None if fault else submissions.time_of(submission.files)[0]
            result.handed_in = when.isoformat(timespec="seconds") if when else ""
            if fault:
                if is_marked:  # by a version that did not tell sets apart
                    gradebook.withdraw(name, learner)
                    shutil.rmtree(earlier.parent)
                note_fault(result, fault)
            elif not again and is_marked and (text := _read(earlier)):
                result.notes += cells.notes(json.loads(text))
                result.slips += slips_of_file(earlier)
                records.note_outcome(name, learner)
                result.add_marks(gradebook, name)
            else:
                under_way[learner] = submission, stamp, result
                yield submission
                continue
            done.append(result)

    with opened:
        gradebook = gradebooks.TransactionalGradebook(config)
        opened.callback(gradebook.close)
        records = gradebook.records
        nbgrader_calls.keep_roster(gradebook, roster)
        gradebook.settle(name)
        for marked in pool.grade(to_run()):
            submission, stamp, result = under_way.pop(marked.learner)
            result.unprotected = marked.unprotected
            if not marked.fault:
                result.seconds = marked.seconds
                result.notes += marked.notes
                result.notes += _keep(folder, gradebook, spec, submission, marked, stamp)
                result.slips += marked.slips
            note_fault(result, marked.fault)
            yield result
            while done:
                yield done.popleft()
        yield from done


def _keep(folder, gradebook, spec, submission, marked, stamp):
    """Keep what was marked: stopped at any moment, it is as before or done anew next time."""
    from shared_utils.grading.supervisor import hand_marks, settings

    name = spec.set_name
    when, note = submissions.time_of(submission.files)
    digests = hand_marks.answer_digests(json.loads(marked.notebook), json.loads(spec.source))
    target = folder.marked(name, submission.learner).parent
    fresh = target.with_name(f".{name}")
    shutil.rmtree(fresh, ignore_errors=True)
    contents = {**submission.files, NOTEBOOK: marked.notebook, settings.STAMP: stamp.encode()}
    for path, content in contents.items():
        (fresh / path).parent.mkdir(parents=True, exist_ok=True)
        (fresh / path).write_bytes(content)
    gradebook.write_marks(name, marked, when, digests)
    if target.exists():
        shutil.rmtree(target)
    fresh.rename(target)
    return note


def _read(path):
    """Return the text of a file, empty if there is none."""
    return path.read_text(encoding="utf-8") if path.is_file() else ""
