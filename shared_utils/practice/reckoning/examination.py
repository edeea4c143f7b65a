"""Lesson 13: the examination."""

from math import log10, sqrt

from shared_utils.optics import centration

CHART_STEP_LOG = 0.15


def budget(scattered_percent, lens_percent, retina_percent):
    """Log units of contrast that tears, lens and retina cost together."""
    passed = 1 - scattered_percent / 100
    lens, retina = lens_percent / 100, retina_percent / 100
    return {
        "answer": -log10(passed * lens * retina),
        "worst": -log10(lens),
        "scattered": -log10(scattered_percent / 100 * lens * retina),
        "no_lens": -log10(passed * retina),
        "passed": passed,
        "left": passed * lens * retina,
        "lens": lens,
        "retina": retina,
    }


def coma(lens_sa_um, off_mm):
    """The coma of a lens that sits beside the pupil's centre."""
    answer = centration.coma_um(lens_sa_um, off_mm)
    return {
        "answer": answer,
        "factor": -lens_sa_um * off_mm,
        "third": 3 * answer,
        "whole": -lens_sa_um,
        "size_um": -lens_sa_um,
    }


def errors_above(mean_mm, sd_mm):
    """How many of its standard errors the mean of four readings lies above 0.50 mm."""
    above_mm = mean_mm - 0.50
    return {
        "answer": above_mm / (sd_mm / sqrt(4)),
        "one": above_mm / sd_mm,
        "four": above_mm / (sd_mm / 4),
        "plain": above_mm,
        "above_mm": above_mm,
        "error_mm": sd_mm / sqrt(4),
    }


def steps_lost(passed_percent):
    """Steps of a contrast chart that a lens costs."""
    passed = passed_percent / 100
    log = -log10(passed)
    return {
        "answer": log / CHART_STEP_LOG,
        "log": log,
        "share": (1 - passed) / CHART_STEP_LOG,
        "acuity": log / (2 * CHART_STEP_LOG),
        "passed": passed,
    }


def as_defocus(rms_um, zone_mm):
    """The defocus that blurs as strongly as an aberration."""
    answer = centration.equivalent_defocus_d(rms_um, zone_mm)
    return {
        "answer": answer,
        "diameter": answer / 4,
        "unsquared": answer * zone_mm / 2,
        "rootless": answer / sqrt(3),
        "radius_mm": zone_mm / 2,
    }
