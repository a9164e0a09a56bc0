"""Sees whether every formula of a workbook gives what the workbook holds, in one turn.

Contract: :func:`as_stored` works out each formula once, a block of functions too, from the values
that are stored. Where each gives what is stored, to 1e-9, working everything out from the entries
alone would give the same: formulas rest on each other in no circle. Else, and for whatever is odd
in any way, it gives nothing, and the workbook is worked out from the entries. It needs no file: the
cells are those that were read.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any, TypeVar

import formualizer

from pourbook.cells import Address, CellError, Value
from pourbook.formats.ooxml.addresses import cells as block_cells
from pourbook.formats.ooxml.addresses import split
from pourbook.functions.catalogue import catalogue
from pourbook.hosts.headless.engine import Cell, Recomputed, Sheets, same, tidy
from pourbook.hosts.headless.handed import CALLS, BlockCall, plain_value, register, stand_call

T = TypeVar("T")


class _OddError(Exception):
    """It holds something that is worked out the long way."""


def as_stored(sheets: Sheets) -> Recomputed | None:
    """Return what the formulas give, if that is what is stored; else nothing.

    Args:
        sheets: The cells of each sheet, by address.
    """
    record = Recomputed()
    try:
        return _Turn(sheets, record).done()
    except _OddError:
        return None


class _Turn:
    def __init__(self, sheets: Sheets, record: Recomputed) -> None:
        self.sheets = sheets
        self.record = record
        self.blocks: list[tuple[BlockCall, list[list[Value]]]] = []
        self.single: list[tuple[str, int, int, str, Value]] = []
        one = formualizer.EvaluationConfig()
        one.enable_parallel = False  # what is called is Python, which takes turns anyway
        self.book = formualizer.Workbook(config=formualizer.WorkbookConfig(eval_config=one))

    def done(self) -> Recomputed:
        """Work everything out and hold it against what is stored."""
        if any(name.casefold() == CALLS for name in self.sheets):
            raise _OddError
        for name in catalogue():
            register(self.book, name, self.record, _no_block)
        try:
            for name in (*self.sheets, CALLS):  # all before a formula names one
                self.book.add_sheet(name)
            for name, cells in self.sheets.items():
                self.load(name, cells)
            self.book.evaluate_all()
        except Exception as error:  # whatever the engine does not take goes the long way
            raise _OddError from error
        self.compare()
        return self.record

    def load(self, sheet: str, cells: Mapping[str, Cell]) -> None:
        """Set the values of a sheet, and its formulas that are no blocks."""
        values: dict[tuple[int, int], Value] = {}
        formulas: dict[tuple[int, int], str] = {}
        for address, cell in cells.items():
            spot = split(address)
            if cell.formula and cell.array not in {"", address}:
                self.block(sheet, cell)
            elif cell.formula:
                formulas[spot] = cell.formula
                self.single.append((sheet, *spot, address, cell.value))
                continue
            if isinstance(cell.value, CellError) or str(cell.value)[:1] == "=":
                raise _OddError
            if cell.value is not None:
                values[spot] = cell.value
        for row, column, rows in _areas(values):  # a blank among them would stay one for good
            self.book.set_values_batch(sheet, row, column, rows)
        for row, column, lines in _areas(formulas):
            self.book.set_formulas_batch(sheet, row, column, lines)

    def block(self, sheet: str, cell: Cell) -> None:
        """Set the call of a block."""
        block = BlockCall(sheet, cell.formula.removeprefix("="), cell.array)
        filled = stand_call(self.book, len(self.blocks) + 1, block, self.record)
        self.blocks.append((block, filled))

    def compare(self) -> None:
        """Hold what came out against what is stored.

        Raises:
            _OddError: Something is not what is stored.
        """
        values: dict[Address, Value] = self.record.values
        for sheet, row, column, address, stored in self.single:
            value = plain_value(self.book.get_value(sheet, row, column))
            if not same(value, stored):
                raise _OddError
            values[sheet, address] = value
        for block, result in self.blocks:
            self.fill(block, result)

    def fill(self, block: BlockCall, result: list[list[Value]]) -> None:
        """Hold the cells of one block against what its call gave."""
        top, left, bottom, right = block.box()
        if len(result) != bottom - top + 1 or any(len(r) != right - left + 1 for r in result):
            raise _OddError
        cells = self.sheets[block.sheet]
        given = (value for row in result for value in row)
        for address, value in zip(block_cells(block.area), given, strict=True):
            cell = cells.get(address)
            plain = tidy(value)
            if not same(plain, None if cell is None else cell.value):
                raise _OddError
            self.record.values[block.sheet, address] = plain


def _no_block(_: object) -> Any:
    raise _OddError


def _areas(held: Mapping[tuple[int, int], T]) -> Iterator[tuple[int, int, list[list[T]]]]:
    """Give what stands together in full rectangles: row, column and rows of each."""
    open_: dict[tuple[int, int], tuple[int, list[list[T]]]] = {}
    for row, column, run in runs(held):
        shape = (column, len(run))
        top, rows = open_.get(shape, (row, []))
        if rows and top + len(rows) != row:
            yield top, column, rows
            top, rows = row, []
        rows.append(run)
        open_[shape] = (top, rows)
    for (column, _), (top, rows) in open_.items():
        yield top, column, rows


def runs(held: Mapping[tuple[int, int], T]) -> Iterator[tuple[int, int, list[T]]]:
    """Give what stands beside each other in one row together."""
    run: list[T] = []
    start = (0, 0)
    for row, column in sorted(held):
        if run and (row, column) != (start[0], start[1] + len(run)):
            yield *start, run
            run = []
        if not run:
            start = (row, column)
        run.append(held[row, column])
    if run:
        yield *start, run
