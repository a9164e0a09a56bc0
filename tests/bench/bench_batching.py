"""Time the batch planner in CPU seconds; run it with Pourbook on the path.

Prints, in one run: the time of a plan for 200 pieces in 12 layers, room by room and as ordered too,
and how many times faster the packing search is than OR-Tools CP-SAT to the same proven count on the
same random jobs.
"""

from __future__ import annotations

import math
import random
import statistics
import sys
import time

from ortools.sat.python import cp_model

from pourbook.trade.batch.fewest import pack
from pourbook.trade.batch.pieces import Going, Piece
from pourbook.trade.batch.plan import plan

LAYERS = 12
PIECES = 200
JOBS = 30
SECONDS = 20.0
TURNS = 5
RANKS = (1.0, 2.0, *[math.inf] * 6)


def plan_time(seed: int, splittable: float, least: float) -> tuple[float, int, int]:
    """Plan every layer of a job of 200 pieces; return CPU seconds, batches and proven layers."""
    rng = random.Random(seed)
    areas = [rng.uniform(0.3, 4.0) for _ in range(PIECES)]
    splits = [rng.random() < splittable for _ in range(PIECES)]
    layers = [(rng.uniform(0.0003, 0.0032), rng.uniform(least, 12.0)) for _ in range(LAYERS)]
    began = time.process_time()
    batches = proven = 0
    for film, area_a_batch in layers:
        pieces = [Piece(str(at), area * film, splits[at]) for at, area in enumerate(areas)]
        made = plan(pieces, area_a_batch * film, loss_per_batch=0.02 * film)
        batches += len(made.batches)
        proven += made.proved
    return time.process_time() - began, batches, proven


def layer_time(seed: int) -> float:
    """Plan 200 pieces dealt out to 12 layers; return CPU seconds."""
    rng = random.Random(seed)
    pieces = [Piece(str(at), rng.uniform(0.3, 4.0) * 0.003) for at in range(PIECES)]
    began = time.process_time()
    for layer in range(LAYERS):
        plan(pieces[layer::LAYERS], 0.021, loss_per_batch=0.0001)
    return time.process_time() - began


def going_time(seed: int, going: Going) -> tuple[float, int]:
    """Plan 12 layers of 200 pieces in 13 rooms, ranked and joined; return CPU seconds, proven."""
    rng = random.Random(seed)
    base = [(rng.uniform(0.2, 6.0), rng.random() < 0.3, rng.choice(RANKS)) for _ in range(PIECES)]
    joins = [(at, at + 1) for at in range(0, PIECES - 10, 16)] if going is not Going.ORDERED else []
    began = time.process_time()
    proven = 0
    for layer in range(LAYERS):
        pieces = [
            Piece(str(at), volume * (0.8 + layer / 30), split, rank, f"room {at // 16}")
            for at, (volume, split, rank) in enumerate(base)
        ]
        proven += plan(pieces, 12.0, going=going, joins=joins).proved
    return time.process_time() - began, proven


def cp_sat(sizes: list[int], capacity: int, fewest: int) -> tuple[float, str]:
    """Return the time CP-SAT takes to find and prove the fewest bins, given one bin to spare."""
    bins = fewest + 1
    model = cp_model.CpModel()
    falling = sorted(sizes, reverse=True)
    inside = [
        [model.new_bool_var("") for _ in range(min(bins, at + 1))] for at in range(len(falling))
    ]
    used = [model.new_bool_var("") for _ in range(bins)]
    for row in inside:
        model.add_exactly_one(row)
    for one in range(bins):
        held = [falling[at] * row[one] for at, row in enumerate(inside) if one < len(row)]
        model.add(sum(held) <= capacity * used[one])
        if one:
            model.add_implication(used[one], used[one - 1])
    model.minimize(sum(used))
    solver = cp_model.CpSolver()
    solver.parameters.max_time_in_seconds = SECONDS
    solver.parameters.num_workers = 1
    began = time.process_time()
    status = solver.solve(model)
    spent = time.process_time() - began
    proven = status == cp_model.OPTIMAL and round(solver.objective_value) == fewest
    return spent, "proved" if proven else solver.status_name(status).lower()


def main() -> None:
    """Print the measurements."""
    out = sys.stdout
    for splittable, least in ((0.0, 6.0), (0.3, 6.0), (1.0, 6.0), (0.0, 4.5)):
        times = [plan_time(seed, splittable, least) for seed in range(7)]
        out.write(
            f"{PIECES} pieces in each of {LAYERS} layers, {splittable:.0%} may be split, "
            f"batches of {least:g} to 12 m2 and pieces of 0.3 to 4 m2: median "
            f"{statistics.median(one[0] for one in times) * 1e3:.1f} ms, worst "
            f"{max(one[0] for one in times) * 1e3:.1f} ms, "
            f"{sum(one[2] for one in times)}/{LAYERS * len(times)} layers proven\n"
        )
    one_layer = [layer_time(seed) for seed in range(50)]
    out.write(
        f"{PIECES} pieces dealt out to {LAYERS} layers: median "
        f"{statistics.median(one_layer) * 1e3:.1f} ms, worst {max(one_layer) * 1e3:.1f} ms\n"
    )
    for going in (Going.ROOMS, Going.ORDERED, Going.FEWEST):
        found = [min(going_time(seed, going) for _ in range(TURNS)) for seed in range(7)]
        out.write(
            f"{PIECES} pieces in {LAYERS} layers, 13 rooms, {going.value}, the quietest of "
            f"{TURNS} turns: median "
            f"{statistics.median(one[0] for one in found) * 1e3:.0f} ms, worst "
            f"{max(one[0] for one in found) * 1e3:.0f} ms, "
            f"{sum(one[1] for one in found)}/{LAYERS * len(found)} layers proven\n"
        )
    ratios: list[float] = []
    ours_all = theirs_all = 0.0
    unproved = late = 0
    for seed in range(JOBS):
        rng = random.Random(1_000 + seed)
        sizes = [rng.randint(10, 70) for _ in range(rng.randint(20, 40))]
        began = time.process_time()
        packing = pack(sizes, 100)
        ours = time.process_time() - began
        theirs, status = cp_sat(sizes, 100, len(packing.bins))
        unproved += not packing.proved
        late += status != "proved"
        ratios.append(theirs / ours)
        ours_all += ours
        theirs_all += theirs
    out.write(
        f"{JOBS} random jobs of 20 to 40 pieces: CP-SAT / ours: total {theirs_all / ours_all:.0f}, "
        f"median {statistics.median(ratios):.0f}, least {min(ratios):.1f}; not proved by us "
        f"{unproved}, by CP-SAT within {SECONDS:.0f} s {late}\n"
    )


if __name__ == "__main__":
    main()
