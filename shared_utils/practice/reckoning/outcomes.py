"""Lesson 07: constants and outcomes."""

import math

import numpy as np

from shared_utils.power import outcomes

PER_A = 0.83  # D of prediction for one more of the A-constant, average eye


def error(sphere_d, cylinder_d, predicted_d):
    """The prediction error of a refraction with a cylinder."""
    achieved_d = sphere_d + cylinder_d / 2
    return {
        "answer": outcomes.prediction_error(achieved_d, predicted_d),
        "sphere": sphere_d - predicted_d,
        "whole": sphere_d + cylinder_d - predicted_d,
        "sign": predicted_d - achieved_d,
        "achieved_d": achieved_d,
    }


def constant(a_constant, mean_d):
    """The A-constant that brings a mean error to zero."""
    return {
        "answer": a_constant + mean_d / PER_A,
        "lower": a_constant - mean_d / PER_A,
        "whole": a_constant + mean_d,
        "product": a_constant + mean_d * PER_A,
        "change": mean_d / PER_A,
    }


def mean_within(sd_d, eyes):
    """How far chance moves the mean of some eyes, 19 times in 20."""
    return {
        "answer": 1.96 * sd_d / math.sqrt(eyes),
        "one_sd": sd_d / math.sqrt(eyes),
        "no_root": 1.96 * sd_d / eyes,
        "one_eye": 1.96 * sd_d,
        "root": math.sqrt(eyes),
    }


def mean_size(first_d, second_d, third_d, fourth_d):
    """The mean absolute error of four eyes."""
    errors_d = np.array([first_d, second_d, third_d, fourth_d])
    found = outcomes.summary(errors_d)
    total_d = float(np.abs(errors_d).sum())
    return {
        "answer": found.mae_d,
        "mean": found.mean_d,
        "middle": found.medae_d,
        "one_less": total_d / 3,
        "total_d": total_d,
    }


def sd_within(sd_d, eyes):
    """The standard error of an SD."""
    return {
        "answer": sd_d / math.sqrt(2 * eyes),
        "mean": sd_d / math.sqrt(eyes),
        "no_root": sd_d / (2 * eyes),
        "outside": sd_d / (2 * math.sqrt(eyes)),
        "twice": 2 * eyes,
    }
