"""Practice and the mock examination in a terminal: one question at a time, answers by letter."""

from __future__ import annotations

import time
from typing import TYPE_CHECKING

from rich.console import Console
from rich.padding import Padding
from rich.text import Text

from shared_utils import CAUTION
from shared_utils.bank.posed import letters_of
from shared_utils.practice.exam import Exam
from shared_utils.practice.review import EXAM_DATE, Review

if TYPE_CHECKING:
    from collections.abc import Sequence

    from shared_utils.practice.exam_report import Report
    from shared_utils.practice.progress import Progress

BAR = 30


def practise(
    progress: Progress, lessons: Sequence[str] | None = None, console: Console | None = None
) -> int:
    """Ask what is due until the reader stops or the day's work is done.

    Parameters
    ----------
    progress : Progress
    lessons : sequence of str, optional
        Stems of the lessons to ask about.
    console : rich.console.Console, optional

    Returns
    -------
    int
        Answers given.
    """
    console = console or Console(highlight=False)
    review = Review(progress, lessons)
    _greet(console, progress)
    standing = review.standing()
    chosen = progress.setting(EXAM_DATE)
    until = f" The examination is on {chosen}; nothing comes back later." if chosen else ""
    console.print(
        f"{standing.due} due, {standing.new} not seen yet, {standing.today} answered today.{until}",
        markup=False,
    )
    answered = 0
    while (posed := review.next()) is not None:
        _put(console, posed)
        begun = time.monotonic()
        given = _asked(console, posed, "q stops")
        if given in ("q", None):
            break
        verdict = review.answer(posed, given, time.monotonic() - begun)
        answered += 1
        mark = "[green]Right.[/green]" if verdict.right else "[red]Not so.[/red]"
        console.print(mark, end=" ")
        if not verdict.right:
            console.print(f"It is {posed.answer_in_words()}.", markup=False, end=" ")
        console.print(verdict.message, markup=False)
        back = review.back(posed.item.key)
        assert back is not None  # it was just answered
        console.print(
            f"Comes back {back.astimezone():%d %B, %H:%M}. Source: {posed.item.source}", style="dim"
        )
    else:
        console.print("Nothing more for today. Come back tomorrow.")
    return answered


def sit(progress: Progress, minutes: float, console: Console | None = None) -> Report | None:
    """Sit a mock examination, or go on with one that was cut off.

    Parameters
    ----------
    progress : Progress
    minutes : float
        Time allowed, for a new one.
    console : rich.console.Console, optional

    Returns
    -------
    Report or None
        None if it was left before the end.
    """
    console = console or Console(highlight=False)
    _greet(console, progress)
    exam = Exam.unfinished(progress)
    if exam:
        console.print(f"You go on where you were: {_left(exam)}. {exam.notice}".strip())
    else:
        exam = Exam.begin(progress, minutes)
        console.print(
            f"{len(exam.questions)} questions, {_left(exam)}. Nothing is said before the end."
        )
    console.print("Enter alone skips a question; p pauses the clock; q leaves; e ends and reports.")
    place = _next_place(exam, -1)
    while place is not None and exam.left_seconds() > 0:
        asked = exam.questions[place]
        console.print(
            f"\nQuestion {place + 1} of {len(exam.questions)}, {_left(exam)}", style="dim"
        )
        _put(console, asked)
        begun = time.monotonic()
        given = _asked(console, asked, "p, q, e", extra=("p", "e", ""))
        seconds = time.monotonic() - begun
        if given in ("q", None):
            exam.pause(seconds)
            console.print("Kept. `lens-course exam` goes on here.")
            return None
        if given == "e":
            exam.pause(seconds)
            break
        if given == "p":
            exam.pause(seconds)
            console.input("The clock stands still. Enter goes on. ")
            continue
        if given == "":
            exam.pause(seconds)
        else:
            try:
                exam.answer(place, given, seconds)
            except ValueError as error:  # too late
                console.print(str(error), markup=False)
        place = _next_place(exam, place)
    if exam.left_seconds() <= 0:
        console.print("The time is up.")
    report = exam.end()
    for heading, lines in report.sections():
        console.print(f"\n{heading}", style="bold")
        for line in lines:
            console.print(Padding(Text(line), (0, 0, 0, 2)))
        if heading == "By part":
            for share in report.parts:
                filled = round(BAR * share.right / share.asked)
                console.print(f"  {share.name:22} {'█' * filled}{'·' * (BAR - filled)}")
    return report


def _greet(console, progress):
    console.print(CAUTION, style="dim")
    if progress.notice:
        console.print(progress.notice, markup=False)


def _put(console, posed):
    console.print()
    console.print(posed.stem, markup=False, style="bold")
    figure = posed.shown_figure()
    if figure is not None:
        console.print(f"Figure: {figure.alt}", markup=False)
    for letter, line in zip(letters_of(posed.choices), posed.choices, strict=True):
        console.print(Padding(f"{letter}  {line}", (0, 0, 0, 2)), markup=False)


def _asked(console, posed, keys, extra=()):
    """An answer to this question, or one of the keys; None when the input ends."""
    while True:
        try:
            given = console.input(f"Your answer, {posed.hint()} ({keys}): ").strip()
        except (EOFError, KeyboardInterrupt):
            console.print()
            return None
        if given.lower() in ("q", *extra):
            return given.lower()
        try:
            posed.understood(given)
        except ValueError as error:
            console.print(str(error), markup=False)
            continue
        return given


def _next_place(exam, after):
    """The next question without an answer, from here round to the start; None if none is left."""
    open_places = [n for n in range(len(exam.questions)) if n not in exam.given()]
    later = [n for n in open_places if n > after]
    return (later or open_places or [None])[0]


def _left(exam):
    left = exam.left_seconds()
    return f"{int(left // 60)} min {int(left % 60):02d} s left"
