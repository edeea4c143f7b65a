"""Values of the items of lesson examination."""

from __future__ import annotations

from math import log10, sqrt
from statistics import NormalDist, mean, stdev
from typing import TYPE_CHECKING

from shared_utils.cases.examination import CHART_STEP_LOG, GATE_UM, four_maps_um
from shared_utils.cases.light import ASPHERIC_BODY_UM
from shared_utils.optics import centration

if TYPE_CHECKING:
    from typing import Any

NORMAL_CORNEAS_UM = NormalDist(0.479, 0.124)
"""Higher-order aberration over 6 mm: Wang et al., J Cataract Refract Surg 2003."""


def log_budget(cornea_percent: float, lens_percent: float, retina_percent: float) -> dict[str, Any]:
    """Log units of contrast that three stages cost, from what each leaves."""
    cornea, lens, retina = (n / 100 for n in (cornea_percent, lens_percent, retina_percent))
    answer = -log10(cornea * lens * retina)
    return {
        "answer": answer,
        "no_lens": -log10(cornea * retina),
        "lens_log": -log10(lens),
        "added": 3 - cornea - lens - retina,
        "cornea": cornea,
        "lens": lens,
        "retina": retina,
        "cornea_lost": 1 - cornea,
        "lens_lost": 1 - lens,
        "retina_lost": 1 - retina,
        "cornea_log": -log10(cornea),
        "retina_log": -log10(retina),
        "steps": answer / CHART_STEP_LOG,
    }


def chart_steps(loss_log: float) -> dict[str, Any]:
    """Steps of a contrast chart in a loss of log units."""
    return {
        "answer": loss_log / CHART_STEP_LOG,
        "halves": loss_log / (2 * CHART_STEP_LOG),
        "acuity": loss_log / 0.10,
        "letters": 3 * loss_log / CHART_STEP_LOG,
    }


def steps_fewer(before_steps: float, lost_steps: float) -> dict[str, Any]:
    """The share of the contrast, in per cent, that a surface passes which costs some steps."""
    log = lost_steps * CHART_STEP_LOG
    share = 10**-log
    return {
        "answer": 100 * share,
        "counted": 100 * (before_steps - lost_steps) / before_steps,
        "as_share": 100 * (1 - log),
        "halved": 100 * 0.5**lost_steps,
        "now_steps": before_steps - lost_steps,
        "log": log,
        "share": share,
    }


def lost_in_all(cornea_log: float, lens_log: float, retina_log: float) -> dict[str, Any]:
    """The share of the contrast, in per cent, that losses in log units take together."""
    sum_log = cornea_log + lens_log + retina_log
    left = 100 * 10**-sum_log
    return {
        "answer": 100 - left,
        "left": left,
        "as_share": 100 * sum_log,
        "no_lens": 100 * (1 - 10 ** -(cornea_log + retina_log)),
        "sum_log": sum_log,
    }


def budget(scattered_percent: float, lens_percent: float, retina_percent: float) -> dict[str, Any]:
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


def coma(lens_sa_um: float, off_mm: float) -> dict[str, Any]:
    """The coma of a lens that sits beside the pupil's centre."""
    answer = centration.coma_um(lens_sa_um, off_mm)
    return {
        "answer": answer,
        "factor": -lens_sa_um * off_mm,
        "third": 3 * answer,
        "whole": -lens_sa_um,
        "at_one_mm": centration.coma_um(lens_sa_um, 1.0),
        "size_um": -lens_sa_um,
    }


def rings_aside(add_d: float, off_mm: float) -> dict[str, Any]:
    """How far the halo of a bifocal stands beside its lamp when the rings sit off centre."""
    shift_mrad = off_mm * add_d
    return {
        "answer": shift_mrad,
        "grown": shift_mrad,
        "arcmin": centration.halo_shift_arcmin(add_d, off_mm),
    }


def which_body(cornea_um: float, spherical_um: float) -> dict[str, Any]:
    """What three bodies of lens leave of a cornea's spherical aberration, if centred."""
    negative_left = cornea_um + ASPHERIC_BODY_UM
    return {
        "spherical_left": cornea_um + spherical_um,
        "negative_left": negative_left,
        "worst_um": abs(negative_left),
        "worst_d": centration.equivalent_defocus_d(abs(negative_left)),
    }


def gate(gate_um: float, corneas: float) -> dict[str, Any]:
    """How many of some normal corneas lie above a gate."""
    beyond = 1 - NORMAL_CORNEAS_UM.cdf(gate_um)
    return {
        "answer": corneas * beyond,
        "both_tails": 2 * corneas * beyond,
        "usual_gate": corneas * (1 - NORMAL_CORNEAS_UM.cdf(GATE_UM)),
        "passing": corneas * (1 - beyond),
        "sds": NORMAL_CORNEAS_UM.zscore(gate_um),
        "percent": 100 * beyond,
    }


def open_eye(turn: int, near_um: float, open_um: float, open_sd_um: float) -> dict[str, Any]:
    """Of four eyes, each mapped four times, the one whose side of the gate is open."""
    readings = four_maps_um(turn, near_um, open_um, open_sd_um)
    means = {eye: mean(own) for eye, own in readings.items()}
    errors = {
        eye: abs(means[eye] - GATE_UM) / (stdev(own) / sqrt(len(own)))
        for eye, own in readings.items()
    }
    answer = min(errors, key=errors.__getitem__)
    others = [eye for eye in readings if eye != answer]
    nearest = min(others, key=lambda eye: abs(means[eye] - GATE_UM))
    widest = max(others, key=lambda eye: stdev(readings[eye]))
    (plain,) = set(others) - {nearest, widest}
    return {
        "answer": answer,
        "nearest": nearest,
        "widest": widest,
        "plain": plain,
        "answer_um": means[answer],
        "nearest_um": means[nearest],
        "widest_um": means[widest],
        "plain_um": means[plain],
        "answer_errors": errors[answer],
        "nearest_errors": errors[nearest],
    }


def errors_above(mean_mm: float, sd_mm: float) -> dict[str, Any]:
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


def steps_lost(passed_percent: float) -> dict[str, Any]:
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


def as_defocus(rms_um: float, zone_mm: float) -> dict[str, Any]:
    """The defocus that blurs as strongly as an aberration."""
    answer = centration.equivalent_defocus_d(rms_um, zone_mm)
    return {
        "answer": answer,
        "diameter": answer / 4,
        "unsquared": answer * zone_mm / 2,
        "rootless": answer / sqrt(3),
        "radius_mm": zone_mm / 2,
    }
