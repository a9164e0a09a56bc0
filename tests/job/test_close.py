"""Closing, correcting and reopening: nothing booked ever moves, and all of it is what Settle says.

What is expected comes from the same job that was never closed (the sum of all that is booked must
be its journal), from beancount, and from figures worked out by hand beside them.
"""

from __future__ import annotations

import datetime as dt
import random
import shutil
from collections import Counter
from collections.abc import Mapping, Sequence
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from beancount import loader
from tests.command_line import run
from tests.job.settling import receipt

from pourbook.errors import InputError
from pourbook.formats.ledger import Transaction, to_beancount
from pourbook.job.fill import Entry, fill
from pourbook.job.settle import close, settled
from pourbook.workbook.check.check import check_file
from pourbook.workbook.check.closed import closings
from pourbook.workbook.read.read import read_book

pytestmark = pytest.mark.in_turn(2)

Printed = pytest.CaptureFixture[str]
DAY = dt.date(2027, 2, 14)  # after the last of the log: 17 batches, one every other day
LATER = dt.date(2027, 3, 3)
FREE = 20  # a row of Used far below those of the settled job


def _late(
    row: int, day: dt.date, product: str = "Clear flood", **more: object
) -> dict[Entry, object]:
    return receipt(FREE + row, product, 1, 1.0, 61.5, **{"date": day, **more})


def _add(path: Path, entries: Mapping[Entry, object]) -> None:
    fill(path, path, entries, force=True)


def _sums(lines: Sequence[Transaction]) -> Counter[str]:
    found: Counter[str] = Counter()
    for one in lines:
        assert one.open == 0
        for posting in one.postings:
            found[posting.account] += posting.cents
    return Counter({name: cents for name, cents in found.items() if cents})


def _booked(path: Path) -> list[Transaction]:
    checked = check_file(path)
    return close.booked(closings(checked.plan, checked.book))


def _now(path: Path) -> Counter[str]:
    return _sums(settled.transactions(check_file(path)))


@pytest.fixture
def job(settled_us: Path, tmp_path: Path) -> Path:
    return Path(shutil.copy(settled_us, tmp_path / "job.xlsx"))


def test_closing_books_what_settle_says(job: Path) -> None:
    never = _now(job)
    done = close.close(job, by="Bo", on=DAY)
    assert (done.number, done.what, done.on) == (1, "closed", DAY)
    assert _sums(_booked(job)) == never
    assert _booked(job)[-1].day == DAY
    assert not [f for f in check_file(job).findings if f.id.startswith(("closed", "job.check"))]
    before = job.read_bytes()
    again = close.close(job, on=LATER)
    assert not again.changed
    assert job.read_bytes() == before


def test_a_late_invoice_moves_nothing_and_is_booked_on_its_own_day(job: Path) -> None:
    close.close(job, on=DAY)
    first = _booked(job)
    _add(job, _late(0, LATER))
    assert _booked(job) == first, "it waits to be booked"
    assert "closed" in _failing(job)
    done = close.close(job, on=dt.date(2027, 3, 10), why="late invoice", by="Bo")
    assert done.what == "correction"
    both = _booked(job)
    assert both[: len(first)] == first
    bill, use = both[len(first) :]
    assert (bill.day, bill.text) == (LATER, "Clear flood, lot L20")
    assert {p.account: p.cents for p in bill.postings} == {
        "Assets:Stock:Coatings": 6150,
        "Liabilities:Suppliers": -6150,
    }
    assert use.day == dt.date(2027, 3, 10)
    assert use.text.startswith("correction: ")
    assert _sums(both) == _now(job)
    assert "closed" not in _failing(job)


def test_an_invoice_dated_before_the_closing_is_booked_with_the_correction(job: Path) -> None:
    close.close(job, on=DAY)
    _add(job, _late(0, dt.date(2027, 1, 20)))
    close.close(job, on=LATER)
    assert {one.day for one in _booked(job) if "L20" in one.text} == {LATER}
    assert _sums(_booked(job)) == _now(job)


def test_a_changed_and_a_vanished_receipt_are_corrected(job: Path) -> None:
    _add(job, {**_late(0, dt.date(2027, 2, 1)), **_late(1, dt.date(2027, 2, 1), "Tint base")})
    close.close(job, on=DAY)
    first = _booked(job)
    plan, _ = _read(job)
    gone = [key for key in plan.entry_at if key[0] == "receipts" and key[2] == FREE]
    _add(job, {**dict.fromkeys(gone), ("receipts", "price", FREE + 1): 60.0})
    close.close(job, on=LATER)
    both = _booked(job)
    assert both[: len(first)] == first
    less, use, back = both[len(first) :]
    assert back.text == "correction: Clear flood, lot L20"
    assert less.text == "correction: Tint base, lot L21"
    assert [p.cents for p in (*back.postings, *less.postings)] == [-6150, 6150, -150, 150]
    assert {back.day, less.day, use.day} == {LATER}
    assert _sums(both) == _now(job)


@pytest.mark.in_turn
@pytest.mark.parametrize("seed", range(2))
def test_any_order_of_closing_comes_to_the_same(job: Path, tmp_path: Path, seed: int) -> None:
    """Late invoices, credits and counts, closed after each or all at once."""
    dice = random.Random(f"closing {seed}")
    steps: list[dict[Entry, object]] = [
        _late(0, LATER),
        _late(1, LATER + dt.timedelta(days=2), kind="sent back"),
        {("left", "rest", 0): 0.25, ("left", "date", 0): LATER},
        {("spent", "hours", 0): 61.0},
    ]
    never = tmp_path / "never.xlsx"
    shutil.copy(job, never)
    dice.shuffle(steps)
    close.close(job, on=DAY)
    for number, step in enumerate(steps):
        _add(job, step)
        if dice.random() < 0.6:
            close.close(job, on=LATER + dt.timedelta(days=10 + number))
    close.close(job, on=LATER + dt.timedelta(days=30))
    for step in steps:
        fill(never, never, step, force=True)
    assert _sums(_booked(job)) == _now(never)
    checked = check_file(job)
    rows = closings(checked.plan, checked.book)
    plain = check_file(never)
    plan = plain.plan
    for name, block, field, index in (
        ("receipts", "settle_state", "receipts", 0),
        ("profit_earned", "margin", "profit", 1),
        ("price_quoted", "margin", "price", 0),
    ):
        cell = plan.cell(block, field, index)
        total = sum(row.sums.get(name, 0.0) for row in rows)
        assert total == pytest.approx(plain.values[cell.sheet, cell.address], abs=0.006)
    assert all(row.sound for row in rows)


def test_the_journal_of_a_closed_job_passes_beancount(job: Path, tmp_path: Path) -> None:
    close.close(job, on=DAY)
    _add(job, _late(0, LATER))
    close.close(job, on=LATER)
    target = tmp_path / "job.beancount"
    assert run("settle", job, "--journal", target) == 0
    assert run("settle", job, "--journal", tmp_path / "b.csv", "--on", "2027-03-05") == 2
    entries, errors, _ = loader.load_file(str(target))
    assert not errors
    amounts: dict[str, Decimal] = {}
    for entry in entries:
        for posting in getattr(entry, "postings", ()):
            name = posting.account
            amounts[name] = amounts.get(name, Decimal(0)) + posting.units.number
    expected = {name: Decimal(cents) / 100 for name, cents in _now(job).items()}
    assert {name: value for name, value in amounts.items() if value} == expected
    assert to_beancount(_booked(job), "USD", []).count(" open ") == len(amounts)


def test_reopening_says_who_and_why_and_moves_nothing(job: Path) -> None:
    close.close(job, on=DAY)
    first = _booked(job)
    close.reopen(job, by="Ann", why="a bucket was found", on=LATER)
    assert _booked(job) == first
    _add(job, {("left", "rest", 0): 0.5})
    assert "closed" not in _failing(job), "it is open: what is typed is no fault"
    rows = closings(*_read(job))
    assert [(r.what, r.by, r.why) for r in rows][1] == ("reopened", "Ann", "a bucket was found")
    with pytest.raises(InputError, match="open already"):
        close.reopen(job, by="Ann", why="again", on=LATER)
    done = close.close(job, on=LATER)
    assert (done.number, done.what) == (3, "correction")
    assert _sums(_booked(job)) == _now(job)


def test_reopened_and_closed_unchanged_is_closed_again(job: Path) -> None:
    close.close(job, on=DAY)
    close.reopen(job, by="Ann", why="to look", on=DAY)
    done = close.close(job, on=DAY)
    assert (done.number, done.what, done.lines) == (3, "closed", ())


def _read(path: Path) -> Any:
    book = read_book(path)
    return book.plan("job"), book


def _failing(path: Path) -> set[str]:
    checked = check_file(path)
    return {
        checked.plan.block(cell.block).checks[cell.index].id
        for cell in checked.plan.cells
        for f in checked.findings
        if f.id == "job.check" and (f.sheet, f.cell) == (cell.sheet, cell.address)
    }


def test_days_that_cannot_be_are_refused(job: Path) -> None:
    with pytest.raises(InputError, match="before the last day noted on Used"):
        close.close(job, on=dt.date(2027, 1, 13))
    close.close(job, on=LATER)
    _add(job, {("left", "rest", 0): 0.5})
    with pytest.raises(InputError, match=f"before the last closing, {LATER}"):
        close.close(job, on=DAY)
    with pytest.raises(InputError, match=f"before the last closing, {LATER}"):
        close.reopen(job, by="Ann", why="x", on=DAY)


def test_a_figure_changed_by_hand_is_told_and_stops_the_next(job: Path) -> None:
    close.close(job, on=DAY)
    for key in (("closed_products", "used", 0), ("closed_lines", "amount", 1)):
        other = job.with_name(f"{key[0]}.xlsx")
        fill(job, other, {key: 1.0}, force=False)
        assert "closed.sealed" in {f.id for f in check_file(other).findings}
        assert run("settle", other, "--journal", other.with_suffix(".csv")) == 1
        assert not other.with_suffix(".csv").exists(), "what was changed is booked nowhere"
        _add(other, _late(0, LATER))
        with pytest.raises(InputError, match="changed by hand"):
            close.close(other, on=LATER)


def test_what_cannot_be_settled_is_not_closed(
    job: Path, demo_us: Path, tmp_path: Path, capsys: Printed
) -> None:
    asked = Path(shutil.copy(demo_us, tmp_path / "asked.xlsx"))
    with pytest.raises(InputError, match="not accepted yet"):
        close.close(asked)
    with pytest.raises(InputError, match="never closed"):
        close.reopen(job, by="Ann", why="x", on=DAY)
    _add(job, {("log", "layer", 16): None})
    assert run("settle", job, "--close") == 1
    assert run("settle", job, "--by", "Bo") == 2
    assert "without --close" in capsys.readouterr().err


def test_the_command_asks_for_what_is_missing_unless_told(
    job: Path, tmp_path: Path, capsys: Printed
) -> None:
    plan, _ = _read(job)
    row = [key for key in plan.entry_at if key[0] == "log" and key[2] == 16]
    _add(job, dict.fromkeys(row))
    before = job.read_bytes()
    assert run("settle", job, "--close") == 1
    assert "batch 17 not logged" in capsys.readouterr().err
    assert job.read_bytes() == before
    journal = tmp_path / "job.csv"
    day = DAY.isoformat()
    assert run("settle", job, "--close", "--as-it-is", "--on", day, "--journal", journal) == 0
    assert f"1: closed {day}" in capsys.readouterr().out
    assert journal.read_text(encoding="utf-8").count(f"{day},Settle,") >= 2
    assert run("reopen", job, "--by", "Ann", "--why", " ") == 2
    assert run("reopen", job, "--by", "Ann", "--why", "a credit", "--on", day) == 0
    assert "Reopened" in capsys.readouterr().out
