"""What looks otherwise than it is: formats that hide a value, hidden rows, white on white.

Contract: pure; one finding a sheet and kind, at the first cell. On a sheet to hand over it is a
fault, for a person reads what is printed; elsewhere it is to be looked at. What the template itself
makes is never found.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from pourbook.formats.ooxml.addresses import LAST_ROW, areas_named
from pourbook.formats.ooxml.lines import lines_not, lines_of, resting_on, told
from pourbook.formats.ooxml.palette import WHITE
from pourbook.workbook.build.print_ends import counting, print_ends
from pourbook.workbook.check.findings import Finding
from pourbook.workbook.check.number_shown import hides, inks, needs_own
from pourbook.workbook.check.seen import SMALLEST, held, is_faint, is_shown, lies_in, planned_format
from pourbook.workbook.check.sheet_appearance import of_the_whole
from pourbook.workbook.layout.laid_out import Layout, PlannedCell
from pourbook.workbook.layout.references import quoted
from pourbook.workbook.layout.shown import print_areas
from pourbook.workbook.read.read import RawBook, RawSheet
from pourbook.workbook.read.sheet_lines import RawCell
from pourbook.workbook.read.visible import Style
from pourbook.workbook.template.template import Sheet

_NAMED = 7
"""Where the first of the colours a number format may number stands in the palette."""


def check_appearance(plan: Layout, book: RawBook) -> Iterator[Finding]:
    """Report what of a workbook looks otherwise than it is.

    A books copy folds rows away that nothing is typed or worked out in, and prints none of them.

    Args:
        plan: Its layout.
        book: The workbook as read.
    """
    ends = print_ends(plan, lambda sheet, at: book.sheets[sheet].value(at)) if book.copy_of else {}
    for declared in plan.book.sheets:
        sheet = book.sheets.get(declared.sheet)
        if sheet is None or declared.kind == "open":
            continue
        kind = "appearance.lies" if declared.kind == "print" else "appearance.look"
        end = ends.get(declared.sheet, LAST_ROW)
        for address, what, mend in _of_sheet(plan, book, declared, sheet, end):
            yield Finding(kind, book.path.name, sheet.name, address, what, mend)


def _of_sheet(
    plan: Layout, book: RawBook, declared: Sheet, sheet: RawSheet, end: int
) -> Iterator[tuple[str, str, str]]:
    first: dict[str, tuple[str, str, str]] = {}
    rows = plan.in_row[sheet.name]
    look, by = f"looks as planned {sheet.name}", resting_on(plan.mark, book.looks)
    folds = bool(sheet.look.rows or sheet.look.columns)
    plain: set[tuple[int, int]] = set()
    copied = bool(book.copy_of) and folds
    spared = _spared(plan, declared) if copied else set()
    for line in lines_of(sheet.cells) if folds else lines_not(sheet.cells, look, by):
        planned = rows.get(line.number, {})
        if not folds and told(line, look, by, _is_calm, planned, book, plain):
            line.known[look] = by
            continue
        calm = True
        for cell in planned.values():
            raw = line.cells.get(cell.address)
            if raw is None or not is_shown(cell, raw):
                continue
            by_copy = copied and (raw.value is None or cell.address in spared)
            said = _hidden(plan, book, cell, raw) or (None if by_copy else _folded(cell, sheet))
            if said:
                calm = False
                first.setdefault(said[0], (cell.address, *said))
        if calm and not folds:
            line.known[look] = by
    yield from first.values()
    yield from _left_out(plan, book, declared, sheet, end)
    yield from of_the_whole(plan, book, declared, sheet)


def _is_calm(
    held: Mapping[str, RawCell],
    planned: Mapping[str, PlannedCell],
    book: RawBook,
    plain: set[tuple[int, int]],
) -> bool:
    """Return whether the looks of a row hide no value, whatever its cells hold.

    Args:
        held: Its cells.
        planned: The cells of the template in it.
        book: The workbook, for its styles.
        plain: The looks that were found so, with the field each was for; it is added to.
    """
    for address, raw in held.items():
        cell = planned.get(address)
        if cell is None or cell.role == "unit":
            continue
        seen = (raw.style, id(cell.field))
        if seen not in plain:
            if not _is_plain(cell, book, book.style(raw.style)):
                return False
            plain.add(seen)
    return True


def _is_plain(cell: PlannedCell, book: RawBook, style: Style) -> bool:
    """Return whether a look hides no value, whatever it is."""
    planned = planned_format(cell)
    fits = style.format == planned or (style.format == "General" and not needs_own(planned))
    return fits and not _is_odd(book, style)


def _hidden(plan: Layout, book: RawBook, cell: PlannedCell, raw: RawCell) -> tuple[str, str] | None:
    style, mend = book.style(raw.style), "give the cell back the look of those beside it"
    if style.format != (planned := planned_format(cell)):
        unit = plan.unit(cell.field.unit) if cell.field else ""
        if hides(style.format, held(raw), planned, unit):
            return f"its number format '{style.format}' shows another value than it holds", mend
    said = _is_odd(book, style)
    return (said, mend) if said else None


def _is_odd(book: RawBook, style: Style) -> str:
    """Return what is odd about a look, whatever the cell holds; nothing where it is not."""
    named = [*inks(style.format), *((style.ink,) if style.ink else ())]
    if any(is_faint(_by_name(book, ink), style.papers) for ink in named):
        return "its words have the colour of what they stand on"
    if style.size < SMALLEST:
        return "its letters are too small to read"
    return style.odd


def _by_name(book: RawBook, ink: str) -> str | None:
    """Return a colour as RRGGBB; a number format may give its number."""
    return book.looks.palette.by_number(_NAMED + int(ink)) if len(ink) < len(WHITE) else ink


def _spared(plan: Layout, declared: Sheet) -> set[str]:
    """Return the cells of a sheet's tables that a books copy may fold away with their rows."""
    tables = [block for block in declared.blocks if block.kind == "table"]
    below = {
        cell.address
        for block in tables
        for cell in plan.in_block[block.id]
        if cell.row > plan.places[block.id].first
    }
    return below - {cell.address for block in tables for cell in counting(plan, declared, block)}


def _folded(cell: PlannedCell, sheet: RawSheet) -> tuple[str, str] | None:
    if cell.row in sheet.look.rows:
        return "a row that holds something is hidden", "show the row"
    if any(first <= cell.column <= last for first, last in sheet.look.columns):
        return "a column that holds something is hidden", "show the column"
    return None


def _left_out(
    plan: Layout, book: RawBook, declared: Sheet, sheet: RawSheet, end: int
) -> Iterator[tuple[str, str, str]]:
    """Give the first cell that should print and does not; only of a sheet to hand over."""
    said = book.prints.get(declared.sheet, "")
    if declared.kind != "print" or not said:
        return
    name = quoted(declared.sheet)
    wanted = ",".join(f"{name}!{area}" for area in print_areas(plan, declared))
    should, does = ([area[1:] for area in areas_named("=" + one)] for one in (wanted, said))
    for cell in plan.on_sheet[declared.sheet] if should != does else ():
        raw = sheet.cells.get(cell.address)
        if raw is None or not is_shown(cell, raw) or not lies_in(cell, should):
            continue
        if cell.row <= end and not lies_in(cell, does):
            mend = "set the print range back to all of the sheet's pages"
            yield cell.address, "the print range leaves something out", mend
            return
