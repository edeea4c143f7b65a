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
    if "assignment" not in _tables(url, "The gradebook cannot be read"):
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
    if _tables(url, "The database cannot be used"):
        raise ValueError(
            "The database is not empty: each class has one of its own; make another with createdb."
        )


def reason(error: SQLAlchemyError) -> str:
    """Return what a database says is wrong, without what the library in between adds."""
    lines = str(getattr(error, "orig", None) or error).strip().splitlines()
    return lines[-1].rstrip(".") if lines else type(error).__name__


def _tables(url, sentence):
    engine = engine_of(url)
    try:
        return sqlalchemy.inspect(engine).get_table_names()
    except SQLAlchemyError as error:
        raise ValueError(f"{sentence}: {reason(error)}.") from None
    finally:
        engine.dispose()
