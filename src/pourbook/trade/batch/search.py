"""Bin packing on whole numbers: bounds, quick packings and the exact search.

Contract: pure and deterministic; sizes are whole grid units, work is counted in nodes and never in
seconds. :mod:`pourbook.trade.batch.fewest` turns volumes into units and results into batches.

Sources: S. Martello and P. Toth, "Knapsack Problems" (1990), chapter 8, for L1, L2 and dominance;
R. E. Korf, "A new algorithm for optimal bin packing" (AAAI 2002) and "An improved algorithm for
optimal bin packing" (IJCAI 2003) for bin completion. Both from memory; L2 as written out in the
project's check values.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence

from pourbook.records import dataclass

_WIDE = 1 << 60
_NARROW = (8, 600)


@dataclass(frozen=True)
class Outcome:
    """What one search for a packing into a given number of bins found.

    Args:
        found: One tuple of size numbers (places in the list of distinct sizes) a bin, or None.
        complete: True when nothing was left out, so that ``found is None`` is a proof.
        nodes: Steps used.

    Units: none, counts only. Validity: any. Raises: nothing. Source: none, it is a record.

    Example:
        >>> Outcome(None, True, 3).complete
        True
    """

    found: tuple[tuple[int, ...], ...] | None
    complete: bool
    nodes: int


def l1(sizes: Sequence[int], counts: Sequence[int], cap: int) -> int:
    """Return the volume bound: total over capacity, rounded up.

    Args:
        sizes: Sizes, grid units.
        counts: How many of each size.
        cap: Capacity, grid units, above zero.

    Returns:
        A number of bins no packing can go below.

    Raises: nothing; callers have checked the numbers. Validity: whole numbers, sizes up to ``cap``.
    Source: Martello and Toth (1990), chapter 8 (from memory).

    Example:
        >>> l1([6], [6], 10)
        4
    """
    return -(-sum(size * counts[at] for at, size in enumerate(sizes)) // cap)


def l2(sizes: Sequence[int], counts: Sequence[int], cap: int) -> int:
    """Return Martello and Toth's bound L2, which also sees pieces that cannot share a bin.

    For every threshold a up to half the capacity: pieces above cap - a stay alone, pieces above
    half open one bin each, and pieces from a to half must go into what those leave or into new
    bins. One pass over sizes already sorted.

    Args:
        sizes: Distinct sizes, grid units, falling.
        counts: How many of each size; zero is allowed.
        cap: Capacity, grid units.

    Returns:
        A number of bins no packing can go below; never less than :func:`l1`.

    Raises: nothing; callers have checked the numbers. Validity: whole numbers, sizes up to ``cap``.
    Source: Martello and Toth (1990), chapter 8.

    Example:
        >>> l2([6], [6], 10)
        6
    """
    kinds = len(sizes)
    split = 0
    big = 0
    while split < kinds and 2 * sizes[split] > cap:
        big += counts[split]
        split += 1
    best = big
    small_sum = 0
    room = 0  # what the middle pieces J2 leave free
    reach = split  # sizes[reach:split] are J2: they can share with a piece of size a
    for at in range(split, kinds):
        many = counts[at]
        if not many:
            continue
        small = sizes[at]
        small_sum += small * many
        while reach > 0 and sizes[reach - 1] + small <= cap:
            reach -= 1
            room += (cap - sizes[reach]) * counts[reach]
        if small_sum > room:
            best = max(best, big - (room - small_sum) // cap)
    return best


def fit_decreasing(sizes: Sequence[int], cap: int, *, best: bool) -> list[list[int]]:
    """Pack falling sizes one by one: first fit, or best fit.

    Args:
        sizes: Sizes, grid units, falling.
        cap: Capacity, grid units.
        best: True for the fullest bin that still has room, False for the first one.

    Returns:
        Bins as lists of places in ``sizes``.

    Raises: nothing; callers have checked the numbers. Validity: sizes up to ``cap``. First fit
    needs at most 11/9 of the fewest plus 6/9 bins: G. Dosa (2007), from memory. Removing a piece
    can make it need one bin more, so never read "fewer pieces, fewer bins" into it.

    Example:
        >>> fit_decreasing([6, 5, 4, 3], 9, best=False)
        [[0, 3], [1, 2]]
    """
    bins: list[list[int]] = []
    rooms: list[int] = []
    if best:
        order: list[tuple[int, int]] = []  # (room, bin), rising
        for at, size in enumerate(sizes):
            spot = bisect_left(order, (size, -1))
            if spot == len(order):
                room, where = cap, len(bins)
                bins.append([])
            else:
                room, where = order.pop(spot)
            bins[where].append(at)
            entry = (room - size, where)
            order.insert(bisect_left(order, entry), entry)
        return bins
    for at, size in enumerate(sizes):
        for where, room in enumerate(rooms):
            if size <= room:
                rooms[where] = room - size
                bins[where].append(at)
                break
        else:
            rooms.append(cap - size)
            bins.append([at])
    return bins


def _dominated(
    picks: tuple[int, ...], room: int, sizes: Sequence[int], falling: Sequence[int], free: list[int]
) -> bool:
    """Say whether swapping one unused piece in for one or two picked ones is never worse."""

    def unused(low: int, high: int) -> bool:
        """Say whether an unused piece has a size from low to high."""
        at = bisect_left(falling, -high)
        while at < len(sizes) and sizes[at] >= low:
            if free[at] > picks.count(at):
                return True
            at += 1
        return False

    for at, pick in enumerate(picks):
        if at and picks[at - 1] == pick:
            continue
        size = sizes[pick]
        if room and unused(size + 1, size + room):
            return True
    for at, pick in enumerate(picks):
        for other in picks[at + 1 :]:
            pair = sizes[pick] + sizes[other]
            if pair <= sizes[0] and unused(pair, pair + room):
                return True
    return False


def completions(
    sizes: Sequence[int],
    falling: Sequence[int],
    free: list[int],
    room: int,
    *,
    waste: int,
    limits: tuple[int, int],
) -> tuple[list[tuple[int, ...]], bool, int]:
    """List the ways to fill the rest of a bin that no other way makes needless, fullest first.

    A way is left out when it wastes more than ``waste``, when another piece would still fit, or
    when an unused piece can replace one or two picked ones (Martello and Toth's dominance).

    Args:
        sizes: Distinct sizes, grid units, falling.
        falling: The same sizes negated, for bisection.
        free: How many of each size may be used.
        room: What is left of the bin, grid units.
        waste: Largest room that may stay empty, grid units.
        limits: Most ways to list, and most steps to spend.

    Returns:
        The ways as tuples of size numbers, whether the list is whole, and the steps used.

    Raises: nothing; callers have checked the numbers. Validity: whole numbers, ``waste`` at least
    zero. Source: Korf (2002, 2003), from memory.

    Example:
        >>> completions([5, 4, 1], [-5, -4, -1], [1, 1, 1], 5, waste=5, limits=(9, 99))[0]
        [(0,)]
    """
    kinds = len(sizes)
    tail = [0] * (kinds + 1)
    for at in range(kinds - 1, -1, -1):
        tail[at] = tail[at + 1] + sizes[at] * free[at]
    last = min((size for at, size in enumerate(sizes) if free[at]), default=0)
    ways: list[tuple[int, tuple[int, ...]]] = []
    most, steps_left = limits
    stack: list[tuple[int, int, int, tuple[int, ...]]] = [(0, room, waste, ())]
    steps = 0
    while stack:
        at, gap, slack, picks = stack.pop()
        steps += 1
        if steps > steps_left or len(ways) >= most:
            break
        at = bisect_left(falling, -gap, at)
        while at < kinds and not free[at]:
            at += 1
        if gap - tail[at] > slack:
            continue
        if at == kinds:
            if not _dominated(picks, gap, sizes, falling, free):
                ways.append((gap, picks))
            continue
        size = sizes[at]
        if gap < 2 * last:  # only one more piece can fit: the largest that does is never worse
            stack.append((kinds, gap - size, slack, (*picks, at)))
            continue
        top = min(free[at], gap // size)
        for take in range(top + 1):
            left = gap - take * size
            # a piece left lying must not fit into what stays empty
            bound = slack if take == free[at] else min(slack, size - 1)
            stack.append((at + 1, left, bound, picks + (at,) * take))
    else:
        ways.sort()
        return [picks for _, picks in ways], True, steps
    ways.sort()
    return [picks for _, picks in ways], False, steps


class _Dive:
    """One depth-first search for a packing into at most ``bins`` bins."""

    def __init__(
        self, sizes: Sequence[int], counts: Sequence[int], cap: int, bins: int, node_limit: int
    ) -> None:
        self.sizes = sizes
        self.falling = [-size for size in sizes]
        self.free = list(counts)
        self.cap = cap
        self.bins = bins
        self.node_limit = node_limit
        self.total = sum(size * counts[at] for at, size in enumerate(sizes))
        self.nodes = 0
        self.complete = True
        self.failed: dict[tuple[int, ...], int] = {}

    def _options(self, used: int, limits: tuple[int, int]) -> list[tuple[int, ...]]:
        """List the next bin's fillings, each with the largest free piece in it."""
        self.nodes += 1 + len(self.sizes) // 8  # opening a bin looks at every size
        left = self.bins - used
        waste = left * self.cap - self.total
        if waste < 0:
            return []
        key = tuple(self.free)
        if self.failed.get(key, -1) >= left or l2(self.sizes, self.free, self.cap) > left:
            return []
        self.failed[key] = left  # stands unless the dive below it succeeds, which ends the search
        first = next(at for at, many in enumerate(self.free) if many)
        self.free[first] -= 1
        budget = min(limits[1], max(1, self.node_limit - self.nodes))
        ways, whole, steps = completions(
            self.sizes,
            self.falling,
            self.free,
            self.cap - self.sizes[first],
            waste=min(waste, self.cap - self.sizes[first]),
            limits=(limits[0], budget),
        )
        self.free[first] += 1
        self.nodes += steps
        self.complete = self.complete and whole
        return [(first, *picks) for picks in ways]

    def _move(self, filling: tuple[int, ...], sign: int) -> None:
        """Take a filling out of the free pieces, or put it back."""
        for at in filling:
            self.free[at] -= sign
            self.total -= sign * self.sizes[at]

    def run(self, limits: tuple[int, int]) -> Outcome:
        """Search until a packing is found, none is left, or the nodes are spent."""
        chosen: list[tuple[int, ...]] = []
        open_ways: list[list[tuple[int, ...]]] = []
        while self.total:
            if self.nodes >= self.node_limit:
                return Outcome(None, False, self.nodes)
            ways = self._options(len(chosen), limits)
            ways.reverse()
            open_ways.append(ways)
            while not open_ways[-1]:
                open_ways.pop()
                if not open_ways:
                    return Outcome(None, self.complete, self.nodes)
                self._move(chosen.pop(), -1)
            filling = open_ways[-1].pop()
            self._move(filling, 1)
            chosen.append(filling)
        return Outcome(tuple(chosen), True, self.nodes)


def fit_into(
    sizes: Sequence[int], counts: Sequence[int], cap: int, bins: int, node_limit: int
) -> Outcome:
    """Search for a packing into at most ``bins`` bins by bin completion.

    Every bin takes the largest free piece and one of its undominated completions, fullest first;
    the room that may be wasted, L2 on what is left, and a memory of failed remainders cut the tree.
    A narrow dive that tries few completions goes first (its first descent is the minimum bin slack
    rule); the wide one behind it settles the question.

    Args:
        sizes: Distinct sizes, grid units, falling.
        counts: How many of each.
        cap: Capacity, grid units.
        bins: Number of bins to aim at.
        node_limit: Most steps to spend.

    Returns:
        An :class:`Outcome`; bins of ``found`` hold size numbers.

    Raises: nothing; callers have checked the numbers. Validity: sizes up to ``cap``. Source: Korf
    (2002, 2003); Gupta and Ho (1999) for minimum bin slack; from memory.

    Example:
        >>> fit_into([6, 5, 4, 3], [1, 1, 1, 1], 9, 2, 100).found
        ((0, 3), (1, 2))
        >>> fit_into([6], [6], 10, 5, 100).found is None
        True
    """
    narrow = _Dive(sizes, counts, cap, bins, node_limit // 4).run(_NARROW)
    if narrow.found is not None or narrow.complete:
        return narrow
    wide = _Dive(sizes, counts, cap, bins, node_limit - narrow.nodes).run((_WIDE, _WIDE))
    return Outcome(wide.found, wide.complete, narrow.nodes + wide.nodes)
