"""Sees whether every formula of a workbook gives what the workbook holds, in one turn.

Contract: :func:`as_stored` works out each formula once, a block of functions too, from the values
that are stored. Where each gives what is stored, to 1e-9, working everything out from the entries
alone would give the same: formulas rest on each other in no circle. Else, and for whatever is odd
in any way, it gives nothing, and the workbook is worked out from the entries. It needs no file: the
cells are those that were read.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping
from typing import Any, TypeVar

import formualizer

from pourbook.cells import Address, CellError, Rows, Value
from pourbook.formats.ooxml.addresses import areas_named, letters, split
from pourbook.functions.catalogue import catalogue
from pourbook.hosts.headless.engine import Cell, Recomputed, Sheets, call, same, spread, tidy

CALL = re.compile(r"=\s*([A-Z_]+)\(")
_CELL = r"\$?[A-Z]{1,3}\$?\d{1,7}"
_BARE = re.compile(
    rf"(\"[^\"]*\"|(?:'(?:[^']|'')*'|[\w.]+)!{_CELL}(?::{_CELL})?|[A-Za-z_][\w.]*\()"
    rf"|(?<![\w.$]){_CELL}(?::{_CELL})?(?![\w.(])"
)
"""In a formula: a text, a cell of a named sheet or a function, else a cell of the same sheet."""
CALLS = "pourbook calls"
"""A sheet of the engine alone, with a cell for each block: what fills it, one call."""


T = TypeVar("T")


class _OddError(Exception):
    """It holds something that is worked out the long way."""


def as_stored(sheets: Sheets, convert: Callable[[Any], Value]) -> Recomputed | None:
    """Return what the formulas give, if that is what is stored; else nothing.

    Args:
        sheets: The cells of each sheet, by address.
        convert: Turns what the engine hands over into a plain value.
    """
    record = Recomputed()
    try:
        return _Turn(sheets, convert, record).done()
    except _OddError:
        return None


class _Turn:
    def __init__(self, sheets: Sheets, convert: Callable[[Any], Value], record: Recomputed) -> None:
        self.sheets = sheets
        self.convert = convert
        self.record = record
        self.blocks: list[tuple[str, tuple[int, int, int, int]]] = []
        self.filled: list[list[list[Value]]] = []
        self.single: list[tuple[str, int, int, str, Value]] = []
        one = formualizer.EvaluationConfig()
        one.enable_parallel = False  # what is called is Python, which takes turns anyway
        self.book = formualizer.Workbook(config=formualizer.WorkbookConfig(eval_config=one))

    def done(self) -> Recomputed:
        """Work everything out and hold it against what is stored."""
        if any(name.casefold() == CALLS for name in self.sheets):
            raise _OddError
        for name in catalogue():
            alone = adapter(name, self.convert, self.record, [])
            self.book.register_function(name, alone, min_args=0, max_args=most_arguments(name))
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
        """Set the call of a block, on the sheet of calls, under a name of its own."""
        found = CALL.match(cell.formula)
        if found is None or found[1] not in catalogue():
            raise _OddError
        ((_, *area),) = areas_named(cell.array)
        self.blocks.append((sheet, (area[0], area[1], area[2], area[3])))
        filled: list[list[Value]] = []
        self.filled.append(filled)
        number, most = len(self.blocks), most_arguments(found[1])
        given = adapter(found[1], self.convert, self.record, filled, block=True)
        self.book.register_function(f"PB_BLOCK_{number}", given, min_args=0, max_args=most)
        named = qualified(cell.formula[found.end() :], sheet)
        self.book.set_formulas_batch(CALLS, number, 1, [[f"=PB_BLOCK_{number}({named}"]])

    def compare(self) -> None:
        """Hold what came out against what is stored.

        Raises:
            _OddError: Something is not what is stored.
        """
        values: dict[Address, Value] = self.record.values
        for sheet, row, column, address, stored in self.single:
            value = self.convert(self.book.get_value(sheet, row, column))
            if not same(value, stored):
                raise _OddError
            values[sheet, address] = value
        for (sheet, area), result in zip(self.blocks, self.filled, strict=True):
            self.fill(sheet, area, result)

    def fill(self, sheet: str, area: tuple[int, int, int, int], result: list[list[Value]]) -> None:
        """Hold the cells of one block against what its call gave."""
        top, left, bottom, right = area
        if len(result) != bottom - top + 1 or any(len(r) != right - left + 1 for r in result):
            raise _OddError
        cells = self.sheets[sheet]
        for address, value in zip(
            _addresses(area), (v for row in result for v in row), strict=True
        ):
            cell = cells.get(address)
            plain = tidy(value)
            if not same(plain, None if cell is None else cell.value):
                raise _OddError
            self.record.values[sheet, address] = plain


def adapter(
    name: str,
    convert: Callable[[Any], Value],
    record: Recomputed,
    filled: list[list[Value]],
    *,
    block: bool = False,
) -> Callable[..., Any]:
    """Return what the engine calls for a function; that of a block keeps what it gives.

    It must not hold the workbook: Python cannot see that the engine holds what it calls, and would
    never let go of either.
    """

    def argument(value: Any) -> Value | Rows:
        if isinstance(value, list):
            return [[convert(one) for one in row] for row in value]
        return convert(value)

    def called(*given: Any) -> Any:
        values = [argument(value) for value in given]
        result = spread(catalogue()[name], values, call(name, values, record))
        if isinstance(result, list) is not block:
            raise _OddError
        if not isinstance(result, list):
            return 0.0 if result is None else result
        record.blocks += 1
        filled[:] = result
        return 0.0

    return called


def most_arguments(name: str) -> int:
    """Return how many arguments a function may be given at most."""
    return max(len(catalogue()[name].arguments), 1) + 8


def _addresses(area: tuple[int, int, int, int]) -> Iterator[str]:
    top, left, bottom, right = area
    columns = [letters(column) for column in range(left, right + 1)]
    for row in range(top, bottom + 1):
        for column in columns:
            yield f"{column}{row}"


def qualified(arguments: str, sheet: str) -> str:
    """Return arguments with the sheet they stand on named, for a call that stands on another."""
    own = sheet.replace("'", "''")
    return _BARE.sub(lambda m: m[0] if m[1] else f"'{own}'!{m[0]}", arguments)


def _areas(held: Mapping[tuple[int, int], T]) -> Iterator[tuple[int, int, list[list[T]]]]:
    """Give what stands together in full rectangles: row, column and rows of each."""
    open_: dict[tuple[int, int], tuple[int, list[list[T]]]] = {}
    for row, column, run in _runs(held):
        shape = (column, len(run))
        top, rows = open_.get(shape, (row, []))
        if rows and top + len(rows) != row:
            yield top, column, rows
            top, rows = row, []
        rows.append(run)
        open_[shape] = (top, rows)
    for (column, _), (top, rows) in open_.items():
        yield top, column, rows


def _runs(held: Mapping[tuple[int, int], T]) -> Iterator[tuple[int, int, list[T]]]:
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
