"""Says whether the accepted quote still stands: figures changed by hand, entries changed since.

Contract: reads only. A figure changed by hand is named by comparing with what the same entries give
now; where the entries have changed as well, only its table can be named.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from pourbook.cells import Address, Value, is_blank, text
from pourbook.errors import PourbookError
from pourbook.functions.own.entered import RESTS_ON
from pourbook.workbook.check import quoted
from pourbook.workbook.check.findings import Finding
from pourbook.workbook.check.frozen import frozen
from pourbook.workbook.check.quoted import Kept
from pourbook.workbook.check.structure import describe
from pourbook.workbook.layout.laid_out import Layout, PlannedCell
from pourbook.workbook.read.named import NamedCells
from pourbook.workbook.read.read import RawBook


def check_quoted(plan: Layout, book: RawBook, values: Mapping[Address, Value]) -> Iterator[Finding]:
    """Report figures of Quoted changed by hand, and entries changed since it was accepted.

    Args:
        plan: The layout.
        book: The workbook as read.
        values: Its recomputed cells.
    """
    figures = quoted.kept(plan, book)
    if not figures:
        return
    yield from _sealed(plan, book, figures, values)
    if is_blank(figures.get(("quoted", "digest", 0))):
        return
    now = quoted.sheet_digests(plan, book, values)
    if quoted.whole(now) == text(figures["quoted", "digest", 0]):
        return
    stored = quoted.listed(figures, plan.block("quoted_sheets").rows)
    names = [name for name in RESTS_ON if stored.get(name) != now[name]]
    if not names:
        return  # not the entries, but their digest was changed: the seal has told it
    moved = [
        text(figures.get((block, name, row)))
        for block, name in (("quoted_lines", "item"), ("quoted_products", "product"))
        for row in range(plan.block(block).rows)
        if NamedCells(plan, book, values).value(block, "changed", row) == "changed"
    ]
    what = f"entries changed on {', '.join(names)} since the quote was accepted"
    what += f"; so did {moved[0]} and {len(moved)} figures in all" if moved else "; no figure moved"
    mend = f"undo it, or make it a new revision: pourbook accept {book.path.name}"
    cell = plan.cell("quoted", "digest")
    yield Finding("quoted.changed", book.path.name, cell.sheet, cell.address, what, mend)


def _sealed(
    plan: Layout, book: RawBook, figures: Kept, values: Mapping[Address, Value]
) -> Iterator[Finding]:
    """Report what was changed by hand, each cell by its name where that can be told."""
    if quoted.seal(plan, figures) == text(figures.get(("quoted", "seal", 0))):
        return
    stored = quoted.listed(figures, plan.block("quoted_sheets").rows)
    seals = quoted.table_seals(plan, figures)
    titles = quoted.tables(plan)
    broken = [block for block, title in titles.items() if seals.get(title) != stored.get(title)]
    mend = f"put it back, or accept anew: pourbook accept {book.path.name}"

    def finding(cell: PlannedCell, what: str) -> Finding:
        return Finding("quoted.sealed", book.path.name, cell.sheet, cell.address, what, mend)

    named = list(_other_figures(plan, figures, values, book, broken))
    for cell, should in named:
        was = f"; it was {text(should) or 'blank'}"
        yield finding(cell, f"{describe(plan, cell)} was changed by hand{was}")
    told = {cell.block for cell, _ in named}
    left = [block for block in broken if block not in told]
    for block in left:
        kept_cells = (c for c in plan.kept_at.values() if c.block == block)
        first = next(kept_cells, plan.cell("quoted", "seal"))
        yield finding(first, f"a figure of '{titles[block]}', or its digest, was changed by hand")
    if not broken:
        what = "a digest of this sheet was changed by hand"
        yield finding(plan.cell("quoted", "seal"), what)


def _other_figures(
    plan: Layout,
    figures: Kept,
    values: Mapping[Address, Value],
    book: RawBook,
    broken: list[str],
) -> Iterator[tuple[PlannedCell, Value]]:
    """Return cells that differ from what the same entries give now, and what they were."""
    digest = text(figures.get(("quoted", "digest", 0)))
    if quoted.whole(quoted.sheet_digests(plan, book, values)) != digest:
        return  # the entries have changed too: what the figures were is not known any more
    try:
        fresh = frozen(plan, book, values, text(figures.get(("quoted", "option", 0))))
    except PourbookError:
        return
    for key, cell in plan.kept_at.items():
        block, name, _ = key
        if block not in broken or block.startswith("revision") or name in quoted.OF_THE_DAY:
            continue
        if not quoted.close(figures.get(key), fresh.get(key)):
            yield cell, fresh.get(key)
