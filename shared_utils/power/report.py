"""The published formulas side by side for one eye, with what each did and where it comes from.

Lives here: numbers and sentences. Layout is for whoever shows them.
"""

import inspect
from dataclasses import dataclass

from shared_utils.optics.domain import require_one_of
from shared_utils.power.constants import CONSTANT_OF
from shared_utils.power.formulas import FORMULAS, predicted_refraction, trace_power
from shared_utils.power.lens_steps import nearest_power

IN_WORDS = {
    "length_capped": "longer than 26 mm: the position no longer grows with the eye.",
    "root_clamped": "the corneal height has no real value; the radius stands in for it.",
    "radius_capped": "corneal radius below 7 mm: the position takes 7 mm.",
    "width_capped": "chamber wider than 13.5 mm: the position takes 13.5 mm.",
    "length_clamped": "length outside 18.5 to 31 mm: the position takes the nearer limit.",
    "near_length_step": "within 0.1 mm of a length where this regression jumps by 0.5 or 1 D.",
    "near_factor_step": "within 0.5 D of 14 D, where its factor for a target jumps.",
    "elp_k_unused": "takes no K for its lens position, so the second K changes nothing.",
    "elp_undetermined": "weaker than 5 D: such a lens hardly minds where it stands.",
    "negative_power": "the power is negative, as happens in very long eyes.",
}
"""Name of a warning → what it says to a reader."""

CONVERTED_HAIGIS = (
    "its a0 is converted from the A-constant, which gives about 1 D more power than the other "
    "formulas in an average eye: a fault of the conversion, not an opinion about the eye."
)


@dataclass(frozen=True)
class Result:
    """What one formula says for one eye.

    Attributes
    ----------
    formula : str
    constant_name : str
        Name of the lens constant that the formula looks at first.
    constant : float
    elp_mm : float or None
        Effective lens position, mm; None for a regression, which has none.
    iol_power_d : float
        Power for exactly the target, D.
    nearest_d : float
        The nearest half step, D.
    predicted_d : float
        Refraction that the half step leaves, D.
    warnings : tuple of str
        In words.
    """

    formula: str
    constant_name: str
    constant: float
    elp_mm: float | None
    iol_power_d: float
    nearest_d: float
    predicted_d: float
    warnings: tuple


def names(text):
    """Return the names of formulas in a line, or say which names there are.

    Parameters
    ----------
    text : str
        ``"all"``, or names with commas between them.

    Returns
    -------
    tuple of str
        Each once, in the order given.

    Examples
    --------
    >>> names("t2, haigis,t2")
    ('t2', 'haigis')
    """
    if text.strip().casefold() == "all":
        return tuple(FORMULAS)
    given = [name.strip().casefold() for name in text.split(",")]
    return tuple(dict.fromkeys(require_one_of("formula", name, FORMULAS) for name in given))


def source_of(formula):
    """Return where a formula was published, as its own documentation says.

    >>> source_of("t2")
    'Sheard, Smith & Cooke, J Cataract Refract Surg 2010;36:1829. Coefficients from memory.'
    """
    text = inspect.getdoc(FORMULAS[require_one_of("formula", formula, FORMULAS)])
    return " ".join(text.split("Sources\n-------\n")[1].split("\n\n")[0].split())


def side_by_side(eye, lens_constants, formulas, target_d=0.0, vertex_mm=12.0, elp_k_d=None):
    """Return what each formula says for one eye, and why others say nothing.

    Parameters
    ----------
    eye : biometry.Eye
        One eye.
    lens_constants : constants.LensConstants
    formulas : sequence of str
        Names as in ``formulas.FORMULAS``.
    target_d, vertex_mm, elp_k_d
        As for ``formulas.iol_power``.

    Returns
    -------
    results : tuple of Result
    lacking : dict
        Formula without an answer → one sentence why.

    Raises
    ------
    ValueError
        If no formula has an answer.

    Examples
    --------
    >>> from shared_utils.power.biometry import Eye
    >>> from shared_utils.power.constants import LensConstants
    >>> lens = LensConstants.from_a_constant(118.4)
    >>> found, lacking = side_by_side(Eye(23.5, 43.5), lens, ["srk_t", "haigis"])
    >>> found[0].nearest_d, round(found[0].predicted_d, 3), list(lacking)
    (20.5, 0.045, ['haigis'])
    """
    results, lacking = [], {}
    for formula in formulas:
        try:
            trace = trace_power(eye, formula, lens_constants, target_d, vertex_mm, elp_k_d)
            nearest_d = nearest_power(trace.answer_d)
            predicted_d = predicted_refraction(
                eye, formula, lens_constants, nearest_d, vertex_mm, elp_k_d
            )
        except ValueError as error:
            lacking[formula] = str(error)
            continue
        results.append(
            Result(
                formula=formula,
                constant_name=CONSTANT_OF[formula],
                constant=lens_constants.of(formula),
                elp_mm=trace.named.get("elp_mm"),
                iol_power_d=trace.answer_d,
                nearest_d=nearest_d,
                predicted_d=predicted_d,
                warnings=tuple(IN_WORDS[name] for name, holds in trace.flags.items() if holds),
            )
        )
    if not results:
        raise ValueError(next(iter(lacking.values()), "Give at least one formula."))
    return tuple(results), lacking
