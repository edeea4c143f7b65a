"""Numbers as the trade writes them.

Lives here: how one number is written. May not live here: sentences.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from typing import SupportsFloat


def signed(value: SupportsFloat, unit: str = "D", digits: int = 2) -> str:
    """Return a number as the trade writes it, with a real minus sign and a plus.

    >>> signed(-2.5), signed(5), signed(0)
    ('−2.50 D', '+5.00 D', '0.00 D')
    """
    rounded = round(float(value), digits)
    sign = "+" if rounded > 0 else "−" if rounded < 0 else ""
    return f"{sign}{abs(rounded):.{digits}f} {unit}".rstrip()
