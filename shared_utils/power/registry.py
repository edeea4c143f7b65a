"""All published formulas of the course, each by its one record.

Sources
-------
Of each formula: its record's ``source``.
"""

from __future__ import annotations

import difflib
from collections.abc import Mapping
from contextlib import contextmanager
from typing import TYPE_CHECKING

from shared_utils.optics.domain import require_instance, shown
from shared_utils.power import regression, thin_lens
from shared_utils.power.formula_record import Formula

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Iterator, Sequence


class Registry(Mapping[str, Formula]):
    """Formulas by name, oldest kind first.

    Examples
    --------
    >>> FORMULAS["srk_t"].title, FORMULAS["srk_t"].constant
    ('SRK/T', 'a_constant')
    """

    def __init__(self, records: Iterable[Formula]) -> None:
        self._records: dict[str, Formula] = {}
        for record in records:
            self._add(record)

    def __getitem__(self, name):
        return self._records[name]

    def __iter__(self):
        return iter(self._records)

    def __len__(self):
        return len(self._records)

    def _add(self, record):
        if not isinstance(record, Formula):
            raise ValueError(f"{shown(record)} is no record of a formula; give a Formula.")
        for other in self._records.values():
            for part in ("name", "title"):
                if _key(getattr(record, part)) == _key(getattr(other, part)):
                    raise ValueError(
                        f"Two formulas have the {part} {getattr(record, part)!r}; rename one."
                    )
        self._records[record.name] = record

    @contextmanager
    def registered(self, record: Formula) -> Iterator[Formula]:
        """Add a formula for the length of a ``with`` block."""
        self._add(record)
        try:
            yield record
        finally:
            del self._records[record.name]

    def find(self, name: str, among: Sequence[str] | None = None) -> Formula:
        """Return the record of a formula, or say which name is meant or which there are.

        Parameters
        ----------
        name : str
        among : sequence of str, optional
            The names that are allowed here; all unless given.

        Returns
        -------
        Formula

        Raises
        ------
        ValueError
            With the nearest valid name, or all of them.

        Examples
        --------
        >>> FORMULAS.find("SRK/T")
        Traceback (most recent call last):
        ValueError: formula is 'SRK/T'; write 'srk_t'.
        """
        allowed = tuple(self if among is None else among)
        if isinstance(name, str) and name in allowed:
            return self._records[name]
        nearest = self._nearest(name, allowed) if isinstance(name, str) else None
        if nearest:
            raise ValueError(f"formula is {shown(name)}; write {nearest!r}.")
        raise ValueError(f"formula is {shown(name)}; give one of: {', '.join(allowed)}.")

    def find_all(self, names: Collection[str]) -> tuple[str, ...]:
        """Return the names of formulas, each once, or say what was given in their place.

        >>> FORMULAS.find_all(["t2", "srk_t", "t2"])
        ('t2', 'srk_t')
        """
        example = "a list of names, such as ['srk_t', 't2']"
        require_instance("formulas", names, (list, tuple, Mapping), example)
        return tuple(dict.fromkeys(self.find(name).name for name in names))

    def _nearest(self, name, allowed):
        spelled = {_key(part): n for n in allowed for part in (n, self._records[n].title)}
        close = difflib.get_close_matches(_key(name)[:40], spelled, n=1, cutoff=0.7)
        return spelled[close[0]] if close else None

    def where(self, flag: str) -> tuple[str, ...]:
        """Return the names of the formulas of which a yes-or-no field holds, in order.

        >>> FORMULAS.where("position_uses_k")
        ('srk_t', 't2', 'holladay_1', 'hoffer_q')
        """
        return tuple(name for name, record in self._records.items() if getattr(record, flag))

    def advised_first(self, names: Iterable[str] | None = None) -> tuple[str, ...]:
        """Return names of formulas by year, those no longer advised after all the others.

        Of the early theoretical formulas and the regressions the literature says that they miss in
        eyes that are not average: Hoffer, J Cataract Refract Surg 1993;19:700 (from memory).

        >>> FORMULAS.advised_first(["srk_2", "t2", "srk_t"])
        ('srk_t', 't2', 'srk_2')
        """
        records = [self.find(name) for name in (self if names is None else names)]
        records.sort(key=lambda record: (not record.advised, record.year))
        return tuple(record.name for record in records)

    def titles(self, names: Iterable[str] | None = None) -> dict[str, str]:
        """Return name → title, of some formulas or of all.

        >>> FORMULAS.titles(["srk_t", "hoffer_q"])
        {'srk_t': 'SRK/T', 'hoffer_q': 'Hoffer Q'}
        """
        return {name: self.find(name).title for name in (self if names is None else names)}


def _key(text):
    """A name without what people spell in different ways."""
    return "".join(letter for letter in text.casefold() if letter.isalnum())


FORMULAS = Registry((*regression.FORMULAS, *thin_lens.FORMULAS))
