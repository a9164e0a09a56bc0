"""Invoices tied to the cent: freight spread, credits, deposits, the journal, labour by step.

What is expected is worked out by hand beside it from the lines of invented invoices, or comes from
beancount, or from the same job told in another order.
"""

from __future__ import annotations

import datetime as dt
import random
import shutil
from collections import Counter
from collections.abc import Mapping
from fractions import Fraction
from pathlib import Path

import pytest
from beancount import loader
from hypothesis import given
from hypothesis import strategies as st
from tests.agreement.tied import Line, in_turn
from tests.command_line import run
from tests.job.settling import receipt

from pourbook.formats.ledger import Transaction, to_beancount
from pourbook.job.fill import Entry, fill
from pourbook.job.settle import close, settled
from pourbook.shop import stock_job
from pourbook.workbook.check.check import Checked, check_file
from pourbook.workbook.check.closed import closings
from pourbook.workbook.check.reader import Reader
from pourbook.workbook.read.named import NamedCells

pytestmark = pytest.mark.in_turn(2)

Printed = pytest.CaptureFixture[str]
DAY = dt.date(2027, 2, 14)
FREE = 20  # a row of Used far below those of the settled job
SELLER, NUMBER = "Quayside depot", "Q-77"
HERE = {"supplier": SELLER, "document": NUMBER, "date": dt.date(2027, 1, 8)}


def _rows(block: str, *rows: dict[str, object]) -> dict[Entry, object]:
    return {(block, n, i): v for i, row in enumerate(rows) for n, v in row.items()}


def _extra(kind: str, amount: float, **more: object) -> dict[str, object]:
    return {"supplier": SELLER, "document": NUMBER, "kind": kind, "amount": amount, **more}


def _invoice(total: float, **more: object) -> dict[str, object]:
    return {**HERE, "total": total, **more}


def _bought(
    row: int, product: str, packs: int, price: float, **more: object
) -> dict[Entry, object]:
    return receipt(FREE + row, product, packs, 1.0, price, **{**HERE, "line": row + 1, **more})


THREE = {
    **_bought(0, "Clear flood", 1, 60.0),
    **_bought(1, "Tint base", 2, 50.0),
    **_bought(2, "Roll-on top", 1, 40.0),
}
"""200.00 of coatings on one invoice: 60, 100 and 40."""


@pytest.fixture
def job(settled_us: Path, tmp_path: Path) -> Path:
    return Path(shutil.copy(settled_us, tmp_path / "job.xlsx"))


def _add(path: Path, *entries: Mapping[Entry, object]) -> Checked:
    fill(path, path, {k: v for one in entries for k, v in one.items()}, force=True)
    return check_file(path)


def _cells(checked: Checked) -> NamedCells:
    return NamedCells(checked.plan, checked.book, checked.values)


def _entry(checked: Checked) -> Transaction:
    found = [one for one in settled.transactions(checked, DAY) if one.document == NUMBER]
    assert len(found) == 1, "an invoice is one entry"
    return found[0]


def _of(one: Transaction) -> dict[str, int]:
    return {posting.account.rpartition(":")[2]: posting.cents for posting in one.postings}


def test_what_is_owed_is_the_invoice_to_the_cent(job: Path) -> None:
    """200 + 50 of pigment + 30 of rollers + 19.99 freight + 18.75 tax + 12 deposit = 330.74."""
    others = [
        _extra("additive", 50.0), _extra("sundry", 30.0), _extra("freight", 19.99),
        _extra("tax", 18.75), _extra("deposit", 12.0),
    ]  # fmt: skip
    checked = _add(job, THREE, _rows("extras", *others), _rows("invoices", _invoice(330.74)))
    assert _of(_entry(checked)) == {
        "Coatings": 20000, "Additives": 5000, "Sundries": 3000, "Freight": 1999, "Tax": 1875,
        "Deposits": 1200, "Suppliers": -33074,
    }  # fmt: skip
    get = _cells(checked).value
    assert (get("as_earned", "additives"), get("as_earned", "sundries")) == (50.0, 30.0)
    assert get("settle_beside", "additives_by") == "Invoices"
    assert get("settle_beside", "labour_by") == "Used", "the settled job has its hours typed there"


def test_freight_is_spread_over_its_lines_by_worth(job: Path) -> None:
    """20 of freight over 60, 100, 40 of coatings and 50 of pigment: 4.80, 8.00, 3.20 and 4.00."""
    before = _cells(check_file(job)).value("settle_state", "receipts")
    others = _rows("extras", _extra("additive", 50.0), _extra("freight", 20.0), _extra("tax", 9.0))
    invoice = _rows("invoices", _invoice(279.0, spread="freight"))
    checked = _add(job, THREE, others, invoice)
    get = _cells(checked).value
    assert [get("landed", "share", FREE + n) for n in range(3)] == [4.8, 8.0, 3.2]
    assert [get("landed", "cost", FREE + n) for n in range(3)] == [64.8, 108.0, 43.2]
    assert get("extras", "cost", 0) == 54.0
    assert get("settle_state", "receipts") == pytest.approx(float(str(before)) + 216, abs=1e-9)
    found = _of(_entry(checked))
    assert found == {"Coatings": 21600, "Additives": 5400, "Tax": 900, "Suppliers": -27900}
    with_tax = _cells(_add(job, _rows("invoices", {"spread": "freight and tax"})))
    shares = [with_tax.value("landed", "share", FREE + n) for n in range(3)]
    assert shares == [6.96, 11.6, 4.64]  # 29 over 250: 60, 100 and 40
    assert with_tax.value("settle_sums", "residual") == 0


def test_a_credit_for_a_product_and_one_over_all_lines(job: Path) -> None:
    """15 off the clear alone; 10 off over 60, 100 and 40: 3.00, 5.00 and 2.00."""
    before = _cells(check_file(job))
    clear = [before.value("receipts", "product", n) for n in range(3)].index("Clear flood")
    others = _rows("extras", _extra("credit", 15.0, product="clear flood"), _extra("credit", -10.0))
    checked = _add(job, THREE, others, _rows("invoices", _invoice(175.0)))
    get = _cells(checked).value
    assert [get("landed", "share", FREE + n) for n in range(3)] == [-3.0, -5.0, -2.0]
    credits_ = [get("landed", "credit", n) for n in (clear, FREE)]
    was = float(str(before.value("receipts", "cost", clear)))
    assert credits_ == [pytest.approx(-15 * was / (was + 60), abs=0.0051), credits_[1]]
    assert sum(map(float, map(str, credits_))) == pytest.approx(-15.0, abs=1e-9)
    assert _of(_entry(checked)) == {"Coatings": 17500, "Suppliers": -17500}
    assert get("settle_sums", "residual") == get("settle_state", "tie") == 0


def test_a_credit_note_and_a_deposit_that_comes_back(job: Path) -> None:
    """One pack at 60 goes back and the drums with it: 72 less is owed."""
    back = receipt(FREE, "Clear flood", 1, 1.0, 60.0, **{**HERE, "kind": "sent back"})
    drums = _rows("extras", _extra("deposit", -12.0))
    checked = _add(job, back, drums, _rows("invoices", _invoice(-72.0)))
    entry = _entry(checked)
    assert entry.text == "Credit note"
    assert _of(entry) == {"Coatings": -6000, "Deposits": -1200, "Suppliers": 7200}


WRONG: dict[str, tuple[dict[str, object], dict[int, dict[str, object]], str]] = {
    "total": ({"total": 201.5}, {}, "its lines come to 200.00"),
    "twice": ({}, {1: _invoice(200.0)}, "it stands here twice"),
    "no number": ({"document": None}, {}, "type its number"),
    "nothing to spread over": ({"total": 190.0}, {}, "no lines to spread over"),
}


@pytest.mark.parametrize("fault", WRONG)
def test_an_invoice_that_does_not_tie_is_booked_nowhere(
    job: Path, fault: str, capsys: Printed
) -> None:
    typed, more, said = WRONG[fault]
    lines = {} if fault == "nothing to spread over" else THREE
    credit = _rows("extras", _extra("credit", 10.0)) if not lines else {}
    row = {**_invoice(200.0), **typed} | ({"total": -10.0} if not lines else {})
    rows = {("invoices", n, i): v for i, one in more.items() for n, v in one.items()}
    checked = _add(job, lines, credit, _rows("invoices", row), rows)
    cell = checked.plan.cell("invoices", "invoice_status", 0)
    assert said in str(checked.values[cell.sheet, cell.address])
    target = job.with_suffix(".csv")
    assert run("settle", str(job), "--journal", str(target)) == 1
    assert "Invoices!" in capsys.readouterr().out
    assert not target.exists()


@pytest.mark.parametrize(
    ("line", "said"),
    [
        (_extra("gift", 5.0), "Kind: choose from the list"),
        (_extra("freight", 5.0, document="Q-78"), "no invoice above has this supplier and number"),
        (_extra("freight", 5.0, product="Clear flood"), "it is for a credit alone"),
        (_extra("credit", 5.0, product="Never bought"), "Receipts on Used has none of it"),
    ],
)
def test_a_line_that_belongs_nowhere_is_named(
    job: Path, line: dict[str, object], said: str
) -> None:
    checked = _add(job, THREE, _rows("extras", line), _rows("invoices", _invoice(200.0)))
    cell = checked.plan.cell("extras", "extra_status", 0)
    assert said in str(checked.values[cell.sheet, cell.address])
    assert any(f.sheet == "Invoices" for f in settled.obstacles(checked))


def test_a_line_without_an_invoice_belongs_to_none_when_one_row_is_left(job: Path) -> None:
    """16 rows of invoices, 15 of them filled: what is blank is not the one that is blank."""
    many = [_invoice(1.0, document=f"Q-{n}") for n in range(15)]
    line = _extra("freight", 5.0, supplier=None, document=None)
    checked = _add(job, _rows("extras", line), _rows("invoices", *many))
    cell = checked.plan.cell("extras", "extra_status", 0)
    said = "! Invoice: no invoice above has this supplier and number. "
    assert checked.values[cell.sheet, cell.address] == said


def test_an_invoice_without_supplier_and_number_does_not_stand_twice(job: Path) -> None:
    checked = _add(job, _rows("invoices", _invoice(0.0, supplier=None, document=None)))
    cell = checked.plan.cell("invoices", "invoice_status", 0)
    assert checked.values[cell.sheet, cell.address] == "! Invoice: type its number. "


@given(
    worths=st.lists(st.integers(0, 10**7), min_size=1, max_size=30).filter(any),
    cents=st.integers(-(10**6), 10**6),
)
def test_shares_add_up_and_are_no_cent_off_the_exact_one(worths: list[int], cents: int) -> None:
    """By fractions: whatever is spread, nothing is left, and no line is more than a cent off."""
    lines = [Line("x", w / 100, w / 100) for w in worths]
    shares = [round(share * 100) for share in in_turn(lines, cents / 100)]
    assert sum(shares) == cents
    for share, worth in zip(shares, worths, strict=True):
        assert abs(share - Fraction(cents * worth, sum(worths))) <= 1


def test_labour_by_step_against_the_quote(job: Path) -> None:
    steps = _cells(check_file(job))
    first, second = (str(steps.value("quoted_steps", "step", n)) for n in range(2))
    total = sum(
        float(str(v))
        for n in range(16)
        if isinstance(v := steps.value("quoted_steps", "hours", n), int | float)
    )
    hours = steps.value("as_quoted", "hours")
    assert total == pytest.approx(hours, rel=1e-12), "the steps kept are the hours in the price"
    days = [dt.date(2027, 1, 12), dt.date(2027, 1, 13), dt.date(2027, 1, 13)]
    told = [(first, 3.5), (second, 2.0), (first.upper(), 1.25)]
    rows = [
        {"date": day, "worked_step": step, "hours": many}
        for day, (step, many) in zip(days, told, strict=True)
    ]
    checked = _add(job, _rows("worked", *rows), {("spent", "hours", 0): None})
    get = _cells(checked).value
    assert [get("settle_steps", "worked", n) for n in range(3)] == [4.75, 2.0, 0.0]
    quoted = float(str(get("settle_steps", "quoted", 0)))
    assert get("settle_steps", "more", 0) == pytest.approx(4.75 - quoted)
    assert get("as_earned", "hours") == 6.75
    assert get("settle_beside", "labour_by") == "Invoices"


def test_any_order_of_documents_closes_to_the_same_figures(job: Path) -> None:
    """Two invoices, their lines shuffled and typed in two orders: the same sums in the books."""
    lines = [
        _extra("freight", 12.34), _extra("tax", 6.6), _extra("sundry", 33.0),
        _extra("credit", 3.21, product="Tint base"), _extra("deposit", 8.0),
        {**_extra("freight", 9.99), "document": "Q-78"},
    ]  # fmt: skip
    invoices = [_invoice(256.73, spread="freight"), {**_invoice(9.99), "document": "Q-78"}]
    dice, sums = random.Random(4), []
    for turn in range(2):
        copy = Path(shutil.copy(job, job.with_name(f"turn{turn}.xlsx")))
        shuffled = [*lines], [*invoices]
        for listed in shuffled if turn else ():
            dice.shuffle(listed)
        _add(copy, THREE, _rows("extras", *shuffled[0]), _rows("invoices", *shuffled[1]))
        close.close(copy, on=DAY)
        checked = check_file(copy)
        booked: Counter[str] = Counter()
        for one in close.booked(closings(checked.plan, checked.book)):
            assert one.open == 0
            booked.update(_of(one))
        sums.append(booked)
    assert sums[0] == sums[1]


def test_an_invoice_typed_after_closing_comes_to_never_having_closed(job: Path) -> None:
    """Its coatings were booked line by line; the invoice takes their place, on its own day."""
    _add(job, THREE)
    close.close(job, on=DAY)
    others = _rows("extras", _extra("freight", 20.0), _extra("tax", 9.0))
    checked = _add(job, others, _rows("invoices", _invoice(229.0, spread="freight")))
    never: Counter[str] = Counter()
    for one in settled.transactions(checked, DAY):
        never.update(_of(one))
    close.close(job, on=dt.date(2027, 3, 3), why="the invoice came")
    after = check_file(job)
    booked: Counter[str] = Counter()
    for one in close.booked(closings(after.plan, after.book)):
        booked.update(_of(one))
    assert {n: c for n, c in booked.items() if c} == {n: c for n, c in never.items() if c}


def test_beancount_takes_the_journal_of_invoices(job: Path) -> None:
    others = _rows("extras", _extra("freight", 20.0), _extra("deposit", 12.0), _extra("tax", 1.0))
    checked = _add(job, THREE, others, _rows("invoices", _invoice(233.0, spread="freight")))
    text = to_beancount(settled.transactions(checked, DAY), "USD", ["Test"])
    _, errors, _ = loader.load_string(text)
    assert not errors


def test_stock_is_worth_what_it_cost_with_its_freight(job: Path, demo_shop: Path) -> None:
    """A pack of 60 with 4.80 of freight is worth 64.80 on the shelf of the shop."""
    others = _rows("extras", _extra("additive", 50.0), _extra("freight", 20.0))
    counted = {("left", "lot", n): f"L{n}" for n in range(3)}
    _add(job, THREE, counted, others, _rows("invoices", _invoice(270.0, spread="freight")))
    shop = Reader(check_file(demo_shop))
    found = stock_job.movements_of(Reader(check_file(job)), shop, stock_job.shelf_of(shop), "x")
    bought = {m.lot: m for m in found if m.document == NUMBER and m.kind == "received"}
    assert [bought[f"L{FREE + n}"].value for n in range(3)] == [64.8, 108.0, 43.2]


def test_a_lot_is_there_from_the_day_it_came(job: Path) -> None:
    """Invoiced after it was mixed and delivered before: a delivery note came first."""
    cells = _cells(check_file(job))
    mixed = cells.value("log", "started", 0)
    assert isinstance(mixed, float)
    lot = cells.value("log", "lot_a", 0)
    row = [cells.value("receipts", "lot", n) for n in range(3)].index(lot)
    late = dt.date(1899, 12, 30) + dt.timedelta(days=int(mixed) + 3)
    early = dt.date(1899, 12, 30) + dt.timedelta(days=int(mixed) - 1)
    refused = _cells(_add(job, {("receipts", "date", row): late}))
    assert refused.value("used", "early", 0) == "yes"
    taken = _cells(_add(job, {("receipts", "delivered", row): early}))
    assert taken.value("used", "early", 0) != "yes"
