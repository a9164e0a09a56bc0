"""Batches of a coat and their heat passes, second by second, worked out by hand.

A heated batch is passed over no sooner than ``since`` after it is spread and no later than
``until``, which bubbles and the setting film ask for (common practice, no source).
"""

from __future__ import annotations

import pytest

from pourbook.trade.days.coat import Heat, coat_times

ALONE = Heat(1, 60.0, 0.0, 300.0, 900.0, free_hand=False)
Times = list[tuple[bool, int, float, float, float]]


def times(batches: list[float], heat: Heat | None = None, **how: float) -> Times:
    found = coat_times(batches, heat=heat, **how)  # type: ignore[arg-type]
    return [(one.heated, one.turn, one.start, one.end, one.late) for one in found]


@pytest.mark.parametrize(
    ("passes", "gap", "lasts"), [(1, 60.0, 60.0), (2, 60.0, 180.0), (3, 30.0, 240.0)]
)
def test_passes_take_their_time_and_the_gaps_between(passes: int, gap: float, lasts: float) -> None:
    assert Heat(passes, 60.0, gap, 300.0, 900.0, free_hand=True).lasts == lasts


def test_a_batch_that_would_end_in_time_is_spread_before_the_first_is_heated() -> None:
    """The second ends at 1,800 s, the last at which the first may be passed over."""
    assert times([900.0, 900.0], ALONE) == [
        (False, 0, 0.0, 900.0, 0.0),
        (False, 1, 900.0, 1800.0, 0.0),
        (True, 0, 1800.0, 1860.0, 0.0),
        (True, 1, 2100.0, 2160.0, 0.0),
    ]


def test_a_batch_that_would_end_too_late_waits_for_the_heat() -> None:
    """A second longer, and it would end at 1,801 s: the first is heated from 1,200 to 1,260 s."""
    assert times([900.0, 901.0], ALONE) == [
        (False, 0, 0.0, 900.0, 0.0),
        (True, 0, 1200.0, 1260.0, 0.0),
        (False, 1, 1260.0, 2161.0, 0.0),
        (True, 1, 2461.0, 2521.0, 0.0),
    ]


def test_a_batch_whose_time_has_come_is_heated_before_the_next_is_mixed() -> None:
    """Of four batches of 200 s the first may be heated from 500 s: after the third, at 600 s."""
    assert times([200.0] * 4, ALONE) == [
        (False, 0, 0.0, 200.0, 0.0),
        (False, 1, 200.0, 400.0, 0.0),
        (False, 2, 400.0, 600.0, 0.0),
        (True, 0, 600.0, 660.0, 0.0),
        (False, 3, 660.0, 860.0, 0.0),
        (True, 1, 860.0, 920.0, 0.0),
        (True, 2, 920.0, 980.0, 0.0),
        (True, 3, 1160.0, 1220.0, 0.0),
    ]


def test_a_heat_that_comes_too_late_says_by_how_much() -> None:
    """Both are spread by 1,000 s; the first is heated to 2,200, the second may wait to 1,900."""
    both = Heat(2, 500.0, 100.0, 600.0, 900.0, free_hand=False)
    assert times([500.0, 500.0], both)[2:] == [
        (True, 0, 1100.0, 2200.0, 0.0),
        (True, 1, 2200.0, 3300.0, 300.0),
    ]


def test_long_passes_hold_the_next_batch_up() -> None:
    """The first may be heated at once, and a pass takes 1,000 s."""
    long = Heat(1, 1000.0, 0.0, 0.0, 900.0, free_hand=False)
    assert times([500.0, 500.0], long) == [
        (False, 0, 0.0, 500.0, 0.0),
        (True, 0, 500.0, 1500.0, 0.0),
        (False, 1, 1500.0, 2000.0, 0.0),
        (True, 1, 2000.0, 3000.0, 0.0),
    ]


def test_a_free_hand_heats_while_others_spread() -> None:
    free = Heat(1, 60.0, 0.0, 300.0, 900.0, free_hand=True)
    assert times([900.0, 900.0], free) == [
        (False, 0, 0.0, 900.0, 0.0),
        (False, 1, 900.0, 1800.0, 0.0),
        (True, 0, 1200.0, 1260.0, 0.0),
        (True, 1, 2100.0, 2160.0, 0.0),
    ]


def test_two_mixers_mix_the_next_while_one_is_spread() -> None:
    """300 s of mixing, 600 of spreading: one mixer takes 900 s a batch, two 600 after the first."""
    assert times([900.0, 900.0], ready=300.0) == [
        (False, 0, 0.0, 900.0, 0.0),
        (False, 1, 900.0, 1800.0, 0.0),
    ]
    two = times([900.0, 900.0], ready=300.0, mixers=2)
    assert [(start, end) for _, _, start, end, _ in two] == [(0.0, 900.0), (600.0, 1500.0)]


def test_nothing_to_mix_takes_no_time() -> None:
    assert times([]) == times([], ALONE) == []
