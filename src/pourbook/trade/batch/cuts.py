"""Cutting pieces into batches where their order is free, and where it is given.

Contract: pure functions on plain numbers, volumes in m3. Checked pieces in, cuts of each batch out.

Sources: R. McNaughton (1959) for cutting pieces at the boundaries of full batches, from memory; the
count for pieces that may be split is worked in :func:`pourbook.trade.batch.plan.plan`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from pourbook.trade.batch.fewest import Packing, cut_in_order, pack
from pourbook.trade.batch.pieces import CLOSE, Cut, Piece, batches_for

_TRIES = 2
_TRY_NODES = 2_000


def _even_shares(pieces: Sequence[Piece], usable: float, extra: int = -1) -> list[Cut]:
    """Cut pieces above a batch into the fewest equal shares; ``extra`` gets one more."""
    cuts: list[Cut] = []
    for at, piece in enumerate(pieces):
        parts = batches_for(piece.volume / usable) if piece.may_split else 1
        parts += at == extra
        cuts += [(at, piece.volume / parts)] * parts
    return cuts


def _packed(cuts: Sequence[Cut], packing: Packing) -> list[list[Cut]]:
    """Turn a packing into batches of cuts, the shares of one piece in one batch as one."""
    return [joined([cuts[at] for at in one]) for one in packing.bins]


def joined(cuts: Sequence[Cut]) -> list[Cut]:
    """Add up the shares that one batch gives to the same piece."""
    sums: dict[int, list[float]] = {}
    for at, volume in cuts:
        sums.setdefault(at, []).append(volume)
    return [(at, math.fsum(volumes)) for at, volumes in sums.items()]


def _level(loads: Sequence[float], amount: float) -> float:
    """Return the height to which ``amount`` fills up bins that hold ``loads``."""
    rising = sorted(loads)
    below = 0.0
    level = rising[0]
    for count, load in enumerate(rising):
        if count and count * load - below >= amount:
            break
        below += load
        level = (below + amount) / (count + 1)
    return level


def _filled(
    pieces: Sequence[Piece], usable: float, whole: Packing, fixed: Sequence[int], many: int
) -> list[list[Cut]]:
    """Fill the gaps above pieces that stay whole: whole where they fit, the rest cut at a level."""
    bins: list[list[Cut]] = [
        [(fixed[at], pieces[fixed[at]].volume) for at in one] for one in whole.bins
    ]
    bins += [[] for _ in range(many - len(bins))]
    loads = [math.fsum(volume for _, volume in one) for one in bins]
    pouring: list[Cut] = []
    loose = [at for at, piece in enumerate(pieces) if piece.may_split]
    for at in sorted(loose, key=lambda one: (-pieces[one].volume, one)):
        volume = pieces[at].volume
        rooms = [(usable - load, where) for where, load in enumerate(loads)]
        fitting = [one for one in rooms if one[0] >= volume]
        if fitting:
            where = min(fitting)[1]
            bins[where].append((at, volume))
            loads[where] += volume
        else:
            pouring.append((at, volume))
    level = _level(loads, math.fsum(volume for _, volume in pouring))
    order = sorted(range(many), key=lambda at: (loads[at], at))
    here = 0
    for at, volume in pouring:
        rest = volume
        while rest > 0:
            where = order[here]
            room = level - loads[where]
            if here + 1 < many and room <= usable * CLOSE:
                here += 1
                continue
            take = rest if rest <= room + usable * CLOSE or here + 1 == many else room
            bins[where].append((at, take))
            loads[where] += take
            rest = rest - take if take < rest else 0.0
    return [joined(one) for one in bins if one]


def free(
    pieces: Sequence[Piece], usable: float, node_limit: int
) -> tuple[list[list[Cut]], int, bool, int]:
    """Plan in free order; return batches, bound, whether it is proven, and nodes."""
    by_volume = batches_for(math.fsum(piece.volume for piece in pieces) / usable)
    fixed = [at for at, piece in enumerate(pieces) if not piece.may_split]
    cuts = _even_shares(pieces, usable)
    limit = node_limit if len(fixed) == len(pieces) else min(node_limit, _TRY_NODES)
    first = pack([volume for _, volume in cuts], usable, node_limit=limit)
    if len(fixed) == len(pieces) or len(first.bins) == by_volume:
        return _packed(cuts, first), first.bound, first.proved, first.nodes
    whole = pack([pieces[at].volume for at in fixed], usable, node_limit=node_limit)
    many = max(len(whole.bins), by_volume)
    bound = max(whole.bound, by_volume)
    nodes = first.nodes + whole.nodes
    if len(first.bins) <= many:
        return _packed(cuts, first), bound, len(first.bins) == bound, nodes
    loose = [at for at, piece in enumerate(pieces) if piece.may_split]
    for extra in sorted(loose, key=lambda at: (-pieces[at].volume, at))[:_TRIES]:
        cuts = _even_shares(pieces, usable, extra)
        tried = pack([volume for _, volume in cuts], usable, node_limit=_TRY_NODES)
        nodes += tried.nodes
        if len(tried.bins) <= many:
            return _packed(cuts, tried), bound, many == bound, nodes
    return _filled(pieces, usable, whole, fixed, many), bound, many == bound, nodes


def _run(pieces: Sequence[Piece], level: float) -> list[list[Cut]]:
    """Pour in order, every batch as full as ``level`` allows."""
    bins: list[list[Cut]] = [[]]
    room = level
    near = level * CLOSE
    for at, piece in enumerate(pieces):
        rest = piece.volume
        while rest > room + near:
            if piece.may_split and room > near:
                bins[-1].append((at, room))
                rest -= room
            bins.append([])
            room = level
        bins[-1].append((at, rest))
        room -= rest
    return bins


def ordered(pieces: Sequence[Piece], usable: float) -> list[list[Cut]]:
    """Plan in kept order: whole where that needs no batch more, else cut at the boundaries."""
    fewest = len(_run(pieces, usable))
    cuts = _even_shares(pieces, usable)
    neat = cut_in_order([volume for _, volume in cuts], usable)
    if len(neat.bins) == fewest:
        return _packed(cuts, neat)
    low = max([piece.volume for piece in pieces if not piece.may_split], default=0.0)
    low = max(low, math.fsum(piece.volume for piece in pieces) / fewest)
    high = usable
    for _ in range(50):
        middle = (low + high) / 2
        if len(_run(pieces, middle)) <= fewest:
            high = middle
        else:
            low = middle
    return _run(pieces, high)
