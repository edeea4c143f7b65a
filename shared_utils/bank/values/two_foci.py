"""Values of the items of lesson two_foci."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from shared_utils.cases.two_foci import SHOWN_ORDERS
from shared_utils.optics.lenses import DESIGN_WAVELENGTH_NM, corneal_add_d, diffractive_bifocal
from shared_utils.optics.retina import geometric_halo_arcmin
from shared_utils.optics.vergence import focus_distance, vergence

if TYPE_CHECKING:
    from typing import Any

FAR, NEAR = 0, 1  # orders
CORNEA_D = 43.0  # of an average eye


def share_in_colour(step: float, wavelength_nm: float) -> dict[str, Any]:
    """The share of near in a colour for which the steps were not made."""
    lens = diffractive_bifocal(step=step)
    energies = lens.order_energies(wavelength_nm)
    return {
        "answer": 100 * energies[NEAR],
        "green": 100 * lens.order_energies()[NEAR],
        "far": 100 * energies[FAR],
        "amplitude": 100 * math.sqrt(energies[NEAR]),
        "waves": step * DESIGN_WAVELENGTH_NM / wavelength_nm,
    }


def step_of_shares(apart: float, side: float, add_d: float) -> dict[str, Any]:
    """The height of steps that share light unevenly; side is −1 or 1."""
    step = 0.5 + side * apart
    energies = diffractive_bifocal(add_d, step).order_energies()
    return {
        "answer": step,
        "step": step,
        "turned": 1 - step,
        "weaker": min(energies[FAR], energies[NEAR]),
        "far": energies[FAR],
        "near": energies[NEAR],
    }


def lost_light(step: float, add_d: float) -> dict[str, Any]:
    """The light in no focus, as read off to 1 %."""
    energies = diffractive_bifocal(add_d, step).order_energies(orders=SHOWN_ORDERS)
    read = {order: round(100 * float(energy)) for order, energy in energies.items()}
    both = read[FAR] + read[NEAR]
    return {
        "answer": 100 - both,
        "both": both,
        "outer": sum(read.values()) - both,
        "not_far": 100 - read[FAR],
        "far": read[FAR],
        "near": read[NEAR],
    }


def near_by_ratio(lens_add_d: float, ratio: float) -> dict[str, Any]:
    """The near focus of an add in the plane of the lens, where the beam has narrowed so much."""
    found = near_of_printed_add(lens_add_d, (1 - ratio) * 1336 / CORNEA_D, CORNEA_D)
    return found | {"once_d": lens_add_d * ratio, "stronger_d": lens_add_d / ratio**2}


def near_of_printed_add(lens_add_d: float, position_mm: float, cornea_d: float) -> dict[str, Any]:
    """The near focus of an add that is given for the plane of the lens."""
    add_d = corneal_add_d(lens_add_d, position_mm, cornea_d)
    ratio = math.sqrt(add_d / lens_add_d)
    return {
        "answer": 100 / add_d,
        "printed": 100 / lens_add_d,
        "once": 100 / (lens_add_d * ratio),
        "stronger": 100 * ratio**2 / lens_add_d,
        "position_m": position_mm / 1000,
        "ratio": ratio,
        "add_d": add_d,
    }


def near_with_residual(add_d: float, refraction_d: float) -> dict[str, Any]:
    """The near focus of an eye that is not quite in focus for far."""
    return {
        "answer": 100 / (add_d - refraction_d),
        "add_alone": 100 / add_d,
        "taken_off": 100 / (add_d + refraction_d),
        "far_point": -100 / refraction_d,
        "myopia_d": -refraction_d,
        "sum_d": add_d - refraction_d,
        "difference_d": add_d + refraction_d,
    }


def intermediate(near_cm: float) -> dict[str, Any]:
    """The focus of half the add."""
    add_d = -vergence(-near_cm / 100)
    return {
        "answer": -100 * focus_distance(-add_d / 2),
        "half": near_cm / 2,
        "half_more": 1.5 * near_cm,
        "quarter": -100 * focus_distance(-add_d / 4),
        "add_d": add_d,
        "half_d": add_d / 2,
    }


def add_of_two_peaks(add_d: float, refraction_d: float) -> dict[str, Any]:
    """The add of a lens in an eye that is short-sighted, read off two peaks of contrast."""
    return {
        "answer": add_d,
        "near_place": add_d - refraction_d,
        "both": add_d - 2 * refraction_d,
        "twice_off": add_d + refraction_d,
    }


def log_units_of(left: float) -> dict[str, Any]:
    """Log units of a part of contrast that is left."""
    return {
        "answer": math.log10(left),
        "lost": left - 1,
        "natural": math.log(left),
        "decibels": 10 * math.log10(left),
    }


def behind_two_foci(disease: float, lens: float) -> dict[str, Any]:
    """What a macular disease and a bifocal lens together leave of contrast."""
    left = disease * lens
    return {
        "answer": left,
        "log_units": math.log10(left),
        "added": disease + lens,
        "subtracted": disease - lens,
    }


def log_units(share: float, haze: float) -> dict[str, Any]:
    """What a share of the light and a hazy capsule leave of contrast sensitivity."""
    left = share * haze
    return {
        "answer": math.log10(left),
        "clear": math.log10(share),
        "lost": left - 1,
        "natural": math.log(left),
        "left": left,
    }


def halo(add_d: float, pupil_mm: float) -> dict[str, Any]:
    """The width of the halo around a far lamp."""
    answer = geometric_halo_arcmin(pupil_mm, add_d)
    return {
        "answer": answer,
        "mrad": pupil_mm * add_d,
        "radius": answer / 2,
        "divided": answer / add_d**2,
    }


def halo_of_two_adds(weak_d: float, strong_d: float) -> dict[str, Any]:
    """How much wider and dimmer the halo of the stronger add is."""
    weak, strong = (geometric_halo_arcmin(5.0, add_d) for add_d in (weak_d, strong_d))
    wider = strong / weak
    return {"wider": wider, "dimmer": wider**2, "too_wide": wider**2, "too_bright": wider}
