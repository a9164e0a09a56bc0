"""The units of the estimator's own formulas, on sheets and cells that Pourbook leaves open.

Contract: :func:`own_units` returns the cells whose formula puts figures together that are of two
sorts, such as litres and square feet. A typed number has no unit and goes with anything, so what is
found here was read from labelled cells.
"""

from __future__ import annotations

from collections.abc import Iterator

from pourbook.cells import Address
from pourbook.formats.ooxml.addresses import a1, areas_named
from pourbook.workbook.audit.book_units import field_sort
from pourbook.workbook.audit.infer import Reading, infer
from pourbook.workbook.audit.sorts import ANY, TEXT, Sort, UnitError, together
from pourbook.workbook.layout.laid_out import Layout
from pourbook.workbook.read.read import RawBook

_SHOWN = {"entry", "kept", "fixed", "formula", "fill", "offer"}
MOST_CELLS = 20_000
"""Cells of one range whose units are looked at; a larger one goes with anything."""


def own_units(plan: Layout, book: RawBook) -> list[tuple[Address, str]]:
    """Return each own formula whose units do not fit: where it stands, and what does not.

    Args:
        plan: The layout.
        book: The workbook as read.
    """
    return _Own(plan, book).faults()


class _Own:
    def __init__(self, plan: Layout, book: RawBook) -> None:
        self.plan = plan
        self.book = book
        self.names = {name.casefold(): name for name in book.sheets}
        self.known: dict[Address, Sort] = {}
        self.found: list[tuple[Address, str]] = []

    def faults(self) -> list[tuple[Address, str]]:
        open_ = {sheet.sheet for sheet in self.plan.book.sheets if sheet.kind != "open"}
        for name, sheet in self.book.sheets.items():
            if name not in open_:
                for address, cell in sheet.cells.items():
                    if cell.formula:
                        self.cell((name, address))
        return self.found

    def cell(self, at: Address) -> Sort:
        """Return the sort of one cell, working out that of an own formula once."""
        planned = self.plan.by_address.get(at)
        if planned is not None:
            if planned.field is None or planned.role not in _SHOWN:
                return TEXT
            block = self.plan.block(planned.block)
            instance = block.instances[planned.index] if block.instances else ""
            try:
                sort = field_sort(self.plan.system, block, planned.field, instance)
            except UnitError:
                return ANY  # a word of earlier templates
            return ANY if sort == TEXT and planned.role in {"formula", "fill"} else sort
        if at not in self.known:
            self.known[at] = ANY  # what rests on itself
            self.known[at] = self.worked_out(at)
        return self.known[at]

    def worked_out(self, at: Address) -> Sort:
        sheet = self.book.sheets.get(at[0])
        cell = sheet.cells.get(at[1]) if sheet else None
        if cell is None or not cell.formula:
            return TEXT if cell is not None and isinstance(cell.value, str) else ANY
        import formualizer  # noqa: PLC0415 - of the formulas of a shop itself alone

        reading = Reading(lambda name: self.area(at[0], name), lambda _, __: None, typed=ANY)
        try:
            return infer("=" + cell.formula.lstrip("="), reading)
        except UnitError as error:
            self.found.append((at, error.what))
        except (formualizer.ParserError, formualizer.TokenizerError):
            return ANY  # no formula it can take apart: the engines say so themselves
        return ANY

    def area(self, own: str, name: str) -> Sort:
        """Return what a reference of a formula holds."""
        return together(
            self.cell(at) for area in areas_named(name) for at in self.cells(own, *area)
        )

    def cells(
        self, own: str, sheet: str, top: int, left: int, bottom: int, right: int
    ) -> Iterator[Address]:
        name = self.names.get(sheet, "") if sheet else own
        if (bottom - top + 1) * (right - left + 1) > MOST_CELLS:
            return
        for row in range(top, bottom + 1):
            for column in range(left, right + 1):
                yield name, a1(row, column)
