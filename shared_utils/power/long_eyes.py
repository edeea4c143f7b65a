"""Axial lengths adjusted for long eyes, and the segmented length.

One adjustment at most: a length adjusted here belongs into the formula it was made for, once.
Adjusting twice, or adjusting for a formula that already allows for long eyes, leaves the patient
myopic. Every regression was published from a threshold on, and at the threshold the length jumps
(``jump_mm``): two eyes that differ by a hundredth of a millimetre can get lenses half a dioptre
apart. Where the line has not yet crossed the measured length it even lengthens the eye, as SRK/T's
of 2011 does between 25 and 25.56 mm.

Sources
-------
Wang, Shirayama, Ma, Kohnen & Koch, J Cataract Refract Surg 2011;37:2018; the revision of 2018;
Cooke & Cooke, J Cataract Refract Surg 2019;45:351. Coefficients from memory.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from shared_utils.optics.domain import broadcast, require, shown, unwrap_scalar
from shared_utils.power.biometry import AXIAL_LENGTH_RANGE_MM, require_eye
from shared_utils.power.registry import FORMULAS

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from shared_utils.optics.types import FloatOrArray
    from shared_utils.power.biometry import Eye
    from shared_utils.power.formula_record import LongEyeLine

YEARS = (2011, 2018)


def adjusted_length(axial_length_mm: ArrayLike, formula: str, year: int = 2011) -> FloatOrArray:
    """Return the axial length adjusted for long eyes, for one formula.

    Parameters
    ----------
    axial_length_mm : scalar or array
        Measured length, 15 to 40 mm; never one that was adjusted before.
    formula : str
        The formula it is for: each has its own regression.
    year : int
        2011 (above 25 mm) or 2018 (from 26.5 mm for Holladay 1, 27 mm for SRK/T).

    Returns
    -------
    float or array
        mm; unchanged below the threshold.

    Raises
    ------
    ValueError
        If no regression was published for this formula and year.

    Sources
    -------
    Wang et al. 2011 and the revision of 2018. From memory.

    Examples
    --------
    0.8289 × 28 + 4.2663 = 27.4755 mm.

    >>> round(adjusted_length(28.0, "holladay_1"), 4), adjusted_length(24.0, "holladay_1")
    (27.4755, 24.0)
    """
    slope, offset_mm, threshold_mm, from_threshold = line(formula, year)
    length_mm = require(
        "axial_length_mm", axial_length_mm, *AXIAL_LENGTH_RANGE_MM, hint="In metres? × 1000."
    )
    long = length_mm >= threshold_mm if from_threshold else length_mm > threshold_mm
    return unwrap_scalar(np.where(long, slope * length_mm + offset_mm, length_mm))


def adjusted_eye(eye: Eye, formula: str, year: int = 2011) -> Eye:
    """Return the eye with its length adjusted, ready for this one formula.

    >>> from shared_utils.power.biometry import Eye
    >>> adjusted_eye(Eye(30.0, 43.5), "srk_t").axial_length_mm.__round__(3)
    29.354
    """
    require_eye("eye", eye)
    return replace(eye, axial_length_mm=adjusted_length(eye.axial_length_mm, formula, year))


def jump_mm(formula: str, year: int = 2011) -> float:
    """Return by how much the length jumps at the threshold; negative shortens the eye.

    Parameters
    ----------
    formula : str
    year : int
        2011 or 2018.

    Returns
    -------
    float
        mm.

    Sources
    -------
    Wang et al. 2011 and the revision of 2018. From memory.

    Examples
    --------
    >>> round(jump_mm("haigis"), 3)
    -0.223
    """
    slope, offset_mm, threshold_mm, _ = line(formula, year)
    return slope * threshold_mm + offset_mm - threshold_mm


def threshold_mm(formula: str, year: int = 2011) -> float:
    """Return the length from which on the adjustment applies, mm.

    >>> threshold_mm("srk_t", 2018)
    27.0
    """
    return line(formula, year).threshold_mm


def line(formula: str, year: int = 2011) -> LongEyeLine:
    """Return the regression that was published for a formula, as its record has it.

    Parameters
    ----------
    formula : str
    year : int
        2011 or 2018.

    Returns
    -------
    formula_record.LongEyeLine

    Raises
    ------
    ValueError
        If no regression was published for this formula and year.

    Sources
    -------
    Wang et al. 2011 and the revision of 2018. From memory.

    Examples
    --------
    >>> line("srk_t", 2018).slope
    0.8453
    """
    if not isinstance(year, int) or year not in YEARS:
        raise ValueError(f"year is {shown(year)}; the adjustments were published in 2011 and 2018.")
    known = [name for name, record in FORMULAS.items() if year in record.long_eye_lines]
    if isinstance(formula, str) and formula in FORMULAS and formula not in known:
        raise ValueError(
            f"formula is {formula!r}; the adjustment of {year} was published for: "
            f"{', '.join(known)}."
        )
    return FORMULAS.find(formula, known).long_eye_lines[year]


def segmented_length(axial_length_mm: ArrayLike, lens_thickness_mm: ArrayLike) -> FloatOrArray:
    """Return the length that the segments' own indices would give, from length and lens.

    Parameters
    ----------
    axial_length_mm : scalar or array
        Measured with one index for the whole eye, 15 to 40 mm.
    lens_thickness_mm : scalar or array
        2 to 8 mm.

    Returns
    -------
    float or array
        mm; a little longer than measured in short eyes, shorter in long ones.

    Sources
    -------
    Cooke & Cooke, J Cataract Refract Surg 2019;45:351: 1.23853 + 0.958547 L − 0.05467 LT. From
    memory.

    Examples
    --------
    >>> round(segmented_length(26.5, 4.4), 3)
    26.399
    """
    length_mm, thickness_mm = broadcast(
        axial_length_mm=require(
            "axial_length_mm", axial_length_mm, *AXIAL_LENGTH_RANGE_MM, hint="In metres? × 1000."
        ),
        lens_thickness_mm=require("lens_thickness_mm", lens_thickness_mm, 2.0, 8.0),
    )
    return unwrap_scalar(1.23853 + 0.958547 * length_mm - 0.05467 * thickness_mm)
