"""Bring overfull bins under the capacity by packing small groups of bins anew.

Contract: pure and deterministic: the groups come from a fixed number series, never from the
platform's random numbers; work is counted in search steps.

Source: large neighbourhood search, P. Shaw (1998), from memory, with the exact search of
:mod:`pourbook.trade.batch.search` inside.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import accumulate

from pourbook.trade.batch.search import fit_into

_STEPS_A_GROUP = 1_500
_ROUND = 20  # what choosing a group costs, in search steps


def counted(falling: Sequence[int]) -> tuple[list[int], list[int]]:
    """Return distinct falling sizes and how many there are of each.

    Args:
        falling: Sizes, grid units, falling.

    Returns:
        The distinct sizes and their counts.

    Raises: nothing; callers have checked the numbers. Validity: falling order. Source: none needed.

    Example:
        >>> counted([5, 5, 3])
        ([5, 3], [2, 1])
    """
    sizes: list[int] = []
    counts: list[int] = []
    for size in falling:
        if sizes and sizes[-1] == size:
            counts[-1] += 1
        else:
            sizes.append(size)
            counts.append(1)
    return sizes, counts


def placed(found: Sequence[Sequence[int]], counts: Sequence[int]) -> list[list[int]]:
    """Turn bins of size numbers into bins of places in the falling list.

    Args:
        found: Bins of size numbers, as :func:`pourbook.trade.batch.search.fit_into` gives them.
        counts: How many pieces of each size there are.

    Returns:
        Bins of places.

    Raises: nothing; callers have checked the numbers. Validity: every piece in one bin. Source:
    none needed.

    Example:
        >>> placed([[0, 1], [0]], [2, 1])
        [[0, 2], [1]]
    """
    following = [0, *accumulate(counts)]
    bins: list[list[int]] = []
    for one in found:
        bins.append([])
        for kind in one:
            bins[-1].append(following[kind])
            following[kind] += 1
    return bins


def repair(
    falling: Sequence[int], bins: Sequence[Sequence[int]], cap: int, node_limit: int
) -> tuple[list[list[int]], int]:
    """Repack groups of three to seven bins, an overfull one among them, until none is overfull.

    Args:
        falling: Sizes, grid units, falling.
        bins: Bins as places in ``falling``; some may be overfull.
        cap: Capacity, grid units.
        node_limit: Most search steps.

    Returns:
        The bins, of which some may still be overfull, and the steps used.

    Raises: nothing; callers have checked the numbers. Validity: whole numbers. A heuristic: failing
    proves nothing. Source: Shaw (1998), from memory.

    Example:
        >>> repair([4, 3, 3, 2], [[0, 1], [2, 3]], 6, 100)[0]
        [[0, 3], [1, 2]]
    """
    work = [list(one) for one in bins]
    loads = [sum(falling[at] for at in one) for one in work]
    series = 1
    nodes = 0
    rounds = 0
    while nodes < node_limit and max(loads) > cap:
        rounds += 1
        group = [max(range(len(work)), key=lambda at: (loads[at], -at))]
        others = [at for at in range(len(work)) if at != group[0]]
        emptiest = min(others, key=lambda at: (loads[at], at), default=None)
        if emptiest is not None and rounds % 2:
            group.append(emptiest)
            others.remove(emptiest)
        while others and len(group) < 3 + rounds % 5:
            series = (series * 1_103_515_245 + 12_345) % 2_147_483_648
            group.append(others.pop((series >> 8) % len(others)))
        nodes += _ROUND
        if sum(loads[at] for at in group) > cap * len(group):
            continue
        pool = sorted(at for one in group for at in work[one])
        kinds, counts = counted([falling[at] for at in pool])
        steps = min(_STEPS_A_GROUP, node_limit - nodes)
        outcome = fit_into(kinds, counts, cap, len(group), steps)
        nodes += outcome.nodes
        if outcome.found is None:
            continue
        new = placed(outcome.found, counts)
        for at, one in enumerate(group):
            work[one] = [pool[place] for place in new[at]] if at < len(new) else []
            loads[one] = sum(falling[place] for place in work[one])
    return work, nodes
