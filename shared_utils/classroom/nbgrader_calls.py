"""nbgrader with a class's settings: its commands, its gradebook, its failures as a sentence."""

from __future__ import annotations

import errno
import logging
import os
import warnings
from contextlib import contextmanager, suppress
from typing import TYPE_CHECKING

from shared_utils.classroom.roster import COLUMNS

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping
    from os import PathLike
    from typing import Any

    from nbgrader.apps import NbGraderAPI
    from traitlets.config import Config

    from shared_utils.grading.supervisor.gradebook import TransactionalGradebook


class _Log(logging.FileHandler):
    """The class's log: where the disk is full, a line is lost and the work goes on."""

    def handleError(self, record: logging.LogRecord) -> None:
        pass

    def close(self) -> None:
        with suppress(OSError):
            super().close()


@contextmanager
def nbgrader_settings(folder: str | PathLike[str], new: bool = False) -> Iterator[Config]:
    """Give a class's settings for nbgrader, whose messages go to the log meanwhile.

    Parameters
    ----------
    folder : path-like
        The class's folder.
    new : bool
        Whether the gradebook is still to be made.

    Raises
    ------
    ValueError
        If there is no gradebook, or it cannot be read or written.
    """
    from sqlalchemy.exc import OperationalError
    from traitlets.config import Config

    from shared_utils.classroom import gradebook_database
    from shared_utils.grading.supervisor import settings

    if not new:
        gradebook_database.require_gradebook(settings.gradebook_url(folder))
    handler = _Log(settings.log_path(folder), encoding="utf-8")
    handler.setFormatter(logging.Formatter("%(asctime)s %(levelname)s %(message)s"))
    # nbgrader's gradebook writes to the log of tornado, and else to the terminal
    names = ("traitlets", "py.warnings", "tornado.application")
    loggers = [logging.getLogger(name) for name in names]
    with warnings.catch_warnings():
        warnings.simplefilter("default")
        logging.captureWarnings(True)
        for logger in loggers:
            logger.addHandler(handler)
        try:
            yield settings.configure(Config(), folder)
        except Exception as error:  # locked, on a full disk, out of reach
            # nbgrader raises an error of its own for what the database says
            database = error if isinstance(error, OperationalError) else error.__context__
            if not isinstance(database, OperationalError):
                raise
            url = settings.gradebook_url(folder)
            raise ValueError(gradebook_database.unusable(url, database)) from error
        finally:
            for logger in loggers:
                logger.removeHandler(handler)
            handler.close()
            logging.captureWarnings(False)


@contextmanager
def open_nbgrader(folder: str | PathLike[str]) -> Iterator[NbGraderAPI]:
    """Give nbgrader with a class's settings."""
    from nbgrader.apps import NbGraderAPI

    with nbgrader_settings(folder) as config:
        yield NbGraderAPI(config=config)


@contextmanager
def open_gradebook(
    folder: str | PathLike[str], new: bool = False
) -> Iterator[TransactionalGradebook]:
    """Give a class's gradebook; a new one is made."""
    from shared_utils.grading.supervisor import gradebook

    with nbgrader_settings(folder, new) as config:
        opened = gradebook.TransactionalGradebook(config)
        try:
            yield opened
        finally:
            opened.close()


def keep_roster(gradebook: TransactionalGradebook, people: Mapping[str, Mapping[str, str]]) -> None:
    """Write a roster into the gradebook."""
    gradebook.write_roster(
        {
            learner: {column: person[column] or None for column in COLUMNS[1:]}
            for learner, person in people.items()
        }
    )


def require_success(
    outcome: dict[str, Any], sentence: str, known: Mapping[str, str] | None = None
) -> None:
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
    for mark, meaning in (known or {}).items():
        if mark in words:
            raise ValueError(f"{sentence}: it {meaning}.")
    if any(full in words for full in (os.strerror(errno.ENOSPC), "disk is full")):
        raise ValueError(f"{sentence}: the disk is full. Free some space, then do this again.")
    why = _last_line(outcome)
    why = "" if "above traceback" in why else f" ({why})"  # nbgrader's own log has it
    raise ValueError(f"{sentence}{why}; class.log tells more.")


def _last_line(outcome):
    lines = [line for line in outcome.get("error", "").splitlines() if line.strip()]
    return lines[-1].strip().rstrip(".") if lines else "no reason given"
