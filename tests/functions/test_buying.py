"""PB_BUY, PB_PACKS and PB_STOCK: whole packs that cover every part after stock that may be used."""

from __future__ import annotations

import math
from datetime import date
from itertools import product as every

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pourbook import units
from pourbook.cells import OK, Rows, Value
from pourbook.errors import FAILED, PourbookError
from pourbook.functions.buy import purchase
from pourbook.functions.catalogue import catalogue, evaluate
from pourbook.tables import products
from pourbook.tables.buy import packs as tables

Row = list[Value]
METRIC = units.SYSTEMS["metric"]
DAY = 46350.0  # 2026-11-24
BUY = [c.id for c in catalogue()["PB_BUY"].columns]


def _clear(name: str = "Clear", a: float = 2, b: float = 1) -> Row:
    cells: dict[str, Value] = {
        "product": name,
        "parts": 2,
        "basis": "volume",
        "ratio": f"{a}:{b}",
        "density_a": "1.1 kg/L",
        "density_b": "1.0 kg/L",
        "solids": 1,
    }
    return [cells.get(c) for c in products.COLUMNS]


def _need(a: float, b: float, option: str = "A", name: str = "Clear", status: str = OK) -> Row:
    return [option, 1, "Flood", name, a, b, 0.0, *[0.0] * 6, status]


def _pack(holds: str, contents: Value, price: Value, **more: Value) -> Row:
    cells = {"product": "Clear", "holds": holds, "contents": contents, "price": price, **more}
    return [cells.get(c) for c in tables.PACKS]


def _lot(holds: str, amount: Value, expiry: Value = None, lot: str = "L1", **more: Value) -> Row:
    cells = {"product": "Clear", "lot": lot, "holds": holds, "amount": amount, "expiry": expiry}
    return [{**cells, **more}.get(c) for c in tables.STOCK]


def _buy(
    needs: list[Row],
    packs: list[Row],
    stock: list[Row] | None = None,
    day: Value = DAY,
    system: str = "metric",
) -> dict[str, Value]:
    no_stock: list[Row] = [[None] * len(tables.STOCK)]
    found = evaluate("PB_BUY", [needs, [_clear()], packs, stock or no_stock, system, day])
    assert isinstance(found, list), found
    return dict(zip(BUY, found[0], strict=True))


def _float(value: Value) -> float:
    assert isinstance(value, int | float)
    return float(value)


# Known by hand


def test_two_small_kits_beat_one_large() -> None:
    """4.5 L of a 2 : 1 mix: two kits of 3 L at 60 are 120, one of 6 L is 130."""
    found = _buy([_need(3.0, 1.5)], [_pack("kit", 3, 60), _pack("kit", 6, 130)])
    assert found["cost_a"] == 120
    assert found["buy_a"] == "2 x kit 3"
    assert found["left_over"] == "A: 1.5 mix"
    assert found["proof"] == "cheapest"
    assert _float(found["spare"]) == pytest.approx(0.5)
    assert found["buy_status"] == OK


def test_a_part_apart_is_cheaper_than_another_kit() -> None:
    """Stock of 1 L of A leaves 2 L of A and 1.5 L of B: a kit of 3 L and a can of B."""
    found = _buy(
        [_need(3.0, 1.5)],
        [_pack("kit", 3, 60, shelf_life=100), _pack("B", "500 mL", 15, shelf_life=30)],
        [_lot("A", 1)],
    )
    assert found["buy_a"] == "1 x kit 3; 1 x B 0.5"
    assert found["cost_a"] == 75
    assert found["left_over"] == "A: nothing"
    assert found["from_stock"] == "A: 1 part A of L1"


def test_options_are_alternatives_and_each_may_use_the_stock() -> None:
    needs = [_need(2.0, 1.0), _need(2.0, 1.0, "B"), _need(4.0, 2.0, "C")]
    found = _buy(needs, [_pack("kit", 3, 60)], [_lot("kit", 3)])
    assert [found[f"cost_{o}"] for o in "abc"] == [0, 0, 60]
    assert found["buy_a"] == "stock is enough"
    assert found["from_stock"] == "A, B, C: 3 mix of L1"


def test_layers_of_one_product_are_bought_together() -> None:
    found = _buy([_need(1.0, 0.5), _need(1.0, 0.5)], [_pack("kit", 3, 60)])
    assert found["need_a"] == pytest.approx(3)
    assert found["cost_a"] == 60


def test_what_keeps_the_shortest_gives_the_day() -> None:
    packs = [_pack("A", 2, 40, shelf_life=365), _pack("B", 2, 20, shelf_life=30)]
    found = _buy([_need(2.0, 1.0)], packs)
    assert found["left_over"] == "A: 1 part B until 2026-12-24"
    assert _buy([_need(2.0, 1.0)], packs, day=None)["left_over"] == "A: 1 part B, keeps 30 days"


# Stock and its days


def test_stock_is_used_on_its_last_day_and_not_after() -> None:
    last = _buy([_need(2.0, 1.0)], [_pack("kit", 3, 60)], [_lot("kit", 3, DAY)])
    past = _buy([_need(2.0, 1.0)], [_pack("kit", 3, 60)], [_lot("kit", 3, DAY - 1)])
    assert last["cost_a"] == 0
    assert past["cost_a"] == 60
    assert past["from_stock"] == "A: expired L1"


def test_earliest_use_by_goes_first() -> None:
    stock = [_lot("kit", 3, DAY + 90, "late"), _lot("kit", 3, DAY + 9, "soon")]
    call: list[Value | Rows] = [
        stock,
        [_need(2.0, 1.0)],
        [_clear()],
        [_pack("kit", 3, 60)],
        "metric",
        DAY,
        "A",
    ]
    found = evaluate("PB_STOCK", call)
    assert found == [[0, 3, OK], [3, 0, OK]]


def test_without_a_day_dated_stock_is_left_on_the_shelf() -> None:
    stock = [_lot("kit", 3, DAY + 90)]
    found = _buy([_need(2.0, 1.0)], [_pack("kit", 3, 60)], stock, day=None)
    assert found["cost_a"] == 60
    assert found["from_stock"] == "A: no day of work for L1"
    assert _buy([_need(2.0, 1.0)], [], [_lot("kit", 3)], day=None)["cost_a"] == 0


def test_only_expired_stock_says_to_buy() -> None:
    found = _buy([_need(2.0, 1.0)], [], [_lot("kit", 3, DAY - 1)])
    assert found["cost_a"] == FAILED
    assert "no pack holds it" in str(found["buy_status"])


def test_stock_equal_to_the_need_buys_nothing() -> None:
    """What is 1e-16 short by floating point is not short."""
    need = 0.1 + 0.2
    found = _buy([_need(need, need / 2)], [_pack("kit", 3, 60)], [_lot("A", 0.3), _lot("B", 0.15)])
    assert found["cost_a"] == 0


def test_expired_lot_says_so_in_its_row() -> None:
    call: list[Value | Rows] = [
        [_lot("kit", 3, DAY - 1)],
        [_need(2.0, 1.0)],
        [_clear()],
        [_pack("kit", 3, 60)],
    ]
    found = evaluate("PB_STOCK", [*call, "metric", DAY, "A"])
    assert isinstance(found, list)
    assert found[0][:2] == [0, 3]
    assert str(found[0][2]).startswith("expired, not used")


# Pack by pack


def test_packs_are_counted_for_the_option_to_offer() -> None:
    needs = [_need(3.0, 1.5), _need(6.0, 3.0, "B")]
    packs = [_pack("kit", 3, 60), _pack("kit", 6, 130)]
    stock: list[Row] = [[None] * len(tables.STOCK)]
    for option, counts in (("A", [2, 0]), ("B", [3, 0]), ("C", [0, 0]), (None, [0, 0])):
        found = evaluate("PB_PACKS", [packs, needs, [_clear()], stock, "metric", DAY, option])
        assert isinstance(found, list)
        assert [row[0] for row in found] == counts
        assert [row[1] for row in found] == [counts[0] * 60, counts[1] * 130]


# Refusals


@pytest.mark.parametrize(
    ("pack", "said"),
    [
        (_pack("kit", 0, 60), "Contents"),
        (_pack("kit", None, 60), "Contents"),
        (_pack("kit", "3 kg", 60), "Contents"),
        (_pack("kit", "9 m3", -1), "Price"),
        (_pack("kit", 3, None), "Price"),
        (_pack("C", 3, 60), "no part C"),
        (_pack("tub", 3, 60), "Holds"),
        (_pack("kit", 3, 60, most=1.5), "Can be had"),
        (_pack("kit", 3, 60, shelf_life=0), "Keeps"),
        (_pack("kit", 3, 60, product="Clouded"), "not on the Products sheet"),
    ],
)
def test_bad_pack_is_refused_in_its_row(pack: Row, said: str) -> None:
    call: list[Value | Rows] = [
        [pack],
        [_need(2.0, 1.0)],
        [_clear()],
        [[None] * len(tables.STOCK)],
        "metric",
        DAY,
        "A",
    ]
    found = evaluate("PB_PACKS", call)
    assert isinstance(found, list)
    assert found[0][:-1] == [FAILED] * 3
    assert said in str(found[0][-1])
    assert _buy([_need(2.0, 1.0)], [pack])["cost_a"] == FAILED


@pytest.mark.parametrize(
    ("lot", "said"),
    [
        (_lot("kit", None), "Amount"),
        (_lot("C", 1), "no part C"),
        (_lot("kit", 1, "soon"), "no date"),
        (_lot("kit", 1, -5), "no date"),
        (_lot("kit", 1, product=None), "Product"),
    ],
)
def test_bad_lot_is_refused_in_its_row(lot: Row, said: str) -> None:
    call: list[Value | Rows] = [
        [lot],
        [_need(2.0, 1.0)],
        [_clear()],
        [_pack("kit", 3, 60)],
        "metric",
        DAY,
        "A",
    ]
    found = evaluate("PB_STOCK", call)
    assert isinstance(found, list)
    assert found[0][:-1] == [FAILED] * 2
    assert said in str(found[0][-1])


def test_part_no_pack_holds_is_named() -> None:
    said = str(_buy([_need(2.0, 1.0)], [_pack("A", 3, 60)])["buy_status"])
    assert said.startswith("! Option A, Packs: 1 L of part B must be bought")


def test_too_few_packs_are_named() -> None:
    said = str(_buy([_need(4.0, 2.0)], [_pack("kit", 3, 60, most=1)])["buy_status"])
    assert "4 L of part A must be bought, 2 can be had" in said


def test_failed_layer_holds_up_its_option_only() -> None:
    needs: list[Row] = [
        _need(2.0, 1.0),
        ["B", 1, "Flood", "Clear", *[FAILED] * 9, "! Spread: it is blank"],
    ]
    found = _buy(needs, [_pack("kit", 3, 60)])
    assert found["cost_a"] == 60
    assert found["cost_b"] == FAILED
    assert "Option B" in str(found["buy_status"])
    assert str(found["buy_status"]).startswith("waits: ")


def test_product_no_layer_needs_is_not_refused() -> None:
    found = _buy([_need(1.0, 1.0, name="Other")], [])
    assert found["buy_status"] == OK
    assert found["proof"] == "not needed"


# Laws

AMOUNTS = st.integers(1, 400).map(lambda x: x / 100)
PRICES = st.integers(0, 5000).map(lambda x: x / 100)
PACKS = st.lists(
    st.tuples(st.sampled_from(["kit", "A", "B"]), AMOUNTS, PRICES), min_size=1, max_size=4
)
LOTS = st.lists(
    st.tuples(st.sampled_from(["kit", "A", "B"]), AMOUNTS, st.sampled_from([None, -1, 0, 9])),
    max_size=3,
)


def _bought(mix: float, packs: object, lots: object) -> purchase.Bought | PourbookError | None:
    assert isinstance(packs, list)
    assert isinstance(lots, list)
    rows = [_pack(h, c, p) for h, c, p in packs]
    stock = [_lot(h, a, None if d is None else DAY + d) for h, a, d in lots]
    needs = [_need(mix * 2 / 3, mix / 3)]
    job = purchase.read_job(needs, [_clear()], rows, stock, METRIC, DAY)
    return job.purchase("A", "Clear")


@given(AMOUNTS, PACKS, LOTS)
def test_bought_and_stock_cover_every_part(mix: float, packs: object, lots: object) -> None:
    found = _bought(mix * 3, packs, lots)
    if not isinstance(found, purchase.Bought):
        return
    for part, need in enumerate(found.need):
        have = math.fsum(
            count * sale.pack.contents[part]
            for count, sale in zip(found.made.counts, found.sales, strict=True)
        ) + math.fsum(taken[part] for taken in found.use.taken)
        assert have >= need * (1 - 1e-8)
    assert found.spare >= 0


@given(AMOUNTS, PACKS, LOTS)
def test_expired_stock_is_never_taken(mix: float, packs: object, lots: object) -> None:
    found = _bought(mix * 3, packs, lots)
    if not isinstance(found, purchase.Bought):
        return
    on_date = date(2026, 11, 24)
    for lot, taken in zip(found.lots, found.use.taken, strict=True):
        if lot.lot.expiry and lot.lot.expiry < on_date:
            assert not any(taken)


@given(AMOUNTS, PACKS)
def test_never_dearer_than_any_one_way_of_buying(mix: float, packs: object) -> None:
    """Each part covered by one kind of pack alone, in every combination."""
    found = _bought(mix * 3, packs, [])
    if not isinstance(found, purchase.Bought):
        return
    for choice in every(found.sales, repeat=2):
        held = [s.pack.contents[part] for part, s in enumerate(choice)]
        if min(held) <= 0:
            continue
        cost = sum(
            math.ceil(found.need[part] / amount - 1e-9) * choice[part].pack.price
            for part, amount in enumerate(held)
        )
        assert found.made.cost <= cost + 1e-6


@given(AMOUNTS, PACKS, AMOUNTS)
def test_twins_buy_the_same(mix: float, packs: object, lot: float) -> None:
    assert isinstance(packs, list)
    found = []
    for name in ("metric", "us"):
        unit = units.SYSTEMS[name].volume
        a, b = (units.convert(mix * share, "L", unit) for share in (2, 1))
        rows = [_pack(h, f"{c} L", p) for h, c, p in packs]
        found.append(_buy([_need(a, b)], rows, [_lot("kit", f"{lot} L")], system=name))
    assert found[0]["cost_a"] == found[1]["cost_a"]
    assert found[0]["proof"] == found[1]["proof"]
    if found[0]["spare"] not in {FAILED, ""}:
        spare = units.convert(_float(found[1]["spare"]), "US gal", "L")
        assert spare == pytest.approx(_float(found[0]["spare"]), rel=1e-9, abs=1e-9)


def test_a_purchase_is_told_step_by_step() -> None:
    """2.2 L of mix 2:1, 0.3 L of part A in stock: two kits of 1.2 L at 30, 60 in all."""
    needs = [_need(2.2 * 2 / 3, 2.2 / 3)]
    rows, stock = [_pack("kit", 1.2, 30.0)], [_lot("A", 0.3, DAY + 9)]
    job = purchase.read_job(needs, [_clear()], rows, stock, METRIC, DAY)
    told = {one.label: (one.working, one.value, one.unit) for one in purchase.steps(job, "Clear")}
    figures = {label: value for label, (_, value, _) in told.items()}
    bought = job.purchase("A", "Clear")
    assert isinstance(bought, purchase.Bought)
    assert figures["Option A, part A needed"] == pytest.approx(2.2 * 2 / 3)
    assert figures["Option A, part B needed"] == pytest.approx(2.2 / 3)
    taken = figures["Option A, part A from stock"]
    assert figures["Option A, part A to buy"] == pytest.approx(2.2 * 2 / 3 - taken)
    assert figures["Option A, part A left over"] == pytest.approx(1.6 + taken - 2.2 * 2 / 3)
    assert figures["Option A, part B left over"] == pytest.approx(0.8 - 2.2 / 3)
    (packs,) = [one for label, one in told.items() if "kit" in label]
    assert packs == ("2 packs at 30.00 each, in the job's currency", 60.0, "")


@pytest.mark.parametrize(
    ("litres", "said"), [(1.23456, "1.235"), (0.0004, "0"), (12.0, "12"), (0.05, "0.05")]
)
def test_an_amount_is_told_to_the_millilitre(litres: float, said: str) -> None:
    assert purchase._figure(litres / 1000, METRIC) == said
