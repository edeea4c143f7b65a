"""A mock examination: a blueprint over the four parts, a clock that can be paused, a report.

Nothing is said about an answer before the end. Every answer is kept as it is given, and the clock
with it, so an examination that was cut off goes on where it was.
"""

from __future__ import annotations

import json
from contextlib import suppress
from typing import TYPE_CHECKING

from shared_utils.bank.items import bank
from shared_utils.bank.posed import pose
from shared_utils.course import manifest
from shared_utils.practice.exam_report import reported
from shared_utils.problems.numbers import Draw

if TYPE_CHECKING:
    from collections.abc import Sequence

    from shared_utils.practice.exam_report import Report
    from shared_utils.practice.progress import Progress

MINUTES = 60.0
MAX_MINUTES = 600.0


_EARLIER = "This examination was begun with an earlier edition of the questions; begin a new one."


def require_minutes(minutes: float) -> None:
    """Refuse a time that no examination is given.

    Parameters
    ----------
    minutes : float
        Above 0, at most 600.

    Raises
    ------
    ValueError
        If it is not within these, or not a number.

    Examples
    --------
    >>> require_minutes(60)
    >>> require_minutes(float("inf"))
    Traceback (most recent call last):
    ValueError: An examination of inf minutes cannot be; give more than 0 and at most 600 minutes.
    """
    if not 0 < minutes <= MAX_MINUTES:
        raise ValueError(
            f"An examination of {minutes:g} minutes cannot be; give more than 0 and at most "
            f"{MAX_MINUTES:g} minutes."
        )


class EarlierEdition(ValueError):
    """An examination asks what the bank no longer holds, or holds otherwise."""


class Exam:
    """One examination, kept in the learner's progress.

    Parameters
    ----------
    progress : Progress
    number : int
        Which one; ``begin`` and ``unfinished`` find it.

    Attributes
    ----------
    minutes : float
        Time allowed.
    notice : str
        What the reader must know: that the time was corrected.

    Raises
    ------
    EarlierEdition
        If the bank no longer holds one of its questions, or holds it so that what was answered is
        no answer to it.
    """

    def __init__(self, progress: Progress, number: int) -> None:
        self.progress = progress
        self.number = number
        row = self._row()
        # one of an earlier version may have been given a time without an end
        self.minutes = min(row["minutes"], MAX_MINUTES)
        self.notice = ""
        if row["minutes"] > MAX_MINUTES:
            self.notice = (
                f"This examination was begun with {row['minutes']:g} minutes; it has "
                f"{MAX_MINUTES:g} minutes now, the longest that there is."
            )
        plan = json.loads(row["plan"])
        if any(key not in bank() for key, _ in plan):
            raise EarlierEdition(_EARLIER)
        self.questions = tuple(pose(bank()[key], seed) for key, seed in plan)
        try:
            for place, given in self.given().items():
                self.questions[place].understood(given)
        except ValueError:
            raise EarlierEdition(_EARLIER) from None

    @classmethod
    def begin(
        cls, progress: Progress, minutes: float = MINUTES, blueprint: Sequence[int] | None = None
    ) -> Exam:
        """Begin a new examination and return it.

        Parameters
        ----------
        progress : Progress
        minutes : float
            Time allowed, above 0, at most 600.
        blueprint : sequence of int, optional
            Questions of each part of the course; as the manifest has them if not given.

        Returns
        -------
        Exam

        Raises
        ------
        ValueError
            If there is no such time, or a part has fewer items than are asked for.
        """
        require_minutes(minutes)
        if blueprint is None:
            blueprint = [part.exam_questions for part in manifest.of().parts]
        with progress.opened() as connection:
            count = connection.execute("SELECT COUNT(*) FROM exam").fetchone()[0]
            begun = progress.now().isoformat()
            plan = _plan(f"{begun}|{count}", blueprint)
            made = connection.execute(
                "INSERT INTO exam (begun, plan, minutes, used_seconds) VALUES (?, ?, ?, 0)",
                (begun, json.dumps(plan), minutes),
            )
            number = made.lastrowid
            assert number is not None  # a row was just written
        return cls(progress, number)

    @classmethod
    def unfinished(cls, progress: Progress) -> Exam | None:
        """Return the examination that was begun and not ended, or None.

        One of an earlier edition is passed over, for it cannot go on.

        Parameters
        ----------
        progress : Progress

        Returns
        -------
        Exam or None
        """
        rows = progress.rows("SELECT number FROM exam WHERE ended IS NULL ORDER BY number DESC")
        for row in rows:
            with suppress(EarlierEdition):
                return cls(progress, row["number"])
        return None

    def given(self) -> dict[int, str]:
        """Return the answers so far: place, counted from 0, → answer.

        Returns
        -------
        dict of int to str
        """
        rows = self.progress.rows(
            "SELECT place, given FROM exam_answer WHERE exam = ?", (self.number,)
        )
        return {row["place"]: row["given"] for row in rows}

    def answer(self, place: int, given: str, seconds: float) -> None:
        """Keep an answer, and the time that it took; a later one takes its place.

        Parameters
        ----------
        place : int
            Which question, counted from 0.
        given : str
        seconds : float
            Time since the last answer or pause.

        Raises
        ------
        ValueError
            If it is no answer to this question, it comes after the time, or the examination has
            ended.
        """
        self.questions[place].understood(given)
        self._still_on()
        if seconds > self.left_seconds():
            self.pause(seconds)
            raise ValueError(
                "The time ran out before this answer, so it does not count; end the examination "
                "to see its report."
            )
        with self.progress.opened() as connection:
            row = connection.execute(
                "SELECT seconds FROM exam_answer WHERE exam = ? AND place = ?", (self.number, place)
            ).fetchone()
            whole = seconds + (row["seconds"] if row else 0.0)
            connection.execute(
                "INSERT OR REPLACE INTO exam_answer VALUES (?, ?, ?, ?)",
                (self.number, place, str(given).strip(), whole),
            )
            self._add_time(connection, seconds)

    def pause(self, seconds: float) -> None:
        """Keep the time used since the last answer; the clock then stands still.

        Parameters
        ----------
        seconds : float
        """
        with self.progress.opened() as connection:
            self._add_time(connection, seconds)

    def used_seconds(self) -> float:
        """Return the time used so far, s."""
        return self._row()["used_seconds"]

    def left_seconds(self) -> float:
        """Return the time left, s; 0 when it is up."""
        return max(0.0, 60.0 * self.minutes - self.used_seconds())

    def ended(self) -> bool:
        """Return whether the examination is over."""
        return self._row()["ended"] is not None

    def end(self) -> Report:
        """End the examination and return its report.

        Returns
        -------
        Report
        """
        if not self.ended():
            with self.progress.opened() as connection:
                connection.execute(
                    "UPDATE exam SET ended = ? WHERE number = ?",
                    (self.progress.now().isoformat(), self.number),
                )
        return self.report()

    def report(self) -> Report:
        """Return the report of an examination that has ended.

        Returns
        -------
        Report

        Raises
        ------
        ValueError
            If it still runs: nothing is said before the end.
        """
        if not self.ended():
            raise ValueError("The examination still runs; end it first.")
        rows = self.progress.rows(
            "SELECT place, given, seconds FROM exam_answer WHERE exam = ?", (self.number,)
        )
        answers = {row["place"]: (row["given"], row["seconds"]) for row in rows}
        return reported(self.questions, answers, self.used_seconds(), self.minutes)

    def _still_on(self):
        if self.ended():
            raise ValueError("The examination has ended; begin a new one.")
        if self.left_seconds() <= 0:
            raise ValueError("The time is up; end the examination to see its report.")

    def _add_time(self, connection, seconds):
        connection.execute(
            "UPDATE exam SET used_seconds = used_seconds + ? WHERE number = ?",
            (max(0.0, seconds), self.number),
        )

    def _row(self):
        return self.progress.rows("SELECT * FROM exam WHERE number = ?", (self.number,))[0]


def _plan(seed, blueprint):
    """Questions by part, spread over the lessons and goals of each, then interleaved."""
    pages = manifest.of()
    chosen = []
    for part, count in enumerate(blueprint):
        here = [i for i in bank().values() if pages.by_slug[i.lesson].part.number == part + 1]
        if len(here) < count:
            raise ValueError(
                f"Part {part + 1} has {len(here)} items, and the examination asks for {count}."
            )
        draw = Draw(f"exam/part {part}", learner=seed)
        order = sorted(here, key=lambda item: draw.pick(item.key, 0, 10**9))
        seen, spread = {}, []
        for item in order:  # the first of each goal before the second of any
            turn = seen[item.lesson, item.goal] = seen.get((item.lesson, item.goal), 0) + 1
            spread.append((turn, len(spread), item))
        spread.sort(key=lambda entry: entry[:2])
        chosen.append([item for _, _, item in spread[:count]])
    # parts in turn, the longer ones going on at the end
    mixed = [
        (place / len(items), part, item)
        for part, items in enumerate(chosen)
        for place, item in enumerate(items)
    ]
    mixed.sort(key=lambda entry: entry[:2])
    draw = Draw("exam/numbers", learner=seed)
    return [[item.key, draw.pick(item.key, 1, 10**6)] for _, _, item in mixed]
