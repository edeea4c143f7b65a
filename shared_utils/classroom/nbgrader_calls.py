"""nbgrader with a class's settings: its commands, its gradebook, its failures as a sentence."""

import logging
import warnings
from contextlib import contextmanager

from shared_utils.classroom.roster import COLUMNS


@contextmanager
def nbgrader_settings(folder):
    """Give a class's settings for nbgrader, whose messages go to the log meanwhile.

    Parameters
    ----------
    folder : path-like
        The class's folder.
    """
    from traitlets.config import Config

    from shared_utils.grading.supervisor import settings

    handler = logging.FileHandler(settings.log_path(folder), encoding="utf-8")
    handler.setFormatter(logging.Formatter("%(asctime)s %(levelname)s %(message)s"))
    loggers = [logging.getLogger(name) for name in ("traitlets", "py.warnings")]
    with warnings.catch_warnings():
        warnings.simplefilter("default")
        logging.captureWarnings(True)
        for logger in loggers:
            logger.addHandler(handler)
        try:
            yield settings.configure(Config(), folder)
        finally:
            for logger in loggers:
                logger.removeHandler(handler)
            handler.close()
            logging.captureWarnings(False)


@contextmanager
def open_nbgrader(folder):
    """Give nbgrader with a class's settings."""
    from nbgrader.apps import NbGraderAPI

    with nbgrader_settings(folder) as config:
        yield NbGraderAPI(config=config)


@contextmanager
def open_gradebook(folder):
    """Give a class's gradebook."""
    with nbgrader_settings(folder) as config:
        gradebook = gradebook_of(config)
        try:
            yield gradebook
        finally:
            gradebook.close()


def gradebook_of(config):
    """Return the gradebook that nbgrader's settings name, to be closed after use.

    Raises
    ------
    ValueError
        If it cannot be opened.
    """
    from sqlalchemy.exc import SQLAlchemyError

    from shared_utils.grading.supervisor import gradebook

    try:
        return gradebook.TransactionalGradebook(config)
    except SQLAlchemyError as error:
        raise ValueError(f"The gradebook cannot be opened: {_reason(error)}.") from None


def keep_roster(gradebook, people):
    """Write a roster into the gradebook."""
    gradebook.write_roster(
        {
            learner: {column: person[column] or None for column in COLUMNS[1:]}
            for learner, person in people.items()
        }
    )


def require_success(outcome, sentence, known=()):
    """Turn a failure of nbgrader's into one sentence.

    Parameters
    ----------
    outcome : dict
        As nbgrader's own commands give it.
    sentence : str
        What could not be done.
    known : dict of str to str
        Words of a known failure → what it means.

    Raises
    ------
    KeyboardInterrupt
        If it was stopped by hand, which nbgrader catches with everything else.
    ValueError
        If it failed in any other way.
    """
    error = outcome.get("error", "")
    if "KeyboardInterrupt" in error:
        raise KeyboardInterrupt
    if outcome["success"]:
        return
    logging.getLogger("traitlets").error(error)
    words = error + outcome.get("log", "")
    for mark in known:
        if mark in words:
            raise ValueError(f"{sentence}: it {known[mark]}.")
    raise ValueError(f"{sentence} ({_last_line(outcome)}); class.log tells more.")


def _last_line(outcome):
    lines = [line for line in outcome.get("error", "").splitlines() if line.strip()]
    return lines[-1].strip().rstrip(".") if lines else "no reason given"


def _reason(error):
    """Return what a database says is wrong, without the advice of the library in between."""
    lines = str(getattr(error, "orig", None) or error).strip().splitlines()
    return lines[-1].rstrip(".") if lines else type(error).__name__


def refuse_used_database(url):
    """Refuse a database that cannot be reached or holds something."""
    from sqlalchemy import create_engine, inspect
    from sqlalchemy.exc import SQLAlchemyError

    from shared_utils.grading.supervisor import settings

    try:
        engine = create_engine(settings.with_driver(url))
        tables = inspect(engine).get_table_names()
        engine.dispose()
    except ModuleNotFoundError as error:
        raise ValueError(
            f"{error.name} is missing for this database: run `pip install -e '.[postgres]'` in the "
            "course's folder."
        ) from None
    except SQLAlchemyError as error:
        raise ValueError(f"The database cannot be used: {_reason(error)}.") from None
    if tables:
        raise ValueError(
            "The database is not empty: each class has one of its own; make another with createdb."
        )
