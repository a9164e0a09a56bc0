"""Lays a book out: places every block on its sheet and gives every cell its address and formula.

Contract: :func:`plan` is a pure function of the book, the measure system and the number of rows;
it opens no file and knows no spreadsheet library. The same plan serves the builder, the reader, the
check and ``explain``, so a cell has one address everywhere.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from functools import lru_cache

from pourbook.compiled import kept
from pourbook.units import SYSTEMS, System
from pourbook.workbook.layout.blocks import block_cells, card_spots, map_rows
from pourbook.workbook.layout.laid_out import Layout, Place, PlannedCell
from pourbook.workbook.layout.references import expanded, resolve
from pourbook.workbook.template import released
from pourbook.workbook.template.template import Book, Sheet, load_book

FIRST_BLOCK_ROW = 5
BESIDE = ("print", "text")
CHART_ROWS = 17
LIVE = "PB_LIVE("
_NAME = re.compile(r"\{([^{}]+)\}")


@lru_cache(maxsize=16)
def lay_out(book_name: str, system: str, pieces: int, version: str = released.CURRENT) -> Layout:
    """Lay out a book of the template folder.

    Args:
        book_name: Folder of the templates, such as ``"job"``.
        system: ``"us"``, ``"imperial"`` or ``"metric"``.
        pieces: Rows of the tables that grow with the job.
        version: Of the templates; those in the folder if left out.

    Raises:
        TemplateError: A formula names something that is not there.
    """

    def make() -> Layout:
        plan = plan_book(load_book(book_name, version), SYSTEMS[system], pieces, version)
        assert plan.fingerprint  # kept with the rest
        assert plan.program
        return plan

    return kept(f"layout {book_name} {system} {pieces} {version}", make)


def plan_book(book: Book, system: System, pieces: int, version: str = released.CURRENT) -> Layout:
    """Lay out a book that is already read."""
    grown = tuple(
        replace(
            sheet,
            blocks=tuple(
                replace(b, rows=pieces * b.grows_by) if b.grows else b for b in sheet.blocks
            ),
        )
        for sheet in book.sheets
    )
    book = replace(book, sheets=grown)
    result = Layout(book, system, pieces, version)
    for sheet in book.sheets:
        _place(result, sheet)
    for sheet in book.sheets:
        result.cells.extend(_cells(result, sheet))
    _work_out_on_load(result)
    return result


def _work_out_on_load(result: Layout) -> None:
    """Make every cell that rests on whether functions are live an array formula of one cell.

    LibreOffice works array formulas out when it loads a file, and shows stored values elsewhere.
    Mix cards stay as they are: in cells that span others no array formula is allowed.
    """
    said: set[str] = {LIVE}
    found = 0
    named = {
        number: _named(expanded(result, cell.named), cell.block)
        for number, cell in enumerate(result.cells)
        if cell.named and not cell.fill and not cell.array
    }
    while len(said) > found:
        found = len(said)
        resting = [number for number, names in named.items() if not said.isdisjoint(names)]
        for number in resting:
            del named[number]
            cell = result.cells[number]
            if cell.block and result.block(cell.block).kind == "cards":
                continue
            result.cells[number] = cell.but(array=cell.address)
            if cell.field is not None:
                said.add(f"{cell.block}.{cell.field.id}")
            elif cell.role == "check" and cell.block:
                said.add(f"{cell.block}.on.{result.block(cell.block).checks[cell.index].sheet}")


@lru_cache(maxsize=4096)
def _named(formula: str, block: str) -> frozenset[str]:
    """Return the fields a formula names, and :data:`LIVE` where it asks whether functions are."""
    found = {LIVE} if LIVE in formula else set()
    for name in _NAME.findall(formula):
        parts = (f"{block}.{name[1:]}" if name.startswith("@") else name).split(".")
        found.add(".".join(parts[: 3 if parts[1:2] == ["on"] else 2]))
    return frozenset(found)


def _place(result: Layout, sheet: Sheet) -> None:
    row = FIRST_BLOCK_ROW - (2 if sheet.kind in BESIDE else 0)
    for block in sheet.blocks:
        below = row
        top = row = result.places[block.beside].top if block.beside else row
        row += (1 if block.title else 0) + (1 if block.note else 0)
        names = [f.id for f in block.all_fields()]
        columns: dict[str, int] = {}
        rows: dict[str, int] = {}
        spots: dict[str, tuple[int, int]] = {}
        first, step = row, 0
        if block.kind == "table":
            first = row + 2
            columns = {n: i + block.left for i, n in enumerate(names)}
            size = block.rows
        elif block.kind in {"form", "lines"}:
            first = row + (1 if block.kind == "lines" else 0)
            rows = {n: first + i for i, n in enumerate(names)}
            size = len(names)
        elif block.kind == "cards":
            spots = card_spots(block, first)
            step = 2 + max(at for at, _ in spots.values()) - first
            size = step * block.rows
        elif block.kind == "checks":
            first = row + 1
            columns = {"label": 1, "result": 2, "sheet": 3, "mend": 4}
            size = len(block.checks)
        elif block.kind == "chart":
            size = block.rows or CHART_ROWS
        elif block.kind == "map":
            size = map_rows(result.book)
        elif block.kind == "functions":
            first = row + 1
            size = len(released.listed_functions(result.version))
        else:
            size = len(block.text)
        last = first + size - 1
        at = (columns, rows, top, spots, step, block.left)
        result.places[block.id] = Place(sheet.sheet, first, last, *at)
        row = first + size + 1
        if block.beside:
            row = max(row, below)


def _cells(result: Layout, sheet: Sheet) -> Iterator[PlannedCell]:
    def here(row: int, column: int, role: str, **more: object) -> PlannedCell:
        return PlannedCell.at(sheet.sheet, row, column, role, **more)

    home = result.book.sheets[0].sheet
    named = _badge(result.book)
    yield here(1, 1, "title", value=result.text(sheet.title))
    # A sheet to hand over prints neither check nor purpose: they stand beside the printed part.
    beside = sheet.kind in BESIDE
    row, column = (1, 2 + len(sheet.widths)) if beside else (3, 1)
    purpose = here(2, column if beside else 1, "purpose")
    yield purpose.but(value=result.text(sheet.purpose))
    yield here(row, column, "label", value="Checks")
    overall = here(row, column + 1, "check")
    yield overall.but(formula=resolve(result, named, overall), named=named)
    if sheet.sheet != home:
        # Below a check that leads somewhere, so that nothing to its right cuts it off.
        spot = (row, column + 2) if named == _told(result.book) else (row + 1 + beside, column)
        yield here(*spot, "link", value=f"Back to {home}", link=home)
    for item in sheet.blocks:
        place = result.places[item.id]
        if item.title:
            yield here(
                place.top, place.left, "heading", value=result.text(item.title), block=item.id
            )
        if item.note:
            row = place.top + (1 if item.title else 0)
            yield here(row, place.left, "note", value=result.text(item.note), block=item.id)
        for cell in block_cells(result, sheet, item):
            yield _solved(result, cell)


def _badge(book: Book) -> str:
    """Return what the check at the top of a sheet says: a link, where the book knows to where."""
    block, _, _ = book.overall.partition(".")
    if all(item.id != "at" for item in book.block(block).columns):
        return _told(book)
    return f'HYPERLINK("#"&{{{block}.at}},{_told(book)})'


def _told(book: Book) -> str:
    return "{" + book.overall + "}"


def _solved(result: Layout, cell: PlannedCell) -> PlannedCell:
    """Give a cell its A1 formula once its place is known."""
    if cell.named:
        return cell.but(formula=resolve(result, cell.named, cell))
    if cell.role == "entry" and cell.field is not None and cell.field.offers:
        return cell.but(offer=resolve(result, cell.field.offers, cell))
    return cell
