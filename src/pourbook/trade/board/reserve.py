"""Reserves what is on the shelf and on order for many jobs, earliest expiry first.

Contract: pure; amounts in m³, days are whole numbers. A can serves a job whose day lies between the
day it is there and its use-by day. Jobs that were accepted come first, the others are pencilled in
behind them; within each the earlier day takes first, of the cans that serve it that which expires
first. So no other sharing-out covers more of the accepted jobs: cans serve a run of days without a
gap, for which taking them in this order is known to be best (Glover 1967, from memory; the tests
hold it against linear programming).
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from pourbook.records import dataclass

NOISE = 1e-12
"""m³: a thousandth of a millilitre is nothing."""


@dataclass(frozen=True)
class Claim:
    """What a job needs of a product: how much, m³, on which day, and whether it was accepted."""

    product: str
    amount: float
    day: int
    firm: bool


@dataclass(frozen=True)
class Can:
    """What there is of a product: how much, m³, from which day on and until which, if either."""

    product: str
    amount: float
    here: int | None = None
    use_by: int | None = None


def reserve(needs: Sequence[Claim], cans: Sequence[Can]) -> list[dict[int, float]]:
    """Return what each need takes of which can, by the can's place, m³.

    Args:
        needs: What the jobs need.
        cans: What is on the shelf and on order.

    Example:
        >>> cans = [Can("Clear", 2.0, use_by=20), Can("Clear", 3.0, use_by=10)]
        >>> reserve([Claim("Clear", 4.0, 5, True), Claim("Clear", 4.0, 15, True)], cans)
        [{1: 3.0, 0: 1.0}, {0: 1.0}]
    """
    left = [max(can.amount, 0.0) for can in cans]
    taken: list[dict[int, float]] = [{} for _ in needs]
    order = sorted(range(len(needs)), key=lambda n: (not needs[n].firm, needs[n].day, n))
    for place in order:
        need = needs[place]
        open_ = need.amount
        for can in sorted(_serving(need, cans), key=lambda c: _first(cans[c], c)):
            amount = min(open_, left[can])
            if amount > NOISE:
                taken[place][can] = amount
                left[can] -= amount
                open_ -= amount
    return taken


def _serving(need: Claim, cans: Sequence[Can]) -> list[int]:
    return [
        place
        for place, can in enumerate(cans)
        if can.product == need.product
        and (can.here is None or can.here <= need.day)
        and (can.use_by is None or can.use_by >= need.day)
    ]


def _first(can: Can, place: int) -> tuple[float, float, int]:
    """Return what puts one can before another: it expires first, was there first, stands first."""
    expires = math.inf if can.use_by is None else float(can.use_by)
    return expires, -math.inf if can.here is None else float(can.here), place
