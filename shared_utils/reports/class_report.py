"""What a class has and has not understood: marks, problems, goals, learners who need a word.

Everything stays on the instructor's machine; the report names learners, so it is the
instructor's alone.
"""

from __future__ import annotations

import html
from collections import Counter
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from shared_utils.classroom import slips as class_slips
from shared_utils.clinic.plain_text import csv_text, shown
from shared_utils.pages import build, cells, goals, source
from shared_utils.problems.check_records import slug
from shared_utils.reports import html_page
from shared_utils.show import class_report as figures

if TYPE_CHECKING:
    from collections.abc import Sequence
    from os import PathLike

    from numpy.typing import ArrayLike

    from shared_utils.classroom.marks import ClassMarks
    from shared_utils.classroom.slips import LearnerSlip
    from shared_utils.reports.class_sections import Section

AT_RISK_SHARE = 0.5
AT_RISK_MISSING = 2
GOAL_REACHED = 0.6


@dataclass(frozen=True)
class ProblemRow:
    """How a class did in one problem.

    ``difficulty`` is the mean share of the marks; ``discrimination`` the correlation of the
    problem's marks with the marks in the rest of its set: nan where either does not vary. What
    nobody has marked yet counts in neither; ``unmarked`` is how many answers that is.
    """

    name: str
    problem: str
    most: float
    difficulty: float
    discrimination: float
    unmarked: int = 0


@dataclass(frozen=True)
class SetRow:
    """How a class did in one set; ``reliability`` is Cronbach's alpha over its problems.

    Of problems that wait to be marked by hand only what is marked counts in ``mean_share``, and
    they are left out of ``reliability``.
    """

    name: str
    most: float
    handed_in: int
    of: int
    mean_share: float
    reliability: float
    by_hand: int


@dataclass(frozen=True)
class LearnerRow:
    """A learner's marks in each set, nan where nothing was handed in; share of what was marked.

    ``unmarked`` is how many marks wait to be given by hand; they are not in ``share``.
    ``talk`` says why the instructor should talk to the learner; empty if there is no reason.
    """

    learner: str
    name: str
    marks: tuple[float, ...]
    share: float
    missing: tuple[str, ...]
    talk: str
    unmarked: float = 0.0

    @property
    def at_risk(self) -> bool:
        """Whether there is a reason to talk."""
        return bool(self.talk)


@dataclass(frozen=True)
class GoalRow:
    """How far a goal of a lesson was reached: mean share of the marks in its problems.

    ``share`` is nan as long as none of them is marked.
    """

    set: str
    number: int
    text: str
    share: float
    reached: bool


@dataclass(frozen=True)
class SlipRow:
    """A slip in a step of a problem: how many learners made it, how often, its points lost.

    ``sentence`` is the advice on it, the same for every learner.
    """

    name: str
    problem: str
    step: str
    slip: str
    sentence: str
    learners: int
    times: int
    lost: float


@dataclass(frozen=True)
class ClassReport:
    """All of it; ``slip_list`` has every slip of every learner, ``slips`` counts them."""

    sets: tuple[SetRow, ...]
    problems: tuple[ProblemRow, ...]
    learners: tuple[LearnerRow, ...]
    goals: tuple[GoalRow, ...]
    slips: tuple[SlipRow, ...]
    slip_list: tuple[LearnerSlip, ...] = ()
    sections: tuple[Section, ...] = ()


def make(
    marks: ClassMarks, slips: Sequence[LearnerSlip] = (), sections: Sequence[Section] = ()
) -> ClassReport:
    """Return the report of a class.

    Parameters
    ----------
    marks : shared_utils.classroom.marks.ClassMarks
    slips : sequence of shared_utils.classroom.slips.LearnerSlip
        Every slip that the grading kept.
    sections : sequence of shared_utils.reports.class_sections.Section
        What the gradebook does not have.

    Returns
    -------
    ClassReport
    """
    learners = tuple(marks.people)
    earned, possible, unmarked = np.zeros((3, len(learners)))
    missing: list[list[str]] = [[] for _ in learners]
    sets, problems, goals, totals = [], [], [], []
    for one in marks.sets:
        here = one.handed_in()
        totals.append(one.totals())
        earned += np.nan_to_num(totals[-1])
        marked = one.possible()
        possible += np.where(here, marked.sum(axis=1), 0.0)
        unmarked += np.where(here, (one.most - marked).sum(axis=1), 0.0)
        for absent in np.flatnonzero(~here) if here.any() else ():
            missing[absent].append(one.name)
        given, marked = one.marks[here], marked[here]
        whole = (marked == one.most).all(axis=0)
        sets.append(
            SetRow(
                one.name,
                float(one.most.sum()),
                int(here.sum()),
                len(here),
                _share(given, marked),
                alpha(given[:, whole]),
                int(one.by_hand.sum()),
            )
        )
        order = _order(one)
        problems += [_problem_row(one, given, marked, n) for n in order]
        goals += _goal_rows(one, given, marked)
    people = []
    for n, learner in enumerate(learners):
        share = float(earned[n] / possible[n]) if possible[n] else np.nan
        reasons = []
        if share < AT_RISK_SHARE:
            of = "what is marked so far" if unmarked[n] else "the marks"
            reasons.append(f"under {100 * AT_RISK_SHARE:.0f} % of {of}")
        if len(missing[n]) >= AT_RISK_MISSING:
            reasons.append(f"{len(missing[n])} sets missing")
        people.append(
            LearnerRow(
                learner,
                marks.people[learner],
                tuple(float(total[n]) for total in totals),
                share,
                tuple(missing[n]),
                ", ".join(reasons),
                float(unmarked[n]),
            )
        )
    return ClassReport(
        *(tuple(sets), tuple(problems), tuple(people), tuple(goals), count_slips(slips)),
        *(tuple(slips), tuple(sections)),
    )


def count_slips(slips: Sequence[LearnerSlip]) -> tuple[SlipRow, ...]:
    """Return how often each slip was made, by set and problem, the worst first.

    Parameters
    ----------
    slips : sequence of shared_utils.classroom.slips.LearnerSlip

    Returns
    -------
    tuple of SlipRow
        Sets in order; in each first the problem with the slip that most learners made.
    """
    found: dict[tuple[str, str, str, str], list[LearnerSlip]] = {}
    for one in slips:
        record = one.record
        key = one.set, record.problem, slug(record.step), record.slip
        found.setdefault(key, []).append(one)
    rows = [
        SlipRow(
            name,
            problem,
            _most_common(one.record.step for one in made),
            slip,
            _most_common(one.record.advice or one.record.sentence for one in made),
            len({one.learner for one in made}),
            len(made),
            sum((one.record.possible or 0.0) - (one.record.earned or 0.0) for one in made),
        )
        for (name, problem, _, slip), made in found.items()
    ]
    worst: dict[tuple[str, str], int] = {}
    for row in rows:
        place = row.name, row.problem
        worst[place] = max(worst.get(place, 0), row.learners)
    return tuple(
        sorted(
            rows,
            key=lambda row: (
                row.name,
                -worst[row.name, row.problem],
                row.problem,
                -row.learners,
                -row.times,
                row.step,
                row.slip,
            ),
        )
    )


def alpha(marks: ArrayLike) -> float:
    """Return Cronbach's alpha of the problems of a set: how far they rank the learners alike.

    Parameters
    ----------
    marks : array (learner, problem)

    Returns
    -------
    float
        Nan for fewer than two learners or problems, or where the totals do not vary.

    Sources
    -------
    Cronbach LJ. Coefficient alpha and the internal structure of tests. Psychometrika
    1951;16:297–334.

    Examples
    --------
    >>> alpha([[1, 1], [2, 2], [3, 3]])
    1.0
    """
    marks = np.asarray(marks, float)
    learners, problems = marks.shape
    if learners < 2 or problems < 2:
        return np.nan
    whole = marks.sum(axis=1).var(ddof=1)
    if whole == 0:
        return np.nan
    return float(problems / (problems - 1) * (1 - marks.var(axis=0, ddof=1).sum() / whole))


def write(report: ClassReport, folder: str | PathLike[str]) -> Path:
    """Write a report as one HTML page and as CSV files.

    Parameters
    ----------
    report : ClassReport
    folder : path-like
        Made if it is not there.

    Returns
    -------
    pathlib.Path
        The page.
    """
    folder = Path(folder)
    folder.mkdir(parents=True, exist_ok=True)
    tables = _tables(report)
    for name, (_, head, rows) in tables.items():
        _write_csv(folder / f"{name}.csv", head, rows)
    by_learner = [slip.row() for slip in report.slip_list]
    _write_csv(folder / "slips_by_learner.csv", class_slips.COLUMNS, by_learner)
    page = folder / "class_report.html"
    page.write_text(_page(report, tables), encoding="utf-8")
    return page


def _write_csv(file, head, rows):
    Path(file).write_bytes(csv_text(head, rows))


def _most_common(words):
    return Counter(words).most_common(1)[0][0]


def _share(given, marked):
    """Marks that were given, of those given or refused."""
    return float(given.sum() / marked.sum()) if marked.sum() else np.nan


def _problem_row(one, given, marked, n):
    """The row of a problem; a rest in which something waits would rank by what is marked."""
    done = marked[:, n] == one.most[n]
    others = (marked == one.most).all(axis=0)
    others[n] = False
    own, rest = given[done, n], given[done][:, others].sum(axis=1)
    discrimination = np.nan
    if len(own) > 2 and own.std() > 0 and rest.std() > 0:
        discrimination = float(np.corrcoef(own, rest)[0, 1])
    return ProblemRow(
        one.name,
        one.problems[n],
        float(one.most[n]),
        _share(given[:, n], marked[:, n]),
        discrimination,
        int((~done).sum()),
    )


def _goal_rows(one, given, marked):
    rows = []
    serves = _goals_of_problems(one.name)
    for number in sorted({n for numbers in serves.values() for n in numbers}):
        columns = [n for n, p in enumerate(one.problems) if number in serves.get(p, ())]
        most = one.most[columns].sum()
        if len(given) == 0 or most == 0:
            continue
        share = _share(given[:, columns], marked[:, columns])
        text = goals.goal_text(one.name, number)
        rows.append(GoalRow(one.name, number, text, share, share >= GOAL_REACHED))
    return rows


def _goals_of_problems(name):
    """Problem → goals of its lesson, where the set is one of the course's lessons."""
    return _goals_in(source.set_text(name), tuple(goals.goal_texts(name)))


@cache
def _goals_in(text, known):
    if not text or not known:
        return {}
    serves = {}
    for cell in build.text_to_notebook(text).cells:
        if cells.kind(cell) == "question":
            serves[cells.problem(cell)] = tuple(n for n in cells.goals(cell) if n in known)
    return serves


def _order(one):
    """Columns in the order of the set's questions."""
    known = list(_goals_of_problems(one.name))
    place = {problem: n for n, problem in enumerate(known)}
    return sorted(range(len(one.problems)), key=lambda n: place.get(one.problems[n], n))


def _tables(report):
    return {
        "sets": (
            "Sets",
            ("set", "marks", "handed in", "of", "mean share", "reliability", "to mark by hand"),
            [
                (s.name, s.most, s.handed_in, s.of, _r(s.mean_share), _r(s.reliability), s.by_hand)
                for s in report.sets
            ],
        ),
        "goals": (
            "Lesson goals",
            ("lesson", "goal", "in words", "mean share", "reached"),
            [(g.set, g.number, g.text, _r(g.share), _reached(g)) for g in report.goals],
        ),
        "learners": (
            "Learners",
            ("id", "name", "share", "unmarked", "missing", "talk, for"),
            [
                (p.learner, p.name, _r(p.share), p.unmarked, " ".join(p.missing), p.talk)
                for p in sorted(report.learners, key=_talk_first)
            ],
        ),
        "marks": (
            "Marks by learner and set",
            ("id", "name", *(s.name for s in report.sets)),
            [(p.learner, p.name, *p.marks) for p in report.learners],
        ),
        "problems": (
            "Problems",
            ("set", "problem", "marks", "difficulty", "discrimination", "unmarked"),
            [
                (p.name, p.problem, p.most, _r(p.difficulty), _r(p.discrimination), p.unmarked)
                for p in report.problems
            ],
        ),
        "slips": (
            "Slips",
            ("set", "problem", "step", "slip", "in words", "learners", "times", "marks lost"),
            [
                (s.name, s.problem, s.step, s.slip, s.sentence, s.learners, s.times, _r(s.lost))
                for s in report.slips
            ],
        ),
        **{each.key: (each.title, each.head, each.rows) for each in report.sections},
    }


def _reached(goal):
    if goal.share != goal.share:
        return "not marked yet"
    return "yes" if goal.reached else "not yet"


def _talk_first(person):
    """Who needs a word before the others, and of those the weakest first."""
    return not person.at_risk, person.share if person.share == person.share else -1.0


def _r(value):
    return round(float(value), 4)


def _page(report, tables):
    risk = [p for p in report.learners if p.at_risk]
    weak = [g for g in report.goals if g.share < GOAL_REACHED]
    unmarked = sum(p.unmarked for p in report.learners)
    body = [
        "<h1>The class</h1>",
        f"<p>{len(report.learners)} learners, {len(report.sets)} sets. {len(risk)} learners to "
        f"talk to: under {100 * AT_RISK_SHARE:.0f} per cent of what is marked of their work, "
        f"or {AT_RISK_MISSING} sets or more missing. {len(weak)} goals under "
        f"{100 * GOAL_REACHED:.0f} per cent.</p>",
        *(
            [
                f"<p>{unmarked:g} marks wait to be given by hand (`lens-course class open`). They "
                "count in no share, neither as earned nor as lost; the tables say where they are, "
                "as unmarked.</p>"
            ]
            if unmarked
            else []
        ),
        "<p>This page names learners: it is for the instructor alone. Nothing was sent.</p>",
    ]
    if report.sets:
        body.append(figures.shares_of_sets(report.sets)._repr_html_())
    if report.problems:
        body.append(figures.problems(report.problems)._repr_html_())
    sections = {each.title: each for each in report.sections}
    for title, head, rows in tables.values():
        body.append(f"<h2>{title}</h2>")
        if title in sections:
            body.append(f"<p>{html.escape(sections[title].note)}</p>")
        if title == "Problems":
            body.append(
                "<p>Difficulty: mean share of the marks. Discrimination: correlation with the rest "
                "of the set; below 0.2 a problem says little about who can do the others.</p>"
            )
        if title == "Sets":
            body.append(
                "<p>Reliability: Cronbach's alpha, how far the problems of a set rank the learners "
                "alike; from 0.7 on a set's marks tell learners apart well.</p>"
            )
        if title == "Slips":
            body.append(
                "<p>What the visible tests found, by set and problem, what most learners missed "
                "first. Who made which slip stands in slips_by_learner.csv.</p>"
            )
        if not rows:
            body.append("<p>None.</p>")
            continue
        if title in sections and sections[title].page:
            body.append(sections[title].page)
            continue
        cells = "".join(
            "<tr>" + "".join(f"<td>{html.escape(_shown(c))}</td>" for c in row) + "</tr>"
            for row in rows
        )
        heads = "".join(f"<th scope='col'>{h}</th>" for h in head)
        body.append(
            f"<div class='scroll' tabindex='0'><table><thead><tr>{heads}</tr></thead>"
            f"<tbody>{cells}</tbody></table></div>"
        )
    return html_page.page_of("The class", body)


def _shown(cell):
    if isinstance(cell, float):
        return "–" if cell != cell else f"{cell:.2f}"
    return shown(str(cell))
