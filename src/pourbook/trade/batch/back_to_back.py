"""The order of batches in which the parts of one piece are poured back to back.

Contract: pure functions on plain numbers. Two parts of one surface flow together only while the
first is wet, so the batches that pour them follow each other wherever that can be. Searches are
limited in batches, never in seconds, and give the same answer on every platform.

Source: common practice, no source; the search is ordinary dynamic programming over subsets.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence

EXACT = 10
"""Batches tied to each other by pieces, up to which no order has fewer batches in between."""
STARTS = 6
"""Batches tried as the first of a larger group."""
_Pieces = Sequence[Collection[int]]


def between(batches: _Pieces, order: Sequence[int]) -> int:
    """Return how many batches stand between parts of pieces they do not pour, in all.

    Args:
        batches: The pieces each batch pours a part of.
        order: Places of the batches in the order they are poured.

    Units: none, counts. Raises: nothing. Validity: any order of all batches. Source: counted.

    Example:
        >>> between([{1}, {2}, {1}], [0, 1, 2]), between([{1}, {2}, {1}], [0, 2, 1])
        (1, 0)
    """
    found = 0
    for piece in {one for batch in batches for one in batch}:
        turns = [turn for turn, at in enumerate(order) if piece in batches[at]]
        found += turns[-1] - turns[0] + 1 - len(turns)
    return found


def back_to_back(batches: _Pieces) -> list[int]:
    """Return the order of batches with the fewest others between the parts of a piece.

    Batches that share no piece, directly or through others, keep the order they are given in, each
    group at the place of its first; so do batches of a group where it makes no difference.

    Args:
        batches: The split pieces each batch pours a part of, in the order they would be poured.

    Returns:
        The places of the batches in the order to pour them.

    Units: none, places. Raises: nothing.

    Validity: the fewest for groups of up to :data:`EXACT` batches; above, each next batch is one
    that goes on with what is begun. Source: worked here, see :mod:`the module
    <pourbook.trade.batch.back_to_back>`.

    Example:
        >>> back_to_back([{7}, set(), {8}, {7, 8}])
        [0, 3, 2, 1]
    """
    order: list[int] = []
    for group in _groups(batches):
        solve = _fewest_between if len(group) <= EXACT else _going_on
        order += solve(batches, group)
    return order


def _groups(batches: _Pieces) -> list[list[int]]:
    """Return the batches that share pieces, directly or through others."""
    groups: list[tuple[set[int], list[int]]] = []
    for at, pieces in enumerate(batches):
        joined = (set(pieces), [at])
        apart = []
        for group in groups:
            if group[0] & joined[0]:
                joined = (group[0] | joined[0], group[1] + joined[1])
            else:
                apart.append(group)
        groups = [*apart, joined]
    return sorted(sorted(places) for _, places in groups)


def _members(batches: _Pieces, group: Sequence[int]) -> list[int]:
    """Return for each piece of a group which of its batches pour it, as bits."""
    pieces = sorted({piece for at in group for piece in batches[at]})
    bits = [sum(1 << n for n, at in enumerate(group) if one in batches[at]) for one in pieces]
    return [one for one in bits if one.bit_count() > 1]


def _stands_between(members: Sequence[int], done: int, place: int) -> int:
    """Return how many pieces are begun and not ended that the batch at a place does not pour."""
    return sum(1 for bits in members if bits & done and bits & ~done and not bits & (1 << place))


def _fewest_between(batches: _Pieces, group: Sequence[int]) -> list[int]:
    members, many = _members(batches, group), len(group)
    best: dict[int, tuple[int, tuple[int, ...]]] = {0: (0, ())}
    for _ in group:
        longer: dict[int, tuple[int, tuple[int, ...]]] = {}
        for done, (cost, order) in best.items():
            for place in range(many):
                key = done | 1 << place
                if key == done:
                    continue
                found = (cost + _stands_between(members, done, place), (*order, place))
                if key not in longer or found < longer[key]:
                    longer[key] = found
        best = longer
    return [group[place] for place in best[(1 << many) - 1][1]]


def _going_on(batches: _Pieces, group: Sequence[int]) -> list[int]:
    """Go on from what is begun, from several starts; those at an end of what is tied come first."""
    members = _members(batches, group)
    ties = [sum(1 for bits in members if bits >> place & 1) for place in range(len(group))]
    starts = sorted(range(len(group)), key=lambda place: (ties[place], place))[:STARTS]
    best = _from(members, len(group), starts[0])
    for start in starts[1:]:
        if best[0]:
            best = min(best, _from(members, len(group), start))
    return [group[place] for place in best[1]]


def _from(members: Sequence[int], many: int, start: int) -> tuple[int, list[int]]:
    """Return an order that begins with a place, and how many batches stand between in it."""
    order, done, cost = [start], 1 << start, 0
    left = [place for place in range(many) if place != start]
    while left:
        worth = []
        for place in left:
            mine = [bits for bits in members if bits >> place & 1]
            begins = sum(1 for bits in mine if not bits & done)
            worth.append((_stands_between(members, done, place), begins, -len(mine), place))
        more, _, _, place = min(worth)
        cost += more
        left.remove(place)
        done |= 1 << place
        order.append(place)
    return cost, order
