"""Lesson 02: the eye as an optical system."""

import math

from shared_utils.optics import accommodation, acuity
from shared_utils.optics.vergence import at_vertex

MM_PER_D = 0.37


def image(angle_deg, power_d):
    """The size of a retinal image."""
    tangent = math.tan(math.radians(angle_deg))
    return {
        "answer": acuity.retinal_size_um(60 * angle_deg, power_d) / 1000,
        "cornea": 24 * tangent,
        "index": 1336 * tangent / power_d,
        "product": tangent * power_d,
        "tangent": tangent,
        "way_mm": 1000 / power_d,
    }


def longer(refraction_d):
    """By how much an axial myope's eye is too long, by the rule."""
    return {
        "answer": -MM_PER_D * refraction_d,
        "inverse": -refraction_d / MM_PER_D,
        "millimetre": -refraction_d,
        "sign": MM_PER_D * refraction_d,
        "size_d": -refraction_d,
    }


def gap(left_d, more_d):
    """How much longer the right eye would be if length made it more short-sighted."""
    right_d = left_d - more_d
    right_cornea_d, left_cornea_d = (at_vertex(d, 12.0, 0.0) for d in (right_d, left_d))
    apart_d = left_cornea_d - right_cornea_d
    return {
        "answer": MM_PER_D * apart_d,
        "spectacles": MM_PER_D * more_d,
        "inverse": apart_d / MM_PER_D,
        "sign": -MM_PER_D * apart_d,
        "right_d": right_d,
        "right_cornea_d": right_cornea_d,
        "left_cornea_d": left_cornea_d,
        "apart_d": apart_d,
    }


def near_point(age_years):
    """The near point of an average eye without refraction."""
    amplitude_d = accommodation.amplitude_at_age(age_years)
    return {
        "answer": 100 / amplitude_d,
        "lowest": 100 / accommodation.amplitude_at_age(age_years, "minimum"),
        "amplitude": amplitude_d,
        "half": 200 / amplitude_d,
        "amplitude_d": amplitude_d,
    }
