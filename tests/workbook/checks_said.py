"""What the checks of a recomputed workbook say: for the tests that plant faults.

Contract: reads the values of the cells; every check must say OK or CHECK, or the test fails.
"""

from __future__ import annotations

from collections.abc import Mapping

from pourbook.cells import Address, Value
from pourbook.workbook.layout.laid_out import Layout
from pourbook.workbook.template.template import load_book


def required(book: str) -> list[tuple[str, str, int]]:
    """Return the entries of the forms of a book that must be filled in."""
    return [
        (block.id, item.id, 0)
        for sheet in load_book(book).sheets
        for block in sheet.blocks
        for item in block.columns
        if block.kind == "form" and item.required
    ]


def wanted(layout: Layout) -> list[Address]:
    """Return the cells an engine has to work out."""
    return [(c.sheet, c.address) for c in layout.cells if c.formula or c.fill]


def fired(layout: Layout, values: Mapping[Address, Value]) -> set[str]:
    """Return the checks that say CHECK; every other must say OK."""
    found = set()
    for index, check in enumerate(layout.block("checks").checks):
        cell = layout.cell("checks", "result", index)
        said = values[cell.sheet, cell.address]
        assert said in {"OK", "CHECK"}, f"{cell.sheet}!{cell.address} ({check.id}) says {said!r}"
        if said == "CHECK":
            found.add(check.id)
    return found


def overall(layout: Layout, values: Mapping[Address, Value]) -> Value:
    """Return what stands at the top of every sheet."""
    cell = layout.cell("overall", "overall")
    return values[cell.sheet, cell.address]
