"""The clock of the mock examination, which runs on the page while the kernel waits."""

from pathlib import Path

import anywidget
import traitlets


class Clock(anywidget.AnyWidget):
    """Words about where one is, and the time left, which the page counts down by itself.

    A screen reader is told the last five minutes, the last minute and the end, not every second.
    """

    _esm = Path(__file__).parent / "clock.js"

    message = traitlets.Unicode().tag(sync=True)
    over = traitlets.Unicode().tag(sync=True)
    left_seconds = traitlets.Float().tag(sync=True)
    running = traitlets.Bool(False).tag(sync=True)
    turn = traitlets.Int().tag(sync=True)

    def put(self, message: str, left_seconds: float, running: bool) -> None:
        """Show words and time left; all in one message, so that none runs ahead of the other.

        Parameters
        ----------
        message : str
            Empty to hide the clock.
        left_seconds : float
        running : bool
            False stops the clock.
        """
        with self.hold_sync():
            self.message, self.left_seconds, self.running = message, left_seconds, running
            self.turn += 1
