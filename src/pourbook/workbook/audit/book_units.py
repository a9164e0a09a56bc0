"""The units of every formula of a book, held against those its cells are labelled with.

Contract: :func:`audit` reads the declarations alone, in the units of one system, and returns one
line a fault; a book whose units fit gives none. Macros may say which unit they take and give: those
that turn one into another, such as days into hours.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from pourbook import units
from pourbook.functions.catalogue import catalogue
from pourbook.records import dataclass
from pourbook.units import SYSTEMS, System
from pourbook.workbook.audit.infer import Reading, infer
from pourbook.workbook.audit.sorts import (
    ANY,
    DATE,
    ORDINAL,
    TEXT,
    Sort,
    UnitError,
    sort_of,
    together,
)
from pourbook.workbook.template.template import Block, Book, Field, Macro

_REFERENCE = re.compile(r"\{([^{}]+)\}")
_ROLE = re.compile(r"@([a-z_]+)|\{unit:([a-z_]+)\}")
_NAME = "cell_{}_"
_WORDS = {"word", "heading", "spot", "bad_at"}


@dataclass(frozen=True)
class UnitFault:
    """A formula or a label whose unit does not fit."""

    block: str
    field: str
    what: str

    def __str__(self) -> str:
        return f"{self.block}.{self.field}: {self.what}"


def audit(book: Book, system: str) -> list[UnitFault]:
    """Return every formula and every label of a book whose unit does not fit.

    Args:
        book: As :func:`~pourbook.workbook.template.template.load_book` reads it.
        system: The measure system its sheets are made in.

    Example:
        >>> from pourbook.workbook.template.template import load_book
        >>> audit(load_book("shop"), "metric")
        []
    """
    looked = _Audit(book, SYSTEMS[system])
    return [fault for block in book.blocks.values() for fault in looked.faults(block)]


def labelled(system: System, unit: str) -> Sort:
    """Return the sort that a unit of a template says, in the units of a system.

    Raises:
        UnitError: It is no unit that is known.
    """
    return sort_of(_written(system, unit))


def field_sort(system: System, block: Block, item: Field, instance: str) -> Sort:
    """Return what a field is labelled as; ``instance`` is the column of a lines block."""
    unit = item.unit
    if ", " in unit:
        at = block.instances.index(instance) if instance in block.instances else 0
        unit = unit.split(", ")[at]
    if not unit and (item.kind == "date" or "yyyy" in item.format):
        return DATE
    if not unit and item.kind == "index":
        return ORDINAL
    return labelled(system, unit)


def _written(system: System, unit: str) -> str:
    """Return a unit as a sheet shows it, with the currency left as ``@money``."""
    return _ROLE.sub(lambda m: str(getattr(system, m[1] or m[2], m[0])), unit)


class _Audit:
    """One book in the units of one system."""

    def __init__(self, book: Book, system: System) -> None:
        self.book = book
        self.system = system
        self.given: list[Sort] = []
        self.macros = {macro.name: macro for macro in book.macros}

    def faults(self, block: Block) -> Iterator[UnitFault]:
        for item in block.all_fields():
            for instance in block.instances or ("",):
                try:
                    self.look(block, item, instance)
                except UnitError as error:
                    yield UnitFault(block.id, item.id, error.what)
                    break
        for name, formula in self.rules(block):
            try:
                self.infer(block, "", formula)
            except UnitError as error:
                yield UnitFault(block.id, name, error.what)

    def rules(self, block: Block) -> Iterator[tuple[str, str]]:
        """Return the formulas of a block that no field is labelled for."""
        for check in block.checks:
            yield check.id, check.formula
        for line in block.text:
            if line.startswith("="):
                yield "text", line[1:]

    def look(self, block: Block, item: Field, instance: str) -> None:
        """Hold one field against its label; ``instance`` is the column of a lines block."""
        label = field_sort(self.system, block, item, instance)
        if item.dimension:
            self.dimension(item)
        for formula in filter(None, (item.formula, item.offers)):
            found = self.infer(block, instance, formula)
            if not found.fits(label) and not (label == TEXT and found.kind in _BARE):
                raise UnitError(f"labelled {_said(label)}, and gives {found}")
        stated = self.stated(block, item)
        if stated not in {TEXT, label}:
            raise UnitError(f"labelled {_said(label)}, and its function gives {stated}")

    def stated(self, block: Block, item: Field) -> Sort:
        """Return what the function that fills a column says of it; TEXT where it says nothing."""
        function = catalogue().get(block.fill.function) if block.fill else None
        units_ = {c.id: c.unit for c in function.columns if c.unit} if function else {}
        return labelled(self.system, f"@{units_[item.id]}") if item.id in units_ else TEXT

    def dimension(self, item: Field) -> None:
        """Hold a measure that may be typed with its unit against the kind it is read as."""
        kind = item.dimension.split()[0]
        if kind in units.PLAIN_NUMBERS:
            return
        unit = _written(self.system, item.unit)
        said = units.kind_of(f"1 {unit}", fluids=self.system.fluids) or ""
        if _LIKE.get(said, said) != _LIKE.get(kind, kind):
            raise UnitError(f"labelled {unit}, and read as {units.KINDS[kind].words}")

    def infer(self, block: Block, instance: str, formula: str) -> Sort:
        """Return the sort of a formula of a block."""
        names: list[str] = []

        def name(match: re.Match[str]) -> str:
            names.append(match[1])
            return _NAME.format(len(names) - 1)

        def cell(found: str) -> Sort:
            number = found.removeprefix("cell_").rstrip("_")
            return self.reference(block, instance, names[int(number)])

        def macro(found: str, given: list[Sort]) -> Sort | None:
            known = self.macros.get(found)
            return self.macro(block, instance, known, given) if known else None

        return infer("=" + _REFERENCE.sub(name, formula), Reading(cell, macro))

    def macro(self, block: Block, instance: str, macro: Macro, given: list[Sort]) -> Sort:
        """Return the sort of a rule that is written once, for what it is given."""
        if macro.gives:
            for sort in given:
                sort.beside(
                    labelled(self.system, macro.takes), f"taken for one another in {macro.name}"
                )
            return labelled(self.system, macro.gives)
        self.given.append(given[0] if given else ANY)
        try:
            return self.infer(block, instance, macro.text)
        finally:
            self.given.pop()

    def reference(self, block: Block, instance: str, name: str) -> Sort:
        """Return what a name in a formula stands for."""
        if name == "x":
            return self.given[-1]
        if name == "@instance":
            return TEXT
        name = name.replace("@i", instance.lower()) if not name.startswith("@") else name
        if name.startswith("@"):
            return field_sort(self.system, block, block.field(name[1:]), instance)
        other, _, rest = name.partition(".")
        item, _, more = rest.partition(".")
        target = self.book.block(other)
        if more.partition(".")[0] in _WORDS or item in {"labels", "heads"}:
            return TEXT
        if target.kind == "checks":
            return ANY if item in {"on", "whole"} else TEXT
        return self.cells(target, item, more.rstrip("@") or (instance if more == "@" else ""))

    def cells(self, block: Block, item: str, instance: str) -> Sort:
        """Return what a line, a column or some of them hold."""
        fields = block.all_fields()
        if item in {"all", "entries", "results", "across"}:
            own = [f for f in fields if f.kind == "formula"] if item == "across" else fields
            return together(s for f in own for s in self.each(block, f, instance))
        start, _, end = item.partition(":")
        first, last = (fields.index(block.field(name)) for name in (start, end or start))
        return together(s for f in fields[first : last + 1] for s in self.each(block, f, instance))

    def each(self, block: Block, item: Field, instance: str) -> Iterator[Sort]:
        for one in [instance] if instance else block.instances or ("",):
            yield field_sort(self.system, block, item, one)


_BARE = {"plain", "count", "ordinal"}
_LIKE = {"film": "length"}


def _said(sort: Sort) -> str:
    return "without a unit" if sort == TEXT else str(sort)
