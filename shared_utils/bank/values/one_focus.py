"""Values of the items of lesson one_focus."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from shared_utils.cases.one_focus import (
    AIRY,
    ARCMIN_PER_MRAD,
    COARSE_CPD,
    FINE_CPD,
    airy_radius_arcmin,
    airy_radius_mrad,
    cut_off_cpd,
    half_passes_at,
    margin_excess_d,
    read_in_white,
)
from shared_utils.optics import acuity

if TYPE_CHECKING:
    from typing import Any


def airy(pupil_mm: float, wavelength_nm: float) -> dict[str, Any]:
    """The radius of the Airy disc."""
    answer = airy_radius_arcmin(pupil_mm, wavelength_nm)
    return {
        "answer": answer,
        "mrad": airy_radius_mrad(pupil_mm, wavelength_nm),
        "diameter": 2 * answer,
        "no_factor": answer / AIRY,
        "wavelength_um": wavelength_nm / 1000.0,
    }


def cut_off(pupil_mm: float, wavelength_nm: float) -> dict[str, Any]:
    """The fineness beyond which diffraction lets nothing pass."""
    radian = pupil_mm * 1e6 / wavelength_nm
    answer = cut_off_cpd(pupil_mm, wavelength_nm)
    return {
        "answer": answer,
        "radian": radian,
        "half": answer / 2,
        "airy": answer / AIRY,
        "twice": 2 * answer,
        "radian_rough": round(radian, -2),
        "finer": answer / FINE_CPD,
        "wavelength_mm": wavelength_nm / 1e6,
    }


def pupil_for(lines_cpd: float, wavelength_nm: float) -> dict[str, Any]:
    """The smallest pupil through which diffraction lets lines pass."""
    answer = lines_cpd / cut_off_cpd(1.0, wavelength_nm)
    return {
        "answer": answer,
        "twice": 2 * answer,
        "no_pi": answer * math.pi,
        "airy": answer * AIRY,
        "radian": math.degrees(lines_cpd),
        "radian_rough": round(math.degrees(lines_cpd), -2),
        "wavelength_mm": wavelength_nm / 1e6,
    }


def pupil_from_its_end(pupil_mm: float, wavelength_nm: float) -> dict[str, Any]:
    """The pupil of a perfect eye, read off where its contrast ends."""
    ends_cpd = float(cut_off_cpd(pupil_mm, wavelength_nm))
    half_cpd = ends_cpd * float(half_passes_at())
    return pupil_for(ends_cpd, wavelength_nm) | {
        "ends_cpd": ends_cpd,
        "half_cpd": half_cpd,
        "at_half": pupil_for(half_cpd, wavelength_nm)["answer"],
    }


def contrast(bright: float, dark: float, passed: float) -> dict[str, Any]:
    """The contrast of lines on the retina."""
    chart = (bright - dark) / (bright + dark)
    return {
        "answer": passed * chart,
        "passed_alone": passed,
        "chart": chart,
        "by_bright": passed * (bright - dark) / bright,
        "subtracted": chart - passed,
    }


def contrast_of_print(pupil_mm: float, defocus_d: float, printed: float) -> dict[str, Any]:
    """The contrast of grey print behind some blur, as read off two curves to 0.01."""
    (sharp, _), (blurred, fine) = (
        (round(float(contrast), 2) for contrast in curve)
        for curve in read_in_white(pupil_mm, defocus_d, (COARSE_CPD, FINE_CPD))
    )
    return {
        "answer": printed * blurred,
        "in_focus": printed * sharp,
        "too_fine": printed * fine,
        "sharp": sharp,
        "blurred": blurred,
        "fine": fine,
    }


def blur_disc(defocus_d: float, pupil_mm: float) -> dict[str, Any]:
    """The width of the blur disc."""
    answer = acuity.blur_circle_arcmin(defocus_d, pupil_mm)
    return {
        "answer": answer,
        "mrad": pupil_mm * defocus_d,
        "radius": answer / 2,
        "divided": answer / defocus_d**2,
        "inverse": ARCMIN_PER_MRAD * defocus_d / pupil_mm,
    }


def defocus_of_a_disc(defocus_d: float, pupil_mm: float) -> dict[str, Any]:
    """The defocus that a blur disc betrays."""
    width_arcmin = acuity.blur_circle_arcmin(defocus_d, pupil_mm)
    return {
        "width_arcmin": width_arcmin,
        "mrad": width_arcmin / ARCMIN_PER_MRAD,
        "half": defocus_d / 2,
        "twice": 2 * defocus_d,
        "arcmin": width_arcmin / pupil_mm,
    }


def with_blur(best_logmar: float, blur_d: float) -> dict[str, Any]:
    """Acuity with blur, by Blendowske's law."""
    loss = acuity.blendowske_logmar(blur_d)
    return {
        "answer": acuity.blendowske_logmar(blur_d, best_logmar=best_logmar),
        "loss": loss,
        "a_line_a_quarter": best_logmar + 0.4 * blur_d,
        "natural": best_logmar + math.log(1 + blur_d**2),
    }


def margin_of_smaller(wide_mm: float, small_mm: float, wide_d: float) -> dict[str, Any]:
    """How much stronger the margin of a smaller pupil is than its centre."""
    sa_um = wide_d / margin_excess_d(1.0, wide_mm)
    part = small_mm / wide_mm
    answer = margin_excess_d(sa_um, small_mm)
    return {
        "answer": answer,
        "linear": wide_d * part,
        "path": wide_d * part**4,
        "part": part,
        "square": answer / wide_d,
    }


def margin(cornea_um: float, lens_um: float, pupil_mm: float) -> dict[str, Any]:
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
