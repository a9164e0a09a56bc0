"""Turn pieces into a plan of batches: whole where they can be, split where they may be.

Contract: pure functions on plain numbers, volumes in m3. The number of batches is the fewest
whenever the plan says ``proved``: of all plans, or of those that keep rooms, ranks and joins where
those bind. Every batch also loses a fixed volume to bucket and tools; the capacity covers what is
spread and what is lost.

Sources: R. McNaughton (1959) for cutting pieces at the boundaries of full batches, from memory; the
count for pieces that may be split is worked in :func:`plan`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

from pourbook.errors import InputError
from pourbook.records import dataclass
from pourbook.trade.batch.fewest import NODE_LIMIT
from pourbook.trade.batch.grid import checked, not_negative
from pourbook.trade.batch.grouped import in_blocks
from pourbook.trade.batch.pieces import CLOSE, Going, Join, Piece, apart, batches_for


class Share(NamedTuple):
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


class Batch(NamedTuple):
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
        apart: Joins that could not be kept: the second piece is begun later than in the batch after
            the one the first ends in. Places of the list given.

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
    apart: tuple[Join, ...] = ()


def _checked(pieces: Sequence[Piece], usable: float, capacity: float, loss: float) -> None:
    """Refuse pieces that cannot be poured."""
    for piece in pieces:
        volume = checked(piece.volume, f"the amount for {piece.name}")
        if not piece.may_split and volume > usable * (1 + CLOSE):
            lost = f", of which {loss * 1e3:.4g} L stays in bucket and tools" if loss else ""
            raise InputError(
                f"{piece.name} needs {volume * 1e3:.4g} L in one batch, and a batch holds "
                f"{capacity * 1e3:.4g} L{lost}",
                "make room for a larger batch, or allow the piece to be split",
            )


def plan(
    pieces: Sequence[Piece],
    capacity: float,
    *,
    loss_per_batch: float = 0.0,
    going: Going = Going.FEWEST,
    joins: Sequence[Join] = (),
    node_limit: int = NODE_LIMIT,
) -> Plan:
    """Plan the batches for one layer: fewest batches, then few splits, then even.

    A batch spreads at most u = capacity - loss per batch, so batches and losses are settled
    together: n batches mix the pieces' volume and n losses, and each of them fits.

    Any order. Let U be the pieces that stay whole and V the volume of all. No plan has fewer than
    max(fewest for U, ceil(V / u)) batches. Pieces above u are cut into the fewest equal shares and
    everything else stays whole if that reaches this number (then no plan has fewer splits); else
    one more equal cut of one piece is tried; else the gaps above U are filled to one level. What
    comes out so is kept if it can be poured piece after piece, none begun and left for others; in
    jobs of templates 1 it always is.

    Where that fails, and where ranks or joins bind: the search of
    :mod:`pourbook.trade.batch.pouring` in each block. In a kept order filling each batch as far as
    it goes gives the fewest; splits happen only where leaving them out would cost a batch, and the
    level is the lowest that needs no more batches.

    Args:
        pieces: What to coat.
        capacity: Largest mixed volume of a batch, m3; see
            :func:`pourbook.trade.batch.bound.batch_limit`.
        loss_per_batch: What bucket and tools keep of each batch, m3, zero or more.
        going: Room by room: a batch serves one room, and in it a rank never comes after a higher
            one. As ordered: the pieces in their order, a batch in one room. Fewest: a batch serves
            any pieces, and the ranks only say which of equal plans begins.
        joins: Places of pieces that run into each other: the second is begun in the batch in which
            the first ends, or in the next, wherever a plan can do that.
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
    turn = {at: n for n, at in enumerate(order)}
    seams = [(turn[a], turn[b]) for a, b in joins if a != b]
    found = in_blocks(queue, usable, going, seams, node_limit)
    parts = [0] * len(queue)
    for one in found.bins:
        for at, _ in one:
            parts[at] += 1
    seen = [0] * len(queue)
    batches: list[Batch] = []
    for one in found.bins:
        shares: list[Share] = []
        for at, volume in one:
            seen[at] += 1
            shares.append(Share(order[at], volume, seen[at], parts[at]))
        spread = math.fsum(volume for _, volume in one)
        batches.append(Batch(tuple(shares), spread, spread + loss))
    return Plan(
        tuple(batches),
        found.bound,
        found.proved,
        sum(parts) - len(parts),
        sum(batches_for(piece.volume / usable) - 1 for piece in queue if piece.may_split),
        math.fsum(batch.mixed for batch in batches),
        found.nodes,
        tuple((order[a], order[b]) for a, b in apart(found.bins, seams)),
    )
