"""Takes the cells out of a sheet that is written in the plain way, without building a tree of it.

Most sheets hold rows, and rows cells, each with a formula, a value or a text and nothing else, as
spreadsheet programs write them. Such a part is cut by one pattern, row by row, which has to fit
from the first letter of the rows to the last; what is left, with the rows' own marks, is still read
as XML. A row that was cut before is the same object.

Contract: :func:`plain_cells` gives exactly what reading the part as XML would give, or nothing: for
anything that the pattern does not fit, the part is read as XML. It refuses nothing itself.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import NamedTuple

from pourbook.formats.ooxml.addresses import split

LINES_KEPT = 16_384
"""Rows remembered as they were read: those of four workbooks."""
LONGEST_KEPT = 65_536
"""Letters of a row that is remembered; those of a job have less."""
NAMED = "s"
"""The kind of a cell that names its text."""
_START, _END, _ROW_ENDS = "<sheetData>", "</sheetData>", "</row>"
_HEAD = re.compile(
    r"(<\?xml version=['\"]1\.0['\"] encoding=['\"](?:UTF|utf)-8['\"]"
    r"(?: standalone=['\"]yes['\"])?\?>\s*)?<worksheet xmlns=\"http://schemas\.openxmlformats\.org/spreadsheetml/2006/main\"[\s>]"
)
_TEXT = r"[^<>\x00-\x08\x0b-\x1f\ufffe\uffff]*"
"""What stands between two marks and means itself in every program, but for ``&``."""
_SPACE = '(?: xml:space="preserve")?'
_TOKEN = re.compile(
    r'<c r="([A-Z]{1,3}[1-9]\d{0,6})"(?: s="(\d{1,6})")?(?: t="([a-zA-Z]{1,9})")?'
    r'(?:/>|>(?:<f(?: t="array" ref="([A-Z0-9:]{2,24})")?'
    rf'(?: a?ca="(?:false|true|0|1)")?>({_TEXT})</f>)?(?:<v{_SPACE}>({_TEXT})</v>)?'
    rf"(?:<is><t{_SPACE}>({_TEXT})</t></is>)?</c>)"
    r'|(<row r="([1-9]\d{0,6})"(?: (?:spans|s|customFormat|ht|hidden|customHeight|outlineLevel'
    r'|collapsed|thickTop|thickBot|ph|x14ac:dyDescent)="[a-zA-Z0-9:. -]*")*)(/?)>'
    r"|</row>"
)
_ENTITY = re.compile(r"&(?:(amp|lt|gt|quot|apos);)?")
_ENTITIES = {"amp": "&", "lt": "<", "gt": ">", "quot": '"', "apos": "'"}


class WrittenCell(NamedTuple):
    """A cell as it is written; ``formula``, ``value`` and ``text`` are None where there is none.

    ``row`` is that of the line it stands in, ``how`` and ``area`` say what a formula fills, and
    ``group`` which formula it shares.
    """

    row: int
    address: str
    style: str = "0"
    kind: str = "n"
    formula: str | None = None
    value: str | None = None
    text: str | None = None
    how: str = ""
    area: str = ""
    group: str = ""


@dataclass(frozen=True, eq=False)
class PlainLine:
    """A row, and those without cells before it: their marks, and the cells that hold something.

    ``named`` are those cells that name their text by its number among the texts of all sheets.
    """

    marks: str
    cells: tuple[WrittenCell, ...]
    named: tuple[WrittenCell, ...]


class PlainSheet(NamedTuple):
    """The rows of a sheet, and what is left of the part without any cells."""

    lines: Sequence[PlainLine]
    left: bytes


def plain_cells(content: bytes) -> PlainSheet | None:
    """Return the cells of a sheet written in the plain way; nothing for any other.

    Args:
        content: The part that holds the sheet.

    Example:
        >>> head = b'<worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main">'
        >>> body = b'<sheetData><row r="1"><c r="A1"><v>2</v></c></row></sheetData></worksheet>'
        >>> plain_cells(head + body).lines[0].cells[0].value
        '2'
        >>> plain_cells(head + body.replace(b"2", b"2<!-- -->0")) is None
        True
    """
    try:
        sheet = content.decode("utf-8")
    except UnicodeDecodeError:
        return None
    start, end = sheet.find(_START), sheet.rfind(_END)
    if not 0 < start < end or not _HEAD.match(sheet) or sheet.find("\r") >= 0:
        return None
    rows = sheet[start + len(_START) : end].split(_ROW_ENDS)
    last = rows.pop()  # rows without cells, if any
    texts = [row + _ROW_ENDS for row in rows] + ([last] if last else [])
    lines = [(_line if len(text) < LONGEST_KEPT else _cut)(text) for text in texts]
    if None in lines:
        return None
    marks = "".join([line.marks for line in lines if line])
    left = f"{sheet[: start + len(_START)]}{marks}{sheet[end:]}"
    return PlainSheet([line for line in lines if line], left.encode())


def _cut(text: str) -> PlainLine | None:
    """Return a row; nothing if it is not written in the plain way."""
    found: list[WrittenCell] = []
    marks: list[str] = []
    at = line = 0
    inside = False
    try:
        for match in _TOKEN.finditer(text):
            begins, at = match.start() == at, match.end()
            address, style, kind, area, formula, value, said, row, number, closed = match.groups()
            if not begins or inside == bool(row):
                return None  # a gap; a cell or an end outside a row, a row inside another
            if address:
                if split(address)[0] != line:
                    return None
                if formula is None and value is None and said is None:
                    continue
                if "&" in match[0]:
                    formula, value, said = (one and meant(one) for one in (formula, value, said))
                how, style = "array" if area else "", style or "0"
                texts = (formula, value, said)
                found.append(
                    WrittenCell(line, address, style, kind or "n", *texts, how, area or "")
                )
            elif row:
                line, inside = int(number), not closed
                marks.append(f"{row}/>")
            else:
                inside = False
    except ValueError:  # an address is none, or a mark of XML is not one of the usual
        return None
    if inside or at != len(text):
        return None
    named = tuple(cell for cell in found if cell.kind == NAMED)
    return PlainLine("".join(marks), tuple(found), named)


_line = lru_cache(maxsize=LINES_KEPT)(_cut)


def meant(text: str) -> str:
    """Return a text with what stands for a mark of XML as that mark.

    Raises:
        ValueError: One of them is not known.

    Example:
        >>> meant("A1&lt;&gt;2")
        'A1<>2'
    """
    if "&" not in text:
        return text
    if any(not match[1] for match in _ENTITY.finditer(text)):
        raise ValueError("it is read as XML")
    return _ENTITY.sub(lambda match: _ENTITIES[match[1]], text)
