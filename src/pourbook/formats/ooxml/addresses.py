"""A1 addresses: the one place that splits and counts them.

Contract: rows and columns count from 1, as spreadsheets do.
"""

from __future__ import annotations

import re
from bisect import bisect_left, bisect_right
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from functools import lru_cache

_CELL = re.compile(r"^\$?([A-Za-z]{1,3})\$?([1-9][0-9]{0,6})$")
_TEXT = re.compile(r'"[^"]*"')
_AREA = re.compile(
    r"(?:(?:'((?:[^']|'')+)'|([^\W\d][\w.]*))!)?\$?([A-Z]{1,3}\$?\d+)(?::\$?([A-Z]{1,3}\$?\d+))?"
)
LAST_ROW, LAST_COLUMN = 1_048_576, 16_384


@lru_cache(maxsize=65536)
def split(address: str) -> tuple[int, int]:
    """Return row and column of an A1 address.

    Raises:
        ValueError: It is no A1 address, or lies beyond the last row or column.

    Example:
        >>> split("AB3"), split("$B$12")
        ((3, 28), (12, 2))
    """
    match = _CELL.match(address)
    if match is None:
        raise ValueError(f"'{address}' is no cell address")
    column = 0
    for letter in match[1].upper():
        column = column * 26 + ord(letter) - 64
    row = int(match[2])
    if row > LAST_ROW or column > LAST_COLUMN:
        raise ValueError(f"'{address}' lies beyond the last row or column of a sheet")
    return row, column


@lru_cache(maxsize=1024)
def letters(column: int) -> str:
    """Return the letters of a column.

    Example:
        >>> letters(28)
        'AB'
    """
    found = ""
    while column:
        column, rest = divmod(column - 1, 26)
        found = chr(65 + rest) + found
    return found


def a1(row: int, column: int, absolute: bool = False) -> str:
    """Return an A1 address.

    Example:
        >>> a1(3, 28), a1(3, 2, absolute=True)
        ('AB3', '$B$3')
    """
    mark = "$" if absolute else ""
    return f"{mark}{letters(column)}{mark}{row}"


def down(sheet: str, column: int, first: int, last: int) -> str:
    """Return the cells of a column as a chart names them, always with their sheet.

    Example:
        >>> down("Chart data", 2, 3, 5), down("Chart data", 1, 3, 3)
        ("'Chart data'!$B$3:$B$5", "'Chart data'!$A$3")
    """
    end = f":{a1(last, column, absolute=True)}" if last > first else ""
    return f"'{sheet}'!{a1(first, column, absolute=True)}{end}"


def cells(area: str) -> list[str]:
    """Return every address of a range, row by row.

    Example:
        >>> cells("A1:B2")
        ['A1', 'B1', 'A2', 'B2']
    """
    first, _, last = area.partition(":")
    (row_1, column_1), (row_2, column_2) = split(first), split(last or first)
    return [
        a1(row, column)
        for row in range(row_1, row_2 + 1)
        for column in range(column_1, column_2 + 1)
    ]


@lru_cache(maxsize=8192)
def areas_named(formula: str) -> tuple[tuple[str, int, int, int, int], ...]:
    """Return the areas a formula names: sheet in small letters, top, left, bottom and right.

    The sheet is blank where the formula names none. What only looks like a cell is passed over.

    Example:
        >>> areas_named("SUM('Mix cards'!$B$2:C3,A1)")
        (('mix cards', 2, 2, 3, 3), ('', 1, 1, 1, 1))
        >>> areas_named("XYZ2026*A9999999")
        ()
    """
    found = []
    for match in _AREA.finditer(_TEXT.sub("", formula)):
        sheet = (match[1] or match[2] or "").replace("''", "'").casefold()
        first, last = match[3].replace("$", ""), (match[4] or match[3]).replace("$", "")
        try:
            rows, columns = zip(split(first), split(last), strict=True)
        except ValueError:
            continue  # a name, such as XYZ2026
        found.append((sheet, min(rows), min(columns), max(rows), max(columns)))
    return tuple(found)


Spot = tuple[str, int, int]
"""Sheet, row and column."""


def by_sheet(spots: Iterable[Spot]) -> dict[str, list[Spot]]:
    """Return spots in order, by their sheets in small letters."""
    found: dict[str, list[Spot]] = defaultdict(list)
    for spot in sorted(spots):
        found[spot[0].casefold()].append(spot)
    return found


def spots_named(formula: str, own: str, spots: Mapping[str, Sequence[Spot]]) -> Iterator[Spot]:
    """Give the spots that a formula names.

    Args:
        formula: The formula.
        own: The sheet it stands on.
        spots: See :func:`by_sheet`.

    Example:
        >>> held = by_sheet([("Rooms", 2, 1), ("Rooms", 9, 1), ("Own", 2, 1)])
        >>> list(spots_named("SUM(Rooms!A1:A3)+A2", "Own", held))
        [('Rooms', 2, 1), ('Own', 2, 1)]
    """
    for sheet, top, first, bottom, last in areas_named(formula):
        there = spots.get(sheet or own.casefold(), [])
        start = bisect_left(there, (top, first), key=_place)
        end = bisect_right(there, (bottom, last), key=_place)
        yield from (spot for spot in there[start:end] if first <= spot[2] <= last)


def _place(spot: Spot) -> tuple[int, int]:
    return spot[1:]
