"""Everyday tasks: how far away, how large the letters, in which light, and the acuity they need.

Sources
-------
Distances of dashboard, screen and telephone: common practice, no source, but that of a telephone
as it is held, Boccardo 2021 (presbyopes 39 ± 6 cm). Letter sizes (height of a small x) are usual
ones: common practice, no source. Reserve of two to one for a page, Whittaker & Lovie-Kitchin,
Optom Vis Sci 1993 (from memory); of 1.25 to one for a word or number, and what poor light costs,
assumed.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from shared_utils.optics.domain import require, require_instance, require_one_of

LIGHT_LOSS_LOGMAR = {"bright": 0.0, "dim": 0.1, "night": 0.2}
"""What light costs in acuity beside what a wider pupil costs: assumed."""

PAGE_RESERVE_LOGMAR, WORD_RESERVE_LOGMAR = 0.3, 0.1


@dataclass(frozen=True)
class Task:
    """Something that people do with their eyes.

    Parameters
    ----------
    name : str
        What it is called.
    distance_m : float
        From the eye, 0.25 m or more.
    letter_mm : float
        Height of a small x, 0.1 mm or more.
    light : str
        "bright", "dim" or "night".
    page : bool
        Whether lines are read for long, rather than a word or number picked out.
    """

    name: str
    distance_m: float
    letter_mm: float
    light: str = "bright"
    page: bool = False

    def __post_init__(self):
        hint = "In centimetres? Divide by 100."
        require("distance_m", self.distance_m, 0.25, 1e4, hint=hint)
        require("letter_mm", self.letter_mm, 0.1, 1e4, hint="The height of a small x.")
        require_one_of("light", self.light, LIGHT_LOSS_LOGMAR)
        require_instance("name", self.name, str, "what the task is called, in words")
        require_instance("page", self.page, bool, "True or False")

    @property
    def vergence_d(self) -> float:
        """Of the object at the eye, D: negative."""
        return -1.0 / self.distance_m

    @property
    def needed_logmar(self) -> float:
        """Acuity that makes the task clear.

        >>> round(Task("a page", 0.40, 1.45, page=True).needed_logmar, 2)
        0.1
        """
        limb_arcmin = np.degrees(self.letter_mm / 1000.0 / self.distance_m) * 60.0 / 5.0
        reserve = PAGE_RESERVE_LOGMAR if self.page else WORD_RESERVE_LOGMAR
        return float(np.log10(limb_arcmin)) - reserve - LIGHT_LOSS_LOGMAR[self.light]


TASKS = (
    Task("road sign by day", 20.0, 80.0),
    Task("road sign at night", 20.0, 80.0, light="night"),
    Task("television", 3.0, 12.0),
    Task("dashboard", 0.75, 2.5),
    Task("computer", 0.65, 2.5, page=True),
    Task("shelf", 0.60, 2.0),
    Task("phone at arm's length", 0.55, 1.5),
    Task("newspaper", 0.40, 1.5, page=True),
    Task("novel held close", 0.33, 1.6, page=True),
    Task("fine print in dim light", 0.40, 1.2, light="dim"),
)
"""From far to near."""

TASK_NAMES = tuple(task.name for task in TASKS)
