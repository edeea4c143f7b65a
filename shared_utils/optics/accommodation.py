"""How much an eye of an age can accommodate.

Sources
-------
Hofstetter, A useful age-amplitude formula, Optom World 1950;38:42, drawn from the push-up
measurements of Donders (1864) and Duane (1922).
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from shared_utils.optics.domain import require, require_one_of, unwrap_scalar

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from shared_utils.optics.types import FloatOrArray

# population: amplitude at birth by the line, D, and what a year takes, D
HOFSTETTER_LINES = {"minimum": (15.0, 0.25), "average": (18.5, 0.30), "maximum": (25.0, 0.40)}


def amplitude_at_age(age_years: ArrayLike, population: str = "average") -> FloatOrArray:
    """Return the amplitude of accommodation that people of an age have, by Hofstetter's lines.

    Parameters
    ----------
    age_years : scalar or array
        5 to 100 years.
    population : str
        ``minimum``, ``average`` or ``maximum`` of people of that age.

    Returns
    -------
    float or array
        D; 0 where the line has run out.

    Notes
    -----
    The amplitude as people report it when print is pushed up to the eye. Blur too small to be
    noticed counts as clear there, so the eye itself changes by less: by about 2.5 D at 40 years,
    measured by an instrument (Anderson and others, Invest Ophthalmol Vis Sci 2008;49:2919).

    Sources
    -------
    Hofstetter 1950: 15 − 0.25 age, 18.5 − 0.30 age, 25 − 0.40 age.

    Examples
    --------
    At 45 years: 18.5 − 13.5.

    >>> amplitude_at_age(45)
    5.0
    """
    age_years = require("age_years", age_years, 5.0, 100.0, hint="Age in years.")
    start_d, loss_d = HOFSTETTER_LINES[require_one_of("population", population, HOFSTETTER_LINES)]
    return unwrap_scalar(np.maximum(start_d - loss_d * age_years, 0.0))
