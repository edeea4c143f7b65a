"""Cohorts as comma-separated text: written, and read with patience.

One row for each eye, names of columns as in ``COLUMNS`` with their unit. A bad row is set aside
and named; it never takes a good one with it.
"""

from __future__ import annotations

import codecs
import csv
import difflib
import io
import math
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from shared_utils.clinic import plain_text
from shared_utils.clinic.cohort import Cohort
from shared_utils.optics.domain import unit_of
from shared_utils.power.biometry import AXIAL_LENGTH_RANGE_MM, K_RANGE_D, KERATOMETER_SCALE, Eye

if TYPE_CHECKING:
    from collections.abc import Sequence
    from os import PathLike

LABEL = "label"
LABEL_INVENTED = "label_of_invented_eye"
"""The label's column where the eyes are invented, so that a file says so wherever it goes."""
COLUMNS = {
    "axial_length_mm": AXIAL_LENGTH_RANGE_MM,
    "k1_d": K_RANGE_D,
    "k2_d": K_RANGE_D,
    "k1_axis_deg": (0.0, 180.0),
    "acd_mm": (1.0, 6.0),
    "lens_thickness_mm": (2.0, 8.0),
    "white_to_white_mm": (8.0, 15.0),
    "age_years": (0.0, 120.0),
    "iol_power_d": (-30.0, 80.0),
    "achieved_d": (-30.0, 30.0),
}
"""Names of the columns and the range of each, in its unit."""

REQUIRED = ("axial_length_mm", "k1_d")
OF_THE_EYE = tuple(COLUMNS)[:7]
SEPARATORS = (",", ";", "\t")
IDENTIFYING = ("name", "birth", "dob", "patient", "record", "address", "insurance")
MAX_K_DIFFERENCE_D = 12.0
MAX_OF_THE_LENGTH = 0.6  # that cornea to back of the lens can take; common practice, no source


@dataclass(frozen=True)
class Problem:
    """Why a row was set aside; rows are counted as a spreadsheet does, the header being row 1."""

    row: int
    column: str
    message: str

    def __str__(self):
        return f"Row {self.row}, {self.column}: {self.message}"


@dataclass(frozen=True)
class Reading:
    """What a file held.

    Attributes
    ----------
    cohort : cohort.Cohort
        The good rows; none is possible.
    problems : tuple of Problem
        Why other rows were set aside.
    notes : tuple of str
        What was noticed and cost nothing, such as columns that were not used.
    invented : bool
        Whether the header says that the eyes are invented.
    """

    cohort: Cohort
    problems: tuple
    notes: tuple
    invented: bool = False

    def report(self, at_most: int = 10) -> str:
        """Return a few lines that say what was read, what was set aside and why."""
        aside = len({problem.row for problem in self.problems})
        lines = [f"{self.cohort.n} eyes read, {aside} rows set aside."]
        lines += [str(problem) for problem in self.problems[:at_most]]
        if len(self.problems) > at_most:
            lines.append(f"And {len(self.problems) - at_most} more.")
        return "\n".join(plain_text.shown(line) for line in [*lines, *self.notes])


def write(path: str | PathLike[str], cohort: Cohort) -> None:
    """Write a cohort as comma-separated text, without its hidden truth.

    The header says where the eyes are invented.

    Parameters
    ----------
    path : str or path
        Where to; a file that is there is replaced.
    cohort : cohort.Cohort

    Examples
    --------
    >>> import tempfile
    >>> from shared_utils.clinic.cohort import invent
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     write(Path(folder) / "eyes.csv", invent(3, seed=1))
    ...     read(Path(folder) / "eyes.csv").cohort.n
    3
    """
    columns = {}
    for name in COLUMNS:
        values = getattr(cohort.eye if name in OF_THE_EYE else cohort, name)
        if values is not None:
            columns[name] = np.broadcast_to(values, (cohort.n,)).tolist()
    label = LABEL if cohort.lens_position_mm is None else LABEL_INVENTED
    rows = zip(cohort.label, *columns.values(), strict=True)
    # the mark at the start tells spreadsheets that labels may be in any script
    Path(path).write_bytes(codecs.BOM_UTF8 + plain_text.csv_text([label, *columns], rows))


def read(path: str | PathLike[str], needed: Sequence[str] | None = None) -> Reading:
    """Return the good rows of a file, and what is wrong with the others.

    Commas, semicolons or tabs between cells, decimal points or (with semicolons or tabs) decimal
    commas, columns in any order, columns of other names, labels in any script.

    Parameters
    ----------
    path : str or path
        The file.
    needed : sequence of str, optional
        Names of ``COLUMNS`` to read; the others are left alone, blank or not. Every one the file
        has, if not given.

    Returns
    -------
    Reading

    Raises
    ------
    ValueError
        If no row can be read: the file is empty, or a needed column is missing or there twice.
    """
    return parse(Path(path).read_bytes(), needed)


def columns(path: str | PathLike[str]) -> tuple[str, ...]:
    """Return which of ``COLUMNS`` a file has, in that order; unusable files raise ValueError."""
    header, *_ = _rows(_decoded(Path(path).read_bytes())[0])
    return tuple(name for name in COLUMNS if name in header)


def parse(content: bytes, needed: Sequence[str] | None = None) -> Reading:
    """Return the same from the bytes of a file, such as an upload.

    Parameters
    ----------
    content : bytes
    needed : sequence of str, optional
        As for ``read``.

    Returns
    -------
    Reading

    Examples
    --------
    >>> found = parse(b"axial_length_mm;k1_d\\n23,50;43,25\\n0,0235;43,25\\n23,10;7,70\\n")
    >>> print(found.report())
    1 eyes read, 2 rows set aside.
    Row 3, axial_length_mm: 0.0235 mm is outside 15 to 40 mm. In metres? Multiply by 1000.
    Row 4, k1_d: 7.7 D is outside 30 to 65 D. A radius in mm? 337.5 / 7.7 = 43.83 D.
    """
    text, notes = _decoded(content)
    header, ways, invented = _rows(text)
    wanted = _wanted_columns(header, needed)
    unused = [name for name in header if name and name not in wanted and name != LABEL]
    if unused:
        notes.append(f"Columns not used: {', '.join(unused)}.")
    telling = [name for name in unused if any(word in name for word in IDENTIFYING)]
    if telling:
        notes.append(
            f"Columns that may tell who a patient is: {', '.join(telling)}. They were not kept; "
            "take them out of the file before it leaves the clinic."
        )
    readings = [_reading(header, wanted, rows, tuple(notes)) for rows in ways]
    return replace(max(readings, key=lambda reading: reading.cohort.n), invented=invented)


def _reading(header, wanted, rows, notes):
    problems, labels, good = [], [], []
    for number, cells in rows:
        found, values = _row(number, cells, header, wanted)
        problems += found
        if not found:
            own = cells[header.index(LABEL)].strip() if LABEL in header[: len(cells)] else ""
            labels.append(plain_text.from_csv_cell(own) or f"Row {number}")
            good.append(values)
    table = np.array(good, dtype=float).reshape(len(good), len(wanted))
    columns = dict(zip(wanted, table.T.copy(), strict=True))
    eye = Eye(**{name: columns.pop(name) for name in OF_THE_EYE if name in columns})
    return Reading(
        cohort=Cohort(eye=eye, label=tuple(labels), **columns),
        problems=tuple(problems),
        notes=notes,
    )


def _decoded(content):
    """Text of a file, and a note if its letters had to be guessed."""
    if content[:4] == b"PK\x03\x04":
        raise ValueError(
            "The file is a spreadsheet's own; open it there and save it as CSV (UTF-8)."
        )
    if content[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return content.decode("utf-16", errors="replace"), []
    try:
        return content.decode("utf-8-sig"), []
    except UnicodeDecodeError:
        note = "The file is not UTF-8: numbers are safe, some letters may be wrong."
        return content.decode("cp1252", errors="replace"), [note]


def _rows(text):
    """Header (names made alike), the numbered rows by each way to read quotation marks, invented.

    A quoted cell may run over several lines; a stray quotation mark looks just the same and would
    swallow rows. So where one of the two is there, the file is also read line by line.
    """
    lines = io.StringIO(text, newline=None).read().split("\n")
    first = next((at for at, line in enumerate(lines) if line.strip(" ,;\t")), None)
    if first is None:
        raise ValueError("The file is empty; give a header row and a row for each eye.")
    separator = max(SEPARATORS, key=lines[first].count)
    ways = []
    try:
        whole = list(csv.reader(io.StringIO("\n".join(lines)), delimiter=separator, strict=True))
    except csv.Error:
        whole = []
    if whole:
        ways.append(whole)
    if not whole or any("\n" in cell for cells in whole for cell in cells):
        ways.append([_split(line, separator) for line in lines])
    header = [_alike(name) for name in _split(lines[first], separator)]
    invented = LABEL_INVENTED in header
    header = [LABEL if name == LABEL_INVENTED else name for name in header]
    rows = [
        [
            (at, cells)
            for at, cells in enumerate(way, start=1)
            if at > first + 1 and any(cell.strip() for cell in cells)
        ]
        for way in ways
    ]
    return header, rows, invented


def _split(line, separator):
    try:
        return next(csv.reader([line], delimiter=separator), [])
    except csv.Error:  # a cell of more than 128 000 letters
        return line.split(separator)


def _alike(name):
    return "_".join(name.replace("-", " ").split()).casefold()


def _wanted_columns(header, needed):
    if needed is not None:
        unknown = [name for name in needed if name not in COLUMNS]
        if unknown:
            raise ValueError(f"needed has {unknown[0]!r}; give names out of: {', '.join(COLUMNS)}.")
    must = [*REQUIRED, *(name for name in needed or () if name not in REQUIRED)]
    for name in must:
        if name not in header:
            near = difflib.get_close_matches(name, [*header], 1, 0.6)
            hint = f" Is {near[0]!r} it? The unit is part of the name." if near else ""
            has = ", ".join(header)
            has = has if len(has) <= 200 else has[:200] + " and so on"
            raise ValueError(
                f"Column {name} is missing; the header has: {has}. "
                f"Give it in {unit_of(name)}.{hint}"
            )
    wanted = [name for name in COLUMNS if name in header and (needed is None or name in must)]
    for name in [*wanted, LABEL]:
        if header.count(name) > 1:
            raise ValueError(f"Column {name} is there {header.count(name)} times; keep one.")
    return wanted


def _row(number, cells, header, wanted):
    """Problems of a row (none if it is good) and its values."""
    if len(cells) > len(header) and any(cell.strip() for cell in cells[len(header) :]):
        slip = "decimal commas between commas? Put semicolons between the cells."
        message = f"{len(cells)} cells, but the header has {len(header)}; {slip}"
        return [Problem(number, "whole row", message)], None
    problems, values = [], []
    for name in wanted:
        at = header.index(name)
        value, message = _number(name, cells[at] if at < len(cells) else "")
        if message:
            problems.append(Problem(number, name, message))
        values.append(value)
    if not problems:
        problems = [
            Problem(number, column, message)
            for column, message in _contradictions(dict(zip(wanted, values, strict=True)))
        ]
    return problems, values


def _number(name, cell):
    """The number in a cell, or why there is none."""
    low, high = COLUMNS[name]
    unit = unit_of(name)
    shown = cell.strip()
    if not shown:
        return None, f"blank; give {low:g} to {high:g} {unit}, or read without this column."
    digits = shown.replace("−", "-").replace("٫", ".")
    if digits.count(",") == 1 and "." not in digits:
        digits = digits.replace(",", ".")
    try:
        value = float("none" if "_" in digits else digits)
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        clipped = shown if len(shown) <= 30 else shown[:27] + "..."
        return None, f"{clipped!r} is not a number; give {low:g} to {high:g} {unit}."
    if not low <= value <= high:
        slip = _likely_slip(name, value, low, high)
        return None, f"{value:g} {unit} is outside {low:g} to {high:g} {unit}.{slip}"
    return value, ""


def _likely_slip(name, value, low, high):
    """What may have happened to a number outside its range, with a leading space."""
    if name in ("k1_d", "k2_d") and value > 0 and low <= KERATOMETER_SCALE / value <= high:
        return f" A radius in mm? 337.5 / {value:g} = {KERATOMETER_SCALE / value:.2f} D."
    if unit_of(name) == "mm":
        for factor, words in (
            (1000.0, "In metres? Multiply by 1000."),
            (10.0, "In centimetres? Multiply by 10."),
            (0.001, "In micrometres? Divide by 1000."),
        ):
            if low <= value * factor <= high:
                return f" {words}"
    for places in (10.0, 100.0):
        if low <= value / places <= high and value != 0:
            return f" Was a decimal point lost? {value / places:g} would do."
    return ""


def _contradictions(values):
    """Measurements that cannot be of one eye."""
    k1_d, k2_d = values["k1_d"], values.get("k2_d")
    if k2_d is not None and abs(k1_d - k2_d) > MAX_K_DIFFERENCE_D:
        yield (
            "k2_d",
            f"{k2_d:g} D is more than {MAX_K_DIFFERENCE_D:g} D from k1_d, {k1_d:g} D; "
            "measure again.",
        )
    acd_mm, thickness_mm = values.get("acd_mm"), values.get("lens_thickness_mm")
    if acd_mm is not None and thickness_mm is not None:
        length_mm = values["axial_length_mm"]
        if acd_mm + thickness_mm > MAX_OF_THE_LENGTH * length_mm:
            yield (
                "lens_thickness_mm",
                f"chamber and lens, {acd_mm:g} + {thickness_mm:g} mm, do not fit into an eye of "
                f"{length_mm:g} mm; measure again.",
            )
