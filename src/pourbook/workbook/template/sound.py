"""What a declared book has to be, beyond the types of its parts.

Contract: :func:`check` refuses kinds nobody knows, names that stand twice, and blocks whose places
or columns aside cannot be. Books are those that the template module declares, which uses this one.
"""

from __future__ import annotations

from typing import Any

from pourbook.errors import TemplateError

SHEET_KINDS = ("entry", "computed", "native", "print", "text", "open")
BLOCK_KINDS = ("form", "table", "lines", "text", "map", "functions", "checks", "chart", "cards")
FIELD_KINDS = (
    "text", "number", "measure", "ratio", "choice", "date", "formula", "index", "fixed", "blank",
)  # fmt: skip


def check(book: Any, names: list[str]) -> None:
    """Refuse what the types alone do not: kinds, names and identities.

    Args:
        book: A book as the template module reads it.
        names: Its sheets, as the book lists them.

    Raises:
        TemplateError: Something of it is not as a book may be; its place is named.
    """
    if [s.sheet for s in book.sheets] != names:
        raise TemplateError("a sheet's name differs from the list", "", "book.toml")
    seen: set[str] = set()
    for sheet in book.sheets:
        _known(sheet.kind, SHEET_KINDS, sheet.sheet)
        for block in sheet.blocks:
            where = f"{sheet.sheet}, block '{block.id}'"
            _known(block.kind, BLOCK_KINDS, where)
            if block.id in seen:
                raise TemplateError(f"the block id '{block.id}' is used twice", "", where)
            seen.add(block.id)
            ids = [f.id for f in block.all_fields()]
            if len(set(ids)) != len(ids):
                raise TemplateError("a field id is used twice", "", where)
            if block.kind in {"table", "cards"} and block.rows < 1:
                raise TemplateError(f"a block of {block.kind} needs 'rows'", "", where)
            if block.beside:
                _stands_beside(sheet, block, where)
            if block.kind == "cards" and not (block.when and block.per_page):
                raise TemplateError("cards need 'when' and 'per_page'", "", where)
            if block.kind == "lines" and not block.instances:
                raise TemplateError("a lines block needs 'instances'", "", where)
            for item in block.all_fields():
                _known(item.kind, FIELD_KINDS, f"{where}, '{item.id}'")
            _check_aside(sheet, block, where)


def _check_aside(sheet: Any, block: Any, where: str) -> None:
    """Check that columns aside come last, and that no other block's print would cut into them."""
    aside = [item.aside for item in block.all_fields()]
    if not any(aside):
        return
    filled = len(block.fill.columns) if block.fill else 0
    if sum(aside) >= filled or not all(aside[-sum(aside) :]):
        what = "only the last result columns of a table may stand aside, and not all of them"
        raise TemplateError(what, "", where)
    below = sheet.blocks[sheet.blocks.index(block) + 1 :][:1]
    alone = (block.new_page or block is sheet.blocks[0]) and all(b.new_page for b in below)
    if block.reach < sheet.wide and not alone:
        mend = "give it and the block below it 'new_page', or print fewer columns on this sheet"
        raise TemplateError("its columns aside begin within the printed part", mend, where)


def _stands_beside(sheet: Any, block: Any, where: str) -> None:
    """Check that a block stands to the right of an earlier one of its sheet."""
    earlier = [b.id for b in sheet.blocks[: sheet.blocks.index(block)]]
    _known(block.kind, ("form", "table", "lines", "chart"), where)
    if block.beside not in earlier or block.left <= 1:
        mend = "name an earlier block of the sheet, and left: a column above 1"
        raise TemplateError(f"it stands beside nothing ('{block.beside}')", mend, where)


def _known(value: str, allowed: tuple[str, ...], where: str) -> None:
    if value not in allowed:
        raise TemplateError(f"unknown kind '{value}'", f"use one of {', '.join(allowed)}", where)
