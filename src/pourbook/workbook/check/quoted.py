"""The sheet Quoted read back, and the digests that tell whether anything has changed since.

Contract: digests are those of :mod:`pourbook.functions.own.entered`, over what is typed and what
commands wrote. Nothing here changes a file.
"""

from __future__ import annotations

import math
from collections.abc import Mapping

from pourbook.cells import Address, Value, is_blank, text
from pourbook.functions.own import entered
from pourbook.functions.own.entered import canonical, digest
from pourbook.workbook.layout.laid_out import Layout, PlannedCell
from pourbook.workbook.read.named import NamedCells
from pourbook.workbook.read.read import RawBook

SHEET = "Quoted"
OF_THE_DAY = {"revision", "accepted_on", "accepted_by", "change", "seal"}
"""Fields of the form that do not come from the job itself."""
_UNSEALED = {"quoted_sheets", "changes"}
"""Blocks of Quoted that hold the seals, or nothing of their own."""
_FIRST_ROWS = 14
"""Rows of digests templates 1 had: blank or not, they are in the seal; a later one only if not."""
_LATER = {"quoted_steps"}
"""Tables that are blank in what was accepted under templates 1: blank, they have no seal."""

Key = tuple[str, str, int]
Kept = Mapping[Key, Value]


def _line(cell: PlannedCell, content: str) -> str:
    assert cell.field is not None
    return f"{cell.block}.{cell.field.id}.{cell.index}={content!r}"


def sheet_digests(plan: Layout, book: RawBook, values: Mapping[Address, Value]) -> dict[str, str]:
    """Return a digest of the entries of every sheet a quote rests on.

    Args:
        plan: The layout.
        book: The workbook as read.
        values: Its recomputed cells; an entry that is a formula counts by what it gives.
    """
    fill = plan.block("entered").fill
    assert fill is not None
    return entered.sheet_digests(
        _rows(plan, book, values, name) for name in entered.parted(fill.arguments)
    )


def _rows(
    plan: Layout, book: RawBook, values: Mapping[Address, Value], argument: str
) -> list[list[Value]]:
    """Return the cells of a range such as ``{rooms.room:order}``, row by row."""
    block, fields = spanned(plan, argument)
    cells = NamedCells(plan, book, values)
    if plan.block(block).kind == "form":
        return [[cells.value(block, name)] for name in fields]
    return [
        [cells.value(block, name, index) for name in fields]
        for index in range(plan.block(block).rows)
    ]


def spanned(plan: Layout, argument: str) -> tuple[str, list[str]]:
    """Return block and fields of a range such as ``{rooms.room:order}``."""
    block, _, names = argument.strip("{}").partition(".")
    first, _, last = names.partition(":")
    fields = [f.id for f in plan.block(block).columns]
    return block, fields[fields.index(first) : fields.index(last) + 1]


def whole(digests: Mapping[str, str]) -> str:
    """Return one digest over others."""
    return digest([f"{name}={digest}" for name, digest in digests.items()])


def kept(plan: Layout, book: RawBook) -> dict[Key, Value]:
    """Return what commands have written on Quoted, without the blank cells."""
    sheet = book.sheets.get(SHEET)
    found = {}
    for key, cell in plan.kept_at.items():
        value = sheet.value(cell.address) if sheet and cell.sheet == SHEET else None
        if not is_blank(value):
            found[key] = value
    return found


def tables(plan: Layout) -> dict[str, str]:
    """Return the titles of the sealed tables of Quoted by block id."""
    declared = next(s for s in plan.book.sheets if s.sheet == SHEET)
    return {b.id: plan.text(b.title) for b in declared.blocks if b.id not in _UNSEALED}


def table_seals(plan: Layout, figures: Kept) -> dict[str, str]:
    """Return a digest of each table of Quoted, by its title."""
    lines: dict[str, list[str]] = {block: [] for block in tables(plan)}
    for key, cell in plan.kept_at.items():
        content = canonical(figures.get(key))
        if key[0] in lines and key[:2] != ("quoted", "seal") and content:
            lines[key[0]].append(_line(cell, content))
    named = tables(plan).items()
    return {
        title: digest(lines[block]) for block, title in named if lines[block] or block not in _LATER
    }


def seal(plan: Layout, figures: Kept) -> str:
    """Return the digest of all that commands have written on Quoted, the seal itself left out."""
    stored = {
        f"{key[1]}.{key[2]}": canonical(figures.get(key))
        for key in plan.kept_at
        if key[0] == "quoted_sheets" and (key[2] < _FIRST_ROWS or key in figures)
    }
    return whole({**table_seals(plan, figures), **stored})


def listed(figures: Kept, rows: int) -> dict[str, str]:
    """Return the digests stored on Quoted by the name of their sheet or table."""
    return {
        text(figures.get(("quoted_sheets", "name", row))): text(
            figures.get(("quoted_sheets", "digest", row))
        )
        for row in range(rows)
        if ("quoted_sheets", "name", row) in figures
    }


def close(one: Value, two: Value) -> bool:
    """Return whether two figures are the same to 1e-9, two texts to their last letter."""
    numbers = isinstance(one, int | float) and isinstance(two, int | float)
    if numbers and not isinstance(one, bool) and not isinstance(two, bool):
        return math.isclose(float(one or 0), float(two or 0), rel_tol=1e-9, abs_tol=1e-9)
    return canonical(one) == canonical(two)
