"""The workers of a Dask cluster mark submissions: other machines, with nothing shared but the line.

Submissions and the set travel as bytes and marks come back; each worker needs the course installed,
and sees neither the class's folder nor its gradebook.
"""

from itertools import islice

from shared_utils.grading.supervisor import grade_submission

SECONDS_TO_ANSWER = 10
# so that none waits for its next one
AT_A_TIME_PER_WORKER = 2


class Cluster:
    """A Dask scheduler that hands submissions to its workers, as ``Crew`` does here.

    Parameters
    ----------
    kit : Kit
        The set.
    address : str
        Of the scheduler, such as ``tcp://10.0.0.1:8786``.

    Raises
    ------
    ValueError
        If it cannot be reached, or has no workers.
    """

    def __init__(self, kit, address):
        try:
            from distributed import Client
        except ImportError:
            raise ValueError(
                "--cluster needs Dask: run `pip install 'lens-course[cluster]'`, here and on "
                "every worker."
            ) from None
        try:
            self.client = Client(address, timeout=SECONDS_TO_ANSWER, set_as_default=False)
        except (OSError, ValueError) as error:
            raise ValueError(f"No Dask scheduler answers at {address}.") from error
        self.threads = sum(self.client.nthreads().values())
        if not self.threads:
            self.stop()
            raise ValueError(f"The Dask scheduler at {address} has no workers yet.")
        self.kit = self.client.scatter(kit, broadcast=True)

    def mark(self, works):
        """Mark submissions, and yield each as it is done.

        Parameters
        ----------
        works : iterable of Work
            Taken a few at a time.

        Yields
        ------
        Marked
        """
        from distributed import as_completed

        works = iter(works)
        whose = {}
        running = as_completed(loop=self.client.loop)

        def add(item):
            future = self.client.submit(grade_submission.mark, self.kit, item, pure=False)
            whose[future] = item.learner
            running.add(future)

        for item in islice(works, AT_A_TIME_PER_WORKER * self.threads):
            add(item)
        for future in running:
            learner = whose.pop(future)
            try:
                marked = future.result()
            except Exception as error:
                reason = f"Could not be marked: on the cluster, {type(error).__name__}: {error}"
                marked = grade_submission.Marked(learner, " ".join(reason.split())[:300])
            for item in islice(works, 1):
                add(item)
            yield marked

    def stop(self):
        """Leave the cluster as it was."""
        self.client.close()
