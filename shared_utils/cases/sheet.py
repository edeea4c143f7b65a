"""The numbers of the patient's sheet: where each lens sees clearly, and its rings at night."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from shared_utils.choice import tasks

if TYPE_CHECKING:
    from collections.abc import Sequence

    from shared_utils.choice.findings import Patient
    from shared_utils.optics.lenses import Lens

CLEAR_LOGMAR, PERHAPS_LOGMAR = 0.2, 0.3
"""20/32, and one line worse: what the model's uncertainty may turn into clear."""

DISTANCE_M = 1.0 / np.linspace(0.05, 3.3, 66)


@dataclass(frozen=True)
class ClearRanges:
    """Where two eyes with a class of lens see clearly, as first and last place of DISTANCE_M."""

    lens_class: str
    clear: list
    perhaps: list  # clear or what the model's uncertainty may turn into clear


def clear_ranges(
    patient: Patient,
    classes: Sequence[str],
    target_d: float = 0.0,
    fellow_target_d: float | None = None,
) -> list[ClearRanges]:
    """Return how far a patient would see clearly with each lens.

    Parameters
    ----------
    patient : findings.Patient
    classes : sequence of str
        Classes of lens.
    target_d, fellow_target_d : float
        Refraction aimed at, D; the same in both eyes unless given.

    Returns
    -------
    list of ClearRanges

    Examples
    --------
    >>> from shared_utils.choice.findings import otherwise_healthy
    >>> (ranges,) = clear_ranges(otherwise_healthy(), ["monofocal"])
    >>> len(ranges.clear), ranges.clear[0][0]
    (1, np.int64(0))
    """
    places = [tasks.Task("place", float(distance), 2.0) for distance in DISTANCE_M]
    ranges = []
    for lens_class in classes:
        glasses = tasks.glasses_for(
            patient, tasks.LENS_OF[lens_class], target_d, fellow_target_d, places
        )
        logmar = np.array([found.acuity_logmar for found in glasses])
        ranges.append(
            ClearRanges(lens_class, _runs(logmar <= CLEAR_LOGMAR), _runs(logmar <= PERHAPS_LOGMAR))
        )
    return ranges


def rings_by_class(
    patient: Patient, classes: Sequence[str]
) -> dict[str, list[tuple[float, float]]]:
    """Return the discs around a far lamp at night with each lens.

    Parameters
    ----------
    patient : findings.Patient
    classes : sequence of str
        Classes of lens.

    Returns
    -------
    dict of str to list of (float, float)
        As from `rings_mrad`.

    Examples
    --------
    >>> from shared_utils.choice.findings import otherwise_healthy
    >>> rings_by_class(otherwise_healthy(), ["monofocal"])
    {'monofocal': []}
    """
    pupil_mm = tasks.pupils_of(patient)["night"]
    return {name: rings_mrad(tasks.LENS_OF[name], pupil_mm) for name in classes}


def rings_mrad(lens: Lens, pupil_mm: float) -> list[tuple[float, float]]:
    """Return width and share of the light of each disc around a far lamp, widest first.

    Parameters
    ----------
    lens : Lens
    pupil_mm : float
        0.5 to 9 mm.

    Returns
    -------
    list of (float, float)
        Width in mrad, share of the light from 0 to 1; none for a lens with one focus.

    Sources
    -------
    Alba-Bueno et al. 2014: the width of a halo is the pupil times the add over the eye's power;
    as an angle, pupil times add.

    Examples
    --------
    5 mm times 2.5 D, and 4/π² of the light.

    >>> from shared_utils.optics.lenses import diffractive_bifocal
    >>> [(wide, round(share, 3)) for wide, share in rings_mrad(diffractive_bifocal(2.5), 5.0)]
    [(12.5, 0.405)]
    """
    energies = lens.energy_budget(pupil_mm=pupil_mm)
    found = [
        (float(pupil_mm * lens.order_power_d(order)), float(energies[focus]))
        for focus, order in lens.foci.items()
        if focus != "far"
    ]
    return sorted(found, reverse=True)


def _runs(where):
    """First and last place of each run of true values."""
    padded = np.concatenate([[False], where, [False]]).astype(int)
    change = np.diff(padded)
    return list(zip(np.flatnonzero(change == 1), np.flatnonzero(change == -1) - 1, strict=True))
