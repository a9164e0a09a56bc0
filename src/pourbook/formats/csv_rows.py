"""Reads a CSV file as a spreadsheet program or a supplier writes it: headings and rows of text.

Contract: comma, semicolon and tab all separate; a byte mark settles the encoding, else UTF-8 or the
one that is named. Every refusal names the file and the line as an editor counts it. What the cells
mean is for the caller.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Sequence
from pathlib import Path

from pourbook.errors import FileUnreadableError, InputError, MisreadError, UnknownError
from pourbook.records import dataclass

MOST_NAMED = 20
MOST_BYTES = 16 * 1024 * 1024
_UNPRINTED = re.compile("[\x00-\x1f\x7f\ufffe\uffff\ud800-\udfff]")
_BEGINS_FORMULA = ("=", "+", "-", "@", "\uff1d", "\uff0b", "\uff0d", "\uff20")
"""What a text begins with that a spreadsheet program would work out, the wide signs too."""
_SPACES = dict.fromkeys(map(ord, "\t\n\r"), " ")
_BYTE_MARKS = ((b"\xef\xbb\xbf", "utf-8-sig"), (b"\xff\xfe", "utf-16"), (b"\xfe\xff", "utf-16"))


@dataclass(frozen=True)
class Row:
    """One row that is not blank: where it stands, for messages, and its cells, trimmed."""

    where: str
    cells: tuple[str, ...]


@dataclass(frozen=True)
class Table:
    """A CSV file: its name, what separates its cells, its headings, and its rows."""

    name: str
    separator: str
    headings: tuple[str, ...]
    rows: tuple[Row, ...]


def read_table(path: Path, encoding: str = "") -> Table:
    """Read a CSV file.

    Args:
        path: The file; its first line holds the headings.
        encoding: Its character encoding, if it is not UTF-8 and has no byte mark.

    Raises:
        FileUnreadableError: The file is missing, too large, a workbook or in another encoding.
        InputError: A line cannot be read, has more cells than headings, or there is no row.
    """
    content = _text(path, encoding)
    separator = _separator(content)
    reader = csv.reader(io.StringIO(content, newline=""), delimiter=separator, strict=True)
    rows: list[Row] = []
    try:
        headings = tuple(cell.strip() for cell in next(reader, []))
        for cells in reader:
            if any(c.strip() for c in cells):
                where = f"{path.name}, line {reader.line_num}"
                rows.append(Row(where, tuple(c.strip() for c in cells)))
    except csv.Error as error:
        where = f"{path.name}, line {reader.line_num}"
        raise MisreadError(
            f"the line cannot be read ({error})", "check its quotes", where
        ) from error
    return Table(path.name, separator, headings, tuple(rows))


def refuse_wide(row: Row, headings: Sequence[object]) -> None:
    """Refuse a row with more cells than there are headings.

    Raises:
        InputError: It has.
    """
    if any(row.cells[len(headings) :]):
        mend = "a comma inside a number? put the cell in quotes, or separate with ;"
        what = f"{len(row.cells)} cells under {len(headings)} headings"
        raise InputError(what, mend, row.where)


def refuse_unprinted(cell: str, *, lines: bool = False) -> None:
    """Refuse a cell with a character nobody sees and no workbook holds.

    Args:
        cell: The cell.
        lines: Whether it may be of several lines.

    Raises:
        InputError: It has one; which cell, the caller knows.
    """
    if _UNPRINTED.search(cell.translate(_SPACES) if lines else cell):
        raise InputError("it holds a character that cannot be printed", "type it anew")


def inert(text: str) -> str:
    """Return a text no spreadsheet program takes for a formula: one that would be is quoted.

    Example:
        >>> inert("=1+1"), inert("R-1")
        ("'=1+1", 'R-1')
    """
    return f"'{text}" if text.startswith(_BEGINS_FORMULA) else text


def all_of(bad: Sequence[InputError]) -> InputError:
    """Return one refusal that names every other one too, a line each."""
    first, others = bad[0], [f"\n  {error}" for error in bad[1:MOST_NAMED]]
    if len(bad) > MOST_NAMED:
        others.append(f"\n  and {len(bad) - MOST_NAMED} more")
    return InputError(first.what, first.mend + "".join(others), first.where)


def _text(path: Path, encoding: str) -> str:
    try:
        if path.stat().st_size > MOST_BYTES:
            raise FileUnreadableError("the file is too large for a list", "", str(path))
        if path.exists() and not (path.is_file() or path.is_dir()):
            what = "this is no file, but a pipe or a device"
            raise FileUnreadableError(what, "name a CSV file", str(path))
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
        raise UnknownError(f"there is no encoding '{chosen}'", "try cp1252", str(path)) from None
    except UnicodeDecodeError as error:
        line = content[: error.start].count(b"\n") + 1
        mend = "save it as 'CSV UTF-8', or name its encoding, such as --encoding cp1252"
        where = f"{path.name}, line {line}"
        raise FileUnreadableError(f"a letter is not in {chosen}", mend, where) from error


def _separator(content: str) -> str:
    first = content.partition("\n")[0]
    return max(",;\t", key=first.count)
