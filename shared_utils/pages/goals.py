"""What a lesson says that its reader will be able to do."""

import re

from shared_utils.course.place import course_root


def goal_texts(stem):
    """Return the goals of a lesson in words, by number.

    Parameters
    ----------
    stem : str
        The lesson, such as ``"01_vergence"``.

    Returns
    -------
    dict of int to str
        Empty if the lesson is not there.
    """
    part = re.split(r"^# %% ", lesson_text(stem).partition('part="goals"')[2], flags=re.M)[0]
    listed = re.findall(r"^# (\d)\. \*\*(.+?)\*\*", part, re.M | re.S)
    return {int(number): " ".join(words.replace("\n# ", " ").split()) for number, words in listed}


def goal_text(stem, number):
    """Return a goal in words.

    Parameters
    ----------
    stem : str
        The lesson, such as ``"01_vergence"``.
    number : int
        Counted from 1, as the lesson numbers them.

    Returns
    -------
    str

    Raises
    ------
    ValueError
        If the lesson has no such goal.

    Examples
    --------
    >>> goal_text("01_vergence", 1)
    'reckon the vergence of light at any place'
    """
    texts = goal_texts(stem)
    if number not in texts:
        raise ValueError(f"Lesson {stem} has no goal {number}; see the list at its top.")
    return texts[number]


def lesson_text(stem):
    """Return the text that a lesson is built from, or an empty one if it is not there."""
    path = course_root() / "lessons" / "source" / f"{stem}.py"
    return path.read_text(encoding="utf-8") if path.is_file() else ""
