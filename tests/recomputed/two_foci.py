"""Shares by the Fourier sum of one ring; adds and distances by 1 / D; angles by hand."""

import cmath
import math

MRAD = 0.06 / math.radians(1.0)  # in arcminutes


def share(step_waves, order):
    """Part of the light in an order: the mean over one ring of its sawtooth's wave, squared."""
    places = [(n + 0.5) / 2000 for n in range(2000)]
    waves = (cmath.exp(2j * math.pi * (step_waves - order) * place) for place in places)
    return abs(sum(waves) / 2000) ** 2


def near_of_printed(n):
    ratio = 1.0 - n["position_mm"] / 1336.0 * n["cornea_d"]
    return 100.0 / (n["lens_add_d"] * ratio**2)


def step_of(far, near):
    """sinc² of both shares goes with sin²(πα), so √(near/far) = α / (1 − α)."""
    root = math.sqrt(near / far)
    return root / (1.0 + root)


BY_HAND = {
    "printed-add": lambda n: 100 / n["lens_add_d"] / n["ratio"] / n["ratio"],
    "add-to-distance": lambda n: 100 / (n["add_d"] - n["refraction_d"]),
    "intermediate-focus": lambda n: 2 * n["near_cm"],
    "log-units-of-half": lambda n: math.log(n["left"]) / math.log(10),
    "halo-width": lambda n: n["pupil_mm"] * n["add_d"] * MRAD,
    "step-from-shares": lambda n: step_of(n["far"], n["near"]),
    "drusen-behind-two-foci": lambda n: {
        "answer": n["disease"] * n["lens"],
        "log_units": math.log10(n["disease"]) + math.log10(n["lens"]),
    },
    "halo-of-two-adds": lambda n: {
        "wider": n["strong_d"] / n["weak_d"],
        "dimmer": n["strong_d"] ** 2 / n["weak_d"] ** 2,
    },
    # read to 1 %, as from the figure
    "read-the-lost-light": lambda n: (
        100 - sum(round(100 * share(n["step"], order)) for order in (0, 1))
    ),
    "read-two-peaks": lambda n: n["near_place"] + n["refraction_d"],
    "colour-share-in-numbers": lambda n: 100 * share(n["step"] * 555 / n["wavelength_nm"], 1),
    "printed-add-in-numbers": near_of_printed,
    "near-with-residual-in-numbers": lambda n: 100 / (n["add_d"] - n["refraction_d"]),
    "log-units-in-numbers": lambda n: math.log10(n["share"]) + math.log10(n["haze"]),
    "halo-in-numbers": lambda n: n["pupil_mm"] * n["add_d"] * MRAD,
}

KEYED = {
    "half-and-half": (100 * share(0.5, 0), 100 * share(0.5, 1), 100 * (1 - 2 * share(0.5, 0))),
    "blue-and-near": (0.5 * 555 / 450,),
    "gap-between": (100 / 67, 2.5 - 100 / 67),
}
