"""Published bin-packing instances, each with its source and how far it was seen.

Status: SEEN, the numbers were read in a stored source; COMP, recomputed with OR-Tools CP-SAT; MEM,
from memory. The instances and optima come from the project's list of published check values.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from tests.oracles.bounds import lower_bound

from pourbook.trade.batch.fewest import pack
from pourbook.trade.batch.search import fit_decreasing

P4 = [442, *[252] * 7, *[127] * 5, *[106] * 4, 85, 84, 46, 37, 37, *[12] * 3, *[10] * 6, 9, 9]

# name, weights, capacity, L1, L2, first fit decreasing, best fit decreasing, fewest
CASES = [
    # P1 Martello & Toth chapter 8; Burkardt's bin packing data p01. SEEN
    ("P1", [70, 60, 50, 33, 33, 33, 11, 7, 3], 100, 3, 4, 4, 4, 4),
    # P2 Burkardt p02. Instance SEEN, optimum COMP
    ("P2", [99, 94, 79, 64, 50, 46, 43, 37, 32, 19, 18, 7, 6, 3], 100, 6, 6, 7, 7, 7),
    # P3 Burkardt p03. Instance SEEN, optimum COMP
    ("P3", [49, 41, 34, 33, 29, 26, 26, 22, 20, 19], 100, 3, 3, 4, 4, 3),
    # P4 Burkardt p04. SEEN
    ("P4", P4, 524, 7, 7, 7, 8, 7),
    # P4b: P4 without the 46, where first fit decreasing needs one bin MORE. COMP
    ("P4b", [size for size in P4 if size != 46], 524, 7, 7, 8, 7, 7),
    # P5 OR-Tools bin packing guide. Instance MEM, optimum COMP
    ("P5", [48, 30, 19, 36, 36, 27, 42, 42, 36, 24, 30], 100, 4, 4, 4, 4, 4),
    # P8 hand case: two of 6 never share a bin of 10. COMP
    ("P8", [6, 6, 6, 6, 6, 6], 10, 4, 6, 6, 6, 6),
    # P9 docstring of the mknapsack package. SEEN
    ("P9", [4, 1, 8, 1, 4, 2], 10, 2, 2, 2, 2, 2),
]


@pytest.mark.parametrize(
    ("weights", "capacity", "expected"),
    [(case[1], case[2], case[3:]) for case in CASES],
    ids=[case[0] for case in CASES],
)
def test_published_instances(
    weights: list[int], capacity: int, expected: tuple[int, int, int, int, int]
) -> None:
    l1, l2, first, best, fewest = expected
    bounds = lower_bound(weights, capacity)
    assert (bounds.l1, bounds.l2) == (l1, l2)
    falling = sorted(weights, reverse=True)
    assert len(fit_decreasing(falling, capacity, best=False)) == first
    assert len(fit_decreasing(falling, capacity, best=True)) == best
    packing = pack(weights, capacity)
    assert (len(packing.bins), packing.bound, packing.proved) == (fewest, fewest, True)


def test_p6_falkenauer_u120_00() -> None:
    """E. Falkenauer's u120_00, lower and upper bound 48, as kept in BPPLib.jl (test data). SEEN.

    First and best fit decreasing stop at 49. COMP.
    """
    text = (Path(__file__).parent / "Falkenauer_u120_00.txt").read_text(encoding="ascii")
    count, capacity, *weights = [int(word) for word in text.split()]
    assert (count, len(weights), sum(weights), capacity) == (120, 120, 7078, 150)
    falling = sorted(weights, reverse=True)
    assert len(fit_decreasing(falling, capacity, best=False)) == 49
    assert len(fit_decreasing(falling, capacity, best=True)) == 49
    packing = pack(weights, capacity)
    assert (len(packing.bins), packing.bound, packing.proved) == (48, 48, True)
    assert max(sum(weights[at] for at in one) for one in packing.bins) <= 150


def test_e3_the_optimum_of_four_in_a_public_student_test_is_wrong() -> None:
    """E3: that test prints "Opt: 4" for P3; 3 is right (sum 299 in bins of 100, CP-SAT). COMP."""
    packing = pack([49, 41, 34, 33, 29, 26, 26, 22, 20, 19], 100)
    assert len(packing.bins) == 3


# P7 lists bounds alone (BPPLib.jl Bounds.txt: t60_00 20, u120_01 49, HARD0 56 ...). The instances
# behind them are not in the project, so nothing can be checked against them here.
