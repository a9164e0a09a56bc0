"""Turn pieces into a plan of batches: whole where they can be, split where they may be.

Contract: pure functions on plain numbers, volumes in m3. The number of batches is the fewest
whenever the plan says ``proved``. Every batch also loses a fixed volume to bucket and tools; the
capacity covers what is spread and what is lost.

Sources: R. McNaughton (1959) for cutting pieces at the boundaries of full batches, from memory; the
count for pieces that may be split is worked in :func:`plan`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from pourbook.errors import InputError
from pourbook.trade.batch.back_to_back import back_to_back
from pourbook.trade.batch.fewest import NODE_LIMIT, Packing, cut_in_order, pack
from pourbook.trade.batch.grid import checked, not_negative

_CLOSE = 1e-9
_TRIES = 2
_TRY_NODES = 2_000


@dataclass(frozen=True)
class Piece:
    """One piece to be coated.

    Args:
        name: What the estimator calls it.
        volume: Mixed volume it needs, percentage losses included, m3, above zero.
        may_split: True when two batches may meet on it, poured wet into wet.
        order: Place in the pouring order, infinite for last; equal orders keep the list's order.

    Raises: nothing here; :func:`plan` checks. Validity: see :func:`plan`. Source: none, a record.

    Example:
        >>> Piece("island", 0.004).may_split
        False
    """

    name: str
    volume: float
    may_split: bool = False
    order: float = 0


@dataclass(frozen=True)
class Share:
    """What one batch gives to one piece.

    Args:
        piece: Place of the piece in the list given to :func:`plan`.
        volume: Mixed volume of this share, m3.
        part: Which share of the piece this is, from 1.
        parts: How many shares the piece has.

    Raises: nothing. Validity: any. Source: none, it is a record.

    Example:
        >>> Share(0, 0.002, 1, 2).note
        'pour wet into wet'
    """

    piece: int
    volume: float
    part: int
    parts: int

    @property
    def note(self) -> str:
        """Return the mark of a split piece, or nothing."""
        return "pour wet into wet" if self.parts > 1 else ""


@dataclass(frozen=True)
class Batch:
    """One batch to mix.

    Args:
        shares: What it gives to which piece.
        spread: Volume that reaches the pieces, m3.
        mixed: Volume to mix: ``spread`` and the loss in bucket and tools, m3.

    Raises: nothing. Validity: any. Source: none, it is a record.

    Example:
        >>> Batch((Share(0, 0.002, 1, 1),), 0.002, 0.0021).mixed
        0.0021
    """

    shares: tuple[Share, ...]
    spread: float
    mixed: float


@dataclass(frozen=True)
class Plan:
    """A plan of batches.

    Args:
        batches: The batches in pouring order.
        bound: A number of batches proven to be needed.
        proved: True when no fewer batches can do.
        splits: Cuts in all: shares beyond the first of each piece.
        needed_splits: Cuts that the size of the pieces alone makes needful.
        mixed: Volume to mix in all, losses per batch included, m3.
        nodes: Search steps used.

    Raises: nothing. Validity: any. Source: none, it is a record.

    Example:
        >>> Plan((), 0, True, 0, 0, 0.0, 0).proved
        True
    """

    batches: tuple[Batch, ...]
    bound: int
    proved: bool
    splits: int
    needed_splits: int
    mixed: float
    nodes: int


_Cut = tuple[int, float]  # place of the piece, volume of one share


def _ceil(ratio: float) -> int:
    """Round up, forgiving one part in a thousand million."""
    return max(1, math.ceil(ratio * (1 - _CLOSE)))


def _checked(pieces: Sequence[Piece], usable: float, capacity: float, loss: float) -> None:
    """Refuse pieces that cannot be poured."""
    for piece in pieces:
        volume = checked(piece.volume, f"the amount for {piece.name}")
        if not piece.may_split and volume > usable * (1 + _CLOSE):
            lost = f", of which {loss * 1e3:.4g} L stays in bucket and tools" if loss else ""
            raise InputError(
                f"{piece.name} needs {volume * 1e3:.4g} L in one batch, and a batch holds "
                f"{capacity * 1e3:.4g} L{lost}",
                "use more hands, a cooler hour or a bigger bucket, or allow the piece to be split",
            )


def _even_shares(pieces: Sequence[Piece], usable: float, extra: int = -1) -> list[_Cut]:
    """Cut pieces above a batch into the fewest equal shares; ``extra`` gets one more."""
    cuts: list[_Cut] = []
    for at, piece in enumerate(pieces):
        parts = _ceil(piece.volume / usable) if piece.may_split else 1
        parts += at == extra
        cuts += [(at, piece.volume / parts)] * parts
    return cuts


def _packed(cuts: Sequence[_Cut], packing: Packing) -> list[list[_Cut]]:
    """Turn a packing into batches of cuts, the shares of one piece in one batch as one."""
    return [_joined([cuts[at] for at in one]) for one in packing.bins]


def _joined(cuts: Sequence[_Cut]) -> list[_Cut]:
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
) -> list[list[_Cut]]:
    """Fill the gaps above pieces that stay whole: whole where they fit, the rest cut at a level."""
    bins: list[list[_Cut]] = [
        [(fixed[at], pieces[fixed[at]].volume) for at in one] for one in whole.bins
    ]
    bins += [[] for _ in range(many - len(bins))]
    loads = [math.fsum(volume for _, volume in one) for one in bins]
    pouring: list[_Cut] = []
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
            if here + 1 < many and room <= usable * _CLOSE:
                here += 1
                continue
            take = rest if rest <= room + usable * _CLOSE or here + 1 == many else room
            bins[where].append((at, take))
            loads[where] += take
            rest = rest - take if take < rest else 0.0
    return [_joined(one) for one in bins if one]


def _free(
    pieces: Sequence[Piece], usable: float, node_limit: int
) -> tuple[list[list[_Cut]], int, bool, int]:
    """Plan in free order; return batches, bound, whether it is proven, and nodes."""
    by_volume = _ceil(math.fsum(piece.volume for piece in pieces) / usable)
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


def _run(pieces: Sequence[Piece], level: float) -> list[list[_Cut]]:
    """Pour in order, every batch as full as ``level`` allows."""
    bins: list[list[_Cut]] = [[]]
    room = level
    near = level * _CLOSE
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


def _ordered(pieces: Sequence[Piece], usable: float) -> list[list[_Cut]]:
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


def _meeting(bins: Sequence[list[_Cut]]) -> list[list[_Cut]]:
    """Pour first what the batch before began, and last what the next one goes on with."""
    found = []
    for turn, one in enumerate(bins):
        before, after = (
            {at for at, _ in bins[near]} if 0 <= near < len(bins) else set[int]()
            for near in (turn - 1, turn + 1)
        )
        ways = [
            (0 if at in before else 2 if at in after else 1, n) for n, (at, _) in enumerate(one)
        ]
        found.append([one[n] for _, n in sorted(ways)])
    return found


def plan(
    pieces: Sequence[Piece],
    capacity: float,
    *,
    loss_per_batch: float = 0.0,
    in_order: bool = False,
    together: bool = True,
    node_limit: int = NODE_LIMIT,
) -> Plan:
    """Plan the batches for one layer: fewest batches, then few splits, then even.

    A batch spreads at most u = capacity - loss per batch, so batches and losses are settled
    together: n batches mix the pieces' volume and n losses, and each of them fits.

    Free order. Let U be the pieces that stay whole and V the volume of all. No plan has fewer than
    max(fewest for U, ceil(V / u)) batches; and that many always do, because what may be split can
    be poured into the gaps above any packing of U. Pieces above u are cut into the fewest equal
    shares and everything else stays whole if that reaches this number (then no plan has fewer
    splits); else one more equal cut of one piece is tried; else the gaps are filled to one level.

    Kept order. Filling each batch as far as it goes gives the fewest; splits happen only where
    leaving them out would cost a batch, and the level is the lowest that needs no more batches.

    Args:
        pieces: What to coat.
        capacity: Largest mixed volume of a batch, m3; see
            :func:`pourbook.trade.batch.bound.batch_limit`.
        loss_per_batch: What bucket and tools keep of each batch, m3, zero or more.
        in_order: True to keep the pouring order of the pieces.
        together: In free order, whether the parts of one piece are poured back to back, as far as
            can be; see :mod:`pourbook.trade.batch.back_to_back`.
        node_limit: Most steps of each search.

    Returns:
        A :class:`Plan`; shares add up to the pieces' volumes to float precision.

    Raises:
        InputError: A volume is not above zero, the loss eats the whole batch, or a piece that may
            not be split exceeds a batch; the message says what would help.

    Validity: up to 10,000 shares; no batch exceeds the capacity by more than 2e-9 of it. Splits
    beyond the needful ones are few by rule, not proven fewest. Source: McNaughton (1959), from
    memory; the count is worked above.

    Example:
        >>> made = plan([Piece("bar", 0.009, True), Piece("sink", 0.003)], 0.005)
        >>> [round(batch.mixed, 6) for batch in made.batches], made.splits
        ([0.0045, 0.0045, 0.003], 1)
    """
    limit = checked(capacity, "the batch size")
    loss = not_negative(loss_per_batch, "the loss per batch")
    usable = limit - loss
    if usable <= 0:
        raise InputError(
            f"a batch of {limit * 1e3:.4g} L loses {loss * 1e3:.4g} L in bucket and tools",
            "make the batch larger or the loss per batch smaller",
        )
    _checked(pieces, usable, limit, loss)
    if not pieces:
        return Plan((), 0, True, 0, 0, 0.0, 0)
    order = sorted(range(len(pieces)), key=lambda at: (pieces[at].order, at))
    queue = [pieces[at] for at in order]
    if in_order:
        bins = _ordered(queue, usable)
        bound, proved, nodes = len(bins), True, 0
    else:
        bins, bound, proved, nodes = _free(queue, usable, node_limit)
        bins = sorted(sorted(one) for one in bins)
    parts = [0] * len(queue)
    for one in bins:
        for at, _ in one:
            parts[at] += 1
    if together and not in_order:
        split = [{at for at, _ in one if parts[at] > 1} for one in bins]
        bins = _meeting([bins[place] for place in back_to_back(split)])
    seen = [0] * len(queue)
    batches: list[Batch] = []
    for one in bins:
        shares: list[Share] = []
        for at, volume in one:
            seen[at] += 1
            shares.append(Share(order[at], volume, seen[at], parts[at]))
        spread = math.fsum(volume for _, volume in one)
        batches.append(Batch(tuple(shares), spread, spread + loss))
    return Plan(
        tuple(batches),
        bound,
        proved,
        sum(parts) - len(parts),
        sum(_ceil(piece.volume / usable) - 1 for piece in queue if piece.may_split),
        math.fsum(batch.mixed for batch in batches),
        nodes,
    )
