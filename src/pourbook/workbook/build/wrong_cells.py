"""Colours the very cell a status names: its words begin with the heading of the column.

Contract: one rule a column of entries, native conditional formatting; the words of the status stay
the signal. A table whose rows are worked out on another sheet is coloured by the status there.
"""

from __future__ import annotations

from openpyxl.formatting.rule import FormulaRule
from openpyxl.styles import Font, PatternFill
from openpyxl.worksheet.worksheet import Worksheet

from pourbook.functions.catalogue import catalogue
from pourbook.workbook.layout.laid_out import Layout, PlannedCell
from pourbook.workbook.layout.references import quoted
from pourbook.workbook.template import styles
from pourbook.workbook.template.template import Block, Sheet


def add(plan: Layout, sheet: Sheet, page: Worksheet) -> None:
    """Add the rules of one sheet."""
    for block in sheet.blocks:
        told = [plan.cell(*one) for one in _statuses(plan, block)] if block.kind == "table" else []
        for item in block.columns if told else ():
            first = plan.cell(block.id, item.id)
            if first.role != "entry":
                continue
            said = f"! {plan.text(item.header)}".replace('"', '""')
            names = [f'LEFT({_place(first, one)},{len(said)})="{said}"' for one in told]
            rule = FormulaRule(
                formula=[f"OR({','.join(names)})"],
                font=Font(bold=True, color=styles.ALARM_INK),
                fill=PatternFill(bgColor=styles.ALARM_PAPER, fill_type="solid"),
            )
            last = plan.cell(block.id, item.id, block.rows - 1)
            page.conditional_formatting.add(f"{first.address}:{last.address}", rule)


def _statuses(plan: Layout, block: Block) -> list[tuple[str, str]]:
    """Return the columns of statuses, by table and field, whose rows are those of a table."""
    found = []
    for other in plan.book.blocks.values():
        if other.fill is None or other.rows != block.rows or catalogue()[other.fill.function].rows:
            continue
        own = any(item.is_typed for item in other.columns)
        if (other.id if own else _first(other)) != block.id:
            continue
        found += [
            (other.id, item.id)
            for item in other.fill.columns
            if item.id.endswith("status") and not item.of_guest
        ]
    return found


def _first(block: Block) -> str:
    """Return the table whose entries a table is worked out from, row by row."""
    assert block.fill is not None
    name, _, part = block.fill.arguments[0].strip("{}").partition(".")
    return name if part == "entries" else ""


def _place(first: PlannedCell, status: PlannedCell) -> str:
    """Return a status as a rule names it: its column is fixed, its row goes along."""
    sheet = "" if status.sheet == first.sheet else f"{quoted(status.sheet)}!"
    return f"{sheet}${status.address}"
