"""Says where the print of a sheet ends that is empty below: at its last card or row in use.

Contract: looks only at the last printed block of a sheet, and only ever shortens. In a table one
types into, on a sheet for typing, a row is in use where something typed or something a function
gave stands in it; in any other, and on a card, where a formula shows something, too. The first row
or card is always kept. For copies whose values stay as they are: in a job that still changes, a
print area made from values would cut off what is added later.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping

from lxml import etree

from pourbook.workbook.layout.laid_out import Layout
from pourbook.workbook.template.template import Sheet

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


def _end(plan: Layout, sheet: Sheet, value: Callable[[str, str], object]) -> int:
    ids = [block.id for block in sheet.blocks]
    blocks = sheet.blocks[: ids.index(sheet.prints_to) + 1] if sheet.prints_to else sheet.blocks
    block = max(blocks, key=lambda b: plan.places[b.id].last)
    if block.kind not in {"table", "cards"}:
        return 0
    place = plan.places[block.id]
    cells = [cell for cell in plan.cells if cell.block == block.id and cell.row >= place.first]
    # Where one types, formulas number rows that are blank else.
    typed = sheet.kind == "entry" and any(cell.role == "entry" for cell in cells)
    used = place.first
    for cell in cells:
        counts = cell.role in {"entry", "fill"} or (cell.formula and not typed)
        if counts and value(cell.sheet, cell.address) not in {None, ""}:
            used = max(used, cell.row)
    if block.kind == "cards":  # whole cards only
        used = place.first + ((used - place.first) // place.step + 1) * place.step - 1
    others = (plan.places[b.id].last for b in blocks if b is not block)
    end = max(used, *others, 0)
    return end if end < place.last else 0


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
