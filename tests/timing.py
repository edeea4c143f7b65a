"""How long a call takes at its quickest: what a busy machine adds is left out."""

import time


def best_of(times, call):
    """Return the shortest of several timed calls, s, after one that warms up."""
    call()
    taken = []
    for _ in range(times):
        start = time.perf_counter()
        call()
        taken.append(time.perf_counter() - start)
    return min(taken)
