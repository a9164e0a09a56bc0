"""Places every block of a book on its sheet and turns named formulas into A1 formulas.

Contract: :func:`plan` is a pure function of the book, the measure system and the number of rows;
it opens no file and knows no spreadsheet library. The same plan serves the builder, the reader, the
check and ``explain``, so a cell has one address everywhere.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from functools import cached_property, lru_cache

from pourbook import __version__
from pourbook.errors import TemplateError
from pourbook.functions.catalogue import Function, catalogue
from pourbook.units import SYSTEMS, System
from pourbook.workbook.addresses import a1, letters
from pourbook.workbook.template import Block, Book, Field, Sheet, load_book

FIRST_BLOCK_ROW = 5
BESIDE = ("print", "text")
CHART_ROWS = 17
_REFERENCE = re.compile(r"\{([^{}]+)\}")
_UNIT = re.compile(r"\{unit:([a-z_]+)\}")
_ROLE = re.compile(r"@([a-z_]+)")


@dataclass(frozen=True)
class PlannedCell:
    """One cell the template speaks of.

    ``role`` is title, purpose, heading, note, header, unit, label, entry, fixed, formula, fill,
    check, link or text. ``formula`` is the A1 text beginning with ``=``; ``named`` the same formula
    as the template writes it. For a cell filled by a block function, ``fill`` is the id of its
    block, and only the top-left one carries the formula and its ``array`` range.
    """

    sheet: str
    row: int
    column: int
    role: str
    value: str | float | None = None
    formula: str = ""
    named: str = ""
    array: str = ""
    fill: str = ""
    block: str = ""
    field: Field | None = None
    index: int = 0
    link: str = ""
    style: str = ""
    spans: int = 1

    @property
    def address(self) -> str:
        """Return the cell's A1 address without its sheet."""
        return a1(self.row, self.column)


@dataclass(frozen=True)
class Place:
    """Where a block stands: its data rows, and the column or row of every field."""

    sheet: str
    first: int
    last: int
    columns: dict[str, int]
    rows: dict[str, int]
    top: int = 0


@dataclass
class Plan:
    """A book laid out for one measure system and one number of rows."""

    book: Book
    system: System
    pieces: int
    cells: list[PlannedCell] = field(default_factory=list)
    places: dict[str, Place] = field(default_factory=dict)

    @cached_property
    def by_address(self) -> dict[tuple[str, str], PlannedCell]:
        """Every planned cell by sheet and A1 address."""
        return {(c.sheet, c.address): c for c in self.cells}

    @cached_property
    def entries(self) -> list[PlannedCell]:
        """The cells a person fills in, in reading order."""
        return [c for c in self.cells if c.role == "entry"]

    @cached_property
    def entry_at(self) -> dict[tuple[str, str, int], PlannedCell]:
        """The entry cells by block, field and row index (0 for a form)."""
        return {(c.block, c.field.id, c.index): c for c in self.entries if c.field}

    def block(self, name: str) -> Block:
        """Return the declaration of a block."""
        return self.book.block(name)

    def cell(self, block: str, name: str, index: int = 0) -> PlannedCell:
        """Return the cell of a field: row ``index`` of a table, or instance of a lines block."""
        place = self.places[block]
        if place.rows:
            row, column = place.rows[name], 2 + index
        else:
            row, column = place.first + index, place.columns[name]
        return self.by_address[place.sheet, a1(row, column)]

    def text(self, raw: str) -> str:
        """Fill the unit names of the job's system, and Pourbook's version, into a template text."""
        filled = _UNIT.sub(lambda m: _role(self.system, m[1]), raw)
        return filled.replace("{version}", __version__)

    def unit(self, raw: str) -> str:
        """Return a unit as it stands on the sheet, with the currency left as ``@money``."""
        named = _ROLE.sub(lambda m: m[0] if m[1] == "money" else _role(self.system, m[1]), raw)
        return self.text(named)


def quoted(sheet: str) -> str:
    """Return a sheet name as formulas write it."""
    return sheet if sheet.isalpha() else f"'{sheet}'"


@lru_cache(maxsize=16)
def plan(book_name: str, system: str, pieces: int) -> Plan:
    """Lay out a book of the template folder.

    Args:
        book_name: Folder of the templates, such as ``"job"``.
        system: ``"us"``, ``"imperial"`` or ``"metric"``.
        pieces: Rows of the tables that grow with the job.

    Raises:
        TemplateError: A formula names something that is not there.
    """
    return plan_book(load_book(book_name), SYSTEMS[system], pieces)


def plan_book(book: Book, system: System, pieces: int) -> Plan:
    """Lay out a book that is already read."""
    grown = tuple(
        replace(
            sheet,
            blocks=tuple(replace(b, rows=pieces) if b.grows else b for b in sheet.blocks),
        )
        for sheet in book.sheets
    )
    book = replace(book, sheets=grown)
    result = Plan(book, system, pieces)
    for sheet in book.sheets:
        _place(result, sheet)
    for sheet in book.sheets:
        result.cells.extend(_cells(result, sheet))
    return result


def _role(system: System, name: str) -> str:
    unit = getattr(system, name, None)
    if not isinstance(unit, str):
        raise TemplateError(f"'{name}' is no unit of a measure system")
    return unit


def _place(result: Plan, sheet: Sheet) -> None:
    row = FIRST_BLOCK_ROW - (2 if sheet.kind in BESIDE else 0)
    for block in sheet.blocks:
        top = row
        row += (1 if block.title else 0) + (1 if block.note else 0)
        names = [f.id for f in block.all_fields()]
        columns: dict[str, int] = {}
        rows: dict[str, int] = {}
        first = row
        if block.kind == "table":
            first = row + 2
            columns = {n: i + 1 for i, n in enumerate(names)}
            size = block.rows
        elif block.kind in {"form", "lines"}:
            first = row + (1 if block.kind == "lines" else 0)
            rows = {n: first + i for i, n in enumerate(names)}
            size = len(names)
        elif block.kind == "checks":
            first = row + 1
            columns = {"label": 1, "result": 2, "sheet": 3, "mend": 4}
            size = len(block.checks)
        elif block.kind == "chart":
            size = CHART_ROWS
        elif block.kind == "map":
            size = len(result.book.sheets) - 1
        elif block.kind == "functions":
            first = row + 1
            size = len(scalar_functions())
        else:
            size = len(block.text)
        result.places[block.id] = Place(sheet.sheet, first, first + size - 1, columns, rows, top)
        row = first + size + 1


def resolve(result: Plan, formula: str, at: PlannedCell) -> str:
    """Turn a formula with named references into an A1 formula for the cell ``at``."""
    text = expand(result.book, formula)
    return "=" + _REFERENCE.sub(lambda m: _reference(result, m[1], at), result.text(text))


def expand(book: Book, formula: str) -> str:
    """Write out the macros of a formula, such as ``money(...)``."""
    for macro in book.macros:
        while True:
            start = re.search(rf"\b{macro.name}\(", formula)
            if start is None:
                break
            depth, end = 1, start.end()
            while depth:
                depth += {"(": 1, ")": -1}.get(formula[end : end + 1], 0)
                end += 1
                if end > len(formula) + 1:
                    raise TemplateError(f"'{macro.name}(' is not closed", "", formula)
            inner = formula[start.end() : end - 1]
            body = macro.text.replace("{x}", inner)
            formula = formula[: start.start()] + body + formula[end:]
    return formula


def _reference(result: Plan, name: str, at: PlannedCell) -> str:
    where = f"{at.sheet}!{at.address}"
    own = result.book.block(at.block) if at.block else None
    if own is not None and own.kind == "lines" and "@i" in name and not name.startswith("@"):
        name = name.replace("@i", own.instances[at.index].lower())
    if name.startswith("@"):
        place = result.places[at.block]
        if own is not None and own.kind == "lines" and name == "@instance":
            return a1(place.first - 1, at.column)
        if place.rows:
            return a1(place.rows[_have(place.rows, name[1:], where)], at.column)
        return f"${letters(place.columns[_have(place.columns, name[1:], where)])}{at.row}"
    block, _, rest = name.partition(".")
    if block not in result.places:
        raise TemplateError(f"no block '{block}'", "", where)
    place = result.places[block]
    prefix = "" if place.sheet == at.sheet else quoted(place.sheet) + "!"
    item, _, more = rest.partition(".")
    target = result.book.block(block)
    finder = {"lines": _in_lines, "form": _in_form}.get(target.kind, _in_table)
    return prefix + finder(target, place, item, more, at)


def _box(row_1: int, column_1: int, row_2: int, column_2: int) -> str:
    corner = a1(row_1, column_1, absolute=True)
    other = a1(row_2, column_2, absolute=True)
    return corner if corner == other else f"{corner}:{other}"


def _in_form(_block: Block, place: Place, item: str, _more: str, at: PlannedCell) -> str:
    row = place.rows[_have(place.rows, item, f"{at.sheet}!{at.address}")]
    return _box(row, 2, row, 2)


def _in_lines(block: Block, place: Place, item: str, more: str, at: PlannedCell) -> str:
    """Find a row, a column or one cell of a lines block."""
    last = 1 + len(block.instances)
    if item == "labels":
        return _box(place.first, 1, place.last, 1)
    if item == "heads":
        return _box(place.first - 1, 2, place.first - 1, last)
    if item == "all":
        column = 2 + block.instances.index(more)
        return _box(place.first, column, place.last, column)
    row = place.rows[_have(place.rows, item, f"{at.sheet}!{at.address}")]
    if more == "@":
        return a1(row, at.column)
    if more:
        column = 2 + block.instances.index(more)
        return _box(row, column, row, column)
    return _box(row, 2, row, last)


def _in_table(block: Block, place: Place, item: str, more: str, at: PlannedCell) -> str:
    """Find a column, a group of columns, a row across the formulas, or one cell of a table."""
    entries = len(block.columns)
    width = len(block.all_fields())
    spans = {"entries": (1, entries), "results": (entries + 1, width), "all": (1, width)}
    if item in spans:
        return _box(place.first, spans[item][0], place.last, spans[item][1])
    formulas = [place.columns[f.id] for f in block.columns if f.kind == "formula"]
    if item == "across":
        row = place.first + int(more) - 1
        return _box(row, formulas[0], row, formulas[-1])
    if item == "heads":
        return _box(place.first - 2, formulas[0], place.first - 2, formulas[-1])
    column = place.columns[_have(place.columns, item, f"{at.sheet}!{at.address}")]
    if more == "@":
        return f"${letters(column)}{place.first + at.index}"
    return _box(place.first, column, place.last, column)


def _have(known: dict[str, int], name: str, where: str) -> str:
    if name not in known:
        raise TemplateError(f"no field '{name}'", "", where)
    return name


def sheet_width(sheet: Sheet) -> int:
    """Return how many columns a running text of a sheet may span."""
    tables = (len(b.all_fields()) for b in sheet.blocks if b.kind == "table")
    return len(sheet.widths) or max(tables, default=1)


def scalar_functions() -> list[Function]:
    """Return the functions meant for the estimator's own cells."""
    return [f for f in catalogue().values() if not f.columns]


def _cells(result: Plan, sheet: Sheet) -> Iterator[PlannedCell]:
    def here(row: int, column: int, role: str, **more: object) -> PlannedCell:
        return PlannedCell(sheet.sheet, row, column, role, **more)  # type: ignore[arg-type]

    home = result.book.sheets[0].sheet
    named = "{" + result.book.overall + "}"
    yield here(1, 1, "title", value=result.text(sheet.title))
    # A sheet to hand over prints neither check nor purpose: they stand beside the printed part.
    beside = sheet.kind in BESIDE
    row, column = (1, 2 + len(sheet.widths)) if beside else (3, 1)
    purpose = here(2, column if beside else 1, "purpose")
    yield replace(purpose, value=result.text(sheet.purpose))
    yield here(row, column, "label", value="All checks")
    overall = here(row, column + 1, "check")
    yield replace(overall, formula=resolve(result, named, overall), named=named)
    if sheet.sheet != home:
        yield here(row, column + 2, "link", value=f"Back to {home}", link=home)
    for item in sheet.blocks:
        place = result.places[item.id]
        if item.title:
            yield here(place.top, 1, "heading", value=result.text(item.title), block=item.id)
        if item.note:
            row = place.top + (1 if item.title else 0)
            yield here(row, 1, "note", value=result.text(item.note), block=item.id)
        for cell in _block_cells(result, sheet, item, place):
            yield _solved(result, cell)


def _solved(result: Plan, cell: PlannedCell) -> PlannedCell:
    """Give a cell its A1 formula once its place is known."""
    if cell.named:
        return replace(cell, formula=resolve(result, cell.named, cell))
    return cell


def _block_cells(
    result: Plan, sheet: Sheet, block: Block, place: Place
) -> Iterator[PlannedCell]:
    def here(row: int, column: int, role: str, **more: object) -> PlannedCell:
        return PlannedCell(sheet.sheet, row, column, role, block=block.id, **more)  # type: ignore[arg-type]

    if block.kind == "table":
        yield from _table_cells(result, block, place, here)
    elif block.kind == "form":
        for item in block.columns:
            row = place.rows[item.id]
            yield here(row, 1, "label", value=result.text(item.header), field=item)
            yield _content(result, here(row, 2, "", field=item), item)
            yield from _unit_cell(result, here(row, 3, "unit", field=item), item)
            if item.help:
                yield here(row, 4, "help", value=result.text(item.help), field=item)
    elif block.kind == "lines":
        for number, instance in enumerate(block.instances):
            yield here(place.first - 1, 2 + number, "header", value=instance, index=number)
        yield here(place.first - 1, 2 + len(block.instances), "header", value="Unit")
        for item in block.columns:
            row = place.rows[item.id]
            yield here(row, 1, "label", value=result.text(item.header), field=item)
            for number in range(len(block.instances)):
                cell = here(row, 2 + number, "", field=item, index=number)
                yield _content(result, cell, item)
            unit = here(row, 2 + len(block.instances), "unit", field=item)
            yield from _unit_cell(result, unit, item)
    elif block.kind == "checks":
        for column, header in enumerate(("Check", "Result", "Look at", "How to mend"), start=1):
            yield here(place.first - 1, column, "header", value=header)
        for index, check in enumerate(block.checks):
            row = place.first + index
            yield here(row, 1, "label", value=result.text(check.label), index=index)
            named = f'IF(IFERROR({check.formula},FALSE),"OK","CHECK")'
            yield here(row, 2, "check", named=named, index=index)
            yield here(row, 3, "link", value=check.sheet, link=check.sheet, index=index)
            yield here(row, 4, "help", value=result.text(check.mend), index=index)
    elif block.kind == "map":
        for index, other in enumerate(result.book.sheets[1:]):
            row = place.first + index
            yield here(row, 1, "link", value=other.sheet, link=other.sheet, index=index)
            spans = max(1, len(sheet.widths) - 1)
            purpose = result.text(other.purpose)
            yield here(row, 2, "text", value=purpose, index=index, spans=spans)
    elif block.kind == "functions":
        for column, header in enumerate(("Function", "Arguments", "Gives", "For example"), start=1):
            yield here(place.first - 1, column, "header", value=header)
        for index, function in enumerate(scalar_functions()):
            row = place.first + index
            yield here(row, 1, "text", value=function.name, index=index)
            listed = ", ".join(a.name for a in function.arguments)
            yield here(row, 2, "text", value=listed, index=index)
            yield here(row, 3, "text", value=function.summary, index=index)
            yield here(row, 4, "text", value=function.examples[0].typed(function.name), index=index)
    elif block.kind == "text":
        for index, line in enumerate(block.text):
            named = line[1:] if line.startswith("=") else ""
            value = None if named else result.text(line)
            spans = sheet_width(sheet)
            cell = here(place.first + index, 1, "text", value=value, named=named, index=index)
            yield replace(cell, style=block.style, spans=spans)


def _table_cells(
    result: Plan, block: Block, place: Place, here: object
) -> Iterator[PlannedCell]:
    make = here  # a factory bound to the sheet and block
    assert callable(make)
    fill = block.fill
    for item in block.all_fields():
        column = place.columns[item.id]
        yield make(place.first - 2, column, "header", value=result.text(item.header), field=item)
        yield from _unit_cell(result, make(place.first - 1, column, "unit", field=item), item)
    filled = {f.id for f in fill.columns} if fill else set()
    named = array = ""
    if fill:
        named = f"{fill.function}({','.join(fill.arguments)})"
        start = place.columns[fill.columns[0].id]
        end = place.columns[fill.columns[-1].id]
        array = f"{a1(place.first, start)}:{a1(place.last, end)}"
    for index in range(block.rows):
        row = place.first + index
        for item in block.all_fields():
            column = place.columns[item.id]
            if item.id in filled:
                lead = index == 0 and fill is not None and item is fill.columns[0]
                yield make(
                    row,
                    column,
                    "fill",
                    field=item,
                    index=index,
                    fill=block.id,
                    named=named if lead else "",
                    array=array if lead else "",
                )
            else:
                yield _content(result, make(row, column, "", field=item, index=index), item)


def _content(result: Plan, cell: PlannedCell, item: Field) -> PlannedCell:
    """Give a value cell its role: entry, formula, running number or fixed text."""
    if item.kind == "formula":
        return replace(cell, role="formula", named=item.formula)
    if item.kind == "index":
        return replace(cell, role="fixed", value=cell.index + 1)
    if item.kind == "fixed":
        fixed = item.default
        value = result.text(fixed) if isinstance(fixed, str) else fixed
        return replace(cell, role="fixed", value=value)
    return replace(cell, role="entry")


def _unit_cell(result: Plan, cell: PlannedCell, item: Field) -> Iterator[PlannedCell]:
    unit = result.unit(item.unit)
    if not unit:
        return
    if "@money" not in unit:
        yield replace(cell, value=unit)
        return
    before, _, after = unit.partition("@money")
    parts = [f'"{before}"'] if before else []
    parts.append("{" + result.book.currency + "}")
    if after:
        parts.append(f'"{after}"')
    yield replace(cell, named="&".join(parts), role="unit")
