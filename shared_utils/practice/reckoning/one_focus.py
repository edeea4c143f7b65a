"""Lesson 10: one focus."""

import math

from shared_utils.explore.one_focus import margin_excess_d
from shared_utils.optics import acuity
from shared_utils.show.one_focus import cut_off_cpd

ARCMIN_PER_MRAD = 180.0 * 60.0 / math.pi / 1000.0
AIRY = 1.2197  # first zero of the Airy pattern, over π


def airy(pupil_mm, wavelength_nm):
    """The radius of the Airy disc."""
    mrad = AIRY * wavelength_nm / 1000.0 / pupil_mm
    return {
        "answer": ARCMIN_PER_MRAD * mrad,
        "mrad": mrad,
        "diameter": 2 * ARCMIN_PER_MRAD * mrad,
        "no_factor": ARCMIN_PER_MRAD * mrad / AIRY,
        "wavelength_um": wavelength_nm / 1000.0,
    }


def cut_off(pupil_mm, wavelength_nm):
    """The fineness beyond which diffraction lets nothing pass."""
    radian = pupil_mm * 1e6 / wavelength_nm
    answer = cut_off_cpd(pupil_mm, wavelength_nm)
    return {
        "answer": answer,
        "radian": radian,
        "half": answer / 2,
        "airy": answer / AIRY,
        "wavelength_mm": wavelength_nm / 1e6,
    }


def contrast(bright, dark, passed):
    """The contrast of lines on the retina."""
    chart = (bright - dark) / (bright + dark)
    return {
        "answer": passed * chart,
        "passed_alone": passed,
        "chart": chart,
        "by_bright": passed * (bright - dark) / bright,
    }


def blur_disc(defocus_d, pupil_mm):
    """The width of the blur disc."""
    answer = acuity.blur_circle_arcmin(defocus_d, pupil_mm)
    return {
        "answer": answer,
        "mrad": pupil_mm * defocus_d,
        "radius": answer / 2,
        "divided": answer / defocus_d**2,
    }


def with_blur(best_logmar, blur_d):
    """Acuity with blur, by Blendowske's law."""
    loss = acuity.blendowske_logmar(blur_d)
    return {
        "answer": acuity.blendowske_logmar(blur_d, best_logmar=best_logmar),
        "loss": loss,
        "a_line_a_quarter": best_logmar + 0.4 * blur_d,
        "natural": best_logmar + math.log(1 + blur_d**2),
    }


def margin(cornea_um, lens_um, pupil_mm):
    """How much stronger the margin of the pupil is than its centre."""
    total_um = cornea_um + lens_um
    return {
        "answer": margin_excess_d(total_um, pupil_mm),
        "diameter": margin_excess_d(total_um, 2 * pupil_mm),
        "cornea_alone": margin_excess_d(cornea_um, pupil_mm),
        "subtracted": margin_excess_d(cornea_um - lens_um, pupil_mm),
        "total_um": total_um,
        "radius_mm": pupil_mm / 2,
    }
