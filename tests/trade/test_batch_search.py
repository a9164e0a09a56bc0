"""The exact search and the bounds beneath the packing, each against trying everything."""

from __future__ import annotations

import random
from itertools import product

from hypothesis import given, settings
from hypothesis import strategies as st

from pourbook.trade.batch.even import largest_bound
from pourbook.trade.batch.repair import counted, placed
from pourbook.trade.batch.search import fit_into


def fits_by_trying(sizes: list[int], cap: int, bins: int) -> bool:
    """Put falling pieces into every bin in turn; bins with equal loads count once."""
    states = {(0,) * bins}
    for size in sizes:
        states = {
            tuple(sorted((*loads[:at], load + size, *loads[at + 1 :])))
            for loads in states
            for at, load in enumerate(loads)
            if load + size <= cap
        }
    return bool(states)


def test_the_search_settles_what_trying_everything_settles() -> None:
    answers = set()
    for seed in range(1_500):
        rng = random.Random(seed)
        bins = rng.randint(2, 4)
        cap = rng.randint(12, 40)
        falling = sorted(
            (
                rng.randint(2, max(3, cap // rng.choice([2, 3, 4])))
                for _ in range(rng.randint(4, 12))
            ),
            reverse=True,
        )
        sizes, counts = counted(falling)
        outcome = fit_into(sizes, counts, cap, bins, 50_000)
        expected = fits_by_trying(falling, cap, bins)
        answers.add(expected)
        assert outcome.complete
        assert (outcome.found is not None) == expected, (falling, cap, bins)
        if outcome.found is not None:
            filled = placed(outcome.found, counts)
            assert len(filled) <= bins
            assert sorted(at for one in filled for at in one) == list(range(len(falling)))
            assert max(sum(falling[at] for at in one) for one in filled) <= cap
    assert answers == {True, False}


def test_the_search_finds_full_bins_it_was_built_from() -> None:
    """Pieces cut from full bins: a packing exists, so calling it impossible is an error."""
    for seed in range(300):
        rng = random.Random(seed)
        falling: list[int] = []
        for _ in range(5):
            marks = [0, *sorted(rng.sample(range(3, 57), rng.randint(1, 4))), 60]
            falling += [marks[at + 1] - marks[at] for at in range(len(marks) - 1)]
        falling.sort(reverse=True)
        sizes, counts = counted(falling)
        outcome = fit_into(sizes, counts, 60, 5, 200_000)
        assert outcome.found is not None or not outcome.complete


@settings(max_examples=200, deadline=None)
@given(st.lists(st.integers(1, 12), min_size=1, max_size=7), st.integers(1, 3))
def test_the_bound_on_the_largest_batch_is_a_bound(sizes: list[int], bins: int) -> None:
    best = min(
        max(sum(size for at, size in enumerate(sizes) if where[at] == one) for one in range(bins))
        for where in product(range(bins), repeat=len(sizes))
    )
    assert largest_bound(sorted(sizes, reverse=True), bins) <= best
