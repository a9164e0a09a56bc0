"""Takes the cells out of a sheet that is written in the plain way, without building a tree of it.

Most sheets hold rows, and rows cells, each with a formula, a value or a text and nothing else, as
spreadsheet programs write them. Such a part is cut by one pattern, row by row, which has to fit
from the first letter of the rows to the last; what is left, with the rows' own marks, is still read
as XML. A row that was cut before is the same object; rows that differ in nothing but their values
have one form from the second of them on, and only that is held to the pattern then.

Contract: :func:`plain_cells` gives exactly what reading the part as XML would give, or nothing: for
anything that the pattern does not fit, the part is read as XML. It refuses nothing itself.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, NamedTuple

from pourbook.formats.ooxml.addresses import LAST_ROW

LINES_KEPT = 16_384
"""Rows remembered as they were read: those of four workbooks."""
FORMS_KEPT = 16_384
"""Forms of rows remembered: as many as rows, for some have none like them."""
LONGEST_KEPT = 8_192
"""Letters of a row that is remembered; those of a job have half as many, and a file of long ones
takes no memory for good."""
NAMED = "s"
"""The kind of a cell that names its text."""
_START, _END, _ROW_ENDS = "<sheetData>", "</sheetData>", "</row>"
_CELL_BEGINS, _CELL_ENDS = "<c ", "</c>"
_HEAD = re.compile(
    r"(<\?xml version=['\"]1\.0['\"] encoding=['\"](?:UTF|utf)-8['\"]"
    r"(?: standalone=['\"]yes['\"])?\?>\s*)?<worksheet xmlns=\"http://schemas\.openxmlformats\.org/spreadsheetml/2006/main\"[\s>]"
)
_NO_TEXT = r"<>\x00-\x08\x0b-\x1f\ufffe\uffff"
_TEXT = f"[^{_NO_TEXT}]*"
"""What stands between two marks and means itself in every program, but for ``&``."""
_OWN = ">\t"
_OPEN = f"<v{_OWN}</v>"
"""How the value of a cell is written where only the form of a row counts."""
_VALUE = re.compile(f"<v>([^&{_NO_TEXT}]*)</v>")
_SPACE = '(?: xml:space="preserve")?'
_COLUMN = "(?:[A-Z]{1,2}|[A-W][A-Z]{2}|X(?:[A-E][A-Z]|F[A-D]))"
_MARKED = '(?: s="([0-9]{1,6})")?(?: t="([a-zA-Z]{1,9})")?'
_HELD = (
    '(?:<f(?: t="array" ref="([A-Z0-9:]{2,24})")?(?: a?ca="(?:false|true|0|1)")?'
    rf"(>{_TEXT})</f>)?(?:<v{_SPACE}(>{_TEXT})</v>)?(?:<is><t{_SPACE}(>{_TEXT})</t></is>)?"
)
_HEAD_OF_ROW = (
    '<row r="([1-9][0-9]{0,6})"(?: (?:spans|s|customFormat|ht|hidden|customHeight|outlineLevel'
    '|collapsed|thickTop|thickBot|ph|x14ac:dyDescent)="[a-zA-Z0-9:. -]*")*'
)
_UNNAMED = re.compile(r"\((?!\?)")
_BARE = rf"(?:{_UNNAMED.sub('(?:', _HEAD_OF_ROW)}/>)*"
_EACH = _UNNAMED.sub("(?:", rf'<c r="{_COLUMN}\3"{_MARKED}(?:/>|>{_HELD}</c>)')
_LINE = re.compile(rf"({_BARE})({_HEAD_OF_ROW})>(?:{_EACH})*</row>")
"""Rows without cells, and one with cells, which all stand in it."""
_CELL = re.compile(rf'<c r="([A-Z]{{1,3}}[0-9]+)"{_MARKED}>{_HELD}</c>')
"""A cell that may hold something; what it holds begins with the end of the mark before it."""
_ROWS = re.compile(_BARE)
_ENTITY = re.compile(r"&(?:(amp|lt|gt|quot|apos);)?")
_ENTITIES = {"amp": "&", "lt": "<", "gt": ">", "quot": '"', "apos": "'"}


new_tuple = tuple.__new__
"""Makes a record of a tuple. There are tens of thousands: three times as quick as by its class."""


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


@dataclass(eq=False, slots=True)
class RowForm:
    """What a row is, or what rows have in common that differ in values alone.

    ``marks`` are those of the row and of those without cells before it, ``cells`` what holds
    something. Where ``open`` says so the value of a cell is each row's own; it is nothing for the
    form of one row alone. ``named`` are the places of cells that name their text by its number
    among the texts of all sheets, and ``made`` is what a reader made of the form.
    """

    marks: str
    cells: tuple[WrittenCell, ...] = ()
    open: tuple[bool, ...] = ()
    named: tuple[int, ...] = ()
    made: Any = None


@dataclass(eq=False, slots=True)
class PlainLine:
    """A row, and those without cells before it: their form, and the values of its open cells.

    ``made`` are the texts it named last, and what a reader made of the row with these.
    """

    form: RowForm
    values: tuple[str, ...] = ()
    made: tuple[tuple[object, ...], Any] | None = None


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
        >>> plain_cells(head + body).lines[0].form.cells[0].address
        'A1'
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
    marks = "".join([line.form.marks for line in lines if line])
    left = f"{sheet[: start + len(_START)]}{marks}{sheet[end:]}"
    return PlainSheet([line for line in lines if line], left.encode())


def _cut(text: str) -> PlainLine | None:
    """Return a row; nothing if it is not written in the plain way."""
    if len(text) < LONGEST_KEPT:
        parts = _VALUE.split(text)
        bare, values = _OPEN.join(parts[::2]), tuple(parts[1::2])
        known = _met(bare)
        if known:
            form = known[0] = known[0] or _fitting(bare, len(values))
            return None if form is None else PlainLine(form, values)
        known.append(None)
    form = _fitting(text)
    return None if form is None else PlainLine(form)


@lru_cache(maxsize=FORMS_KEPT)
def _met(_: str) -> list[RowForm | None]:
    """Return the form of rows that are alike but for their values, once one of them was met."""
    return []


def _fitting(text: str, values: int | None = None) -> RowForm | None:
    """Return the form of a row; nothing if it is not written in the plain way.

    Args:
        text: The row; for a form of several rows each value of its own is written as
            :data:`_OPEN`.
        values: How many these are.
    """
    match = _LINE.fullmatch(text)
    if match is None:
        return RowForm(text) if _ROWS.fullmatch(text) else None
    bare, head, number = match.groups()
    line = int(number)
    found: list[WrittenCell] = []
    opened: list[bool] = []
    named: list[int] = []
    odd = "&" in text
    cells = _CELL.findall(text, match.end(2))
    if len(cells) != text.count(_CELL_ENDS) or (line > LAST_ROW and _CELL_BEGINS in text):
        return None  # a cell that was passed over, or one beyond the last row
    for address, style, kind, area, f, v, t in cells:
        if not (f or v or t):
            continue
        own = v == _OWN and values is not None
        formula, value, said = f[1:] if f else None, v[1:] if v else None, t[1:] if t else None
        if odd and ("&" in f or "&" in v or "&" in t):
            try:
                formula, value, said = (one and meant(one) for one in (formula, value, said))
            except ValueError:  # a mark of XML is not one of the usual
                return None
        if kind == NAMED:
            if values is not None and value and not own:
                return None  # it is named in an odd way
            named.append(len(found))
        marks = (line, address, style or "0", kind or "n")
        held = (formula, None if own else value, said, "array" if area else "", area, "")
        found.append(new_tuple(WrittenCell, marks + held))
        opened.append(own)
    marks_of_row = f"{bare}{head}/>"
    if values is None:
        return RowForm(marks_of_row, tuple(found), (), tuple(named))
    if sum(opened) != values or len({one.address for one in found}) < len(found):
        return None  # a value of another writing looks as a row's own, or a cell is there twice
    return RowForm(marks_of_row, tuple(found), tuple(opened), tuple(named))


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
