"""A book laid out: where every cell stands and what the template says of it.

Contract: plain data; nothing here opens a file or knows a spreadsheet library.
"""

from __future__ import annotations

import hashlib
import re
import sys
from collections import defaultdict
from collections.abc import Collection, Mapping
from dataclasses import field
from functools import cached_property
from itertools import repeat
from typing import Any, NamedTuple

from pourbook import __version__
from pourbook.errors import TemplateError
from pourbook.formats.ooxml.addresses import a1
from pourbook.hosts.headless.program import Program, programmed
from pourbook.records import dataclass
from pourbook.units import System
from pourbook.workbook.template import released
from pourbook.workbook.template.template import Block, Book, Field

SAID = frozenset({"title", "purpose", "note", "help", "text", "link"})
"""The roles of cells whose words explain or warn."""
_FIXED = SAID | {"header", "label", "heading", "fixed", "unit"}
"""The roles of cells whose words are those of the template."""
_UNIT = re.compile(r"\{unit:([a-z_]+)\}")
_ROLE = re.compile(r"@([a-z_]+)")


class PlannedCell(NamedTuple):
    """One cell the template speaks of.

    ``role`` is title, purpose, heading, note, header, unit, label, entry, kept, fixed, formula,
    fill, check, link or text. ``formula`` is the A1 text beginning with ``=``; ``named`` the same
    formula as the template writes it. For a cell filled by a block function, ``fill`` is the id of
    its block, and only the top-left one carries the formula and its ``array`` range. A cell that
    rests on whether functions are live has an ``array`` of itself alone. An entry may hold an
    ``offer``: the formula that stands in it until a person types over it. ``address`` is where it
    stands on its sheet; :meth:`at` makes a cell with it.
    """

    sheet: str
    row: int
    column: int
    address: str
    role: str
    value: str | float | None = None
    formula: str = ""
    named: str = ""
    array: str = ""
    fill: str = ""
    block: str = ""
    field: Field | None = None
    index: int = 0  # type: ignore[assignment]  # nobody looks for a thing in a cell
    link: str = ""
    style: str = ""
    spans: int = 1
    offer: str = ""

    @property
    def stands(self) -> bool:
        """Whether its formula or its words have to stand there."""
        return bool(self.formula) or (self.role in _FIXED and self.value not in {None, ""})

    @classmethod
    def at(cls, sheet: str, row: int, column: int, role: str, **more: Any) -> PlannedCell:
        """Return a cell of a sheet by its place there."""
        return cls(sheet, row, column, sys.intern(a1(row, column)), role, **more)

    def but(self, **changes: Any) -> PlannedCell:
        """Return the same cell with something of it changed, never its place."""
        return self._replace(**changes)


@dataclass(frozen=True)
class Place:
    """Where a block stands: its data rows, and the column or row of every field.

    A block of cards has ``spots`` instead: row and column of every field on the first card, and
    ``step``, the rows from one card to the next. ``left`` is its first column.
    """

    sheet: str
    first: int
    last: int
    columns: dict[str, int]
    rows: dict[str, int]
    top: int = 0
    spots: Mapping[str, tuple[int, int]] = field(default_factory=dict)
    step: int = 0
    left: int = 1


@dataclass
class Layout:
    """A book of one version of the templates, laid out for one measure system and so many rows.

    ``written_out`` remembers formulas of the template with their macros written out: most of them
    stand in many rows.
    """

    book: Book
    system: System
    pieces: int
    version: str = released.CURRENT
    cells: list[PlannedCell] = field(default_factory=list)
    places: dict[str, Place] = field(default_factory=dict)
    written_out: dict[str, str] = field(default_factory=dict, repr=False, compare=False)

    def __getstate__(self) -> dict[str, object]:
        """Return what is kept: cells as bare tuples, which are read in a third of the time."""
        return {**self.__dict__, "cells": [tuple(cell) for cell in self.cells]}

    def __setstate__(self, kept: dict[str, Any]) -> None:
        """Take what was kept."""
        self.__dict__.update(kept)
        self.cells = list(map(tuple.__new__, repeat(PlannedCell), kept["cells"]))

    @cached_property
    def mark(self) -> object:
        """What is known of a row by this layout is known by; it holds nothing in memory."""
        return object()

    @cached_property
    def by_address(self) -> dict[tuple[str, str], PlannedCell]:
        """Every planned cell by sheet and A1 address."""
        return {(c.sheet, c.address): c for c in self.cells}

    @cached_property
    def on_sheet(self) -> dict[str, list[PlannedCell]]:
        """The planned cells of each sheet."""
        found: dict[str, list[PlannedCell]] = {sheet.sheet: [] for sheet in self.book.sheets}
        for cell in self.cells:
            found[cell.sheet].append(cell)
        return found

    @cached_property
    def in_row(self) -> dict[str, dict[int, dict[str, PlannedCell]]]:
        """The planned cells of each row by their addresses, by sheet and row."""
        found: dict[str, dict[int, dict[str, PlannedCell]]] = {}
        for sheet, cells in self.on_sheet.items():
            rows = found[sheet] = defaultdict(dict)
            for cell in cells:
                rows[cell.row][cell.address] = cell
        return {sheet: dict(rows) for sheet, rows in found.items()}

    @cached_property
    def never_blank(self) -> dict[str, frozenset[int]]:
        """The rows of each sheet in which something has to stand."""
        return {
            sheet: frozenset(cell.row for cell in cells if cell.stands)
            for sheet, cells in self.on_sheet.items()
        }

    @cached_property
    def in_block(self) -> dict[str, list[PlannedCell]]:
        """The planned cells of each block."""
        found: dict[str, list[PlannedCell]] = defaultdict(list)
        for cell in self.cells:
            found[cell.block].append(cell)
        return found

    @cached_property
    def fingerprint(self) -> str:
        """A short text that changes when any cell stands elsewhere or means something else."""
        hashed = hashlib.sha256()
        for cell in self.cells:
            name = cell.field.id if cell.field else ""
            where = (cell.sheet, cell.address, cell.role)
            parts = (*where, cell.block, name, str(cell.index), cell.array)
            hashed.update("\0".join(parts).encode() + b"\n")
        return hashed.hexdigest()[:16]

    @cached_property
    def program(self) -> Program:
        """Its formulas as code, those that entries offer among them."""
        return programmed(
            (cell.sheet, cell.address, cell.formula or cell.offer)
            for cell in self.cells
            if cell.formula or cell.offer
        )

    @cached_property
    def entries(self) -> list[PlannedCell]:
        """The cells a person fills in, in reading order."""
        return [c for c in self.cells if c.role == "entry"]

    @cached_property
    def entry_places(self) -> dict[str, dict[str, int]]:
        """Where each entry of a field stands among :attr:`entries`, by sheet and address."""
        found: dict[str, dict[str, int]] = defaultdict(dict)
        for place, cell in enumerate(self.entries):
            if cell.field is not None:
                found[cell.sheet][cell.address] = place
        return found

    @cached_property
    def required(self) -> dict[str, list[int]]:
        """The places of the entries that are needed among :attr:`entries`, by sheet."""
        found: dict[str, list[int]] = defaultdict(list)
        for place, cell in enumerate(self.entries):
            if cell.field is not None and cell.field.required:
                found[cell.sheet].append(place)
        return found

    @cached_property
    def chosen_from(self) -> dict[str, Field]:
        """A field for each list of the workbook that entries choose from, by its name."""
        found = (cell.field for cell in self.entries if cell.field is not None)
        return {item.choices_from: item for item in found if item.choices_from}

    @cached_property
    def entry_at(self) -> dict[tuple[str, str, int], PlannedCell]:
        """The entry cells by block, field and row index (0 for a form)."""
        return {(c.block, c.field.id, c.index): c for c in self.entries if c.field}

    def offered(self, typed: Collection[tuple[str, str, int]]) -> list[tuple[str, str]]:
        """Return the entries that hold their offer, as nobody typed them: sheet and address."""
        return [
            (cell.sheet, cell.address)
            for key, cell in self.entry_at.items()
            if cell.offer and key not in typed
        ]

    @cached_property
    def checks(self) -> list[PlannedCell]:
        """The cells that show whether a check of the job holds."""
        return [cell for cell in self.cells if cell.role == "check" and cell.block]

    @cached_property
    def kept_at(self) -> dict[tuple[str, str, int], PlannedCell]:
        """The cells a command writes, by block, field and row index (0 for a form)."""
        return {
            (c.block, c.field.id, c.index): c for c in self.cells if c.role == "kept" and c.field
        }

    def block(self, name: str) -> Block:
        """Return the declaration of a block."""
        return self.book.block(name)

    def cell(self, block: str, name: str, index: int = 0) -> PlannedCell:
        """Return the cell of a field: row ``index`` of a table, instance of lines, or card."""
        place = self.places[block]
        if place.spots:
            row, column = place.spots[name]
            row += index * place.step
        elif place.rows:
            row, column = place.rows[name], place.left + 1 + index
        else:
            row, column = place.first + index, place.columns[name]
        return self.by_address[place.sheet, a1(row, column)]

    def text(self, raw: str) -> str:
        """Fill units, Pourbook's version and that of the templates into a template text."""
        filled = _UNIT.sub(lambda m: _role(self.system, m[1]), raw)
        return filled.replace("{version}", __version__).replace("{sheets}", self.version)

    def unit(self, raw: str) -> str:
        """Return a unit as it stands on the sheet, with the currency left as ``@money``."""
        named = _ROLE.sub(lambda m: m[0] if m[1] == "money" else _role(self.system, m[1]), raw)
        return self.text(named)


def _role(system: System, name: str) -> str:
    unit = getattr(system, name, None)
    if not isinstance(unit, str):
        raise TemplateError(f"'{name}' is no unit of a measure system")
    return unit
