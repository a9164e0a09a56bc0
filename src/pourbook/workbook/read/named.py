"""The one reader of cells by name: what a workbook holds by block, field and row.

Contract: a value that was worked out anew comes before the one that stands in the file; nothing is
changed and nothing refused but by :meth:`NamedCells.number`.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from pourbook.cells import Address, Value, is_blank, is_refused, text, unmarked
from pourbook.errors import InputError
from pourbook.workbook.layout.laid_out import Layout
from pourbook.workbook.read.read import RawBook


class NamedCells:
    """The cells of one workbook by block, field and row: an instance of lines, 0 in a form."""

    def __init__(self, plan: Layout, book: RawBook, values: Mapping[Address, Value]) -> None:
        self.plan = plan
        self.book = book
        self.values = values

    def value(self, block: str, name: str, index: int = 0) -> Value:
        """Return what a cell holds; recomputed where it is a formula."""
        cell = self.plan.cell(block, name, index)
        if (cell.sheet, cell.address) in self.values:
            return self.values[cell.sheet, cell.address]
        sheet = self.book.sheets.get(cell.sheet)
        return sheet.value(cell.address) if sheet else None

    def words(self, block: str, name: str, index: int = 0) -> str:
        """Return what a cell holds as a text."""
        return text(self.value(block, name, index))

    def number_or_none(self, block: str, name: str, index: int = 0) -> float | None:
        """Return the number a cell holds; None where there is none."""
        found = self.value(block, name, index)
        if isinstance(found, bool) or not isinstance(found, int | float):
            return None
        return float(found)

    def number(self, block: str, name: str, index: int = 0) -> float:
        """Return the number a cell must hold.

        Raises:
            InputError: It holds none; the place is named.
        """
        found = self.number_or_none(block, name, index)
        if found is None:
            said = self.words(block, name, index)
            what = f"'{said}' is no number"
            if is_refused(said):
                what = unmarked(said) or "there is no figure"
            raise InputError(what, "fix that row", self.place(block, name, index))
        return found

    def place(self, block: str, name: str, index: int = 0) -> str:
        """Return file, sheet and cell as a person reads them."""
        cell = self.plan.cell(block, name, index)
        return f"{self.book.path.name}, {cell.sheet}!{cell.address}"

    def rows(self, block: str, key: str) -> Iterator[int]:
        """Return the rows of a table whose key cell is not blank."""
        for index in range(self.plan.block(block).rows):
            if not is_blank(self.value(block, key, index)):
                yield index
