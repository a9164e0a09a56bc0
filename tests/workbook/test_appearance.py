"""Looks that lie are told, and none of what programs do to a workbook on saving is one."""

from __future__ import annotations

import re
from collections.abc import Callable
from copy import copy
from pathlib import Path

import openpyxl
import pytest
from openpyxl.formatting.formatting import ConditionalFormattingList
from openpyxl.styles import Font, PatternFill
from openpyxl.workbook import Workbook
from openpyxl.worksheet.datavalidation import DataValidationList
from tests.office import saved_by_office

from pourbook.formats.ooxml.lines import SheetCells, SheetLine
from pourbook.workbook.check.appearance import check_appearance
from pourbook.workbook.check.check import check_file
from pourbook.workbook.check.findings import Finding
from pourbook.workbook.layout.laid_out import Layout
from pourbook.workbook.layout.shown import number_format
from pourbook.workbook.read.read import RawBook, RawSheet
from pourbook.workbook.read.sheet_lines import RawCell
from pourbook.workbook.read.visible import Looks, Style

pytestmark = pytest.mark.in_turn

LIES, LOOK = "appearance.lies", "appearance.look"


def _told(book: Workbook, target: Path) -> list[Finding]:
    book.save(target)
    return [f for f in check_file(target).findings if f.id.startswith("appearance.")]


def _cell(plan: Layout, block: str, name: str, row: int = 0) -> tuple[str, str]:
    cell = plan.cell(block, name, row)
    return cell.sheet, cell.address


@pytest.mark.parametrize("code", [";;;", '"12.50"', "0,", '0"0"', '"";"";""', "0.0%", "yyyy-mm-dd"])
def test_a_format_that_hides_a_price_is_a_fault_where_it_prints(
    demo_us: Path, tmp_path: Path, plan_us: Layout, code: str
) -> None:
    book = openpyxl.load_workbook(demo_us)
    quote, price = _cell(plan_us, "quote_price", "gross"), _cell(plan_us, "price", "net")
    for sheet, address in (quote, price):
        book[sheet][address].number_format = code
    found = _told(book, tmp_path / "job.xlsx")
    assert {(f.id, f.sheet, f.cell) for f in found} == {(LIES, *quote), (LOOK, *price)}
    assert all("number format" in f.what for f in found)


def test_a_format_that_is_right_for_one_field_is_not_for_another(
    demo_us: Path, tmp_path: Path, plan_us: Layout
) -> None:
    """An amount of money in the look of a share above it: 6,770.13 as 677013 %."""
    share, money = plan_us.cell("rates", "overhead"), plan_us.cell("price", "net")
    assert share.sheet == money.sheet == "Price"
    assert share.row < money.row
    assert share.field is not None
    assert "%" in number_format(share.field)
    book = openpyxl.load_workbook(demo_us)
    sheet = book["Price"]
    sheet[money.address]._style = copy(sheet[share.address]._style)
    found = _told(book, tmp_path / "job.xlsx")
    assert [(f.id, f.cell) for f in found] == [(LOOK, money.address)]


@pytest.mark.parametrize("code", ["General", "0.00", "@"])
def test_a_day_or_a_share_shown_as_a_bare_number_is_told(
    demo_us: Path, tmp_path: Path, plan_us: Layout, code: str
) -> None:
    book = openpyxl.load_workbook(demo_us)
    share, day = _cell(plan_us, "rates", "overhead"), _cell(plan_us, "quote", "until")
    for sheet, address in (share, day):
        assert book[sheet][address].value, "it holds something to be misread"
        book[sheet][address].number_format = code
    found = _told(book, tmp_path / "job.xlsx")
    assert {(f.id, f.sheet, f.cell) for f in found} == {(LOOK, *share), (LIES, *day)}


def test_a_format_that_hides_an_entry_is_told(
    demo_us: Path, tmp_path: Path, plan_us: Layout
) -> None:
    book = openpyxl.load_workbook(demo_us)
    sheet, address = _cell(plan_us, "rates", "labour")
    book[sheet][address].number_format = ";;;"
    assert [(f.id, f.cell) for f in _told(book, tmp_path / "job.xlsx")] == [(LOOK, address)]


def test_a_row_is_known_by_the_sheet_it_was_looked_at_on(plan_us: Layout) -> None:
    """The same row on two sheets: a share on the one, an amount on the other."""
    shares = [
        cell
        for cell in plan_us.cells
        if cell.role == "entry" and cell.field and "%" in number_format(cell.field)
    ]
    share, other = next(
        (share, other)
        for share in shares
        for other in plan_us.cells
        if other.address == share.address
        and other.sheet != share.sheet
        and other.field
        and other.role != "unit"
        and number_format(other.field) == "#,##0.00"
    )
    assert share.field is not None
    line = SheetLine(share.row, {share.address: RawCell(6770.13, style=1)})
    sheets = {one: RawSheet(one, False, SheetCells([line])) for one in (share.sheet, other.sheet)}
    styles = (Style(), Style(format=number_format(share.field)))
    book = RawBook(Path("job.xlsx"), sheets, looks=Looks(styles))
    for _ in range(2):
        found = [f for f in check_appearance(plan_us, book) if "number format" in f.what]
        assert [(f.sheet, f.cell) for f in found] == [(other.sheet, other.address)]


@pytest.mark.parametrize(
    ("font", "fill"),
    [("FFFFFF", None), ("37474F", "37474F"), ("00FFFFFF", "FFFFFFFF")],
)
def test_words_in_the_colour_of_their_paper_are_told(
    demo_us: Path, tmp_path: Path, plan_us: Layout, font: str, fill: str | None
) -> None:
    book = openpyxl.load_workbook(demo_us)
    sheet, address = _cell(plan_us, "quote_price", "gross")
    book[sheet][address].font = Font(color=font)
    paper = PatternFill("solid", fgColor=fill) if fill else PatternFill(None)
    book[sheet][address].fill = paper
    assert [(f.id, f.cell) for f in _told(book, tmp_path / "job.xlsx")] == [(LIES, address)]


def test_letters_too_small_to_read_are_told(demo_us: Path, tmp_path: Path, plan_us: Layout) -> None:
    book = openpyxl.load_workbook(demo_us)
    sheet, address = _cell(plan_us, "quote_price", "gross")
    book[sheet][address].font = Font(size=1)
    assert [(f.id, f.cell) for f in _told(book, tmp_path / "job.xlsx")] == [(LIES, address)]


def _hide_row(book: Workbook, row: int) -> None:
    book["Quote"].row_dimensions[row].hidden = True


def _flat_row(book: Workbook, row: int) -> None:
    book["Quote"].row_dimensions[row].height = 0.5


def _hide_column(book: Workbook, _: int) -> None:
    book["Quote"].column_dimensions["B"].hidden = True


def _thin_column(book: Workbook, _: int) -> None:
    book["Quote"].column_dimensions["B"].width = 0.1


def _short_print(book: Workbook, row: int) -> None:
    book["Quote"].print_area = f"A1:E{row - 1}"


@pytest.mark.parametrize("tamper", [_hide_row, _flat_row, _hide_column, _thin_column, _short_print])
def test_what_is_folded_or_left_out_of_a_paper_is_a_fault(
    demo_us: Path, tmp_path: Path, plan_us: Layout, tamper: Callable[[Workbook, int], None]
) -> None:
    book = openpyxl.load_workbook(demo_us)
    tamper(book, plan_us.cell("quote_price", "gross").row)
    (found,) = _told(book, tmp_path / "job.xlsx")
    assert (found.id, found.sheet) == (LIES, "Quote")
    assert re.search("hidden|print range", found.what)


def _bare(book: Workbook) -> None:
    book["Rooms"].protection.sheet = False


def _no_lists(book: Workbook) -> None:
    book["Rooms"].data_validations = DataValidationList()


def _no_colours(book: Workbook) -> None:
    book["Rooms"].conditional_formatting = ConditionalFormattingList()


@pytest.mark.parametrize("tamper", [_bare, _no_lists, _no_colours])
def test_a_sheet_without_its_guards_is_to_be_looked_at(
    demo_us: Path, tmp_path: Path, tamper: Callable[[Workbook], None]
) -> None:
    book = openpyxl.load_workbook(demo_us)
    tamper(book)
    found = _told(book, tmp_path / "job.xlsx")
    assert {(f.id, f.sheet) for f in found} == {(LOOK, "Rooms")}


def test_one_finding_a_sheet_however_much_is_hidden(demo_us: Path, tmp_path: Path) -> None:
    book = openpyxl.load_workbook(demo_us)
    for row in book["Price"].iter_rows():
        for cell in row:
            cell.number_format = ";;;"
    (found,) = _told(book, tmp_path / "job.xlsx")
    assert (found.id, found.sheet) == (LOOK, "Price")


def test_other_fonts_widths_and_more_places_are_nobody_s_business(
    demo_us: Path, tmp_path: Path, plan_us: Layout
) -> None:
    book = openpyxl.load_workbook(demo_us)
    sheet, address = _cell(plan_us, "quote_price", "gross")
    book[sheet][address].font = Font(name="Courier New", size=14, color="880000", bold=True)
    book[sheet][address].number_format = "#,##0.000"
    book[sheet].column_dimensions["B"].width = 60
    book[sheet].row_dimensions[5].height = 40
    book[sheet].sheet_properties.tabColor = "00FF00"
    assert _told(book, tmp_path / "job.xlsx") == []


@pytest.mark.libreoffice
def test_a_job_saved_by_libreoffice_lies_nowhere(demo_us: Path, tmp_path: Path) -> None:
    findings = check_file(saved_by_office(demo_us, tmp_path)).findings
    assert not [f for f in findings if f.id.startswith(("appearance.", "package."))]
