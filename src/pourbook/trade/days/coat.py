"""The batches of one coat and the heat passes of each, on the clock of the coat.

Contract: pure functions on plain numbers, s from the first mixing of the coat. Each batch is heated
for itself, once it has lain a while and before it thickens. Whoever does not spread does that while
the next batch is poured; where all spread, the crew heats between two batches. There is one torch.

Source: common practice, no source, for when a pour is heated; the rest is arithmetic, worked here.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from pourbook.records import dataclass
from pourbook.trade.batch.clock import spread_times


@dataclass(frozen=True)
class Heat:
    """How a batch is heated.

    Args:
        passes: How many passes, one at least.
        seconds: Length of one pass, s.
        gap: Wait before each pass but the first, s.
        since: Earliest first pass after the batch is spread, s.
        until: Latest first pass after it is spread, s.
        free_hand: Whether somebody is free while a batch is spread.

    Raises: nothing. Validity: any. Source: none, it is a record.

    Example:
        >>> Heat(3, 60.0, 60.0, 300.0, 900.0, True).lasts
        300.0
    """

    passes: int
    seconds: float
    gap: float
    since: float
    until: float
    free_hand: bool

    @property
    def lasts(self) -> float:
        """Return the time from the first pass to the end of the last, s."""
        return self.passes * self.seconds + (self.passes - 1) * self.gap


class Done(NamedTuple):
    """A batch, or the heat passes of one: ``turn`` counts batches from 0, ``late`` is s too late.

    Raises: nothing. Validity: any. Source: none, it is a record.

    Example:
        >>> Done(False, 0, 0.0, 900.0).late
        0.0
    """

    heated: bool
    turn: int
    start: float
    end: float
    late: float = 0.0


def coat_times(
    batches: Sequence[float], ready: float = 0.0, mixers: int = 1, heat: Heat | None = None
) -> list[Done]:
    """Return when each batch of a coat is mixed and spread, and when it is heated.

    Args:
        batches: How long each batch takes to mix, carry and spread, s.
        ready: The part of it before spreading, s.
        mixers: How many mix; two or more mix the next batch while one is spread.
        heat: How each batch is heated; None for not at all.

    Returns:
        Batches and heat passes in the order they begin.

    Units: s. Raises: nothing. Validity: ``ready`` no longer than any batch. Source: see
    :mod:`the module <pourbook.trade.days.coat>`.

    Example:
        >>> heat = Heat(1, 60.0, 0.0, 300.0, 900.0, False)
        >>> [(one.heated, one.start) for one in coat_times([900.0, 900.0], heat=heat)]
        [(False, 0.0), (False, 900.0), (True, 1800.0), (True, 2100.0)]
    """
    if heat is None or heat.free_hand:
        spread = spread_times([[max(one - ready, 0.0)] for one in batches], ready, mixers)
        poured = [Done(False, n, one[0][0] - ready, one[0][1]) for n, one in enumerate(spread)]
        heated: list[Done] = []
        if heat is not None:
            for one in poured:
                heated.append(_heated(one, heated[-1].end if heated else 0.0, heat))
        return sorted([*poured, *heated], key=lambda one: (one.start, one.end))
    found: list[Done] = []
    waiting: list[Done] = []
    now = 0.0
    for turn, lasts in enumerate(batches):
        while waiting and (
            now >= waiting[0].end + heat.since or now + lasts > waiting[0].end + heat.until
        ):
            found.append(_heated(waiting.pop(0), now, heat))
            now = found[-1].end
        found.append(Done(False, turn, now, now + lasts))
        waiting.append(found[-1])
        now += lasts
    for one in waiting:
        found.append(_heated(one, now, heat))
        now = found[-1].end
    return found


def _heated(batch: Done, free: float, heat: Heat) -> Done:
    """Return the passes of a batch, from when the torch is free."""
    start = max(free, batch.end + heat.since)
    late = max(0.0, start - batch.end - heat.until)
    return Done(True, batch.turn, start, start + heat.lasts, late)
