"""Student's t against its printed table, and against scipy.

The table is 1.3.6.7.2 of the NIST/SEMATECH e-Handbook of Statistical Methods (the same stand
in every table since Fisher's), from memory; scipy agrees with each (computed, live).
"""

from __future__ import annotations

import math

import pytest
from scipy.special import stdtr

from pourbook.trade.learning import Learned
from pourbook.trade.shortage import student_below

# degrees of freedom, then the quantile below which lie 0.95, 0.975 and 0.99; from memory
TABLE = [
    (1, 6.314, 12.706, 31.821),
    (2, 2.920, 4.303, 6.965),
    (3, 2.353, 3.182, 4.541),
    (4, 2.132, 2.776, 3.747),
    (5, 2.015, 2.571, 3.365),
    (6, 1.943, 2.447, 3.143),
    (7, 1.895, 2.365, 2.998),
    (8, 1.860, 2.306, 2.896),
    (9, 1.833, 2.262, 2.821),
    (10, 1.812, 2.228, 2.764),
    (15, 1.753, 2.131, 2.602),
    (20, 1.725, 2.086, 2.528),
    (30, 1.697, 2.042, 2.457),
    (60, 1.671, 2.000, 2.390),
]
PRINTED = [
    (freedom, share, quantile)
    for freedom, *row in TABLE
    for share, quantile in zip((0.95, 0.975, 0.99), row, strict=True)
]


@pytest.mark.parametrize(("freedom", "share", "quantile"), PRINTED)
def test_the_printed_quantile(freedom: int, share: float, quantile: float) -> None:
    # the table prints three places: what lies below half a unit of the last, either side
    low, high = (student_below(quantile + d, freedom) for d in (-0.0005, 0.0005))
    assert low <= share <= high
    assert student_below(-quantile, freedom) == pytest.approx(1 - share, abs=2e-4)


@pytest.mark.parametrize("freedom", [1.0, 1.5, 2.7, 4.0, 11.3, 40.0, 250.0, 9000.0])
@pytest.mark.parametrize("x", [-1e200, -9.0, -2.5, -0.3, -1e-9, 0.0, 0.4, 1.0, 3.3, 20.0])
def test_scipy_agrees(x: float, freedom: float) -> None:
    assert student_below(x, freedom) == pytest.approx(float(stdtr(freedom, x)), abs=1e-9)


@pytest.mark.parametrize(("freedom", "share", "quantile"), PRINTED)
def test_a_pace_that_was_learned_has_the_printed_quantile(
    freedom: int, share: float, quantile: float
) -> None:
    """On its logarithm a pace is Student's t about its level: here about 0, one wide."""
    learned = Learned("pace", 0, 0.0, 1.0, float(freedom), 1.0)
    assert math.log(learned.quantile(share)) == pytest.approx(quantile, abs=6e-4)
