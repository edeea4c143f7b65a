"""Lesson 07: constants and outcomes."""

from math import sqrt

from shared_utils.power import outcomes


def error(sphere_d, cylinder_d, axis_deg, predicted_d):
    """The prediction error of one eye; the axis does not enter."""
    equivalent = sphere_d + cylinder_d / 2
    answer = outcomes.prediction_error(equivalent, predicted_d)
    return {
        "answer": answer,
        "sphere": outcomes.prediction_error(sphere_d, predicted_d),
        "whole": outcomes.prediction_error(sphere_d + cylinder_d, predicted_d),
        "equivalent": equivalent,
        "reversed": -answer,
    }


def constant(label, eyes, mean_d, slope_d):
    """The A-constant that takes out the mean error; the number of eyes does not enter."""
    step = mean_d / slope_d
    return {
        "answer": label + step,
        "away": label - step,
        "plain": label + mean_d,
        "product": label + mean_d * slope_d,
        "step": step,
    }


def mean_size(a_d, b_d, c_d, d_d, e_d):
    """The mean absolute error of five eyes."""
    found = outcomes.summary([a_d, b_d, c_d, d_d, e_d])
    return {
        "answer": found.mae_d,
        "mean": found.mean_d,
        "median": found.medae_d,
        "sd": found.sd_d,
        "sum_d": 5 * found.mae_d,
    }


def sd_error(sd_d, eyes):
    """The standard error of an SD."""
    answer = sd_d / sqrt(2 * eyes)
    return {
        "answer": answer,
        "mean": sd_d / sqrt(eyes),
        "rootless": sd_d / (2 * eyes),
        "interval": 1.96 * answer,
    }
