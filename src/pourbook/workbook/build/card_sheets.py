"""Sets up the cards a crew works from: row heights, boxes to write in, and whole cards on a page.

Contract: a box shows only on a card that is in use, so that cards beyond the last stay blank; the
cells themselves come from :mod:`pourbook.workbook.layout.blocks`.
"""

from __future__ import annotations

from openpyxl.formatting.rule import FormulaRule
from openpyxl.styles import Border, Side
from openpyxl.worksheet.pagebreak import Break
from openpyxl.worksheet.worksheet import Worksheet

from pourbook.formats.ooxml.addresses import a1, letters
from pourbook.workbook.layout.laid_out import Layout, Place
from pourbook.workbook.template.template import Block, Sheet

FIT = 96  # per cent: so that the columns fit across A4 as well as US letter
GAP = 12.0  # points between cards


def heights(block: Block, place: Place, page: Worksheet) -> None:
    """Give every row of every card the height its fields ask for, in points."""
    rows: dict[int, float] = {}
    for item in block.columns:
        row = place.spots[item.id][0] - place.first
        rows[row] = max(rows.get(row, 0.0), item.height)
    rows[place.step - 1] = GAP
    for index in range(block.rows):
        for row, height in rows.items():
            page.row_dimensions[place.first + index * place.step + row].height = height


def add(plan: Layout, sheet: Sheet, page: Worksheet) -> None:
    """Draw the boxes of the cards in use, and break the page between cards.

    A sheet with cards is not fitted to the page: spreadsheet programs ignore breaks where it is.
    """
    for block in sheet.blocks:
        if block.kind != "cards":
            continue
        place = plan.places[block.id]
        _boxes(block, place, page)
        for index in range(block.rows):
            if index and index % block.per_page == 0:
                page.row_breaks.append(Break(id=place.first + index * place.step - 1))
        page.sheet_properties.pageSetUpPr.fitToPage = False
        page.page_setup.scale = FIT


def _boxes(block: Block, place: Place, page: Worksheet) -> None:
    """Frame every box whose label shows, and rule a line above every card in use."""
    line = Side(style="thin", color="000000")
    box = Border(left=line, right=line, top=line, bottom=line)
    wide = max(place.spots[item.id][1] + item.spans - 1 for item in block.columns)
    _frame(block, place, page, (place.first, 1, wide, 1), Border(top=line))
    for item in block.columns:
        if item.kind == "blank":
            row, column = place.spots[item.id]
            _frame(block, place, page, (row, column, column + item.spans - 1, column - 1), box)


def _frame(
    block: Block, place: Place, page: Worksheet, where: tuple[int, int, int, int], border: Border
) -> None:
    """Give cells of every card a border while another cell of their row holds something.

    Args:
        block: The cards.
        place: Where they stand.
        page: Their sheet.
        where: Row on the first card, first and last column, and the column looked at.
        border: The border.
    """
    row, start, end, looked = where
    downs = [index * place.step for index in range(block.rows)]
    areas = " ".join(f"{a1(row + down, start)}:{a1(row + down, end)}" for down in downs)
    rule = FormulaRule([f'${letters(looked)}{row}<>""'], border=border)
    page.conditional_formatting.add(areas, rule)
