"""How a plan shows its cells: their number formats, and which parts of a sheet print.

Contract: pure; the builder writes it, and the check holds a file against it.
"""

from __future__ import annotations

from pourbook.formats.ooxml.addresses import a1
from pourbook.workbook.layout.laid_out import Layout
from pourbook.workbook.template.template import Field, Sheet

WITHHELD = ";".join(['"see Checks"'] * 4)
"""The number format of what is withheld until all checks are ok: words, whatever the cell holds."""
_FORMATS = {"date": "yyyy-mm-dd", "number": "#,##0.00", "formula": "#,##0.00", "index": "0"}


def number_format(item: Field) -> str:
    """Return the number format of a field: its own, or the usual one of its kind."""
    if item.format == "text":
        return "General"
    if item.format:
        return item.format
    if item.kind in {"measure", "ratio", "text"}:
        return "@"  # a typed 3/4 must not become a date, a typed 4:1 no time of day
    return _FORMATS.get(item.kind, "General")


def print_areas(plan: Layout, sheet: Sheet) -> list[str]:
    """Return the printed parts of a sheet from top to bottom, without the columns aside.

    A table whose columns aside begin within the width of the sheet is a part of its own.

    Example:
        >>> from pourbook.workbook.layout.lay_out import lay_out
        >>> job = lay_out("job", "us", 20)
        >>> print_areas(job, job.book.sheets[0])[0].partition(":")[0]
        'A1'
    """
    # first row, last row, width, whether it is a part of its own
    parts: list[tuple[int, int, int, bool]] = []
    for block in sheet.blocks:
        last, width = plan.places[block.id].last, sheet.wide
        own = len(block.all_fields()) > len(block.printed_fields()) and block.reach < width
        width = block.reach if own else width
        top = plan.places[block.id].top if parts else 1
        if parts and not own and not parts[-1][3]:
            top, earlier, _, _ = parts.pop()
            last = max(last, earlier)  # one beside another may end above it
        parts.append((top, last, width, own))
        if block.id == sheet.prints_to:
            break
    return [f"A{top}:{a1(last, width)}" for top, last, width, _ in parts]
