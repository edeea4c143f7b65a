"""Values of the items of lesson outcomes."""

from __future__ import annotations

from math import sqrt
from statistics import median
from typing import TYPE_CHECKING

from shared_utils.bank.values import PER_LENS_D
from shared_utils.cases.outcomes import OUTSIDE_EYES, PER_A_D, mean_error_with
from shared_utils.power import prediction_errors

if TYPE_CHECKING:
    from typing import Any

PER_MM = 2.7  # D at the spectacles for a millimetre of length, average eye
TARGET_D = -0.50  # of the planned lens that was not implanted


def one_error(predicted_d: float, achieved_d: float) -> dict[str, Any]:
    """The prediction error of one eye, from its spherical equivalents."""
    answer = prediction_errors.prediction_error(achieved_d, predicted_d)
    return {"answer": answer, "added": achieved_d + predicted_d, "reversed": -answer}


def for_implanted(implanted_d: float, over_d: float, achieved_d: float) -> dict[str, Any]:
    """The prediction error where the lens was rounded up from the one asked for."""
    predicted_d = round(-PER_LENS_D * over_d, 2)  # as the question says it
    return {
        **one_error(predicted_d, achieved_d),
        "predicted_d": predicted_d,
        "asked_d": implanted_d - over_d,
    }


def mistaken(planned_d: float, planned_left_d: float, achieved_d: float) -> dict[str, Any]:
    """The prediction error where another lens than the planned one was implanted."""
    left_d = planned_left_d - 0.35  # half a dioptre of lens
    return {
        **one_error(left_d, achieved_d),
        "from_planned": prediction_errors.prediction_error(achieved_d, planned_left_d),
        "from_target": prediction_errors.prediction_error(achieved_d, TARGET_D),
        "left_d": left_d,
        "implanted_d": planned_d + 0.5,
    }


def error(
    sphere_d: float, cylinder_d: float, axis_deg: float, predicted_d: float
) -> dict[str, Any]:
    """The prediction error of one eye; the axis does not enter."""
    equivalent = sphere_d + cylinder_d / 2
    answer = prediction_errors.prediction_error(equivalent, predicted_d)
    return {
        "answer": answer,
        "sphere": prediction_errors.prediction_error(sphere_d, predicted_d),
        "whole": prediction_errors.prediction_error(sphere_d + cylinder_d, predicted_d),
        "equivalent": equivalent,
        "half_d": -cylinder_d / 2,
        "reversed": -answer,
    }


def constant(label: float, eyes: float, mean_d: float, slope_d: float) -> dict[str, Any]:
    """The A-constant that takes out the mean error; the number of eyes does not enter."""
    step = mean_d / slope_d
    return {
        "answer": label + step,
        "away": label - step,
        "plain": label + mean_d,
        "product": label + mean_d * slope_d,
        "step": step,
    }


def mean_size(a_d: float, b_d: float, c_d: float, d_d: float, e_d: float) -> dict[str, Any]:
    """The mean absolute error of five eyes."""
    found = prediction_errors.summary([a_d, b_d, c_d, d_d, e_d])
    return {
        "answer": found.mae_d,
        "mean": found.mean_d,
        "median": found.medae_d,
        "sd": found.sd_d,
        "sum_d": 5 * found.mae_d,
    }


def sd_error(sd_d: float, eyes: float) -> dict[str, Any]:
    """The standard error of an SD."""
    answer = sd_d / sqrt(2 * eyes)
    return {
        "answer": answer,
        "mean": sd_d / sqrt(eyes),
        "rootless": sd_d / (2 * eyes),
        "interval": 1.96 * answer,
    }


def move(eyes: float, mean_d: float) -> dict[str, Any]:
    """By how much A must change for a hyperopic mean error; the number does not enter."""
    answer = mean_d / PER_A_D
    return {
        "answer": answer,
        "lower": answer,  # the same size the other way
        "product": mean_d * PER_A_D,
    }


def crossing(label: float, fall: float) -> dict[str, Any]:
    """The A-constant at which the line of myopic mean errors crosses zero."""
    mean_d = -PER_A_D * fall
    plain = round(label + mean_d, 1)
    return {
        "answer": label - fall,
        "mirrored": label + fall,
        "mirrored_d": 2 * mean_d,
        "plain": plain,
        "plain_d": mean_error_with(plain, label, mean_d),
        "mean_d": mean_d,
    }


def few_eyes(eyes: float, mean_d: float, sd_d: float) -> dict[str, Any]:
    """What the mean of a few eyes says: its 95 % interval."""
    return {"half_width": 1.96 * sd_d / sqrt(eyes), "rootless": sd_d / eyes}


def middle_size(a_d: float, b_d: float, c_d: float, d_d: float, e_d: float) -> dict[str, Any]:
    """The median absolute error of five eyes."""
    errors_d = (a_d, b_d, c_d, d_d, e_d)
    found = mean_size(*errors_d)
    return {
        "answer": found["median"],
        "with_signs": median(errors_d),
        "mae": found["answer"],
        "mean": found["mean"],
        "sum_d": found["sum_d"],
        "sorted_text": ", ".join(f"{size:.2f}" for size in sorted(map(abs, errors_d))),
    }


def finer(known_d: float, eyes: float) -> dict[str, Any]:
    """How many eyes half a difference takes."""
    return {
        "answer": 4 * eyes,
        "halved": eyes / 2,
        "rooted": sqrt(2) * eyes,
        "doubled": 2 * eyes,
        "finer_d": known_d / 2,
    }


def longer(longer_mm: float) -> dict[str, Any]:
    """The lean that a biometer brings which reads every eye longer."""
    answer = PER_MM * longer_mm
    return {"answer": answer, "myopic": answer}  # the same size the other way


def series(
    minus_50: float, minus_25: float, zero: float, plus_25: float, plus_50: float
) -> dict[str, Any]:
    """Shares of a series that is read off bars, per cent."""
    within_25 = minus_25 + zero + plus_25
    inside = minus_50 + within_25 + plus_50
    on_one_side = zero + plus_25 + plus_50
    beyond = sum(OUTSIDE_EYES.values())
    eyes = inside + beyond
    return {
        "answer": 100 * inside / eyes,
        "quarter": 100 * within_25 / eyes,
        "one_side": 100 * on_one_side / eyes,
        "outside": 100 * beyond / eyes,
        "inside": inside,
        "within_25": within_25,
        "on_one_side": on_one_side,
        "beyond": beyond,
        "eyes": eyes,
    }
