"""Who is in a class: its roster, read from a CSV file and written to one."""

from __future__ import annotations

import codecs
import csv
import difflib
import io
import re
from pathlib import Path
from typing import TYPE_CHECKING

from shared_utils.clinic.plain_text import csv_text, from_csv_cell
from shared_utils.course.learner import fault_of_id

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence
    from os import PathLike
    from typing import Any

COLUMNS = ("id", "first_name", "last_name", "email")
SEPARATORS = (",", ";", "\t")


def read_roster(path: str | PathLike[str]) -> dict[str, dict[str, str]]:
    """Return the learners of a roster by id.

    Parameters
    ----------
    path : path-like
        CSV in UTF-8, or in UTF-16 with its mark, with commas, semicolons or tabs, and a first line
        that names the columns; above it may stand ``sep=;``, as spreadsheets write it.

    Returns
    -------
    dict of str to dict
        For each id its row, with the columns id, first_name, last_name, email.

    Raises
    ------
    ValueError
        If there is no such file, a column is missing, a quotation mark is not closed, or an id is
        unfit or stands twice.
    """
    path = Path(path)
    lines = io.StringIO(_decoded(path), newline="")  # ends of lines alone part them, not U+2028
    above, separator = 0, ""
    first = lines.readline()
    if stated := re.fullmatch(r'"?sep=(.)"?\s*', first, re.IGNORECASE | re.DOTALL):
        above, separator, first = 1, stated[1], lines.readline()
    separator = separator or max(SEPARATORS, key=first.count)
    lines.seek(lines.tell() - len(first))
    rows = _rows(path.name, lines, separator, above)
    header = [name.strip().lower() for name in next(rows, (0, []))[1]]
    if "id" not in header:
        raise ValueError(
            f"{path.name} has no column id: its first line must be {','.join(COLUMNS)}."
        )
    if twice := [column for column in COLUMNS if header.count(column) > 1]:
        raise ValueError(f"{path.name} has the column {twice[0]} twice; keep one.")
    people: dict[str, dict[str, str]] = {}
    lower: set[str] = set()
    for line, cells in rows:
        where = f"{path.name}, line {line}"
        if not any(cell.strip() for cell in cells):
            continue
        if any(cell.strip() for cell in cells[len(header) :]):
            raise ValueError(
                f"{where}: {len(cells)} cells, but the first line names {len(header)}; put a text "
                "that holds a separator between quotation marks."
            )
        row = dict(zip(header, cells, strict=False))
        texts = {column: from_csv_cell(row.get(column, "").strip()) for column in COLUMNS}
        person = {column: text.strip() for column, text in texts.items()}
        learner = person["id"]
        if not any(person.values()):
            continue
        if fault := fault_of_id(learner):
            raise ValueError(f"{where}: {fault}")
        if learner.lower() in lower:
            raise ValueError(f"{where}: the id {learner!r} stands twice.")
        lower.add(learner.lower())
        people[learner] = person
    return people


def _decoded(path):
    """The text of a roster."""
    try:
        content = path.read_bytes()
    except FileNotFoundError:
        raise ValueError(f"There is no roster {path}.") from None
    except OSError as error:
        raise ValueError(f"The roster {path} cannot be read: {error.strerror}.") from None
    wide = content[:2] in (codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)
    try:
        text = content.decode("utf-16" if wide else "utf-8-sig")
    except UnicodeDecodeError:
        text = "\0"
    if "\0" in text:  # UTF-16 without its mark is read as UTF-8 with these
        raise ValueError(f"{path.name} is not in UTF-8: save it as “CSV UTF-8”.")
    return text


def _rows(name, lines, separator, above):
    """Number of its line, and cells, of each row; a quotation mark ends on the line it is on."""
    reader = csv.reader(lines, delimiter=separator, skipinitialspace=True, strict=True)
    while True:
        line = above + reader.line_num + 1
        try:
            cells = next(reader, None)
        except csv.Error:
            cells = ["\n"]
        if cells is None:
            return
        if any("\n" in cell or "\r" in cell for cell in cells):
            raise ValueError(
                f"{name}, line {line}: a quotation mark is not closed, or not followed by a "
                "separator; close it on this line, or take it away."
            )
        yield line, cells


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
        cells = [[row.get(column, "") for column in columns] for row in rows]
        Path(path).write_bytes(csv_text(columns, cells))
    except OSError as error:
        raise ValueError(f"{path} cannot be written: {error.strerror}.") from None
