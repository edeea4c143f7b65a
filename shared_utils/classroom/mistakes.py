"""Wrong answers of a set by what they do, so that one comment can reach all who did the same.

A slip that a check names is a group. Where none has a name, those belong together whose numbers
stand in the same ratio to the right ones, or at the same distance, each with numbers of their own;
else those whose code is the same but for names, spaces and comments.
"""

from __future__ import annotations

import hashlib
import json
import re
from collections import defaultdict
from dataclasses import dataclass
from typing import TYPE_CHECKING

from shared_utils.classroom import drawn_values, nbgrader_calls
from shared_utils.pages import cells
from shared_utils.problems.check_records import CheckRecord

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from shared_utils.classroom.folder import ClassFolder

GOT = re.compile(r"you have ([-−+]?\d+(?:\.\d+)?)")
EACH_ITS_OWN = "wrong, each in a way of its own"
NOT_ANSWERED = ("not-answered", "not-reached")


@dataclass(frozen=True)
class MistakeGroup:
    """Learners whose answers to a problem are wrong in the same way.

    Attributes
    ----------
    set, problem, step : str
    what : str
        What the answers have in common, in words.
    learners : tuple of str
    example : str
        The answer of the first of them.
    answered : int
        How many learners answered the problem, right or wrong.
    points : tuple of (float, float, float)
        Where the answer follows from one number that each learner was given: that number, what
        the learner's answer gives for it, and what is right.
    given : str
        Name of that number.
    """

    set: str
    problem: str
    step: str
    what: str
    learners: tuple[str, ...]
    example: str
    answered: int = 0
    points: tuple[tuple[float, float, float], ...] = ()
    given: str = ""

    @property
    def key(self) -> str:
        """A short id that stays as long as the answers have the same in common."""
        words = "\n".join((self.set, self.problem, self.step, self.what))
        return hashlib.sha256(words.encode()).hexdigest()[:16]


def groups(
    folder: ClassFolder,
    name: str,
    values_of: Callable[[str], Mapping[str, drawn_values.DrawnValues]] | None = None,
) -> list[MistakeGroup]:
    """Return the groups of wrong answers in the marked submissions of a set, largest first.

    Parameters
    ----------
    folder : ClassFolder
    name : str
        A released set.
    values_of : callable, optional
        Learner → the learner's numbers; computed from the set if not given.

    Returns
    -------
    list of MistakeGroup
        What was not answered is no mistake and in no group; who is wrong in a way of their own
        stand last, for they have no mistake in common.
    """
    values_of = values_of or (lambda learner: drawn_values.values_of(folder, name, learner))
    found: dict[tuple[str, str, str], list[str]] = defaultdict(list)
    nameless: dict[tuple[str, str], list[tuple[str, CheckRecord, tuple[str, ...]]]]
    nameless = defaultdict(list)
    texts: dict[tuple[str, str], str] = {}
    answered: dict[str, int] = defaultdict(int)
    got: dict[tuple[str, str, str], float] = {}
    for learner in folder.graded(name):
        for problem, answer, seen, hidden in _read(folder, name, learner):
            texts[problem, learner] = answer
            answered[problem] += any(r.slip not in NOT_ANSWERED for r in (*seen, *hidden))
            results = tuple(record.sentence for record in hidden)
            # right for the learner's own numbers alone: what is wrong with those that all share
            failed = [record for record in seen if not record.holds] or hidden[:1]
            for record in failed:
                if record.slip in NOT_ANSWERED:
                    continue
                number = _got(record)
                if number is not None:
                    got[problem, record.step, learner] = number
                if record.slip == "unnamed":
                    nameless[problem, record.step].append((learner, record, results))
                else:
                    found[problem, record.step, _named(record)].append(learner)
    for (problem, step), wrong in nameless.items():
        for words, learners in _alike(problem, step, wrong, values_of):
            found[problem, step, words] += learners
    made = [
        MistakeGroup(
            *(name, problem, step, what, tuple(dict.fromkeys(who))),
            *(texts.get((problem, who[0]), ""), answered[problem]),
            *_points(problem, step, dict.fromkeys(who), got, values_of),
        )
        for (problem, step, what), who in found.items()
    ]
    return sorted(made, key=lambda g: (g.what == EACH_ITS_OWN, -len(g.learners), g.problem, g.step))


def comment(folder: ClassFolder, group: MistakeGroup, text: str) -> int:
    """Write a comment to everybody in a group, and return to how many.

    Parameters
    ----------
    folder : ClassFolder
    group : MistakeGroup
    text : str
        Goes below what a person has written there before; it stands in the feedback.

    Raises
    ------
    ValueError
        If it is empty.
    """
    text = text.strip()
    if not text:
        raise ValueError("The comment is empty: write what will help those in the group.")
    with nbgrader_calls.open_gradebook(folder.path) as gradebook:
        return sum(
            gradebook.add_comment(group.set, learner, group.problem, text)
            for learner in group.learners
        )


def comments(folder: ClassFolder, name: str) -> dict[tuple[str, str], str]:
    """Return what persons wrote to the answers of a set: (learner, problem) → comment.

    Parameters
    ----------
    folder : ClassFolder
    name : str
        A released set.
    """
    with nbgrader_calls.open_gradebook(folder.path) as gradebook:
        return gradebook.comments(name)


def _named(record):
    if record.slip == "stopped":
        return f"the code stopped with {record.error}" if record.error else "the code stopped"
    return record.advice or record.slip


def _points(problem, step, learners, got, values_of):
    """The points of a group's plot and the name of what each learner was given, if it is one."""
    points, names = [], set()
    for learner in learners:
        number = got.get((problem, step, learner))
        values = values_of(learner).get(problem) if number is not None else None
        if values and len(values.drawn) == 1 and step in values.right:
            ((name, (given, _)),) = values.drawn.items()
            names.add(name)
            points.append((given, number, values.right[step]))
    return (tuple(sorted(points)), names.pop()) if len(names) == 1 else ((), "")


def _alike(problem, step, wrong, values_of):
    """Yield what nameless wrong answers have in common, and whose they are."""
    left = list(wrong)
    for measure, words in ((_ratio, "{:g} times the right number"), (_distance, "off by {:+g}")):
        by_number = defaultdict(list)
        for one in left:
            number = measure(one[1], problem, values_of(one[0]))
            if number is not None:
                by_number[number].append(one)
        for number, members in by_number.items():
            if len(members) > 1:
                yield words.format(number), [learner for learner, _, _ in members]
                left = [one for one in left if one not in members]
    by_result = defaultdict(list)
    for learner, record, results in left:
        by_result[results or (record.sentence,)].append(learner)
    alone = []
    for results, learners in by_result.items():
        if len(learners) > 1:
            yield f"the same results: {results[0].partition(' Expected:')[0]}", learners
        else:
            alone += learners
    if alone:
        yield EACH_ITS_OWN, alone


def _ratio(record, problem, values):
    got, want = _got(record), _want(record, problem, values)
    if got is None or not want:
        return None
    return float(f"{got / want:.3g}") or None


def _distance(record, problem, values):
    got, want = _got(record), _want(record, problem, values)
    return None if got is None or want is None else float(f"{got - want:.3g}")


def _got(record):
    found = GOT.search(record.sentence)
    return float(found[1].replace("−", "-")) if found else None


def _want(record, problem, values):
    return values[problem].right.get(record.step) if problem in values else None


def _read(folder, name, learner):
    """Yield (problem, answer, records of the visible test, what the hidden one found wrong)."""
    try:
        notebook = json.loads(folder.marked(name, learner).read_bytes())
        found: dict[str, list] = {}
        for cell in notebook["cells"]:
            problem, kind = cells.grade_id_parts(cell)
            if not problem:
                continue
            about = found.setdefault(problem, ["", [], []])
            if kind == "answer":
                about[0] = "".join(cell["source"])
            elif kind == "check":
                about[1] += [CheckRecord.from_dict(record) for record in cells.records(cell)]
            elif kind == "hidden":
                about[2] += [CheckRecord.from_dict(record) for record in cells.results(cell)]
    except (OSError, ValueError, LookupError, TypeError, AttributeError):
        return  # the report names a marked notebook that was damaged
    for problem, (answer, seen, hidden) in found.items():
        yield problem, answer, seen, hidden
