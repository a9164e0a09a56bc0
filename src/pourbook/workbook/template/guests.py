"""Tables without a call of their own: another table's call works them out, aside of it.

Contract: :func:`with_guests` gives the tables that work others out the columns of those, aside; a
guest keeps its function, its arguments and its columns, and looks its cells up there. Sheets are
those that the template module declares, which uses this one.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any


def within_id(guest: str, column: str) -> str:
    """Return the id of a column of a guest in the block that works it out."""
    return f"{guest}_{column}"


def with_guests(sheet: Any, sheets: Sequence[Any]) -> Any:
    """Return a sheet whose tables have the columns of their guests aside.

    In a book without the other table, one within it has a call of its own.
    """
    guests = [b for s in sheets for b in s.blocks if b.fill and b.fill.within]
    known = {b.id for s in sheets for b in s.blocks}

    def hosting(block: Any) -> Any:
        if block.fill and block.fill.within and block.fill.within not in known:
            return replace(block, fill=replace(block.fill, within=""))
        mine = [b for b in guests if b.fill.within == block.id]
        if not mine or block.fill is None:
            return block
        more = [
            replace(item, id=within_id(b.id, item.id), aside=True, of_guest=True)
            for b in mine
            for item in b.fill.columns
        ]
        return replace(block, fill=replace(block.fill, columns=(*block.fill.columns, *more)))

    return replace(sheet, blocks=tuple(map(hosting, sheet.blocks)))
