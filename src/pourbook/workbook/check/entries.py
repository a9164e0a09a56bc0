"""Checks what a person typed against the declarations of the templates.

Contract: the same declarations make the data validation inside the workbook; here they also catch
what was pasted past it. One finding an entry.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from functools import lru_cache

from pourbook.cells import CellError, Value, is_blank, is_refused, text
from pourbook.dates import FIRST_DAY
from pourbook.errors import PourbookError
from pourbook.formats.ooxml.lines import SheetLine, lines_not, lines_of, resting_on
from pourbook.tables import reading
from pourbook.workbook.check.findings import Finding
from pourbook.workbook.check.structure import as_offered
from pourbook.workbook.layout.laid_out import Layout, PlannedCell
from pourbook.workbook.layout.mending import LONGEST_TEXT, mend
from pourbook.workbook.read.read import RawBook
from pourbook.workbook.read.sheet_lines import RawCell
from pourbook.workbook.template.template import Field

_RIGHT = "entries are right "
BY_FORMULA = {"chosen"}
"""Blocks whose words native formulas look up: they know no odd spaces, as functions do."""


def check_entries(plan: Layout, book: RawBook) -> Iterator[Finding]:
    """Check every entry of a workbook, and the needed ones that are blank.

    A row in which all is right is known from then on, as long as the lists to choose from are so.
    """
    by = resting_on(plan.mark, _same(_listed_words(plan, book)))
    lines = {
        name: lines_not(book.sheets[name].cells, _RIGHT + name, by)
        for name in plan.entry_places
        if name in book.sheets
    }
    unsure: set[tuple[str, int]] = set()
    held = _held(plan, book, lines)
    begun = {(cell.block, cell.index) for cell, raw in held if raw and not is_blank(raw.value)}
    for cell, raw in held:
        assert cell.field is not None
        found = _of_cell(plan, book, cell, raw, begun)
        if found is not None:
            unsure.add((cell.sheet, cell.row))
            yield found
    for name, doubtful in lines.items():
        for line in doubtful:
            if (name, line.number) not in unsure:
                line.known[_RIGHT + name] = by


def _held(
    plan: Layout, book: RawBook, lines: Mapping[str, Sequence[SheetLine[RawCell]]]
) -> list[tuple[PlannedCell, RawCell | None]]:
    """Return the entries that hold something, or are needed, with what their cells hold.

    Those in rows of which all is known to be right are left out.
    """
    found: dict[int, RawCell | None] = {}
    for name, doubtful in lines.items():
        places = plan.entry_places[name]
        for line in doubtful:
            for at in places.keys() & line.cells.keys():
                found[places[at]] = line.cells[at]
        right = {line.number for line in lines_of(book.sheets[name].cells)}
        right -= {line.number for line in doubtful}
        for place in plan.required.get(name, ()):
            if plan.entries[place].row not in right:
                found.setdefault(place)
    return [(plan.entries[at], found[at]) for at in sorted(found)]


def _of_cell(
    plan: Layout,
    book: RawBook,
    cell: PlannedCell,
    raw: RawCell | None,
    begun: set[tuple[str, int]],
) -> Finding | None:
    """Return what is wrong with an entry."""
    assert cell.field is not None
    value = None if raw is None else raw.value
    if as_offered(cell, raw) or (is_blank(value) and raw is not None and raw.formula):
        return None  # worked out, not typed; what it gives is judged where it is used
    if is_blank(value):
        if not _needed(plan, cell, begun):
            return None
        what = f"{plan.text(cell.field.header)} is blank"
        how = f"fill it in. {plan.text(cell.field.help) or mend(plan, cell.field)}"
        return _finding("entry.missing", book, cell, what, how)
    wrong = fault(plan, book, cell.field, value)
    if wrong is not None:
        kind, what, how = wrong
        return _finding(kind, book, cell, f"{plan.text(cell.field.header)}: {what}", how)
    if cell.block in BY_FORMULA and isinstance(value, str) and value != text(value):
        what = f"{plan.text(cell.field.header)}: '{text(value)}' has a space too many"
        return _finding("entry.choice", book, cell, what, mend(plan, cell.field))
    return None


def _finding(kind: str, book: RawBook, cell: PlannedCell, what: str, how: str) -> Finding:
    return Finding(kind, book.path.name, cell.sheet, cell.address, what, how)


def _needed(plan: Layout, cell: PlannedCell, begun: set[tuple[str, int]]) -> bool:
    """Return whether a blank entry is needed: a form's, or one in a row that is begun."""
    if cell.field is None or not cell.field.required:
        return False
    return plan.block(cell.block).kind != "table" or (cell.block, cell.index) in begun


def fault(plan: Layout, book: RawBook, item: Field, value: Value) -> tuple[str, str, str] | None:
    """Return kind, what and how to mend, or None where the entry is right."""
    how = mend(plan, item)
    if isinstance(value, CellError):
        return "entry.error", f"the cell shows {value}", how
    if is_refused(value):
        return "entry.text", "a text may not begin with '!'", how
    if item.kind == "number":
        return _number_fault(item, value, how)
    if item.kind == "choice":
        allowed = {a.casefold() for a in choices(plan, book, item)}
        if text(value).casefold() not in allowed and _is_known(plan, book, item):
            return "entry.choice", f"'{text(value)}' is not in the list", how
    elif item.kind == "date":
        if not isinstance(value, int | float) or isinstance(value, bool) or value < FIRST_DAY:
            return "entry.date", f"'{text(value)}' is no date", how
    elif item.kind == "measure" and item.dimension:
        return _measure_fault(plan, item, value)
    elif item.kind == "ratio":
        try:
            reading.ratio(value, max(2, text(value).count(":") + 1), plan.text(item.header))
        except PourbookError as error:
            return "entry.ratio", error.what, error.mend
    elif item.kind == "text" and len(text(value)) > LONGEST_TEXT:
        return "entry.text", f"{len(text(value))} characters are too many", how
    return None


def _measure_fault(plan: Layout, item: Field, value: Value) -> tuple[str, str, str] | None:
    try:
        reading.one_of(value, item.dimension, plan.unit(item.unit), plan.system.fluids)
    except PourbookError as error:
        return "entry.measure", error.what, error.mend
    return None


def _number_fault(item: Field, value: Value, how: str) -> tuple[str, str, str] | None:
    if isinstance(value, str) and value.strip().rstrip("%").strip().replace(".", "", 1).isdecimal():
        return "entry.number", f"'{value.strip()}' is stored as text", f"type it again. {how}"
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        return "entry.number", f"'{text(value)}' is no number", how
    value = item.share(value)
    wrong = (
        (item.minimum is not None and value < item.minimum)
        or (item.maximum is not None and value > item.maximum)
        or (item.above is not None and value <= item.above)
        or (item.below is not None and value >= item.below)
        or (item.whole and value != int(value))
    )
    shown = f"{value * 100:g} %" if item.unit == "%" else f"{value:g}"
    if item.too_little(value):
        what = f"{shown} is less than any percentage of this kind"
        return "entry.number", what, f"type {value * 10000:g} for {value * 10000:g} %. {how}"
    return ("entry.number", f"{shown} is out of range", how) if wrong else None


def _listed_words(plan: Layout, book: RawBook) -> tuple[tuple[str, ...], ...]:
    """Return the words of each list of the workbook that entries choose from."""
    return tuple(
        (str(_is_known(plan, book, one)), *choices(plan, book, one))
        for one in plan.chosen_from.values()
    )


@lru_cache(maxsize=64)
def _same(words: tuple[tuple[str, ...], ...]) -> tuple[tuple[str, ...], ...]:
    """Return one and the same tuple for the same words."""
    return words


def _is_known(plan: Layout, book: RawBook, item: Field) -> bool:
    """Return whether the words of a choice stand in the file: some programs store no values."""
    return not any(raw.value is None and raw.formula for raw in _listed(plan, book, item))


def _listed(plan: Layout, book: RawBook, item: Field) -> list[RawCell]:
    if not item.choices_from:
        return []
    block, _, name = item.choices_from.strip("{}").partition(".")
    cells = [plan.cell(block, name, index) for index in range(plan.block(block).rows)]
    sheet = book.sheets.get(cells[0].sheet)
    return [sheet.cells[c.address] for c in cells if c.address in sheet.cells] if sheet else []


def choices(plan: Layout, book: RawBook, item: Field) -> list[str]:
    """Return the words a choice allows, as they stand on the sheet they come from."""
    if not item.choices_from:
        return list(item.choices)
    return [text(raw.value) for raw in _listed(plan, book, item) if not is_blank(raw.value)]
