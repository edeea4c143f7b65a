"""What is known of a published formula, in one record that stands beside its function.

Constants, indices, titles, sources and warnings are read from here by all tables, commands,
figures and tests. To add a formula, write its function and its record in one file; a new file is
also named in ``registry``.
"""

from __future__ import annotations

import inspect
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from shared_utils.power.biometry import Eye


class LensConstant(NamedTuple):
    """A lens constant: its symbol, the range that makes sense, and its usual values."""

    symbol: str
    low: float
    high: float
    hint: str


LENS_CONSTANTS = {
    "a_constant": LensConstant("A", 110.0, 125.0, "Usual lenses: 118 to 120."),
    "pacd_mm": LensConstant("pACD", 0.0, 10.0, "Usual lenses: 5 to 6 mm."),
    "surgeon_factor_mm": LensConstant("SF", -4.0, 6.0, "Usual lenses: 1 to 2.5 mm."),
    "a0": LensConstant("a0", -15.0, 15.0, "Usual lenses: −1 to 2.5 mm."),
    "a1": LensConstant("a1", -2.0, 2.0, "The standard value is 0.4."),
    "a2": LensConstant("a2", -1.0, 1.0, "The standard value is 0.1."),
}
MEASUREMENTS = ("axial_length_mm", "k1_d", "acd_mm", "lens_thickness_mm", "white_to_white_mm")
INDEX_RANGE = (1.30, 1.40)


class LongEyeLine(NamedTuple):
    """A regression of axial length for long eyes, published for one formula.

    The length becomes slope × length + offset above the threshold, and at the threshold itself if
    ``from_threshold``.
    """

    slope: float
    offset_mm: float
    threshold_mm: float
    from_threshold: bool


@dataclass(frozen=True)
class Formula:
    """One published formula.

    Parameters
    ----------
    function : callable
        From an eye, lens constants and an optional K for the lens position to the steps of the
        formula (``core.Steps`` or ``regression.RegressionSteps``). Its name is the formula's name,
        the part "Sources" of its docstring the formula's source.
    title : str
        The formula's name as a reader knows it, such as "SRK/T".
    year : int
        Of the paper.
    constant : str
        The lens constant that the formula looks at first, one of ``LENS_CONSTANTS``.
    keratometric_index : float
        With which the formula makes power of the corneal radius, 1.30 to 1.40.
    position_uses_k : bool
        Whether K counts in the lens position, so that double-K makes a difference.
    measurements : tuple of str
        Fields of ``biometry.Eye`` that it cannot do without.
    in_cohorts : bool
        Whether it stands in the audit of a cohort unless others are asked for.
    in_consultations : bool
        Whether its constant follows from one A-constant closely enough to stand beside the others
        for one patient.
    advised : bool
        Whether the literature still advises it; the others are history and stand apart.
    long_eye_lines : mapping of int to LongEyeLine
        Year of publication → its adjustment of long eyes.
    warnings : mapping of str to str
        Flag of its own steps → what it says to a reader.
    remark, note : str
        A few words, and a sentence, that stand wherever its powers do.

    Raises
    ------
    ValueError
        Naming the formula and the field that is missing or not known.
    """

    function: Callable
    title: str
    year: int
    constant: str
    keratometric_index: float
    position_uses_k: bool
    measurements: tuple[str, ...] = ("axial_length_mm", "k1_d")
    in_cohorts: bool = False
    in_consultations: bool = False
    advised: bool = True
    long_eye_lines: Mapping = field(default_factory=dict)
    warnings: Mapping = field(default_factory=dict)
    remark: str = ""
    note: str = ""

    def __post_init__(self):
        if not callable(self.function) or not getattr(self.function, "__name__", "").isidentifier():
            raise ValueError(
                f"The formula {self.title!r} has no named function; write one, with `def`."
            )
        low, high = INDEX_RANGE
        year, index = self.year, self.keratometric_index
        unknown = [name for name in self.measurements if name not in MEASUREMENTS]
        for wrong, sentence in (
            (not (isinstance(self.title, str) and self.title.strip()), "has no title"),
            (not (isinstance(year, int) and 1900 < year < 2100), f"has the year {year!r}"),
            (
                self.constant not in LENS_CONSTANTS,
                f"has the constant {self.constant!r}; give one of: {', '.join(LENS_CONSTANTS)}",
            ),
            (
                not (isinstance(index, float) and low <= index <= high),
                f"has the keratometric index {index!r}; give {low} to {high}",
            ),
            (
                not isinstance(self.position_uses_k, bool),
                f"has position_uses_k = {self.position_uses_k!r}; give True or False",
            ),
            (
                not isinstance(self.advised, bool),
                f"has advised = {self.advised!r}; give True or False",
            ),
            (
                bool(unknown),
                f"needs {', '.join(unknown)}; an eye has: {', '.join(MEASUREMENTS)}",
            ),
            (not _sources_of(self.function), 'has no part "Sources" in its docstring'),
        ):
            if wrong:
                raise ValueError(f"The formula {self.name!r} {sentence}.")

    @property
    def name(self) -> str:
        """The name by which functions, commands and files call the formula, such as "srk_t"."""
        return self.function.__name__

    @property
    def source(self) -> str:
        """Where it was published, as the docstring of its function says, on one line."""
        return _sources_of(self.function)

    def measured_in(self, eye: Eye) -> bool:
        """Whether an eye has all that the formula needs."""
        return all(getattr(eye, name) is not None for name in self.measurements)


def _sources_of(function):
    text = inspect.getdoc(function) or ""
    return " ".join(text.partition("Sources\n-------\n")[2].split("\n\n")[0].split())
