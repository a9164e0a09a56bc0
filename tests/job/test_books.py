"""Fresh values in a person's own workbook, and the bookkeeper's copy of it."""

from __future__ import annotations

import datetime as dt
import hashlib
from pathlib import Path

import openpyxl
import pytest
from openpyxl.utils.cell import range_boundaries
from tests.office import saved_by_office

from pourbook.errors import FileUnreadableError, UsageError
from pourbook.hosts import headless
from pourbook.job import books, make
from pourbook.job.make import Scenario
from pourbook.workbook.check.check import check_file
from pourbook.workbook.check.structure import as_offered
from pourbook.workbook.read.read import read_book

MADE = dt.datetime(2026, 11, 24, 15, 30)
PLAIN = {"PATH": "/usr/sbin:/usr/bin:/sbin:/bin"}


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory, scenario_us: Scenario) -> Path:
    path = tmp_path_factory.mktemp("books") / "demo.xlsx"
    make.make(path, scenario_us.system, scenario_us.entries)
    return path


@pytest.fixture
def typed(demo: Path, tmp_path: Path) -> Path:
    """The demo with one length changed by another program, which drops every stored value."""
    path = tmp_path / "typed.xlsx"
    book = openpyxl.load_workbook(demo)
    cell = check_file(demo).plan.cell("rooms", "a", 1)
    book[cell.sheet][cell.address] = "6 ft 5 in"
    book.save(path)
    return path


def test_store_gives_a_typed_job_its_values(typed: Path, demo: Path) -> None:
    stale = {f.id for f in check_file(typed).findings}
    assert stale == {"recompute.novalue", "recompute.differs"}
    count = books.store(typed, typed, force=True)
    assert count > 1000
    checked = check_file(typed)
    assert checked.findings == ()
    top = checked.plan.cell("rooms", "top", 1)
    # By hand: 77 in x 25 1/2 in over 144 in² to a ft²; the demo has 38 1/2 in there.
    assert checked.book.sheets["Rooms"].value(top.address) == pytest.approx(77 * 25.5 / 144)
    before = check_file(demo).book.sheets["Rooms"].value(top.address)
    assert before == pytest.approx(38.5 * 25.5 / 144)


def test_store_keeps_what_was_typed(typed: Path) -> None:
    before = read_book(typed)
    books.store(typed, typed, force=True)
    after = read_book(typed)
    for cell in before.plan().entries:
        raw = before.sheets[cell.sheet].cells.get(cell.address)
        if as_offered(cell, raw):
            continue  # not typed: it is worked out now
        one = raw.value if raw else None
        assert after.sheets[cell.sheet].value(cell.address) == one, cell.address


def test_store_elsewhere_leaves_the_job_alone(typed: Path, tmp_path: Path) -> None:
    digest = hashlib.sha256(typed.read_bytes()).hexdigest()
    target = tmp_path / "stored.xlsx"
    books.store(typed, target, force=False)
    assert hashlib.sha256(typed.read_bytes()).hexdigest() == digest
    assert check_file(target).findings == ()
    with pytest.raises(UsageError, match="exists already"):
        books.store(typed, target, force=False)


def test_copy_prints_the_cards_and_hours_in_use_and_no_more(demo: Path, tmp_path: Path) -> None:
    target = tmp_path / "short.xlsx"
    books.books_copy(demo, target, force=False, made=MADE)
    book = openpyxl.load_workbook(target, data_only=True)
    cards = book["Mix cards"]
    batch_rows = [
        row[0].row for row in cards.iter_rows() if str(row[0].value or "").startswith("Batch ")
    ]
    cautions = [row[0].row for row in cards.iter_rows() if str(row[0].value).startswith("Gloves")]
    last = int(str(cards.print_area).rpartition("$")[2])
    assert len(batch_rows) == len(cautions) == 17  # seventeen batches in the demo
    assert 0 <= last - cautions[-1] <= 1
    # No hour is known in the demo: the headings and one row stay.
    assert int(str(book["Hours"].print_area).rpartition("$")[2]) < 15
    job_area = openpyxl.load_workbook(demo)["Mix cards"].print_area
    assert int(str(job_area).rpartition("$")[2]) > last  # a job that still changes keeps them all


NUMBERED = {
    "Hours",
    "Stock",
    "Lots",
    "Finishes",
    "Calls",
}  # their formulas number rows that are blank else


@pytest.mark.parametrize("book", ["job", "shop"])
def test_copy_prints_every_row_that_says_something(
    book: str, demo: Path, demo_shop: Path, tmp_path: Path
) -> None:
    source, target = demo if book == "job" else demo_shop, tmp_path / "whole.xlsx"
    books.books_copy(source, target, force=False, made=MADE)
    whole, cut = openpyxl.load_workbook(source), openpyxl.load_workbook(target, data_only=True)
    shortened = set()
    for page in cut:
        area = str(page.print_area).rpartition("!")[2]
        end, last = (int(str(a).rpartition("$")[2]) for a in (area, whole[page.title].print_area))
        if end == last:
            continue
        shortened.add(page.title)
        below = page.iter_rows(end + 1, last, max_col=range_boundaries(area)[2], values_only=True)
        said = {value for row in below for value in row if value not in {None, ""}}
        if page.title in NUMBERED:
            said = {value for value in said if isinstance(value, str)}
        assert not said, page.title
    assert shortened >= ({"Mix cards", "Rooms"} if book == "job" else {"Lots", "Stock"})


def test_long_texts_on_used_wrap_and_their_rows_can_grow(demo: Path) -> None:
    page = openpyxl.load_workbook(demo)["Used"]
    plan = read_book(demo).plan()
    for block, field in (("log", "lot_a"), ("used", "reason"), ("receipts", "receipt_status")):
        cell = page[plan.cell(block, field, 2).address]
        assert (cell.alignment.wrap_text, cell.alignment.vertical) == (True, "top"), cell.coordinate
        assert page.row_dimensions[cell.row].height is None


def test_no_dark_line_strikes_out_a_number_of_the_waterfall(demo: Path) -> None:
    charts = openpyxl.load_workbook(demo)["Settle"]._charts
    steps = [s for chart in charts for s in chart.series if s.dLbls and s.dLbls.showVal]
    assert len(steps) == 3
    for step in steps:
        look = step.graphicalProperties
        assert look.line.solidFill.srgbClr == look.solidFill.srgbClr


def test_copy_has_no_function_of_ours_and_every_value(demo: Path, tmp_path: Path) -> None:
    target = tmp_path / "copy.xlsx"
    changed = books.books_copy(demo, target, force=False, made=MADE)
    original, copy = read_book(demo), read_book(target)
    formulas = [
        (s.name, a, c.formula)
        for s in copy.sheets.values()
        for a, c in s.cells.items()
        if c.formula
    ]
    assert changed > 0
    assert len(formulas) > 300
    assert not [f for f in formulas if "PB_" in f[2].upper()]
    live = check_file(demo).plan.cell("overall", "live")
    for sheet in original.sheets.values():
        for address, cell in sheet.cells.items():
            wanted = cell.value
            if (sheet.name, address) == (live.sheet, live.address):
                wanted = books.VALUES_ONLY
            assert copy.sheets[sheet.name].value(address) == wanted, (sheet.name, address)


def test_copy_says_values_only_and_that_is_no_fault(demo: Path, tmp_path: Path) -> None:
    """Worked out anew from end to end, the copy still says OK at the top of every sheet."""
    target = tmp_path / "copy.xlsx"
    books.books_copy(demo, target, force=False, made=MADE)
    plan = check_file(demo).plan
    tops = [c for c in plan.cells if c.role == "check" and not c.block]
    cells = [*tops, plan.cell("overall", "overall")]
    wanted = [(c.sheet, c.address) for c in cells]
    done = headless.engine("fast").recompute(target, wanted)
    assert done.calls == 0
    assert set(done.values.values()) == {"OK"}
    live = plan.cell("overall", "live")
    assert read_book(target).sheets[live.sheet].value(live.address) == "values only"


def _told(book: openpyxl.Workbook, target: Path) -> set[tuple[str, str, str]]:
    book.save(target)
    found = check_file(target, copy=True).findings
    return {(f.id, f.sheet, f.cell) for f in found if f.id.startswith("appearance.")}


def test_what_looks_otherwise_than_it_is_is_told_of_a_copy_too(demo: Path, tmp_path: Path) -> None:
    """The bookkeeper works with it, and the quote is printed from it."""
    target = tmp_path / "copy.xlsx"
    books.books_copy(demo, target, force=False, made=MADE)
    assert check_file(target, copy=True).findings == ()
    assert _told(openpyxl.load_workbook(target), tmp_path / "saved.xlsx") == set()
    plan = check_file(demo).plan
    price, room = plan.cell("quote_price", "gross"), plan.cell("rooms", "room", 1)
    book = openpyxl.load_workbook(target)
    book[price.sheet][price.address].number_format = '"9,000.00"'
    book[room.sheet].row_dimensions[room.row].hidden = True
    assert _told(book, tmp_path / "other.xlsx") == {
        ("appearance.lies", price.sheet, price.address),
        ("appearance.look", room.sheet, room.address),
    }


def test_a_copy_that_prints_less_than_is_filled_is_told(demo: Path, tmp_path: Path) -> None:
    target = tmp_path / "copy.xlsx"
    books.books_copy(demo, target, force=False, made=MADE)
    price = check_file(demo).plan.cell("quote_price", "gross")
    book = openpyxl.load_workbook(target)
    book[price.sheet].print_area = f"A1:H{price.row - 1}"
    found = _told(book, tmp_path / "other.xlsx")
    assert {(kind, sheet) for kind, sheet, _ in found} == {("appearance.lies", price.sheet)}


@pytest.mark.libreoffice
def test_a_copy_that_libreoffice_saved_is_still_ok(demo: Path, tmp_path: Path) -> None:
    target = tmp_path / "copy.xlsx"
    books.books_copy(demo, target, force=False, made=MADE)
    assert check_file(saved_by_office(target, tmp_path), copy=True).findings == ()


def test_copy_says_what_it_is_and_is_no_job(demo: Path, tmp_path: Path) -> None:
    target = tmp_path / "copy.xlsx"
    books.books_copy(demo, target, force=False, made=MADE)
    said = str(read_book(target).sheets["Start"].value(books.NOTE_CELL))
    assert "Books copy of demo.xlsx" in said
    assert "2026-11-24 15:30" in said
    with pytest.raises(FileUnreadableError, match="books copy"):
        check_file(target)


def test_copy_never_replaces_the_job(demo: Path) -> None:
    with pytest.raises(UsageError, match="replace the job"):
        books.books_copy(demo, demo, force=True, made=MADE)
    assert check_file(demo).findings == ()


def test_openpyxl_reads_the_copy(demo: Path, tmp_path: Path) -> None:
    target = tmp_path / "copy.xlsx"
    books.books_copy(demo, target, force=False, made=MADE)
    page = openpyxl.load_workbook(target, data_only=True)["Rooms"]
    place = check_file(demo).plan.cell("rooms", "top", 0)
    assert isinstance(page[place.address].value, float)


@pytest.mark.libreoffice
def test_libreoffice_shows_the_copy_without_a_broken_cell(demo: Path, tmp_path: Path) -> None:
    target = tmp_path / "copy.xlsx"
    books.books_copy(demo, target, force=False, made=MADE)
    shown = openpyxl.load_workbook(saved_by_office(target, tmp_path), data_only=True)
    broken = [
        (s.title, c.coordinate, c.value)
        for s in shown
        for row in s.iter_rows()
        for c in row
        if isinstance(c.value, str) and c.value.startswith("#")
    ]
    assert not broken
    net = check_file(demo).plan.cell("price", "net", 0)
    assert shown["Price"][net.address].value > 1000
