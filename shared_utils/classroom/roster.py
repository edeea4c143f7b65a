"""Who is in a class: its roster, read from a CSV file and written to one."""

from __future__ import annotations

import csv
import difflib
import re
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence
    from os import PathLike
    from typing import Any

COLUMNS = ("id", "first_name", "last_name", "email")


def read_roster(path: str | PathLike[str]) -> dict[str, dict[str, str]]:
    """Return the learners of a roster by id.

    Parameters
    ----------
    path : path-like
        CSV with commas or semicolons and a first line that names the columns.

    Returns
    -------
    dict of str to dict
        For each id its row, with the columns id, first_name, last_name, email.

    Raises
    ------
    ValueError
        If there is no such file, a column is missing, or an id is unfit or stands twice.
    """
    path = Path(path)
    try:
        text = path.read_text(encoding="utf-8-sig")
    except FileNotFoundError:
        raise ValueError(f"There is no roster {path}.") from None
    except OSError as error:
        raise ValueError(f"The roster {path} cannot be read: {error.strerror}.") from None
    except UnicodeDecodeError:
        raise ValueError(f"{path.name} is not in UTF-8: save it as “CSV UTF-8”.") from None
    lines = text.splitlines()
    comma = ";" if lines and lines[0].count(";") > lines[0].count(",") else ","
    reader = csv.DictReader(lines, delimiter=comma, skipinitialspace=True)
    if "id" not in (reader.fieldnames or []):
        raise ValueError(
            f"{path.name} has no column id: its first line must be {','.join(COLUMNS)}."
        )
    people: dict[str, dict[str, str]] = {}
    for row in reader:
        person = {column: (row.get(column) or "").strip() for column in COLUMNS}
        learner = person["id"]
        where = f"{path.name}, line {reader.line_num}"
        if not any(person.values()):
            continue
        if not re.fullmatch(r"[A-Za-z0-9_@-][A-Za-z0-9._@-]*", learner):
            raise ValueError(
                f"{where}: the id {learner!r} names a folder, so it may hold letters without "
                "accents, digits, and . _ @ - alone."
            )
        if learner.lower() in {other.lower() for other in people}:
            raise ValueError(f"{where}: the id {learner!r} stands twice.")
        people[learner] = person
    return people


def full_name(person: Mapping[str, str] | None) -> str:
    """Return a learner's name as a report shows it; empty for who is not in the roster."""
    return f"{person['first_name']} {person['last_name']}".strip() if person else ""


def not_in_roster(learner: str, roster: Iterable[str]) -> str:
    """Return a sentence on a learner who handed in and is not in the roster."""
    near = difflib.get_close_matches(learner, roster, n=1)
    hint = f" Is it {near[0]}? Then rename the folder." if near else ""
    return f"Not in roster.csv, so not marked: add a line there and grade again.{hint}"


def write_rows(
    path: str | PathLike[str], columns: Sequence[str], rows: Iterable[Mapping[str, Any]]
) -> None:
    """Write a table as a CSV file.

    Raises
    ------
    ValueError
        If the file cannot be written.
    """
    try:
        with open(path, "w", encoding="utf-8", newline="") as file:
            writer = csv.DictWriter(file, columns, lineterminator="\n")
            writer.writeheader()
            writer.writerows(rows)
    except OSError as error:
        raise ValueError(f"{path} cannot be written: {error.strerror}.") from None
