"""Split amounts into batches: fewest first, then most even, in free or in kept order.

Contract: pure functions on plain numbers; volumes in m3 (any one unit does, as long as sizes and
capacity share it). Searches are limited in nodes, never in seconds, and give the same answer on
every platform. Every result says whether its number of batches is proven. Refusals are
:class:`pourbook.errors.InputError`.

Sources: Martello and Toth (1990) chapter 8, Korf (2002, 2003), Dosa (2007), all from memory; see
:mod:`pourbook.trade.batch.search`.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from itertools import accumulate

from pourbook.errors import InputError
from pourbook.records import dataclass
from pourbook.trade.batch.even import even_out, largest_bound, longest_first
from pourbook.trade.batch.grid import grid_units
from pourbook.trade.batch.repair import counted, placed, repair
from pourbook.trade.batch.search import fit_decreasing, fit_into, l2

NODE_LIMIT = 300_000
EVEN_PIECES = 20
FEW_PIECES = 40
FINE_PIECES = 60
QUICK_NODES = 2_000
EVEN_NODES = 1_000


@dataclass(frozen=True)
class Packing:
    """Pieces in batches.

    Args:
        bins: One tuple of places in the list of sizes a batch.
        bound: A number of batches proven to be needed.
        proved: True when ``len(bins)`` equals ``bound``: no fewer batches can do.
        nodes: Search steps used.
        even: True when the largest batch is proven as small as that many batches allow. The
            difference between largest and smallest is searched, not proven, in free order.

    Units: none, places and counts. Validity: any. Raises: nothing. Source: none, it is a record.

    Example:
        >>> Packing(((0, 1),), 1, True, 0, True).proved
        True
    """

    bins: tuple[tuple[int, ...], ...]
    bound: int
    proved: bool
    nodes: int
    even: bool


def _units(sizes: Sequence[float], capacity: float) -> tuple[tuple[int, ...], int]:
    """Return grid units and limit; refuse a piece that no batch can hold."""
    units, cap = grid_units(sizes, capacity)
    for at, size in enumerate(units):
        if size > cap:
            raise InputError(
                f"piece {at + 1} needs {sizes[at]:g} and one batch holds {capacity:g}",
                "let the piece be split or make the batch larger",
            )
    return units, cap


def _fullest(falling: Sequence[int], bins: Sequence[Sequence[int]]) -> int:
    """Return the load of the fullest bin."""
    return max([sum([falling[at] for at in one]) for one in bins])


def _evened(falling: Sequence[int], bins: Sequence[Sequence[int]]) -> list[list[int]]:
    """Even out bins: as far as it goes up to 60 pieces, else to about 0.5 % of a batch."""
    many = len(bins)
    near = 0 if len(falling) <= FINE_PIECES else sum(falling) // (many * 200)
    mean = sum(falling) // many
    return even_out(
        falling, bins, (mean - near, largest_bound(falling, many) + near), 200 + 4 * many
    )


def _evenest(
    falling: Sequence[int], bins: list[list[int]], limit: int
) -> tuple[list[list[int]], bool, int]:
    """Even out a packing; prove the largest load where pieces are few.

    Returns the bins, whether the largest load is proven least, and the nodes used.
    """
    many = len(bins)
    bound = largest_bound(falling, many)
    best = _evened(falling, bins)
    nodes = 0
    kinds, counts = counted(falling)
    while _fullest(falling, best) > bound:
        if len(falling) > EVEN_PIECES or nodes >= limit:
            return best, False, nodes
        outcome = fit_into(kinds, counts, _fullest(falling, best) - 1, many, limit - nodes)
        nodes += outcome.nodes
        if outcome.found is None:
            return best, outcome.complete, nodes
        tighter = placed(outcome.found, counts)
        tighter += [[] for _ in range(many - len(tighter))]
        best = _evened(falling, tighter)
    return best, True, nodes


def _spread(falling: Sequence[int], many: int, cap: int) -> list[list[int]]:
    """Fill so many bins evenly, hoping that none exceeds the capacity."""
    return even_out(falling, longest_first(falling, many), (0, cap), 200 + 4 * many)


def _settle(
    falling: Sequence[int], cap: int, spread: list[list[int]], target: int, node_limit: int
) -> tuple[list[list[int]] | None, bool, int]:
    """Take turns between exact search and repair, with fourfold budgets, until one succeeds.

    Returns a packing into ``target`` bins or None, whether None is a proof, and the nodes used.
    """
    kinds, counts = counted(falling)
    budget = QUICK_NODES
    nodes = 0
    while nodes < node_limit:
        outcome = fit_into(kinds, counts, cap, target, min(budget, node_limit - nodes))
        nodes += outcome.nodes
        if outcome.found is not None:
            return placed(outcome.found, counts), False, nodes
        if outcome.complete:
            return None, True, nodes
        spread, steps = repair(falling, spread, cap, min(2 * budget, node_limit - nodes))
        nodes += steps
        if _fullest(falling, spread) <= cap:
            return spread, False, nodes
        budget *= 4
    return None, False, nodes


def _fewest(falling: Sequence[int], cap: int, node_limit: int) -> tuple[list[list[int]], int, int]:
    """Return a packing, a proven bound and the nodes used."""
    kinds, counts = counted(falling)
    bound = l2(kinds, counts, cap)
    spread = _spread(falling, bound, cap)
    if _fullest(falling, spread) <= cap:
        return spread, bound, 0
    best = min([fit_decreasing(falling, cap, best=way) for way in (True, False)], key=len)
    nodes = 0
    target = bound
    while target < len(best):
        found, done, steps = _settle(falling, cap, spread, target, (node_limit - nodes) * 3 // 4)
        nodes += steps
        if found is not None:
            return found, bound, nodes
        target += 1
        if done:
            bound = target
        spread = _spread(falling, target, cap)
        if _fullest(falling, spread) <= cap:
            return spread, bound, nodes
    return best, bound, nodes


def pack(sizes: Sequence[float], capacity: float, *, node_limit: int = NODE_LIMIT) -> Packing:
    """Pack whole pieces into the fewest batches, and among those as evenly as a search finds.

    Bound L2 first; then for each number of batches from the bound up: even filling, and bin
    completion, which finds a packing or proves there is none. First fit and best fit decreasing
    bound the search from above. Among the fewest batches the largest is made small, then the
    smallest large, by evening pairs; up to 20 pieces an exact search then tries to prove it; above
    60 pieces evening stops within 0.5 % of a batch.

    Args:
        sizes: Volumes, m3, each above zero and at most the capacity.
        capacity: Volume of one batch, m3.
        node_limit: Most search steps for the number of batches; above 60 pieces, where each step
            costs more, an eighth of it.

    Returns:
        A :class:`Packing`. The number of batches does not depend on the order of the sizes.

    Raises:
        InputError: A number is not above zero, or a size exceeds the capacity.

    Validity: up to 10,000 sizes; no batch exceeds the capacity by more than 1e-9 of it. When
    ``proved`` is False a batch fewer may exist. Source: Martello and Toth (1990) chapter 8; Korf
    (2002, 2003); from memory.

    Example:
        >>> pack([49, 41, 34, 33, 29, 26, 26, 22, 20, 19], 100).bound
        3
        >>> pack([6, 5, 4, 3], 9).bins
        ((0, 3), (1, 2))
    """
    units, cap = _units(sizes, capacity)
    if not units:
        return Packing((), 0, True, 0, True)
    order = sorted(range(len(units)), key=lambda at: (-units[at], at))
    falling = [units[at] for at in order]
    limit = node_limit if len(falling) <= FINE_PIECES else node_limit // 8
    bins, bound, nodes = _fewest(falling, cap, limit)
    bins, even, more = _evenest(falling, bins, EVEN_NODES)
    named = sorted(tuple(sorted(order[at] for at in one)) for one in bins)
    return Packing(tuple(named), bound, len(named) == bound, nodes + more, even)


def _ends(totals: Sequence[int], level: int) -> list[int]:
    """Cut in order, every batch as full as ``level`` allows; return where each batch ends."""
    ends: list[int] = []
    start = 0
    while start < len(totals) - 1:
        start = bisect_right(totals, totals[start] + level) - 1
        ends.append(start)
    return ends


def _latest_even(totals: Sequence[int], level: int, many: int) -> list[int]:
    """Cut into ``many`` batches none above ``level``, the smallest as large as can be."""
    last = len(totals) - 1
    latest = [0, *_ends(totals, level)]
    back = [totals[-1] - one for one in reversed(totals)]
    earliest = [last - one for one in reversed([0, *_ends(back, level)])]
    states: dict[int, tuple[int, int]] = {0: (totals[-1] + 1, 0)}  # end: (smallest so far, start)
    trail: list[dict[int, tuple[int, int]]] = []
    for at in range(1, many + 1):
        reached: dict[int, tuple[int, int]] = {}
        for end in range(max(at, earliest[at]), min(latest[at], last - many + at) + 1):
            for start, (smallest, _) in states.items():
                load = totals[end] - totals[start]
                if 0 < load <= level:
                    worth = min(smallest, load)
                    if end not in reached or worth > reached[end][0]:
                        reached[end] = (worth, start)
        trail.append(reached)
        states = reached
    ends: list[int] = []
    place = last
    for reached in reversed(trail):
        ends.append(place)
        place = reached[place][1]
    return ends[::-1]


def cut_in_order(sizes: Sequence[float], capacity: float) -> Packing:
    """Cut pieces into batches without changing their order: fewest, then most even.

    Filling each batch as far as it goes gives the fewest; bisection finds the least largest batch
    for that number; a dynamic program then makes the smallest batch as large as it can be. All
    three are exact.

    Args:
        sizes: Volumes in pouring order, m3, each above zero and at most the capacity.
        capacity: Volume of one batch, m3.

    Returns:
        A :class:`Packing` of neighbouring pieces, always proven, ``bound`` being for kept order.

    Raises:
        InputError: A number is not above zero, or a size exceeds the capacity.

    Validity: up to 10,000 sizes; no batch exceeds the capacity by more than 1e-9 of it. Source:
    ordinary dynamic programming, worked here.

    Example:
        >>> cut_in_order([4, 1, 8, 1, 4, 2], 10).bins
        ((0, 1), (2,), (3, 4, 5))
    """
    units, cap = _units(sizes, capacity)
    if not units:
        return Packing((), 0, True, 0, True)
    totals = [0, *accumulate(units)]
    many = len(_ends(totals, cap))
    low = max(-(-totals[-1] // many), *units)
    levels: Sequence[int] = range(low, cap + 1)
    if len(units) <= FEW_PIECES:  # the least is what some neighbours come to: few to choose from
        sums = {end - start for at, end in enumerate(totals) for start in totals[:at]}
        levels = sorted(one for one in sums if low <= one <= cap) or levels
    least = bisect_left(levels, True, key=lambda level: len(_ends(totals, level)) <= many)
    ends = _latest_even(totals, levels[least], many)
    starts = [0, *ends[:-1]]
    bins = tuple(tuple(range(start, ends[at])) for at, start in enumerate(starts))
    return Packing(bins, many, True, 0, True)
