"""Which id of a platform is which learner of the roster; and where marks go.

Nobody gets into the roster by a launch. Who is not recognised is listed for the instructor.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from shared_utils.clinic.plain_text import shown

if TYPE_CHECKING:
    from collections.abc import Mapping
    from typing import Any

    from shared_utils.classroom.folder import ClassFolder

WIDEST = 80


@dataclass(frozen=True)
class Unknown:
    """Somebody who came from a platform and is not yet a learner of the roster."""

    issuer: str
    sub: str
    name: str
    email: str


def find(folder: ClassFolder, match: str, claims: Mapping[str, Any]) -> str:
    """Return the learner who a signed launch is from; an empty text if none is known.

    Parameters
    ----------
    folder : ClassFolder
    match : str
        As ``settings.MATCHES`` has it. A match is kept, so that a later address changes nothing.
    claims : mapping
        The launch's, already verified.
    """
    roster = folder.roster()
    issuer, sub = claims["iss"], claims["sub"]
    known = of_platform(folder, issuer).get(sub, "")
    if known:
        return known if known in roster else ""
    found = []
    email = claims.get("email")
    if match == "email" and isinstance(email, str) and email.strip():
        same = email.strip().casefold()
        found = [one for one, person in roster.items() if person["email"].casefold() == same]
    elif match == "sub" and sub in roster:
        found = [sub]
    if len(found) == 1 and found[0] not in of_platform(folder, issuer).values():
        assign(folder, issuer, sub, found[0])
        return found[0]
    return ""


def of_platform(folder: ClassFolder, issuer: str) -> dict[str, str]:
    """Return the learners of a platform: its id → the roster's."""
    rows = _records(folder).rows("SELECT * FROM lti_learner WHERE issuer = ?", (issuer,))
    return {row["sub"]: row["learner"] for row in rows}


def assign(folder: ClassFolder, issuer: str, sub: str, learner: str) -> None:
    """Keep that an id of a platform is a learner of the roster.

    Raises
    ------
    ValueError
        If the roster has no such learner, or another id of the platform is this learner.
    """
    from shared_utils.grading.supervisor.records import utc_text

    if learner not in folder.roster():
        raise ValueError(f"There is no learner {shown(learner, WIDEST)!r} in roster.csv.")
    taken = [s for s, who in of_platform(folder, issuer).items() if who == learner and s != sub]
    if taken:
        raise ValueError(
            f"{learner} is {shown(taken[0], WIDEST)!r} on that platform already: take that away "
            "first, with --remove."
        )
    with _records(folder).opened() as database:
        database.execute(
            "INSERT OR REPLACE INTO lti_learner VALUES (?, ?, ?, ?)",
            (issuer, sub, learner, utc_text()),
        )
        database.execute("DELETE FROM lti_unknown WHERE issuer = ? AND sub = ?", (issuer, sub))


def remove(folder: ClassFolder, issuer: str, sub: str) -> bool:
    """Forget which learner an id is; return whether one was known."""
    with _records(folder).opened() as database:
        done = database.execute(
            "DELETE FROM lti_learner WHERE issuer = ? AND sub = ?", (issuer, sub)
        )
        return done.rowcount > 0


def note_unknown(folder: ClassFolder, claims: Mapping[str, Any]) -> None:
    """List somebody for the instructor."""
    from shared_utils.grading.supervisor.records import utc_text

    name, email = (shown(str(claims.get(each) or ""), WIDEST) for each in ("name", "email"))
    with _records(folder).opened() as database:
        database.execute(
            "INSERT OR REPLACE INTO lti_unknown VALUES (?, ?, ?, ?, ?)",
            (claims["iss"], claims["sub"], name, email, utc_text()),
        )


def unknown(folder: ClassFolder) -> list[Unknown]:
    """Return who came and is not a learner of the roster, in the order in which they came."""
    rows = _records(folder).rows("SELECT * FROM lti_unknown ORDER BY at, sub")
    return [Unknown(row["issuer"], row["sub"], row["name"], row["email"]) for row in rows]


def _records(folder):
    from shared_utils.grading.supervisor.records import Records

    return Records(folder.path)
