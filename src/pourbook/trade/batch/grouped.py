"""Batches room by room, as ordered or fewest: the pieces in blocks, each planned for itself.

Contract: pure functions on plain numbers, volumes in m3. Checked pieces in pouring order in, cuts
of each batch out. A batch serves one block: all pieces under *fewest*, a room under *room by room*,
and under *as ordered* neighbours of one room. Joins inside a block are kept wherever a plan can.

Source: the rules are common practice, no source; the searches say theirs.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from functools import lru_cache
from itertools import groupby

from pourbook.records import dataclass
from pourbook.trade.batch.back_to_back import back_to_back, between
from pourbook.trade.batch.cuts import free, joined, ordered
from pourbook.trade.batch.pieces import CLOSE, Cut, Going, Join, Piece, apart
from pourbook.trade.batch.pouring import STEPS, Sequenced, fewest_in_sequence

_Bins = list[list[Cut]]


@dataclass(frozen=True)
class Grouped:
    """The batches of a list of pieces, a number proven to be needed, and how it was found.

    Raises: nothing. Validity: any. Source: none, it is a record.

    Example:
        >>> Grouped([[(0, 0.5)]], 1, True, 0).bound
        1
    """

    bins: _Bins
    bound: int
    proved: bool
    nodes: int


def in_blocks(
    queue: Sequence[Piece], usable: float, going: Going, joins: Sequence[Join], node_limit: int
) -> Grouped:
    """Return the batches of pieces that stand in pouring order, block after block.

    Args:
        queue: The pieces, in the order of their ranks.
        usable: What a batch may spread, m3.
        going: Which pieces a batch may serve together, and whether their order binds.
        joins: Places in ``queue`` of pieces that run into each other.
        node_limit: Most steps of each search for whole pieces.

    Returns:
        A :class:`Grouped`.

    Raises: nothing. Validity: see :func:`pourbook.trade.batch.plan.plan`. Source: see
    :mod:`the module <pourbook.trade.batch.grouped>`.

    Example:
        >>> rooms = [Piece("island", 3.0, room="kitchen"), Piece("bar", 1.0, room="den")]
        >>> [len(in_blocks(rooms, 4.0, going, (), 100).bins) for going in list(Going)[:3]]
        [2, 2, 1]
    """
    bins: _Bins = []
    bound, proved, nodes = 0, True, 0
    for block in _blocks(queue, going):
        turn = {at: n for n, at in enumerate(block)}
        own = [(turn[a], turn[b]) for a, b in joins if a in turn and b in turn]
        pieces = [queue[at] for at in block]
        if going in (Going.FEWEST, Going.LOOSE):
            pieces = [piece._replace(order=0) for piece in pieces]
        if going is Going.ORDERED:
            pieces = [piece._replace(order=n) for n, piece in enumerate(pieces)]
        found = _block(tuple(pieces), usable, tuple(own), node_limit, going is not Going.LOOSE)
        bins += [[(block[at], volume) for at, volume in one] for one in found.bins]
        bound, nodes = bound + found.bound, nodes + found.nodes
        proved = proved and found.proved
    return Grouped(_within(queue, bins, going, joins), bound, proved, nodes)


def _blocks(queue: Sequence[Piece], going: Going) -> list[list[int]]:
    """Return the places of the pieces that batches may serve together."""
    if going in (Going.FEWEST, Going.LOOSE):
        return [list(range(len(queue)))]
    if going is Going.ORDERED:
        runs = groupby(range(len(queue)), lambda at: queue[at].room.casefold())
        return [list(places) for _, places in runs]
    rooms: dict[str, list[int]] = {}
    for at, piece in enumerate(queue):
        rooms.setdefault(piece.room.casefold(), []).append(at)
    return list(rooms.values())


@lru_cache(maxsize=1024)
def _block(
    pieces: tuple[Piece, ...],
    usable: float,
    joins: tuple[Join, ...],
    node_limit: int,
    together: bool,
) -> Grouped:
    """Plan one block: fewest batches, joins and ranks kept, then few splits, then even.

    Who changes a piece changes its block alone: the others are known.
    """
    ranks = {piece.order for piece in pieces}
    if not joins and len(ranks) == len(pieces) > 1:
        bins = ordered(pieces, usable)
        return Grouped(bins, len(bins), True, 0)
    if not joins and len(ranks) == 1:
        found = Grouped(*free(pieces, usable, node_limit))
        bins = sorted(sorted(one) for one in found.bins)
        if not together:
            return replace(found, bins=bins)
        split = _parted(bins)
        found = replace(found, bins=[bins[place] for place in back_to_back(split)])
        if _one_after_another(found.bins):
            return found
    best = _best_glued(pieces, usable, joins, node_limit) if len(ranks) == 1 else None
    made, kept = _kept(pieces, usable, joins, best)
    if made.batches is None:
        bins = ordered(pieces, usable)
        return Grouped(bins, made.bound, len(bins) == made.bound, made.steps)
    bins = _evened(pieces, usable, made.batches, kept)
    if len(ranks) == 1:
        bins = _first_first(bins, kept)
    return Grouped(bins, made.bound, made.proved, made.steps)


def _kept(
    pieces: Sequence[Piece], usable: float, joins: Sequence[Join], best: _Bins | None
) -> tuple[Sequenced, list[Join]]:
    """Return the fewest batches that keep all joins, or else those that they can, in turn."""
    made = fewest_in_sequence(pieces, usable, joins, best=best)
    if made.batches is not None or not joins:
        return made, list(joins)
    kept: list[Join] = []
    made = fewest_in_sequence(pieces, usable)
    for one in joins:
        steps = STEPS // len(joins)
        tried = fewest_in_sequence(pieces, usable, [*kept, one], steps=steps)
        if tried.batches is not None:
            kept, made = [*kept, one], tried
    return made, kept


def _best_glued(
    pieces: Sequence[Piece], usable: float, joins: Sequence[Join], node_limit: int
) -> _Bins | None:
    """Return the plan with fewer batches of those that :func:`_glued` makes, if any."""
    made = [_glued(pieces, usable, joins, node_limit, split=split) for split in (False, True)]
    return min((one for one in made if one is not None), key=len, default=None)


def _glued(
    pieces: Sequence[Piece],
    usable: float,
    joins: Sequence[Join],
    node_limit: int,
    *,
    split: bool,
) -> _Bins | None:
    """Return a plan of one rank in which what joins is one lump a batch; None if joins are lost.

    Other pieces are split where they are larger than a batch, and if ``split`` wherever that helps.
    """
    large = [at for at, piece in enumerate(pieces) if piece.volume > usable * (1 + CLOSE)]
    groups: list[set[int]] = [{at} for at in large]
    for a, b in joins:
        mine = [one for one in groups if one & {a, b}]
        groups = [one for one in groups if not one & {a, b}] + [{a, b}.union(*mine)]
    lumps: list[list[Cut]] = [
        [(at, piece.volume)]
        for at, piece in enumerate(pieces)
        if not any(at in one for one in groups)
    ]
    single = len(lumps)
    chain: list[Join] = []
    for group in groups:
        own = sorted(group)
        inside = [(own.index(a), own.index(b)) for a, b in joins if a in group]
        made = fewest_in_sequence([pieces[at] for at in own], usable, inside)
        if made.batches is None:
            return None
        chain += [(len(lumps) + n, len(lumps) + n + 1) for n in range(len(made.batches) - 1)]
        lumps += [[(own[at], volume) for at, volume in one] for one in made.batches]
    rough = [
        Piece(
            "",
            math.fsum(volume for _, volume in lump),
            split and n < single and pieces[lump[0][0]].may_split,
        )
        for n, lump in enumerate(lumps)
    ]
    bins, *_ = free(rough, usable, node_limit)
    bins = _first_first(sorted(sorted(one) for one in bins), chain)
    found = [
        joined(
            [
                (at, volume * more / rough[lump].volume)
                for lump, more in one
                for at, volume in lumps[lump]
            ]
        )
        for one in bins
    ]
    return None if apart(found, joins) or not _one_after_another(found) else found


def _parted(bins: Sequence[Sequence[Cut]]) -> list[set[int]]:
    """Return the pieces of each batch that other batches pour too."""
    count: dict[int, int] = {}
    for one in bins:
        for at, _ in one:
            count[at] = count.get(at, 0) + 1
    return [{at for at, _ in one if count[at] > 1} for one in bins]


def _one_after_another(bins: Sequence[Sequence[Cut]]) -> bool:
    """Return whether the batches can be poured piece after piece, none begun and left for others.

    At most one piece goes on into the next batch; a batch in the midst of a piece pours only it.
    """
    poured = [{at for at, _ in one} for one in bins]
    split = _parted(bins)
    if between(split, range(len(bins))):
        return False
    before: set[int] = set()
    for turn, one in enumerate(poured):
        after = one & poured[turn + 1] if turn + 1 < len(poured) else set[int]()
        if len(after) > 1 or (before & after and len(one) > 1):
            return False
        before = after
    return True


def _evened(pieces: Sequence[Piece], usable: float, bins: _Bins, joins: Sequence[Join]) -> _Bins:
    """Return the same sequence cut evenly, if that keeps the joins and costs no batch."""
    turns = list(dict.fromkeys(at for one in bins for at, _ in one))
    even = ordered([pieces[at] for at in turns], usable)
    named = [[(turns[at], volume) for at, volume in one] for one in even]
    return named if len(named) <= len(bins) and not apart(named, joins) else bins


def _first_first(bins: _Bins, joins: Sequence[Join]) -> _Bins:
    """Return batches of one rank with the first pieces first, as far as joins let them."""
    tied = _parted(bins)
    for n, (a, b) in enumerate(joins):
        for one, ties in zip(bins, tied, strict=True):
            if {a, b} & {at for at, _ in one}:
                ties.add(-1 - n)
    order = sorted(range(len(bins)), key=lambda place: min(at for at, _ in bins[place]))
    turned = back_to_back([tied[place] for place in order])
    found = [bins[order[place]] for place in turned]
    return found if _one_after_another(found) and not apart(found, joins) else bins


def _within(queue: Sequence[Piece], bins: _Bins, going: Going, joins: Sequence[Join]) -> _Bins:
    """Pour in each batch first what the one before began, and last what the next goes on with.

    A rank goes before that where ranks bind; as ordered, and in jobs of templates 1, nothing moves.
    """
    if going in (Going.ORDERED, Going.LOOSE):
        return bins
    near: dict[int, set[int]] = {}
    for a, b in joins:
        near.setdefault(a, set()).add(b)
        near.setdefault(b, set()).add(a)
    poured = [{at for at, _ in one} for one in bins]

    def meets(at: int, turn: int) -> bool:
        if not 0 <= turn < len(bins):
            return False
        return at in poured[turn] or not poured[turn].isdisjoint(near.get(at, ()))

    found = []
    for turn, one in enumerate(bins):
        ways = []
        for n, (at, _) in enumerate(one):
            before, after = meets(at, turn - 1), meets(at, turn + 1)
            rank = queue[at].order if going is Going.ROOMS else 0.0
            ways.append((rank, 0 if before and not after else 2 if after else 1, n))
        found.append([one[n] for *_, n in sorted(ways)])
    return found
