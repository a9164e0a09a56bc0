"""Which rows of a sheet are as its template makes them, to the letter, but for what is typed.

Contract: pure. A row that was found so is known, and so is what its shape says of it: whether its
formulas are those of the template and no cell of it is another, whatever the cells hold.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from pourbook.formats.ooxml.lines import SheetLine, lines_not, told
from pourbook.workbook.layout.laid_out import Layout, PlannedCell
from pourbook.workbook.read.read import RawSheet
from pourbook.workbook.read.sheet_lines import RawCell


def odd_lines(plan: Layout, sheet: RawSheet) -> list[SheetLine[RawCell]]:
    """Return the rows of a sheet that are not as planned to the letter, but for what is typed.

    In all others stand the planned words and formulas, and nothing but entries beside them.
    """
    look, by = f"as planned {sheet.name}", plan.mark
    odd = lines_not(sheet.cells, look, by)
    rows = plan.in_row.get(sheet.name, {}) if odd else {}
    found = []
    for line in odd:
        words = told(line, look, by, _words_planned, rows.get(line.number, {}))
        if words is not None and _are_there(words, line.cells):
            line.known[look] = by
        else:
            found.append(line)
    return found


def _words_planned(
    held: Mapping[str, RawCell], planned: Mapping[str, PlannedCell]
) -> Sequence[PlannedCell] | None:
    """Return the cells of a row in which planned words are to stand; nothing if it is not ours.

    It is by its shape: where its formulas are as planned, and no cell is there that is not.
    """
    words = []
    for at, cell in planned.items():
        if not cell.formula and not cell.fill:
            words += [cell] if cell.stands else []
        elif not as_planned(held.get(at), cell):
            return None
    return words if all(_is_ours(raw, planned.get(at)) for at, raw in held.items()) else None


def _are_there(words: Iterable[PlannedCell], held: Mapping[str, RawCell]) -> bool:
    """Return whether planned words stand in their cells."""
    return all(as_planned(held.get(cell.address), cell) for cell in words)


def _is_ours(raw: RawCell, cell: PlannedCell | None) -> bool:
    """Return whether a cell is one of the templates, and has no formula but theirs."""
    if cell is None:
        return False
    return not raw.formula or bool(cell.formula or cell.fill) or raw.formula == cell.offer


def as_planned(raw: RawCell | None, cell: PlannedCell) -> bool:
    """Return whether a cell is as planned to the letter, as by far the most are."""
    if cell.formula:
        return raw is not None and raw.formula == cell.formula and raw.array == cell.array
    if cell.fill:
        return raw is None or not raw.formula
    if not cell.stands:
        return True
    kind = float if type(cell.value) is int else type(cell.value)
    return raw is not None and type(raw.value) is kind and raw.value == cell.value
