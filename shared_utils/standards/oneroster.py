"""A class's marks as the gradebook files of OneRoster 1.2, CSV binding, in bulk.

One line item for a set, one result for a learner in it. The learners, the class, the school and
the term are named by the ids that the receiving system knows; their own files are not written, so
a system that takes whole sets of files alone needs its own beside these.

Ids must arrive letter for letter, so no apostrophe is put before what a spreadsheet could take for
a formula. None is possible: nothing that a learner wrote stands here, and the letters that the
standard allows in an id make none.

Sources
-------
1EdTech OneRoster, CSV binding 1.2.1 (imsglobal.org/spec/oneroster/v1p2/bind/csv): files, columns,
which of them are required, types and words, as a public implementation that passes 1EdTech's test
cases has them; see tests/outside/oneroster.toml.
"""

from __future__ import annotations

import re
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from shared_utils.clinic.plain_text import csv_text
from shared_utils.course import manifest
from shared_utils.standards.package import write_zip

if TYPE_CHECKING:
    from datetime import date, tzinfo
    from os import PathLike

    from shared_utils.classroom.marks import ClassMarks

CATEGORY = "problem-sets"
UNKNOWN = "lens-course"  # stands for a school or a term that nobody named
ID = re.compile(r"[0-9A-Za-z./@_-]{1,255}")
COLUMNS = {
    "categories": ("sourcedId", "status", "dateLastModified", "title", "weight"),
    "lineItems": (
        *("sourcedId", "status", "dateLastModified", "title", "description", "assignDate"),
        *("dueDate", "classSourcedId", "categorySourcedId", "academicSessionSourcedId"),
        *("resultValueMin", "resultValueMax", "schoolSourcedId"),
    ),
    "results": (
        *("sourcedId", "status", "dateLastModified", "lineItemSourcedId", "studentSourcedId"),
        *("scoreStatus", "score", "scoreDate", "comment", "textScore", "classSourcedId"),
        *("inProgress", "incomplete", "late", "missing"),
    ),
}
FILES = (
    *("academicSessions", "categories", "classes", "classResources", "courses"),
    *("courseResources", "demographics", "enrollments", "lineItemLearningObjectiveIds"),
    *("lineItems", "lineItemScoreScales", "orgs", "resources", "resultLearningObjectiveIds"),
    *("results", "resultScoreScales", "roles", "scoreScales", "userProfiles", "userResources"),
    "users",
)


def write(
    marks: ClassMarks,
    target: str | PathLike[str],
    class_id: str,
    school_id: str = UNKNOWN,
    term_id: str = UNKNOWN,
    day: date | None = None,
    zone: tzinfo = UTC,
) -> Path:
    """Write the marks of a class and return what was written.

    Parameters
    ----------
    marks : shared_utils.classroom.marks.ClassMarks
    target : path-like
        A zip, as the standard exchanges it, if its name ends so; else a folder, made if it is not
        there.
    class_id, school_id, term_id : str
        Ids of the class, its school and its term in the receiving system.
    day : datetime.date, optional
        Stands where the standard wants a date and the gradebook has none; today if not given.
    zone : datetime.tzinfo
        Where the class is: a moment late in the evening is another date in UTC.

    Returns
    -------
    pathlib.Path
        The zip, or the manifest in the folder.

    Raises
    ------
    ValueError
        If there is no set or no learner, or if an id has letters that the standard does not allow.
    """
    if not class_id:
        raise ValueError("OneRoster names a class by an id; give the one it has where this goes.")
    if not marks.sets:
        raise ValueError("The gradebook has no set, so there are no marks to write.")
    if not marks.people:
        raise ValueError("The gradebook has no learner, so there are no marks to write.")
    for what, id_ in {"class": class_id, "school": school_id, "term": term_id}.items():
        _allowed(id_, f"id of the {what}", f"; give another one with --{what}-id")
    for learner in marks.people:
        _allowed(learner, "id of a learner")
    written_on = (day or datetime.now(UTC).date()).isoformat()
    rows = {
        "categories": [{"sourcedId": CATEGORY, "title": "Problem sets"}],
        "lineItems": [
            _line_item(one, class_id, school_id, term_id, written_on, zone) for one in marks.sets
        ],
        "results": [row for one in marks.sets for row in _results(one, class_id, written_on, zone)],
    }
    properties = {
        "manifest.version": "1.0",
        "oneroster.version": "1.2",
        **{f"file.{name}": "bulk" if name in COLUMNS else "absent" for name in FILES},
        "source.systemName": "lens-course",
        "source.systemCode": "lens-course",
    }
    lines = [{"propertyName": name, "value": value} for name, value in properties.items()]
    files = {"manifest.csv": _text(("propertyName", "value"), lines)}
    files |= {f"{name}.csv": _text(columns, rows[name]) for name, columns in COLUMNS.items()}
    return _keep(files, Path(target))


def _allowed(id_, what, instead=""):
    if not ID.fullmatch(id_):
        raise ValueError(
            f"{id_!r} cannot be the {what}: OneRoster takes 1 to 255 of the letters A to Z and a "
            f"to z, the digits, and . - _ / @{instead}."
        )


def _line_item(one, class_id, school_id, term_id, day, zone):
    due = _date(one.due, zone) if one.due else day
    return {
        "sourcedId": _id(class_id, one.name),
        "title": manifest.of().title_of_set(one.name),
        "assignDate": min(day, due),
        "dueDate": due,
        "classSourcedId": class_id,
        "categorySourcedId": CATEGORY,
        "academicSessionSourcedId": term_id,
        "resultValueMin": _number(0),
        "resultValueMax": _number(one.most.sum()),
        "schoolSourcedId": school_id,
    }


def _results(one, class_id, day, zone):
    late = np.broadcast_to(one.late_seconds, len(one.learners)) > 0
    columns = one.learners, one.handed_in(), one.totals(), one.by_hand, one.times, late
    for learner, here, total, by_hand, time, is_late in zip(*columns, strict=True):
        if here:
            status = "partially graded" if by_hand else "fully graded"
        else:  # what could not be marked was handed in all the same
            status = "submitted" if time else "not submitted"
        yield {
            "sourcedId": _id(class_id, one.name, learner),
            "lineItemSourcedId": _id(class_id, one.name),
            "studentSourcedId": learner,
            "scoreStatus": status,
            "score": _number(total) if here else "",
            "scoreDate": _date(time, zone) if time else day,
            "classSourcedId": class_id,
            "late": str(bool(is_late)).lower() if one.due and (here or time) else "",
        }


def _date(at, zone):
    """The date, where the class is, of a moment in universal time."""
    return at.replace(tzinfo=UTC).astimezone(zone).date().isoformat()


def _id(*parts):
    id_ = ".".join(parts)
    _allowed(id_, "id of a set or a result")
    return id_


def _number(value):
    """To the last digit, and never with an exponent."""
    return np.format_float_positional(float(value), trim="0")


def _text(columns, rows):
    """A file's text; status and dateLastModified stay empty, as they must in bulk."""
    cells = [[row.get(column, "") for column in columns] for row in rows]
    return csv_text(columns, cells, line_end="\r\n", exact=True)  # RFC 4180


def _keep(files, target):
    if target.suffix.lower() == ".zip":
        write_zip(target, files)
        return target
    target.mkdir(parents=True, exist_ok=True)
    for name, content in files.items():
        (target / name).write_bytes(content)
    return target / "manifest.csv"
