"""Parts of one piece are poured back to back: no order of the batches leaves fewer in between."""

from __future__ import annotations

import random
from itertools import permutations

import pytest

from pourbook.trade.batch import back_to_back as module
from pourbook.trade.batch.back_to_back import EXACT, back_to_back, between
from pourbook.trade.batch.pieces import Going, Piece
from pourbook.trade.batch.plan import Plan, plan

CASES, BLOCKS = 500, 10


def _batches(seed: int) -> list[set[int]]:
    """Up to six batches and five pieces, each poured from one to four of them."""
    dice = random.Random(seed)
    batches: list[set[int]] = [set() for _ in range(dice.randint(1, 6))]
    for piece in range(dice.randint(0, 5)):
        for at in dice.sample(range(len(batches)), min(len(batches), dice.randint(2, 4))):
            batches[at].add(piece)
    return batches


@pytest.mark.parametrize("block", range(BLOCKS))
def test_no_other_order_leaves_fewer_batches_in_between(block: int) -> None:
    """Brute force over every order of the batches."""
    for seed in range(block * CASES // BLOCKS, (block + 1) * CASES // BLOCKS):
        batches = _batches(seed)
        order = back_to_back(batches)
        assert sorted(order) == list(range(len(batches)))
        least = min(between(batches, one) for one in permutations(range(len(batches))))
        assert between(batches, order) == least, batches


def test_the_sample_holds_batches_that_had_to_be_moved() -> None:
    moved = sum(between(b, range(len(b))) > 0 for b in map(_batches, range(CASES)))
    assert moved > CASES // 5


def test_batches_that_share_nothing_stay_where_they_are() -> None:
    assert back_to_back([set()] * 30) == list(range(30))
    assert back_to_back([{1}, set(), {1}, {2}, set(), {2}]) == [0, 2, 1, 3, 5, 4]


def test_a_long_wall_poured_from_many_batches_goes_from_end_to_end() -> None:
    """Fifteen pieces, each begun in one batch and ended in another: a chain, shuffled."""
    links = [{n, n + 1} for n in range(EXACT + 5)]
    random.Random(4).shuffle(links)
    order = back_to_back(links)
    assert len(links) > module.EXACT
    assert sorted(order) == list(range(len(links)))
    assert between(links, order) == 0


def _turns(made: Plan, piece: int) -> list[int]:
    return [n for n, b in enumerate(made.batches) if any(s.piece == piece for s in b.shares)]


def test_the_two_parts_of_a_long_run_follow_each_other() -> None:
    """Listed last, a run of two parts was begun in the first batch and ended in the third."""
    pieces = [Piece(f"top {n}", size) for n, size in enumerate((2.0, 5.0, 4.0, 2.0, 2.0))]
    pieces.append(Piece("run", 12.0, may_split=True))
    apart, made = plan(pieces, 10.0, going=Going.LOOSE), plan(pieces, 10.0)
    assert (_turns(apart, 5), _turns(made, 5)) == ([0, 2], [0, 1])
    assert sorted(b.mixed for b in made.batches) == sorted(b.mixed for b in apart.batches)
    assert [s.part for b in made.batches for s in b.shares if s.piece == 5] == [1, 2]
    assert made.batches[0].shares[-1].piece == 5, "poured last, while the next batch is mixed"
    assert made.batches[1].shares[0].piece == 5


@pytest.mark.parametrize("block", range(BLOCKS))
def test_no_job_of_the_sample_pours_a_piece_with_other_batches_in_between(block: int) -> None:
    for seed in range(block * CASES // BLOCKS, (block + 1) * CASES // BLOCKS):
        dice = random.Random(seed)
        sizes = [dice.uniform(0.5, 16.0) for _ in range(dice.randint(3, 16))]
        pieces = [
            Piece(f"top {n}", size, size > 10.0 or dice.random() < 0.4, dice.choice((1, 2, 9)))
            for n, size in enumerate(sizes)
        ]
        made = plan(pieces, 10.0)
        for at in range(len(pieces)):
            turns = _turns(made, at)
            assert turns == list(range(turns[0], turns[-1] + 1)), (seed, at)
