"""Lesson 11: two foci and more."""

import math

from shared_utils.optics.lenses import DESIGN_WAVELENGTH_NM, corneal_add_d, diffractive_bifocal
from shared_utils.optics.retina import geometric_halo_arcmin

FAR, NEAR = 0, 1  # orders


def share_in_colour(step, wavelength_nm):
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


def near_of_printed_add(lens_add_d, position_mm, cornea_d):
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


def near_with_residual(add_d, refraction_d):
    """The near focus of an eye that is not quite in focus for far."""
    return {
        "answer": 100 / (add_d - refraction_d),
        "add_alone": 100 / add_d,
        "taken_off": 100 / (add_d + refraction_d),
        "far_point": -100 / refraction_d,
        "myopia_d": -refraction_d,
        "sum_d": add_d - refraction_d,
    }


def log_units(share, haze):
    """What a share of the light and a hazy capsule leave of contrast sensitivity."""
    left = share * haze
    return {
        "answer": math.log10(left),
        "clear": math.log10(share),
        "lost": left - 1,
        "natural": math.log(left),
        "left": left,
    }


def halo(add_d, pupil_mm):
    """The width of the halo around a far lamp."""
    answer = geometric_halo_arcmin(pupil_mm, add_d)
    return {
        "answer": answer,
        "mrad": pupil_mm * add_d,
        "radius": answer / 2,
        "divided": answer / add_d**2,
    }
