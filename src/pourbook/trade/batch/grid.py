"""Volumes as whole numbers, so that packing and buying never hang on a float's last digit.

Contract: pure and deterministic. Volumes go in, whole grid units come out; a sum of whole units
compared with the returned limit answers "does it fit" to one part in a thousand million. Imports
nothing of Pourbook but :mod:`pourbook.errors`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from pourbook.errors import InputError, MisreadError, RangeError

GRID = 10**13
TOLERANCE = 5_000
MOST_PIECES = 10_000
_EXACT = 2.0**53


def checked(value: float, what: str) -> float:
    """Return ``value`` as a float when it is a number above zero.

    Args:
        value: Any real number.
        what: What the number is, in the estimator's words.

    Returns:
        The same number as a float.

    Raises:
        InputError: The value is no number, not finite, zero or negative.

    Validity: finite numbers above zero. Source: none needed, it is a guard.

    Example:
        >>> checked(2, "the bucket")
        2.0
    """
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        raise MisreadError(f"{what} is not a number", "type a number above 0")
    if not math.isfinite(value) or value <= 0:
        raise RangeError(f"{what} is {value:g}", "type a number above 0")
    return float(value)


def not_negative(value: float, what: str) -> float:
    """Return ``value`` as a float when it is a number from zero up.

    Args:
        value: Any real number.
        what: What the number is, in the estimator's words.

    Returns:
        The same number as a float.

    Raises:
        InputError: The value is no number, not finite, or negative.

    Validity: finite numbers from zero. Source: none needed, it is a guard.

    Example:
        >>> not_negative(0, "the loss per batch")
        0.0
    """
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        raise MisreadError(f"{what} is not a number", "type 0 or more")
    if not math.isfinite(value) or value < 0:
        raise RangeError(f"{what} is {value:g}", "type 0 or more")
    return float(value)


def grid_units(sizes: Sequence[float], capacity: float) -> tuple[tuple[int, ...], int]:
    """Put volumes on a grid of whole units on which "fits" is an exact question.

    Whole numbers below 2**53 stay as they are and are compared exactly. Anything else is rounded to
    the nearest 1e-13 of the capacity, and the limit is let out by 5e-10, so that shares which add
    up to the capacity on paper also do so here; with the rounding of at most 10,000 pieces no sum
    that passes exceeds the capacity by more than 1e-9 of it.

    Args:
        sizes: Volumes, m3 (or any one unit shared with ``capacity``), each above zero.
        capacity: Largest volume of one batch, same unit, above zero.

    Returns:
        The sizes as whole units in the order given, and the limit in whole units.

    Raises:
        InputError: A size or the capacity is not a finite number above zero, or there are more
            than 10,000 sizes.

    Validity: at most 10,000 sizes. Source: plain fixed-point rounding, worked here.

    Example:
        >>> grid_units([4, 6], 10)
        ((4, 6), 10)
        >>> parts, limit = grid_units([0.1, 0.2], 0.3)
        >>> sum(parts) <= limit
        True
    """
    limit = checked(capacity, "the batch size")
    if len(sizes) > MOST_PIECES:
        raise InputError(
            f"{len(sizes)} pieces are more than {MOST_PIECES}", "plan the job in several layers"
        )
    clean = [checked(size, f"the amount of piece {at + 1}") for at, size in enumerate(sizes)]
    if limit.is_integer() and limit < _EXACT and all(s.is_integer() for s in clean):
        return tuple(int(s) for s in clean), int(limit)
    over, under = limit.as_integer_ratio()
    units = []
    for size in clean:
        top, bottom = size.as_integer_ratio()
        # round(size / limit * GRID), in whole-number arithmetic so every platform agrees
        high, low = top * under * GRID, bottom * over
        units.append(max(1, (2 * high + low) // (2 * low)))
    return tuple(units), GRID + TOLERANCE
