"""What a learner has answered, in one local file that a crash cannot spoil.

SQLite keeps it: every answer is a transaction of its own, so a pulled plug loses at most the answer
being typed, and two windows at once wait for each other. Nothing is sent anywhere.
"""

from __future__ import annotations

import json
import os
import sqlite3
import tempfile
from contextlib import closing, contextmanager, suppress
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

import platformdirs

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from os import PathLike
    from typing import Any

FOLDER_VARIABLE = "LENS_COURSE_DATA"
WAIT_SECONDS = 10
HEADER = b"SQLite format 3\0"  # sqlite.org/fileformat2.html
APPLICATION_ID = 0x4C656E73  # stands in the head of a file of progress, at byte 68
VERSION = 1
_OF_A_ROW = (
    *(ValueError, LookupError, TypeError, OverflowError),
    *(sqlite3.IntegrityError, sqlite3.InterfaceError, sqlite3.ProgrammingError),
)
MISSED_AT_MOST = 20_000  # rows in a row, before a damaged table counts as read to its end
TABLES = {
    "setting": "name TEXT PRIMARY KEY, value TEXT NOT NULL",
    "card": "item TEXT PRIMARY KEY, state TEXT NOT NULL, due TEXT NOT NULL",
    "answer": (
        "number INTEGER PRIMARY KEY, at TEXT NOT NULL, item TEXT NOT NULL, seed INTEGER NOT NULL,"
        "given TEXT NOT NULL, held INTEGER NOT NULL, slip TEXT NOT NULL, seconds REAL NOT NULL"
    ),
    "exam": (
        "number INTEGER PRIMARY KEY, begun TEXT NOT NULL, plan TEXT NOT NULL, "
        "minutes REAL NOT NULL, used_seconds REAL NOT NULL, ended TEXT"
    ),
    "exam_answer": (
        "exam INTEGER NOT NULL, place INTEGER NOT NULL, given TEXT NOT NULL, "
        "seconds REAL NOT NULL, PRIMARY KEY (exam, place)"
    ),
}


_WHAT_TO_DO = {
    sqlite3.SQLITE_BUSY: "another window or program holds it; close that one, then do this again",
    sqlite3.SQLITE_LOCKED: "another window or program holds it; close that one, then do this again",
    sqlite3.SQLITE_FULL: "the disk is full; free some space, then do this again",
    sqlite3.SQLITE_READONLY: "it may not be written; ask whoever owns the folder, or name another "
    "file with --file",
    sqlite3.SQLITE_CANTOPEN: "it cannot be opened or made there; see whether the folder may be "
    "written, or name another file with --file",
    sqlite3.SQLITE_PERM: "it may not be opened; name another file with --file",
}


class NotKept(ValueError):
    """The file could not be read or written, and is as it was; says what to do."""


def default_file() -> Path:
    """Return where the progress of whoever works on this machine is kept.

    In the folder that the variable ``LENS_COURSE_DATA`` names, else in the user's data folder.

    Returns
    -------
    pathlib.Path
    """
    if os.environ.get(FOLDER_VARIABLE):
        return Path(os.environ[FOLDER_VARIABLE]) / "progress.sqlite"
    return platformdirs.user_data_path("lens-course", appauthor=False) / "progress.sqlite"


class Progress:
    """The file and what is done with it.

    Parameters
    ----------
    file : path-like, optional
        In the user's data folder if not given.

    Raises
    ------
    ValueError
        If it is a folder, another program's database, or a file that SQLite did not write; the
        course's own file counts as damaged then.
    NotKept
        Here and in every method, if the file is held by another program, the disk is full, or it
        may not be written.

    Attributes
    ----------
    notice : str
        What the reader must know: that a damaged file was kept aside, and what was rescued.
    """

    def __init__(self, file: str | PathLike[str] | None = None) -> None:
        self.file = Path(file) if file else default_file()
        self.notice = ""
        self._refuse_others()
        self.file.parent.mkdir(parents=True, exist_ok=True)
        try:
            self._prepare()
        except sqlite3.DatabaseError:
            self._keep_aside()

    def now(self) -> datetime:
        """Return the present moment, UTC."""
        return datetime.now(UTC)

    @contextmanager
    def opened(self) -> Iterator[sqlite3.Connection]:
        """Give a connection within one transaction: all of it is kept, or none."""
        with self._connected() as connection:
            connection.row_factory = sqlite3.Row
            connection.execute("BEGIN IMMEDIATE")
            try:
                yield connection
                connection.execute("COMMIT")
            except BaseException:
                if connection.in_transaction:  # a full disk has rolled back by itself
                    connection.execute("ROLLBACK")
                raise

    def rows(self, query: str, values: Sequence[str | float | None] = ()) -> list[dict[str, Any]]:
        """Return the rows of a query as dicts.

        Parameters
        ----------
        query : str
        values : sequence

        Returns
        -------
        list of dict
        """
        with self._connected() as connection:
            connection.row_factory = sqlite3.Row
            return [dict(row) for row in connection.execute(query, values)]

    def setting(self, name: str) -> str | None:
        """Return a setting's value, or None."""
        found = self.rows("SELECT value FROM setting WHERE name = ?", (name,))
        return found[0]["value"] if found else None

    def set(self, name: str, value: object) -> None:
        """Keep a setting; None takes it away."""
        with self.opened() as connection:
            connection.execute("DELETE FROM setting WHERE name = ?", (name,))
            if value is not None:
                connection.execute("INSERT INTO setting VALUES (?, ?)", (name, str(value)))

    def export(self, target: str | PathLike[str]) -> None:
        """Write everything as JSON.

        Parameters
        ----------
        target : path-like
        """
        whole: dict[str, object] = {"lens_course_progress": VERSION}
        for table in TABLES:
            whole[table] = self.rows(f"SELECT * FROM {table}")
        Path(target).write_text(json.dumps(whole, indent=1, ensure_ascii=False), encoding="utf-8")

    def import_from(self, source: str | PathLike[str]) -> Path | None:
        """Put what an export holds in place of what is here, which is kept beside as an export.

        Parameters
        ----------
        source : path-like

        Returns
        -------
        pathlib.Path or None
            Where that which was here is kept; None if there was no answer here.

        Raises
        ------
        ValueError
            If the file is no export; what is here stays as it was.
        """
        name = Path(source).name
        whole, fault = _read_export(Path(source))
        if fault:
            raise ValueError(f"{name} {fault}; nothing was changed.")
        aside = self._exported_aside()
        try:
            with self.opened() as connection:
                for table in TABLES:
                    connection.execute(f"DELETE FROM {table}")
                    for number, row in enumerate(whole[table], start=1):
                        try:
                            _insert(connection, table, row)
                        except _OF_A_ROW as error:
                            raise ValueError(
                                f"{name} is not progress that was exported here: entry {number} "
                                f"of its list {table!r} does not fit; nothing was changed."
                            ) from error
        except BaseException:
            if aside:
                aside.unlink()
            raise
        return aside

    def _exported_aside(self):
        if not self.rows("SELECT 1 FROM answer UNION ALL SELECT 1 FROM exam_answer LIMIT 1"):
            return None
        aside = self.file.with_name(f"{self.file.stem}.before-{self._stamp()}.json")
        self.export(aside)
        return aside

    def _stamp(self):
        return self.now().strftime("%Y%m%d-%H%M%S")

    def delete(self) -> None:
        """Forget everything."""
        with self.opened() as connection:
            for table in TABLES:
                connection.execute(f"DELETE FROM {table}")

    def _refuse_others(self):
        """Refuse what was never a file of progress: as a damaged one it would be moved away."""
        if not self.file.exists():
            return
        if self.file.is_file():
            head = _head(self.file)
            if head.startswith(HEADER):
                if _is_progress(self.file, head):
                    return
            elif not head or self.file.resolve() == default_file().resolve():
                return
        raise ValueError(f"{self.file} is not a file of progress; give another name.")

    @contextmanager
    def _connected(self):
        """Give a connection; what is no fault of the file's contents is said with its path."""
        try:
            with closing(
                sqlite3.connect(self.file, timeout=WAIT_SECONDS, isolation_level=None)
            ) as connection:
                yield connection
        except sqlite3.OperationalError as error:
            code = getattr(error, "sqlite_errorcode", 0) & 0xFF  # the upper bits say more of it
            if code not in _WHAT_TO_DO:
                raise
            raise NotKept(
                f"{self.file} holds your progress, and {_WHAT_TO_DO[code]}. What was kept before "
                "is safe."
            ) from error

    def _prepare(self):
        with self._connected() as connection:
            connection.execute("PRAGMA journal_mode=WAL")
            message = connection.execute("PRAGMA quick_check").fetchone()[0]
            if message != "ok":
                raise sqlite3.DatabaseError(message)
            for table, columns in TABLES.items():
                connection.execute(f"CREATE TABLE IF NOT EXISTS {table} ({columns})")
            if connection.execute("PRAGMA application_id").fetchone()[0] != APPLICATION_ID:
                connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")

    def _keep_aside(self):
        """Move a damaged file away, begin a new one, and carry over what can be read."""
        aside = self.file.with_name(f"{self.file.stem}.damaged-{self._stamp()}{self.file.suffix}")
        self.file.replace(aside)
        for ending in ("-wal", "-shm"):
            beside = Path(f"{self.file}{ending}")
            if beside.exists():
                beside.replace(f"{aside}{ending}")
        self._prepare()
        rescued = sum(self._rescue(aside, table) for table in TABLES)
        self.notice = (
            f"The file of your progress was damaged. It is kept as {aside.name}; {rescued} of its "
            "entries could be read and were carried over."
        )

    def _rescue(self, aside, table):
        """Carry over the rows of a table that can be read, each by its number."""
        with tempfile.TemporaryDirectory() as folder:
            copy = Path(folder) / "copy.sqlite"
            copy.write_bytes(_full_length(aside.read_bytes()))
            rows = _readable(copy, table)
        with self.opened() as connection:
            for row in rows:
                _insert(connection, table, row)
        return len(rows)


def _read_export(file):
    """What an export holds, and why it is none; one of the two is empty."""
    try:
        whole = json.loads(file.read_text(encoding="utf-8-sig"))
    except OSError as error:
        return {}, f"cannot be read: {error.strerror}"
    except (ValueError, RecursionError):
        return {}, "is not progress that was exported here: it is no JSON"
    if not isinstance(whole, dict) or "lens_course_progress" not in whole:
        return {}, "is not progress that was exported here: it does not say lens_course_progress"
    if whole["lens_course_progress"] != VERSION:
        return {}, "is progress of another version of the course"
    for table in TABLES:
        if not isinstance(whole.get(table), list):
            return {}, f"is not progress that was exported here: it has no list {table!r}"
    return whole, ""


def _head(file):
    """The first hundred bytes of a file; fewer if it has fewer."""
    with file.open("rb") as opened:
        return opened.read(100)


def _is_progress(file, head):
    """Whether a database is one of progress; it is read alone, and no file is made beside it.

    One of an earlier version has no number in its head, but no other tables than these.
    """
    number = int.from_bytes(head[68:72], "big")
    if number:
        return number == APPLICATION_ID
    try:
        where = f"{file.resolve().as_uri()}?mode=ro&immutable=1"
        with closing(sqlite3.connect(where, uri=True)) as connection:
            names = connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'")
            found = {
                name: [row[1] for row in connection.execute(f'PRAGMA table_info("{name}")')]
                for (name,) in names.fetchall()
            }
    except sqlite3.DatabaseError:  # damaged, so that its tables stand in it as text alone
        return b"CREATE TABLE exam_answer (exam " in file.read_bytes()
    with closing(sqlite3.connect(":memory:")) as connection:
        for table, columns in TABLES.items():
            connection.execute(f"CREATE TABLE {table} ({columns})")
        own = {
            table: [row[1] for row in connection.execute(f"PRAGMA table_info({table})")]
            for table in TABLES
        }
    return all(own.get(name) == columns for name, columns in found.items())


def _readable(file, table):
    """Rows of a damaged file; one that cannot be read does not hide those behind it."""
    rows, number, missed = [], 0, 0
    with closing(sqlite3.connect(file)) as connection:
        connection.row_factory = sqlite3.Row
        while missed < MISSED_AT_MOST:
            number, missed = number + 1, missed + 1
            with suppress(sqlite3.DatabaseError):
                query = f"SELECT * FROM {table} WHERE rowid = ?"
                row = connection.execute(query, (number,)).fetchone()
                if row is not None:
                    rows.append(dict(row))
                    missed = 0
    return rows


def _full_length(data):
    """Fill a file that was cut off up to the length that its head states.

    SQLite reads nothing at all of a shorter one. Page size and number of pages stand at bytes 16
    and 28 of the head (SQLite's file format, sqlite.org/fileformat2.html).
    """
    page = int.from_bytes(data[16:18], "big")
    pages = int.from_bytes(data[28:32], "big")
    if not data.startswith(HEADER) or page * pages > 10**9:
        return data
    return data.ljust(page * pages, b"\0")


def _insert(connection, table, row):
    names = [column["name"] for column in connection.execute(f"PRAGMA table_info({table})")]
    places = ", ".join("?" * len(names))
    connection.execute(
        f"INSERT OR REPLACE INTO {table} VALUES ({places})", [row[name] for name in names]
    )
