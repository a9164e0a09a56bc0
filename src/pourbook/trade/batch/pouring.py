"""The fewest batches of a pouring sequence that keeps ranks and joins.

Contract: pure functions on plain numbers, volumes in m3. Pieces are poured one after another; a
batch ends between two pieces or, filled to the brim, within one that may be split, which the next
batch goes on with. A piece is never poured after one of a higher rank. Of two pieces that join, the
second is begun in the batch in which the first ends, or in the next. Searches are limited in steps,
never in seconds, and give the same answer on every platform.

Source: ordinary search over the sets of pieces done, batch by batch, worked here. That the parts of
one surface are poured back to back is common practice, no source.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from functools import lru_cache
from heapq import nsmallest
from operator import itemgetter
from typing import NamedTuple

from pourbook.records import dataclass
from pourbook.trade.batch.fewest import pack
from pourbook.trade.batch.pieces import CLOSE, Cut, Join, Piece, batches_for

STEPS = 20_000
"""Pieces looked at by each search."""
WIDTHS = (1, 16)
"""Unfinished plans of one length that the quick searches keep, each tried only if the one before
did not reach the bound."""
LEAVES = {1: 2, 16: 8}
"""Next batches a quick search of a width tries from each."""


class _State(NamedTuple):
    """What is poured after some batches; pieces are bits in the order of the search.

    The last batch took what was left of the piece going on before it, the ``chosen`` whole, and
    ``head`` of the piece that goes on after it.
    """

    done: int
    going: int
    rest: float
    due: int
    chosen: int = 0
    head: float = 0.0
    before: _State | None = None


class _OutOfStepsError(Exception):
    """The search may take no more steps."""


class _Search:
    """A search over the plans of one set of pieces."""

    def __init__(self, pieces: Sequence[Piece], joins: Iterable[Join], usable: float) -> None:
        order = sorted(range(len(pieces)), key=lambda at: (pieces[at].order, -pieces[at].volume))
        self.order = order
        self.volumes = [pieces[at].volume for at in order]
        self.split = [pieces[at].may_split for at in order]
        self.rank = [pieces[at].order for at in order]
        turn = {at: bit for bit, at in enumerate(order)}
        self.joined = [0] * len(order)
        for a, b in joins:
            self.joined[turn[a]] |= 1 << turn[b]
            self.joined[turn[b]] |= 1 << turn[a]
        self.tied = any(self.joined)
        kinds = list(zip(self.volumes, self.rank, self.split, strict=True))
        many = Counter(kinds)
        self.twin = [many[kind] > 1 for kind in kinds]
        self.splits = sum(1 << bit for bit, split in enumerate(self.split) if split)
        self.usable = usable
        self.near = usable * CLOSE
        self.all = (1 << len(order)) - 1
        self.wholes: dict[int, float] = {}
        """What is left beside a piece that is begun, by the pieces that are not."""
        self.steps = 0
        self.most = 0

    def fewest(self, below: float, steps: int, wide: int | None) -> _State | None:
        """Return the end of a plan of fewer than ``below`` batches; None if none was found.

        ``wide`` limits what is kept and tried; without it every plan is tried.

        Raises:
            _OutOfStepsError: It takes more than ``steps``.
        """
        self.steps, self.most = 0, steps
        states = [_State(0, -1, 0.0, 0)]
        batches = 0
        while states and batches + 1 < below:
            batches += 1
            reached: dict[tuple[int, int, int], _State] = {}
            for state in states:
                # What this batch may leave empty, if those allowed after it are to hold the rest.
                empty = (below - batches) * self.usable - self._left(state)
                for found in self._after(state, LEAVES[wide] if wide else None, empty):
                    if found.done == self.all:
                        return found
                    key = (found.done, found.going, found.due)
                    if key not in reached or found.rest < reached[key].rest:
                        reached[key] = found
            left = [(self._left(state), state) for state in reached.values()]
            if wide:
                left = nsmallest(wide, left, key=itemgetter(0))
            states = [
                state for rest, state in left if batches + batches_for(rest / self.usable) < below
            ]
        return None

    def _left(self, state: _State) -> float:
        """Return the volume still to be poured."""
        begun = state.done | (1 << state.going if state.going >= 0 else 0)
        whole = self.wholes.get(begun)
        if whole is None:
            whole = math.fsum([self.volumes[bit] for bit in _bits(self.all & ~begun)])
            self.wholes[begun] = whole
        return state.rest + whole

    def _after(self, state: _State, leaves: int | None, empty: float) -> Iterator[_State]:
        """Return what may be poured after one batch more, which leaves so much empty at most."""
        room, done, ended = self.usable, state.done, 0
        if state.going >= 0:
            if state.rest > room + self.near:
                if not state.due:
                    yield _State(done, state.going, state.rest - room, 0, 0, room, state)
                return
            room -= state.rest
            ended = 1 << state.going
            done |= ended
        begun = done | ended
        count = 0
        empty = math.inf if self.splits & ~begun else empty  # a split piece fills it to the brim
        for chosen, left in self._filled(begun, room, state.due, empty):
            after, finished = done | chosen, ended | chosen
            for head in (-1, *self._heads(after, left)):
                mine = chosen | (1 << head if head >= 0 else 0)
                if state.due & ~mine or not (mine or ended):
                    continue
                if head < 0 and not self.tied and self._more_fits(after, left):
                    continue
                due = 0
                if self.tied:
                    for bit in _bits(finished):
                        due |= self.joined[bit]
                    due &= ~(after | (1 << head if head >= 0 else 0))
                if head < 0:
                    yield _State(after, -1, 0.0, due, chosen, 0.0, state)
                else:
                    rest = self.volumes[head] - left
                    yield _State(after, head, rest, due, chosen, left, state)
            count += 1
            if leaves is not None and count >= leaves:
                return

    def _step(self, looked_at: int) -> None:
        self.steps += looked_at
        if self.steps > self.most:
            raise _OutOfStepsError

    def told(self, end: _State) -> list[list[Cut]]:
        """Return the batches that lead to a state."""
        found: list[list[Cut]] = []
        state = end
        while state.before is not None:
            before = state.before
            batch: list[Cut] = []
            if before.going >= 0 and before.going != state.going:
                batch.append((self.order[before.going], before.rest))
            batch += [(self.order[bit], self.volumes[bit]) for bit in _bits(state.chosen)]
            if state.going >= 0:
                batch.append((self.order[state.going], state.head))
            found.append(batch)
            state = before
        return found[::-1]

    def _open(self, done: int) -> Sequence[int]:
        """Return the pieces not poured yet that no lower rank holds up, lowest rank first."""
        self._step(len(self.order))
        return _bits(self.all & ~done)

    def _filled(
        self, begun: int, room: float, due: int, empty: float
    ) -> Iterator[tuple[int, float]]:
        """Return sets of pieces that go whole into a room, the largest and what is due first.

        Sets that leave more than ``empty`` of the room are left out.
        """
        waiting = self._open(begun)
        if due:
            waiting = sorted(waiting, key=lambda bit: (self.rank[bit], not due >> bit & 1, bit))

        volumes, ranks, near, many = self.volumes, self.rank, self.near, len(waiting)
        needed = self._needed(waiting, room - empty)
        trail = [(0, room, 0, math.inf)]  # place in the waiting, room left, chosen, rank barred
        while trail:
            place, left, chosen, barred = trail.pop()
            self._step(1)
            while place < many and ranks[waiting[place]] <= barred and room - left >= needed[place]:
                bit = waiting[place]
                unlike = self._next_unlike(waiting, place)
                if volumes[bit] <= left + near:
                    trail.append((unlike, left, chosen, ranks[bit]))
                    place, chosen = place + 1, chosen | 1 << bit
                    left = max(0.0, left - volumes[bit])
                else:
                    barred = ranks[bit]
                    place = unlike
            if room - left >= needed[-1]:
                yield chosen, left

    def _needed(self, waiting: Sequence[int], least: float) -> list[float]:
        """Return what must be chosen before each place, for a set to come to the least in all."""
        found = [least - 2 * self.near * (len(waiting) + 1)]
        for bit in reversed(waiting):
            found.append(found[-1] - self.volumes[bit])
        return found[::-1]

    def _next_unlike(self, waiting: Sequence[int], place: int) -> int:
        """Return the place of the next piece that is not the same in all but name."""
        bit = waiting[place]
        place += 1
        if not self.twin[bit]:
            return place
        while place < len(waiting) and self._alike(bit, waiting[place]):
            place += 1
        return place

    def _alike(self, one: int, other: int) -> bool:
        return (
            self.volumes[one] == self.volumes[other]
            and self.rank[one] == self.rank[other]
            and self.split[one] == self.split[other]
            and not self.joined[one]
            and not self.joined[other]
        )

    def _heads(self, after: int, left: float) -> list[int]:
        """Return the pieces a batch may begin and leave to the next, filled to the brim."""
        found: list[int] = []
        if left <= self.near:
            return found
        if not self.splits & ~after:
            self._step(len(self.order))
            return found
        waiting = self._open(after)
        last = -1
        for bit in waiting:
            if self.rank[bit] > self.rank[waiting[0]]:
                break
            if last >= 0 and self._alike(last, bit):
                continue
            last = bit
            if self.split[bit] and self.volumes[bit] > left + self.near:
                found.append(bit)
        return found

    def _more_fits(self, after: int, left: float) -> bool:
        """Return whether a piece that may come next still goes in whole."""
        waiting = self._open(after)
        for bit in waiting:
            if self.rank[bit] != self.rank[waiting[0]]:
                break
            if self.volumes[bit] <= left + self.near:
                return True
        return False


@lru_cache(maxsize=4096)
def _bits(mask: int) -> tuple[int, ...]:
    """Return the places of the bits of a mask, the lowest first; a search asks for few, often."""
    found = []
    while mask:
        low = mask & -mask
        found.append(low.bit_length() - 1)
        mask ^= low
    return tuple(found)


@dataclass(frozen=True)
class Sequenced:
    """What the search found.

    Args:
        batches: The cuts of each batch in the order of pouring; None if none was found.
        bound: No plan that keeps ranks and joins has fewer batches.
        proved: True when none has fewer than this one; without batches, when none keeps them.
        steps: Steps of the search.

    Raises: nothing. Validity: any. Source: none, it is a record.

    Example:
        >>> Sequenced(None, 1, True, 4).proved
        True
    """

    batches: list[list[Cut]] | None
    bound: int
    proved: bool
    steps: int


def fewest_in_sequence(
    pieces: Sequence[Piece],
    usable: float,
    joins: Sequence[Join] = (),
    *,
    best: list[list[Cut]] | None = None,
    steps: int = STEPS,
) -> Sequenced:
    """Return the fewest batches of a pouring sequence that keeps ranks and joins.

    Pieces stay whole where that costs no batch: first only those above a batch are split.

    Args:
        pieces: What to coat; ``order`` is the rank. Rooms play no part here.
        usable: What a batch may spread, m3, above zero; a piece that may not be split fits into it.
        joins: Places of pieces that run into each other.
        best: A plan already known; it is given back if none with fewer batches is found.
        steps: Most steps of each search.

    Returns:
        A :class:`Sequenced`.

    Raises: nothing. Validity: up to some 200 pieces; whether it is proven is said. Source: see
    :mod:`the module <pourbook.trade.batch.pouring>`.

    Example:
        >>> made = fewest_in_sequence([Piece("a", 3.0, order=1), Piece("b", 3.0, order=2),
        ...                            Piece("c", 1.0, order=2)], 4.0)
        >>> made.batches, made.proved
        ([[(0, 3.0), (2, 1.0)], [(1, 3.0)]], True)
    """
    whole = [
        Piece(p.name, p.volume, p.may_split and p.volume > usable * (1 + CLOSE), p.order)
        for p in pieces
    ]
    cut = [p.may_split for p in pieces] != [p.may_split for p in whole]
    bound = batches_for(math.fsum(p.volume for p in pieces) / usable)
    packed, exact, taken = False, False, 0
    for way in (whole, list(pieces)) if cut else (whole,):
        search = _Search(way, joins, usable)
        for wide in (*WIDTHS, None):
            below = len(best) if best is not None else math.inf
            if below > bound and wide != WIDTHS[0] and not packed:
                packed = True
                fixed = [p.volume for p in pieces if not p.may_split]
                bound = max(bound, pack(fixed, usable, node_limit=steps).bound)
            if below <= bound:
                return Sequenced(best, bound, True, taken)
            try:
                end = search.fewest(below, steps, wide)
                exact = wide is None
            except _OutOfStepsError:
                end, exact = None, False
            taken += search.steps
            if end is not None:
                best = search.told(end)
    if exact and best is not None:
        bound = len(best)
    return Sequenced(best, bound, exact or (best is not None and len(best) <= bound), taken)
