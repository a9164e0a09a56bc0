"""A month that was handed over stays as it was: what is booked later stands in its own month."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from tests.archive import making
from tests.command_line import run

from pourbook.job.fill import fill
from pourbook.job.settle import close
from pourbook.workbook.layout.laid_out import Layout
from pourbook.workbook.read.read import read_book

JANUARY = ("--from", "2027-01-01", "--to", "2027-01-31")
FEBRUARY = ("--from", "2027-02-01", "--to", "2027-02-28")


def _made(folder: Path, name: str, span: tuple[str, ...]) -> dict[str, Any]:
    target = folder.with_name(name)
    assert run("month", folder, target, *span) == 0
    plan = read_book(target).plan("month")
    sheet = openpyxl.load_workbook(target, data_only=True)
    found: dict[str, Any] = {}
    for block in ("sums", "jobs", "job_coatings", "detail", "later", "overall"):
        for item in plan.block(block).columns:
            cell = plan.cell(block, item.id, 0)
            found[f"{block}.{item.id}"] = sheet[cell.sheet][cell.address].value
    return found


@pytest.fixture
def folder(demo_us: Path, plan_us: Layout, tmp_path: Path) -> Path:
    """One job, closed in January; see test_month for its figures by hand: 52.00 used."""
    made = tmp_path / "jobs"
    made.mkdir()
    making.make(demo_us, made / "first.xlsx", plan_us, making.FIRST)
    close.close(made / "first.xlsx", by="Bo", on=dt.date(2027, 1, 31))
    return made


def test_a_closed_month_stays_whatever_comes_after(folder: Path) -> None:
    first = _made(folder, "one.xlsx", JANUARY)
    assert first["sums.used"] == 52.0
    assert first["jobs.closed"] == "yes"
    assert first["jobs.settled_on"].date() == dt.date(2027, 1, 31)
    job = folder / "first.xlsx"
    # one more gallon bought at 52.00 in February and used up: 2.00 dearer than quoted, 50.00 waste
    late = {
        ("receipts", name, 1): value
        for name, value in {
            "supplier": "Supplier", "document": "INV-9", "date": dt.date(2027, 2, 5),
            "kind": "bought", "product": making.PRODUCT, "holds": "kit", "lot": "L-78", "packs": 1,
            "contents": 1.0, "price": 52.0,
        }.items()
    }  # fmt: skip
    fill(job, job, late, force=True)
    assert _made(folder, "two.xlsx", JANUARY) == first, "not booked yet, and not January's"
    close.close(job, on=dt.date(2027, 2, 20), why="late invoice")
    again = _made(folder, "three.xlsx", JANUARY)
    came = {name: value for name, value in again.items() if name.startswith("later.")}
    assert {**again, **{name: first[name] for name in came}} == first
    assert came["later.job"] == "First"
    assert came["later.why"] == "late invoice"
    assert came["later.booked_on"].date() == dt.date(2027, 2, 20)
    assert (came["later.number"], came["later.used"]) == (2, 52.0)
    assert came["later.profit_earned"] == -52.0
    february = _made(folder, "four.xlsx", FEBRUARY)
    assert february["jobs.job"] == "First (correction)"
    assert (february["sums.used"], february["sums.waste"]) == (52.0, 50.0)
    assert (february["sums.quoted"], february["sums.price"]) == (0.0, 2.0)
    assert february["detail.charged"] == 1.0
    assert february["jobs.profit_earned"] == -52.0
    both = _made(folder, "five.xlsx", ())
    assert both["sums.used"] == 104.0
    assert both["jobs.profit_earned"] == 598.0 - 52.0
    assert {one["overall.overall"] for one in (first, again, february, both)} == {"OK"}


def test_a_job_that_is_not_closed_says_so(demo_us: Path, plan_us: Layout, tmp_path: Path) -> None:
    (tmp_path / "jobs").mkdir()
    making.make(demo_us, tmp_path / "jobs" / "first.xlsx", plan_us, making.FIRST)
    assert _made(tmp_path / "jobs", "one.xlsx", JANUARY)["jobs.closed"] == "no"


def test_a_row_typed_wrong_later_moves_no_closed_month(folder: Path) -> None:
    first = _made(folder, "one.xlsx", JANUARY)
    job = folder / "first.xlsx"
    fill(job, job, {("receipts", "packs", 0): None}, force=True)
    assert _made(folder, "two.xlsx", JANUARY) == first
    fill(job, job, {("receipts", "packs", 0): 3, ("closed_products", "used", 0): 1.0}, force=True)
    assert run("month", folder, folder.with_name("three.xlsx"), *JANUARY) == 1, "changed by hand"
