"""Writes a laid-out book as an .xlsx through openpyxl, with a person's entries in it.

Contract: :func:`write` makes formulas, styles, validation, help, links, charts, print set-up and
protection from the plan alone. It computes nothing: values are put beside the formulas afterwards
by :mod:`pourbook.formats.ooxml.rewrite`, the last write.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from copy import copy
from datetime import datetime
from pathlib import Path

from openpyxl import Workbook
from openpyxl.cell.cell import Cell
from openpyxl.comments import Comment
from openpyxl.packaging.custom import IntProperty, StringProperty
from openpyxl.styles import Alignment, Font
from openpyxl.worksheet.cell_range import CellRange
from openpyxl.worksheet.formula import ArrayFormula
from openpyxl.worksheet.hyperlink import Hyperlink
from openpyxl.worksheet.pagebreak import Break
from openpyxl.worksheet.worksheet import Worksheet

from pourbook import __version__
from pourbook.formats.ooxml.addresses import a1, letters
from pourbook.formats.ooxml.saving import saved
from pourbook.workbook.build import card_sheets, charts, validation, wrong_cells
from pourbook.workbook.layout import marks
from pourbook.workbook.layout.laid_out import Layout, PlannedCell
from pourbook.workbook.layout.marks import IDENTITY_MARK
from pourbook.workbook.layout.references import quoted
from pourbook.workbook.layout.shown import number_format, print_areas
from pourbook.workbook.template import styles
from pourbook.workbook.template.template import Field, Sheet

Entries = Mapping[tuple[str, str, int], object]
"""What a person typed: (block id, field id, row index; 0 in a form) -> text, number or date."""

TEXT_KINDS = {"text", "choice", "measure", "ratio", "fixed"}
_WIDTHS = {"text": 18.0, "measure": 11.0, "choice": 13.0, "date": 12.0, "index": 5.0}
_LINE_POINTS = 13.5
_WRAPPED, _WRAPPED_LINES = 40.0, 2  # from this width an entry of a table is running text
_BOLD = 1.1  # how much wider than digits the letters of a heading are
_LETTERS_PER_WIDTH = 1.15  # a width counts digits; running text is a little narrower


def write(
    plan: Layout, entries: Entries, target: Path, *, made: datetime, identity: str = ""
) -> None:
    """Write the workbook of a plan.

    Args:
        plan: The laid-out book.
        entries: What to fill in; a key the plan does not have is a programming error.
        target: Where to write; the caller makes it atomic.
        made: Date and time to record in the file.
        identity: A mark that tells this workbook from every other, whatever its file is called.
    """
    unknown = [key for key in entries if key not in plan.entry_at and key not in plan.kept_at]
    if unknown:
        raise KeyError(f"no such entry: {unknown[0]}")
    book = Workbook()
    book.remove(book.worksheets[0])
    for style in styles.named_styles():
        book.add_named_style(style)
    pen = _Pen(plan, entries)
    pages = {sheet.sheet: book.create_sheet(sheet.sheet) for sheet in plan.book.sheets}
    for cell in plan.cells:
        pen.put(pages[cell.sheet], cell)
    for sheet in plan.book.sheets:
        page = pages[sheet.sheet]
        _columns(sheet, page)
        _heights(plan, sheet, page)
        _print(plan, sheet, page)
        _protect(sheet, page)
        validation.add(plan, sheet, page)
        wrong_cells.add(plan, sheet, page)
        charts.add(plan, sheet, page)
        card_sheets.add(plan, sheet, page)
    book.properties.creator = "Pourbook"
    book.properties.title = plan.book.title
    book.properties.created = book.properties.modified = made.replace(microsecond=0)
    for name, text in (
        ("pourbook book", plan.book.book),
        ("pourbook version", __version__),
        (marks.TEMPLATE, plan.version),
        ("pourbook system", plan.system.name),
        *marks.marks(plan).items(),
    ):
        book.custom_doc_props.append(StringProperty(name=name, value=text))
    if identity:
        book.custom_doc_props.append(StringProperty(name=IDENTITY_MARK, value=identity))
    book.custom_doc_props.append(IntProperty(name="pourbook pieces", value=plan.pieces))
    target.write_bytes(saved(book))


class _Pen:
    """Writes cells; a style is looked up once for each kind of cell and copied from then on."""

    def __init__(self, plan: Layout, entries: Entries) -> None:
        self.plan = plan
        self.entries = entries
        self.printed = {s.sheet for s in plan.book.sheets if s.kind == "print"}
        self.known: dict[tuple[object, ...], Cell] = {}

    def put(self, page: Worksheet, planned: PlannedCell) -> None:
        cell = page.cell(planned.row, planned.column)
        if planned.array:
            cell.value = ArrayFormula(planned.array, planned.formula)
        elif planned.formula:
            cell.value = planned.formula
        elif planned.role in {"entry", "kept"}:
            assert planned.field is not None
            key = (planned.block, planned.field.id, planned.index)
            cell.value = self.entries.get(key, planned.offer or None)
            if key in self.entries and isinstance(cell.value, str) and cell.value[:1] == "=":
                cell.data_type = "s"
        elif planned.value is not None:
            cell.value = planned.value
        if planned.link:
            where = f"{quoted(planned.link)}!A1"
            cell.hyperlink = Hyperlink(ref=planned.address, location=where)
        self._dress(cell, planned)
        if planned.spans > 1:
            # Only the range: openpyxl's own call restyles every cell of it, which takes longer than
            # all else; the first cell carries the style here.
            last = planned.column + planned.spans - 1
            merged = CellRange(None, planned.column, planned.row, last, planned.row)
            page.merged_cells.ranges.add(merged)
        if planned.role == "header" and planned.field and planned.field.help:
            cell.comment = _comment(planned.field, self.plan)

    def _dress(self, cell: Cell, planned: PlannedCell) -> None:
        item = planned.field
        style = planned.style or styles.ROLE_STYLE[planned.role]
        if planned.role == "formula" and planned.sheet in self.printed:
            style = "Label"
        if item and item.required and planned.role == "entry":
            style = "Needed"
        if item and item.emphasis and planned.role == "formula":
            style = "Output"
        shape = number_format(item) if item and planned.role not in _WORDS else "General"
        across = _across(planned)
        wrap = planned.role in {"header", "text"}
        if planned.role == "entry" and item and item.width >= _WRAPPED:
            wrap = True
        grows = bool(item and item.wraps) and planned.role in {"entry", "fill", "formula"}
        tall = item is not None and planned.role in _RESULTS and item.height > 0
        leads = planned.named.startswith("HYPERLINK(")
        key = (style, shape, across, wrap, grows, tall, leads)
        model = self.known.get(key)
        if model is not None:
            cell._style = copy(model._style)
            return
        cell.style = style
        cell.number_format = shape
        if leads:  # as links look, in whatever colour the cell takes
            cell.font = Font(
                name=cell.font.name,
                size=cell.font.size,
                bold=cell.font.bold,
                color=cell.font.color,
                underline="single",
            )
        if across != "general" or wrap or grows:
            card = planned.style.startswith("Card")
            # A row that grows has no height of its own: where a program does not fit it, the first
            # line shows and nothing runs into its neighbours.
            middle = (
                "top" if (grows and not tall) or (planned.role == "text" and not card) else "center"
            )
            cell.alignment = Alignment(
                horizontal=across,
                vertical=middle,
                wrap_text=wrap or grows,
                indent=1 if across == "left" else 0,
            )
        self.known[key] = cell


_RESULTS = {"fill", "formula"}
_WORDS = {"header", "label", "help", "unit", "heading", "note"}


def _across(planned: PlannedCell) -> str:
    if planned.role == "header":
        return "center"
    if planned.role == "unit":
        item = planned.field
        table = item is not None and planned.column > 3
        return "center" if table else "left"
    if planned.role == "check":
        return "center" if planned.block else "left"  # the one on top may run on to its right
    item = planned.field
    if planned.role in {"entry", "kept", "fixed"} and item is not None:
        return "left" if item.kind in TEXT_KINDS else "right"
    if planned.role in {"fill", "formula"} and item is not None:
        return "left" if item.format == "text" else "right"
    return "general"


def _comment(item: Field, plan: Layout) -> Comment:
    text = plan.text(item.help)
    comment = Comment(f"{plan.text(item.header)}: {text}", "Pourbook")
    comment.width, comment.height = 280, 40 + 18 * math.ceil(len(text) / 40)
    return comment


def column_widths(sheet: Sheet) -> dict[int, float]:
    """Return the width of every column a sheet uses, in characters."""
    widths: dict[int, float] = {}
    for block in sheet.blocks:
        for number, item in enumerate(block.all_fields(), start=block.left):
            if block.kind != "table":
                continue
            wanted = item.width or _WIDTHS.get(item.kind, 10.0)
            wanted = max(wanted, len(item.format) + 1.0) if item.of_guest else wanted
            longest = max((len(word) for word in item.header.split()), default=0)
            wanted = max(wanted, longest * _BOLD + 1.0)
            widths[number] = max(widths.get(number, 0.0), wanted)
    return widths | dict(enumerate(sheet.widths, start=1))


def _columns(sheet: Sheet, page: Worksheet) -> None:
    for number, width in column_widths(sheet).items():
        page.column_dimensions[letters(number)].width = width


def _heights(plan: Layout, sheet: Sheet, page: Worksheet) -> None:
    """Give wrapped rows the height they need: a file opened from disk is not refitted."""
    widths = column_widths(sheet)
    lines: dict[int, int] = {}
    for cell in plan.on_sheet[sheet.sheet]:
        if cell.role not in {"header", "text"}:
            continue
        text = str(cell.value or cell.named or "")
        spanned = range(cell.column, cell.column + cell.spans)
        room = sum(widths.get(column, 9.0) for column in spanned) - 1
        if cell.role == "header":
            longest = max((len(word) for word in text.split()), default=0)
            room = max(room * 0.92, longest)
        needed = max(1, math.ceil(len(text) / max(room * _LETTERS_PER_WIDTH, 1)))
        lines[cell.row] = max(lines.get(cell.row, 1), needed)
    for cell in plan.on_sheet[sheet.sheet]:
        tall = cell.role == "entry" and cell.field is not None and cell.field.width >= _WRAPPED
        if tall and plan.block(cell.block).kind == "table":
            lines[cell.row] = _WRAPPED_LINES
    for row, count in lines.items():
        page.row_dimensions[row].height = max(15.0, count * _LINE_POINTS + 3)
    for cell in plan.on_sheet[sheet.sheet]:
        if cell.role in _RESULTS and cell.field is not None and cell.field.height:
            page.row_dimensions[cell.row].height = cell.field.height
    page.row_dimensions[1].height = 24
    for block in sheet.blocks:
        if block.kind == "cards":
            card_sheets.heights(block, plan.places[block.id], page)


def _print(plan: Layout, sheet: Sheet, page: Worksheet) -> None:
    page.print_area = ",".join(print_areas(plan, sheet))
    setup = page.page_setup
    setup.orientation = sheet.paper
    setup.paperSize = 1 if plan.system.name == "us" else 9
    setup.fitToWidth, setup.fitToHeight = 1, int(sheet.one_page)
    page.sheet_properties.pageSetUpPr.fitToPage = True
    if sheet.tab:
        page.sheet_properties.tabColor = styles.PHASES.get(sheet.tab, sheet.tab)
    for block in sheet.blocks:
        if block.new_page:
            page.row_breaks.append(Break(id=plan.places[block.id].top - 1))
    page.page_margins.left = page.page_margins.right = 0.5
    page.page_margins.top = page.page_margins.bottom = 0.7
    if sheet.kind == "print":  # for the client: no word of ours
        page.oddHeader.right.text = "&D"
        page.oddFooter.right.text = "Page &P"
    else:
        page.oddHeader.left.text = plan.book.title
        page.oddHeader.right.text = "&A"
        page.oddFooter.left.text = "&F"
        page.oddFooter.right.text = "Page &P of &N"
    page.sheet_view.showGridLines = sheet.kind == "open"
    if sheet.freeze:
        first = plan.places[sheet.freeze].first
        tables = [b for b in sheet.blocks if b.kind == "table"]
        told = any(b.beside for b in tables)  # what a row lacks stands beside it: headings alone
        names = 3 if sheet.paper == "landscape" else 2
        page.freeze_panes = a1(first, 1 if told else names)
        if all(plan.places[b.id].first == first for b in tables):
            # Over another table these headings would be wrong.
            page.print_title_rows = f"{first - 2}:{first - 1}"


def _protect(sheet: Sheet, page: Worksheet) -> None:
    if sheet.kind == "open":
        return
    page.protection.sheet = True
    page.protection.formatColumns = False
    page.protection.formatRows = False
