"""The one place where a value from outside is accepted or refused.

Names carry their unit as a suffix, so that a message can name the unit.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, TypeVar

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Collection

    from numpy import ndarray
    from numpy.typing import ArrayLike

    from shared_utils.optics.types import FloatOrArray

Kind = TypeVar("Kind")

UNIT_OF_SUFFIX = {
    "arcmin": "arcmin",
    "cm": "cm",
    "cpd": "cycles/degree",
    "d": "D",
    "deg": "°",
    "log": "log units",
    "logmar": "logMAR",
    "m": "m",
    "mm": "mm",
    "mosm": "mOsm/L",
    "mrad": "mrad",
    "nm": "nm",
    "prism": "Δ",
    "um": "µm",
    "years": "years",
}


def unit_of(name: str) -> str:
    """Return the unit that a name carries as its suffix, or an empty string.

    >>> unit_of("axial_length_mm"), unit_of("index")
    ('mm', '')
    """
    return UNIT_OF_SUFFIX.get(name.rsplit("_", 1)[-1], "") if "_" in name else ""


def require(
    name: str,
    value: ArrayLike,
    low: float = -np.inf,
    high: float = np.inf,
    *,
    hint: str = "",
    infinite: bool = False,
) -> ndarray:
    """Return the value as an array of floats, or say in one sentence why it cannot be used.

    Parameters
    ----------
    name : str
        The argument's name, with its unit as suffix.
    value : scalar or array
        What was given.
    low, high : float
        The range that makes sense, both ends allowed.
    hint : str
        The likely slip and what to do, added to the message.
    infinite : bool
        Whether minus and plus infinity are meant (a distant object, a flat surface).

    Returns
    -------
    numpy.ndarray of float64

    Raises
    ------
    ValueError
        With the name, the value, the unit, the range and the hint.

    Examples
    --------
    >>> float(require("axial_length_mm", 23.5, 15, 40))
    23.5
    >>> require("axial_length_mm", 0.0235, 15, 40, hint="In metres? Multiply by 1000.")
    Traceback (most recent call last):
    ValueError: axial_length_mm is 0.0235 mm; give 15 to 40 mm. In metres? Multiply by 1000.
    """
    unit = unit_of(name)
    spaced = f" {unit}" if unit else ""
    wanted = _range_in_words(low, high, spaced)
    tail = f" {hint}" if hint else ""
    _refuse_what_numpy_drops(name, value)
    array = _numbers(value)
    if array is None:
        place, first = _first_that_is_no_number(value)
        raise ValueError(f"{name}{place} is {shown(first)}, not a number; give {wanted}.{tail}")
    bad = ~((array >= low) & (array <= high))  # written so that nan is bad
    if not infinite:
        bad |= ~np.isfinite(array)
    if np.any(bad):
        place = np.argwhere(np.atleast_1d(bad))[0]
        first = np.atleast_1d(array)[tuple(place)]
        where = f"[{', '.join(map(str, place))}]" if array.ndim else ""
        raise ValueError(f"{name}{where} is {first:.6g}{spaced}; give {wanted}.{tail}")
    return array


def require_one(
    name: str,
    value: ArrayLike,
    low: float = -np.inf,
    high: float = np.inf,
    *,
    hint: str = "",
    infinite: bool = False,
) -> float:
    """Return the value as one builtin float, or say in one sentence why it cannot be used.

    As ``require``, for what can only be a single number.

    >>> require_one("points", [3, 4], 1, 9)
    Traceback (most recent call last):
    ValueError: points holds 2 numbers; give one number.
    """
    array = require(name, value, low, high, hint=hint, infinite=infinite)
    if array.ndim:
        raise ValueError(f"{name} holds {array.size} numbers; give one number.")
    return float(array)


def require_whole(
    name: str, value: object, low: int = 0, high: float = np.inf, *, hint: str = ""
) -> int:
    """Return the value as a builtin int, or say in one sentence why it cannot be used.

    >>> require_whole("seed", 3)
    3
    >>> require_whole("seed", 0.5)
    Traceback (most recent call last):
    ValueError: seed is 0.5; give a whole number, 0 or more.
    """
    if (
        isinstance(value, (int, np.integer))
        and not isinstance(value, bool)
        and low <= value <= high
    ):
        return int(value)
    wanted = _range_in_words(low, high, "")
    tail = f" {hint}" if hint else ""
    raise ValueError(f"{name} is {shown(value)}; give a whole number, {wanted}.{tail}")


def broadcast(**named: ArrayLike) -> tuple[np.ndarray, ...]:
    """Return the named arrays broadcast together, or say which shapes do not go together.

    >>> [a.shape for a in broadcast(power_d=np.zeros(3), target_d=np.float64(0))]
    [(3,), (3,)]
    """
    for name, array in named.items():
        _refuse_what_numpy_drops(name, array)
    arrays = [np.asarray(a) for a in named.values()]
    try:
        return np.broadcast_arrays(*arrays)
    except ValueError:
        shapes = ", ".join(f"{name} {a.shape}" for name, a in zip(named, arrays, strict=True))
        raise ValueError(
            f"These shapes do not go together: {shapes}; give one value, or as many of each."
        ) from None


def require_one_of(name: str, value: object, allowed: Collection[str]) -> str:
    """Return the value if it is one of the allowed words, or say which words are.

    >>> require_one_of("unit", "mm", ("mm", "m"))
    'mm'
    >>> require_one_of("unit", "km", ("mm", "m"))
    Traceback (most recent call last):
    ValueError: unit is 'km'; give one of: mm, m.
    """
    if not isinstance(value, str) or value not in allowed:
        raise ValueError(f"{name} is {shown(value)}; give one of: {', '.join(allowed)}.")
    return value


def require_instance(
    name: str, value: object, kind: type[Kind] | tuple[type[Kind], ...], example: str
) -> Kind:
    """Return the value if it is of a class, or say what it is and what to give.

    Parameters
    ----------
    name : str
        The argument's name.
    value : object
    kind : type or tuple of type
    example : str
        What to give: an expression, or words and an expression.

    Returns
    -------
    object

    Raises
    ------
    ValueError
        One sentence.

    Examples
    --------
    >>> require_instance("pair", [1, 2], tuple, "a tuple, such as (1, 2)")
    Traceback (most recent call last):
    ValueError: pair is [1, 2], a list; give a tuple, such as (1, 2).
    """
    if not isinstance(value, kind):
        raise ValueError(f"{name} is {shown(value)}, {_kind_in_words(value)}; give {example}.")
    return value


def unwrap_scalar(array: FloatOrArray | np.floating) -> FloatOrArray:
    """Return a builtin float for a single number, the array itself otherwise.

    >>> unwrap_scalar(np.array(2.5))
    2.5
    """
    return array if isinstance(array, np.ndarray) and array.ndim else float(array)


def _refuse_what_numpy_drops(name, value):
    """Say so where an array of floats would lose a mask or a unit without a word."""
    members = value if isinstance(value, (list, tuple)) else ()
    if any(np.ma.is_masked(one) for one in (value, *members)):
        raise ValueError(
            f"{name} holds masked values; leave those eyes or points out, or fill them in."
        )
    for one in (value, *members):
        if hasattr(one, "units") or hasattr(one, "unit"):  # a quantity of a library of units
            unit = unit_of(name)
            plain = f"the plain number in {unit}" if unit else "the plain number"
            raise ValueError(f"{name} is {shown(one)}, which carries a unit; give {plain}.")


def _numbers(value):
    """The value as an array of floats, or None where any of it is no real number."""
    if isinstance(value, (list, tuple)) and any(isinstance(one, (bool, np.bool_)) for one in value):
        return None  # beside numbers, True would pass for 1
    try:
        array = np.asarray(value)
        if array.dtype.kind in "iuf":
            return array.astype(float)
        if array.dtype.kind == "O" and all(_is_number(one) for one in array.ravel().tolist()):
            return array.astype(float)
    except Exception:  # a ragged list, a huge integer, whatever a foreign class raises
        return None
    return None


def _is_number(one):
    return isinstance(one, (int, float)) and not isinstance(one, bool)


def _first_that_is_no_number(value):
    """Where it stands in a row, as "[1]", and what it is; the whole value if it is no row."""
    try:
        members = value if isinstance(value, (list, tuple)) else np.asarray(value).tolist()
    except Exception:
        return "", value
    if isinstance(members, (list, tuple)):
        for place, one in enumerate(members):
            if not _is_number(one) and not isinstance(one, (list, tuple, np.ndarray, np.number)):
                return f"[{place}]", one
    return "", value


def _kind_in_words(value):
    if isinstance(value, bool):
        return "yes or no"
    for kinds, words in (
        ((int, float, np.number), "a number"),
        (str, "text"),
        (dict, "a dictionary"),
        (np.ndarray, "an array"),
    ):
        if isinstance(value, kinds):
            return words
    if value is None:
        return "nothing"
    if isinstance(value, type):
        return "a class"
    name = type(value).__name__
    return f"{'an' if name[0] in 'aeiouAEIOU' else 'a'} {name}"


def _range_in_words(low, high, spaced):
    if np.isinf(low) and np.isinf(high):
        return f"a number in{spaced}" if spaced else "a number"
    if np.isinf(high):
        return f"{low:g}{spaced} or more"
    if np.isinf(low):
        return f"{high:g}{spaced} or less"
    return f"{low:g} to {high:g}{spaced}"


def shown(value: object) -> str:
    """Return what was given as a few words on one line, for a message."""
    text = " ".join(repr(value).split())  # an array's repr has lines
    return text if len(text) <= 40 else text[:37] + "..."
