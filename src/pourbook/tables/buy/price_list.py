"""Which prices of the shop's list hold on a day: of each pack and seller the latest.

Contract: plain rows in, their places out. A price holds from its day until a later one of the same
pack and seller.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date

from pourbook.records import dataclass


@dataclass(frozen=True)
class Listed:
    """A row of the price list: its place, which pack of whom it is, and its first day, or None."""

    row: int
    product: str
    holds: str
    seller: str
    contents: float
    first: date | None

    @property
    def pack(self) -> tuple[str, str, str, float]:
        """Return what tells one pack on sale from another."""
        names = (name.casefold() for name in (self.product, self.holds, self.seller))
        product, holds, seller = names
        return product, holds, seller, self.contents


def holding(rows: Iterable[Listed], day: date) -> list[int]:
    """Return the places of the prices that hold on a day, in the order of the list.

    Args:
        rows: The price list.
        day: The day.

    Example:
        >>> old = Listed(0, "Clear", "kit", "Coast", 2.0, date(2026, 3, 1))
        >>> new = Listed(1, "clear", "kit", "Coast", 2.0, date(2026, 9, 1))
        >>> holding([old, new], date(2026, 8, 31)), holding([old, new], date(2026, 9, 1))
        ([0], [1])
    """
    latest: dict[tuple[str, str, str, float], tuple[date, int]] = {}
    for one in rows:
        if one.first is None or one.first > day:
            continue
        if one.pack not in latest or latest[one.pack][0] < one.first:
            latest[one.pack] = (one.first, one.row)
    return sorted(row for _, row in latest.values())
