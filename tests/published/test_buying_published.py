"""Published knapsack and covering instances, each with its source and how far it was seen.

A knapsack is put to the covering search as what stays behind: from all there is, leave at least
(total weight - capacity) behind and lose the least profit. Status as in the packing tests.
"""

from __future__ import annotations

import pytest

from pourbook.trade.buying import Pack, buy
from pourbook.trade.covering import cover, cover_parts

# Data of B1-B4: docstring of the mknapsack package, after Martello & Toth. SEEN
PROFITS = [78, 35, 89, 36, 94, 75, 74, 100, 80, 16]
WEIGHTS = [18, 9, 23, 20, 59, 61, 70, 75, 76, 30]
CAPACITY = 190


def knapsack(bounds: list[int]) -> tuple[float, list[int]]:
    """Return the best profit and what is carried."""
    total = sum(weight * bounds[at] for at, weight in enumerate(WEIGHTS))
    left = cover(total - CAPACITY, WEIGHTS, PROFITS, bounds)
    assert left.proved
    carried = [bounds[at] - count for at, count in enumerate(left.counts)]
    assert sum(WEIGHTS[at] * count for at, count in enumerate(carried)) <= CAPACITY
    return sum(PROFITS[at] * count for at, count in enumerate(carried)), carried


def test_b1_nought_or_one() -> None:
    """407 at weight 190 with items 1 to 6: Martello & Toth's code and CP-SAT. SEEN and COMP."""
    assert knapsack([1] * 10) == (407, [1, 1, 1, 1, 1, 1, 0, 0, 0, 0])


def test_b2_bounded() -> None:
    """545 at weight 184: Martello & Toth's code and CP-SAT. SEEN and COMP."""
    profit, carried = knapsack([1, 2, 3, 2, 2, 1, 2, 2, 1, 4])
    assert profit == 545
    assert carried == [1, 2, 3, 1, 1, 0, 0, 0, 0, 0]


def test_b3_unbounded() -> None:
    """815 = ten of item 1 and one of item 2; no more than 190 // weight fit. SEEN and COMP."""
    profit, carried = knapsack([CAPACITY // weight for weight in WEIGHTS])
    assert (profit, carried) == (815, [10, 1, 0, 0, 0, 0, 0, 0, 0, 0])


def test_b4_change_making() -> None:
    """190 exactly in 3 pieces; among 3 pieces the least left over is none. SEEN and COMP."""
    change = cover(CAPACITY, WEIGHTS, [1] * 10)
    assert sum(change.counts) == 3
    assert sum(WEIGHTS[at] * count for at, count in enumerate(change.counts)) == CAPACITY


def test_b5_two_limits() -> None:
    """Rosetta Code's unbounded knapsack: 54,500. Answer MEM, recomputed with CP-SAT. COMP."""
    values = [3000, 1800, 2500]
    weights = [0.3, 0.2, 2.0]
    volumes = [0.025, 0.015, 0.002]
    most = [10, 16, 12]
    behind = cover_parts(
        [10 * 0.3 + 16 * 0.2 + 12 * 2.0 - 25, 10 * 0.025 + 16 * 0.015 + 12 * 0.002 - 0.25],
        [[weights[at], volumes[at]] for at in range(3)],
        values,
        most,
    )
    assert behind.proved
    assert sum(values[at] * (most[at] - behind.counts[at]) for at in range(3)) == 54_500


def test_b6_coins_where_greed_fails() -> None:
    """63 from 1, 5, 10, 21, 25 takes three 21s; largest coin first takes six. MEM and COMP."""
    assert cover(63, [1, 5, 10, 21, 25], [1] * 5).counts == (0, 0, 0, 3, 0)


@pytest.mark.parametrize(
    ("need", "cost", "counts"), [(9, 220.0, (0, 2)), (8, 200.0, (3, 1))], ids=["B7-9", "B7-8"]
)
def test_b7_kits(need: int, cost: float, counts: tuple[int, int]) -> None:
    """1 gal at 30 and 5 gal at 110: 9 gal cost 220, not the greedy 230. COMP."""
    made = buy([need], [Pack("1 gal", (1,), 30), Pack("5 gal", (5,), 110)])
    assert (made.cost, made.counts, made.proved) == (cost, counts, True)


def test_b8_a_kit_brings_both_parts() -> None:
    """A and B come in the same whole number of kits unless sold apart; the rest is told. Logic."""
    kit = Pack("kit", (2.0, 1.0), 60)
    together = buy([6.0, 4.0], [kit])
    assert together.counts == (4,)
    assert together.left_over == (2.0, 0.0)
    apart = buy([6.0, 4.0], [kit, Pack("B alone", (0.0, 1.0), 25)])
    assert (apart.counts, apart.cost) == ((3, 1), 205.0)
