"""Says what of a sheet is empty and need not print: below its last card or row in use.

Contract: a print area ends below the last printed blocks of a sheet, and is only ever shortened;
of the tables above, rows beyond the last used one and a few more are named to hide. In a table one
types into, on a sheet for typing, a row is in use where something typed or something a function
gave stands in it; in any other, and on a card, where a formula shows something, too. The first row
or card is always kept. For copies whose values stay as they are: in a job that still changes, a
print area made from values would cut off what is added later.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping

from lxml import etree

from pourbook.workbook.layout.laid_out import Layout, PlannedCell
from pourbook.workbook.template.template import Block, Sheet

_Q = "{http://schemas.openxmlformats.org/spreadsheetml/2006/main}"
_LAST_ROW = re.compile(r"\d+$")


def print_ends(plan: Layout, value: Callable[[str, str], object]) -> dict[str, int]:
    """Return the last row to print of every sheet whose last block has an empty tail.

    Args:
        plan: The laid-out book.
        value: Gives what a cell shows, by sheet and address; None or "" if nothing.

    Returns:
        Sheet name to row number, counted from 1.
    """
    ends = {}
    for sheet in plan.book.sheets:
        end = _end(plan, sheet, value)
        if end:
            ends[sheet.sheet] = end
    return ends


def empty_tails(
    plan: Layout, value: Callable[[str, str], object], keep: int
) -> dict[str, set[int]]:
    """Return the rows below the last used one of every table, from top to bottom of each sheet.

    Args:
        plan: The laid-out book.
        value: Gives what a cell shows, by sheet and address; None or "" if nothing.
        keep: How many rows below the last used one are not named.

    Returns:
        Sheet name to row numbers, counted from 1; a row that another block needs is not among them.
    """
    found: dict[str, set[int]] = {}
    for sheet in plan.book.sheets:
        empty: set[int] = set()
        needed: set[int] = set()
        for block in _printed(sheet):
            place = plan.places[block.id]
            if block.kind == "table":
                first = _used(plan, sheet, block, value) + keep + 1
                empty |= set(range(first, place.last + 1))
                needed |= set(range(place.top, first))
            else:
                needed |= set(range(place.top, place.last + 1))
        if empty - needed:
            found[sheet.sheet] = empty - needed
    return found


def _printed(sheet: Sheet) -> tuple[Block, ...]:
    ids = [block.id for block in sheet.blocks]
    return sheet.blocks[: ids.index(sheet.prints_to) + 1] if sheet.prints_to else sheet.blocks


def _end(plan: Layout, sheet: Sheet, value: Callable[[str, str], object]) -> int:
    blocks = _printed(sheet)
    last = max(plan.places[b.id].last for b in blocks)
    lowest = [block for block in blocks if plan.places[block.id].last == last]
    if any(block.kind not in {"table", "cards"} for block in lowest):
        return 0
    used = max(_used(plan, sheet, block, value) for block in lowest)
    others = (plan.places[b.id].last for b in blocks if b not in lowest)
    end = max(used, *others, 0)
    return end if end < last else 0


def _used(plan: Layout, sheet: Sheet, block: Block, value: Callable[[str, str], object]) -> int:
    """Return the last row of a table or of cards that is in use."""
    place = plan.places[block.id]
    used = place.first
    for cell in counting(plan, sheet, block):
        if value(cell.sheet, cell.address) not in {None, ""}:
            used = max(used, cell.row)
    if block.kind == "cards":  # whole cards only
        used = place.first + ((used - place.first) // place.step + 1) * place.step - 1
    return used


def counting(plan: Layout, sheet: Sheet, block: Block) -> list[PlannedCell]:
    """Return the cells of a table or of cards whose rows are in use where they show something."""
    cells = [cell for cell in plan.in_block[block.id] if cell.row >= plan.places[block.id].first]
    # Where one types, formulas number rows that are blank else.
    typed = sheet.kind == "entry" and any(cell.role == "entry" for cell in cells)
    return [c for c in cells if c.role in {"entry", "fill"} or (c.formula and not typed)]


def hidden(root: etree._Element, rows: set[int]) -> None:
    """Hide rows of a sheet.

    Args:
        root: The part of the sheet; changed in place.
        rows: Their numbers, counted from 1.
    """
    for row in root.iter(_Q + "row"):
        if int(row.get("r", "0")) in rows:
            row.set("hidden", "1")


def shorten(root: etree._Element, ends: Mapping[str, int]) -> None:
    """End the print areas in a workbook part at the given rows.

    Args:
        root: The part ``xl/workbook.xml``; changed in place.
        ends: Last row to print, by sheet name.
    """
    names = [sheet.get("name", "") for sheet in root.iter(_Q + "sheet")]
    for name in root.iter(_Q + "definedName"):
        if name.get("name") == "_xlnm.Print_Area":
            end = ends.get(names[int(name.get("localSheetId", "0"))])
            if end:
                name.text = _LAST_ROW.sub(str(end), name.text or "")
