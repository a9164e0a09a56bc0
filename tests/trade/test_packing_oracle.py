"""A second solver, OR-Tools CP-SAT, against the packing search."""

from __future__ import annotations

import random
from itertools import pairwise

import pytest
from ortools.sat.python import cp_model
from tests.oracles.bounds import lower_bound

from pourbook.trade.batch.fewest import pack

INSTANCES = 1_000
BLOCKS = 20
BOUND_SAMPLE = 150
SECONDS = 1.0


def instance(seed: int) -> tuple[list[int], int]:
    """One random job of up to 40 pieces: broad, narrow, thirds, and cut from full batches."""
    rng = random.Random(seed)
    pieces = rng.randint(1, 40)
    kind = seed % 5
    if kind == 0:
        return [rng.randint(1, 100) for _ in range(pieces)], 100
    if kind == 1:
        return [rng.randint(20, 100) for _ in range(pieces)], 150
    if kind == 2:
        return [rng.randint(200, 350) for _ in range(pieces)], 1000
    if kind == 3:
        return [rng.randint(1, 60) for _ in range(pieces)], 180
    cuts: list[int] = []
    for _ in range(max(1, pieces // 4)):
        marks = [0, *sorted(rng.sample(range(1, 120), 3)), 120]
        cuts += [high - low for low, high in pairwise(marks)]
    return cuts, 120


def solve(sizes: list[int], capacity: int, bins: int, seconds: float = SECONDS) -> str:
    """Ask CP-SAT whether the pieces fit into so many bins; the largest pieces break symmetry."""
    model = cp_model.CpModel()
    falling = sorted(sizes, reverse=True)
    inside = [
        [model.new_bool_var(f"{at}/{one}") for one in range(min(bins, at + 1))]
        for at in range(len(falling))
    ]
    for row in inside:
        model.add_exactly_one(row)
    for one in range(bins):
        model.add(
            sum(falling[at] * row[one] for at, row in enumerate(inside) if one < len(row))
            <= capacity
        )
    solver = cp_model.CpSolver()
    solver.parameters.max_time_in_seconds = seconds
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = 1
    return str(solver.status_name(solver.solve(model)))


@pytest.mark.parametrize("block", range(BLOCKS))
def test_no_fewer_batches_are_found_by_the_second_solver(block: int) -> None:
    each = INSTANCES // BLOCKS
    for seed in range(block * each, (block + 1) * each):
        sizes, capacity = instance(seed)
        packing = pack(sizes, capacity)
        assert sorted(at for one in packing.bins for at in one) == list(range(len(sizes)))
        assert max(sum(sizes[at] for at in one) for one in packing.bins) <= capacity
        volume = -(-sum(sizes) // capacity)
        if len(packing.bins) == volume:
            continue  # a schoolbook proof: no fewer batches hold the volume
        answer = solve(sizes, capacity, len(packing.bins) - 1)
        assert answer in {"INFEASIBLE", "UNKNOWN"}, f"seed {seed}: one batch fewer does"
        if answer == "UNKNOWN":
            assert len(packing.bins) == volume + 1, f"seed {seed}: nobody vouches for it"


def test_the_second_solver_is_not_idle() -> None:
    """The sample really holds jobs that volume alone does not settle."""
    asked = 0
    for seed in range(0, INSTANCES, 10):
        sizes, capacity = instance(seed)
        asked += len(pack(sizes, capacity).bins) > -(-sum(sizes) // capacity)
    assert asked >= 10


@pytest.mark.parametrize("block", range(5))
def test_the_second_solver_agrees_that_the_bounds_are_bounds(block: int) -> None:
    """One bin fewer than L2 is impossible, found without our code but for the number."""
    for step in range(BOUND_SAMPLE // 5):
        sizes, capacity = instance(5_000 + 7 * (block * 30 + step))
        bounds = lower_bound(sizes, capacity)
        assert bounds.l1 == -(-sum(sizes) // capacity)
        assert bounds.l2 >= bounds.l1
        if bounds.l2 > bounds.l1:
            assert solve(sizes, capacity, bounds.l2 - 1, 5.0) == "INFEASIBLE"
