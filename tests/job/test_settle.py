"""The sheet Settle against the formulas of standard costing, and what it says before it can."""

from __future__ import annotations

import datetime as dt
import random
from collections.abc import Mapping
from pathlib import Path

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from tests.job import settling
from tests.job.settling import Bench, Entry
from tests.oracles import variance

from pourbook.cells import CellError
from pourbook.job import fill
from pourbook.workbook.check.check import Checked
from pourbook.workbook.layout.laid_out import Layout
from pourbook.workbook.read.read import read_book
from pourbook.workbook.tell.summary import TableReader
from pourbook.workbook.template.template import load_book

CENT = 0.01
FIRST_LAYER = "Tinted base"
FEW = settings(max_examples=12)


@pytest.fixture(scope="module")
def bench(settled_us: Path, plan_us: Layout, tmp_path_factory: pytest.TempPathFactory) -> Bench:
    return Bench(settled_us, plan_us, tmp_path_factory.mktemp("bench"))


def _number(reader: TableReader, block: str, name: str, index: int = 0) -> float:
    found = reader.value(block, name, index)
    assert isinstance(found, int | float), f"{block}.{name}.{index} is {found!r}"
    return float(found)


def _random(seed: int, checked: Checked) -> dict[Entry, object]:
    """Return another use of the same quote: other packs, prices, rests, films, areas, logs."""
    dice = random.Random(seed)
    reader = TableReader(checked)
    found: dict[Entry, object] = {}
    names = [str(reader.value("quoted_products", "product", i)) for i in range(3)]
    for row, name in enumerate(names):
        bought = _number(reader, "quoted_products", "bought", row)
        cost = _number(reader, "quoted_products", "cost", row)
        contents = dice.choice([0.25, 0.75, 1.0, 3.785])
        issued = 0.0
        for line in range(3):
            packs = dice.randint(1, 5)
            price = round(cost / bought * contents * dice.uniform(0.7, 1.4), 2)
            kind = "sent back" if line == 2 and dice.random() < 0.4 else "bought"
            kind = "from shelf" if line == 1 and dice.random() < 0.4 else kind
            packs = 1 if kind == "sent back" else packs
            issued += -contents if kind == "sent back" else packs * contents
            found |= settling.receipt(row * 3 + line, name, packs, contents, price, kind=kind)
        for line in range(2):
            found["left", "product", row * 2 + line] = name
            found["left", "date", row * 2 + line] = dt.date(2027, 2, 1)
            found["left", "rest", row * 2 + line] = round(issued * dice.uniform(0, 0.3), 3)
            goes = dice.choice(["back on the shelf", "thrown away"])
            found["left", "goes", row * 2 + line] = goes
        found["coated", "done", row] = dice.choice([None, round(dice.uniform(0.5, 300), 2)])
    for index in range(60):
        wet = reader.value("log", "wet", index)
        if isinstance(wet, int | float):
            found["log", "wet", index] = dice.choice([None, wet * dice.uniform(0.7, 1.3)])
            mixed = _number(reader, "used", "used_volume", index)
            found["used", "used_volume", index] = mixed * dice.uniform(0.5, 1.5)
    return found


@pytest.fixture(scope="module")
def sound(bench: Bench) -> Checked:
    return bench.run({})


@FEW
@given(seed=st.integers(0, 10**6))
def test_split_is_the_one_of_standard_costing(bench: Bench, sound: Checked, seed: int) -> None:
    """Every product's differences are those of ``trade.variance``, to the cent.

    The quoted packs over the quoted film are the quote's loss there; without a log of its own the
    count stands for it, so that waste holds the unexplained as it does on the sheet.
    """
    reader = TableReader(bench.run(_random(seed, sound)))
    for row in range(3):
        net = _number(reader, "quoted_products", "net", row)
        bought = _number(reader, "quoted_products", "bought", row)
        cost = _number(reader, "quoted_products", "cost", row)
        name = reader.value("quoted_products", "product", row)
        at = next(i for i in range(12) if reader.value("settle_money", "product", i) == name)
        area = rate = 0.0
        for layer in range(12):
            if reader.value("quoted_layers", "product", layer) != name:
                continue
            film = _number(reader, "quoted_layers", "net", layer)
            coated = _number(reader, "quoted_layers", "coated", layer)
            done = reader.value("coated", "done", layer)
            grown = film * (done / coated if isinstance(done, int | float) else 1.0)
            label = reader.value("quoted_layers", "layer", layer)
            read = [
                float(wet)
                for i in range(60)
                for wet in [reader.value("log", "wet", i)]
                if reader.value("log", "layer", i) == label and isinstance(wet, int | float)
            ]
            wet = _number(reader, "quoted_layers", "wet", layer)
            area += grown / net
            rate += grown * (sum(read) / len(read) / wet if read else 1.0)
        paid = issued = shelf = 0.0
        for i in range(40):
            if reader.value("receipts", "product", i) == name:
                sign = -1 if reader.value("receipts", "kind", i) == "sent back" else 1
                packs = sign * _number(reader, "receipts", "packs", i)
                issued += packs * _number(reader, "receipts", "contents", i)
                paid += round(packs * _number(reader, "receipts", "price", i), 2)
            if reader.value("left", "product", i % 24) == name and i < 24:
                back = reader.value("left", "goes", i) == "back on the shelf"
                shelf += _number(reader, "left", "rest", i) * back
        # A shelf worth exactly half a cent rounds up, and with it what was used rounds down.
        assume(abs(paid / issued * shelf * 100 % 1 - 0.5) > 1e-6)
        split = variance.to_the_cent(
            variance.split_difference(
                variance.Quoted(1.0, net, 1 - net / bought, cost / bought),
                variance.Used(area, issued - shelf, paid / issued, rate / area),
            )
        )
        assert variance.residual(split) == 0
        assert split.rate is not None
        assert split.waste is not None
        for field, expected in (
            ("quoted", split.quoted),
            ("area", split.area),
            ("rate", split.rate),
            ("price", split.price),
            ("actual", split.actual),
            ("difference", split.total),
            ("waste", split.waste),
        ):
            shown = _number(reader, "settle_money", field, at)
            assert round(shown * 100) == pytest.approx(shown * 100, abs=1e-6), "whole cents"
            assert shown == pytest.approx(expected, abs=1e-6), f"{name}: {field}"


@FEW
@given(seed=st.integers(0, 10**6))
def test_nothing_is_left_over(bench: Bench, sound: Checked, seed: int) -> None:
    reader = TableReader(bench.run(_random(seed, sound)))
    assert _number(reader, "settle_sums", "residual") == 0
    assert _number(reader, "settle_state", "tie") == 0
    assert _number(reader, "journal_total", "open") == 0
    used = sum(_number(reader, "settle_money", "actual", i) for i in range(3))
    shelf = sum(_number(reader, "settle_money", "shelf", i) for i in range(3))
    assert _number(reader, "settle_state", "receipts") == pytest.approx(used + shelf)
    limit = _number(reader, "settle_state", "roundings")
    for row in range(3):
        assert _number(reader, "settle_rates", "apart", row) <= limit + 1e-9
    steps = [_number(reader, "steps", "to", i) for i in range(6)]
    assert steps[0] == pytest.approx(_number(reader, "settle_sums", "quoted"))
    assert steps[-1] == pytest.approx(_number(reader, "settle_sums", "actual"))
    if min(steps) < 0:
        assert str(reader.value("settle_state", "chart", 0)).startswith("! ")
        assert reader.value("steps", "lead", 1) == ""
    else:
        for i in range(1, 5):
            drawn = {n: _number(reader, "steps", n, i) for n in ("lead", "up", "down", "total")}
            high = drawn["lead"] + drawn["up"] + drawn["down"]
            assert (drawn["lead"], high) == pytest.approx(
                (min(steps[i - 1], steps[i]), max(steps[i - 1], steps[i]))
            )


def test_chart_is_left_out_below_zero(bench: Bench) -> None:
    """Film times price never falls below 0: only more put back than was issued can do it."""
    entries: dict[Entry, object] = {("left", "rest", row): 60.0 for row in range(3)}
    entries |= {("left", "goes", row): "back on the shelf" for row in range(3)}
    reader = TableReader(bench.run(entries))
    assert min(_number(reader, "steps", "to", i) for i in range(6)) < 0
    assert reader.value("settle_state", "chart", 0) == "! a step falls below 0: no chart"
    assert [reader.value("steps", n, 0) for n in ("lead", "up", "down", "total")] == [""] * 4
    assert _number(reader, "settle_sums", "residual") == 0


def test_bought_and_sent_back_leaves_its_cost_as_price(bench: Bench) -> None:
    """Nothing issued, but the supplier credits less than was paid: the loss is one of price."""
    entries: dict[Entry, object] = {
        **settling.receipt(0, "Tint base", 1, 1.0, 50.0),
        **settling.receipt(5, "Tint base", 1, 1.0, 45.0, kind="sent back"),
        ("left", "rest", 0): 0,
    }
    reader = TableReader(bench.run(entries))
    assert reader.value("settle_money", "product", 0) == "Tint base"
    assert _number(reader, "settle_money", "actual") == pytest.approx(5.0)
    assert _number(reader, "settle_money", "price") == pytest.approx(5.0)
    assert _number(reader, "settle_rates", "apart") <= 2 * CENT + 1e-9


def test_margin_as_quoted_is_the_price_and_as_earned_by_hand(bench: Bench) -> None:
    """The earned side by plain arithmetic on what was typed; the quoted side is Price's own."""
    given: dict[Entry, object] = {
        ("spent", "hours", 0): 41.5,
        ("spent", "sundries", 0): 130.0,
        ("spent", "days", 0): 4,
        ("spent", "other", 0): 20.0,
        ("spent", "invoiced", 0): 4500.0,
    }
    reader = TableReader(bench.run(given))
    for line, label in (("material", "coatings"), ("net", "price"), ("cost", "cost")):
        assert _number(reader, "margin", label, 0) == pytest.approx(_number(reader, "price", line))
    for line in ("profit", "margin", "overhead", "labour"):
        assert _number(reader, "margin", line, 0) == pytest.approx(_number(reader, "price", line))
    used = _number(reader, "settle_sums", "actual")
    labour = 41.5 * _number(reader, "rates", "labour")
    travel = 4 * _number(reader, "rates", "trip")
    added = _number(reader, "price", "additives")  # none typed on Used: as quoted
    direct = used + added + 130.0 + labour + travel + 20.0
    on = labour if reader.value("rates", "overhead_on", 0) == "labour" else direct
    cost = direct + on * _number(reader, "rates", "overhead")
    assert _number(reader, "margin", "cost", 1) == pytest.approx(cost)
    assert _number(reader, "margin", "profit", 1) == pytest.approx(4500 - cost)
    assert _number(reader, "margin", "margin", 1) == pytest.approx((4500 - cost) / 4500)


def test_blank_is_as_quoted(bench: Bench) -> None:
    names = ("hours", "sundries", "days", "other", "invoiced")
    reader = TableReader(bench.run({("spent", name, 0): None for name in names}))
    for line in ("price", "sundries", "hours", "labour", "days", "travel", "other"):
        assert _number(reader, "margin", line, 0) == _number(reader, "margin", line, 1), line


def test_only_products_in_use_get_a_row(bench: Bench, sound: Checked) -> None:
    """The demo has a product that option A does not use; bought all the same, it gets a row."""
    reader = TableReader(sound)
    assert [reader.value("settle", "product", i) for i in range(4)] == [
        "Tint base",
        "Clear flood",
        "Roll-on top",
        "",
    ]
    bought = TableReader(bench.run(settling.receipt(7, "Binder", 1, 1.0, 30.0)))
    assert bought.value("settle", "product", 2) == "Binder"
    assert _number(bought, "settle_money", "quoted", 2) == 0
    assert _number(bought, "settle_money", "waste", 2) == 30
    assert _number(bought, "settle_money", "price", 2) == 0
    assert str(bought.value("settle", "verdict", 2)).startswith("CHECK")


@pytest.mark.parametrize(
    ("entries", "said"),
    [
        ({("quoted", "revision", 0): None}, "! not accepted yet: pourbook accept"),
        (
            {
                ("receipts", item.id, row): None
                for row in range(3)
                for item in load_book("job").block("receipts").columns
                if item.kind != "formula"
            },
            "! no receipts on Used yet",
        ),
        ({("receipts", "packs", 0): None}, "! fix the rows of Used, Invoices"),
        ({("receipts", "currency", 0): "EUR"}, "! fix the rows of Used, Invoices"),
    ],
)
def test_until_it_can_be_settled_every_cell_says_why(
    bench: Bench, plan_us: Layout, entries: Mapping[Entry, object], said: str
) -> None:
    checked = bench.run(entries)
    kinds = {"form": 0, "lines": 0, "table": 0}
    for cell in plan_us.cells:
        if cell.sheet != "Settle" or not cell.formula or not cell.field or cell.role == "unit":
            continue
        value = checked.values[cell.sheet, cell.address]
        assert not isinstance(value, CellError), f"{cell.address} shows {value}"
        if cell.field.id in {"charges", "worth"}:  # they hold before it is settled
            continue
        kind = plan_us.block(cell.block).kind
        kinds[kind] += 1
        if kind in {"form", "lines"}:
            assert value == said, f"{cell.block}.{cell.field.id} says {value!r}"
        elif cell.block != "settle_order":
            assert value == "", f"{cell.block}.{cell.field.id} says {value!r}"
    assert min(kinds.values()) > 20


def test_lines_missing_on_quoted_are_said(bench: Bench) -> None:
    reader = TableReader(bench.run({("quoted_lines", "item", 6): None}))
    for side in range(2):
        assert reader.value("margin", "margin", side) == "! lines are missing on Quoted"
    assert _number(reader, "settle_sums", "residual") == 0


def test_journal_has_an_amount_for_every_account() -> None:
    """The sheet pairs them by their order."""
    book = load_book("job")
    accounts = [f.id for f in book.block("accounts").columns]
    assert [f.id for f in book.block("journal_amounts").columns] == accounts
    assert book.block("journal").rows == len(accounts)


def test_steps_follow_the_sums() -> None:
    """The chart takes its steps from the first lines of In all, by their order."""
    names = [f.id for f in load_book("job").block("settle_sums").columns]
    steps = load_book("job").block("steps").rows
    assert names[:steps] == ["quoted", "area", "rate", "waste", "price", "actual"]


def test_lines_kept_are_named_as_on_price() -> None:
    labels = {f.header for f in load_book("job").block("price").columns}
    asked = {
        item.formula.split('frozen("')[1].split('"')[0]
        for item in load_book("job").block("as_quoted").columns
        if "frozen(" in item.formula
    }
    assert len(asked) == 9
    assert asked <= labels


def test_a_change_in_the_job_itself_moves_settle(
    settled_us: Path, plan_us: Layout, tmp_path: Path
) -> None:
    """Through the whole engine, functions and all, as ``fill`` writes it."""
    target = tmp_path / "dearer.xlsx"
    before = read_book(settled_us)
    price = plan_us.cell("receipts", "price", 0)
    was = before.sheets[price.sheet].value(price.address)
    assert isinstance(was, int | float)
    values = fill.fill(settled_us, target, {("receipts", "price", 0): was + 1}, force=False)
    packs = plan_us.cell("receipts", "packs", 0)
    count = before.sheets[packs.sheet].value(packs.address)
    cell = plan_us.cell("settle_state", "receipts")
    old = before.sheets[cell.sheet].value(cell.address)
    new = values[cell.sheet, cell.address]
    assert isinstance(new, float)
    assert isinstance(old, int | float)
    assert isinstance(count, int | float)
    assert new - old == pytest.approx(count)


def test_what_nobody_measured_is_said_beside_the_figure_it_went_into(bench: Bench) -> None:
    """Without a typed area the log's own is taken if every batch has it; else none is measured."""
    reader = TableReader(bench.run({("coated", "done", 0): None}))
    rows = [i for i in range(60) if reader.value("log", "layer", i) == FIRST_LAYER]
    assert len(rows) > 1
    assert reader.value("coated", "taken", 0) == "quote: not measured"
    assert reader.value("settle_layers", "unmeasured", 0) == "area "
    product = reader.value("settle_layers", "product", 0)
    at = next(i for i in range(12) if reader.value("settle_money", "product", i) == product)
    assert reader.value("settle_money", "area", at) == 0
    assert reader.value("settle_money", "unmeasured", at) == "area "

    noted: dict[Entry, object] = {("coated", "done", 0): None}
    noted |= {("log", "spread_over", row): 11.0 for row in rows}
    reader = TableReader(bench.run(noted))
    assert reader.value("coated", "taken", 0) == "log"
    assert reader.value("settle_layers", "area_done", 0) == 11.0 * len(rows)
    assert reader.value("settle_layers", "unmeasured", 0) == ""
    assert reader.value("settle_money", "area", at) != 0

    reader = TableReader(bench.run({**noted, ("log", "spread_over", rows[0]): None}))
    assert reader.value("coated", "taken", 0) == "quote: not measured"


def test_a_film_nobody_read_is_said(bench: Bench, sound: Checked) -> None:
    rows = [i for i in range(60) if TableReader(sound).value("log", "layer", i) == FIRST_LAYER]
    reader = TableReader(bench.run({("log", "wet", row): None for row in rows}))
    assert reader.value("settle_layers", "unmeasured", 0) == "film"
    product = reader.value("settle_layers", "product", 0)
    at = next(i for i in range(12) if reader.value("settle_money", "product", i) == product)
    assert reader.value("settle_money", "unmeasured", at) == "thickness"
