"""The database of a gradebook, in SQLite or PostgreSQL: opened, or refused in one sentence."""

from __future__ import annotations

from pathlib import Path

import sqlalchemy
from sqlalchemy.exc import SQLAlchemyError


def engine_of(url: str) -> sqlalchemy.Engine:
    """Return what opens the database of a gradebook.

    Parameters
    ----------
    url : str
        As SQLAlchemy takes it, ``sqlite:////folder/gradebook.db`` for one.

    Returns
    -------
    sqlalchemy.Engine
        To be disposed of after use.

    Raises
    ------
    ValueError
        If the address cannot be read, or names a database that has no driver here.
    """
    try:
        return sqlalchemy.create_engine(url)
    except ModuleNotFoundError as error:
        if error.name != "psycopg":
            raise ValueError("A gradebook can be in SQLite or in PostgreSQL alone.") from None
        raise ValueError(
            f"{error.name} is missing for this database: run `pip install -e '.[postgres]'` in the "
            "course's folder."
        ) from None
    except SQLAlchemyError as error:
        raise ValueError(f"The database cannot be used: {reason(error)}.") from None


def require_gradebook(url: str) -> None:
    """Refuse an address where there is no gradebook, before nbgrader makes an empty one.

    Parameters
    ----------
    url : str

    Raises
    ------
    ValueError
    """
    file = sqlalchemy.make_url(url)
    if file.get_backend_name() == "sqlite" and not Path(file.database or "").is_file():
        raise ValueError(
            f"There is no gradebook {file.database}: put it back from a copy, or make a new class."
        )
    if "assignment" not in _tables(url):
        raise ValueError("The gradebook is empty: put it back from a copy, or make a new class.")


def refuse_used_database(url: str) -> None:
    """Refuse a database that cannot be reached or holds something.

    Parameters
    ----------
    url : str

    Raises
    ------
    ValueError
    """
    if _tables(url):
        raise ValueError(
            "The database is not empty: each class has one of its own; make another with createdb."
        )


def reason(error: SQLAlchemyError) -> str:
    """Return what a database says is wrong, without what the library in between adds."""
    lines = str(getattr(error, "orig", None) or error).strip().splitlines()
    return lines[-1].rstrip(".") if lines else type(error).__name__


def unusable(url: str, error: SQLAlchemyError) -> str:
    """Return a sentence on a gradebook that cannot be used: where it is, why, and what to do."""
    parts = sqlalchemy.make_url(url)
    is_file = parts.get_backend_name() == "sqlite"
    where = parts.database if is_file else parts.render_as_string(hide_password=True)
    why = reason(error)
    to_do = "; see whether the server runs and can be reached, then do this again"
    if "locked" in why:
        to_do = (
            ", for another program holds it: wait until another grading has ended, or close the "
            "form grader; then do this again"
        )
    elif "full" in why:
        to_do = "; free some space, then do this again"
    elif is_file:
        to_do = "; see whether you may read and write it, or put it back from a copy"
    return f"The gradebook {where} cannot be used: {why}{to_do}."


def _tables(url):
    engine = engine_of(url)
    try:
        return sqlalchemy.inspect(engine).get_table_names()
    except SQLAlchemyError as error:
        raise ValueError(unusable(url, error)) from None
    finally:
        engine.dispose()
