"""The line to a learner's kernel: what is no frame ends the kernel's cell and never the run."""

import json
import socket
import threading
import time

import pytest

from shared_utils.grading import frames
from shared_utils.grading.frames import LENGTH, MAX_FRAME_BYTES, Line, LineEnded
from shared_utils.grading.supervisor import learner_kernel
from shared_utils.grading.supervisor.learner_kernel import KernelEnded, LearnerKernel, WouldNotStop


@pytest.fixture
def ends():
    ours, theirs = socket.socketpair()
    yield Line(ours), theirs
    ours.close()
    theirs.close()


def frame(content):
    return LENGTH.pack(len(content)) + content


def test_messages_arrive_one_by_one_however_they_are_cut(ends):
    line, other = ends
    sent = frame(b'{"a": 1}') + frame(json.dumps({"text": "ü" * 1000}).encode())
    pieces = [sent[start : start + 7] for start in range(0, len(sent), 7)]
    threading.Thread(target=lambda: [other.sendall(piece) for piece in pieces]).start()
    assert line.receive(1) == {"a": 1}
    assert line.receive(1) == {"text": "ü" * 1000}
    assert line.receive(0) is None
    Line(other).send({"b": object})
    assert line.receive(1)["b"].startswith("<class")


@pytest.mark.parametrize(
    "sent",
    [
        frame(b""),
        frame(b"{"),
        frame(b"[]"),
        frame(b"3"),
        frame(b"\xff\xfe"),
        frame(b'{"a":' * 100_000),
        frame(b"1" * 10_000),
        LENGTH.pack(MAX_FRAME_BYTES + 1),
        b"\xff\xff\xff\xffgarbage",
    ],
    ids=range(9),
)
def test_what_is_no_frame_ends_the_line(ends, sent):
    line, other = ends
    threading.Thread(target=other.sendall, args=(sent,), daemon=True).start()
    with pytest.raises(LineEnded):
        line.receive(10)


def test_a_frame_that_never_becomes_whole_is_waited_for_no_longer_than_told(ends):
    line, other = ends
    other.sendall(LENGTH.pack(1000) + b"x")
    start = time.monotonic()
    assert line.receive(0.1) is None
    assert time.monotonic() - start >= 0.1
    other.close()
    with pytest.raises(LineEnded):
        line.receive(10)


def test_a_message_that_is_too_large_is_not_sent(ends):
    with pytest.raises(ValueError, match="too large"):
        ends[0].send({"a": "x" * MAX_FRAME_BYTES})


def test_nobody_who_does_not_read_is_waited_for(ends):
    with pytest.raises(LineEnded):
        ends[0].send({"a": "x" * 4_000_000}, timeout_s=0.1)


class Interrupted:
    """Stands for a kernel's process: counts what is asked of it."""

    def __init__(self):
        self.interrupts = 0

    def interrupt(self):
        self.interrupts += 1


@pytest.fixture
def kernel(ends, monkeypatch):
    """A supervisor's end without a process, and the other end for a test to lie with."""
    monkeypatch.setattr(learner_kernel, "STOP_TIMEOUT_S", 0.2)
    monkeypatch.setattr(learner_kernel, "_next_number", lambda: 1)
    made = LearnerKernel.__new__(LearnerKernel)
    made.number, made.line, made.process = 0, ends[0], Interrupted()
    return made, Line(ends[1])


def test_an_answer_under_another_number_is_dropped(kernel):
    supervisor, liar = kernel
    for number in (0, 2, -1, "1", None, [1]):
        liar.send({"number": number, "ran_well": True})
    liar.send({"ran_well": True})
    liar.send({"number": 1, "output": "stream", "text": "x"})
    liar.send({"number": 1, "ran_well": "yes"})
    shown = []
    assert supervisor.run("x", 5, shown.append) is False
    assert len(shown) == 1
    assert supervisor.process.interrupts == 0


def test_silence_is_interrupted_once_and_then_ended(kernel):
    supervisor, _ = kernel
    with pytest.raises(WouldNotStop):
        supervisor.run("x", 0.1, print)
    assert supervisor.process.interrupts == 1


def test_code_that_stops_when_interrupted_has_only_timed_out(kernel):
    supervisor, honest = kernel
    supervisor.process.interrupt = lambda: honest.send({"number": 1, "ran_well": True})
    with pytest.raises(TimeoutError):
        supervisor.run("x", 0.1, print)


def test_a_flood_is_interrupted_and_then_ended(kernel, monkeypatch):
    supervisor, liar = kernel
    monkeypatch.setattr(learner_kernel, "MAX_REQUEST_BYTES", 100_000)
    ended = threading.Event()

    def flood():
        try:
            while not ended.is_set():
                liar.send({"number": 7, "text": "x" * 10_000})
        except LineEnded:
            pass

    flooding = threading.Thread(target=flood, daemon=True)
    flooding.start()
    start = time.monotonic()
    with pytest.raises(WouldNotStop):
        supervisor.run("x", 60, print)
    ended.set()
    supervisor.line.close()
    assert time.monotonic() - start < 30
    assert supervisor.process.interrupts == 1


def test_a_closed_line_has_ended_the_kernel(kernel):
    supervisor, liar = kernel
    liar.close()
    with pytest.raises(KernelEnded):
        supervisor.run("x", 5, print)


def test_both_ends_agree_on_a_frame():
    assert frames.LENGTH.size == 4
    assert MAX_FRAME_BYTES == 8 * 2**20
