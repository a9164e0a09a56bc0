"""The acceptance test on a real Excel: it works a job out, and we compare every cell.

Contract: :func:`acceptance` drives an Excel application over COM and reads every value back as
``Value2``. It asks nothing of xlwings but the application object, so that a test can stand in for
Excel; a real one was not at hand when this was written.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from pourbook.cells import Address, Rows, Value
from pourbook.errors import UsageError
from pourbook.formats.ooxml.addresses import a1, split
from pourbook.functions.catalogue import catalogue
from pourbook.functions.declare import Example
from pourbook.hosts.excel.arguments import taken
from pourbook.hosts.headless.engine import same
from pourbook.records import dataclass

MOST_TOLD = 20
_MACROS_RUN = 1  # msoAutomationSecurityLow: macros of a file opened by a program run


@dataclass(frozen=True)
class Proof:
    """What Excel worked out: how many cells were compared, and where it differs from us."""

    version: str
    cells: int
    differences: tuple[str, ...]


@contextmanager
def hidden_excel() -> Iterator[Any]:
    """Start an Excel of its own, hidden, and end it afterwards.

    Raises:
        UsageError: There is no Excel, or the one there is cannot be started by a program.
    """
    import xlwings  # noqa: PLC0415 - on Windows alone

    try:
        app = xlwings.App(visible=False, add_book=False)
    except Exception as error:
        mend = "see whether desktop Excel is installed and opens by itself"
        raise UsageError(f"Excel does not start ({error})", mend) from error
    try:
        if "WindowsApps" in str(app.api.Path):
            mend = "install the desktop edition of Office"
            raise UsageError("Excel from the Microsoft Store cannot call Python", mend)
        app.api.DisplayAlerts = False
        app.api.AutomationSecurity = _MACROS_RUN
        yield app
    finally:
        app.quit()


def acceptance(app: Any, path: Path, expected: Mapping[Address, Value]) -> Proof:
    """Have Excel work a job out and compare it.

    Args:
        app: The application, as xlwings gives it.
        path: A job that ends in ``.xlsm``, without stored values.
        expected: What Pourbook gives, by sheet and address.
    """
    book = app.books.open(str(path))
    try:
        app.api.CalculateFullRebuild()
        found = [*_compared(book, expected)]
        typed = [
            (f"={example.typed(name)}", example)
            for name, function in catalogue().items()
            if not function.columns
            for example in function.examples
        ]
        found += _typed(book, typed)
    finally:
        book.close()
    cells = len(expected) + len(typed)
    more = len(found) - MOST_TOLD
    told = found[:MOST_TOLD] + ([f"... and {more} more"] if more > 0 else [])
    return Proof(str(app.api.Version), cells, tuple(told))


def _compared(book: Any, expected: Mapping[Address, Value]) -> Iterator[str]:
    """Read each sheet once and compare its computed cells."""
    by_sheet: defaultdict[str, dict[str, Value]] = defaultdict(dict)
    for (sheet, address), value in expected.items():
        by_sheet[sheet][address] = value
    for sheet, values in by_sheet.items():
        places = [split(address) for address in values]
        last = a1(max(row for row, _ in places), max(column for _, column in places))
        rows = _rows(taken(book.sheets[sheet].api.Range(f"A1:{last}").Value2))
        for address, value in values.items():
            row, column = split(address)
            got = rows[row - 1][column - 1]
            if not same(got, value):
                yield f"{sheet}!{address} shows {got!r}, not {value!r}"


def _rows(given: Value | Rows) -> Rows:
    """Return what a range holds as rows; a single cell hands over its bare value."""
    if given is None or isinstance(given, bool | int | float | str):
        return [[given]]
    return given


def _typed(book: Any, calls: list[tuple[str, Example]]) -> Iterator[str]:
    """Type calls into a new sheet, as a person does, and compare what they show."""
    page = book.sheets.add()
    for row, (formula, example) in enumerate(calls, 1):
        cell = page.api.Range(a1(row, 1))
        cell.Formula = formula
        got = _rows(taken(cell.Value2))[0][0]
        if isinstance(example.result, tuple) or not same(got, example.result):
            yield f"{formula} gives {got!r}, not {example.result!r}"
