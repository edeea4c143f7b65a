"""Practice and the mock examination in a real terminal, from start to report, and killed.

tmux holds the terminal: keys go in and the screen is read, as a person would.
"""

import os
import random
import re
import shutil
import subprocess
import sys
import time
import uuid
from pathlib import Path

import psutil
import pytest

from shared_utils.practice import exam, review
from shared_utils.practice.progress import Progress
from tests.sampling import size

PATIENCE_SECONDS = 60
WRONG = "wrong"


@pytest.fixture
def tmux(tmp_path):
    """A terminal of the test's own, closed at its end."""
    if not shutil.which("tmux"):
        message = "No tmux on this machine: practice was not tried in a terminal."
        if os.environ.get("CI"):
            pytest.fail(message)
        pytest.skip(message)
    terminal = Terminal(tmp_path)
    yield terminal
    terminal.tmux("kill-server", check=False)


class Terminal:
    """A terminal of 100 columns and many lines, so that a whole report stays on the screen."""

    def __init__(self, folder):
        self.folder, self.name = folder, "none"

    def tmux(self, *words, check=True):
        command = ["tmux", "-L", self.name, "-f", "/dev/null", *words]
        environment = {k: v for k, v in os.environ.items() if k != "TMUX"}
        environment |= {"LC_ALL": "C.UTF-8", "LENS_COURSE_DATA": str(self.folder)}
        done = subprocess.run(command, capture_output=True, text=True, env=environment)
        assert done.returncode == 0 or not check, done.stderr
        return done.stdout

    def run(self, *words):
        """Start a command of the course."""
        command = [str(Path(sys.executable).with_name("lens-course")), *words]
        self.tmux("kill-server", check=False)
        self.name = f"course-{uuid.uuid4().hex[:8]}"  # the old one may still be going
        self.tmux("new-session", "-d", "-s", "here", "-x", "100", "-y", "600", *command)
        self.tmux("set-option", "-t", "here", "remain-on-exit", "on")

    def screen(self):
        return re.sub(r"\n+$", "", self.tmux("capture-pane", "-p", "-t", "here"))

    def wait(self, pattern):
        """Wait until the end of the screen holds a pattern; return the screen."""
        end = time.monotonic() + PATIENCE_SECONDS
        while time.monotonic() < end:
            screen = self.screen()
            if re.search(pattern, screen):
                return screen
            time.sleep(0.03)
        raise AssertionError(f"{pattern!r} did not come up:\n{self.screen()[-3000:]}")

    def asked(self, times):
        """Wait until an answer was asked for so many times since the command began."""
        end = time.monotonic() + PATIENCE_SECONDS
        while self.screen().count("Your answer,") < times:
            assert time.monotonic() < end, self.screen()[-3000:]
            time.sleep(0.03)

    def type(self, text):
        self.tmux("send-keys", "-t", "here", "-l", "--", text)
        self.tmux("send-keys", "-t", "here", "Enter")

    def kill(self):
        """Kill the course's process as a pulled plug would."""
        process = psutil.Process(int(self.tmux("list-panes", "-t", "here", "-F", "#{pane_pid}")))
        process.kill()
        end = time.monotonic() + PATIENCE_SECONDS
        # until it is dead it may still write; tmux leaves it unburied for a while
        while process.is_running() and process.status() != psutil.STATUS_ZOMBIE:
            assert time.monotonic() < end
            time.sleep(0.01)


def reply(posed, right=True):
    """An answer as it is typed: the right one, or a wrong one."""
    if posed.item.kind == "number":
        return f"{posed.right + (0 if right else 50 * posed.item.within):.6f}"
    if right:
        return posed.right
    if posed.item.kind == "order":
        return posed.right[::-1]
    return "A" if posed.right != "A" else "B"


def test_review_in_a_terminal_goes_from_the_first_question_to_the_end_of_the_day(tmux):
    tmux.run("practice", "--lessons", "01", "--until", "2099-05-14")
    tmux.asked(1)
    assert "not for patient care" in tmux.screen()
    tmux.type("what?")
    tmux.wait("is not an answer here")
    for n in range(review.NEW_A_DAY):
        tmux.asked(n + 2)
        posed = review.Review(Progress(tmux.folder / "progress.sqlite"), ["vergence"]).next()
        tmux.type(reply(posed, right=n % 3 > 0))
    screen = tmux.wait("Nothing more for today")
    assert len(re.findall(r"^Right\. ", screen, re.M)) == 13
    assert len(re.findall(r"^Not so\. It is ", screen, re.M)) == 7
    assert "The examination is on 2099-05-14" in screen
    rows = Progress(tmux.folder / "progress.sqlite").rows("SELECT held FROM answer")
    assert [row["held"] for row in rows] == [int(n % 3 > 0) for n in range(review.NEW_A_DAY)]


@pytest.mark.slow
def test_the_examination_in_a_terminal_goes_from_start_to_report(tmux):
    tmux.run("exam", "--minutes", "45")
    tmux.asked(1)
    sitting = exam.Exam.unfinished(Progress(tmux.folder / "progress.sqlite"))
    for n, posed in enumerate(sitting.questions):
        if n == 1:
            tmux.type("p")
            tmux.wait("The clock stands still")
            tmux.type("")
            tmux.asked(n + 2)
        if n == 5:
            tmux.type("q")
            tmux.wait("goes on here")
            tmux.run("exam")
            tmux.asked(1)
            assert "You go on where you were" in tmux.screen()
        assert f"Question {n + 1} of 40" in tmux.screen()
        assert not re.search(r"Right[.:]|Not so", tmux.screen())
        tmux.type(reply(posed, right=n % 4 > 0))
        if n < 39:
            tmux.wait(f"Question {n + 2} of 40")
    report = re.sub(r"\s+", " ", tmux.wait("Read again"))
    assert "30 of 40 right, 75 %" in report
    for heading in ("By part", "Against time", "By goal", "Questions missed, and the"):
        assert heading in report
    assert "0 of 40 questions without an answer" in report
    assert "█" in report
    assert sitting.ended()


def killed_in_review(tmux, seconds, file):
    """Answer until the plug is pulled after so many seconds; what was seen as kept is there."""
    practice = ("practice", "--file", str(file), "--lessons", "01", "02", "03", "04")
    tmux.run(*practice)
    tmux.asked(1)
    end, seen = time.monotonic() + seconds, 0
    while time.monotonic() < end and seen < review.NEW_A_DAY - 2:
        posed = review.Review(Progress(file), LESSONS).next()
        tmux.type(reply(posed, right=seen % 2 > 0))
        if time.monotonic() > end:
            break
        tmux.asked(seen + 2)
        seen += 1
    tmux.kill()
    reopened = Progress(file)
    assert not reopened.notice
    answers = len(reopened.rows("SELECT * FROM answer"))
    assert seen <= answers <= seen + 1
    tmux.run(*practice)
    tmux.wait(f"{answers} answered today")


LESSONS = ["vergence", "eye", "glasses", "astigmatism"]


def killed_in_the_examination(tmux, seconds):
    """The same for the examination, which goes on at its first open question."""
    file = tmux.folder / "progress.sqlite"
    tmux.run("exam", "--minutes", "600")
    tmux.asked(1)
    sitting = exam.Exam.unfinished(Progress(file))
    kept = sitting.given()
    end, seen = time.monotonic() + seconds, 0
    for n in range(len(kept), len(sitting.questions) - 1):
        tmux.type(reply(sitting.questions[n]))
        if time.monotonic() > end:
            break
        tmux.asked(seen + 2)
        seen += 1
    tmux.kill()
    reopened = exam.Exam.unfinished(Progress(file))
    assert reopened.number == sitting.number
    now = reopened.given()
    assert kept.items() <= now.items()
    assert len(kept) + seen <= len(now) <= len(kept) + seen + 1
    tmux.run("exam")
    tmux.wait(f"Question {len(now) + 1} of 40")
    return len(now)


def killed(tmux, times, seed):
    chance = random.Random(seed)
    for n in range(times):
        killed_in_review(tmux, chance.uniform(0.0, 1.2), tmux.folder / f"review{n}.sqlite")
    for _ in range(times):
        if killed_in_the_examination(tmux, chance.uniform(0.0, 1.2)) > 20:
            exam.Exam.unfinished(Progress(tmux.folder / "progress.sqlite")).end()


@pytest.mark.slow
def test_a_pulled_plug_loses_at_most_the_answer_being_typed(tmux):
    killed(tmux, 1, seed=4)


@pytest.mark.long
def test_ten_pulled_plugs_lose_at_most_the_answer_being_typed(tmux):
    killed(tmux, size(10, 3), seed=5)
