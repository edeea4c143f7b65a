"""The next learner's kernel, started while the present one runs.

It knows no learner and has run nothing. Only a kernel in a sandbox waits: where there is none, what
runs beside it might reach it. It is used once, as every kernel is, or ended with its worker.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from shared_utils.grading.supervisor.learner_kernel import KernelEnded, LearnerKernel
from shared_utils.grading.supervisor.sandbox import Sandbox

if TYPE_CHECKING:
    from collections.abc import Sequence

_keeps = False
_spare: tuple[tuple[tuple[str, ...], int], LearnerKernel] | None = None


def keep_one() -> None:
    """Have one in this process from now on; ``stop`` must follow before the process ends."""
    global _keeps
    _keeps = True


def start(isolated: bool, modules: Sequence[str], processor_s: int) -> None:
    """Start one, if this process keeps one and has none.

    Parameters
    ----------
    isolated : bool
        Whether kernels run in a sandbox here.
    modules : sequence of str
        What the instructor's own cells import.
    processor_s : int
        How much processor time it may take.
    """
    global _spare
    if _keeps and isolated and _spare is None:
        try:
            kernel = LearnerKernel(Sandbox(isolated), modules, processor_s)
        except (KernelEnded, OSError):
            return  # then the next one is started when it is needed
        _spare = (tuple(modules), processor_s), kernel


def take(isolated: bool, modules: Sequence[str], processor_s: int) -> LearnerKernel | None:
    """Return the one that waits, which is then no spare one; None if there is none of this kind."""
    global _spare
    if _spare is None:
        return None
    kind, kernel = _spare
    _spare = None
    if isolated and kind == (tuple(modules), processor_s):
        return kernel
    kernel.stop()
    return None


def stop() -> None:
    """End the one that waits, and keep none."""
    global _keeps, _spare
    _keeps = False
    if _spare is not None:
        _spare[1].stop()
        _spare = None
