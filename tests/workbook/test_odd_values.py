"""Times, dates and texts where a number belongs: each is read or named, and nothing breaks."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import openpyxl
import pytest
from openpyxl.worksheet.worksheet import Worksheet

from pourbook.hosts import headless
from pourbook.workbook.check import check_file
from pourbook.workbook.plan import Plan

ENGINES = ("fast", "plain")
SCRATCH = "A40"


def _sheet(book: openpyxl.Workbook, name: str) -> Worksheet:
    page = book[name]
    assert isinstance(page, Worksheet)
    return page


@pytest.mark.parametrize("engine", ENGINES)
@pytest.mark.parametrize(
    ("formula", "value"), [("=TIME(12,0,0)", 0.5), ("=DATE(2026,11,24)", 46350.0), ("=1/4", 0.25)]
)
def test_a_time_or_date_worked_out_on_scratch_is_a_number(
    demo_us: Path, tmp_path: Path, engine: str, formula: str, value: float
) -> None:
    book = openpyxl.load_workbook(demo_us)
    page = _sheet(book, "Scratch")
    page[SCRATCH] = formula
    page[SCRATCH].number_format = "h:mm"
    path = tmp_path / "job.xlsx"
    book.save(path)
    done = headless.engine(engine).recompute(path, [("Scratch", SCRATCH)])
    assert done.values["Scratch", SCRATCH] == pytest.approx(value)
    assert not done.reasons


@pytest.mark.parametrize("engine", ENGINES)
@pytest.mark.parametrize("typed", [dt.time(8, 30), 0])
def test_times_and_dates_typed_where_numbers_belong_are_named(
    demo_us: Path, plan_us: Plan, tmp_path: Path, engine: str, typed: dt.time | int
) -> None:
    """8:30 in a cell of people, and a rate of 0 in a cell that shows dates."""
    crew, day = plan_us.entry_at["site", "crew", 0], plan_us.entry_at["start", "start_date", 0]
    book = openpyxl.load_workbook(demo_us)
    for cell in (crew, day):
        at = _sheet(book, cell.sheet)[cell.address]
        at.value = typed
        at.number_format = "h:mm" if typed else "yyyy-mm-dd"
    path = tmp_path / "job.xlsx"
    book.save(path)
    found = {f.place: f.id for f in check_file(path, (engine,)).findings}
    assert found[f"{crew.sheet}!{crew.address}"] == "entry.number"
    assert found[f"{day.sheet}!{day.address}"] == "entry.date"
    assert "function.failed" not in found.values()


def test_a_locked_number_stored_as_text_is_named(
    demo_us: Path, plan_us: Plan, tmp_path: Path
) -> None:
    fixed = [c for c in plan_us.cells if c.role == "fixed" and isinstance(c.value, float | int)]
    chosen = fixed[:: max(1, len(fixed) // 12)]
    book = openpyxl.load_workbook(demo_us)
    for cell in chosen:
        at = _sheet(book, cell.sheet)[cell.address]
        at.value = f"{cell.value:g}" if isinstance(cell.value, float) else str(cell.value)
        at.data_type = "s"
    path = tmp_path / "job.xlsx"
    book.save(path)
    told = {f.place: f.what for f in check_file(path).findings if f.id == "structure.heading"}
    for cell in chosen:
        assert "is stored as text" in told[f"{cell.sheet}!{cell.address}"]
