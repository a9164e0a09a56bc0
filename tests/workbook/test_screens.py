"""What a sheet shows at a glance: where to go, what a row lacks, dates, and nothing cut off.

Widths are measured with the metric twin of the usual font of spreadsheets (Carlito); what a chart
shows is read from LibreOffice's PDF by poppler, an outside reader.
"""

from __future__ import annotations

import datetime as dt
import os
import re
import shutil
import subprocess
from pathlib import Path

import openpyxl
import pytest
from openpyxl.cell import Cell
from openpyxl.utils import get_column_letter, range_boundaries
from openpyxl.worksheet.worksheet import Worksheet
from PIL import ImageFont
from tests import office

from pourbook.job import books
from pourbook.workbook.check.check import Checked, check_file
from pourbook.workbook.layout.laid_out import Layout

pytestmark = pytest.mark.in_turn

MADE = dt.datetime(2026, 11, 29, 9, 0)
STATES = {"piece_state": ("rooms", "status"), "layer_state": ("amounts", "status")}
CARLITO = Path("/usr/share/fonts/truetype/crosextra/Carlito-Regular.ttf")
FREE = 3  # points a cell keeps beside its text
AFTER_A_LOT = {("Used", "E")}  # a code that is scanned has no places to break at


def _typed(source: Path, target: Path, plan: Layout, **cells: object) -> Checked:
    book = openpyxl.load_workbook(source)
    for name, value in cells.items():
        block, field, row = name.split("__")
        cell = plan.cell(block, field, int(row))
        book[cell.sheet][cell.address] = value
    book.save(target)
    return check_file(target)


def _shown(checked: Checked, block: str, field: str, row: int = 0) -> object:
    cell = checked.plan.cell(block, field, row)
    return checked.values[cell.sheet, cell.address]


@pytest.mark.parametrize("state", STATES)
def test_status_stands_at_the_left_of_its_row(
    demo_us: Path, tmp_path: Path, plan_us: Layout, state: str
) -> None:
    wrong = {"rooms__b__2": "38 kg", "layers__loss__1": "much"}
    checked = _typed(demo_us, tmp_path / "job.xlsx", plan_us, **wrong)
    block, field = STATES[state]
    rows = range(min(plan_us.block(state).rows, plan_us.block(block).rows))
    said = [_shown(checked, state, "state", row) for row in rows]
    assert said == [_shown(checked, block, field, row) for row in rows]
    assert {"ok"} < set(said)
    assert any(str(one).startswith("!") for one in said)
    place = plan_us.places[state]
    assert place.left == 1
    page = openpyxl.load_workbook(demo_us)[place.sheet]
    assert page.freeze_panes == f"A{place.first}"  # headings alone


def test_a_fault_is_told_once_though_two_cells_show_it(
    demo_us: Path, tmp_path: Path, plan_us: Layout
) -> None:
    checked = _typed(demo_us, tmp_path / "job.xlsx", plan_us, rooms__b__2=None)
    told = [f for f in checked.findings if f.id == "job.row" and f.sheet == "Rooms"]
    assert [f.cell for f in told] == [plan_us.cell("rooms", "b", 2).address]


@pytest.mark.parametrize(
    ("typed", "where"),
    [
        ({}, "'Checks'!A1"),
        ({"rooms__b__2": "38 kg"}, "rooms.status.2"),
        ({"layers__loss__1": "much"}, "amounts.status.1"),
        ({"site__temperature__0": None}, "'Start'!A1"),
        ({"money__currency__0": None}, "'Start'!A1"),
    ],
)
def test_badge_and_next_thing_lead_to_the_first_fault(
    demo_us: Path, tmp_path: Path, plan_us: Layout, typed: dict[str, object], where: str
) -> None:
    checked = _typed(demo_us, tmp_path / "job.xlsx", plan_us, **typed)
    if "." in where:
        block, field, row = where.split(".")
        cell = plan_us.cell(block, field, int(row))
        where = f"'{cell.sheet}'!{cell.address}"
    assert _shown(checked, "overall", "at") == where
    book = openpyxl.load_workbook(demo_us)
    badges = [c for c in plan_us.cells if c.role == "check" and not c.block]
    assert {c.sheet for c in badges} == set(book.sheetnames)
    at = plan_us.cell("overall", "at").address
    for cell in (*badges, plan_us.cell("decision", "next")):
        formula = book[cell.sheet][cell.address].value
        text = formula.text if hasattr(formula, "text") else str(formula)
        own = "" if cell.sheet == "Checks" else "Checks!"
        assert text.replace("$", "").startswith(f'=HYPERLINK("#"&{own}{at},'), cell.sheet
        assert book[cell.sheet][cell.address].font.underline == "single"
        if cell.role == "check":
            assert checked.values[cell.sheet, cell.address] == _shown(checked, "overall", "overall")
            assert book[cell.sheet].cell(cell.row, cell.column + 1).value is None  # never cut


def test_an_empty_job_leads_to_the_first_piece(tmp_path: Path, plan_us: Layout) -> None:
    from tests.command_line import run

    assert run("new", tmp_path / "job.xlsx") == 0
    checked = check_file(tmp_path / "job.xlsx")
    cell = checked.plan.cell("rooms", "piece")
    assert _shown(checked, "overall", "at") == f"'Rooms'!{cell.address}"


def _lines(page: str) -> set[str]:
    return {line.strip() for line in page.splitlines()}


def test_the_calendar_s_axis_says_dates(demo_us: Path, tmp_path: Path) -> None:
    office.program()
    poppler = shutil.which("pdftotext")
    assert poppler is not None
    target = tmp_path / "copy.xlsx"
    books.books_copy(demo_us, target, force=False, made=MADE)
    printed = office.saved_by_office(target, tmp_path, to="pdf")
    done = subprocess.run(
        [poppler, "-layout", str(printed), "-"], capture_output=True, text=True, check=True
    )
    pages = done.stdout.split("\f")
    (page,) = (
        one for one in pages if {"The calendar", "How fast the crew prepares"} <= _lines(one)
    )
    begun = page[page.index("The calendar") :]
    days = [dt.date(2027, 1, int(day)) for day in re.findall(r"\b(\d+) Jan\b(?! \d\d:)", begun)]
    axis = days[: days.index(max(days)) + 1]
    assert len(axis) >= 4
    assert axis == sorted(axis)
    assert axis[0] <= dt.date(2027, 1, 11) <= axis[-1]
    for name in (
        "Prepare",
        "Tinted base",
        "Clear flood coat",
        "Rolled top coat",
        "Until full cure",
    ):
        assert name in begun


def test_what_is_empty_below_a_table_is_not_printed(demo_us: Path, tmp_path: Path) -> None:
    target = tmp_path / "copy.xlsx"
    books.books_copy(demo_us, target, force=False, made=MADE)
    plan = check_file(demo_us).plan
    shown = openpyxl.load_workbook(target, data_only=True)
    hidden = 0
    for sheet in plan.book.sheets:
        page = shown[sheet.sheet]
        for block in sheet.blocks:
            if block.kind != "table":
                continue
            place = plan.places[block.id]
            rows = range(place.first, place.last + 1)
            typed = [c.column for c in plan.in_block[block.id] if c.role in {"entry", "fill"}]
            used = [
                row for row in rows if any(page.cell(row, column).value for column in set(typed))
            ]
            folded = [row for row in rows if page.row_dimensions[row].hidden]
            hidden += len(folded)
            assert not set(used) & set(folded), f"{sheet.sheet}: {block.id} hides what it holds"
    assert hidden > 100
    last = max(r for r in range(1, 200) if shown["Rooms"].cell(r, 3).value)
    assert [shown["Rooms"].row_dimensions[last + n].hidden for n in (1, 5)] == [False, False]


def _width(text: str, size: float) -> float:
    if not CARLITO.exists():
        reason = "Carlito is not installed: widths cannot be measured"
        if os.environ.get("CI"):
            pytest.fail(reason)
        pytest.skip(reason)
    return float(ImageFont.truetype(str(CARLITO), 100).getlength(text)) * size / 100


def _room(page: Worksheet, column: int) -> float:
    wide = page.column_dimensions[get_column_letter(column)].width or 8.43
    return wide * _width("0", 11)


def _cut(page: Worksheet, cell: Cell, inside: int) -> bool:
    """Return whether another cell's words begin before those of a cell end."""
    text, size = str(cell.value), cell.font.sz or 11
    if cell.alignment.wrap_text:
        longest = max(text.split(), key=len, default="")
        return _width(longest, size) > _room(page, cell.column)
    needed = _width(text, size) + FREE
    room, column = _room(page, cell.column), cell.column
    while room < needed and column < inside:
        column += 1
        if page.cell(cell.row, column).value not in {None, ""}:
            return True
        room += _room(page, column)
    return False


def test_no_words_that_print_are_cut_by_their_neighbour(settled_us: Path, tmp_path: Path) -> None:
    target = tmp_path / "copy.xlsx"
    books.books_copy(settled_us, target, force=False, made=MADE)
    shown = openpyxl.load_workbook(target, data_only=True)
    cut = []
    for page in shown.worksheets:
        joined = {spot for area in page.merged_cells.ranges for row in area.rows for spot in row}
        areas = [range_boundaries(a.rpartition("!")[2]) for a in str(page.print_area).split(",")]
        for left, top, right, bottom in areas:
            for row in page.iter_rows(top, bottom, left, right):
                for cell in row:
                    if (
                        isinstance(cell.value, str)
                        and cell.value
                        and (cell.row, cell.column) not in joined
                        and (page.title, cell.column_letter) not in AFTER_A_LOT
                        and _cut(page, cell, right)
                    ):
                        cut.append((page.title, cell.coordinate, cell.value[:40]))
    assert not cut
