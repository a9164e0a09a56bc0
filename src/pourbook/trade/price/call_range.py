"""The range a quote lies in with a given chance, from how far earlier ones lay off their calls.

Contract: ratios of quote over first figure, pure functions; the distribution of the next one is
that of :mod:`pourbook.trade.learning`. Source: Student's t, found by halving on its distribution
(:func:`pourbook.trade.shortage.student_below`); checked against scipy.
"""

from __future__ import annotations

import math
from functools import lru_cache

from pourbook.trade.learning import Learned
from pourbook.trade.ranges import number
from pourbook.trade.shortage import student_below

_HALVINGS = 45
_FARTHEST = 1000.0


@lru_cache(maxsize=32)
def student_within(chance: float, freedom: float) -> float:
    """Return how far from 0 Student's t stays, either way, with a given chance.

    Args:
        chance: From 0.001 to 0.995.
        freedom: Degrees of freedom, from 1.

    Raises:
        InputError: A figure is out of range.

    Example:
        >>> round(student_within(0.8, 4.0), 6)
        1.533206
    """
    number("chance", chance, 0.001, 0.995)
    low, high = 0.0, _FARTHEST
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        if 2 * student_below(middle, freedom) - 1 < chance:
            low = middle
        else:
            high = middle
    return (low + high) / 2


def quote_range(first: float, learned: Learned, chance: float) -> tuple[float, float]:
    """Return the range the quote of a call lies in, as often below it as above.

    Args:
        first: What the call was worked out to, 0 and more.
        learned: The distribution of quote over first figure, of the next call.
        chance: The chance that it does, from 0.001 to 0.995.

    Raises:
        InputError: A figure is out of range.

    Example:
        >>> from pourbook.trade.learning import Prior, learn
        >>> low, high = quote_range(1000.0, learn("price", [], Prior(1.0, 0.1)), 0.8)
        >>> round(low, 1), round(high, 1)
        (842.5, 1187.0)
    """
    number("first figure", first)
    away = learned.width * student_within(chance, learned.freedom)
    return first * math.exp(learned.level - away), first * math.exp(learned.level + away)
