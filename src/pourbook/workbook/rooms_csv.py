"""Reads measured rooms from a CSV file, for ``pourbook new --from``.

Contract: either every row can be measured, and the entries come back, or one
:class:`~pourbook.errors.InputError` names the line and nothing is written. The columns are those of
the Rooms sheet, by their heading or id, in any order; comma, semicolon and tab all separate.
"""

from __future__ import annotations

import csv
import io
import re
from pathlib import Path

from pourbook.errors import FileUnreadableError, InputError, PourbookError
from pourbook.functions import rooms
from pourbook.functions.values import FAILED, Value
from pourbook.units import SYSTEMS, System
from pourbook.workbook.template import load_book
from pourbook.workbook.validation import LONGEST_TEXT

MOST_NAMED = 20
MOST_BYTES = 16 * 1024 * 1024
_PLAIN = re.compile(r"^-?\d{1,12}(\.\d{1,9})?$")
_BYTE_MARKS = ((b"\xef\xbb\xbf", "utf-8-sig"), (b"\xff\xfe", "utf-16"), (b"\xfe\xff", "utf-16"))

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
    content = _text(path, encoding)
    separator = _separator(content)
    reader = csv.reader(io.StringIO(content, newline=""), delimiter=separator, strict=True)
    try:
        names = _headings(next(reader, []), path)
        entries: Entries = {}
        index = 0
        bad: list[InputError] = []
        for cells in reader:
            if any(c.strip() for c in cells):
                place = f"{path.name}, line {reader.line_num}"
                try:
                    _row(entries, index, names, cells, SYSTEMS[system], place)
                except InputError as error:
                    bad.append(error)
                index += 1
    except csv.Error as error:
        where = f"{path.name}, line {reader.line_num}"
        raise InputError(f"the line cannot be read ({error})", "check its quotes", where) from error
    if bad:
        raise _all_of(bad)
    if not index:
        raise InputError("there is no row under the headings", "add the pieces", path.name)
    return entries


def _all_of(bad: list[InputError]) -> InputError:
    """Return the first refusal, with the places of the others."""
    first, others = bad[0], [error.where.rpartition("line ")[2] for error in bad[1:]]
    if not others:
        return first
    listed = ", ".join(others[:MOST_NAMED]) + (" ..." if len(others) > MOST_NAMED else "")
    return InputError(first.what, f"{first.mend} (more to mend in lines {listed})", first.where)


def _text(path: Path, encoding: str) -> str:
    try:
        if path.stat().st_size > MOST_BYTES:
            raise FileUnreadableError("the file is too large for a list of rooms", "", str(path))
        content = path.read_bytes()
    except OSError as error:
        raise FileUnreadableError(
            f"it cannot be opened ({error.strerror})", "", str(path)
        ) from error
    if content.startswith(b"PK"):
        mend = "save the list as CSV, and name that file"
        raise FileUnreadableError("it is a workbook, not a CSV file", mend, str(path))
    marked = next((e for m, e in _BYTE_MARKS if content.startswith(m)), "")
    chosen = marked or encoding or "utf-8"
    try:
        return content.decode(chosen)
    except LookupError:
        raise InputError(f"there is no encoding '{chosen}'", "try cp1252", str(path)) from None
    except UnicodeDecodeError as error:
        line = content[: error.start].count(b"\n") + 1
        mend = "save it as 'CSV UTF-8', or name its encoding, such as --encoding cp1252"
        where = f"{path.name}, line {line}"
        raise FileUnreadableError(f"a letter is not in {chosen}", mend, where) from error


def _separator(content: str) -> str:
    first = content.partition("\n")[0]
    return max(",;\t", key=first.count)


def columns() -> dict[str, str]:
    """Return the columns of the Rooms sheet by every heading a file may use, in small letters."""
    found: dict[str, str] = {}
    for item in load_book("job").block("rooms").columns:
        found[item.id] = found[item.header.casefold()] = item.id
    return found


def _headings(cells: list[str], path: Path) -> list[str]:
    known = columns()
    names = []
    for number, cell in enumerate(cells, start=1):
        name = known.get(cell.strip().casefold())
        if name is None:
            mend = "use the headings of the Rooms sheet: " + ", ".join(rooms.LABELS.values())
            where = f"{path.name}, line 1, column {number}"
            raise InputError(f"the heading '{cell.strip()}' is not known", mend, where)
        if name in names:
            raise InputError(
                f"the heading '{cell.strip()}' stands twice", "", f"{path.name}, line 1"
            )
        names.append(name)
    for needed in ("room", "piece", "shape", "a"):
        if needed not in names:
            what = f"the heading '{rooms.LABELS[needed]}' is missing"
            raise InputError(what, "add that column", f"{path.name}, line 1")
    return names


def _row(
    entries: Entries,
    index: int,
    names: list[str],
    cells: list[str],
    system: System,
    where: str,
) -> None:
    if len(cells) > len(names) and any(c.strip() for c in cells[len(names) :]):
        mend = "a comma inside a number? put the cell in quotes, or separate with ;"
        raise InputError(f"{len(cells)} cells under {len(names)} headings", mend, where)
    row: dict[str, Value] = dict.fromkeys(rooms.COLUMNS)
    for name, cell in zip(names, cells, strict=False):
        text = cell.strip()
        if text.startswith(FAILED) or len(text) > LONGEST_TEXT:
            what = "begins with '!'" if text.startswith(FAILED) else "is too long"
            raise InputError(f"{rooms.LABELS[name]} {what}", "shorten it to a plain text", where)
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
