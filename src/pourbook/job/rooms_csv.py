"""Reads measured rooms from a CSV file, for ``pourbook new --from``.

Contract: either every row can be measured, and the entries come back, or one
:class:`~pourbook.errors.InputError` names the line and nothing is written. The columns are those of
the Rooms sheet, by their heading or id, in any order; comma, semicolon and tab all separate.
"""

from __future__ import annotations

import re
from pathlib import Path

from pourbook.cells import Value, is_refused
from pourbook.errors import BlankError, InputError, PourbookError, TwiceError, UnknownError
from pourbook.formats import csv_rows
from pourbook.formats.csv_rows import Row, Table
from pourbook.tables import rooms
from pourbook.units import SYSTEMS, System
from pourbook.workbook.layout.mending import LONGEST_TEXT
from pourbook.workbook.template.template import load_book

_PLAIN = re.compile(r"^-?\d{1,12}(\.\d{1,9})?$")

_ONCE = {"splash run": "splash_run", "splash height": "splash_height"}
"""Headings the sheet had before: files that have them are still read."""

Entries = dict[tuple[str, str, int], object]


def read_rooms(path: Path, system: str, encoding: str = "") -> Entries:
    """Read the rows of a CSV file as entries of the Rooms sheet.

    Args:
        path: The file; its first line holds the headings.
        system: ``"us"``, ``"imperial"`` or ``"metric"``: how bare numbers are read.
        encoding: The file's character encoding; UTF-8 unless it says otherwise.

    Raises:
        FileUnreadableError: The file is missing, too large or in another encoding.
        InputError: A heading is unknown or missing, or a row cannot be measured; the line is named.
    """
    table = csv_rows.read_table(path, encoding)
    names = _headings(table)
    entries: Entries = {}
    bad: list[InputError] = []
    for index, row in enumerate(table.rows):
        try:
            _row(entries, index, names, row, SYSTEMS[system])
        except InputError as error:
            bad.append(error)
    if bad:
        raise csv_rows.all_of(bad)
    if not table.rows:
        raise BlankError("there is no row under the headings", "add the pieces", table.name)
    return entries


def columns() -> dict[str, str]:
    """Return the columns of the Rooms sheet by every heading a file may use, in small letters."""
    found = dict(_ONCE)
    for item in load_book("job").block("rooms").columns:
        found[item.id] = found[item.header.casefold()] = item.id
    return found


def _headings(table: Table) -> list[str]:
    known = columns()
    names: list[str] = []
    for number, cell in enumerate(table.headings, start=1):
        name = known.get(cell.casefold())
        if name is None:
            mend = "use the headings of the Rooms sheet: " + ", ".join(rooms.LABELS.values())
            where = f"{table.name}, line 1, column {number}"
            raise UnknownError(f"the heading '{cell}' is not known", mend, where)
        if name in names:
            raise TwiceError(f"the heading '{cell}' is there twice", "", f"{table.name}, line 1")
        names.append(name)
    for needed in ("room", "piece", "shape", "a"):
        if needed not in names:
            what = f"the heading '{rooms.LABELS[needed]}' is missing"
            raise InputError(what, "add that column", f"{table.name}, line 1")
    return names


def _row(entries: Entries, index: int, names: list[str], found: Row, system: System) -> None:
    csv_rows.refuse_wide(found, names)
    where = found.where
    row: dict[str, Value] = dict.fromkeys(rooms.COLUMNS)
    for name, text in zip(names, found.cells, strict=False):
        if is_refused(text) or len(text) > LONGEST_TEXT:
            what = "begins with '!'" if is_refused(text) else "is too long"
            raise InputError(f"{rooms.LABELS[name]} {what}", "shorten it to a plain text", where)
        try:
            csv_rows.refuse_unprinted(text, lines=True)
        except InputError as error:
            what = f"{rooms.LABELS[name]}: {error.what}"
            raise InputError(what, error.mend, where) from None
        if text:
            row[name] = _number(text) if _PLAIN.match(text) else text
    try:
        rooms.measure_row(row, system)
    except PourbookError as error:
        raise InputError(
            f"{error.where}: {error.what}" if error.where else error.what, error.mend, where
        ) from None
    for name, value in row.items():
        if value is not None:
            entries["rooms", name, index] = value


def _number(text: str) -> float | int:
    return float(text) if "." in text else int(text)
