"""Buying: cover, cost, ties, stock, and what is refused."""

from __future__ import annotations

import math
import random
from datetime import date
from itertools import product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pourbook.errors import InputError
from pourbook.trade.buying import Lot, Pack, buy, cost_of_use, use_stock
from pourbook.trade.covering import cover, cover_parts

GALLON = 0.003785411784
DAY = date(2030, 5, 1)


@st.composite
def offers(draw: st.DrawFn) -> tuple[list[float], list[Pack]]:
    """A need of one to three parts and packs that can cover it."""
    parts = draw(st.integers(1, 3))
    amount = st.integers(0, 12).map(lambda whole: whole / 4)
    packs = [Pack("kit", tuple([1.0] * parts), draw(st.integers(1, 40)))]
    for at in range(draw(st.integers(0, 3))):
        contents = tuple(draw(amount) for _ in range(parts))
        if any(contents):
            packs.append(Pack(f"pack {at}", contents, draw(st.integers(0, 60))))
    return [draw(amount) for _ in range(parts)], packs


def brute(need: list[float], packs: list[Pack]) -> float:
    """The least cost by trying every number of every pack up to a number that always suffices."""
    tops = [
        max(
            [math.ceil(one / pack.contents[at]) for at, one in enumerate(need) if pack.contents[at]]
        )
        for pack in packs
    ]
    return min(
        sum(count * packs[at].price for at, count in enumerate(counts))
        for counts in product(*[range(top + 1) for top in tops])
        if all(
            sum(count * packs[at].contents[part] for at, count in enumerate(counts)) >= one
            for part, one in enumerate(need)
        )
    )


@settings(max_examples=150, deadline=None)
@given(offers())
def test_the_purchase_covers_and_nothing_is_cheaper(job: tuple[list[float], list[Pack]]) -> None:
    need, packs = job
    made = buy(need, packs)
    for part, one in enumerate(need):
        bought = sum(count * packs[at].contents[part] for at, count in enumerate(made.counts))
        assert bought >= one
        assert made.left_over[part] == pytest.approx(bought - one)
    assert made.proved
    assert made.cost == brute(need, packs)
    for pack in packs:
        if all(pack.contents[at] or not one for at, one in enumerate(need)):
            alone = max(
                [math.ceil(one / pack.contents[at]) for at, one in enumerate(need) if one],
                default=0,
            )
            assert made.cost <= alone * pack.price


@pytest.mark.parametrize("seed", range(20))
def test_amounts_without_a_common_measure(seed: int) -> None:
    rng = random.Random(seed)
    sizes = [rng.uniform(0.5, 3.0) for _ in range(3)]
    packs = [Pack(str(at), (size,), rng.randint(5, 50)) for at, size in enumerate(sizes)]
    need = [rng.uniform(5.0, 15.0)]
    made = buy(need, packs)
    assert made.proved
    assert made.cost == brute(need, packs)


def test_gallons_in_cubic_metres_need_no_pack_more_for_the_last_digit() -> None:
    packs = [Pack("quart", (GALLON / 4,), 12), Pack("gallon", (GALLON,), 40)]
    assert buy([sum([GALLON / 4] * 12)], packs).counts == (0, 3)


def test_ties_go_to_least_left_over_then_fewest_packs() -> None:
    even = [Pack("2", (2,), 20), Pack("3", (3,), 20), Pack("1", (1,), 10)]
    assert buy([4], even).counts == (0, 1, 1)  # 30 buys 4 exactly as 3 + 1
    same = [Pack("1", (1,), 10), Pack("4", (4,), 40)]
    assert buy([8], same).counts == (0, 2)


def test_no_more_packs_are_bought_than_there_are() -> None:
    packs = [Pack("5", (5,), 50, most=1), Pack("1", (1,), 15, most=7)]
    assert buy([8], packs).counts == (1, 3)
    with pytest.raises(InputError, match="cannot cover part 1"):
        buy([13], packs)


def test_few_nodes_give_a_cover_and_an_honest_bound() -> None:
    rng = random.Random(3)
    packs = [Pack(str(at), (rng.random() + 0.1,), rng.randint(3, 9)) for at in range(6)]
    best = buy([40.0], packs)
    short = buy([40.0], packs, node_limit=1)
    assert best.proved
    assert not short.proved
    assert short.bound <= best.cost <= short.cost
    bought = sum(count * packs[at].contents[0] for at, count in enumerate(short.counts))
    assert bought >= 40.0


def test_no_need_buys_nothing() -> None:
    made = buy([0.0, 0.0], [Pack("kit", (1, 1), 5)])
    assert (made.counts, made.cost, made.proved) == ((0,), 0.0, True)
    assert cover(0, [1], [5]).counts == (0,)


@pytest.mark.parametrize(
    ("need", "pack", "words"),
    [
        ([1.0], Pack("empty", (0.0,), 5), "pack empty is empty"),
        ([1.0], Pack("gift", (1.0,), -5), "the price of gift is -5"),
        ([1.0], Pack("odd", (-1.0,), 5), "pack odd is -1"),
        ([1.0], Pack("odd", (math.nan,), 5), "pack odd is nan"),
        ([1.0, 1.0], Pack("A", (1.0,), 5), "pack A has 1 parts where the product has 2"),
        ([1.0, 1.0], Pack("A", (1.0, 0.0), 5), "cannot cover part 2"),
        ([1.0] * 4, Pack("A", (1.0,) * 4, 5), "4 parts"),
        ([], Pack("A", (), 5), "0 parts"),
        ([1.0], Pack("A", (1.0,), 5, most=-1), "number of A that can be had is -1"),
    ],
)
def test_a_need_no_pack_can_meet_is_refused(need: list[float], pack: Pack, words: str) -> None:
    with pytest.raises(InputError, match=words):
        buy(need, [pack])


def test_the_covering_itself_refuses() -> None:
    with pytest.raises(InputError, match="-1"):
        cover(5, [-1], [3])
    with pytest.raises(InputError, match="-3"):
        cover(5, [1], [-3])
    with pytest.raises(InputError, match="4 parts"):
        cover_parts([1] * 4, [[1] * 4], [1])


def test_stock_goes_earliest_expiry_first_and_never_expired() -> None:
    lots = [
        Lot("no date", (9.0, 9.0)),
        Lot("later", (2.0, 1.0), date(2030, 9, 1)),
        Lot("gone", (50.0, 50.0), date(2030, 4, 30)),
        Lot("today", (1.0, 4.0), DAY),
    ]
    use = use_stock([4.0, 4.5], lots, DAY)
    assert use.taken == ((1.0, 0.0), (2.0, 0.5), (0.0, 0.0), (1.0, 4.0))
    assert use.still_needed == (0.0, 0.0)
    assert use.expired == (2,)
    assert use.note == "expired and not used: gone"


def test_only_expired_stock_is_a_note_and_no_error() -> None:
    use = use_stock([4.0], [Lot("gone", (5.0,), date(2030, 4, 1))], DAY)
    assert use.still_needed == (4.0,)
    assert use.note == "all stock is expired and not used: gone"
    assert use_stock([4.0], [], DAY).note == ""


def test_stock_refuses_a_lot_of_another_product() -> None:
    with pytest.raises(InputError, match="stock lot x has 1 parts"):
        use_stock([1.0, 1.0], [Lot("x", (1.0,))], DAY)


def test_a_search_cut_short_keeps_limits_and_covers_all() -> None:
    """One step of search: pack by pack, no pack that adds nothing, none beyond its number."""
    found = cover_parts(
        [9.0, 4.0],
        [[3.0, 0.0], [0.0, 4.0], [4.0, 1.0], [0.0, 0.0]],
        [2.0, 3.0, 2.0, 0.5],
        [None, 1, 2, 5],
        node_limit=1,
    )
    assert not found.proved
    first, second, both, nothing = found.counts
    assert nothing == 0
    assert second <= 1
    assert both <= 2
    assert 3 * first + 4 * both >= 9
    assert 4 * second + both >= 4
    assert found.cost == 2 * first + 3 * second + 2 * both
    assert found.bound <= found.cost


@pytest.mark.parametrize("bounds", [[0], [1]])
def test_packs_of_which_too_few_can_be_had_are_refused(bounds: list[int | None]) -> None:
    """2 L are needed, and none or one of 1 L can be had; two of them will do."""
    with pytest.raises(InputError, match="cannot cover part 1"):
        cover_parts([2.0], [[1.0]], [3.0], bounds)
    assert cover_parts([2.0], [[1.0]], [3.0], [2]).counts == (2,)


def test_a_purchase_cut_short_may_be_dearer_and_its_bound_says_so() -> None:
    """10 of packs of 6 at 6 and of 5 at 5.1: two fives are cheapest, pack by pack takes sixes."""
    packs = [Pack("six", (6,), 6.0), Pack("five", (5,), 5.1)]
    exact, short = buy([10], packs), buy([10], packs, node_limit=1)
    assert exact.proved
    assert exact.cost == pytest.approx(10.2)
    assert not short.proved
    assert short.bound <= exact.cost < short.cost


@pytest.mark.parametrize("hair", [0.0, 1e-12, -1e-12])
def test_all_that_is_left_costs_nothing_and_no_more_can_be_left(hair: float) -> None:
    """3 of 3 L left cost nothing, a third left two thirds, none left all of it."""
    assert cost_of_use(60.0, 0.003, 0.003 * (1 + hair)) == pytest.approx(0.0, abs=1e-9)
    assert cost_of_use(60.0, 0.003, 0.001) == pytest.approx(40.0)
    assert cost_of_use(60.0, 0.003, 0.0) == 60.0
    assert cost_of_use(60.0, 0.0, 0.0) == 0.0
    with pytest.raises(InputError, match="is left of"):
        cost_of_use(60.0, 0.003, 0.003 * 1.0001)
