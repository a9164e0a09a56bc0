"""When a mass of mix gels in its bucket by its kinetics, set against the pot life that is stated.

Contract: SI floats; the heat balance is that of :mod:`pourbook.trade.cure.heat`. Kinetic constants
by which the mass the pot life is stated for gels more than a third sooner or later than stated are
not those of the mix (common practice, no source, for the third).
"""

from __future__ import annotations

import math

from pourbook.trade.cure.heat import Bucket, bucket_history
from pourbook.trade.cure.kinetics import Kinetics
from pourbook.trade.ranges import positive

GEL_POINT = 1.0 / math.sqrt(3.0)
"""Conversion at which two-functional epoxy and four-functional amine in balance gel (Flory 1941,
Stockmayer 1943, from memory)."""
MAY_MISS = 1.0 / 3.0
"""How far constants may miss a stated pot life, as a fraction of it."""
_STEP = 1.01
_FIRST = 10.0


def gel_time(kinetics: Kinetics, bucket: Bucket, end: float) -> float | None:
    """Return when a mass gels, or None if it does not by ``end``.

    Args:
        kinetics: The mix's constants.
        bucket: The mass in its bucket.
        end: How long it is watched, s, above 0.

    Returns:
        Time from mixing, s, between two points of the heat balance one per cent apart.

    Example:
        >>> first_order = Kinetics(0.001, 0.0, 0.0, 0.0, 0.0, 1.0)
        >>> held = Bucket(1.0, 0.05, 1e6, 1.0, 2000.0, 298.15, 298.15)
        >>> round(gel_time(first_order, held, 5000.0), -1)  # -ln(1 - 0.57735)/0.001
        860.0
    """
    positive("time watched in s", end)
    count = max(1, math.ceil(math.log(max(end / _FIRST, 1.0)) / math.log(_STEP)))
    times = [min(end, _FIRST * _STEP**n) for n in range(count + 1)]
    was = (0.0, 0.0)
    for state in bucket_history(kinetics, bucket, times):
        now = (state.seconds, state.conversion)
        if now[1] >= GEL_POINT:
            return was[0] + (GEL_POINT - was[1]) / (now[1] - was[1]) * (now[0] - was[0])
        was = now
    return None


def misses(found: float | None, stated: float) -> bool:
    """Return whether a time worked out misses the one stated by more than a third of it.

    Args:
        found: Time by the constants, s; None is beyond all that was watched.
        stated: Pot life the product states, s, above 0.

    Example:
        >>> misses(40.0, 60.0), misses(39.0, 60.0), misses(80.0, 60.0), misses(None, 60.0)
        (False, True, False, True)
    """
    positive("pot life in s", stated)
    return found is None or abs(found - stated) > MAY_MISS * stated * (1 + 1e-9)
