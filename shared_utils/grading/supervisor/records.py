"""What the instructor's side keeps about a class beside nbgrader's gradebook, in one file.

When work was received, why it was not marked, the late rule, extra time, problems that were taken
out of a set, which answer a mark by hand was given for, answers that were found alike, and what
learning platforms were sent.
SQLite keeps it in the class's folder; each change is one transaction.
"""

from __future__ import annotations

import sqlite3
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence
    from os import PathLike
    from typing import Any

FILE = "records.db"
WAIT_S = 30
VERSION = 2
TABLES = {
    "setting": "name TEXT PRIMARY KEY, value TEXT NOT NULL",
    # a learner's work is known by its digest: another file is received anew
    "received": (
        "set_name TEXT, learner TEXT, digest TEXT, at TEXT NOT NULL, how TEXT NOT NULL, "
        "PRIMARY KEY (set_name, learner, digest)"
    ),
    "handed_in": (
        "set_name TEXT, learner TEXT, digest TEXT NOT NULL, PRIMARY KEY (set_name, learner)"
    ),
    "not_marked": (
        "set_name TEXT, learner TEXT, why TEXT NOT NULL, at TEXT NOT NULL, digest TEXT, "
        "PRIMARY KEY (set_name, learner)"
    ),
    # an empty set_name is every set
    "extra_time": (
        "set_name TEXT, learner TEXT, seconds REAL NOT NULL, PRIMARY KEY (set_name, learner)"
    ),
    "answer": (
        "set_name TEXT, learner TEXT, cell TEXT, digest TEXT NOT NULL, "
        "PRIMARY KEY (set_name, learner, cell)"
    ),
    "adjustment": (
        "number INTEGER PRIMARY KEY, at TEXT NOT NULL, set_name TEXT NOT NULL, "
        "problem TEXT NOT NULL, what TEXT NOT NULL, why TEXT NOT NULL"
    ),
    "kept_grade": (
        "set_name TEXT, learner TEXT, cell TEXT, extra_credit REAL, needs_manual INTEGER NOT NULL, "
        "PRIMARY KEY (set_name, learner, cell)"
    ),
    # the numbers of a learner in a set, which take time to compute
    "drawn": "source TEXT, learner TEXT, value TEXT NOT NULL, PRIMARY KEY (source, learner)",
    "alike": (
        "set_name TEXT, problem TEXT, kind TEXT, one TEXT, other TEXT, why TEXT NOT NULL, "
        "text_one TEXT, text_other TEXT, found TEXT NOT NULL, "
        "PRIMARY KEY (set_name, problem, kind, one, other, text_one, text_other)"
    ),
    # learning platforms: who is who, who is not known, where marks go, what was accepted there
    "lti_learner": (
        "issuer TEXT, sub TEXT, learner TEXT NOT NULL, at TEXT NOT NULL, PRIMARY KEY (issuer, sub)"
    ),
    "lti_unknown": (
        "issuer TEXT, sub TEXT, name TEXT NOT NULL, email TEXT NOT NULL, at TEXT NOT NULL, "
        "PRIMARY KEY (issuer, sub)"
    ),
    "lti_service": (
        "issuer TEXT, client_id TEXT, context_id TEXT, lineitems TEXT NOT NULL, "
        "scopes TEXT NOT NULL, at TEXT NOT NULL, PRIMARY KEY (issuer, client_id, context_id)"
    ),
    "lti_score": (
        "line_item TEXT, sub TEXT, score TEXT NOT NULL, at TEXT NOT NULL, "
        "PRIMARY KEY (line_item, sub)"
    ),
}


def _to_do(error):
    """Return what helps; only a damaged file is to be moved away, for a good one holds rules."""
    why = str(error)
    if "readonly" in why or "unable to open" in why:
        return "see whether you may write into the class's folder"
    if "locked" in why:
        return "another program holds it; wait until that has ended, then do this again"
    if "full" in why:
        return "free some space, then do this again"
    return "put it back from a copy, or move it away to begin without what it holds"


class Records:
    """The file, opened for each use, so that two instructors can work at once.

    Parameters
    ----------
    folder : path-like
        The class's folder.

    Raises
    ------
    ValueError
        If the file is there and cannot be read.
    """

    def __init__(self, folder: str | PathLike[str]) -> None:
        self.file = Path(folder).resolve() / FILE

    @contextmanager
    def opened(self) -> Iterator[sqlite3.Connection]:
        """Give the database for one transaction."""
        try:
            database = sqlite3.connect(self.file, timeout=WAIT_S)
        except sqlite3.Error as error:
            raise ValueError(f"{self.file} cannot be opened: {error}.") from None
        database.row_factory = sqlite3.Row
        try:
            with database:
                if database.execute("PRAGMA user_version").fetchone()[0] < VERSION:
                    for name, columns in TABLES.items():
                        database.execute(f"CREATE TABLE IF NOT EXISTS {name} ({columns})")
                    database.execute(f"PRAGMA user_version = {VERSION}")
                yield database
        except sqlite3.Error as error:
            raise ValueError(f"{self.file} cannot be used ({error}): {_to_do(error)}.") from None
        finally:
            database.close()

    def rows(self, query: str, values: Sequence[Any] = ()) -> list[sqlite3.Row]:
        """Return the rows of a query; none where nothing was ever kept."""
        if not self.file.is_file():
            return []
        with self.opened() as database:
            return database.execute(query, values).fetchall()

    def setting(self, name: str) -> str:
        """Return a setting of the class, or an empty text."""
        found = self.rows("SELECT value FROM setting WHERE name = ?", (name,))
        return found[0]["value"] if found else ""

    def keep_setting(self, name: str, value: str) -> None:
        """Keep a setting of the class."""
        with self.opened() as database:
            database.execute("INSERT OR REPLACE INTO setting VALUES (?, ?)", (name, value))

    def note_file(self, set_name: str, learner: str, digest: str, at: datetime, how: str) -> None:
        """Note a file that is there, with the time from which on it is known to be.

        The first time counts: a file that is copied or touched later was there before.
        """
        with self.opened() as database:
            database.execute(
                "INSERT OR IGNORE INTO received VALUES (?, ?, ?, ?, ?)",
                (set_name, learner, digest, utc_text(at), how),
            )
            database.execute(
                "INSERT OR REPLACE INTO handed_in VALUES (?, ?, ?)", (set_name, learner, digest)
            )

    def list_received(
        self, set_name: str, learner: str, digest: str, at: datetime, how: str
    ) -> None:
        """Keep when a file was received, in place of what was noted before."""
        with self.opened() as database:
            database.execute(
                "INSERT OR REPLACE INTO received VALUES (?, ?, ?, ?, ?)",
                (set_name, learner, digest, utc_text(at), how),
            )

    def received(
        self, set_name: str, learner: str | None = None
    ) -> dict[str, tuple[datetime, str]]:
        """Return when each learner's present file was received, in UTC, and who says so."""
        query = (
            "SELECT learner, at, how FROM received JOIN handed_in USING (set_name, learner, digest)"
            " WHERE set_name = ?"
        )
        values = [set_name]
        if learner is not None:  # else a large class takes a time that grows with its square
            query, values = f"{query} AND learner = ?", [set_name, learner]
        return {
            row["learner"]: (datetime.fromisoformat(row["at"]), row["how"])
            for row in self.rows(query, values)
        }

    def extra_seconds(self, set_name: str) -> dict[str, float]:
        """Return the extra time of each learner who has some in a set, in s."""
        query = "SELECT * FROM extra_time WHERE set_name IN ('', ?) ORDER BY set_name"
        return {row["learner"]: row["seconds"] for row in self.rows(query, (set_name,))}

    def give_extra_time(self, set_name: str, learner: str, seconds: float) -> None:
        """Keep a learner's extra time in a set; an empty name is every set."""
        with self.opened() as database:
            database.execute(
                "INSERT OR REPLACE INTO extra_time VALUES (?, ?, ?)", (set_name, learner, seconds)
            )

    def not_marked(self, set_name: str) -> dict[str, str]:
        """Return why submissions to a set were not marked: learner → sentence."""
        # another file that has come in since is not yet tried
        query = (
            "SELECT learner, why FROM not_marked LEFT JOIN handed_in USING (set_name, learner) "
            "WHERE set_name = ? AND (not_marked.digest IS NULL OR not_marked.digest IS "
            "handed_in.digest) ORDER BY learner"
        )
        rows = self.rows(query, (set_name,))
        return {row["learner"]: row["why"] for row in rows}

    def note_outcome(self, set_name: str, learner: str, why: str = "") -> None:
        """Note why a submission was not marked; an empty text if it was."""
        if not why and not self.file.is_file():
            return
        with self.opened() as database:
            database.execute(
                "DELETE FROM not_marked WHERE set_name = ? AND learner = ?", (set_name, learner)
            )
            if why:
                database.execute(
                    "INSERT INTO not_marked SELECT ?, ?, ?, ?, (SELECT digest FROM handed_in "
                    "WHERE set_name = ? AND learner = ?)",
                    (set_name, learner, why, utc_text(), set_name, learner),
                )

    def answers(self, set_name: str, learner: str) -> dict[str, str]:
        """Return the digests of the answers that were last marked: cell → digest."""
        query = "SELECT cell, digest FROM answer WHERE set_name = ? AND learner = ?"
        return {row["cell"]: row["digest"] for row in self.rows(query, (set_name, learner))}

    def keep_answers(self, set_name: str, learner: str, digests: Mapping[str, str]) -> None:
        """Keep the digests of the answers that are marked now."""
        with self.opened() as database:
            database.executemany(
                "INSERT OR REPLACE INTO answer VALUES (?, ?, ?, ?)",
                [(set_name, learner, cell, digest) for cell, digest in digests.items()],
            )


def utc_text(at: datetime | None = None) -> str:
    """Return a moment as text in UTC, to the second; now if none is given."""
    at = at or datetime.now(UTC)
    return at.astimezone(UTC).replace(microsecond=0).isoformat()
