"""The lower bound on the number of batches, by itself.

Contract: pure functions on SI floats, for tests alone.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from pourbook.trade.batch.fewest import _units
from pourbook.trade.batch.repair import counted
from pourbook.trade.batch.search import l1, l2


@dataclass(frozen=True)
class Bounds:
    """Two numbers of batches that cannot be gone below.

    Args:
        l1: By volume alone.
        l2: Martello and Toth's, which also sees pieces that cannot share a batch.

    Units: none, counts. Validity: any. Raises: nothing. Source: Martello and Toth (1990).

    Example:
        >>> Bounds(4, 6).l2
        6
    """

    l1: int
    l2: int


def lower_bound(sizes: Sequence[float], capacity: float) -> Bounds:
    """Return how many batches are needed at least.

    Args:
        sizes: Volumes, m3, each above zero and at most the capacity.
        capacity: Volume of one batch, m3.

    Returns:
        The bounds L1 and L2; L2 is never less than L1, both are 0 for no sizes.

    Raises:
        InputError: A number is not above zero, or a size exceeds the capacity.

    Validity: up to 10,000 sizes; "fits" means to 1e-9 of the capacity. Cost: one sort and one pass.
    Source: Martello and Toth, "Knapsack Problems" (1990), chapter 8.

    Example:
        >>> lower_bound([6, 6, 6, 6, 6, 6], 10)
        Bounds(l1=4, l2=6)
    """
    units, cap = _units(sizes, capacity)
    kinds, counts = counted(sorted(units, reverse=True))
    return Bounds(l1(kinds, counts, cap), l2(kinds, counts, cap))
