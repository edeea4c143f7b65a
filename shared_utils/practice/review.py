"""Spaced review: which item comes next, and when it comes back.

The intervals are those of the free spaced repetition scheduler, library ``fsrs``; an interval
never passes the day before the examination. Parts of the course are interleaved: the next item is
of another lesson than the one before where that can be had.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from typing import TYPE_CHECKING

import fsrs

from shared_utils.bank.items import bank
from shared_utils.bank.posed import pose
from shared_utils.course import manifest

if TYPE_CHECKING:
    from collections.abc import Sequence

    from shared_utils.bank.posed import Posed, Verdict
    from shared_utils.practice.progress import Progress

NEW_A_DAY = 20
EXAM_DATE = "examination date"
_SCHEDULER = fsrs.Scheduler(
    learning_steps=(timedelta(minutes=10),),
    relearning_steps=(timedelta(minutes=10),),
    enable_fuzzing=False,
)


@dataclass(frozen=True)
class Standing:
    """How much waits: items due now, items never seen, answers given today."""

    due: int
    new: int
    today: int


class Review:
    """A learner's review.

    Parameters
    ----------
    progress : Progress
    lessons : sequence of str, optional
        Slugs of the lessons to ask about; all of them if not given.
    """

    def __init__(self, progress: Progress, lessons: Sequence[str] | None = None) -> None:
        self.progress = progress
        self.items = {
            key: item for key, item in bank().items() if not lessons or item.lesson in lessons
        }
        if not self.items:
            raise ValueError("No item of the bank is of these lessons; name lessons as vergence.")

    def standing(self) -> Standing:
        """Return how much waits.

        Returns
        -------
        Standing
        """
        cards = self._cards()
        now = self.progress.now().isoformat()
        due = sum(card["due"] <= now for card in cards.values())
        return Standing(due, len(self.items) - len(cards), self._today("1 = 1"))

    def next(self) -> Posed | None:
        """Return the question that comes next, or None when today's work is done.

        Returns
        -------
        Posed or None
        """
        cards = self._cards()
        now = self.progress.now().isoformat()
        last = self.progress.rows("SELECT item FROM answer ORDER BY number DESC LIMIT 1")
        before = self.items.get(last[0]["item"]) if last else None
        due = sorted((card["due"], key) for key, card in cards.items() if card["due"] <= now)
        key = self._of_another_lesson([key for _, key in due], before)
        if key is None and self._new_today() < NEW_A_DAY:
            key = self._of_another_lesson(self._unseen(cards), before)
        if key is None:
            return None
        times = self.progress.rows("SELECT COUNT(*) AS n FROM answer WHERE item = ?", (key,))
        return pose(self.items[key], seed=times[0]["n"])

    def answer(self, posed: Posed, given: str, seconds: float = 0.0) -> Verdict:
        """Keep an answer, and when its item comes back.

        Parameters
        ----------
        posed : Posed
        given : str
        seconds : float
            How long it took.

        Returns
        -------
        Verdict
        """
        verdict = posed.mark(given)
        reply = (str(given), verdict.right, verdict.slip, seconds)
        now = self.progress.now()
        key = posed.item.key
        with self.progress.opened() as connection:
            row = connection.execute("SELECT state FROM card WHERE item = ?", (key,)).fetchone()
            card = fsrs.Card.from_json(row["state"]) if row else fsrs.Card(card_id=1, due=now)
            rating = fsrs.Rating.Good if verdict.right else fsrs.Rating.Again
            card, _ = _SCHEDULER.review_card(card, rating, now)
            due = self._capped(card.due, now)
            connection.execute(
                "INSERT OR REPLACE INTO card VALUES (?, ?, ?)", (key, card.to_json(), due)
            )
            connection.execute(
                "INSERT INTO answer (at, item, seed, given, held, slip, seconds) "
                "VALUES (?, ?, ?, ?, ?, ?, ?)",
                (now.isoformat(), key, posed.seed, *reply),
            )
        return verdict

    def back(self, key: str) -> datetime | None:
        """Return when an item comes back, or None if it was never asked.

        Parameters
        ----------
        key : str

        Returns
        -------
        datetime or None
        """
        card = self._cards().get(key)
        return datetime.fromisoformat(card["due"]) if card else None

    def _capped(self, due, now):
        chosen = self.progress.setting(EXAM_DATE)
        if chosen:
            last = datetime.combine(
                date.fromisoformat(chosen) - timedelta(days=1), time(6), tzinfo=UTC
            )
            if last > now:
                due = min(due, last)
        return due.isoformat()

    def _cards(self):
        rows = self.progress.rows("SELECT item, due FROM card")
        return {row["item"]: row for row in rows if row["item"] in self.items}

    def _unseen(self, cards):
        """Keys of new items, one of each lesson in turn, the easy ones first."""
        queues = {}
        for key, item in self.items.items():
            if key not in cards:
                queues.setdefault(item.lesson, []).append((item.difficulty, key))
        seen, place = {}, manifest.of().place
        for key in cards:
            lesson = self.items[key].lesson
            seen[lesson] = seen.get(lesson, 0) + 1
        order = sorted(queues, key=lambda lesson: (seen.get(lesson, 0), place(lesson)))
        return [min(queues[lesson])[1] for lesson in order]

    def _of_another_lesson(self, keys, before):
        other = [key for key in keys if before is None or self.items[key].lesson != before.lesson]
        return (other or keys or [None])[0]

    def _today(self, which):
        begun = self.progress.now().date().isoformat()
        rows = self.progress.rows(
            f"SELECT COUNT(*) AS n FROM answer WHERE at >= ? AND {which}", (begun,)
        )
        return rows[0]["n"]

    def _new_today(self):
        """Items answered today for the first time."""
        return self._today("number IN (SELECT MIN(number) FROM answer GROUP BY item)")


def set_exam_date(progress: Progress, text: str) -> None:
    """Keep the day of the examination.

    Parameters
    ----------
    progress : Progress
    text : str
        As 2027-05-14; empty takes the date away.

    Raises
    ------
    ValueError
        If it is no date, or it has passed.
    """
    if not str(text).strip():
        progress.set(EXAM_DATE, None)
        return
    try:
        day = date.fromisoformat(str(text).strip())
    except ValueError:
        raise ValueError(
            f"{text!r} is not a date; write year, month and day as 2027-05-14."
        ) from None
    if day <= progress.now().date():
        raise ValueError(f"{day} has passed; give the day of the next examination.")
    progress.set(EXAM_DATE, day.isoformat())
