"""Sees whether every formula of a workbook gives what the workbook holds, in one turn.

Contract: :func:`as_stored` works out each formula once, a block of functions too, from the values
that are stored. Where each gives what is stored, to 1e-9, working everything out from the entries
alone would give the same: formulas rest on each other in no circle. Else, and for whatever is odd
in any way, it gives nothing, and an engine works the workbook out from the entries. It needs no
file: the cells are those that were read.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from graphlib import CycleError, TopologicalSorter
from itertools import chain
from operator import is_
from types import FunctionType
from typing import Any

from pourbook.cells import Address, Rows, Value, ranges_are_of
from pourbook.formats.ooxml.addresses import Spot, areas_named, by_sheet, split, spots_named
from pourbook.formats.ooxml.addresses import cells as block_cells
from pourbook.formats.ooxml.lines import SheetCells
from pourbook.functions import catalogue as functions
from pourbook.functions.declare import Function
from pourbook.hosts.headless.cell_rules import OddError, ShownError, single
from pourbook.hosts.headless.engine import Cell, Recomputed, Sheets, call, same, spread, tidy
from pourbook.hosts.headless.formula_code import CALL, code_of
from pourbook.hosts.headless.kept_turn import Own, Planned, kept, places, taken
from pourbook.hosts.headless.program import Program
from pourbook.hosts.headless.shapes import Code, shape_of
from pourbook.records import dataclass

_Coded = tuple[Own, Callable[..., Any], tuple[int, ...]]
"""A formula of one's own, its function, and the rows it names."""
MOST_OWN = 1_000
"""Formulas of one's own, and a fifth as many shapes of them, that are compiled as they are met."""
_ALIKE = frozenset((float, int, str, type(None)))
"""Kinds of values that are equal to Python only where they are the same to a spreadsheet."""
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
        self.record = record
        self.turn = taken(program, sheets)
        self.turn.names[CALL] = _caller(record)

    def done(self) -> None:
        """Work out what is due and hold it against what is stored.

        Raises:
            OddError: Something is not what is stored, or cannot be worked out so.
        """
        turn = self.turn
        turn.read(self.sheets)
        coded = self.coded() if turn.own else []
        for name in self.sheets:
            planned, due = turn.planned[name], turn.due[name]
            for row in sorted(due & planned.keys()):
                self.hold_all(name, planned[row])
            for row, calls in turn.calling[name].items():
                if row not in due:
                    self.hold_all(name, calls)
        for (name, address, _), function, rows in coded:
            self.hold(name, address, self.sheets[name][address], function, rows)
        del turn.names[CALL]
        self.record.values = dict(turn.values)
        if not coded:
            kept(turn)

    def hold_all(self, name: str, formulas: Planned) -> None:
        """Hold what formulas of the templates give against what is stored; see :meth:`hold`."""
        functions = self.turn.functions
        for address, cell, code, rows in formulas:
            self.hold(name, address, cell, functions[code], rows)

    def coded(self) -> list[_Coded]:
        """Return each formula of one's own with its function and the rows it names.

        Raises:
            OddError: One has no code, they are so many that an engine is quicker, or they rest on
                themselves.
        """
        turn, own = self.turn, tuple(self.turn.own)
        codes: dict[tuple[str, str], Code | None] = {}
        found: list[_Coded] = []
        if len(own) > MOST_OWN:
            raise OddError
        for at in own:
            shape, rows = shape_of(at[2])
            key = (at[0], shape)
            if key not in codes:
                codes[key] = code_of(at[2], at[0])
            code = codes[key]
            if code is None or not code.takes(rows) or 5 * len(codes) > MOST_OWN:
                raise OddError
            turn.bind(code.columns)
            turn.last = max(turn.last, *rows, 0)
            found.append((at, FunctionType(code.code, turn.names), rows))
        self.refuse_circles(own)
        turn.forget()
        turn.read(self.sheets)
        return found

    def refuse_circles(self, own: Sequence[Own]) -> None:
        """Refuse formulas of one's own that rest on themselves: those of the templates never do.

        Raises:
            OddError: They do, directly or through others.
        """
        leads: dict[Spot, Spot] = {}
        words: dict[Spot, str] = {}
        for sheet, cells in self.sheets.items():
            name = sheet.casefold()
            for address, cell in cells.items():
                if cell.formula:
                    lead = (name, *split(address))
                    words[lead] = cell.formula
                    area = block_cells(cell.array or address)
                    leads |= {(name, *split(one)): lead for one in area}
        spots = by_sheet(leads)
        rests: dict[Spot, set[Spot]] = {}
        left = [(sheet.casefold(), *split(address)) for sheet, address, _ in own]
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
        self.turn.values[sheet, address] = value

    def fill(self, sheet: str, area: str, result: Value | Rows) -> None:
        """Hold the cells of one block against what its call gave.

        A row that was confirmed, for which the call gives what it gave then, is as it was.
        """
        self.record.blocks += 1
        ((_, top, left, bottom, right),) = areas_named(area)
        if not isinstance(result, list) or len(result) != bottom - top + 1:
            raise OddError
        wide = right - left + 1
        if any(len(row) != wide for row in result):
            raise OddError
        turn, at = self.turn, places(sheet, area)
        fresh, before = turn.fresh[sheet], turn.blocks.get((sheet, area), ())
        alike = _ALIKE.issuperset(map(type, chain.from_iterable(result)))
        for index, row in enumerate(result):
            if alike and before and row == before[index] and top + index not in fresh:
                continue
            self.fill_row(top + index, at[index * wide : (index + 1) * wide], row)
        turn.blocks[sheet, area] = result if alike else ()

    def fill_row(self, row: int, places: Sequence[Address], given: Sequence[Value]) -> None:
        """Hold the cells of one row of a block against what its call gave."""
        line = self.turn.lines[places[0][0]].get(row)
        values, cells = self.turn.values, line.cells if line else {}
        for place, gave in zip(places, given, strict=True):
            cell, value = cells.get(place[1]), gave
            stored = None if cell is None else cell.value
            if gave != stored or gave.__class__ is not stored.__class__:
                value = tidy(gave)
                if not same(value, stored):
                    raise OddError
            values[place] = value


def _caller(record: Recomputed) -> Callable[[str, list[Value | Rows]], Value | Rows]:
    """Return what calls a function of ours; what goes wrong inside one is left to an engine."""

    def called(name: str, given: list[Value | Rows]) -> Value | Rows:
        result = spread(functions.catalogue()[name], given, call(name, given, record))
        if record.reasons:
            raise OddError
        return result

    return called
