"""Writes entries into a person's own workbook, and fresh values beside its formulas.

Contract: :func:`fill` changes the cells it is told to and the stored values of formulas, and
nothing else of the package: looks, macros and whatever else was typed stay. The file is replaced in
one step, so that a failure leaves the old one as it was.
"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Mapping
from pathlib import Path

from openpyxl.utils.datetime import to_excel

from pourbook.cells import Address, Value
from pourbook.formats import files
from pourbook.formats.held import held
from pourbook.formats.ooxml import calc_chain, rewrite
from pourbook.formats.ooxml.copying import copied
from pourbook.hosts import headless
from pourbook.workbook.layout.laid_out import Layout
from pourbook.workbook.read.read import KINDS, formula_cells, read_book

Entry = tuple[str, str, int]
"""Block, field and row (0 in a form) of a cell that is typed or written by a command."""


def fill(
    path: Path, target: Path, entries: Mapping[Entry, object], *, force: bool
) -> Mapping[Address, Value]:
    """Write entries into a workbook and recompute it.

    Args:
        path: The workbook.
        target: The file to write; the workbook itself to change it in place.
        entries: What to put where; None blanks a cell, a date becomes a day number.
        force: Whether an existing file may be replaced.

    Returns:
        The values of all computed cells.

    Raises:
        FileUnreadableError: The workbook cannot be read, or a file is open elsewhere.
        UsageError: The target exists.
        KeyError: The layout has no such entry.
    """
    files.refuse_unless_free(target, force=force)
    with held(target):
        return _fill(path, target, entries, force=force)


def _fill(
    path: Path, target: Path, entries: Mapping[Entry, object], *, force: bool
) -> Mapping[Address, Value]:
    book = read_book(path)
    placed = _placed(book.plan(*KINDS), entries)
    wanted = formula_cells(book)
    values: dict[Address, Value] = {}

    def write(temporary: Path) -> None:
        bare = temporary.with_name(temporary.stem + "-typed.xlsx")
        try:
            _type(path, bare, placed)
            values.update(headless.engine("fast").recompute(bare, wanted).values)
            rewrite.inject(bare, temporary, values)
        finally:
            bare.unlink(missing_ok=True)

    files.replace_file(target, write, force=force)
    return values


def _placed(plan: Layout, entries: Mapping[Entry, object]) -> dict[str, dict[str, Value]]:
    """Return what goes into which cell, by sheet and address."""
    placed: dict[str, dict[str, Value]] = defaultdict(dict)
    for key, content in entries.items():
        cell = plan.entry_at.get(key) or plan.kept_at[key]
        placed[cell.sheet][cell.address] = _stored(content)
    return placed


def _stored(content: object) -> Value:
    """Return what a cell stores for a typed value."""
    if isinstance(content, dt.datetime | dt.date):
        return float(to_excel(content))
    if content is None or isinstance(content, str | bool | int | float):
        return content
    raise TypeError(f"a cell cannot hold {content!r}")


def _type(source: Path, target: Path, placed: Mapping[str, Mapping[str, Value]]) -> None:
    parts = rewrite.sheet_parts(source)

    def edit(part: str, content: bytes) -> bytes | None:
        kept = calc_chain.without(part, content)  # an entry that was a formula is a value now
        values = placed.get(parts.get(part, ""))
        if kept is None or not values:
            return kept
        return rewrite.with_values(kept, values)

    copied(source, target, edit, packed=False)  # it lives for a second
