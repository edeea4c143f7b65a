"""Practice and the mock examination on a notebook's page: buttons, and the keyboard all the way."""

from __future__ import annotations

import html
import time
from typing import TYPE_CHECKING

import ipywidgets

from shared_utils.bank.posed import letters_of
from shared_utils.explore.engine import spoken
from shared_utils.practice.clock import Clock
from shared_utils.practice.exam import MINUTES, Exam
from shared_utils.practice.progress import NotKept, Progress
from shared_utils.practice.review import EXAM_DATE, Review, set_exam_date
from shared_utils.show import exam as figures
from shared_utils.show import style

if TYPE_CHECKING:
    from collections.abc import Sequence

    from shared_utils.bank.posed import Posed

OVER = "The time is up; end the examination to see its report."
_WIDE = {"description_width": "initial"}


class Question(ipywidgets.VBox):
    """A question and the place for its answer; Enter in the field answers too."""

    def __init__(self) -> None:
        self.text = ipywidgets.HTML()
        self.choice = ipywidgets.RadioButtons(options=[], layout={"width": f"{style.WIDTH_PX}px"})
        self.field = ipywidgets.Text(style=_WIDE, continuous_update=False)
        self.posed: Posed | None = None
        super().__init__([self.text, self.choice, self.field])

    def put(self, posed: Posed, heading: str = "", given: str | None = None) -> None:
        """Show a question, with the answer that was given before."""
        self.posed = posed
        figure = posed.shown_figure()
        picture = figure._repr_html_() if figure is not None else ""
        lines = [
            f"{letter}  {line}"
            for letter, line in zip(letters_of(posed.choices), posed.choices, strict=True)
        ]
        by_letter = posed.item.kind == "choice"
        listed = "" if by_letter else "".join(f"<br>{html.escape(line)}" for line in lines)
        self.text.value = (
            f"<p>{html.escape(heading)}</p>{picture}"
            f"<p><strong>{html.escape(posed.stem)}</strong>{listed}</p>"
        )
        self.choice.layout.display = None if by_letter else "none"
        self.field.layout.display = "none" if by_letter else None
        with self.choice.hold_trait_notifications():
            self.choice.options = [
                (line, letter)
                for line, letter in zip(lines, letters_of(posed.choices), strict=True)
            ]
            self.choice.value = given if by_letter else None
        self.field.description = f"Your answer, {posed.hint()}:"
        self.field.layout.width = f"{style.WIDTH_PX}px"
        self.field.value = "" if by_letter or given is None else str(given)

    def given(self) -> str:
        """Return the answer as it stands; empty if there is none."""
        by_letter = self.posed is not None and self.posed.item.kind == "choice"
        chosen = self.choice.value if by_letter else self.field.value
        return (chosen or "").strip()


class ReviewPage(ipywidgets.VBox):
    """Spaced review on a page.

    Parameters
    ----------
    progress : Progress, optional
        The one of whoever works on this machine if not given.
    lessons : sequence of str, optional
        Stems of the lessons to ask about.
    """

    def __init__(
        self, progress: Progress | None = None, lessons: Sequence[str] | None = None
    ) -> None:
        self.progress = progress or Progress()
        self.review = Review(self.progress, lessons)
        self.standing = ipywidgets.HTML()
        self.date = ipywidgets.Text(
            description="Day of the examination, as 2027-05-14:",
            value=self.progress.setting(EXAM_DATE) or "",
            style=_WIDE,
            layout={"width": "420px"},
            continuous_update=False,
        )
        self.date.observe(lambda _: self._keep_date(), "value")
        self.question = Question()
        self.answer_button = ipywidgets.Button(description="Answer", button_style="primary")
        self.next_button = ipywidgets.Button(description="Next question")
        self.reply = ipywidgets.HTML(layout={"width": f"{style.WIDTH_PX}px", "min_height": "90px"})
        self.answer_button.on_click(lambda _: self.answer())
        self.next_button.on_click(lambda _: self.next())
        super().__init__(
            [
                self.standing,
                self.date,
                self.question,
                ipywidgets.HBox([self.answer_button, self.next_button]),
                self.reply,
            ]
        )
        self.reply.value = spoken(self.progress.notice)
        self.next()

    def next(self) -> None:
        """Put the next question."""
        self._show_standing()
        posed = self.review.next()
        if posed is None:
            self.question.layout.display = "none"
            self.answer_button.disabled = self.next_button.disabled = True
            self.reply.value = spoken("Nothing more for today. Come back tomorrow.")
            return
        if not self.progress.notice:
            self.reply.value = ""
        self.question.put(posed)
        self.answer_button.disabled, self.next_button.disabled = False, True
        self.begun = time.monotonic()

    def answer(self) -> None:
        """Take the answer, keep it, and say what it is worth."""
        posed, given = self.question.posed, self.question.given()
        if posed is None:
            return
        try:
            verdict = self.review.answer(posed, given, time.monotonic() - self.begun)
        except NotKept as error:
            self.reply.value = spoken(str(error))
            return
        except ValueError:
            self.reply.value = spoken(f"Give {posed.hint()} first.")
            return
        right = "" if verdict.right else f"It is {posed.answer_in_words()}. "
        back = self.review.back(posed.item.key)
        assert back is not None  # it was just answered
        self.reply.value = spoken(
            f"{right}{verdict.message} Comes back {back.astimezone():%d %B, %H:%M}. "
            f"Source: {posed.item.source}.",
            strong="Right." if verdict.right else "Not so.",
        )
        self._show_standing()
        self.answer_button.disabled, self.next_button.disabled = True, False
        self.next_button.focus()

    def _show_standing(self):
        now = self.review.standing()
        self.standing.value = (
            f"<p>{now.due} due, {now.new} not seen yet, {now.today} answered today.</p>"
        )

    def _keep_date(self):
        try:
            set_exam_date(self.progress, self.date.value)
            self.reply.value = spoken("Kept: nothing comes back later than the day before.")
        except ValueError as error:
            self.reply.value = spoken(str(error))

    def _repr_mimebundle_(self, **kwargs):
        return _with_still(
            super()._repr_mimebundle_(**kwargs),
            "Run this page in JupyterLab to practise, or <code>lens-course practice</code> in a "
            "terminal.",
        )


class ExamPage(ipywidgets.VBox):
    """The mock examination on a page.

    Parameters
    ----------
    progress : Progress, optional
        The one of whoever works on this machine if not given.
    minutes : float
        Time allowed, for a new one.
    """

    def __init__(self, progress: Progress | None = None, minutes: float = MINUTES) -> None:
        self.progress = progress or Progress()
        self.minutes = minutes
        self.exam = Exam.unfinished(self.progress)
        self.clock = Clock(over=OVER)
        self.question = Question()
        self.reply = ipywidgets.HTML(layout={"width": f"{style.WIDTH_PX}px", "min_height": "40px"})
        self.report = ipywidgets.HTML()
        self.buttons = {
            name: ipywidgets.Button(description=words)
            for name, words in (
                ("begin", "Go on" if self.exam else "Begin"),
                ("keep", "Keep answer"),
                ("back", "One back"),
                ("forward", "One forward"),
                ("pause", "Pause"),
                ("end", "End and report"),
            )
        }
        for name, button in self.buttons.items():
            button.on_click(lambda _, name=name: self._press(name))
        super().__init__(
            [
                self.clock,
                self.question,
                ipywidgets.HBox(list(self.buttons.values()), layout={"flex_flow": "row wrap"}),
                self.reply,
                self.report,
            ]
        )
        self.place, self.running, self.begun = 0, False, 0.0
        self._stand(asking=False)
        waits = "An examination waits where you left it. " if self.exam else ""
        waits += f"{self.exam.notice} " if self.exam and self.exam.notice else ""
        self.reply.value = spoken(f"{self.progress.notice} {waits}The clock stands still.".strip())

    def begin(self) -> None:
        """Begin, or go on after a pause."""
        if self.exam is None or self.exam.ended():
            self.exam = Exam.begin(self.progress, self.minutes)
            self.report.value = ""
        given = self.exam.given()
        left = [n for n in range(len(self.exam.questions)) if n not in given]
        self.place = left[0] if left else 0
        self.running = True
        self._stand(asking=True)
        self._put()

    def keep(self) -> None:
        """Keep the answer to this question and go to the next."""
        if self.exam is None:
            return
        try:
            self.exam.answer(self.place, self.question.given(), self._lap())
        except ValueError as error:
            self.reply.value = spoken(str(error))
            return
        self.forward()

    def back(self) -> None:
        """Go one question back; what stands in this one is not kept."""
        self._go(-1)

    def forward(self) -> None:
        """Go one question on."""
        self._go(1)

    def pause(self) -> None:
        """Stop the clock and hide the question."""
        if self.exam is None:
            return
        self.exam.pause(self._lap())
        self.running = False
        self.buttons["begin"].description = "Go on"
        self._stand(asking=False)
        self._show_clock()
        self.reply.value = spoken("Paused. The clock stands still.")

    def end(self) -> None:
        """End the examination and show its report."""
        if self.exam is None:
            return
        if self.running:
            self.exam.pause(self._lap())
        self.running = False
        report = self.exam.end()
        self.buttons["begin"].description = "Begin anew"
        self._stand(asking=False)
        self.clock.put("", 0.0, running=False)
        self.reply.value = spoken("The examination has ended. Its report stands below.")
        self.report.value = _in_html(report)

    def _press(self, name):
        try:
            getattr(self, name)()
        except NotKept as error:
            self.reply.value = spoken(str(error))

    def _go(self, step):
        self.exam.pause(self._lap())
        self.place = (self.place + step) % len(self.exam.questions)
        self._put()

    def _put(self):
        self.begun = time.monotonic()
        self.question.put(self.exam.questions[self.place], given=self.exam.given().get(self.place))
        self.reply.value = ""
        self._show_clock()

    def _show_clock(self):
        self.clock.put(
            f"Question {self.place + 1} of {len(self.exam.questions)}; "
            f"{len(self.exam.given())} answered; ",
            self.exam.left_seconds(),
            self.running,
        )

    def _lap(self):
        now = time.monotonic()
        seconds, self.begun = now - self.begun, now
        return seconds

    def _stand(self, asking):
        self.question.layout.display = None if asking else "none"
        over = self.exam is None or self.exam.ended()
        for name, button in self.buttons.items():
            button.disabled = asking if name == "begin" else not asking
        self.buttons["end"].disabled = over

    def _repr_mimebundle_(self, **kwargs):
        return _with_still(
            super()._repr_mimebundle_(**kwargs),
            "Run this page in JupyterLab to sit the examination, or <code>lens-course exam</code> "
            "in a terminal.",
        )


def _in_html(report):
    """A report with its plots, each beside the words that belong to it."""
    plots = {
        "By part": lambda: figures.shares(report.parts),
        "Against time": lambda: figures.pace(report.taken, report.minutes),
    }
    shown = []
    for heading, lines in report.sections():
        plot = plots[heading]()._repr_html_() if heading in plots else ""
        listed = "".join(f"<li>{html.escape(line)}</li>" for line in lines).replace("\n", "<br>")
        shown.append(f"<h3>{html.escape(heading)}</h3>{plot}<ul>{listed}</ul>")
    return "".join(shown)


def _with_still(bundle, words):
    data, metadata = bundle if isinstance(bundle, tuple) else (bundle, {})
    return {**data, "text/html": f"<p>{words}</p>"}, metadata
