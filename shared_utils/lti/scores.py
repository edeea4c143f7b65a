"""Marks sent to a platform's gradebook, each once.

What the platform has accepted is kept in the class's records, a score at a time, right after its
reply. So a run that was stopped goes on where it was, the same score is not sent again, and one
that has changed is sent with a later time. A score whose reply was lost is sent once more, which
changes nothing there: a platform keeps one score for a learner and line item.

Sources
-------
1EdTech Assignment and Grade Services 2.0: line items, scores, their times, activityProgress and
gradingProgress: from memory.
"""

from __future__ import annotations

import time
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING, Any

import requests
from pylti1p3.assignments_grades import AssignmentsGradesService
from pylti1p3.exception import LtiException, LtiServiceException
from pylti1p3.grade import Grade
from pylti1p3.lineitem import LineItem
from pylti1p3.service_connector import ServiceConnector

from shared_utils.clinic.plain_text import shown
from shared_utils.course import manifest
from shared_utils.lti import launch, learners, settings

if TYPE_CHECKING:
    from collections.abc import Iterator

    from shared_utils.classroom.classroom import Classroom

SCOPE = "https://purl.imsglobal.org/spec/lti-ags/scope/"
NEEDED = (SCOPE + "lineitem", SCOPE + "score")
NO_REPLIES = 3  # in a row, after which the platform counts as gone
RENEW_S = 30


@dataclass(frozen=True)
class Sent:
    """What became of one learner's score: ``sent``, ``same`` or ``failed``, and a sentence."""

    learner: str
    what: str
    sentence: str = ""


@dataclass(frozen=True)
class _Service:
    issuer: str
    client_id: str
    context_id: str
    lineitems: str
    scopes: tuple[str, ...]


class _Connector(ServiceConnector):
    """Keeps a token for as long as the platform says that it holds."""

    def __init__(self, registration):
        super().__init__(registration, launch.TimeoutSession())
        self.tokens = {}

    def _get_cached_access_token(self, scope_key):
        token, until = self.tokens.get(scope_key, (None, 0.0))
        return token if time.monotonic() < until else None

    def _cache_access_token(self, scope_key, access_token, expires_in):
        self.tokens[scope_key] = access_token, time.monotonic() + float(expires_in) - RENEW_S


def send(classroom: Classroom, name: str, context: str = "") -> Iterator[Sent]:
    """Send the marks of a set that the platform does not have yet.

    Parameters
    ----------
    classroom : shared_utils.classroom.classroom.Classroom
    name : str
        A released set.
    context : str
        The platform's id of its course, where the class was started from several.

    Yields
    ------
    Sent
        For each learner whose work was marked.

    Raises
    ------
    ValueError
        If it is not known where marks go, the platform cannot be reached, or nothing is marked.
    """
    kept = settings.read(classroom.folder)
    service = _service(classroom, context)
    marks = next((one for one in classroom.marks().sets if one.name == name), None)
    if marks is None or not marks.handed_in().any():
        raise ValueError(f"No submission to {name} is marked yet: grade it first.")
    most = float(marks.most.sum())
    if not most > 0:
        raise ValueError(f"{name} can give no marks any more, so there is nothing to send.")
    connector = _connector(classroom, kept, service)
    scope: Any = list(NEEDED)
    grades = AssignmentsGradesService(connector, {"scope": scope, "lineitems": service.lineitems})
    item = _line_item(grades, name, most)
    subs = {who: sub for sub, who in learners.of_platform(classroom.layout, service.issuer).items()}
    yield from _send_each(classroom, grades, item, marks, most, subs)


def _send_each(classroom, grades, item, marks, most, subs):
    silent = 0
    rows = zip(marks.learners, marks.handed_in(), marks.totals(), marks.by_hand, strict=True)
    for learner, here, total, by_hand in rows:
        if not here:
            continue
        if learner not in subs:
            yield Sent(
                learner,
                "failed",
                f"{shown(learner)}: not sent, for it is not known who that is on the platform; "
                "run `lens-course class lti learner`.",
            )
            continue
        if silent >= NO_REPLIES:
            yield Sent(learner, "failed", f"{shown(learner)}: not tried, for the platform is gone.")
            continue
        score = f"{float(total)!r}/{most!r} {'PendingManual' if by_hand else 'FullyGraded'}"
        before = _accepted(classroom, item, subs[learner])
        if before and before["score"] == score:
            yield Sent(learner, "same")
            continue
        at = _later(before["at"] if before else "")
        grade = (
            Grade()
            .set_score_given(float(total))
            .set_score_maximum(most)
            .set_activity_progress("Submitted" if by_hand else "Completed")
            .set_grading_progress("PendingManual" if by_hand else "FullyGraded")
            .set_timestamp(at)
            .set_user_id(subs[learner])
        )
        try:
            grades.put_grade(grade, item)
        except (LtiException, requests.RequestException, LookupError, TypeError) as error:
            silent = silent + 1 if not isinstance(error, LtiServiceException) else 0
            yield Sent(learner, "failed", f"{shown(learner)}: not sent, for {_why(error)}.")
            continue
        silent = 0
        _keep_accepted(classroom, item, subs[learner], score, at)
        yield Sent(learner, "sent")


def _service(classroom, context):
    from shared_utils.grading.supervisor.records import Records

    rows = Records(classroom.folder).rows("SELECT * FROM lti_service ORDER BY at")
    found = [
        _Service(*(row[c] for c in ("issuer", "client_id", "context_id", "lineitems")), scopes)
        for row in rows
        for scopes in [tuple(row["scopes"].split())]
        if context in ("", row["context_id"])
    ]
    if not found:
        if context:
            raise ValueError(f"Nobody has started this class from the course {shown(context)!r}.")
        raise ValueError(
            "It is not known yet where marks go: start the course once from the learning "
            "platform, with its service for assignments and grades allowed."
        )
    if len(found) > 1:
        names = ", ".join(shown(each.context_id, 40) for each in found)
        raise ValueError(
            f"The class was started from several courses; name one, --context: {names}."
        )
    if missing := [each for each in NEEDED if each not in found[0].scopes]:
        raise ValueError(
            f"The platform does not allow the course to send marks ({missing[0]}): ask its "
            "administrator, then start the course from there again."
        )
    return found[0]


def _connector(classroom, kept, service):
    same = [
        p for p in kept.platforms if (p.issuer, p.client_id) == (service.issuer, service.client_id)
    ]
    if not same:
        raise ValueError(
            f"The platform {shown(service.issuer, 80)!r} is not registered any more: run "
            "`lens-course class lti platform`."
        )
    tool = launch.registrations(kept, settings.private_key(classroom.folder))
    return _Connector(tool.find_registration_by_params(service.issuer, service.client_id))


def _line_item(grades, name, most):
    wanted = LineItem().set_label(manifest.of().title_of_set(name)).set_resource_id(name)
    try:
        item = grades.find_or_create_lineitem(wanted.set_score_maximum(most), "resource_id")
        settings.address(item.get_id() or "", "the line item's id")
    except (LtiException, requests.RequestException, LookupError, TypeError) as error:
        raise ValueError(f"No mark was sent, for {_why(error)}.") from error
    return item


def _why(error):
    if isinstance(error, LtiServiceException):
        return f"the platform answered with status {error.response.status_code}"
    if isinstance(error, requests.JSONDecodeError | LookupError | TypeError):
        return "the platform's answer is not what the standard wants"
    if isinstance(error, requests.Timeout):
        return f"the platform did not answer within {launch.TIMEOUT_S} s"
    if isinstance(error, requests.RequestException):
        return "the platform could not be reached"
    return f"of this: {shown(str(error), 200).rstrip('.')}"


def _accepted(classroom, item, sub):
    from shared_utils.grading.supervisor.records import Records

    query = "SELECT * FROM lti_score WHERE line_item = ? AND sub = ?"
    rows = Records(classroom.folder).rows(query, (item.get_id(), sub))
    return rows[0] if rows else None


def _keep_accepted(classroom, item, sub, score, at):
    from shared_utils.grading.supervisor.records import Records

    with Records(classroom.folder).opened() as database:
        database.execute(
            "INSERT OR REPLACE INTO lti_score VALUES (?, ?, ?, ?)", (item.get_id(), sub, score, at)
        )


def _later(before):
    """Now, or just after a time that was sent already, should a clock have been set back."""
    now = datetime.now(UTC)
    if before:
        now = max(now, datetime.fromisoformat(before) + timedelta(milliseconds=1))
    return now.isoformat(timespec="milliseconds")
