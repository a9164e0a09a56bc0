"""What finishes offer on Layers, as if a person had typed it."""

from __future__ import annotations

from pathlib import Path

from pourbook.workbook.layout.laid_out import Layout
from pourbook.workbook.read.read import read_book

Key = tuple[str, str, int]


def typed_out(plan: Layout, job: Path) -> dict[Key, object]:
    """Return every entry that is offered with what the job shows there; None where it is blank."""
    book = read_book(job)
    found = {k: book.sheets[c.sheet].value(c.address) for k, c in plan.entry_at.items() if c.offer}
    return {key: None if value == "" else value for key, value in found.items()}
