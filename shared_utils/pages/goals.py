"""What a lesson says that its reader will be able to do."""

import re

from shared_utils.pages import source


def goal_texts(lesson: str) -> dict[int, str]:
    """Return the goals of a lesson in words, by number.

    Parameters
    ----------
    lesson : str
        The lesson, such as ``"vergence"``, with or without its number.

    Returns
    -------
    dict of int to str
        Empty if the lesson is not there.
    """
    part = re.split(r"^# %% ", source.lesson_text(lesson).partition('part="goals"')[2], flags=re.M)[
        0
    ]
    listed = re.findall(r"^# (\d)\. \*\*(.+?)\*\*", part, re.M | re.S)
    return {int(number): " ".join(words.replace("\n# ", " ").split()) for number, words in listed}


def goal_text(lesson: str, number: int) -> str:
    """Return a goal in words.

    Parameters
    ----------
    lesson : str
        The lesson, such as ``"vergence"``, with or without its number.
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
    >>> goal_text("vergence", 2)
    'find the image that a lens or a surface makes'
    """
    texts = goal_texts(lesson)
    if number not in texts:
        raise ValueError(f"Lesson {lesson} has no goal {number}; see the list at its top.")
    return texts[number]
