"""Spread pieces over a given number of batches as evenly as a search finds.

Contract: pure and deterministic; sizes are whole grid units, work is counted in pairings of two
bins. The same search serves two ends: packing into fewer bins (an even packing is one that fits)
and evenness among packings with the fewest bins.

Sources: R. L. Graham (1969) for longest-piece-first; evening pairs of bins is ordinary local
search, as in Alvim, Ribeiro, Glover and Aloise (2004) on bin packing. Both from memory.
"""

from __future__ import annotations

from collections.abc import Sequence
from heapq import heapify, heapreplace

_PAIR_PIECES = 8


def largest_bound(sizes: Sequence[int], bins: int) -> int:
    """Return a load that the fullest of ``bins`` bins cannot go below.

    The largest of: the mean load rounded up; the largest piece; and for every j the j + 1 smallest
    of the first j * bins + 1 pieces, of which some bin must hold j + 1.

    Args:
        sizes: Sizes, grid units, falling.
        bins: Number of bins, above zero.

    Returns:
        The bound, grid units; zero when there are no pieces.

    Raises: nothing; callers have checked the numbers. Validity: whole numbers. Source: the pigeon
    hole principle, worked here.

    Example:
        >>> largest_bound([5, 5, 5], 2)
        10
    """
    if not sizes:
        return 0
    bound = max(-(-sum(sizes) // bins), sizes[0])
    for each in range(1, (len(sizes) - 1) // bins + 1):
        last = each * bins + 1
        bound = max(bound, sum(sizes[last - each - 1 : last]))
    return bound


def longest_first(sizes: Sequence[int], bins: int, loads: Sequence[int] = ()) -> list[list[int]]:
    """Give each falling size to the emptiest bin.

    Args:
        sizes: Sizes, grid units, falling.
        bins: Number of bins, above zero.
        loads: What is in the bins already, grid units; empty for nothing.

    Returns:
        Bins as lists of places in ``sizes``; the capacity is not looked at.

    Raises: nothing; callers have checked the numbers. Validity: whole numbers. Source: Graham
    (1969), from memory.

    Example:
        >>> longest_first([5, 4, 3], 2)
        [[0], [1, 2]]
    """
    heap = [(loads[at] if loads else 0, at) for at in range(bins)]
    heapify(heap)
    filled: list[list[int]] = [[] for _ in range(bins)]
    for at, size in enumerate(sizes):
        load, where = heap[0]
        filled[where].append(at)
        heapreplace(heap, (load + size, where))
    return filled


def _split_evenly(sizes: Sequence[int], pool: list[int], half: int) -> tuple[list[int], list[int]]:
    """Split a few pieces in two, the first part as close above ``half`` as can be."""
    sums = [0]
    for at in pool:
        size = sizes[at]
        sums += [size + one for one in sums]
    best = min([one for one in sums if one >= half])
    mask = sums.index(best)
    first: list[int] = []
    second: list[int] = []
    for bit, at in enumerate(pool):
        (first if mask >> bit & 1 else second).append(at)
    return first, second


def _trade(
    sizes: Sequence[int], full: list[int], light: list[int], gap: int
) -> tuple[list[int], list[int]] | None:
    """Move one piece, or swap one for another, so that two full bins differ least."""
    best = gap
    choice: tuple[int, int] | None = None
    for at in full:
        for other in (-1, *light):
            moved = sizes[at] - (sizes[other] if other >= 0 else 0)
            if 0 < moved < gap and abs(gap - 2 * moved) < best:
                best = abs(gap - 2 * moved)
                choice = (at, other)
    if choice is None:
        return None
    at, other = choice
    heavy = [one for one in full if one != at] + ([other] if other >= 0 else [])
    return heavy, [one for one in light if one != other] + [at]


def even_pair(
    sizes: Sequence[int], full: list[int], light: list[int], loads: tuple[int, int]
) -> tuple[list[int], list[int]] | None:
    """Share the pieces of two bins anew so that they differ less.

    Up to eight pieces are split exactly; more are improved by one move or one swap.

    Args:
        sizes: Sizes, grid units.
        full: Places of the fuller bin's pieces.
        light: Places of the other bin's pieces.
        loads: Their loads, grid units, the first at least the second.

    Returns:
        The two new bins, fuller first, or None when they cannot differ less.

    Raises: nothing; callers have checked the numbers. Validity: whole numbers. Source: plain
    enumeration, worked here.

    Example:
        >>> even_pair([4, 3, 2], [0, 1], [2], (7, 2))
        ([1, 2], [0])
    """
    gap = loads[0] - loads[1]
    if gap <= 1:
        return None
    if len(full) + len(light) > _PAIR_PIECES:
        return _trade(sizes, full, light, gap)
    pool = sorted(full + light)
    heavy, other = _split_evenly(sizes, pool, (loads[0] + loads[1] + 1) // 2)
    if sum([sizes[at] for at in heavy]) >= loads[0]:
        return None
    return heavy, other


def even_out(
    sizes: Sequence[int], bins: Sequence[Sequence[int]], span: tuple[int, int], pairings: int
) -> list[list[int]]:
    """Even bins pair by pair: first bring the fullest down, then the emptiest up.

    Args:
        sizes: Sizes, grid units.
        bins: Bins as places in ``sizes``.
        span: Loads between which bins are even enough, lowest and highest, grid units.
        pairings: Most pairs of bins to try.

    Returns:
        New bins; the fullest is never fuller than before. A local optimum, not a proven one.

    Raises: nothing; callers have checked the numbers. Validity: whole numbers. Source: local
    search, worked here.

    Example:
        >>> even_out([4, 3, 2], [[0, 1], [2]], (4, 5), 10)
        [[1, 2], [0]]
    """
    work = [list(one) for one in bins]
    loads = [sum([sizes[at] for at in one]) for one in work]
    turns = [0] * len(work)  # how often a bin changed: a pair that stayed dull is not tried again
    dull: set[tuple[int, int, int, int]] = set()
    left = pairings
    for lower in (True, False):
        moved = True
        while moved and left > 0:
            moved = False
            order = sorted(range(len(work)), key=loads.__getitem__)
            pivot = order.pop() if lower else order.pop(0)
            if loads[pivot] <= span[1] if lower else loads[pivot] >= span[0]:
                break
            for other in order if lower else reversed(order):
                full, light = (pivot, other) if lower else (other, pivot)
                mark = (full, turns[full], light, turns[light])
                if mark in dull:
                    continue
                if loads[full] - loads[light] <= 1 or left <= 0:
                    break
                left -= 1
                new = even_pair(sizes, work[full], work[light], (loads[full], loads[light]))
                if new is None:
                    dull.add(mark)
                    continue
                work[full], work[light] = new
                for at in (full, light):
                    loads[at] = sum([sizes[one] for one in work[at]])
                    turns[at] += 1
                moved = True
                break
    return work
