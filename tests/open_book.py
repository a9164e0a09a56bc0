"""A workbook kept in memory, its entries set in the fast engine as a person does in a spreadsheet.

Making a workbook and putting its values in takes twice as long as working it out. The engine loads
the same formulas anew for every set of entries: left open, formualizer 0.13 keeps values that hang
on a spilled block which changed. :mod:`tests.hosts.test_open_book` holds what comes out against
workbooks that are made.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from openpyxl.utils.datetime import to_excel

from pourbook.cells import Address, Value
from pourbook.formats.ooxml.addresses import split
from pourbook.hosts.headless import fast
from pourbook.hosts.headless.engine import Recomputed
from pourbook.hosts.headless.turns import in_turns
from pourbook.job import make
from pourbook.workbook.build import build
from pourbook.workbook.layout.laid_out import Layout

Key = tuple[str, str, int]
Entries = Mapping[Key, object]


class OpenBook:
    """A book of one layout; what is not among the entries is the default of its template."""

    def __init__(self, layout: Layout, folder: Path) -> None:
        self.layout = layout
        self.wanted = [(c.sheet, c.address) for c in layout.cells if c.formula or c.fill]
        self._usual = make.defaults(layout)
        bare = folder / "open.xlsx"
        build.write(layout, {}, bare, made=dt.datetime(2026, 11, 24, 9, 30))
        self._turns = in_turns(bare)

    def values(
        self, entries: Entries, over: Mapping[Address, Value] | None = None
    ) -> dict[Address, Value]:
        """Set the entries, type values over formulas, and return what is worked out."""
        record = Recomputed()

        def type_in(book: Any) -> None:
            for key, typed in {**self._usual, **entries}.items():
                cell = self.layout.entry_at.get(key) or self.layout.kept_at[key]
                if isinstance(typed, dt.date | dt.time):
                    book.set_value(cell.sheet, cell.row, cell.column, float(to_excel(typed)))
                elif typed is not None and typed != "":
                    book.set_value(cell.sheet, cell.row, cell.column, typed)
            for (sheet, address), value in (over or {}).items():
                row, column = split(address)
                book.set_value(sheet, row, column, value)

        turns = self._turns.in_one() if over else self._turns
        book = fast.evaluated(turns, record, type_in)
        assert not record.reasons, record.reasons[0]
        offered = self.layout.offered(self._usual.keys() | entries.keys())
        return {(s, a): fast.value_of(book, s, a) for s, a in (*self.wanted, *offered)}
