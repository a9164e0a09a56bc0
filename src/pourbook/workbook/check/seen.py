"""What a reader sees of a planned cell: whether it holds anything, its format, ink on paper.

Contract: pure.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from functools import lru_cache

from pourbook.cells import Value
from pourbook.formats.ooxml.palette import is_close
from pourbook.workbook.layout.laid_out import Layout, PlannedCell
from pourbook.workbook.layout.shown import number_format
from pourbook.workbook.read.read import RawSheet
from pourbook.workbook.read.sheet_lines import RawCell

SMALLEST = 4.0
"""Letters below so many points cannot be read."""
Area = tuple[int, int, int, int]
"""Top, left, bottom and right, all within."""


def is_shown(cell: PlannedCell, raw: RawCell) -> bool:
    """Return whether a cell holds what a person is to see."""
    return cell.role != "unit" and held(raw) not in {None, ""}


def held(raw: RawCell) -> Value:
    """Return what a cell holds; of a formula that was never worked out, that it will be a number.

    Some programs store no values.
    """
    return 1.0 if raw.value is None and raw.formula else raw.value


def planned_format(cell: PlannedCell) -> str:
    """Return the number format the template gives a cell."""
    return number_format(cell.field) if cell.field is not None else "General"


@lru_cache(maxsize=512)
def is_faint(ink: str | None, papers: tuple[str, ...]) -> bool:
    """Return whether words cannot be told from what they stand on; not where that is unknown.

    Example:
        >>> is_faint("FFFFFF", ("FFFFFF",)), is_faint("FEFEFE", ("FFFFFF", "FDFDFD"))
        (True, True)
        >>> is_faint("FFFFFF", ("FFFFFF", "000000")), is_faint("000000", ()), is_faint(None, ())
        (False, False, False)
    """
    return bool(ink and papers) and all(is_close(ink or "", one) for one in papers)


def lies_in(cell: PlannedCell, areas: Iterable[Area]) -> bool:
    """Return whether a cell lies in one of some areas."""
    return any(
        top <= cell.row <= bottom and left <= cell.column <= right
        for top, left, bottom, right in areas
    )


def seen_in(
    plan: Layout, sheet: RawSheet, areas: Sequence[Area]
) -> Iterator[tuple[PlannedCell, RawCell]]:
    """Give the planned cells of some areas of a sheet that hold something to see, row by row."""
    rows = plan.in_row[sheet.name]
    for number in sorted(rows):
        across = [(left, right) for top, left, bottom, right in areas if top <= number <= bottom]
        for cell in rows[number].values() if across else ():
            raw = sheet.cells.get(cell.address)
            if raw is None or not is_shown(cell, raw):
                continue
            if any(left <= cell.column <= right for left, right in across):
                yield cell, raw
