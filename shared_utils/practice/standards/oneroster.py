"""A class's marks as the gradebook files of OneRoster 1.2, CSV binding, in bulk.

One line item for a set, one result for a learner in it. The learners, the class, the school and
the term are named by the ids that the receiving system knows; their own files are not written.
Names of files, columns and words are those of the standard from memory; the receiving system's own
check has the last word.

Sources
-------
1EdTech OneRoster 1.2, CSV binding (imsglobal.org/spec/oneroster/v1p2/bind/csv), from memory.
"""

import csv
from datetime import UTC, datetime
from pathlib import Path

from shared_utils.coursework import syllabus

CATEGORY = "problem-sets"
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


def write(marks, folder, class_id, school_id="lens-course", term_id="", day=None):
    """Write the marks of a class and return the manifest.

    Parameters
    ----------
    marks : shared_utils.coursework.marks.ClassMarks
    folder : path-like
        Made if it is not there.
    class_id, school_id, term_id : str
        Ids of the class, its school and its term in the receiving system.
    day : datetime.date, optional
        Stands where the standard wants a date and the gradebook has none; today if not given.

    Returns
    -------
    pathlib.Path

    Raises
    ------
    ValueError
        If there is no set, or no id of the class.
    """
    if not class_id:
        raise ValueError("OneRoster names a class by an id; give the one it has where this goes.")
    if not marks.sets:
        raise ValueError("The gradebook has no set, so there are no marks to write.")
    day = (day or datetime.now(UTC).date()).isoformat()
    rows = {
        "categories": [{"sourcedId": CATEGORY, "title": "Problem sets"}],
        "lineItems": [_line_item(one, class_id, school_id, term_id, day) for one in marks.sets],
        "results": [row for one in marks.sets for row in _results(one, class_id, day)],
    }
    folder = Path(folder)
    folder.mkdir(parents=True, exist_ok=True)
    for name, columns in COLUMNS.items():
        _write(folder / f"{name}.csv", columns, rows[name])
    properties = {
        "manifest.version": "1.0",
        "oneroster.version": "1.2",
        **{f"file.{name}": "bulk" if name in COLUMNS else "absent" for name in FILES},
        "source.systemName": "lens-course",
        "source.systemCode": "lens-course",
    }
    manifest = folder / "manifest.csv"
    lines = [{"propertyName": name, "value": value} for name, value in properties.items()]
    _write(manifest, ("propertyName", "value"), lines)
    return manifest


def _line_item(one, class_id, school_id, term_id, day):
    return {
        "sourcedId": f"{class_id}:{one.name}",
        "title": syllabus.title_of_set(one.name),
        "assignDate": day,
        "dueDate": day,
        "classSourcedId": class_id,
        "categorySourcedId": CATEGORY,
        "academicSessionSourcedId": term_id,
        "resultValueMin": 0.0,
        "resultValueMax": float(one.most.sum()),
        "schoolSourcedId": school_id,
    }


def _results(one, class_id, day):
    columns = one.learners, one.handed_in(), one.totals(), one.by_hand, one.times
    for learner, here, total, by_hand, time in zip(*columns, strict=True):
        status = "partially graded" if by_hand else "fully graded"
        yield {
            "sourcedId": f"{class_id}:{one.name}:{learner}",
            "lineItemSourcedId": f"{class_id}:{one.name}",
            "studentSourcedId": learner,
            "scoreStatus": status if here else "not submitted",
            # repr: to the last digit
            "score": repr(float(total)) if here else "",
            "scoreDate": time.date().isoformat() if time else day,
            "classSourcedId": class_id,
        }


def _write(path, columns, rows):
    """Write a file; status and dateLastModified stay empty, as they are for changes alone."""
    with open(path, "w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, columns, restval="")  # RFC 4180: lines end with CR LF
        writer.writeheader()
        writer.writerows(rows)
