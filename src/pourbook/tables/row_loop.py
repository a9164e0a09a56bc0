"""The one loop over the rows of a table: a blank row, a row that reads, a row that is refused.

Contract: :func:`read_each` keeps the rows' places, :func:`by_name` finds them by what they are
about. A refusal is kept as a value, so that one bad row never silences the others.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import TypeVar

from pourbook.cells import OK, Rows, Value, as_mapping, is_blank, text
from pourbook.errors import FAILED, InputError, PourbookError

Row = TypeVar("Row")
Next = TypeVar("Next")
Cells = dict[str, Value]


def filled(rows: Rows, columns: Sequence[str]) -> Iterator[tuple[int, Cells]]:
    """Give every row that is not blank, with its index, as a mapping by column.

    Raises:
        InputError: The range has the wrong number of columns.

    Example:
        >>> list(filled([[None], ["Bar"]], ("room",)))
        [(1, {'room': 'Bar'})]
    """
    wide = -1
    for index, cells in enumerate(rows):
        if len(cells) != wide:
            as_mapping(cells, columns)  # a blank row too has as many as there are columns
            wide = len(cells)
        if not all(map(is_blank, cells)):
            yield index, as_mapping(cells, columns)


def read_each(
    rows: Rows, columns: Sequence[str], read: Callable[[int, Cells], Row]
) -> list[Row | PourbookError | None]:
    """Read every row in its place: what it reads as, its refusal, or None for a blank row.

    Args:
        rows: The range.
        columns: Its columns by id.
        read: Reads a row; it gets the row's index and its cells.

    Raises:
        InputError: The range has the wrong number of columns.
    """
    found: list[Row | PourbookError | None] = [None] * len(rows)
    for index, row in filled(rows, columns):
        try:
            found[index] = read(index, row)
        except PourbookError as error:
            found[index] = error.let_go()
    return found


def next_each(
    found: Sequence[Row | PourbookError | None], work: Callable[[int, Row], Next]
) -> list[Next | PourbookError | None]:
    """Go on with every row that was read; a refusal and a blank row stay what they are.

    Example:
        >>> next_each([2, None, 0], lambda _, one: 6 // one if one else 0)
        [3, None, 0]
    """
    gone_on: list[Next | PourbookError | None] = []
    for index, one in enumerate(found):
        if one is None or isinstance(one, PourbookError):
            gone_on.append(one)
            continue
        try:
            gone_on.append(work(index, one))
        except PourbookError as error:
            gone_on.append(error.let_go())
    return gone_on


def by_name(
    rows: Rows,
    columns: Sequence[str],
    name: str,
    read: Callable[[Cells], Row],
    twice: Callable[[str], InputError] | None = None,
) -> Mapping[str, Row | PourbookError]:
    """Read every named row, by its name in small letters; a bad one as its refusal.

    Args:
        rows: The range.
        columns: Its columns by id.
        name: The column the row is named in; a row without a name is passed over.
        read: Reads a row.
        twice: What is wrong with a name that stands twice; the last row counts if left out.

    Raises:
        InputError: The range has the wrong number of columns.
    """
    found: dict[str, Row | PourbookError] = {}
    for _, row in filled(rows, columns):
        key = text(row[name]).casefold()
        if not key:
            continue
        if key in found and twice is not None:
            found[key] = twice(text(row[name]))
            continue
        try:
            found[key] = read(row)
        except PourbookError as error:
            found[key] = error.let_go()
    return found


def one_of_name(known: Mapping[str, Row | PourbookError], name: str, missing: InputError) -> Row:
    """Return the row of a name, whatever its capitals.

    Args:
        known: What :func:`by_name` gave.
        name: The name that was typed.
        missing: What is wrong if there is no such row.

    Raises:
        InputError: There is none, or it was refused.

    Example:
        >>> one_of_name({"clear": 1}, "Clear", InputError("it is not on Products"))
        1
    """
    found = known.get(name.casefold())
    if found is None:
        raise missing.again()
    if isinstance(found, PourbookError):
        raise found.again()
    return found


def rows_each(
    found: Sequence[Row | PourbookError | None],
    width: int,
    show: Callable[[Row], Sequence[Value]],
    lead: Sequence[Sequence[Value]] | None = None,
    status: int = -1,
) -> list[list[Value]]:
    """Return the result rows of what was read: what ``show`` gives, a refusal, or blanks.

    Args:
        found: What :func:`read_each` gave.
        width: How many result columns there are.
        show: Gives the figures of a row and its status.
        lead: What stands before the figures of each row, also of a refused one.
        status: Which column says what is wrong with a row.
    """
    result: list[list[Value]] = []
    for index, one in enumerate(found):
        first = list(lead[index]) if lead else []
        if one is None:
            result.append([""] * width)
            continue
        try:
            if isinstance(one, PourbookError):
                raise one.again()
            result.append([*first, *show(one)])
        except PourbookError as error:
            refused = [*first, *[FAILED] * (width - len(first))]
            refused[status] = error.cell_text()
            result.append(refused)
    return result


def shown_each(
    found: Sequence[Row | PourbookError | None],
    width: int,
    show: Callable[[Row], Sequence[Value]],
    lead: Sequence[Sequence[Value]] | None = None,
) -> list[list[Value]]:
    """Return the result rows of :func:`rows_each`, the status of a row that is shown being ``ok``.

    Example:
        >>> shown_each([1, None, InputError("no")], 2, lambda one: [one])
        [[1, 'ok'], ['', ''], ['!', '! no']]
    """
    return rows_each(found, width, lambda one: [*show(one), OK], lead)
