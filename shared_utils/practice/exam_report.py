"""What came of an examination: score and its range, by part and goal, against time, the slips."""

from __future__ import annotations

import math
from dataclasses import dataclass
from statistics import NormalDist, median
from typing import TYPE_CHECKING

from shared_utils.course import manifest

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from shared_utils.bank.posed import Posed

RIGHT, MISSED, OPEN = "right", "missed", "no answer"


@dataclass(frozen=True)
class Share:
    """Right answers of those asked, with the range that the true share may lie in."""

    name: str
    right: int
    asked: int
    low: float
    high: float

    def message(self) -> str:
        """Return the share in words; in per cent too where that says more."""
        percent = f" ({100 * self.right / self.asked:.0f} %)" if self.asked >= 5 else ""
        return f"{self.name}: {self.right} of {self.asked}{percent}"


@dataclass(frozen=True)
class Taken:
    """A question as it was taken: its place from 1, the seconds spent, and what came of it."""

    place: int
    seconds: float
    outcome: str


@dataclass(frozen=True)
class Slipped:
    """A question that was missed: what was asked, answered and right, and what is said to it."""

    place: int
    stem: str
    given: str
    right: str
    message: str
    slip: str
    lesson: str
    goal: int

    def reply(self) -> str:
        """Return the question, what was answered, what is right, and what is said: four lines."""
        return f"{self.place}. {self.stem}\nYou: {self.given}\nRight: {self.right}\n{self.message}"


@dataclass(frozen=True)
class Report:
    """What came of an examination.

    ``parts`` and ``goals`` are shares; ``taken`` holds each question in its order.
    """

    whole: Share
    parts: tuple[Share, ...]
    goals: tuple[Share, ...]
    taken: tuple[Taken, ...]
    used_seconds: float
    minutes: float
    missed: tuple[Slipped, ...]

    def summary(self) -> str:
        """Return the score in two sentences."""
        return (
            f"{self.whole.right} of {self.whole.asked} right, "
            f"{100 * self.whole.right / self.whole.asked:.0f} %. So few questions tell it roughly: "
            f"your true share lies between {100 * self.whole.low:.0f} and "
            f"{100 * self.whole.high:.0f} % (95 % sure)."
        )

    def reread(self) -> dict[str, list[int]]:
        """Return what to read again: title of a lesson → goals with a miss, most misses first.

        Returns
        -------
        dict of str to list of int
        """
        goals: dict[str, set[int]] = {}
        misses: dict[str, int] = {}
        for slipped in self.missed:
            goals.setdefault(slipped.lesson, set()).add(slipped.goal)
            misses[slipped.lesson] = misses.get(slipped.lesson, 0) + 1
        pages = manifest.of()
        order = sorted(goals, key=lambda lesson: (-misses[lesson], pages.place(lesson)))
        return {pages.by_slug[lesson].numbered_title: sorted(goals[lesson]) for lesson in order}

    def sections(self) -> Iterator[tuple[str, list[str]]]:
        """Yield the report as headings, each with its lines.

        Yields
        ------
        tuple of (str, list of str)
        """
        yield "Your score", [self.summary()]
        yield "By part", [share.message() for share in self.parts]
        yield "Against time", self._against_time()
        weak = [share.message() for share in self.goals if share.right < share.asked]
        held = f"{len(self.goals) - len(weak)} of the {len(self.goals)} goals asked: no miss."
        yield "By goal", [held, *(f"Miss: {message}" for message in weak)]
        if self.missed:
            yield "Questions missed, and the slip", [slipped.reply() for slipped in self.missed]
            again = [
                f"{title}, goal{'s' if len(goals) > 1 else ''} {', '.join(map(str, goals))}"
                for title, goals in self.reread().items()
            ]
            yield "Read again", again

    def _against_time(self):
        answered = [one for one in self.taken if one.outcome != OPEN]
        lines = [
            f"{self.used_seconds / 60:.0f} of {self.minutes:.0f} minutes used; "
            f"{len(self.taken) - len(answered)} of {len(self.taken)} questions without an answer."
        ]
        if len(answered) < 4:
            return lines
        middle = median(one.seconds for one in answered)
        quick = [one for one in answered if one.seconds <= middle]
        slow = [one for one in answered if one.seconds > middle]
        longest = max(answered, key=lambda one: one.seconds)
        lines.append(
            f"Half of your answers took up to {middle:.0f} s; the time allows "
            f"{60 * self.minutes / len(self.taken):.0f} s a question."
        )
        for name, half in (("quicker", quick), ("slower", slow)):
            if half:
                right = sum(one.outcome == RIGHT for one in half)
                lines.append(f"Of the {name} answers {right} of {len(half)} were right.")
        lines.append(f"Longest: question {longest.place}, {longest.seconds:.0f} s.")
        return lines


def reported(
    questions: Sequence[Posed],
    answers: Mapping[int, tuple[str, float]],
    used_seconds: float,
    minutes: float,
) -> Report:
    """Return the report.

    Parameters
    ----------
    questions : sequence of shared_utils.bank.posed.Posed
    answers : dict of int to tuple
        Place, counted from 0 → (what was given, seconds).
    used_seconds, minutes : float
        Time used, and time allowed.

    Returns
    -------
    Report
    """
    from shared_utils.pages.goals import goal_text

    pages = manifest.of()
    parts: dict[str, list[bool]] = {}
    goals: dict[str, list[bool]] = {}
    missed, taken = [], []
    for place, asked in enumerate(questions):
        given, seconds = answers.get(place, (None, 0.0))
        verdict = None if given is None else asked.mark(given)
        right = bool(verdict and verdict.right)
        item = asked.item
        page = pages.by_slug[item.lesson]
        goal = f"{page.number}.{item.goal} {goal_text(item.lesson, item.goal)}"
        title = page.part.numbered_title if page.part else page.title
        parts.setdefault(title, []).append(right)
        goals.setdefault(goal, []).append(right)
        outcome = OPEN if verdict is None else RIGHT if right else MISSED
        taken.append(Taken(place + 1, seconds, outcome))
        if not right:
            missed.append(
                Slipped(
                    place + 1,
                    asked.stem,
                    OPEN if given is None else asked.in_words(given),
                    asked.answer_in_words(),
                    asked.mark(str(asked.right)).message if verdict is None else verdict.message,
                    OPEN if verdict is None else verdict.slip,
                    item.lesson,
                    item.goal,
                )
            )
    return Report(
        share("All", [right for part in parts.values() for right in part]),
        tuple(share(name, part) for name, part in parts.items()),
        tuple(share(name, goal) for name, goal in sorted(goals.items())),
        tuple(taken),
        used_seconds,
        minutes,
        tuple(missed),
    )


def share(name: str, rights: Sequence[bool]) -> Share:
    """Return a share with the range that the true one lies in 95 times of 100.

    Parameters
    ----------
    name : str
    rights : sequence of bool
        At least one.

    Returns
    -------
    Share

    Notes
    -----
    The score interval of Wilson: it stays within 0 and 1, and holds for few questions too.

    Sources
    -------
    Wilson EB. Probable inference, the law of succession, and statistical inference. J Am Stat Assoc
    1927;22:209–212.

    Examples
    --------
    >>> half = share("part", [True, False])
    >>> round(half.low, 3), round(half.high, 3)
    (0.095, 0.905)
    """
    asked, right = len(rights), sum(rights)
    if asked == 0:
        raise ValueError(f"{name}: no question was asked; a share needs one at least.")
    z = NormalDist().inv_cdf(0.975)
    middle = (right + z**2 / 2) / (asked + z**2)
    half = z / (asked + z**2) * math.sqrt(right * (asked - right) / asked + z**2 / 4)
    return Share(name, right, asked, max(0.0, middle - half), min(1.0, middle + half))
