"""The line between the supervisor and a learner's kernel: frames over a pair of sockets.

A frame is its length in four bytes and a JSON object. What comes from a learner's kernel may be
anything, so a reader takes no more than ``MAX_FRAME_BYTES``, waits no longer than it is told, and
says which of three things it met: a message, the end, or what is no frame.
"""

from __future__ import annotations

import json
import select
import socket
import struct
import threading
from time import monotonic
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from typing import Any

MAX_FRAME_BYTES = 8 * 2**20
READ_BYTES = 2**18
LENGTH = struct.Struct(">I")


class LineEnded(Exception):
    """The other end is closed, or has sent what is no frame."""


class Line:
    """One end of a pair of sockets.

    Parameters
    ----------
    connection : socket.socket
        It is closed with the line.
    """

    def __init__(self, connection: socket.socket) -> None:
        self.connection = connection
        self.received_bytes = 0
        self._buffer = bytearray()
        self._lock = threading.Lock()  # a learner's threads may print

    def send(self, message: dict[str, Any], timeout_s: float | None = None) -> None:
        """Send a message.

        Parameters
        ----------
        message : dict
            What JSON can hold; anything else in it is sent as its description.
        timeout_s : float, optional
            How long the other end may take to read it.

        Raises
        ------
        LineEnded
            If it does not read it in time, or is closed.
        ValueError
            If it is too large.
        """
        content = json.dumps(message, default=repr, skipkeys=True).encode("ascii")
        if len(content) > MAX_FRAME_BYTES:
            raise ValueError("a message that is too large")
        try:
            with self._lock:
                self.connection.settimeout(timeout_s)
                self.connection.sendall(LENGTH.pack(len(content)) + content)
        except OSError as error:
            raise LineEnded from error

    def receive(self, timeout_s: float | None = None) -> dict[str, Any] | None:
        """Return the next message, or None if there is none in time.

        Raises
        ------
        LineEnded
            If the other end is closed, or has sent what is no frame.
        """
        end = None if timeout_s is None else monotonic() + timeout_s
        while (message := self._take()) is None:
            try:
                if end is not None:
                    left_s = max(end - monotonic(), 0)
                    if not select.select([self.connection], [], [], left_s)[0]:
                        return None
                else:
                    self.connection.settimeout(None)
                data = self.connection.recv(READ_BYTES)
            except (OSError, ValueError) as error:
                raise LineEnded from error
            if not data:
                raise LineEnded
            self.received_bytes += len(data)
            self._buffer += data
        return message

    def close(self) -> None:
        """Close this end."""
        self.connection.close()

    def _take(self):
        """Return the first message of what was read; None if it is not whole."""
        if len(self._buffer) < LENGTH.size:
            return None
        (length,) = LENGTH.unpack_from(self._buffer)
        if length > MAX_FRAME_BYTES:
            raise LineEnded
        end = LENGTH.size + length
        if len(self._buffer) < end:
            return None
        content = bytes(self._buffer[LENGTH.size : end])
        del self._buffer[:end]
        try:
            message = json.loads(content)
        except (ValueError, RecursionError, MemoryError) as error:
            raise LineEnded from error
        if not isinstance(message, dict):
            raise LineEnded
        return message
