"""The fast engine: formualizer, a compiled spreadsheet engine.

Contract: see :mod:`pourbook.hosts.headless.engine`; what it hands over is plain by
:mod:`pourbook.hosts.headless.handed`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

import formualizer

from pourbook.cells import Address, Value
from pourbook.errors import FileUnreadableError
from pourbook.formats.bounded import bounded
from pourbook.formats.ooxml.addresses import split
from pourbook.functions.catalogue import catalogue
from pourbook.hosts.headless.engine import Read, Recomputed
from pourbook.hosts.headless.handed import plain_value, register
from pourbook.hosts.headless.rounds import in_rounds
from pourbook.hosts.headless.turns import Turns, in_turns


class FastEngine:
    """Recomputes through formualizer."""

    name = "fast"

    def recompute(
        self,
        path: Path,
        wanted: Iterable[Address],
        read: Read | None = None,  # noqa: ARG002 - it works out all, whatever is stored
    ) -> Recomputed:
        """Recompute a workbook; see :class:`~pourbook.hosts.headless.engine.Engine`."""
        record = Recomputed()
        with bounded(path):
            try:
                book = worked_out(in_turns(path), record)
            except Exception as error:
                what = f"the fast engine cannot open it ({type(error).__name__}: {error})"
                raise FileUnreadableError(what, "", str(path)) from error
            for sheet, address in wanted:
                record.values[sheet, address] = value_of(book, sheet, address)
        return record


def worked_out(turns: Turns, record: Recomputed) -> Any:
    """Return a workbook in formualizer, worked out; see :func:`evaluated`."""
    return evaluated(turns, record)


def evaluated(
    turns: Turns, record: Recomputed, type_in: Callable[[Any], None] = lambda _: None
) -> Any:
    """Return a workbook in formualizer, worked out in two turns.

    Args:
        turns: The workbook; see :mod:`pourbook.hosts.headless.turns`.
        record: Is told of every call and of what goes wrong inside a function.
        type_in: Types more into the workbook before it is worked out.
    """
    if turns.large:
        content, calls = turns.without_blocks()
        book = loaded(content, record)
        type_in(book)
        in_rounds(book, calls, record)
        return book
    book = loaded(turns.first, record)
    type_in(book)
    book.evaluate_all()
    blocks = record.blocks
    try:
        for run in turns.rest:
            book.set_formulas_batch(run.sheet, run.row, run.column, [list(run.formulas)])
        book.evaluate_all()
    except Exception:  # noqa: BLE001 - what the engine does not take is worked out in one piece
        blocks = -1
    if record.blocks == blocks:
        return book
    record.reasons.clear()
    record.refusals.clear()
    book = loaded(turns.in_one().first, record)
    type_in(book)
    book.evaluate_all()
    return book


def loaded(content: bytes, record: Recomputed) -> Any:
    """Return a workbook in formualizer, not worked out yet.

    Args:
        content: The file, without stored values of array blocks.
        record: Is told of every call and of what goes wrong inside a function.
    """
    book = formualizer.load_workbook_bytes(content)
    for name in catalogue():
        register(book, name, record, lambda rows: rows)
    return book


def value_of(book: Any, sheet: str, address: str) -> Value:
    """Return the value of a cell of an open workbook."""
    row, column = split(address)
    return plain_value(book.get_value(sheet, row, column))
