"""What lenses do to light: shares of the foci, contrast through focus, acuity against distance."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from shared_utils.optics import acuity, lenses, through_focus
from shared_utils.optics.domain import require, require_one
from shared_utils.optics.lenses import PUPIL_HINT, PUPIL_RANGE_MM

if TYPE_CHECKING:
    from collections.abc import Sequence
    from typing import Any

    from numpy.typing import ArrayLike

    from shared_utils.optics.lenses import Lens
    from shared_utils.optics.types import FloatOrArray

VERGENCE_D = np.linspace(1.0, -4.0, 201)
USABLE_LOGMAR = 0.2
ASPHERIC_BODY_UM = -0.2
"""Spherical aberration over 6 mm of an invented aspheric body: of the average cornea's +0.27 µm it
leaves +0.07 µm."""

MOON_ARCMIN, MOON_MRAD = 31.0, 9.0
"""Width of the full Moon."""


def class_lenses(lens_sa_um: float = 0.0) -> tuple[Lens, ...]:
    """Return one generic lens of each class, monofocal first, trifocal last.

    Parameters
    ----------
    lens_sa_um : float
        Spherical aberration of every lens over a 6-mm pupil, µm; −0.2 takes away
        most of the average cornea's.

    Returns
    -------
    tuple of Lens
    """
    makers = (
        lenses.monofocal,
        lenses.enhanced_monofocal,
        lenses.extended_depth_smooth,
        lenses.diffractive_bifocal,
        lenses.diffractive_trifocal,
    )
    return tuple(make(lens_sa_um=lens_sa_um) for make in makers)


def some_lenses(given: Any, lens_sa_um: float = 0.0) -> tuple[Lens, ...]:
    """Return the lenses to draw, or say in one sentence why they cannot be drawn.

    Parameters
    ----------
    given : Lens, sequence of one to five Lens, or None
        One of each class if None.
    lens_sa_um : float
        As for `class_lenses`, for those.

    Returns
    -------
    tuple of Lens

    Raises
    ------
    ValueError
        If there are none, too many, or something is not a lens.

    Examples
    --------
    >>> len(some_lenses(None)), len(some_lenses(lenses.monofocal()))
    (5, 1)
    """
    if given is None:
        return class_lenses(lens_sa_um)
    given = tuple(given) if isinstance(given, (list, tuple)) else (given,)
    if not 1 <= len(given) <= 5:
        raise ValueError(f"lenses holds {len(given)}; give one to five: more cannot be told apart.")
    for lens in given:
        lenses.require_lens(lens)
    return given


def snellen_line(logmar: float) -> float:
    """Return the lower number of 20/x of an acuity.

    Parameters
    ----------
    logmar : float
        −1 to 3 logMAR.

    Returns
    -------
    float

    Examples
    --------
    >>> round(snellen_line(0.3))
    40
    """
    return float(acuity.convert(logmar, "logmar", "snellen_20"))


def logmar_of_line(line: ArrayLike) -> FloatOrArray:
    """Return the acuity of a line of a chart.

    Parameters
    ----------
    line : scalar or array
        The lower number of 20/x, 2 to 20000.

    Returns
    -------
    float or array
        logMAR.

    Examples
    --------
    >>> round(logmar_of_line(40), 2)
    0.3
    """
    return acuity.convert(line, "snellen_20", "logmar")


@dataclass(frozen=True)
class EnergySplit:
    """Where the light of some lenses goes."""

    lenses: tuple
    pupil_mm: float
    budgets: list  # for each lens: focus → share of the light, and what is lost

    @property
    def loses_most(self) -> int:
        """Place of the lens that loses most."""
        return int(np.argmax([budget["lost"] for budget in self.budgets]))

    @property
    def max_lost_percent(self) -> float:
        """What that lens loses, % of the light."""
        return 100.0 * self.budgets[self.loses_most]["lost"]


def energy_split(
    given: Lens | Sequence[Lens] | None = None,
    pupil_mm: float = 3.0,
    wavelength_nm: float | None = 555.0,
) -> EnergySplit:
    """Return where the light of some lenses goes.

    Parameters
    ----------
    given : Lens or sequence of up to five, optional
        One of each class unless given.
    pupil_mm : float
        Pupil diameter, 0.5 to 9 mm.
    wavelength_nm : float or None
        380 to 780 nm; None for white light.

    Returns
    -------
    EnergySplit

    Examples
    --------
    >>> split = energy_split()
    >>> split.lenses[split.loses_most].name, round(split.max_lost_percent)
    ('bifocal', 19)
    """
    given = some_lenses(given)
    pupil_mm = require_one("pupil_mm", pupil_mm, *PUPIL_RANGE_MM, hint=PUPIL_HINT)
    budgets = [lens.energy_budget(wavelength_nm, pupil_mm) for lens in given]
    return EnergySplit(given, pupil_mm, budgets)


@dataclass(frozen=True)
class ContrastCurves:
    """Contrast of some lenses along VERGENCE_D, a row for each pupil, a column for each lens."""

    lenses: tuple
    pupils_mm: tuple
    frequency_cpd: float
    curves: list
    far: list
    beside_monofocal: list  # contrast at far of the chosen lens over a monofocal's, or None

    @property
    def highest(self) -> float:
        """The highest contrast of all."""
        return np.max(self.curves)

    def chosen(self, row: int) -> int:
        """Place of the lens whose far contrast is written: a bifocal, or else the poorest."""
        return _chosen_contrast(self.lenses, self.far[row])

    def best_near(self, row: int, column: int) -> tuple[float, float]:
        """Highest contrast within 1 m and the distance where it is, cm."""
        curve = self.curves[row][column]
        best = int(np.argmax(np.where(VERGENCE_D <= -1.0, curve, -1.0)))
        return curve[best], -100.0 / VERGENCE_D[best]


def _chosen_contrast(given, far):
    # the rule that contrast follows the share of the light is the bifocal's
    bifocal = [i for i, lens in enumerate(given) if lens.lens_class == "bifocal"]
    return bifocal[0] if bifocal else int(np.argmin(far))


def contrast_curves(
    given: Lens | Sequence[Lens] | None = None,
    pupils_mm: ArrayLike = (3.0, 4.5),
    frequency_cpd: float = 15.0,
) -> ContrastCurves:
    """Return the contrast of some lenses against the vergence of the object, in white light.

    Parameters
    ----------
    given : Lens or sequence of up to five, optional
        One of each class unless given.
    pupils_mm : one or two floats
        Pupil diameters, 0.5 to 9 mm.
    frequency_cpd : float
        Fineness of the lines, 1 to 60 cycles/degree; 15 are about 50 lines/mm on the retina.

    Returns
    -------
    ContrastCurves

    Examples
    --------
    The bifocal keeps about four tenths of the monofocal's contrast.

    >>> curves = contrast_curves(pupils_mm=3.0)
    >>> round(curves.beside_monofocal[0], 1)
    0.4
    """
    given = some_lenses(given)
    given_mm = np.atleast_1d(require("pupils_mm", pupils_mm, *PUPIL_RANGE_MM, hint=PUPIL_HINT))
    if given_mm.ndim != 1 or len(given_mm) not in (1, 2):
        raise ValueError(f"pupils_mm holds {given_mm.size} numbers; give one pupil or two, in mm.")
    frequency = require_one("frequency_cpd", frequency_cpd, 1.0, 60.0, hint="Of visual angle.")
    pupils = tuple(given_mm.tolist())
    curves, far, beside = [], [], []
    for pupil in pupils:
        curves.append([through_focus.mtf(lens, pupil, VERGENCE_D, frequency) for lens in given])
        far.append([through_focus.mtf(lens, pupil, 0.0, frequency) for lens in given])
        whole = through_focus.mtf(lenses.monofocal(), pupil, 0.0, frequency)
        chosen = _chosen_contrast(given, far[-1])
        known = whole > 0.01 and given[chosen].lens_class != "monofocal"
        beside.append(far[-1][chosen] / whole if known else None)
    return ContrastCurves(given, pupils, frequency, curves, far, beside)


@dataclass(frozen=True)
class AcuityCurves:
    """Predicted acuity of some lenses along VERGENCE_D, at 40 cm, and how far it stays usable."""

    lenses: tuple
    pupil_mm: float
    curves_logmar: list
    at_40_cm_logmar: list
    reach_d: list

    @property
    def chosen(self) -> int:
        """Place of the lens whose range is written: extended depth, or else the longest."""
        extended = [
            i for i, lens in enumerate(self.lenses) if lens.lens_class == "extended depth of focus"
        ]
        return extended[0] if extended else int(np.argmax(self.reach_d))

    @property
    def chosen_ends(self) -> bool:
        """Whether its range ends within what is shown."""
        return 0.0 < self.reach_d[self.chosen] < 4.0


def acuity_curves(
    given: Lens | Sequence[Lens] | None = None, pupil_mm: float = 3.0
) -> AcuityCurves:
    """Return the predicted acuity of some lenses against the vergence of the object.

    Parameters
    ----------
    given : Lens or sequence of up to five, optional
        One of each class unless given.
    pupil_mm : float
        Pupil diameter, 0.5 to 9 mm.

    Returns
    -------
    AcuityCurves

    Examples
    --------
    >>> curves = acuity_curves(lenses.monofocal())
    >>> len(curves.curves_logmar), curves.chosen_ends
    (1, True)
    """
    given = some_lenses(given)
    pupil_mm = require_one("pupil_mm", pupil_mm, *PUPIL_RANGE_MM, hint=PUPIL_HINT)
    return AcuityCurves(
        given,
        pupil_mm,
        [through_focus.acuity_logmar(lens, pupil_mm, VERGENCE_D) for lens in given],
        [through_focus.acuity_logmar(lens, pupil_mm, -2.5) for lens in given],
        [through_focus.usable_range_d(lens, pupil_mm, USABLE_LOGMAR) for lens in given],
    )
