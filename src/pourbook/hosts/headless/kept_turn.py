"""What a workbook that was confirmed leaves to the next: what formulas read, and what they gave.

Most rows of a workbook are those of the one before it, see
:class:`~pourbook.formats.ooxml.lines.SheetLine`. So only rows that are other objects are set anew,
and an area of which no value is another stays the same object, with all that is known of it. A
formula in a row that was confirmed, of which nothing it reads is another, is confirmed by that.

Contract: after :meth:`KeptTurn.read` every column holds what the cells of the given sheets hold,
and nothing else, whatever was read before, and :attr:`KeptTurn.due` are the rows whose formulas are
to be worked out. A file is not needed: the cells are those that were read. One turn uses one at a
time: :func:`taken` takes it out, and :func:`kept` puts back one in which all was confirmed.
"""

from __future__ import annotations

from collections import defaultdict, deque
from collections.abc import Callable, Iterable, Mapping, Sequence
from functools import lru_cache
from types import FunctionType
from typing import Any

from pourbook.cells import Address, CellError, Rows, Value
from pourbook.formats.ooxml.addresses import cells as block_cells
from pourbook.formats.ooxml.addresses import split
from pourbook.formats.ooxml.lines import SheetLine, lines_of, told
from pourbook.hosts.headless import cell_rules
from pourbook.hosts.headless.cell_rules import OddError
from pourbook.hosts.headless.engine import Cell, Sheets
from pourbook.hosts.headless.formula_code import AREA, LAST_ROW
from pourbook.hosts.headless.program import Program
from pourbook.once import KeptRows

Planned = Sequence[tuple[str, Cell, int, tuple[int, ...]]]
"""Formulas of the templates: the address, its cell, the number of its code, the rows it names."""
Own = tuple[str, str, str]
"""A formula of one's own: its sheet, its address, its words."""
_Formulas = tuple[Planned, Planned, Sequence[Own]]
WORTH = 4
"""Workbooks after which it is worth it to know which rows read what."""
_Line = SheetLine[Cell]
_SPOTS = "what formulas read"
_NOTHING: Mapping[int, Value] = {}
_NAMES = {n: one for n, one in vars(cell_rules).items() if isinstance(one, FunctionType)}


class KeptTurn:
    """The columns that the formulas of a program read, and what they gave.

    ``names`` are what code of formulas uses, ``functions`` the code of the program's, ``lines``
    the rows of each sheet, ``planned`` the formulas in them, ``calling`` those that call Pourbook,
    ``own`` the formulas of one's own that were met, ``values`` what formulas gave, ``blocks`` what
    calls gave, ``fresh`` the rows, by sheet, that are others than they were, and ``due`` those
    whose formulas are to be worked out; those that call Pourbook always are.
    """

    def __init__(self, program: Program, sheets: Sheets) -> None:
        """Make one for workbooks with such sheets.

        Raises:
            OddError: A sheet that the program reads is not there, or one is there twice.
        """
        self.program = program
        self.sheets = tuple(sheets)
        self.columns: dict[str, dict[int, list[Value]]] = {n.casefold(): {} for n in sheets}
        if len(self.columns) < len(self.sheets):
            raise OddError
        self.last = program.last
        self.areas: dict[tuple[int, ...], KeptRows] = {}
        self.names: dict[str, Any] = {**_NAMES, AREA: _taking(self.areas)}
        self.functions = [FunctionType(code, self.names) for code in program.codes]
        self.bind(program.columns)
        self.readers: _Readers | None = None
        self.forget()

    def forget(self) -> None:
        """Forget the cells and what formulas gave, so that all is done anew."""
        self.turns = 0
        self.own: list[Own] = []
        self.lines: dict[str, dict[int, _Line]] = {name: {} for name in self.sheets}
        self.planned: dict[str, dict[int, Planned]] = {name: {} for name in self.sheets}
        self.calling: dict[str, dict[int, Planned]] = {name: {} for name in self.sheets}
        self.values: dict[Address, Value] = {}
        self.blocks: dict[Address, Rows] = {}
        self.areas.clear()
        for columns in self.columns.values():
            for values in columns.values():
                values[:] = [None] * (self.last + 1)

    def bind(self, columns: Iterable[tuple[str, str, int]]) -> None:
        """Bind the names of columns to their values, which are set as cells are read.

        Raises:
            OddError: A sheet of them is not there.
        """
        for name, sheet, column in columns:
            if sheet not in self.columns:
                raise OddError
            self.names[name] = self.columns[sheet].setdefault(column, [])

    def read(self, sheets: Sheets) -> None:
        """Set the columns by what the cells hold, and note the formulas of one's own.

        Raises:
            OddError: An error is among them, a row too far down or twice, or a block of one's own.
        """
        if self.last > LAST_ROW:
            raise OddError
        changed: dict[int, set[int]] = defaultdict(set)
        self.fresh: dict[str, set[int]] = {name: set() for name in sheets}
        for name, cells in sheets.items():
            self._read_sheet(name, cells, changed)
        for area in [area for area in self.areas if _is_touched(area, changed)]:
            del self.areas[area]
        self.due = self._due(changed)
        self.turns += 1

    def _due(self, changed: Mapping[int, set[int]]) -> Mapping[str, set[int]]:
        """Return the rows that are others or read what changed; all while it is not known who."""
        if self.turns < WORTH:
            return {name: set(planned) for name, planned in self.planned.items()}
        if self.readers is None:
            self.readers = _Readers(self.program, self.names)
        due = {name: set(rows) for name, rows in self.fresh.items()}
        for sheet, row in self.readers.of(changed):
            if sheet in due:
                due[sheet].add(row)
        return due

    def _read_sheet(
        self, name: str, cells: Mapping[str, Cell], changed: dict[int, set[int]]
    ) -> None:
        """Set what differs in one sheet, and note the rows of columns in which it does."""
        lines = lines_of(cells)
        now = {line.number: line for line in lines}
        before, fresh = self.lines[name], self.fresh[name]
        if len(now) < len(lines):
            raise OddError
        columns = self.columns[name.casefold()]
        for number in [*(before.keys() - now.keys()), *now]:
            old, new = before.get(number), now.get(number)
            if old is new:
                continue
            fresh.add(number)
            if old:
                self._let_go(name, number)
            if new:
                self._plan(name, new)
            if columns and number <= self.last:
                _set(columns, number, _spots(old), _spots(new), changed)
        self.lines[name] = now

    def _let_go(self, name: str, number: int) -> None:
        """Forget the formulas of a row, and what they gave."""
        self.calling[name].pop(number, None)
        for address, cell, _, _ in self.planned[name].pop(number, ()):
            self.values.pop((name, address), None)
            if cell.array not in {"", address}:
                self.blocks.pop((name, cell.array), None)
                for place in places(name, cell.array):
                    self.values.pop(place, None)

    def _plan(self, name: str, line: _Line) -> None:
        """Note the formulas in a row.

        Raises:
            OddError: An error is in it, or a block of one's own.
        """
        look, mark = f"its formulas of {name}", self.program.mark
        found: tuple[object, _Formulas] | None = line.known.get(look)
        if found is None or found[0] is not mark:
            found = line.known[look] = (mark, self._formulas(name, line))
        planned, calls, own = found[1]
        if planned:
            self.planned[name][line.number] = planned
        if calls:
            self.calling[name][line.number] = calls
        self.own += own

    def _formulas(self, name: str, line: _Line) -> _Formulas:
        """Return the formulas of the templates in a row, those that call Pourbook, and one's own.

        Raises:
            OddError: An error is in it, or a block of one's own.
        """
        if CellError in {type(cell.value) for cell in line.cells.values()}:
            raise OddError
        look, by = f"its formulas of {name}", self.program.mark
        ours, own, odd = told(line, look, by, self._told, name)
        if odd:
            raise OddError
        planned = [(address, line.cells[address], code, rows) for address, code, rows in ours]
        calling = self.program.calling
        return tuple(planned), tuple([one for one in planned if one[2] in calling]), own

    def _told(
        self, cells: Mapping[str, Cell], name: str
    ) -> tuple[Sequence[tuple[str, int, tuple[int, ...]]], Sequence[Own], bool]:
        """Return the formulas of the templates in a row, one's own, and whether a block is that."""
        known = self.program.at.get(name, {})
        planned: list[tuple[str, int, tuple[int, ...]]] = []
        own: list[Own] = []
        for address, cell in cells.items():
            if not cell.formula:
                continue
            ours = known.get(address)
            if ours is not None and ours.formula == cell.formula:
                planned.append((address, ours.code, ours.rows))
            elif cell.array in {"", address}:
                own.append((name, address, cell.formula))
            else:
                return (), (), True
        return planned, own, False


class _Readers:
    """Which rows hold formulas that read a cell; those that call Pourbook are left out."""

    def __init__(self, program: Program, names: Mapping[str, Any]) -> None:
        self.cells: dict[tuple[int, int], set[tuple[str, int]]] = defaultdict(set)
        self.areas: dict[int, dict[tuple[int, int], set[tuple[str, int]]]] = {}
        columns = {name: id(values) for name, values in names.items()}
        reads = program.reads
        for sheet, cells in program.at.items():
            for address, known in cells.items():
                at = (sheet, split(address)[0])
                for name, first, last in reads[known.code]:
                    column, top, bottom = columns[name], known.rows[first], known.rows[last]
                    if top == bottom:
                        self.cells[column, top].add(at)
                    else:
                        areas = self.areas.setdefault(column, defaultdict(set))
                        areas[top, bottom].add(at)

    def of(self, changed: Mapping[int, set[int]]) -> set[tuple[str, int]]:
        """Return the rows that read what changed, the rows of columns by the column."""
        found: set[tuple[str, int]] = set()
        for column, rows in changed.items():
            for row in rows:
                found.update(self.cells.get((column, row), ()))
            for (top, bottom), readers in self.areas.get(column, {}).items():
                if _meet(rows, top, bottom):
                    found |= readers
        return found


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


def _set(
    columns: Mapping[int, list[Value]],
    row: int,
    old: Mapping[int, Value],
    new: Mapping[int, Value],
    changed: dict[int, set[int]],
) -> None:
    """Set one row of columns by what its cells held, and what they hold now."""
    for column in columns.keys() & (old.keys() | new.keys()):
        values, value = columns[column], new.get(column)
        was, values[row] = values[row], value
        if was is not value and (was != value or type(was) is not type(value) or not value):
            changed[id(values)].add(row)


def _is_touched(area: tuple[int, ...], changed: Mapping[int, set[int]]) -> bool:
    """Return whether a value in an area is another than it was."""
    first, last, *columns = area
    return any(_meet(changed[one], first, last) for one in columns if one in changed)


def _meet(rows: Iterable[int], first: int, last: int) -> bool:
    """Return whether one of some rows is among those from the first to the last."""
    return any(first <= row <= last for row in rows)


def _spots(line: _Line | None) -> Mapping[int, Value]:
    """Return the columns of a row that hold something, with what formulas read there."""
    if line is None:
        return _NOTHING
    found: Mapping[int, Value] | None = line.known.get(_SPOTS)
    if found is None:
        end = -len(str(line.number))
        found = line.known[_SPOTS] = {
            _column(address[:end]): "" if cell.value is None and cell.formula else cell.value
            for address, cell in line.cells.items()
        }
    return found


@lru_cache(maxsize=1024)
def _column(letters: str) -> int:
    return split(f"{letters}1")[1]


@lru_cache(maxsize=64)
def places(sheet: str, area: str) -> tuple[Address, ...]:
    """Return the places of a block's cells, row by row."""
    return tuple([(sheet, address) for address in block_cells(area)])


def taken(program: Program, sheets: Sheets) -> KeptTurn:
    """Return what is kept of a workbook before this one with the same sheets, or a new one.

    Raises:
        OddError: A sheet that the program reads is not there, or one is there twice.
    """
    for one in tuple(_KEPT):  # other threads may take some
        if one.program.mark is program.mark and one.sheets == tuple(sheets):
            try:
                _KEPT.remove(one)
            except ValueError:
                continue
            return one
    return KeptTurn(program, sheets)


def kept(turn: KeptTurn) -> None:
    """Keep what a turn leaves to those to come."""
    _KEPT.append(turn)


_KEPT: deque[KeptTurn] = deque(maxlen=4)
"""Those of the last kinds of workbooks: jobs of both systems, and a shop's."""
