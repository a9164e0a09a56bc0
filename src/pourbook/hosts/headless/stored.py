"""Sees whether every formula of a workbook gives what the workbook holds, in one turn.

Contract: :func:`as_stored` works out each formula once, a block of functions too, from the values
that are stored. Where each gives what is stored, to 1e-9, working everything out from the entries
alone would give the same: formulas rest on each other in no circle. Else, and for whatever is odd
in any way, it gives nothing, and an engine works the workbook out from the entries. It needs no
file: the cells are those that were read.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from graphlib import CycleError, TopologicalSorter
from itertools import chain
from operator import is_, is_not
from types import FunctionType
from typing import Any

from pourbook.cells import CellError, Rows, Value, ranges_are_of
from pourbook.formats.ooxml.addresses import Spot, areas_named, by_sheet, split, spots_named
from pourbook.formats.ooxml.addresses import cells as block_cells
from pourbook.formats.ooxml.lines import SheetCells, SheetLine, lines_of
from pourbook.functions import catalogue as functions
from pourbook.functions.declare import Function
from pourbook.hosts.headless import cell_rules
from pourbook.hosts.headless.cell_rules import OddError, ShownError, single
from pourbook.hosts.headless.engine import Cell, Recomputed, Sheets, call, same, spread, tidy
from pourbook.hosts.headless.formula_code import AREA, CALL, LAST_ROW, code_of
from pourbook.hosts.headless.program import Program
from pourbook.hosts.headless.shapes import Code, shape_of
from pourbook.once import KeptRows

_Coded = tuple[tuple[str, str, str], Callable[..., Any], tuple[int, ...]]
"""A formula of one's own, its function, and the rows it names."""
_Planned = Sequence[tuple[str, Cell, int, tuple[int, ...]]]
"""Formulas of the templates: the address, its cell, the number of its code, the rows it names."""
MOST_OWN = 1_000
"""Formulas of one's own, and a fifth as many shapes of them, that are compiled as they are met."""
_SPOTS, _SHOWN = "what formulas read", "what cells hold"
_NAMES = {n: one for n, one in vars(cell_rules).items() if isinstance(one, FunctionType)}
_UNEXPECTED = (ShownError, ArithmeticError, ValueError, LookupError, TypeError)
"""What a formula raises that shows an error, or meets what its code does not expect."""


def as_stored(sheets: Sheets, program: Program) -> Recomputed | None:
    """Return what the formulas give, if that is what is stored; else nothing.

    Args:
        sheets: The cells of each sheet, by address.
        program: The formulas of the templates that the workbook is made from.
    """
    for one in tuple(_CONFIRMED):
        if one.is_of(sheets, program):
            values, refusals = dict(one.record.values), dict(one.record.refusals)
            return replace(one.record, values=values, refusals=refusals)
    record = Recomputed()
    try:
        _Turn(sheets, program, record).done()
    except OddError:
        return None
    record.as_stored = True
    if all(isinstance(cells, SheetCells) for cells in sheets.values()):
        rests_on = (program.mark, functions.catalogue(), ranges_are_of())
        _CONFIRMED.append(_Confirmed(dict(sheets), rests_on, record))
    return record


@dataclass(frozen=True)
class _Confirmed:
    """A workbook that was confirmed, the program and functions it was by, and what they give."""

    sheets: Sheets
    rests_on: tuple[object, Mapping[str, Function], int]
    record: Recomputed

    def is_of(self, sheets: Sheets, program: Program) -> bool:
        """Return whether these are the very same sheets, as they were read."""
        mark, by, ranges = self.rests_on
        if mark is not program.mark or by is not functions.catalogue() or ranges != ranges_are_of():
            return False
        return [*self.sheets] == [*sheets] and all(map(is_, self.sheets.values(), sheets.values()))


_CONFIRMED: deque[_Confirmed] = deque(maxlen=2)
"""The last ones: a command looks at a workbook several times."""


class _Turn:
    def __init__(self, sheets: Sheets, program: Program, record: Recomputed) -> None:
        self.sheets = sheets
        self.program = program
        self.record = record
        self.named = {name.casefold(): cells for name, cells in sheets.items()}
        self.areas: dict[tuple[int, ...], KeptRows] = {}
        self.names: dict[str, Any] = {**_NAMES, CALL: _caller(record), AREA: _taking(self.areas)}
        self.columns: dict[str, dict[int, list[Value]]] = {name: {} for name in self.named}
        self.shown: dict[str, Mapping[str, Value]] = {}
        self.last = program.last
        self.own: list[tuple[str, str, str]] = []

    def done(self) -> None:
        """Work everything out and hold it against what is stored.

        Raises:
            OddError: Something is not what is stored, or cannot be worked out so.
        """
        if len(self.named) < len(self.sheets):
            raise OddError
        self.bind(self.program.columns)
        self.read()
        coded = []
        if self.own:
            coded = self.coded()
            self.refuse_circles()
            self.read()
        functions = [FunctionType(code, self.names) for code in self.program.codes]
        for name, cells in self.sheets.items():
            for line in lines_of(cells):
                for address, cell, code, rows in self.planned(name, line):
                    self.hold(name, address, cell, functions[code], rows)
        for (name, address, _), function, rows in coded:
            self.hold(name, address, self.sheets[name][address], function, rows)

    def bind(self, columns: Iterable[tuple[str, str, int]]) -> None:
        """Bind the names of columns to their values, which are set later.

        Raises:
            OddError: A sheet of them is not there.
        """
        for name, sheet, column in columns:
            if sheet not in self.columns:
                raise OddError
            self.names[name] = self.columns[sheet].setdefault(column, [])

    def read(self) -> None:
        """Set the columns by what the cells hold, and note the formulas of one's own.

        Raises:
            OddError: An error is among them, a row too far down, or a block of one's own.
        """
        if self.last > LAST_ROW:
            raise OddError
        self.own.clear()
        for name, cells in self.sheets.items():
            columns = self.columns[name.casefold()]
            shown: dict[str, Value] = {}
            self.shown[name] = shown
            for values in columns.values():
                values[:] = [None] * (self.last + 1)
            look, by = f"of the templates {name}", self.program.mark
            for line in lines_of(cells):
                if line.known.get(look) is not by:
                    own = self.own_of(name, line)
                    self.own += own
                    if not own:
                        line.known[look] = by
                shown.update(_shown(line))
                row = line.number
                if columns and row <= self.last:
                    for column, value in _spots(line):
                        if column in columns:
                            columns[column][row] = value

    def planned(self, name: str, line: SheetLine[Cell]) -> _Planned:
        """Return the formulas of the templates in a row: address, cell, code, rows it names."""
        look, mark = f"its formulas of {name}", self.program.mark
        kept: tuple[object, _Planned] = line.known.get(look, (None, ()))
        if kept[0] is mark:
            return kept[1]
        known = self.program.at.get(name, {})
        found = tuple(
            [
                (address, cell, known[address].code, known[address].rows)
                for address, cell in line.cells.items()
                if cell.formula and address in known and known[address].formula == cell.formula
            ]
        )
        line.known[look] = (mark, found)
        return found

    def own_of(self, name: str, line: SheetLine[Cell]) -> list[tuple[str, str, str]]:
        """Return the formulas of one's own in a row.

        Raises:
            OddError: An error is in it, or a block of one's own.
        """
        known, found = self.program.at.get(name, {}), []
        for address, cell in line.cells.items():
            if type(cell.value) is CellError:
                raise OddError
            formula = cell.formula
            if formula and (address not in known or known[address].formula != formula):
                if cell.array not in {"", address}:
                    raise OddError
                found.append((name, address, formula))
        return found

    def coded(self) -> list[_Coded]:
        """Return each formula of one's own with its function and the rows it names.

        Raises:
            OddError: One has no code, or they are so many that an engine is quicker.
        """
        codes: dict[tuple[str, str], Code | None] = {}
        found: list[_Coded] = []
        if len(self.own) > MOST_OWN:
            raise OddError
        for at in self.own:
            shape, rows = shape_of(at[2])
            key = (at[0], shape)
            if key not in codes:
                codes[key] = code_of(at[2], at[0])
            code = codes[key]
            if code is None or not code.takes(rows) or 5 * len(codes) > MOST_OWN:
                raise OddError
            self.bind(code.columns)
            self.last = max(self.last, *rows, 0)
            found.append((at, FunctionType(code.code, self.names), rows))
        return found

    def refuse_circles(self) -> None:
        """Refuse formulas of one's own that rest on themselves: those of the templates never do.

        Raises:
            OddError: They do, directly or through others.
        """
        leads: dict[Spot, Spot] = {}
        words: dict[Spot, str] = {}
        for name, cells in self.named.items():
            for address, cell in cells.items():
                if cell.formula:
                    lead = (name, *split(address))
                    words[lead] = cell.formula
                    area = block_cells(cell.array or address)
                    leads |= {(name, *split(one)): lead for one in area}
        spots = by_sheet(leads)
        rests: dict[Spot, set[Spot]] = {}
        left = [(sheet.casefold(), *split(address)) for sheet, address, _ in self.own]
        while left:
            spot = left.pop()
            if spot not in rests:
                named = spots_named(words[spot], spot[0], spots)
                rests[spot] = {leads[one] for one in named}
                left += rests[spot]
        try:
            TopologicalSorter(rests).prepare()
        except CycleError as error:
            raise OddError from error

    def hold(
        self, sheet: str, address: str, cell: Cell, code: Callable[..., Any], rows: tuple[int, ...]
    ) -> None:
        """Hold what one formula gives against what is stored.

        Raises:
            OddError: It gives something else.
        """
        try:
            value = code(*rows)
        except _UNEXPECTED as error:
            raise OddError from error
        if cell.array not in {"", address}:
            self.fill(sheet, cell.array, value)
            return
        stored = cell.value
        if value is None or value != stored or type(value) is not type(stored):
            value = single(value)
            if not same(value, stored):
                raise OddError
        self.record.values[sheet, address] = value

    def fill(self, sheet: str, area: str, result: Value | Rows) -> None:
        """Hold the cells of one block against what its call gave."""
        self.record.blocks += 1
        ((_, top, left, bottom, right),) = areas_named(area)
        if not isinstance(result, list) or len(result) != bottom - top + 1:
            raise OddError
        if any(len(row) != right - left + 1 for row in result):
            raise OddError
        addresses, at = _places(sheet, area)
        given = list(chain.from_iterable(result))
        stored = [*map(self.shown[sheet].get, addresses)]
        if given != stored or any(map(is_not, map(type, given), map(type, stored))):
            for index, (value, shown) in enumerate(zip(given, stored, strict=True)):
                if value != shown or value.__class__ is not shown.__class__:
                    given[index] = tidy(value)
                    if not same(given[index], shown):
                        raise OddError
        self.record.values.update(zip(at, given, strict=True))


def _shown(line: SheetLine[Cell]) -> Mapping[str, Value]:
    """Return what the cells of a row hold, by address."""
    found: Mapping[str, Value] | None = line.known.get(_SHOWN)
    if found is None:
        found = line.known[_SHOWN] = {address: cell.value for address, cell in line.cells.items()}
    return found


def _spots(line: SheetLine[Cell]) -> tuple[tuple[int, Value], ...]:
    """Return the columns of a row that hold something, with what formulas read there."""
    found: tuple[tuple[int, Value], ...] | None = line.known.get(_SPOTS)
    if found is None:
        end = -len(str(line.number))
        found = line.known[_SPOTS] = tuple(
            [
                (_column(address[:end]), "" if cell.value is None and cell.formula else cell.value)
                for address, cell in line.cells.items()
            ]
        )
    return found


@lru_cache(maxsize=1024)
def _column(letters: str) -> int:
    return split(f"{letters}1")[1]


@lru_cache(maxsize=64)
def _places(sheet: str, area: str) -> tuple[tuple[str, ...], tuple[tuple[str, str], ...]]:
    """Return the addresses of a block's cells, row by row, and with them their sheet."""
    addresses = tuple(block_cells(area))
    return addresses, tuple([(sheet, address) for address in addresses])


def _taking(known: dict[tuple[int, ...], KeptRows]) -> Callable[..., KeptRows]:
    """Return what takes the rows of an area: one and the same for all formulas of a turn."""

    def area(columns: Sequence[list[Value]], first: int, last: int) -> KeptRows:
        key = (first, last, *map(id, columns))
        found = known.get(key)
        if found is None:
            by_row = cell_rules.rows([one[first : last + 1] for one in columns])
            found = known[key] = KeptRows(by_row)
        return found

    return area


def _caller(record: Recomputed) -> Callable[[str, list[Value | Rows]], Value | Rows]:
    """Return what calls a function of ours; what goes wrong inside one is left to an engine."""

    def called(name: str, given: list[Value | Rows]) -> Value | Rows:
        result = spread(functions.catalogue()[name], given, call(name, given, record))
        if record.reasons:
            raise OddError
        return result

    return called
