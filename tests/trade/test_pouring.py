"""Plans that keep rooms, ranks and joins: checked against every plan, and against CP-SAT.

The brute force pours pieces one after another in every order, closing the batch before any of them,
and knows nothing of the search it judges.
"""

from __future__ import annotations

import math
from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st
from ortools.sat.python import cp_model

from pourbook.trade.batch.pieces import Going, Join, Piece
from pourbook.trade.batch.plan import Plan, plan

CASES = 500
FULL = 12.0


def drawn(random: Random, most: int) -> tuple[list[Piece], list[Join]]:
    """Return pieces of whole volumes in up to three rooms, ranked or not, and a few joins."""
    count = random.randint(1, most)
    rooms = random.choice(["k", "kb", "kbd"])
    ranks = random.choice([(math.inf,), (1.0, math.inf), (1.0, 2.0, 3.0)])
    pieces = []
    for n in range(count):
        split = random.random() < 0.35
        volume = float(random.randint(1, 30 if split else 12))
        pieces.append(Piece(f"p{n}", volume, split, random.choice(ranks), random.choice(rooms)))
    pairs = [(a, b) for a in range(count) for b in range(a) if pieces[a].room == pieces[b].room]
    return pieces, random.sample(pairs, min(len(pairs), random.choice((0, 0, 1, 2, 3))))


def blocks(pieces: list[Piece], going: Going) -> list[list[int]]:
    """Return the places of the pieces that one batch may serve, in the order of the work."""
    order = sorted(range(len(pieces)), key=lambda at: pieces[at].order)
    if going is Going.FEWEST:
        return [order]
    found: list[list[int]] = []
    for at in order:
        mine = [one for one in found if pieces[one[0]].room == pieces[at].room]
        if mine and (going is Going.ROOMS or mine[-1] is found[-1]):
            mine[-1].append(at)
        else:
            found.append([at])
    return found


def follows(block: list[int], pieces: list[Piece], going: Going, one: int, other: int) -> bool:
    """Return whether ``one`` may not be poured before ``other``."""
    if going is Going.ORDERED:
        return block.index(other) < block.index(one)
    return going is Going.ROOMS and pieces[other].order < pieces[one].order


def can(
    pieces: list[Piece], block: list[int], joins: list[Join], going: Going, many: int, full: float
) -> bool:
    """Return whether some way of pouring takes no more than so many batches."""
    near = {at: {b for a, b in joins if a == at} | {a for a, b in joins if b == at} for at in block}

    def pour(left: frozenset[int], batch: int, room: float, ended: dict[int, int]) -> bool:
        if not left:
            return True
        if math.fsum(pieces[at].volume for at in left) > room + (many - batch) * full + 1e-9:
            return False
        for at in left:
            if any(follows(block, pieces, going, at, other) for other in left if other != at):
                continue
            for close in (False, True):
                turn, space = (batch + 1, full) if close else (batch, room)
                rest = pieces[at].volume
                if rest > space + 1e-9 and not (pieces[at].may_split and space > 0):
                    continue
                if turn > many or any(turn > ended[p] + 1 for p in near[at] if p in ended):
                    continue
                while rest > space + 1e-9:
                    rest, turn, space = rest - space, turn + 1, full
                if turn > many:
                    continue
                if pour(left - {at}, turn, space - rest, ended | {at: turn}):
                    return True
        return False

    return pour(frozenset(block), 0, 0.0, {})


def broken(pieces: list[Piece], joins: list[Join], going: Going, made: Plan, full: float) -> str:
    """Return what is wrong with a plan, if anything is."""
    turns: dict[int, list[int]] = {}
    poured: dict[int, float] = {}
    for turn, batch in enumerate(made.batches):
        if batch.spread > full * (1 + 1e-8):
            return f"batch {turn} is too large"
        if going is not Going.FEWEST and len({pieces[s.piece].room for s in batch.shares}) > 1:
            return f"batch {turn} serves two rooms"
        for share in batch.shares:
            turns.setdefault(share.piece, []).append(turn)
            poured[share.piece] = poured.get(share.piece, 0.0) + share.volume
    return _of_pieces(pieces, made, turns, poured) or _of_order(pieces, joins, going, made, turns)


def _of_pieces(
    pieces: list[Piece], made: Plan, turns: dict[int, list[int]], poured: dict[int, float]
) -> str:
    for at, piece in enumerate(pieces):
        if abs(poured[at] - piece.volume) > 1e-6:
            return f"{piece.name} does not get what it needs"
        if len(turns[at]) > 1 and not piece.may_split:
            return f"{piece.name} is split"
        if any(len(made.batches[turn].shares) > 1 for turn in turns[at][1:-1]):
            return f"{piece.name} is begun and left for others"
        if turns[at] != list(range(turns[at][0], turns[at][-1] + 1)):
            return f"other batches stand between the parts of {piece.name}"
    return ""


def _of_order(
    pieces: list[Piece],
    joins: list[Join],
    going: Going,
    made: Plan,
    turns: dict[int, list[int]],
) -> str:
    for block in blocks(pieces, going):
        for one in block:
            for other in block:
                if follows(block, pieces, going, one, other) and turns[one][0] < turns[other][-1]:
                    return f"{pieces[one].name} comes too early"
    for a, b in joins:
        late = turns[b][0] > turns[a][-1] + 1 or turns[a][0] > turns[b][-1] + 1
        if late != ((a, b) in made.apart):
            return f"the join of {pieces[a].name} and {pieces[b].name} is told wrong"
    return ""


@pytest.mark.parametrize("going", [Going.ROOMS, Going.ORDERED, Going.FEWEST])
def test_no_plan_that_keeps_rooms_ranks_and_joins_has_fewer_batches(going: Going) -> None:
    """500 random jobs of up to nine pieces in all: every plan is tried."""
    random = Random(f"sequence {going.value}")
    kept = 0
    for case in range(CASES // 3 + 1):
        pieces, joins = drawn(random, 9)
        made = plan(pieces, FULL, going=going, joins=joins)
        assert not broken(pieces, joins, going, made, FULL), (case, pieces, joins)
        assert (made.proved, made.bound) == (True, len(made.batches)), (case, pieces, joins)
        for block in blocks(pieces, going):
            own = [j for j in joins if j[0] in block and j[1] in block]
            took = len({t for t, b in enumerate(made.batches) if b.shares[0].piece in block})
            told = [j for j in own if j in made.apart]
            if told:
                assert not can(pieces, block, own, going, took + len(block), FULL), (case, told)
                own = [j for j in own if j not in told]
            kept += len(own)
            assert not can(pieces, block, own, going, took - 1, FULL), (case, pieces, joins)
    assert kept > CASES // 10


@given(st.integers(0, 10**6), st.floats(0.5, 1.0))
def test_more_reserve_never_takes_fewer_batches(seed: int, share: float) -> None:
    """A batch that may hold less of the same needs as many or more; joins are told as they are."""
    pieces, joins = drawn(Random(seed), 12)
    least = max([p.volume for p in pieces if not p.may_split], default=1.0)
    small = max(FULL * share, least)
    for going in (Going.ROOMS, Going.ORDERED, Going.FEWEST):
        large, less = (plan(pieces, size, going=going, joins=joins) for size in (FULL, small))
        assert not broken(pieces, joins, going, large, FULL)
        if large.proved and not large.apart and not less.apart:
            assert len(less.batches) >= len(large.batches)


def solved(pieces: list[Piece], joins: list[Join], full: int, most: int) -> int:
    """Return the fewest batches of one room by CP-SAT: spans of batches, not sequences."""
    model = cp_model.CpModel()
    starts, ends, poured = [], [], []
    for piece in pieces:
        volume = int(piece.volume)
        start, end = (model.new_int_var(0, most - 1, name) for name in ("start", "end"))
        model.add(start <= end if piece.may_split else start == end)
        parts = [model.new_int_var(0, volume, "part") for _ in range(most)]
        for turn, part in enumerate(parts):
            here = model.new_bool_var("here")
            model.add(part == 0).only_enforce_if(here.negated())
            model.add(part >= 1).only_enforce_if(here)
            model.add(start <= turn).only_enforce_if(here)
            model.add(end >= turn).only_enforce_if(here)
        model.add(sum(parts) == volume)
        starts.append(start)
        ends.append(end)
        poured.append(parts)
    for turn in range(most):
        model.add(sum(parts[turn] for parts in poured) <= full)
    for a, one in enumerate(pieces):
        for b, other in enumerate(pieces):
            if one.order < other.order:
                model.add(ends[a] <= starts[b])
    for a, b in joins:
        model.add(starts[b] <= ends[a] + 1)
        model.add(starts[a] <= ends[b] + 1)
    last = model.new_int_var(0, most - 1, "last")
    model.add_max_equality(last, ends)
    model.minimize(last)
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    assert solver.solve(model) == cp_model.OPTIMAL
    return int(solver.objective_value) + 1


@pytest.mark.parametrize("joining", [True, False])
def test_larger_rooms_take_as_many_batches_as_cp_sat_finds(joining: bool) -> None:
    """Rooms of up to 16 pieces: joined ones that stay whole, or ranked ones that may be split.

    CP-SAT knows spans of batches only; with both at once a span may hold what no sequence can.
    """
    random = Random(f"larger {joining}")
    for case in range(12):
        count = random.randint(10, 16)
        ranks = random.choice([(1.0, math.inf), (1.0, 2.0, 3.0)])
        pieces = []
        for n in range(count):
            split = not joining and random.random() < 0.3
            volume = float(random.randint(2, 24 if split else 12))
            pieces.append(Piece(f"p{n}", volume, split, random.choice(ranks)))
        pairs = [(n, n + 1) for n in range(count - 1) if pieces[n].order == pieces[n + 1].order]
        joins = random.sample(pairs, min(3, len(pairs))) if joining else []
        made = plan(pieces, FULL, going=Going.ROOMS, joins=joins)
        assert not broken(pieces, joins, Going.ROOMS, made, FULL)
        assert not made.apart
        least = solved(pieces, joins, int(FULL), len(made.batches))
        assert made.bound <= least <= len(made.batches), case
        if made.proved:
            assert least == len(made.batches), (case, pieces, joins)
