"""The workers of a Dask cluster grade submissions: other machines, nothing shared but messages.

Submissions and the set travel as bytes and marks come back; each worker needs the course installed,
and sees neither the class's folder nor its gradebook.
"""

from __future__ import annotations

from itertools import islice
from typing import TYPE_CHECKING

from shared_utils.grading.supervisor.grade_submission import GradedSubmission, grade_submission

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from shared_utils.grading.supervisor.grade_submission import Submission
    from shared_utils.grading.supervisor.grading_spec import GradingSpec

CONNECT_TIMEOUT_S = 10
# so that no worker waits for its next one
QUEUED_PER_WORKER = 2


class Cluster:
    """A Dask scheduler that hands submissions to its workers, as ``WorkerPool`` does here.

    Parameters
    ----------
    spec : GradingSpec
        The set.
    address : str
        Of the scheduler, such as ``tcp://10.0.0.1:8786``.

    Raises
    ------
    ValueError
        If it cannot be reached, or has no workers.
    """

    def __init__(self, spec: GradingSpec, address: str) -> None:
        try:
            from distributed import Client
        except ImportError:
            raise ValueError(
                "--cluster needs Dask: run `pip install 'lens-course[cluster]'`, here and on "
                "every worker."
            ) from None
        try:
            self.client = Client(address, timeout=CONNECT_TIMEOUT_S, set_as_default=False)
        except (OSError, ValueError) as error:
            raise ValueError(f"No Dask scheduler answers at {address}.") from error
        self.threads = sum(self.client.nthreads().values())
        if not self.threads:
            self.stop()
            raise ValueError(f"The Dask scheduler at {address} has no workers yet.")
        self.spec = self.client.scatter(spec, broadcast=True)

    def grade(self, submissions: Iterable[Submission]) -> Iterator[GradedSubmission]:
        """Grade submissions, and yield each as it is done.

        Parameters
        ----------
        submissions : iterable of Submission
            Taken a few at a time.

        Yields
        ------
        GradedSubmission
        """
        from distributed import as_completed

        submissions = iter(submissions)
        learner_of = {}
        running = as_completed(loop=self.client.loop)

        def add(submission):
            future = self.client.submit(grade_submission, self.spec, submission, pure=False)
            learner_of[future] = submission.learner
            running.add(future)

        for submission in islice(submissions, QUEUED_PER_WORKER * self.threads):
            add(submission)
        for future in running:
            learner = learner_of.pop(future)
            try:
                graded = future.result()
            except Exception as error:
                reason = f"Could not be marked: on the cluster, {type(error).__name__}: {error}"
                graded = GradedSubmission(learner, " ".join(reason.split())[:300])
            for submission in islice(submissions, 1):
                add(submission)
            yield graded

    def stop(self) -> None:
        """Leave the cluster as it was."""
        self.client.close()
