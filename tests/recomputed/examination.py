"""Factors of contrast multiply; coma 2√10/3 |a| d; Prentice; tails of the bell."""

import math

CHART_STEP_LOG = 0.15


def beyond(z):
    """The share of a normal distribution more than z standard deviations above its mean."""
    return 0.5 * math.erfc(z / math.sqrt(2))


def open_eye(n):
    """The eye whose mean lies the fewest standard errors from 0.50 µm, from the figure's recipe.

    The readings lie at −1.3, −0.2, 0.4 and 1.1 times a number about their mean. The spread of these
    four is √(3.1 / 3), so that of an eye is what the recipe says.
    """
    spread = {0: (n["near_um"], 0.008), 1: (0.375, 0.07), 3: (0.60, 0.015)}
    spread[2] = (n["open_um"], n["open_sd_um"])
    away = {place: abs(mean - 0.5) / (sd / 2) for place, (mean, sd) in spread.items()}
    assert sorted(away.values())[1] > 3.18 > 2 * min(away.values())  # Student's t, 3 degrees, 95 %
    return (min(away, key=away.get) + n["turn"]) % 4 + 1


BY_HAND = {
    "log-budget": lambda n: (
        6 - math.log10(n["cornea_percent"] * n["lens_percent"] * n["retina_percent"])
    ),
    "chart-steps": lambda n: 20 * n["loss_log"] / 3,
    "moved-aside": lambda n: math.sqrt(40) / 3 * abs(n["lens_sa_um"]) * n["off_mm"],
    "rings-aside": lambda n: n["off_mm"] * n["add_d"],
    "which-body": lambda n: {
        "spherical_um": min(
            (-0.20, 0.0, n["spherical_um"]), key=lambda body_um: abs(n["cornea_um"] + body_um)
        )
    },
    "two-steps-fewer": lambda n: 100 / 10 ** (CHART_STEP_LOG * n["lost_steps"]),
    "gate-at-six-tenths": lambda n: n["corneas"] * beyond((n["gate_um"] - 0.479) / 0.124),
    "losses-to-read": lambda n: (
        100 * (1 - math.exp(-math.log(10) * (n["cornea_log"] + n["lens_log"] + n["retina_log"])))
    ),
    "readings-beside-a-gate": open_eye,
    "budget-in-numbers": lambda n: (
        2
        - math.log10(100 - n["scattered_percent"])
        + 4
        - math.log10(n["lens_percent"] * n["retina_percent"])
    ),
    "coma-in-numbers": lambda n: math.sqrt(40) / 3 * abs(n["lens_sa_um"]) * n["off_mm"],
    "errors-in-numbers": lambda n: 2 * (n["mean_mm"] - 0.50) / n["sd_mm"],
    "chart-in-numbers": lambda n: (2 - math.log10(n["passed_percent"])) / CHART_STEP_LOG,
    "aberration-as-defocus": lambda n: math.sqrt(48) * n["rms_um"] * 4 / n["zone_mm"] ** 2,
}

KEYED = {}
