"""Due dates, extra time and lateness of a class: said in the class's time zone, kept in UTC."""

from __future__ import annotations

import csv
import json
import re
from dataclasses import asdict, dataclass, replace
from datetime import UTC, datetime, time, timedelta
from pathlib import Path
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

import numpy as np

from shared_utils.classroom import nbgrader_calls

if TYPE_CHECKING:
    from collections.abc import Iterator
    from datetime import tzinfo
    from os import PathLike

    from shared_utils.classroom.folder import ClassFolder
    from shared_utils.classroom.marks import ClassMarks
    from shared_utils.grading.supervisor.records import Records

ZONE = "zone"
END_OF_DAY = time(23, 59, 59)
FIRST_YEAR, LAST_YEAR = 1970, 2999
FORMS = "2027-03-01, or 2027-03-01 18:00, or 2027-03-01T18:00+01:00"
WHO_SAYS = {
    "listed": "as listed",
    "exchange": "as the exchange has it",
    "put here": "as the file was put into the class's folder",
}


@dataclass(frozen=True)
class Receipt:
    """When a learner's submission was received, and how late that is.

    Attributes
    ----------
    set, learner : str
    received : datetime
        UTC.
    how : str
        Who says so: ``listed``, ``exchange`` or ``put here``.
    due : datetime or None
        With the learner's extra time, UTC; None if the set has no due date.
    seconds_late : float
        0 if it is in time.
    """

    set: str
    learner: str
    received: datetime
    how: str
    due: datetime | None
    seconds_late: float


def zone_of(folder: ClassFolder) -> tzinfo:
    """Return the class's time zone; UTC where none was given."""
    return _kept_zone(folder) or UTC


def named_zone(name: str) -> tzinfo:
    """Return the time zone of a name.

    Raises
    ------
    ValueError
        If there is none of that name here.

    Examples
    --------
    >>> named_zone("Europe/Berlin").key
    'Europe/Berlin'
    """
    try:
        return ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        raise ValueError(
            f"{name!r} is no time zone known here: give one such as Europe/Berlin, America/Lima or "
            "UTC."
        ) from None


def moment(text: str, zone: tzinfo | None, at: time = END_OF_DAY) -> datetime:
    """Return the moment that a text names, in UTC.

    Parameters
    ----------
    text : str
        A date, with or without a time, with or without what it is ahead of UTC.
    zone : tzinfo or None
        Where the text names none.
    at : datetime.time
        Where the text names no time.

    Raises
    ------
    ValueError
        If the text is no moment of the years 1970 to 2999, or no zone is known for it, or the
        clocks there skip it.

    Examples
    --------
    >>> moment("2027-03-01", named_zone("Europe/Berlin")).isoformat()
    '2027-03-01T22:59:59+00:00'
    >>> moment("2027-07-01 18:00", named_zone("Europe/Berlin")).isoformat()
    '2027-07-01T16:00:00+00:00'
    """
    text = text.strip()
    try:
        found = datetime.fromisoformat(text)
    except ValueError:
        raise ValueError(f"{text!r} is no date: write {FORMS}.") from None
    if not FIRST_YEAR <= found.year <= LAST_YEAR:  # extra time and time zones go beyond it
        raise ValueError(f"{text!r} lies outside the years {FIRST_YEAR} to {LAST_YEAR}.")
    if re.fullmatch(r"\d{4}-?\d\d-?\d\d|\d{4}-?W\d\d(-?\d)?", text):
        found = datetime.combine(found.date(), at)
    if found.tzinfo is None:
        if zone is None:
            raise ValueError(
                f"{text!r} names no time zone: add --zone, such as --zone Europe/Berlin or "
                "--zone UTC; the class keeps it for later."
            )
        found = found.replace(tzinfo=zone)
        back = found.astimezone(UTC).astimezone(zone)
        if back.replace(tzinfo=None) != found.replace(tzinfo=None):
            raise ValueError(
                f"There is no {text} in {zone}: clocks are put forward then; give another time."
            )
    return found.astimezone(UTC)


def shown(at: datetime, zone: tzinfo) -> str:
    """Return a moment as a person there reads it, with the zone's name.

    Examples
    --------
    >>> shown(moment("2027-03-01 18:00", UTC), named_zone("Europe/Berlin"))
    '2027-03-01 19:00 Europe/Berlin'
    """
    return f"{at.astimezone(zone):%Y-%m-%d %H:%M} {zone}"


def days(seconds: float) -> str:
    """Return a length of time in words, to the minute, upwards.

    Examples
    --------
    >>> days(90_000), days(61)
    ('1 d 1 h', '2 min')
    """
    minutes = int(-(-seconds // 60))
    parts = ((minutes // 1440, "d"), (minutes // 60 % 24, "h"), (minutes % 60, "min"))
    return " ".join(f"{count} {unit}" for count, unit in parts if count)


def keep_zone(folder: ClassFolder, name: str) -> tzinfo:
    """Keep the class's time zone, and return it."""
    zone = named_zone(name)
    _records(folder).keep_setting(ZONE, name)
    return zone


def set_due(
    folder: ClassFolder, name: str, text: str, zone: tzinfo | None = None
) -> datetime | None:
    """Write when a set is due into the gradebook; ``none`` takes the date away.

    Parameters
    ----------
    folder : ClassFolder
    name : str
        A released set.
    text : str
        As ``moment`` takes it.
    zone : tzinfo, optional
        Where the text names none; the class's own if not given.

    Returns
    -------
    datetime or None
        UTC.
    """
    zone = zone or _kept_zone(folder)
    due = None if text.strip().lower() == "none" else moment(text, zone)
    with nbgrader_calls.open_gradebook(folder.path) as gradebook:
        gradebook.set_due(name, due)
    return due


def due_dates(folder: ClassFolder) -> dict[str, datetime | None]:
    """Return when each released set is due, in UTC."""
    with nbgrader_calls.open_gradebook(folder.path) as gradebook:
        return {name: gradebook.due(name) for name in folder.released_sets()}


def give_extra_time(folder: ClassFolder, name: str, learner: str, extra_days: float) -> None:
    """Give a learner more time, in one set, or in all if the name is empty.

    Raises
    ------
    ValueError
        If there is no such learner, or the time is negative.
    """
    if learner not in folder.roster():
        raise ValueError(f"There is no learner {learner!r} in roster.csv.")
    if not 0 <= extra_days <= 3660:
        raise ValueError(f"Extra time is 0 to 3660 days, not {extra_days:g}.")
    _records(folder).give_extra_time(name, learner, extra_days * 86_400)
    settle(folder)


def set_late_rule(folder: ClassFolder, percent_per_day: float, cap_percent: float = 100.0) -> None:
    """Keep what lateness costs; 0 per cent is nothing."""
    from shared_utils.grading.supervisor.class_rules import LATE_RULE, LateRule

    rule = LateRule(percent_per_day, cap_percent)
    _records(folder).keep_setting(LATE_RULE, json.dumps(asdict(rule)))
    settle(folder)


def late_rule_in_words(folder: ClassFolder) -> str:
    """Return what lateness costs, as a sentence."""
    from shared_utils.grading.supervisor.class_rules import late_rule

    rule = late_rule(_records(folder))
    if rule is None or not rule.percent_per_day:
        return "Lateness costs no marks."
    return (
        f"Lateness costs {rule.percent_per_day:g} % of the marks for each day that was begun, at "
        f"most {rule.cap_percent:g} %."
    )


def list_received(
    folder: ClassFolder, name: str, path: str | PathLike[str], zone: tzinfo | None = None
) -> int:
    """Take over from a CSV file when submissions were received, and return how many.

    Parameters
    ----------
    folder : ClassFolder
    name : str
        A released set.
    path : path-like
        With the columns id and received; others are passed over.
    zone : tzinfo, optional
        Where a line names none; the class's own if not given.

    Raises
    ------
    ValueError
        If a line does not hold; nothing is kept then.
    """
    from shared_utils.grading.supervisor import received

    records = _records(folder)
    listed = list(_rows(Path(path), folder.roster(), zone or _kept_zone(folder)))
    note_files(folder, name)
    for learner, at in listed:
        file = folder.submitted(name, learner)
        if file.is_file():
            digest = received.digest_of(file.read_bytes())
            records.list_received(name, learner, digest, at, received.LISTED)
    settle(folder)
    return len(listed)


def use_exchange(folder: ClassFolder, root: str | PathLike[str]) -> None:
    """Let the times in nbgrader's exchange count from now on, and for what lies here already.

    Raises
    ------
    ValueError
        If there is no such folder.
    """
    from shared_utils.grading.supervisor import received

    place = Path(root).resolve()
    if not place.is_dir():
        raise ValueError(f"There is no folder {place}: give that of nbgrader's exchange.")
    records = _records(folder)
    records.keep_setting(received.EXCHANGE_ROOT, str(place))
    for name in folder.released_sets():
        note_files(folder, name)
        for learner, (_, how) in records.received(name).items():
            digest = received.digest_of(folder.submitted(name, learner).read_bytes())
            at = received.in_exchange(place, name, learner, digest)
            if at and how == received.PUT_HERE:
                records.list_received(name, learner, digest, at, received.EXCHANGE)
    settle(folder)


def note_files(folder: ClassFolder, name: str) -> None:
    """Note what lies in the class's folder of a set and was not seen before."""
    from shared_utils.grading.supervisor import received

    for learner in folder.learners(name):
        file = folder.submitted(name, learner)
        if not file.is_symlink():
            received.note(_records(folder), file, name, learner)


def receipts(folder: ClassFolder, name: str, due: datetime | None) -> list[Receipt]:
    """Return when each submission to a set was received, by learner.

    Parameters
    ----------
    folder : ClassFolder
    name : str
        A released set.
    due : datetime or None
        When it is due, UTC.

    Returns
    -------
    list of Receipt
    """
    records = _records(folder)
    extra = records.extra_seconds(name)
    due = due.replace(tzinfo=UTC) if due else None
    found = []
    for learner, (at, how) in sorted(records.received(name).items()):
        own = due + timedelta(seconds=extra.get(learner, 0.0)) if due else None
        late = max((at - own).total_seconds(), 0.0) if own else 0.0
        found.append(Receipt(name, learner, at, how, own, late))
    return found


def with_receipts(folder: ClassFolder, marks: ClassMarks) -> ClassMarks:
    """Return marks with the times that count in place of those that nbgrader has noted.

    Parameters
    ----------
    folder : ClassFolder
    marks : ClassMarks

    Returns
    -------
    ClassMarks
    """
    sets = []
    for one in marks.sets:
        found = {each.learner: each for each in receipts(folder, one.name, one.due)}
        late = [found[who].seconds_late if who in found else 0.0 for who in one.learners]
        times = [
            found[who].received.replace(tzinfo=None) if who in found else time
            for who, time in zip(one.learners, one.times, strict=True)
        ]
        sets.append(replace(one, times=tuple(times), late_seconds=np.array(late)))
    return replace(marks, sets=tuple(sets))


def settle(folder: ClassFolder) -> None:
    """Bring the gradebook in line with the rules in every released set."""
    if not _records(folder).file.is_file():
        return  # no rule was ever made
    with nbgrader_calls.open_gradebook(folder.path) as gradebook:
        for name in folder.released_sets():
            gradebook.settle(name)


def _records(folder: ClassFolder) -> Records:
    from shared_utils.grading.supervisor.records import Records

    return Records(folder.path)


def _kept_zone(folder):
    name = _records(folder).setting(ZONE)
    return named_zone(name) if name else None


def _rows(path, roster, zone) -> Iterator[tuple[str, datetime]]:
    try:
        lines = path.read_text(encoding="utf-8-sig").split("\n")
    except OSError as error:
        raise ValueError(f"{path} cannot be read: {error.strerror}.") from None
    except UnicodeDecodeError:
        raise ValueError(f"{path.name} is not in UTF-8: save it as “CSV UTF-8”.") from None
    comma = ";" if lines and lines[0].count(";") > lines[0].count(",") else ","
    reader = csv.DictReader(lines, delimiter=comma, skipinitialspace=True)
    reader.fieldnames = [each.strip().lower() for each in reader.fieldnames or []]
    if not {"id", "received"} <= set(reader.fieldnames or []):
        raise ValueError(f"{path.name} needs the columns id and received in its first line.")
    for row in reader:
        learner, text = ((row[column] or "").strip() for column in ("id", "received"))
        where = f"{path.name}, line {reader.line_num}"
        if not (learner and text):
            continue
        if learner not in roster:
            raise ValueError(f"{where}: there is no learner {learner!r} in roster.csv.")
        try:
            yield learner, moment(text, zone)
        except ValueError as error:
            raise ValueError(f"{where}: {error}") from None
