"""Answers, examinations and marks as statements of xAPI 1.0.3, one JSON object on a line.

A statement's id follows from what it says, so that the same thing written twice is one statement
to whoever keeps them. No e-mail is written: a learner is an account with the course's id.

Sources
-------
Experience API 1.0.3, part two: data (github.com/adlnet/xAPI-Spec, xAPI-Data.md), and ADL's verbs
and activity types (xapi.vocab.pub/datasets/adl); see tests/outside/xapi.toml.
"""

from __future__ import annotations

import json
import uuid
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING
from urllib.parse import quote

from shared_utils.bank.items import bank
from shared_utils.bank.posed import letters_of, pose
from shared_utils.course import manifest
from shared_utils.practice import exam
from shared_utils.standards.qti import names_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence
    from os import PathLike
    from typing import Any

    from shared_utils.classroom.marks import ClassMarks
    from shared_utils.classroom.slips import LearnerSlip
    from shared_utils.practice.progress import Progress

# names, not addresses: the ending is reserved so that it is nobody's (RFC 2606)
BASE = "https://lens-course.example/xapi/"
ANSWERED = "http://adlnet.gov/expapi/verbs/answered"
COMPLETED = "http://adlnet.gov/expapi/verbs/completed"
QUESTION = "http://adlnet.gov/expapi/activities/cmi.interaction"
ASSESSMENT = "http://adlnet.gov/expapi/activities/assessment"
KINDS = {"choice": "choice", "number": "numeric", "order": "sequencing"}


def of_progress(progress: Progress, learner: str) -> Iterator[dict[str, Any]]:
    """Yield a statement for every answer in practice and for every examination that has ended.

    The answers of an examination stand before it, at the moment when it ended, which is when they
    were marked; what was left open has none, nor has one of an earlier edition of the bank: one
    that asks what the bank no longer holds, or holds otherwise.

    Parameters
    ----------
    progress : shared_utils.practice.progress.Progress
    learner : str
        Id of the learner.

    Yields
    ------
    dict
    """
    for row in progress.rows("SELECT * FROM answer ORDER BY number"):
        result = {
            "response": _kept_response(row),
            **_right(row["held"]),
            "duration": f"PT{row['seconds']:.2f}S",
        }
        if row["slip"]:
            result["extensions"] = {f"{BASE}slip": row["slip"]}
        yield _statement(learner, ANSWERED, _item(row["item"]), result, row["at"])
    ended = progress.rows("SELECT number, begun, ended FROM exam WHERE ended IS NOT NULL")
    for row in sorted(ended, key=lambda row: row["number"]):
        try:
            sitting = exam.Exam(progress, row["number"])
        except exam.EarlierEdition:
            continue
        yield from _of_exam(sitting, row["begun"], row["ended"], learner)


def of_class(marks: ClassMarks, slips: Sequence[LearnerSlip] = ()) -> Iterator[dict[str, Any]]:
    """Yield a statement for every set that a learner of a class has handed in.

    Parameters
    ----------
    marks : shared_utils.classroom.marks.ClassMarks
    slips : sequence of shared_utils.classroom.slips.LearnerSlip

    Yields
    ------
    dict
        An extension says so as long as something waits to be marked by hand, another one names the
        slips by their ids; without a time where the gradebook has none.
    """
    slip_ids: dict[tuple[str, str], list[str]] = {}
    for slip in slips:
        slip_ids.setdefault((slip.set, slip.learner), []).append(slip.record.slip_id)
    for one in marks.sets:
        activity = _activity(f"sets/{one.name}", ASSESSMENT, manifest.of().title_of_set(one.name))
        most = float(one.most.sum())
        columns = one.learners, one.handed_in(), one.totals(), one.by_hand, one.times
        for learner, here, total, by_hand, time in zip(*columns, strict=True):
            if here:
                result = {"score": _score(float(total), most), "completion": True}
                extensions: dict[str, object] = (
                    {f"{BASE}waits-to-be-marked": True} if by_hand else {}
                )
                if named := slip_ids.get((one.name, learner)):
                    extensions[f"{BASE}slips"] = list(dict.fromkeys(named))
                if extensions:
                    result["extensions"] = extensions
                at = time.isoformat() if time else None
                yield _statement(learner, COMPLETED, activity, result, at)


def write(statements: Iterable[dict[str, Any]], file: str | PathLike[str]) -> int:
    """Write statements, one on a line, and return how many.

    Parameters
    ----------
    statements : iterable of dict
    file : path-like

    Returns
    -------
    int
    """
    lines = [json.dumps(one, ensure_ascii=False, allow_nan=False) + "\n" for one in statements]
    Path(file).write_text("".join(lines), encoding="utf-8")
    return len(lines)


def _of_exam(sitting, begun, ended, learner):
    whole = _activity("examination", ASSESSMENT, "Mock examination")
    context = {"registration": _id(f"{BASE}examination|{learner}|{begun}")}
    within = {**context, "contextActivities": {"parent": [whole]}}
    given = sitting.given()
    for place, asked in enumerate(sitting.questions):
        if place in given:
            verdict = asked.mark(given[place])
            result = {"response": _response(asked, given[place]), **_right(verdict.right)}
            item = _item(asked.item.key)
            yield _statement(learner, ANSWERED, item, result, ended, within)
    report = sitting.report()
    result = {
        "score": _score(report.whole.right, report.whole.asked),
        "completion": True,
        "duration": f"PT{report.used_seconds:.2f}S",
    }
    yield _statement(learner, COMPLETED, whole, result, ended, context)


def _statement(learner, verb, activity, result, at, context=None):
    statement = {
        "actor": {
            "objectType": "Agent",
            "account": {"homePage": BASE, "name": learner},
        },
        "verb": {"id": verb, "display": {"en": verb.rpartition("/")[2]}},
        "object": activity,
        "result": result,
    }
    if context:
        statement["context"] = context
    if at:
        at = datetime.fromisoformat(at)  # universal time where none is said
        at = at if at.tzinfo else at.replace(tzinfo=UTC)
        statement["timestamp"] = at.isoformat(timespec="microseconds")
    return {"id": _id(json.dumps(statement, sort_keys=True)), **statement}


def _id(text):
    return str(uuid.uuid5(uuid.NAMESPACE_URL, text))


def _activity(name, kind, title, **more):
    definition = {"type": kind, "name": {"en": title}, **more}
    return {"objectType": "Activity", "id": BASE + quote(name), "definition": definition}


def _item(key):
    """The activity of an item: the same whatever numbers are drawn."""
    item = bank().get(key)
    if item is None:  # one of an earlier edition
        return {"objectType": "Activity", "id": BASE + quote(f"items/{key}")}
    lines = item.steps or [option.text for option in item.options]
    more = {"interactionType": KINDS[item.kind]}
    if lines:
        names = names_of(item)
        more["choices"] = [{"id": name} for name in names]
        right = [n for n, o in zip(names, item.options, strict=False) if o.key] or names
        more["correctResponsesPattern"] = ["[,]".join(right)]
    if lines and not item.compute:  # else the words hold numbers that are drawn
        for choice, line in zip(more["choices"], lines, strict=True):
            choice["description"] = {"en": line}
        more["description"] = {"en": item.stem}
    return _activity(f"items/{key}", QUESTION, key.replace("-", " "), **more)


def _kept_response(row):
    """The response to an item; as it was given if that is no answer to it any longer."""
    if row["item"] not in bank():
        return row["given"]
    try:
        return _response(pose(bank()[row["item"]], row["seed"]), row["given"])
    except ValueError:
        return row["given"]


def _response(asked, given):
    given = asked.understood(given)
    if asked.item.kind == "number":
        return repr(given)
    lines = list(asked.item.steps or [option.text for option in asked.options])
    shown = dict(zip(letters_of(asked.choices), asked.choices, strict=True))
    names = dict(zip(lines, names_of(asked.item), strict=True))
    return "[,]".join(names[shown[letter]] for letter in given)


def _right(right):
    return {"success": bool(right), "score": _score(int(bool(right)), 1)}


def _score(raw, most):
    """A score as the standard wants it.

    What was got lies between the least and the most, the most above the least, and the scaled one
    between −1 and 1; what would break this is left out.
    """
    score = {"raw": raw}
    if raw >= 0:
        score["min"] = 0
    if most > 0:
        if raw <= most:
            score["max"] = most
        score["scaled"] = max(-1.0, min(raw / most, 1.0))
    return score
