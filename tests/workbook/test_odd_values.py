"""Times, dates and texts where a number belongs: each is read or named, and nothing breaks."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import openpyxl
import pytest
from openpyxl.worksheet.worksheet import Worksheet

from pourbook.hosts import headless
from pourbook.job import make
from pourbook.job.make import Scenario
from pourbook.tables import works
from pourbook.units import SYSTEMS
from pourbook.workbook.check.check import check_file
from pourbook.workbook.layout.laid_out import Layout
from pourbook.workbook.template.guests import within_id

pytestmark = pytest.mark.in_turn

SCRATCH = "A40"
NUMBER = "entry.number"


def _sheet(book: openpyxl.Workbook, name: str) -> Worksheet:
    page = book[name]
    assert isinstance(page, Worksheet)
    return page


@pytest.mark.plain
@pytest.mark.parametrize(
    ("engine", "formula", "value"),
    [
        ("fast", "=TIME(12,0,0)", 0.5),
        ("plain", "=TIME(12,0,0)", 0.5),
        ("fast", "=DATE(2026,11,24)", 46350.0),
        ("fast", "=1/4", 0.25),
    ],
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


@pytest.mark.plain
@pytest.mark.parametrize(
    ("engine", "typed"), [("fast", dt.time(8, 30)), ("plain", dt.time(8, 30)), ("fast", 0)]
)
def test_times_and_dates_typed_where_numbers_belong_are_named(
    demo_us: Path, plan_us: Layout, tmp_path: Path, engine: str, typed: dt.time | int
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
    demo_us: Path, plan_us: Layout, tmp_path: Path
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


@pytest.mark.parametrize(
    ("typed", "words"), [(0.0007, "type 7 for 7 %"), ("7%%", "stored as text"), ("7 %", "type it")]
)
def test_a_percentage_means_what_a_person_means_or_is_refused(
    demo_us: Path, plan_us: Layout, tmp_path: Path, typed: float | str, words: str
) -> None:
    """A percent cell of Calc makes 7%% of a typed 7%, and 0.07 % of a typed 0.07."""
    cells = [c for c in plan_us.entries if c.field and c.field.is_percent and c.index == 0]
    assert len(cells) > 10
    book = openpyxl.load_workbook(demo_us)
    for cell in cells:
        page = _sheet(book, cell.sheet)
        page[cell.address] = typed
        (rule,) = [v for v in page.data_validations.dataValidation if cell.address in v.sqref]
        assert rule.formula1.startswith(f"AND(ISNUMBER({cell.address}),OR({cell.address}=0,ABS(")
        assert "7 for 7 %" in rule.error
    path = tmp_path / "job.xlsx"
    book.save(path)
    said = {f.place: f"{f.what}: {f.mend}" for f in check_file(path).findings if f.id == NUMBER}
    assert said.keys() >= {f"{cell.sheet}!{cell.address}" for cell in cells}
    assert all(words in said[f"{cell.sheet}!{cell.address}"] for cell in cells)


UNITS = [
    (("working", "touch", 0), "2:30", "2.5"),
    (("working", "pot_life", 0), "0.7 h", "42 min"),
    (("working", "pot_mass", 1), "1 qt", "1 US qt"),
    (("site", "humidity", 0), 52, 0.52),
    (("products", "dampest", 0), 75, 0.75),
    (("onsite", "air_humidity", 0), 45, 0.45),
]
"""What is typed, and what else means the same."""


def test_a_measure_is_taken_in_any_unit_of_its_own_kind(
    scenario_us: Scenario, plan_us: Layout, pieces: int, tmp_path: Path
) -> None:
    figures = []
    digests = {within_id("entered", item.id) for item in plan_us.block("entered").all_fields()}
    told = {
        (c.sheet, c.address)
        for c in plan_us.cells
        if c.fill != "entered" and not (c.field and c.field.id in digests)
    }
    for place in (1, 2):
        path = tmp_path / f"{place}.xlsx"
        entries = {**scenario_us.entries, **{row[0]: row[place] for row in UNITS}}
        values = make.make(path, "us", entries, pieces=pieces)
        figures.append({at: v for at, v in values.items() if at in told})
    assert figures[0] == figures[1]
    assert not check_file(tmp_path / "1.xlsx").findings


@pytest.mark.parametrize(
    ("key", "typed", "words"),
    [
        (("working", "pot_life", 0), "2:30", "type one value"),
        (("working", "pot_mass", 0), "20 min", "is a time where a weight belongs"),
        (("site", "humidity", 0), 1.4, "140 % is out of range"),
    ],
)
def test_what_has_two_meanings_is_refused(
    key: tuple[str, str, int],
    typed: object,
    words: str,
    scenario_us: Scenario,
    plan_us: Layout,
    pieces: int,
    tmp_path: Path,
) -> None:
    path = tmp_path / "job.xlsx"
    make.make(path, "us", {**scenario_us.entries, key: typed}, pieces=pieces)
    cell = plan_us.entry_at[key]
    (found,) = [f for f in check_file(path).findings if f.id.startswith("entry.")]
    assert (found.sheet, found.cell) == (cell.sheet, cell.address)
    assert words in f"{found.what}: {found.mend}"


def test_a_stated_volume_of_mix_is_weighed_by_its_density() -> None:
    """1 US qt is 0.946 L (NIST SP 811); at 1.1 kg/L that is 1.041 kg, worked out by hand."""
    system = SYSTEMS["us"]
    row = {"name": "x"} | dict.fromkeys(works.COLUMNS[1:]) | {"pot_mass": "1 qt"}
    found = works.read_working(row, system).of(1100.0)
    assert found.pot_mass == pytest.approx(0.946352946 * 1.1)
