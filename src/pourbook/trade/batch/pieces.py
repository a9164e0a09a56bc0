"""What is coated in one pass, how its batches may go, and which pieces run into each other.

Contract: records only. Volumes in m3; places are those of the list given to
:func:`pourbook.trade.batch.plan.plan`.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from enum import Enum
from typing import NamedTuple

CLOSE = 1e-9
"""What two volumes may differ by, as a share of a batch, and still count as equal."""
Cut = tuple[int, float]
"""The place of a piece, and the volume one batch gives to it."""
Join = tuple[int, int]
"""The places of two pieces that run into each other."""


class Going(Enum):
    """How batches go over the pieces; the values are the words of the sheet Start.

    Example:
        >>> Going("as ordered")
        <Going.ORDERED: 'as ordered'>
    """

    ROOMS = "room by room"
    ORDERED = "as ordered"
    FEWEST = "fewest"
    LOOSE = "fewest, parts of a piece apart"
    """As in jobs of templates 1; no sheet offers it."""


class Piece(NamedTuple):
    """One piece to be coated.

    Args:
        name: What the estimator calls it.
        volume: Mixed volume it needs, percentage losses included, m3, above zero.
        may_split: True when two batches may meet on it, poured wet into wet.
        order: Place in the pouring order, infinite for last; equal orders keep the list's order.
        room: The room it is in; empty is one room with all others of no room.

    Raises: nothing here; :func:`pourbook.trade.batch.plan.plan` checks. Validity: see there.
    Source: none, a record.

    Example:
        >>> Piece("island", 0.004).may_split
        False
    """

    name: str
    volume: float
    may_split: bool = False
    order: float = 0
    room: str = ""


def batches_for(ratio: float) -> int:
    """Return how many batches hold so many times a batch, forgiving one part in 1e9.

    Example:
        >>> batches_for(2.0000000001), batches_for(2.1), batches_for(0.2)
        (2, 3, 1)
    """
    return max(1, math.ceil(ratio * (1 - CLOSE)))


def apart(batches: Sequence[Iterable[Cut]], joins: Iterable[Join]) -> list[Join]:
    """Return the joins whose second piece is begun later than in the batch after the first ends.

    Args:
        batches: The cuts of each batch, in the order they are poured.
        joins: Pairs of places; both pieces stand in the batches.

    Units: none, places. Raises: KeyError for a piece that is in no batch. Validity: any plan.
    Source: counted.

    Example:
        >>> apart([[(0, 1.0)], [(2, 1.0)], [(1, 1.0)]], [(0, 1), (0, 2)])
        [(0, 1)]
    """
    first: dict[int, int] = {}
    last: dict[int, int] = {}
    for turn, one in enumerate(batches):
        for at, _ in one:
            first.setdefault(at, turn)
            last[at] = turn
    return [(a, b) for a, b in joins if first[b] > last[a] + 1 or first[a] > last[b] + 1]
