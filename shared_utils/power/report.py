"""The published formulas side by side for one eye, with what each did and where it comes from.

Lives here: numbers and sentences. Layout is for whoever shows them.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from shared_utils.optics.domain import require_instance, require_one, shown
from shared_utils.power.biometry import require_eye
from shared_utils.power.core import WARNINGS
from shared_utils.power.formulas import predicted_refraction, trace_power
from shared_utils.power.lens_constants import require_lens_constants
from shared_utils.power.lens_steps import nearest_power
from shared_utils.power.registry import FORMULAS

if TYPE_CHECKING:
    from collections.abc import Sequence

    from shared_utils.optics.types import FloatOrArray
    from shared_utils.power.biometry import Eye
    from shared_utils.power.lens_constants import LensConstants


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
    constant: FloatOrArray
    elp_mm: FloatOrArray | None
    iol_power_d: FloatOrArray
    nearest_d: FloatOrArray
    predicted_d: FloatOrArray
    warnings: tuple


def names(text: str) -> tuple[str, ...]:
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
    require_instance("text", text, str, "names of formulas, with commas between them")
    if text.strip().casefold() == "all":
        return tuple(FORMULAS)
    given = [name.strip().casefold() for name in text.split(",")]
    return tuple(dict.fromkeys(FORMULAS.find(name).name for name in given))


def warning(formula: str, flag: str) -> str:
    """Return what a flag of a formula's steps says to a reader.

    >>> warning("t2", "negative_power")
    'the power is negative, as happens in very long eyes.'
    """
    sentences = {**WARNINGS, **FORMULAS.find(formula).warnings}
    if not isinstance(flag, str) or flag not in sentences:
        raise ValueError(
            f"The record of {formula} does not say what its warning {shown(flag)} means."
        )
    return sentences[flag]


def side_by_side(
    eye: Eye,
    lens_constants: LensConstants,
    formulas: Sequence[str],
    target_d: float = 0.0,
    vertex_mm: float = 12.0,
    elp_k_d: float | None = None,
) -> tuple[tuple[Result, ...], dict[str, str]]:
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
    formulas = FORMULAS.find_all(formulas)
    require_eye("eye", eye)
    require_lens_constants(lens_constants)
    target_d, vertex_mm = require_one("target_d", target_d), require_one("vertex_mm", vertex_mm)
    elp_k_d = None if elp_k_d is None else require_one("elp_k_d", elp_k_d)
    if eye.shape:
        raise ValueError("Formulas are compared for one eye; give one number for each measurement.")
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
                constant_name=FORMULAS[formula].constant,
                constant=lens_constants.of(formula),
                elp_mm=trace.named.get("elp_mm"),
                iol_power_d=trace.answer_d,
                nearest_d=nearest_d,
                predicted_d=predicted_d,
                warnings=tuple(
                    warning(formula, flag) for flag, holds in trace.flags.items() if holds
                ),
            )
        )
    if not results:
        raise ValueError(next(iter(lacking.values()), "Give at least one formula."))
    return tuple(results), lacking
