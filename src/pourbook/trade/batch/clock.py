"""When each share of a row of batches is spread, counted from the first mixing.

Contract: pure functions on plain numbers, s. One batch is spread after another. One mixer mixes and
carries between the batches; several mix the next while the one before is spread, in turn, and none
lets a bucket stand: it is ready just when it can be spread.

Source: arithmetic, worked here; the way of working is common practice, no source.
"""

from __future__ import annotations

from collections.abc import Sequence

Times = tuple[float, float]
"""Start and end, s."""


def spread_times(
    shares: Sequence[Sequence[float]], ready: float, mixers: int = 1
) -> list[list[Times]]:
    """Return when each share of each batch is spread.

    Args:
        shares: How long each share of each batch takes to spread, s, in order.
        ready: Time from the start of mixing a batch until it is spread, s.
        mixers: How many mix, 1 or more.

    Returns:
        Start and end of each share, s from the start of the first mixing.

    Units: s. Raises: nothing. Validity: times from 0. Source: see
    :mod:`the module <pourbook.trade.batch.clock>`.

    Example:
        >>> spread_times([[60.0, 30.0], [60.0]], 120.0)
        [[(120.0, 180.0), (180.0, 210.0)], [(330.0, 390.0)]]
        >>> spread_times([[60.0, 30.0], [60.0]], 120.0, mixers=2)
        [[(120.0, 180.0), (180.0, 210.0)], [(210.0, 270.0)]]
    """
    found: list[list[Times]] = []
    starts: list[float] = []
    end = 0.0
    for turn, batch in enumerate(shares):
        free = 0.0 if turn < mixers else starts[turn - mixers]
        begin = end + ready if mixers == 1 else max(end, free + ready)
        starts.append(begin)
        times = []
        end = begin
        for seconds in batch:
            times.append((end, end + seconds))
            end += seconds
        found.append(times)
    return found
