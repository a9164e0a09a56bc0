"""Ends of ranges and choices that no other test holds, each worked out by hand beside it."""

from __future__ import annotations

import math
import random
from datetime import timedelta
from types import SimpleNamespace

import pytest

from pourbook.errors import InputError
from pourbook.trade import air, covering, measuring
from pourbook.trade.batch import back_to_back, cuts, even, fewest, grouped
from pourbook.trade.batch.fewest import Packing
from pourbook.trade.batch.pieces import Piece
from pourbook.trade.cure import heat
from pourbook.trade.cure.kinetics import Kinetics
from pourbook.trade.days import sequence
from pourbook.trade.days.coat import Heat
from pourbook.trade.days.schedule import WorkingHours
from pourbook.trade.drawing import outlines


def test_a_working_day_may_end_before_one() -> None:
    assert WorkingHours(0.0, 0.5, frozenset({0})).length() == timedelta(minutes=30)


def test_a_pack_of_next_to_nothing_counts_as_something() -> None:
    """1 and the root of 2 have no common measure, and are below the finest unit of the need."""
    _, units = covering._on_grid(1e13, [1.0, math.sqrt(2), 0.0])
    assert units == [1, 1, 0]


def test_a_batch_in_the_midst_of_a_piece_pours_only_it() -> None:
    """One piece over three batches may be poured; with another beside its middle it may not."""
    assert grouped._one_after_another([[(0, 1.0)], [(0, 1.0)], [(0, 0.5)]])
    assert not grouped._one_after_another([[(0, 1.0)], [(0, 0.5), (1, 0.5)], [(0, 0.5)]])


def test_what_fits_goes_where_the_least_is_left() -> None:
    """Of 10, bins hold 2 and 6: 3 goes to the fuller, of which it leaves 1."""
    pieces = [Piece("a", 2.0), Piece("b", 6.0), Piece("c", 3.0, may_split=True)]
    whole = Packing(((0,), (1,)), 2, True, 0, True)
    assert cuts._filled(pieces, 10.0, whole, [0, 1], 2) == [[(0, 2.0)], [(1, 6.0), (2, 3.0)]]


def test_a_mix_that_does_not_cure_makes_no_heat() -> None:
    still = Kinetics(0.0, 60_000.0, 0.0, 60_000.0, 1.0, 1.0)
    bucket = heat.Bucket(1.0, 0.05, 8.0, 4e5, 2000.0, 298.15, 298.15)
    assert heat.batch_semenov(still, bucket) == 0.0


def test_a_cooler_mix_is_given_as_much_caution_as_a_warmer_one() -> None:
    """exp(E/R (1/T - 1/Tref)) of 55 kJ/mol: 2 K colder 1.16, 2 K warmer the like; at most 1.25."""
    for kelvin in (296.15, 300.15):
        off = abs(1 / 298.15 - 1 / kelvin)
        wanted = math.exp(55_000.0 / 8.314462618 * off)
        found = heat.self_heating_caution(kelvin, 298.15, 55_000.0)
        assert found == pytest.approx(wanted, rel=1e-9)
    assert heat.self_heating_caution(283.15, 298.15, 55_000.0) == 1.25
    assert heat.self_heating_caution(313.15, 298.15, 55_000.0) == 1.6


def test_a_temperature_at_its_limit_is_within_it() -> None:
    assert air._span("Air", 303.15, 283.15, 303.15) == []
    assert air._span("Air", 283.15, 283.15, 303.15) == []
    assert "above the most allowed" in air._span("Air", 303.2, 283.15, 303.15)[0]
    assert "below the least allowed" in air._span("Air", 283.1, 283.15, 303.15)[0]


def test_the_piece_that_evens_two_batches_best_is_moved_or_swapped() -> None:
    """6, 5, 2 and 3: moving 5 leaves 8 and 8. 8, 4, 3 and 3: swapping 8 for it, 10 and 8."""
    assert even._trade([6, 5, 2, 3], [0, 1, 2], [3], 10) == ([0, 2], [3, 1])
    assert even._trade([3, 8, 4, 3], [1, 2, 3], [0], 12) == ([2, 3, 0], [1])
    assert even._trade([5, 4], [0], [1], 1) is None


def test_a_half_round_is_half_as_deep_as_it_is_wide() -> None:
    assert outlines.spans(outlines.outline("half-round", [2.0])) == pytest.approx((2.0, 1.0))
    assert outlines.spans(outlines.outline("half-round", [2.0, 0.6])) == pytest.approx((2.0, 0.6))


def test_batches_that_are_heated_are_numbered_from_one() -> None:
    coat = sequence.CoatTimes(
        "flood", (600.0, 600.0), 55e3, 296.15, light_use=24 * 3600.0, full_service=168 * 3600.0,
        heat=Heat(1, 60.0, 0.0, 0.0, 3600.0, free_hand=False),
    )  # fmt: skip
    names = [step.name for step in sequence.job_steps([], [coat]) if "heat" in step.name]
    assert sorted(names) == ["flood: heat batch 1", "flood: heat batch 2"]


@pytest.mark.parametrize("seed", range(30))
def test_no_start_does_better_than_the_order_gone_on_with(seed: int) -> None:
    """Each of the first starts alone leaves no fewer batches between."""
    rng = random.Random(seed)
    batches = [{rng.randrange(14) for _ in range(rng.randint(1, 3))} for _ in range(16)]
    group = max(back_to_back._groups(batches), key=len)
    members = back_to_back._members(batches, group)
    ties = [sum(bits >> place & 1 for bits in members) for place in range(len(group))]
    starts = sorted(range(len(group)), key=lambda place: (ties[place], place))
    alone = [
        back_to_back._from(members, len(group), start) for start in starts[: back_to_back.STARTS]
    ]
    places = [group.index(at) for at in back_to_back._going_on(batches, group)]
    assert _between(members, places) == min(cost for cost, _ in alone)


def _between(members: list[int], order: list[int]) -> int:
    found = done = 0
    for place in order:
        found += sum(
            1 for bits in members if bits & done and bits & ~done and not bits & 1 << place
        )
        done |= 1 << place
    return found


def test_a_cove_may_be_as_high_as_its_backsplash() -> None:
    """1 m of it: 0.1 m less (2 - pi/2) of 0.1."""
    assert measuring.backsplash(1.0, 0.1, 0.1) == pytest.approx(0.1 - (2 - math.pi / 2) * 0.1)
    with pytest.raises(InputError, match="higher than the backsplash"):
        measuring.backsplash(1.0, 0.1, 0.1001)


def test_many_pieces_are_evened_to_half_a_hundredth_of_a_batch() -> None:
    """80 pieces, too many to be evened as far as it goes, in 10 batches and more."""
    rng = random.Random(5)
    sizes = [float(rng.randint(100, 999)) for _ in range(80)]
    found = fewest.pack(sizes, 4_500.0)
    loads = [sum(sizes[at] for at in one) for one in found.bins]
    assert len(loads) >= 10
    mean = sum(loads) / len(loads)
    assert max(loads) - mean <= 0.005 * mean + 1
    assert mean - min(loads) <= 0.02 * mean


def test_a_repair_that_fills_batches_to_the_brim_is_taken(monkeypatch: pytest.MonkeyPatch) -> None:
    open_end = SimpleNamespace(found=None, complete=False, nodes=1)
    monkeypatch.setattr(fewest, "fit_into", lambda *_: open_end)
    monkeypatch.setattr(fewest, "repair", lambda *_: ([[0, 3], [1, 2]], 1))
    assert fewest._settle([6, 5, 5, 4], 10, [[0, 1], [2, 3]], 2, 9) == ([[0, 3], [1, 2]], False, 2)
